"""compare: two formulas side by side."""

import click

from recommender.cli import printing
from recommender.cli.commands import command
from recommender.cli.notebook_option import sheet_option, workspace
from recommender.cli.options import (
    complete_formula,
    output_format,
    picture,
    surface,
    theme,
)


@command(epilog="Example: recommender compare demo/morello.csv demo/bell_flower.csv")
@click.argument("one", shell_complete=complete_formula)
@click.argument("other", shell_complete=complete_formula)
@surface
@theme
@picture
@output_format
@sheet_option
def compare(
    one: str, other: str, surface: str, theme: tuple[str, ...], form: str, picture: str | None
) -> int:
    """Compare two formulas hour by hour on strips, skin or cloth."""
    from recommender.evaporation import Application
    from recommender.output import formulas

    if picture:
        from recommender.output import charts

        charts.check(picture)
    first, second, side = workspace().compare(one, other, Application(surface), theme)
    themes, notes = [first.theme, second.theme], (*first.notes, *second.notes)
    printing.show(
        form,
        formulas.side_data(side, themes, notes),
        formulas.side_rows(side),
        formulas.SIDE_COLUMNS,
        lambda: formulas.side_lines(side, themes=themes),
    )
    if form != "json":
        printing.notes(notes)
    if picture:
        charts.compare(first, second, picture)
        printing.written("picture", picture)
    return 0


COMMANDS = (compare,)
