"""What adding a material does: room left under limits, use ratios raised, names added to the label."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from recommender.evidence.catalogue import Catalogue
from recommender.evidence.markets import market_of
from recommender.model import Amount, Limit, Material
from recommender.regulation.constituents import Substance, substances
from recommender.regulation.labels import listed
from recommender.regulation.limits import ProductUse, counted, covering, rated


@dataclass(frozen=True, slots=True)
class LimitIncrease:
    """A limit that a material counts against.

    `percent` is the limit [% of the product], `share` what counts of the material itself and `before` of what
    it is added to, as mass fractions; `through` means that a natural brings the substance.
    """

    name: str
    through: bool
    limit: Limit
    percent: float
    share: float
    before: float

    def ratios(self, parts: float, dosage_percent: float) -> tuple[float, float]:
        """Return the use ratio without the material and with so many parts per thousand of it."""
        x = parts / 1000.0
        after = (1.0 - x) * self.before + x * self.share
        return dosage_percent * self.before / self.percent, dosage_percent * after / self.percent

    def most(self, dosage_percent: float) -> float:
        """Return the parts per thousand at which the limit is met, 0 where it is met already."""
        return max(0.0, 1000.0 * (self.percent / dosage_percent - self.before) / (self.share - self.before))


def rounded_down(parts: float) -> float:
    """Return parts per thousand with three significant digits, never more than they are.

    >>> rounded_down(123.6), rounded_down(49.99999999), rounded_down(0.0)
    (123.0, 50.0, 0.0)
    """
    if parts <= 0.0:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(parts)) - 2)
    return float(f"{math.floor(round(parts / step, 6)) * step:.3g}")


@dataclass(frozen=True)
class Headroom:
    """What limits leave for a material: at most so many parts per thousand, None where nothing bounds it.

    `raised` are the limits that it counts against, the tightest first; `labels` the names that it adds to the
    label, with the share of the material [mass fraction].
    """

    parts: float | None
    set_by: str | None
    raised: tuple[LimitIncrease, ...]
    labels: tuple[tuple[str, float], ...]


def headroom(
    material: Material, catalogue: Catalogue, use: ProductUse, rest: Sequence[Amount] = ()
) -> Headroom:
    """Return what limits leave for a material beside others.

    Parameters
    ----------
    material : Material
    catalogue : Catalogue
    use : ProductUse
        Without a dosage nothing bounds the parts.
    rest : sequence of Amount
        What it is added to, as mass fractions of the concentrate without it.
    """
    own = substances([Amount(material, 1.0)], catalogue)
    there = substances(rest, catalogue) if rest else []
    increases: dict[int, LimitIncrease] = {}
    for substance in own:
        for limit in covering(substance, catalogue.limits_by_key):
            percent = limit.percent.get(use.category)
            if percent is None or limit.market not in market_of(use.market).limits:
                continue
            share = sum(s.fraction for s in counted(limit, own))
            before = sum(s.fraction for s in counted(limit, there))
            if share > before:
                brought = substance.key != material.slug
                increases[id(limit)] = LimitIncrease(substance.name, brought, limit, percent, share, before)
    bounds = []
    if use.dosage_percent is not None:
        bounds = [(found.most(use.dosage_percent), found.name) for found in increases.values()]
        bounds.append((_phototoxic_room(own, there, catalogue, use), "phototoxic oils together"))
    parts, set_by = min(bounds, default=(1000.0, ""))
    known = {name for amount in rest for name in listed(amount.material, catalogue)}
    new = tuple((name, share) for name, share in listed(material, catalogue).items() if name not in known)
    tightest = sorted(increases.values(), key=lambda found: found.percent / found.share)
    bound = parts if parts < 1000.0 else None
    return Headroom(bound, set_by if bound is not None else None, tuple(tightest), new)


def reduced(
    materials: Sequence[Material], parts: Sequence[float | None], catalogue: Catalogue, use: ProductUse
) -> list[tuple[float | None, str]]:
    """Return parts per thousand cut down until every limit is respected, and the substance that cut each.

    What is cut is not made up: the parts then add up to less than a thousand. Unknown parts stay None.
    """
    weighed = [Amount(m, (p or 0.0) / 1000.0) for m, p in zip(materials, parts, strict=True)]
    present, dosage_percent = substances(weighed, catalogue), use.dosage_percent or 0.0
    uses = _uses(present, catalogue, use)
    found: list[tuple[float | None, str]] = []
    for material, amount in zip(materials, parts, strict=True):
        worst, name = 1.0, ""
        for substance in substances([Amount(material, 1.0)], catalogue):
            for applied in rated(substance, present, catalogue.limits_by_key, use):
                ratio = max(applied.ratio(dosage_percent), uses if applied.limit.sum_group else 0.0)
                if ratio > worst:
                    worst, name = ratio, substance.name
        found.append((None if amount is None else amount if worst == 1.0 else _floor(amount / worst), name))
    return found


def _floor(value: float) -> float:
    """Return a number cut to three significant digits, never rounded up."""
    step = 10.0 ** (math.floor(math.log10(value)) - 2)
    return math.floor(value / step * (1.0 + 1e-12)) * step


def _phototoxic_room(
    own: Sequence[Substance], there: Sequence[Substance], catalogue: Catalogue, use: ProductUse
) -> float:
    """Return the parts per thousand at which the fractions of phototoxic oils add up to 1."""
    one, rest = (_uses(found, catalogue, use) for found in (own, there))
    return max(0.0, 1000.0 * (1.0 - rest) / (one - rest)) if rest > 0 and one > rest else 1000.0


def _uses(found: Sequence[Substance], catalogue: Catalogue, use: ProductUse) -> float:
    total = 0.0
    for substance in found:
        limits = covering(substance, catalogue.limits_by_key)
        percents = [x.percent[use.category] for x in limits if x.sum_group and use.category in x.percent]
        total += (use.dosage_percent or 0.0) * substance.fraction / min(percents) if percents else 0.0
    return total
