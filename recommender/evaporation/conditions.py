"""How strips dry and are smelled: the still air over them, the paper, the nose, the room."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from recommender.chemistry.vapour_pressure import GAS_CONSTANT

FILM_M = 2e-3
"""Still air over the strip; 1.5-3 mm fits published blotter hours."""
NOSE_L_PER_S = 0.045
"""Air that the nose draws over the strip: it meets about 4 % of saturation."""
PAPER_SHARE = 0.075
"""Moles of dip that the paper holds back as if it were an inert liquid (5-10 %)."""
ROOM_C = 25.0
"""The room for which the tables hold."""
VAPORISATION_J_PER_MOL = 60e3
"""Heat of vaporisation of a typical material: pressures rise by 8.5 % a degree (7-10 %; memory)."""
_ZERO_C_IN_K = 273.15


@dataclass(frozen=True, slots=True)
class OwnReading:
    """What strips of one material showed.

    `faster` is how many times higher its pressure reads than in the table, `stronger` how many times stronger
    it is in air; `hours` when it was no longer clear, `table_hours` when it should have been [h], None where
    the readings do not say.
    """

    faster: float
    stronger: float
    hours: float | None = None
    table_hours: float | None = None


@dataclass(frozen=True, slots=True)
class Conditions:
    """What a person's own strips may change; the defaults are those of the tables.

    Attributes
    ----------
    film_m : float
        Still air over the strip [m]: all times grow with it.
    nose_l_per_s : float
        Air that the nose draws over the strip [L/s]: the more, the thinner what it meets.
    paper_share : float
        Moles retained by the paper, as a share of the dip: the tail of every smell grows with it.
    temperature_c : float
        The room [C].
    own : mapping of str -> OwnReading
        Materials with strips of their own, by slug.
    """

    film_m: float = FILM_M
    nose_l_per_s: float = NOSE_L_PER_S
    paper_share: float = PAPER_SHARE
    temperature_c: float = ROOM_C
    own: Mapping[str, OwnReading] = field(default_factory=dict)

    @property
    def pressure_factor(self) -> float:
        """How many times higher pressures are in this room than at 25 C."""
        return pressure_factor(self.temperature_c)


def pressure_factor(temperature_c: float) -> float:
    """Return how many times higher the pressures of materials are than at 25 C.

    The law of Clausius and Clapeyron with one heat of vaporisation for all.

    >>> round(pressure_factor(26.0), 3), round(pressure_factor(18.0), 2)
    (1.084, 0.56)
    """
    inverse = 1.0 / (_ZERO_C_IN_K + ROOM_C) - 1.0 / (_ZERO_C_IN_K + temperature_c)
    return math.exp(VAPORISATION_J_PER_MOL / GAS_CONSTANT * inverse)


DEFAULT_CONDITIONS = Conditions()
"""The conditions for which the tables hold."""
