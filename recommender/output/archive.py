"""Answers about an archive as plain data, and as reports (`archive_page`)."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from recommender.output.archive_page import ArchiveReport, Section
from recommender.output.wording import SIGNS_OFF, sixth

if TYPE_CHECKING:
    import pyarrow as pa

    from recommender.archive.affected import AffectedFormulas
    from recommender.archive.checking import CheckedFormulas
    from recommender.archive.importing import ImportResult
    from recommender.archive.mending import MendedFormulas
    from recommender.archive.runs import Failure
    from recommender.archive.search import FoundFormulas

IMPORT_COLUMNS = ("file", "line", "reason")
FIRST_SWAPS = 30
"""Kinds of change that a report counts."""
FOUND_COLUMNS = ("rank", "number", "formula", "score", "origin")
NATURALS = "Naturals count at the high end of what they contain."
_FIGURES = ("percent", "put_in_percent", "percent_in_concentrate")
_FORMULA = {"number": "no.", "formula": "formula"}
_FAILED = {"number": "no.", "formula": "formula", "reason": "reason"}


def rows_of(table: "pa.Table") -> Iterator[dict[str, Any]]:
    """Yield the rows of a table as plain data, figures with six digits."""
    for batch in table.to_batches(max_chunksize=10_000):
        for row in batch.to_pylist():
            for name in _FIGURES:
                if name in row:
                    row[name] = sixth(row[name])
            yield row


def failures(found: "Iterable[Failure]") -> list[dict[str, Any]]:
    """Return formulas without an answer as plain data."""
    return [dict(vars(one)) for one in found]


# import


def import_data(found: "ImportResult", store: Path) -> dict[str, Any]:
    """Return what an import did as plain data."""
    notes = []
    if found.left_out:
        notes.append(f"{_so_many(found.left_out, 'file')} of other kinds left out.")
    if not found.finished:
        notes.append("It was ended before everything was read; start it again.")
    return {
        "store": str(store),
        "formulas": found.formulas,
        "added": found.added,
        "replaced": found.replaced,
        "unchanged": found.unchanged,
        "failures": [dict(row) for row in found.failures],
        "notes": notes,
    }


def import_report(data: Mapping[str, Any]) -> ArchiveReport:
    """Return what an import did as a report."""
    counts = f"{data['added']:,} added, {data['replaced']:,} replaced, {data['unchanged']:,} unchanged"
    heads = {name: name for name in IMPORT_COLUMNS}
    title = f"Archive: {_so_many(data['formulas'], 'formula')} in {data['store']}"
    failed = data["failures"]
    facts = [f"{counts}; {_so_many(len(failed), 'failure')}."]
    return ArchiveReport(title, facts, [Section("What could not be read", heads, failed)], "")


# affected


def affected_data(found: "AffectedFormulas") -> dict[str, Any]:
    """Return the formulas that a material is in as plain data."""
    return {
        "query": {"verb": "archive affected", "name": found.material.name, "cas": found.material.cas or None},
        "formulas": found.formulas,
        "rows": list(rows_of(found.rows)),
        "notes": [f"Per cent of the concentrate by mass. {NATURALS}"],
    }


def affected_report(data: Mapping[str, Any]) -> ArchiveReport:
    """Return the formulas that a material is in as a report, those with most of it first."""
    rows = sorted(data["rows"], key=lambda row: -(row["percent"] or 0.0))
    counts: dict[str, int] = {}
    for row in rows:
        counts[row["status"]] = counts.get(row["status"], 0) + 1
    ways = [{"status": status, "formulas": count} for status, count in counts.items()]
    shown = [row | {"through": "; ".join(row["through"])} for row in rows]
    fact = f"It is in {len(rows):,} of {_so_many(data['formulas'], 'formula')}. {NATURALS}"
    heads = _FORMULA | {"percent": "% of concentrate", "status": "how", "through": "through"}
    sections = [
        Section("How it comes in", {"status": "how", "formulas": "formulas"}, ways),
        Section("The formulas, those with most of it first", heads, shown),
    ]
    return ArchiveReport(f"Archive: {data['query']['name']}", [fact], sections, "")


# check


def check_data(found: "CheckedFormulas") -> dict[str, Any]:
    """Return what follows for each formula as plain data."""
    use = found.use
    return {
        "query": {
            "verb": "archive check",
            "dosage": use.dosage_percent,
            "category": use.category,
            "market": use.market,
            "on": use.on or None,
        },
        "decisions": found.counts,
        "rows": list(rows_of(found.rows)),
        "formulas": list(rows_of(found.decisions)),
        "failures": failures(found.failures),
        "notes": [NATURALS, SIGNS_OFF],
    }


def check_report(found: "CheckedFormulas") -> ArchiveReport:
    """Return what follows for the formulas as a report: decisions, common findings, what is to be stopped."""
    from recommender.regulation import STOP

    use = found.use
    title = (
        f"Archive: check at {use.dosage_percent:g} %, category {use.category}, market {use.market}"
        f"{f', on {use.on}' if use.on else ''}"
    )
    decisions = [{"decision": name, "formulas": count, "bar": count} for name, count in found.counts.items()]
    heads = {"status": "status", "name": "name", "cas": "CAS", "formulas": "formulas"}
    stopped = [row for row in rows_of(found.decisions) if row["decision"] == STOP]
    sections = [
        Section(
            "What follows", {"decision": "decision", "formulas": "formulas", "bar": ""}, decisions, bar="bar"
        ),
        Section("Findings, and how many formulas have them", heads, found.common()),
        Section("Formulas to stop", _FORMULA | {"findings": "findings", "origin": "from"}, stopped),
        Section("Formulas without an answer", _FAILED, failures(found.failures)),
    ]
    facts = [
        f"{_so_many(found.decisions.num_rows, 'formula')}, {found.in_full:,} of them near a limit or above "
        f"one and checked one by one. {NATURALS}"
    ]
    return ArchiveReport(title, facts, sections)


# search


def search_data(found: "FoundFormulas") -> dict[str, Any]:
    """Return the formulas that were looked for as plain data."""
    request = found.request
    return {
        "query": {
            "verb": "archive search",
            "like": request.like.name if request.like else None,
            "gives": request.words or None,
        },
        "rows": [dict(row) for row in found.rows],
        "failures": failures(found.failures),
        "notes": list(found.notes),
    }


def search_report(data: Mapping[str, Any]) -> ArchiveReport:
    """Return the formulas that were looked for as a report."""
    query = data["query"]
    asked = f"like {query['like']}" if query["like"] else f"that give {query['gives']}"
    heads = {"rank": "rank"} | _FORMULA | {"score": "score", "origin": "from"}
    sections = [
        Section("The nearest first", heads, data["rows"]),
        Section("Formulas without an answer", _FAILED, data["failures"]),
    ]
    return ArchiveReport(f"Archive: formulas {asked}", data["notes"], sections, "")


def table_of(rows: Sequence[Mapping[str, Any]], columns: Sequence[str]) -> "pa.Table":
    """Return rows as a table of some columns."""
    import pyarrow as pa

    return pa.table({name: [row.get(name) for row in rows] for name in columns})


def _so_many(count: int, what: str) -> str:
    return f"{count:,} {what}{'' if count == 1 else 's'}"


# mend

_MENDED = {
    "number": "no.",
    "formula": "formula",
    "change": "change",
    "from": "from",
    "to": "to",
    "parts_before": "parts",
    "parts": "then",
    "preserved": "preserved",
}


def mend_report(found: "MendedFormulas", rows: Sequence[Mapping[str, Any]]) -> ArchiveReport:
    """Return what mends the formulas as a report: what it comes to, and those that lose most first."""
    summary = found.summary
    facts = [
        f"{summary.hit:,} of {summary.formulas:,} formulas have something in the way; "
        f"{summary.mended:,} of them have a mend."
    ]
    if summary.failed:
        facts.append(f"{summary.failed:,} formulas have no answer; the reasons are below.")
    bands = [
        {"from": f"{100 * low:.0f} to {100 * high:.0f} %", "formulas": count, "bar": count}
        for low, high, count in summary.bands
    ]
    swaps = [
        {
            "change": one.change,
            "from": one.line,
            "to": one.to,
            "formulas": one.formulas,
            "preserved": _percent(one.preserved),
        }
        for one in summary.swaps[:FIRST_SWAPS]
    ]
    every = len(summary.swaps)
    most = f" The {FIRST_SWAPS} most frequent of {every}." if every > FIRST_SWAPS else ""
    ordered = sorted(rows, key=lambda row: -1.0 if row["preserved"] is None else row["preserved"])
    shown = [
        dict(row)
        | {"preserved": _percent(row["preserved"])}
        | {key: None if row[key] is None else f"{row[key]:.4g}" for key in ("parts_before", "parts")}
        for row in ordered
    ]
    sections = [
        Section(
            "How much of the smell is preserved",
            {"from": "preserved", "formulas": "formulas", "bar": ""},
            bands,
            "The presence of all facets from a minute to three days, those of the theme twice.",
            bar="bar",
        ),
        Section(
            "What becomes of the lines",
            {
                "change": "change",
                "from": "from",
                "to": "to",
                "formulas": "formulas",
                "preserved": "preserved",
            },
            swaps,
            f"Preserved is that of the middle formula.{most}",
        ),
        Section("The formulas, those that lose most first", _MENDED, shown, "Parts are neat."),
    ]
    if found.failures:
        sections.append(Section("Formulas without an answer", _FAILED, failures(found.failures)))
    return ArchiveReport(f"Archive: {summary.asked}", facts, sections)


def mend_data(found: "MendedFormulas") -> dict[str, Any]:
    """Return what mends the formulas as plain data."""
    summary = found.summary
    return {
        "query": {"verb": "archive mend", "asked": summary.asked},
        "summary": {
            **{key: getattr(summary, key) for key in ("formulas", "hit", "mended", "failed")},
            "preserved": [{"from": low, "to": high, "formulas": count} for low, high, count in summary.bands],
            "changes": [
                {
                    "change": one.change,
                    "from": one.line or None,
                    "to": one.to or None,
                    "formulas": one.formulas,
                    "preserved": one.preserved,
                }
                for one in summary.swaps
            ],
        },
        "rows": found.rows.to_pylist(),
        "failures": failures(found.failures),
        "notes": [SIGNS_OFF],
    }


def _percent(share: float | None) -> str:
    """Return a share as per cent, blank where it is unknown."""
    return "" if share is None else f"{100 * share:.0f} %"
