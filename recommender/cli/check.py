"""check: limits, prohibitions and label in the finished product."""

import click

from recommender.cli import printing
from recommender.cli.commands import command, option
from recommender.cli.notebook_option import workspace
from recommender.cli.options import PERCENT, category, market, output_format


@command(epilog="Example: recommender check data/demo/morello.csv --dosage 2 --category 9")
@click.argument("formula", type=click.Path())
@option(
    "--dosage",
    "dosage_percent",
    type=PERCENT,
    required=True,
    help="The concentrate in the finished product, in % by mass.",
)
@category
@market
@option(
    "--content",
    metavar="TEXT",
    multiple=True,
    help='What a certificate says of a natural: "tonka bean absolute: coumarin 60".',
)
@output_format
def check(
    formula: str, dosage_percent: float, category: str, market: str, content: tuple[str, ...], form: str
) -> int:
    """Hold FORMULA against limits and the label.

    In the finished product: prohibitions, limits, highest dosage, label allergens.

    Naturals are opened at the high end of their range. European law and the industry Standards are both
    looked at, the lowest limit counts; with --market eu only European law prohibits, with --market standards
    the Standards stand alone. A limit that is adopted and applies later is counted now, with its day.
    Exit status 1 where anything is prohibited, above a limit, rests on a limit from memory, or is
    restricted without a figure here.
    """
    from datetime import date

    from recommender.output import product, product_page
    from recommender.regulation import ProductUse

    here = workspace()
    report = here.check(formula, ProductUse(dosage_percent, category, market), content)
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
