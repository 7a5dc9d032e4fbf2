"""Evaporation from a smelling strip in closed form, and what a nose makes of it hour by hour.

A film of components evaporates into still air: dn_i/dt = -a_i n_i / N with N = n_inert + sum n_j and
a_i = A k_i P_i / (R T). With ds = dt / N the solution is n_i = n_i0 exp(-a_i s), and
t(s) = n_inert s + sum_j n_j0 (1 - exp(-a_j s)) / a_j, which grows with s and can be inverted.

Arrays are shaped (strips, components) or (strips, times, components); times are seconds unless a name
says hours. All hours are for a strip at 25 C: skin is warmer and shorter.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from recommender import strength, volatility
from recommender.model import Component, Curve, Lasting, Material

Array = npt.NDArray[np.float64]

AREA_M2 = 5e-4
"""Wetted strip, 5 cm2."""
DIP_MG = 20.0
"""Amount on the strip, 4 mg/cm2."""
FILM_M = 2e-3
"""Still air over the strip; 1.5-3 mm fits published blotter hours."""
PAPER_SHARE = 0.075
"""Moles of dip that the paper holds back as if it were an inert liquid (5-10 %)."""
NOSE_L_PER_S = 0.045
"""Air that the nose draws over the strip: it meets about 4 % of saturation."""
CARRIER_MOLAR_MASS = 134.17
"""Dipropylene glycol, in which dilutions are smelled [g/mol]."""
MIXTURE_POWER = 8.0
"""Exponent of the p-norm that adds odours, fitted to panel means of 198 binary mixtures
(Ma, Tang, Thomas-Danguin, Xu 2021, doi 10.15454/51OVY6)."""
SOFT = strength.CLEAR
"""Half point of soft presence S / (S + 6)."""
MINUTE, HOUR = 60.0, 3600.0


def evaporation_rate(pressure_pa: npt.ArrayLike, molar_mass: npt.ArrayLike) -> Array:
    """Return the rate constant a of the film [mol/s]; pressure [Pa], molar mass [g/mol], any shape.

    k = D / film with D = 6.0e-6 (136 / M)^0.64 m2/s: diffusion in air, scaled from a monoterpene.
    """
    diffusivity = 6.0e-6 * (136.0 / np.asarray(molar_mass, float)) ** 0.64
    flow = AREA_M2 * diffusivity / FILM_M * np.asarray(pressure_pa, float)
    return np.asarray(flow / (volatility.GAS_CONSTANT * volatility.ROOM_TEMPERATURE_K), float)


def elapsed(warp: Array, moles: Array, rates: Array, inert: Array) -> Array:
    """Return the seconds t(s); warp (strips, times), moles and rates (strips, components), inert (strips,)."""
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


@dataclass(frozen=True)
class Strips:
    """Strips side by side: arrays (strips, components), `inert` moles (strips,).

    A component without a smell has `i_max` 0.
    """

    moles: Array
    rates: Array
    molar: Array
    inert: Array
    i_max: Array
    half: Array
    width: Array

    def concentrations(self, moles: Array) -> Array:
        """Return what the nose meets of each component [ug/L]; moles (strips, times, components)."""
        total = moles.sum(axis=2) + self.inert[:, None]
        emitted = moles * (self.rates * self.molar)[:, None, :]
        return np.asarray(1e6 * emitted / np.maximum(total, 1e-300)[:, :, None] / NOSE_L_PER_S, float)

    def intensities(self, moles: Array) -> Array:
        """Return the perceived intensity 0-100 of each component, shape (strips, times, components)."""
        curves = (self.i_max[:, None, :], self.half[:, None, :], self.width[:, None, :])
        return strength.logistic(self.concentrations(moles), *curves)

    def at(self, hours: npt.ArrayLike) -> Array:
        """Return the intensity of each component at given hours, shape (strips, times, components)."""
        seconds = np.asarray(hours, float) * HOUR
        return self.intensities(remaining(self.moles, self.rates, self.inert, seconds))


def together(intensities: Array, power: float = MIXTURE_POWER) -> Array:
    """Return the intensity of a mixture from those of its parts along the last axis: their p-norm."""
    top = intensities.max(axis=-1, keepdims=True)
    share = intensities / np.where(top > 0, top, 1.0)
    return np.asarray(top[..., 0] * (share**power).sum(axis=-1) ** (1.0 / power), float)


def strips_of(
    parts: Sequence[Sequence[Component]], dilution: float = 1.0, dissolved: bool = False
) -> Strips:
    """Return strips of 20 mg on 5 cm2.

    Parameters
    ----------
    parts : sequence of sequences of Component
        What each strip holds.
    dilution : float
        Mass fraction in dipropylene glycol; 1 is neat.
    dissolved : bool
        Take neat solids as their subcooled liquid instead of as crystals.
    """
    width = max((len(p) for p in parts), default=1)
    shape = (len(parts), width)
    moles, rates, i_max, half = (np.zeros(shape) for _ in range(4))
    molar, spread = np.ones(shape), np.ones(shape)
    inert = np.full(len(parts), DIP_MG * 1e-3 * (1.0 - dilution) / CARRIER_MOLAR_MASS)
    for row, components in enumerate(parts):
        for column, part in enumerate(components):
            amount = DIP_MG * 1e-3 * dilution * part.mass_fraction / part.molar_mass
            if part.pressure_pa <= 0:
                inert[row] += amount
                continue
            crystals = part.crystal_pa if len(components) == 1 and dilution == 1.0 and not dissolved else None
            moles[row, column], molar[row, column] = amount, part.molar_mass
            rates[row, column] = evaporation_rate(crystals or part.pressure_pa, part.molar_mass)
            if (curve := part.curve) is not None:
                i_max[row, column], half[row, column], spread[row, column] = (
                    curve.i_max, curve.log10_half, curve.width,
                )  # fmt: skip
    inert += PAPER_SHARE * (moles.sum(axis=1) + inert)
    return Strips(moles, rates, molar, inert, i_max, half, spread)


def fresh(parts: Sequence[Component], dilution: float = 1.0) -> Array:
    """Return what the nose meets of each part over a fresh strip [ug/L], shape (parts,)."""
    strip = strips_of([parts], dilution)
    return np.asarray(strip.concentrations(strip.moles[:, None, :])[0, 0], float)


def settle_curve(part: Component, held: Sequence[Curve], strip_intensity: float, basis: str) -> Curve | None:
    """Return the dose-response curve to use for a molecule: the first one held, else one from its class.

    A curve too steep to be right is read with the typical width, and one that leaves the neat material
    below *clear* is moved until it reads just that; both are marked doubtful.

    Parameters
    ----------
    part : Component
        The molecule; its pressure decides what a 1 % strip gives off.
    held : sequence of Curve
        Measured curves before those from thresholds.
    strip_intensity : float
        Intensity 0-100 of a 1 % strip that its class stands for; 0 for no smell.
    basis : str
        What the class rests on.
    """
    best = next(iter(held), None)
    if best is None:
        if strip_intensity <= 0 or part.pressure_pa <= 0:
            return None
        best = strength.curve_from_class(strip_intensity, float(fresh([part], 0.01)[0]), basis)
    if best.width < strength.NARROWEST:
        best = replace(best, width=strength.TYPICAL_WIDTH, doubtful=True)
    neat = float(fresh([part])[0])
    if neat > 0 and float(strength.intensity(neat, best)) < strength.CLEAR:
        top = max(best.i_max, 2 * strength.CLEAR)
        half = math.log10(neat) + best.width * math.log(top / strength.CLEAR - 1.0)
        best = replace(best, i_max=top, log10_half=half, doubtful=True)
    return best


def shift_to_class(parts: Sequence[Component], strip_intensity: float, basis: str) -> list[Component]:
    """Return a natural's parts with their curves moved together, so that a 1 % strip smells as its class says.

    The parts keep their strength against each other; trace odorants that no table names make up the rest.
    """
    smelling = [part for part in parts if part.curve is not None and part.pressure_pa > 0]
    if not smelling or strip_intensity <= 0:
        return [replace(part, curve=None) for part in parts]
    met = fresh(parts, 0.01)
    low, high = -12.0, 12.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        values = [
            float(strength.logistic(np.array(c), part.curve.i_max, part.curve.log10_half + middle, part.curve.width))
            for c, part in zip(met, parts, strict=True)
            if part.curve is not None and part.pressure_pa > 0
        ]
        low, high = (middle, high) if float(together(np.array(values))) > strip_intensity else (low, middle)
    return [
        part
        if part.curve is None
        else replace(
            part,
            curve=replace(
                part.curve, log10_half=part.curve.log10_half + high, kind="class", basis=basis, source="",
                doubtful=False, log_error=0.8,
            ),
        )
        for part in parts
    ]  # fmt: skip


def neat_strips(materials: Sequence[Material], dissolved: bool = False) -> Strips:
    """Return one neat strip a material; `dissolved` takes solids as their liquid."""
    return strips_of([m.parts for m in materials], dissolved=dissolved)


def strengths(materials: Sequence[Material]) -> list[float | None]:
    """Return the intensity 0-100 of each material at 1 % on a strip after one minute, None where unknown."""
    found = together(strips_of([m.parts for m in materials], 0.01).at([1 / 60]))[:, 0]
    return [float(value) if m.curve is not None else None for m, value in zip(materials, found, strict=True)]


_GRID_H = np.geomspace(1 / 60, 24 * 365 * 20, 200)
"""Hours at which whole lives are looked at: a minute to twenty years."""


def _last_hours(values: Array, level: npt.ArrayLike) -> Array:
    """Return the last hour at which each row is at a level or above, interpolated in log time."""
    target = np.broadcast_to(np.asarray(level, float), (len(values),))
    logs = np.log(_GRID_H)
    hours = np.zeros(len(values))
    for row, (line, wanted) in enumerate(zip(values, target, strict=True)):
        above = np.flatnonzero(line >= wanted)
        if not len(above):
            continue
        last = above[-1]
        if last == len(line) - 1:
            hours[row] = _GRID_H[-1]
            continue
        share = (line[last] - wanted) / (line[last] - line[last + 1])
        hours[row] = math.exp(logs[last] + share * (logs[last + 1] - logs[last]))
    return hours


def evaporation_hours(materials: Sequence[Material]) -> Array:
    """Return the hours until three quarters of the volatile part of a neat strip have left.

    By evaporation alone, as the position (top, heart, base) is: odour strength does not enter.
    """
    strips = neat_strips(materials)
    left = remaining(strips.moles, strips.rates, strips.inert, _GRID_H * HOUR)
    mass = (left * strips.molar[:, None, :]).sum(axis=2)
    start = (strips.moles * strips.molar).sum(axis=1)
    return _last_hours(mass, 0.25 * start)


def position(hours: float, top_until: float, heart_until: float) -> str:
    """Return top, heart or base for the hours that a neat strip takes to evaporate."""
    if hours < top_until:
        return "top"
    return "heart" if hours < heart_until else "base"


def lasting(
    materials: Sequence[Material], top_until: float, heart_until: float, level: float = strength.JUST_THERE
) -> list[Lasting | None]:
    """Return how long the whole smell of each neat material stays on a strip.

    Parameters
    ----------
    materials : sequence of Material
    top_until, heart_until : float
        Borders of the positions in hours of evaporation.
    level : float
        The intensity 0-100 at which a smell counts as gone.

    Returns
    -------
    list of Lasting or None
        None where pressure or strength is unknown. The band is the pressure's uncertainty, at least a
        factor 2.2; for solids it also spans crystals and dissolved film.
    """
    ends = []
    for dissolved in (False, True):
        strips = neat_strips(materials, dissolved)
        left = remaining(strips.moles, strips.rates, strips.inert, _GRID_H * HOUR)
        ends.append(_last_hours(together(strips.intensities(left)), level))
    evaporation = evaporation_hours(materials)
    found: list[Lasting | None] = []
    for material, crystal, film, gone in zip(materials, *ends, evaporation, strict=True):
        if not any(part.pressure_pa > 0 for part in material.parts) or crystal <= 0:
            found.append(None)
            continue
        factor = volatility.duration_factor(material.parts)
        basis = max((p.basis for p in material.parts), key=_WEAKNESS.index)
        low, high = min(crystal, film) / factor, max(crystal, film) * factor
        place = position(float(gone), top_until, heart_until)
        found.append(Lasting(float(crystal), float(low), float(high), place, basis))
    return found


_WEAKNESS = ["measured", "published", "common practice", "estimated", "memory"]


def presence(
    strips: Strips, weights: npt.ArrayLike, carriers: npt.ArrayLike, start_hours: float, end_hours: float
) -> Array:
    """Return the soft presence of a facet over a window, 0-1 for each strip.

    S / (S + 6) with S = weight x intensity of the parts that carry the facet, averaged over log time
    between the two hours.

    Parameters
    ----------
    strips : Strips
    weights : array_like, shape (strips,)
        Weight of the facet in each material, 0-1.
    carriers : array_like, shape (strips, components)
        How far each part carries the facet, 0-1.
    start_hours, end_hours : float
        The window [h].
    """
    hours = np.geomspace(start_hours, end_hours, 16)
    carried = strips.at(hours) * np.asarray(carriers, float)[:, None, :]
    facet = np.asarray(weights, float)[:, None] * together(carried)
    return np.asarray((facet / (facet + SOFT)).mean(axis=1), float)
