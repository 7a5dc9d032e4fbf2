"""The curves of a formula worth drawing: which facets, their bands, and where each name goes."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from recommender.chemistry.odour_strength import CLEAR, JUST_THERE
from recommender.evaporation.activity import facets_in
from recommender.evaporation.course import Course, course
from recommender.formulas.drydown import FormulaDrydown
from recommender.palette import Array

MOST = 7
"""Facets drawn in colour; more than these cannot be distinguished."""
CLOSE = 1.5
"""Hours within this factor of each other are one mark: two could not be written side by side."""
SAME = 0.5
"""Curves that never differ by more than this intensity are drawn as one line with several names."""


@dataclass(frozen=True, slots=True)
class Curve:
    """One line: its facets, colour number, intensities with their band, and whether it leaves a gap.

    Its name is written at `name_hours` and `name_height`.
    """

    facets: tuple[str, ...]
    place: int
    values: Array
    low: Array
    high: Array
    gone: bool
    name_hours: float
    name_height: float


@dataclass(frozen=True, slots=True)
class Mark:
    """The hour by which facets have gone, or the first and the last of several that are close together."""

    hours: float
    facets: tuple[str, ...]
    until_hours: float


@dataclass(frozen=True, slots=True)
class Drawing:
    """The curves and marks of a formula; `hours` has the shape (times,), `top` is the highest band edge."""

    hours: Array
    curves: tuple[Curve, ...]
    marks: tuple[Mark, ...]
    top: float


def chosen(*tables: FormulaDrydown) -> list[str]:
    """Return the facets to draw: the loudest gaps first, then the loudest of all."""
    facets = tables[0].film.facets
    peak = np.max([table.course.facets.max(axis=0) for table in tables], axis=0)
    gaps = [gap.facet for gap in tables[0].gaps[:3]]
    loudest = [facets[k] for k in np.argsort(-peak, kind="stable") if peak[k] >= CLEAR]
    return list(dict.fromkeys([*gaps, *loudest]))[:MOST]


def perceptible(table: FormulaDrydown) -> list[str]:
    """Return the facets that are ever just perceptible, the strongest first."""
    peak = dict(zip(table.film.facets, table.course.facets.max(axis=0).tolist(), strict=True))
    return sorted((facet for facet in table.film.facets if facet in table.ends), key=lambda f: -peak[f])


def intensities_at(table: FormulaDrydown, facet: str, hours: Sequence[float]) -> list[float]:
    """Return the intensity of a facet at some hours [h], interpolated in log time, 0-100."""
    line = table.course.facets[:, table.film.facets.index(facet)]
    found: list[float] = np.interp(np.log(hours), np.log(table.course.hours), line).tolist()
    return found


def alike(table: FormulaDrydown, facets: list[str]) -> list[list[str]]:
    """Return the facets that are ever perceptible, those with the same curve in one group."""
    groups: list[list[str]] = []
    lines = {facet: table.course.facets[:, table.film.facets.index(facet)] for facet in facets}
    for facet, line in lines.items():
        if line.max() < JUST_THERE:
            continue
        for group in groups:
            if np.abs(lines[group[0]] - line).max() < SAME:
                group.append(facet)
                break
        else:
            groups.append([facet])
    return groups


def bands(table: FormulaDrydown) -> tuple[Array, Array]:
    """Return the lowest and the highest intensity of every facet at each hour, both (times, facets).

    Times may be off by a factor of 2.2 either way, more on skin and cloth, and solids may be dissolved or
    crystalline; what may leave a carrier sooner lowers the lowest. One longer course of each film is
    interpolated at the shifted hours: smooth in log time.
    """
    hours, band = table.course.hours, table.times_within
    longer = np.geomspace(hours[0] / band, hours[-1] * band, len(hours) + 12)
    shifted = [table.course.facets]
    for film in [table.film] if table.crystals is table.film else [table.film, table.crystals]:
        found = course(film, longer)
        shifted += [_interpolated(found, hours * factor) for factor in (1 / band, 1.0, band)]
    sooner = [facets_in(table.film, effect, hours) for effect in table.carriers]
    return np.asarray(np.min([*shifted, *sooner], axis=0), float), np.asarray(np.max(shifted, axis=0), float)


def _interpolated(found: Course, hours: Array) -> Array:
    """Return the facets of a course at hours within it, interpolated in log time, (times, facets)."""
    last = np.clip(np.searchsorted(found.hours, hours, side="right") - 1, 0, len(found.hours) - 2)
    share = np.log(hours / found.hours[last]) / np.log(found.hours[last + 1] / found.hours[last])
    before, after = found.facets[last], found.facets[last + 1]
    return np.asarray(before + share[:, None] * (after - before), float)


def drawing(table: FormulaDrydown) -> Drawing:
    """Return the curves and marks to draw for a formula."""
    facets, gone = chosen(table), {gap.facet for gap in table.gaps}
    hours, (low, high) = table.course.hours, bands(table)
    curves = []
    for names in alike(table, facets):
        column = table.film.facets.index(names[0])
        line = table.course.facets[:, column]
        stays = line[-1] >= JUST_THERE
        top = len(hours) - 1 if stays else max(int(line.argmax()), 4)
        curves.append(
            Curve(
                tuple(names),
                facets.index(names[0]),
                line,
                low[:, column],
                high[:, column],
                bool(set(names) & gone),
                float(hours[top]),
                float(line[top]),
            )
        )
    tallest = max((float(curve.high.max()) for curve in curves), default=0.0)
    return Drawing(hours, tuple(curves), tuple(marks(table, facets)), tallest)


def marks(table: FormulaDrydown, facets: list[str]) -> list[Mark]:
    """Return by which hours drawn facets have gone, the earliest first; those close together are one mark."""
    found: list[Mark] = []
    for hours, facet in sorted((gap.hours, gap.facet) for gap in table.gaps if gap.facet in facets):
        if found and hours <= CLOSE * found[-1].hours:
            found[-1] = replace(found[-1], facets=(*found[-1].facets, facet), until_hours=hours)
        else:
            found.append(Mark(hours, (facet,), hours))
    return found
