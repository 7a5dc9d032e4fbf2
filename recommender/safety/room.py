"""What one more material would do: room under the limits, ratios raised, labels lengthened."""

from collections.abc import Sequence
from dataclasses import dataclass

from recommender.catalogue import Catalogue
from recommender.model import Amount, Limit, Material
from recommender.safety.contents import Substance, substances
from recommender.safety.exposure import Wear, counted, covering
from recommender.safety.labels import listed

TELLING = 0.01
"""A ratio that ends below this is not worth a word."""


@dataclass(frozen=True, slots=True)
class Raised:
    """A limit that a material counts against: the substance, the limit [%], how it is held, the ratios.

    `through` tells that it comes with a natural. `share` is the mass fraction of it in the material;
    `before` is the use ratio without it; None where no dosage is said.
    """

    name: str
    through: bool
    limit: Limit
    percent: float
    share: float
    before_share: float


@dataclass(frozen=True)
class Room:
    """What limits leave for a material: at most so many parts per thousand, None where nothing bounds it."""

    parts: float | None
    set_by: Raised | None
    raised: tuple[Raised, ...]
    labels: tuple[tuple[str, float], ...]

    def ratios(self, found: Raised, parts: float, dosage: float) -> tuple[float, float]:
        """Return the use ratio of a limit before and after so many parts per thousand are added."""
        x = parts / 1000.0
        after = (1.0 - x) * found.before_share + x * found.share
        return dosage * found.before_share / found.percent, dosage * after / found.percent


def room(material: Material, catalogue: Catalogue, wear: Wear, rest: Sequence[Amount] = ()) -> Room:
    """Return what limits leave for a material beside others.

    Parameters
    ----------
    rest : sequence of Amount
        What it is added to, as mass fractions of the whole (the concentrate without it).
    """
    own = substances([Amount(material, 1.0)], catalogue)
    there = substances(rest, catalogue) if rest else []
    held: list[Raised] = []
    for substance in own:
        for limit in covering(substance, catalogue.limits_by_key):
            percent = limit.percent.get(wear.category)
            if percent is None or any(limit is r.limit for r in held):
                continue
            if wear.market == "standards" and limit.market != "standards":
                continue
            share = sum(s.fraction for s in counted(limit, own))
            before = sum(s.fraction for s in counted(limit, there))
            if share > before:
                held.append(
                    Raised(substance.name, substance.key != material.slug, limit, percent, share, before)
                )
    least, set_by = None, None
    if wear.dosage is not None:
        for found in held:
            most = (
                1000.0
                * (found.percent / wear.dosage - found.before_share)
                / (found.share - found.before_share)
            )
            if most < (1000.0 if least is None else least):
                least, set_by = max(most, 0.0), found
        if (most := _phototoxic_room(own, there, catalogue, wear)) < (1000.0 if least is None else least):
            least = most
            set_by = next((r for r in held if r.limit.sum_group), None)
    known = {name for a in rest for name in listed(a.material, catalogue)}
    new = tuple((name, share) for name, share in listed(material, catalogue).items() if name not in known)
    return Room(least, set_by, tuple(sorted(held, key=lambda r: r.percent / r.share)), new)


def _phototoxic_room(
    own: Sequence[Substance], there: Sequence[Substance], catalogue: Catalogue, wear: Wear
) -> float:
    """Return the parts per thousand at which phototoxic oils together reach the sum of 1."""
    dosage = wear.dosage or 0.0
    one, rest = (_uses(found, catalogue, wear.category, dosage) for found in (own, there))
    if not one or not rest or one <= rest:
        return float("inf")
    return max(0.0, 1000.0 * (1.0 - rest) / (one - rest))


def _uses(found: Sequence[Substance], catalogue: Catalogue, category: str, dosage: float) -> float:
    total = 0.0
    for substance in found:
        limits = covering(substance, catalogue.limits_by_key)
        percents = [x.percent[category] for x in limits if x.sum_group and category in x.percent]
        total += dosage * substance.fraction / min(percents) if percents else 0.0
    return total
