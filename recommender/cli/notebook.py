"""notebook: where the person's own data are stored, and copies of them."""

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click

from recommender.cli import printing
from recommender.cli.commands import Whole, group, option
from recommender.cli.notebook_option import notebook_file, workspace
from recommender.cli.options import output_format


@group(epilog="Example: recommender notebook where")
def notebook() -> None:
    """Copy, restore and inspect your notebook.

    It stores your shelf, nose, materials, formulas and trials in one file.
    """


@contextlib.contextmanager
def _bar(label: str) -> Iterator[Callable[[int, int], None]]:
    """Show the progress of a long job on stderr: a bar on a terminal, one line elsewhere."""
    import sys

    if printing.quiet():
        yield lambda done, total: None
        return
    with contextlib.ExitStack() as stack:
        bars: list[Any] = []

        def progress(done: int, total: int) -> None:
            if not bars:
                bar = click.progressbar(length=total, label=label, file=sys.stderr)
                bars.append(stack.enter_context(bar))
            bars[0].update(done - bars[0].pos)

        yield progress


@notebook.command(epilog="Example: recommender notebook where")
def where() -> int:
    """Show the path of your notebook, and what it contains."""
    from recommender.notebook.csv_folder import counts

    click.echo(notebook_file())
    with workspace().reading() as db:
        if db is None:
            printing.note("it does not exist yet; it is created with the first entry.")
            return 0
        for table, rows in counts(db).items():
            click.echo(f"  {table.replace('_', ' ')}: {rows}")
    return 0


@notebook.command(epilog="Example: recommender notebook backup notebook-copy.sqlite")
@click.argument("file", type=click.Path())
def backup(file: str) -> int:
    """Copy your notebook to FILE, even while other programs write to it."""
    from recommender.notebook import backup as copies

    with _bar("backup") as progress:
        copies.backup(notebook_file(), Path(file), progress)
    click.echo(f"copied to {file}")
    return 0


@notebook.command(epilog="Example: recommender notebook restore notebook-copy.sqlite")
@click.argument("file", type=click.Path())
def restore(file: str) -> int:
    """Replace your notebook by a copy; the present one is moved to a file beside it."""
    from recommender.notebook import backup as copies

    with _bar("restore") as progress:
        moved = copies.restore(notebook_file(), Path(file), progress)
    click.echo(f"restored from {file}" + (f"; the previous notebook is now {moved}" if moved else ""))
    return 0


@notebook.command(epilog="Example: recommender notebook export my-notebook")
@click.argument("folder", type=click.Path())
def export(folder: str) -> int:
    """Export your notebook to a FOLDER of CSV files for a spreadsheet."""
    from recommender.notebook import csv_folder

    with _bar("export") as progress:
        counts = csv_folder.export(notebook_file(), Path(folder), progress)
    click.echo(f"{sum(counts.values())} rows written to {folder}")
    return 0


@notebook.command("import", epilog="Example: recommender notebook import my-notebook --replace")
@click.argument("folder", type=click.Path())
@option("--replace", is_flag=True, help="Replace a notebook that is not empty.")
def import_(folder: str, replace: bool) -> int:
    """Import an exported FOLDER: all of it, or nothing if a file cannot be read."""
    from recommender.notebook import csv_folder

    with _bar("import") as progress:
        counts, moved, notes = csv_folder.import_folder(
            notebook_file(), Path(folder), replace=replace, progress=progress
        )
    previous = f"; the previous notebook is now {moved}" if moved else ""
    click.echo(f"{sum(counts.values())} rows imported{previous}")
    printing.notes(notes)
    return 0


@notebook.command(epilog="Example: recommender notebook removed")
@output_format
def removed(form: str) -> int:
    """List what was removed or replaced, the latest first; all of it can be brought back."""
    from recommender.output import removed_words

    here = workspace()
    rows = [removed_words.row(one, here.palette.catalogue) for one in here.removed.entries()]
    empty = "nothing was removed."
    return printing.listed(rows, form, removed_words.COLUMNS, removed_words.HEADS, empty, ("what",))


@notebook.command("bring-back", epilog="Example: recommender notebook bring-back 1")
@click.argument("number", type=Whole(1))
def bring_back(number: int) -> int:
    """Bring back the removed entry NUMBER unchanged.

    If a newer description or material has replaced it, that one is removed instead.
    """
    from recommender.output import removed_words

    here = workspace()
    found = here.removed.bring_back(number)
    row = removed_words.row(found, here.palette.catalogue)
    click.echo(f"brought back: {row['kind']} {row['what']}")
    return 0


COMMANDS = (notebook,)
