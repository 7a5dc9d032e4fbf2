"""A question asked of all formulas as a page to print, as lines, and as files: it computes nothing."""

import html
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from recommender.errors import BadValue
from recommender.output import text
from recommender.output.formats import as_csv
from recommender.output.placing import placed
from recommender.output.wording import SIGNS_OFF

if TYPE_CHECKING:
    import pyarrow

ON_A_PAGE = 1_000
"""Rows of a table on the page; a longer list is for a spreadsheet."""
WIDE = ("from", "to", "reason", "formula", "through", "name", "file", "origin", "status")
"""Columns of a table on the terminal that may wrap."""
STYLE = """
body { font: 10pt/1.4 "Liberation Sans", Arial, sans-serif; color: #1d1d1b; }
body { max-width: 190mm; margin: 12mm auto; }
h1 { font-size: 16pt; margin: 0 0 4mm; } h2 { font-size: 12pt; margin: 8mm 0 2mm; break-after: avoid; }
p { margin: 0 0 2mm; } .note { color: #55534c; }
table { border-collapse: collapse; width: 100%; } thead { display: table-header-group; }
th, td { text-align: left; vertical-align: top; padding: 0.8mm 2mm 0.8mm 0; }
th, td { border-bottom: 0.2mm solid #cfcbc0; }
th { font-weight: 600; border-bottom-color: #1d1d1b; } tr { break-inside: avoid; }
.number { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
.bar { height: 3mm; background: #5b7f6b; print-color-adjust: exact; }
@page { size: A4; margin: 12mm; } @media print { body { margin: 0; max-width: none; } }
"""


@dataclass(frozen=True)
class Section:
    """A table of a report: `columns` maps a key of the rows to its heading.

    A number in the column `bar` is drawn as a bar, against the greatest of them.
    """

    heading: str
    columns: Mapping[str, str]
    rows: Sequence[Mapping[str, Any]]
    note: str = ""
    bar: str = ""


@dataclass(frozen=True)
class ArchiveReport:
    """A report: a title, sentences with what it comes to, and tables."""

    title: str
    facts: Sequence[str]
    sections: Sequence[Section]
    foot: str = SIGNS_OFF


# lines, a page, files


def lines(report: ArchiveReport, most: int) -> list[str]:
    """Return a report as lines, so many rows of each table at most."""
    found = [report.title, *report.facts]
    for section in report.sections:
        if not section.rows:
            continue
        columns = {key: head for key, head in section.columns.items() if key != section.bar}
        found += [
            "",
            section.heading,
            *text.rows(section.rows[:most], columns, wide=[name for name in WIDE if name in columns]),
        ]
        if len(section.rows) > most:
            found.append(f"and {len(section.rows) - most:,} more: --format csv, or --out")
    return [*found, "", report.foot] if report.foot else found


def page(report: ArchiveReport, files: Sequence[str] = ()) -> str:
    """Return a report as one HTML page without anything from elsewhere; every text in it is escaped."""
    body = [
        f"<h1>{html.escape(report.title)}</h1>",
        *(f"<p>{html.escape(fact)}</p>" for fact in report.facts),
    ]
    for section in report.sections:
        if section.rows:
            body += _table(section, files)
    if report.foot:
        body.append(f'<p class="note">{html.escape(report.foot)}</p>')
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width">'
        f"<title>{html.escape(report.title)}</title><style>{STYLE}</style></head>\n"
        f"<body>\n{chr(10).join(body)}\n</body></html>\n"
    )


def _table(section: Section, files: Sequence[str]) -> list[str]:
    most = max((row[section.bar] for row in section.rows), default=0) if section.bar else 0
    columns = [key for key in section.columns if key != section.bar]
    numeric = {key for key in columns if all(_is_number(row.get(key)) for row in section.rows)}

    def cell(row: Mapping[str, Any], key: str) -> str:
        value = row.get(key)
        if key == section.bar:
            width = 100 * (value or 0) / max(most, 1)
            return f'<td style="width: 40%"><div class="bar" style="width: {width:.1f}%"></div></td>'
        kind = ' class="number"' if key in numeric else ""
        return f"<td{kind}>{html.escape('' if value is None else str(value))}</td>"

    heads = "".join(
        f'<th scope="col"{" class=number" if key in numeric else ""}>{html.escape(head)}'
        for key, head in section.columns.items()
    )
    found = [f"<h2>{html.escape(section.heading)}</h2>"]
    if section.note:
        found.append(f'<p class="note">{html.escape(section.note)}</p>')
    found.append(f"<table><thead><tr>{heads}</tr></thead><tbody>")
    for row in section.rows[:ON_A_PAGE]:
        found.append(f"<tr>{''.join(cell(row, key) for key in section.columns)}</tr>")
    found.append("</tbody></table>")
    if (more := len(section.rows) - ON_A_PAGE) > 0:
        where = f"; all are in {files[0]}" if files else ""
        found.append(f'<p class="note">{html.escape(f"and {more:,} more{where}")}</p>')
    return found


def _is_number(value: object) -> bool:
    """Return whether a cell is a number, or one with a per cent sign; a blank cell may be one."""
    if value is None or isinstance(value, int | float):
        return True
    try:
        float(str(value).removesuffix("%").strip() or 0)
    except ValueError:
        return False
    return True


def files_of(folder: str, name: str) -> dict[str, Path]:
    """Return the files of a report, by kind."""
    at = Path(folder)
    found = {kind: at / f"{name}.{kind}" for kind in ("csv", "parquet", "html")}
    return found | {"failures": at / f"{name}_failures.csv"}


def check(folder: str, name: str, force: bool = False) -> None:
    """Raise `BadValue` if the files of a report cannot be written there; call it before the work is done."""
    at = Path(folder)
    if at.exists() and not at.is_dir():
        raise BadValue("out", folder, "this is a file; name a folder")
    if not at.exists() and not Path(os.path.realpath(at)).parent.is_dir():
        raise BadValue("out", folder, "there is no such folder")
    there = [path.name for path in files_of(folder, name).values() if path.exists()]
    if there and not force:
        raise BadValue("out", folder, f"{there[0]} is there already; {{force}} writes over it")


def write(
    report: ArchiveReport,
    table: "pyarrow.Table",
    failures: Sequence[Mapping[str, Any]],
    folder: str,
    name: str,
) -> None:
    """Write a report, its rows as CSV and Parquet and its failures into a folder, each whole or not at all.

    Raises
    ------
    BadValue
        A file cannot be written there.
    """
    try:
        Path(folder).mkdir(exist_ok=True)
    except OSError as error:
        raise BadValue("out", folder, f"it cannot be made ({error.strerror})") from None
    files = files_of(folder, name)
    write_table(table, folder, name)
    if failures:
        reasons = as_csv(failures, list(failures[0]))
        placed(
            str(files["failures"]),
            "out",
            lambda to: to.write_text(reasons + "\n", encoding="utf-8", newline=""),
        )
    elif files["failures"].exists():
        files["failures"].unlink()
    made = page(report, [files["csv"].name])
    placed(str(files["html"]), "out", lambda to: to.write_text(made, encoding="utf-8", newline=""))


def write_table(table: "pyarrow.Table", folder: str, name: str) -> None:
    """Write rows as CSV and Parquet into a folder that is there; raises `BadValue`."""
    from pyarrow import parquet

    files = files_of(folder, name)
    placed(str(files["csv"]), "out", lambda to: _write_csv(to, table))
    placed(str(files["parquet"]), "out", lambda to: parquet.write_table(table, to))


def _write_csv(path: Path, table: "pyarrow.Table") -> None:
    """Write a table as CSV, some thousand rows at a time."""
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write(as_csv([], table.schema.names) + "\n")
        for batch in table.to_batches(max_chunksize=10_000):
            rows = as_csv(batch.to_pylist(), table.schema.names)
            file.write(rows.partition("\n")[2] + "\n")
