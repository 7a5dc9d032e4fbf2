"""Rows of bottles before and after a change, and the change undone or done again on what is there now."""

import json
import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any

from recommender.errors import BadValue

BottleRow = Mapping[str, Any]
"""Column -> value; empty where there is no such bottle."""
ChangedRows = Sequence[Mapping[str, Any]]
"""Rows of `shelf_change_bottles`."""

_NUMBER = (int, float, type(None))
_TYPES: Mapping[str, type | tuple[type, ...]] = {
    "id": int, "label": str, "key": str, "material": str, "dilution_percent": (int, float), "solvent": str,
    "amount_g": _NUMBER, "price_per_g": _NUMBER, "opened": str, "lot": str, "note": str,
}  # fmt: skip
"""Columns of a bottle, and what their values are in JSON."""


def is_row(found: Any) -> bool:
    """Tell whether something read from JSON is the row of a bottle, or empty."""
    return isinstance(found, dict) and (
        not found
        or (found.keys() == _TYPES.keys() and all(isinstance(found[name], _TYPES[name]) for name in found))
    )


def row(db: sqlite3.Connection, number: int) -> BottleRow:
    """Return the row of a bottle, empty where there is none."""
    found = db.execute("SELECT * FROM bottles WHERE id = ?", (number,)).fetchone()
    return {} if found is None else dict(found)


def written(found: BottleRow) -> str:
    """Return a row as it is stored."""
    return json.dumps(found, ensure_ascii=False)


def _read(changed: Mapping[str, Any]) -> tuple[BottleRow, BottleRow]:
    """Return the states before and after; raises `BadValue` where they are not those of a bottle."""
    before, after = json.loads(changed["before"]), json.loads(changed["after"])
    if not (is_row(before) and is_row(after) and after):  # names of columns go into statements
        raise BadValue("number", changed["bottle"], "what is stored of this bottle cannot be read")
    return before, after


def undo(db: sqlite3.Connection, changed: ChangedRows) -> ChangedRows:
    """Undo a change of bottles; returns its rows as they have to be stored to do it again.

    A column that was changed again since stays as it is; an amount gets back what was taken from it.

    Raises
    ------
    BadValue
        One of the bottles is not on the shelf any more.
    """
    stored = []
    for one in changed:
        (before, after), now = _read(one), row(db, one["bottle"])
        if before:
            _apply(db, now, after, before)
        elif now:  # it was put there: what it is now comes back with the change
            db.execute("DELETE FROM bottles WHERE id = ?", (one["bottle"],))
            one = {**one, "after": written(now)}
        stored.append(one)
    return stored


def redo(db: sqlite3.Connection, changed: ChangedRows) -> None:
    """Do a change of bottles again; raises as `undo`."""
    for one in changed:
        (before, after), now = _read(one), row(db, one["bottle"])
        if before:
            _apply(db, now, before, after)
        elif not now:
            columns, marks = ", ".join(after), ", ".join("?" * len(after))
            db.execute(f"INSERT INTO bottles ({columns}) VALUES ({marks})", list(after.values()))


def _apply(db: sqlite3.Connection, now: BottleRow, start: BottleRow, end: BottleRow) -> None:
    """Bring a bottle from one state to another, as far as it is still in the first."""
    if not now:
        raise BadValue("number", end["label"], "it was taken off the shelf since; bring it back first")
    new = {name: end[name] for name in end if end[name] != start[name] and now[name] == start[name]}
    amounts = (start["amount_g"], end["amount_g"], now["amount_g"])
    if amounts[0] != amounts[1] and amounts[2] != amounts[0] and None not in amounts:
        new["amount_g"] = max(float(f"{amounts[2] + amounts[1] - amounts[0]:.10g}"), 0.0)
    if new:
        columns = ", ".join(f"{name} = ?" for name in new)
        db.execute(f"UPDATE bottles SET {columns} WHERE id = ?", [*new.values(), now["id"]])
