"""Tables as files: rows with their place, so that an error can name the line."""

import csv
import hashlib
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from recommender.errors import BadTable
from recommender.evidence import headers, intake
from recommender.evidence.cells import content, from_workbook


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
            The cell has no finite number.
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


def grid(path: Path) -> list[tuple[int, list[str]]]:
    """Return the lines of a sheet that are not blank, each with its number, as a spreadsheet saved them.

    Cells are without the blanks around them, and without the apostrophe before what looks like a formula.

    Raises
    ------
    BadTable
        The file is missing, cannot be opened, is too long or not a table.
    """
    path = intake.file_at(path)
    data, workbook = intake.content(path), path.suffix.lower() in (".xlsx", ".xlsm")
    lines = _xlsx(path.name, data) if workbook else _text(path.name, data)
    return [(line, [content(x) for x in cells]) for line, cells in lines]


DILUTION, PARTS, UNIT, THEME = "dilution_percent", "parts", "unit", "theme"
_SAYS = {
    DILUTION: headers.says_dilution,
    PARTS: headers.says_parts,
    UNIT: headers.says_unit,
    THEME: headers.says_theme,
}
_PERCENT_CELL = re.compile(r"\d+(?:[.,]\d+)?\s*%|1\s*:\s*\d+")
OWN_SHEET = {"parts_per_thousand", "rounding_percent", "percent_of_concentrate"}
"""Columns that only a sheet written by this program has: every column of it is known."""


def read_sheet(
    path: Path, required: Sequence[str], optional: Sequence[str] = (), notes: list[str] | None = None
) -> list[Row]:
    """Read a table as a spreadsheet saves it: CSV in any of its dialects, or XLSX.

    Comma, semicolon or tab; decimal point or comma; UTF-8 or UTF-16, with byte-order mark or without;
    blank lines; columns in any order and any case. A dilution, parts or their unit are found under other
    headers too (see `headers`). `notes` takes what was found so, and the columns that are not used.

    Raises
    ------
    BadTable
        The file is missing, empty, too long or not a table, lacks a required column, or has one that may be
        a dilution or an amount and cannot be used.
    """
    filled = grid(path)
    if not filled:
        raise BadTable(path.name, "the file is empty", remedy=f"It needs the columns {', '.join(required)}")
    line, titles = filled[0][0], [cell.strip() for cell in filled[0][1]]
    for at, cells in filled[1:]:
        if any(cell.strip() for cell in cells[len(titles) :]):
            problem = f"{len(cells)} cells where the header has {len(titles)}"
            remedy = "Quote a number with a decimal comma, or part the columns by semicolons"
            raise BadTable(path.name, problem, line=at, remedy=remedy)
    known, body = [*required, *optional], [cells for _, cells in filled[1:]]
    head = _Head.of(path.name, line, titles, body, known)
    head.claim()
    for column in required:
        if column not in head.places:
            found = ", ".join(name for name in head.names if name)[:80] or "nothing"
            remedy = "Name the columns in the first line"
            raise BadTable(path.name, f'no column "{column}", only {found}', line=line, remedy=remedy)
    if notes is not None:
        notes += head.remarks()
    rows = []
    for at, cells in filled[1:]:
        given = {name: cells[i] for name, i in head.places.items() if i < len(cells)}
        rows.append(Row(path.name, at, {name: given.get(name, "") for name in known}))
    if DILUTION in head.renamed:
        _check_dilutions(rows, head.renamed[DILUTION])
    return rows


@dataclass(frozen=True, slots=True)
class _Head:
    """The header of a table: the known columns, where each is, and the spare columns that are not blank."""

    file: str
    line: int
    titles: Sequence[str]
    names: Sequence[str]
    known: Sequence[str]
    places: dict[str, int]
    spare: dict[int, list[str]]
    renamed: dict[str, str]

    @classmethod
    def of(
        cls, file: str, line: int, titles: Sequence[str], body: Sequence[list[str]], known: Sequence[str]
    ) -> "_Head":
        names = [title.casefold().replace(" ", "_") for title in titles]
        if twice := [name for name in known if names.count(name) > 1]:
            raise BadTable(file, f'the column "{twice[0]}" appears twice', line=line)
        places = {name: names.index(name) for name in known if name in names}
        cells = {i: [row[i].strip() for row in body if i < len(row)] for i in range(len(titles))}
        spare = {i: cells[i] for i in cells if i not in places.values() and any(cells[i])}
        return cls(file, line, titles, names, known, places, spare, {})

    def claim(self) -> None:
        """Find dilution, parts and unit under other headers; raise `BadTable` for what cannot be placed."""
        if OWN_SHEET.issubset(self.names):
            return
        for name, says in _SAYS.items():
            claims = [i for i in self.spare if name in self.known and says(self.titles[i])]
            both = [self.places[name], *claims] if name in self.places else claims
            if claims and len(both) > 1:
                one, other = (self.titles[i] for i in both[:2])
                raise self._wrong(other, f'"{one}" and "{other}" may both be {name}', "Leave one of them")
            if claims:
                self.places[name], self.renamed[name] = claims[0], self.titles[claims[0]]
                del self.spare[claims[0]]
        if PARTS not in self.places:
            return
        for i, cells in self.spare.items():
            title = self.titles[i]
            share = headers.says_percent(title) or any(_PERCENT_CELL.fullmatch(cell) for cell in cells)
            if (share and DILUTION not in self.places) or (not share and headers.says_amount(title)):
                problem = "this may be a dilution or an amount, and is not read"
                remedy = "Name it dilution_percent or parts if it is that, else take the column out"
                raise self._wrong(title or f"{i + 1}", problem, remedy)

    def _wrong(self, title: str, problem: str, remedy: str) -> BadTable:
        return BadTable(self.file, problem, line=self.line, column=title, remedy=remedy)

    def remarks(self) -> list[str]:
        """Return which columns were read under another header, and which are not used."""
        renamed = [f'{self.file}: "{title}" is read as {name}.' for name, title in self.renamed.items()]
        unused = [self.titles[i] or f"the {i + 1}th, without a header" for i in self.spare]
        return [
            *renamed,
            *([f"{self.file}: columns that are not used: {', '.join(unused)}."] if unused else []),
        ]


def _check_dilutions(rows: Sequence[Row], title: str) -> None:
    """Refuse dilutions that cannot be read, of a column under another header.

    A bare number is per cent where the header says so or where one of them is above 1; a column of numbers
    up to 1 may as well be fractions, in which 0.1 is 10 %.
    """
    cells = [Row(row.file, row.line, {title: row[DILUTION]}) for row in rows]
    for cell in cells:
        percent_of(cell, title)
    bare = [cell for cell in cells if re.fullmatch(r"[\d.,\s]+", cell[title])]
    if bare and not headers.says_percent(title) and max(decimal(cell, title) or 0.0 for cell in bare) <= 1:
        text = bare[0][title]
        remedy = f'Write "{text} %" or the dilution as 1:10, or name the column {DILUTION}'
        raise bare[0].wrong(title, f'"{text}" may be per cent or a fraction of 1', remedy)


NEAT = ("neat", "pure", "undiluted", "100 %", "rein", "pur", "unverdunnt", "non dilue")


def percent_of(row: Row, column: str) -> float | None:
    """Return a dilution: 10, 10 %, 0.1 in a cell of per cent, neat, 1:10 (one part in ten of the whole).

    Raises
    ------
    BadTable
        The cell cannot be read.
    """
    text = headers.plain(row[column])
    if text in NEAT:
        return 100.0
    if match := re.fullmatch(r"1\s*(?::|in|/)\s*(\d+(?:[.,]\d+)?)", text):
        whole = float(match[1].replace(",", "."))
        return 100.0 / whole if whole > 0 else 0.0
    return decimal(row, column)


def decimal(row: Row, column: str) -> float | None:
    """Return a number written with decimal point or comma, None where the cell is blank.

    Raises
    ------
    BadTable
        The cell has no finite number.
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


def _text(name: str, data: bytes) -> Iterator[tuple[int, list[str]]]:
    if data.startswith(b"%PDF"):
        raise BadTable(name, "this is a PDF, not a table", remedy="Save it as CSV or XLSX")
    if b"\x00" in data[2:] and not data.startswith((b"\xff\xfe", b"\xfe\xff")) and b"\x00" not in data[:2]:
        raise BadTable(name, "this is not a table of text", remedy="Save it as CSV or XLSX")
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
        raise BadTable(name, "this is not a table of text", remedy="Save it as CSV or XLSX")
    match = re.match(r"\s*sep=(.)\r?\n", text)  # a spreadsheet may name its delimiter in the first line
    text = text[: match.start()] + "\n" + text[match.end() :] if match else text
    head = next((line for line in io.StringIO(text) if line.strip()), "")
    delimiter = match[1] if match else max(";\t,", key=head.count)
    return intake.csv_lines(name, text, delimiter)


def _cell(cell: Any) -> str:
    """Return a workbook's cell as it is shown: 0.1 in per cent format is 10 %."""
    if cell.value is None:
        return ""
    if isinstance(cell.value, int | float) and "%" in str(cell.number_format):
        return f"{100 * cell.value:.10g} %"
    return from_workbook(cell.value) if isinstance(cell.value, str) else str(cell.value)


def _xlsx(name: str, data: bytes) -> list[tuple[int, list[str]]]:
    import warnings

    import openpyxl

    intake.check_archive(name, data)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what openpyxl misses in a workbook is nothing for a formula
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
            try:
                sheet = book.worksheets[0]
                sheet.reset_dimensions()  # a sheet may claim to be wider than it is
                rows = ([_cell(cell) for cell in cells] for cells in sheet.iter_rows())
                return list(intake.counted(name, enumerate(rows, 1)))
            finally:
                book.close()
    except BadTable:
        raise
    except Exception:  # a damaged workbook makes archive, XML or cell readers fail, each in its own way
        raise BadTable(name, "this is not a workbook", remedy="Save it as CSV or XLSX") from None
