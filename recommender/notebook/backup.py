"""Copies of a notebook: backup, and putting one back."""

import os
import re
import sqlite3
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from recommender.errors import BadNotebook, BadValue
from recommender.notebook.faults import code_of, worded
from recommender.notebook.foreign import check_rows
from recommender.notebook.migrations import newest, upgrade
from recommender.notebook.store import (
    check,
    check_kind,
    connected,
    new_file,
    opened,
    read_only,
    sync_fully,
    tables,
)

Progress = Callable[[int, int], None]
"""Called with how much is done, and how much there is."""
PAGES = 256
"""How many pages are copied between two calls of progress."""
MOST_ASIDE = 10
"""How many notebooks that were replaced are left, for each way of replacing."""
ROWS = 500
"""How many rows are put in place between two calls of progress."""


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
    if os.path.lexists(copy):
        raise BadValue("FILE", copy, "it is there already; name another file")
    scratch = copy.with_name(f"{copy.name}.new-{os.getpid()}")
    try:
        with worded(path):
            source = read_only(path)
            try:
                check(source, path)
                with worded(copy):
                    copy.parent.mkdir(parents=True, exist_ok=True)
                    new_file(scratch)
                    target = connected(str(scratch))
                    try:
                        sync_fully(target)
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
    """Put a copy in the place of a notebook; the present one is moved beside it.

    Of those that were moved aside the last `MOST_ASIDE` are left.

    Returns where the present one is, None where there was none.

    Raises
    ------
    BadNotebook
        The copy is missing, damaged, newer or no notebook of ours: nothing was changed then.
    """
    check_kind(copy)
    if not copy.is_file():
        raise BadNotebook(str(copy), "there is no such file", "Check the path")
    with worded(copy):
        source = read_only(copy)
        try:
            step = check(source, copy)
            _whole(source, copy)
            if step < newest():
                renewed = connected(":memory:")
                source.backup(renewed)
                source.close()
                source = renewed
                upgrade(source)
            check_rows(source, copy)
            return put(path, source, "before-restore", progress)
        finally:
            source.close()


def put(path: Path, source: sqlite3.Connection, why: str, progress: Progress | None = None) -> Path | None:
    """Put the rows of a whole, up-to-date database in the place of those of a notebook.

    Other processes may be writing to it: no row that one of them has saved falls between the copy that is
    made of the present notebook and its replacement, because both are done under one lock. A notebook that is
    damaged or another program's is moved aside as it is, with its log.

    Returns where the present one is, None where there was none.
    """
    check_kind(path)
    try:
        target, aside = _locked(path, why)
    except BadNotebook as error:
        if not _unusable(error):
            raise
        with worded(path):
            aside = _moved_aside(path, why)
        target, _ = _locked(path, why)
    with worded(path):
        try:
            _replace_rows(source, target, progress)
            target.execute("COMMIT")
        finally:
            target.close()  # without a commit all stays as it was
    _drop_oldest(path, why)
    return aside


def _locked(path: Path, why: str) -> tuple[sqlite3.Connection, Path | None]:
    """Open a notebook with a transaction that keeps other writers out, and copy it into a file beside it."""
    with worded(path):
        there = path.exists()
        connection = opened(path)
        try:
            connection.execute("PRAGMA foreign_keys = OFF")  # rows come table by table
            connection.execute("BEGIN IMMEDIATE")
            filled = any(
                connection.execute(f"SELECT 1 FROM {x} LIMIT 1").fetchone() for x in tables(connection)
            )
            aside = _beside(path, why) if there or filled else None
            if aside is not None:
                backup(path, aside)
        except BaseException:
            connection.close()
            raise
    return connection, aside


def _unusable(error: BadNotebook) -> bool:
    """Tell whether a notebook is damaged or not ours, rather than in use or on a disk that refuses."""
    cause = error.__cause__
    damaged = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
    return cause is None or (isinstance(cause, sqlite3.Error) and code_of(cause) in damaged)


def _moved_aside(path: Path, why: str) -> Path:
    aside = _beside(path, why)
    for end in ("", "-wal", "-shm"):
        if (part := path.with_name(path.name + end)).exists():
            part.rename(aside.with_name(aside.name + end))
    return aside


def _replace_rows(source: sqlite3.Connection, target: sqlite3.Connection, progress: Progress | None) -> None:
    """Put the rows of one database in the place of those of another with the same tables."""
    known = tables(target)
    if not source.in_transaction:
        source.execute("BEGIN")  # one view of the whole
    total = sum(source.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in known)
    done = 0
    for table, columns in known.items():
        target.execute(f"DELETE FROM {table}")
        names, marks = ", ".join(columns), ", ".join("?" * len(columns))
        rows = source.execute(f"SELECT {names} FROM {table} ORDER BY rowid")
        while block := rows.fetchmany(ROWS):
            target.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", block)
            done += len(block)
            if progress:
                progress(done, total)
    source.execute("COMMIT")


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
    """Return a name beside a notebook that is not taken yet, numbered after the last."""
    number = max(_set_aside(path, why), default=0) + 1
    return path.with_name(f"{path.stem}.{why}-{number}{path.suffix}")


def _set_aside(path: Path, why: str) -> dict[int, Path]:
    """Return the notebooks that were set aside for this reason, by their numbers."""
    named = re.compile(rf"{re.escape(f'{path.stem}.{why}-')}(\d+){re.escape(path.suffix)}")
    beside = path.parent.iterdir() if path.parent.is_dir() else ()
    return {int(match[1]): other for other in beside if (match := named.fullmatch(other.name))}


def _drop_oldest(path: Path, why: str) -> None:
    """Leave the last `MOST_ASIDE` of the notebooks that were set aside for this reason."""
    found = _set_aside(path, why)
    for number in sorted(found)[:-MOST_ASIDE]:
        with suppress(OSError):
            _remove(found[number])
            found[number].unlink()


def _remove(scratch: Path) -> None:
    for end in ("", "-wal", "-shm", "-journal"):
        scratch.with_name(scratch.name + end).unlink(missing_ok=True)
