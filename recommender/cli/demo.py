"""demo: the example files of an invented studio."""

from pathlib import Path

import click

from recommender.cli import printing
from recommender.cli.commands import command, option
from recommender.cli.options import output_format

CONTENTS = {
    "bell_flower.csv": "a bell flower with a prohibited material",
    "green_fig.csv": "a green fig, one line weighed neat by mistake",
    "morello.csv": "a morello cherry that loses its almond",
    "morello_mended.csv": "the same with two carriers of almond",
    "own_limits.csv": "limits typed from a Standard",
    "own_materials.csv": "materials of the studio's own",
    "readings.csv": "how trials of the cherry smelled",
    "shelf.xlsx": "the bottles of the studio",
    "strips.csv": "strips of single materials",
    "tide_pool.csv": "a tide pool with an idle line",
}
"""What each example is."""
COLUMNS = ("file", "what")


@command(epilog="Example: recommender demo my-demo")
@click.argument("folder", required=False, type=click.Path())
@option("--force", is_flag=True, help="Overwrite existing files.")
@output_format
def demo(folder: str | None, force: bool, form: str) -> int:
    """List the example files of an invented studio, or copy them to FOLDER.

    Every command reads them without a copy too, as demo/morello.csv.
    """
    from recommender.evidence import demo as examples

    names = examples.names()
    where = examples.FOLDER if folder is None else folder
    if folder is not None:
        examples.copy(Path(folder), force=force)
    rows = [{"file": f"{where}/{name}", "what": CONTENTS.get(name, "")} for name in names]
    heads = {name: name for name in COLUMNS}
    printing.show(form, rows, rows, COLUMNS, lambda: printing.table_of(rows, heads, ("what",)))
    if folder is not None:
        printing.note(f"{len(names)} files written to {folder}.")
    return 0


COMMANDS = (demo,)
