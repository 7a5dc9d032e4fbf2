"""limits: the limits on record, and those that the person typed from the Standards in force."""

import click

from recommender.cli import printing
from recommender.cli.commands import Listing, Whole, command, option
from recommender.cli.notebook_option import sheet_option, workspace
from recommender.cli.options import category, complete_material, output_format


@command(name="limits", epilog="Example: recommender limits coumarin")
@click.argument("name", metavar="[MATERIAL]", required=False, shell_complete=complete_material)
@option("--stale", is_flag=True, help="Only limits to look up, and why, those of your formulas first.")
@category
@output_format
def listing(name: str | None, stale: bool, category: str, form: str) -> int:
    """List the limits on record, all or those of MATERIAL.

    A blank means that no figure is on record, not that there is no limit. `limits import` imports limits
    that you typed from the Standards in force, `limits tables` lists your imported tables, and `limits use`
    chooses one of them.
    """
    from datetime import date

    from recommender import regulation
    from recommender.output import limits as output
    from recommender.output import wording

    here = workspace()
    catalogue = here.palette.catalogue
    material = here.material(name) if name else None
    named = regulation.checked_category(category)
    rows = output.rows(catalogue, date.today(), named, material, stale, here.limits.used_in)

    def for_a_reader() -> list[str]:
        if material and not stale and (rows or regulation.listed(material, catalogue)):
            return output.lines(material, rows, catalogue)
        used = stale and any(row["used_in"] for row in rows)
        heads = output.USED if used else output.HEADS
        return printing.table_of(output.shown(rows), heads, ("name", "by", "look_up")) if rows else []

    data = {"category": category, "rows": rows, "notes": [wording.SIGNS_OFF]}
    printing.show(form, data, rows, output.COLUMNS, for_a_reader)
    if not rows:
        return printing.nothing_found(output.nothing(catalogue, material, stale))
    if form == "table":
        printing.note(wording.SIGNS_OFF)
    return 0


limits = Listing.of(listing)


@limits.command("import", epilog="Example: recommender limits import demo/own_limits.csv --dry-run")
@click.argument("file", type=click.Path())
@option("--dry-run", is_flag=True, help="Check the file and show what would change, without importing it.")
@output_format
@sheet_option
def import_(file: str, dry_run: bool, form: str) -> int:
    """Import a table of limits from FILE: name, cas, and a column for each category (cat_1 to cat_12).

    Each figure replaces the one for the same substance, market and category; all other figures, and all
    prohibitions, stay as in the shipped table. Tables imported earlier stay available.
    """
    from pathlib import Path

    from recommender.output import limits as output

    here = workspace()
    found, unused = here.limits.read_sheet(Path(file))
    rows = [output.compared(new) for new in found]
    if not dry_run:
        here.limits.add(found, Path(file).name)
    columns = ("name", "cas", "kind", "market", "limits", "changed", "mind", "cas_all")
    shown = [row | {"changed": [output.change_words(one) for one in row["changed"]]} for row in rows]
    one = len(found) == 1
    used = "would be" if dry_run else "is" if one else "are"
    notes = [
        *unused,
        f"{len(found)} {'row' if one else 'rows'} {used} used from now on, marked as your own.",
        "Check them against the Standards and your local law; a qualified person signs off.",
    ]
    heads = {
        "name": "substance",
        "kind": "kind",
        "limits": "categories",
        "changed": "changes, category: old % to new %",
        "mind": "caution",
    }
    wide = ("name", "changed", "mind")
    data = {"rows": rows, "notes": notes}
    printing.show(form, data, shown, columns, lambda: printing.table_of(shown, heads, wide))
    if form != "json":
        printing.notes(notes)
    return 0


@limits.command("tables", epilog="Example: recommender limits tables --format csv")
@output_format
def own_tables(form: str) -> int:
    """List your imported tables of limits, and which one is in use."""
    rows = [
        {
            "number": table.number,
            "file": table.file,
            "read": f"{table.read.replace('T', ' ')} UTC",
            "rows": table.rows,
            "in_use": table.in_use,
        }
        for table in workspace().limits.tables()
    ]
    heads = {"number": "no.", "file": "file", "read": "read", "rows": "rows", "in_use": "in use"}
    empty = "no limits of your own; see `recommender limits import --help`."
    return printing.listed(rows, form, ("number", "file", "read", "rows", "in_use"), heads, empty)


@limits.command(epilog="Example: recommender limits use 0")
@click.argument("number", type=Whole(0))
def use(number: int) -> int:
    """Use your imported table NUMBER; 0 restores the shipped limits alone."""
    count = workspace().limits.use(number)
    click.echo(f"limits of your own in use: {count}")
    return 0


COMMANDS = (limits,)
