"""A formula on a strip: intensity of every facet over time, its ends and its gaps.

Components are the molecules and parts of all materials. Near-identical odours add their doses before the
curve is read; different odours add by a p-norm.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from recommender.chemistry import odour_strength
from recommender.errors import BadTable
from recommender.evaporation.conditions import DEFAULT_CONDITIONS, NOSE_L_PER_S, Conditions
from recommender.evaporation.film import Array, evaporation_rate, remaining
from recommender.evaporation.presence import part_weights
from recommender.evaporation.surface import DIP_MG, HOUR, MIXTURE_POWER, parts_of
from recommender.model import Amount
from recommender.similarity.odour_space import OdourSpace

MASKING = 0.147
"""How far the rest hides one odour, fitted to panel means of binary mixtures; source as `MIXTURE_POWER`."""
NEAR_IDENTICAL = 0.985
"""Whole-smell likeness from which two molecules count as one odour and add their doses."""
HOURS = np.geomspace(1 / 60, 168, 60)
"""A minute to a week."""


@dataclass(frozen=True)
class Film:
    """What is on the strip, by component: arrays (components,), `weights` (components, facets).

    `owner` is the place of the material in `amounts`; components of one `group` add their doses.
    """

    amounts: tuple[Amount, ...]
    facets: tuple[str, ...]
    owner: npt.NDArray[np.intp]
    group: npt.NDArray[np.intp]
    moles: Array
    rates: Array
    molar: Array
    i_max: Array
    half: Array
    width: Array
    log_error: Array
    weights: Array
    inert: float
    nose_l_per_s: float = NOSE_L_PER_S

    def left(self, hours: npt.ArrayLike) -> Array:
        """Return the moles left, shape (times, components)."""
        seconds = np.asarray(hours, float) * HOUR
        return np.asarray(remaining(self.moles[None], self.rates[None], [self.inert], seconds)[0], float)

    def intensities(self, left: Array) -> Array:
        """Return the intensity of each component alone, shape (times, components)."""
        total = left.sum(axis=1) + self.inert
        emitted = 1e6 * left * (self.rates * self.molar)
        met = emitted / np.maximum(total, 1e-300)[:, None] / self.nose_l_per_s
        return np.asarray(odour_strength.logistic(met, self.i_max, self.half, self.width), float)


@dataclass(frozen=True)
class Course:
    """A formula over time: `facets` (times, facets), `whole` (times,), `owners` (times, materials)."""

    film: Film
    hours: Array
    facets: Array
    whole: Array
    owners: Array


def film_of(
    amounts: Sequence[Amount],
    space: OdourSpace,
    index: Mapping[str, int],
    crystals: bool = False,
    conditions: Conditions = DEFAULT_CONDITIONS,
) -> Film:
    """Put amounts on a strip, 20 mg on 5 cm2.

    Parameters
    ----------
    amounts : sequence of Amount
        Mass fractions that add up to 1.
    space : OdourSpace
    index : mapping of str -> int
        The row of each slug in the catalogue.
    crystals : bool
        Take solids as crystals that evaporate at their own pressure instead of dissolved.
    conditions : Conditions
        The strip's air, paper, nose and room, and materials that read otherwise than the table.

    Raises
    ------
    BadTable
        Nothing on the strip evaporates, as far as is known.
    """
    cells, inert = [], 0.0
    for place, amount in enumerate(amounts):
        weights = part_weights(amount.material, space, index)
        parts = parts_of(amount.material, conditions)
        if not parts:
            inert += DIP_MG * 1e-3 * amount.mass_fraction / (amount.material.molar_mass or 400.0)
        for part, weight in zip(parts, weights, strict=True):
            moles = DIP_MG * 1e-3 * amount.mass_fraction * part.mass_fraction / part.molar_mass
            if part.pressure_pa <= 0:
                inert += moles
                continue
            pressure = part.crystal_pa if crystals and part.crystal_pa else part.pressure_pa
            curve = part.curve
            shape = (curve.i_max, curve.log10_half, curve.width) if curve else (0.0, 0.0, 1.0)
            cells.append((place, part.name, moles, pressure, part.molar_mass, *shape, part.log_error, weight))
    if not cells:
        strip = ", ".join(amount.material.name for amount in amounts)
        remedy = "An own material needs a pressure and a molar mass: see `recommender materials add --help`"
        raise BadTable(
            strip, "how it evaporates is not known, so it cannot be followed on a strip", remedy=remedy
        )
    owner, names, moles_, pressures, molar, i_max, half, width, errors, weights_ = zip(*cells, strict=True)
    moles_of = np.array(moles_, float)
    return Film(
        tuple(amounts),
        space.facets,
        np.array(owner, np.intp),
        _groups(names, moles_of, space, index),
        moles_of,
        evaporation_rate(pressures, molar, conditions),
        np.array(molar, float),
        np.array(i_max, float),
        np.array(half, float),
        np.array(width, float),
        np.array(errors, float),
        np.array(weights_, float),
        inert + conditions.paper_share * (moles_of.sum() + inert),
        conditions.nose_l_per_s,
    )


def _groups(
    names: Sequence[str], moles: Array, space: OdourSpace, index: Mapping[str, int]
) -> npt.NDArray[np.intp]:
    """Return which components are one odour: the same molecule, or near-identical ones."""
    called = np.array(names)
    rows = np.array([index.get(name, -1) for name in names], np.intp)
    vectors = space.vectors[np.maximum(rows, 0)]
    known = rows >= 0
    one = known[:, None] & known & (space.alike(vectors, vectors) >= NEAR_IDENTICAL)
    one |= called[:, None] == called
    leaders: list[int] = []
    group = np.zeros(len(names), np.intp)
    for place in np.argsort(-moles, kind="stable"):
        joined = one[place, leaders]
        if joined.any():
            group[place] = int(joined.argmax())
        else:
            group[place] = len(leaders)
            leaders.append(int(place))
    return group


def doses_added(film: Film, alone: Array) -> Array:
    """Return intensities (times, components) in which one odour's components share its joint intensity.

    Each component's concentration is turned into that of the group's leader that smells as strong; the sum
    is read on the leader's curve and shared out by dose.
    """
    result = alone.copy()
    for number in np.flatnonzero(np.bincount(film.group) > 1):
        members = np.flatnonzero((film.group == number) & (film.i_max > 0))
        if len(members) < 2:
            continue
        lead = members[np.argmax(alone[0, members])]
        top, half, width = film.i_max[lead], film.half[lead], film.width[lead]
        level = np.clip(alone[:, members], 1e-12, 0.999 * top)
        dose = 10.0 ** (half - width * np.log(top / level - 1.0))
        dose = np.where(alone[:, members] > 1e-12, dose, 0.0)
        total = dose.sum(axis=1)
        joint = odour_strength.logistic(total, top, half, width)
        share = dose / np.where(total > 0, total, 1.0)[:, None]
        result[:, members] = (
            share ** (1.0 / MIXTURE_POWER) * np.maximum(joint, alone[:, members].max(axis=1))[:, None]
        )
    return result


def course(film: Film, hours: npt.ArrayLike = HOURS) -> Course:
    """Return the formula over time."""
    times = np.asarray(hours, float)
    heard = doses_added(film, film.intensities(film.left(times)))
    powered = heard**MIXTURE_POWER
    facets = (powered @ film.weights**MIXTURE_POWER) ** (1.0 / MIXTURE_POWER)
    owners = np.zeros((len(times), len(film.amounts)))
    np.add.at(owners.T, film.owner, powered.T)
    whole = powered.sum(axis=1) ** (1.0 / MIXTURE_POWER)
    return Course(film, times, facets, whole, owners ** (1.0 / MIXTURE_POWER))


def masked(own: Array, whole: Array) -> Array:
    """Return what is left of odours beside the rest: own^2 / (own + 0.147 rest); any shape."""
    rest = np.maximum(whole**MIXTURE_POWER - own**MIXTURE_POWER, 0.0) ** (1.0 / MIXTURE_POWER)
    return np.asarray(own**2 / np.maximum(own + MASKING * rest, 1e-300), float)


def with_added(film: Film, extra: Film, mass_share: float) -> Film:
    """Return a film in which `extra` makes up `mass_share` of the whole; both were made from full dips."""
    keep = 1.0 - mass_share
    amounts = [replace(a, mass_fraction=a.mass_fraction * keep) for a in film.amounts]
    amounts += [replace(a, mass_fraction=a.mass_fraction * mass_share) for a in extra.amounts]
    joined: dict[str, Any] = {
        name: np.concatenate([getattr(film, name), getattr(extra, name)])
        for name in ("rates", "molar", "i_max", "half", "width", "log_error", "weights")
    }
    return replace(
        film,
        amounts=tuple(amounts),
        owner=np.concatenate([film.owner, extra.owner + len(film.amounts)]),
        group=np.concatenate([film.group, extra.group + film.group.max() + 1]),
        moles=np.concatenate([film.moles * keep, extra.moles * mass_share]),
        inert=film.inert * keep + extra.inert * mass_share,
        **joined,
    )
