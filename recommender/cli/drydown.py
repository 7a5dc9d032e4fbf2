"""drydown: when each facet fades."""

import click

from recommender.cli import printing
from recommender.cli.commands import command
from recommender.cli.notebook_option import workspace
from recommender.cli.options import output_format, picture


@command(epilog="Example: recommender drydown data/demo/morello.csv")
@click.argument("formula", type=click.Path())
@picture
@output_format
def drydown(formula: str, form: str, picture: str | None) -> int:
    """Show when each facet of FORMULA fades on a strip."""
    from recommender.output import charts, formulas

    if picture:
        charts.check(picture)
    found = workspace().drydown(formula)
    data = formulas.drydown(found)
    printing.show(
        form,
        data,
        formulas.drydown_rows(data),
        formulas.DRYDOWN_COLUMNS,
        lambda: printing.lines(formulas.drydown_lines(found, data)),
    )
    printing.notes(data["notes"])
    if picture:
        charts.drydown(found, picture)
        click.echo(f"picture: {picture}", err=True)
    return 0


COMMANDS = (drydown,)
