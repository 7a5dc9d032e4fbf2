"""What is on a surface: the moles left of it, what the nose meets, how strong it smells."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple, Self

import numpy as np
import numpy.typing as npt

from recommender.chemistry import odour_strength as strength
from recommender.evaporation.conditions import DEFAULT_CONDITIONS, VAPORISATION_J_PER_MOL, Conditions
from recommender.evaporation.film import (
    Array,
    elapsed,
    evaporation_rate,
    left_at,
    remaining,
    uptake_rate,
    warp_at,
)
from recommender.model import Component, Curve, Material

CARRIER = Component("dipropylene-glycol", 1.0, 2.75, 134.17, log_p=-0.2354, vaporisation_j_per_mol=72e3)
"""Dipropylene glycol, in which dilutions are smelled; its figures are those of the tables, rounded."""
MIXTURE_POWER = 8.0
"""Exponent of the p-norm that adds odours, fitted to panel means of 198 binary mixtures
(Ma, Tang, Thomas-Danguin, Xu 2021, doi 10.15454/51OVY6)."""
LOG_P = 2.5
"""Octanol against water of a typical material, where its own is unknown; the middle of the tables."""
MINUTE, HOUR = 60.0, 3600.0
_BLANK = {
    "moles": 0.0,
    "rates": 0.0,
    "sinks": 0.0,
    "molar_mass": 1.0,
    "i_max": 0.0,
    "log10_half": 0.0,
    "width": 1.0,
}
"""Values of an array where there is no component."""
_LEAST = 1e-300
"""Replaces zero before a logarithm or a division."""
_HALVINGS = 32
"""Steps in which curves are moved, from 12 decades either way to below 1e-8."""


@dataclass(frozen=True)
class SurfaceState:
    """What has been put on a surface: arrays (components,), or (surfaces, components) for several.

    A method's `moles` are shaped (..., times, components).

    Attributes
    ----------
    moles : ndarray, shape (..., components)
        Amounts at the start [mol].
    rates : ndarray, shape (..., components)
        Rate constants of evaporation [mol/s].
    sinks : ndarray, shape (..., components)
        Rate constants of what the surface itself takes up [mol/s]; it has left but is not smelled.
    molar_mass : ndarray, shape (..., components)
        [g/mol].
    i_max, log10_half, width : ndarray, shape (..., components)
        Dose-response curves, see `Curve`; a component without a smell has `i_max` 0.
    inert : ndarray, shape (...,)
        Involatile moles that dilute the rest [mol].
    nose_l_per_s : float
        Air that the nose draws over the surface [L/s].
    """

    moles: Array
    rates: Array
    sinks: Array
    molar_mass: Array
    i_max: Array
    log10_half: Array
    width: Array
    inert: Array
    nose_l_per_s: float

    @property
    def losses(self) -> Array:
        """How fast each component leaves, into the air or into the surface: rate constants [mol/s]."""
        return self.rates + self.sinks

    def left(self, hours: npt.ArrayLike) -> Array:
        """Return the moles left at some hours, shape (..., times, components)."""
        return remaining(self.moles, self.losses, self.inert, np.asarray(hours, float) * HOUR)

    def warp(self, hours: npt.ArrayLike) -> Array:
        """Return the warp of the time at some hours, shape (..., times); see `film`."""
        return warp_at(self.moles, self.losses, self.inert, np.asarray(hours, float) * HOUR)

    def left_at(self, warp: Array) -> Array:
        """Return the moles left at a warp of the time, shape (..., times, components); see `film`."""
        return left_at(warp, self.moles, self.losses)

    def elapsed(self, warp: Array) -> Array:
        """Return the seconds at a warp of the time, shape (..., times); see `film`."""
        return elapsed(warp, self.moles, self.losses, self.inert)

    def total(self, moles: Array) -> Array:
        """Return all moles that are there with so many left of the components, shape (..., times)."""
        return np.asarray(moles.sum(axis=-1) + self.inert[..., None], float)

    def concentrations(self, moles: Array) -> Array:
        """Return what the nose meets of each component [ug/L]."""
        return np.asarray(self._emission(moles) * self._in_air(self.total(moles))[..., None], float)

    def intensities(self, moles: Array, total: Array | None = None) -> Array:
        """Return the perceived intensity 0-100 of each component.

        `total`, shape (..., times), are the moles of the whole of which these are a part, by default these
        alone. It may have more axes in front, for the same part in several wholes: the result has them too.
        """
        width = self.width[..., None, :]
        emitted = np.log10(np.maximum(self._emission(moles), _LEAST))
        below = np.log10(self._in_air(self.total(moles) if total is None else total))[..., None] / -width
        below += (self.log10_half[..., None, :] - emitted) / width
        return strength.level_below_half(below, self.i_max[..., None, :])

    def at(self, hours: npt.ArrayLike) -> Array:
        """Return the intensity of each component at some hours, shape (..., times, components)."""
        return self.intensities(self.left(hours))

    def first_smelled(self) -> Array:
        """Return the moles left when a surface is first smelled, shape (..., 1, components).

        That is after one minute, or when half of its most volatile part has gone if that is sooner: what
        leaves within seconds is judged while it is there.
        """
        quickest = np.maximum(self.losses.max(axis=-1), _LEAST)
        half_gone = self.elapsed((math.log(2.0) / quickest)[..., None])
        return self.left(np.minimum(half_gone, MINUTE) / HOUR)

    def mixed_with(self, other: Self, share: float) -> Self:
        """Return this surface with another's components added; they make up `share` of the whole mass.

        Both stand alone, with the same load.
        """
        joined: dict[str, Any] = {
            name: np.concatenate([getattr(self, name), getattr(other, name)]) for name in _BLANK
        }
        moles = np.concatenate([self.moles * (1.0 - share), other.moles * share])
        joined["inert"] = self.inert * (1.0 - share) + other.inert * share
        return replace(self, **joined | {"moles": moles})

    def rows(self, places: npt.NDArray[np.intp]) -> "SurfaceState":
        """Return some of several surfaces, one perhaps several times."""
        picked: dict[str, Any] = {name: getattr(self, name)[places] for name in (*_BLANK, "inert")}
        return SurfaceState(**picked, nose_l_per_s=self.nose_l_per_s)

    def alone(self, row: int) -> "SurfaceState":
        """Return one of several surfaces, what evaporates from it only: arrays (components,)."""
        volatile = self.rates[row] > 0
        picked: dict[str, Any] = {
            name: values[row] if values.ndim == 1 else values[row, volatile]
            for name, values in vars(self).items()
            if isinstance(values, np.ndarray)
        }
        return SurfaceState(**picked, nose_l_per_s=self.nose_l_per_s)

    def _emission(self, moles: Array) -> Array:
        """Return what each component gives off, times all moles that are there [g mol/s]."""
        return moles * (self.rates * self.molar_mass)[..., None, :]

    def _in_air(self, total: Array) -> Array:
        """Return what the nose meets of an emission of 1 g mol/s [ug/L]."""
        return 1e6 / np.maximum(total, _LEAST) / self.nose_l_per_s


def together(intensities: Array, power: float = MIXTURE_POWER) -> Array:
    """Return the intensity of a mixture from those of its parts along the last axis: their p-norm."""
    top = intensities.max(axis=-1, keepdims=True)
    share = intensities / np.where(top > 0, top, 1.0)
    return np.asarray(top[..., 0] * (share**power).sum(axis=-1) ** (1.0 / power), float)


def eighth_power(values: Array) -> Array:
    """Return values to the power of the mixture norm, 8, by squaring: intensities become what adds up."""
    squared = values * values
    squared *= squared
    squared *= squared
    return squared


def eighth_root(values: Array) -> Array:
    """Return the intensity of odours from the sum of their eighth powers."""
    return np.asarray(np.sqrt(np.sqrt(np.sqrt(values))), float)


class Portion(NamedTuple):
    """A component as a mass fraction of what is put on a surface; `crystals` if it stays solid there."""

    component: Component
    mass_fraction: float
    crystals: bool = False


def fresh_state(
    portions: Sequence[Sequence[Portion]],
    involatile: float = 0.0,
    conditions: Conditions = DEFAULT_CONDITIONS,
) -> SurfaceState:
    """Return surfaces on which something has just been put, side by side: arrays (surfaces, components).

    Parameters
    ----------
    portions : sequence of sequences of Portion
        What is on each surface; one without a pressure counts as involatile, and keeps its column.
    involatile : float
        Further involatile moles on each, of solvent or resin [mol].
    conditions : Conditions
        The surface: area, load, air, what it retains and takes up, nose and room.
    """
    shape = len(portions), max((len(row) for row in portions), default=1)
    arrays = {name: np.full(shape, blank) for name, blank in _BLANK.items()}
    fixed = np.full(len(portions), involatile)
    places, cells, heats = [], [], []
    for row, line in enumerate(portions):
        for column, (part, share, crystals) in enumerate(line):
            amount = conditions.dry_mg * 1e-3 * share / part.molar_mass
            if part.pressure_pa <= 0:
                fixed[row] += amount
                continue
            pressure = (crystals and part.crystal_pa) or part.pressure_pa
            curve = part.curve
            shown = (curve.i_max, curve.log10_half, curve.width) if curve else (0.0, 0.0, 1.0)
            places.append((row, column))
            log_p = LOG_P if part.log_p is None else part.log_p
            cells.append((amount, pressure, log_p, part.molar_mass, *shown))
            heats.append(part.vaporisation_j_per_mol or VAPORISATION_J_PER_MOL)
    if cells:
        at, filled = tuple(np.array(places).T), np.array(cells).T
        filled[1] = evaporation_rate(filled[1], filled[3], conditions, heats)
        filled[2] = uptake_rate(filled[2], filled[3], conditions)
        for values, column_of in zip(arrays.values(), filled, strict=True):
            values[at] = column_of
    inert = conditions.inert_moles(arrays["moles"].sum(axis=1), fixed)
    return SurfaceState(**arrays, inert=inert, nose_l_per_s=conditions.nose_l_per_s)


def mixed(states: Sequence[SurfaceState], shares: Sequence[float]) -> SurfaceState:
    """Return one surface with all components of several, in their order, so much of the mass from each.

    Each stands alone, with the same load; `shares` are mass fractions that add up to 1.
    """
    joined: dict[str, Any] = {
        name: np.concatenate([getattr(state, name) for state in states]) for name in _BLANK
    }
    joined["moles"] = np.concatenate([s.moles * share for s, share in zip(states, shares, strict=True)])
    inert = np.array(sum(state.inert * share for state, share in zip(states, shares, strict=True)))
    return SurfaceState(**joined, inert=inert, nose_l_per_s=states[0].nose_l_per_s)


def side_by_side(states: Sequence[SurfaceState]) -> SurfaceState:
    """Return surfaces, or sets of surfaces, as one set; they are smelled by the same nose."""
    ends = np.cumsum([np.size(state.inert) for state in states])
    shape = ends[-1], max(state.moles.shape[-1] for state in states)
    joined: dict[str, Any] = {name: np.full(shape, blank) for name, blank in _BLANK.items()}
    for name, rows in joined.items():
        for end, state in zip(ends, states, strict=True):
            values = np.atleast_2d(getattr(state, name))
            rows[end - len(values) : end, : values.shape[1]] = values
    joined["inert"] = np.concatenate([np.atleast_1d(state.inert) for state in states])
    return SurfaceState(**joined, nose_l_per_s=states[0].nose_l_per_s)


def neat_or_diluted(
    parts: Sequence[Sequence[Component]],
    dilution: float = 1.0,
    dissolved: bool = False,
    conditions: Conditions = DEFAULT_CONDITIONS,
    carrier: Component | None = None,
) -> SurfaceState:
    """Return surfaces with one material each, side by side.

    Parameters
    ----------
    parts : sequence of sequences of Component
        What each material consists of.
    dilution : float
        Mass fraction in dipropylene glycol; 1 is neat.
    dissolved : bool
        Take neat solids as their subcooled liquid instead of as crystals.
    conditions : Conditions
        The surface, its air and room, and the nose.
    carrier : Component, optional
        What the rest is and leaves as, a last column; by default its amount stays, as it does in the first
        hour of a strip: dipropylene glycol is gone after a day.
    """
    solid = dilution == 1.0 and not dissolved
    portions = [
        [Portion(part, dilution * part.mass_fraction, solid and len(components) == 1) for part in components]
        for components in parts
    ]
    if carrier is not None and dilution < 1.0:
        rest = Portion(carrier, 1.0 - dilution)
        return fresh_state([[*row, rest] for row in portions], conditions=conditions)
    staying = conditions.dry_mg * 1e-3 * (1.0 - dilution) / CARRIER.molar_mass
    return fresh_state(portions, staying, conditions)


def diluted(
    dissolved: SurfaceState, dilutions: Array, conditions: Conditions = DEFAULT_CONDITIONS
) -> SurfaceState:
    """Return surfaces with one material each, of `neat_or_diluted`, at other mass fractions (surfaces,).

    `dissolved` are the same neat, solids dissolved; the rest is dipropylene glycol, which stays.
    """
    carrier = np.array(conditions.dry_mg * 1e-3 / CARRIER.molar_mass)
    staying = conditions.inert_moles(np.zeros(()), carrier)
    return replace(
        dissolved,
        moles=dissolved.moles * dilutions[:, None],
        inert=dissolved.inert * dilutions + staying * (1.0 - dilutions),
    )


def first_concentrations(parts: Sequence[Component], dilution: float) -> Array:
    """Return what the nose meets of each part when a strip is first smelled [ug/L], shape (parts,)."""
    strip = neat_or_diluted([parts], dilution)
    return np.asarray(strip.concentrations(strip.first_smelled())[0, 0], float)


def first_strength(parts: Sequence[Component], dilution: float) -> float:
    """Return the intensity 0-100 of a strip when it is first smelled, a mixture's parts together."""
    return float(first_intensities(neat_or_diluted([parts], dilution))[0])


def first_intensities(strips: SurfaceState) -> Array:
    """Return the intensity 0-100 of strips when each is first smelled, shape (strips,)."""
    return together(strips.intensities(strips.first_smelled()))[:, 0]


def fresh_concentrations(parts: Sequence[Component], dilution: float = 1.0) -> Array:
    """Return what the nose meets of each part over a fresh strip [ug/L], shape (parts,)."""
    strip = neat_or_diluted([parts], dilution)
    return np.asarray(strip.concentrations(strip.moles[:, None, :])[0, 0], float)


def with_strength(
    parts: Sequence[Component], decades: float, model: Curve, softest: npt.ArrayLike = -math.inf
) -> list[Component]:
    """Return the parts of a mixture, their curves moved together until the whole has its strength.

    The parts keep their strength against each other, but for those that `softest` stops.

    Parameters
    ----------
    parts : sequence of Component
    decades : float
        By how many decades a 1 % strip of the whole exceeds the dose that is just *clear*.
    model : Curve
        What the strength of the whole rests on; its shape is not used.
    softest : array_like, shape (parts,)
        Half points of the curves below which none is moved [log10 ug/L], see `half_points_ending_by`.
    """
    smelling = [part for part in parts if part.curve is not None and part.pressure_pa > 0]
    if not smelling:
        return [replace(part, curve=None) for part in parts]
    met = first_concentrations(parts, min(1.0, 10.0 ** (-2.0 - decades)))
    shown = [(c.i_max, c.log10_half, c.width) if (c := part.curve) else (0.0, 0.0, 1.0) for part in parts]
    i_max, half, width = np.array(shown).T
    low, high = -12.0, 12.0
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        levels = strength.logistic(met, i_max, np.maximum(half + middle, softest), width)
        low, high = (middle, high) if float(together(levels)) > strength.CLEAR else (low, middle)
    moved = np.maximum(half + high, softest)
    return [
        part
        if part.curve is None
        else replace(
            part,
            curve=replace(model, i_max=part.curve.i_max, width=part.curve.width, log10_half=float(at)),
        )
        for part, at in zip(parts, moved, strict=True)
    ]


def parts_as_read(material: Material, conditions: Conditions) -> tuple[Component, ...]:
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
) -> SurfaceState:
    """Return one neat strip a material; `dissolved` takes solids as their liquid."""
    parts = [parts_as_read(material, conditions) for material in materials]
    return neat_or_diluted(parts, dissolved=dissolved, conditions=conditions)


def as_read(material: Material, conditions: Conditions) -> Material:
    """Return a material with the parts that the person's own strips of it show, see `parts_as_read`."""
    if material.slug not in conditions.own:
        return material
    return replace(material, parts=parts_as_read(material, conditions))


def strengths(
    materials: Sequence[Material], dilution: float = 0.01, conditions: Conditions = DEFAULT_CONDITIONS
) -> list[float | None]:
    """Return the intensity 0-100 of each material, diluted, on a strip first smelled, None where unknown."""
    parts = [parts_as_read(material, conditions) for material in materials]
    strips = neat_or_diluted(parts, dilution, conditions=conditions)
    found = together(strips.intensities(strips.first_smelled()))[:, 0]
    return [float(value) if m.curve is not None else None for m, value in zip(materials, found, strict=True)]
