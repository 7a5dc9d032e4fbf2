"""check: limits, prohibitions and label in the finished product."""

import click

from recommender.cli import printing
from recommender.cli.commands import command, option
from recommender.cli.notebook_option import sheet_option, workspace
from recommender.cli.options import PERCENT, category, market, output_format, share


@command(epilog="Example: recommender check data/demo/morello.csv --dosage 2 --category 9")
@click.argument("formula", type=click.Path())
@option(
    "--dosage",
    "dosage_percent",
    type=PERCENT,
    required=True,
    help="Share of the concentrate in the finished product, in % by mass.",
)
@category
@market
@option(
    "--content",
    metavar="TEXT",
    multiple=True,
    help='Content of a natural by its certificate: "tonka bean absolute: coumarin 60".',
)
@share
@output_format
@sheet_option
def check(
    formula: str,
    dosage_percent: float,
    category: str,
    market: str,
    content: tuple[str, ...],
    share_percent: float | None,
    form: str,
) -> int:
    """Check FORMULA in the finished product.

    Prohibitions, limits, highest dosage and label allergens.

    Each constituent of a natural counts at the high end of its range. Limits of European law and of the
    industry Standards both count, and the lowest applies; with --market eu only European law prohibits, with
    --market standards only the Standards count. A limit that applies from a later date counts already, and
    the date is shown. Exit status 1 if anything is prohibited, above a limit, limited from memory, or
    restricted without a figure in the tables.
    """
    from datetime import date

    from recommender.output import product, product_page
    from recommender.regulation import ProductUse

    here = workspace()
    report = here.check(formula, ProductUse(dosage_percent, category, market), content, share_percent)
    data = product.data(report, here.palette.catalogue)
    printing.show(
        form,
        data,
        [product.flat(row) for row in data["rows"]],
        product.COLUMNS,
        lambda: printing.lines(product_page.lines(report, report.formula, date.today())),
    )
    if form != "json":
        printing.notes(report.notes)
    return 1 if report.findings else 0


COMMANDS = (check,)
