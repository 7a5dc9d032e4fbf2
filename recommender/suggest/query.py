"""A question about one material: what is wanted, when, and who may be offered."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from recommender.errors import BadValue
from recommender.formulas.drydown import own_strip_notes
from recommender.model import CLEAR_LABEL, Material
from recommender.palette import Array, Palette
from recommender.regulation import warnings
from recommender.suggest.availability import by_price_class
from recommender.suggest.eligibility import Eligibility
from recommender.suggest.request import DEFAULT_UNTIL_HOURS, WINDOWS, Request, Smells, check, smells


@dataclass(frozen=True)
class MaterialQuery:
    """What is looked for in the place of a material, or beside it.

    `less` are the facets of which `vary` wants less; `window` the hours on a strip; `eligibility` says which
    facets are wanted or avoided, and who may be offered.
    """

    verb: str
    asked: Material
    less: tuple[str, ...]
    eligibility: Eligibility
    window: tuple[float, float]
    notes: tuple[str, ...]

    @property
    def request(self) -> Request:
        """How it is asked."""
        return self.eligibility.request

    @property
    def palette(self) -> Palette:
        """Where the materials come from."""
        return self.eligibility.palette

    @property
    def row(self) -> int:
        """Row of the asked material in the catalogue."""
        return self.palette.catalogue.index[self.asked.slug]

    @property
    def wanted(self) -> Mapping[str, float]:
        """Wanted facets with their share."""
        return self.eligibility.wanted

    @property
    def carried(self) -> Array | None:
        """How strongly each material shows the wanted facets, (materials,), None where none is wanted."""
        return self.eligibility.carried

    @property
    def weighed_as(self) -> str:
        """The name under which `scoring.WEIGHTS` has the weights of the terms."""
        return "vary away" if self.verb == "vary" and not self.wanted else self.verb

    @cached_property
    def likeness(self) -> Array:
        """How alike the whole smells are, shape (materials,)."""
        return self.palette.space.likeness(self.row)

    @cached_property
    def kinship(self) -> Array:
        """How near each material is by relations, shape (materials,)."""
        return self.palette.graph.kinship(self.row)


def read(
    verb: str, asked: Material, request: Request, palette: Palette, present: frozenset[str] = frozenset()
) -> MaterialQuery:
    """Return a request about a material with its words looked up.

    Parameters
    ----------
    present : frozenset of str
        Keys of materials that are not offered because they are in the formula.

    Raises
    ------
    UnknownFacet, BadValue
    """
    check(request)
    own_hours = asked.lasting.hours if asked.lasting else 0.0
    if verb == "extend" and request.until_hours and request.until_hours <= own_hours:
        still = f"{asked.name} itself is still there (until {own_hours:.2g} h); ask for a later hour"
        raise BadValue("until_hours", f"{request.until_hours:.2g} h", still)
    found = smells(verb, request, palette)
    wanted, notes = _wanted(verb, request, found, asked)
    own_clock = own_strip_notes([asked], palette.conditions)
    notes = [*warnings([asked], palette.catalogue.entries, request.market), *own_clock, *notes]
    if request.because == "price" and not (request.shelf and request.shelf.prices):
        what = "price classes decide" if by_price_class(asked, request) else "prices decide nothing"
        notes.append(f"No bottle on the shelf has a price, so that {what}; see `recommender shelf`.")
    less = found.less if verb == "vary" else ()
    own = {facet: asked.strength_of(facet) for facet in less}
    avoided = {facet: min(CLEAR_LABEL, own.get(facet) or CLEAR_LABEL) for facet in found.refused}
    surely_there = asked.lasting.low if asked.lasting else 0.0
    least_hours = surely_there if verb == "extend" else None
    beside = present or frozenset({asked.slug} if verb == "extend" else ())
    if verb == "replace":
        beside -= {asked.slug}
    eligibility = Eligibility(request, palette, wanted, avoided, asked, present, least_hours, beside=beside)
    return MaterialQuery(verb, asked, less, eligibility, _window(request, asked), tuple(notes))


def _wanted(
    verb: str, request: Request, found: Smells, asked: Material
) -> tuple[Mapping[str, float], list[str]]:
    notes = list(found.notes)
    if found.wanted:
        if verb != "vary" and asked.labels and not any(asked.strength_of(facet) for facet in found.wanted):
            notes.append(f"{asked.name} itself is not known to smell of {', '.join(found.wanted)}.")
        return found.wanted, notes
    if verb != "extend":
        return {}, notes
    strongest = max((label.strength for label in asked.labels), default=0)
    leading = {label.facet: 1.0 for label in asked.labels if label.strength == strongest >= CLEAR_LABEL}
    if not leading:
        raise BadValue("facet", "", f"no smell is on record for {asked.name}; name the facet you want")
    return leading, [
        *notes,
        f"No facet was named; wanted is what {asked.name} leads with: {', '.join(leading)}.",
    ]


def _window(request: Request, asked: Material) -> tuple[float, float]:
    """Return the hours in which a facet has to be there: heart, base, or from when the asked is gone."""
    gone = asked.lasting.hours if asked.lasting else 0.25
    start, end = WINDOWS.get(request.into or "", (max(gone, 0.25), DEFAULT_UNTIL_HOURS))
    end = request.until_hours or max(end, 1.5 * start)
    return min(start, end / 1.5), end
