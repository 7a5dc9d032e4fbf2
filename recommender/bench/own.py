"""The bench under a person's own notebook: their materials placed, and what their nose changes worked out."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace

from recommender import drydown, strength
from recommender.bench.bench import Bench
from recommender.catalogue import Catalogue, plain
from recommender.catalogue.own import Own, OwnMaterial, lay_over, with_limits
from recommender.errors import BadValue, UnknownFacet
from recommender.model import Component, Figure, Label, Material
from recommender.phrases import Phrase, Words


def laid_over(bench: Bench, own: Own) -> Bench:
    """Return the bench with a person's own laid over it."""
    catalogue = with_limits(bench.catalogue, own)
    if not own.notes and not own.materials:
        return replace(bench, catalogue=replace(catalogue, own_names=own.names))
    parameters = catalogue.parameters
    catalogue = lay_over(catalogue, own, [built(m, parameters) for m in own.materials])
    if louder := [m for m in catalogue.materials if m.own and m.own.strength and m.parts]:
        catalogue = _measured(catalogue, louder)
    return Bench.of(catalogue)


def _measured(catalogue: Catalogue, changed: Iterable[Material]) -> Catalogue:
    """Return the catalogue with strength and hours of some materials worked out again."""
    fresh = {m.slug: m for m in worked_out(list(changed), catalogue.parameters)}
    return replace(catalogue, materials=tuple(fresh.get(m.slug, m) for m in catalogue.materials))


def worked_out(materials: list[Material], parameters: Mapping[str, float]) -> list[Material]:
    """Return materials with strength and hours as their parts say; hours of naturals stay as they are."""
    borders = parameters["top_until_hours"], parameters["heart_until_hours"]
    stays, strengths = drydown.lasting(materials, *borders), drydown.strengths(materials)
    return [
        replace(m, strength=own, lasting=m.lasting if m.kind == "natural" and m.lasting else stay)
        for m, stay, own in zip(materials, stays, strengths, strict=True)
    ]


def built(own: OwnMaterial, parameters: Mapping[str, float]) -> Material:
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
            curve = drydown.settle_curve(part, (), strength.CLASSES[own.strength], own.strength_basis)
            part = replace(part, curve=curve)
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
    return worked_out([material], parameters)[0] if parts else material


def smells_of(text: str, bench: Bench, option: str = "--smells") -> tuple[Label, ...]:
    """Return labels from words such as "rose 3, honey 1"; without a number a smell is clear (2).

    Raises
    ------
    UnknownFacet
        A word is not known.
    BadValue
        A strength that is not 1, 2 or 3; a word that stands for several smells; one said twice; a refusal.
    """
    labels, refused = _smells(text, bench, option)
    if refused:
        raise BadValue(option, text, f"name only what it smells of; leave out {', '.join(refused)}")
    return labels


def own_smells(
    text: str, denied: Words, bench: Bench, options: tuple[str, str] = ("--smells", "--not")
) -> tuple[tuple[Label, ...], tuple[str, ...]]:
    """Return labels, and the facets that a material does not smell of: those of `denied`, and "not violet".

    Raises
    ------
    UnknownFacet
    BadValue
        As `smells_of`; or a facet is in both.
    """
    labels, refused = _smells(text, bench, options[0]) if text.strip() else ((), ())
    named = [f for phrase in bench.avoided(denied, options[1]) for f in (*phrase.facets, *phrase.refused)]
    absent = tuple(dict.fromkeys((*refused, *named)))
    if both := [label.facet for label in labels if label.facet in absent]:
        raise BadValue(options[1], both[0], f"it stands in {options[0]} too; take it out of one")
    return labels, absent


def _smells(text: str, bench: Bench, option: str) -> tuple[tuple[Label, ...], tuple[str, ...]]:
    """Return the labels in a text, and the facets that it refuses."""
    found: dict[str, Label] = {}
    refused: list[str] = []
    for part in re.split(r"[,;]", text):
        told = re.fullmatch(r"\s*(?P<words>.*?)\s*[:=]?\s*(?P<strength>\d+)?\s*", part)
        if told is None or not told["words"]:
            continue
        phrase = bench.phrase(told["words"])
        if phrase.refused:
            if phrase.facets or told["strength"]:
                raise BadValue(
                    option, part.strip(), 'write it apart and without a number: "rose 3, not violet"'
                )
            refused += phrase.refused
            continue
        strength_of = int(told["strength"] or 2)
        if strength_of not in (1, 2, 3):
            raise BadValue(option, part.strip(), "a strength is 1 (trace), 2 (clear) or 3 (leading)")
        facet = _one_facet(told["words"], phrase, bench, option)
        if facet in found:
            raise BadValue(option, facet, "it is said twice")
        found[facet] = Label(facet, strength_of, "user")
    if not found and not refused:
        raise BadValue(option, text, 'write it as "rose 3, honey 1"')
    return tuple(sorted(found.values(), key=lambda label: -label.strength)), tuple(refused)


def _one_facet(words: str, phrase: Phrase, bench: Bench, option: str) -> str:
    """Return the one facet that words stand for; a facet's own name is no umbrella here."""
    named = {plain(facet.name): facet.name for facet in bench.catalogue.facets}
    if (exact := named.get(plain(words))) is not None:
        return exact
    if phrase.ignored:
        raise UnknownFacet(phrase.ignored[0])
    if len(phrase.facets) > 1:
        several = ", ".join(phrase.facets)
        raise BadValue(option, words, f"it stands for {several}: name one, each with its strength")
    return next(iter(phrase.facets))
