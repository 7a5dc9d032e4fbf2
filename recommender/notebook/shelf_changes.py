"""What was done to bottles in one go: weighed from, imported, changed by hand; each can be undone."""

import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field

from recommender.notebook import bottle_rows, removed
from recommender.notebook.bottle_rows import BottleRow

KIND = "shelf change"
"""The kind of an undone change among the removed."""


@dataclass(frozen=True, slots=True)
class ChangedBottle:
    """One bottle of a change: its number, its rows before (empty: it was not there) and after."""

    number: int
    before: BottleRow
    after: BottleRow

    @property
    def label(self) -> str:
        """The text on it."""
        return str(self.after["label"])

    @property
    def taken_g(self) -> float:
        """How much less is in it [g], 0 where that is unknown."""
        amounts = self.before.get("amount_g"), self.after["amount_g"]
        return 0.0 if None in amounts else amounts[0] - amounts[1]


@dataclass(frozen=True, slots=True)
class ShelfChange:
    """A change of bottles: `kind` is weighed, imported or changed; `batch_g` [g] is what was weighed."""

    number: int
    made: str
    kind: str
    name: str
    batch_g: float | None
    bottles: tuple[ChangedBottle, ...]


@dataclass(slots=True)
class Recorder:
    """A change that is being made: `watch` a bottle before it is changed, `add` the number of a new one.

    `change` is what was stored at the end, None where no bottle was changed.
    """

    db: sqlite3.Connection
    before: dict[int, BottleRow] = field(default_factory=dict)
    change: ShelfChange | None = None

    def watch(self, number: int) -> None:
        """Record how a bottle is now."""
        self.before.setdefault(number, bottle_rows.row(self.db, number))

    def add(self, number: int) -> None:
        """Record that a bottle was put on the shelf."""
        self.before.setdefault(number, {})


@contextmanager
def recording(
    db: sqlite3.Connection, kind: str, name: str, when: str, batch_g: float | None = None
) -> Iterator[Recorder]:
    """Make a change of bottles that can be undone; nothing is stored where no bottle changes."""
    recorder = Recorder(db)
    yield recorder
    pairs = [(number, before, bottle_rows.row(db, number)) for number, before in recorder.before.items()]
    changed = [one for one in pairs if one[1] != one[2]]
    if not changed:
        return
    change = removed.next_number(db, KIND)
    db.execute(
        "INSERT INTO shelf_changes (id, made, kind, name, batch_g) VALUES (?, ?, ?, ?, ?)",
        (change, when, kind, name, batch_g),
    )
    db.executemany(
        "INSERT INTO shelf_change_bottles (shelf_change, bottle, before, after) VALUES (?, ?, ?, ?)",
        [(change, n, bottle_rows.written(old), bottle_rows.written(new)) for n, old, new in changed],
    )
    recorder.change = changes(db, limit=1)[0]


def weigh_out(
    db: sqlite3.Connection, grams: Mapping[int, float], name: str, batch_g: float | None, when: str
) -> ShelfChange | None:
    """Take so much [g] out of bottles, by number; returns the change, None where no amount is known.

    A bottle that has less is empty then.
    """
    with recording(db, "weighed", name, when, batch_g) as recorder:
        for number, taken in grams.items():
            recorder.watch(number)
            left = recorder.before[number].get("amount_g")
            if left is not None:
                left = max(float(f"{left - taken:.10g}"), 0.0)
                db.execute("UPDATE bottles SET amount_g = ? WHERE id = ?", (left, number))
    return recorder.change


def changes(db: sqlite3.Connection, limit: int = -1) -> list[ShelfChange]:
    """Return the changes of bottles, the last first."""
    rows = db.execute(
        "SELECT id, made, kind, name, batch_g FROM shelf_changes ORDER BY id DESC LIMIT ?", (limit,)
    ).fetchall()
    return [
        ShelfChange(row["id"], row["made"], row["kind"], row["name"], row["batch_g"], _bottles(db, row["id"]))
        for row in rows
    ]


def _bottles(db: sqlite3.Connection, number: int) -> tuple[ChangedBottle, ...]:
    rows = db.execute(
        "SELECT bottle, before, after FROM shelf_change_bottles WHERE shelf_change = ? ORDER BY bottle",
        (number,),
    )
    return tuple(ChangedBottle(row[0], json.loads(row[1]), json.loads(row[2])) for row in rows)


def undo(db: sqlite3.Connection, number: int) -> int | None:
    """Undo a change; returns its number among the removed, None where there is no such change.

    Raises
    ------
    BadValue
        A bottle of it was taken off the shelf since; nothing is changed then.
    """
    row = db.execute("SELECT name FROM shelf_changes WHERE id = ?", (number,)).fetchone()
    return None if row is None else removed.remove(db, KIND, number, row["name"])
