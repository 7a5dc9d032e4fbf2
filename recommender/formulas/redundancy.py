"""What is redundant in a formula: each material is left out in turn, and what would be missed is measured."""

from dataclasses import dataclass

import numpy as np

from recommender.evaporation import Array
from recommender.evaporation.course import course, film_of
from recommender.formulas import dosing
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Amount, Material

JUST_NOTICEABLE = 0.06
"""Loss of soft presence below which nobody misses a material: a facet that read 6 of 100 still reads 4.7."""
LITTLE_MISSED = 0.2
"""Loss of soft presence below which a material is missed only a little."""
COVERS = 0.5
"""Another material covers a facet if it carries at least this much of it."""
PHASES = {"top": (1 / 60, 1.0), "heart": (1.0, 8.0), "base": (8.0, 168.0)}


@dataclass(frozen=True, slots=True)
class Contribution:
    """One material of a formula and what would be missed without it.

    `parts` per thousand of the strip; `missed` the greatest loss of soft presence of any facet, in `phase`;
    `covered_by` who else carries that facet.
    """

    material: Material
    parts: float
    facet: str
    phase: str
    missed: float
    redundant: bool
    covered_by: tuple[str, ...]

    @property
    def little_missed(self) -> bool:
        """Whether the formula would lose only a little of the facet."""
        return self.missed < LITTLE_MISSED


def trim(drydown: FormulaDrydown) -> list[Contribution]:
    """Return every smelling material of a formula, the least missed first."""
    space = drydown.palette.space
    before = _presence(drydown.amounts, drydown)
    found = []
    for place, amount in enumerate(drydown.amounts):
        if amount.material.kind == "solvent" or amount.material.curve is None:
            continue
        rest = [a for i, a in enumerate(drydown.amounts) if i != place]
        total = sum(a.mass_fraction for a in rest)
        if total <= 0 or not any(part.pressure_pa > 0 for a in rest for part in a.material.parts):
            continue
        after = _presence([Amount(a.material, a.mass_fraction / total) for a in rest], drydown)
        own_facets = np.array([amount.material.strength_of(facet) > 1 for facet in space.facets])
        lost = np.where(own_facets, before - after, 0.0)
        if lost.max() <= 0:
            lost = np.where(own_facets, 1e-9 * before, 0.0)
        phase, column = np.unravel_index(int(lost.argmax()), lost.shape)
        facet = space.facets[column]
        when = list(PHASES.values())[int(phase)]
        own = _carried(drydown, place, int(column), when)
        covers = [
            other.material.name
            for i, other in enumerate(drydown.amounts)
            if i != place and _carried(drydown, i, int(column), when) >= COVERS * max(own, 1e-9)
        ]
        missed = float(lost.max())
        name = list(PHASES)[int(phase)]
        found.append(
            Contribution(
                amount.material,
                1000.0 * amount.mass_fraction,
                facet,
                name,
                missed,
                missed < JUST_NOTICEABLE,
                tuple(covers[:3]),
            )
        )
    return sorted(found, key=lambda spare: (spare.missed, spare.material.name))


def _presence(amounts: list[Amount], drydown: FormulaDrydown) -> Array:
    """Return soft presence by phase and facet, near facets standing in for each other, (phases, facets)."""
    palette = drydown.palette
    film = film_of(amounts, palette.space, palette.catalogue.index, conditions=drydown.conditions)
    found = course(film)
    hours, facets = found.hours[None], found.facets[None]
    facets = (facets[:, :, :, None] * drydown.palette.space.near).max(axis=2)
    return np.array([dosing.soft_presence(hours, facets, *window)[0] for window in PHASES.values()])


def _carried(drydown: FormulaDrydown, place: int, column: int, when: tuple[float, float]) -> float:
    """Return the greatest intensity with which one material shows one facet between two hours."""
    film, hours = drydown.film, drydown.course.hours
    hours = hours[(hours >= when[0]) & (hours <= when[1])]
    mine = film.owner == place
    if not mine.any():
        return 0.0
    return float((film.at(hours)[:, mine] * film.weights[mine, column]).max())
