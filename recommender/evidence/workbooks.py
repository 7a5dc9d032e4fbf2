"""The lines of a person's file as a spreadsheet saved it: CSV in its dialects, XLSX, XLS, ODS.

Every reader here gives the texts of the cells as they are shown with their unit (10 %, 2.5 g), and marks what
a person sees and a table does not say: rows that are hidden, cells that are struck through, and formulas
whose value is not stored.
"""

import io
import re
import zipfile
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from recommender.errors import BadTable
from recommender.evidence import intake
from recommender.evidence.cells import content, from_workbook

ENCODINGS = ("utf-8-sig", "utf-16", "cp1252")
DELIMITERS = ";\t,"
"""What parts the columns of a text; of two that are in as many lines the first."""
_LOOKED_AT = 100_000
"""Characters from which the delimiter is found."""
Marks = Mapping[int, set[int]]
"""Number of a line -> places of cells in it."""


@dataclass(frozen=True, slots=True)
class Grid:
    """The lines of one sheet that are not blank, each with its number and the texts of its cells.

    `sheet` is the name of the sheet, `others` are those beside it in the workbook; `struck` are cells that
    are struck through, `unstored` formulas whose value is not stored.
    """

    file: str
    lines: Sequence[tuple[int, list[str]]]
    sheet: str = ""
    others: Sequence[str] = ()
    hidden: frozenset[int] = frozenset()
    struck: Marks = field(default_factory=dict)
    unstored: Marks = field(default_factory=dict)


def read(path: Path, sheet: str = "") -> Grid:
    """Return the lines of a file; of a workbook those of the sheet that was active when it was saved.

    Parameters
    ----------
    path : Path
    sheet : str
        The name of another sheet of the workbook.

    Raises
    ------
    BadTable
        The file is missing, cannot be opened, is too much or no table; or it has no such sheet.
    """
    path = intake.file_at(path)
    data = intake.content(path)
    if reader := _WORKBOOKS.get(path.suffix.lower()):
        return _workbook(path.name, data, sheet, reader)
    if sheet:
        raise BadTable(path.name, f'no sheet "{sheet}": the file is a text', remedy="Leave the sheet out")
    return Grid(path.name, _cleaned(_text(path.name, data)))


def _cleaned(lines: Iterable[tuple[int, list[str]]]) -> list[tuple[int, list[str]]]:
    return [(line, [content(cell) for cell in cells]) for line, cells in lines]


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
    return intake.csv_lines(name, text, match[1] if match else _delimiter(text))


def _delimiter(text: str) -> str:
    r"""Return what parts the columns: what is in most lines, which a title or a decimal comma is not.

    >>> _delimiter("Fig, study 4\nname;g\nrose;2,5\n"), _delimiter("name,g\nrose,2\n")
    (';', ',')
    """
    bare = re.sub(r'"[^"]*"', "", text[:_LOOKED_AT])
    lines = [line for line in bare.splitlines() if line.strip()]
    return max(DELIMITERS, key=lambda sign: sum(sign in line for line in lines))


@dataclass(slots=True)
class _Marked:
    """What a reader finds beside the texts."""

    hidden: set[int] = field(default_factory=set)
    struck: dict[int, set[int]] = field(default_factory=lambda: defaultdict(set))
    unstored: dict[int, set[int]] = field(default_factory=lambda: defaultdict(set))


@dataclass(frozen=True, slots=True)
class _Book:
    """An opened workbook: the names of its sheets, the active one, and the lines of each."""

    names: Sequence[str]
    active: str
    lines: Callable[[str, _Marked], Iterable[tuple[int, list[str]]]]


def _workbook(name: str, data: bytes, wanted: str, reader: Callable[[str, bytes], _Book]) -> Grid:
    import warnings

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what a library misses in a workbook is nothing for a formula
            book = reader(name, data)
            sheet = wanted or book.active
            if sheet not in book.names:
                names = ", ".join(f'"{one}"' for one in book.names)
                raise BadTable(name, f'no sheet is called "{sheet}"', remedy=f"The sheets are {names}")
            found = _Marked()
            lines = _cleaned(intake.counted(name, book.lines(sheet, found)))
    except BadTable:
        raise
    except Exception:  # a damaged workbook makes archive, XML or cell readers fail, each in its own way
        raise BadTable(name, "this is not a workbook", remedy="Save it as CSV or XLSX") from None
    others = [one for one in book.names if one != sheet]
    return Grid(name, lines, sheet, others, frozenset(found.hidden), dict(found.struck), dict(found.unstored))


def shown(value: Any, number_format: str = "") -> str:
    """Return the value of a cell as it is shown, in full precision: with the unit that its format adds.

    >>> shown(0.1, "0.0%"), shown(2.5, '0.00" g"'), shown(12, "[$CHF-807] #,##0.00"), shown(1.234)
    ('10 %', '2.5 g', '12 CHF', '1.2340')
    """
    if value is None:
        return ""
    if isinstance(value, str):
        return from_workbook(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    first = number_format.split(";")[0]
    if "%" in re.sub(r'"[^"]*"', "", first):
        return f"{100 * value:.10g} %"
    text = (
        str(int(value))
        if isinstance(value, float) and abs(value) < 1e15 and value == int(value)
        else str(value)
    )
    if re.fullmatch(r"-?[1-9]\d{0,2}\.\d{3}", text):  # so that it is not taken for a thousand
        text += "0"
    signs = re.findall(r'"([^"]*)"|\[\$([^\]-]*)', first)
    return " ".join([text, *(" ".join(filter(None, found)).strip() for found in signs if any(found))]).strip()


_ROW = re.compile(rb"<(?:\w+:)?row\b([^>]*)>")
_NO_VALUE = re.compile(
    rb"<(?:\w+:)?c\b([^>]*)>\s*<(?:\w+:)?f\b(?:[^>]*/>|[^>]*>[^<]*</(?:\w+:)?f>)"
    rb"\s*(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v>\s*</(?:\w+:)?v>)?\s*</(?:\w+:)?c>"
)


def _xlsx(name: str, data: bytes) -> _Book:
    import openpyxl
    from openpyxl.utils.cell import column_index_from_string, coordinate_from_string

    intake.check_archive(name, data)
    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)

    def lines(sheet: str, found: _Marked) -> Iterator[tuple[int, list[str]]]:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            markup = archive.read(book[sheet]._worksheet_path)  # type: ignore[attr-defined]
        for row in _ROW.finditer(markup):
            if re.search(rb'\bhidden="(?:1|true)"', row[1]) and (at := re.search(rb'\br="(\d+)"', row[1])):
                found.hidden.add(int(at[1]))
        for empty in _NO_VALUE.finditer(markup):
            if at := re.search(rb'\br="([A-Z]{1,3}\d+)"', empty[1]):
                letters, line = coordinate_from_string(at[1].decode())
                found.unstored[line].add(column_index_from_string(letters) - 1)
        book[sheet].reset_dimensions()  # a sheet may claim to be wider than it is
        for line, cells in enumerate(book[sheet].iter_rows(), 1):
            texts = []
            for place, cell in enumerate(cells):
                texts.append(shown(cell.value, str(getattr(cell, "number_format", ""))))
                if texts[-1] and getattr(getattr(cell, "font", None), "strike", False):
                    found.struck[line].add(place)
            yield line, texts

    names = [sheet.title for sheet in book.worksheets]
    active = getattr(book.active, "title", "")
    return _Book(names, active if active in names else names[0], lines)


def _xls(name: str, data: bytes) -> _Book:
    import xlrd

    intake.check_size(name, len(data))
    book = xlrd.open_workbook(file_contents=data, formatting_info=True, logfile=io.StringIO())

    def lines(sheet: str, found: _Marked) -> Iterator[tuple[int, list[str]]]:
        table = book.sheet_by_name(sheet)
        found.hidden.update(line + 1 for line, row in table.rowinfo_map.items() if row.hidden)
        for line in range(table.nrows):
            texts = []
            for place in range(table.row_len(line)):
                cell = table.cell(line, place)
                look = book.xf_list[cell.xf_index]
                value = cell.value
                if cell.ctype == xlrd.XL_CELL_DATE:
                    value = xlrd.xldate_as_datetime(value, book.datemode)
                elif cell.ctype == xlrd.XL_CELL_ERROR:
                    value = xlrd.error_text_from_code[value]
                texts.append(
                    shown(
                        value or None if isinstance(value, str) else value,
                        book.format_map[look.format_key].format_str,
                    )
                )
                if texts[-1] and book.font_list[look.font_index].struck_out:
                    found.struck[line + 1].add(place)
            yield line + 1, texts

    names = book.sheet_names()
    chosen = [sheet.name for sheet in book.sheets() if sheet.sheet_visible]  # the one on display
    return _Book(names, (chosen or names)[0], lines)


_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_STYLE = "{urn:oasis:names:tc:opendocument:xmlns:style:1.0}"
_CONFIG = "{urn:oasis:names:tc:opendocument:xmlns:config:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_MOST_ALIKE = 16_384
"""Cells alike in a row, which are written once: no sheet has more columns."""


def _ods(name: str, data: bytes) -> _Book:
    """Return an OpenDocument spreadsheet (ISO/IEC 26300, part 3: 9.1 tables, 19.385 value types)."""
    from xml.etree import ElementTree

    intake.check_archive(name, data)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        root = ElementTree.fromstring(archive.read("content.xml"))
        members = archive.namelist()
        settings = ElementTree.fromstring(archive.read("settings.xml")) if "settings.xml" in members else root
    crossed = {
        style.get(f"{_STYLE}name", "")
        for style in root.iter(f"{_STYLE}style")
        if any(
            part.get(f"{_STYLE}text-line-through-style", "none") != "none"
            or part.get(f"{_STYLE}text-line-through-type", "none") != "none"
            for part in style.iter(f"{_STYLE}text-properties")
        )
    }
    tables = {table.get(f"{_TABLE}name", ""): table for table in root.iter(f"{_TABLE}table")}

    def lines(sheet: str, found: _Marked) -> Iterator[tuple[int, list[str]]]:
        line = 1
        for row in tables[sheet].iter(f"{_TABLE}table-row"):
            texts: list[str] = []
            struck, unstored = set(), set()
            for cell in row:
                if cell.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
                    continue
                text = _ods_cell(cell)
                if text and cell.get(f"{_TABLE}style-name") in crossed:
                    struck.add(len(texts))
                if not text and cell.get(f"{_TABLE}formula"):
                    unstored.add(len(texts))
                alike = int(cell.get(f"{_TABLE}number-columns-repeated", "1"))
                texts += [text] * min(alike, _MOST_ALIKE)
            while texts and not texts[-1]:
                del texts[-1]
            alike = int(row.get(f"{_TABLE}number-rows-repeated", "1"))
            for _ in range(alike if texts else 0):
                if row.get(f"{_TABLE}visibility", "visible") != "visible":
                    found.hidden.add(line)
                found.struck[line] |= struck
                found.unstored[line] |= unstored
                yield line, texts
                line += 1
            line += 0 if texts else alike

    active = next(
        (
            x.text or ""
            for x in settings.iter(f"{_CONFIG}config-item")
            if x.get(f"{_CONFIG}name") == "ActiveTable"
        ),
        "",
    )
    return _Book(list(tables), active if active in tables else next(iter(tables)), lines)


def _ods_cell(cell: Any) -> str:
    """Return a cell of an OpenDocument spreadsheet; its unit is what is shown behind the number."""
    text = "\n".join("".join(part.itertext()) for part in cell.iterfind(f"{_TEXT}p"))
    kind, value = cell.get(f"{_OFFICE}value-type", ""), cell.get(f"{_OFFICE}value")
    if kind == "percentage" and value:
        return f"{100 * float(value):.10g} %"
    if kind == "date":
        return str(cell.get(f"{_OFFICE}date-value", text))
    if kind in ("float", "currency") and value:
        unit = re.sub(r"[\d.,'\s+-]", "", text)
        return shown(float(value), f'"{unit}"' if unit.upper() != "E" else "")
    return text


_WORKBOOKS: Mapping[str, Callable[[str, bytes], _Book]] = {
    ".xlsx": _xlsx, ".xlsm": _xlsx, ".xls": _xls, ".ods": _ods,
}  # fmt: skip
SUFFIXES = (".csv", ".tsv", ".txt", *_WORKBOOKS)
"""How the names of the files end that are read as sheets."""
