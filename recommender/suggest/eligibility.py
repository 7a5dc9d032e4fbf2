"""Who may be offered: one ordered list of rules that gives both the mask and the reason why not.

A rule returns its objections to a material, in sentences, and none where the material may be offered. `RULES`
has them in order of importance: the first that objects gives the reason.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt

from recommender import regulation
from recommender.evaporation.lasting import ONE_MOLECULE
from recommender.model import Material
from recommender.palette import Array, Palette
from recommender.similarity.odour_space import LEAST_SHOWN
from recommender.suggest import practice
from recommender.suggest.request import Request


@dataclass(frozen=True)
class Eligibility:
    """What bounds an offer.

    `wanted` facets with their share; `avoided` facets with the strength from which a label is too much.
    `asked` is the material asked about, None for a facet of a formula; `present` are keys of materials that
    are in the formula. `least_hours` is an hour that the band of an offered material's hours has to reach,
    None where that does not matter: hours rank by themselves, and only what is gone whichever figure is right
    is left out. `simulated` means that it has to have a strength curve. `beside` are keys of the materials
    that an offered one is used with: those that stay in the formula, or the one that it is to go with.
    """

    request: Request
    palette: Palette
    wanted: Mapping[str, float] = field(default_factory=dict)
    avoided: Mapping[str, int] = field(default_factory=dict)
    asked: Material | None = None
    present: frozenset[str] = frozenset()
    least_hours: float | None = None
    simulated: bool = False
    objections: Mapping[str, str] = field(default_factory=dict)
    beside: frozenset[str] = frozenset()

    @cached_property
    def together(self) -> tuple[Material, ...]:
        """The materials that an offered one is used with."""
        return tuple(self.palette.catalogue.by_slug(slug) for slug in sorted(self.beside))

    @cached_property
    def carried(self) -> Array | None:
        """How strongly each material shows the wanted facets, (materials,), None where none is wanted."""
        return self.palette.space.carries(self.wanted) if self.wanted else None

    @cached_property
    def barred(self) -> frozenset[str]:
        """Keys and CAS numbers that some prohibition names, of any market: most materials are in none."""
        limits = (limit for limit in self.palette.catalogue.entries if limit.kind == "prohibition")
        return frozenset(name for limit in limits for name in (*limit.cas, *limit.materials))

    @cached_property
    def mask(self) -> npt.NDArray[np.bool_]:
        """Which materials may be offered, shape (materials,)."""
        return np.array([not self.why_not(m) for m in self.palette.catalogue.materials], bool)

    def why_not(self, material: Material) -> list[str]:
        """Return why a material may not be offered, in sentences; empty where it may be."""
        return next((against for rule in RULES if (against := rule(self, material))), [])


Rule = Callable[[Eligibility, Material], list[str]]


def prohibited(bounds: Eligibility, material: Material) -> list[str]:
    """Return each prohibition of a material in the market, with its source."""
    catalogue = bounds.palette.catalogue
    found: list[str] = []
    if bounds.barred.isdisjoint((material.slug, *material.cas_all)):
        return []
    for limit in regulation.prohibitions(
        material, catalogue.entries, bounds.request.market, bounds.request.on
    ):
        origin = catalogue.sources.get(limit.source, "from memory, unverified")
        entry = f", {limit.reference}" if limit.reference else ""
        note = f"; {limit.note}" if limit.note else ""
        found.append(f"{material.name} is prohibited: {limit.name} ({origin}{entry}{note}).")
    return found


def label_allergens(bounds: Eligibility, material: Material) -> list[str]:
    """Return the names that a material brings to the label, where none may be added."""
    if not bounds.request.no_label_allergens:
        return []
    catalogue = bounds.palette.catalogue
    by_name = {allergen.name: allergen for allergen in catalogue.allergens}
    found = []
    for name, share in regulation.listed(material, catalogue).items():
        rule = by_name[name]
        origin = f"{catalogue.sources.get(rule.source, rule.source)}, Annex III entry {rule.entry}"
        brings = f"brings {name} (up to {100 * share:.2g} % of it)" if share < 1.0 else f"is {name}"
        found.append(f"{material.name} {brings}, which has to be named on the label ({origin}).")
    return found


def solvents(_: Eligibility, material: Material) -> list[str]:
    """Return that a solvent has no smell to offer."""
    if material.kind != "solvent":
        return []
    return [f"{material.name} is a solvent and is not offered for its smell."]


def the_asked(bounds: Eligibility, material: Material) -> list[str]:
    """Return that a material is the one asked about."""
    if bounds.asked is None or material.slug != bounds.asked.slug:
        return []
    return [f"{material.name} is the material that was asked about."]


def in_the_formula(bounds: Eligibility, material: Material) -> list[str]:
    """Return that a material is in the formula."""
    return [f"{material.name} is in the formula already."] if material.slug in bounds.present else []


def references(_: Eligibility, material: Material) -> list[str]:
    """Return that a material is in the catalogue as a smell to compare with."""
    if material.role == "palette":
        return []
    return [f"{material.name} is known for its smell only and is not offered."]


def odourless(_: Eligibility, material: Material) -> list[str]:
    """Return that a material has no odour labels."""
    return [] if material.labels else [f"No smell of {material.name} is on record."]


def own_nose(bounds: Eligibility, material: Material) -> list[str]:
    """Return what the person's own nose does not smell: the material, or every wanted facet in it."""
    note = material.own
    if note is not None and note.blind:
        return [f"You cannot smell {material.name}, as your notebook says."]
    if note is not None and bounds.wanted and set(bounds.wanted) <= set(note.denied):
        return [f"To your nose {material.name} does not smell of {', '.join(bounds.wanted)}."]
    return []


def own_shelf(bounds: Eligibility, material: Material) -> list[str]:
    """Return that a material is not on the shelf, or costs too much."""
    request, shelf = bounds.request, bounds.request.shelf
    if shelf is None:
        return []
    if request.only_shelf and material.slug not in shelf.by_material:
        return [f"{material.name} is not on your shelf."]
    if request.max_price is None:
        return []
    price = shelf.prices.get(material.slug)
    if price is None:
        return [f"No price of {material.name} is on your shelf."]
    if price > request.max_price:
        return [f"{material.name} costs {price:.3g} a gram neat, more than {request.max_price:g}."]
    return []


def poor_in_product(bounds: Eligibility, material: Material) -> list[str]:
    """Return that a material does poorly in the product that is asked for."""
    product = bounds.request.product
    return practice.does_poorly(material, product) if product else []


def colouring(bounds: Eligibility, material: Material) -> list[str]:
    """Return that a material colours, by itself or with what it is used with, where nothing may."""
    if not bounds.request.colourless:
        return []
    return practice.colours(material) or practice.makes_schiff_base(material, bounds.together)


def hardly_available(bounds: Eligibility, material: Material) -> list[str]:
    """Return that a material is hardly to be had, where what is offered has to be available."""
    return practice.hardly_available(material, bounds.request) if bounds.request.available else []


def avoided_smells(bounds: Eligibility, material: Material) -> list[str]:
    """Return the first avoided facet that a material smells too much of."""
    for facet, too_much in bounds.avoided.items():
        if material.strength_of(facet) >= too_much:
            return [f"{material.name} smells of {facet}, which you avoid."]
    return []


def other_kinds(bounds: Eligibility, material: Material) -> list[str]:
    """Return that a material is of another kind than the one asked for."""
    wanted = bounds.request.kind
    if not wanted or material.kind == wanted:
        return []
    return [f"{material.name} is a {material.kind}; you asked for a {wanted}."]


def too_little(bounds: Eligibility, material: Material) -> list[str]:
    """Return that a material shows too little of what is wanted."""
    row = bounds.palette.catalogue.index[material.slug]
    if bounds.carried is None or bounds.carried[row] >= LEAST_SHOWN:
        return []
    return [f"{material.name} shows too little of {', '.join(bounds.wanted)}."]


def nearly_present(bounds: Eligibility, material: Material) -> list[str]:
    """Return that a natural which should outlast a molecule is little else than that molecule."""
    if bounds.least_hours is None:
        return []
    fading = bounds.present if bounds.asked is None else {bounds.asked.slug}
    for part in material.parts:
        if part.name != material.slug and part.name in fading and part.mass_fraction >= ONE_MOLECULE:
            name = bounds.palette.catalogue.by_slug(part.name).name
            return [f"{material.name} is {100 * part.mass_fraction:.0f} % {name} and fades with it."]
    return []


def too_short(bounds: Eligibility, material: Material) -> list[str]:
    """Return that a material does not last long enough, or that its lasting is unknown."""
    if bounds.least_hours is None:
        return []
    if material.lasting is None:
        return [f"How long {material.name} lasts is not known."]
    if material.lasting.high >= bounds.least_hours:
        return []
    if bounds.asked is not None:
        return [f"{material.name} is gone from a strip before {bounds.asked.name} is."]
    return [f"{material.name} is gone from a strip long before the facet fades in the formula."]


def without_curve(bounds: Eligibility, material: Material) -> list[str]:
    """Return that a material cannot be simulated, because its strength is unknown."""
    if not bounds.simulated or material.curve is not None:
        return []
    return [f"How strong {material.name} smells is not known."]


def of_the_verb(bounds: Eligibility, material: Material) -> list[str]:
    """Return what the verb itself has against a material."""
    found = bounds.objections.get(material.slug)
    return [found] if found else []


RULES: tuple[Rule, ...] = (
    prohibited,
    label_allergens,
    solvents,
    the_asked,
    in_the_formula,
    references,
    odourless,
    own_nose,
    own_shelf,
    poor_in_product,
    colouring,
    hardly_available,
    avoided_smells,
    other_kinds,
    too_little,
    nearly_present,
    too_short,
    without_curve,
    of_the_verb,
)
"""Every rule of who may be offered, in the order in which reasons are given."""
