"""material: everything on record about one material."""

import click

from recommender.cli import printing
from recommender.cli.commands import command
from recommender.cli.notebook_option import workspace
from recommender.cli.options import complete_material, market, output_format


@command(epilog="Example: recommender material coumarin")
@click.argument("name", metavar="MATERIAL", shell_complete=complete_material)
@market
@output_format
def material(name: str, market: str, form: str) -> int:
    """Show everything on record about MATERIAL, with sources.

    As CSV its labels, figures and what practice knows of it, a fact a row.
    """
    from recommender.output import materials

    here = workspace()
    data = materials.card(here.palette, here.material(name), market)
    rows, columns = materials.fact_rows(data), materials.FACT_COLUMNS
    printing.show(form, data, rows, columns, lambda: materials.card_lines(data))
    return 0


COMMANDS = (material,)
