"""What companions are looked for: a material, or an accord as one, and who may not be a companion of it."""

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from recommender.chemistry.odour_strength import soft
from recommender.evaporation.surface import first_strength
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import CLEAR_LABEL, Formula, Label, Material
from recommender.palette import Array, Palette
from recommender.regulation import warnings
from recommender.similarity.odour_space import unit
from recommender.similarity.pairings import SAME_SMELL, Pairings
from recommender.suggest.eligibility import Eligibility
from recommender.suggest.explanation import strength_in_mixture
from recommender.suggest.request import Request, check, drydown_for, smells

NEARLY_ONE = 0.9
"""Cosine of label profiles from which even a classic pair is one smell."""
PLANT_WEIGHT = 0.25
"""Weight of a relation *is found in* from which a constituent is a good part of its natural, a tenth."""
LOUD = 0.5
"""A line is loud where it has at least this much of the loudness of the loudest."""
THEME, FAINT = 1.5, 0.01
"""How many times as loud a line of the theme counts, and what is too faint to be a line at all."""
MAIN = 0.8
"""A main facet of an accord has at least this much of what there is most of."""
SMELLED_H = 24.0
"""Hours over which the lines of an accord are compared for loudness."""


@dataclass(frozen=True)
class CompanionQuery:
    """What companions are looked for.

    `asked` is the material, or an accord as one; `lines` are rows of the catalogue with how loud each is,
    1 for the loudest.
    """

    asked: Material
    lines: Mapping[int, float]
    pairings: Pairings
    eligibility: Eligibility
    notes: tuple[str, ...]
    formula: FormulaDrydown | None = None

    @property
    def palette(self) -> Palette:
        """Where the materials come from."""
        return self.eligibility.palette

    @cached_property
    def loud(self) -> Array:
        """How loud each material of the catalogue is in what is asked about, shape (materials,)."""
        found = np.zeros(len(self.palette.catalogue.materials))
        found[list(self.lines)] = list(self.lines.values())
        return found

    @cached_property
    def facets(self) -> Array:
        """The facets of what is asked about, 1 for the strongest, shape (facets,)."""
        return _facets(self.lines, self.palette)


def read(
    asked: Material | Formula, request: Request, palette: Palette, pairings: Pairings | None = None
) -> CompanionQuery:
    """Return a request with its words looked up and its lines weighed; `pairings` in place of the palette's.

    Raises
    ------
    UnknownFacet, BadValue
    """
    check(request)
    pairings = pairings or Pairings.of(palette.catalogue, palette.graph, palette.space)
    table = drydown_for(asked, request, palette) if isinstance(asked, Formula) else None
    if table is None:
        assert isinstance(asked, Material)
        subject, lines = asked, {palette.catalogue.index[asked.slug]: 1.0}
        notes = list(warnings([asked], palette.catalogue.entries, request.market))
    else:
        lines = _loudness(table)
        subject, notes = _as_material(table, lines), list(table.notes)
    found = smells("pair", request, palette)
    present = frozenset(table.slugs() if table else ())
    eligibility = Eligibility(
        request,
        palette,
        found.wanted,
        dict.fromkeys(found.refused, CLEAR_LABEL),
        asked=None if table else subject,
        present=present,
        objections=_objections(lines, pairings, palette),
        beside=present if table else frozenset({subject.slug}),
    )
    if not subject.labels:
        notes.append(f"No smell of {subject.name} is on record.")
    return CompanionQuery(subject, lines, pairings, eligibility, (*notes, *found.notes), table)


# what an accord is, as one material


def _loudness(table: FormulaDrydown) -> dict[int, float]:
    """Return how present each material of a formula is over a day, 1 for the loudest, by its row."""
    film, hours = table.film, table.course.hours
    present = soft(film.intensities(film.left(hours[hours <= SMELLED_H]))).mean(axis=0)
    found: dict[int, float] = {}
    for place, level in zip(film.owner, present, strict=True):
        row = table.palette.catalogue.index[film.amounts[place].material.slug]
        found[row] = max(found.get(row, 0.0), float(level))
    found = _theme_first(found, table)
    most = max(found.values(), default=0.0)
    return {row: level / most for row, level in found.items() if level > FAINT * most}


def _theme_first(lines: Mapping[int, float], table: FormulaDrydown) -> dict[int, float]:
    """Return lines with those louder that lead with the stated theme, or without one with a main facet."""
    space = table.palette.space
    stated = np.isin(space.facets, table.theme.facets)
    main = stated if table.theme.stated else _facets(lines, table.palette) >= MAIN
    return {
        row: level * (THEME if (space.weights[row, main] >= 1.0).any() else 1.0)
        for row, level in lines.items()
    }


def _facets(lines: Mapping[int, float], palette: Palette) -> Array:
    summed = np.array(list(lines.values())) @ palette.space.weights[list(lines)]
    return np.asarray(summed / max(float(summed.max(initial=0.0)), 1e-9), float)


def _as_material(table: FormulaDrydown, lines: Mapping[int, float]) -> Material:
    """Return an accord as one material: its parts, what it smells of and how strong it is."""
    parts = tuple(
        dataclasses.replace(part, mass_fraction=part.mass_fraction * amount.mass_fraction)
        for amount in table.amounts
        for part in amount.material.parts
    )
    labels = []
    for facet, weight in zip(table.palette.space.facets, _facets(lines, table.palette), strict=True):
        if strength := strength_in_mixture(float(weight)):
            labels.append(Label(facet, strength, "estimated"))
    return Material(
        slug="",
        name=table.formula.name,
        cas="",
        cas_more=(),
        kind="base",
        form="",
        role="palette",
        labels=tuple(sorted(labels, key=lambda label: -label.strength)),
        parts=parts,
        strength=first_strength(parts, 0.01) if parts else None,
    )


# who may not be a companion


def _objections(lines: Mapping[int, float], pairings: Pairings, palette: Palette) -> dict[str, str]:
    """Return what clashes with one of the lines, is a form of it or smells like it, in sentences by key."""
    materials, leads = palette.catalogue.materials, palette.space.weights >= 1.0
    whole = unit(palette.space.weights) @ unit(_facets(lines, palette)[None, :])[0]
    found: dict[str, str] = {}

    def object_to(rows: npt.NDArray[np.bool_], sentence: str) -> None:
        for row in np.flatnonzero(rows):
            found.setdefault(materials[row].slug, sentence.format(materials[row].name))

    for row, level in lines.items():
        line = materials[row]
        for other, sentence in _clashes(line, palette):
            found.setdefault(other, sentence)
        free = np.array([(row, c) in pairings.pairs for c in range(len(materials))])
        free &= pairings.profile[row] < NEARLY_ONE
        object_to(pairings.one_note[row] & ~free, f"{{}} smells much like {line.name}: it would replace it.")
        object_to(_within(line, palette) & ~free, f"{{}} is found in {line.name}, or {line.name} in it.")
        if level >= LOUD:
            same = (leads & leads[row]).any(axis=1)
            object_to(same & ~free, f"{{}} leads with the same smell as {line.name}: it would replace it.")
    if len(lines) > 1:
        object_to(whole >= SAME_SMELL, "{} smells like the whole of it.")
    return found


def _clashes(line: Material, palette: Palette) -> Iterator[tuple[str, str]]:
    for relation in palette.graph.relations:
        if relation.kind == "clashes" and line.slug in (relation.start, relation.end):
            other = relation.end if relation.start == line.slug else relation.start
            why = f": {relation.note}" if relation.note else ""
            yield other, f"{palette.catalogue.by_slug(other).name} clashes with {line.name}{why}."


def _within(line: Material, palette: Palette) -> npt.NDArray[np.bool_]:
    """Return which materials are a good part of a natural, or have it as such, shape (materials,)."""
    found = np.zeros(len(palette.catalogue.materials), bool)
    for relation in palette.graph.relations:
        if relation.kind == "constituent-of" and relation.weight >= PLANT_WEIGHT:
            if relation.start == line.slug:
                found[palette.catalogue.index[relation.end]] = True
            elif relation.end == line.slug:
                found[palette.catalogue.index[relation.start]] = True
    return found
