"""The options --notebook, --quiet and --sheet, and the workspace of a call."""

import os
from typing import TYPE_CHECKING

import click

from recommender.cli.commands import Option, given_twice, option

if TYPE_CHECKING:
    from pathlib import Path

    from recommender.workspace import Workspace

NOTEBOOK = "recommender.notebook"
"""Key of the value of the option in `click.Context.meta`."""
SHEET = "recommender.sheet"
"""Key of the sheet of a workbook in `click.Context.meta`."""
QUIET = "recommender.quiet"
"""Key of whether notes are left out, in `click.Context.meta`."""
WORKSPACE = "recommender.workspace"
"""Key of the workspace of the call in `click.Context.meta`."""


def _store(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
    if value is None:
        return
    if (given := ctx.meta.setdefault(NOTEBOOK, value)) != value:
        raise click.UsageError(given_twice("--notebook", (given, value)), ctx)


def notebook_option() -> click.Option:
    """Return the option of every command that names another notebook."""
    return Option(
        ["--notebook"],
        metavar="PATH",
        expose_value=False,
        callback=_store,
        help="Your notebook.  [default: $RECOMMENDER_NOTEBOOK, or the data folder]",
    )


def _store_quiet(ctx: click.Context, param: click.Parameter, value: bool) -> None:
    if value:
        ctx.meta[QUIET] = True


def quiet_option() -> click.Option:
    """Return the option of every command that leaves out notes."""
    return Option(
        ["-q", "--quiet"],
        is_flag=True,
        expose_value=False,
        callback=_store_quiet,
        help="Leave out notes and progress; errors and the answer stay.",
    )


def _store_sheet(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
    ctx.meta[SHEET] = value or ""


sheet_option = option(
    "--sheet",
    metavar="NAME",
    expose_value=False,
    callback=_store_sheet,
    help="The sheet to read of a workbook.  [default: the active one]",
)
"""Declares the option of the commands that read a file."""


def notebook_file(context: click.Context | None = None) -> "Path":
    """Return the path of the notebook of this call; the file need not be there."""
    from recommender.open_notebook import notebook_path

    context = context or click.get_current_context(silent=True)
    return notebook_path(context.meta.get(NOTEBOOK) if context else None, os.environ)


def workspace(context: click.Context | None = None) -> "Workspace":
    """Return the workspace of this call; the same one for the whole command."""
    from recommender.workspace import Workspace

    context = context or click.get_current_context(silent=True)
    if context is None:
        return Workspace(notebook_file())
    if WORKSPACE not in context.meta:
        sheet = context.meta.get(SHEET, "")
        context.meta[WORKSPACE] = Workspace(notebook_file(context), sheet=sheet)
    found: Workspace = context.meta[WORKSPACE]
    return found
