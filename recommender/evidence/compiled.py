"""The tables as one file that is read in a tenth of the time: what was read from them, column by column.

The file is JSON, so that nothing in it can run, and is as good as the files that it was made from: it names
each with its stamp, and where one stamp differs it is not used. Nothing needs it.
"""

import json
import os
import stat
import time
import zlib
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

FORMAT = 1
LARGEST = 50_000_000
"""A larger file is not ours [bytes]."""
SETTLED_S = 2.0
"""A file that was changed less long ago may change again without another stamp [s]."""

LEFT_OUT: Mapping[str, Any] = {"compiled": False}
"""Metadata of a field that is not written: one of the last of its class, with a default."""

Stamps = dict[str, list[int]]
"""What differs, of each file, once it has been changed or replaced."""


def place(folder: Path) -> Path | None:
    """Return where the compiled form of a folder's tables belongs, None where the user has no cache folder.

    It is below the user's own home: in a folder that others share, a file could be somebody else's.
    """
    from platformdirs import user_cache_path

    name = f"tables-{zlib.crc32(os.fsencode(folder.absolute())):08x}.json"  # each installation has its own
    file = user_cache_path("recommender", appauthor=False) / name
    return file if file.is_absolute() else None


def stamps(paths: Iterable[str | Path]) -> Stamps:
    """Return the stamps of files as they are now, empty where one is missing."""
    try:
        found = {os.path.abspath(path): os.stat(path) for path in paths}
    except OSError:
        return {}
    return {path: [of.st_ino, of.st_size, of.st_mtime_ns, of.st_ctime_ns] for path, of in found.items()}


def read(file: Path, classes: Mapping[str, type]) -> Any | None:
    """Return what was written, None where the file is missing, outdated, damaged or not the person's own.

    Parameters
    ----------
    file : Path
    classes : mapping of str to type
        The dataclasses that may be made, by name; the last table of the file has the one object to return.
    """
    try:
        head, body = _content(file).split(b"\n", 1)
        known = json.loads(head)
        if known["format"] != FORMAT or known["checksum"] != zlib.crc32(body):
            return None
        if not known["made_from"] or stamps(known["made_from"]) != known["made_from"]:
            return None
        return _objects(json.loads(body), classes)
    except (OSError, ValueError, TypeError, LookupError, AttributeError, RecursionError, MemoryError):
        return None


def write(file: Path, found: object, made_from: Stamps) -> None:
    """Write what was read from some files, beside its place and then in one step; silent where that fails.

    Nothing is written while one of the files is so new that a second change might leave its stamp as it is.

    Parameters
    ----------
    made_from : mapping
        The stamps of the files before they were read.
    """
    changed_ns = max((max(then[2:]) for then in made_from.values()), default=None)
    if changed_ns is None or changed_ns / 1e9 > time.time() - SETTLED_S:
        return
    writer = _Writer()
    with suppress(OSError):
        from tempfile import mkstemp

        file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        number, name = mkstemp(dir=file.parent, prefix=file.name)  # for its owner alone, mode 0600
        try:
            with os.fdopen(number, "wb") as out:
                writer.place(found)
                body = json.dumps(writer.tables(), separators=(",", ":"), ensure_ascii=False).encode()
                head = {"format": FORMAT, "checksum": zlib.crc32(body), "made_from": made_from}
                out.write(json.dumps(head).encode() + b"\n" + body)
            os.replace(name, file)
        except BaseException:
            os.unlink(name)
            raise


def _content(file: Path) -> bytes:
    """Return the bytes of a file that nobody but this user can have written; raises `OSError`."""
    flags = (
        os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    )
    with open(os.open(file, flags), "rb") as opened:
        found = os.fstat(opened.fileno())
        own = not hasattr(os, "getuid") or (found.st_uid == os.getuid() and not found.st_mode & 0o022)
        if not stat.S_ISREG(found.st_mode) or found.st_size > LARGEST or not own:
            raise OSError(f"{file} is not used")
        return opened.read()


# A table is a class with its columns, a column is a kind with its cells. Equal objects are one row of the
# table of their class. A cell is by its kind: "plain" itself; "tuple" a tuple of plain values; "one Class" a
# row of that class, or None; "many Class" a tuple of rows; "named Class" tuples of rows by name; "vectors"
# tuples by name; "pairs" a mapping whose keys are tuples.

Table = tuple[str, list[tuple[str, list[Any]]]]


class _Writer:
    """Puts objects into tables, each class after those that its objects refer to."""

    def __init__(self) -> None:
        self._rows: dict[str, list[list[Any]]] = {}
        self._kinds: dict[str, list[str]] = {}
        self._places: dict[str, int] = {}

    def tables(self) -> list[Table]:
        """Return the tables of all objects so far."""
        ordered: dict[str, None] = {}

        def add(name: str) -> None:
            for kind in self._kinds[name]:
                if (below := kind.partition(" ")[2]) and below not in ordered:
                    add(below)
            ordered[name] = None

        for name in self._rows:
            add(name)
        columns = {name: map(list, zip(*self._rows[name], strict=True)) for name in ordered}
        return [(name, list(zip(self._kinds[name], columns[name], strict=True))) for name in ordered]

    def place(self, found: Any) -> int:
        """Return the row of an object in the table of its class."""
        name = type(found).__name__
        kinds, cells = zip(*(self._cell(getattr(found, name)) for name in _written(found)), strict=True)
        known = self._kinds.setdefault(name, ["plain"] * len(kinds))
        self._kinds[name] = [max(pair, key=_rank) for pair in zip(known, kinds, strict=True)]
        rows = self._rows.setdefault(name, [])
        key = f"{name} {cells!r}"
        if key not in self._places:
            self._places[key] = len(rows)
            rows.append(list(cells))
        return self._places[key]

    def _cell(self, value: Any) -> tuple[str, Any]:
        if is_dataclass(value):
            return f"one {type(value).__name__}", self.place(value)
        if isinstance(value, tuple):
            if value and is_dataclass(value[0]):
                return f"many {type(value[0]).__name__}", [self.place(one) for one in value]
            return "tuple", list(value)
        if isinstance(value, Mapping) and value:
            first = next(iter(value.values()))
            if isinstance(next(iter(value)), tuple):
                return "pairs", [[list(key), one] for key, one in value.items()]
            if isinstance(first, tuple) and is_dataclass(first[0]):
                kind = f"named {type(first[0]).__name__}"
                return kind, {key: [self.place(one) for one in many] for key, many in value.items()}
            if isinstance(first, tuple):
                return "vectors", {key: list(one) for key, one in value.items()}
        return "plain", value


def _written(found: Any) -> list[str]:
    """Return the names of the fields of an object that are written."""
    return [f.name for f in fields(found) if f.metadata != LEFT_OUT]


def _rank(kind: str) -> int:
    """Return which of two kinds says more: an empty cell may be of either."""
    return ("plain", "tuple").index(kind) if kind in ("plain", "tuple") else 2


def _objects(tables: Sequence[Any], classes: Mapping[str, type]) -> Any:
    """Return the one object of the last table."""
    made: dict[str, list[Any]] = {}
    for name, columns in tables:
        made[name] = list(map(classes[name], *(_column(kind, cells, made) for kind, cells in columns)))
    (found,) = made[tables[-1][0]]
    return found


def _column(kind: str, cells: list[Any], made: Mapping[str, list[Any]]) -> Iterable[Any]:
    what, _, name = kind.partition(" ")
    match what:
        case "plain":
            return cells
        case "tuple":
            return map(tuple, cells)
        case "pairs":
            return [{tuple(key): one for key, one in cell} for cell in cells]
        case "vectors":
            return [{key: tuple(one) for key, one in cell.items()} for cell in cells]
    row = made[name].__getitem__
    match what:
        case "one":
            return [None if cell is None else row(cell) for cell in cells]
        case "many":
            return [tuple(map(row, cell)) for cell in cells]
        case "named":
            return [{key: tuple(map(row, many)) for key, many in cell.items()} for cell in cells]
    raise ValueError(kind)
