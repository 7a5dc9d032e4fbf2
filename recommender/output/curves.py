"""Names of curves and marks in a drawing of a formula."""

from recommender import units
from recommender.formulas.curves import Curve, Mark
from recommender.output import wording

TICKS = (1 / 60, 0.25, 1, 4, 12, 24, 72, 168)
"""Hours at which the time axis is labelled."""


def curve_name(curve: Curve) -> str:
    """Return the facets of a curve as a list in words."""
    return wording.join(curve.facets)


def mark_text(mark: Mark) -> str:
    """Return a mark in words: hay gone by 48 min; cherry and hay gone by 38 min to 49 min."""
    first, last = units.duration(mark.hours), units.duration(mark.until_hours)
    return f"{wording.join(mark.facets)} gone by {first if first == last else f'{first} to {last}'}"
