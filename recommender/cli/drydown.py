"""drydown, trim, strips, dose, compare."""

import sys
from collections.abc import Iterable

import click

from recommender.cli.notebook_option import ground
from recommender.cli.options import (
    Duration,
    category,
    complete_material,
    dosage,
    market,
    output_format,
    picture,
)
from recommender.cli.quantities import Mass, resolution
from recommender.cli.repeated import joined, option, words


def _notes(notes: Iterable[str]) -> None:
    sys.stdout.flush()
    for note in notes:
        click.echo(f"note: {note}", err=True)


@click.command(epilog="Example: recommender drydown data/demo/morello.csv")
@click.argument("formula", type=click.Path())
@picture
@output_format
def drydown(formula: str, form: str, picture: str | None) -> int:
    """Show which facet of FORMULA dies when on a strip."""
    from recommender.formulas.drydown import FormulaDrydown
    from recommender.output import charts, formats, formulas

    if picture:
        charts.check(picture)
    table = FormulaDrydown.of(formula, ground(formula))
    data = formulas.drydown(table)
    if form == "json":
        click.echo(formats.as_json(data))
    elif form == "csv":
        click.echo(formats.as_csv(formulas.drydown_rows(data), formulas.DRYDOWN_COLUMNS))
    else:
        click.echo("\n".join(formulas.drydown_lines(table, data)))
    _notes(data["notes"])
    if picture:
        charts.drydown(table, picture)
        click.echo(f"picture: {picture}", err=True)
    return 0


@click.command(epilog="Example: recommender trim data/demo/tide_pool.csv")
@click.argument("formula", type=click.Path())
@output_format
def trim(formula: str, form: str) -> int:
    """Find what is redundant in FORMULA.

    Each material is left out in turn: what would be missed?
    """
    from recommender.formulas import redundancy as redundant
    from recommender.formulas.drydown import FormulaDrydown
    from recommender.output import formats, formulas
    from recommender.output import text as tables

    table = FormulaDrydown.of(formula, ground(formula))
    rows = [formulas.spare_row(spare) for spare in redundant.trim(table)]
    if form == "json":
        click.echo(formats.as_json({"formula": table.formula.name, "rows": rows, "notes": list(table.notes)}))
        return 0
    if form == "csv":
        click.echo(formats.as_csv(rows, formulas.SPARE_COLUMNS))
    else:
        tables.rows([formulas.spare_words(row) for row in rows], formulas.SPARE_HEADS, wide=("verdict",))
    _notes((*table.notes, *formulas.TRIM_NOTES))
    return 0


@click.command(epilog="Example: recommender strips coumarin vanillin benzaldehyde")
@click.argument("material", nargs=-1, required=True, shell_complete=complete_material)
@option(
    "--at", "hours", type=Duration(), default="1min", show_default=True, help="When the strips are smelled."
)
@output_format
def strips(material: tuple[str, ...], hours: float, form: str) -> int:
    """Hold strips of each MATERIAL together, at 1 %.

    What overpowers, what is hidden, what stands apart?
    """
    from recommender.formulas import comparison
    from recommender.output import formats, formulas
    from recommender.output import text as tables

    palette = ground()
    found = comparison.strips([palette.catalogue.find(name) for name in material], palette, hours)
    rows = [formulas.strip_row(strip) for strip in found]
    if form == "json":
        click.echo(formats.as_json({"hours": hours, "rows": rows, "notes": []}))
    elif form == "csv":
        click.echo(formats.as_csv(rows, formulas.STRIP_COLUMNS))
    else:
        tables.rows(rows, formulas.STRIP_HEADS, wide=("verdict", "own_facets"))
    return 0


@click.command(
    epilog='Example: recommender dose benzaldehyde coumarin vanillin --balance "almond 2, vanilla 1"'
)
@click.argument("material", nargs=-1, required=True, shell_complete=complete_material)
@words("--balance", callback=joined(", "), help='How strong each should seem: "almond 2, vanilla 1".')
@option(
    "--batch",
    "batch_g",
    type=Mass(),
    metavar="MASS",
    default="10g",
    show_default=True,
    help="Size of the trial.",
)
@resolution()
@market
@dosage
@category
@output_format
def dose(
    material: tuple[str, ...],
    balance: str,
    batch_g: float,
    resolution_g: float,
    market: str,
    dosage_percent: float | None,
    category: str,
    form: str,
) -> int:
    """Propose first amounts of each MATERIAL.

    From odour strength, so that they balance as you want. With --dosage no amount goes above the
    limits held; for what is prohibited there is none.
    """
    from recommender import regulation
    from recommender.formulas import comparison
    from recommender.output import formats, formulas
    from recommender.output import text as tables

    palette = ground()
    wear = regulation.ProductUse(dosage_percent, regulation.checked_category(category), market)
    chosen = [palette.catalogue.find(name) for name in material]
    found = comparison.dose(chosen, comparison.balance_of(balance), palette, batch_g, resolution_g, wear)
    rows = [formulas.first_row(first) for first in found]
    if form == "json":
        click.echo(formats.as_json({"batch_g": batch_g, "rows": rows, "notes": list(formulas.DOSE_NOTES)}))
        return 0
    if form == "csv":
        click.echo(formats.as_csv(rows, formulas.FIRST_COLUMNS))
    else:
        tables.rows(rows, formulas.FIRST_HEADS, wide=("weigh",))
    _notes(formulas.DOSE_NOTES)
    return 0


@click.command(epilog="Example: recommender compare data/demo/morello.csv data/demo/bell_flower.csv")
@click.argument("one", type=click.Path())
@click.argument("other", type=click.Path())
@picture
@output_format
def compare(one: str, other: str, form: str, picture: str | None) -> int:
    """Follow two formulas side by side on strips."""
    from recommender.formulas import comparison
    from recommender.formulas.drydown import FormulaDrydown
    from recommender.output import charts, formats, formulas

    if picture:
        charts.check(picture)
    palette = ground(one, other)
    tables = FormulaDrydown.of(one, palette), FormulaDrydown.of(other, palette)
    side = comparison.compare(*tables)
    if form == "json":
        click.echo(formats.as_json(formulas.side_data(side)))
    elif form == "csv":
        click.echo(formats.as_csv(formulas.side_rows(side), formulas.SIDE_COLUMNS))
    else:
        click.echo("\n".join(formulas.side_lines(side)))
    _notes(dict.fromkeys((*tables[0].notes, *tables[1].notes)))
    if picture:
        charts.compare(*tables, picture)
        click.echo(f"picture: {picture}", err=True)
    return 0


COMMANDS = (drydown, trim, strips, dose, compare)
