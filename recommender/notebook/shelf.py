"""Bottles and the labels on them."""

import sqlite3
from collections.abc import Mapping

from recommender.catalogue import label_key
from recommender.model import Bottle
from recommender.notebook import removed

_COLUMNS = "label, material, dilution_percent, solvent, amount_g, price_per_g, opened, lot, note, id"


def bottles(db: sqlite3.Connection) -> list[Bottle]:
    """Return all bottles, by label."""
    rows = db.execute(f"SELECT {_COLUMNS} FROM bottles ORDER BY key, dilution_percent DESC, id")
    return [Bottle(*row) for row in rows]


def labels(db: sqlite3.Connection) -> Mapping[str, str]:
    """Return what the person's labels stand for, key of the label -> key of the material."""
    return dict(db.execute("SELECT key, material FROM labels").fetchall())


def remember(db: sqlite3.Connection, label: str, material: str) -> int:
    """Remember what a label stands for; returns how many bottles on the shelf it resolved."""
    key = label_key(label)
    db.execute(
        "INSERT INTO labels (key, label, material) VALUES (?, ?, ?)"
        " ON CONFLICT (key) DO UPDATE SET label = excluded.label, material = excluded.material",
        (key, label, material),
    )
    done = db.execute(
        "UPDATE bottles SET material = ? WHERE key = ? AND material <> ?", (material, key, material)
    )
    return done.rowcount


def put(db: sqlite3.Connection, bottle: Bottle) -> int:
    """Put a new bottle on the shelf; returns its number."""
    cells = (
        removed.next_number(db, "bottle"),
        bottle.label,
        label_key(bottle.label),
        bottle.material,
        bottle.dilution_percent,
        bottle.solvent,
        bottle.amount_g,
        bottle.price_per_g,
        bottle.opened,
        bottle.lot,
        bottle.note,
    )
    done = db.execute(
        "INSERT INTO bottles (id, label, key, material, dilution_percent, solvent, amount_g, price_per_g,"
        " opened, lot, note) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        cells,
    )
    return int(done.lastrowid or 0)


def same(db: sqlite3.Connection, bottle: Bottle) -> int | None:
    """Return the number of the bottle with the same label, dilution and lot, None where there is none."""
    row = db.execute(
        "SELECT id FROM bottles WHERE key = ? AND dilution_percent = ? AND lot = ? ORDER BY id LIMIT 1",
        (label_key(bottle.label), bottle.dilution_percent, bottle.lot),
    ).fetchone()
    return None if row is None else int(row[0])


def refresh(db: sqlite3.Connection, number: int, bottle: Bottle) -> None:
    """Bring a bottle up to date; what the new row leaves blank stays as it was."""
    db.execute(
        "UPDATE bottles SET label = ?, material = coalesce(nullif(?, ''), material),"
        " solvent = coalesce(nullif(?, ''), solvent), amount_g = coalesce(?, amount_g),"
        " price_per_g = coalesce(?, price_per_g), opened = coalesce(nullif(?, ''), opened),"
        " note = coalesce(nullif(?, ''), note) WHERE id = ?",
        (
            bottle.label,
            bottle.material,
            bottle.solvent,
            bottle.amount_g,
            bottle.price_per_g,
            bottle.opened,
            bottle.note,
            number,
        ),
    )


def take_off(db: sqlite3.Connection, number: int) -> int | None:
    """Take a bottle off the shelf; what its label stands for stays remembered.

    Returns its number among the removed, None where there is no such bottle.
    """
    row = db.execute("SELECT label FROM bottles WHERE id = ?", (number,)).fetchone()
    return None if row is None else removed.remove(db, "bottle", number, row["label"])
