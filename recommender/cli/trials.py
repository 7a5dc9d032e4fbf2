"""trials: how each version of a formula smelled."""

import click

from recommender.cli import corrections, printing, trials_next
from recommender.cli.commands import group, joined, option, own_words
from recommender.cli.notebook_option import sheet_option, workspace
from recommender.cli.options import (
    AT,
    DAY,
    HOUR,
    MASS,
    ROOM,
    complete_saved,
    output_format,
    readings_at,
)
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
@click.argument("name", metavar="NAME[@VERSION]", shell_complete=complete_saved)
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
    from recommender.output.trials import reading_count

    here = workspace()
    readings = readings_at(smelled, here.palette)
    record = here.trials.add(name, readings, day=day, batch_g=batch_g, room_c=room_c, verdict=verdict)
    title = f"{record.formula}@{record.version}"
    click.echo(f"trial {record.number} of {title}, {record.day}: {reading_count(readings)}")
    return 0


@trials.command(
    epilog='Example: recommender trials triangle morello@2 --against morello@1 --at 15min "545 greener"'
)
@click.argument("name", metavar="NAME[@VERSION]", shell_complete=complete_saved)
@option(
    "--against",
    default="",
    metavar="NAME[@VERSION]",
    shell_complete=complete_saved,
    help="The saved version before.  [default: the one before it]",
)
@option(
    "--at",
    "smelled",
    type=(HOUR, str),
    multiple=True,
    metavar="HOUR STRIP",
    help='Which strip was the odd one, and how: --at 15min "482 greener".',
)
@DAY
@ROOM
def triangle(
    name: str, against: str, smelled: tuple[tuple[float, str], ...], day: str, room_c: float | None
) -> int:
    """Record which strips of a triangle test were taken for the odd ones.

    `reformulate --triangle` writes its sheet. Save both formulas before: the key follows from them. Later
    answers are added to the same trial. It says how likely so many right answers are by guessing.
    """
    from recommender.output import trials as output

    answers = dict(smelled)
    if len(answers) < len(smelled):
        raise BadValue("smelled", "", "two answers are of the same hour")
    record = workspace().trials.triangle(name, answers, against=against, day=day, room_c=room_c)
    title = f"trial {record.number} of {record.formula}@{record.version}, {record.day}"
    printing.lines([title, *(output.triangle_lines(record.triangle) if record.triangle else ())])
    return 0


@trials.command(epilog='Example: recommender trials read 1 --at 24h "almond gone (dusty), whole trace"')
@click.argument("number", type=int)
@AT
@own_words("--verdict", callback=joined("; ", None), help="Your verdict, in your own words.")
def read(number: int, smelled: tuple[tuple[float, str], ...], verdict: str | None) -> int:
    """Add later readings to trial NUMBER."""
    here = workspace()
    record = here.trials.read(number, readings_at(smelled, here.palette), verdict)
    click.echo(f"trial {number} of {record.formula}@{record.version}: {len(record.readings)} readings")
    return 0


@trials.command(epilog='Example: recommender trials correct 1 3 "almond trace" --hour 8h')
@click.argument("number", type=int)
@click.argument("place", metavar="READING", type=int)
@click.argument("text", metavar="[WORDS]", required=False)
@corrections.AT_HOUR
@corrections.REMOVE
def correct(number: int, place: int, text: str | None, hours: float | None, remove: bool) -> int:
    """Put WORDS in the place of one READING of trial NUMBER, or take it out.

    `trials show` has the numbers of the readings.
    """
    return corrections.correct(workspace().trials, "trial", place, number, text, hours, remove)


@trials.command("import", epilog="Example: recommender trials import demo/readings.csv")
@click.argument("file", type=click.Path())
@option("--formula", metavar="NAME[@VERSION]", help="The formula, if no column names it.")
@option("--dry-run", is_flag=True, help="Show what would be recorded, and record nothing.")
@sheet_option
def import_(file: str, formula: str | None, dry_run: bool) -> int:
    """Import trials from a table (CSV or a workbook) with one reading per line: all of it, or nothing.

    Columns: hours and strength; optionally formula, facet, words, day, batch_g, room_c and verdict. Lines
    with the same formula, day, batch and room are one trial.
    """
    from pathlib import Path

    from recommender.output.trials import reading_count

    here = workspace()
    found, notes = here.trials.read_sheet(Path(file), formula or "")
    if not dry_run:
        found = here.trials.add_all(found)
    printing.lines(
        f"trial{f' {record.number}' if record.number else ''} of {record.formula}@{record.version}, "
        f"{record.day}: {reading_count(record.readings)}"
        for record in found
    )
    printing.notes(notes)
    if dry_run:
        printing.note("nothing was recorded; run it without --dry-run to record it.")
    return 0


@trials.command("list", epilog="Example: recommender trials list morello")
@click.argument("name", required=False, metavar="[NAME[@VERSION]]", shell_complete=complete_saved)
@output_format
def list_(name: str | None, form: str) -> int:
    """List the trials, all or those of NAME (all its versions, or one)."""
    from recommender.output import trials as trial_words

    records = workspace().trials.records(name)
    rows = [trial_words.trial_row(record) for record in records]
    data = [trial_words.listed_data(record) for record in records]
    empty = "no trial is on record; see `recommender trials add --help`."
    columns, heads = trial_words.TRIAL_COLUMNS, trial_words.TRIAL_HEADS
    return printing.listed(rows, form, columns, heads, empty, ("readings", "verdict"), data)


@trials.command(epilog="Example: recommender trials show 1")
@click.argument("number", type=int)
@output_format
def show(number: int, form: str) -> int:
    """Show trial NUMBER hour by hour, beside the prediction."""
    from recommender.output import trials as output

    record, smelled = workspace().trial(number)
    predicted = smelled.predicted(record)
    printing.show(
        form,
        output.trial_data(record, predicted),
        output.trial_rows(record, predicted),
        output.READING_COLUMNS,
        lambda: output.trial_lines(record, predicted),
    )
    return 0


@trials.command(epilog="Example: recommender trials forget 1")
@click.argument("number", type=int)
def forget(number: int) -> int:
    """Remove trial NUMBER."""
    record, removed = workspace().trials.remove(number)
    click.echo(f"trial {number} of {record.formula}@{record.version} is removed")
    printing.way_back(removed)
    return 0


trials.add_command(trials_next.next_)
COMMANDS = (trials,)
