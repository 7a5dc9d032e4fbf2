"""What adding a material does: room left under limits, use ratios raised, names added to the label."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from recommender.evidence.catalogue import Catalogue
from recommender.model import Amount, Limit, Material
from recommender.regulation.constituents import Substance, substances
from recommender.regulation.labels import listed
from recommender.regulation.limits import ProductUse, binding, counted, covering, rated


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


class FormulaLoad:
    """What a formula counts against limits, worked out once for all that may be added to it.

    Entries that are adopted and apply later bind already, those of the past do not.

    Parameters
    ----------
    rest : sequence of Amount
        What is in it, as mass fractions of the concentrate.
    catalogue : Catalogue
    use : ProductUse
        Without a dosage nothing bounds the parts.
    """

    def __init__(self, rest: Sequence[Amount], catalogue: Catalogue, use: ProductUse) -> None:
        self._catalogue, self._use = catalogue, use
        self._present = substances(rest, catalogue) if rest else []
        self._rows: dict[str, list[int]] = {}
        for row, substance in enumerate(self._present):
            for key in substance.keys:
                self._rows.setdefault(key, []).append(row)
        self._counted: dict[int, float] = {}
        self._phototoxic = _uses(self._present, catalogue, use)
        self._materials = [amount.material for amount in rest]

    @cached_property
    def labels(self) -> frozenset[str]:
        """The names that it brings to the label."""
        return frozenset(name for material in self._materials for name in listed(material, self._catalogue))

    def _fraction(self, limit: Limit) -> float:
        """Return the mass fraction of it that counts against a limit."""
        if id(limit) not in self._counted:
            keys = (*limit.cas, *limit.materials, *limit.counted_with)
            rows = sorted({row for key in keys for row in self._rows.get(key, ())})
            found = (self._present[row] for row in rows)
            self._counted[id(limit)] = sum(s.fraction for s in found if s.key not in limit.excepted)
        return self._counted[id(limit)]

    def parts(self, material: Material) -> float:
        """Return the parts per thousand that limits leave for a material, 1000 where none bounds it."""
        return self._bounds(material)[0]

    def headroom(self, material: Material) -> Headroom:
        """Return what limits leave for a material, which they are, and what it adds to the label."""
        parts, set_by, increases = self._bounds(material)
        new = tuple(
            (name, share)
            for name, share in listed(material, self._catalogue).items()
            if name not in self.labels
        )
        tightest = sorted(increases, key=lambda found: found.percent / found.share)
        bound = parts if parts < 1000.0 else None
        return Headroom(bound, set_by if bound is not None else None, tuple(tightest), new)

    def _bounds(self, material: Material) -> tuple[float, str, list[LimitIncrease]]:
        use, own = self._use, substances([Amount(material, 1.0)], self._catalogue)
        increases: dict[int, LimitIncrease] = {}
        for substance in own:
            for limit in binding(covering(substance, self._catalogue.limits_by_key), use):
                percent = limit.percent.get(use.category)
                if percent is None:
                    continue
                share, before = sum(s.fraction for s in counted(limit, own)), self._fraction(limit)
                if share > before:
                    brought = substance.key != material.slug
                    increases[id(limit)] = LimitIncrease(
                        substance.name, brought, limit, percent, share, before
                    )
        if use.dosage_percent is None:
            return 1000.0, "", list(increases.values())
        bounds = [(found.most(use.dosage_percent), found.name) for found in increases.values()]
        one, rest = _uses(own, self._catalogue, use), self._phototoxic
        if rest > 0 and one > rest:
            bounds.append((max(0.0, 1000.0 * (1.0 - rest) / (one - rest)), "phototoxic oils together"))
        parts, set_by = min(bounds, default=(1000.0, ""))
        return min(parts, 1000.0), set_by, list(increases.values())


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
        What it is added to, as mass fractions of the concentrate without it. For several materials beside the
        same, make one `FormulaLoad` of it.
    """
    return FormulaLoad(rest, catalogue, use).headroom(material)


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
            limits = binding(covering(substance, catalogue.limits_by_key), use)
            for applied in rated(limits, present, use.category):
                ratio = max(applied.ratio(dosage_percent), uses if applied.limit.sum_group else 0.0)
                if ratio > worst:
                    worst, name = ratio, substance.name
        found.append((None if amount is None else amount if worst == 1.0 else _floor(amount / worst), name))
    return found


def _floor(value: float) -> float:
    """Return a number cut to three significant digits, never rounded up."""
    step = 10.0 ** (math.floor(math.log10(value)) - 2)
    return math.floor(value / step * (1.0 + 1e-12)) * step


def _uses(found: Sequence[Substance], catalogue: Catalogue, use: ProductUse) -> float:
    """Return the sum of the fractions of the limits of phototoxic oils that decide."""
    total = 0.0
    for substance in found:
        limits = binding(covering(substance, catalogue.limits_by_key), use)
        percents = [x.percent[use.category] for x in limits if x.sum_group and use.category in x.percent]
        total += (use.dosage_percent or 0.0) * substance.fraction / min(percents) if percents else 0.0
    return total
