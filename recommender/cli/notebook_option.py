"""Which notebook a call means, and the bench with it laid over."""

import os
import sys
from typing import TYPE_CHECKING

import click

from recommender.cli.repeated import Option, given_twice

if TYPE_CHECKING:
    from pathlib import Path

    from recommender.palette import Palette
    from recommender.suggest.stock import Shelf

NOTEBOOK = "recommender.notebook"
"""Where the option stands among what a call knows (`click.Context.meta`)."""


def _keep(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
    if value is None:
        return
    if (given := ctx.meta.setdefault(NOTEBOOK, value)) != value:
        raise click.UsageError(given_twice("--notebook", (given, value)), ctx)


def notebook_option() -> click.Option:
    """Return the option by which every command can be given another notebook."""
    return Option(
        ["--notebook"],
        metavar="PATH",
        expose_value=False,
        callback=_keep,
        help="Your notebook.  [default: $RECOMMENDER_NOTEBOOK, or the data folder]",
    )


def place() -> "Path":
    """Return the path of the notebook of this call; the file need not be there."""
    from recommender.workspace import place_of

    context = click.get_current_context(silent=True)
    return place_of(context.meta.get(NOTEBOOK) if context else None, os.environ)


def ground(*texts: str | None) -> "Palette":
    """Return the shipped bench with the person's own, and those saved formulas that `texts` name.

    Raises
    ------
    BadNotebook
    """
    from recommender.workspace import bench_of

    palette, notes = bench_of(place(), *texts)
    for note in notes:
        told(note)
    return palette


def told(note: str) -> None:
    """Say a note on stderr, after what was printed."""
    sys.stdout.flush()
    click.echo(f"note: {note}", err=True)


def way_back(number: int | None) -> None:
    """Say how something that was just removed is brought back, by its number among the removed."""
    if number is not None:
        told(f"`recommender notebook bring-back {number}` brings it back.")


def the_shelf() -> "Shelf":
    """Return the shelf as it is today; empty where there is no notebook."""
    from datetime import date

    from recommender.workspace import shelf_of

    return shelf_of(place(), date.today())
