"""Strips of single materials, and what was fitted to them."""

import sqlite3
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from recommender.errors import BadValue
from recommender.model import Material, OwnStrip, Reading
from recommender.notebook import removed, single_readings

FIGURES = ("film_m", "nose_l_per_s", "paper_share", "room_c")
"""What is fitted for all strips, and the room."""
OFFSETS = ("faster", "stronger", "hours", "table_hours")
"""What is fitted for one material."""


def add(db: sqlite3.Connection, strip: OwnStrip) -> int:
    """Store a strip; returns its number."""
    number = removed.next_number(db, "strip")
    percent = round(100 * strip.dilution, 9)
    db.execute(
        "INSERT INTO strips (id, material, day, dilution_percent, solvent, room_c) VALUES (?, ?, ?, ?, ?, ?)",
        (number, strip.material.slug, strip.day, percent, strip.solvent, strip.room_c),
    )
    add_readings(db, number, strip.readings)
    return number


def add_readings(db: sqlite3.Connection, strip: int, readings: Sequence[Reading]) -> None:
    """Store further readings of a strip; raises `BadValue` where there is no such strip."""
    if not db.execute("SELECT 1 FROM strips WHERE id = ?", (strip,)).fetchone():
        raise missing(strip)
    first = single_readings.next_place(db, "strip", strip)
    db.executemany(
        "INSERT INTO strip_readings (strip, place, hours, said, level, words) VALUES (?, ?, ?, ?, ?, ?)",
        [(strip, n, r.hours, r.rating, r.level, r.words) for n, r in enumerate(readings, first)],
    )


def missing(number: int) -> BadValue:
    """Return the error for a number that no strip has."""
    return BadValue("strip", number, "no strip has this number; see `recommender calibrate list`")


def remove(db: sqlite3.Connection, strip: int) -> int | None:
    """Remove a strip; returns its number among the removed, None where there is no such strip."""
    row = db.execute("SELECT material FROM strips WHERE id = ?", (strip,)).fetchone()
    return None if row is None else removed.remove(db, "strip", strip, row["material"])


def strips(db: sqlite3.Connection, material_of: Callable[[str], Material | None]) -> list[OwnStrip]:
    """Return all strips of materials that are known, in the order in which they were made."""
    by_strip: dict[int, list[Reading]] = defaultdict(list)
    for strip, hours, rating, level, words, place in db.execute(
        "SELECT strip, hours, said, level, words, place FROM strip_readings ORDER BY strip, hours, place"
    ):
        by_strip[strip].append(Reading(hours, rating, "", level, words, place))
    found = []
    for row in db.execute("SELECT * FROM strips ORDER BY day, id"):
        material = material_of(row["material"])
        if material is not None:
            found.append(
                OwnStrip(
                    material,
                    tuple(by_strip[row["id"]]),
                    row["dilution_percent"] / 100.0,
                    row["solvent"],
                    row["room_c"],
                    row["day"],
                    row["id"],
                )
            )
    return found


class StoredFit(NamedTuple):
    """A fit: when it was made (yyyy-mm-ddThh:mm:ss in UTC), its `FIGURES`, its `OFFSETS` by material."""

    made: str
    figures: Mapping[str, float]
    materials: Mapping[str, Mapping[str, float | None]]


def store_fit(
    db: sqlite3.Connection,
    made: str,
    figures: Mapping[str, float],
    materials: Mapping[str, Mapping[str, float | None]],
) -> None:
    """Store what was fitted: `figures` as in `FIGURES`, `materials` by key as in `OFFSETS`."""
    number = removed.next_number(db, "fit")
    db.execute(
        f"INSERT INTO calibrations (id, made, {', '.join(FIGURES)}) VALUES (?, ?, ?, ?, ?, ?)",
        (number, made, *(figures[name] for name in FIGURES)),
    )
    db.executemany(
        f"INSERT INTO calibration_materials (calibration, material, {', '.join(OFFSETS)})"
        " VALUES (?, ?, ?, ?, ?, ?)",
        [(number, slug, *(offsets[name] for name in OFFSETS)) for slug, offsets in materials.items()],
    )


def last_fit(db: sqlite3.Connection) -> StoredFit | None:
    """Return the last fit, None where there is none."""
    row = db.execute("SELECT * FROM calibrations ORDER BY id DESC LIMIT 1").fetchone()
    if row is None:
        return None
    materials = db.execute("SELECT * FROM calibration_materials WHERE calibration = ?", (row["id"],))
    return StoredFit(
        row["made"],
        {name: row[name] for name in FIGURES},
        {one["material"]: {name: one[name] for name in OFFSETS} for one in materials},
    )


def reset(db: sqlite3.Connection) -> int | None:
    """Go back to the table's figures; strips stay.

    Returns the number of the last fit among the removed, None where there was no fit.
    """
    last = None
    for row in db.execute("SELECT id, made FROM calibrations ORDER BY id").fetchall():
        last = removed.remove(db, "fit", row["id"], row["made"])
    return last
