"""The figures of air, nose and paper, and the offsets of materials, that fit the readings best.

Damped Gauss-Newton steps (Levenberg, Marquardt) on the roots of the deviances, from several starts.
"""

import math
from collections.abc import Sequence

import numpy as np

from recommender.calibration.likelihood import SCATTER, Readings
from recommender.evaporation import Array

WIDE = math.log(10.0)
"""Before any reading each figure is known to a factor of ten either way: readings decide."""
STARTS = (0.0, -1.2, 1.2, 2.0)
"""Logs of ratios to the table from which is searched: of all hours that strips last."""
ROUGH = 5.0
"""How many times wider a nose's scatter is taken first, so that strips far from the table pull too."""
_STEPS = 40
_NUDGE = 1e-4
_FIXED = 1e-9


def best(readings: Readings, prior: Array, free: Sequence[int]) -> tuple[Array, Array]:
    """Return the unknowns that fit best, and the standard error of each (logs).

    Parameters
    ----------
    readings : Readings
    prior : ndarray, shape (unknowns,)
        How far each may be off the table, as a standard deviation of its log.
    free : sequence of int
        Which of air, nose and paper are fitted; the others stay as in the table.
    """
    weight = 1.0 / np.where([k > 2 or k in free for k in range(len(prior))], prior, _FIXED)
    found = []
    for start in STARTS:
        first = np.zeros(len(prior))
        first[[0] if 0 in free else slice(3, 3 + readings.materials)] = start if 0 in free else -start
        rough, _ = _descent(readings, weight, first, ROUGH * SCATTER)
        found.append(_descent(readings, weight, rough, SCATTER))
    unknowns, _ = min(found, key=lambda pair: pair[1])
    slopes = _slopes(readings, unknowns, SCATTER)
    covariance = np.linalg.inv(slopes.T @ slopes + np.diag(weight**2))
    return unknowns, np.sqrt(np.diag(covariance))


def _descent(readings: Readings, weight: Array, unknowns: Array, scatter: float) -> tuple[Array, float]:
    misfit = readings.misfit(readings.predicted(unknowns), scatter)
    cost, damping = _cost(misfit, weight, unknowns), 1e-2
    for _ in range(_STEPS):
        slopes = _slopes(readings, unknowns, scatter)
        normal = slopes.T @ slopes + np.diag(weight**2)
        pull = slopes.T @ misfit.ravel() + weight**2 * unknowns
        while damping < 1e8:
            step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), pull)
            proposed = unknowns - np.clip(step, -1.0, 1.0)
            there = readings.misfit(readings.predicted(proposed), scatter)
            now = _cost(there, weight, proposed)
            if now <= cost:
                break
            damping *= 5.0
        else:
            break
        won, unknowns, misfit, cost = cost - now, proposed, there, now
        damping = max(damping / 5.0, 1e-9)
        if won < 1e-7 * (1.0 + cost):
            break
    return unknowns, cost


def _cost(misfit: Array, weight: Array, unknowns: Array) -> float:
    return float((misfit**2).sum() + ((weight * unknowns) ** 2).sum())


def _slopes(readings: Readings, unknowns: Array, scatter: float) -> Array:
    """Return how each misfit moves with each unknown, shape (readings, unknowns).

    A material's own unknowns move its own strips only, so those of all materials are stepped at once.
    """
    count = readings.materials
    misfit = readings.misfit(readings.predicted(unknowns), scatter)
    found = np.zeros((*misfit.shape, len(unknowns)))
    for group in ([0], [1], [2], range(3, 3 + count), range(3 + count, 3 + 2 * count)):
        nudged = unknowns.copy()
        nudged[list(group)] += _NUDGE
        slope = (readings.misfit(readings.predicted(nudged), scatter) - misfit) / _NUDGE
        if len(group) == 1 and group[0] < 3:
            found[:, :, group[0]] = slope
        else:
            for material in range(count):
                found[readings.of == material, :, group[0] + material] = slope[readings.of == material]
    return found.reshape(-1, len(unknowns))
