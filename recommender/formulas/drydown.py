"""A formula on a surface: its films, its course, its ends and gaps."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from recommender.errors import BadValue
from recommender.evaporation import DEFAULT_CONDITIONS, Array
from recommender.evaporation.course import Course, FormulaFilm, course, film_of
from recommender.evaporation.gaps import FacetEnd, Gap, ends, gaps
from recommender.formulas import formula as formulas
from recommender.model import Amount, Formula, Material
from recommender.palette import Palette
from recommender.regulation import warnings


@dataclass(frozen=True)
class FormulaDrydown:
    """A formula with what is derived from it when it is asked for; `market` is whose prohibitions count."""

    formula: Formula
    palette: Palette
    market: str = "any"

    @cached_property
    def notes(self) -> tuple[str, ...]:
        """What a person should know: prohibited lines, whose hours these are, how the formula was read."""
        present = [amount.material for amount in self.concentrate]
        return (
            *warnings(present, self.palette.catalogue.limits, self.market),
            *_own_strips(present, self.palette),
            *self.formula.notes,
            *formulas.remarks(self.formula),
        )

    @cached_property
    def amounts(self) -> list[Amount]:
        """What is on the strip once ethanol has gone."""
        return formulas.on_strip(self.formula) if self.formula.lines else []

    @cached_property
    def concentrate(self) -> list[Amount]:
        """What the whole formula holds, solvents among it, as mass fractions of the concentrate."""
        return formulas.amounts(self.formula) if self.formula.lines else []

    @cached_property
    def film(self) -> FormulaFilm:
        """The strip with solids dissolved."""
        return self._film(self.amounts)

    @cached_property
    def crystals(self) -> FormulaFilm:
        """The strip with solids as crystals."""
        return self._film(self.amounts, crystals=True)

    @cached_property
    def course(self) -> Course:
        """Every facet from a minute to a week."""
        return course(self.film)

    @cached_property
    def ends(self) -> Mapping[str, Mapping[str, FacetEnd]]:
        """When each facet stops being clear, and stops being there."""
        return ends(self.film, self.crystals)

    @cached_property
    def gaps(self) -> list[Gap]:
        """The facets that die while the whole still smells, the one most missed first."""
        return gaps(self.course)

    @cached_property
    def missed(self) -> "tuple[list[str], list[MissedFacet]]":
        """The materials that this nose cannot smell, and the facets that it misses; see `missed_facets`."""
        return missed_facets(self)

    @cached_property
    def smell(self) -> Array:
        """The whole smell over the first day as a unit vector in the odour space, shape (dimensions,)."""
        inside = (self.course.hours >= 0.25) & (self.course.hours <= 24)
        return self.palette.space.place(self.course.facets[inside].mean(axis=0))

    def slugs(self) -> set[str]:
        """Return the keys of the materials in the formula."""
        return {amount.material.slug for amount in self.amounts}

    def share_of(self, material: Material) -> float:
        """Return the mass fraction of a material on the strip; raises `BadValue` if it is not there."""
        for amount in self.amounts:
            if amount.material.slug == material.slug:
                return amount.mass_fraction
        raise BadValue("within", self.formula.name, f"{material.name} is not in this formula")

    def alone(self, materials: Sequence[Material]) -> list[FormulaFilm]:
        """Return each material alone on a strip."""
        return [self._film([Amount(material, 1.0)]) for material in materials]

    def _film(self, amounts: Sequence[Amount], crystals: bool = False) -> FormulaFilm:
        palette = self.palette
        return film_of(amounts, palette.space, palette.catalogue.index, crystals, palette.conditions)

    def plus(self, additions: Sequence[tuple[Material, float]]) -> "FormulaDrydown":
        """Return the formula with materials added, each at a mass fraction of the finished accord."""
        total = sum(line.parts for line in self.formula.lines)
        added = sum(share for _, share in additions)
        scale = total / max(1.0 - added, 1e-9)
        parts = [(material, share * scale) for material, share in additions]
        return FormulaDrydown(formulas.plus(self.formula, parts), self.palette)

    def minus(self, material: Material) -> "FormulaDrydown":
        """Return the formula without a material."""
        return FormulaDrydown(formulas.without(self.formula, material.slug), self.palette)


def _own_strips(present: Sequence[Material], palette: Palette) -> list[str]:
    """Return what a person should know where hours are those of their own strips."""
    conditions = palette.conditions
    if conditions == DEFAULT_CONDITIONS or conditions.surface != DEFAULT_CONDITIONS.surface:
        return []
    if replace(conditions, temperature_c=DEFAULT_CONDITIONS.temperature_c) == DEFAULT_CONDITIONS:
        return [f"Hours are for a room of {conditions.temperature_c:.3g} C."]
    figures = {"still air": "film_m", "nose": "nose_l_per_s", "paper": "paper_share"}
    ratios = {
        word: getattr(conditions, name) / getattr(DEFAULT_CONDITIONS, name) for word, name in figures.items()
    }
    moved = [f"{word} {ratio:.2g}" for word, ratio in ratios.items() if abs(ratio - 1.0) > 0.005]
    times = f", against the table: {', '.join(moved)} times" if moved else ""
    notes = [f"Hours are for your own strips at {conditions.temperature_c:.3g} C{times}."]
    for material in {material.slug: material for material in present}.values():
        own = conditions.own.get(material.slug)
        if own is not None and own.hours is not None and own.table_hours is not None:
            hours, table = f"{own.hours:.3g}", f"{own.table_hours:.3g}"
            notes.append(
                f"{material.name}: your strip says clear until {hours} h, the table predicted {table} h."
            )
    return notes


def end_figures(found: Mapping[str, FacetEnd] | None) -> dict[str, object]:
    """Return a facet's two ends as plain figures, None where it never reached the level."""
    return {
        name: None
        if found is None or found[name].hours is None
        else {"hours": found[name].hours, "low": found[name].low, "high": found[name].high}
        for name in ("clear", "just_there")
    }


SHORTER = 1.5
"""A facet is missed where it ends so many times sooner for this nose."""


@dataclass(frozen=True, slots=True)
class MissedFacet:
    """A facet that ends at `others_hours` on a strip, but at `own_hours` to this nose, None for never."""

    facet: str
    others_hours: float
    own_hours: float | None


def missed_facets(drydown: FormulaDrydown) -> tuple[list[str], list[MissedFacet]]:
    """Return the materials in a formula that this nose cannot smell, and the facets that it misses for it.

    The facet that others smell longest comes first.
    """
    blind = [
        amount.material for amount in drydown.amounts if amount.material.own and amount.material.own.blind
    ]
    if not blind:
        return [], []
    own = FormulaDrydown(_muted(drydown.formula), drydown.palette)
    smelled = own.ends if any(a.material.curve is not None for a in own.amounts) else {}
    found = []
    for facet, facet_ends in drydown.ends.items():
        others = facet_ends["just_there"].hours
        left = smelled[facet]["just_there"].hours if facet in smelled else None
        if others is not None and (left is None or others > SHORTER * left):
            found.append(MissedFacet(facet, others, left))
    return [m.name for m in blind], sorted(found, key=lambda m: -m.others_hours)


def _muted(formula: Formula) -> Formula:
    """Return a formula in which what this nose cannot smell evaporates as it does, without a smell."""
    lines = []
    for line in formula.lines:
        content = line.content
        if isinstance(content, Formula):
            content = _muted(content)
        elif content.own and content.own.blind:
            content = replace(content, parts=tuple(replace(part, curve=None) for part in content.parts))
        lines.append(replace(line, content=content))
    return replace(formula, lines=tuple(lines))
