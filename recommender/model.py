"""The domain classes: frozen values that go from stage to stage."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import comb

from recommender.reasons import MaskedFacet, Reason

STRIP = "strip"
"""The surface for which the tables hold."""
SURFACE_NAMES = (STRIP, "skin", "cotton", "polyester")
"""What a formula may dry on; the constants are in `evaporation.surfaces`."""
BECAUSE = ("stock", "price", "law", "smell")
"""Why a material is replaced: out of stock, too dear, restricted or harmful, or not the wanted smell."""
HARDLY = "hardly to be had"
AVAILABILITY = ("common", "specialist", HARDLY)
"""How easily a material can be bought: any supplier of perfumery materials, few of them, hardly anyone."""
PRODUCTS: Mapping[str, str] = {
    "soap": "bar soap",
    "candle": "a candle",
    "shampoo": "shampoo",
    "wash": "washing powder",
}
"""Finished products that are hard on materials, and their words: pH about 10, wax and flame, 5-7, 10-11."""
PRODUCT_CATEGORIES: Mapping[str, str] = {"soap": "9", "candle": "12", "shampoo": "9", "wash": "10A"}
"""Category of each product in the industry Standards, as `data/categories.csv` words them."""
PRICES = ("low", "medium", "high", "very high")
"""Price per kg in small trade: under 50 euro, 50 to 200, 200 to 1000, above."""
PRACTICE: Mapping[str, tuple[str, ...]] = {
    "price": PRICES,
    "colour": ("colourless", "pale", "coloured", "dark"),
    "colour in time": ("stable", "yellows", "browns"),
    "ethanol": ("clear", "partly", "insoluble"),
    **dict.fromkeys(PRODUCTS, ("good", "fair", "poor")),
}
"""What may be on record of a material in practice: each quality with its values."""
ALDEHYDE, AMINE = "aldehyde", "amine"
"""The two sides of a Schiff base: an aldehyde, and a primary aromatic amine such as an anthranilate."""
LABEL_WEIGHTS: Mapping[int, float] = {1: 0.3, 2: 0.6, 3: 1.0}
"""Weight of a label's strength: trace, clear, leading."""
CLEAR_LABEL = 2
"""Strength of a label from which a material clearly shows a facet, and is avoided where that is refused."""
LEADING_LABEL = 3
"""Strength of a label that a material leads with."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A number with its unit, and what it rests on.

    `basis` is measured, published, estimated, common practice, memory or user; `source` is a key of
    the table of sources and may be empty for the last three. `low` and `high` are the band, in the same unit.
    """

    value: float
    unit: str
    basis: str
    source: str = ""
    low: float | None = None
    high: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Facet:
    """A smell that perfumers tell apart, by its usual name."""

    name: str
    family: str
    meaning: str
    synonyms: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Umbrella:
    """A word that covers several facets, or a word of another language, `language`, for one or several."""

    word: str
    members: tuple[str, ...]
    synonyms: tuple[str, ...] = ()
    language: str = ""


@dataclass(frozen=True, slots=True)
class Label:
    """One facet of a material with its strength: 1 trace, 2 clear, 3 leading."""

    facet: str
    strength: int
    basis: str
    source: str = ""

    @property
    def weight(self) -> float:
        """Strength as a weight between 0 and 1."""
        return LABEL_WEIGHTS[self.strength]


@dataclass(frozen=True, slots=True)
class Name:
    """Another name of a material: systematic, INCI, trivial, German, French, or that of a usual grade."""

    text: str
    kind: str


@dataclass(frozen=True, slots=True)
class Curve:
    """Perceived intensity, 0-100, against concentration in air.

    I = i_max / (1 + exp(-(log10 c - log10_half) / width)), c in ug/L. `kind` is what it rests on: a
    measured curve, a threshold, or a class. `log_error` is the uncertainty of log10_half in decades.
    """

    i_max: float
    log10_half: float
    width: float
    kind: str
    basis: str
    source: str = ""
    doubtful: bool = False
    log_error: float = 0.5


@dataclass(frozen=True, slots=True)
class Component:
    """A part of a material that evaporates by itself (a molecule has one).

    `pressure_pa` is that of the liquid at 25 C (subcooled for a solid), `crystal_pa` that of the
    crystals where it is a solid; `log_error` is the uncertainty of the pressure in decades. `curve` is
    None where it has no smell. `basis` is that of the pressure. `log_p` (octanol against water) and the heat
    of vaporisation at 25 C are None where unknown.
    """

    name: str
    mass_fraction: float
    pressure_pa: float
    molar_mass: float
    crystal_pa: float | None = None
    log_error: float = 0.35
    basis: str = "published"
    curve: Curve | None = None
    log_p: float | None = None
    vaporisation_j_per_mol: float | None = None


@dataclass(frozen=True, slots=True)
class Caution:
    """A short safety note for work with a material.

    `dilution_percent` is the strongest dilution [%] that the note advises, None where it names none.
    """

    kind: str
    text: str
    basis: str
    source: str = ""
    dilution_percent: float | None = None


@dataclass(frozen=True, slots=True)
class PracticeFact:
    """What practice knows of a material: a quality and its value, both of `PRACTICE`."""

    quality: str
    value: str
    basis: str
    source: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Content:
    """A constituent of a natural: key of a material or a plain name, and the ends of its share [% by mass].

    `high` is None where only a least share is known, both are None where it is only known to be present.
    """

    name: str
    low: float | None
    high: float | None
    basis: str
    source: str = ""

    @property
    def middle_percent(self) -> float:
        """The middle of its range [%]; the least share where only that is known, 0 where none is."""
        low = self.low or 0.0
        return (low + (low if self.high is None else self.high)) / 2


@dataclass(frozen=True, slots=True)
class Limit:
    """What an authority set on a substance: a prohibition, or limits by category of product.

    `kind` is prohibition, restriction or specification; `market` names the authorities, separated by
    semicolons; `percent` maps a category to the most that the finished product may contain [% by mass]; of a
    missing one no limit is on record. In the `unlimited` categories the authority sets none. `counted_with`
    are CAS numbers added up with its own; of a `sum_group` the fractions of the limits are added up.
    `applies_from` is the day (yyyy-mm-dd) from which it applies, blank where it applied when it was read;
    `applies_until` that from which another entry takes its place. `condition` is what a certificate has to
    show; `mapping` why product types stand in these categories. `superseded_by` is the amendment that has
    replaced these figures, blank where none has.
    """

    name: str
    cas: tuple[str, ...]
    materials: tuple[str, ...]
    kind: str
    market: str
    basis: str
    source: str
    reference: str = ""
    excepted: tuple[str, ...] = ()
    note: str = ""
    percent: Mapping[str, float] = field(default_factory=dict)
    counted_with: tuple[str, ...] = ()
    sum_group: str = ""
    date: str = ""
    unlimited: tuple[str, ...] = ()
    applies_from: str = ""
    applies_until: str = ""
    condition: str = ""
    mapping: str = ""
    superseded_by: str = ""

    @property
    def verified(self) -> bool:
        """Whether its figures settle anything: neither from memory nor superseded."""
        return self.basis != "memory" and not self.superseded_by


@dataclass(frozen=True, slots=True)
class AnnexEntry:
    """An entry of Annex II (prohibited) or III (restricted) of the Cosmetics Regulation, and its act."""

    annex: str
    entry: str
    name: str
    cas: tuple[str, ...]
    regulation: str
    updated: str


@dataclass(frozen=True, slots=True)
class PublishedStandard:
    """An industry Standard by name, CAS, types (restriction, prohibition, specification) and amendment."""

    name: str
    cas: tuple[str, ...]
    types: tuple[str, ...]
    amendment: str
    published: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Allergen:
    """A name that European law wants on the label, and the CAS numbers that are added up under it.

    `added` is original, 2023 or deleted (prohibited since).
    """

    name: str
    cas: tuple[str, ...]
    materials: tuple[str, ...]
    added: str
    entry: str
    basis: str
    source: str
    date: str = ""
    excepted: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class Category:
    """A category of finished products; `use` is leave-on, rinse-off or not a cosmetic."""

    name: str
    words: str
    use: str


@dataclass(frozen=True, slots=True)
class Relation:
    """A typed, sourced relation from one material to another."""

    start: str
    kind: str
    end: str
    weight: float
    basis: str
    source: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Lasting:
    """Hours on a strip, neat, with band and position (top, heart, base)."""

    hours: float
    low: float
    high: float
    position: str
    basis: str

    @property
    def figures(self) -> dict[str, object]:
        """Hours with their band, and the position, as plain data."""
        return {"hours": self.hours, "low": self.low, "high": self.high, "position": self.position}


@dataclass(frozen=True, slots=True)
class OwnNote:
    """What a material smells of to the person whose notebook it is.

    `labels` replace the table's, or add to them where `adds`; `denied` are facets that it does not have for
    this person. `strength` is stronger, weaker, much stronger, much weaker or blank; `blind` means that this
    person cannot smell it. `instead_of` are the labels of the table.
    """

    material: str
    labels: tuple[Label, ...] = ()
    denied: tuple[str, ...] = ()
    adds: bool = False
    strength: str = ""
    blind: bool = False
    words: str = ""
    instead_of: tuple[Label, ...] = ()


@dataclass(frozen=True, slots=True)
class Bottle:
    """A bottle on the person's shelf.

    `material` is a key, blank until the label is resolved; `amount_g` [g] and `price_per_g` (of what is in
    the bottle, in the person's own currency) are None where unknown; `opened` is yyyy-mm-dd or blank.
    """

    label: str
    material: str
    dilution_percent: float = 100.0
    solvent: str = ""
    amount_g: float | None = None
    price_per_g: float | None = None
    opened: str = ""
    lot: str = ""
    note: str = ""
    number: int = 0

    @property
    def neat_price_per_g(self) -> float | None:
        """Price of a gram of the neat material, None where it is unknown."""
        return None if self.price_per_g is None else self.price_per_g / (self.dilution_percent / 100.0)


@dataclass(frozen=True, slots=True)
class Material:
    """A bottle on the shelf, or a smell that is only a reference.

    `strength` is the intensity 0-100 of a 1 % strip after one minute; `use` the usual share of a
    concentrate [%]; they and `lasting` are None where unknown. `own` is the note of the
    person's own smell note, which overrules the table. `availability` is one of `AVAILABILITY`, blank where
    it is unknown. `practice` has one fact at most of each quality. `schiff_base` is the side that it, or much
    of it, takes in one, `ALDEHYDE` or `AMINE`, blank where it takes none.
    """

    slug: str
    name: str
    cas: str
    cas_more: tuple[str, ...]
    kind: str
    form: str
    role: str
    smiles: str = ""
    molar_mass: float | None = None
    names: tuple[Name, ...] = ()
    labels: tuple[Label, ...] = ()
    figures: Mapping[str, tuple[Figure, ...]] = field(default_factory=dict)
    parts: tuple[Component, ...] = ()
    lasting: Lasting | None = None
    strength: float | None = None
    use: Figure | None = None
    cautions: tuple[Caution, ...] = ()
    contents: tuple[Content, ...] = ()
    own: OwnNote | None = None
    availability: str = ""
    practice: tuple[PracticeFact, ...] = ()
    schiff_base: str = ""

    def in_practice(self, quality: str) -> PracticeFact | None:
        """Return what is on record of a quality of `PRACTICE`, None where nothing is."""
        return next((fact for fact in self.practice if fact.quality == quality), None)

    @property
    def cas_all(self) -> tuple[str, ...]:
        """Every CAS number of this trade material, the main one first."""
        return tuple(c for c in (self.cas, *self.cas_more) if c)

    def strength_of(self, facet: str) -> int:
        """Strength of a facet, 0 where it has none."""
        return next((label.strength for label in self.labels if label.facet == facet), 0)

    @property
    def curve(self) -> Curve | None:
        """The dose-response curve of its main smelling part."""
        smelling = [part for part in self.parts if part.curve is not None]
        return max(smelling, key=lambda part: part.mass_fraction).curve if smelling else None

    @property
    def working_percent(self) -> float | None:
        """The strongest dilution [%] to work with according to its cautions, None where none names one."""
        advised = [c.dilution_percent for c in self.cautions if c.dilution_percent is not None]
        return min(advised, default=None)

    @property
    def label_basis(self) -> str:
        """The weakest basis among the labels; user where all are the person's own."""
        if self.labels and all(label.basis == "user" for label in self.labels):
            return "user"
        return "memory" if any(label.basis == "memory" for label in self.labels) else "common practice"


@dataclass(frozen=True, slots=True)
class Dose:
    """What to try, in parts per thousand of the accord: first, least, most; and how to weigh it.

    `dilution_percent` is the dilution in which the dose can be weighed, None where neat will do; `of_query`
    the dose as a multiple of what it replaces, None if it replaces no material. `usual` are the ends of its
    usual range in parts per thousand of the same accord, None where none is on record. `members` are the
    doses of the materials of a relay, in their order, of which this one is the sum.
    """

    first_try: float
    low: float
    high: float
    dilution_percent: float | None = None
    of_query: float | None = None
    usual: tuple[float, float] | None = None
    members: "tuple[Dose, ...]" = ()


@dataclass(frozen=True, slots=True)
class Confidence:
    """How sure the place of a suggestion is.

    `tied_with` are the ranks, from 1, of those that it cannot be told apart from; `first_in` is the share of
    draws, 0-1, in which it is the best of those shown.
    """

    tied_with: tuple[int, ...]
    first_in: float


@dataclass(frozen=True, slots=True)
class ProductStatus:
    """The most serious status of a material and what it brings in the finished product, and what follows."""

    status: str
    decision: str


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A material, or several together, its score with the terms that made it, and the reasons.

    `members` pairs each material of a relay or blend with its share; empty for a single material. `effect`
    is what it does to a formula: the same figures before and after. `bottles` are those of the shelf to
    take it from, one a member, where the shelf was asked for. `confidence` is None for several materials
    together. `availability` is one of `AVAILABILITY`, of several materials the least, blank where unknown.
    `law` is its status in the finished product at the first dose, None without a dosage or a dose.
    `instead_of` is the line of a formula that it takes the place of, where that is not what was asked about:
    the natural that brings it.
    """

    material: Material
    facet: str | None
    score: float
    terms: Mapping[str, float]
    lasting: Lasting | None
    strength: float | None
    brings: tuple[Label, ...]
    reasons: tuple[Reason, ...]
    cautions: tuple[str, ...] = ()
    dose: Dose | None = None
    effect: Mapping[str, Mapping[str, object]] | None = None
    members: tuple[tuple[Material, float], ...] = ()
    bottles: tuple[Bottle, ...] = ()
    confidence: Confidence | None = None
    availability: str = ""
    law: "ProductStatus | None" = None
    instead_of: Material | None = None

    def cost_per_kg(self, bottle: Bottle) -> float | None:
        """Return the cost of a first try from a bottle in a kilogram of the accord.

        Parts per thousand are grams in it; None without a dose or a price.
        """
        price = bottle.neat_price_per_g
        if self.dose is None or price is None:
            return None
        return self.dose.first_try * self._share_of(bottle) * price

    def weighed(self, bottle: Bottle) -> Dose | None:
        """Return the dose in parts per thousand of what is in a bottle, None without a dose."""
        if self.dose is None:
            return None
        times = self._share_of(bottle) * 100.0 / bottle.dilution_percent
        first, low, high = self.dose.first_try, self.dose.low, self.dose.high
        return Dose(first * times, low * times, high * times, bottle.dilution_percent)

    def _share_of(self, bottle: Bottle) -> float:
        return {material.slug: share for material, share in self.members}.get(bottle.material, 1.0)


@dataclass(frozen=True, slots=True)
class LoweredLine:
    """A material of a formula of which less lets a wanted facet be smelled, with its parts before and after.

    Parts are those of the formula, as weighed; 0 after takes it out. `usual` is its usual range there [parts
    per thousand], None where none is on record; `below_usual` is whether what is left is less than that.
    """

    material: Material
    parts_before: float
    parts_after: float
    reason: MaskedFacet
    usual: tuple[float, float] | None = None
    below_usual: bool = False


@dataclass(frozen=True, slots=True)
class Findings:
    """What a suggesting verb found.

    `lower` is what a formula may have less of instead, the best first; None where no formula was asked about.
    `itself` is what practice has against the material asked about, under the filters of the question.
    """

    query: Mapping[str, object]
    asked: str
    suggestions: tuple[Suggestion, ...]
    notes: tuple[str, ...] = ()
    lower: tuple[LoweredLine, ...] | None = None
    itself: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a formula: so many parts, as weighed, of a material or of another formula.

    `dilution` is the mass fraction of the material in what is weighed, 1 for neat; the rest is `solvent`.
    """

    content: "Material | Formula"
    parts: float
    dilution: float = 1.0
    solvent: Material | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Formula:
    """A named list of lines; `notes` are the assumptions made when it was read.

    `theme` are the facets that it states to be about, empty where it states none.
    """

    name: str
    lines: tuple[Line, ...]
    notes: tuple[str, ...] = field(default=(), compare=False)
    theme: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Amount:
    """So much of a neat material in a formula, as a mass fraction of the whole."""

    material: Material
    mass_fraction: float


@dataclass(frozen=True, slots=True)
class Reading:
    """How a strip smelled at an hour: a facet or, where `facet` is blank, the whole smell.

    `rating` is gone, trace, clear, strong or too strong; `level` the strength 0-100 where a person gave a
    number; `words` are free. `place` is its number within the trial or strip, 0 before it is stored.
    """

    hours: float
    rating: str
    facet: str = ""
    level: float | None = None
    words: str = ""
    place: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class TriangleAnswer:
    """Three blind strips smelled at an hour: the numbers in that order, the odd one, and which was chosen."""

    hours: float
    strips: tuple[int, int, int]
    odd: int
    chosen: int
    words: str = ""

    @property
    def right(self) -> bool:
        """Whether the odd one was chosen."""
        return self.chosen == self.odd


@dataclass(frozen=True, slots=True)
class TriangleRecord:
    """The answers of a triangle test so far; `against` is the other version, such as NAME@2."""

    against: str
    answers: tuple[TriangleAnswer, ...]

    @property
    def right(self) -> int:
        """How many answers are right."""
        return sum(answer.right for answer in self.answers)

    @property
    def by_chance(self) -> float:
        """The probability with which guessing gives as many right answers or more, 0-1."""
        return guessed_right(self.right, len(self.answers))


def guessed_right(right: int, count: int) -> float:
    """Return with which probability guessing gives so many right answers, or more, in a triangle test.

    The sum of the binomial probabilities from `right` up to `count`, each answer right in one of three.

    >>> round(guessed_right(4, 4), 4), round(guessed_right(3, 4), 4), guessed_right(0, 4)
    (0.0123, 0.1111, 1.0)

    References
    ----------
    ISO 4120.
    """
    ways = sum(comb(count, k) * 2 ** (count - k) for k in range(right, count + 1))
    return float(ways / 3**count)


@dataclass(frozen=True, slots=True)
class TrialRecord:
    """One trial of one version of a formula: when, how much, in which room, how it smelled, the verdict.

    `formula` and `version` name it, `day` is yyyy-mm-dd; `batch_g` [g] and `room_c` [C] are None where
    they were not recorded. `number` is that of the record, 0 before it is stored. `dipped` is when the strip
    was dipped (yyyy-mm-ddThh:mm, UTC), blank where unknown. `triangle` are the answers of a triangle test of
    this version against another, None where it is none.
    """

    formula: str
    version: int
    day: str
    batch_g: float | None = None
    room_c: float | None = None
    verdict: str = ""
    readings: tuple[Reading, ...] = ()
    number: int = 0
    dipped: str = ""
    triangle: TriangleRecord | None = None


@dataclass(frozen=True, slots=True)
class OwnStrip:
    """A strip of one material, smelled at some hours to learn how this person's strips dry.

    `dilution` is the mass fraction of what was dipped, 1 for neat, in `solvent` (a key); `room_c` the room
    [C]; `day` yyyy-mm-dd; `number` is that of the record, 0 before it is stored.
    """

    material: Material
    readings: tuple[Reading, ...]
    dilution: float = 1.0
    solvent: str = ""
    room_c: float = 25.0
    day: str = ""
    number: int = 0
