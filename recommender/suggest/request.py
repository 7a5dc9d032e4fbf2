"""How a suggesting verb is asked: the options, checked, and the smells that they name."""

from collections.abc import Mapping
from dataclasses import dataclass

from recommender.errors import BadValue
from recommender.formulas.drydown import FormulaDrydown, drydown_of
from recommender.formulas.usual import checked_share
from recommender.model import BECAUSE, PRODUCT_CATEGORIES, PRODUCTS, STRIP, Formula
from recommender.palette import Palette
from recommender.regulation import CATEGORY, ProductUse, checked_category, checked_day, checked_dosage
from recommender.similarity.phrases import NOTHING, Words, texts
from recommender.suggest.stock import Shelf

WINDOWS: Mapping[str, tuple[float, float]] = {"heart": (1.0, 8.0), "base": (8.0, 72.0)}
"""Hours on a strip in which a heart or a base has to be smelled."""
DEFAULT_UNTIL_HOURS = 24.0
KINDS = ("molecule", "natural", "base")


@dataclass(frozen=True)
class Request:
    """How a suggesting verb is asked; every face of the program fills in the same one.

    `facet`, `toward` and `avoid` are phrases, or several that add up; `gap` is one facet of a formula by its
    own name; `why_not` names materials; `into` is heart or base; `until_hours` an hour on the strip;
    `dosage_percent` the concentrate in the finished product, of the category of product that bounds the dose.
    `shelf` holds the person's bottles, of which a dose is given too: `only_shelf` offers what is on it,
    `max_price` what costs at most so much for a gram of the neat material. `relay` asks for two carriers of a
    formula's facet, `blend` for two or three materials that together replace one. `because`, one of
    `BECAUSE`, is why one is replaced, which decides what weighs in the order. `surface` is what a formula
    dries on, a key of `evaporation.SURFACES`, `theme` words for what it is about, in place of its own.
    `share_percent` is what share of a concentrate [%] a formula is, all of it by default: usual levels, which
    bound the doses, are those of a concentrate. `on` is the day (yyyy-mm-dd) on which the product is placed
    on the market: entries that are over then do not bound a dose, those that apply later do already.
    `product`, a key of `model.PRODUCTS`, leaves out what does poorly in it, `colourless` what colours,
    `available` what is hardly to be had. Without a `category` it is that of the product, else fine fragrance.
    """

    facet: Words | None = None
    toward: Words | None = None
    into: str | None = None
    until_hours: float | None = None
    top: int = 10
    kind: str | None = None
    avoid: Words | None = None
    market: str = "any"
    why_not: Words | None = None
    dosage_percent: float | None = None
    category: str | None = None
    no_label_allergens: bool = False
    shelf: Shelf | None = None
    only_shelf: bool = False
    max_price: float | None = None
    gap: str | None = None
    relay: bool = False
    blend: int | None = None
    surface: str = STRIP
    theme: Words | None = None
    share_percent: float | None = None
    because: str | None = None
    on: str = ""
    product: str | None = None
    colourless: bool = False
    available: bool = False

    @property
    def needs_shelf(self) -> bool:
        """Whether the bottles of the shelf, or their prices, count in the answer."""
        return self.only_shelf or self.max_price is not None or self.because in ("stock", "price")


@dataclass(frozen=True)
class Smells:
    """The smells of a request: wanted facets with their share, refused ones, and notes on the reading.

    `less` are those that the phrase itself refuses, without `--avoid`.
    """

    wanted: Mapping[str, float]
    refused: tuple[str, ...]
    less: tuple[str, ...]
    notes: tuple[str, ...]


def smells(verb: str, request: Request, palette: Palette) -> Smells:
    """Return which facets a request wants, and which it refuses in its phrase or with `avoid`.

    Raises
    ------
    UnknownFacet
    BadValue
        `vary` without a direction; a phrase of `extend` that only refuses; a facet both wanted and refused.
    """
    words = texts(request.toward if verb == "vary" else request.facet)
    if verb == "vary" and not words:
        raise BadValue("toward", "", "name a direction in words, for example {toward} hazelnut")
    phrase, avoided = palette.phrase(words) if words else NOTHING, palette.avoided(request.avoid)
    if verb == "extend" and words and not phrase.facets:
        wanted = "it names only what is not wanted; name the smell that has to last"
        raise BadValue("facet", phrase.text, wanted)
    whole = phrase.avoiding(avoided)
    notes = tuple(note for found in (phrase, *avoided) for note in found.notes)
    return Smells(whole.facets, whole.refused, phrase.refused, notes)


def drydown_for(formula: Formula, request: Request, palette: Palette) -> FormulaDrydown:
    """Return a formula on its surface under the market and the share of a request; errors as `check`."""
    return drydown_of(formula, palette, request.market, checked_share(request.share_percent))


def given_options(request: Request) -> dict[str, object]:
    """Return the options that every answer repeats: of product and practice, how many, on which surface."""
    return {
        "market": request.market,
        "dosage": request.dosage_percent,
        "category": category_of(request),
        "top": request.top,
        "surface": request.surface,
        "product": request.product,
        "colourless": request.colourless,
        "available": request.available,
    }


def category_of(request: Request) -> str:
    """Return the category of the finished product: the given one, that of the product, fine fragrance.

    >>> category_of(Request(product="candle")), category_of(Request(product="candle", category="5a"))
    ('12', '5A')
    """
    if request.category is not None:
        return request.category.upper()
    return PRODUCT_CATEGORIES.get(request.product or "", CATEGORY)


def check(request: Request) -> None:
    """Raise `BadValue` where an option cannot be used, whatever is asked."""
    if request.top < 1:
        raise BadValue("top", request.top, "it is 1 or more")
    if request.into not in (None, *WINDOWS):
        raise BadValue("into", request.into, "it is heart or base")
    if request.until_hours is not None and not 0 < request.until_hours < 1e6:
        raise BadValue("until_hours", request.until_hours, "it is a time such as 30min, 8h or 3d")
    if request.kind not in (None, *KINDS):
        raise BadValue("kind", request.kind, f"it is one of {', '.join(KINDS)}")
    if request.because not in (None, *BECAUSE):
        raise BadValue("because", request.because, f"it is one of {', '.join(BECAUSE)}")
    if request.product not in (None, *PRODUCTS):
        raise BadValue("product", request.product, f"it is one of {', '.join(PRODUCTS)}")
    check_shelf(request)
    checked_share(request.share_percent)
    product_use(request)


def refuse_because(request: Request) -> None:
    """Raise `BadValue` where a reason to replace a material is named and no material is replaced."""
    if request.because:
        raise BadValue("because", request.because, "it is a reason to replace a material; leave it out")


def check_shelf(request: Request) -> None:
    """Raise `BadValue` where the shelf cannot answer a request."""
    if request.max_price is not None and not request.max_price > 0:
        raise BadValue("max_price", request.max_price, "it is a price per gram above 0")
    if not request.only_shelf and request.max_price is None:
        return
    shelf, field = request.shelf, "only_shelf" if request.only_shelf else "max_price"
    if shelf is None or not shelf.bottles:
        raise BadValue(field, "", "no bottle is on the shelf yet; see `recommender shelf add --help`")
    if request.only_shelf and not shelf.by_material:
        raise BadValue(field, "", "no bottle has a material yet; see `recommender shelf list`")
    if request.max_price is not None and not shelf.prices:
        raise BadValue("max_price", request.max_price, "no bottle on the shelf has a price yet")


def product_use(request: Request) -> ProductUse:
    """Return how the product is used; raises `BadValue` where dosage, category or day cannot be used."""
    dosage_percent = None if request.dosage_percent is None else checked_dosage(request.dosage_percent)
    return ProductUse(
        dosage_percent, checked_category(category_of(request)), request.market, checked_day(request.on)
    )
