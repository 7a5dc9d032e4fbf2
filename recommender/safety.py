"""What may not be offered: prohibitions, by market. No figure held never means that something may be used."""

from collections.abc import Iterable

from recommender.errors import BadValue
from recommender.model import Limit, Material

MARKETS = ("any", "eu", "standards")
"""Where a product is sold: any (prohibited anywhere counts), European law, the industry Standards."""


def prohibitions(material: Material, limits: Iterable[Limit], market: str = "any") -> tuple[Limit, ...]:
    """Return the prohibitions that name a material, or any of its CAS numbers.

    Raises
    ------
    BadValue
        The market is not known.
    """
    if market not in MARKETS:
        raise BadValue("--market", market, f"it is one of {', '.join(MARKETS)}")
    numbers = set(material.cas_all)
    return tuple(
        limit
        for limit in limits
        if limit.kind == "prohibition"
        and market in ("any", limit.market)
        and (numbers & set(limit.cas) or material.slug in limit.materials)
        and material.slug not in limit.excepted
    )
