"""Evaporation from a surface, and what a nose makes of it hour by hour.

`conditions` are the surface and what a person's own strips may change, `surfaces` the strip, skin and cloth,
`film` the closed form, `surface` the state of what is on one, `lasting` how long materials stay, `presence`
how present one facet is; `course` follows a formula, `gaps` finds where its facets end. The default surface
is a smelling strip at 25 C.
"""

from recommender.evaporation.conditions import DEFAULT_CONDITIONS, Conditions, OwnReading
from recommender.evaporation.film import Array, elapsed, evaporation_rate, remaining, uptake_rate
from recommender.evaporation.lasting import (
    as_smelled,
    evaporation_hours,
    half_points_ending_by,
    last_smelled,
    lasting,
    position,
)
from recommender.evaporation.presence import UNNAMED, carriers, presence
from recommender.evaporation.surface import (
    CARRIER,
    Portion,
    SurfaceState,
    as_read,
    first_concentrations,
    fresh_concentrations,
    fresh_state,
    neat_or_diluted,
    neat_strips,
    parts_as_read,
    side_by_side,
    strengths,
    together,
    with_strength,
)
from recommender.evaporation.surfaces import SURFACES, Application

__all__ = [
    "CARRIER",
    "DEFAULT_CONDITIONS",
    "SURFACES",
    "UNNAMED",
    "Application",
    "Array",
    "Conditions",
    "OwnReading",
    "Portion",
    "SurfaceState",
    "as_read",
    "as_smelled",
    "carriers",
    "elapsed",
    "evaporation_hours",
    "evaporation_rate",
    "first_concentrations",
    "fresh_concentrations",
    "fresh_state",
    "half_points_ending_by",
    "last_smelled",
    "lasting",
    "neat_or_diluted",
    "neat_strips",
    "parts_as_read",
    "position",
    "presence",
    "remaining",
    "side_by_side",
    "strengths",
    "together",
    "uptake_rate",
    "with_strength",
]
