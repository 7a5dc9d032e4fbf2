"""What trials and strips share on the command line: when it was smelled, where, and how."""

from typing import TYPE_CHECKING, Any

import click

from recommender.cli.formulas import unknown
from recommender.cli.notebook_option import place
from recommender.cli.options import Hours
from recommender.cli.repeated import option

if TYPE_CHECKING:
    from sqlite3 import Connection

    from recommender.formulas.drydown import FormulaDrydown
    from recommender.model import Reading, TrialRecord
    from recommender.notebook.formulas import SavedVersion
    from recommender.palette import Palette

AT = option(
    "--at",
    "smelled",
    type=(Hours(), str),
    multiple=True,
    metavar="HOUR READINGS",
    help='How the strip smelled when: --at 8h "almond gone, hay too strong".',
)
ROOM = option("--room", "room_c", type=click.FloatRange(-10, 50), metavar="C", help="The room in C.")
DAY = option("--day", default="", metavar="DATE", help="Such as 2024-03-01.  [default: today]")


def now() -> str:
    """Return the time as it is kept."""
    from datetime import UTC, datetime

    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S")


def day_of(text: str) -> str:
    """Return a day as yyyy-mm-dd, today where it is blank; raises `BadValue`."""
    from datetime import date

    from recommender.errors import BadTable, BadValue
    from recommender.evidence.sheets import Row
    from recommender.notebook.importers import day

    try:
        return day(Row("", 0, {"day": text}), "day") or date.today().isoformat()
    except BadTable as error:
        raise BadValue("--day", text, f"{error.problem}; write it as 2024-03-01") from None


def readings_at(smelled: tuple[tuple[float, str], ...], palette: "Palette") -> "tuple[Reading, ...]":
    """Return what was said of a strip at some hours."""
    from recommender.notebook.readings import readings_of

    return tuple(one for hours, text in smelled for one in readings_of(text, hours, palette.smell))


def in_room(name: str, palette: "Palette", records: "list[TrialRecord]") -> "FormulaDrydown":
    """Return a saved formula on a strip in the room in which it was smelled, the usual one where unknown."""
    from dataclasses import replace

    from recommender.formulas.drydown import FormulaDrydown

    rooms = [record.room_c for record in records if record.room_c is not None]
    if rooms:
        held = replace(palette.conditions, temperature_c=sum(rooms) / len(rooms))
        palette = replace(palette, conditions=held)
    return FormulaDrydown.of(name, palette)


def saved_version(db: "Connection", name: str) -> "SavedVersion":
    """Return the version that a name stands for; raises `BadValue` where nothing is called so."""
    from recommender.notebook import formulas as kept

    found = kept.find(db, name)
    if found is None:
        raise unknown(name, list(kept.near(db, name)))
    return found


def records_of(name: str | None) -> "list[TrialRecord]":
    """Return the trials of a name (all versions), of one version NAME@2, or all."""
    from recommender.notebook import formulas as kept
    from recommender.notebook import reading
    from recommender.notebook import trials as held

    with reading(place()) as db:
        if db is None:
            return []
        if name is None:
            return held.of_versions(db)
        saved = saved_version(db, name)
        versions = [saved] if "@" in name else kept.versions(db, saved.name)
        return held.of_versions(db, [one.version for one in versions])


def writing_unless(dry_run: bool = False) -> Any:
    """Open the notebook to write, or only to look; raises `BadNotebook` where there is none yet."""
    from contextlib import contextmanager

    from recommender.notebook import backup, reading, writing

    backup.present(place())

    @contextmanager
    def looking() -> Any:
        with reading(place()) as db:
            yield db

    return looking() if dry_run else writing(place())
