"""Markets: where a product is sold, and whose rules decide there. Another market is another table row."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from recommender.errors import BadValue


@dataclass(frozen=True, slots=True)
class Authority:
    """Who sets rules, as `limits.csv` names them in its column `market`.

    `words` and `formal` name the authority in a sentence, `short` in a table. `cosmetics_only` means that its
    rules are for cosmetics alone; `yearly` that its figures are amended often enough to be looked up anew.
    `lists` is where a CAS number or a name is looked for, `as_of` the state of these lists (yyyy-mm-dd or
    yyyy-mm).
    """

    words: str
    formal: str
    short: str
    lists: str
    as_of: str
    cosmetics_only: bool = False
    yearly: bool = False


LAST_COMMON_YEAR = 2020
"""European acts up to the end of this year are law in Great Britain too, unless it has changed them since."""

AUTHORITIES: Mapping[str, Authority] = {
    "eu": Authority(
        "European law",
        "European law",
        "EU law",
        "Annexes II and III of Regulation (EC) No 1223/2009",
        "2026-08-28",
        cosmetics_only=True,
    ),
    "gb": Authority(
        "British law",
        "British law",
        "GB law",
        "Annexes II and III of the Cosmetics Regulation of Great Britain, as retained",
        "2020-12-31",
        cosmetics_only=True,
    ),
    "standards": Authority(
        "the Standards",
        "the industry Standards",
        "Standards",
        "list of the industry Standards",
        "2024-05",
        yearly=True,
    ),
}
"""All authorities whose rules are on record."""


@dataclass(frozen=True, slots=True)
class Market:
    """Whose rules decide where a product is sold, and whose are only shown: names of authorities."""

    decides: tuple[str, ...]
    beside: tuple[str, ...] = ()


ANY = "any"
MARKETS: Mapping[str, Market] = {
    ANY: Market(tuple(AUTHORITIES)),
    "eu": Market(("eu",), ("standards",)),
    "gb": Market(("gb",), ("standards",)),
    "standards": Market(("standards",)),
}
"""Markets by the name that a person gives; in any of them everything on record decides."""


def market_of(name: str) -> Market:
    """Return a market by its name; raises `BadValue` where there is none."""
    if name not in MARKETS:
        raise BadValue("market", name, f"it is one of {', '.join(MARKETS)}")
    return MARKETS[name]


@cache
def authorities_of(cell: str) -> tuple[str, ...]:
    """Return the authorities that a cell names.

    >>> authorities_of("eu; gb")
    ('eu', 'gb')
    """
    return tuple(name for part in cell.split(";") if (name := part.strip()))


def decides(cell: str, market: str) -> bool:
    """Return whether a rule of these authorities decides in a market."""
    return not set(authorities_of(cell)).isdisjoint(market_of(market).decides)


def stands_beside(cell: str, market: str) -> bool:
    """Return whether a rule of these authorities is only shown beside those that decide."""
    found = market_of(market)
    return not decides(cell, market) and not set(authorities_of(cell)).isdisjoint(found.beside)


def cosmetics_only(cell: str) -> bool:
    """Return whether all of these authorities have rules for cosmetics alone."""
    return all(AUTHORITIES[name].cosmetics_only for name in authorities_of(cell))


def with_a_say(cell: str, market: str = ANY) -> tuple[str, ...]:
    """Return the authorities of a cell that decide or stand beside in a market; all of them where none does.

    >>> with_a_say("eu; gb", "gb"), with_a_say("eu; gb")
    (('gb',), ('eu', 'gb'))
    """
    found, named = market_of(market), authorities_of(cell)
    return tuple(name for name in named if name in (*found.decides, *found.beside)) or named


def names_of(cell: str, market: str = ANY) -> str:
    """Return the authorities of a cell in words, those alone that have a say in the market where some have.

    >>> names_of("eu; gb"), names_of("eu; gb", "gb")
    ('European and British law', 'British law')
    """
    shown = with_a_say(cell, market)
    if shown == ("eu", "gb"):
        return "European and British law"
    return " and ".join(AUTHORITIES[name].words for name in shown)


def short_names_of(cell: str, market: str = ANY) -> str:
    """Return the authorities of a cell as short as in a column of a table.

    >>> short_names_of("eu; gb"), short_names_of("standards")
    ('EU/GB law', 'Standards')
    """
    shown = with_a_say(cell, market)
    if shown == ("eu", "gb"):
        return "EU/GB law"
    return ", ".join(AUTHORITIES[name].short for name in shown)
