"""check, limits: from the concentrate to what is worn."""

import sys
from datetime import date

import click

from recommender.cli.notebook_option import ground
from recommender.cli.options import category, complete_material, market, output_format
from recommender.cli.quantities import Percent
from recommender.cli.repeated import option


@click.command(epilog="Example: recommender check data/demo/morello.csv --dosage 2 --category 9")
@click.argument("formula", type=click.Path())
@option(
    "--dosage",
    "dosage_percent",
    type=Percent(),
    required=True,
    help="The concentrate in the finished product, in % by mass.",
)
@category
@market
@option(
    "--content",
    "contents",
    metavar="TEXT",
    multiple=True,
    help='What a certificate says of a natural: "tonka bean absolute: coumarin 60".',
)
@output_format
def check(
    formula: str, dosage_percent: float, category: str, market: str, contents: tuple[str, ...], form: str
) -> int:
    """Hold FORMULA against limits and the label.

    In the finished product: prohibitions, limits, highest dosage, label allergens.

    Naturals are opened at the high end of their range. European law and the industry Standards are both
    looked at, the lowest limit counts; with --market eu only European law prohibits, with --market standards
    the Standards stand alone. A limit that is adopted and applies later is counted now, with its day.
    Exit status 1 where anything is prohibited, above a limit, rests on a limit from memory, or is
    restricted without a figure here.
    """
    from recommender import regulation
    from recommender.formulas.formula import amounts
    from recommender.output import formats, product_page
    from recommender.output import product as checked

    palette = ground(formula)
    catalogue = palette.catalogue
    regulation.checked_category(category)
    certified = regulation.certificates(contents, catalogue)
    found, notes = palette.formula(formula)
    report = regulation.check(amounts(found), catalogue, dosage_percent, category, market, certified)
    if form == "table":
        click.echo("\n".join(product_page.lines(report, found.name, date.today())))
    else:
        data = checked.data(report, found.name, catalogue, notes)
        rows = [checked.flat(row) for row in data["rows"]]
        click.echo(formats.as_json(data) if form == "json" else formats.as_csv(rows, checked.COLUMNS))
    sys.stdout.flush()
    if form != "json":
        for note in notes:
            click.echo(f"note: {note}", err=True)
    return 1 if report.findings else 0


@click.command(epilog="Example: recommender limits coumarin")
@click.argument("name", metavar="[MATERIAL]", required=False, shell_complete=complete_material)
@option("--stale", is_flag=True, help="Only those that a person should look up, and why.")
@category
@output_format
def limits(name: str | None, stale: bool, category: str, form: str) -> int:
    """List the limits held, of all or of MATERIAL.

    A blank is no limit held, never no limit. `limits import` reads limits that you typed from the
    Standards in force, `limits tables` lists what you read, `limits use` chooses among them.
    """
    from recommender import regulation
    from recommender.output import formats, wording
    from recommender.output import limits as held
    from recommender.output import text as tables

    catalogue = ground().catalogue
    material = catalogue.find(name) if name else None
    rows = held.rows(catalogue, date.today(), regulation.checked_category(category), material, stale)
    if form == "json":
        click.echo(formats.as_json({"category": category, "rows": rows, "notes": [wording.SIGNS_OFF]}))
    elif form == "csv":
        click.echo(formats.as_csv(rows, held.COLUMNS))
    elif material and not stale and (rows or regulation.listed(material, catalogue)):
        click.echo("\n".join(held.lines(material, rows, catalogue)))
    elif rows:
        tables.rows(held.shown(rows), held.HEADS, wide=("look_up",))
    sys.stdout.flush()
    if not rows:
        whom = f" for {material.name}" if material else ""
        told = "nothing to look up" if stale else "no limit is held, which is no word that there is none"
        click.echo(f"recommender: nothing found{whom}: {told}.", err=True)
        return 1
    if form == "table":
        click.echo(f"note: {wording.SIGNS_OFF}", err=True)
    return 0


COMMANDS = (check,)
