"""Evaporation from a smelling strip, and what a nose makes of it hour by hour.

`conditions` are what a person's own strips may change, `film` is the closed form, `strips` puts materials on
paper, `stay` says how long they last, `facets` how present one smell is.
All hours are for a strip at 25 C: skin is warmer and shorter.
"""

from recommender.drydown.conditions import TABLE, Conditions, OwnReading
from recommender.drydown.facets import UNNAMED, carriers, presence
from recommender.drydown.film import Array, elapsed, evaporation_rate, remaining
from recommender.drydown.stay import evaporation_hours, lasting, position
from recommender.drydown.strips import (
    AT_ODDS,
    Strips,
    first_met,
    fresh,
    neat_strips,
    parts_of,
    settle_curve,
    shift_to_class,
    strengths,
    strips_of,
    together,
)

__all__ = [
    "AT_ODDS",
    "TABLE",
    "UNNAMED",
    "Array",
    "Conditions",
    "OwnReading",
    "Strips",
    "carriers",
    "elapsed",
    "evaporation_hours",
    "evaporation_rate",
    "first_met",
    "fresh",
    "lasting",
    "neat_strips",
    "parts_of",
    "position",
    "presence",
    "remaining",
    "settle_curve",
    "shift_to_class",
    "strengths",
    "strips_of",
    "together",
]
