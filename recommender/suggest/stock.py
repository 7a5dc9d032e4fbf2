"""The person's shelf: what is there, at which dilution, how old, and what it costs."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from math import log10

from recommender.model import Amount, Bottle, Material

LOW_G = 2.0
"""A bottle with less is running low [g of the neat material, whatever the dilution]."""
OLD_MONTHS = 12
"""A material that oxidises is smelled beside a fresh one when its bottle has been open for so long."""
OXIDISES = "oxidises"
"""The kind of caution that a material changes in an opened bottle."""


@dataclass(frozen=True)
class Shelf:
    """Bottles on a day; those whose label is not resolved yet do not count."""

    bottles: tuple[Bottle, ...]
    today: date

    @cached_property
    def by_material(self) -> Mapping[str, tuple[Bottle, ...]]:
        """Bottles of each material that are not empty."""
        found: dict[str, tuple[Bottle, ...]] = {}
        for bottle in self.bottles:
            if bottle.material and bottle.amount_g != 0:
                found[bottle.material] = (*found.get(bottle.material, ()), bottle)
        return found

    @cached_property
    def prices(self) -> Mapping[str, float]:
        """Least price of a gram of each neat material; that of an empty bottle counts too."""
        found: dict[str, float] = {}
        for bottle in self.bottles:
            price = bottle.neat_price_per_g
            if bottle.material and price is not None:
                found[bottle.material] = min(price, found.get(bottle.material, price))
        return found

    def bottle_for(self, slug: str, dilution_percent: float | None) -> Bottle | None:
        """Return the bottle whose dilution comes nearest to a wanted one (None: the strongest)."""
        available = self.by_material.get(slug, ())
        wanted = log10(dilution_percent or 100.0)
        return min(
            available,
            key=lambda b: (abs(log10(b.dilution_percent) - wanted), -(b.amount_g or 0.0), b.number),
            default=None,
        )

    def remarks(self, bottle: Bottle, material: Material) -> list[str]:
        """Return what a person should know before they reach for a bottle: it runs low, it is old."""
        notes = []
        if bottle.amount_g is not None and bottle.amount_g * bottle.dilution_percent / 100.0 < LOW_G:
            notes.append(f"{bottle.label} runs low: {bottle.amount_g:.3g} g left{_at(bottle)}.")
        months = self.months_open(bottle)
        if months is not None and months >= OLD_MONTHS and any(c.kind == OXIDISES for c in material.cautions):
            notes.append(
                f"{bottle.label} was opened {_ago(months)}, and {material.name} oxidises: "
                "smell it beside a fresh one."
            )
        return notes

    def months_open(self, bottle: Bottle) -> int | None:
        """Return for how many whole months a bottle has been open, None where that is unknown."""
        if not bottle.opened:
            return None
        opened = date.fromisoformat(bottle.opened)
        months = 12 * (self.today.year - opened.year) + self.today.month - opened.month
        return max(months - (self.today.day < opened.day), 0)


def _ago(months: int) -> str:
    """Return how long ago it was: 13 months ago, 5 years ago."""
    return f"{months} months ago" if months < 24 else f"{months // 12} years ago"


def _at(bottle: Bottle) -> str:
    return "" if bottle.dilution_percent == 100 else f" at {bottle.dilution_percent:g} %"


@dataclass(frozen=True, slots=True)
class MaterialCost:
    """One material of a batch: grams of it neat, the bottle, grams to weigh from it, and their price.

    None where it is unknown; `short_g` is how much the bottle lacks [g].
    """

    material: Material
    neat_g: float
    bottle: Bottle | None = None
    weigh_g: float | None = None
    price: float | None = None
    short_g: float = 0.0


def cost(amounts: Iterable[Amount], shelf: Shelf, batch_g: float) -> list[MaterialCost]:
    """Return what a batch costs, material by material, from the bottles of the shelf.

    Solvents that come along with a dilution are not counted a second time.
    """
    found, brought = [], dict[str, float]()
    available = list(amounts)
    for amount in available:
        neat = amount.mass_fraction * batch_g
        row = MaterialCost(amount.material, neat)
        bottle = shelf.bottle_for(amount.material.slug, None)
        if bottle is not None:
            weigh = neat * 100.0 / bottle.dilution_percent
            if bottle.solvent:
                brought[bottle.solvent] = brought.get(bottle.solvent, 0.0) + weigh - neat
            row = _weighed(row, bottle, weigh)
        found.append(row)
    return [
        _weighed(replace(row, neat_g=left), row.bottle, left)
        if row.material.kind == "solvent"
        and (left := max(row.neat_g - brought.get(row.material.slug, 0.0), 0.0)) != row.neat_g
        else row
        for row in found
    ]


def _weighed(row: MaterialCost, bottle: Bottle | None, weigh_g: float) -> MaterialCost:
    if bottle is None:
        return row
    price = None if bottle.price_per_g is None else weigh_g * bottle.price_per_g
    short = 0.0 if bottle.amount_g is None else max(weigh_g - bottle.amount_g, 0.0)
    return replace(row, bottle=bottle, weigh_g=weigh_g, price=price, short_g=short)
