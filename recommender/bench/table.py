"""A formula on the bench: its films, its course, and what any candidate would do to it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

from recommender import formula as formulas
from recommender.bench.bench import Bench
from recommender.drydown import TABLE, Array
from recommender.drydown.fading import End, Gap, ends, gaps
from recommender.drydown.mixture import Course, Film, course, film_of
from recommender.errors import BadValue
from recommender.model import Amount, Formula, Material
from recommender.safety import warnings


@dataclass(frozen=True)
class Table:
    """A formula with what is derived from it when it is asked for."""

    formula: Formula
    bench: Bench
    notes: tuple[str, ...] = ()

    @classmethod
    def of(cls, path: Path | str, bench: Bench, market: str = "any") -> "Table":
        """Take a saved formula or read a file, prohibited lines noted; raises `BadTable`."""
        formula, notes = bench.formula(str(path))
        present = [amount.material for amount in formulas.amounts(formula)]
        notes = [*warnings(present, bench.catalogue.limits, market), *_own_strips(present, bench), *notes]
        return cls(formula, bench, tuple(notes))

    @cached_property
    def amounts(self) -> list[Amount]:
        """What is on the strip once ethanol has gone."""
        return formulas.on_strip(self.formula) if self.formula.lines else []

    @cached_property
    def concentrate(self) -> list[Amount]:
        """What the whole formula holds, solvents among it, as mass fractions of the concentrate."""
        return formulas.amounts(self.formula) if self.formula.lines else []

    @cached_property
    def film(self) -> Film:
        """The strip with solids dissolved."""
        return self._film(self.amounts)

    @cached_property
    def crystals(self) -> Film:
        """The strip with solids as crystals."""
        return self._film(self.amounts, crystals=True)

    @cached_property
    def course(self) -> Course:
        """Every facet from a minute to a week."""
        return course(self.film)

    @cached_property
    def ends(self) -> Mapping[str, Mapping[str, End]]:
        """When each facet stops being clear, and stops being there."""
        return ends(self.film, self.crystals)

    @cached_property
    def gaps(self) -> list[Gap]:
        """The facets that die while the whole still smells, the one most missed first."""
        return gaps(self.course)

    @cached_property
    def smell(self) -> Array:
        """The whole smell over the first day as a unit vector in the odour space, shape (dimensions,)."""
        inside = (self.course.hours >= 0.25) & (self.course.hours <= 24)
        return self.bench.space.place(self.course.facets[inside].mean(axis=0))

    def slugs(self) -> set[str]:
        """Return the keys of the materials in the formula."""
        return {amount.material.slug for amount in self.amounts}

    def share_of(self, material: Material) -> float:
        """Return the mass fraction of a material on the strip; raises `BadValue` if it is not there."""
        for amount in self.amounts:
            if amount.material.slug == material.slug:
                return amount.mass_fraction
        raise BadValue("--in", self.formula.name, f"{material.name} is not in this formula")

    def alone(self, materials: Sequence[Material]) -> list[Film]:
        """Return each material alone on a strip."""
        return [self._film([Amount(material, 1.0)]) for material in materials]

    def _film(self, amounts: Sequence[Amount], crystals: bool = False) -> Film:
        bench = self.bench
        return film_of(amounts, bench.space, bench.catalogue.index, crystals, bench.conditions)

    def plus(self, additions: Sequence[tuple[Material, float]]) -> "Table":
        """Return the table with materials added, each at a mass fraction of the finished accord."""
        total = sum(line.parts for line in self.formula.lines)
        added = sum(share for _, share in additions)
        scale = total / max(1.0 - added, 1e-9)
        parts = [(material, share * scale) for material, share in additions]
        return Table(formulas.plus(self.formula, parts), self.bench)

    def minus(self, material: Material) -> "Table":
        """Return the table without a material."""
        return Table(formulas.without(self.formula, material.slug), self.bench)


def _own_strips(present: Sequence[Material], bench: Bench) -> list[str]:
    """Return what a person should know where hours are those of their own strips."""
    held = bench.conditions
    if held == TABLE:
        return []
    if replace(held, temperature_c=TABLE.temperature_c) == TABLE:
        return [f"Hours are for a room of {held.temperature_c:.3g} C."]
    figures = {"still air": "film_m", "nose": "nose_l_per_s", "paper": "paper_share"}
    ratios = {word: getattr(held, name) / getattr(TABLE, name) for word, name in figures.items()}
    moved = [f"{word} {ratio:.2g}" for word, ratio in ratios.items() if abs(ratio - 1.0) > 0.005]
    times = f", against the table: {', '.join(moved)} times" if moved else ""
    told = [f"Hours are for your own strips at {held.temperature_c:.3g} C{times}."]
    for material in {material.slug: material for material in present}.values():
        own = held.own.get(material.slug)
        if own is not None and own.hours is not None and own.table_hours is not None:
            hours, table = f"{own.hours:.3g}", f"{own.table_hours:.3g}"
            told.append(f"{material.name}: your strip says clear until {hours} h, the table said {table} h.")
    return told


def end_figures(found: Mapping[str, End] | None) -> dict[str, object]:
    """Return a facet's two ends as plain figures, None where it never reached the level."""
    return {
        name: None
        if found is None or found[name].hours is None
        else {"hours": found[name].hours, "low": found[name].low, "high": found[name].high}
        for name in ("clear", "just_there")
    }
