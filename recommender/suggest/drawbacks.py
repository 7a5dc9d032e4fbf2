"""What makes a material hard to use, and whether a stand-in brings it back."""

from collections.abc import Mapping, Sequence

import numpy as np

from recommender.model import Material, Reason
from recommender.palette import Array, Palette
from recommender.regulation import prohibitions
from recommender.suggest.request import MaterialQuery

DRAWBACKS: Mapping[str, float] = {
    "toxic vapour": 0.5,
    "regulated": 0.6,
    "phototoxic": 0.6,
    "discolours": 0.7,
    "schiff base": 0.9,
    "sensitiser": 0.9,
}
"""What a stand-in is worth if it shares a trouble with what it stands for: people swap to be rid of one."""
NEW_DRAWBACK = 0.6
"""A trouble that only the stand-in has counts as its worth to this power."""
ACETAL = 0.5
"""An acetal of the asked aldehyde is milder and lacks its bite (common practice)."""


def drawbacks(material: Material, palette: Palette, market: str) -> set[str]:
    """Return the troubles of a material; one that is prohibited counts as regulated."""
    found = {caution.kind for caution in material.cautions} & DRAWBACKS.keys()
    return found | {"regulated"} if prohibitions(material, palette.catalogue.limits, market) else found


def is_acetal(asked: Material, offered: Material, palette: Palette) -> bool:
    """Tell whether one material is an acetal of the other."""
    return any(relation.kind == "acetal-of" for relation in palette.graph.between(asked.slug, offered.slug))


def untroubled(question: MaterialQuery, rows: Sequence[int]) -> dict[str, Array]:
    """Return how free each stand-in is of trouble, above all of that of the asked, within (0, 1]."""
    palette, market = question.palette, question.request.market
    own, worth = drawbacks(question.asked, palette, market), np.ones(len(rows))
    for place, material in enumerate(palette.materials(rows)):
        for kind in drawbacks(material, palette, market):
            worth[place] *= DRAWBACKS[kind] ** (1.0 if kind in own else NEW_DRAWBACK)
        if is_acetal(question.asked, material, palette):
            worth[place] *= ACETAL
    return {"untroubled": worth}


def drawback_reasons(question: MaterialQuery, offered: Material) -> tuple[Reason, ...]:
    """Return what a stand-in shares of the trouble of the asked."""
    palette, market = question.palette, question.request.market
    if question.verb != "replace":
        return ()
    both = drawbacks(question.asked, palette, market) & drawbacks(offered, palette, market)
    found = []
    if both:
        bases = {caution.basis for caution in offered.cautions if caution.kind in both}
        basis = "memory" if "memory" in bases else "common practice"
        found.append(Reason("same trouble", {"kinds": [kind for kind in DRAWBACKS if kind in both]}, basis))
    if is_acetal(question.asked, offered, palette):
        found.append(Reason("milder", {}, "common practice"))
    return tuple(found)
