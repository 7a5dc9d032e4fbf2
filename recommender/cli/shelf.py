"""shelf: the person's bottles."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import printing
from recommender.cli.commands import Whole, group, option, own_words
from recommender.cli.notebook_option import sheet_option, workspace
from recommender.cli.options import (
    DILUTION,
    MASS,
    complete_bottle,
    complete_formula,
    complete_label,
    complete_material,
    output_format,
)
from recommender.errors import BadValue

if TYPE_CHECKING:
    from recommender.evidence.catalogue import Catalogue
    from recommender.model import Bottle
    from recommender.notebook.importers import ImportedRow


@group(epilog="Example: recommender shelf list")
def shelf() -> None:
    """Manage your bottles.

    What you have, at which dilution, how much, how old and at what price.
    """


@shelf.command(epilog='Example: recommender shelf add "violet stuff" --material alpha-ionone --dilution 10')
@click.argument("label")
@option(
    "--material",
    shell_complete=complete_material,
    help="The material in it, by name or CAS number.  [default: from the label]",
)
@DILUTION
@option("--solvent", default="", help="Solvent of the dilution.")
@option("--amount", "amount_g", metavar="MASS", help="Amount left, such as 10g; a bare number is grams.")
@option("--price", "price_per_g", metavar="NUMBER", help="Price per gram of the contents.")
@option("--opened", default="", metavar="DATE", help="Date of opening, such as 2024-03-01.")
@option("--lot", default="", help="Lot number.")
@own_words("--note", help="Your own words.")
def add(label: str, material: str | None, **given: Any) -> int:
    """Put a bottle on the shelf, under your own LABEL."""
    here = workspace()
    bottle = here.shelf.add(label, material or "", **given)
    catalogue = here.palette.catalogue
    name = catalogue.by_slug(bottle.material).name
    click.echo(f"bottle {bottle.number}: {bottle.label}, {name}{_dilution(bottle, catalogue)}")
    return 0


def _dilution(bottle: "Bottle", catalogue: "Catalogue") -> str:
    if bottle.dilution_percent == 100:
        return ", neat"
    solvent = f" in {catalogue.by_slug(bottle.solvent).name}" if bottle.solvent else ""
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
    """List your bottles, with remarks on those that run low or have been open for long."""
    here = workspace()
    catalogue, bottles = here.palette.catalogue, here.shelf.stock()
    rows = []
    for bottle in bottles.bottles:
        known = bottle.material in catalogue.index
        material = catalogue.by_slug(bottle.material) if known else None
        unresolved = f'not resolved: recommender shelf resolve "{bottle.label}" MATERIAL'
        rows.append(
            {
                "number": bottle.number,
                "label": bottle.label,
                "material": material.name if material else None,
                "cas": material.cas or None if material else None,
                "dilution_percent": bottle.dilution_percent,
                "solvent": catalogue.by_slug(bottle.solvent).name if bottle.solvent else None,
                "amount_g": bottle.amount_g,
                "price_per_g": bottle.price_per_g,
                "price_per_g_neat": bottle.neat_price_per_g,
                "opened": bottle.opened or None,
                "lot": bottle.lot or None,
                "note": bottle.note or None,
                "mind": bottles.remarks(bottle, material) if material else [unresolved],
            }
        )
    heads = {
        "number": "no.",
        "label": "label",
        "material": "material",
        "dilution_percent": "%",
        "amount_g": "g left",
        "price_per_g_neat": "price per g neat",
        "opened": "opened",
        "mind": "remarks",
    }
    empty = "the shelf is empty; see `recommender shelf add --help`."
    return printing.listed(rows, form, COLUMNS, heads, empty, ("label", "material", "mind"))


@shelf.command(epilog="Example: recommender shelf remove 3")
@click.argument("number", type=Whole(1), shell_complete=complete_bottle)
def remove(number: int) -> int:
    """Remove bottle NUMBER from the shelf; the meaning of its label stays on record."""
    bottle, removed = workspace().shelf.remove(number)
    click.echo(f"removed from the shelf: {bottle.label}")
    printing.way_back(removed)
    return 0


@shelf.command(epilog="Example: recommender shelf edit 3 --amount 7.5 --opened 2024-03-01")
@click.argument("number", type=Whole(1), shell_complete=complete_bottle)
@option("--dilution", "dilution_percent", metavar="PERCENT", help="Dilution in %.")
@option("--solvent", metavar="NAME", help="Solvent of the dilution.")
@option("--amount", "amount_g", metavar="GRAMS", help='Amount left in grams; "" is unknown.')
@option("--price", "price_per_g", metavar="NUMBER", help='Price per gram of the contents; "" is unknown.')
@option("--opened", metavar="DATE", help="Date of opening, such as 2024-03-01.")
@option("--lot", metavar="TEXT", help="Lot number.")
@option("--note", metavar="TEXT", help="Your own words.")
def edit(number: int, **given: Any) -> int:
    """Change bottle NUMBER; what is not given stays."""
    given = {name: value for name, value in given.items() if value is not None}
    change = workspace().shelf.edit(number, **given)
    if change is None:
        click.echo(f"bottle {number} is as it was")
        return 0
    click.echo(f"bottle {number}: {change.name} changed")
    printing.note(f"`recommender shelf undo {change.number}` undoes it.")
    return 0


@shelf.command(epilog="Example: recommender shelf changes")
@output_format
def changes(form: str) -> int:
    """List what was done to bottles in one go, the latest first; all of it can be undone."""
    from recommender.output import removed_words

    rows = [
        {
            "number": one.number,
            "made": f"{one.made.replace('T', ' ')} UTC",
            "what": removed_words.change_words(one.kind, one.name, one.batch_g, len(one.bottles)),
            "kind": one.kind,
            "name": one.name,
            "batch_g": one.batch_g,
            "bottles": [
                {
                    "number": bottle.number,
                    "label": bottle.label,
                    "before_g": bottle.before.get("amount_g"),
                    "after_g": bottle.after["amount_g"],
                }
                for bottle in one.bottles
            ],
        }
        for one in workspace().shelf.changes()
    ]
    heads = {"number": "no.", "made": "when", "what": "what"}
    return printing.listed(
        rows, form, tuple(heads), heads, "no change of the shelf can be undone.", ("what",)
    )


@shelf.command(epilog="Example: recommender shelf undo 1")
@click.argument("number", type=Whole(1))
def undo(number: int) -> int:
    """Undo change NUMBER of the shelf; every amount is as before."""
    from recommender.output import removed_words

    change, removed = workspace().shelf.undo(number)
    words = removed_words.change_words(change.kind, change.name, change.batch_g, len(change.bottles))
    click.echo(f"undone: {words}")
    if change.kind == "imported":
        printing.note("the materials of the labels stay on record.")
    printing.way_back(removed)
    return 0


@shelf.command(epilog='Example: recommender shelf resolve "violet stuff" alpha-ionone')
@click.argument("label", shell_complete=complete_label)
@click.argument("material", shell_complete=complete_material)
def resolve(label: str, material: str) -> int:
    """Define what a LABEL stands for, on bottles and in formulas.

    A LABEL that is the name of a material keeps its meaning in formulas; only its bottles are resolved.
    """
    found, count, named = workspace().shelf.resolve(label, material)
    if named is None:
        click.echo(f'"{label}" is {found.name} from now on; bottles resolved: {count}')
    else:
        click.echo(f'bottles with the label "{label}" are {found.name}; bottles resolved: {count}')
        printing.note(f'in formulas "{label}" still means {named.name}.')
    return 0


CONTENTS = {"dilution_percent": "%", "amount_g": "g", "price_per_g": "price per g", "opened": "opened"}
"""What a dry run shows of each bottle."""


@shelf.command("import", epilog="Example: recommender shelf import demo/shelf.xlsx --dry-run")
@click.argument("file", type=click.Path())
@option("--dry-run", is_flag=True, help="Show what would be imported, and import nothing.")
@option(
    "--map",
    multiple=True,
    metavar="WHAT=HEADER",
    help='Define a column: --map "price=Cost/kg". What: label, material, cas, dilution, solvent, '
    "amount, unit, size, price, density, opened, lot, note.",
)
@output_format
@sheet_option
def import_(file: str, dry_run: bool, map: tuple[str, ...], form: str) -> int:
    """Import the bottles of a spreadsheet FILE (CSV, XLSX, XLS or ODS) with its own headers.

    A bottle already on the shelf (same label, dilution and lot) is updated. If label and CAS number disagree,
    the bottle is imported without a material until you resolve it.
    """
    from pathlib import Path

    if wrong := [pair for pair in map if "=" not in pair]:
        raise BadValue("map", wrong[0], "write it as WHAT=HEADER")
    pairs = [pair.split("=", 1) for pair in map]
    if twice := [what for what, _ in pairs if sum(what == other for other, _ in pairs) > 1]:
        raise BadValue("map", twice[0], "it is given twice; name one header for it")
    here = workspace()
    catalogue = here.palette.catalogue
    columns, rows = here.shelf.read_sheet(Path(file), dict(pairs))
    found = [row.bottle for row in rows if row.bottle is not None]
    if dry_run or not found:
        done = [(bottle, "would be read", bottle.material) for bottle in found]
    else:
        done = [
            (bottle, "added" if new else "brought up to date", material)
            for bottle, new, material in here.shelf.add_all(found, Path(file).name)
        ]
    placed = iter(done)
    shown = [_report(row, *(next(placed)[1:] if row.bottle else ("", "")), catalogue) for row in rows]
    notes = [*columns.notes, *_remarks(rows, dry_run, catalogue)]
    summary = [f"column {line}" for line in columns.summary()]
    data = {
        "columns": {name: columns.headers[at] for name, at in columns.places.items()},
        "rows": shown,
        "notes": [*summary, *notes],
    }
    csv_columns = ("line", "label", "material", "found_by", "done", "mind", *CONTENTS)
    heads = {"line": "line", "label": "label", "material": "material"}
    heads |= CONTENTS if dry_run else {}
    heads |= {"done": "", "mind": "remarks"}
    wide = ("label", "material", "mind")
    printing.show(form, data, shown, csv_columns, lambda: printing.table_of(shown, heads, wide))
    if form != "json":
        printing.lines_below(summary)
        printing.notes(notes)
    return 0 if found else 1


def _remarks(rows: "Sequence[ImportedRow]", dry_run: bool, catalogue: "Catalogue") -> list[str]:
    """Return how many rows were imported, and how to resolve those that are not clear."""
    left, loose = [r for r in rows if r.error], [r for r in rows if _unknown(r)]
    dry = " (dry run)" if dry_run else ""
    out = [f"{len(rows) - len(left)} of {len(rows)} rows imported{dry}, {len(left)} left out."]
    if loose:
        label = loose[0].bottle.label if loose[0].bottle else ""
        many = f"{len(loose)} labels are unknown; define each one" if loose[1:] else "1 label is unknown"
        out.append(f'{many}: recommender shelf resolve "{label}" MATERIAL')
    for row in rows:
        if row.candidates and row.bottle:
            ways = [
                f'recommender shelf resolve "{row.bottle.label}" "{catalogue.by_slug(slug).name}"'
                for slug in row.candidates
            ]
            out.append(
                f'line {row.line}, "{row.bottle.label}": {row.remark}. Resolve it with {" or ".join(ways)}'
            )
    return out


def _unknown(row: "ImportedRow") -> bool:
    return row.bottle is not None and not row.bottle.material and not row.candidates


def _report(row: "ImportedRow", done: str, slug: str, catalogue: "Catalogue") -> dict[str, Any]:
    bottle = row.bottle
    material = catalogue.by_slug(slug).name if slug in catalogue.index else None
    remark = row.error or row.remark
    if bottle and bottle.material and bottle.material != slug:
        conflict = f"the sheet has {catalogue.by_slug(bottle.material).name}; the shelf is unchanged"
        remark = "; ".join(filter(None, (remark, conflict)))
    return {
        **{name: (getattr(bottle, name) if bottle else None) for name in CONTENTS},
        "line": row.line,
        "label": bottle.label if bottle else row.cells.get("label") or row.cells.get("material") or None,
        "material": material,
        "found_by": row.found_by or None,
        "done": "left out" if bottle is None else done if material else f"{done}, not resolved",
        "mind": remark or None,
        "candidates": [catalogue.by_slug(one).name for one in row.candidates],
    }


@shelf.command(epilog="Example: recommender shelf cost demo/morello.csv --batch 50g")
@click.argument("formula", shell_complete=complete_formula)
@option(
    "--batch",
    "batch_g",
    type=MASS,
    default="10g",
    show_default=True,
    metavar="MASS",
    help="Size of the batch: 10g, 0.5kg.",
)
@output_format
@sheet_option
def cost(formula: str, batch_g: float, form: str) -> int:
    """Show what a batch of FORMULA costs from your bottles, and whether there is enough."""
    from recommender.output import wording

    found, rows = workspace().cost(formula, batch_g)
    shown = [
        {
            "material": row.material.name,
            "cas": row.material.cas or None,
            "neat_g": wording.tidy(row.neat_g),
            "bottle": row.bottle.label if row.bottle else None,
            "dilution_percent": row.bottle.dilution_percent if row.bottle else None,
            "weigh_g": None if row.weigh_g is None else wording.tidy(row.weigh_g),
            "price": None if row.price is None else wording.tidy(row.price),
            "short_g": wording.tidy(row.short_g) if row.short_g else None,
        }
        for row in rows
    ]
    priced = [row.price for row in rows if row.price is not None]
    total = wording.tidy(sum(priced)) if priced else None
    columns = ("material", "cas", "neat_g", "bottle", "dilution_percent", "weigh_g", "price", "short_g")
    heads = {
        "material": "material",
        "neat_g": "g neat",
        "bottle": "bottle",
        "dilution_percent": "%",
        "weigh": "weigh",
        "price": "price",
        "short_g": "g missing",
    }
    notes = [*found.notes]
    if sum(row.weigh_g or row.neat_g for row in rows) > 1.001 * batch_g:
        thin = max(rows, key=lambda row: (row.weigh_g or 0.0) - row.neat_g)
        notes.append(
            f"The bottles add more solvent than the formula has room for, {thin.material.name} the most."
        )
    notes.append(
        f"{batch_g:g} g cost {total:g}, counting materials with a price."
        if total is not None
        else "No bottle of these materials has a price."
    )
    if unknown := [row.material.name for row in rows if row.price is None]:
        notes.append(f"No price is on record for {', '.join(unknown)}.")
    data = {
        "formula": found.formula.name,
        "batch_g": batch_g,
        "total": total,
        "rows": shown,
        "notes": notes,
    }
    right = ("neat_g", "weigh", "price", "short_g")
    weighed = [
        line | {"weigh": "" if row.weigh_g is None else f"{wording.shown(row.weigh_g)} g"}
        for line, row in zip(shown, rows, strict=True)
    ]
    printing.show(
        form,
        data,
        shown,
        columns,
        lambda: printing.table_of(weighed, heads, ("material", "bottle"), right, "weigh"),
    )
    if form != "json":
        printing.notes(notes)
    return 0


COMMANDS = (shelf,)
