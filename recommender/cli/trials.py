"""trials: how each version of a formula smelled, and the next version from it."""

import click

from recommender.cli.listing import listed
from recommender.cli.notebook_option import ground, place, told, way_back
from recommender.cli.options import output_format
from recommender.cli.quantities import Mass
from recommender.cli.reading_options import (
    AT,
    DAY,
    ROOM,
    day_of,
    in_room,
    readings_at,
    records_of,
    saved_version,
    writing_unless,
)
from recommender.cli.repeated import joined, option, own_words


@click.group(epilog="Example: recommender trials list")
def trials() -> None:
    """Keep trials, and get the next version from them.

    How each version of a formula smelled, hour by hour. Strength is said as gone, trace, clear, strong or
    too strong, or as a number from 0 to 100; without a facet the whole smell is meant.
    """


@trials.command(
    epilog='Example: recommender trials add morello --at 0 "cherry strong" --at 8h "almond gone, whole clear"'
)
@click.argument("name", metavar="NAME[@VERSION]")
@DAY
@option("--batch", "batch_g", type=Mass(), metavar="MASS", help="Size of the batch, such as 10g.")
@ROOM
@AT
@own_words("--verdict", help="Your verdict, in your own words.")
def add(
    name: str,
    day: str,
    batch_g: float | None,
    room_c: float | None,
    smelled: tuple[tuple[float, str], ...],
    verdict: str,
) -> int:
    """Write down a trial of a saved formula, with the readings that there are."""
    from recommender.model import TrialRecord
    from recommender.notebook import trials as kept
    from recommender.output.trials import reading_count

    palette = ground()
    readings = readings_at(smelled, palette)
    with writing_unless() as db:
        saved = saved_version(db, name)
        record = TrialRecord(
            saved.name, saved.number, day_of(day), batch_g, room_c, verdict.strip(), readings
        )
        number = kept.add(db, saved.version, record)
    click.echo(f"trial {number} of {saved.title}, {record.day}: {reading_count(readings)}")
    return 0


@trials.command(epilog='Example: recommender trials read 1 --at 24h "almond gone (dusty), whole trace"')
@click.argument("number", type=int)
@AT
@own_words("--verdict", callback=joined("; ", None), help="Your verdict, in your own words.")
def read(number: int, smelled: tuple[tuple[float, str], ...], verdict: str | None) -> int:
    """Add readings to trial NUMBER when you come back to its strip."""
    from recommender.errors import BadValue
    from recommender.notebook import trials as kept

    readings = readings_at(smelled, ground())
    if not readings and verdict is None:
        raise BadValue("--at", "", 'say how it smelled: --at 8h "almond gone"')
    with writing_unless() as db:
        kept.find(db, number)
        kept.add_readings(db, number, readings)
        if verdict is not None:
            kept.judge(db, number, verdict.strip())
        record = kept.find(db, number)
    click.echo(f"trial {number} of {record.formula}@{record.version}: {len(record.readings)} readings")
    return 0


@trials.command("import", epilog="Example: recommender trials import data/demo/readings.csv")
@click.argument("file", type=click.Path())
@option("--formula", metavar="NAME[@VERSION]", help="Of which formula, where no column says it.")
@option("--dry-run", is_flag=True, help="Show what would be written, and write nothing.")
def import_(file: str, formula: str | None, dry_run: bool) -> int:
    """Read trials from a table (CSV or XLSX), one reading a line: all of it, or nothing.

    Columns: hours and strength; and where there are such, formula, facet, words, day, batch_g, room_c and
    verdict. Lines of one formula, day, batch and room are one trial.
    """
    from pathlib import Path

    from recommender.evidence.sheets import decimal
    from recommender.model import TrialRecord
    from recommender.notebook import trials as kept
    from recommender.notebook.importers import day as day_in
    from recommender.notebook.readings import ABOUT_A_TRIAL, from_sheet
    from recommender.output.trials import reading_count

    notes: list[str] = []
    groups = from_sheet(Path(file), ABOUT_A_TRIAL, ground().smell, notes)
    lines = []
    with writing_unless(dry_run) as db:
        for row, readings in groups:
            name = row["formula"] or formula or ""
            if not name:
                raise row.wrong("formula", "no formula is named", "Say --formula NAME for all lines")
            saved = saved_version(db, name)
            batch, room = decimal(row, "batch_g"), decimal(row, "room_c")
            if batch is not None and batch <= 0:
                raise row.wrong("batch_g", f"{batch:g} g is no batch")
            day = day_in(row, "day") or day_of("")
            record = TrialRecord(saved.name, saved.number, day, batch, room, row["verdict"], tuple(readings))
            number = "" if dry_run else f" {kept.add(db, saved.version, record)}"
            lines.append(f"trial{number} of {saved.title}, {day}: {reading_count(readings)}")
    click.echo("\n".join(lines))
    for note in notes:
        told(note)
    if dry_run:
        told("nothing was written; leave --dry-run out to write it.")
    return 0


@trials.command("list", epilog="Example: recommender trials list morello")
@click.argument("name", required=False, metavar="[NAME[@VERSION]]")
@output_format
def list_(name: str | None, form: str) -> int:
    """List the trials, all or those of NAME (all its versions, or one)."""
    from recommender.output import trials as trial_words

    rows = [trial_words.trial_row(record) for record in records_of(name)]
    empty = "no trial is written down yet; see `recommender trials add --help`."
    columns, heads = trial_words.TRIAL_COLUMNS, trial_words.TRIAL_HEADS
    return listed(rows, form, columns, heads, empty, ("readings", "verdict"))


@trials.command(epilog="Example: recommender trials show 1")
@click.argument("number", type=int)
@output_format
def show(number: int, form: str) -> int:
    """Show trial NUMBER hour by hour, beside what the drydown predicts."""
    from recommender.notebook import reading
    from recommender.notebook import trials as kept
    from recommender.output import formats
    from recommender.output import trials as trial_words
    from recommender.suggest.trial_findings import level

    with reading(place()) as db:
        if db is None:
            raise _none(number)
        record = kept.find(db, number)
    name = f"{record.formula}@{record.version}"
    table = in_room(name, ground(name), [record])
    predicted = [level(table, one.facet, one.hours) for one in record.readings]
    if form == "json":
        click.echo(formats.as_json(trial_words.trial_data(record, predicted)))
    elif form == "csv":
        rows = trial_words.trial_rows(record, predicted)
        click.echo(formats.as_csv(rows, trial_words.READING_COLUMNS))
    else:
        click.echo("\n".join(trial_words.trial_lines(record, predicted)))
    return 0


@trials.command(epilog="Example: recommender trials forget 1")
@click.argument("number", type=int)
def forget(number: int) -> int:
    """Take trial NUMBER out."""
    from recommender.notebook import trials as kept

    with writing_unless() as db:
        record = kept.find(db, number)
        removed = kept.forget(db, number)
    click.echo(f"trial {number} of {record.formula}@{record.version} is taken out")
    way_back(removed)
    return 0


def _none(number: int) -> Exception:
    from recommender.errors import BadValue

    return BadValue("trial", number, "there is none of this number; `recommender trials list` shows them")


COMMANDS = (trials,)
