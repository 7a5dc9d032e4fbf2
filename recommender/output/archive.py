"""Answers about an archive as plain data, text, and files."""

import csv
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from recommender.errors import BadValue
from recommender.output import placing, text
from recommender.output.formats import written_cell
from recommender.output.wording import sixth

if TYPE_CHECKING:
    import pyarrow as pa

    from recommender.archive.affected import AffectedFormulas
    from recommender.archive.checking import CheckedFormulas
    from recommender.archive.importing import ImportResult
    from recommender.archive.runs import Failure
    from recommender.archive.search import FoundFormulas

SHOWN = 20
"""Rows of a table on the terminal; files, JSON and CSV have all."""
FAILURE_COLUMNS = ("file", "line", "reason")
AFFECTED_COLUMNS = (
    "formula",
    "title",
    "name",
    "cas",
    "percent",
    "put_in_percent",
    "through",
    "status",
    "origin",
)
CHECK_COLUMNS = ("formula", "title", "name", "cas", "percent", "percent_in_concentrate", "through", "status")
DECISION_COLUMNS = ("formula", "title", "decision", "findings", "origin")
FOUND_COLUMNS = ("rank", "formula", "title", "score", "origin")
_FIGURES = ("percent", "put_in_percent", "percent_in_concentrate")


def rows_of(table: "pa.Table", columns: Sequence[str]) -> Iterator[dict[str, Any]]:
    """Yield the rows of a table as plain data, figures with six digits."""
    for batch in table.select(list(columns)).to_batches(max_chunksize=10_000):
        for row in batch.to_pylist():
            for name in _FIGURES:
                if name in row:
                    row[name] = sixth(row[name])
            yield row


def failures(found: "Iterable[Failure]") -> list[dict[str, Any]]:
    """Return formulas without an answer as plain data."""
    return [{"formula": one.formula, "name": one.name, "reason": one.reason} for one in found]


# import


def imported(found: "ImportResult", store: Path) -> dict[str, Any]:
    """Return what an import did as plain data."""
    notes = []
    if found.passed_over:
        notes.append(f"{_so_many(found.passed_over, 'file')} of other kinds passed over.")
    return {
        "store": str(store),
        "formulas": found.formulas,
        "added": found.added,
        "replaced": found.replaced,
        "unchanged": found.unchanged,
        "failures": [dict(row) for row in found.failures],
        "notes": notes,
    }


def imported_lines(data: Mapping[str, Any]) -> list[str]:
    """Return what an import did as text."""
    counts = f"{data['added']:,} added, {data['replaced']:,} replaced, {data['unchanged']:,} unchanged"
    lines = [f"{_so_many(data['formulas'], 'formula')} in {data['store']}: {counts}."]
    if data["failures"]:
        lines += ["", f"{_so_many(len(data['failures']), 'source')} could not be read:", ""]
        heads = {name: name for name in FAILURE_COLUMNS}
        lines += text.rows(data["failures"][:SHOWN], heads, ("file", "reason"))
        lines += _more(len(data["failures"]))
    return lines


# affected


def affected(found: "AffectedFormulas") -> dict[str, Any]:
    """Return the formulas that a material is in as plain data."""
    return {
        "name": found.material.name,
        "cas": found.material.cas or None,
        "formulas": found.formulas,
        "rows": list(rows_of(found.rows, AFFECTED_COLUMNS)),
        "notes": ["Per cent of the concentrate by mass; naturals count at the high end of their range."],
    }


def affected_lines(found: "AffectedFormulas") -> list[str]:
    """Return the formulas that a material is in as text."""
    count = found.rows.num_rows
    lines = [f"{found.material.name} is in {count:,} of {_so_many(found.formulas, 'formula')}."]
    if count:
        heads = {"formula": "formula", "title": "no.", "percent": "% of concentrate", "status": "how"}
        shown = rows_of(found.rows.slice(0, SHOWN), AFFECTED_COLUMNS)
        lines += ["", *text.rows(list(shown), heads | {"through": "through"}, ("title", "through"))]
        lines += _more(count)
    return lines


# check


def checked(found: "CheckedFormulas") -> dict[str, Any]:
    """Return what follows for each formula as plain data."""
    use = found.use
    return {
        "query": {
            "dosage": use.dosage_percent,
            "category": use.category,
            "market": use.market,
            "on": use.on or None,
        },
        "decisions": found.counts,
        "rows": list(rows_of(found.rows, CHECK_COLUMNS)),
        "formulas": list(rows_of(found.decisions, DECISION_COLUMNS)),
        "failures": failures(found.failures),
        "notes": check_notes(found),
    }


def check_notes(found: "CheckedFormulas") -> list[str]:
    """Return remarks on a check of an archive."""
    notes = [f"{found.in_full:,} near a limit or above one were checked one by one."]
    if found.failures:
        notes.append(f"{_so_many(len(found.failures), 'formula')} could not be checked: see the failures.")
    return notes


def checked_lines(found: "CheckedFormulas") -> list[str]:
    """Return what follows for the formulas as text: how many, the findings that most have, what to stop."""
    use = found.use
    lines = [
        f"{found.decisions.num_rows:,} formulas at {use.dosage_percent:g} % in category {use.category}, "
        f"market {use.market}{f', on {use.on}' if use.on else ''}:",
        "",
        *(f"{count:>9,}  {decision}" for decision, count in found.counts.items()),
    ]
    if common := found.common(SHOWN):
        heads = {"formulas": "formulas", "status": "status", "name": "name", "cas": "CAS"}
        lines += ["", *text.rows(common, heads, ("status", "name"), ("formulas",))]
    if found.failures:
        heads = {"formula": "no.", "name": "formula", "reason": "reason"}
        shown = failures(found.failures[:SHOWN])
        lines += ["", "could not be checked:", "", *text.rows(shown, heads, ("name", "reason"))]
    return lines


# search


def found(result: "FoundFormulas") -> dict[str, Any]:
    """Return the formulas that were looked for as plain data."""
    request = result.request
    return {
        "query": {"like": request.like.name if request.like else None, "gives": request.words or None},
        "rows": [dict(row) for row in result.rows],
        "failures": failures(result.failures),
        "notes": list(result.notes),
    }


def found_lines(data: Mapping[str, Any]) -> list[str]:
    """Return the formulas that were looked for as text."""
    heads = {"rank": "", "formula": "formula", "title": "no.", "score": "score", "origin": "origin"}
    return text.rows(data["rows"], heads, ("title", "origin"))


def _so_many(count: int, what: str) -> str:
    return f"{count:,} {what}{'' if count == 1 else 's'}"


def _more(count: int) -> list[str]:
    return (
        ["", f"and {count - SHOWN:,} more; --out, --format json and csv have all."] if count > SHOWN else []
    )


# files


def check_folder(folder: str, names: Iterable[str], force: bool) -> None:
    """Raise `BadValue` where answers cannot be written to a folder; call it before the work is done."""
    path = Path(folder)
    if path.exists() and not path.is_dir():
        raise BadValue("out", folder, "this is a file; name a folder")
    for name in names:
        if (path / name).exists() and not force:
            raise BadValue("out", folder, f"{name} is there already; {{force}} writes over it")


def write(folder: str, tables: Mapping[str, tuple["pa.Table", Sequence[str]]]) -> list[str]:
    """Write tables, with the columns named, as Parquet and CSV; return the paths.

    Raises
    ------
    BadValue
        They cannot be written there.
    """
    from pyarrow import parquet

    path = Path(folder)
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadValue("out", folder, f"it cannot be made ({error.strerror})") from None
    done = []
    for name, (table, columns) in tables.items():
        chosen = table.select(list(columns))
        file = path / f"{name}.parquet"
        placing.placed(str(file), "out", lambda to, chosen=chosen: parquet.write_table(chosen, to))
        sheet = path / f"{name}.csv"
        placing.placed(str(sheet), "out", lambda to, t=table, c=columns: _write_csv(to, t, c))
        done += [str(file), str(sheet)]
    return done


def _write_csv(path: Path, table: "pa.Table", columns: Sequence[str]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(columns)
        for row in rows_of(table, columns):
            writer.writerow([written_cell(row[name]) for name in columns])


def table_of(rows: Sequence[Mapping[str, Any]], columns: Sequence[str]) -> "pa.Table":
    """Return rows as a table of some columns."""
    import pyarrow as pa

    return pa.Table.from_pylist([{name: row.get(name) for name in columns} for row in rows])
