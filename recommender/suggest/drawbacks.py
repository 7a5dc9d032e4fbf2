"""What makes a material hard to use, and whether a stand-in brings it back."""

from collections.abc import Mapping, Sequence

import numpy as np

from recommender.model import Material
from recommender.palette import Array, Palette
from recommender.reasons import MilderAcetal, Reason, SharedDrawbacks
from recommender.regulation import prohibitions
from recommender.suggest.query import MaterialQuery

DRAWBACKS: Mapping[str, float] = {
    "toxic vapour": 0.5,
    "regulated": 0.6,
    "phototoxic": 0.6,
    "discolours": 0.7,
    "schiff base": 0.9,
    "sensitiser": 0.9,
}
"""Factor on the worth of a stand-in for each drawback it shares: people replace a material to avoid one."""
NEW_DRAWBACK = 0.6
"""Exponent on that factor for a drawback that only the stand-in has, where law or care is the reason."""
ACETAL = 0.5
"""Factor on the worth of an acetal of the asked aldehyde, which is milder (common practice)."""


def drawbacks(material: Material, palette: Palette, market: str) -> set[str]:
    """Return the drawbacks of a material; one that is prohibited counts as regulated."""
    found = {caution.kind for caution in material.cautions} & DRAWBACKS.keys()
    return found | {"regulated"} if prohibitions(material, palette.catalogue.entries, market) else found


def is_acetal(asked: Material, offered: Material, palette: Palette) -> bool:
    """Return whether one material is an acetal of the other."""
    return any(relation.kind == "acetal-of" for relation in palette.graph.between(asked.slug, offered.slug))


def untroubled(question: MaterialQuery, rows: Sequence[int]) -> dict[str, Array]:
    """Return how free each stand-in is of drawbacks, within (0, 1].

    What is hard to use itself is presumably replaced because of that, so a drawback of the asked material
    counts where no reason is named; one that only the stand-in has counts where law is the reason. Where
    another reason is named no drawback counts and there is no such term.
    """
    if question.request.because not in (None, "law"):
        return {}
    palette, market = question.palette, question.request.market
    own, worth = drawbacks(question.asked, palette, market), np.ones(len(rows))
    new = NEW_DRAWBACK if question.request.because else 0.0
    for place, material in enumerate(palette.materials(rows)):
        for kind in drawbacks(material, palette, market):
            worth[place] *= DRAWBACKS[kind] ** (1.0 if kind in own else new)
        if is_acetal(question.asked, material, palette):
            worth[place] *= ACETAL
    return {"untroubled": worth}


def drawback_reasons(question: MaterialQuery, offered: Material) -> tuple[Reason, ...]:
    """Return which drawbacks of the asked material a stand-in shares."""
    palette, market = question.palette, question.request.market
    if question.verb != "replace":
        return ()
    both = drawbacks(question.asked, palette, market) & drawbacks(offered, palette, market)
    found: list[Reason] = []
    if both:
        bases = {caution.basis for caution in offered.cautions if caution.kind in both}
        basis = "memory" if "memory" in bases else "common practice"
        found.append(SharedDrawbacks(tuple(kind for kind in DRAWBACKS if kind in both), basis=basis))
    if is_acetal(question.asked, offered, palette):
        found.append(MilderAcetal(basis="common practice"))
    return tuple(found)
