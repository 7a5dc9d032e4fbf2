"""Prohibitions, by market. A missing row never means that something may be used."""

from collections.abc import Iterable

from recommender.evidence.markets import ANY, AUTHORITIES, decides, market_of, with_a_say
from recommender.model import Limit, Material
from recommender.regulation.limits import not_over


def prohibitions(
    material: Material, limits: Iterable[Limit], market: str = ANY, on: str = ""
) -> tuple[Limit, ...]:
    """Return the prohibitions that name a material, or any of its CAS numbers, adopted ones among them.

    `on` (yyyy-mm-dd) leaves out those that are over on that day.

    Raises
    ------
    BadValue
        The market is not known.
    """
    market_of(market)
    numbers = set(material.cas_all)
    return tuple(
        limit
        for limit in limits
        if limit.kind == "prohibition"
        and (not numbers.isdisjoint(limit.cas) or material.slug in limit.materials)
        and material.slug not in limit.excepted
        and decides(limit.market, market)
        and not_over(limit, on)
    )


def warnings(materials: Iterable[Material], limits: Iterable[Limit], market: str = ANY) -> list[str]:
    """Return a sentence for each prohibited material among some."""
    rules, notes = tuple(limits), []
    for material in materials:
        if found := prohibitions(material, rules, market):
            names = dict.fromkeys(name for limit in found for name in with_a_say(limit.market, market))
            by = " and ".join(AUTHORITIES[name].formal for name in names)
            unsure = ", from memory, unverified" if all(limit.basis == "memory" for limit in found) else ""
            notes.append(f"PROHIBITED: {material.name}, by {by}{unsure}. See `recommender material`.")
    return notes
