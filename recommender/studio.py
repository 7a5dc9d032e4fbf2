"""What every command stands on: the shipped bench with a person's notebook laid over it."""

import os
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from recommender.bench import Bench, laid_over, shipped
from recommender.catalogue.own import Own
from recommender.drydown import TABLE, Conditions, OwnReading
from recommender.stock import Shelf

if TYPE_CHECKING:
    from sqlite3 import Connection


def bench_of(path: Path, *texts: str | None) -> tuple[Bench, list[str]]:
    """Return the shipped bench with a person's own laid over it, and notes.

    Parameters
    ----------
    path : Path
        The notebook; the file need not be there.
    *texts : str, optional
        What may name a saved formula; those that do are laid out. A file of that name comes first, which is
        noted.

    Raises
    ------
    BadNotebook
    """
    if not path.exists():  # most calls end here: no database is loaded
        return shipped(), []
    from recommender.notebook import formulas, reading

    notes: list[str] = []
    with reading(path) as db:
        if db is None:
            return shipped(), []
        bench, saved = under(*noted(db)), {}
        for text in filter(None, texts):
            if (kept := formulas.find(db, text)) is None:
                continue
            if os.path.isfile(text):
                notes.append(
                    f'"{text}" is a file here and a saved formula ({kept.title}); the file is taken.'
                )
                continue
            formula = formulas.formula_of(db, kept, bench.catalogue)
            saved[text] = replace(formula, name=kept.title) if "@" in text else formula
    return replace(bench, saved=saved), notes


def noted(db: "Connection") -> tuple[Own, Conditions]:
    """Read what a person lays over the catalogue, and how their strips dry."""
    from recommender.notebook import limits, nose, shelf

    own = Own(tuple(nose.materials(db)), tuple(nose.notes(db)), shelf.labels(db), *limits.in_use(db))
    return own, _conditions(db)


def under(own: Own, conditions: Conditions = TABLE) -> Bench:
    """Return the shipped bench with a person's own laid over it, their strips drying as they do."""
    return replace(laid_over(shipped(), own), conditions=conditions)


def _conditions(db: "Connection") -> Conditions:
    """Return how this person's strips dry, as they were last fitted; the table's where they never were."""
    from recommender.notebook import strips

    if (fitted := strips.kept(db)) is None:
        return TABLE
    _, figures, materials = fitted
    own = {
        slug: OwnReading(x["faster"] or 1.0, x["stronger"] or 1.0, x["hours"], x["table_hours"])
        for slug, x in materials.items()
    }
    room = figures["room_c"]
    return Conditions(figures["film_m"], figures["nose_l_per_s"], figures["paper_share"], room, own)


def shelf_of(path: Path, today: date) -> Shelf:
    """Return the shelf of a notebook on a day; empty where there is no notebook."""
    if not path.exists():
        return Shelf((), today)
    from recommender.notebook import reading, shelf

    with reading(path) as db:
        return Shelf(tuple(shelf.bottles(db)) if db is not None else (), today)
