"""What a formula shows once it is read: computed beside the page, then put into it."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from recommender import units
from recommender.evaporation.gaps import Gap
from recommender.formulas import curves
from recommender.formulas.curves import Drawing
from recommender.output import formulas, wording
from recommender.palette import Palette
from recommender.web.server.typed_lines import ParsedLines
from recommender.web.widgets.product_section import ProductSummary, product_summary, usable
from recommender.web.widgets.weighing_request import Bottles, sheet_of
from recommender.weighing.plan import WeighingSheet
from recommender.workspace import Workspace


@dataclass(frozen=True, slots=True)
class FacetRow:
    """One facet in figures, as words."""

    facet: str
    clear: str
    there: str
    gap: str


@dataclass(frozen=True, slots=True)
class DrydownView:
    """The drawing, the gaps, every facet in figures, notes, the theme and what sticks out, as sentences."""

    drawing: Drawing
    gaps: tuple[Gap, ...]
    rows: tuple[FacetRow, ...]
    notes: tuple[str, ...]
    theme: str = ""
    sticks_out: tuple[str, ...] = ()


_COMMAND = re.compile(r"; see `recommender [^`]*`| See `recommender [^`]*`\.")


def without_commands(note: str) -> str:
    """Return a note without what it says of a command, which the page has no use for.

    >>> without_commands("No bottle has a price; see `recommender shelf`.")
    'No bottle has a price.'
    """
    return _COMMAND.sub("", note)


def drydown_view(
    read: ParsedLines, workspace: Workspace, figures: bool = True, share_percent: float | None = None
) -> DrydownView | None:
    """Return what a formula shows, None where nothing in it smells; `figures` asks for every facet's ends."""
    if read.formula is None:
        return None
    table = workspace.drydown(read.formula, share_percent=share_percent)
    rows = [_row(row) for row in formulas.drydown_rows(formulas.drydown(table))] if figures else []
    shown = (*table.notes, *(table.carrier_notes if figures else ()))
    notes = tuple(dict.fromkeys(without_commands(note) for note in shown))
    theme, loud = wording.theme(table.theme.figures), tuple(map(formulas.sticks_out, table.sticks_out))
    return DrydownView(curves.drawing(table), tuple(table.gaps), tuple(rows), notes, theme, loud)


@dataclass(frozen=True, slots=True)
class FormulaView:
    """All that follows from a formula as typed: its drydown, the finished product, how it is weighed."""

    drydown: DrydownView | None
    product_summary: ProductSummary | str | None
    sheet: WeighingSheet | str | None


def formula_view(
    read: ParsedLines, palette: Palette, fields: Mapping[str, str], bottles: Bottles | None = None
) -> FormulaView:
    """Return all that the page shows of a formula; the weighing sheet and the figures while they are open.

    `bottles` are those of the shelf, by material, from which it is weighed.
    """
    workspace = Workspace(palette=palette)  # the one that the lines were read with
    return FormulaView(
        drydown_view(read, workspace, bool(fields.get("figures")), usable(fields)[1]),
        product_summary(read, workspace, fields),
        sheet_of(read, workspace, fields, bottles) if fields.get("weigh") else None,
    )


def _row(row: dict[str, object]) -> FacetRow:
    def end(level: str) -> str:
        hours, low, high = (row[f"{level}_{key}"] for key in ("hours", "low", "high"))
        if not isinstance(hours, float) or not isinstance(low, float) or not isinstance(high, float):
            return "never"
        return f"{formulas.until({'hours': hours})} ({units.duration(low)} to {units.duration(high)})"

    gap = row.get("gap_hours")
    fades = f"fades out by {units.duration(gap)}" if isinstance(gap, float) else ""
    return FacetRow(str(row["facet"]), end("clear"), end("just_there"), fades)


def gap_words(gap: Gap) -> str:
    """Return a gap as one sentence."""
    return f"fades out by {units.duration(gap.hours)}; it came from {wording.join(gap.carried_by[:2])}"
