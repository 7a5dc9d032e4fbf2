"""How much to try: equal strength, the best dose in a formula, first amounts, what to dilute."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from recommender.chemistry import odour_strength
from recommender.evaporation import Array
from recommender.evaporation.course import FormulaFilm
from recommender.evaporation.surface import (
    HOUR,
    first_strength,
    fresh_concentrations,
)
from recommender.model import Component, Dose, Material

DOSE_GRID = np.array([0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 6.0, 12.0, 25.0, 50.0, 100.0, 150.0])
"""Doses that are simulated, in parts per thousand of the finished accord."""
CHANGE_COSTS = 0.5
"""What a change of everything else costs against the presence that is won."""
ENOUGH = 0.8
"""The smallest dose that wins this much of the most that can be won is the best one."""
STANDS_OUT = 0.5
"""A material stands out of an accord where it changes this much of everything else."""
STEVENS = 0.43
"""Median slope of perceived strength against concentration (both logs) of the measured curves."""
HORIZON_H = 168.0
_STEPS = 60
BLOCK = 32
"""Candidates followed at once: their arrays stay in the processor's cache."""


@dataclass(frozen=True)
class SimulatedDoses:
    """Candidates at one dose each in a formula: arrays (candidates,), facets (candidates, steps, facets)."""

    hours: Array
    facets: Array


def dose_range(best: float, most: float, bound: float = 1000.0) -> Dose:
    """Return the ladder that perfumers use below a best dose: a third, a half, the full amount.

    `most` is the dose from which the material stands out of the accord, `bound` what limits leave; both cap
    the ladder, and no figure is rounded above the bound.

    >>> dose_range(12.0, 30.0)
    Dose(first_try=6.0, low=4.0, high=12.0, dilution_percent=10.0, of_query=None)
    """
    full = min(best, most, bound)
    return Dose(_tidy(full / 2, bound), _tidy(full / 3, bound), _tidy(full, bound), dilution(full / 3))


def _tidy(value: float, most: float) -> float:
    rounded = float(f"{value:.2g}")
    if rounded <= most:
        return rounded
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return float(f"{math.floor(value / step * (1.0 + 1e-9)) * step:.2g}")


def dilution(parts_per_thousand: float, batch_g: float = 10.0, resolution_g: float = 0.01) -> float | None:
    """Return the dilution [%] in which a dose can be weighed to a tenth, None where neat will do.

    Parameters
    ----------
    parts_per_thousand : float
        The dose of the neat material.
    batch_g : float
        Size of the trial [g].
    resolution_g : float
        The balance's last digit [g].

    >>> dilution(0.02), dilution(4.0), dilution(40.0)
    (0.1, 10.0, None)
    """
    weighed = parts_per_thousand / 1000.0 * batch_g
    for percent in (100.0, 10.0, 1.0, 0.1):
        if weighed / (percent / 100.0) >= 10.0 * resolution_g * (1.0 - 1e-9):
            return None if percent == 100.0 else percent
    return 0.1


def equal_strength(material: Material, reference: Material, parts: float) -> float | None:
    """Return the parts of a material that smell as strong as so many parts of a reference, None if unknown.

    Both are compared when first smelled on a strip, each diluted to its parts of a thousand in dipropylene
    glycol; naturals as the mixtures that they are.
    """
    if reference.curve is None or material.curve is None or parts <= 0:
        return None
    level = first_strength(reference.parts, min(parts / 1000.0, 1.0))
    low, high = -6.0, 0.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if first_strength(material.parts, 10**middle) < level else (low, middle)
    return 1000.0 * 10**high


def first_amounts(materials: Sequence[Material], balance: Sequence[float]) -> list[float | None]:
    """Return first-trial amounts in parts per thousand from odour values.

    Each material gets the amount at which it stands as many times above its threshold as the others,
    shifted by the wanted balance: a perceived ratio r needs r^(1/0.43) in odour value.

    Parameters
    ----------
    materials : sequence of Material
    balance : sequence of float
        How strong each should seem against the others; 1 for all is even.

    References
    ----------
    Odour value, p M / (R T Thr): Mata, Gomes, Rodrigues, Ind. Eng. Chem. Res. 44 (2005) 4435-4441.
    """
    needed: list[float | None] = []
    for material, share in zip(materials, balance, strict=True):
        value = odour_value(material.parts)
        needed.append(share ** (1.0 / STEVENS) / value if value > 0 else None)
    total = sum(value for value in needed if value is not None)
    return [None if value is None else 1000.0 * value / total for value in needed]


def odour_value(parts: Sequence[Component], dilution: float = 0.01) -> float:
    """Return how many times a fresh strip stands above the thresholds of what is on it, added up."""
    total = 0.0
    for met, part in zip(fresh_concentrations(parts, dilution), parts, strict=True):
        if part.curve is not None:
            total += float(met) / odour_strength.concentration_at(odour_strength.JUST_THERE, part.curve)
    return total


def simulate(base: FormulaFilm, candidates: Sequence[FormulaFilm], shares: Array) -> SimulatedDoses:
    """Add each candidate to a formula at one dose and follow all facets, all candidates at once.

    The closed form makes t(s) a sum over components, so a candidate adds one term to the formula's curve.

    Parameters
    ----------
    base : FormulaFilm
        The formula, a full load.
    candidates : sequence of FormulaFilm
        Each alone, a full load.
    shares : ndarray, shape (candidates,)
        Mass fraction of each in the finished accord.

    Returns
    -------
    SimulatedDoses
        hours (candidates, steps) and facet intensities (candidates, steps, facets).
    """
    blocks = [
        _simulated(base, candidates[i : i + BLOCK], shares[i : i + BLOCK])
        for i in range(0, len(candidates), BLOCK)
    ]
    return SimulatedDoses(
        np.concatenate([b.hours for b in blocks]), np.concatenate([b.facets for b in blocks])
    )


def _simulated(base: FormulaFilm, candidates: Sequence[FormulaFilm], shares: Array) -> SimulatedDoses:
    """Return some candidates at one dose each; by mass, times and moles of a mixture are sums."""
    keep = 1.0 - shares
    inert = base.inert * keep + np.array([c.inert for c in candidates]) * shares
    moles = base.moles.sum() * keep + np.array([c.moles.sum() for c in candidates]) * shares
    warp = np.geomspace(30.0 / (moles + inert).max(), HORIZON_H * HOUR / inert.min(), _STEPS)
    left, extra = base.left_at(warp), [candidate.left_at(warp) for candidate in candidates]
    seconds = keep[:, None] * base.elapsed(warp)
    total = keep[:, None] * base.total(left)
    for number, (share, candidate) in enumerate(zip(shares, candidates, strict=True)):
        seconds[number] += share * candidate.elapsed(warp)
        total[number] += share * candidate.total(extra[number])
    alone = base.intensities(left, total / keep[:, None])
    summed = base.sums.cubed(alone)
    for number, (share, candidate) in enumerate(zip(shares, candidates, strict=True)):
        own = candidate.intensities(share * extra[number], total[number])
        summed[number] += candidate.sums.cubed(own)
    return SimulatedDoses(seconds / HOUR, np.cbrt(summed))


def soft_presence(hours: Array, facets: Array, start_hours: float, end_hours: float) -> Array:
    """Return the mean soft presence S / (S + 6) of every facet over log time in a window.

    `hours` is shaped (candidates, steps), `facets` (candidates, steps, facets); result (candidates, facets).
    """
    logs = np.log(np.maximum(hours, 1e-6))
    inside = np.clip(logs, math.log(start_hours), math.log(end_hours))
    widths = np.diff(inside, axis=1)
    soft = odour_strength.soft(facets)
    middle = 0.5 * (soft[:, 1:] + soft[:, :-1])
    reached = np.maximum(widths.sum(axis=1), 1e-12)
    return np.asarray((middle * widths[:, :, None]).sum(axis=1) / reached[:, None], float)


@dataclass(frozen=True)
class Gain:
    """What candidates do to a formula at their best dose: arrays (candidates,).

    `share` mass fraction, `before` and `after` presence of the wanted facets, `change` of all other facets
    against what they were, `stands_out` mass fraction from which that change is too great.
    """

    share: Array
    before: float
    after: Array
    change: Array
    stands_out: Array

    def picked(self, places: npt.NDArray[np.intp]) -> "Gain":
        """Return the gain of some of the candidates."""
        return Gain(
            self.share[places], self.before, self.after[places], self.change[places], self.stands_out[places]
        )


def best_doses(
    base: FormulaFilm,
    candidates: Sequence[FormulaFilm],
    wanted: Mapping[str, float],
    window: tuple[float, float],
    most: Array | None = None,
) -> Gain:
    """Try every candidate at every rung; keep the least dose that wins most presence for what it changes.

    `most` (candidates,) is the mass fraction that limits leave for each; no rung goes above it.
    """
    columns = [base.facets.index(facet) for facet in wanted]
    others = np.setdiff1d(np.arange(len(base.facets)), columns)
    plain = simulate(base, candidates[:1], np.array([1e-9]))
    reference = soft_presence(plain.hours, plain.facets, *window)[0]
    before = float(reference[columns].max())
    count = len(candidates)
    upper_bound = np.full(count, 1.0) if most is None else most
    won, moved = np.zeros((len(DOSE_GRID), count)), np.zeros((len(DOSE_GRID), count))
    loud = np.maximum(reference[others].sum(), 1e-9)
    for step, rung in enumerate(DOSE_GRID):
        found = simulate(base, candidates, np.minimum(rung / 1000.0, upper_bound))
        present = soft_presence(found.hours, found.facets, *window)
        won[step] = present[:, columns].max(axis=1)
        moved[step] = np.abs(present[:, others] - reference[others]).sum(axis=1) / loud
    value = won - before - CHANGE_COSTS * moved
    enough = value >= ENOUGH * value.max(axis=0)
    chosen = np.where(value.max(axis=0) > 0, enough.argmax(axis=0), value.argmax(axis=0))
    pick = (chosen, np.arange(count))
    loudly = moved > STANDS_OUT
    out = np.where(loudly.any(axis=0), DOSE_GRID[loudly.argmax(axis=0)], DOSE_GRID[-1]) / 1000.0
    share = np.minimum(DOSE_GRID[chosen] / 1000.0, upper_bound)
    return Gain(share, before, won[pick], moved[pick], out)
