"""calibrate: the person's own strips of single materials, and the fit of air, nose and paper to them."""

import click

from recommender.cli import corrections, printing
from recommender.cli.commands import group, option
from recommender.cli.notebook_option import sheet_option, workspace
from recommender.cli.options import (
    AT,
    DAY,
    DILUTION,
    ROOM,
    complete_material,
    output_format,
    readings_at,
)


@group(epilog="Example: recommender calibrate list")
def calibrate() -> None:
    """Fit the hours to your own strips.

    Smell strips of a few materials hour by hour, then fit. Three materials that you know show how fast your
    strips dry; six or more, each smelled until it is gone, also show the effect of the paper and your nose.
    """


@calibrate.command(
    epilog="Example: recommender calibrate add linalool --at 1h clear --at 4h trace --at 8h gone"
)
@click.argument("material", shell_complete=complete_material)
@DILUTION
@option("--solvent", default="", help="Solvent of the dilution.  [default: dipropylene glycol]")
@DAY
@ROOM
@AT
def add(
    material: str,
    dilution_percent: str,
    solvent: str,
    day: str,
    room_c: float | None,
    smelled: tuple[tuple[float, str], ...],
) -> int:
    """Record a strip of MATERIAL (20 mg on 5 cm2), with its readings so far."""
    from recommender.output.trials import reading_count

    here = workspace()
    readings = readings_at(smelled, here.palette)
    strip = here.own_strips.add(
        material, readings, dilution_percent=dilution_percent, solvent=solvent, day=day, room_c=room_c
    )
    click.echo(f"strip {strip.number}: {strip.material.name}, {reading_count(strip.readings)}")
    return 0


@calibrate.command(epilog="Example: recommender calibrate read 2 --at 24h gone")
@click.argument("number", type=int)
@AT
def read(number: int, smelled: tuple[tuple[float, str], ...]) -> int:
    """Add later readings to strip NUMBER."""
    from recommender.output.trials import reading_count

    here = workspace()
    readings = here.own_strips.read(number, readings_at(smelled, here.palette))
    click.echo(f"strip {number}: {reading_count(readings)} more")
    return 0


@calibrate.command(epilog="Example: recommender calibrate correct 2 1 trace --hour 8h")
@click.argument("number", type=int)
@click.argument("place", metavar="READING", type=int)
@click.argument("text", metavar="[STRENGTH]", required=False)
@corrections.AT_HOUR
@corrections.REMOVE
def correct(number: int, place: int, text: str | None, hours: float | None, remove: bool) -> int:
    """Put another STRENGTH in the place of one READING of strip NUMBER, or take it out.

    Readings have their numbers in the order in which they were recorded, the first is 1.
    """
    return corrections.correct(workspace().own_strips, "strip", place, number, text, hours, remove)


@calibrate.command("import", epilog="Example: recommender calibrate import demo/strips.csv")
@click.argument("file", type=click.Path())
@option("--dry-run", is_flag=True, help="Show what would be recorded, and record nothing.")
@sheet_option
def import_(file: str, dry_run: bool) -> int:
    """Import strips from a table (CSV or a workbook) with one reading per line: all of it, or nothing.

    Columns: material, hours and strength; optionally cas, dilution_percent, solvent, room_c, day and words.
    Lines with the same material, day, dilution and room are one strip.
    """
    from pathlib import Path

    from recommender.output.trials import reading_count

    here = workspace()
    found, notes = here.own_strips.read_sheet(Path(file))
    if not dry_run:
        found = here.own_strips.add_all(found)
    for strip in found:
        number = f" {strip.number}" if strip.number else ""
        click.echo(f"strip{number}: {strip.material.name}, {reading_count(strip.readings)}")
    printing.notes(notes)
    if dry_run:
        printing.note("nothing was recorded; run it without --dry-run to record it.")
    return 0


@calibrate.command("list", epilog="Example: recommender calibrate list")
@output_format
def list_(form: str) -> int:
    """List your strips of single materials."""
    from recommender.output import calibration

    strips = workspace().own_strips.records()
    rows = [calibration.strip_row(strip) for strip in strips]
    data = [calibration.strip_data(strip) for strip in strips]
    empty = "no strip is on record; see `recommender calibrate add --help`."
    columns, heads = calibration.STRIP_COLUMNS, calibration.STRIP_HEADS
    return printing.listed(rows, form, columns, heads, empty, ("material", "readings"), data)


@calibrate.command(epilog="Example: recommender calibrate forget 2")
@click.argument("number", type=int)
def forget(number: int) -> int:
    """Remove strip NUMBER; the fit in use stays until the next one."""
    removed = workspace().own_strips.remove(number)
    click.echo(f"strip {number} is removed")
    printing.way_back(removed)
    return 0


@calibrate.command(epilog="Example: recommender calibrate fit")
@option("--dry-run", is_flag=True, help="Show the fit without using it.")
@output_format
def fit(dry_run: bool, form: str) -> int:
    """Fit still air, paper and nose to your strips; every drydown then uses the fit."""
    from recommender.output import calibration

    with printing.working("fitting") as progress:
        found = workspace().own_strips.fit(use=not dry_run, progress=progress)
    after = (
        "the fit is not used: the figures in use are unchanged."
        if dry_run
        else "every drydown uses it from now on; `recommender calibrate reset` goes back to the table."
    )
    printing.show(
        form,
        calibration.fit_data(found) | {"used": not dry_run, "notes": [after]},
        calibration.ended_rows(found),
        calibration.ENDED_COLUMNS,
        lambda: calibration.fit_lines(found),
    )
    if form != "json":
        printing.note(after)
    return 0


@calibrate.command(epilog="Example: recommender calibrate show")
@output_format
def show(form: str) -> int:
    """Show the figures in use: those of the table, or those of your last fit."""
    from recommender.output import calibration

    here = workspace()
    data = calibration.used_data(here.own_strips.fit_in_use(), here.palette)
    rows, columns = calibration.used_rows(data), calibration.USED_COLUMNS
    printing.show(form, data, rows, columns, lambda: calibration.used_lines(data))
    return 0


@calibrate.command(epilog="Example: recommender calibrate reset")
def reset() -> int:
    """Restore the figures of the table; your strips stay on record."""
    removed = workspace().own_strips.reset_fit()
    click.echo("every drydown uses the figures of the table again; your strips stay on record")
    printing.way_back(removed)
    return 0


COMMANDS = (calibrate,)
