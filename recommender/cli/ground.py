"""What every command stands on: the shipped bench with the person's notebook laid over it."""

import os
import sys
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from pathlib import Path

    from recommender.bench import Bench
    from recommender.stock import Shelf

NOTEBOOK = "recommender.notebook"
"""Where the option stands among what a call knows (`click.Context.meta`)."""


def _keep(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
    if value is not None:
        ctx.meta[NOTEBOOK] = value


def notebook_option() -> click.Option:
    """Return the option by which every command can be given another notebook."""
    return click.Option(
        ["--notebook"],
        metavar="PATH",
        expose_value=False,
        callback=_keep,
        help="Your notebook.  [default: $RECOMMENDER_NOTEBOOK, or the data folder]",
    )


def place() -> "Path":
    """Return the path of the notebook of this call; the file need not be there."""
    from recommender.place import place_of

    context = click.get_current_context(silent=True)
    return place_of(context.meta.get(NOTEBOOK) if context else None, os.environ)


def ground(*texts: str | None) -> "Bench":
    """Return the shipped bench with the person's own laid over it.

    Parameters
    ----------
    *texts : str, optional
        What may name a saved formula; those that do are laid out. A file of that name comes first, which is
        said on stderr.

    Raises
    ------
    BadNotebook
    """
    from recommender.bench import shipped

    path = place()
    if not path.exists():  # most calls end here: no database is loaded
        return shipped()
    from dataclasses import replace

    from recommender.bench import noted, under
    from recommender.notebook import formulas, reading

    with reading(path) as db:
        if db is None:
            return shipped()
        found = {text: kept for text in texts if text and (kept := formulas.find(db, text)) is not None}
        bench = under(*noted(db))
        saved = {}
        for text, kept in found.items():
            if os.path.isfile(text):
                told(f'"{text}" is a file here and a saved formula ({kept.title}); the file is taken.')
            else:
                formula = formulas.formula_of(db, kept, bench.catalogue)
                saved[text] = replace(formula, name=kept.title) if "@" in text else formula
    return replace(bench, saved=saved)


def told(note: str) -> None:
    """Say a note on stderr, after what was printed."""
    sys.stdout.flush()
    click.echo(f"note: {note}", err=True)


def the_shelf() -> "Shelf":
    """Return the shelf as it is today; empty where there is no notebook."""
    from datetime import date

    from recommender.stock import Shelf

    path = place()
    if not path.exists():
        return Shelf((), date.today())
    from recommender.notebook import reading, shelf

    with reading(path) as db:
        return Shelf(tuple(shelf.bottles(db)) if db is not None else (), date.today())
