"""Prohibitions, by market. A missing row never means that something may be used."""

from collections.abc import Iterable

from recommender.evidence.markets import ANY, AUTHORITIES, market_of
from recommender.model import Limit, Material


def prohibitions(material: Material, limits: Iterable[Limit], market: str = ANY) -> tuple[Limit, ...]:
    """Return the prohibitions that name a material, or any of its CAS numbers.

    Raises
    ------
    BadValue
        The market is not known.
    """
    authorities = market_of(market).prohibitions
    numbers = set(material.cas_all)
    return tuple(
        limit
        for limit in limits
        if limit.kind == "prohibition"
        and limit.market in authorities
        and (numbers & set(limit.cas) or material.slug in limit.materials)
        and material.slug not in limit.excepted
    )


def warnings(materials: Iterable[Material], limits: Iterable[Limit], market: str = ANY) -> list[str]:
    """Return a sentence for each prohibited material among some."""
    rules, notes = tuple(limits), []
    for material in materials:
        if found := prohibitions(material, rules, market):
            by = " and ".join(dict.fromkeys(AUTHORITIES[limit.market].formal for limit in found))
            unsure = ", from memory, unverified" if all(limit.basis == "memory" for limit in found) else ""
            notes.append(f"PROHIBITED: {material.name}, by {by}{unsure}. See `recommender material`.")
    return notes
