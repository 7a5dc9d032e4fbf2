"""What every command stands on: the shipped bench with a person's notebook laid over it."""

import os
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path

from recommender.notebook.overlay import overlay_of, palette_with
from recommender.palette import Palette, shipped
from recommender.suggest.stock import Shelf


def bench_of(path: Path, *texts: str | None) -> tuple[Palette, list[str]]:
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
        palette, saved = palette_with(*overlay_of(db)), {}
        for text in filter(None, texts):
            if (kept := formulas.find(db, text)) is None:
                continue
            if os.path.isfile(text):
                notes.append(
                    f'"{text}" is a file here and a saved formula ({kept.title}); the file is taken.'
                )
                continue
            formula = formulas.formula_of(db, kept, palette.catalogue)
            saved[text] = replace(formula, name=kept.title) if "@" in text else formula
    return replace(palette, saved=saved), notes


def shelf_of(path: Path, today: date) -> Shelf:
    """Return the shelf of a notebook on a day; empty where there is no notebook."""
    if not path.exists():
        return Shelf((), today)
    from recommender.notebook import reading, shelf

    with reading(path) as db:
        return Shelf(tuple(shelf.bottles(db)) if db is not None else (), today)


VARIABLE = "RECOMMENDER_NOTEBOOK"
FILE = "notebook.sqlite"


def place_of(given: str | None, environment: Mapping[str, str]) -> Path:
    """Return the path of the notebook: the given one, that of the variable, else the data folder's.

    The file need not be there.
    """
    if named := given or environment.get(VARIABLE):
        return Path(named).expanduser()
    from platformdirs import user_data_path

    return user_data_path("recommender", appauthor=False) / FILE
