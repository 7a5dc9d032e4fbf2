"""calibrate: the person's own strips of single materials, and what they say of air, nose and paper."""

from typing import TYPE_CHECKING, Any

import click

from recommender.cli.listing import listed
from recommender.cli.notebook_option import ground, place, told, way_back
from recommender.cli.options import card_format, complete_material, output_format
from recommender.cli.reading_options import AT, DAY, ROOM, day_of, now, readings_at, writing_unless
from recommender.cli.repeated import option

if TYPE_CHECKING:
    from recommender.model import OwnStrip, Reading
    from recommender.palette import Palette


USUAL_C = 25.0


@click.group(epilog="Example: recommender calibrate list")
def calibrate() -> None:
    """Fit the hours to your own strips.

    Smell a few materials hour by hour, then fit. Three materials that you know tell how fast your strips
    dry; six or more, each smelled until it is gone, tell the paper and your nose as well.
    """


@calibrate.command(
    epilog="Example: recommender calibrate add linalool --at 1h clear --at 4h trace --at 8h gone"
)
@click.argument("material", shell_complete=complete_material)
@option("--dilution", default="", metavar="PERCENT", help="Dilution in per cent.  [default: neat]")
@option("--solvent", default="", help="In what it is diluted.  [default: dipropylene glycol]")
@DAY
@ROOM
@AT
def add(
    material: str,
    dilution: str,
    solvent: str,
    day: str,
    room_c: float | None,
    smelled: tuple[tuple[float, str], ...],
) -> int:
    """Write down a strip of MATERIAL (20 mg on 5 cm2), with the readings that there are."""
    from recommender.evidence.sheets import Row
    from recommender.notebook import strips as kept
    from recommender.notebook import writing
    from recommender.output.trials import reading_count

    palette = ground()
    row = Row("calibrate add", 0, {"dilution_percent": dilution, "solvent": solvent})
    strip = _strip(
        palette, material, row, day_of(day), room_c, _whole(readings_at(smelled, palette)), option=True
    )
    with writing(place()) as db:
        number = kept.add(db, strip)
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
    from recommender.errors import BadTable, BadValue
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
        name = (error.column or "").removesuffix("_percent")
        raise BadValue(f"--{name}", row[error.column or ""], error.problem) from None
    return OwnStrip(
        found, readings, (percent or 100.0) / 100.0, solvent, USUAL_C if room_c is None else room_c, day
    )


def _whole(readings: "tuple[Reading, ...]") -> "tuple[Reading, ...]":
    from recommender.errors import BadValue

    for one in readings:
        if one.facet:
            raise BadValue("reading", one.facet, "a strip of one material is read as a whole: write clear")
    return readings


@calibrate.command(epilog="Example: recommender calibrate read 2 --at 24h gone")
@click.argument("number", type=int)
@AT
def read(number: int, smelled: tuple[tuple[float, str], ...]) -> int:
    """Add readings to strip NUMBER when you come back to it."""
    from recommender.errors import BadValue
    from recommender.notebook import strips as kept
    from recommender.output.trials import reading_count

    readings = _whole(readings_at(smelled, ground()))
    if not readings:
        raise BadValue("--at", "", "say how it smelled: --at 8h trace")
    with writing_unless() as db:
        kept.add_readings(db, number, readings)
    click.echo(f"strip {number}: {reading_count(readings)} more")
    return 0


@calibrate.command("import", epilog="Example: recommender calibrate import data/demo/strips.csv")
@click.argument("file", type=click.Path())
@option("--dry-run", is_flag=True, help="Show what would be written, and write nothing.")
def import_(file: str, dry_run: bool) -> int:
    """Read strips from a table (CSV or XLSX), one reading a line: all of it, or nothing.

    Columns: material, hours and strength; and where there are such, cas, dilution_percent, solvent, room_c,
    day and words. Lines of one material, day, dilution and room are one strip.
    """
    from pathlib import Path

    from recommender.errors import BadValue, UnknownMaterial, WrongCas
    from recommender.evidence.identity import identify
    from recommender.evidence.sheets import decimal
    from recommender.notebook import strips as kept
    from recommender.notebook import writing
    from recommender.notebook.importers import day as day_in
    from recommender.notebook.readings import ABOUT_A_STRIP, from_sheet
    from recommender.output.trials import reading_count

    palette = ground()
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
            column = "material" if error.option == "strip" else "facet"
            raise row.wrong(column, error.wanted) from None
    numbers = [""] * len(found)
    if not dry_run:
        with writing(place()) as db:
            numbers = [f" {kept.add(db, strip)}" for strip in found]
    for number, strip in zip(numbers, found, strict=True):
        click.echo(f"strip{number}: {strip.material.name}, {reading_count(strip.readings)}")
    for note in notes:
        told(note)
    if dry_run:
        told("nothing was written; leave --dry-run out to write it.")
    return 0


@calibrate.command("list", epilog="Example: recommender calibrate list")
@output_format
def list_(form: str) -> int:
    """List your strips of single materials."""
    from recommender.output import calibration

    rows = [calibration.strip_row(strip) for strip in own_strips(ground())]
    empty = "there is no strip yet; see `recommender calibrate add --help`."
    columns, heads = calibration.STRIP_COLUMNS, calibration.STRIP_HEADS
    return listed(rows, form, columns, heads, empty, ("material", "readings"))


def own_strips(palette: "Palette") -> "list[OwnStrip]":
    """Return the strips of the notebook, those of materials that are no longer known left out."""
    from recommender.notebook import reading
    from recommender.notebook import strips as kept

    catalogue = palette.catalogue

    def material_of(slug: str) -> Any:
        return catalogue.materials[catalogue.index[slug]] if slug in catalogue.index else None

    with reading(place()) as db:
        return [] if db is None else kept.strips(db, material_of)


@calibrate.command(epilog="Example: recommender calibrate forget 2")
@click.argument("number", type=int)
def forget(number: int) -> int:
    """Take strip NUMBER out; what was fitted stays until the next fit."""
    from recommender.errors import BadValue
    from recommender.notebook import strips as kept

    with writing_unless() as db:
        removed = kept.forget(db, number)
        if removed is None:
            raise BadValue("strip", number, "there is none of this number; see `recommender calibrate list`")
    click.echo(f"strip {number} is taken out")
    way_back(removed)
    return 0


@calibrate.command(epilog="Example: recommender calibrate fit")
@option("--dry-run", is_flag=True, help="Show the fit, and keep on using what was used before.")
@output_format
def fit(dry_run: bool, form: str) -> int:
    """Fit still air, paper and nose to your strips; every drydown uses them from now on."""
    from dataclasses import asdict

    from recommender.calibration import fit as fitted_to
    from recommender.notebook import strips as kept
    from recommender.notebook import writing
    from recommender.output import calibration, formats

    found = fitted_to([strip for strip in own_strips(ground()) if strip.readings])
    held = found.conditions
    if not dry_run:
        figures = {name: getattr(held, name) for name in ("film_m", "nose_l_per_s", "paper_share")}
        own = {slug: asdict(offset) for slug, offset in held.own.items()}
        with writing(place()) as db:
            kept.keep(db, now(), figures | {"room_c": held.temperature_c}, own)
    if form == "json":
        click.echo(formats.as_json(calibration.fit_data(found) | {"used": not dry_run}))
    elif form == "csv":
        click.echo(formats.as_csv(calibration.ended_rows(found), calibration.ENDED_COLUMNS))
    else:
        click.echo("\n".join(calibration.fit_lines(found)))
    told(
        "what was used before is still used."
        if dry_run
        else "every drydown uses it from now on; `recommender calibrate reset` goes back to the table."
    )
    return 0


@calibrate.command(epilog="Example: recommender calibrate show")
@card_format
def show(form: str) -> int:
    """Show what is used now: the table's figures, or those of your last fit."""
    from recommender.notebook import reading
    from recommender.notebook import strips as kept
    from recommender.output import calibration, formats

    with reading(place()) as db:
        held = None if db is None else kept.kept(db)
    data = calibration.used_data(held, ground())
    click.echo(formats.as_json(data) if form == "json" else "\n".join(calibration.used_lines(data)))
    return 0


@calibrate.command(epilog="Example: recommender calibrate reset")
def reset() -> int:
    """Go back to the figures of the table; your strips stay."""
    from recommender.notebook import strips as kept
    from recommender.notebook import writing

    path, removed = place(), None
    if path.exists():
        with writing(path) as db:
            removed = kept.reset(db)
    click.echo("every drydown uses the figures of the table again; your strips are kept")
    way_back(removed)
    return 0


COMMANDS = (calibrate,)
