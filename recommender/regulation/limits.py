"""Limits at a dosage: which apply, how much of each is used, and in which words that is reported."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from recommender.errors import BadValue
from recommender.evidence.catalogue import CATEGORIES
from recommender.evidence.markets import ANY, market_of
from recommender.model import Allergen, Limit
from recommender.regulation.constituents import Substance

Rule = TypeVar("Rule", bound=Limit | Allergen)

CATEGORY = "4"
"""Fine fragrance, where no category is given."""
PROHIBITED, ABOVE, ABOVE_UNVERIFIED = "prohibited", "above the limit held", "above an unverified limit"
BELOW_UNVERIFIED, BELOW, NONE = "below an unverified limit", "below the limit held", "no limit held"
RESTRICTED, CONDITION = "restricted, figure to be looked up", "condition to be shown"
STATUSES = (PROHIBITED, ABOVE, ABOVE_UNVERIFIED, RESTRICTED, CONDITION, BELOW_UNVERIFIED, BELOW, NONE)
"""The statuses of an amount, the most serious first."""
FINDINGS = STATUSES[: STATUSES.index(BELOW_UNVERIFIED) + 1]
"""What a person must look at: prohibited, above a limit, unverified, or a figure or condition missing."""
ROUNDING = 1.0 + 1e-9
"""What the arithmetic may be off before an amount counts as above a limit."""


@dataclass(frozen=True, slots=True)
class ProductUse:
    """How a product is used: dosage of the concentrate [% by mass], None if not given; category; market."""

    dosage_percent: float | None = None
    category: str = CATEGORY
    market: str = ANY


@dataclass(frozen=True, slots=True)
class LimitUse:
    """A limit on a substance, and what counts against it: the substance with all that is added up with it.

    `percent` is the limit, `concentrate` what counts [% of the concentrate], `group` how many count.
    """

    limit: Limit
    percent: float
    concentrate: float
    group: int = 1

    @property
    def verified(self) -> bool:
        """Return whether the limit is verified, that is, not from memory."""
        return self.limit.basis != "memory"

    def ratio(self, dosage_percent: float) -> float:
        """Return the use ratio at a dosage: what is in the product over the limit."""
        return dosage_percent / 100.0 * self.concentrate / self.percent

    @property
    def highest(self) -> float:
        """The dosage [%] at which the limit is met; may be above 100, infinite where nothing counts."""
        return 100.0 * self.percent / self.concentrate if self.concentrate > 0 else math.inf


def checked_dosage(dosage_percent: float) -> float:
    """Return a dosage [% by mass]; raises `BadValue` unless it is above 0 and at most 100."""
    if not 0 < dosage_percent <= 100:
        raise BadValue(
            "dosage_percent", f"{dosage_percent:g}", "it is the concentrate in the product, above 0 to 100 %"
        )
    return dosage_percent


def checked_category(category: str) -> str:
    """Return the name of a category; raises `BadValue` where there is none of it."""
    name = category.strip().upper()
    if name not in CATEGORIES:
        raise BadValue("category", category, f"it is one of {', '.join(CATEGORIES)}; 4 is fine fragrance")
    return name


def covering(substance: Substance, by_key: Mapping[str, Sequence[Rule]]) -> list[Rule]:
    """Return the limits or allergens that cover a substance by key or CAS number, exceptions left out."""
    found: list[Rule] = []
    for key in substance.keys:
        found += [r for r in by_key.get(key, ()) if r not in found and substance.key not in r.excepted]
    return found


def counted(rule: Rule, present: Iterable[Substance]) -> list[Substance]:
    """Return the substances that are added up under a limit or an allergen's name."""
    keys = {*rule.cas, *rule.materials, *(rule.counted_with if isinstance(rule, Limit) else ())}
    return [s for s in present if keys.intersection(s.keys) and s.key not in rule.excepted]


def rated(
    substance: Substance,
    present: Sequence[Substance],
    by_key: Mapping[str, Sequence[Limit]],
    use: ProductUse,
) -> list[LimitUse]:
    """Return the limits that apply to a substance among others in a category, the lowest first.

    Whose limits are listed follows from the table of markets: those of the Standards stand beside European
    law, or alone where the market is the Standards.
    """
    found = []
    for limit in covering(substance, by_key):
        percent = limit.percent.get(use.category)
        if percent is not None and limit.market in market_of(use.market).limits:
            together = counted(limit, present)
            total = 100.0 * sum(s.fraction for s in together)
            found.append(LimitUse(limit, percent, total, len(together)))
    return sorted(found, key=lambda applied: applied.highest)


def status(applied: Sequence[LimitUse], dosage_percent: float, without_figure: Sequence[Limit] = ()) -> str:
    """Return the status of an amount against the limits that apply to it, one of `STATUSES`.

    `without_figure` are entries that cover it and give no figure here; they count where none applies.
    """
    if not applied:
        kinds = {limit.kind for limit in without_figure}
        return RESTRICTED if "restriction" in kinds else CONDITION if kinds else NONE
    above = [a for a in applied if a.ratio(dosage_percent) > ROUNDING]
    if above:
        return ABOVE if any(a.verified for a in above) else ABOVE_UNVERIFIED
    return BELOW if applied[0].verified else BELOW_UNVERIFIED
