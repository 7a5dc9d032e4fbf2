"""How easy a suggestion is to get: what is hard to get comes last, and what a bottle costs."""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from recommender.model import AVAILABILITY, HARDLY, Material
from recommender.palette import Array
from recommender.suggest.request import Request

WORTH: Mapping[str, float] = {"common": 1.0, "specialist": 0.6, HARDLY: 0.1, "": 0.8}
"""Worth of a stand-in, where the asked is out of stock, by how easily it can be bought; blank is unknown."""

CLASS_PRICES: Mapping[str, float] = {"low": 25.0, "medium": 100.0, "high": 450.0, "very high": 2000.0}
"""Middle of each price class on a log scale [euro per kg]; an open one is taken as wide as its neighbour."""


def hard_to_get(materials: Iterable[Material], request: Request) -> list[bool]:
    """Return which materials are hard to get; one with a bottle on the shelf is not.

    Where what is offered has to be available, one of which that is not on record counts as hard to get.
    """
    hard = (HARDLY, "") if request.available else (HARDLY,)
    return [m.availability in hard and not _on_shelf(m, request) for m in materials]


def hardest(materials: Iterable[Material]) -> str:
    """Return the availability of the one that is hardest to buy, blank where one is unknown and none is hard.

    >>> hardest([])
    ''
    """
    found = {material.availability for material in materials}
    if HARDLY in found:
        return HARDLY
    return "" if "" in found or not found else max(found, key=AVAILABILITY.index)


def worth(materials: Sequence[Material], request: Request) -> Array:
    """Return how easy each is to get, 0-1, shape (materials,); 1 for what is on the shelf."""
    return np.array([1.0 if _on_shelf(m, request) else WORTH[m.availability] for m in materials])


def by_price_class(asked: Material, request: Request) -> bool:
    """Return whether price classes decide what is cheaper: no bottle on the shelf has a price."""
    return not (request.shelf and request.shelf.prices) and asked.in_practice("price") is not None


def cheapness(asked: Material, materials: Sequence[Material], request: Request) -> Array:
    """Return how cheap each is, 0-1, shape (materials,).

    0.5 at the price of the asked material, the more the cheaper: p0 / (p0 + p). Where that price is unknown
    p0 is the middle one of those known; what has no price on the shelf counts as that. Without any price on
    the shelf the middles of price classes stand for them.
    """
    prices = request.shelf.prices if request.shelf else {}
    if by_price_class(asked, request):
        known = {material.slug: material.in_practice("price") for material in (asked, *materials)}
        prices = {slug: CLASS_PRICES[fact.value] for slug, fact in known.items() if fact}
    own = np.array([prices.get(material.slug, np.nan) for material in materials])
    if not np.isfinite(own).any():
        return np.full(len(materials), 0.5)
    usual = prices.get(asked.slug) or float(np.nanmedian(own))
    return np.asarray(np.where(np.isfinite(own), usual / np.maximum(usual + own, 1e-12), 0.5), float)


def _on_shelf(material: Material, request: Request) -> bool:
    return request.shelf is not None and material.slug in request.shelf.by_material
