"""Evaporation from a smelling strip, and what a nose makes of it hour by hour.

`conditions` are what a person's own strips may change, `film` is the closed form, `strips` puts materials on
paper, `stay` says how long they last, `facets` how present one smell is.
All hours are for a strip at 25 C: skin is warmer and shorter.
"""

from recommender.evaporation.conditions import DEFAULT_CONDITIONS, Conditions, OwnReading
from recommender.evaporation.film import Array, elapsed, evaporation_rate, remaining
from recommender.evaporation.lasting import evaporation_hours, lasting, position
from recommender.evaporation.presence import UNNAMED, carriers, presence
from recommender.evaporation.surface import (
    AT_ODDS,
    StripSet,
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
    "DEFAULT_CONDITIONS",
    "UNNAMED",
    "Array",
    "Conditions",
    "OwnReading",
    "StripSet",
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
