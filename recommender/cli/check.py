"""check: limits, prohibitions and label in the finished product."""

import click

from recommender.cli import printing
from recommender.cli.commands import command, option
from recommender.cli.notebook_option import sheet_option, workspace
from recommender.cli.options import (
    PERCENT,
    category,
    complete_formula,
    market,
    on,
    output_format,
    share,
)


@command(epilog="Example: recommender check demo/morello.csv --dosage 2 --category 9")
@click.argument("formula", shell_complete=complete_formula)
@option(
    "--dosage",
    "dosage_percent",
    type=PERCENT,
    setting="dosage",
    required=True,
    help="Share of the concentrate in the finished product, in % by mass.",
)
@category
@market
@on
@option(
    "--content",
    metavar="TEXT",
    multiple=True,
    help='Content of a natural by its certificate: "tonka bean absolute: coumarin 60".',
)
@option(
    "--shown",
    metavar="TEXT",
    multiple=True,
    help='Condition that a certificate shows: "lemon oil: furocoumarins".',
)
@share
@output_format
@sheet_option
def check(
    formula: str,
    dosage_percent: float,
    category: str,
    market: str,
    on: str,
    content: tuple[str, ...],
    shown: tuple[str, ...],
    share_percent: float | None,
    form: str,
) -> int:
    """Check FORMULA in the finished product.

    Prohibitions, limits, highest dosage and label allergens.

    The first line is what follows: stop, look up, or nothing found in this market. Each constituent of a
    natural counts at the high end of its range. With --market eu or gb the law of that market decides, and
    the industry Standards are shown beside it; with --market standards they alone decide, with any all do.
    Entries count as of --on; a note says what changes later. Exit status 0 only if nothing is found; 1 if
    anything is prohibited, above a limit, limited from memory, or has a figure or a condition to look up.
    """
    from datetime import date

    from recommender.output import product, product_page
    from recommender.regulation import ProductUse

    here = workspace()
    use = ProductUse(dosage_percent, category, market, on)
    report = here.check(formula, use, content, share_percent, shown)
    data = product.data(report, here.palette.catalogue)
    day = date.fromisoformat(report.on) if report.on else date.today()
    printing.show(
        form,
        data,
        [product.flat(row) for row in data["rows"]],
        product.COLUMNS,
        lambda: product_page.lines(report, report.formula, day),
    )
    if form != "json":
        printing.notes(report.notes)
    return 1 if report.findings else 0


COMMANDS = (check,)
