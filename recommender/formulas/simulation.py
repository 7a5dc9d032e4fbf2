"""Candidates in a formula, simulated all at once: their presence at a dose, and the best dose of each."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from recommender.chemistry import odour_strength
from recommender.evaporation import Array
from recommender.evaporation.course import FormulaFilm, MaterialFilm, cubes
from recommender.evaporation.surface import HOUR, SurfaceState, eighth_power, eighth_root, side_by_side
from recommender.formulas.usual import UsualUse
from recommender.progress import Progress

Columns = npt.NDArray[np.intp]
Alone = FormulaFilm | MaterialFilm
"""One material alone, as a full load."""

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
HORIZON_H = 168.0
_STEPS = 60
BLOCK = 64
"""Candidates followed at once: their arrays stay in the processor's cache."""


@dataclass(frozen=True)
class SimulatedDoses:
    """Candidates at one dose each in a formula: arrays (candidates,), facets (candidates, steps, facets)."""

    hours: Array
    facets: Array


@dataclass(frozen=True)
class Candidates:
    """Candidates side by side, each one material alone as a full load.

    `strips` are their surfaces, arrays (candidates, parts); each shows its `facets` (shown,), its parts by
    the eighth powers of their weights, `powers` (candidates, parts, shown at most).
    """

    strips: SurfaceState
    facets: Sequence[Columns]
    powers: Array

    @classmethod
    def of(cls, films: Sequence[Alone]) -> "Candidates":
        """Return films side by side, each of one material."""
        states = [film.state if isinstance(film, MaterialFilm) else film for film in films]
        facets = [np.flatnonzero(film.weights.any(axis=0)) for film in films]
        strips = side_by_side(states)
        powers = np.zeros((*strips.moles.shape, max(map(len, facets))))
        for own, film, shown in zip(powers, films, facets, strict=True):
            own[: len(film.weights), : len(shown)] = eighth_power(film.weights[:, shown])
        return cls(strips, facets, powers)

    def picked(self, places: Columns, strips: SurfaceState | None = None) -> "Candidates":
        """Return some of the candidates, one perhaps several times, on `strips` where these differ."""
        found = self.strips.rows(places) if strips is None else strips
        return Candidates(found, [self.facets[i] for i in places], self.powers[places])

    def in_formula(self, base: FormulaFilm, shares: Array) -> SimulatedDoses:
        """Return each added to a formula at one dose, see `simulate`."""
        hours = np.empty((len(shares), _STEPS))
        facets = np.empty((*hours.shape, len(base.facets)))
        for block, them in self._blocks(shares):
            warp, hours[block] = them._clock(base, shares[block])
            facets[block] = them._added(base, shares[block], warp)
        return SimulatedDoses(hours, facets)

    def at(self, base: FormulaFilm, shares: Array, hours: Array) -> Array:
        """Return all facets at some hours of the formula alone, (candidates, hours, facets).

        What a candidate does to the clock is left out, which a part of some per cent hardly moves.
        """
        warp = base.warp(hours)
        blocks = [them._added(base, shares[block], warp) for block, them in self._blocks(shares)]
        return np.concatenate([np.zeros((0, len(hours), len(base.facets))), *blocks])

    def present(self, base: FormulaFilm, shares: Array, window: tuple[float, float]) -> Array:
        """Return the soft presence of every facet in a window, (candidates, facets).

        Only times that count in the window are followed.
        """
        found = np.empty((len(shares), len(base.facets)))
        for block, them in self._blocks(shares):
            warp, hours = them._clock(base, shares[block])
            weights = log_time_weights(hours, *window)
            counts = np.flatnonzero(weights.any(axis=0))
            present = odour_strength.soft(them._added(base, shares[block], warp[counts]))
            found[block] = (weights[:, None, counts] @ present)[:, 0]
        return found

    def _blocks(self, shares: Array) -> Iterator[tuple[slice, "Candidates"]]:
        for start in range(0, len(shares), BLOCK):
            block = np.arange(start, min(start + BLOCK, len(shares)))
            yield slice(start, start + len(block)), self.picked(block)

    def _clock(self, base: FormulaFilm, shares: Array) -> tuple[Array, Array]:
        """Return a warp (steps,) from half a minute to the horizon, and the hours at it (candidates, steps).

        By mass, times and moles of a mixture are sums.
        """
        strips, keep = self.strips, 1.0 - shares
        inert = base.inert * keep + strips.inert * shares
        moles = base.moles.sum() * keep + strips.moles.sum(axis=1) * shares
        warp = np.geomspace(30.0 / (moles + inert).max(), HORIZON_H * HOUR / inert.min(), _STEPS)
        seconds = keep[:, None] * base.elapsed(warp) + shares[:, None] * strips.elapsed(warp[None])
        return warp, seconds / HOUR

    def _added(self, base: FormulaFilm, shares: Array, warp: Array) -> Array:
        """Return all facets at some steps of a warp, each at one dose, (candidates, steps, facets)."""
        strips, keep, share = self.strips, (1.0 - shares)[:, None], shares[:, None]
        left, extra = base.left_at(warp), strips.left_at(warp[None])
        total = keep * base.total(left) + share * strips.total(extra)
        summed = base.sums.cubed(base.intensities(left, total / keep))
        own = eighth_power(strips.intensities(share[:, None] * extra, total))
        shown = cubes(eighth_root(own @ self.powers))
        for facets, columns, values in zip(summed, self.facets, shown, strict=True):
            facets[:, columns] += values[:, : len(columns)]
        return np.asarray(np.cbrt(summed, out=summed), float)


def simulate(base: FormulaFilm, candidates: Sequence[Alone], shares: Array) -> SimulatedDoses:
    """Add each candidate to a formula at one dose and follow all facets, all candidates at once.

    The closed form makes t(s) a sum over components, so a candidate adds one term to the formula's curve.

    Parameters
    ----------
    base : FormulaFilm
        The formula, a full load.
    candidates : sequence of FormulaFilm
        Each one material alone, a full load.
    shares : ndarray, shape (candidates,)
        Mass fraction of each in the finished accord.

    Returns
    -------
    SimulatedDoses
        hours (candidates, steps) and facet intensities (candidates, steps, facets).
    """
    return Candidates.of(candidates).in_formula(base, shares)


def soft_presence(hours: Array, facets: Array, start_hours: float, end_hours: float) -> Array:
    """Return the mean soft presence S / (S + 6) of every facet over log time in a window.

    `hours` is shaped (candidates, steps), `facets` (candidates, steps, facets); result (candidates, facets).
    """
    weights = log_time_weights(hours, start_hours, end_hours)
    return np.asarray((weights[:, None] @ odour_strength.soft(facets))[:, 0], float)


def log_time_weights(hours: Array, start_hours: float, end_hours: float) -> Array:
    """Return what each time counts in a mean over log time in a window, (..., steps), by trapezoids."""
    logs = np.log(np.maximum(hours, 1e-6))
    halves = 0.5 * np.diff(np.clip(logs, math.log(start_hours), math.log(end_hours)))
    found = np.zeros(hours.shape)
    found[..., :-1] += halves
    found[..., 1:] += halves
    return np.asarray(found / np.maximum(2.0 * halves.sum(axis=-1, keepdims=True), 1e-12), float)


def as_it_is(base: FormulaFilm, candidates: Candidates) -> SimulatedDoses:
    """Return a formula simulated with next to nothing of the first of some candidates."""
    return candidates.picked(np.zeros(1, np.intp)).in_formula(base, np.array([1e-9]))


def presence_change(before: Array, after: Array, others: npt.NDArray[np.intp] | slice = slice(None)) -> Array:
    """Return how much some facets change, against all that there was of them.

    Parameters
    ----------
    before : ndarray, shape (facets,)
        Soft presence.
    after : ndarray, shape (..., facets)
    others : ndarray of int, optional
        Which facets, all by default; the result is shaped (...,).
    """
    moved = np.abs(after[..., others] - before[others]).sum(axis=-1)
    return np.asarray(moved / max(float(before[others].sum()), 1e-9), float)


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
    candidates: Sequence[Alone],
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
        Each one material alone, a full load.
    wanted : mapping of str -> float
        Facets with their share.
    window : tuple of float
        From when until when they have to be present [h].
    most : ndarray, shape (candidates,), optional
        Mass fraction that limits leave for each; no rung goes above it.
    usual : sequence of UsualUse or None, optional
        Usual use of each, None where none is on record.
    """
    return best_doses_of(base, Candidates.of(candidates), wanted, window, most, usual)


def best_doses_of(
    base: FormulaFilm,
    candidates: Candidates,
    wanted: Mapping[str, float],
    window: tuple[float, float],
    most: Array | None = None,
    usual: Sequence[UsualUse | None] | None = None,
    progress: Progress | None = None,
) -> Gain:
    """Return the best doses, as `best_doses`, of candidates that are side by side."""
    count = len(candidates.facets)
    upper_bound = np.full(count, 1.0) if most is None else most
    uses = [None] * count if usual is None else list(usual)
    grid = grid_for(uses)
    doses = np.minimum(grid, upper_bound)
    plain = as_it_is(base, candidates)
    present = np.zeros((*grid.shape, len(base.facets)))
    for step, shares in enumerate(doses):
        if progress:
            progress(step / len(doses))
        if step:
            present[step] = present[step - 1]
        new = np.flatnonzero(shares != doses[step - 1]) if step else np.arange(count)
        if len(new):
            present[step, new] = candidates.picked(new).present(base, shares[new], window)
    columns = [base.facets.index(facet) for facet in wanted]
    others = np.setdiff1d(np.arange(len(base.facets)), columns)
    reference = soft_presence(plain.hours, plain.facets, *window)[0]
    rungs = _Rungs(base, candidates, window, reference, columns, others)
    return rungs.gain(grid, doses, present, uses, upper_bound)


@dataclass(frozen=True)
class _Rungs:
    """Candidates in a formula and a window; `reference` (facets,) is the presence without them.

    `columns` are the wanted facets, `others` all else.
    """

    base: FormulaFilm
    candidates: Candidates
    window: tuple[float, float]
    reference: Array
    columns: Sequence[int]
    others: Columns

    def _worth(self, present: Array) -> tuple[Array, Array]:
        """Return the presence of the wanted facets, and how much all else changes, both (...,)."""
        change = presence_change(self.reference, present, self.others)
        return present[..., self.columns].max(axis=-1), change

    def gain(
        self, grid: Array, doses: Array, present: Array, uses: Sequence[UsualUse | None], upper_bound: Array
    ) -> Gain:
        """Return the best doses.

        `grid` and `doses` are the rungs before and after `upper_bound`, both (rungs, candidates), `present`
        (rungs, candidates, facets) what is present at them.
        """
        before, (won, moved) = float(self.reference[self.columns].max()), self._worth(present)
        each = np.arange(doses.shape[1])
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
        after = np.where(share > 0, won[chosen, each], before)
        change = np.where(share > 0, moved[chosen, each], 0)
        other = np.flatnonzero((share != doses[chosen, each]) & (share > 0))
        if len(other):
            again = self.candidates.picked(other).present(self.base, share[other], self.window)
            after[other], change[other] = self._worth(again)
        falls_short = after - before - CHANGE_COSTS * change < ENOUGH * value.max(axis=0)
        needed = np.where(wins & (share < best) & falls_short, best, 0.0)
        return Gain(share, before, after, change, out, needed)
