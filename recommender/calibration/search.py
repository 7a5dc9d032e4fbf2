"""The figures of air, nose and paper, and the offsets of materials, that fit the readings best."""

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from recommender.calibration.likelihood import SCATTER, Readings
from recommender.evaporation import Array
from recommender.progress import Progress

WIDE = math.log(10.0)
"""Before any reading each figure is known to a factor of ten either way: readings decide."""
STARTS = (0.0, -1.2, 1.2, 2.0)
"""Logs of ratios to the table from which is searched: of all hours that strips last."""
ROUGH = 5.0
"""How many times wider a nose's scatter is taken first, so that strips far from the table pull too."""
_ROUGH_TOLERANCE = 1e-4


def best(
    readings: Readings, prior: Array, free: Sequence[int], progress: Progress | None = None
) -> tuple[Array, Array]:
    """Return the unknowns that fit best, and the standard error of each (logs).

    Parameters
    ----------
    readings : Readings
    prior : ndarray, shape (unknowns,)
        How far each may be off the table, as a standard deviation of its log.
    free : sequence of int
        Which of air, nose and paper are fitted; the others stay as in the table, with an error of 0.
    progress : callable, optional
        Is given the share of the work that is done, 0-1.

    References
    ----------
    Branch, Coleman, Li, SIAM J. Sci. Comput. 21 (1999) 1-23, as in `scipy.optimize.least_squares`.
    """
    from scipy.optimize import least_squares

    fitted = np.array([*free, *range(3, len(prior))])

    def all_of(values: Array) -> Array:
        unknowns = np.zeros(len(prior))
        unknowns[fitted] = values
        return unknowns

    def misfit(values: Array, scatter: float) -> Array:
        off = readings.misfit(readings.predicted(all_of(values)), scatter)
        return np.concatenate([off.ravel(), values / prior[fitted]])

    sparsity = np.vstack([_moves(readings)[:, fitted], np.eye(len(fitted), dtype=np.bool_)])
    found = []
    for number, start in enumerate(STARTS):
        if progress:
            progress(number / len(STARTS))
        first = np.zeros(len(prior))
        first[[0] if 0 in free else slice(3, 3 + readings.materials)] = start if 0 in free else -start
        rough = least_squares(
            misfit, first[fitted], jac_sparsity=sparsity, ftol=_ROUGH_TOLERANCE, args=(ROUGH * SCATTER,)
        )
        found.append(least_squares(misfit, rough.x, jac_sparsity=sparsity, args=(SCATTER,)))
    least = min(found, key=lambda result: float(result.cost))
    slopes = least.jac.toarray()
    return all_of(least.x), all_of(np.sqrt(np.diag(np.linalg.inv(slopes.T @ slopes))))


def _moves(readings: Readings) -> npt.NDArray[np.bool_]:
    """Return which unknown moves which reading, shape (readings, unknowns): a material's own only its own."""
    own = np.repeat(readings.of, readings.hours.shape[1])[:, None] == np.arange(readings.materials)
    return np.hstack([np.ones((len(own), 3), np.bool_), own, own])
