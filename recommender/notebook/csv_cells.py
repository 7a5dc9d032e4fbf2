"""Rows as CSV cells that no spreadsheet takes for a formula, and back without a change."""

import csv
import math
from collections.abc import Iterator, Mapping
from pathlib import Path

from recommender.errors import BadTable
from recommender.evidence.cells import as_written, harmless
from recommender.evidence.intake import NO_SUCH_FILE, file_at

MOST_HEADER = 10_000
MOST_CELL = 64_000_000
"""Characters; all steps of a long formula that was removed stand in one cell."""
MOST_INTEGER = 2**63
_BLOCK = 1 << 20


def shown(value: object) -> str:
    """Return a value as a cell, None as a blank."""
    if value is None:
        return ""
    return harmless(value) if isinstance(value, str) else repr(value)


class Record(dict[str, "str | float | int | None"]):
    """A row with its place: column -> value."""

    file: str = ""
    line: int = 0


def records(file: Path, columns: Mapping[str, str]) -> Iterator[Record]:
    """Yield the rows of one exported file with their values, as they were before the export.

    A spreadsheet may have saved the file again, with semicolons.
    """
    try:
        file_at(file)
        with file.open(encoding="utf-8-sig", newline="") as opened_file:
            head = opened_file.readline(MOST_HEADER)
            while opened_file.read(_BLOCK):  # that all of it is text is known before a row is stored
                pass
    except BadTable as error:
        if error.problem == NO_SUCH_FILE:
            raise BadTable(file.name, "the file is missing", remedy="Export again") from None
        raise BadTable(file.name, error.problem, remedy=error.remedy) from None
    except (UnicodeDecodeError, OSError):
        raise BadTable(file.name, "this is not UTF-8 text", remedy="Save it as CSV in UTF-8") from None
    longest = csv.field_size_limit(MOST_CELL)
    try:
        yield from _records(file, columns, max(",;\t", key=head.count))
    finally:
        csv.field_size_limit(longest)


def _records(file: Path, columns: Mapping[str, str], delimiter: str) -> Iterator[Record]:
    with file.open(encoding="utf-8-sig", newline="") as opened_file:
        reader = csv.reader(opened_file, delimiter=delimiter, strict=True)
        try:
            header = next(reader, [])
            if missing := [name for name in columns if name not in header]:
                raise BadTable(file.name, f'column "{missing[0]}" is missing', line=1, remedy="Export again")
            for cells in reader:
                if not cells:
                    continue
                if len(cells) != len(header):
                    problem = f"{len(cells)} cells where the header has {len(header)}"
                    raise BadTable(file.name, problem, line=reader.line_num)
                record = Record()
                record.file, record.line = file.name, reader.line_num
                for name, cell in zip(header, cells, strict=True):
                    if name in columns:
                        record[name] = _value(cell, columns[name], record, name)
                yield record
        except csv.Error as error:
            raise BadTable(file.name, f"not a table: {error}", line=reader.line_num) from None


def _value(cell: str, kind: str, record: Record, name: str) -> str | float | int | None:
    if kind == "TEXT":
        return as_written(cell)
    if not cell.strip():
        return None
    try:
        value = int(cell) if kind == "INTEGER" else float(cell)
        if not abs(value) < (MOST_INTEGER if kind == "INTEGER" else math.inf):
            raise ValueError(cell)
        return value
    except ValueError:
        wanted = "a whole number" if kind == "INTEGER" else "a number"
        raise BadTable(
            record.file, f'"{cell}" is not {wanted}', line=record.line, column=name, remedy="Nothing was read"
        ) from None
