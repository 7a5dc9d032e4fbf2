"""Markets: where a product is sold, and whose rules count there. Another market is another row of a table."""

from collections.abc import Mapping
from dataclasses import dataclass

from recommender.errors import BadValue


@dataclass(frozen=True, slots=True)
class Authority:
    """Who sets rules, as `limits.csv` names them in its column `market`.

    `words` and `formal` name the authority in a sentence, `short` in a table. `cosmetics_only` means that its
    rules are for cosmetics alone; `yearly` that its figures are amended often enough to be looked up anew.
    """

    words: str
    formal: str
    short: str
    cosmetics_only: bool = False
    yearly: bool = False


AUTHORITIES: Mapping[str, Authority] = {
    "eu": Authority("European law", "European law", "law", cosmetics_only=True),
    "gb": Authority("British law", "the British Cosmetics Regulation", "British law", cosmetics_only=True),
    "standards": Authority("the Standards", "the industry Standards", "Standards", yearly=True),
}
"""All authorities whose rules are on record."""


@dataclass(frozen=True, slots=True)
class Market:
    """Whose prohibitions and whose limits count where a product is sold, by the names of authorities."""

    prohibitions: tuple[str, ...]
    limits: tuple[str, ...]


ANY = "any"
MARKETS: Mapping[str, Market] = {
    ANY: Market(tuple(AUTHORITIES), tuple(AUTHORITIES)),
    "eu": Market(("eu",), ("eu", "standards")),
    "gb": Market(("gb",), ("gb", "standards")),
    "standards": Market(("standards",), ("standards",)),
}
"""Markets by the name that a person gives; in any of them counts what anybody prohibits or limits."""


def market_of(name: str) -> Market:
    """Return a market by its name; raises `BadValue` where there is none."""
    if name not in MARKETS:
        raise BadValue("market", name, f"it is one of {', '.join(MARKETS)}")
    return MARKETS[name]
