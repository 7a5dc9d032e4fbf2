"""Limits at a dosage: which apply, how much of each is used, and in which words that is reported."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from recommender.errors import BadValue
from recommender.evidence.catalogue import CATEGORIES
from recommender.evidence.markets import ANY, authorities_of, decides
from recommender.model import Allergen, Limit
from recommender.regulation.constituents import Substance

Rule = TypeVar("Rule", bound=Limit | Allergen)

CATEGORY = "4"
"""Fine fragrance, where no category is given."""
PROHIBITED, ABOVE, ABOVE_UNVERIFIED = "prohibited", "above the limit held", "above an unverified limit"
RESTRICTED, CONDITION = "restricted, figure to be looked up", "condition to be shown"
NOT_LOOKED_UP = "not looked up"
BELOW_UNVERIFIED, BELOW = "below an unverified limit", "below the limit held"
NO_LIMIT, NOT_FOUND = "entry without a limit here", "no entry found"
STATUSES = (
    *(PROHIBITED, ABOVE, ABOVE_UNVERIFIED, RESTRICTED, CONDITION, NOT_LOOKED_UP),
    *(BELOW_UNVERIFIED, BELOW, NO_LIMIT, NOT_FOUND),
)
"""The statuses of an amount, the most serious first."""
FINDINGS = STATUSES[: STATUSES.index(BELOW_UNVERIFIED) + 1]
"""What a person must look at: all from which a decision other than the last follows."""
STOP, LOOK_UP, NOTHING = "stop", "look up", "nothing found in this market"
DECISIONS = (STOP, LOOK_UP, NOTHING)
"""What follows from the statuses of a formula, the most serious first."""
ROUNDING = 1.0 + 1e-9
"""What the arithmetic may be off before an amount counts as above a limit."""


@dataclass(frozen=True, slots=True)
class ProductUse:
    """How a product is used: dosage of the concentrate [% by mass], None if not given; category; market.

    `on` is the day (yyyy-mm-dd) on which it is placed on the market; blank, every entry counts whatever its
    dates.
    """

    dosage_percent: float | None = None
    category: str = CATEGORY
    market: str = ANY
    on: str = ""


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
        """Return whether the limit settles anything: neither from memory nor superseded."""
        return self.limit.verified

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


def checked_day(on: str) -> str:
    """Return a day as yyyy-mm-dd, blank where it is blank; raises `BadValue` where it is none."""
    text = on.strip()
    try:
        if not text or date.fromisoformat(text).isoformat() == text:
            return text
    except ValueError:
        pass
    raise BadValue("on", on, "it is a day such as 2027-02-01")


def in_force(limit: Limit, on: str) -> bool:
    """Return whether an entry applies on a day (yyyy-mm-dd); a blank day takes every entry."""
    return not on or (limit.applies_from <= on and not_over(limit, on))


def not_over(limit: Limit, on: str) -> bool:
    """Return whether an entry applies on a day or is adopted and applies later."""
    return not on or not limit.applies_until or on < limit.applies_until


def covering(substance: Substance, by_key: Mapping[str, Sequence[Rule]]) -> list[Rule]:
    """Return the limits or allergens that cover a substance by key or CAS number, exceptions left out."""
    found: list[Rule] = []
    for key in substance.keys:
        found += [r for r in by_key.get(key, ()) if r not in found and substance.key not in r.excepted]
    return found


def counted(rule: Rule, present: Iterable[Substance]) -> list[Substance]:
    """Return the substances that are added up under a limit or an allergen's name."""
    keys = {*rule.cas, *rule.materials, *(rule.counted_with if isinstance(rule, Limit) else ())}
    return [s for s in present if not keys.isdisjoint(s.keys) and s.key not in rule.excepted]


def binding(limits: Iterable[Limit], use: ProductUse) -> list[Limit]:
    """Return the entries that decide in the market and are not over: those adopted for later bind already."""
    return [x for x in limits if decides(x.market, use.market) and not_over(x, use.on)]


def rated(limits: Iterable[Limit], present: Sequence[Substance], category: str) -> list[LimitUse]:
    """Return what counts against each limit that has a figure in a category, the lowest first.

    Of equal ones the verified come first.
    """
    found = []
    for limit in limits:
        if (percent := limit.percent.get(category)) is not None:
            together = counted(limit, present)
            total = 100.0 * sum(s.fraction for s in together)
            found.append(LimitUse(limit, percent, total, len(together)))
    return sorted(found, key=lambda applied: (applied.highest, not applied.verified))


def worst(statuses: Iterable[str]) -> str:
    """Return the most serious of some statuses; `NOT_FOUND` where there are none."""
    return min(statuses, key=STATUSES.index, default=NOT_FOUND)


def status(applied: Sequence[LimitUse], dosage_percent: float) -> str:
    """Return the most serious status of an amount against limits with a figure.

    Of each authority the lowest figure says whether it settles the matter; a superseded one never does.
    """
    if above := [a for a in applied if a.ratio(dosage_percent) > ROUNDING]:
        return ABOVE if any(a.verified for a in above) else ABOVE_UNVERIFIED
    lowest: dict[str, LimitUse] = {}
    for use in applied:
        for name in authorities_of(use.limit.market):
            lowest.setdefault(name, use)
    return worst(
        RESTRICTED if use.limit.superseded_by else BELOW if use.verified else BELOW_UNVERIFIED
        for use in lowest.values()
    )


def decision_of(statuses: Iterable[str], *, unknown: bool = False) -> str:
    """Return what follows from statuses; `unknown` means that something limited is there unmeasured."""
    found = set(statuses)
    if found & {PROHIBITED, ABOVE}:
        return STOP
    return LOOK_UP if unknown or found & set(FINDINGS) else NOTHING
