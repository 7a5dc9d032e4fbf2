"""One SQLite file: opened, brought up to date step by step, read, and written in whole transactions."""

import errno
import os
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from recommender.errors import BadNotebook
from recommender.evidence.intake import other_kind
from recommender.notebook import is_missing
from recommender.notebook.faults import REMEDY, code_of, worded
from recommender.notebook.foreign import check_schema, defend
from recommender.notebook.migrations import APPLICATION_ID, newest, upgrade, version

OWNER_ONLY = stat.S_IRUSR | stat.S_IWUSR
OTHERS = stat.S_IRWXG | stat.S_IRWXO
WAIT_S = 20.0
"""How long one process waits for another that is writing [s]."""


def connected(name: str, *, uri: bool = False) -> sqlite3.Connection:
    """Return a connection whose transactions are opened and closed by hand; rows know their columns."""
    connection = sqlite3.connect(name, uri=uri, timeout=WAIT_S, isolation_level=None)
    connection.row_factory = sqlite3.Row
    connection.execute("PRAGMA foreign_keys = ON")
    defend(connection)
    return connection


def check_kind(path: Path) -> None:
    """Raise `BadNotebook` where a path is neither that of an ordinary file nor free for one."""
    try:
        mode = path.stat().st_mode
    except OSError as error:
        if path.is_symlink():
            problem = (
                "the link leads back to itself" if error.errno == errno.ELOOP else "the link leads to no file"
            )
            raise BadNotebook(str(path), problem, "Name the file that is meant") from None
        if error.errno == errno.ENAMETOOLONG:
            raise BadNotebook(str(path), "the name is too long for a file", "Give it a shorter one") from None
        return
    if stat.S_ISDIR(mode):
        raise BadNotebook(str(path), "this is a folder", "Name a file in it")
    if problem := other_kind(mode):
        raise BadNotebook(str(path), problem, "Name an ordinary file")


def new_file(path: Path) -> None:
    """Make an empty file that its owner alone may read; SQLite gives its log and index the same rights."""
    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, OWNER_ONLY))


def close_to_others(path: Path) -> None:
    """Take from others the right to read a notebook that an earlier version made; it may be another's."""
    for end in ("", "-wal", "-shm"):
        with suppress(OSError):
            part = path.with_name(path.name + end)
            mode = stat.S_IMODE(part.stat().st_mode)
            if mode & OTHERS:
                part.chmod(mode & ~OTHERS)


def sync_fully(connection: sqlite3.Connection) -> None:
    """Let each commit wait for the disk, also where SQLite was built to wait for less."""
    connection.execute("PRAGMA synchronous = FULL")


def check(connection: sqlite3.Connection, path: Path) -> int:
    """Return the schema step of an open notebook.

    Raises
    ------
    BadNotebook
        It is no ordinary file, another program's, of a newer step than is known here, or has more in it
        than a notebook of its step.
    """
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        if path.is_file() and path.stat().st_size == 0:
            raise BadNotebook(str(path), "the file is empty", REMEDY)
        raise BadNotebook(
            str(path), "this is a database of another program", "Name another file with --notebook"
        )
    step, known = version(connection), newest()
    if step > known:
        problem = f"a newer version of this program wrote it (step {step}; here {known} is the last)"
        raise BadNotebook(str(path), problem, "Update the program; nothing was changed")
    check_schema(connection, path, step)
    pages = connection.execute("PRAGMA page_count").fetchone()[0]
    waiting = path.with_name(path.name + "-wal")
    if not (waiting.exists() and waiting.stat().st_size):  # else the last pages may still be in the log
        whole = pages * connection.execute("PRAGMA page_size").fetchone()[0]
        if path.stat().st_size < whole:  # the library itself does not see that a last page is cut
            raise BadNotebook(str(path), "the file is damaged or cut short", REMEDY)
    return step


def tables(db: sqlite3.Connection) -> dict[str, dict[str, str]]:
    """Return every table with its columns and their types, a table after those that it refers to."""
    names = db.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY rowid")
    return {
        name: {row["name"]: row["type"] for row in db.execute(f"PRAGMA table_info({name})")}
        for name in [row[0] for row in names]
        if not name.startswith("sqlite_")
    }


@contextmanager
def reading(path: Path) -> Iterator[sqlite3.Connection | None]:
    """Open a notebook to read; None where there is no file.

    An older notebook is brought up to date in memory; the file is left as it is.

    Raises
    ------
    BadNotebook
    """
    if is_missing(path):
        yield None
        return
    with worded(path):
        connection = read_only(path)
        try:
            if check(connection, path) < newest():
                copy = connected(":memory:")
                connection.backup(copy)
                connection.close()
                connection = copy
                upgrade(connection)
            connection.execute("BEGIN")  # one view of the whole, whatever others write meanwhile
            yield connection
        finally:
            connection.close()


def read_only(path: Path) -> sqlite3.Connection:
    """Return a connection that changes nothing, in a folder that cannot be written too."""
    check_kind(path)
    name = path.absolute().as_uri()
    connection = connected(f"{name}?mode=ro", uri=True)
    try:
        version(connection)
    except sqlite3.OperationalError as error:
        connection.close()
        # in a closed folder, or on a full disk, the log cannot be opened; without a log the file is whole
        waiting = path.with_name(path.name + "-wal")
        closed = (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_FULL)
        if code_of(error) not in closed or not os.access(path, os.R_OK):
            raise
        if waiting.exists() and waiting.stat().st_size:
            problem = f"its last changes wait in {waiting.name}, and the folder cannot be written"
            raise BadNotebook(str(path), problem, "Make the folder writable once") from None
        return connected(f"{name}?immutable=1", uri=True)
    return connection


@contextmanager
def writing(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a notebook for one transaction, made if it is not there: all of it is stored, or nothing.

    Raises
    ------
    BadNotebook
    """
    with worded(path):
        connection = opened(path)
        try:
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield connection
                connection.execute("COMMIT")
            except BaseException:
                with suppress(sqlite3.Error):  # a full disk has rolled back already
                    connection.execute("ROLLBACK")
                raise
        finally:
            connection.close()


def opened(path: Path) -> sqlite3.Connection:
    """Return a connection to an up-to-date notebook that may be written; made if it is not there."""
    check_kind(path)
    if not path.exists():
        _create(path)
    close_to_others(path)
    connection = connected(path.absolute().as_uri() + "?mode=rw", uri=True)
    try:
        step = check(connection, path)
        sync_fully(connection)
        if step < newest():
            upgrade(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def _create(path: Path) -> None:
    """Make an empty notebook beside its place and move it there: it is whole or not there at all."""
    path.parent.mkdir(parents=True, exist_ok=True, mode=stat.S_IRWXU)
    scratch = path.with_name(f"{path.name}.new-{os.getpid()}")
    try:
        new_file(scratch)
        connection = connected(str(scratch))
        try:
            sync_fully(connection)
            upgrade(connection)
            connection.execute("PRAGMA journal_mode = WAL")
        finally:
            connection.close()
        try:
            os.link(scratch, path)  # unlike a rename, never puts it over one that another process made
        except FileExistsError:
            pass
        except OSError:  # a file system without links
            if not path.exists():
                scratch.rename(path)
    finally:
        for name in (scratch.name, f"{scratch.name}-wal", f"{scratch.name}-shm", f"{scratch.name}-journal"):
            path.with_name(name).unlink(missing_ok=True)
