"""What a formula shows once it is read: computed beside the page, then put into it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from recommender.bench import Bench, Table
from recommender.drydown.fading import Gap
from recommender.present import courses, curves, words
from recommender.present.curves import Drawing
from recommender.web.balance import sheet_of
from recommender.web.lines import Read
from recommender.web.product import Worn, worn
from recommender.weighing import Sheet


@dataclass(frozen=True, slots=True)
class FacetRow:
    """One facet in figures, as words."""

    facet: str
    clear: str
    there: str
    gap: str


@dataclass(frozen=True, slots=True)
class Shown:
    """The drawing, the gaps, every facet in figures, and notes."""

    drawing: Drawing
    gaps: tuple[Gap, ...]
    rows: tuple[FacetRow, ...]
    notes: tuple[str, ...]


TO_THE_COMMAND_LINE = " See `recommender material`."


def show(read: Read, bench: Bench, figures: bool = True) -> Shown | None:
    """Return what a formula shows, None where nothing in it smells; `figures` asks for every facet's ends."""
    if read.formula is None:
        return None
    name = read.formula.name
    table = Table.of(name, replace(bench, saved={name: read.formula}))
    rows = [_row(row) for row in courses.drydown_rows(courses.drydown(table))] if figures else []
    told = [note.replace(TO_THE_COMMAND_LINE, "") for note in (*table.notes, *read.notes)]
    notes = tuple(dict.fromkeys(told))
    return Shown(curves.drawing(table), tuple(table.gaps), tuple(rows), notes)


@dataclass(frozen=True, slots=True)
class Worked:
    """All that follows from a formula as typed: what it shows, how it is worn, how it is weighed."""

    shown: Shown | None
    worn: Worn | str | None
    sheet: Sheet | str | None


def work_out(read: Read, bench: Bench, fields: Mapping[str, str]) -> Worked:
    """Return all that the page shows of a formula; the weighing sheet and the figures while they are open."""
    sheet = sheet_of(read, bench, fields) if fields.get("weigh") else None
    return Worked(show(read, bench, bool(fields.get("figures"))), worn(read, bench, fields), sheet)


def _row(row: dict[str, object]) -> FacetRow:
    def end(level: str) -> str:
        hours, low, high = (row[f"{level}_{key}"] for key in ("hours", "low", "high"))
        if not isinstance(hours, float) or not isinstance(low, float) or not isinstance(high, float):
            return "never"
        return f"{courses.until({'hours': hours})} ({words.duration(low)} to {words.duration(high)})"

    gap = row.get("gap_hours")
    told = f"fades out by {words.duration(gap)}" if isinstance(gap, float) else ""
    return FacetRow(str(row["facet"]), end("clear"), end("just_there"), told)


def gap_words(gap: Gap) -> str:
    """Return a gap as one sentence."""
    return f"gone by {words.duration(gap.hours)}; it came from {words.join(gap.carried_by[:2])}"
