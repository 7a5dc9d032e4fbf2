"""shelf: the person's bottles."""

from typing import TYPE_CHECKING, Any

import click

from recommender.cli import shelf_sheets
from recommender.cli.listing import listed
from recommender.cli.notebook_option import ground, place, the_shelf, told, way_back
from recommender.cli.options import complete_material, output_format
from recommender.cli.repeated import option, own_words

if TYPE_CHECKING:
    from recommender.model import Bottle
    from recommender.palette import Palette


@click.group(epilog="Example: recommender shelf list")
def shelf() -> None:
    """Keep your bottles.

    What is there, at which dilution, how much, how old, at what price.
    """


@shelf.command(epilog='Example: recommender shelf add "violet stuff" --material alpha-ionone --dilution 10')
@click.argument("label")
@option(
    "--material",
    shell_complete=complete_material,
    help="What is in it, by name or CAS number.  [default: as the label says]",
)
@option("--dilution", default="", metavar="PERCENT", help="Dilution in per cent.  [default: neat]")
@option("--solvent", default="", help="In what it is diluted.")
@option("--amount", type=click.FloatRange(0), metavar="GRAMS", help="How much is left in grams.")
@option(
    "--price", type=click.FloatRange(0), metavar="NUMBER", help="Price of a gram of what is in the bottle."
)
@option("--opened", default="", metavar="DATE", help="When it was opened, such as 2024-03-01.")
@option("--lot", default="", help="Number of the lot.")
@own_words("--note", help="Your own words.")
def add(label: str, material: str | None, note: str, **told_of: Any) -> int:
    """Put a bottle on the shelf, under your own LABEL."""
    from dataclasses import replace

    from recommender.errors import BadTable, BadValue
    from recommender.evidence.sheets import Row
    from recommender.notebook import importers, writing
    from recommender.notebook import shelf as bottles

    palette = ground()
    label = " ".join(label.split())
    if not label:
        raise BadValue("LABEL", "", "write what stands on the bottle")
    cells = {"label": label, "material": "", "cas": "", "lot": told_of["lot"], "note": note}
    cells |= {name: str(told_of[name] or "") for name in ("dilution", "solvent", "opened")}
    cells |= {name: "" if told_of[name] is None else f"{told_of[name]:.10g}" for name in ("amount", "price")}
    try:
        bottle, _, _ = importers.bottle_of(Row("shelf add", 0, cells), palette.catalogue)
    except BadTable as error:
        raise BadValue(f"--{error.column}", cells.get(error.column or "", ""), error.problem) from None
    if material:
        bottle = replace(bottle, material=palette.catalogue.find(material).slug)
    if bottle.material == "" or (cells["solvent"] and not bottle.solvent and bottle.dilution_percent < 100):
        if bottle.material:
            raise BadValue("--solvent", cells["solvent"], "no solvent is called so")
        palette.catalogue.find(label)  # says what is near
    with writing(place()) as db:
        number = bottles.put(db, bottle)
        bottles.learn(db, bottle, palette.catalogue)
    name = palette.catalogue.by_slug(bottle.material).name
    click.echo(f"bottle {number}: {bottle.label}, {name}{_dilution(bottle, palette)}")
    return 0


def _dilution(bottle: "Bottle", palette: "Palette") -> str:
    if bottle.dilution_percent == 100:
        return ", neat"
    solvent = f" in {palette.catalogue.by_slug(bottle.solvent).name}" if bottle.solvent else ""
    return f", {bottle.dilution_percent:g} %{solvent}"


COLUMNS = (
    "number",
    "label",
    "material",
    "cas",
    "dilution_percent",
    "solvent",
    "amount_g",
    "price_per_g",
    "price_per_g_neat",
    "opened",
    "lot",
    "note",
    "mind",
)


@shelf.command("list", epilog="Example: recommender shelf list --format csv")
@output_format
def list_(form: str) -> int:
    """List your bottles, with what runs low and what has been open for long."""
    palette, held = ground(), the_shelf()
    rows = []
    for bottle in held.bottles:
        known = palette.catalogue.index.get(bottle.material)
        material = palette.catalogue.materials[known] if known is not None else None
        rows.append(
            {
                "number": bottle.number,
                "label": bottle.label,
                "material": material.name if material else None,
                "cas": material.cas if material else None,
                "dilution_percent": bottle.dilution_percent,
                "solvent": palette.catalogue.by_slug(bottle.solvent).name if bottle.solvent else None,
                "amount_g": bottle.amount_g,
                "price_per_g": bottle.price_per_g,
                "price_per_g_neat": bottle.neat_price_per_g,
                "opened": bottle.opened or None,
                "lot": bottle.lot or None,
                "note": bottle.note or None,
                "mind": held.remarks(bottle, material)
                if material
                else [f'not resolved: recommender shelf resolve "{bottle.label}" MATERIAL'],
            }
        )
    heads = {
        "number": "no.",
        "label": "label",
        "material": "material",
        "dilution_percent": "%",
        "amount_g": "g left",
        "price_per_g_neat": "a gram neat",
        "opened": "opened",
        "mind": "mind",
    }
    empty = "the shelf is empty; see `recommender shelf add --help`."
    return listed(rows, form, COLUMNS, heads, empty, ("label", "material", "mind"))


@shelf.command(epilog="Example: recommender shelf remove 3")
@click.argument("number", type=click.IntRange(1))
def remove(number: int) -> int:
    """Take bottle NUMBER off the shelf; what its label stands for stays remembered."""
    from recommender.errors import BadValue
    from recommender.notebook import shelf as bottles
    from recommender.notebook import writing

    found = [bottle for bottle in the_shelf().bottles if bottle.number == number]
    if not found:
        raise BadValue("NUMBER", number, "no bottle has it; `recommender shelf list` shows them")
    with writing(place()) as db:
        removed = bottles.take_off(db, number)
    click.echo(f"off the shelf: {found[0].label}")
    way_back(removed)
    return 0


@shelf.command(epilog='Example: recommender shelf resolve "violet stuff" alpha-ionone')
@click.argument("label")
@click.argument("material", shell_complete=complete_material)
def resolve(label: str, material: str) -> int:
    """Say once what a LABEL stands for: it is remembered, on bottles and in formulas.

    A LABEL that is the name of a material keeps its meaning in formulas; only its bottles are resolved.
    """
    from recommender.errors import BadValue
    from recommender.evidence.catalogue import looks_like_cas, plain
    from recommender.notebook import shelf as bottles
    from recommender.notebook import writing

    if not label.strip() or looks_like_cas(plain(label)):
        raise BadValue("LABEL", label, "it is your own word for a bottle, not a CAS number")
    catalogue = ground().catalogue
    found = catalogue.find(material)
    with writing(place()) as db:
        count, named = bottles.resolve(db, " ".join(label.split()), found.slug, catalogue)
    if named is None:
        click.echo(f'"{label}" is {found.name} from now on; bottles resolved: {count}')
    else:
        click.echo(f'bottles with the label "{label}" are {found.name}; bottles resolved: {count}')
        told(f'in formulas "{label}" is {named.name} as before.')
    return 0


shelf.add_command(shelf_sheets.import_, "import")
shelf.add_command(shelf_sheets.cost, "cost")


COMMANDS = (shelf,)
