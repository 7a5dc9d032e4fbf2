"""What practice says against a material: how it does in a product, whether it colours, what it costs.

A value that speaks against it bars it; one that is middling, or not on record, is a drawback and moves no
rank, but that what may be hard to buy comes last where it has to be available.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import combinations

from recommender.formulas.formula import amounts
from recommender.model import (
    AMINE,
    AVAILABILITY,
    HARDLY,
    PRICES,
    PRODUCTS,
    Findings,
    Formula,
    Material,
    PracticeFact,
    Suggestion,
)
from recommender.reasons import PracticeDrawback, PriceClasses, Reason
from recommender.suggest.availability import by_price_class
from recommender.suggest.request import Request

COLOURED = ("coloured", "dark")
DISCOLOURS = "discolours"
"""Kind of the caution that a material colours a product; it counts where nothing else is on record."""
CHANGES = ("yellows", "browns", DISCOLOURS)
MUCH_DEARER = 2
"""Classes of price by which a stand-in is much dearer, whatever the reason to replace."""


def does_poorly(material: Material, product: str) -> list[str]:
    """Return that a material does poorly in a product, with the reason on record."""
    fact = material.in_practice(product)
    if fact is None or fact.value != "poor":
        return []
    return [f"{material.name} does poorly in {PRODUCTS[product]}{_why(fact)}."]


def colours(material: Material) -> list[str]:
    """Return that a material is coloured as sold, or colours a product in time."""
    sold, later = material.in_practice("colour"), material.in_practice("colour in time")
    if sold is not None and sold.value in COLOURED:
        return [f"{material.name} is {sold.value} as sold{_why(sold)}."]
    if later is not None:
        return [f"{material.name} {later.value} in time{_why(later)}."] if later.value in CHANGES else []
    warned = (c for c in material.cautions if c.kind == DISCOLOURS)
    return [f"{material.name} discolours: {caution.text}" for caution in warned][:1]


def makes_schiff_base(material: Material, others: Iterable[Material]) -> list[str]:
    """Return with which of some others a material makes a coloured Schiff base."""
    found = [other.name for other in others if _condense(material, other)]
    if not found:
        return []
    named = found[0] if len(found) == 1 else f"{', '.join(found[:-1])} and {found[-1]}"
    return [f"{material.name} makes a coloured Schiff base with {named}."]


def condense_among(materials: Iterable[Material]) -> bool:
    """Return whether two of some materials make a coloured Schiff base with each other."""
    return any(_condense(*both) for both in combinations(materials, 2))


def _condense(one: Material, other: Material) -> bool:
    sides = {one.schiff_base, other.schiff_base}
    return len(sides) == 2 and AMINE in sides and "" not in sides


def hardly_available(material: Material, request: Request) -> list[str]:
    """Return that a material is hardly to be had and not on the shelf."""
    if material.availability != HARDLY or _on_shelf(material, request):
        return []
    return [f"{material.name} is {HARDLY}."]


def _on_shelf(material: Material, request: Request) -> bool:
    return request.shelf is not None and material.slug in request.shelf.by_material


def _why(fact: PracticeFact) -> str:
    """Return the note on a fact and what it rests on, to stand at the end of a sentence.

    >>> _why(PracticeFact("soap", "poor", "memory", note="browns"))
    ': browns (memory)'
    """
    return f"{f': {fact.note}' if fact.note else ''} ({fact.basis})"


# what is offered with a drawback


def with_practice(found: Findings, request: Request, replaced: Material | None = None) -> Findings:
    """Return findings with the drawbacks that practice knows of each suggestion under the filters.

    Where a material is `replaced` their price classes are compared.
    """
    suggestions = tuple(_with_practice(one, request, replaced) for one in found.suggestions)
    return replace(found, suggestions=suggestions)


def _with_practice(found: Suggestion, request: Request, replaced: Material | None) -> Suggestion:
    carriers = [member for member, _ in found.members] or [found.material]
    more: list[Reason] = [reason for one in carriers for reason in drawbacks(one, request)]
    replaced = found.instead_of or replaced
    if replaced is not None:
        new = (one for one in carriers if one.slug != replaced.slug)
        more += [reason for one in new for reason in prices(one, replaced, request)]
    return replace(found, reasons=(*found.reasons, *more)) if more else found


def drawbacks(material: Material, request: Request) -> list[PracticeDrawback]:
    """Return what is poor, middling, coloured or not on record of a material under the filters."""
    found = []
    if request.product is not None:
        fact = material.in_practice(request.product)
        if fact is None or fact.value != "good":
            found.append(_drawback(material, request.product, fact))
    if request.colourless:
        for quality, bad in (("colour", COLOURED), ("colour in time", CHANGES)):
            fact = material.in_practice(quality) or _discolouring(material, quality)
            if fact is None or fact.value in bad:
                found.append(_drawback(material, quality, fact))
    if request.available and material.availability not in AVAILABILITY and not _on_shelf(material, request):
        found.append(_drawback(material, "availability", None))
    return found


def _discolouring(material: Material, quality: str) -> PracticeFact | None:
    """Return the caution that a material discolours as a fact on what light and air do to it."""
    warned = (c for c in material.cautions if c.kind == DISCOLOURS and quality == "colour in time")
    return next((PracticeFact(quality, DISCOLOURS, c.basis, c.source, c.text) for c in warned), None)


def _drawback(material: Material, quality: str, fact: PracticeFact | None) -> PracticeDrawback:
    if fact is None:
        return PracticeDrawback(material.name, quality, None, "")
    return PracticeDrawback(
        material.name, quality, fact.value, fact.note, basis=fact.basis, source=fact.source
    )


# what was asked about


def with_asked(
    found: Findings, request: Request, asked: Material | None, formula: Formula | None = None
) -> Findings:
    """Return findings with what practice has against the asked material and the lines of its formula."""
    itself = () if asked is None else tuple(drawbacks(asked, replace(request, available=False)))
    notes = [] if formula is None else about_lines(formula, request, asked)
    return replace(found, itself=itself, notes=tuple(dict.fromkeys((*notes, *found.notes))))


def about_lines(formula: Formula, request: Request, asked: Material | None = None) -> list[str]:
    """Return which lines of a formula, `asked` left out, are poor in the product, or colour it."""
    lines = [a.material for a in amounts(formula) if asked is None or a.material.slug != asked.slug]
    notes = []
    if request.product is not None:
        facts = [(line.name, line.in_practice(request.product)) for line in lines]
        poor = [_named(name, fact.note) for name, fact in facts if fact and fact.value == "poor"]
        if poor:
            notes.append(f"In {formula.name}, poor in {PRODUCTS[request.product]}: {', '.join(poor)}.")
    if request.colourless:
        if found := [text for line in lines for text in colours(line)]:
            named = "; ".join(text.removesuffix(".") for text in found)
            notes.append(f"In {formula.name}, not colourless: {named}.")
        notes += [
            text for line in lines if line.schiff_base == AMINE for text in makes_schiff_base(line, lines)
        ]
    return notes


def _named(name: str, note: str) -> str:
    return f"{name} ({note})" if note else name


# prices


def prices(offered: Material, asked: Material, request: Request) -> Sequence[Reason]:
    """Return how the price classes compare, where that decides: much dearer, or any step if price is why.

    That they are the same matters only where they stand for the prices of a shelf.
    """
    own, other = offered.in_practice("price"), asked.in_practice("price")
    if own is None or other is None:
        return ()
    steps = PRICES.index(own.value) - PRICES.index(other.value)
    counts = request.because == "price" and (steps != 0 or by_price_class(asked, request))
    if steps < MUCH_DEARER and not counts:
        return ()
    basis = "memory" if "memory" in (own.basis, other.basis) else own.basis
    return (PriceClasses(offered.name, own.value, other.value, basis=basis, source=own.source),)
