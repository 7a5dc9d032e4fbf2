"""Sentences for a perfumer, made from reasons."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from recommender.evaporation.lasting import about_as_long
from recommender.model import HARDLY, PRICES, PRODUCTS, Findings, Suggestion
from recommender.output import limit_sentences
from recommender.output.wording import (
    RELATION_WORDS,
    STRENGTH_WORDS,
    TROUBLE_WORDS,
    join,
    parts,
    parts_of,
    percent,
    step,
    strength_against,
)
from recommender.reasons import (
    BeyondUsualUse,
    BlendProfile,
    Bridge,
    ClassicPair,
    DoubtfulCurve,
    FacetAffinity,
    FormulaEffect,
    LabelAddition,
    LabelsFromMemory,
    LastingReason,
    LessOfFacets,
    LimitContribution,
    MilderAcetal,
    NearFacets,
    PairedLike,
    PracticeDrawback,
    PriceClasses,
    Reason,
    RelationPath,
    RelationWarning,
    RelayReason,
    ReplacementDose,
    SharedDrawbacks,
    SharedFacets,
    StrengthClass,
    StrengthDispute,
    StrengthReason,
    StripCheck,
    TermDisagreement,
    ThroughNatural,
    UseLevel,
    as_data,
)
from recommender.units import duration

Kind = TypeVar("Kind", bound=Reason)

DEGREES = {3: "leads with {}", 2: "shows {} clearly", 1: "has a trace of {}"}
"""What a label of each strength is in a sentence."""
NOT_IN_ONE_LINE = ("shares-facet", "classic-pair", "derivative-of", "constituent-of")
"""Relations that explain nothing in one line; `--explain` shows them."""


def reason(found: Reason, asked: str, offered: str) -> str:
    """Return one reason as a plain sentence."""
    match found:
        case SharedFacets():
            return f"It shares {_shares(found)}."
        case LessOfFacets(facets=facets):
            named = {0: "none", **STRENGTH_WORDS}
            less = [f"{f} ({named[x.here]} instead of {named[x.asked]})" for f, x in facets.items()]
            return f"It has less of the refused facets than {asked}: {', '.join(less)}."
        case NearFacets(facets=near):
            are = "is" if len(near) == 1 else "are"
            return f"It does not have the wanted facet by name, but {join(near)} {are} close to it."
        case LastingReason(hours=hours, asked_hours=asked_hours, position=position):
            before = f", {asked} {duration(asked_hours)}" if asked_hours else ""
            return f"On a strip it lasts {duration(hours)}{before}; it is a {position} note."
        case StrengthReason(strength=own, asked=other, firm=firm):
            if not other:
                return f"At 1 % its strength is {own:.0f} of 100."
            return f"At the same dose it is {strength_against(own, other, asked, firm)}."
        case RelationPath(path=path):
            words = "; ".join(step(as_data(one)) for one in path)
            return f"{words[0].upper()}{words[1:]}."
        case RelationWarning(relation=kind, note=note):
            return f"Caution: {offered} {RELATION_WORDS[kind]} {asked}{f': {note}' if note else ''}."
        case ClassicPair() | PairedLike() | Bridge() | FacetAffinity():
            text = _companion(found, asked, offered)
            return f"{text[0].upper()}{text[1:]}."
        case StripCheck(beside=beside, beside_percent=one, percent=other, hours=hours):
            at = join(duration(hour) for hour in hours)
            return f"Hold strips of {beside} {one:g} % and {offered} {other:g} % together at {at}."
        case FormulaEffect():
            return _in_formula(found)
        case RelayReason():
            return _relay(found)
        case BlendProfile(profile=profile, missing=missing):
            lacks = f"still missing: {join(missing)}" if missing else "nothing clear is missing"
            return f"Together they give {100 * profile:.0f} % of its smell; {lacks}."
        case ThroughNatural():
            return _through(found, offered)
        case LabelAddition(names=names, material=material, in_addition=in_addition):
            return limit_sentences.label(names, material, in_addition)
        case LimitContribution():
            return limit_sentences.limit(found)
        case LabelsFromMemory(labels=labels, from_memory=count):
            return f"{count} of its {labels} labels come from memory: smell it first."
        case UseLevel(low=low, high=high):
            return f"It is usually {percent(low)} to {percent(high)} % of a concentrate."
        case BeyondUsualUse():
            return f"{_beyond(found)}, {parts_of(found.usual_high)}."
        case ReplacementDose():
            return _replacement(found, asked)
        case SharedDrawbacks(kinds=kinds):
            return f"It has the same drawback as {asked}: {join(TROUBLE_WORDS[kind] for kind in kinds)}."
        case PracticeDrawback(material=material):
            if found.value is None:
                return f"Not on record of {material}: {UNKNOWN[found.quality]}."
            return f"{_drawback(found, material)}."
        case PriceClasses(material=material) if found.price == found.asked:
            return f"By price class {material} is not cheaper: both are {found.price}."
        case PriceClasses(material=material):
            return f"By price class {material} is {_price(found)}."
        case MilderAcetal():
            return f"An acetal is milder than its aldehyde and lacks the bite of {asked}."
        case DoubtfulCurve():
            return "Its measured strength curve is doubtful: hours and strength are rough."
        case StrengthDispute(stronger=stronger, weaker=weaker):
            return (
                f"In common practice {stronger} counts as stronger than {weaker}; "
                "the figures here show the opposite: compare both on strips."
            )
        case StrengthClass(decades_either_way=decades):
            off = 10.0**decades
            return f"Its strength is a class, not a measurement: it may be off by {off:.0f} times either way."
        case TermDisagreement(terms=terms):
            return _disagreement(terms)


UNKNOWN = {
    "colour": "its colour as sold",
    "colour in time": "what light and air do to it",
    "availability": "how easily it can be bought",
} | {product: f"how it does in {words}" for product, words in PRODUCTS.items()}
"""What is not on record of a material."""


def _drawback(found: PracticeDrawback, material: str = "") -> str:
    """Return how a material does in a product or what its colour does, with the reason on record.

    As a whole sentence where the `material` is named, else to stand within one.
    """
    note = f": {found.note.removesuffix('.')}" if found.note else ""
    if found.quality in PRODUCTS:
        value = "only fair" if found.value == "fair" else found.value
        product = PRODUCTS[found.quality]
        return f"In {product} {material} is {value}{note}" if material else f"{value} in {product}{note}"
    if found.quality == "colour":
        return f"{f'{material} is ' if material else ''}{found.value} as sold{note}"
    return f"{f'{material} ' if material else ''}{found.value} in time{note}"


def _practical(found: Sequence[PracticeDrawback]) -> str:
    """Return what practice has against one material, to stand within a sentence; blank for nothing."""
    fair = [_drawback(one) for one in found if one.value is not None]
    unknown = [UNKNOWN[one.quality] for one in found if one.value is None]
    return "; ".join([*fair, *([f"not on record: {join(unknown)}"] if unknown else [])])


def _price(found: PriceClasses) -> str:
    if found.price == found.asked:
        return "same price class, not cheaper"
    dearer = PRICES.index(found.price) > PRICES.index(found.asked)
    return f"{'dearer' if dearer else 'cheaper'}: {found.price} against {found.asked}"


def itself(found: Findings) -> str:
    """Return what practice has against the material asked about, under the filters; blank for nothing."""
    known = [one for one in found.itself if isinstance(one, PracticeDrawback)]
    return f"{known[0].material} itself: {_practical(known)}." if known else ""


def in_practice(found: Suggestion) -> str:
    """Return what makes a suggestion hard to get or use in practice, and how its price compares."""
    texts = [hard_to_get(found)]
    for material in [member for member, _ in found.members] or [found.material]:
        named = [
            r
            for r in found.reasons
            if isinstance(r, PracticeDrawback | PriceClasses) and r.material == material.name
        ]
        words = [_price(r) for r in named if isinstance(r, PriceClasses)]
        words.append(_practical([r for r in named if isinstance(r, PracticeDrawback)]))
        if about := "; ".join(filter(None, words)):
            texts.append(f"{material.name}, {about}" if found.members else about)
    return "; ".join(filter(None, texts))


def _shares(found: SharedFacets | Bridge) -> str:
    return ", ".join(f"{facet} ({STRENGTH_WORDS[x.here]})" for facet, x in found.facets.items())


def _companion(found: ClassicPair | PairedLike | Bridge | FacetAffinity, asked: str, offered: str) -> str:
    """Return why two materials go together, to stand within a sentence."""
    match found:
        case ClassicPair(beside=beside, note=note, basis=basis):
            return f"classic beside {beside} ({': '.join(filter(None, (basis, note)))})"
        case PairedLike(like=like, beside=beside, partner=partner, note=note, basis=basis):
            alike = "" if beside == like else f", which smells like {like}"
            origin = f"({': '.join(filter(None, (basis, note)))})"
            if partner == offered:
                return f"classic beside {beside}{alike} {origin}"
            return f"smells like {partner}, classic beside {beside}{alike} {origin}"
        case Bridge(facets=facets):
            return f"both share {join(facets)}"
        case FacetAffinity(facet=facet, beside=beside):
            return f"{facet} is often paired with {beside}"


def companion(found: Suggestion, asked: str) -> str:
    """Return why a companion goes with the asked: its classic pairs, else its facets, and the bridge."""
    pairs = [r for r in found.reasons if isinstance(r, ClassicPair | PairedLike)][:2]
    kinds = Bridge if pairs else Bridge | FacetAffinity
    why = [*pairs, *(r for r in found.reasons if isinstance(r, kinds))]
    words = "; ".join(_companion(r, asked, found.material.name) for r in why)
    return f"{words[:1].upper()}{words[1:]}." if words else ""


def strip_check(found: Suggestion) -> str:
    """Return which two strips to hold together, blank where that is not known."""
    check = first(StripCheck, found)
    return reason(check, "", found.material.name) if check else ""


def _in_formula(found: FormulaEffect) -> str:
    start, end = duration(found.from_hours), duration(found.until_hours)
    return (
        f"In the formula, from {start} to {end}, {join(found.facets)} is present {100 * found.after:.0f} % "
        f"with {parts(found.parts)} per thousand of it, {100 * found.before:.0f} % without; "
        f"everything else changes by {100 * found.change:.0f} %."
    )


def _beyond(found: BeyondUsualUse) -> str:
    return (
        f"For most of its effect {found.material} would need about {parts(found.parts)} per "
        f"thousand, {found.times:.2g} times the usual high end"
    )


def _replacement(found: ReplacementDose, asked: str) -> str:
    bounded = " Usual use or a limit allows less." if found.bounded else ""
    if found.times is None or found.within is None:
        return f"Dosed one to one, since a strength is unknown.{bounded}"
    if found.one_to_one:
        return (
            f"Dosed one to one: equal strength would be {found.times:.2g} times the amount of {asked}, "
            f"within a factor of {found.within:.2g}.{bounded}"
        )
    return f"Dosed at equal strength: {found.times:.2g} times the amount of {asked}.{bounded}"


def _relay(found: RelayReason) -> str:
    when = f" at about {duration(found.handover_hours)}" if found.handover_hours else ""
    return (
        f"Relay: {found.heart} ({parts(found.heart_parts)} first) carries the heart "
        f"and hands over{when} to {found.base} ({parts(found.base_parts)} first)."
    )


def _through(found: ThroughNatural, offered: str) -> str:
    """Return what is done about a natural, and what is then left of what it brings."""
    before, after = (f"{value:.3g}" for value in (found.percent_before, found.percent_after))
    left = f"{found.substance} falls from {before} to {after} % of the concentrate"
    if not found.parts_after:
        return f"In place of {parts_of(found.parts_before)} {found.natural}; {left}."
    lower = (
        f"With {found.natural} lowered from {parts_of(found.parts_before)} to {parts_of(found.parts_after)}"
    )
    return f"{lower}, {parts_of(found.parts_offered)} {offered} make good the rest; {left}."


def _disagreement(terms: Mapping[str, float]) -> str:
    if "facet" not in terms:
        return "The odour space and the plain labels do not agree on how alike it is: compare on strips."
    if terms["facet"] > terms["likeness"]:
        return "It shows the facet, but the rest of it smells different: compare on strips."
    return "As a whole it smells alike, but it shows less of the facet: compare on strips."


def with_figures(found: Reason, asked: str, offered: str) -> str:
    """Return one reason as a sentence, with the figure that it rests on where the sentence has none."""
    text = reason(found, asked, offered)
    if isinstance(found, LastingReason) and found.vapour_pressure_pa is not None:
        text += f" Vapour pressure {found.vapour_pressure_pa:.3g} Pa."
    return text


def sentence(
    found: Suggestion, asked: str, verb: str, wanted: Sequence[str], until_hours: float | None = None
) -> str:
    """Return the one plain sentence of why, and of what falls short of the hour that was asked for."""
    for whole in found.reasons:
        if isinstance(whole, RelayReason | BlendProfile):
            return reason(whole, asked, found.material.name)
    if through := first(ThroughNatural, found):
        done = reason(through, asked, found.material.name)
        if found.members:
            return done
        without = replace(found, reasons=tuple(r for r in found.reasons if r is not through))
        return f"{done} {sentence(without, asked, verb, wanted, until_hours)}"
    if verb == "pair":
        return companion(found, asked)
    named = [label for label in found.material.labels if label.facet in wanted]
    if named:
        best = max(named, key=lambda label: label.strength)
        head = DEGREES[best.strength].format(best.facet)
    elif wanted:
        near = f" with its {found.facet}" if found.facet in near_of(found) else ""
        head = f"comes near {join(wanted[:3], 'or')}{near}"
    else:
        head = _in_common(found, asked)
    if less := first(LessOfFacets, found):
        head += f" and has less {join(less.facets)}"
    head += _against_asked(first(LastingReason, found), asked, verb)
    related = first(RelationPath, found)
    if related and len(related.path) == 1 and related.path[0].relation not in NOT_IN_ONE_LINE:
        direct = related.path[0]
        head += f"; {direct.start} {RELATION_WORDS[direct.relation]} {direct.end}"
    if verb == "extend" and until_hours and found.lasting and found.lasting.hours < until_hours:
        head += f"; it falls short of {duration(until_hours)}"
    return head[0].upper() + head[1:] + "."


def near_of(found: Suggestion) -> Mapping[str, float]:
    """Return the facets of a suggestion that are near a wanted one, each with how much it counts."""
    near = first(NearFacets, found)
    return near.facets if near else {}


def _in_common(found: Suggestion, asked: str) -> str:
    """Return what a suggestion has in common with the asked material, as far as the labels of both go."""
    both, facet = first(SharedFacets, found), found.facet
    if both is None or facet is None or facet not in both.facets:
        return f"shares no facet with {asked} by name"
    here = both.facets[facet]
    if facet == asked:
        return f"{DEGREES[here.here].format(facet)} too"
    return f"shares {'a trace of ' if min(here.here, here.asked) < 2 else ''}{facet} with {asked}"


def first(kind: type[Kind], found: Suggestion) -> Kind | None:
    """Return the first reason of a kind, None where there is none."""
    return next((r for r in found.reasons if isinstance(r, kind)), None)


def shared_facets(found: Suggestion) -> str:
    """Return what a suggestion shares with the asked material, such as "bitter almond (clear)"."""
    shared = first(SharedFacets, found) or first(Bridge, found)
    return _shares(shared) if shared else ""


def near_facets(found: Suggestion) -> str:
    """Return which of its facets are near a wanted one, blank where none is."""
    near = first(NearFacets, found)
    return join(near.facets) if near else ""


def in_product(found: Suggestion) -> list[str]:
    """Return the lines on the status by law, on label and limits."""
    law = [] if found.law is None else [f"{found.law.status} at the first try; {found.law.decision}"]
    return law + [
        reason(r, "", found.material.name)
        for r in found.reasons
        if isinstance(r, LabelAddition | LimitContribution)
    ]


def _against_asked(lasts: LastingReason | None, asked: str, verb: str) -> str:
    """Return how the lasting compares with that of the asked material."""
    if lasts is None or not lasts.asked_hours:
        return ""
    hours, before = lasts.hours, lasts.asked_hours
    if verb == "extend":
        if hours <= before:
            return f", but lasts no longer than {asked} ({duration(hours)})"
        return f" and lasts {duration(hours)}, against {duration(before)} for {asked}"
    if verb == "vary" or about_as_long(hours, before):
        return ", and lasts about as long" if verb == "replace" else ""
    return ", and lasts longer" if hours > before else ", but fades sooner"


def together_lasting(found: Suggestion) -> str:
    """Return the positions and hours of several materials together."""
    return " + ".join(
        f"{material.lasting.position} {duration(material.lasting.hours)}" if material.lasting else "unknown"
        for material, _ in found.members
    )


def shares_of(found: Suggestion) -> str:
    """Return the shares of several materials: eugenol 70 %, vanillin 30 %."""
    return "shares: " + ", ".join(f"{material.name} {100 * share:.0f} %" for material, share in found.members)


def strength(found: Suggestion, asked: str) -> str:
    """Return how strong a suggestion is against the asked material, with what disputes it."""
    known, dispute = first(StrengthReason, found), first(StrengthDispute, found)
    if known is None:
        return "strength unknown"
    words = strength_against(known.strength, known.asked, asked, known.firm)
    if dispute is not None:
        return f"{words} by the figures, though in common practice {dispute.stronger} counts as the stronger"
    return words


DOUBTS: Mapping[type[Reason], str] = {
    MilderAcetal: "milder, without its bite",
    LabelsFromMemory: "smell labels from memory",
    DoubtfulCurve: "strength doubtful",
    StrengthDispute: "strength disputed",
    StrengthClass: "strength not measured",
    TermDisagreement: "likeness unsure",
}


def doubt(found: Suggestion) -> str:
    """Return in a word or two what is uncertain, blank where nothing is."""
    again = [
        f"{TROUBLE_WORDS[kind]} as well"
        for r in found.reasons
        if isinstance(r, SharedDrawbacks)
        for kind in r.kinds
    ]
    return ", ".join([*again, *(DOUBTS[type(r)] for r in found.reasons if type(r) in DOUBTS)])


GENERAL = frozenset(
    ("solubility", "oxidises", "crystallises", "discolours", "schiff base", "specific anosmia")
)
"""Kinds of cautions about handling and storage, which neither stop a use nor bound a dose."""


def cautions(found: Suggestion, *, every: bool) -> list[str]:
    """Return the cautions about a suggestion: `every` one, or only those that stop it or bound its dose."""
    members = [material for material, _ in found.members] or [found.material]
    own = [caution for material in members for caution in material.cautions]
    general = {c.text for c in own if c.kind in GENERAL and c.dilution_percent is None}
    general -= {c.text for c in own if c.kind not in GENERAL}
    return [text for text in found.cautions if every or text not in general]


def hard_to_get(found: Suggestion) -> str:
    """Return that a suggestion is hard to get, blank otherwise."""
    if found.availability != HARDLY:
        return ""
    names = [m.name for m, _ in found.members if m.availability == HARDLY]
    are = "is" if len(names) == 1 else "are"
    return f"{join(names)} {are} hard to get" if names else "it is hard to get"


def tied(runs: Sequence[tuple[int, int]]) -> str:
    """Return which ranks cannot be told apart, first and last of each run, blank where there are none.

    >>> tied([(1, 3), (4, 5)])
    '1 to 3 cannot be told apart, nor can 4 and 5.'
    """
    if not runs:
        return ""
    words = [f"{start} {'and' if end == start + 1 else 'to'} {end}" for start, end in runs]
    return f"{words[0]} cannot be told apart" + "".join(f", nor can {more}" for more in words[1:]) + "."


def asked_of(found: Suggestion, asked: str) -> str:
    """Return what a suggestion takes the place of, by name: what was asked about, or what brings it."""
    return asked if found.instead_of is None else found.instead_of.name


def name_of(found: Suggestion) -> str:
    """Return the name of a suggestion, of several materials joined by plus signs."""
    if not found.members:
        return found.material.name
    return " + ".join(material.name for material, _ in found.members)
