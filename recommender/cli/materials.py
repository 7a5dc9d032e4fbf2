"""materials: the listing, and materials that the person adds."""

from typing import TYPE_CHECKING, Any

import click

from recommender.cli import printing
from recommender.cli.commands import Listing, choice, command, joined, option, own_words, words
from recommender.cli.notebook_option import sheet_option, workspace
from recommender.cli.options import (
    KIND,
    complete_facet,
    market,
    output_format,
)

if TYPE_CHECKING:
    from recommender.evidence.overlay import OwnMaterial

CLASSES = ("faint", "soft", "medium", "strong", "very strong", "extreme")
HEADS = {
    "name": "material",
    "cas": "CAS",
    "kind": "kind",
    "position": "position",
    "lasting_hours": "hours",
    "strength": "strength",
    "labels": "smells of",
}


@command(name="materials", epilog='Example: recommender materials "bitter almond" --format csv')
@click.argument("words", required=False, shell_complete=complete_facet)
@option("--shelf", "only_shelf", is_flag=True, help="Only materials on your shelf.")
@option("--named", default="", metavar="TEXT", help="Only those with TEXT in a name or CAS number.")
@market
@output_format
def listing(words: str | None, only_shelf: bool, named: str, market: str, form: str) -> int:
    """List materials, or those that show WORDS.

    The position of a molecule follows its evaporation, that of a natural its hours on a strip, where its last
    traces count: so the hours of the two kinds overlap. `materials add` and `materials import` add materials
    of your own, `materials remove` removes them.
    """
    from recommender.output import materials as output

    here = workspace()
    palette = here.palette
    found, notes = here.materials(words, only_shelf=only_shelf, named=named)
    rows = [output.row(palette, material, market) for material in found]
    shown = [row | {"kind": row["kind"] + _remark(row)} for row in rows]
    printing.show(
        form,
        rows,
        rows,
        output.ROW_COLUMNS,
        lambda: (
            printing.table_of(shown, HEADS, ("labels", "kind"), ("lasting_hours", "strength"))
            if shown
            else []
        ),
    )
    printing.notes(notes)
    if rows:
        return 0
    if named:
        return printing.nothing_found("nothing found: no material is so called; try less of the name.")
    return printing.nothing_found("nothing found: no material on record smells of that; try a broader word.")


def _remark(row: dict[str, Any]) -> str:
    return ", prohibited" if row["prohibited"] else ", reference" if row["role"] == "reference" else ""


materials = Listing.of(listing)


@materials.command(
    epilog='Example: recommender materials add "rose lactone X" --smells "rose 3, honey 1" --strength soft'
)
@click.argument("name")
@option("--cas", default="", metavar="NUMBER", help="Its CAS number.")
@option("--smiles", default="", help="Its structure; often the CAS number is enough.")
@words(
    "--smells",
    callback=joined(", "),
    required=True,
    shell_complete=complete_facet,
    help="What it smells of, each with 1 (trace), 2 (clear) or 3 (leading).",
)
@option("--kind", type=KIND, default="molecule", show_default=True, help="Kind of material.")
@option("--strength", type=choice(CLASSES), help="How strong it smells.  [default: a guess]")
@option(
    "--pressure", "pressure_pa", metavar="PA", help="Vapour pressure at 25 C in Pa.  [default: estimated]"
)
@option("--molar-mass", metavar="G_PER_MOL", help="Molar mass.  [default: from the structure]")
@own_words("--note", help="Your own words.")
def add(name: str, smells: str, strength: str | None, **given: Any) -> int:
    """Add a material of your own under NAME; adding the same name again replaces it.

    Missing figures are estimated from the structure (with RDKit, if installed) and marked as estimates.
    """
    own, notes = workspace().own_materials.add(name, smells, strength=strength or "", **given)
    click.echo(_summary(own))
    printing.notes(notes)
    return 0


@materials.command("import", epilog="Example: recommender materials import demo/own_materials.csv")
@click.argument("file", type=click.Path())
@option("--dry-run", is_flag=True, help="Show what would be added, and add nothing.")
@sheet_option
def import_(file: str, dry_run: bool) -> int:
    """Add the materials in FILE: name, smells; and cas, smiles, kind, strength, pressure, molar_mass, note.

    All of them, or none if a line cannot be read.
    """
    from pathlib import Path

    here = workspace()
    found, unused = here.own_materials.read_sheet(Path(file))
    if not dry_run:
        here.own_materials.add_all(own for own, _ in found)
    for own, notes in found:
        click.echo(_summary(own))
        printing.notes(f"{own.name}: {note}" for note in notes)
    printing.notes(unused)
    printing.note(f"{len(found)} materials {'would be ' if dry_run else ''}added.")
    return 0


@materials.command(epilog='Example: recommender materials remove "rose lactone X"')
@click.argument("name")
def remove(name: str) -> int:
    """Remove a material that you added."""
    found, removed = workspace().own_materials.remove(name)
    click.echo(f"removed: {found.name}")
    printing.way_back(removed)
    return 0


def _summary(own: "OwnMaterial") -> str:
    from recommender.output import wording as words

    return f"{own.name}: {words.labels(own.labels)}; {own.strength} ({own.strength_basis})"


COMMANDS = (materials,)
