"""Errors of a database or a disk, each as one line for a person."""

import errno
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from recommender.errors import BadNotebook

ROOM = 64 * 1024
"""Bytes that the log and its index need at least."""
REMEDY = "Put a copy back: recommender notebook restore FILE"


def code_of(error: sqlite3.Error) -> int:
    """Return the primary result code of an error."""
    return int(getattr(error, "sqlite_errorcode", 0)) & 0xFF


_PROBLEMS = {
    sqlite3.SQLITE_BUSY: (
        "another process has been writing to it for long; nothing was changed",
        "Wait a moment and ask again",
    ),
    sqlite3.SQLITE_FULL: ("the disk is full; nothing was changed", "Make room and ask again"),
    sqlite3.SQLITE_IOERR: ("the disk refuses to be written or read; nothing was changed", "Check the disk"),
    sqlite3.SQLITE_READONLY: (
        "it cannot be written; nothing was changed",
        "Make the file and its folder writable, or name another with --notebook",
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "it cannot be opened",
        "Make the file and its folder readable and writable, or name another with --notebook",
    ),
    sqlite3.SQLITE_CORRUPT: ("the file is damaged or cut short", REMEDY),
    sqlite3.SQLITE_NOTADB: ("this is not a notebook, or it is damaged", REMEDY),
}

_CODES = {
    errno.EACCES: sqlite3.SQLITE_CANTOPEN,
    errno.EPERM: sqlite3.SQLITE_CANTOPEN,
    errno.ENOSPC: sqlite3.SQLITE_FULL,
    errno.EDQUOT: sqlite3.SQLITE_FULL,
    errno.EROFS: sqlite3.SQLITE_READONLY,
}
"""Error of the system -> that of the database which means the same."""


def _no_room(path: Path) -> bool:
    """Tell whether the disk of a notebook has no room for its log."""
    with suppress(OSError):
        return shutil.disk_usage(path.parent).free < ROOM
    return False


@contextmanager
def worded(path: Path) -> Iterator[None]:
    """Word an error of the database or the disk as one line for a person; raises `BadNotebook`."""
    try:
        yield
    except sqlite3.Error as error:
        code = code_of(error)
        if code == sqlite3.SQLITE_IOERR and _no_room(path):
            code = sqlite3.SQLITE_FULL
        problem, remedy = _PROBLEMS.get(code, (f"it was refused: {error}; nothing was changed", ""))
        raise BadNotebook(str(path), problem, remedy) from error
    except OSError as error:
        if error.filename is None or not str(error.filename).startswith(str(path.parent)):
            raise
        if error.errno in _CODES:
            raise BadNotebook(str(path), *_PROBLEMS[_CODES[error.errno]]) from error
        why = (error.strerror or str(error)).lower()
        raise BadNotebook(str(path), f"{why}; nothing was changed", "Name another with --notebook") from error
    except UnicodeEncodeError as error:
        raise BadNotebook(
            str(path), "a text has characters that cannot be stored; nothing was changed"
        ) from error
