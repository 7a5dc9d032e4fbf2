"""What a formula is about: the facets that it states, else those that its large, strong lines lead with."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from recommender.chemistry import odour_strength
from recommender.evaporation import Array
from recommender.evaporation.course import Course
from recommender.model import LEADING_LABEL, Formula, Material
from recommender.similarity.odour_space import LEAST_LENT, OdourSpace

PHASES = {"top": (1 / 60, 1.0), "heart": (1.0, 8.0), "base": (8.0, 168.0)}
"""Hours on a strip in which a smell counts as top, heart or base."""
PHASE_WEIGHTS = (1.0, 1.0, 0.25)
"""What a share of each phase counts for a theme: much of a base is there to hold the rest."""
SUPPORT = 0.5
"""How much a near facet adds of what it counts for another: it supports a theme, it is not one."""
MOST_FACETS = 3
"""An inferred theme has so many facets at most."""
BESIDE = 0.6
"""A further facet of an inferred theme has at least this much of the score of the first."""
OF_ITS_OWN = 0.4
"""And at least this much of the first one's own score, without what near facets add."""
LOUDER = 1.25
"""What sticks out is so many times as strong as every facet of the theme."""
PRIME = 0.75
"""Only while the theme is at least this much of its own peak: after that it is fading, and the base comes."""
FOR_LONG = 3.0
"""What sticks out does so until at least so many times the hour at which it begins to."""
MOST_NAMED = 3
"""At most so many facets are named as sticking out."""


@dataclass(frozen=True, slots=True)
class Theme:
    """The facets that a formula is about, and whether a person stated them; else they are inferred."""

    facets: tuple[str, ...]
    stated: bool

    @property
    def figures(self) -> dict[str, object]:
        """The theme as plain data."""
        return {"facets": list(self.facets), "stated": self.stated}


@dataclass(frozen=True, slots=True)
class LoudFacet:
    """A facet outside the theme that is louder than all of it, who brings it, from and until when [h].

    `strength` is its greatest intensity in these hours, 0-100.
    """

    facet: str
    material: Material
    hours_from: float
    hours_to: float
    strength: float


def amount_shares(intensities: Array) -> Array:
    """Return whose an intensity is along the last axis, counted as amounts: shares that add up to 1, or 0.

    Perceived strength goes as an amount to the power 0.43, so intensities are taken back to amounts.
    """
    top = intensities.max(axis=-1, keepdims=True)
    amounts = (intensities / np.where(top > 0, top, 1.0)) ** (1.0 / odour_strength.STEVENS)
    return np.asarray(amounts / np.maximum(amounts.sum(axis=-1, keepdims=True), 1e-12), float)


def theme_of(formula: Formula, found: Course, space: OdourSpace) -> Theme:
    """Return the theme of a formula: the stated one, else what is inferred from its course.

    A facet scores the share of the smell, by phase over log time, of the lines that lead with it; facets near
    it add to it. The few that stand out are the theme, the strongest first, those unlike each other before
    those near one; empty where no line leads with a smell.
    """
    if formula.theme:
        return Theme(formula.theme, True)
    own = np.array(PHASE_WEIGHTS) @ line_shares(found) @ found.film.shows(LEADING_LABEL)
    score = np.where(own > 0, (1.0 - SUPPORT) * own + SUPPORT * own @ space.near, 0.0)
    order = [int(i) for i in np.argsort(-score, kind="stable") if score[i] > 0]
    strong = [
        i for i in order if score[i] >= BESIDE * score[order[0]] and own[i] >= OF_ITS_OWN * own[order[0]]
    ]
    unlike: list[int] = []
    for i in strong:
        if all(space.near[i, other] <= LEAST_LENT for other in unlike):
            unlike.append(i)
    chosen = [*unlike, *(i for i in strong if i not in unlike)][:MOST_FACETS]
    return Theme(tuple(space.facets[i] for i in chosen), False)


def line_shares(found: Course) -> Array:
    """Return the share of the smell that each line makes, by phase over log time, (phases, lines)."""
    smelled = odour_strength.soft(found.whole)
    shares = amount_shares(found.owners) * smelled[:, None]
    return np.array([shares[inside(found.hours, *window)].mean(axis=0) for window in PHASES.values()])


def inside(hours: Array, start_hours: float, end_hours: float) -> Array:
    """Return which hours are within a window, as booleans."""
    return np.asarray((hours >= start_hours) & (hours <= end_hours))


def sticking_out(found: Course, theme: Theme, space: OdourSpace, families: Sequence[str]) -> list[LoudFacet]:
    """Return what is louder than the whole theme for a real stretch and not near it, the loudest first.

    Only while the theme is clear and near its own peak: after that it fades, see `gaps`. A line is named with
    one facet, and it leads with it. `families` are those of the facets of `space`.
    """
    names = found.film.facets
    about = [names.index(facet) for facet in theme.facets if facet in names]
    if not about:
        return []
    loudest = found.facets[:, about].max(axis=1)
    prime = loudest >= max(odour_strength.CLEAR, PRIME * float(loudest.max()))
    kin = {families[i] for i in about}
    lent = space.near[:, about].max(axis=1)
    lead = found.film.shows(LEADING_LABEL)
    named: list[LoudFacet] = []
    for column, facet in enumerate(names):
        if lent[column] > LEAST_LENT or families[column] in kin or not lead[:, column].any():
            continue
        over = (found.facets[:, column] > LOUDER * loudest) & prime
        stretch = _longest(over)
        if stretch is None or found.hours[stretch[1]] < FOR_LONG * found.hours[stretch[0]]:
            continue
        hours = slice(stretch[0], stretch[1] + 1)
        brings = int((found.owners[hours].mean(axis=0) * lead[:, column]).argmax())
        strength = float(found.facets[hours, column].max())
        line = found.film.amounts[brings].material
        start, end = (float(found.hours[place]) for place in stretch)
        named.append(LoudFacet(facet, line, start, end, strength))
    named.sort(key=lambda one: (-one.strength, one.facet))
    first = {one.material.slug: one for one in reversed(named)}
    return [one for one in named if first[one.material.slug] is one][:MOST_NAMED]


def _longest(over: Array) -> tuple[int, int] | None:
    """Return the first and last place of the longest run of true values, None where none is true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], np.asarray(over, int), [0]])))
    runs = [(int(start), int(end) - 1) for start, end in zip(edges[::2], edges[1::2], strict=True)]
    return max(runs, key=lambda run: (run[1] - run[0], -run[0]), default=None)
