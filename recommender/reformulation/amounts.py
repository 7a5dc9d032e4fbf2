"""A formula whose lines may change and to which candidates may be added: amounts, bounds, exact smell."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from recommender.errors import BadTable
from recommender.evaporation import Array
from recommender.evaporation.course import FormulaFilm, VariableFormula, course
from recommender.formulas import formula as formulas
from recommender.formulas.drydown import FormulaDrydown
from recommender.formulas.theme import theme_of
from recommender.model import Amount, Formula, Line, Material
from recommender.reformulation.preserved import Smell, presence
from recommender.reformulation.rules import USUAL, Rule

MARGIN = 1e-7
"""Amounts stay so far below a bound, as a share of it, that a sum in another order is not above it."""
RAISED = 3.0
"""A line is raised to so many times of what it is at most, and within usual use."""
NO_USUAL = 100.0
"""Parts per thousand that a candidate is at most where no usual use is on record."""
MOST_TIMES = 9.0
"""What comes in is at most so many times of what was there."""
LEAST_SMELLING = 0.1
"""What is left smells if it has at least this share of the mass of smelling materials."""


@dataclass(frozen=True)
class Item:
    """A material that is, or may be, in the formula.

    `parts` are neat parts of the formula as it is, 0 for a candidate; each brings `carriers`, parts of
    solvents for one neat part. `most` are the neat parts that it may become.
    """

    material: Material
    parts: float
    carriers: Mapping[str, float] = field(default_factory=dict)
    most: float = 0.0

    @property
    def total(self) -> float:
        """Parts of a line for one neat part, with its solvent."""
        return 1.0 + sum(self.carriers.values())


def items_of(formula: Formula) -> list[Item]:
    """Return the materials of an opened formula, lines of one material together, the order of the lines."""
    neat: dict[str, float] = {}
    carriers: dict[str, dict[str, float]] = {}
    materials: dict[str, Material] = {}
    for line in formula.lines:
        assert isinstance(line.content, Material), "the formula is opened"
        slug = line.content.slug
        materials[slug] = line.content
        neat[slug] = neat.get(slug, 0.0) + line.parts * line.dilution
        if line.solvent is not None:
            brought = carriers.setdefault(slug, {})
            brought[line.solvent.slug] = brought.get(line.solvent.slug, 0.0) + line.parts * (
                1.0 - line.dilution
            )
    return [
        Item(m, neat[slug], {name: parts / neat[slug] for name, parts in carriers.get(slug, {}).items()})
        for slug, m in materials.items()
    ]


@dataclass(frozen=True)
class Amounts:
    """Items with the bounds on them; amounts are neat parts, arrays (items,).

    `table` is the formula as it is, `fixed` are the keys of items whose parts stay, `out` those that may not
    be in it. Where the formula has a neat solvent, the most of it takes up what is lowered or added, so that
    the rest keeps its share; else the shares follow the new total.
    """

    table: FormulaDrydown
    items: tuple[Item, ...]
    rules: tuple[Rule, ...]
    fixed: frozenset[str] = frozenset()
    out: frozenset[str] = frozenset()

    @cached_property
    def before(self) -> Array:
        """The formula as it is."""
        return np.array([item.parts for item in self.items])

    @cached_property
    def totals(self) -> Array:
        """Parts of the whole for a neat part of each item."""
        return np.array([item.total for item in self.items])

    @cached_property
    def whole(self) -> float:
        """Parts of the formula as it is."""
        return float(self.totals @ self.before)

    @cached_property
    def places(self) -> Mapping[str, int]:
        """Where each material stands among the items, by key."""
        return {item.material.slug: place for place, item in enumerate(self.items)}

    @cached_property
    def filler(self) -> int | None:
        """The place of the neat solvent that takes up what is lowered or added, None where there is none."""
        solvents = [
            place
            for place, item in enumerate(self.items)
            if item.material.kind == "solvent"
            and item.parts > 0
            and item.material.slug not in self.fixed | self.out
        ]
        return max(solvents, key=lambda place: self.items[place].parts, default=None)

    @cached_property
    def smelling(self) -> Array:
        """Which items smell, as 1 and 0."""
        return np.array([item.material.kind != "solvent" for item in self.items], float)

    @cached_property
    def matrix(self) -> Array:
        """The rules as rows (rules, items): their product with the amounts is at most 0."""
        return np.array([self.row(rule) for rule in self.rules]).reshape(len(self.rules), len(self.items))

    def row(self, rule: Rule, relaxed: float = 1.0) -> Array:
        """Return one rule as a row (items,), with its bound so many times as high."""
        found = np.array([rule.shares.get(item.material.slug, 0.0) for item in self.items])
        for place, item in enumerate(self.items):
            for slug, parts in item.carriers.items():
                found[place] += parts * rule.shares.get(slug, 0.0)
        return np.asarray(rule.scale * found / rule.bound - relaxed * (1.0 - MARGIN) * self.totals, float)

    def filled(self, amounts: Array) -> Array:
        """Return amounts with the solvent that makes them up to the whole."""
        if self.filler is None:
            return amounts
        found = amounts.copy()
        found[self.filler] = 0.0
        found[self.filler] = max(0.0, self.whole - float(self.totals @ found))
        return found

    def excess(self, amounts: Array) -> Array:
        """Return by what share of its bound each rule is exceeded, negative where it is not, (rules,)."""
        return np.asarray(self.matrix @ amounts / max(float(self.totals @ amounts), 1e-300), float)

    def allowed(self, amounts: Array) -> bool:
        """Return whether amounts keep to every rule."""
        return not len(self.rules) or float(self.excess(amounts).max()) <= MARGIN / 2

    @cached_property
    def effect(self) -> Array:
        """The rows of `matrix` with what the filler gives way to a part of each item, (rules, items)."""
        if self.filler is None:
            return self.matrix
        return np.asarray(self.matrix - self.totals * self.matrix[:, self.filler, None], float)

    def repaired(self, amounts: Array, movable: Sequence[int]) -> Array | None:
        """Return amounts with some items lowered until every rule is kept, None where that is not enough.

        All that count against a rule are lowered by the same factor.
        """
        found = self.filled(amounts)
        for _ in range(4 * len(self.rules) + 4):
            if self.allowed(found):
                return found
            worst = int(self.excess(found).argmax())
            over = float(self.matrix[worst] @ found) + 1e-9 * self.whole * MARGIN
            for effect in (self.effect[worst], self.matrix[worst]):
                count = [i for i in movable if effect[i] > 0 and found[i] > 0]
                summed = sum(float(effect[i]) * float(found[i]) for i in count)
                if summed > 0:
                    break
            if summed <= 0:
                return None
            factor = max(0.0, 1.0 - over / summed)
            found = found.copy()
            found[count] *= factor
            found = self.filled(found)
        return found if self.allowed(found) else None

    def on_surface(self, amounts: Array) -> list[Amount]:
        """Return what is on a strip once ethanol has gone, as mass fractions."""
        found = [a for a in self.concentrate(amounts) if a.material.slug != formulas.LEAVES_FIRST]
        total = sum(a.mass_fraction for a in found)
        return [Amount(a.material, a.mass_fraction / total) for a in found]

    def concentrate(self, amounts: Array) -> list[Amount]:
        """Return what the concentrate holds, as mass fractions."""
        parts: dict[str, float] = {}
        catalogue = self.table.palette.catalogue
        materials: dict[str, Material] = {}
        for item, neat in zip(self.items, amounts.tolist(), strict=True):
            if neat > 0:
                materials[item.material.slug] = item.material
                parts[item.material.slug] = parts.get(item.material.slug, 0.0) + neat
                for slug, share in item.carriers.items():
                    materials.setdefault(slug, catalogue.by_slug(slug))
                    parts[slug] = parts.get(slug, 0.0) + neat * share
        total = sum(parts.values())
        return [Amount(materials[slug], value / total) for slug, value in parts.items()]

    @cached_property
    def _materials(self) -> tuple[list[Material], Array]:
        """Materials on a strip without ethanol, and parts of each for a neat part, (items, materials)."""
        catalogue = self.table.palette.catalogue
        found: dict[str, Material] = {}
        for item in self.items:
            found.setdefault(item.material.slug, item.material)
            found.update((slug, catalogue.by_slug(slug)) for slug in item.carriers if slug not in found)
        found.pop(formulas.LEAVES_FIRST, None)
        places = {slug: place for place, slug in enumerate(found)}
        parts = np.zeros((len(self.items), len(found)))
        for row, item in enumerate(self.items):
            for slug, share in ((item.material.slug, 1.0), *item.carriers.items()):
                if slug in places:
                    parts[row, places[slug]] += share
        return list(found.values()), parts

    @cached_property
    def _on_surface(self) -> VariableFormula:
        return self.table.films.variable(self._materials[0])

    def film(self, amounts: Array) -> FormulaFilm:
        """Return what so many parts are on the surface; raises `BadTable` where nothing of it evaporates."""
        parts = amounts @ self._materials[1]
        return self._on_surface.at(parts / max(float(parts.sum()), 1e-300))

    def present(self, amounts: Array) -> Array | None:
        """Return the soft presence of every facet, (times, facets), None where nothing smells."""
        if self.smelling @ amounts < LEAST_SMELLING * (self.smelling @ self.before):
            return None
        try:
            return presence(self.film(amounts))
        except BadTable:  # nothing of it evaporates
            return None

    @cached_property
    def smell(self) -> Smell:
        """The smell of the formula as it is, which is to be preserved."""
        found = course(self.film(self.before))
        return Smell.of(found, theme_of(self.table.formula, found, self.table.palette.space).facets)

    def preserved(self, amounts: Array) -> float:
        """Return how much of the smell so many parts preserve, 0-1."""
        after = self.present(amounts)
        return 0.0 if after is None else self.smell.preserved(after)

    def formula(self, amounts: Array) -> Formula:
        """Return the formula with these amounts: lines in their dilutions, candidates neat at the end."""
        opened = formulas.opened(self.table.formula)
        lines = []
        for line in opened.lines:
            assert isinstance(line.content, Material), "the formula is opened"
            place = self.places[line.content.slug]
            if amounts[place] > 0:
                factor = amounts[place] / self.items[place].parts
                lines.append(line if factor == 1.0 else replace(line, parts=line.parts * factor))
        lines += [
            Line(item.material, float(neat))
            for item, neat in zip(self.items, amounts, strict=True)
            if item.parts == 0 and neat > 0
        ]
        return replace(opened, lines=tuple(lines), theme=self.table.formula.theme)


def parts_beside(whole: float, share: float) -> float:
    """Return the parts of what is such a share of all beside so many parts, `MOST_TIMES` these at most.

    >>> parts_beside(900.0, 0.1), parts_beside(100.0, 1.0)
    (100.0, 900.0)
    """
    return whole * min(share / max(1.0 - share, 1e-9), MOST_TIMES)


def with_most(items: Sequence[Item], table: FormulaDrydown, whole: float) -> tuple[list[Item], list[Rule]]:
    """Return items with the parts that they may become, and usual use of the candidates as rules."""
    found, rules = [], []
    for item in items:
        usual = table.usual(item.material)
        room = NO_USUAL if usual is None else usual.high if item.parts else usual.room
        share = min(room, 1000.0) / 1000.0
        most = share * whole if item.parts else parts_beside(whole, share)
        if item.parts:
            most = max(item.parts, min(most, RAISED * item.parts))
        elif usual is not None and room > 0:
            rules.append(Rule(USUAL, item.material.name, room, 1000.0, {item.material.slug: 1.0}))
        found.append(replace(item, most=most))
    return found, rules
