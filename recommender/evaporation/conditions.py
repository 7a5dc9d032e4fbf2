"""A surface and how it is smelled: size and load, still air over it, what it retains, the nose, the room.

A set of these figures is a surface: the defaults are the smelling strip for which the tables hold.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from recommender.chemistry.vapour_pressure import GAS_CONSTANT
from recommender.model import STRIP

AREA_M2 = 5e-4
"""Wetted strip, 5 cm2."""
LOAD_MG = 20.0
"""Amount on the strip, 4 mg/cm2."""
FILM_M = 2e-3
"""Still air over the strip; 1.5-3 mm fits published blotter hours."""
NOSE_L_PER_S = 0.045
"""Air that the nose draws over the strip: it meets about 4 % of saturation."""
PAPER_SHARE = 0.075
"""Moles of the load that the paper retains as if it were an inert liquid (5-10 %)."""
ROOM_C = 25.0
"""The room for which the tables hold."""
VAPORISATION_J_PER_MOL = 60e3
"""Heat of vaporisation where a material's own is unknown: 8.5 % of pressure a degree (7-10 %; memory)."""
ZERO_C_IN_K = 273.15
Moles = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class OwnReading:
    """What strips of one material showed.

    `faster` is how many times higher its pressure reads than in the table, `stronger` how many times stronger
    it is in air; `hours` when it was no longer clear, `table_hours` when it should have been [h], None where
    the readings do not show it.
    """

    faster: float
    stronger: float
    hours: float | None = None
    table_hours: float | None = None


@dataclass(frozen=True, slots=True)
class Conditions:
    """A surface and what a person's own strips may change; the defaults are the strip of the tables.

    Attributes
    ----------
    film_m : float
        Still air over the surface [m]: all times grow with it.
    nose_l_per_s : float
        Air that the nose draws over the surface [L/s]: the more, the thinner what it meets.
    paper_share : float
        Moles retained by the paper, as a share of the load: the tail of every smell grows with it.
    temperature_c : float
        The room [C].
    own : mapping of str -> OwnReading
        Materials with strips of their own, by slug.
    area_m2 : float
        Wetted area [m2].
    load_mg : float
        What is put on it [mg].
    reservoir_mol_per_m2 : float
        Involatile moles of the surface itself, whatever the load [mol/m2]; none in paper.
    uptake : float
        How readily the surface takes up what lies on it, 1 as skin does (see `film.uptake_rate`); paper takes
        up nothing.
    diffusion_power : float
        How much faster light molecules cross the still air than heavy ones: as diffusivity to this power, 1
        where it is at rest.
    surface : str
        What it is called, see `surfaces`.
    dosage_percent : float or None
        Concentrate in what is put on [% by mass], the rest is ethanol that leaves before the clock starts;
        None where the concentrate itself is put on.
    """

    film_m: float = FILM_M
    nose_l_per_s: float = NOSE_L_PER_S
    paper_share: float = PAPER_SHARE
    temperature_c: float = ROOM_C
    own: Mapping[str, OwnReading] = field(default_factory=dict)
    area_m2: float = AREA_M2
    load_mg: float = LOAD_MG
    reservoir_mol_per_m2: float = 0.0
    uptake: float = 0.0
    diffusion_power: float = 1.0
    surface: str = STRIP
    dosage_percent: float | None = None

    @property
    def temperature_k(self) -> float:
        """The surface [K]."""
        return self.temperature_c + ZERO_C_IN_K

    @property
    def dry_mg(self) -> float:
        """What is on the surface when the clock starts [mg]."""
        return self.load_mg * (1.0 if self.dosage_percent is None else self.dosage_percent / 100.0)

    def inert_moles(self, volatile: Moles, involatile: Moles) -> Moles:
        """Return the moles that dilute what evaporates: involatile, and retained by the surface [mol]."""
        return (
            involatile + self.paper_share * (volatile + involatile) + self.reservoir_mol_per_m2 * self.area_m2
        )


def pressure_factor(
    temperature_c: float, vaporisation_j_per_mol: npt.ArrayLike = VAPORISATION_J_PER_MOL
) -> Moles:
    """Return how many times higher pressures are than at 25 C, by their heats of vaporisation.

    The law of Clausius and Clapeyron with a constant heat [J/mol].

    >>> [round(float(pressure_factor(t)), 3) for t in (26.0, 18.0)]
    [1.084, 0.559]
    """
    inverse = 1.0 / (ZERO_C_IN_K + ROOM_C) - 1.0 / (ZERO_C_IN_K + temperature_c)
    return np.asarray(np.exp(np.asarray(vaporisation_j_per_mol, float) / GAS_CONSTANT * inverse), float)


DEFAULT_CONDITIONS = Conditions()
"""The conditions for which the tables hold."""
