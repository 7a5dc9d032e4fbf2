"""material: everything on record about one material."""

import click

from recommender.cli.commands import command
from recommender.cli.notebook_option import workspace
from recommender.cli.options import card_format, complete_material, market


@command(epilog="Example: recommender material coumarin")
@click.argument("name", metavar="MATERIAL", shell_complete=complete_material)
@market
@card_format
def material(name: str, market: str, form: str) -> int:
    """Show everything on record about MATERIAL, with sources."""
    from recommender.output import formats, materials

    here = workspace()
    data = materials.card(here.palette, here.material(name), market)
    click.echo(formats.as_json(data) if form == "json" else "\n".join(materials.card_lines(data)))
    return 0


COMMANDS = (material,)
