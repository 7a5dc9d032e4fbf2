"""Notes of the person's own nose on materials, and the materials that they added."""

import sqlite3
from collections import defaultdict

from recommender.evidence.overlay import OwnMaterial
from recommender.model import Label, OwnNote
from recommender.notebook import removed

BASIS = "user"
"""The basis of what the person reports."""


def notes(db: sqlite3.Connection) -> list[OwnNote]:
    """Return all notes of the nose."""
    labels_of = _labels(db, "note_labels")
    return [
        OwnNote(
            material=row["material"],
            labels=tuple(Label(f, s, BASIS) for f, s in labels_of[row["material"]] if s > 0),
            denied=tuple(f for f, s in labels_of[row["material"]] if s == 0),
            adds=bool(row["adds"]),
            strength=row["strength"],
            blind=bool(row["blind"]),
            words=row["words"],
        )
        for row in db.execute("SELECT material, adds, strength, blind, words FROM notes ORDER BY material")
    ]


def _labels(db: sqlite3.Connection, table: str) -> dict[str, list[tuple[str, int]]]:
    found: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for material, facet, strength in db.execute(
        f"SELECT material, facet, strength FROM {table} ORDER BY material, strength DESC, facet"
    ):
        found[material].append((facet, strength))
    return found


def note(db: sqlite3.Connection, own: OwnNote) -> bool:
    """Store a note in place of an older one on the same material; returns whether there was one."""
    rows = [(own.material, x.facet, x.strength) for x in own.labels]
    rows += [(own.material, facet, 0) for facet in own.denied]
    with removed.replacing(db, "note", own.material, own.material) as before:
        db.execute(
            "INSERT INTO notes (material, adds, strength, blind, words) VALUES (?, ?, ?, ?, ?)",
            (own.material, int(own.adds), own.strength, int(own.blind), own.words),
        )
        db.executemany("INSERT INTO note_labels (material, facet, strength) VALUES (?, ?, ?)", rows)
    return before


def remove(db: sqlite3.Connection, material: str) -> int | None:
    """Remove the note on a material; returns its number among the removed, None where there is none."""
    return removed.remove(db, "note", material, material)


_OWN = (
    "slug, name, cas, kind, form, smiles, molar_mass, pressure_pa, pressure_basis, pressure_source,"
    " log_error, strength, strength_basis, note"
)


def materials(db: sqlite3.Connection) -> list[OwnMaterial]:
    """Return the materials that the person added, by name."""
    labels_of = _labels(db, "material_labels")
    return [
        OwnMaterial(
            **{name: row[name] for name in row.keys()},  # noqa: SIM118 - a row iterates over its values
            labels=tuple(Label(f, s, BASIS) for f, s in labels_of[row["slug"]]),
        )
        for row in db.execute(f"SELECT {_OWN} FROM materials ORDER BY name, slug")
    ]


def add_material(db: sqlite3.Connection, own: OwnMaterial) -> None:
    """Add a material, in place of an older one with the same key."""
    cells = (
        own.slug,
        own.name,
        own.cas,
        own.kind,
        own.form,
        own.smiles,
        own.molar_mass,
        own.pressure_pa,
        own.pressure_basis,
        own.pressure_source,
        own.log_error,
        own.strength,
        own.strength_basis,
        own.note,
    )
    with removed.replacing(db, "material", own.slug, own.name):
        db.execute(f"INSERT INTO materials ({_OWN}) VALUES ({', '.join('?' * len(cells))})", cells)
        db.executemany(
            "INSERT INTO material_labels (material, facet, strength) VALUES (?, ?, ?)",
            [(own.slug, label.facet, label.strength) for label in own.labels],
        )


def remove_material(db: sqlite3.Connection, slug: str) -> int | None:
    """Remove a material that the person added.

    Returns its number among the removed, None where the person added no such material.
    """
    row = db.execute("SELECT name FROM materials WHERE slug = ?", (slug,)).fetchone()
    return None if row is None else removed.remove(db, "material", slug, row["name"])
