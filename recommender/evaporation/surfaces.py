"""The surfaces: strip, skin, cotton and polyester as sets of constants, each with its band and source.

What they have in common is the closed form of `film`. Not modelled: activity coefficients, diffusion within
skin, sebum and sweat, differences between persons, moisture and washing of cloth, a fibre that takes up one
material more than another.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from recommender.errors import BadValue
from recommender.evaporation.conditions import Conditions
from recommender.evaporation.film import DIFFUSIVITY_M2_PER_S
from recommender.model import STRIP

CM2 = 1e-4
"""[m2]"""


@dataclass(frozen=True, slots=True)
class Constant:
    """A constant of a surface with its band, what it rests on and where it is from."""

    value: float
    low: float
    high: float
    basis: str
    source: str


def _fixed(value: float, source: str) -> Constant:
    return Constant(value, value, value, "estimated", source)


def _film(mm_per_s: float, factor: float, source: str) -> Constant:
    """Return the still air that a monoterpene crosses at a velocity [mm/s], within a factor."""
    film = DIFFUSIVITY_M2_PER_S / (mm_per_s * 1e-3)
    return Constant(film, film / factor, film * factor, "estimated", source)


_POWER = _fixed(2 / 3, "boundary layer of moving air (textbook); 0.5 to 0.8")
_NO_PAPER = _fixed(0.0, "retains its own moles, whatever the load: reservoir_mol_per_m2")
_CLOTH_FILM = _film(
    0.94,
    1.6,
    "1.5-3.8 m/h for heavier vapours on cotton (Saini et al., Indoor Air 27 (2017)); with the reservoir of "
    "cotton 20 % of allyl cyclohexylpropionate are left at 8 h",
)
_COTTON_POINT = "allyl cyclohexylpropionate at 8 h, J. Appl. Polym. Sci. 99 (2006) 1720: "
SURFACES: Mapping[str, Mapping[str, Constant]] = {
    STRIP: {},
    "skin": {
        "film_m": _film(
            1.2,
            1.6,
            "0.9-1.7 mm/s by analogy with heat lost by a resting body, Kurazumi, Rezgals, Melikov, "
            "J. Ergonomics 4 (2014) 1; 0.5-0.8 mm/s at 0.1-0.165 m/s, Gajjar, Miller, Kasting, "
            "Ann. Occup. Hyg. 57 (2013) 853",
        ),
        "diffusion_power": _POWER,
        "temperature_c": Constant(
            30.0,
            28.0,
            32.0,
            "published",
            "arms 28.5-29.7 C, Son, Yoo, Zhang, Bioengineering 10 (2023) 671; fingers 29.1 C, Shilco et al., "
            "J. Therm. Biol. 80 (2019) 82",
        ),
        "uptake": Constant(
            1.0,
            0.2,
            5.0,
            "estimated",
            "permeability by Potts, Guy, Pharm. Res. 9 (1992) 663; of a related model 19 of 26 chemicals are "
            "within a factor of 10, Fisher et al., Chemosphere 349 (2023) 140689",
        ),
        "reservoir_mol_per_m2": Constant(
            0.2e-6 / CM2,
            0.05e-6 / CM2,
            0.5e-6 / CM2,
            "estimated",
            "what 1.3-13 um of stratum corneum dissolve of a liquid of log P 3, Kasting, Miller, "
            "J. Pharm. Sci. 95 (2006) 268",
        ),
        "paper_share": _NO_PAPER,
    },
    "cotton": {
        "film_m": _CLOTH_FILM,
        "diffusion_power": _POWER,
        "reservoir_mol_per_m2": Constant(
            0.8e-6 / CM2, 0.16e-6 / CM2, 4.0e-6 / CM2, "estimated", _COTTON_POINT + "20 % left on cotton"
        ),
        "paper_share": _NO_PAPER,
    },
    "polyester": {
        "film_m": _CLOTH_FILM,
        "diffusion_power": _POWER,
        "reservoir_mol_per_m2": Constant(
            0.15e-6 / CM2,
            0.0,
            0.3e-6 / CM2,
            "estimated",
            _COTTON_POINT + "none found on polyester (below 2 %)",
        ),
        "paper_share": _NO_PAPER,
    },
}
"""What each surface changes in `Conditions`; the strip is the default of it, or a person's own strips."""
UNSURE = "polyester"
"""A surface for which there is no more than a bound."""
WARM = "skin"
"""A surface with a temperature of its own, whatever the room."""
MOST_MG, MOST_CM2 = 1e5, 1e5


@dataclass(frozen=True, slots=True)
class Application:
    """How a formula is put on: the surface, what is put on it [mg], on how much of it [cm2], the room [C].

    `dosage_percent` is the concentrate in what is put on, the rest ethanol; None where the concentrate itself
    is put on. What is None is as on the strip, 20 mg on 5 cm2.
    """

    surface: str = STRIP
    load_mg: float | None = None
    area_cm2: float | None = None
    room_c: float | None = None
    dosage_percent: float | None = None

    def on(self, own: Conditions) -> Conditions:
        """Return the conditions, those of a person's own strips where the surface does not set them.

        Raises
        ------
        BadValue
            No such surface; a load, an area or a room that cannot be; a room for skin.
        """
        if self.surface not in SURFACES:
            raise BadValue("surface", self.surface, f"it is one of {', '.join(SURFACES)}")
        for field, value, most in (
            ("load_mg", self.load_mg, MOST_MG),
            ("area_cm2", self.area_cm2, MOST_CM2),
        ):
            if value is not None and not 0 < value <= most:
                raise BadValue(field, f"{value:g}", f"it is above 0 and at most {most:g}")
        if self.room_c is not None and self.surface == WARM:
            raise BadValue("room_c", f"{self.room_c:g}", "skin has a temperature of its own")
        if self.room_c is not None and not -10 <= self.room_c <= 50:
            raise BadValue("room_c", f"{self.room_c:g}", "a room has -10 to 50 C")
        changed: dict[str, Any] = {"surface": self.surface, "dosage_percent": self.dosage_percent}
        changed |= {field: constant.value for field, constant in SURFACES[self.surface].items()}
        if self.load_mg is not None:
            changed["load_mg"] = self.load_mg
        if self.area_cm2 is not None:
            changed["area_m2"] = self.area_cm2 * CM2
        if self.room_c is not None:
            changed["temperature_c"] = self.room_c
        return replace(own, **changed)


def alternatives(conditions: Conditions) -> list[tuple[Conditions, Conditions]]:
    """Return the same conditions with each constant of the surface at either end of its band."""
    return [
        (replace(conditions, **{field: low}), replace(conditions, **{field: high}))
        for field, (low, high) in _bands(conditions.surface).items()
    ]


def _bands(surface: str) -> dict[str, tuple[Any, Any]]:
    found = SURFACES[surface].items()
    return {field: (each.low, each.high) for field, each in found if each.low < each.high}


def times_within(conditions: Conditions, factor: float) -> float:
    """Return the factor within which times are right, where it is `factor` on the strip of the tables.

    The still air of another surface adds its own.

    >>> times_within(Conditions(), 2.2)
    2.2
    >>> round(times_within(Application("skin").on(Conditions()), 2.2), 1)
    2.5
    """
    film = SURFACES[conditions.surface].get("film_m")
    return (
        factor if film is None else math.exp(math.hypot(math.log(factor), math.log(film.high / film.value)))
    )
