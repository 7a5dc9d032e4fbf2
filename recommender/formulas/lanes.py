"""Each smell of a formula as a lane over time: when it is clear, when it is there, and what speaks when."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from recommender.chemistry.odour_strength import CLEAR
from recommender.evaporation.gaps import LEVELS, FacetEnd, Gap
from recommender.formulas import curves
from recommender.formulas.drydown import FormulaDrydown
from recommender.palette import Array

MOST = 10
"""Lanes that are shown beside those that were asked for; the rest are the fainter ones."""
MOST_GAPS = 4
"""Gaps that have a lane whatever else is louder."""
SPEAKS = 0.3
"""A line speaks at an hour where it is at least this much of the strongest line."""
MOST_SPEAKING = 4
MOST_SMELLED = 6
"""Smells that are named at one hour, the strongest first."""


@dataclass(frozen=True, slots=True)
class Span:
    """When a smell has a level [h]: from `start` until `hours`, which may be off from `low` to `high`."""

    start: float
    low: float
    hours: float
    high: float


@dataclass(frozen=True, slots=True)
class Lane:
    """One smell over time; a span is None where it never has that level.

    `values` are its intensities at the hours of the course, 0-100. `of_theme` is whether the formula is about
    it, `gap` what is missed of it, None where nothing is.
    """

    facet: str
    values: tuple[float, ...]
    clear: Span | None
    there: Span | None
    of_theme: bool = False
    gap: Gap | None = None


@dataclass(frozen=True, slots=True)
class Moment:
    """What is smelled at an hour: what is clear and what is faint, the strongest first, and who speaks."""

    hours: float
    clear: tuple[str, ...]
    faint: tuple[str, ...]
    speaking: tuple[str, ...]


def shown(table: FormulaDrydown, asked: Iterable[str] = (), every: bool = False) -> list[str]:
    """Return the smells that have a lane: of the theme, asked for, missed, then the loudest.

    What is asked for has one whether it is smelled or not; `every` adds all that are just perceptible.
    """
    peak = table.course.facets.max(axis=0)
    loudest = [table.film.facets[k] for k in np.argsort(-peak, kind="stable") if peak[k] >= CLEAR]
    first = list(dict.fromkeys([*table.theme.facets, *asked]))
    rest = [*(gap.facet for gap in table.gaps[:MOST_GAPS]), *loudest]
    more = [facet for facet in dict.fromkeys(rest) if facet not in first]
    if every:
        return list(dict.fromkeys([*first, *more, *curves.perceptible(table)]))
    return [*first, *more[: max(MOST - len(first), 0)]]


def lanes(table: FormulaDrydown, facets: Sequence[str]) -> list[Lane]:
    """Return the lanes of some smells, in their order; one that is never perceptible has no span."""
    gaps = {gap.facet: gap for gap in table.gaps}
    found = []
    for facet in facets:
        values = table.course.facets[:, table.film.facets.index(facet)].tolist()
        of_theme = facet in table.theme.facets
        found.append(Lane(facet, tuple(values), *spans(table, facet), of_theme, gaps.get(facet)))
    return found


def spans(table: FormulaDrydown, facet: str) -> tuple[Span | None, Span | None]:
    """Return from when until when a smell is clear, and is there."""
    ends = table.ends.get(facet)
    if ends is None:
        return None, None
    return _span(table, facet, "clear", ends["clear"]), _span(table, facet, "just_there", ends["just_there"])


def _span(table: FormulaDrydown, facet: str, level: str, end: FacetEnd) -> Span | None:
    if end.hours is None or end.low is None or end.high is None:
        return None
    least, beside = LEVELS[level]
    course = table.course
    line, loudest = course.facets[:, table.film.facets.index(facet)], course.facets.max(axis=1)
    reached = np.flatnonzero(line >= np.maximum(least, beside * loudest))
    start = float(course.hours[reached[0]]) if len(reached) else float(course.hours[0])
    return Span(min(start, end.hours), end.low, end.hours, end.high)


def moments(table: FormulaDrydown) -> list[Moment]:
    """Return what is smelled at each hour of the course; what is clear and faint is what the lanes show."""
    course, known = table.course, curves.perceptible(table)
    drawn = [spans(table, facet) for facet in known]
    clear = _within([each[0] for each in drawn], course.hours)
    there = _within([each[1] for each in drawn], course.hours)
    columns = [table.film.facets.index(facet) for facet in known]
    order = np.argsort(-course.facets[:, columns], axis=1, kind="stable").tolist()
    speaking = _speaking(table)
    found = []
    for hours, ranked, is_clear, is_there, lines in zip(
        course.hours.tolist(), order, clear.tolist(), there.tolist(), speaking, strict=True
    ):
        first = [known[k] for k in ranked if is_clear[k]][:MOST_SMELLED]
        faint = [known[k] for k in ranked if is_there[k] and not is_clear[k]][: MOST_SMELLED - len(first)]
        found.append(Moment(hours, tuple(first), tuple(faint), lines if first or faint else ()))
    return found


def _within(spans: Sequence[Span | None], hours: Array) -> npt.NDArray[np.bool_]:
    """Return at which hours each span is, (times, spans)."""
    starts = np.array([np.inf if span is None else span.start for span in spans])
    ends = np.array([0.0 if span is None else span.hours for span in spans])
    return np.asarray((hours[:, None] >= starts) & (hours[:, None] <= ends), bool)


def _speaking(table: FormulaDrydown) -> list[tuple[str, ...]]:
    """Return the materials that are heard at each time of the course, the strongest first."""
    owners, names = table.course.owners, [amount.material.name for amount in table.film.amounts]
    heard = owners >= np.maximum(SPEAKS * owners.max(axis=1, keepdims=True), 1e-9)
    order = np.argsort(-owners, axis=1, kind="stable")[:, :MOST_SPEAKING].tolist()
    return [
        tuple(names[k] for k in ranked if loud[k]) for ranked, loud in zip(order, heard.tolist(), strict=True)
    ]


def pinned(words: str, known: Collection[str]) -> tuple[str, ...]:
    """Return the smells that a stored list names, those that are still known."""
    return tuple(dict.fromkeys(facet for facet in words.split(";") if facet in known))
