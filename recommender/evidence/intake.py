"""The gate in front of the sheet reader: what is no ordinary file, or too much, is refused before it is read.

A reader of sheets opens a file with `content`, gives a workbook to `check_archive` before a library sees it,
and takes lines through `counted` (or `csv_lines`, which is counted), so that no file takes more memory or
time than a sheet of the allowed size does.
"""

import csv
import errno
import io
import os
import stat
import zipfile
from collections.abc import Iterable, Iterator
from pathlib import Path

from recommender.errors import BadTable
from recommender.evidence import demo

MOST_BYTES = 16_000_000
"""A larger file is no sheet of a formula or a shelf [bytes]."""
MOST_INFLATED = 64_000_000
"""What the members of a workbook may come to once they are inflated [bytes]."""
MOST_MEMBERS = 2_000
MOST_TAGS = 1_000_000
"""XML tags in one member of a workbook: 8,000 rows of 30 cells."""
MOST_PART_TAGS = 200_000
"""XML tags in a member that is neither a sheet nor the table of its texts: styles, names, relations."""
MOST_LINES = 100_000
"""Lines of a sheet, blank ones counted."""
MOST_CELLS = 1_000_000
LONGEST_CELL = 32_767
"""Characters in a cell (the limit of the usual spreadsheets)."""
LONGEST_SHEET = 8_000
"""More lines than this are not a formula or a shelf, blank ones aside."""
_BLOCK = 1 << 18
_LARGE_MEMBERS = ("sheet", "sharedstrings", "content.xml")
Lines = Iterable[tuple[int, list[str]]]
"""The number of a line, from 1, and its cells."""

NO_SUCH_FILE = "there is no such file"
_UNREADABLE = {
    errno.EACCES: ("it may not be read", "Give yourself the right to read it"),
    errno.EPERM: ("it may not be read", "Give yourself the right to read it"),
    errno.EISDIR: ("this is a folder", "Name the file in it"),
    errno.ELOOP: ("the link leads back to itself", "Name the file that is meant"),
    errno.ENAMETOOLONG: ("the name is too long for a file", "Check the path"),
    errno.ENOENT: (NO_SUCH_FILE, "Check the path"),
    errno.ENOTDIR: (NO_SUCH_FILE, "Check the path"),
}
_OTHER_KINDS = (
    (stat.S_ISFIFO, "this is a pipe"),
    (stat.S_ISSOCK, "this is a socket"),
    (stat.S_ISCHR, "this is a device"),
    (stat.S_ISBLK, "this is a device"),
)


def file_at(path: Path) -> Path:
    """Return where a person's file is, links followed; that of a shipped example where `path` names one.

    Raises
    ------
    BadTable
        There is no such file, it is no ordinary file, or it cannot be opened; gives the reason.
    """
    try:
        found = path.resolve(strict=True)
        if problem := other_kind(found.stat().st_mode):
            raise BadTable(str(path), problem, remedy="Name an ordinary file")
        if found.is_file():
            with found.open("rb"):
                return found
        code = errno.EISDIR if found.is_dir() else None
    except RuntimeError:  # before Python 3.13 this means a link that leads back to itself
        code = errno.ELOOP
    except ValueError:  # a zero byte in the name
        code = errno.ENOENT
    except OSError as error:
        code = error.errno
        if code == errno.ENOENT and (shipped := demo.example(path)):
            return shipped
        if code == errno.ENOENT and path.is_symlink():
            raise BadTable(
                str(path), "the link leads to no file", remedy="Name the file that is meant"
            ) from None
    problem, remedy = _UNREADABLE.get(code or 0, ("it cannot be read", "Name an ordinary file"))
    raise BadTable(str(path), problem, remedy=remedy)


def other_kind(mode: int) -> str:
    """Return what a file is that is neither an ordinary file nor a folder, blank otherwise.

    >>> other_kind(stat.S_IFIFO), other_kind(stat.S_IFREG)
    ('this is a pipe', '')
    """
    return next((name for is_kind, name in _OTHER_KINDS if is_kind(mode)), "")


def content(path: Path) -> bytes:
    """Return the bytes of an ordinary file, at most `MOST_BYTES`.

    Raises
    ------
    BadTable
        See `file_at`; or the file is too large.
    """
    found = file_at(path)
    # what has become a pipe since then neither blocks here nor is read
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    with open(os.open(found, flags), "rb") as file:
        if problem := other_kind(os.fstat(file.fileno()).st_mode):
            raise BadTable(str(path), problem, remedy="Name an ordinary file")
        data = file.read(MOST_BYTES + 1)
    check_size(path.name, len(data))
    return data


def check_size(name: str, size: int) -> None:
    """Raise `BadTable` where a file of so many bytes is no sheet."""
    if size > MOST_BYTES:
        problem = f"more than {MOST_BYTES / 1e6:g} MB are too much for a sheet"
        raise BadTable(name, problem, remedy="Save only the sheet that is meant, without pictures")


def check_archive(name: str, data: bytes) -> None:
    """Refuse a workbook (a zip archive of XML) that would be too much once it is inflated.

    The sizes that its members state are summed before one is opened; then each is inflated block by block,
    and its bytes and tags are counted.

    Raises
    ------
    BadTable
        It is no whole archive, or too much.
    """
    check_size(name, len(data))
    large = BadTable(
        name,
        f"the workbook is too large once it is unpacked (at most {MOST_INFLATED / 1e6:g} MB)",
        remedy="Save the sheet that is meant as CSV",
    )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = archive.infolist()
            if len(members) > MOST_MEMBERS:
                problem = f"a workbook of more than {MOST_MEMBERS} parts"
                raise BadTable(name, problem, remedy="Save the sheet that is meant as CSV")
            if sum(member.file_size for member in members) > MOST_INFLATED:
                raise large
            left = MOST_INFLATED
            for member in members:
                lower = member.filename.lower()
                tags = MOST_TAGS if any(part in lower for part in _LARGE_MEMBERS) else MOST_PART_TAGS
                markup = lower.endswith((".xml", ".rels", ".vml"))
                with archive.open(member) as file:
                    while block := file.read(_BLOCK):
                        left -= len(block)
                        tags -= block.count(b"<") if markup else 0
                        if left < 0:
                            raise large
                        if tags < 0:
                            problem = f"too many cells or formats in {member.filename[:60]}"
                            raise BadTable(name, problem, remedy="Save the sheet that is meant as CSV")
                        if markup and b"<!DOCTYPE" in block:
                            raise BadTable(name, "this is not a workbook", remedy="Save it as CSV or XLSX")
    except BadTable:
        raise
    except Exception:  # a damaged archive makes the reader fail in many ways
        raise BadTable(name, "this is not a workbook", remedy="Save it as CSV or XLSX") from None


def counted(name: str, lines: Lines) -> Iterator[tuple[int, list[str]]]:
    """Yield the lines of a sheet that are not blank, counting all of them while they are read.

    Raises
    ------
    BadTable
        With the line: too many lines, filled lines or cells, or a cell that is too long.
    """
    filled = cells_read = 0
    for line, cells in lines:
        cells_read += len(cells)
        if line > MOST_LINES:
            problem = f"more than {MOST_LINES} lines, blank ones counted"
            remedy = "Delete the blank lines below the table, or save the sheet in parts"
            raise BadTable(name, problem, line=line, remedy=remedy)
        if cells_read > MOST_CELLS:
            remedy = "Save only the columns that are meant"
            raise BadTable(name, f"more than {MOST_CELLS} cells", line=line, remedy=remedy)
        if any(len(cell) > LONGEST_CELL for cell in cells):
            raise too_long(name, line)
        if any(cell.strip() for cell in cells):
            filled += 1
            if filled > LONGEST_SHEET:
                problem = f"more than {LONGEST_SHEET} lines are too many for a formula or a shelf"
                raise BadTable(name, problem, line=line, remedy="Save the sheet in parts")
            yield line, cells


def too_long(name: str, line: int) -> BadTable:
    """Return the error for a cell that is too long."""
    problem = f"a cell has more than {LONGEST_CELL} characters"
    return BadTable(name, problem, line=line, remedy="Shorten it, or look for a quote that is not closed")


def csv_lines(name: str, text: str, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """Yield the lines of a CSV text that are not blank; errors as `counted`."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    read = 0

    def lines() -> Iterator[tuple[int, list[str]]]:
        nonlocal read
        for cells in reader:
            read = reader.line_num
            yield read, cells

    try:
        yield from counted(name, lines())
    except csv.Error as error:  # in the line after the last that was read
        if "field limit" in str(error):
            raise too_long(name, read + 1) from None
        raise BadTable(name, f"not a table: {error}", line=read + 1) from None
