"""What was removed from the notebook: stored with all its rows, so that it can be brought back."""

import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from recommender.errors import BadValue
from recommender.notebook import bottle_rows

Rows = Mapping[str, Sequence[Mapping[str, Any]]]
"""Table -> rows, each column -> value; a table after those that it refers to."""


@dataclass(frozen=True, slots=True)
class Kind:
    """Where a kind of entry is stored: its table with its key, and tables below -> their column.

    The key is a column or, where an entry has two, an expression of both.
    """

    table: str
    key: str = "id"
    below: Mapping[str, str] = field(default_factory=dict)


TRIAL_TABLES = ("trial_readings", "trial_dips", "trial_triangles", "trial_triangle_answers")
KINDS: Mapping[str, Kind] = {
    "bottle": Kind("bottles"),
    "trial": Kind("trials", below=dict.fromkeys(TRIAL_TABLES, "trial")),
    "strip": Kind("strips", below={"strip_readings": "strip"}),
    "trial reading": Kind("trial_readings", "trial || '.' || place"),
    "strip reading": Kind("strip_readings", "strip || '.' || place"),
    "fit": Kind("calibrations", below={"calibration_materials": "calibration"}),
    "note": Kind("notes", "material", {"note_labels": "material"}),
    "material": Kind("materials", "slug", {"material_labels": "material"}),
    "formula": Kind("drafts", below={"draft_steps": "draft"}),
    "shelf change": Kind("shelf_changes", below={"shelf_change_bottles": "shelf_change"}),
}
"""All that can be removed."""
CHANGED = "shelf_change_bottles"
"""The rows of a change of bottles, which is undone when it is removed and done again when it comes back."""


@dataclass(frozen=True, slots=True)
class Removed:
    """One removed entry: its number among the removed, kind, key and name, when (UTC), and its rows."""

    number: int
    kind: str
    key: str
    name: str
    when: str
    rows: Rows


def remove(db: sqlite3.Connection, kind: str, key: int | str, name: str = "") -> int | None:
    """Remove an entry and store its rows; returns its number among the removed, None where there is none.

    A change of bottles is undone with it; raises `BadValue` where that cannot be.
    """
    rows = _rows(db, kind, key)
    if not rows:
        return None
    if CHANGED in rows:
        rows = {**rows, CHANGED: bottle_rows.undo(db, rows[CHANGED])}
    _delete(db, kind, key)
    return _store(db, kind, key, name, rows)


@contextmanager
def replacing(db: sqlite3.Connection, kind: str, key: str, name: str = "") -> Iterator[bool]:
    """Put another entry in the place of one; the older one is stored as removed, unless they are equal.

    Gives whether there was an older one.
    """
    older = _rows(db, kind, key)
    _delete(db, kind, key)
    yield bool(older)
    if older and older != _rows(db, kind, key):
        _store(db, kind, key, name, older)


def listed(db: sqlite3.Connection, kind: str = "") -> list[Removed]:
    """Return what was removed, of one kind or all, the last first."""
    rows = db.execute(
        "SELECT id, kind, key, name, removed, content FROM removed WHERE ? IN ('', kind) ORDER BY id DESC",
        (kind,),
    )
    return [
        Removed(number, kind, key, name, when, json.loads(content))
        for number, kind, key, name, when, content in rows
    ]


def bring_back(db: sqlite3.Connection, number: int) -> Removed:
    """Put the rows of a removed entry back as they were; a note, material or reading in its place is removed.

    Raises
    ------
    BadValue
        Nothing removed has this number, or another entry has taken its place; nothing was changed then.
    """
    found = [one for one in listed(db) if one.number == number]
    if not found:
        raise BadValue("number", number, "nothing removed has it; `recommender notebook removed` lists them")
    (entry,) = found
    if entry.kind not in KINDS:
        raise BadValue("number", number, f'nothing of the kind "{entry.kind}" can be brought back')
    place = KINDS[entry.kind]
    if place.key != "id":
        remove(db, entry.kind, entry.key, entry.name)
    try:
        for table in (place.table, *place.below):
            known = {found["name"] for found in db.execute(f"PRAGMA table_info({table})")}
            for row in entry.rows.get(table, ()):
                if not known.issuperset(row):
                    raise BadValue("number", number, "its columns are not those of this notebook")
                columns, marks = ", ".join(f'"{name}"' for name in row), ", ".join("?" * len(row))
                db.execute(f"INSERT INTO {table} ({columns}) VALUES ({marks})", list(row.values()))
        bottle_rows.redo(db, entry.rows.get(CHANGED, ()))
    except sqlite3.IntegrityError as error:
        why = f"another {entry.kind} has its name or number now; rename or remove that one first"
        if "FOREIGN KEY" in str(error):
            why = "what it belongs to is no longer in the notebook"
        raise BadValue("number", number, f"{entry.kind} {entry.name} cannot be brought back: {why}") from None
    db.execute("DELETE FROM removed WHERE id = ?", (number,))
    return entry


def next_number(db: sqlite3.Connection, kind: str) -> int:
    """Return a number for a new entry that no entry has, and none had that could be brought back."""
    table = KINDS[kind].table
    return 1 + int(
        db.execute(
            f"SELECT max(coalesce((SELECT max(id) FROM {table}), 0),"
            " coalesce((SELECT max(CAST(key AS INTEGER)) FROM removed WHERE kind = ?), 0))",
            (kind,),
        ).fetchone()[0]
    )


def _rows(db: sqlite3.Connection, kind: str, key: int | str) -> Rows:
    place = KINDS[kind]
    found = {}
    for table, column in {place.table: place.key, **place.below}.items():
        # the first two columns begin with the primary key of every table below
        rows = db.execute(f"SELECT * FROM {table} WHERE {column} = ? ORDER BY 1, 2", (key,)).fetchall()
        if rows:
            found[table] = [dict(row) for row in rows]
    return found


def _delete(db: sqlite3.Connection, kind: str, key: int | str) -> None:
    db.execute(f"DELETE FROM {KINDS[kind].table} WHERE {KINDS[kind].key} = ?", (key,))


def _store(db: sqlite3.Connection, kind: str, key: int | str, name: str, rows: Rows) -> int:
    done = db.execute(
        "INSERT INTO removed (kind, key, name, content) VALUES (?, ?, ?, ?)",
        (kind, str(key), name, json.dumps(rows, ensure_ascii=False)),
    )
    return int(done.lastrowid or 0)
