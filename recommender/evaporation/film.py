"""Evaporation of a film into still air, in closed form.

dn_i/dt = -c_i n_i / N with N = n_inert + sum n_j. The rate constant c_i is that of evaporation,
A k_i P_i / (R T), and of whatever else takes the component up. With ds = dt / N the solution is
n_i = n_i0 exp(-c_i s), and t(s) = n_inert s + sum_j n_j0 (1 - exp(-c_j s)) / c_j, which grows with the warp s
and can be inverted.

Arrays are shaped (..., components) at the start and (..., times, components) after it: one film, or several
side by side.
"""

import math

import numpy as np
import numpy.typing as npt

from recommender.chemistry import vapour_pressure
from recommender.evaporation.conditions import (
    DEFAULT_CONDITIONS,
    VAPORISATION_J_PER_MOL,
    Conditions,
    pressure_factor,
)

DIFFUSIVITY_M2_PER_S, DIFFUSING_MOLAR_MASS = 6.0e-6, 136.0
"""Diffusion in air of a monoterpene; others go as molar mass to the power -0.64."""
Array = npt.NDArray[np.float64]


def evaporation_rate(
    pressure_pa: npt.ArrayLike,
    molar_mass: npt.ArrayLike,
    conditions: Conditions = DEFAULT_CONDITIONS,
    vaporisation_j_per_mol: npt.ArrayLike = VAPORISATION_J_PER_MOL,
) -> Array:
    """Return the rate constant of evaporation [mol/s], any shape.

    k = D / film with D = 6.0e-6 (136 / M)^0.64 m2/s: diffusion in air, scaled from a monoterpene; where the
    air moves, k goes as a lower power of D.

    Parameters
    ----------
    pressure_pa : array_like
        At 25 C [Pa].
    molar_mass : array_like
        [g/mol].
    conditions : Conditions
        Area, air and temperature.
    vaporisation_j_per_mol : array_like
        Heat by which the pressure follows the temperature [J/mol].
    """
    faster = (DIFFUSING_MOLAR_MASS / np.asarray(molar_mass, float)) ** (0.64 * conditions.diffusion_power)
    pressure = np.asarray(pressure_pa, float) * pressure_factor(
        conditions.temperature_c, vaporisation_j_per_mol
    )
    flow = conditions.area_m2 * DIFFUSIVITY_M2_PER_S * faster / conditions.film_m * pressure
    return np.asarray(flow / (vapour_pressure.GAS_CONSTANT * conditions.temperature_k), float)


def uptake_rate(
    log_p: npt.ArrayLike, molar_mass: npt.ArrayLike, conditions: Conditions = DEFAULT_CONDITIONS
) -> Array:
    """Return the rate constant with which a surface takes up what lies on it [mol/s], any shape.

    That of skin is its permeability times solubility in water, both from log P and molar mass [g/mol].

    References
    ----------
    Permeability: Potts, Guy, Pharm. Res. 9 (1992) 663, log10 Kp = -2.74 + 0.71 log P - 0.0061 M [cm/h].
    Solubility of a liquid: Jain, Yalkowsky, J. Pharm. Sci. 90 (2001) 234, log10 S = 0.5 - log P [mol/L], at
    most what a litre of it holds.
    """
    log_p, mass = np.asarray(log_p, float), np.asarray(molar_mass, float)
    cm_per_hour = 10.0 ** (-2.74 + 0.71 * log_p - 0.0061 * mass)
    mol_per_litre = np.minimum(10.0 ** (0.5 - log_p), 1000.0 / mass)
    per_m2 = cm_per_hour * 1e-2 / 3600.0 * mol_per_litre * 1e3
    return np.asarray(conditions.uptake * conditions.area_m2 * per_m2, float)


def left_at(warp: Array, moles: Array, rates: Array) -> Array:
    """Return the moles left, shape (..., times, components), at a warp shaped (..., times)."""
    return np.asarray(moles[..., None, :] * np.exp(-rates[..., None, :] * warp[..., None]), float)


def elapsed(warp: Array, moles: Array, rates: Array, inert: Array) -> Array:
    """Return the seconds t(s), shape (..., times), at a warp of that shape.

    `moles` and `rates` are shaped (..., components), `inert` (...,).
    """
    fixed = rates == 0
    gone = -np.expm1(-rates[..., None, :] * warp[..., None]) / np.where(fixed, 1.0, rates)[..., None, :]
    if (moles * fixed).any():
        gone = np.where(fixed[..., None, :], warp[..., None], gone)
    return np.asarray(inert[..., None] * warp + (moles[..., None, :] * gone).sum(axis=-1), float)


def remaining(
    moles: npt.ArrayLike, rates: npt.ArrayLike, inert: npt.ArrayLike, seconds: npt.ArrayLike
) -> Array:
    """Return the moles left in each film at each time.

    Parameters
    ----------
    moles, rates : array_like, shape (..., components)
        Amount at the start [mol] and rate constant of its loss [mol/s].
    inert : array_like, shape (...,)
        Involatile moles that dilute the rest (paper, resin) [mol].
    seconds : array_like, shape (times,) or (..., times)
        Times [s].

    Returns
    -------
    ndarray, shape (..., times, components)
        Moles left.
    """
    return left_at(warp_at(moles, rates, inert, seconds), np.asarray(moles, float), np.asarray(rates, float))


def warp_at(
    moles: npt.ArrayLike, rates: npt.ArrayLike, inert: npt.ArrayLike, seconds: npt.ArrayLike
) -> Array:
    """Return the warp, shape (..., times), that stands for so many seconds; arguments as `remaining`.

    Newton's steps from s = 0 never overshoot, since t(s) is concave.
    """
    start, rate, fixed = (np.asarray(values, float) for values in (moles, rates, inert))
    time = np.asarray(seconds, float)
    time = np.broadcast_to(time, (*start.shape[:-1], time.shape[-1]))
    warp = np.zeros_like(time)
    whole = start.sum(axis=-1)[..., None]
    floor = whole * 1e-30 + 1e-300
    # moles left may be what is not gone where they are few beside what stays for good
    quickly = bool((fixed[..., None] > 1e-3 * whole).all() and (rate > 0).all())
    slowness = start / np.where(rate > 0, rate, 1.0)
    for _ in range(400):
        if quickly:
            gone = -np.expm1(-rate[..., None, :] * warp[..., None])
            total = fixed[..., None] + whole - (gone @ start[..., None])[..., 0]
            passed = fixed[..., None] * warp + (gone @ slowness[..., None])[..., 0]
        else:
            total = fixed[..., None] + left_at(warp, start, rate).sum(axis=-1)
            passed = elapsed(warp, start, rate, fixed)
        step = (time - passed) / np.maximum(total, floor)
        warp = warp + np.maximum(step, 0.0)
        if np.all(step <= 1e-13 * warp + 1e-300):
            break
    return np.asarray(warp, float)


def last_hours(hours: Array, lines: Array, level: npt.ArrayLike) -> Array:
    """Return the last hour at which each line is at its level or above, NaN where it never is, (lines,).

    Between two hours it is interpolated in log time. `hours` are shaped (times,) or (lines, times), `lines`
    (lines, times), `level` is one or (lines,).
    """
    times = np.broadcast_to(hours, lines.shape)
    needed = np.broadcast_to(np.asarray(level, float), lines.shape[:1])
    above = lines >= needed[:, None]
    end = lines.shape[1] - 1
    last = end - above[:, ::-1].argmax(axis=1)
    rows, after = np.arange(len(lines)), np.minimum(last + 1, end)
    here, there, hour = lines[rows, last], lines[rows, after], times[rows, last]
    share = (here - needed) / np.where(last < end, here - there, 1.0)
    found = np.exp(np.log(hour) + share * np.log(times[rows, after] / hour))
    return np.where(above.any(axis=1), np.where(last < end, found, hour), np.nan)


def last_above(hours: Array, line: Array, level: float) -> float | None:
    """Return the last hour at which a line is at a level or above, None if it never is; see `last_hours`."""
    found = float(last_hours(hours, line[None], level)[0])
    return None if math.isnan(found) else found
