"""trials: how each version of a formula smelled."""

import click

from recommender.cli import printing, trials_next
from recommender.cli.commands import group, joined, option, own_words
from recommender.cli.notebook_option import workspace
from recommender.cli.options import AT, DAY, MASS, ROOM, day_of, output_format, readings_at
from recommender.errors import BadValue


@group(epilog="Example: recommender trials list")
def trials() -> None:
    """Record trials, and derive the next version from them.

    How each version of a formula smelled, hour by hour. Strength is gone, trace, clear, strong or too strong,
    or a number from 0 to 100; a reading without a facet is of the whole smell.
    """


@trials.command(
    epilog='Example: recommender trials add morello --at 0 "cherry strong" --at 8h "almond gone, whole clear"'
)
@click.argument("name", metavar="NAME[@VERSION]")
@DAY
@option("--batch", "batch_g", type=MASS, metavar="MASS", help="Size of the batch, such as 10g.")
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
    """Record a trial of a saved formula, with its readings so far."""
    from recommender.model import TrialRecord
    from recommender.notebook import trials as records
    from recommender.output.trials import reading_count

    here = workspace()
    readings = readings_at(smelled, here.palette)
    with here.writing(existing=True) as db:
        saved = here.version(name)
        record = TrialRecord(
            saved.name, saved.number, day_of(day), batch_g, room_c, verdict.strip(), readings
        )
        number = records.add(db, saved.version, record)
    click.echo(f"trial {number} of {saved.title}, {record.day}: {reading_count(readings)}")
    return 0


@trials.command(epilog='Example: recommender trials read 1 --at 24h "almond gone (dusty), whole trace"')
@click.argument("number", type=int)
@AT
@own_words("--verdict", callback=joined("; ", None), help="Your verdict, in your own words.")
def read(number: int, smelled: tuple[tuple[float, str], ...], verdict: str | None) -> int:
    """Add later readings to trial NUMBER."""
    from recommender.notebook import trials as records

    here = workspace()
    readings = readings_at(smelled, here.palette)
    if not readings and verdict is None:
        raise BadValue("smelled", "", 'say how it smelled: {smelled} 8h "almond gone"')
    with here.writing(existing=True) as db:
        records.find(db, number)
        records.add_readings(db, number, readings)
        if verdict is not None:
            records.judge(db, number, verdict.strip())
        record = records.find(db, number)
    click.echo(f"trial {number} of {record.formula}@{record.version}: {len(record.readings)} readings")
    return 0


@trials.command("import", epilog="Example: recommender trials import data/demo/readings.csv")
@click.argument("file", type=click.Path())
@option("--formula", metavar="NAME[@VERSION]", help="The formula, if no column names it.")
@option("--dry-run", is_flag=True, help="Show what would be recorded, and record nothing.")
def import_(file: str, formula: str | None, dry_run: bool) -> int:
    """Import trials from a table (CSV or XLSX) with one reading per line: all of it, or nothing.

    Columns: hours and strength; optionally formula, facet, words, day, batch_g, room_c and verdict. Lines
    with the same formula, day, batch and room are one trial.
    """
    from pathlib import Path

    from recommender.evidence.sheets import decimal
    from recommender.model import TrialRecord
    from recommender.notebook import trials as records
    from recommender.notebook.importers import day as day_in
    from recommender.notebook.readings import ABOUT_A_TRIAL, from_sheet
    from recommender.output.trials import reading_count

    here = workspace()
    notes: list[str] = []
    groups = from_sheet(Path(file), ABOUT_A_TRIAL, here.palette.smell, notes)
    found = []
    for row, readings in groups:
        name = row["formula"] or formula or ""
        if not name:
            raise row.wrong("formula", "no formula is named", "Use --formula NAME for all lines")
        try:
            saved = here.version(name)
        except BadValue as error:
            if not row["formula"]:
                raise
            raise row.wrong("formula", f'"{error.value}": {error.wanted}') from None
        batch, room = decimal(row, "batch_g"), decimal(row, "room_c")
        if batch is not None and batch <= 0:
            raise row.wrong("batch_g", f"{batch:g} g is not a batch size")
        day = day_in(row, "day") or day_of("")
        record = TrialRecord(saved.name, saved.number, day, batch, room, row["verdict"], tuple(readings))
        found.append((saved, record))
    numbers = [""] * len(found)
    if not dry_run:
        with here.writing(existing=True) as db:
            numbers = [f" {records.add(db, saved.version, record)}" for saved, record in found]
    printing.lines(
        f"trial{number} of {saved.title}, {record.day}: {reading_count(record.readings)}"
        for number, (saved, record) in zip(numbers, found, strict=True)
    )
    printing.notes(notes)
    if dry_run:
        printing.note("nothing was recorded; run it without --dry-run to record it.")
    return 0


@trials.command("list", epilog="Example: recommender trials list morello")
@click.argument("name", required=False, metavar="[NAME[@VERSION]]")
@output_format
def list_(name: str | None, form: str) -> int:
    """List the trials, all or those of NAME (all its versions, or one)."""
    from recommender.output import trials as trial_words

    rows = [trial_words.trial_row(record) for record in workspace().trial_records(name)]
    empty = "no trial is on record; see `recommender trials add --help`."
    columns, heads = trial_words.TRIAL_COLUMNS, trial_words.TRIAL_HEADS
    return printing.listed(rows, form, columns, heads, empty, ("readings", "verdict"))


@trials.command(epilog="Example: recommender trials show 1")
@click.argument("number", type=int)
@output_format
def show(number: int, form: str) -> int:
    """Show trial NUMBER hour by hour, beside the prediction."""
    from recommender.output import trials as output

    found = workspace().trial(number)
    printing.show(
        form,
        output.trial_data(found.record, found.predicted),
        output.trial_rows(found.record, found.predicted),
        output.READING_COLUMNS,
        lambda: printing.lines(output.trial_lines(found.record, found.predicted)),
    )
    return 0


@trials.command(epilog="Example: recommender trials forget 1")
@click.argument("number", type=int)
def forget(number: int) -> int:
    """Remove trial NUMBER."""
    from recommender.notebook import trials as records

    with workspace().writing(existing=True) as db:
        record = records.find(db, number)
        removed = records.forget(db, number)
    click.echo(f"trial {number} of {record.formula}@{record.version} is removed")
    printing.way_back(removed)
    return 0


trials.add_command(trials_next.next_)
COMMANDS = (trials,)
