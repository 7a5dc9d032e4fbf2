"""Copies of a notebook: backup, and putting one back."""

import os
import sqlite3
from collections.abc import Callable
from pathlib import Path

from recommender.errors import BadNotebook, BadValue
from recommender.notebook.faults import told
from recommender.notebook.store import check, connected, opened, read_only
from recommender.notebook.upgrades import newest, upgrade

Progress = Callable[[int, int], None]
"""Called with how much is done, and how much there is."""
PAGES = 256
"""How many pages are copied between two calls of progress."""


def present(path: Path) -> None:
    """Raise `BadNotebook` where there is no notebook yet."""
    if not path.exists():
        raise BadNotebook(str(path), "there is no notebook yet", "It is made with the first entry")


def backup(path: Path, copy: Path, progress: Progress | None = None) -> None:
    """Copy a notebook into one file, whatever other processes write meanwhile; the copy is checked.

    Raises
    ------
    BadNotebook, BadValue
        The copy's file is there already.
    """
    present(path)
    if copy.exists():
        raise BadValue("FILE", copy, "it is there already; name another file")
    scratch = copy.with_name(f"{copy.name}.new-{os.getpid()}")
    try:
        with told(path):
            source = read_only(path)
            try:
                check(source, path)
                with told(copy):
                    copy.parent.mkdir(parents=True, exist_ok=True)
                    target = connected(str(scratch))
                    try:
                        _copied(source, target, progress)
                        target.execute("PRAGMA journal_mode = DELETE")  # one file that can be carried away
                        _whole(target, path)
                    finally:
                        target.close()
                    os.replace(scratch, copy)
            finally:
                source.close()
    finally:
        _remove(scratch)


def restore(path: Path, copy: Path, progress: Progress | None = None) -> Path | None:
    """Put a copy in the place of a notebook; the present one is kept beside it.

    Returns where the present one is kept, None where there was none.

    Raises
    ------
    BadNotebook
        The copy is missing, damaged, newer or no notebook: nothing was changed then.
    """
    if not copy.is_file():
        raise BadNotebook(str(copy), "there is no such file", "Check the path")
    with told(copy):
        source = read_only(copy)
        try:
            held = check(source, copy)
            _whole(source, copy)
            if held < newest():
                renewed = connected(":memory:")
                source.backup(renewed)
                source.close()
                source = renewed
                upgrade(source)
            return put(path, source, "before-restore", progress)
        finally:
            source.close()


def put(path: Path, source: sqlite3.Connection, why: str, progress: Progress | None = None) -> Path | None:
    """Put a whole database in the place of a notebook, in one transaction, the present one kept beside it."""
    kept = _beside(path, why) if path.exists() else None
    with told(path):
        if kept is not None:
            try:
                backup(path, kept)
            except BadNotebook:  # damaged, or another program's: moved aside as it is, with its log
                for end in ("", "-wal", "-shm"):
                    if (part := path.with_name(path.name + end)).exists():
                        part.rename(kept.with_name(kept.name + end))
        target = opened(path)
        try:
            _copied(source, target, progress)
        finally:
            target.close()
    return kept


def _copied(source: sqlite3.Connection, target: sqlite3.Connection, progress: Progress | None) -> None:
    def step(_: int, left: int, pages: int) -> None:
        if progress:
            progress(pages - left, pages)

    source.backup(target, pages=PAGES, progress=step)


def _whole(connection: sqlite3.Connection, path: Path) -> None:
    """Raise `BadNotebook` where any page or row is damaged."""
    found = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if found != "ok" or connection.execute("PRAGMA foreign_key_check").fetchone():
        raise BadNotebook(str(path), "the file is damaged", "Take another copy")


def _beside(path: Path, why: str) -> Path:
    """Return a name beside a notebook that is not taken yet."""
    number = 1
    while (found := path.with_name(f"{path.stem}.{why}-{number}{path.suffix}")).exists():
        number += 1
    return found


def _remove(scratch: Path) -> None:
    for end in ("", "-wal", "-shm", "-journal"):
        scratch.with_name(scratch.name + end).unlink(missing_ok=True)
