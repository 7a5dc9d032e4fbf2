"""Smelling strips: what is on them, what the nose meets, how strong it smells."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from recommender.chemistry import odour_strength as strength
from recommender.evaporation.conditions import DEFAULT_CONDITIONS, NOSE_L_PER_S, Conditions
from recommender.evaporation.film import Array, elapsed, evaporation_rate, remaining
from recommender.model import Component, Curve, Material

DIP_MG = 20.0
"""Amount on the strip, 4 mg/cm2."""
CARRIER_MOLAR_MASS = 134.17
"""Dipropylene glycol, in which dilutions are smelled [g/mol]."""
MIXTURE_POWER = 8.0
"""Exponent of the p-norm that adds odours, fitted to panel means of 198 binary mixtures
(Ma, Tang, Thomas-Danguin, Xu 2021, doi 10.15454/51OVY6)."""
AT_ODDS = {"curve": 3.0, "threshold": 2.5, "class": 1.5}
"""By what a curve rests on: one that makes a strip more times weaker or stronger than its class says is moved
to that bound and marked doubtful: the pressure that it is read with, or the curve itself, must be off. Single
thresholds scatter more than curves and are bounded more tightly."""
MINUTE, HOUR = 60.0, 3600.0


@dataclass(frozen=True)
class StripSet:
    """StripSet side by side: arrays (strips, components), `inert` moles (strips,).

    A component without a smell has `i_max` 0.
    """

    moles: Array
    rates: Array
    molar: Array
    inert: Array
    i_max: Array
    half: Array
    width: Array
    nose_l_per_s: float = NOSE_L_PER_S

    def concentrations(self, moles: Array) -> Array:
        """Return what the nose meets of each component [ug/L]; moles (strips, times, components)."""
        total = moles.sum(axis=2) + self.inert[:, None]
        emitted = moles * (self.rates * self.molar)[:, None, :]
        return np.asarray(1e6 * emitted / np.maximum(total, 1e-300)[:, :, None] / self.nose_l_per_s, float)

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
    parts: Sequence[Sequence[Component]],
    dilution: float = 1.0,
    dissolved: bool = False,
    conditions: Conditions = DEFAULT_CONDITIONS,
) -> StripSet:
    """Return strips of 20 mg on 5 cm2.

    Parameters
    ----------
    parts : sequence of sequences of Component
        What each strip holds.
    dilution : float
        Mass fraction in dipropylene glycol; 1 is neat.
    dissolved : bool
        Take neat solids as their subcooled liquid instead of as crystals.
    conditions : Conditions
        The strip's air, paper, nose and room.
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
            rates[row, column] = evaporation_rate(crystals or part.pressure_pa, part.molar_mass, conditions)
            if (curve := part.curve) is not None:
                i_max[row, column], half[row, column], spread[row, column] = (
                    curve.i_max,
                    curve.log10_half,
                    curve.width,
                )
    inert += conditions.paper_share * (moles.sum(axis=1) + inert)
    return StripSet(moles, rates, molar, inert, i_max, half, spread, conditions.nose_l_per_s)


def first_smelled(strips: StripSet) -> Array:
    """Return the moles left when a strip is first smelled, shape (strips, 1, components).

    That is after one minute, or when half of its most volatile part has gone if that is sooner: what has
    left the paper within seconds is judged while it is there.
    """
    quickest = np.maximum(strips.rates.max(axis=1), 1e-300)
    warp = (math.log(2.0) / quickest)[:, None]
    half_gone = elapsed(warp, strips.moles, strips.rates, strips.inert)
    return remaining(strips.moles, strips.rates, strips.inert, np.minimum(half_gone, MINUTE))


def first_met(parts: Sequence[Component], dilution: float) -> Array:
    """Return what the nose meets of each part when a strip is first smelled [ug/L], shape (parts,)."""
    strip = strips_of([parts], dilution)
    return np.asarray(strip.concentrations(first_smelled(strip))[0, 0], float)


def first_strength(parts: Sequence[Component], dilution: float) -> float:
    """Return the intensity 0-100 of a strip when it is first smelled, a mixture's parts together."""
    strip = strips_of([parts], dilution)
    return float(together(strip.intensities(first_smelled(strip)))[0, 0])


def fresh(parts: Sequence[Component], dilution: float = 1.0) -> Array:
    """Return what the nose meets of each part over a fresh strip [ug/L], shape (parts,)."""
    strip = strips_of([parts], dilution)
    return np.asarray(strip.concentrations(strip.moles[:, None, :])[0, 0], float)


def settle_curve(
    part: Component, on_record: Sequence[Curve], grade: tuple[float, float], basis: str
) -> Curve | None:
    """Return the dose-response curve to use for a molecule: the first one on record, else one from its class.

    A curve too steep to be right is read with the typical width, and one that leaves the neat material
    below *clear* is moved until it reads just that; one that contradicts the class by more than `AT_ODDS` is
    moved to that bound. All three are marked doubtful.

    Parameters
    ----------
    part : Component
        The molecule; its pressure decides what a 1 % strip gives off.
    on_record : sequence of Curve
        Measured curves before those from thresholds.
    grade : pair of float
        Dilution and intensity 0-100 of its strip that the class stands for; intensity 0 for no smell.
    basis : str
        What the class rests on.
    """
    dilution, strip_intensity = grade
    best = next(iter(on_record), None)
    if best is None:
        if strip_intensity <= 0 or part.pressure_pa <= 0:
            return None
        best = strength.curve_from_class(strip_intensity, float(first_met([part], dilution)[0]), basis)
    if best.width < strength.NARROWEST:
        best = replace(best, width=strength.TYPICAL_WIDTH, doubtful=True)
    neat = float(fresh([part])[0])
    if neat > 0 and float(strength.intensity(neat, best)) < strength.CLEAR:
        top = max(best.i_max, 2 * strength.CLEAR)
        half = math.log10(neat) + best.width * math.log(top / strength.CLEAR - 1.0)
        best = replace(best, i_max=top, log10_half=half, doubtful=True)
    if strip_intensity > 0 and part.pressure_pa > 0:
        best = _within_class(best, float(first_met([part], dilution)[0]), strip_intensity)
    return best


def _within_class(curve: Curve, met: float, strip_intensity: float) -> Curve:
    """Return a curve that keeps a strip within `AT_ODDS` of what its class says."""
    odds = AT_ODDS[curve.kind]
    strip = float(strength.intensity(met, curve))
    bound = float(np.clip(strip, strip_intensity / odds, min(strip_intensity * odds, 0.95 * curve.i_max)))
    if math.isclose(bound, strip, rel_tol=1e-9) or bound >= curve.i_max:
        return curve
    half = math.log10(met) + curve.width * math.log(curve.i_max / bound - 1.0)
    return replace(curve, log10_half=half, doubtful=True)


def shift_to_class(parts: Sequence[Component], grade: tuple[float, float], basis: str) -> list[Component]:
    """Return a natural's parts, their curves moved together until a strip smells as its class says.

    The parts keep their strength against each other; trace odorants that no table names make up the rest.
    """
    dilution, strip_intensity = grade
    smelling = [part for part in parts if part.curve is not None and part.pressure_pa > 0]
    if not smelling or strip_intensity <= 0:
        return [replace(part, curve=None) for part in parts]
    met = first_met(parts, dilution)
    low, high = -12.0, 12.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        values = [
            float(
                strength.logistic(
                    np.array(c), part.curve.i_max, part.curve.log10_half + middle, part.curve.width
                )
            )
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
                part.curve,
                log10_half=part.curve.log10_half + high,
                kind="class",
                basis=basis,
                source="",
                doubtful=False,
                log_error=0.8,
            ),
        )
        for part in parts
    ]


def parts_of(material: Material, conditions: Conditions) -> tuple[Component, ...]:
    """Return the parts of a material, moved where the person's own strips of it read otherwise."""
    own = conditions.own.get(material.slug)
    if own is None:
        return material.parts
    return tuple(
        replace(
            part,
            pressure_pa=part.pressure_pa * own.faster,
            crystal_pa=part.crystal_pa and part.crystal_pa * own.faster,
            curve=part.curve
            and replace(part.curve, log10_half=part.curve.log10_half - math.log10(own.stronger)),
        )
        for part in material.parts
    )


def neat_strips(
    materials: Sequence[Material], dissolved: bool = False, conditions: Conditions = DEFAULT_CONDITIONS
) -> StripSet:
    """Return one neat strip a material; `dissolved` takes solids as their liquid."""
    return strips_of([parts_of(m, conditions) for m in materials], dissolved=dissolved, conditions=conditions)


def strengths(materials: Sequence[Material], dilution: float = 0.01) -> list[float | None]:
    """Return the intensity 0-100 of each material, diluted, on a strip first smelled, None where unknown."""
    strips = strips_of([m.parts for m in materials], dilution)
    found = together(strips.intensities(first_smelled(strips)))[:, 0]
    return [float(value) if m.curve is not None else None for m, value in zip(materials, found, strict=True)]
