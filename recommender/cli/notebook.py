"""notebook: where the person's own data are stored, and copies of them."""

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
from click.shell_completion import CompletionItem

from recommender.cli import printing
from recommender.cli.commands import Whole, group, option
from recommender.cli.notebook_option import notebook_file, workspace
from recommender.cli.options import output_format
from recommender.errors import BadNotebook


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


STORED = {
    "bottles": "bottles",
    "labels": "labels of bottles",
    "materials": "materials of your own",
    "notes": "descriptions of smells",
    "formulas": "formulas",
    "formula_versions": "versions of formulas",
    "trials": "trials",
    "trial_readings": "readings of trials",
    "strips": "strips of single materials",
    "limits": "limits",
    "drafts": "formulas on the page",
    "removed": "removed entries",
}
"""What a person stores, by table; the rest belongs to these."""


@notebook.command(epilog="Example: recommender notebook where")
def where() -> int:
    """Show the path of your notebook, and what it contains."""
    from recommender.notebook.csv_folder import counts

    click.echo(notebook_file())
    with workspace().reading() as db:
        if db is None:
            printing.note("it does not exist yet; it is created with the first entry.")
            return 0
        stored = counts(db)
    there = [f"  {what}: {stored[table]}" for table, what in STORED.items() if stored.get(table)]
    if not there:
        printing.note("nothing is stored in it yet.")
    printing.lines(there)
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


def complete_removed(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete the numbers of removed entries, each with what it was."""
    from recommender.output import removed_words

    try:
        here = workspace(ctx)
        rows = [removed_words.row(one, here.palette.catalogue) for one in here.removed.entries()]
    except BadNotebook:
        return []
    texts = [(str(row["number"]), f"{row['kind']} {row['what']}") for row in rows]
    return [CompletionItem(number, help=what) for number, what in texts if number.startswith(incomplete)]


@notebook.command("bring-back", epilog="Example: recommender notebook bring-back 1")
@click.argument("number", type=Whole(1), shell_complete=complete_removed)
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
