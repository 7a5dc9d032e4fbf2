"""One reading of a trial or of a strip: changed or taken out, so that it can be brought back."""

import sqlite3
from typing import Literal

from recommender.errors import BadValue
from recommender.model import Reading
from recommender.notebook import removed

Owner = Literal["trial", "strip"]


def next_place(db: sqlite3.Connection, owner: Owner, number: int) -> int:
    """Return a place for a further reading that none has, and none had that could be brought back."""
    present = db.execute(
        f"SELECT coalesce(max(place), 0) FROM {owner}_readings WHERE {owner} = ?", (number,)
    ).fetchone()[0]
    keys = db.execute("SELECT key FROM removed WHERE kind = ?", (f"{owner} reading",))
    gone = [int(place) for of, place in (key.split(".") for (key,) in keys) if int(of) == number]
    return 1 + max([int(present), *gone])


def hours_of(db: sqlite3.Connection, owner: Owner, number: int, place: int) -> float:
    """Return when a reading was made [h]; raises `BadValue` where there is none of this number."""
    rows = db.execute(
        f"SELECT place, hours FROM {owner}_readings WHERE {owner} = ? ORDER BY place", (number,)
    )
    hours = {int(row[0]): float(row[1]) for row in rows}
    if place not in hours:
        has = f"it has {', '.join(map(str, hours))}" if hours else "it has none"
        raise BadValue("reading", place, f"{owner} {number} has no reading of this number; {has}")
    return hours[place]


def change(db: sqlite3.Connection, owner: Owner, number: int, place: int, reading: Reading) -> None:
    """Put a reading in the place of another; the older one is stored as removed."""
    facet = {"facet": reading.facet} if owner == "trial" else {}
    cells = {owner: number, "place": place, "hours": reading.hours, **facet, "said": reading.rating}
    cells |= {"level": reading.level, "words": reading.words}
    with removed.replacing(db, f"{owner} reading", f"{number}.{place}", f"{owner} {number}"):
        db.execute(
            f"INSERT INTO {owner}_readings ({', '.join(cells)}) VALUES ({', '.join('?' * len(cells))})",
            list(cells.values()),
        )


def remove(db: sqlite3.Connection, owner: Owner, number: int, place: int) -> int:
    """Take a reading out; returns its number among the removed. Raises `BadValue` where there is none."""
    hours_of(db, owner, number, place)
    found = removed.remove(db, f"{owner} reading", f"{number}.{place}", f"{owner} {number}")
    assert found is not None
    return found
