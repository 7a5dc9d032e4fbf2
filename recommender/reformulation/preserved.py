"""How much of a smell over time a reformulated formula preserves."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from recommender.chemistry import odour_strength
from recommender.evaporation import Array
from recommender.evaporation.course import HOURS, Course, FormulaFilm, doses_added
from recommender.formulas.simulation import log_time_weights

WINDOW = (1 / 60, 72.0)
"""From a minute to three days [h]."""
TIMES = HOURS[: int(np.searchsorted(HOURS, WINDOW[1])) + 1]
"""The hours of a drydown's course up to the first after three days."""
TIME_WEIGHTS: Array = log_time_weights(TIMES[None], *WINDOW)[0]
"""What each of them counts in a mean over log time."""
THEME_COUNTS = 2.0
"""A facet of the theme counts so many times."""


def presence(film: FormulaFilm) -> Array:
    """Return the soft presence of every facet, (times, facets), from the same course as a drydown.

    S / (S + 6), with the intensity S of 0-100 and 6 where a smell is just *clear*: 0 for nothing, a half
    where it is clear, level above. So a facet that is lost counts, and one that is loud anyway does not count
    more for being louder; the same function ranks everywhere else.
    """
    return odour_strength.soft(film.sums.facets(doses_added(film, film.at(TIMES))))


@dataclass(frozen=True)
class Smell:
    """A smell that is to be preserved: `present` (times, facets) and what each facet `counts` (facets,)."""

    present: Array
    counts: Array

    @classmethod
    def of(cls, found: Course, theme: Sequence[str]) -> "Smell":
        """Return the smell of a formula with a theme, from its course at the hours of a drydown."""
        counts = np.array([THEME_COUNTS if facet in theme else 1.0 for facet in found.film.facets])
        return cls(odour_strength.soft(found.facets[: len(TIMES)]), counts)

    def preserved(self, after: Array) -> float:
        """Return the share of the smell that is preserved, 0-1.

        sum of w x integral of min(before, after) / sum of w x integral of max(before, after) over all facets
        and log time from a minute to three days; w is 2 for a facet of the theme, else 1. What is lost and
        what is brought along count alike. 1 where nothing smells before or after.
        """
        common = float(TIME_WEIGHTS @ np.minimum(self.present, after) @ self.counts)
        either = float(TIME_WEIGHTS @ np.maximum(self.present, after) @ self.counts)
        return common / either if either > 0 else 1.0

    def moved(self, after: Array) -> Array:
        """Return how much more mean presence each facet has, weighted, negative for less, (facets,)."""
        return np.asarray(TIME_WEIGHTS @ (after - self.present) * self.counts, float)

    def lost(self, after: Array) -> Array:
        """Return how much presence each facet has lost in the mean over log time, weighted, (facets,)."""
        return np.asarray(TIME_WEIGHTS @ np.maximum(self.present - after, 0.0) * self.counts, float)
