"""Findings from the readings of a trial: what was too strong, what died while the rest still smelled."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from recommender.chemistry import odour_strength
from recommender.evaporation.course import Course, course
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Reading
from recommender.palette import Palette

FIRST_H = 1 / 60
"""A fresh strip is judged after a minute."""


@dataclass(frozen=True, slots=True)
class TooStrong:
    """A facet (blank: the whole smell) that was called too strong, at which hours."""

    facet: str
    hours: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class LostFacet:
    """A facet that was no more than a trace from `hours` on while the rest still smelled.

    `alive` is the last hour before at which it was clear, None where it never was.
    """

    facet: str
    hours: float
    rating: str
    alive: float | None


def too_strong(readings: Sequence[Reading]) -> list[TooStrong]:
    """Return what was called too strong, the earliest first."""
    called: dict[str, list[float]] = {}
    for one in sorted(readings, key=lambda r: r.hours):
        if one.rating == "too strong":
            called.setdefault(one.facet, []).append(one.hours)
    return [TooStrong(facet, tuple(dict.fromkeys(hours))) for facet, hours in called.items()]


def lost_facets(readings: Sequence[Reading], table: FormulaDrydown, until_hours: float) -> list[LostFacet]:
    """Return the facets that died before an hour, the earliest first.

    A facet that comes back later has not died, nor one that goes when all has gone: then either the whole
    was read, or another facet was, or else the simulated drydown decides whether the rest still smelled.
    """
    found = []
    for facet in dict.fromkeys(one.facet for one in readings if one.facet):
        ordered = sorted((one for one in readings if one.facet == facet), key=lambda one: one.hours)
        there = [one.hours for one in ordered if clear(one)]
        alive = there[-1] if there else None
        gone = [one for one in ordered if not clear(one) and (alive is None or one.hours > alive)]
        if not gone or gone[0].hours >= until_hours or not _rest_smells(gone[0], readings, table):
            continue
        found.append(LostFacet(facet, gone[0].hours, gone[0].rating, alive))
    return sorted(found, key=lambda one: one.hours)


def clear(one: Reading) -> bool:
    """Return whether a reading is clear or more."""
    return odour_strength.RATINGS[one.rating][0] >= odour_strength.CLEAR


def _rest_smells(gone: Reading, readings: Sequence[Reading], table: FormulaDrydown) -> bool:
    later = [one for one in readings if one.hours >= gone.hours and one.facet != gone.facet]
    whole = [one for one in later if not one.facet and one.hours == gone.hours]
    if whole:
        return whole[0].rating != "gone"
    if any(clear(one) for one in later):
        return True
    return float(at(table, gone.hours).whole[0]) >= odour_strength.CLEAR


def at(table: FormulaDrydown, *hours: float) -> Course:
    """Return a formula at some hours; fresh is a minute."""
    return course(table.film, np.maximum(np.array(hours, float), FIRST_H))


def facets_of(facet: str, palette: Palette) -> Mapping[str, float]:
    """Return the facets that a phrase stands for; raises `UnknownFacet`, `BadValue` for a refusal."""
    return palette.smell(facet)


def level(table: FormulaDrydown, facet: str, hours: float) -> float:
    """Return how strong a facet (blank: the whole smell) is predicted to be at an hour, 0-100."""
    found = at(table, hours)
    if not facet:
        return float(found.whole[0])
    columns = [found.film.facets.index(name) for name in facets_of(facet, table.palette)]
    return float(found.facets[0, columns].max())


def shown_by(table: FormulaDrydown, facet: str, hours: float) -> list[tuple[int, float]]:
    """Return the materials that make a facet (blank: the whole smell) at an hour, the strongest first.

    Each as its place among the amounts and its intensity 0-100.
    """
    film = table.film
    intensity = film.intensities(film.left([max(hours, FIRST_H)]))[0]
    if facet:
        columns = [film.facets.index(name) for name in facets_of(facet, table.palette)]
        intensity = intensity * film.weights[:, columns].max(axis=1)
    own = np.zeros(len(film.amounts))
    np.maximum.at(own, film.owner, intensity)
    return [(int(i), float(own[i])) for i in np.argsort(-own, kind="stable") if own[i] > 0]
