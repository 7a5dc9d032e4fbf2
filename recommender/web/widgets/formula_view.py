"""What a formula shows once it is read: computed beside the page, then put into it."""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from recommender import units
from recommender.evaporation.gaps import Gap
from recommender.evaporation.surfaces import SURFACES, Application
from recommender.evidence.catalogue import Catalogue
from recommender.formulas import curves, lanes
from recommender.formulas.comparison import first_parts
from recommender.formulas.curves import Drawing
from recommender.formulas.drydown import FormulaDrydown
from recommender.formulas.formula import DEFAULT_SOLVENT
from recommender.formulas.lanes import Lane
from recommender.model import STRIP, Formula, Line, Reading, Suggestion
from recommender.output import formulas, wording
from recommender.output.lanes import ends
from recommender.palette import Palette
from recommender.web.server.typed_lines import ParsedLines, content_of
from recommender.web.widgets import lanes as drawn_lanes
from recommender.web.widgets.product_section import ProductSummary, product_summary, usable
from recommender.web.widgets.weighing_request import Bottles, sheet_of
from recommender.weighing.plan import WeighingSheet
from recommender.workspace import Workspace

SURFACE, PINNED, EVERY, PICTURE = "surface", "pinned", "every_smell", "picture"
"""Fields of a formula: what it dries on, the smells that are always drawn, whether all are, which view."""
SEEN = 1.5
"""The lane of an answer that was not asked about is drawn where an end moves by more than this factor."""
CURVES = "curves"
"""The view in place of the lanes."""


@dataclass(frozen=True, slots=True)
class FacetRow:
    """One facet in figures, as words."""

    facet: str
    clear: str
    there: str
    gap: str


@dataclass(frozen=True, slots=True)
class DrydownView:
    """The lanes, the gaps, every facet in figures, notes, the theme and what sticks out, as sentences.

    `pictures` and `moments` are the lanes and the time cursor as the browser draws them, `fainter` is how
    many smells have no lane; `drawing` are the curves, None while they are not looked at;
    `inferred` is the theme where none is stated.
    """

    surface: str
    lanes: tuple[Lane, ...]
    pictures: list[dict[str, Any]]
    moments: list[dict[str, Any]]
    fainter: int
    gaps: tuple[Gap, ...]
    rows: tuple[FacetRow, ...]
    notes: tuple[str, ...]
    theme: str = ""
    sticks_out: tuple[str, ...] = ()
    drawing: Drawing | None = None
    inferred: tuple[str, ...] = ()

    def ends_of(self, facet: str) -> str:
        """Return the ends of a smell in words, blank where it has no lane."""
        return next((ends(lane) for lane in self.lanes if lane.facet == facet), "")


@dataclass
class SurfacePalettes:
    """A palette on each surface, made once, so that the films of its materials are too."""

    palette: Palette | None = None
    made: dict[str, Palette] = field(default_factory=dict)

    def on(self, palette: Palette, surface: str) -> Palette:
        """Return a palette on a surface; that of a person's own strips where it is a strip."""
        if surface not in SURFACES or surface == STRIP:
            return palette
        if self.palette is not palette:
            self.palette, self.made = palette, {}
        if surface not in self.made:
            conditions = Application(surface).on(palette.conditions)
            self.made[surface] = replace(palette, conditions=conditions)
        return self.made[surface]


_COMMAND = re.compile(r"; (see )?`recommender [^`]*`( shows them)?| See `recommender [^`]*`\.")


def without_commands(note: str) -> str:
    """Return a note without what it says of a command, which the page has no use for.

    >>> without_commands("No bottle has a price; see `recommender shelf`.")
    'No bottle has a price.'
    """
    return _COMMAND.sub("", note)


def drydown_view(
    read: ParsedLines,
    palette: Palette,
    fields: Mapping[str, str],
    asked: Sequence[str] = (),
    readings: Sequence[Reading] = (),
) -> DrydownView | None:
    """Return what a formula shows, None where nothing in it smells; `asked` are smells that have to be drawn.

    `palette` is on the surface that is looked at. The ends of every facet are there while figures are open.
    `readings` of its trials are dots in the lanes of a strip.
    """
    if read.formula is None:
        return None
    table = Workspace(palette=palette).drydown(read.formula, share_percent=usable(fields)[1])
    figures = bool(fields.get("figures"))
    rows = [_row(row) for row in formulas.drydown_rows(formulas.drydown(table))] if figures else []
    shown = (*table.notes, *(table.carrier_notes if figures else ()))
    pins = lanes.pinned(fields.get(PINNED, ""), table.film.facets)
    wanted = lanes.shown(
        table, [*pins, *(f for f in asked if f in table.film.facets)], bool(fields.get(EVERY))
    )
    found = lanes.lanes(table, wanted)
    return DrydownView(
        table.surface,
        tuple(found),
        drawn_lanes.with_readings(
            _drawn(table, found, pins, asked), readings if table.surface == STRIP else (), palette.smell
        ),
        drawn_lanes.moments_drawn(lanes.moments(table), _typed_names(read)),
        len(set(curves.perceptible(table)) - set(wanted)),
        tuple(table.gaps),
        tuple(rows),
        tuple(dict.fromkeys(without_commands(note) for note in shown)),
        wording.theme(table.theme.figures),
        tuple(map(formulas.sticks_out, table.sticks_out)),
        curves.drawing(table) if fields.get(PICTURE) == CURVES else None,
        () if table.theme.stated else table.theme.facets,
    )


def _typed_names(read: ParsedLines) -> dict[str, str]:
    """Return the names of materials as typed; of one that is in several lines as in the first."""
    found: dict[str, str] = {}
    for number, line in read.found.items():
        material = content_of(line)
        if material is not None and number in read.typed:
            found.setdefault(material.name, read.typed[number])
    return found


def _drawn(
    table: FormulaDrydown, found: Sequence[Lane], pins: Sequence[str], asked: Sequence[str]
) -> list[dict[str, Any]]:
    hours, loudest = table.course.hours.tolist(), float(table.course.facets.max())
    pictures = []
    for lane in found:
        picture = drawn_lanes.drawn(lane, hours, loudest)
        question = f"What keeps {lane.facet} alive? {picture['text']}."
        own = {"pinned": lane.facet in pins, "asked": lane.facet in asked, "ask": question}
        pictures.append(picture | own)
    return pictures


def formula_with(
    read: ParsedLines, found: Suggestion, catalogue: Catalogue, instead_of: Sequence[str] = ()
) -> Formula | None:
    """Return a formula with a suggestion at its first dose, in place of some lines or beside all.

    A dose that is weighed as a dilution comes with its solvent, as when it is taken. None where nothing was
    read.
    """
    if read.formula is None:
        return None
    share = first_parts(found) / 1000.0
    rest = [line for number, line in read.found.items() if number not in instead_of]
    total = sum(line.parts for line in rest) / max(1.0 - share, 1e-9)
    members = found.members or ((found.material, 1.0),)
    doses = found.dose.members if found.dose else ()
    percents = [dose.dilution_percent for dose in doses] or [
        found.dose.dilution_percent if found.dose else None
    ] * len(members)
    named = found.bottles[0].solvent if len(found.bottles) == 1 else ""
    solvent = catalogue.by_slug(named or DEFAULT_SOLVENT)
    added = []
    for (material, of_all), percent in zip(members, percents, strict=True):
        dilution = (percent or 100.0) / 100.0
        parts = of_all * share * total / dilution
        added.append(Line(material, parts, dilution, solvent if dilution < 1.0 else None))
    return replace(read.formula, lines=(*rest, *added))


def ghost_view(
    formula: Formula,
    palette: Palette,
    share_percent: float | None,
    beside: DrydownView,
    asked: Sequence[str] = (),
) -> tuple[dict[str, str], dict[str, Any]]:
    """Return the ends of the smells of a formula, in words, and as the browser draws them.

    Drawn are those that end clearly otherwise than the lanes beside which they are drawn, and of those that
    are `asked` for any change; `gone` is the place of the end, `less` whether it is earlier than the present.
    """
    present = {lane.facet: lane for lane in beside.lanes}
    table = Workspace(palette=palette).drydown(formula, share_percent=share_percent)
    worded, found = {}, {}
    known = [facet for facet in dict.fromkeys([*present, *asked]) if facet in table.film.facets]
    for lane in lanes.lanes(table, known):
        worded[lane.facet] = words = ends(lane)
        if (
            lane.facet in present
            and words != beside.ends_of(lane.facet)
            and (lane.facet in asked or _moved(lane, present[lane.facet]))
        ):
            found[lane.facet] = {
                "clear": drawn_lanes.stops(lane.clear),
                "there": drawn_lanes.stops(lane.there),
                "ends": words,
                "gone": round(drawn_lanes.place(lane.there.hours), 3) if lane.there else 0.0,
                "less": _last_hours(lane) < _last_hours(present[lane.facet]),
            }
    return worded, {"lanes": found}


def _last_hours(lane: Lane) -> tuple[float, float]:
    """Return when a smell is gone, and until when it is clear, 0 where it never is."""
    return (lane.there.hours if lane.there else 0.0, lane.clear.hours if lane.clear else 0.0)


def _moved(one: Lane, other: Lane) -> bool:
    """Return whether an end of two lanes differs by more than `SEEN`."""
    for first, second in ((one.clear, other.clear), (one.there, other.there)):
        if (first is None) != (second is None):
            return True
        if first and second and abs(math.log(first.hours / second.hours)) > math.log(SEEN):
            return True
    return False


@dataclass(frozen=True, slots=True)
class FormulaView:
    """All that follows from a formula as typed: its drydown, the finished product, how it is weighed."""

    drydown: DrydownView | None
    product_summary: ProductSummary | str | None
    sheet: WeighingSheet | str | None


def formula_view(
    read: ParsedLines,
    palette: Palette,
    fields: Mapping[str, str],
    asked: Sequence[str] = (),
    on_surface: Palette | None = None,
    bottles: Bottles | None = None,
    readings: Sequence[Reading] = (),
) -> FormulaView:
    """Return all that the page shows of a formula; the weighing sheet and the figures while they are open.

    `on_surface` is the same palette on the surface that is looked at; `bottles` are those of the shelf, by
    material, from which it is weighed; `readings` are those of its trials.
    """
    workspace = Workspace(palette=palette)  # the one that the lines were read with
    return FormulaView(
        drydown_view(read, on_surface or palette, fields, asked, readings),
        product_summary(read, workspace, fields),
        sheet_of(read, workspace, fields, bottles) if fields.get("weigh") else None,
    )


def _row(row: dict[str, object]) -> FacetRow:
    def end(level: str) -> str:
        hours, low, high = (row[f"{level}_{key}"] for key in ("hours", "low", "high"))
        if not isinstance(hours, float) or not isinstance(low, float) or not isinstance(high, float):
            return "never"
        return f"{formulas.until({'hours': hours})} ({units.duration(low)} to {units.duration(high)})"

    return FacetRow(
        str(row["facet"]), end("clear"), end("just_there"), "ends early" if row.get("gap_hours") else ""
    )


def gap_words(gap: Gap, ends_words: str) -> str:
    """Return a gap as one sentence: the ends of its smell where it has a lane, and where it came from."""
    when = ends_words or f"gone by {units.duration(gap.hours)}"
    return f"{when}; it came from {wording.join(gap.carried_by[:2])}"
