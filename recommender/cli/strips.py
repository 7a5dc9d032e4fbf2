"""strips: materials side by side on strips."""

import click

from recommender.cli import printing
from recommender.cli.commands import command, option
from recommender.cli.notebook_option import workspace
from recommender.cli.options import DURATION, complete_material, output_format


@command(epilog="Example: recommender strips coumarin vanillin benzaldehyde")
@click.argument("material", nargs=-1, required=True, shell_complete=complete_material)
@option(
    "--at", "hours", type=DURATION, default="1min", show_default=True, help="When the strips are smelled."
)
@output_format
def strips(material: tuple[str, ...], hours: float, form: str) -> int:
    """Compare strips of each MATERIAL at 1 %.

    Which overpowers, which is masked, which does not blend in?
    """
    from recommender.output import formulas

    rows = [formulas.strip_row(strip) for strip in workspace().strips(material, hours)]
    data = {"hours": hours, "rows": rows, "notes": []}
    columns, heads = formulas.STRIP_COLUMNS, formulas.STRIP_HEADS
    printing.show(
        form,
        data,
        rows,
        columns,
        lambda: printing.table_of(rows, heads, ("verdict", "own_facets"), ("alone", "beside", "likeness")),
    )
    return 0


COMMANDS = (strips,)
