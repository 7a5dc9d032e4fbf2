"""trim: redundant materials of a formula."""

import click

from recommender.cli import printing
from recommender.cli.commands import command
from recommender.cli.notebook_option import sheet_option, workspace
from recommender.cli.options import (
    complete_formula,
    output_format,
    share,
    surface,
    theme,
)


@command(epilog="Example: recommender trim demo/tide_pool.csv")
@click.argument("formula", shell_complete=complete_formula)
@surface
@theme
@share
@output_format
@sheet_option
def trim(formula: str, surface: str, theme: tuple[str, ...], share_percent: float | None, form: str) -> int:
    """Find redundant materials in FORMULA.

    Each material is left out in turn, and what a nose would miss is measured: of the theme, of the whole
    smell, and of each facet that the material clearly shows. What carries the theme is never redundant.
    """
    from recommender.evaporation import Application
    from recommender.output import formulas, wording

    found, contributions = workspace().trim(formula, Application(surface), theme, share_percent)
    shown = [formulas.spare_words(one) for one in contributions]
    data = formulas.trim_data(found, contributions)
    columns, heads = formulas.SPARE_COLUMNS, formulas.SPARE_HEADS

    def for_a_reader() -> list[str]:
        table = printing.table_of(shown, heads, ("does", "verdict"), ("parts",), "parts")
        return [wording.theme(found.theme.figures), "", *table]

    printing.show(form, data, data["rows"], columns, for_a_reader)
    if form != "json":
        printing.notes(data["notes"])
    return 0


COMMANDS = (trim,)
