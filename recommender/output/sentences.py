"""Sentences for a perfumer, made from reasons."""

from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from recommender.evaporation.lasting import about_as_long
from recommender.model import HARDLY, Bottle, LoweredLine, Suggestion
from recommender.output import limit_sentences
from recommender.output.wording import (
    RELATION_WORDS,
    STRENGTH_WORDS,
    TROUBLE_WORDS,
    join,
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
    MaskedFacet,
    MilderAcetal,
    NearFacets,
    PairedLike,
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
        case LabelAddition(names=names, material=material):
            return limit_sentences.label(names, material)
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
        f"with {parts_of(found.parts)} parts per thousand of it, {100 * found.before:.0f} % without; "
        f"everything else changes by {100 * found.change:.0f} %."
    )


def _beyond(found: BeyondUsualUse) -> str:
    return (
        f"For most of its effect {found.material} would need about {parts_of(found.parts)} parts per "
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
        f"Relay: {found.heart} ({parts_of(found.heart_parts)} parts first) carries the heart "
        f"and hands over{when} to {found.base} ({parts_of(found.base_parts)} parts first)."
    )


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
    """Return the lines on label and limits."""
    return [
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


def dose(found: Suggestion) -> str:
    """Return what to try first, blank where no dose is proposed."""
    if found.dose is None:
        return ""
    proposed = found.dose
    weigh = f", weighed as a {proposed.dilution_percent:g} % dilution" if proposed.dilution_percent else ""
    against = f"; {_as_many(proposed.of_query)} it replaces" if proposed.of_query else ""
    first_try, low, high = (parts_of(value) for value in (proposed.first_try, proposed.low, proposed.high))
    usual = f"; {usual_parts(proposed.usual)}" if proposed.usual and not proposed.members else ""
    return f"try {first_try} parts per thousand first (range {low} to {high}{weigh}{usual}){against}"


def _as_many(times: float) -> str:
    return "as much as" if 0.95 <= times <= 1.05 else f"{times:.2g} times the amount"


def dose_remarks(found: Suggestion, asked: str) -> list[str]:
    """Return what to know of the dose: what would need more than is usual, how a stand-in is dosed."""
    kinds = BeyondUsualUse | ReplacementDose
    return [reason(r, asked, found.material.name) for r in found.reasons if isinstance(r, kinds)]


def usual_parts(usual: tuple[float, float]) -> str:
    """Return a usual range in parts per thousand: usual 2-40."""
    return f"usual {parts_of(usual[0])}-{parts_of(usual[1])}"


def beside(found: Suggestion, asked: str) -> str:
    """Return how much of a companion to try beside a single material, blank where that is not known."""
    if found.dose is None or not found.dose.of_query:
        return ""
    ratio, weigh = found.dose.of_query, found.dose.dilution_percent
    diluted = f", weighed as a {weigh:g} % dilution" if weigh else ""
    return f"try {parts_of(ratio)} parts to one part of {asked}{diluted}"


def effect(found: Suggestion) -> str:
    """Return what it does to the formula: bitter almond clear until 48 min, then 12 h (5.3 to 26 h)."""
    if found.effect is None:
        return ""
    figures: Mapping[str, Mapping[str, Any]] = found.effect
    before, after = figures["before"], figures["after"]
    if "theme_kept" in after:
        return (
            f"{join(after['facets'])} present {100 * before['presence']:.0f} % without, "
            f"{100 * after['presence']:.0f} % with "
            f"{_at(found)}; {100 * after['theme_kept']:.0f} % of the rest preserved"
        )
    swapped = found.dose is not None and found.dose.of_query is not None
    old, new = ("as it is", " instead") if swapped else ("without", "")
    ends = [
        f"{facet} {old}: {_ends(before[facet])}; with {_at(found)}{new}: {_ends(after[facet], band=True)}"
        for facet in list(after)[:2]
    ]
    return "; ".join(ends)


def bottles(found: Suggestion) -> str:
    """Return which bottles of the shelf it is taken from, and how much of a dilution is its dose."""
    lines = []
    for bottle in found.bottles:
        at = "neat" if bottle.dilution_percent == 100 else _diluted(bottle)
        left = "" if bottle.amount_g is None else f", {bottle.amount_g:.3g} g left"
        price, cost = bottle.neat_price_per_g, found.cost_per_kg(bottle)
        words = "" if price is None else f", {price:.3g} per gram neat"
        if cost is not None and not found.members:
            words += f", {cost:.3g} per kilogram of the accord at the first try"
        lines.append(f"{bottle.label} {at}{left}{words}{_from(found, bottle)}")
    return f"on your shelf: {'; '.join(lines)}" if lines else ""


SHARES_LEFT = {1 / 2: "a half", 1 / 3: "a third"}


def lowering(found: LoweredLine) -> str:
    """Return which line to lower or take out, and what that does."""
    name, before = found.material.name, parts_of(found.parts_before)
    if not found.reason.factor:
        return f"take out {name}, {before} parts: {hides(found.reason)}"
    left = SHARES_LEFT[found.reason.factor]
    return f"{name} {before} to {parts_of(found.parts_after)} parts, {left}: {hides(found.reason)}"


def hides(found: MaskedFacet) -> str:
    """Return how far a loud material hides a facet, before and after it is lowered."""
    when = f"from {duration(found.from_hours)} to {duration(found.until_hours)}"
    less = "with less" if found.factor else "without it"
    return (
        f"it hides {found.facet}, present {100 * found.before:.0f} % beside it {when}, "
        f"{100 * found.after:.0f} % {less}; {100 * found.change:.0f} % of the rest changes"
    )


def _diluted(bottle: Bottle) -> str:
    """Return the dilution of a bottle: at 10 % in dipropylene glycol."""
    solvent = f" in {bottle.solvent.replace('-', ' ')}" if bottle.solvent else ""
    return f"at {bottle.dilution_percent:g} %{solvent}"


def _from(found: Suggestion, bottle: Bottle) -> str:
    """Return the dose as parts of a dilution with the solvent that it brings, blank for a neat bottle."""
    if bottle.dilution_percent == 100:
        return ""
    weighed = found.weighed(bottle)
    if weighed is None:
        return f", {parts_of(100.0 / bottle.dilution_percent)} parts of it for one of the neat"
    first_try, low, high = (parts_of(x) for x in (weighed.first_try, weighed.low, weighed.high))
    solvent = parts_of(weighed.first_try * (1.0 - bottle.dilution_percent / 100.0))
    return f", {first_try} parts of it first (range {low} to {high}), {solvent} of them solvent"


def _at(found: Suggestion) -> str:
    return f"{parts_of(found.dose.first_try)} parts" if found.dose else "it"


def _ends(found: Mapping[str, Any], band: bool = False) -> str:
    parts = []
    for level, words in (("clear", "clear until"), ("just_there", "gone by")):
        if (end := found[level]) is not None:
            width = f" ({duration(end['low'])} to {duration(end['high'])})" if band else ""
            parts.append(f"{words} {duration(end['hours'])}{width}")
    return ", ".join(parts) or "never there"


def before_line(formula: str, before: Mapping[str, Any]) -> str:
    """Return how long the wanted facets last in a formula as it is."""
    parts = [f"{facet} is {_ends(ends, band=True)}" for facet, ends in list(before.items())[:3]]
    return f"In {formula} {join(parts)}."


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


def had(found: Suggestion) -> str:
    """Return that a suggestion can hardly be had, blank otherwise."""
    if found.availability != HARDLY:
        return ""
    names = [m.name for m, _ in found.members if m.availability == HARDLY]
    return f"{join(names)} can hardly be had" if names else "it can hardly be had"


def tied(runs: Sequence[tuple[int, int]]) -> str:
    """Return which ranks cannot be told apart, first and last of each run, blank where there are none.

    >>> tied([(1, 3), (4, 5)])
    '1 to 3 cannot be told apart, nor can 4 and 5.'
    """
    if not runs:
        return ""
    words = [f"{start} {'and' if end == start + 1 else 'to'} {end}" for start, end in runs]
    return f"{words[0]} cannot be told apart" + "".join(f", nor can {more}" for more in words[1:]) + "."


def name_of(found: Suggestion) -> str:
    """Return the name of a suggestion, of several materials joined by plus signs."""
    if not found.members:
        return found.material.name
    return " + ".join(material.name for material, _ in found.members)
