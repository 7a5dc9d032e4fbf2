"""A palette: the materials with odour space and relations, the person's own among them."""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from recommender import evaporation
from recommender.chemistry import odour_strength as strength
from recommender.errors import BadValue, UnknownFacet, WrongCas
from recommender.evaporation import DEFAULT_CONDITIONS, Conditions
from recommender.evaporation.course import MaterialFilms
from recommender.evidence.catalogue import Catalogue, load, plain
from recommender.evidence.overlay import Overlay, OwnMaterial, with_limits, with_own_materials
from recommender.model import CLEAR_LABEL, LABEL_WEIGHTS, Component, Figure, Label, Material
from recommender.similarity.odour_space import OdourSpace
from recommender.similarity.phrases import Phrase, Words, exactly, parse, texts
from recommender.similarity.relations import RelationGraph

Array = npt.NDArray[np.float64]


T = TypeVar("T")
NAMED_LABELS = 3
"""Smells of a material that are named where it stands for a smell."""


class Recent:
    """The last few values that were worked out under a palette, the last one first."""

    def __init__(self, most: int = 4) -> None:
        self.most = most
        self._found: list[Any] = []

    def like(self, value: T, are_alike: Callable[[T, T], bool]) -> T:
        """Return an earlier value that is like this one, else this one; it is the last one then."""
        found = next((one for one in self._found if are_alike(one, value)), value)
        self._found = [found, *(one for one in self._found if one is not found)][: self.most]
        return found


@dataclass(frozen=True)
class Palette:
    """The materials with their odour space and relations; `conditions` are those under which strips dry.

    `recent` has the last formulas that were simulated, where the same one is asked about many times.
    """

    catalogue: Catalogue
    space: OdourSpace
    graph: RelationGraph
    conditions: Conditions = DEFAULT_CONDITIONS
    recent: Recent | None = field(default=None, compare=False, repr=False)

    @classmethod
    def of(cls, catalogue: Catalogue) -> "Palette":
        """Derive space and graph of a catalogue."""
        return cls(catalogue, OdourSpace.of(catalogue), RelationGraph.of(catalogue))

    @cached_property
    def films(self) -> MaterialFilms:
        """The materials alone on the surface of the conditions."""
        return MaterialFilms(self.space, self.catalogue.index, self.conditions)

    def phrase(self, words: Words) -> Phrase:
        """Return which facets a phrase wants and which it refuses; several phrases add up.

        Raises
        ------
        UnknownFacet
            No word is known.
        BadValue
            A facet is wanted and refused at once.
        """
        asked = ", ".join(texts(words))
        try:
            return parse(asked, self.catalogue.facets, self.catalogue.umbrellas)
        except UnknownFacet as error:
            raise self._unknown_facet(error) from None

    def _unknown_facet(self, error: UnknownFacet) -> UnknownFacet:
        """Return the error, with what it smells of where the phrase is the name of a material."""
        try:
            meant = self.catalogue.meanings(error.phrase)
        except WrongCas:
            return error
        labels = sorted(meant[0].labels, key=lambda label: -label.strength)[:NAMED_LABELS] if meant else []
        if not labels:
            return error
        smells = ", ".join(label.facet for label in labels)
        return UnknownFacet(error.phrase, error.near, f"it is a material that smells of {smells}.")

    def smell(self, text: str) -> Mapping[str, float]:
        """Return the facets that words name where nothing can be refused, such as in a reading.

        Raises
        ------
        UnknownFacet, BadValue
        """
        phrase = exactly(self.phrase(text))
        if phrase.refused:
            raise BadValue("smell", text, "a refusal makes no sense here; name the smell itself")
        return phrase.facets

    def avoided(self, words: Words | None, field: str = "avoid") -> list[Phrase]:
        """Return the phrases of what to avoid; a refusal in one is no more than that ("no hay").

        Raises
        ------
        UnknownFacet
        BadValue
            One of them names smells with and without a refusal, which can be read in two ways.
        """
        phrases = [self.phrase(text) for text in texts(words)]
        for phrase in phrases:
            if phrase.refused and phrase.facets:
                raise BadValue(field, phrase.text, "it can be read in two ways; name only what to avoid")
        return phrases

    def materials(self, rows: Sequence[int]) -> list[Material]:
        """Return the materials of some rows."""
        return [self.catalogue.materials[row] for row in rows]

    def hours(self, rows: Sequence[int]) -> Array:
        """Return lasting hours of rows, 0 where unknown."""
        return np.array([m.lasting.hours if m.lasting else 0.0 for m in self.materials(rows)])


@cache
def shipped() -> Palette:
    """Return the palette of the shipped tables."""
    return Palette.of(load())


def find(words: str | None, palette: Palette) -> tuple[list[Material], list[str]]:
    """Return the materials that show the facets named by words, the strongest first, and notes.

    What clearly smells of a refused facet is left out. Where no facet is wanted, all others, in catalogue
    order.

    Raises
    ------
    UnknownFacet
        No word is known.
    BadValue
        A facet is wanted and refused at once.
    """
    materials = list(palette.catalogue.materials)
    if not words:
        return materials, []
    phrase = palette.phrase(words)
    materials = [m for m in materials if all(m.strength_of(f) < CLEAR_LABEL for f in phrase.refused)]
    if phrase.facets:
        shown = {m.slug: max(m.strength_of(facet) for facet in phrase.facets) for m in materials}
        materials = sorted((m for m in materials if shown[m.slug]), key=lambda m: (-shown[m.slug], m.name))
    return materials, list(phrase.notes)


def palette_with(own: Overlay, conditions: Conditions = DEFAULT_CONDITIONS) -> Palette:
    """Return the shipped palette with a person's own data over it, and the conditions of their strips."""
    return under(with_overlay(shipped(), own), conditions)


def under(palette: Palette, conditions: Conditions) -> Palette:
    """Return a palette whose materials last as long, and are as strong, as on a person's own strips.

    So lists, cards, ranking and drydowns follow one clock.
    """
    if conditions == DEFAULT_CONDITIONS:
        return palette
    catalogue, parameters = palette.catalogue, palette.catalogue.parameters
    names = {"": ("molecule", "base", "solvent"), "natural_": ("natural",)}
    borders = {
        kind: (parameters[f"{prefix}top_until_hours"], parameters[f"{prefix}heart_until_hours"])
        for prefix, kinds in names.items()
        for kind in kinds
        if f"{prefix}top_until_hours" in parameters
    }
    materials = evaporation.as_smelled(catalogue.materials, conditions, borders)
    return replace(palette, catalogue=replace(catalogue, materials=tuple(materials)), conditions=conditions)


def with_overlay(palette: Palette, own: Overlay) -> Palette:
    """Return a palette with a person's own data over it: names, materials, smell notes, limits."""
    catalogue = with_limits(palette.catalogue, own)
    if not own.notes and not own.materials:
        return replace(
            palette, catalogue=replace(catalogue, own_names=own.names, own_dilutions=own.dilutions)
        )
    parameters = catalogue.parameters
    catalogue = with_own_materials(catalogue, own, [material_of(m, parameters) for m in own.materials])
    if louder := [m for m in catalogue.materials if m.own and m.own.strength and m.parts]:
        catalogue = _measured(catalogue, louder)
    return Palette.of(catalogue)


def _measured(catalogue: Catalogue, changed: Iterable[Material]) -> Catalogue:
    """Return the catalogue with strength and hours of some materials worked out again."""
    fresh = {m.slug: m for m in with_lasting(list(changed), catalogue.parameters)}
    return replace(catalogue, materials=tuple(fresh.get(m.slug, m) for m in catalogue.materials))


def with_lasting(materials: list[Material], parameters: Mapping[str, float]) -> list[Material]:
    """Return materials with strength and hours computed from their parts; hours of naturals are unchanged."""
    borders = parameters["top_until_hours"], parameters["heart_until_hours"]
    stays, strengths = evaporation.lasting(materials, *borders), evaporation.strengths(materials)
    return [
        replace(m, strength=own, lasting=m.lasting if m.kind == "natural" and m.lasting else stay)
        for m, stay, own in zip(materials, stays, strengths, strict=True)
    ]


def material_of(own: OwnMaterial, parameters: Mapping[str, float]) -> Material:
    """Return a material that a person added as one of the catalogue; unknown stays unknown."""
    figures: dict[str, tuple[Figure, ...]] = {}
    parts: tuple[Component, ...] = ()
    if own.pressure_pa and own.molar_mass:
        error = own.log_error or 0.0
        band = own.pressure_pa / 10.0**error, own.pressure_pa * 10.0**error
        figures["vapour_pressure"] = (
            Figure(own.pressure_pa, "Pa", own.pressure_basis, own.pressure_source, *band, "liquid"),
        )
        part = Component(
            own.slug, 1.0, own.pressure_pa, own.molar_mass, None, error, own.pressure_basis or "memory"
        )
        if own.strength:
            met = float(evaporation.first_concentrations([part], 0.01)[0])
            decades = parameters[f"class {own.strength}"]
            part = replace(part, curve=strength.typical_curve(decades, met, "class", own.strength_basis))
        parts = (part,)
    material = Material(
        slug=own.slug,
        name=own.name,
        cas=own.cas,
        cas_more=(),
        kind=own.kind,
        form=own.form,
        role="palette",
        smiles=own.smiles,
        molar_mass=own.molar_mass,
        labels=own.labels,
        figures=figures,
        parts=parts,
    )
    return with_lasting([material], parameters)[0] if parts else material


def labels_from_words(text: str, palette: Palette, field: str = "smells") -> tuple[Label, ...]:
    """Return labels from words such as "rose 3, honey 1"; without a number a smell is clear (2).

    Raises
    ------
    UnknownFacet
        A word is not known.
    BadValue
        A strength that is not 1, 2 or 3; a word for several smells; one given twice; a refusal.
    """
    labels, refused = _smells(text, palette, field)
    if refused:
        raise BadValue(field, text, f"name only what it smells of; leave out {', '.join(refused)}")
    return labels


MOST_LABELS = 8
"""How many smells a likeness gives at most, as many as a material of the tables has."""
_BETWEEN_NAMES = re.compile(r"(?:;|(?<!\d),|,(?!\d))(?![^(]*\))")
"""What parts names: no comma between digits or in brackets, as in 2,3-pentanedione."""


def labels_like(text: str, palette: Palette, field: str = "like") -> tuple[tuple[Label, ...], str]:
    """Return the labels of what smells like some materials, and these in words: "2 vanillin, 1 coumarin".

    Each facet has the mean of its weights in them, a weight where it has none being 0, rounded to the nearest
    strength; what is less than half a trace falls away, and the eight strongest stay.

    Raises
    ------
    UnknownMaterial, WrongCas
    BadValue
        No name, a material without a smell on record, or an amount of 0.
    """
    parts = [part.strip() for part in _BETWEEN_NAMES.split(text) if part.strip()]
    if not parts:
        raise BadValue(
            field, text, 'name materials, such as "vanillin, coumarin" or "2 vanillin, 1 coumarin"'
        )
    found: dict[str, float] = {}
    amounts, words = [], []
    for part in parts:
        amount, material = _so_much_of(part, palette.catalogue)
        if amount <= 0:
            raise BadValue(field, part, "its amount is above 0")
        if not material.labels:
            raise BadValue(field, material.name, "no smell is on record for it")
        for label in material.labels:
            found[label.facet] = found.get(label.facet, 0.0) + amount * label.weight
        amounts.append(amount)
        words.append(material.name)
    if len(set(amounts)) > 1:
        words = [f"{amount:g} {name}" for amount, name in zip(amounts, words, strict=True)]
    means = sorted(((-value / sum(amounts), facet) for facet, value in found.items()))[:MOST_LABELS]
    labels = [Label(facet, nearest, "user") for mean, facet in means if (nearest := _nearest(-mean))]
    return tuple(labels), ", ".join(words)


def _so_much_of(text: str, catalogue: Catalogue) -> tuple[float, Material]:
    """Return a material with the amount before its name, 1 where there is none."""
    amount = re.fullmatch(r"(\d+(?:\.\d+)?)\s+(.+)", text)
    if amount is None or catalogue.meanings(text):
        return 1.0, catalogue.find(text)
    return float(amount[1]), catalogue.find(amount[2])


def _nearest(weight: float) -> int:
    """Return the strength whose weight is nearest, 0 for none; halfway counts for the stronger."""
    weights = {0: 0.0, **LABEL_WEIGHTS}
    return min(weights, key=lambda strength: (round(abs(weights[strength] - weight), 9), -strength))


def own_smells(
    text: str, denied: Words, palette: Palette, fields: tuple[str, str] = ("smells", "denied")
) -> tuple[tuple[Label, ...], tuple[str, ...]]:
    """Return labels, and the facets that a material does not smell of: those of `denied`, and "not violet".

    Raises
    ------
    UnknownFacet
    BadValue
        As `labels_from_words`; or a facet is in both.
    """
    labels, refused = _smells(text, palette, fields[0]) if text.strip() else ((), ())
    named = [f for phrase in palette.avoided(denied, fields[1]) for f in (*phrase.facets, *phrase.refused)]
    absent = tuple(dict.fromkeys((*refused, *named)))
    if both := [label.facet for label in labels if label.facet in absent]:
        raise BadValue(fields[1], both[0], f"it is in {{{fields[0]}}} too; take it out of one")
    return labels, absent


def _smells(text: str, palette: Palette, field: str) -> tuple[tuple[Label, ...], tuple[str, ...]]:
    """Return the labels in a text, and the facets that it refuses."""
    found: dict[str, Label] = {}
    refused: list[str] = []
    for part in re.split(r"[,;]", text):
        match = re.fullmatch(r"\s*(?P<words>.*?)\s*[:=]?\s*(?P<strength>\d+)?\s*", part)
        if match is None or not match["words"]:
            continue
        phrase = exactly(palette.phrase(match["words"]))
        if phrase.refused:
            if phrase.facets or match["strength"]:
                raise BadValue(
                    field, part.strip(), 'write it apart and without a number: "rose 3, not violet"'
                )
            refused += phrase.refused
            continue
        strength_of = int(match["strength"] or 2)
        if strength_of not in (1, 2, 3):
            raise BadValue(field, part.strip(), "a strength is 1 (trace), 2 (clear) or 3 (leading)")
        facet = _one_facet(match["words"], phrase, palette, field)
        if facet in found:
            raise BadValue(field, facet, "it is given twice")
        found[facet] = Label(facet, strength_of, "user")
    if not found and not refused:
        raise BadValue(field, text, 'write it as "rose 3, honey 1"')
    return tuple(sorted(found.values(), key=lambda label: -label.strength)), tuple(refused)


def _one_facet(words: str, phrase: Phrase, palette: Palette, field: str) -> str:
    """Return the one facet that words mean; a facet's own name is no umbrella here."""
    named = {plain(facet.name): facet.name for facet in palette.catalogue.facets}
    if (exact := named.get(plain(words))) is not None:
        return exact
    if phrase.ignored:
        raise UnknownFacet(phrase.ignored[0])
    if len(phrase.facets) > 1:
        several = ", ".join(phrase.facets)
        raise BadValue(field, words, f"it means {several}: name one, each with its strength")
    return next(iter(phrase.facets))
