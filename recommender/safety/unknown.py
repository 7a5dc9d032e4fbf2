"""What is known to be in a natural, of which no share is held: told, and not taken as nothing."""

from collections.abc import Sequence
from dataclasses import dataclass

from recommender.catalogue import Catalogue
from recommender.model import Material
from recommender.safety.contents import Substance
from recommender.safety.exposure import covering


@dataclass(frozen=True, slots=True)
class Unknown:
    """A substance known to be in a natural, how much of it is not held."""

    natural: str
    substance: Material
    why: str


def unknown_in(
    naturals: Sequence[Material], present: Sequence[Substance], catalogue: Catalogue
) -> list[Unknown]:
    """Return limited, prohibited or listed substances known to be in a natural, of which no share is held."""
    found = []
    for natural in naturals:
        held = {content.name for content in natural.contents if content.low is not None}
        told = {content.name for content in natural.contents} | {
            r.start for r in catalogue.relations if r.kind == "constituent-of" and r.end == natural.slug
        }
        for key in sorted(told - held):
            row = catalogue.index.get(key)
            if row is None:
                continue
            own = catalogue.materials[row]
            alone = Substance(own.slug, own.name, own, 0.0, 0.0, {})
            rules = [r for r in covering(alone, catalogue.limits_by_key) if r.kind != "none recalled"]
            why = "limited" if rules else "listed" if covering(alone, catalogue.allergens_by_key) else ""
            if any(r.kind == "prohibition" for r in rules):
                why = "prohibited"
            if why and not any(s.key == key and natural.name in s.through for s in present):
                found.append(Unknown(natural.name, own, why))
    return found
