"""Tables as files: rows with their place, so that an error can name the line."""

import csv
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

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
    reader = csv.reader(text.splitlines(keepends=True), strict=True)
    rows: list[Row] = []
    try:
        header = next(reader)
        if missing := [c for c in columns if c not in header]:
            raise BadTable(where, f'column "{missing[0]}" is missing', line=1)
        for cells in reader:
            if not cells:
                continue
            if len(cells) != len(header):
                problem = f"{len(cells)} cells where the header has {len(header)}"
                raise BadTable(where, problem, line=reader.line_num, remedy="Quote cells that hold a comma")
            stripped = (c.strip() for c in cells)
            rows.append(Row(where, reader.line_num, dict(zip(header, stripped, strict=True))))
    except csv.Error as error:
        raise BadTable(where, f"not a table: {error}", line=reader.line_num) from None
    return rows


def digest(path: Path) -> str:
    """Return a short fingerprint of a file's bytes, line ends aside."""
    return hashlib.sha256(path.read_bytes().replace(b"\r\n", b"\n")).hexdigest()[:16]
