"""shelf: the person's bottles."""

import sys
from typing import TYPE_CHECKING, Any

import click

from recommender.cli.ground import ground, place, the_shelf, told
from recommender.cli.options import Grams, complete_material, output_format

if TYPE_CHECKING:
    from recommender.bench import Bench
    from recommender.model import Bottle
    from recommender.notebook.intake import Taken


@click.group(epilog="Example: recommender shelf list")
def shelf() -> None:
    """Keep your bottles: what is there, at which dilution, how much, how old, at what price."""


@shelf.command(epilog='Example: recommender shelf add "violet stuff" --material alpha-ionone --dilution 10')
@click.argument("label")
@click.option(
    "--material",
    shell_complete=complete_material,
    help="What is in it, by name or CAS number.  [default: as the label says]",
)
@click.option("--dilution", default="", metavar="PERCENT", help="Dilution in per cent.  [default: neat]")
@click.option("--solvent", default="", help="In what it is diluted.")
@click.option("--amount", type=click.FloatRange(0), metavar="GRAMS", help="How much is left in grams.")
@click.option(
    "--price", type=click.FloatRange(0), metavar="NUMBER", help="Price of a gram of what is in the bottle."
)
@click.option("--opened", default="", metavar="DATE", help="When it was opened, such as 2024-03-01.")
@click.option("--lot", default="", help="Number of the lot.")
@click.option("--note", default="", help="Your own words.")
def add(label: str, material: str | None, note: str, **told_of: Any) -> int:
    """Put a bottle on the shelf, under your own LABEL."""
    from dataclasses import replace

    from recommender.errors import BadTable, BadValue
    from recommender.notebook import intake, writing
    from recommender.notebook import shelf as bottles
    from recommender.sheets import Row

    bench = ground()
    label = " ".join(label.split())
    if not label:
        raise BadValue("LABEL", "", "write what stands on the bottle")
    cells = {"label": label, "material": "", "cas": "", "lot": told_of["lot"], "note": note}
    cells |= {name: str(told_of[name] or "") for name in ("dilution", "solvent", "opened")}
    cells |= {name: "" if told_of[name] is None else f"{told_of[name]:.10g}" for name in ("amount", "price")}
    try:
        bottle, _, _ = intake.bottle_of(Row("shelf add", 0, cells), bench.catalogue)
    except BadTable as error:
        raise BadValue(f"--{error.column}", cells.get(error.column or "", ""), error.problem) from None
    if material:
        bottle = replace(bottle, material=bench.catalogue.find(material).slug)
    if bottle.material == "" or (cells["solvent"] and not bottle.solvent and bottle.dilution_percent < 100):
        if bottle.material:
            raise BadValue("--solvent", cells["solvent"], "no solvent is called so")
        bench.catalogue.find(label)  # says what is near
    with writing(place()) as db:
        number = bottles.put(db, bottle)
        _remember(db, bottle, bench)
    name = bench.catalogue.by_slug(bottle.material).name
    click.echo(f"bottle {number}: {bottle.label}, {name}{_dilution(bottle, bench)}")
    return 0


def _remember(db: Any, bottle: "Bottle", bench: "Bench") -> None:
    """Remember what a label stands for where the catalogue would not know it."""
    from recommender.errors import RecommenderError
    from recommender.notebook import shelf as bottles

    try:
        if bench.catalogue.find(bottle.label).slug == bottle.material:
            return
    except RecommenderError:
        pass
    bottles.remember(db, bottle.label, bottle.material)


def _dilution(bottle: "Bottle", bench: "Bench") -> str:
    if bottle.dilution_percent == 100:
        return ", neat"
    solvent = f" in {bench.catalogue.by_slug(bottle.solvent).name}" if bottle.solvent else ""
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
    from recommender.present import exports, tables

    bench, held = ground(), the_shelf()
    rows = []
    for bottle in held.bottles:
        known = bench.catalogue.index.get(bottle.material)
        material = bench.catalogue.materials[known] if known is not None else None
        rows.append(
            {
                "number": bottle.number,
                "label": bottle.label,
                "material": material.name if material else None,
                "cas": material.cas if material else None,
                "dilution_percent": bottle.dilution_percent,
                "solvent": bench.catalogue.by_slug(bottle.solvent).name if bottle.solvent else None,
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
    if form == "json":
        click.echo(exports.as_json(rows))
    elif form == "csv":
        click.echo(exports.as_csv(rows, COLUMNS))
    elif rows:
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
        tables.rows(rows, heads, wide=("label", "material", "mind"))
    if not rows:
        click.echo("recommender: the shelf is empty; see `recommender shelf add --help`.", err=True)
        return 1
    return 0


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
        bottles.take_off(db, number)
    click.echo(f"off the shelf: {found[0].label}")
    return 0


@shelf.command(epilog='Example: recommender shelf resolve "violet stuff" alpha-ionone')
@click.argument("label")
@click.argument("material", shell_complete=complete_material)
def resolve(label: str, material: str) -> int:
    """Say once what a LABEL stands for: it is remembered, on bottles and in formulas."""
    from recommender.catalogue import looks_like_cas, plain
    from recommender.errors import BadValue
    from recommender.notebook import shelf as bottles
    from recommender.notebook import writing

    if not label.strip() or looks_like_cas(plain(label)):
        raise BadValue("LABEL", label, "it is your own word for a bottle, not a CAS number")
    found = ground().catalogue.find(material)
    with writing(place()) as db:
        count = bottles.remember(db, " ".join(label.split()), found.slug)
    click.echo(f'"{label}" is {found.name} from now on; bottles resolved: {count}')
    return 0


@shelf.command("import", epilog="Example: recommender shelf import data/demo/shelf.xlsx --dry-run")
@click.argument("file", type=click.Path())
@click.option("--dry-run", is_flag=True, help="Only show what would be read.")
@click.option(
    "--map",
    "given",
    multiple=True,
    metavar="WHAT=HEADER",
    help='Say what a column is: --map "price=Cost/kg". What: label, material, cas, dilution, solvent, '
    "amount, price, opened, lot, note.",
)
@output_format
def import_(file: str, dry_run: bool, given: tuple[str, ...], form: str) -> int:
    """Read the bottles of a spreadsheet FILE (CSV or XLSX) with the headers that it has.

    A bottle that is there already (same label, dilution and lot) is brought up to date.
    """
    from pathlib import Path

    from recommender.errors import BadValue
    from recommender.notebook import intake, writing
    from recommender.notebook import shelf as bottles
    from recommender.present import exports, tables

    if wrong := [pair for pair in given if "=" not in pair]:
        raise BadValue("--map", wrong[0], "write it as WHAT=HEADER")
    bench = ground()
    columns, rows = intake.read(Path(file), bench.catalogue, dict(p.split("=", 1) for p in given))
    for line in columns.told():
        click.echo(f"column {line}", err=True)
    done: dict[int, str] = {}
    if not dry_run and any(row.bottle for row in rows):
        with writing(place()) as db:
            for row in rows:
                if row.bottle is None:
                    continue
                number = bottles.same(db, row.bottle)
                done[row.line] = "added" if number is None else "brought up to date"
                if number is None:
                    bottles.put(db, row.bottle)
                else:
                    bottles.refresh(db, number, row.bottle)
                if row.bottle.material:
                    _remember(db, row.bottle, bench)
    shown = [_report(row, done.get(row.line, "would be read"), bench) for row in rows]
    if form == "json":
        click.echo(exports.as_json({"columns": dict(_mapped(columns)), "rows": shown}))
    elif form == "csv":
        click.echo(exports.as_csv(shown, ("line", "label", "material", "found_by", "done", "mind")))
    else:
        heads = {"line": "line", "label": "label", "material": "material", "done": "", "mind": "mind"}
        tables.rows(shown, heads, wide=("label", "material", "mind"))
    left, loose = [r for r in rows if r.error], [r for r in rows if r.bottle and not r.bottle.material]
    sys.stdout.flush()
    dry = " (dry run)" if dry_run else ""
    told(f"{len(rows) - len(left)} of {len(rows)} rows read{dry}, {len(left)} left out.")
    if loose:
        told(
            f"{len(loose)} labels are not known: say once what they are, "
            f'recommender shelf resolve "{loose[0].bottle.label if loose[0].bottle else ""}" MATERIAL'
        )
    return 0 if len(left) < len(rows) else 1


def _mapped(columns: Any) -> list[tuple[str, str]]:
    return [(name, columns.headers[at]) for name, at in columns.places.items()]


def _report(row: "Taken", done: str, bench: "Bench") -> dict[str, Any]:
    bottle = row.bottle
    material = bench.catalogue.by_slug(bottle.material).name if bottle and bottle.material else None
    return {
        "line": row.line,
        "label": bottle.label if bottle else None,
        "material": material,
        "found_by": row.found_by or None,
        "done": "left out" if bottle is None else done if material else f"{done}, not resolved",
        "mind": row.error or row.remark or None,
    }


@shelf.command(epilog="Example: recommender shelf cost data/demo/morello.csv --batch 50g")
@click.argument("formula")
@click.option(
    "--batch",
    "batch_g",
    type=Grams(),
    default="10g",
    show_default=True,
    metavar="AMOUNT",
    help="How much is made: 10g, 0.5kg.",
)
@output_format
def cost(formula: str, batch_g: float, form: str) -> int:
    """Tell what a batch of FORMULA costs from your bottles, and whether there is enough."""
    from recommender import formula as formulas
    from recommender import stock
    from recommender.bench import Table
    from recommender.present import exports, tables, words

    table = Table.of(formula, ground(formula))
    rows = stock.cost(formulas.amounts(table.formula), the_shelf(), batch_g)
    shown = [
        {
            "material": row.material.name,
            "cas": row.material.cas or None,
            "neat_g": words.tidy(row.neat_g),
            "bottle": row.bottle.label if row.bottle else None,
            "dilution_percent": row.bottle.dilution_percent if row.bottle else None,
            "weigh_g": None if row.weigh_g is None else words.tidy(row.weigh_g),
            "price": None if row.price is None else words.tidy(row.price),
            "short_g": words.tidy(row.short_g) if row.short_g else None,
        }
        for row in rows
    ]
    priced = [row.price for row in rows if row.price is not None]
    total = words.tidy(sum(priced)) if priced else None
    if form == "json":
        data = {"formula": table.formula.name, "batch_g": batch_g, "total": total, "rows": shown}
        click.echo(exports.as_json(data | {"notes": list(table.notes)}))
        return 0
    if form == "csv":
        columns = ("material", "cas", "neat_g", "bottle", "dilution_percent", "weigh_g", "price", "short_g")
        click.echo(exports.as_csv(shown, columns))
    else:
        heads = {
            "material": "material",
            "neat_g": "g neat",
            "bottle": "bottle",
            "dilution_percent": "%",
            "weigh_g": "weigh g",
            "price": "price",
            "short_g": "short g",
        }
        tables.rows(shown, heads, wide=("material", "bottle"))
    for note in table.notes:
        told(note)
    unknown = [row.material.name for row in rows if row.price is None]
    told(
        f"{batch_g:g} g cost {total:g} for what has a price."
        if total is not None
        else "No price on the shelf."
    )
    if unknown:
        told(f"No price is held for {', '.join(unknown)}.")
    return 0


COMMANDS = (shelf,)
