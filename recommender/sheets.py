"""Tables as files: rows with their place, so that an error can name the line."""

import csv
import errno
import hashlib
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from recommender.cells import content, from_workbook
from recommender.errors import BadTable


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table: column -> text, with file and line."""

    file: str
    line: int
    cells: dict[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells[column]

    def wrong(self, column: str, problem: str, remedy: str = "") -> BadTable:
        """Return the error that names this place."""
        return BadTable(self.file, problem, line=self.line, column=column, remedy=remedy)

    def number(self, column: str) -> float | None:
        """Return the number in a cell, None where it is blank.

        Raises
        ------
        BadTable
            The cell holds no finite number.
        """
        text = self.cells[column]
        if not text:
            return None
        try:
            value = float(text)
        except ValueError:
            raise self.wrong(column, f'"{text}" is not a number') from None
        if value != value or value in (float("inf"), float("-inf")):
            raise self.wrong(column, f'"{text}" is not a finite number')
        return value

    def list(self, column: str) -> tuple[str, ...]:
        """Return the entries of a cell that are parted by semicolons."""
        return tuple(part for part in (p.strip() for p in self.cells[column].split(";")) if part)


def read(path: Path, columns: Sequence[str]) -> list[Row]:
    """Read a CSV table (UTF-8) that must have the given columns.

    Raises
    ------
    BadTable
        The file is missing, empty, cut short, not UTF-8, or lacks a column.
    """
    where = path.name
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise BadTable(
            where, "the table is missing", remedy="Put it back or build the tables again"
        ) from None
    except UnicodeDecodeError:
        raise BadTable(where, "the file is not UTF-8 text", remedy="Save it as CSV in UTF-8") from None
    if not text.strip():
        raise BadTable(where, "the table is empty", remedy="Put it back or build the tables again")
    if not text.endswith("\n"):
        last = text.count("\n") + 1
        raise BadTable(where, "the table is cut short in its last line", line=last, remedy="Put it back")
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    rows: list[Row] = []
    try:
        header = next(reader)
        if missing := [c for c in columns if c not in header]:
            raise BadTable(where, f'column "{missing[0]}" is missing', line=1, remedy="Put it back")
        for cells in reader:
            if not cells:
                continue
            if len(cells) != len(header):
                problem = f"{len(cells)} cells where the header has {len(header)}"
                raise BadTable(where, problem, line=reader.line_num, remedy="Quote cells that hold a comma")
            stripped = (c.strip() for c in cells)
            rows.append(Row(where, reader.line_num, dict(zip(header, stripped, strict=True))))
    except csv.Error as error:
        remedy = "Look for a quote that is not closed"
        raise BadTable(where, f"not a table: {error}", line=reader.line_num, remedy=remedy) from None
    return rows


def digest(path: Path) -> str:
    """Return a short fingerprint of a file's bytes, line ends aside."""
    return hashlib.sha256(path.read_bytes().replace(b"\r\n", b"\n")).hexdigest()[:16]


ENCODINGS = ("utf-8-sig", "utf-16", "cp1252")
LONGEST_SHEET = 8_000
"""More lines than this are not a formula or a shelf."""


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


def file_at(path: Path) -> Path:
    """Return where a person's file is, links followed.

    Raises
    ------
    BadTable
        There is no such file, or it cannot be opened; says why.
    """
    try:
        found = path.resolve(strict=True)
        if found.is_file():
            with found.open("rb"):
                return found
        code = errno.EISDIR if found.is_dir() else None
    except RuntimeError:  # how Python says before 3.13 that a link leads back to itself
        code = errno.ELOOP
    except ValueError:  # a zero byte in the name
        code = errno.ENOENT
    except OSError as error:
        code = error.errno
    problem, remedy = _UNREADABLE.get(code or 0, ("it cannot be read", "Name an ordinary file"))
    raise BadTable(str(path), problem, remedy=remedy)


def grid(path: Path) -> list[tuple[int, list[str]]]:
    """Return the lines of a sheet that are not blank, each with its number, as a spreadsheet saved them.

    Cells are without the blanks around them, and without the apostrophe before what looks like a formula.

    Raises
    ------
    BadTable
        The file is missing, cannot be opened, is too long or not a table.
    """
    path = file_at(path)
    lines = _xlsx(path) if path.suffix.lower() in (".xlsx", ".xlsm") else _text(path)
    filled = [(line, [content(x) for x in cells]) for line, cells in lines if any(x.strip() for x in cells)]
    if len(filled) > LONGEST_SHEET:
        raise BadTable(path.name, f"{len(filled)} lines are too many (at most {LONGEST_SHEET})")
    return filled


def read_sheet(path: Path, required: Sequence[str], optional: Sequence[str] = ()) -> list[Row]:
    """Read a table as a spreadsheet saves it: CSV in any of its dialects, or XLSX.

    Comma, semicolon or tab; decimal point or comma; UTF-8 or UTF-16, with byte-order mark or without;
    blank lines; columns in any order and any case. Unknown columns are left out.

    Raises
    ------
    BadTable
        The file is missing, empty, too long or not a table, or lacks a required column.
    """
    filled = grid(path)
    if not filled:
        raise BadTable(path.name, "the file is empty", remedy=f"It needs the columns {', '.join(required)}")
    first, header = filled[0][0], [cell.strip().casefold().replace(" ", "_") for cell in filled[0][1]]
    for column in required:
        if column not in header:
            found = ", ".join(name for name in header if name)[:80] or "nothing"
            raise BadTable(
                path.name,
                f'no column "{column}", only {found}',
                line=first,
                remedy="Name the columns in the first line",
            )
    known = [*required, *optional]
    if twice := [name for name in known if header.count(name) > 1]:
        raise BadTable(path.name, f'the column "{twice[0]}" stands twice', line=first)
    places = {name: header.index(name) for name in known if name in header}
    rows = []
    for line, cells in filled[1:]:
        if any(cell.strip() for cell in cells[len(header) :]):
            raise BadTable(
                path.name,
                f"{len(cells)} cells where the header has {len(header)}",
                line=line,
                remedy="Quote a number with a decimal comma, or part the columns by semicolons",
            )
        found_cells = {name: cells[at] if at < len(cells) else "" for name, at in places.items()}
        rows.append(Row(path.name, line, {name: found_cells.get(name, "") for name in known}))
    return rows


def decimal(row: Row, column: str) -> float | None:
    """Return a number written with decimal point or comma, None where the cell is blank.

    Raises
    ------
    BadTable
        The cell holds no finite number.
    """
    text = row[column].replace(" ", "").replace("\u00a0", "").replace("%", "")
    if re.fullmatch(r"\d{1,3}(,\d{3})+(\.\d+)?|[1-9]\d{0,2}(\.\d{3}){2,}", text):
        raise row.wrong(
            column, f'"{row[column]}" may be thousands or decimals', "Write it without separators"
        )
    if "," in text and "." not in text:
        text = text.replace(",", ".")
    try:
        return Row(row.file, row.line, {column: text}).number(column)
    except BadTable:
        raise row.wrong(column, f'"{row[column]}" is not a number') from None


def _text(path: Path) -> list[tuple[int, list[str]]]:
    data = path.read_bytes()
    if data.startswith(b"%PDF"):
        raise BadTable(path.name, "this is a PDF, not a table", remedy="Save it as CSV or XLSX")
    if b"\x00" in data[2:] and not data.startswith((b"\xff\xfe", b"\xfe\xff")) and b"\x00" not in data[:2]:
        raise BadTable(path.name, "this is not a table of text", remedy="Save it as CSV or XLSX")
    if data[1:2] == b"\x00" and not data.startswith(b"\xff\xfe"):
        data = b"\xff\xfe" + data
    if data[:1] == b"\x00" and data[1:2] not in (b"", b"\x00"):
        data = b"\xfe\xff" + data
    for encoding in ENCODINGS:
        if encoding == "utf-16" and not data.startswith((b"\xff\xfe", b"\xfe\xff")):
            continue
        try:
            text = data.decode(encoding)
            break
        except UnicodeDecodeError:
            continue
    else:
        raise BadTable(path.name, "this is not a table of text", remedy="Save it as CSV or XLSX")
    told = re.match(r"\s*sep=(.)\r?\n", text)  # how a spreadsheet may say which delimiter it used
    text = text[: told.start()] + "\n" + text[told.end() :] if told else text
    head = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = told[1] if told else max(";\t,", key=head.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        return [(reader.line_num, cells) for cells in reader]
    except csv.Error as error:
        raise BadTable(path.name, f"not a table: {error}", line=reader.line_num) from None


def _cell(cell: Any) -> str:
    """Return a workbook's cell as it is shown: 0.1 in per cent format is 10 %."""
    if cell.value is None:
        return ""
    if isinstance(cell.value, int | float) and "%" in str(cell.number_format):
        return f"{100 * cell.value:.10g} %"
    return from_workbook(cell.value) if isinstance(cell.value, str) else str(cell.value)


def _xlsx(path: Path) -> list[tuple[int, list[str]]]:
    import warnings

    import openpyxl

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what openpyxl misses in a workbook is nothing for a formula
            book = openpyxl.load_workbook(path, read_only=True, data_only=True)
            try:
                rows = book.worksheets[0].iter_rows()
                return [(line, [_cell(cell) for cell in cells]) for line, cells in enumerate(rows, 1)]
            finally:
                book.close()
    except Exception:  # a damaged workbook makes archive, XML or cell readers fail, each in its own way
        raise BadTable(path.name, "this is not a workbook", remedy="Save it as CSV or XLSX") from None
