"""Tables as files: rows with their place, so that an error can name the line; and people's sheets."""

import csv
import io
import math
import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from recommender.errors import BadTable
from recommender.evidence import headers, workbooks
from recommender.one_line import printable
from recommender.units import MASSES


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table: column -> text, with file and line; `titles` is column -> its header there."""

    file: str
    line: int
    cells: dict[str, str]
    titles: Mapping[str, str] = field(default_factory=dict)

    def __getitem__(self, column: str) -> str:
        return self.cells[column]

    def wrong(self, column: str, problem: str, remedy: str = "") -> BadTable:
        """Return the error that names this place."""
        called = self.titles.get(column, column)
        return BadTable(self.file, problem, line=self.line, column=called, remedy=remedy)

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
        """Return the entries of a cell that are separated by semicolons."""
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
    import hashlib  # only where the tables themselves are read

    return hashlib.sha256(path.read_bytes().replace(b"\r\n", b"\n")).hexdigest()[:16]


DILUTION, PARTS, UNIT, THEME = "dilution_percent", "parts", "unit", "theme"
_SAYS: Mapping[str, Callable[[str], bool]] = {DILUTION: headers.says_dilution, PARTS: headers.says_parts}
"""Columns whose headers are more than a list of words."""
_PERCENT_CELL = re.compile(r"\d+(?:[.,]\d+)?\s*%|1\s*:\s*\d+")
OWN_SHEET = {"parts_per_thousand", "rounding_percent", "percent_of_concentrate"}
"""Columns that only a sheet written by this program has: every column of it is known."""
HEADER_WITHIN = 12
"""A sheet may have a title above its headers, of so many lines at most."""
SAME = 0.005
"""Sums and proportions that differ by less are the same: sheets show rounded figures."""
_COMMENT = re.compile(r"#\s*[^\W\d]")
_ERROR_VALUE = re.compile(r"#(?:N/A|[A-Z/0]+[!?])")


def grid(path: Path, sheet: str = "") -> list[tuple[int, list[str]]]:
    """Return the lines of a sheet that are not blank, each with its number, as a spreadsheet saved them.

    Cells are without the blanks around them, and without the apostrophe before what looks like a formula.

    Raises
    ------
    BadTable
        The file is missing, cannot be opened, is too long or not a table.
    """
    return list(workbooks.read(path, sheet).lines)


@dataclass(frozen=True, slots=True)
class Body:
    """The lines of a sheet below its header, without comments and what is struck through, with notes."""

    grid: workbooks.Grid
    header: tuple[int, list[str]]
    lines: Sequence[tuple[int, list[str]]]
    notes: Sequence[str] = ()

    def check(self, rows: Iterable[Row], places: Mapping[str, int]) -> None:
        """Raise `BadTable` for a cell of a used row that is struck through, or has no stored value."""
        used = {row.line for row in rows}
        for line, cells in self.lines:
            for place in places.values() if line in used else ():
                found = self.grid.unstored.get(line, ()), self.grid.struck.get(line, ())
                title = self.header[1][place] if place < len(self.header[1]) else ""
                if place in found[0]:
                    problem = "the formula in this cell has no stored value"
                    remedy = "Open the workbook in a spreadsheet and save it again, or save it as CSV"
                elif place in found[1]:
                    problem = f'"{cells[place]}" is struck through, the rest of the line is not'
                    remedy = "Strike the whole line through to leave it out, or none of it"
                else:
                    continue
                raise BadTable(self.grid.file, problem, line=line, column=title, remedy=remedy)


def body(path: Path, fits: Callable[[Sequence[str]], int], full: int, sheet: str = "") -> Body:
    """Return the lines of a sheet below its header.

    Parameters
    ----------
    path : Path
    fits : callable
        How many columns a line has headers of; `full` and more make it the header. The best line is taken
        where none has so many.
    full : int
    sheet : str
        The name of the sheet of a workbook; the active one by default.

    Raises
    ------
    BadTable
        See `workbooks.read`; or the file is empty.
    """
    grid = workbooks.read(path, sheet)
    struck = [line for line, cells in grid.lines if _all_struck(cells, grid.struck.get(line, ()))]
    comments = [line for line, cells in grid.lines if _is_comment(cells)]
    left_out = {*struck, *comments}
    lines = [(line, cells) for line, cells in grid.lines if line not in left_out]
    if not lines:
        raise BadTable(grid.file, "the file is empty")
    top = _header_in([cells for _, cells in lines[:HEADER_WITHIN]], fits, full)
    below = [(line, cells) for line, cells in lines[top + 1 :] if cells != lines[top][1]]
    notes = []
    if grid.others and not OWN_SHEET.issubset(map(headers.column_of, lines[top][1])):
        others = ", ".join(f'"{name}"' for name in grid.others[:5])
        notes.append(f'{grid.file}: the sheet "{grid.sheet}" is read, beside it are {others}.')
    if top:
        above = " / ".join(" ".join(filter(None, cells)) for _, cells in lines[:top])
        notes.append(f'{grid.file}: above the header is not read: "{above[:120]}".')
    for which, what in ((comments, "comments, left out"), (struck, "struck through, left out")):
        if which:
            notes.append(f"{grid.file}: {lines_in(which)}: {what}.")
    if hidden := [line for line, _ in below if line in grid.hidden]:
        notes.append(f"{grid.file}: {lines_in(hidden)}: hidden in the workbook, and read like the others.")
    return Body(grid, lines[top], below, notes)


def _header_in(lines: Iterable[Sequence[str]], fits: Callable[[Sequence[str]], int], full: int) -> int:
    """Return the place of the first line that fits in full, else of the first that fits best."""
    best, top = -1, 0
    for place, cells in enumerate(lines):
        score = fits(cells)
        if score >= full:
            return place
        if score > best:
            best, top = score, place
    return top


def lines_in(numbers: Sequence[int]) -> str:
    """Return line numbers in words.

    >>> lines_in([3]), lines_in([3, 5]), lines_in([1, 2, 3, 4, 5, 6])
    ('line 3', 'lines 3 and 5', 'lines 1, 2, 3, 4 and 2 more')
    """
    if len(numbers) == 1:
        return f"line {numbers[0]}"
    most = 4 if len(numbers) > 5 else len(numbers) - 1
    last = f"{len(numbers) - most} more" if len(numbers) > 5 else f"{numbers[-1]}"
    return f"lines {', '.join(map(str, numbers[:most]))} and {last}"


def _all_struck(cells: Sequence[str], struck: Collection[int]) -> bool:
    filled = {place for place, cell in enumerate(cells) if cell.strip()}
    return bool(filled) and filled <= {*struck}


def _is_comment(cells: Sequence[str]) -> bool:
    first = next((cell for cell in cells if cell), "")
    return bool(_COMMENT.match(first)) and not _ERROR_VALUE.fullmatch(first)


def read_sheet(
    path: Path,
    required: Sequence[str],
    optional: Sequence[str] = (),
    notes: list[str] | None = None,
    also: Mapping[str, Sequence[str]] | None = None,
    sheet: str = "",
) -> list[Row]:
    """Read a table as a spreadsheet saves it: CSV in any of its dialects, XLSX, XLS or ODS.

    Comma, semicolon or tab; decimal point or comma; UTF-8 or UTF-16, with byte-order mark or without;
    blank lines, lines of a title above the header, comments (#) and sums; columns in any order and any case,
    under the header words of the trade (`headers.WORDS`). A CAS number may stand for a material. `also` names
    further kinds of header words for a column, in the order in which they count. `notes` takes what was found
    so, the lines that are left out and the columns that are not used. `sheet` is that of a workbook, the
    active one by default.

    Raises
    ------
    BadTable
        The file is missing, empty, too long or not a table, lacks a required column, or has one that may be
        a dilution or an amount and cannot be used; a formula has no stored value.
    """
    known, further = [*required, *optional], also or {}
    try:
        found = body(path, lambda titles: len(_named(titles, required, further)), len(required), sheet)
    except BadTable as error:
        if error.problem == "the file is empty":
            raise BadTable(
                error.file, error.problem, remedy=f"It needs the columns {', '.join(required)}"
            ) from None
        raise
    file, (line, titles) = found.grid.file, found.header
    for at, cells in found.lines:
        if any(cell.strip() for cell in cells[len(titles) :]):
            problem = f"{len(cells)} cells where the header has {len(titles)}"
            remedy = "Quote a number with a decimal comma, or part the columns by semicolons"
            raise BadTable(file, problem, line=at, remedy=remedy)
    named = next((name for name in ("material", "name") if name in required), "")
    head = _Head.of(file, line, titles, [cells for _, cells in found.lines], known)
    head.claim(further)
    for column in required:
        if column not in head.places and not (column == "material" and "cas" in head.places):
            called = ", ".join(name for name in head.names if name)[:80] or "nothing"
            remedy = "Name the columns in the first line" if line == 1 else "Name the columns in this line"
            if column == PARTS and any(map(headers.says_volume, titles)):
                remedy = "Parts are by mass: write g, mg or kg"
            raise BadTable(file, f'no column "{column}", only {called}', line=line, remedy=remedy)
    columns = {name: titles[place] for name, place in head.places.items()}
    rows, sums = [], set()
    for at, cells in found.lines:
        given = {name: cells[i] for name, i in head.places.items() if i < len(cells)}
        row = Row(file, at, {name: given.get(name, "") for name in known}, columns)
        rows.append(solvent_apart(row, DILUTION) if {DILUTION, "solvent"} <= row.cells.keys() else row)
        if named and is_total(cells, rows[-1], named):
            sums.add(at)
    left_out: list[str] = []
    if named:
        rows = without_totals(rows, named, PARTS if PARTS in known else "", sums, left_out)
    found.check(rows, head.places)
    if notes is not None:
        notes += map(printable, (*found.notes, *head.remarks(), *left_out))
    if DILUTION in head.renamed:
        check_dilutions(rows, head.renamed[DILUTION])
    return rows


def is_total(cells: Sequence[str], row: Row, name: str) -> bool:
    """Return whether a line is one of sums by a word in it: in its name, or where it has none, anywhere.

    What has a CAS number is a substance, whatever it is called.
    """
    called = row[name] or row.cells.get("label") or row.cells.get("material")
    if row.cells.get("cas"):
        return False
    return headers.says_total(called) if called else any(map(headers.says_total, filter(None, cells)))


def without_totals(
    rows: Iterable[Row], name: str, amount: str, sums: Collection[int], notes: list[str]
) -> list[Row]:
    """Return rows without sums: the lines in `sums`, and what has no name and equals what is above it.

    `notes` takes each of them, and where a sum is not that of the lines.
    """
    kept: list[Row] = []
    whole = section = 0.0
    for row in rows:
        value = _plain_number(row[amount]) if amount else None
        fits = value is not None and any(math.isclose(value, x, rel_tol=SAME) for x in (whole, section))
        nameless = not row[name] and not row.cells.get("label") and not row.cells.get("cas")
        if row.line not in sums and not (nameless and fits and kept):
            kept.append(row)
            whole, section = whole + (value or 0.0), section + (value or 0.0)
            continue
        section = 0.0
        called = f'"{row[name]}"' if row[name] else "a sum"
        unlike = (
            ""
            if fits or value is None or not whole
            else f" (it says {value:g}, the lines add up to {whole:g})"
        )
        notes.append(f"{row.file}: line {row.line}: {called}, left out as a total{unlike}.")
    return kept


def _plain_number(text: str) -> float | None:
    """Return the number of a cell whatever its unit, None where it has none that is certain."""
    number, _ = quantity(text)
    try:
        return decimal(Row("", 0, {"": number}), "")
    except BadTable:
        return None


def _named(
    titles: Sequence[str], columns: Sequence[str], also: Mapping[str, Sequence[str]]
) -> dict[str, int]:
    """Return the place of each column under its own name or its words, of several the first."""
    found: dict[str, int] = {}
    for column in columns:
        if claims := next(filter(None, _claims(titles, column, also)), []):
            found[column] = claims[0]
    return found


def _claims(titles: Sequence[str], column: str, also: Mapping[str, Sequence[str]]) -> list[list[int]]:
    """Return the places that a column may have, those by its own name first, then by each kind of words."""
    kinds = (headers.KINDS.get(column, column), *also.get(column, ()))
    own = _SAYS.get(column, lambda title: headers.says(title, kinds[0]))
    tests: list[Callable[[str], bool]] = [lambda title: headers.column_of(title) == column, own]
    tests += [lambda title, kind=kind: headers.says(title, kind) for kind in kinds[1:]]  # type: ignore[misc]
    return [[place for place, title in enumerate(titles) if title and test(title)] for test in tests]


@dataclass(frozen=True, slots=True)
class _Head:
    """The header of a table: the known columns, where each is, and the spare columns that are not blank.

    `same` are spare columns that give the same proportions as the parts.
    """

    file: str
    line: int
    titles: Sequence[str]
    names: Sequence[str]
    known: Sequence[str]
    body: Sequence[Sequence[str]]
    places: dict[str, int]
    spare: dict[int, list[str]]
    renamed: dict[str, str]
    same: dict[int, str]

    @classmethod
    def of(
        cls, file: str, line: int, titles: Sequence[str], body: Sequence[list[str]], known: Sequence[str]
    ) -> "_Head":
        names = [headers.column_of(title) for title in titles]
        if twice := [name for name in known if names.count(name) > 1]:
            raise BadTable(file, f'the column "{twice[0]}" appears twice', line=line)
        places = {name: names.index(name) for name in known if name in names}
        cells = {i: [row[i].strip() for row in body if i < len(row)] for i in range(len(titles))}
        spare = {i: cells[i] for i in cells if i not in places.values() and any(cells[i])}
        return cls(file, line, titles, names, known, body, places, spare, {}, {})

    def claim(self, also: Mapping[str, Sequence[str]]) -> None:
        """Find columns under other headers; raise `BadTable` for what may be a dilution or an amount."""
        if OWN_SHEET.issubset(self.names):
            return
        for name in self.known:
            levels = [[i for i in places if i in self.spare] for places in _claims(self.titles, name, also)]
            claims = next(filter(None, levels), [])
            both = [self.places[name], *levels[1]] if name in self.places else claims
            if name in _SAYS and levels[1] and len(both) > 1:
                one, other = (self.titles[i] for i in both[:2])
                raise self._wrong(other, f'"{one}" and "{other}" may both be {name}', "Leave one of them")
            if claims and name not in self.places:
                self.places[name], self.renamed[name] = claims[0], self.titles[claims[0]]
                del self.spare[claims[0]]
        if PARTS not in self.places:
            return
        for i, cells in list(self.spare.items()):
            title = self.titles[i]
            share = headers.says_percent(title) or any(_PERCENT_CELL.fullmatch(cell) for cell in cells)
            if not share and not headers.says_amount(title):
                continue
            if self._is_same(i):
                self.same[i] = self.titles[self.places[PARTS]]
            elif not share or DILUTION not in self.places:
                problem = "this may be a dilution or an amount, and is not read"
                remedy = "Name it dilution_percent or parts if it is that, else take the column out"
                raise self._wrong(title or f"{i + 1}", problem, remedy)

    def _is_same(self, place: int) -> bool:
        """Return whether a column has the proportions of the parts, in three different lines at least."""
        cells = [[row[i] if i < len(row) else "" for i in (self.places[PARTS], place)] for row in self.body]
        pairs = [(_plain_number(one), _plain_number(other)) for one, other in cells]
        filled = [(one, other) for one, other in pairs if one and other]
        if len(set(filled)) < 3 or any((one is None) != (other is None) for one, other in pairs):
            return False
        factor = sum(other for _, other in filled) / sum(one for one, _ in filled)
        least = min(abs(other) for _, other in filled) or 1.0
        return factor > 0 and all(
            math.isclose(one * factor, other, rel_tol=SAME, abs_tol=min(SAME, least / 10))
            for one, other in filled
        )

    def _wrong(self, title: str, problem: str, remedy: str) -> BadTable:
        return BadTable(self.file, problem, line=self.line, column=title, remedy=remedy)

    def remarks(self) -> list[str]:
        """Return which columns were read under another header, and which are not used."""
        read = ", ".join(
            f'"{title}" {"" if n else "is read "}as {name}'
            for n, (name, title) in enumerate(self.renamed.items())
        )
        same = [f'{self.file}: "{self.titles[i]}" agrees with "{parts}".' for i, parts in self.same.items()]
        unused = [
            self.titles[i] or f"the {i + 1}th, without a header" for i in self.spare if i not in self.same
        ]
        return [
            *([f"{self.file}: {read}."] if read else []),
            *same,
            *([f"{self.file}: columns that are not used: {', '.join(unused)}."] if unused else []),
        ]


def check_dilutions(rows: Sequence[Row], title: str) -> None:
    """Refuse dilutions that cannot be read, of a column under another header."""
    for row in rows:
        percent_of(row, DILUTION)
    check_fractions(rows, DILUTION, title)


def check_fractions(rows: Sequence[Row], column: str, title: str) -> None:
    """Refuse numbers that may be per cent or fractions, of a column of dilutions under another header.

    A bare number is per cent where the header says so or where one of them is above 1; a column of numbers
    up to 1 may as well be fractions, in which 0.1 is 10 %.
    """
    bare = [row for row in rows if re.fullmatch(r"[\d.,\s]+", row[column]) and _plain_number(row[column])]
    if (
        bare
        and not headers.says_percent(title)
        and max(_plain_number(row[column]) or 0.0 for row in bare) <= 1
    ):
        text = bare[0][column]
        remedy = f'Write "{text} %" or the dilution as 1:10, or name the column {DILUTION}'
        raise bare[0].wrong(column, f'"{text}" may be per cent or a fraction of 1', remedy)


NEAT = ("neat", "pure", "undiluted", "100 %", "100%", "rein", "pur", "unverdunnt", "non dilue")


_WITH_SOLVENT = re.compile(
    r"(\d+(?:[.,]\d+)?\s*%|1\s*:\s*\d+(?:[.,]\d+)?)\s*[,(/]?\s*(?:(?:in|dans)\s+)?"
    r"(?!ig\b)([^\W\d][\w .-]*?)\s*\)?",
    re.IGNORECASE,
)
"""A dilution and its solvent in one cell."""


def solvent_apart(row: Row, column: str) -> Row:
    """Return a row in which a solvent behind the dilution (10 % DPG, 1:10 in ethanol) has its own cell.

    Where that cell is filled the row stays as it is, and the dilution cannot be read.
    """
    match = _WITH_SOLVENT.fullmatch(row[column].strip())
    if match is None or row.cells.get("solvent"):
        return row
    return replace(row, cells={**row.cells, column: match[1], "solvent": match[2]})


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
    try:
        return decimal(replace(row, cells=row.cells | {column: re.sub(r"%\s*ig\w*$", "%", text)}), column)
    except BadTable as error:
        problem = error.problem.replace(text, row[column])
        remedy = error.remedy or "Write 10 %, 1:10 or neat; a solvent has a column of its own"
        raise row.wrong(column, problem, remedy) from None


_NUMBER = r"[-+]?(?:\d[\d.,'\N{RIGHT SINGLE QUOTATION MARK}\s]*|[.,]\d+)(?:e[-+]?\d+)?"
_QUANTITY = re.compile(rf"\s*({_NUMBER})\s*([^\d\s+~-].*?)?\s*", re.IGNORECASE)


def quantity(text: str) -> tuple[str, str]:
    """Return the number of a cell as it is written, and the unit behind it as `headers.plain` gives it.

    >>> quantity("2,5 g"), quantity("1'000,5"), quantity("1e-3 kg"), quantity("some")
    (('2,5', 'g'), ("1'000,5", ''), ('1e-3', 'kg'), ('some', ''))
    """
    found = _QUANTITY.fullmatch(text)
    return (found[1].strip(), headers.plain(found[2] or "").replace(".", "")) if found else (text, "")


_GROUPED = re.compile(
    r"[-+]?(?:\d{1,3}(?:['\N{RIGHT SINGLE QUOTATION MARK}]\d{3})+(?:[.,]\d+)?"
    r"|\d{1,3}(?:,\d{3})+\.\d+|\d{1,3}(?:\.\d{3})+,\d+)"
)
"""Numbers whose thousands are certain."""
_EITHER = re.compile(r"[-+]?[1-9]\d{0,2}(?:,\d{3})+|[-+]?[1-9]\d{0,2}(?:\.\d{3}){2,}")
"""Numbers that may have thousands or decimals."""


def decimal(row: Row, column: str) -> float | None:
    """Return a number written with decimal point or comma, None where the cell is blank.

    A sign before the thousands counts where a decimal sign stands beside it, and an apostrophe always:
    1'000, 1'000,5, 1.000,5 and 1,000.5.

    Raises
    ------
    BadTable
        The cell has no finite number, or one that may have thousands or decimals (1,500).
    """
    text = re.sub(r"\s", "", row[column]).replace("%", "")
    if _EITHER.fullmatch(text):
        raise row.wrong(
            column, f'"{row[column]}" may be thousands or decimals', "Write it without separators"
        )
    if _GROUPED.fullmatch(text):
        last = max(text.rfind(sign) for sign in ".,")
        whole, rest = (text, "") if last < 0 else (text[:last], text[last + 1 :])
        text = re.sub(r"[^\d+-]", "", whole) + f".{rest}"
    if "," in text and "." not in text:
        text = text.replace(",", ".")
    try:
        return Row(row.file, row.line, {column: text}).number(column)
    except BadTable:
        raise row.wrong(column, f'"{row[column]}" is not a number') from None


def ounces_in(file: str, units: Iterable[str]) -> list[str]:
    """Return a note on what an ounce is where one of the units is one."""
    ounce = MASSES["oz"]
    return [f"{file}: an ounce (oz) is {ounce:.2f} g."] if ounce in map(MASSES.get, units) else []


def measure(row: Row, column: str, units: Mapping[str, float]) -> float | None:
    """Return a number in one of some units, brought to the first of them; None where the cell is blank.

    Raises
    ------
    BadTable
        It is no number, or in another unit.
    """
    number, unit = quantity(row[column])
    if unit and unit not in units:
        raise row.wrong(column, f'"{row[column]}" is not in {next(iter(units))}')
    value = decimal(replace(row, cells=row.cells | {column: number}), column)
    return None if value is None else value * units.get(unit, 1.0)


def settled(rows: Sequence[Row], column: str, notes: list[str]) -> list[Row]:
    """Return rows in which the decimal sign of a column is settled by the column itself.

    Beside 0,25 or 2,5 the comma of 1,500 is a decimal comma, which `notes` says, and 1.500 may be a thousand.

    Raises
    ------
    BadTable
        With the place of a number that may have thousands or decimals.
    """
    numbers = [quantity(row[column])[0] for row in rows]
    if not any(re.fullmatch(r"0,\d+|\d+,(?:\d{1,2}|\d{4,})", number) for number in numbers):
        return list(rows)
    found, settled_here = [], ""
    for row, number in zip(rows, numbers, strict=True):
        if re.fullmatch(r"[1-9]\d{0,2}\.\d{3}", number):
            remedy = "Other lines have a decimal comma: write it without the point, or with a comma"
            raise row.wrong(column, f'"{row[column]}" may be thousands or decimals', remedy)
        if re.fullmatch(r"[1-9]\d{0,2},\d{3}", number):
            settled_here = settled_here or number
            row = replace(row, cells=row.cells | {column: row[column].replace(",", ".", 1)})
        found.append(row)
    if settled_here:
        notes.append(
            f'{rows[0].file}: "{settled_here}" is read with a decimal comma, as other lines have one.'
        )
    return found
