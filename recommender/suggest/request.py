"""A request, read: which facets, when, and what may be offered."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from recommender.errors import BadValue
from recommender.model import Material
from recommender.palette import CLEAR_LABEL, Array, Palette
from recommender.regulation import (
    CATEGORY,
    ProductUse,
    checked_category,
    checked_dosage,
    listed,
    offered,
    warnings,
)
from recommender.similarity.phrases import NOTHING, Words, texts
from recommender.suggest.availability import available_mask, check_shelf
from recommender.suggest.stock import Shelf

WINDOWS: Mapping[str, tuple[float, float]] = {"heart": (1.0, 8.0), "base": (8.0, 72.0)}
"""Hours on a strip in which a heart or a base has to speak."""
DEFAULT_UNTIL_HOURS = 24.0
KINDS = ("molecule", "natural", "base")
LEAST_FACET = 0.15
"""A carrier shows at least this much of the wanted facet."""


@dataclass(frozen=True)
class Request:
    """How a suggesting verb is asked; every face of the program fills in the same one.

    `facet`, `toward` and `avoid` are phrases, or several that add up; `gap` is one facet of a formula by its
    own name; `why_not` names materials; `into` is heart or base; `until_hours` an hour on the strip;
    `dosage_percent` the concentrate in the finished product, of the category of product that bounds the dose.
    `shelf` holds the person's bottles: `only_shelf` offers what is there, `max_price` what costs at most so
    much for a gram of the neat material. `relay` asks for two carriers of a formula's facet, `blend` for two
    or three materials that together stand for one.
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
    category: str = CATEGORY
    no_label_allergens: bool = False
    shelf: Shelf | None = None
    only_shelf: bool = False
    max_price: float | None = None
    gap: str | None = None
    relay: bool = False
    blend: int | None = None


@dataclass(frozen=True)
class MaterialQuery:
    """What is looked for.

    `wanted` facets with their share; `avoided` facets with the strength from which a label is too much;
    `less` those of which `vary` wants less; `carried` (materials,) how strongly each shows the wanted, None
    where no facet is wanted; `allowed` (materials,) which may be offered; `window` the hours on a strip.
    """

    verb: str
    request: Request
    palette: Palette
    asked: Material
    row: int
    wanted: Mapping[str, float]
    avoided: Mapping[str, int]
    less: tuple[str, ...]
    carried: Array | None
    allowed: npt.NDArray[np.bool_]
    window: tuple[float, float]
    notes: tuple[str, ...]

    @property
    def weighed_as(self) -> str:
        """The name under which `ranking.WEIGHTS` has the weights of the terms."""
        return "vary away" if self.verb == "vary" and not self.wanted else self.verb

    @cached_property
    def likeness(self) -> Array:
        """How alike the whole smells are, shape (materials,)."""
        return self.palette.space.likeness(self.row)

    @cached_property
    def kinship(self) -> Array:
        """How near each material is by relations, shape (materials,)."""
        return self.palette.graph.kinship(self.row)


@dataclass(frozen=True)
class Smells:
    """What a wish says of smells: wanted facets with their share, refused ones, and notes on the reading.

    `less` are those that the phrase itself refuses, without `--avoid`.
    """

    wanted: Mapping[str, float]
    refused: tuple[str, ...]
    less: tuple[str, ...]
    notes: tuple[str, ...]


def smells(verb: str, request: Request, palette: Palette) -> Smells:
    """Return which facets a wish wants, and which it refuses in its phrase or with `avoid`.

    Raises
    ------
    UnknownFacet
    BadValue
        `vary` without a direction; a phrase of `extend` that only refuses; a facet both wanted and refused.
    """
    words = texts(request.toward if verb == "vary" else request.facet)
    if verb == "vary" and not words:
        raise BadValue("toward", "", "say in words where to go, for example {toward} hazelnut")
    phrase, avoided = palette.phrase(words) if words else NOTHING, palette.avoided(request.avoid)
    if verb == "extend" and words and not phrase.facets:
        wanted = "it says only what is not wanted; name the smell that has to stay"
        raise BadValue("facet", phrase.text, wanted)
    whole = phrase.avoiding(avoided)
    notes = tuple(note for found in (phrase, *avoided) for note in found.notes)
    return Smells(whole.facets, whole.refused, phrase.refused, notes)


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
    check_shelf(request)
    product_use(request)


def product_use(request: Request) -> ProductUse:
    """Return how the product is worn; raises `BadValue` where dosage or category cannot be used."""
    dosage_percent = None if request.dosage_percent is None else checked_dosage(request.dosage_percent)
    return ProductUse(dosage_percent, checked_category(request.category), request.market)


def may_be_offered(palette: Palette, request: Request) -> npt.NDArray[np.bool_]:
    """Tell which materials may be offered: not prohibited, and without label allergens if so wished."""
    catalogue = palette.catalogue
    allowed = offered(catalogue.materials, catalogue.limits, request.market)
    if request.no_label_allergens:
        for row in np.flatnonzero(allowed):
            allowed[row] = not listed(catalogue.materials[row], catalogue)
    return allowed


def read(verb: str, asked: Material, request: Request, palette: Palette) -> MaterialQuery:
    """Look up words, and decide what may be offered.

    Raises
    ------
    UnknownFacet, BadValue
    """
    check(request)
    if (
        verb == "extend"
        and request.until_hours
        and asked.lasting
        and request.until_hours <= asked.lasting.hours
    ):
        still = (
            f"{asked.name} itself is still there (until {asked.lasting.hours:.2g} h); ask for a later hour"
        )
        raise BadValue("until_hours", f"{request.until_hours:.2g} h", still)
    row = palette.catalogue.index[asked.slug]
    found = smells(verb, request, palette)
    wanted, notes = _wanted(verb, request, found, asked)
    notes = [*warnings([asked], palette.catalogue.limits, request.market), *notes]
    less = found.less if verb == "vary" else ()
    own = {facet: asked.strength_of(facet) for facet in less}
    avoided = {facet: min(CLEAR_LABEL, own.get(facet) or CLEAR_LABEL) for facet in found.refused}
    carried = palette.space.carries(wanted) if wanted else None
    return MaterialQuery(
        verb,
        request,
        palette,
        asked,
        row,
        wanted,
        avoided,
        less,
        carried,
        _allowed(verb, request, palette, asked, avoided, carried) & available_mask(request, palette, wanted),
        _window(request, asked),
        tuple(notes),
    )


def _wanted(
    verb: str, request: Request, found: Smells, asked: Material
) -> tuple[Mapping[str, float], list[str]]:
    notes = list(found.notes)
    if found.wanted:
        if verb != "vary" and asked.labels and not any(asked.strength_of(facet) for facet in found.wanted):
            notes.append(f"{asked.name} itself is not held to smell of {', '.join(found.wanted)}.")
        return found.wanted, notes
    if verb != "extend":
        return {}, notes
    leading = {label.facet: 1.0 for label in asked.labels if label.strength == 3}
    if not leading:
        raise BadValue("facet", "", f"no smell is held for {asked.name}; say which facet you want")
    return leading, [
        *notes,
        f"No facet was named; kept is what {asked.name} leads with: {', '.join(leading)}.",
    ]


def _allowed(
    verb: str,
    request: Request,
    palette: Palette,
    asked: Material,
    avoided: Mapping[str, int],
    carried: Array | None,
) -> npt.NDArray[np.bool_]:
    materials = palette.catalogue.materials
    allowed = may_be_offered(palette, request)
    if request.kind:
        allowed &= np.array([m.kind == request.kind for m in materials])
    for facet, too_much in avoided.items():
        allowed &= np.array([m.strength_of(facet) < too_much for m in materials])
    if verb == "extend":
        least = asked.lasting.hours if asked.lasting else 0.0
        allowed &= np.array([m.lasting is not None and m.lasting.hours >= least for m in materials])
    if carried is not None:
        allowed &= carried >= LEAST_FACET
    return allowed


def _window(request: Request, asked: Material) -> tuple[float, float]:
    """Return the hours in which a facet has to be there: heart, base, or from when the asked is gone."""
    gone = asked.lasting.hours if asked.lasting else 0.25
    start, end = WINDOWS.get(request.into or "", (max(gone, 0.25), DEFAULT_UNTIL_HOURS))
    end = request.until_hours or max(end, 1.5 * start)
    return min(start, end / 1.5), end
