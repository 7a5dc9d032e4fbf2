"""drydown: when each facet fades."""

from typing import Any

import click

from recommender.cli import printing
from recommender.cli.commands import command, option
from recommender.cli.notebook_option import sheet_option, workspace
from recommender.cli.options import (
    PERCENT,
    complete_formula,
    output_format,
    picture,
    share,
    surface,
    theme,
)


@command(epilog="Example: recommender drydown demo/morello.csv")
@click.argument("formula", shell_complete=complete_formula)
@surface
@option("--load-mg", type=float, metavar="MG", help="What is put on, in mg.  [default: 20]")
@option("--area-cm2", type=float, metavar="CM2", help="On how much of the surface, in cm2.  [default: 5]")
@option(
    "--room-c", type=float, metavar="C", help="Room temperature of a strip or cloth, in C.  [default: 25]"
)
@option(
    "--dosage",
    "dosage_percent",
    type=PERCENT,
    help="Put on a finished product with so much concentrate in ethanol, in %.  [default: the concentrate]",
)
@theme
@picture
@share
@output_format
@sheet_option
def drydown(
    formula: str,
    form: str,
    picture: str | None,
    theme: tuple[str, ...],
    share_percent: float | None,
    **applied: Any,
) -> int:
    """Show when each facet of FORMULA fades on a strip, on skin or on cloth.

    A gap is what fades while the rest still smells: a facet of the theme, or one that a line leads with.

    On a strip hours are in proportion to the load per area: those of 100 mg are five times those of 20 mg.
    """
    from recommender.evaporation import Application
    from recommender.output import formulas

    if picture:
        from recommender.output import charts

        charts.check(picture)
    found = workspace().drydown(
        formula, application=Application(**applied), theme=theme, share_percent=share_percent
    )
    data = formulas.drydown(found)
    rows = formulas.course_rows(data)
    printing.show(
        form,
        data,
        rows,
        list(dict.fromkeys((*formulas.DRYDOWN_COLUMNS, *(key for row in rows for key in row)))),
        lambda: formulas.drydown_lines(found, data),
    )
    if form != "json":
        printing.notes(note for note in data["notes"] if form == "csv" or note != formulas.times(found))
    if picture:
        charts.drydown(found, picture)
        printing.written("picture", picture)
    return 0


COMMANDS = (drydown,)
