"""Evaporation of a film into still air, in closed form.

dn_i/dt = -a_i n_i / N with N = n_inert + sum n_j and a_i = A k_i P_i / (R T). With ds = dt / N the solution
is n_i = n_i0 exp(-a_i s), and t(s) = n_inert s + sum_j n_j0 (1 - exp(-a_j s)) / a_j, which grows with s and
can be inverted. Arrays are shaped (strips, components) or (strips, times, components).
"""

import numpy as np
import numpy.typing as npt

from recommender.chemistry import vapour_pressure
from recommender.evaporation.conditions import DEFAULT_CONDITIONS, Conditions

Array = npt.NDArray[np.float64]

AREA_M2 = 5e-4
"""Wetted strip, 5 cm2."""


def evaporation_rate(
    pressure_pa: npt.ArrayLike, molar_mass: npt.ArrayLike, conditions: Conditions = DEFAULT_CONDITIONS
) -> Array:
    """Return the rate constant a of the film [mol/s]; pressure at 25 C [Pa], molar mass [g/mol], any shape.

    k = D / film with D = 6.0e-6 (136 / M)^0.64 m2/s: diffusion in air, scaled from a monoterpene.
    """
    diffusivity = 6.0e-6 * (136.0 / np.asarray(molar_mass, float)) ** 0.64
    pressure = np.asarray(pressure_pa, float) * conditions.pressure_factor
    flow = AREA_M2 * diffusivity / conditions.film_m * pressure
    return np.asarray(flow / (vapour_pressure.GAS_CONSTANT * vapour_pressure.ROOM_TEMPERATURE_K), float)


def elapsed(warp: Array, moles: Array, rates: Array, inert: Array) -> Array:
    """Return the seconds t(s), shape (strips, times).

    `warp` is shaped (strips, times), `moles` and `rates` (strips, components), `inert` (strips,).
    """
    product = rates[:, None, :] * warp[:, :, None]
    safe = np.where(rates > 0, rates, 1.0)[:, None, :]
    lost = np.where(rates[:, None, :] > 0, -np.expm1(-product) / safe, warp[:, :, None])
    return np.asarray(inert[:, None] * warp + (moles[:, None, :] * lost).sum(axis=2), float)


def remaining(
    moles: npt.ArrayLike, rates: npt.ArrayLike, inert: npt.ArrayLike, seconds: npt.ArrayLike
) -> Array:
    """Return the moles left on each strip at each time.

    Parameters
    ----------
    moles, rates : array_like, shape (strips, components)
        Amount at the start [mol] and evaporation rate constant [mol/s].
    inert : array_like, shape (strips,)
        Involatile moles that dilute the rest (paper, resin) [mol].
    seconds : array_like, shape (times,) or (strips, times)
        Times [s].

    Returns
    -------
    ndarray, shape (strips, times, components)
        Moles left. Newton's steps from s = 0 never overshoot, since t(s) is concave.
    """
    start, rate = np.atleast_2d(np.asarray(moles, float)), np.atleast_2d(np.asarray(rates, float))
    dead = np.atleast_1d(np.asarray(inert, float))
    time = np.asarray(seconds, float)
    time = np.broadcast_to(time, (len(start), time.shape[-1]))
    warp = np.zeros_like(time)
    floor = start.sum(axis=1)[:, None] * 1e-30 + 1e-300
    for _ in range(400):
        left = (start[:, None, :] * np.exp(-rate[:, None, :] * warp[:, :, None])).sum(axis=2)
        step = (time - elapsed(warp, start, rate, dead)) / np.maximum(dead[:, None] + left, floor)
        warp = warp + np.maximum(step, 0.0)
        if np.all(step <= 1e-13 * warp + 1e-300):
            break
    return np.asarray(start[:, None, :] * np.exp(-rate[:, None, :] * warp[:, :, None]), float)


def last_above(hours: Array, line: Array, level: float) -> float | None:
    """Return the last hour at which a line is at a level or above, interpolated in log time."""
    above = np.flatnonzero(line >= level)
    if not len(above):
        return None
    last = above[-1]
    if last == len(line) - 1:
        return float(hours[-1])
    share = (line[last] - level) / (line[last] - line[last + 1])
    return float(np.exp(np.log(hours[last]) + share * np.log(hours[last + 1] / hours[last])))
