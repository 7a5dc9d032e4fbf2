"""trim: redundant materials of a formula."""

import click

from recommender.cli import printing
from recommender.cli.commands import command
from recommender.cli.notebook_option import workspace
from recommender.cli.options import output_format, share, surface


@command(epilog="Example: recommender trim data/demo/tide_pool.csv")
@click.argument("formula", type=click.Path())
@surface
@share
@output_format
def trim(formula: str, surface: str, share_percent: float | None, form: str) -> int:
    """Find redundant materials in FORMULA.

    Each material is left out in turn, and the loss is measured.
    """
    from recommender.evaporation import Application
    from recommender.output import formulas

    found, contributions = workspace().trim(formula, Application(surface), share_percent)
    rows = [formulas.spare_row(one) for one in contributions]
    shown = [formulas.spare_words(one) for one in contributions]
    data = {"formula": found.formula.name, "rows": rows, "notes": list(found.notes)}
    columns, heads = formulas.SPARE_COLUMNS, formulas.SPARE_HEADS
    printing.show(form, data, rows, columns, lambda: printing.table(shown, heads, ("verdict",)))
    if form != "json":
        printing.notes((*found.notes, *formulas.TRIM_NOTES))
    return 0


COMMANDS = (trim,)
