"""Why a suggestion or a change is proposed: one frozen class for each kind of reason, figures and no prose.

The names of the fields are the keys of `figures` in the published JSON, unless a field's metadata says
otherwise; a new reason needs a class here, a place in `Reason` and a sentence in `output.sentences`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, is_dataclass
from typing import Any, ClassVar, TypeAlias


def as_data(record: Any, without: Sequence[str] = ()) -> dict[str, Any]:
    """Return a dataclass as plain data, nested ones too, tuples as lists.

    A field with `key` in its metadata stands under that key; one with `whole` is a mapping whose entries
    stand beside the other fields.

    >>> as_data(RelationStep("eugenol", "isomer-of", "isoeugenol"))["to"]
    'isoeugenol'
    """
    found: dict[str, Any] = {}
    for one in fields(record):
        value = _plain(getattr(record, one.name))
        if one.metadata.get("whole"):
            found |= value
        elif one.name not in without:
            found[one.metadata.get("key", one.name)] = value
    return found


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, tuple):
        return [_plain(inner) for inner in value]
    return as_data(value) if is_dataclass(value) else value


@dataclass(frozen=True, slots=True)
class BasedFigures:
    """Figures with what they rest on: a basis, and the key of a source, both blank where there is none."""

    basis: str = field(default="", kw_only=True)
    source: str = field(default="", kw_only=True)

    @property
    def figures(self) -> dict[str, Any]:
        """The figures as plain data, under the keys of the published JSON."""
        return as_data(self, without=("basis", "source"))


# what it smells of


@dataclass(frozen=True, slots=True)
class FacetStrengths:
    """Strength of one facet (0 none to 3 leading) in the offered and in the asked material."""

    here: int
    asked: int


@dataclass(frozen=True, slots=True)
class SharedFacets(BasedFigures):
    """Facets that the offered material shares with the asked one or that were wanted."""

    kind: ClassVar[str] = "shares"
    facets: Mapping[str, FacetStrengths] = field(metadata={"whole": True})


@dataclass(frozen=True, slots=True)
class LessOfFacets(BasedFigures):
    """Refused facets of the asked material, and what is left of them."""

    kind: ClassVar[str] = "less of"
    facets: Mapping[str, FacetStrengths] = field(metadata={"whole": True})


@dataclass(frozen=True, slots=True)
class NearFacets(BasedFigures):
    """Facets near a wanted one, each with how much it counts for it, 0-1."""

    kind: ClassVar[str] = "near"
    facets: Mapping[str, float] = field(metadata={"whole": True})


@dataclass(frozen=True, slots=True)
class LabelsFromMemory(BasedFigures):
    """How many odour labels there are, and how many of them come from memory."""

    kind: ClassVar[str] = "labels from memory"
    labels: int
    from_memory: int


@dataclass(frozen=True, slots=True)
class TermDisagreement(BasedFigures):
    """Terms of likeness that lie far apart: some of likeness, labels and facet, 0-1 each."""

    kind: ClassVar[str] = "terms disagree"
    terms: Mapping[str, float] = field(metadata={"whole": True})


# how long it lasts, how strong it is


@dataclass(frozen=True, slots=True)
class LastingReason(BasedFigures):
    """Hours on a strip, with band and position, beside those of the asked material (None: unknown)."""

    kind: ClassVar[str] = "lasts"
    hours: float
    low: float
    high: float
    position: str
    asked_hours: float | None
    vapour_pressure_pa: float | None


@dataclass(frozen=True, slots=True)
class StrengthReason(BasedFigures):
    """Intensity 0-100 of a 1 % strip beside that of the asked material (None: unknown).

    `rests_on` is curve, threshold or class; `firm` means that both curves are measured and not doubtful.
    """

    kind: ClassVar[str] = "strength"
    strength: float
    asked: float | None
    rests_on: str
    firm: bool


@dataclass(frozen=True, slots=True)
class DoubtfulCurve(BasedFigures):
    """A measured strength curve that is doubtful, with its width."""

    kind: ClassVar[str] = "curve doubtful"
    width: float


@dataclass(frozen=True, slots=True)
class StrengthDispute(BasedFigures):
    """Names of two materials of which common practice calls one stronger and the figures the other."""

    kind: ClassVar[str] = "strength disputed"
    stronger: str
    weaker: str
    note: str


@dataclass(frozen=True, slots=True)
class StrengthClass(BasedFigures):
    """A strength that is a class, not a measurement, with its uncertainty in decades."""

    kind: ClassVar[str] = "strength is a class"
    decades_either_way: float


# how it is related, how it is used


@dataclass(frozen=True, slots=True)
class RelationStep:
    """One relation of a path, between two materials by name."""

    start: str = field(metadata={"key": "from"})
    relation: str
    end: str = field(metadata={"key": "to"})
    note: str = ""
    basis: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class RelationPath(BasedFigures):
    """The relations that lead from the asked material to the offered one."""

    kind: ClassVar[str] = "relation"
    path: tuple[RelationStep, ...]


@dataclass(frozen=True, slots=True)
class RelationWarning(BasedFigures):
    """A relation that speaks against using two materials together."""

    kind: ClassVar[str] = "warning"
    relation: str
    note: str


@dataclass(frozen=True, slots=True)
class UseLevel(BasedFigures):
    """The usual share of a concentrate [%]."""

    kind: ClassVar[str] = "use level"
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class BeyondUsualUse(BasedFigures):
    """The parts per thousand that would win most of what can be won, `times` the high end of usual use.

    `usual_low` and `usual_high` are its ends and `present` is what is there already, in parts per thousand.
    """

    kind: ClassVar[str] = "beyond usual use"
    material: str
    parts: float
    times: float
    usual_low: float
    usual_high: float
    present: float


@dataclass(frozen=True, slots=True)
class ReplacementDose(BasedFigures):
    """How the dose of a stand-in was chosen: one to one, or at equal strength.

    `times` is how many times the amount gives equal strength, `within` the factor by which the two strengths
    may be off; both are None where a strength is unknown. `bounded` means that usual use or a limit cut it.
    """

    kind: ClassVar[str] = "dose of the stand-in"
    one_to_one: bool
    times: float | None
    within: float | None
    bounded: bool


@dataclass(frozen=True, slots=True)
class SharedDrawbacks(BasedFigures):
    """Drawbacks that a stand-in shares with what it stands for."""

    kind: ClassVar[str] = "same trouble"
    kinds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PracticeDrawback(BasedFigures):
    """What practice has against a material in a product, or for its colour, or to buy it.

    `quality` is one of `model.PRACTICE`, or availability; `value` is None where it is not on record.
    """

    kind: ClassVar[str] = "in practice"
    material: str
    quality: str
    value: str | None
    note: str


@dataclass(frozen=True, slots=True)
class PriceClasses(BasedFigures):
    """Price classes, of `model.PRICES`, of an offered material and of the asked one."""

    kind: ClassVar[str] = "price class"
    material: str
    price: str
    asked: str


@dataclass(frozen=True, slots=True)
class MilderAcetal(BasedFigures):
    """A stand-in that is an acetal of the asked aldehyde."""

    kind: ClassVar[str] = "milder"


# what makes it a good companion


@dataclass(frozen=True, slots=True)
class ClassicPair(BasedFigures):
    """The material beside which the offered one is classic, by name, with the note on the pair."""

    kind: ClassVar[str] = "classic pair"
    beside: str
    note: str


@dataclass(frozen=True, slots=True)
class PairedLike(BasedFigures):
    """A classic pair by names that speaks by likeness: `beside` smells like `like`, or `partner` like it.

    `like` is the material that was asked about, or one line of the formula; it may be `beside` itself.
    `partner` may be the offered material itself.
    """

    kind: ClassVar[str] = "paired alike"
    like: str
    beside: str
    partner: str
    note: str


@dataclass(frozen=True, slots=True)
class Bridge(BasedFigures):
    """Facets that both have and with which not both lead, each with its strengths."""

    kind: ClassVar[str] = "bridge"
    facets: Mapping[str, FacetStrengths] = field(metadata={"whole": True})


@dataclass(frozen=True, slots=True)
class FacetAffinity(BasedFigures):
    """A facet of the offered material, one of the asked, and how much more they are paired, in e-folds."""

    kind: ClassVar[str] = "facets go together"
    facet: str
    beside: str
    lift: float


@dataclass(frozen=True, slots=True)
class StripCheck(BasedFigures):
    """Two strips to smell together at some hours, and the dilutions [%] in which neither hides the other."""

    kind: ClassVar[str] = "strips"
    beside: str
    beside_percent: float
    percent: float
    hours: tuple[float, ...]


# what it does in a formula, or together with others


@dataclass(frozen=True, slots=True)
class FormulaEffect(BasedFigures):
    """Presence of the wanted facets in a formula without and with `parts` per thousand, 0-1.

    `change` is how far all other facets move, as a share of them.
    """

    kind: ClassVar[str] = "in the formula"
    facets: tuple[str, ...]
    before: float
    after: float
    change: float
    parts: float
    from_hours: float
    until_hours: float


@dataclass(frozen=True, slots=True)
class RelayReason(BasedFigures):
    """Two carriers by name with their parts per thousand, and the hour at which the second takes over."""

    kind: ClassVar[str] = "relay"
    heart: str
    heart_parts: float
    base: str
    base_parts: float
    handover_hours: float | None


@dataclass(frozen=True, slots=True)
class BlendProfile(BasedFigures):
    """Shares of a blend by name, the cosine of its label profile to that of the asked, what is missing."""

    kind: ClassVar[str] = "blend"
    members: Mapping[str, float]
    profile: float
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ThroughNatural(BasedFigures):
    """How much of a substance is left that comes through a natural, by name, where that is changed.

    `percent_before` and `percent_after` are the substance in the concentrate [%], through all naturals;
    `parts_before` and `parts_after` the natural [parts per thousand], 0 where it is taken out;
    `parts_offered` what is offered in its place, or beside what is left of it.
    """

    kind: ClassVar[str] = "through a natural"
    substance: str
    natural: str
    percent_before: float
    percent_after: float
    parts_before: float
    parts_after: float
    parts_offered: float


# what it does to the finished product


@dataclass(frozen=True, slots=True)
class LabelAddition(BasedFigures):
    """Names that a material adds to the label, each with its share of the material [%].

    `in_addition` where only those are named that what it replaces does not bring.
    """

    kind: ClassVar[str] = "adds to the label"
    material: str
    names: Mapping[str, float]
    in_addition: bool = False


@dataclass(frozen=True, slots=True)
class LimitContribution(BasedFigures):
    """A limit that a material counts against.

    `through` names the natural that brings the substance, None where it is the material itself. `most_parts`
    is what the limit leaves at `dosage`, in parts per thousand, rounded down; `before` and `after` are the
    shares of the limit that are used without and with a first try. All three are None without a dosage.
    """

    kind: ClassVar[str] = "counts against a limit"
    substance: str
    through: str | None
    limit_percent: float
    category: str
    market: str
    verified: bool
    dosage: float | None
    most_parts: float | None
    before: float | None
    after: float | None


Reason: TypeAlias = (
    SharedFacets
    | LessOfFacets
    | NearFacets
    | LabelsFromMemory
    | TermDisagreement
    | LastingReason
    | StrengthReason
    | DoubtfulCurve
    | StrengthDispute
    | StrengthClass
    | RelationPath
    | RelationWarning
    | UseLevel
    | BeyondUsualUse
    | ReplacementDose
    | SharedDrawbacks
    | MilderAcetal
    | PracticeDrawback
    | PriceClasses
    | ClassicPair
    | PairedLike
    | Bridge
    | FacetAffinity
    | StripCheck
    | FormulaEffect
    | RelayReason
    | BlendProfile
    | ThroughNatural
    | LabelAddition
    | LimitContribution
)
"""A reason for a suggestion; the sentences are checked to cover each of them."""


# why a formula is changed after a trial


@dataclass(frozen=True, slots=True)
class TooStrongFacet(BasedFigures):
    """A facet (blank: the whole smell) that was too strong at some hours, and the factor of the cut.

    `before` and `after` are the intensities 0-100 that are predicted for the first of the hours.
    """

    facet: str
    hours: tuple[float, ...]
    factor: float
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class FadedFacet(BasedFigures):
    """A facet that was gone or a trace at an hour, and last clear at `alive` (None: never).

    `predicted` is the intensity 0-100 that was expected at the hour, `by` the name of who carried it.
    """

    facet: str
    hours: float
    rating: str = field(metadata={"key": "said"})
    alive: float | None
    until_hours: float
    predicted: float
    by: str | None


@dataclass(frozen=True, slots=True)
class RestoredFacet(FadedFacet):
    """A faded facet, and the intensity 0-100 that is predicted for the same hour with what is added."""

    after: float


@dataclass(frozen=True, slots=True)
class RedundantMaterial(BasedFigures):
    """What is missed most, 0-1, of a material that is left out, in which phase, and who covers it by name."""

    facet: str
    phase: str
    missed: float
    covered_by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MaskedFacet(BasedFigures):
    """A facet that a loud material hides, and how present it is with `factor` times as much of that.

    `before` and `after` are the soft presence, 0-1, of what is left beside the rest; `change` is the share of
    all other facets that moves. `factor` 0 takes the material out. `hidden` is the presence that would be won
    if the material were there but not smelled; what is won beyond that comes from the room it leaves.
    """

    facet: str
    material: str
    factor: float
    before: float
    after: float
    change: float
    from_hours: float
    until_hours: float
    hidden: float


ChangeReason: TypeAlias = TooStrongFacet | FadedFacet | RestoredFacet | RedundantMaterial | MaskedFacet
"""A reason for a change to a formula."""
