"""Allergens of the label: what has to be named, from which amount on."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from recommender.evidence.catalogue import Catalogue
from recommender.model import Allergen, Amount, Material
from recommender.regulation.constituents import Substance, substances
from recommender.regulation.limits import counted, covering

DECLARED_ABOVE: Mapping[str, float] = {"leave-on": 0.001, "rinse-off": 0.01, "not a cosmetic": 0.001}
"""Amount in the finished product above which an allergen is named [% by mass], by use.

References
----------
Regulation (EC) No 1223/2009, Annex III, as amended by Regulation (EU) 2023/1545. What is no cosmetic
has labelling law of its own; the stricter figure is used for it.
"""

NEW_FROM, ALL_FROM = "2026-07-31", "2028-07-31"
"""Dates of Regulation (EU) 2023/1545: new products name its allergens; older ones may be sold until then."""


def required_by(allergen: Allergen) -> str:
    """Return whose law wants a name on the label, as in the column `market` of the limits.

    Regulation (EU) 2023/1545 was adopted when Great Britain had a law of its own.
    """
    return "eu" if allergen.added == "2023" else "eu; gb"


@dataclass(frozen=True, slots=True)
class LabelEntry:
    """An allergen in a product: all that is added up under its name [% by mass], and from where."""

    allergen: Allergen
    percent: float
    named: bool
    through: tuple[str, ...]


def declared(
    present: Sequence[Substance], catalogue: Catalogue, dosage_percent: float, use: str
) -> list[LabelEntry]:
    """Return the listed allergens in a product, the most first; `named` are those above the amount."""
    rules: dict[str, Allergen] = {}
    for substance in present:
        rules |= {rule.name: rule for rule in covering(substance, catalogue.allergens_by_key)}
    found = []
    for rule in rules.values():
        together = counted(rule, present)
        percent = dosage_percent * sum(s.fraction for s in together)
        named = percent > DECLARED_ABOVE[use] * (1.0 + 1e-9)
        through = dict.fromkeys(name for s in together for name in s.through)
        found.append(LabelEntry(rule, percent, named, tuple(through)))
    return sorted(found, key=lambda d: (-d.percent, d.allergen.name))


def listed(material: Material, catalogue: Catalogue) -> dict[str, float]:
    """Return the label names that a material brings along, itself or through its constituents.

    With the share of the material that it makes up, at the high end (1 for itself).
    """
    present = substances([Amount(material, 1.0)], catalogue)
    return {found.allergen.name: found.percent for found in declared(present, catalogue, 1.0, "leave-on")}
