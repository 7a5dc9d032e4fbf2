"""calibrate: the person's own strips of single materials, and the fit of air, nose and paper to them."""

from typing import TYPE_CHECKING, Any

import click

from recommender.cli import printing
from recommender.cli.commands import group, option
from recommender.cli.notebook_option import workspace
from recommender.cli.options import (
    AT,
    DAY,
    ROOM,
    card_format,
    complete_material,
    day_of,
    output_format,
    readings_at,
)
from recommender.errors import BadTable, BadValue, UnknownMaterial, WrongCas

if TYPE_CHECKING:
    from recommender.model import OwnStrip, Reading
    from recommender.palette import Palette


USUAL_C = 25.0


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
@option(
    "--dilution",
    "dilution_percent",
    default="",
    metavar="PERCENT",
    help="Dilution in per cent.  [default: neat]",
)
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
    from recommender.evidence.sheets import Row
    from recommender.notebook import strips
    from recommender.output.trials import reading_count

    here = workspace()
    palette = here.palette
    row = Row("calibrate add", 0, {"dilution_percent": dilution_percent, "solvent": solvent})
    strip = _strip(
        palette, material, row, day_of(day), room_c, _whole(readings_at(smelled, palette)), option=True
    )
    with here.writing() as db:
        number = strips.add(db, strip)
    click.echo(f"strip {number}: {strip.material.name}, {reading_count(strip.readings)}")
    return 0


def _strip(
    palette: "Palette",
    material: str,
    row: Any,
    day: str,
    room_c: float | None,
    readings: "tuple[Reading, ...]",
    *,
    option: bool = False,
) -> "OwnStrip":
    """Return a strip from its cells; errors name the option or the place in the sheet."""
    from recommender.calibration import check_material
    from recommender.evidence.sheets import percent_of
    from recommender.model import OwnStrip
    from recommender.notebook.importers import solvent_of

    found = palette.catalogue.find(material)
    check_material(found)
    try:
        percent = percent_of(row, "dilution_percent")
        if percent is not None and not 0 < percent <= 100:
            raise row.wrong("dilution_percent", f"{percent:g} % is not a dilution", "Above 0, at most 100")
        solvent = solvent_of(row["solvent"], palette.catalogue) if row["solvent"] else ""
        if row["solvent"] and not solvent:
            raise row.wrong("solvent", f'no solvent is called "{row["solvent"]}"')
    except BadTable as error:
        if not option:
            raise
        field = error.column or ""
        raise BadValue(field, row[field], error.problem) from None
    return OwnStrip(
        found, readings, (percent or 100.0) / 100.0, solvent, USUAL_C if room_c is None else room_c, day
    )


def _whole(readings: "tuple[Reading, ...]") -> "tuple[Reading, ...]":
    from recommender.errors import BadValue

    for one in readings:
        if one.facet:
            raise BadValue(
                "reading", one.facet, "a strip of one material is read without facets, such as clear"
            )
    return readings


@calibrate.command(epilog="Example: recommender calibrate read 2 --at 24h gone")
@click.argument("number", type=int)
@AT
def read(number: int, smelled: tuple[tuple[float, str], ...]) -> int:
    """Add later readings to strip NUMBER."""
    from recommender.notebook import strips
    from recommender.output.trials import reading_count

    here = workspace()
    readings = _whole(readings_at(smelled, here.palette))
    if not readings:
        raise BadValue("smelled", "", "give at least one reading: {smelled} 8h trace")
    with here.writing(existing=True) as db:
        strips.add_readings(db, number, readings)
    click.echo(f"strip {number}: {reading_count(readings)} more")
    return 0


@calibrate.command("import", epilog="Example: recommender calibrate import data/demo/strips.csv")
@click.argument("file", type=click.Path())
@option("--dry-run", is_flag=True, help="Show what would be recorded, and record nothing.")
def import_(file: str, dry_run: bool) -> int:
    """Import strips from a table (CSV or XLSX) with one reading per line: all of it, or nothing.

    Columns: material, hours and strength; optionally cas, dilution_percent, solvent, room_c, day and words.
    Lines with the same material, day, dilution and room are one strip.
    """
    from pathlib import Path

    from recommender.evidence.identity import identify
    from recommender.evidence.sheets import decimal
    from recommender.notebook import strips
    from recommender.notebook.importers import day as day_in
    from recommender.notebook.readings import ABOUT_A_STRIP, from_sheet
    from recommender.output.trials import reading_count

    here = workspace()
    palette = here.palette
    found = []
    notes: list[str] = []
    for row, readings in from_sheet(Path(file), ABOUT_A_STRIP, palette.smell, notes):
        try:
            whole = _whole(tuple(readings))
            room = decimal(row, "room_c")
            identity = identify(row["material"], row["cas"], palette.catalogue)
            if identity.candidates:
                raise row.wrong("material", identity.reason, "Correct the one that is wrong")
            name = identity.material.slug if identity.material else row["material"]
            found.append(_strip(palette, name, row, day_in(row, "day") or day_of(""), room, whole))
        except (UnknownMaterial, WrongCas) as error:
            raise row.wrong("material", str(error)) from None
        except BadValue as error:
            column = "material" if error.field == "strip" else "facet"
            raise row.wrong(column, error.wanted) from None
    numbers = [""] * len(found)
    if not dry_run:
        with here.writing() as db:
            numbers = [f" {strips.add(db, strip)}" for strip in found]
    for number, strip in zip(numbers, found, strict=True):
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

    rows = [calibration.strip_row(strip) for strip in workspace().own_strips()]
    empty = "no strip is on record; see `recommender calibrate add --help`."
    columns, heads = calibration.STRIP_COLUMNS, calibration.STRIP_HEADS
    return printing.listed(rows, form, columns, heads, empty, ("material", "readings"))


@calibrate.command(epilog="Example: recommender calibrate forget 2")
@click.argument("number", type=int)
def forget(number: int) -> int:
    """Remove strip NUMBER; the fit in use stays until the next one."""
    from recommender.notebook import strips

    with workspace().writing(existing=True) as db:
        removed = strips.forget(db, number)
        if removed is None:
            raise BadValue("strip", number, "no strip has this number; see `recommender calibrate list`")
    click.echo(f"strip {number} is removed")
    printing.way_back(removed)
    return 0


@calibrate.command(epilog="Example: recommender calibrate fit")
@option("--dry-run", is_flag=True, help="Show the fit without using it.")
@output_format
def fit(dry_run: bool, form: str) -> int:
    """Fit still air, paper and nose to your strips; every drydown then uses the fit."""
    from recommender.output import calibration

    found = workspace().fit_strips(use=not dry_run)
    printing.show(
        form,
        calibration.fit_data(found) | {"used": not dry_run},
        calibration.ended_rows(found),
        calibration.ENDED_COLUMNS,
        lambda: printing.lines(calibration.fit_lines(found)),
    )
    printing.note(
        "the fit is not used: the figures in use are unchanged."
        if dry_run
        else "every drydown uses it from now on; `recommender calibrate reset` goes back to the table."
    )
    return 0


@calibrate.command(epilog="Example: recommender calibrate show")
@card_format
def show(form: str) -> int:
    """Show the figures in use: those of the table, or those of your last fit."""
    from recommender.notebook import strips
    from recommender.output import calibration, formats

    here = workspace()
    with here.reading() as db:
        fitted = None if db is None else strips.kept(db)
    data = calibration.used_data(fitted, here.palette)
    click.echo(formats.as_json(data) if form == "json" else "\n".join(calibration.used_lines(data)))
    return 0


@calibrate.command(epilog="Example: recommender calibrate reset")
def reset() -> int:
    """Restore the figures of the table; your strips stay on record."""
    from recommender.notebook import strips

    here = workspace()
    removed = None
    with here.reading() as db:
        fitted = db is not None and strips.kept(db) is not None
    if fitted:
        with here.writing() as db:
            removed = strips.reset(db)
    click.echo("every drydown uses the figures of the table again; your strips stay on record")
    printing.way_back(removed)
    return 0


COMMANDS = (calibrate,)
