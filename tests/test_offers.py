"""Whether a prohibited material is ever offered: materials of the catalogue x three verbs.

Prohibitions are read from data/limits.csv directly, not through the stage that filters. A seeded sample is
asked about; all materials with RECOMMENDER_FAULTS=all (some minutes).
"""

import os
import random
from pathlib import Path

import asking
import numpy as np
import pytest

from recommender.errors import RecommenderError
from recommender.evidence.sheets import read
from recommender.palette import shipped
from recommender.suggest import eligibility

pytestmark = pytest.mark.faults

LIMITS = Path(__file__).resolve().parent.parent / "data" / "limits.csv"
MARKETS = ("any", "eu", "standards")
TOWARD = ("vanilla", "smoke", "rose", "green apple", "less sweet")
SAMPLE = 8


def barred_slugs(market):
    """Return the keys of the materials that a prohibition names by CAS number or key."""
    found = set()
    for row in read(LIMITS, ("kind", "market", "cas", "materials", "excepted")):
        if row["kind"] == "prohibition" and market in ("any", row["market"]):
            numbers, keys, excepted = (set(row.list(name)) for name in ("cas", "materials", "excepted"))
            found |= {
                m.slug
                for m in shipped().catalogue.materials
                if (numbers & set(m.cas_all) or m.slug in keys) and m.slug not in excepted
            }
    return found


def asked_about(market):
    """Return all materials, or a sample of them with the nearest of some prohibited ones."""
    palette = shipped()
    slugs = [m.slug for m in palette.catalogue.materials]
    if os.environ.get("RECOMMENDER_FAULTS") == "all":
        return slugs
    chance = random.Random(f"offers {market}")
    likeness = palette.space.all_likeness() - 2 * np.eye(len(slugs))
    barred = sorted(barred_slugs(market))
    some = chance.sample(barred, min(SAMPLE // 2, len(barred)))
    near = [slugs[int(likeness[palette.catalogue.index[slug]].argmax())] for slug in some]
    return list(dict.fromkeys([*near, *chance.sample(slugs, SAMPLE - len(near))]))


def prohibited_offers(market):
    """Return the offers of prohibited materials, and how many offers there were."""
    palette, barred, wrong, offers = shipped(), barred_slugs(market), [], 0
    for place, name in enumerate(asked_about(market)):
        for verb in ("extend", "replace", "vary", "pair"):
            toward = TOWARD[place % len(TOWARD)] if verb == "vary" else None
            try:
                found = getattr(asking, verb)(name, palette, toward=toward, market=market, top=50)
            except RecommenderError:
                continue  # a material without a smell has to be asked with a facet
            offers += len(found.suggestions)
            wrong += [
                f"{verb} {name} offers {suggestion.material.name}"
                for suggestion in found.suggestions
                if suggestion.material.slug in barred
            ]
    return wrong, offers


@pytest.mark.parametrize("market", MARKETS)
def test_no_prohibited_material_is_offered(market):
    assert barred_slugs(market)
    wrong, offers = prohibited_offers(market)
    assert wrong == []
    assert offers > 100


def test_the_count_sees_a_filter_that_is_switched_off(monkeypatch):
    rules = tuple(rule for rule in eligibility.RULES if rule is not eligibility.prohibited)
    monkeypatch.setattr(eligibility, "RULES", rules)
    palette = shipped()
    materials = palette.catalogue.materials
    likeness = palette.space.all_likeness() - 2 * np.eye(len(materials))
    barred = sorted(m.slug for m in materials if m.slug in barred_slugs("any") and m.role == "palette")
    near = [materials[int(likeness[palette.catalogue.index[slug]].argmax())].slug for slug in barred[:4]]
    monkeypatch.setitem(globals(), "asked_about", lambda market: near)
    wrong, _ = prohibited_offers("any")
    assert wrong
