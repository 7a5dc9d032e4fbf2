"""What may not be offered: prohibitions, by market. No figure held never means that something may be used."""

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

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
        raise BadValue("market", market, f"it is one of {', '.join(MARKETS)}")
    numbers = set(material.cas_all)
    return tuple(
        limit
        for limit in limits
        if limit.kind == "prohibition"
        and market in ("any", limit.market)
        and (numbers & set(limit.cas) or material.slug in limit.materials)
        and material.slug not in limit.excepted
    )


def offered(materials: Iterable[Material], limits: Iterable[Limit], market: str) -> npt.NDArray[np.bool_]:
    """Tell which materials may be offered: of the palette, with a smell, and not prohibited."""
    held = tuple(limits)
    return np.array(
        [
            m.role == "palette"
            and m.kind != "solvent"
            and len(m.labels) > 0
            and not prohibitions(m, held, market)
            for m in materials
        ],
        bool,
    )


def warnings(materials: Iterable[Material], limits: Iterable[Limit], market: str = "any") -> list[str]:
    """Return a sentence for each prohibited material among some."""
    held, words = tuple(limits), {"eu": "European law", "standards": "the industry Standards"}
    told = []
    for material in materials:
        if found := prohibitions(material, held, market):
            by = " and ".join(dict.fromkeys(words[limit.market] for limit in found))
            unsure = ", from memory, unverified" if all(limit.basis == "memory" for limit in found) else ""
            told.append(f"PROHIBITED: {material.name}, by {by}{unsure}. See `recommender material`.")
    return told
