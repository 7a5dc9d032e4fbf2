"""shelf import, shelf cost: a whole spreadsheet of bottles, and what a formula takes from them."""

import sys
from typing import TYPE_CHECKING, Any

import click

from recommender.cli.notebook_option import ground, place, the_shelf, told
from recommender.cli.options import output_format
from recommender.cli.quantities import Mass
from recommender.cli.repeated import option

if TYPE_CHECKING:
    from recommender.notebook.importers import ImportedRow
    from recommender.palette import Palette


@click.command("import", epilog="Example: recommender shelf import data/demo/shelf.xlsx --dry-run")
@click.argument("file", type=click.Path())
@option("--dry-run", is_flag=True, help="Only show what would be read.")
@option(
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

    A bottle that is there already (same label, dilution and lot) is brought up to date. Where label and CAS
    number disagree, the bottle is on the shelf with its material open until you say which.
    """
    from pathlib import Path

    from recommender.errors import BadValue
    from recommender.notebook import importers, writing
    from recommender.notebook import shelf as bottles
    from recommender.output import formats, text

    if wrong := [pair for pair in given if "=" not in pair]:
        raise BadValue("--map", wrong[0], "write it as WHAT=HEADER")
    pairs = [pair.split("=", 1) for pair in given]
    if twice := [what for what, _ in pairs if sum(what == other for other, _ in pairs) > 1]:
        raise BadValue("--map", twice[0], "it is given twice; name one header for it")
    palette = ground()
    columns, rows = importers.read(Path(file), palette.catalogue, dict(pairs))
    for line in columns.summary():
        click.echo(f"column {line}", err=True)
    found = [row.bottle for row in rows if row.bottle is not None]
    if dry_run or not found:
        done = [(bottle, "would be read", bottle.material) for bottle in found]
    else:
        with writing(place()) as db:
            done = [
                (bottle, "added" if new else "brought up to date", material)
                for bottle, new, material in bottles.take_in(db, found, palette.catalogue)
            ]
    placed = iter(done)
    shown = [_report(row, *(next(placed)[1:] if row.bottle else ("", "")), palette) for row in rows]
    if form == "json":
        click.echo(formats.as_json({"columns": dict(_mapped(columns)), "rows": shown}))
    elif form == "csv":
        click.echo(formats.as_csv(shown, ("line", "label", "material", "found_by", "done", "mind")))
    else:
        heads = {"line": "line", "label": "label", "material": "material", "done": "", "mind": "mind"}
        text.rows(shown, heads, wide=("label", "material", "mind"))
    left, loose = [r for r in rows if r.error], [r for r in rows if _unknown(r)]
    sys.stdout.flush()
    dry = " (dry run)" if dry_run else ""
    told(f"{len(rows) - len(left)} of {len(rows)} rows read{dry}, {len(left)} left out.")
    if loose:
        told(
            f"{len(loose)} labels are not known: say once what they are, "
            f'recommender shelf resolve "{loose[0].bottle.label if loose[0].bottle else ""}" MATERIAL'
        )
    for row in rows:
        if row.candidates and row.bottle:
            ways = [
                f'recommender shelf resolve "{row.bottle.label}" "{palette.catalogue.by_slug(slug).name}"'
                for slug in row.candidates
            ]
            told(f'line {row.line}, "{row.bottle.label}": {row.remark}. Say which: {" or ".join(ways)}')
    return 0 if len(left) < len(rows) else 1


def _unknown(row: "ImportedRow") -> bool:
    return row.bottle is not None and not row.bottle.material and not row.candidates


def _mapped(columns: Any) -> list[tuple[str, str]]:
    return [(name, columns.headers[at]) for name, at in columns.places.items()]


def _report(row: "ImportedRow", done: str, slug: str, palette: "Palette") -> dict[str, Any]:
    bottle, catalogue = row.bottle, palette.catalogue
    material = catalogue.by_slug(slug).name if slug in catalogue.index else None
    remark = row.error or row.remark
    if bottle and bottle.material and bottle.material != slug:
        kept = f"the sheet says {catalogue.by_slug(bottle.material).name}; what is on the shelf stays"
        remark = "; ".join(filter(None, (remark, kept)))
    return {
        "line": row.line,
        "label": bottle.label if bottle else None,
        "material": material,
        "found_by": row.found_by or None,
        "done": "left out" if bottle is None else done if material else f"{done}, not resolved",
        "mind": remark or None,
        "candidates": [catalogue.by_slug(one).name for one in row.candidates],
    }


@click.command(epilog="Example: recommender shelf cost data/demo/morello.csv --batch 50g")
@click.argument("formula")
@option(
    "--batch",
    "batch_g",
    type=Mass(),
    default="10g",
    show_default=True,
    metavar="MASS",
    help="How much is made: 10g, 0.5kg.",
)
@output_format
def cost(formula: str, batch_g: float, form: str) -> int:
    """Tell what a batch of FORMULA costs from your bottles, and whether there is enough."""
    from recommender.formulas import formula as formulas
    from recommender.formulas.drydown import FormulaDrydown
    from recommender.output import formats, text, wording
    from recommender.suggest import stock

    table = FormulaDrydown.of(formula, ground(formula))
    rows = stock.cost(formulas.amounts(table.formula), the_shelf(), batch_g)
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
    if form == "json":
        data = {"formula": table.formula.name, "batch_g": batch_g, "total": total, "rows": shown}
        click.echo(formats.as_json(data | {"notes": list(table.notes)}))
        return 0
    if form == "csv":
        columns = ("material", "cas", "neat_g", "bottle", "dilution_percent", "weigh_g", "price", "short_g")
        click.echo(formats.as_csv(shown, columns))
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
        text.rows(shown, heads, wide=("material", "bottle"))
    for note in table.notes:
        told(note)
    if sum(row.weigh_g or row.neat_g for row in rows) > 1.001 * batch_g:
        thin = max(rows, key=lambda row: (row.weigh_g or 0.0) - row.neat_g)
        told(f"The bottles bring more solvent than there is room for, {thin.material.name} the most.")
    unknown = [row.material.name for row in rows if row.price is None]
    told(
        f"{batch_g:g} g cost {total:g} for what has a price."
        if total is not None
        else "No price on the shelf."
    )
    if unknown:
        told(f"No price is held for {', '.join(unknown)}.")
    return 0
