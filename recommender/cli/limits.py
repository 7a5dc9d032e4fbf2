"""limits: the listing, and what the person typed from the Standards in force."""

from typing import TYPE_CHECKING, Any

import click

from recommender.cli.ground import ground, place, told
from recommender.cli.listing import Listing
from recommender.cli.options import output_format
from recommender.cli.rows import listed
from recommender.cli.wearing import limits as listing

if TYPE_CHECKING:
    from recommender.model import Limit

limits = Listing.of(listing)


@limits.command("import", epilog="Example: recommender limits import data/demo/own_limits.csv --dry-run")
@click.argument("file", type=click.Path())
@click.option("--dry-run", is_flag=True, help="Only check it, and show what would change.")
@output_format
def import_(file: str, dry_run: bool, form: str) -> int:
    """Read a table of limits from FILE: name, cas, and a column for each category (cat_1 to cat_12).

    Each figure stands in place of that of the same substance, market and category; what you do not type
    stays as the table has it, and so does a prohibition. The table that you used before is kept.
    """
    from datetime import UTC, datetime
    from pathlib import Path

    from recommender.notebook import limits as kept
    from recommender.notebook import writing
    from recommender.present import exports, tables

    found = kept.read(Path(file), ground().catalogue)
    rows = [_compared(new) for new in found]
    if not dry_run:
        with writing(place()) as db:
            kept.keep(db, found, Path(file).name, datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S"))
    if form == "json":
        click.echo(exports.as_json(rows))
    elif form == "csv":
        click.echo(exports.as_csv(rows, ("name", "cas", "kind", "market", "limits", "changed", "mind")))
    else:
        heads = {
            "name": "substance",
            "kind": "kind",
            "limits": "categories",
            "changed": "against the table, category: % to %",
            "mind": "mind",
        }
        tables.rows(rows, heads, wide=("changed", "mind"))
    told(f"{len(found)} rows {'would be' if dry_run else 'are'} used from now on, marked as yours.")
    told("Check them against the Standards and your local law; a qualified person signs off.")
    return 0


def _compared(new: "Limit") -> dict[str, Any]:
    """Return a typed limit beside that of the table."""
    from recommender.bench import shipped

    old = [
        limit
        for limit in shipped().catalogue.limits
        if limit.market == new.market and set(limit.cas) & set(new.cas)
    ]
    held = {category: value for limit in old for category, value in limit.percent.items()}
    banned = any(limit.kind == "prohibition" for limit in old)
    return {
        "name": new.name,
        "cas": list(new.cas),
        "kind": new.kind,
        "market": new.market,
        "limits": len(new.percent),
        "changed": [
            f"{category}: {_percent(held.get(category))} to {_percent(value)}"
            for category, value in new.percent.items()
            if held.get(category) != value
        ],
        "mind": "prohibited by the table, which stays" if banned and new.percent else None,
    }


def _percent(value: float | None) -> str:
    return "none" if value is None else f"{value:g}"


@limits.command("tables", epilog="Example: recommender limits tables --format csv")
@output_format
def own_tables(form: str) -> int:
    """List the tables of limits that you read, and which is in use."""
    from recommender.notebook import limits as kept
    from recommender.notebook import reading

    with reading(place()) as db:
        held = [] if db is None else kept.tables(db)
        rows = [
            {
                "number": row["id"],
                "file": row["file"],
                "read": f"{row['read'].replace('T', ' ')} UTC",
                "rows": row["rows"],
                "in_use": bool(row["in_use"]),
            }
            for row in held
        ]
    heads = {"number": "no.", "file": "file", "read": "read", "rows": "rows", "in_use": "in use"}
    empty = "no limits of your own; see `recommender limits import --help`."
    return listed(rows, form, ("number", "file", "read", "rows", "in_use"), heads, empty)


@limits.command(epilog="Example: recommender limits use 0")
@click.argument("number", type=click.IntRange(0))
def use(number: int) -> int:
    """Use table NUMBER of those that you read; 0 goes back to the limits of the package alone."""
    from recommender.errors import BadValue
    from recommender.notebook import limits as kept
    from recommender.notebook import reading, writing

    with reading(place()) as db:
        known = [] if db is None else [row["id"] for row in kept.tables(db)]
    if number and number not in known:
        raise BadValue("NUMBER", number, "no table has it; `recommender limits tables` shows them")
    if known:
        with writing(place()) as db:
            kept.use(db, number)
    count = sum(limit.basis == kept.BASIS for limit in ground().catalogue.limits)
    click.echo(f"limits of your own in use: {count}")
    return 0


COMMANDS = (limits,)
