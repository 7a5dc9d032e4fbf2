"""What makes a material hard to use, and whether a stand-in brings it back."""

from collections.abc import Mapping, Sequence

import numpy as np

from recommender.bench import Array, Bench
from recommender.model import Material, Reason
from recommender.safety import prohibitions
from recommender.suggest.question import Question

TROUBLES: Mapping[str, float] = {
    "toxic vapour": 0.5,
    "regulated": 0.6,
    "phototoxic": 0.6,
    "discolours": 0.7,
    "schiff base": 0.9,
    "sensitiser": 0.9,
}
"""What a stand-in is worth if it shares a trouble with what it stands for: people swap to be rid of one."""
NEW_TROUBLE = 0.6
"""A trouble that only the stand-in has counts as its worth to this power."""
ACETAL = 0.5
"""An acetal of the asked aldehyde is milder and lacks its bite (common practice)."""


def troubles(material: Material, bench: Bench, market: str) -> set[str]:
    """Return the troubles of a material; one that is prohibited counts as regulated."""
    found = {caution.kind for caution in material.cautions} & TROUBLES.keys()
    return found | {"regulated"} if prohibitions(material, bench.catalogue.limits, market) else found


def is_acetal(asked: Material, offered: Material, bench: Bench) -> bool:
    """Tell whether one material is an acetal of the other."""
    return any(relation.kind == "acetal-of" for relation in bench.graph.between(asked.slug, offered.slug))


def untroubled(question: Question, rows: Sequence[int]) -> dict[str, Array]:
    """Return how free each stand-in is of trouble, above all of that of the asked, within (0, 1]."""
    bench, market = question.bench, question.wish.market
    own, worth = troubles(question.asked, bench, market), np.ones(len(rows))
    for place, material in enumerate(bench.materials(rows)):
        for kind in troubles(material, bench, market):
            worth[place] *= TROUBLES[kind] ** (1.0 if kind in own else NEW_TROUBLE)
        if is_acetal(question.asked, material, bench):
            worth[place] *= ACETAL
    return {"untroubled": worth}


def told(question: Question, offered: Material) -> tuple[Reason, ...]:
    """Return what a stand-in shares of the trouble of the asked."""
    bench, market = question.bench, question.wish.market
    if question.verb != "replace":
        return ()
    both = troubles(question.asked, bench, market) & troubles(offered, bench, market)
    found = []
    if both:
        held = {caution.basis for caution in offered.cautions if caution.kind in both}
        basis = "memory" if "memory" in held else "common practice"
        found.append(Reason("same trouble", {"kinds": [kind for kind in TROUBLES if kind in both]}, basis))
    if is_acetal(question.asked, offered, bench):
        found.append(Reason("milder", {}, "common practice"))
    return tuple(found)
