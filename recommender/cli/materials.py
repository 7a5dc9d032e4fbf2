"""materials: the listing, and materials that the person adds."""

from typing import TYPE_CHECKING, Any

import click

from recommender.cli import printing
from recommender.cli.commands import Listing, command, joined, option, own_words, words
from recommender.cli.notebook_option import workspace
from recommender.cli.options import complete_facet, market, output_format
from recommender.errors import BadTable, BadValue, UnknownFacet, UnknownMaterial, WrongCas

if TYPE_CHECKING:
    from recommender.evidence.overlay import OwnMaterial

KINDS = ("molecule", "natural", "base")
CLASSES = ("faint", "soft", "medium", "strong", "very strong", "extreme")
GUESSED = "medium"
"""Strength class of an own material without one: the most frequent."""
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
@market
@output_format
def listing(words: str | None, only_shelf: bool, market: str, form: str) -> int:
    """List materials, or those that show WORDS.

    `materials add` and `materials import` add materials of your own, `materials remove` removes them.
    """
    from recommender.output import materials as output

    here = workspace()
    palette = here.palette
    found, notes = here.materials(words)
    if only_shelf:
        bottles = here.shelf().by_material
        found = [material for material in found if material.slug in bottles]
    rows = [output.row(palette, material, market) for material in found]
    shown = [row | {"kind": row["kind"] + _remark(row)} for row in rows]
    printing.show(
        form,
        rows,
        rows,
        output.ROW_COLUMNS,
        lambda: printing.table(shown, HEADS, ("labels", "kind")) if shown else None,
    )
    printing.notes(notes)
    if rows:
        return 0
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
@option("--kind", type=click.Choice(KINDS), default="molecule", show_default=True, help="Kind of material.")
@option("--strength", type=click.Choice(CLASSES), help="How strong it smells.  [default: a guess]")
@option("--pressure", metavar="PA", help="Vapour pressure at 25 C in Pa.  [default: estimated]")
@option("--molar-mass", metavar="G_PER_MOL", help="Molar mass.  [default: from the structure]")
@own_words("--note", help="Your own words.")
def add(**cells: str | None) -> int:
    """Add a material of your own under NAME; adding the same name again replaces it.

    Missing figures are estimated from the structure (with RDKit, if installed) and marked as estimates.
    """
    from recommender.evidence.sheets import Row
    from recommender.notebook import nose

    row = Row("materials add", 0, {key: value or "" for key, value in cells.items()})
    try:
        own, notes = _own(row)
    except BadTable as error:
        field = "NAME" if error.column == "name" else str(error.column)
        raise BadValue(field, "", "; ".join(filter(None, (error.problem, error.remedy)))) from None
    with workspace().writing() as db:
        nose.add_material(db, own)
    click.echo(_summary(own))
    printing.notes(notes)
    return 0


COLUMNS = ("cas", "smiles", "kind", "strength", "pressure", "molar_mass", "note")


@materials.command("import", epilog="Example: recommender materials import data/demo/own_materials.csv")
@click.argument("file", type=click.Path())
@option("--dry-run", is_flag=True, help="Show what would be added, and add nothing.")
def import_(file: str, dry_run: bool) -> int:
    """Add the materials in FILE: name, smells; and cas, smiles, kind, strength, pressure, molar_mass, note.

    All of them, or none if a line cannot be read.
    """
    from pathlib import Path

    from recommender.evidence.sheets import read_sheet
    from recommender.notebook import nose

    unused: list[str] = []
    found = [_own(row) for row in read_sheet(Path(file), ("name", "smells"), COLUMNS, unused)]
    if not dry_run:
        with workspace().writing() as db:
            for own, _ in found:
                nose.add_material(db, own)
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
    from recommender.notebook import nose

    here = workspace()
    found = here.material(name)
    with here.writing() as db:
        removed = nose.take_away(db, found.slug)
        if removed is None:
            raise BadValue("NAME", name, "it is a shipped material, not one that you added")
    click.echo(f"removed: {found.name}")
    printing.way_back(removed)
    return 0


def _own(row: Any) -> "tuple[OwnMaterial, list[str]]":
    """Return a row as an own material, with notes on what was estimated or is unknown.

    Raises
    ------
    BadTable, BadValue, UnknownFacet, WrongCas
    """
    import re

    from recommender.chemistry.structure import estimate
    from recommender.evidence.catalogue import label_key
    from recommender.evidence.overlay import OwnMaterial
    from recommender.evidence.sheets import decimal
    from recommender.palette import labels_from_words, shipped

    name, cas = " ".join(row["name"].split()), row["cas"].strip()
    _free(row, name, cas)
    try:
        labels = labels_from_words(row["smells"], shipped())
    except BadValue as error:
        raise row.wrong("smells", f'"{error.value}": {error.wanted}') from None
    except UnknownFacet as error:
        raise row.wrong("smells", str(error).rstrip(".")) from None
    if row["kind"] not in ("", *KINDS):
        raise row.wrong("kind", f'"{row["kind"]}" is not one of {", ".join(KINDS)}')
    if row["strength"] not in ("", *CLASSES):
        raise row.wrong("strength", f'"{row["strength"]}" is not one of {", ".join(CLASSES)}')
    pressure, mass = decimal(row, "pressure"), decimal(row, "molar_mass")
    for column, value in (("pressure", pressure), ("molar_mass", mass)):
        if value is not None and not 0 < value < 1e6:
            raise row.wrong(column, f"{value:g} is out of range; above 0, below 1,000,000")
    notes: list[str] = []
    liquids = [
        (m.smiles, m.parts[0].pressure_pa)
        for m in shipped().catalogue.materials
        if m.kind == "molecule" and m.smiles and m.parts
    ]
    known = estimate(cas, row["smiles"].strip(), liquids)
    mass = mass or known.molar_mass
    if pressure is None:
        notes += [*known.notes]
        if known.pressure_pa:
            band = 10 ** (known.log_error or 0)
            notes.append(
                f"Vapour pressure estimated: {known.pressure_pa:.2g} Pa (a factor of {band:.1f} either way)."
            )
    elif mass is None:
        notes.append("Without a molar mass the pressure cannot be used: give --molar-mass or --smiles.")
    if not row["strength"]:
        notes.append(f"Strength unknown, assumed {GUESSED}: give it with --strength.")
    slug = "own-" + (re.sub(r"[^a-z0-9]+", "-", label_key(name)).strip("-") or label_key(name))
    own = OwnMaterial(
        slug,
        name,
        cas,
        row["kind"] or "molecule",
        smiles=known.smiles,
        molar_mass=mass,
        pressure_pa=pressure or known.pressure_pa,
        pressure_basis="user" if pressure else "estimated" if known.pressure_pa else "",
        pressure_source="" if pressure else known.source,
        log_error=0.35 if pressure else known.log_error,
        strength=row["strength"] or GUESSED,
        strength_basis="user" if row["strength"] else "estimated",
        note=row["note"],
        labels=labels,
    )
    return own, notes


def _free(row: Any, name: str, cas: str) -> None:
    """Raise if the name is missing, or if name or CAS number belongs to a shipped material."""
    from recommender.evidence.catalogue import cas_check_digit, looks_like_cas
    from recommender.palette import shipped

    if not name or looks_like_cas(name):
        raise row.wrong("name", "a name is missing")
    if cas and not looks_like_cas(cas):
        raise row.wrong("cas", f'"{cas}" is not a CAS number')
    if cas and cas_check_digit(cas) != int(cas[-1]):
        raise WrongCas(cas, cas_check_digit(cas))
    for column, text in (("name", name), ("cas", cas)):
        try:
            known = shipped().catalogue.find(text) if text else None
        except UnknownMaterial:
            continue
        if known is not None:
            problem = f"it is in the table as {known.name}"
            raise row.wrong(column, problem, "Describe its smell to you with `recommender nose add`")


def _summary(own: "OwnMaterial") -> str:
    from recommender.output import wording as words

    return f"{own.name}: {words.labels(own.labels)}; {own.strength} ({own.strength_basis})"


COMMANDS = (materials,)
