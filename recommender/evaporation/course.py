"""A formula on a surface: intensity of every facet over time, its ends and its gaps.

Components are the molecules and parts of all materials. Near-identical odours add their doses before the
curve is read; different odours add by a p-norm, of a lower power where materials share a smell.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from recommender.chemistry import odour_strength
from recommender.errors import BadTable
from recommender.evaporation.conditions import DEFAULT_CONDITIONS, Conditions
from recommender.evaporation.film import Array
from recommender.evaporation.presence import part_weights
from recommender.evaporation.surface import (
    MIXTURE_POWER,
    Portion,
    SurfaceState,
    eighth_power,
    eighth_root,
    fresh_state,
    mixed,
    parts_as_read,
)
from recommender.evaporation.surfaces import alternatives
from recommender.model import Amount, Material
from recommender.similarity.odour_space import OdourSpace

Indices = npt.NDArray[np.intp]
MASKING = 0.147
"""How far the rest hides one odour, fitted to panel means of binary mixtures; source as `MIXTURE_POWER`."""
NEAR_IDENTICAL = 0.985
"""Whole-smell likeness from which two molecules count as one odour and add their doses."""
UNKNOWN_MOLAR_MASS = 400.0
"""Of a resin or an own material of which it is not known [g/mol] (memory)."""
HOURS = np.geomspace(1 / 60, 168, 60)
"""A minute to a week."""


@dataclass(frozen=True)
class FormulaFilm(SurfaceState):
    """A formula on a surface: its state, arrays (components,), and whose the components are.

    `owner` is the place of the material in `amounts`, `names` are those of the components; components of one
    `group` add their doses; `weights` (components, facets) are how much each shows of a facet, `log_error` by
    how many decades its pressure may be off.
    """

    amounts: tuple[Amount, ...]
    facets: tuple[str, ...]
    owner: Indices
    group: Indices
    log_error: Array
    weights: Array
    names: tuple[str, ...]

    @cached_property
    def label_strengths(self) -> Indices:
        """The strength of each facet in each material, 0 where it has none, (materials, facets)."""
        column = {facet: i for i, facet in enumerate(self.facets)}
        found = np.zeros((len(self.amounts), len(self.facets)), np.intp)
        for row, amount in enumerate(self.amounts):
            for label in amount.material.labels:
                found[row, column[label.facet]] = label.strength
        return found

    def shows(self, strength: int) -> npt.NDArray[np.bool_]:
        """Return which facets each material shows with a label of a strength or more, (materials, facets)."""
        return self.label_strengths >= strength

    @cached_property
    def sums(self) -> "FacetSums":
        """How the components' intensities add up to facets."""
        return FacetSums.of(self.owner, self.weights)

    @cached_property
    def joint(self) -> tuple[Indices, Indices]:
        """The smelling components of groups with several, by group, and the places where a group begins."""
        smelling = np.flatnonzero(self.i_max > 0)
        several = smelling[np.bincount(self.group[smelling])[self.group[smelling]] > 1]
        members = several[np.argsort(self.group[several], kind="stable")]
        return members, np.flatnonzero(np.diff(self.group[members], prepend=-1))

    def joint_with(self, components: npt.NDArray[np.bool_]) -> tuple[Indices, Indices]:
        """Return those of `joint` whose group has one of some components."""
        members, _ = self.joint
        touched = np.isin(self.group[members], self.group[components])
        found = members[touched]
        return found, np.flatnonzero(np.diff(self.group[found], prepend=-1))

    def changed(self, **arrays: Any) -> "FormulaFilm":
        """Return the same components with other amounts, rates or curves; what they show stays as it is."""
        found = replace(self, **arrays)
        vars(found)["sums"] = self.sums
        if "label_strengths" in vars(self):
            vars(found)["label_strengths"] = self.label_strengths
        return found


def cubes(values: Array) -> Array:
    """Return values to the power with which materials that share a smell add up."""
    return values * values * values


@dataclass(frozen=True)
class Mixture:
    """A material of several parts, and which facets they show, (facets,).

    `parts` and `shown` are where its parts and its facets are among those of all mixtures; `powers` (parts,
    facets) are the weights to the eighth power.
    """

    parts: slice
    shown: slice
    facets: Indices
    powers: Array


@dataclass(frozen=True)
class FacetSums:
    """How intensities of components add up to facets: parts within a material, then materials.

    Parts add by the p-norm of odours, 8; materials that share a smell support each other, by a p-norm of 3
    (own choice). `alone` are the components that are a material by themselves, `cubes` (alone, facets) the
    cubes of their weights; `mixed` are the parts of the mixtures, in their order.
    """

    alone: Indices
    cubes: Array
    mixed: Indices
    mixtures: tuple[Mixture, ...]

    @classmethod
    def of(cls, owner: Indices, weights: Array) -> "FacetSums":
        """Return the sums for components of so many owners with weights (components, facets)."""
        order = np.argsort(owner, kind="stable")
        sizes = np.bincount(owner)[owner[order]]
        alone, mixed = order[sizes == 1], order[sizes > 1]
        mixtures: list[Mixture] = []
        part = place = 0
        while part < len(mixed):
            parts = slice(part, part + int(sizes[sizes > 1][part]))
            shown = weights[mixed[parts]]
            facets = np.flatnonzero(shown.any(axis=0))
            places = slice(place, place + len(facets))
            mixtures.append(Mixture(parts, places, facets, eighth_power(shown[:, facets])))
            part, place = parts.stop, places.stop
        return cls(alone, cubes(weights[alone]), mixed, tuple(mixtures))

    def cubed(self, intensities: Array) -> Array:
        """Return the cubes of the facets, shape (..., facets), from intensities (..., components)."""
        alone = intensities[..., self.alone] if self.mixtures else intensities
        found = np.asarray(cubes(alone) @ self.cubes, float)
        if self.mixtures:
            powered = eighth_power(intensities[..., self.mixed])
            sums = [powered[..., mixture.parts] @ mixture.powers for mixture in self.mixtures]
            shown = cubes(eighth_root(np.concatenate(sums, axis=-1)))
            for mixture in self.mixtures:
                found[..., mixture.facets] += shown[..., mixture.shown]
        return found

    def facets(self, intensities: Array) -> Array:
        """Return the facets, shape (..., facets), from intensities (..., components)."""
        return np.asarray(np.cbrt(self.cubed(intensities)), float)


@dataclass(frozen=True)
class Course:
    """A formula over time: `facets` (times, facets), `whole` (times,), `owners` (times, materials)."""

    film: FormulaFilm
    hours: Array
    facets: Array
    whole: Array
    owners: Array


@dataclass(frozen=True, slots=True)
class MaterialFilm:
    """A material alone on a surface, a full load: its state, what it is made of and what its parts show.

    `state`, `log_error` and `weights` (components, facets) are those of what evaporates, `names` as well.
    """

    material: Material
    state: SurfaceState
    log_error: Array
    weights: Array
    names: tuple[str, ...]


@dataclass(frozen=True)
class MaterialFilms:
    """Materials alone on a surface, each made once: a formula is made of them, since moles are a sum by mass.

    `index` has the row of each slug in the catalogue; `conditions` are the surface, its air and room, the
    nose, and materials that read otherwise than the table.
    """

    space: OdourSpace
    index: Mapping[str, int]
    conditions: Conditions = DEFAULT_CONDITIONS
    _made: dict[tuple[str, bool], MaterialFilm] = field(default_factory=dict, init=False, repr=False)

    def alone(self, material: Material, crystals: bool = False) -> MaterialFilm:
        """Return a material alone, dissolved or as crystals."""
        key = material.slug, crystals and _has_crystals(material)
        found = self._made.get(key)
        if found is None or found.material is not material:
            found = self._made[key] = self._put_on(material, key[1])
        return found

    def _put_on(self, material: Material, crystals: bool) -> MaterialFilm:
        parts, involatile = parts_as_read(material, self.conditions), 0.0
        if not parts:
            involatile = self.conditions.dry_mg * 1e-3 / (material.molar_mass or UNKNOWN_MOLAR_MASS)
        portions = [Portion(part, part.mass_fraction, crystals) for part in parts]
        volatile = np.array([part.pressure_pa > 0 for part in parts], bool)
        return MaterialFilm(
            material,
            fresh_state([portions], involatile, self.conditions).alone(0),
            np.array([part.log_error for part in parts], float)[volatile],
            part_weights(material, self.space, self.index)[volatile],
            tuple(part.name for part in parts if part.pressure_pa > 0),
        )

    def formula(self, amounts: Sequence[Amount], crystals: bool = False) -> FormulaFilm:
        """Return a formula that has just been put on the surface, see `film_of`."""
        found = [self.alone(amount.material, crystals) for amount in amounts]
        names = tuple(name for each in found for name in each.names)
        if not names:
            raise _does_not_evaporate([amount.material.name for amount in amounts])
        state = mixed([each.state for each in found], [amount.mass_fraction for amount in amounts])
        return FormulaFilm(
            **vars(state),
            amounts=tuple(amounts),
            facets=self.space.facets,
            owner=np.repeat(np.arange(len(found)), [len(each.names) for each in found]),
            group=OneOdour.of(names, self.space, self.index).groups(state.moles),
            log_error=np.concatenate([each.log_error for each in found]),
            weights=np.concatenate([each.weights for each in found]),
            names=names,
        )

    def variable(self, materials: Sequence[Material]) -> "VariableFormula":
        """Return a formula of some materials whose amounts change; raises `BadTable` as `formula`."""
        full = self.formula([Amount(material, 1.0) for material in materials])
        inert = np.array([float(self.alone(material).state.inert) for material in materials])
        return VariableFormula(full, inert, OneOdour.of(full.names, self.space, self.index))

    def as_crystals(self, film: FormulaFilm) -> FormulaFilm:
        """Return a formula of `formula` with solids as crystals: they differ in how fast they leave."""
        if not any(_has_crystals(amount.material) for amount in film.amounts):
            return film
        states = [self.alone(amount.material, crystals=True).state for amount in film.amounts]
        return film.changed(rates=np.concatenate([state.rates for state in states]))

    def on_this(self, film: FormulaFilm) -> FormulaFilm:
        """Return a formula, dissolved on another surface, on this one."""
        states = [self.alone(amount.material).state for amount in film.amounts]
        return film.changed(**vars(mixed(states, [amount.mass_fraction for amount in film.amounts])))

    @cached_property
    def alternatives(self) -> list[tuple["MaterialFilms", "MaterialFilms"]]:
        """The same with each constant of the surface at either end of its band."""
        return [
            (replace(self, conditions=low), replace(self, conditions=high))
            for low, high in alternatives(self.conditions)
        ]


def _has_crystals(material: Material) -> bool:
    return any(part.crystal_pa for part in material.parts)


def film_of(
    amounts: Sequence[Amount],
    space: OdourSpace,
    index: Mapping[str, int],
    crystals: bool = False,
    conditions: Conditions = DEFAULT_CONDITIONS,
) -> FormulaFilm:
    """Return a formula that has just been put on a surface.

    Parameters
    ----------
    amounts : sequence of Amount
        Mass fractions that add up to 1.
    space : OdourSpace
    index : mapping of str -> int
        The row of each slug in the catalogue.
    crystals : bool
        Take solids as crystals that evaporate at their own pressure instead of dissolved.
    conditions : Conditions
        The surface, its air and room, the nose, and materials that read otherwise than the table.

    Raises
    ------
    BadTable
        Nothing of it evaporates, as far as is known.
    """
    return MaterialFilms(space, index, conditions).formula(amounts, crystals)


@dataclass(frozen=True)
class OneOdour:
    """Which components are one odour: the same molecule, or near-identical ones.

    `name_of` is the place of the name of each component (components,); `one` (names, names) which names are
    one odour, `several` those that are so with another one.
    """

    name_of: Indices
    one: npt.NDArray[np.bool_]
    several: Indices

    @classmethod
    def of(cls, names: Sequence[str], space: OdourSpace, index: Mapping[str, int]) -> "OneOdour":
        """Return it for components of some names."""
        called = {name: place for place, name in enumerate(dict.fromkeys(names))}
        rows = np.array([index.get(name, -1) for name in called], np.intp)
        vectors = space.vectors[np.maximum(rows, 0)]
        one = (rows >= 0)[:, None] & (rows >= 0) & (space.alike(vectors, vectors) >= NEAR_IDENTICAL)
        name_of = np.array([called[name] for name in names], np.intp)
        return cls(name_of, one, np.flatnonzero(one.sum(axis=1) > 1))

    def groups(self, moles: Array) -> Indices:
        """Return the group of each component (components,), called by the place of the name that leads it.

        Molecules are taken by amount: each that is not yet in a group leads one, with all others like it.
        """
        most = np.zeros(len(self.one))
        np.maximum.at(most, self.name_of, moles)
        group, free = np.arange(len(most)), np.ones(len(most), bool)
        for place in self.several[np.argsort(-most[self.several], kind="stable")]:
            if free[place]:
                group[free & self.one[place]] = place
                free &= ~self.one[place]
        return np.asarray(group[self.name_of], np.intp)


@dataclass(frozen=True)
class VariableFormula:
    """Materials on a surface in amounts that change; what does not follow from them is worked out once.

    `full` has a full load of each material, `inert` (materials,) are the involatile moles of each.
    """

    full: FormulaFilm
    inert: Array
    odours: OneOdour

    def at(self, shares: Array) -> FormulaFilm:
        """Return the formula with so much of each, mass fractions that add up to 1, (materials,).

        Raises
        ------
        BadTable
            Nothing of it evaporates, as far as is known.
        """
        moles = self.full.moles * shares[self.full.owner]
        if not moles.any():
            there = zip(self.full.amounts, shares, strict=True)
            raise _does_not_evaporate([amount.material.name for amount, share in there if share > 0])
        inert = np.array(self.inert @ shares)
        return self.full.changed(moles=moles, inert=inert, group=self.odours.groups(moles))


def _does_not_evaporate(names: Sequence[str]) -> BadTable:
    remedy = "An own material needs a pressure and a molar mass: see `recommender materials add --help`"
    problem = "how it evaporates is not known, so it cannot be followed on a strip"
    return BadTable(", ".join(names), problem, remedy=remedy)


def doses_added(film: FormulaFilm, alone: Array) -> Array:
    """Return intensities (times, components) in which one odour's components share its joint intensity.

    Each component's concentration is turned into that of the group's leader that smells as strong; the sum
    is read on the leader's curve and shared out by dose.
    """
    members, starts = film.joint
    result = alone.copy()
    if len(members):
        result[:, members] = joint_intensities(film, alone[:, members], members, starts)
    return result


def joint_intensities(film: FormulaFilm, own: Array, members: Indices, starts: Indices) -> Array:
    """Return what each member of some groups has of the joint intensity of its group, (times, members).

    `own` of the same shape is what each has alone; a group begins at each of `starts` among the `members`.
    """
    sizes = np.diff([*starts, len(members)])
    group = np.repeat(np.arange(len(starts)), sizes)
    loudest = np.maximum.reduceat(own, starts, axis=1)
    first = np.flatnonzero(own[0] == loudest[0, group])
    lead = members[first[np.searchsorted(group[first], np.arange(len(starts)))]]
    top, half, width = film.i_max[lead], film.log10_half[lead], film.width[lead]
    level = np.clip(own, 1e-12, 0.999 * top[group])
    dose = 10.0 ** (half[group] - width[group] * np.log(top[group] / level - 1.0))
    dose[own <= 1e-12] = 0.0
    total = np.add.reduceat(dose, starts, axis=1)
    joint = np.maximum(odour_strength.logistic(total, top, half, width), loudest)
    share = dose / np.where(total > 0, total, 1.0)[:, group]
    return np.asarray(eighth_root(share) * joint[:, group], float)


def course(film: FormulaFilm, hours: npt.ArrayLike = HOURS) -> Course:
    """Return the formula over time."""
    times = np.asarray(hours, float)
    perceived = doses_added(film, film.at(times))
    facets = film.sums.facets(perceived)
    powered = eighth_power(perceived)
    owners = powered @ np.eye(len(film.amounts))[film.owner]
    return Course(film, times, facets, eighth_root(powered.sum(axis=1)), eighth_root(owners))


def masked(own: Array, whole: Array) -> Array:
    """Return what is left of odours beside the rest: own^2 / (own + 0.147 rest); any shape."""
    rest = np.maximum(whole**MIXTURE_POWER - own**MIXTURE_POWER, 0.0) ** (1.0 / MIXTURE_POWER)
    return np.asarray(own**2 / np.maximum(own + MASKING * rest, 1e-300), float)


def with_added(film: FormulaFilm, extra: FormulaFilm, mass_share: float) -> FormulaFilm:
    """Return a film in which `extra` makes up `mass_share` of the whole; both were made from full loads."""
    keep = 1.0 - mass_share
    amounts = [replace(a, mass_fraction=a.mass_fraction * keep) for a in film.amounts]
    amounts += [replace(a, mass_fraction=a.mass_fraction * mass_share) for a in extra.amounts]
    return replace(
        film.mixed_with(extra, mass_share),
        amounts=tuple(amounts),
        owner=np.concatenate([film.owner, extra.owner + len(film.amounts)]),
        group=np.concatenate([film.group, extra.group + film.group.max() + 1]),
        log_error=np.concatenate([film.log_error, extra.log_error]),
        weights=np.concatenate([film.weights, extra.weights]),
        names=(*film.names, *extra.names),
    )
