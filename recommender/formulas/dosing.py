"""How much to try: equal strength, the best dose in a formula, first amounts, what to dilute."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

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
from recommender.formulas.usual import UsualUse
from recommender.model import Component, Dose, Material

DOSE_GRID = np.array([0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 6.0, 12.0, 25.0, 50.0, 100.0, 150.0])
"""Doses that are simulated, in parts per thousand of the finished accord."""
FINER_GRID = np.array([0.0001, 0.0003, 0.001, 0.003])
"""Rungs below those, for thiols, pyrazines and whatever else is used by the trace."""
BELOW_HIGH = 50.0
"""The lowest rung is at most the usual high end divided by this, about the width of a usual range."""
CHANGE_COSTS = 0.5
"""What a change of everything else costs against the presence that is won."""
ENOUGH = 0.8
"""The smallest dose that wins this much of the most that can be won is the best one."""
STANDS_OUT = 0.5
"""A material stands out of an accord where it changes this much of everything else."""
DILUTIONS = (10.0, 1.0, 0.1, 0.01)
"""Dilutions in which a dose is offered [%]."""
MOST_OF_A_DILUTION = 500.0
"""Parts per thousand of the accord that a dilution may be."""
HORIZON_H = 168.0
_STEPS = 60
BLOCK = 32
"""Candidates followed at once: their arrays stay in the processor's cache."""


@dataclass(frozen=True)
class SimulatedDoses:
    """Candidates at one dose each in a formula: arrays (candidates,), facets (candidates, steps, facets)."""

    hours: Array
    facets: Array


def dose_range(
    best: float,
    most: float,
    bound: float = 1000.0,
    usual: UsualUse | None = None,
    working_percent: float | None = None,
) -> Dose:
    """Return the ladder that perfumers use below a best dose: a third, a half, the full amount.

    `most` is the dose from which the material stands out of the accord, `bound` what limits leave, `usual`
    its usual use; all cap the ladder, and no figure is rounded above a bound. The first try is not below the
    usual range where the full amount is not. `working_percent` is the dilution that a caution advises [%].

    >>> found = dose_range(12.0, 30.0)
    >>> found.first_try, found.low, found.high, found.dilution_percent
    (6.0, 4.0, 12.0, 10.0)
    >>> dose_range(12.0, 30.0, usual=UsualUse(0.5, 5.0)).high
    5.0
    """
    cap = bound if usual is None else min(bound, usual.room)
    full = min(best, most, cap)
    least = 0.0 if usual is None else min(usual.least, full)
    first = max(full / 2, least)
    return Dose(
        _tidy(first, cap, least),
        _tidy(full / 3, cap),
        _tidy(full, cap),
        working_dilution(first, full / 3, full, working_percent),
        usual=None if usual is None else (usual.low, usual.high),
    )


def _tidy(value: float, most: float, least: float = 0.0) -> float:
    """Return a dose with two digits, rounded down where it would be above `most`, up below `least`."""
    rounded = float(f"{value:.2g}")
    if least <= rounded <= most or value <= 0:
        return rounded
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    turned = math.floor if rounded > most else math.ceil
    off = 1.0 + 1e-9 if rounded > most else 1.0 - 1e-9
    return min(float(f"{turned(value / step * off) * step:.2g}"), most)


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
    for percent in (100.0, *DILUTIONS):
        if weighed / (percent / 100.0) >= 10.0 * resolution_g * (1.0 - 1e-9):
            return None if percent == 100.0 else percent
    return DILUTIONS[-1]


def together(doses: Sequence[Dose]) -> tuple[float, float] | None:
    """Return the usual ranges of several doses added up, None where one of them is unknown."""
    ranges = [dose.usual for dose in doses if dose.usual is not None]
    if len(ranges) < len(doses):
        return None
    return sum(low for low, _ in ranges), sum(high for _, high in ranges)


def working_dilution(
    first: float,
    low: float,
    high: float,
    working_percent: float | None,
    batch_g: float = 10.0,
    resolution_g: float = 0.01,
) -> float | None:
    """Return the dilution [%] in which to weigh a range of doses, None where neat will do.

    That which a caution advises, as long as the first try is five digits of the balance in it; else what the
    balance needs. So much of a dilution that it would be half of the accord is never asked for.

    Parameters
    ----------
    first, low, high : float
        Doses of the neat material [parts per thousand].
    working_percent : float, optional
        The strongest dilution that the material's cautions advise [%].
    batch_g, resolution_g : float
        As `dilution`.

    >>> working_dilution(0.009, 0.006, 0.018, 0.1), working_dilution(0.009, 0.006, 0.018, None)
    (0.1, 0.01)
    """
    needed = dilution(low, batch_g, resolution_g)
    if working_percent is None:
        return needed
    percent = min(working_percent, dilution(2.0 * first, batch_g, resolution_g) or 100.0)
    while percent < 100.0 and 100.0 * high / percent > MOST_OF_A_DILUTION:
        percent *= 10.0
    return None if percent >= 100.0 else float(f"{percent:.6g}")


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


def strength_band(one: Material, other: Material) -> float | None:
    """Return the factor by which the ratio of two strengths may be off either way, None if one is unknown.

    The bands of both are independent: their decades add up as squares.
    """
    if one.curve is None or other.curve is None:
        return None
    return float(10.0 ** math.hypot(one.curve.log_error, other.curve.log_error))


def first_amounts(materials: Sequence[Material], balance: Sequence[float]) -> list[float | None]:
    """Return first-trial amounts in parts per thousand from odour values.

    Each material gets the amount at which it stands as many times above its threshold as the others,
    shifted by the wanted balance: a perceived ratio r needs r^(1 / slope) in odour value, by the slope of the
    material's own curve.

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
        curve = material.curve
        needed.append(
            None if value <= 0 or curve is None else share ** (1.0 / odour_strength.slope(curve)) / value
        )
    total = sum(value for value in needed if value is not None)
    return [None if value is None else 1000.0 * value / total for value in needed]


OUTLIER = 3.0
"""Usual use of a material that asks for so much less than that of the others bounds itself alone."""


def within_usual(parts: Sequence[float | None], highs: Sequence[float | None]) -> list[float | None]:
    """Return amounts cut to usual use [parts per thousand], None where they are unknown.

    All are lowered by the same factor, so that the balance stays; only a material of which the high end lies
    far below what the others allow is cut by itself. What is cut is not made up.

    >>> within_usual([900.0, 90.0, 10.0], [180.0, 30.0, 0.01])
    [180.0, 18.0, 0.01]
    """
    pairs = [(p, h) for p, h in zip(parts, highs, strict=True) if p and h is not None]
    factors = sorted(high / part for part, high in pairs)
    middle = factors[(len(factors) - 1) // 2] if factors else 1.0
    factor = min(1.0, next((one for one in factors if OUTLIER * one >= middle), 1.0))
    return [
        None if part is None else min(part * factor, math.inf if high is None else high)
        for part, high in zip(parts, highs, strict=True)
    ]


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
    against what they were, `stands_out` mass fraction from which that change is too great. `needed` is the
    mass fraction that would win most of what can be won where usual use does not allow it, else 0.
    """

    share: Array
    before: float
    after: Array
    change: Array
    stands_out: Array
    needed: Array = field(default_factory=lambda: np.zeros(0))

    def picked(self, places: npt.NDArray[np.intp]) -> "Gain":
        """Return the gain of some of the candidates."""
        return Gain(
            self.share[places],
            self.before,
            self.after[places],
            self.change[places],
            self.stands_out[places],
            self.needed[places],
        )


def grid_for(usual: Sequence[UsualUse | None]) -> Array:
    """Return the mass fractions at which each material is simulated, shape (rungs, candidates).

    They start lower for what is usually used by the trace, higher for what is used by the per cent, of which
    the last rung then stands several times.

    >>> (1000 * grid_for([None, UsualUse(0.0002, 0.01), UsualUse(2.0, 40.0)])[0]).round(4).tolist()
    [0.01, 0.0001, 0.3]
    """
    grid = np.concatenate([FINER_GRID, DOSE_GRID])
    lowest = np.array([DOSE_GRID[0] if one is None else one.high / BELOW_HIGH for one in usual])
    start = np.maximum((grid[:, None] <= lowest).sum(axis=0) - 1, 0)
    rungs = np.minimum(start + np.arange(len(DOSE_GRID))[:, None], len(grid) - 1)
    return np.asarray(grid[rungs] / 1000.0, float)


def best_doses(
    base: FormulaFilm,
    candidates: Sequence[FormulaFilm],
    wanted: Mapping[str, float],
    window: tuple[float, float],
    most: Array | None = None,
    usual: Sequence[UsualUse | None] | None = None,
) -> Gain:
    """Try every candidate at every rung; keep the least dose that wins most presence for what it changes.

    That dose is then brought inside the usual range, below what stands out, and simulated once more; what
    changes more than it wins at each of its usual doses gets none.

    Parameters
    ----------
    base : FormulaFilm
    candidates : sequence of FormulaFilm
    wanted : mapping of str -> float
        Facets with their share.
    window : tuple of float
        From when until when they have to be present [h].
    most : ndarray, shape (candidates,), optional
        Mass fraction that limits leave for each; no rung goes above it.
    usual : sequence of UsualUse or None, optional
        Usual use of each, None where none is on record.
    """
    columns = [base.facets.index(facet) for facet in wanted]
    others = np.setdiff1d(np.arange(len(base.facets)), columns)
    plain = simulate(base, candidates[:1], np.array([1e-9]))
    reference = soft_presence(plain.hours, plain.facets, *window)[0]
    before = float(reference[columns].max())
    loud = np.maximum(reference[others].sum(), 1e-9)

    def tried(films: Sequence[FormulaFilm], shares: Array) -> tuple[Array, Array]:
        found = simulate(base, films, shares)
        present = soft_presence(found.hours, found.facets, *window)
        moved = np.abs(present[:, others] - reference[others]).sum(axis=1) / loud
        return present[:, columns].max(axis=1), moved

    count = len(candidates)
    each = np.arange(count)
    upper_bound = np.full(count, 1.0) if most is None else most
    uses = [None] * count if usual is None else usual
    grid = grid_for(uses)
    won, moved = np.zeros(grid.shape), np.zeros(grid.shape)
    doses = np.minimum(grid, upper_bound)
    for step, shares in enumerate(doses):
        if step:
            won[step], moved[step] = won[step - 1], moved[step - 1]
        new = np.flatnonzero(shares != doses[step - 1]) if step else each
        if len(new):
            won[step, new], moved[step, new] = tried([candidates[int(i)] for i in new], shares[new])
    value = won - before - CHANGE_COSTS * moved
    enough = value >= ENOUGH * value.max(axis=0)
    wins = value.max(axis=0) > 0
    chosen = np.where(wins, enough.argmax(axis=0), value.argmax(axis=0))
    loudly = moved > STANDS_OUT
    out = np.where(loudly.any(axis=0), grid[loudly.argmax(axis=0), each], grid[-1])
    best = np.minimum(doses[chosen, each], out)
    least = np.array([0.0 if one is None else one.least / 1000.0 for one in uses])
    room = np.array([1.0 if one is None else one.room / 1000.0 for one in uses])
    bounded = np.minimum(np.maximum(best, np.minimum(least, out)), np.minimum(room, upper_bound))
    share = np.where(wins, bounded, np.where(least > 0, 0.0, best))
    after, change = (
        np.where(share > 0, won[chosen, each], before),
        np.where(share > 0, moved[chosen, each], 0),
    )
    moved_to = np.flatnonzero((share != doses[chosen, each]) & (share > 0))
    if len(moved_to):
        after[moved_to], change[moved_to] = tried([candidates[int(i)] for i in moved_to], share[moved_to])
    falls_short = after - before - CHANGE_COSTS * change < ENOUGH * value.max(axis=0)
    needed = np.where(wins & (share < best) & falls_short, best, 0.0)
    return Gain(share, before, after, change, out, needed)
