"""How a reformulation is asked for, and what has to be so before it is looked for."""

from dataclasses import dataclass

from recommender.errors import BadValue
from recommender.formulas.usual import checked_share
from recommender.model import PRODUCTS, Formula, Material
from recommender.palette import Palette
from recommender.regulation import CATEGORY, ProductUse, checked_category, checked_day, checked_dosage
from recommender.similarity.phrases import Words, texts
from recommender.suggest.request import Request
from recommender.suggest.stock import Shelf


@dataclass(frozen=True)
class ReformulationRequest:
    """What a formula has to keep to, and what may be done to it.

    `dosage_percent` is the concentrate in the finished product [%], without which limits bound nothing;
    `category`, `market` and the day `on` (yyyy-mm-dd; blank, entries of any date count) as for `check`.
    `without` names materials that may not be in it, `max_price` what a gram of the concentrate may cost by
    the prices of the shelf, `only_shelf` takes all from the shelf, `no_label_allergens` keeps each allergen
    below the amount from which it is named. `product`, a key of `model.PRODUCTS`, leaves out what does poorly
    in it. `keep` names lines, by material or by number, whose parts stay; `changes` is how many changes there
    may be at most. `theme` are words for what the formula is about, in place of its own theme;
    `share_percent` is its share of a concentrate [%], to which usual levels scale. `top` is how many answers
    are shown, `seconds` after how long the search ends with what it has. `at_most` names materials with the
    most that the concentrate may contain of each [%], what naturals bring of it too.
    """

    dosage_percent: float | None = None
    category: str = CATEGORY
    market: str = "any"
    on: str = ""
    without: Words | None = None
    max_price: float | None = None
    only_shelf: bool = False
    no_label_allergens: bool = False
    product: str | None = None
    keep: Words | None = None
    changes: int | None = None
    theme: Words | None = None
    share_percent: float | None = None
    top: int = 3
    seconds: float = 30.0
    shelf: Shelf | None = None
    at_most: tuple[tuple[str, float], ...] = ()

    @property
    def needs_shelf(self) -> bool:
        """Whether the bottles of the shelf, or their prices, count in the answer."""
        return self.only_shelf or self.max_price is not None

    @property
    def use(self) -> ProductUse:
        """How the product is used; raises `BadValue` where dosage, category or day cannot be used."""
        dosage_percent = None if self.dosage_percent is None else checked_dosage(self.dosage_percent)
        return ProductUse(dosage_percent, checked_category(self.category), self.market, checked_day(self.on))

    @property
    def offering(self) -> Request:
        """What may be offered in place of a line, as every suggesting verb asks it.

        The price of a bottle bounds the whole formula here and no single material; allergens are bounded by
        their amounts.
        """
        return Request(
            market=self.market,
            on=self.on,
            dosage_percent=self.dosage_percent,
            category=self.category,
            shelf=self.shelf if self.needs_shelf else None,
            only_shelf=self.only_shelf,
            share_percent=self.share_percent,
            product=self.product,
        )


def check(request: ReformulationRequest) -> None:
    """Raise `BadValue` where an option cannot be used, whatever the formula is."""
    if request.top < 1:
        raise BadValue("top", request.top, "it is 1 or more")
    if request.changes is not None and request.changes < 1:
        raise BadValue("changes", request.changes, "it is 1 or more")
    if not request.seconds > 0:
        raise BadValue("seconds", request.seconds, "it is above 0")
    if request.product not in (None, *PRODUCTS):
        raise BadValue("product", request.product, f"it is one of {', '.join(PRODUCTS)}")
    if request.max_price is not None and not request.max_price > 0:
        raise BadValue("max_price", request.max_price, "it is a price of a gram of the concentrate, above 0")
    if request.no_label_allergens and request.dosage_percent is None:
        wanted = "an allergen is named by its amount in the finished product; give {dosage_percent} too"
        raise BadValue("no_label_allergens", "", wanted)
    checked_share(request.share_percent)
    shelf, field = request.shelf, "only_shelf" if request.only_shelf else "max_price"
    if request.needs_shelf and (shelf is None or not shelf.by_material):
        raise BadValue(field, "", "no bottle with a material is on the shelf; see `recommender shelf --help`")
    if request.max_price is not None and not (shelf and shelf.prices):
        raise BadValue("max_price", request.max_price, "no bottle on the shelf has a price yet")


def without_of(request: ReformulationRequest, palette: Palette) -> dict[str, Material]:
    """Return the materials that may not be in it, by key; raises `UnknownMaterial` or `WrongCas`."""
    return {m.slug: m for m in map(palette.catalogue.find, texts(request.without))}


def lines_kept(request: ReformulationRequest, formula: Formula, palette: Palette) -> frozenset[str]:
    """Return the keys of the materials whose lines stay as they are.

    Raises
    ------
    UnknownMaterial, WrongCas
    BadValue
        The formula has no such line.
    """
    found = set()
    for text in texts(request.keep):
        if text.strip().isdigit():
            number = int(text)
            if not 1 <= number <= len(formula.lines):
                raise BadValue("keep", text, f"{formula.name} has the lines 1 to {len(formula.lines)}")
            content = formula.lines[number - 1].content
            found |= {content.slug} if isinstance(content, Material) else set(_inside(content))
            continue
        material = palette.catalogue.find(text)
        if material.slug not in _inside(formula):
            raise BadValue("keep", text, f"it is not in {formula.name}; name one of its lines")
        found.add(material.slug)
    return frozenset(found)


def _inside(formula: Formula) -> list[str]:
    """Return the keys of all materials in a formula, those of accords inside too."""
    found: list[str] = []
    for line in formula.lines:
        found += [line.content.slug] if isinstance(line.content, Material) else _inside(line.content)
    return found
