"""Bottles and the labels on them."""

import sqlite3
from collections.abc import Iterable, Mapping

from recommender.evidence.catalogue import Catalogue, label_key
from recommender.model import Bottle, Material
from recommender.notebook import removed
from recommender.notebook.shelf_changes import Recorder

_COLUMNS = "label, material, dilution_percent, solvent, amount_g, price_per_g, opened, lot, note, id"


def bottles(db: sqlite3.Connection) -> list[Bottle]:
    """Return all bottles, by label."""
    rows = db.execute(f"SELECT {_COLUMNS} FROM bottles ORDER BY key, dilution_percent DESC, id")
    return [Bottle(*row) for row in rows]


def labels(db: sqlite3.Connection) -> Mapping[str, str]:
    """Return the materials of the person's labels, key of the label -> key of the material."""
    return dict(db.execute("SELECT key, material FROM labels").fetchall())


def dilutions(db: sqlite3.Connection) -> Mapping[str, tuple[float, ...]]:
    """Return the dilutions of the bottles with a stored label [%], key -> dilutions, where none is neat."""
    found: dict[str, tuple[float, ...]] = {}
    rows = db.execute(
        "SELECT DISTINCT key, dilution_percent FROM bottles WHERE key IN (SELECT key FROM labels)"
        " ORDER BY key, dilution_percent DESC"
    )
    for key, percent in rows.fetchall():
        found[key] = (*found.get(key, ()), percent)
    return {key: percents for key, percents in found.items() if 100.0 not in percents}


def remember(db: sqlite3.Connection, label: str, material: str) -> int:
    """Store the material of a label; returns how many bottles on the shelf that resolved."""
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


def resolve(
    db: sqlite3.Connection, label: str, material: str, catalogue: Catalogue
) -> tuple[int, Material | None]:
    """Set the material of the bottles with a label; returns how many, and whose name the label is, if any.

    A label that is not a name is stored, so that it counts in formulas too. A name means the same in formulas
    as before: of the bottles with it those that are open are resolved, or all where none is.
    """
    named = catalogue.named(label)
    if named is None:
        return remember(db, label, material), None
    key = label_key(label)
    db.execute("DELETE FROM labels WHERE key = ?", (key,))
    done = db.execute(
        "UPDATE bottles SET material = :material WHERE key = :key AND material <> :material"
        " AND (material = '' OR NOT EXISTS (SELECT 1 FROM bottles WHERE key = :key AND material = ''))",
        {"material": material, "key": key},
    )
    return done.rowcount, named


def add(db: sqlite3.Connection, bottle: Bottle) -> int:
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


def add_all(
    db: sqlite3.Connection,
    bottles: Iterable[Bottle],
    catalogue: Catalogue,
    recorder: Recorder | None = None,
) -> list[tuple[Bottle, bool, str]]:
    """Put the bottles of a sheet on the shelf, or bring those of the same label, dilution and lot up to date.

    Each row of the sheet is one bottle. The material of a bottle on the shelf stays, also where the sheet
    names another or none. Labels that are not names are stored. `recorder` is that of the change that can be
    undone.

    Returns each with whether it is new, and the key of its material on the shelf, blank where that is open.
    """
    found = list(bottles)
    done: dict[int, tuple[Bottle, bool, str]] = {}
    seen: set[int] = set()
    known_first = sorted(enumerate(found), key=lambda one: not one[1].material)
    for place, bottle in known_first:
        rows = db.execute(
            "SELECT id, material FROM bottles WHERE key = ? AND dilution_percent = ? AND lot = ?"
            " ORDER BY material <> ?, material <> '', id",
            (label_key(bottle.label), bottle.dilution_percent, bottle.lot, bottle.material),
        ).fetchall()
        there = next((row for row in rows if row["id"] not in seen), None)
        if there is None:
            number = add(db, bottle)
            seen.add(number)
            if recorder is not None:
                recorder.add(number)
        else:
            seen.add(there["id"])
            if recorder is not None:
                recorder.watch(there["id"])
            _refresh(db, there["id"], bottle)
        done[place] = bottle, there is None, (there["material"] if there else "") or bottle.material
        learn(db, bottle, catalogue)
    return [done[place] for place in range(len(found))]


def learn(db: sqlite3.Connection, bottle: Bottle, catalogue: Catalogue) -> None:
    """Store the material of the label of a bottle, unless the label is known or a name."""
    if bottle.material and not catalogue.meanings(bottle.label):
        remember(db, bottle.label, bottle.material)


def _refresh(db: sqlite3.Connection, number: int, bottle: Bottle) -> None:
    """Bring a bottle up to date; what the new row leaves blank stays as it was, and so does its material."""
    db.execute(
        "UPDATE bottles SET label = ?, material = coalesce(nullif(material, ''), ?),"
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


_CELLS = tuple(_COLUMNS.split(", ")[:-1])


def update(db: sqlite3.Connection, number: int, bottle: Bottle) -> None:
    """Put other figures and words on a bottle."""
    columns = ", ".join(f"{name} = ?" for name in (*_CELLS, "key"))
    cells = [*(getattr(bottle, name) for name in _CELLS), label_key(bottle.label)]
    db.execute(f"UPDATE bottles SET {columns} WHERE id = ?", [*cells, number])


def remove(db: sqlite3.Connection, number: int) -> int | None:
    """Remove a bottle; the material of its label stays stored.

    Returns its number among the removed, None where there is no such bottle.
    """
    row = db.execute("SELECT label FROM bottles WHERE id = ?", (number,)).fetchone()
    return None if row is None else removed.remove(db, "bottle", number, row["label"])
