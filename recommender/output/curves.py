"""Which curves of a formula are drawn, their bands, and where their names stand."""

from dataclasses import dataclass

import numpy as np

from recommender import units
from recommender.chemistry.odour_strength import CLEAR, JUST_THERE
from recommender.evaporation.course import course
from recommender.evaporation.gaps import BAND
from recommender.formulas.drydown import FormulaDrydown
from recommender.output import wording
from recommender.palette import Array

MOST = 7
"""Facets drawn in colour; more than these cannot be told apart."""
TICKS = (1 / 60, 0.25, 1, 4, 12, 24, 72, 168)
SAME = 0.5
"""Curves that are nowhere further apart than this are one line with several names."""


@dataclass(frozen=True, slots=True)
class Curve:
    """One line: its facets, place among the colours, intensities, band, and whether it leaves a gap.

    `name_hours` and `name_height` say where its name stands.
    """

    facets: tuple[str, ...]
    place: int
    values: Array
    low: Array
    high: Array
    gone: bool
    name_hours: float
    name_height: float

    @property
    def name(self) -> str:
        """The facets as people list them."""
        return wording.join(self.facets)


@dataclass(frozen=True, slots=True)
class Mark:
    """An hour by which facets have gone."""

    hours: float
    facets: tuple[str, ...]

    @property
    def told(self) -> str:
        """The mark in words: bitter almond fades out, 48 min."""
        fade = "fades" if len(self.facets) == 1 else "fade"
        return f"{wording.join(self.facets)} {fade} out, {units.duration(self.hours)}"


@dataclass(frozen=True, slots=True)
class Drawing:
    """What is drawn of a formula; hours (times,)."""

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


def alike(table: FormulaDrydown, facets: list[str]) -> list[list[str]]:
    """Return facets that are ever there, those with the same curve together."""
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
    """Return the least and the greatest intensity of every facet at each hour, (times, facets).

    Times may be off by a factor of 2.2 either way, and solids may be dissolved or crystals. One longer course
    of each film is read at the shifted hours: in log time it is smooth.
    """
    hours = table.course.hours
    longer = np.geomspace(hours[0] / BAND, hours[-1] * BAND, len(hours) + 12)
    shifted = [table.course.facets]
    for film in (table.film, table.crystals):
        lines = course(film, longer).facets
        for factor in (1 / BAND, 1.0, BAND):
            at = np.log(hours * factor)
            shifted.append(np.array([np.interp(at, np.log(longer), line) for line in lines.T]).T)
    return np.asarray(np.min(shifted, axis=0), float), np.asarray(np.max(shifted, axis=0), float)


def drawing(table: FormulaDrydown) -> Drawing:
    """Return what is drawn of a formula."""
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
    """Return the hours at which some of these facets have gone, the earliest first."""
    found: dict[float, list[str]] = {}
    for gap in table.gaps:
        if gap.facet in facets:
            found.setdefault(gap.hours, []).append(gap.facet)
    return [Mark(hour, tuple(found[hour])) for hour in sorted(found)]
