"""Sentences for a perfumer, made from reasons."""

from collections.abc import Mapping, Sequence
from typing import Any, cast

from recommender.model import Reason, Suggestion
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
from recommender.units import duration

UNSAID = ("shares-facet", "classic-pair", "derivative-of", "constituent-of")
"""Relations that explain nothing in one line; `--explain` tells them."""


def _figure(value: object) -> Any:
    return cast(Any, value)


def shares(reason: Reason) -> str:
    """Return what is shared: bitter almond (clear)."""
    figures = cast(Mapping[str, Mapping[str, int]], reason.figures)
    return ", ".join(f"{facet} ({STRENGTH_WORDS[held['here']]})" for facet, held in figures.items())


def path(reason: Reason) -> str:
    """Return a path of relations as a sentence."""
    steps = cast(Sequence[Mapping[str, str]], reason.figures["path"])
    return "; ".join(step(found) for found in steps)


def reason(found: Reason, asked: str, offered: str) -> str:
    """Return one reason as a plain sentence."""
    figures = {key: _figure(value) for key, value in found.figures.items()}
    match found.kind:
        case "shares":
            return f"It shares {shares(found)}."
        case "less of":
            named = {0: "none", **STRENGTH_WORDS}
            less = [f"{f} ({named[x['here']]}, there {named[x['asked']]})" for f, x in figures.items()]
            return f"Of what is refused it has less than {asked}: {', '.join(less)}."
        case "near":
            lies = "lies" if len(figures) == 1 else "lie"
            return f"It does not show the wanted facet by name, but {join(figures)} {lies} near it."
        case "lasts":
            before = f", {asked} {duration(figures['asked_hours'])}" if figures["asked_hours"] else ""
            stay = duration(figures["hours"])
            return f"On a strip it lasts {stay}{before}; it is a {figures['position']} note."
        case "strength":
            if not figures["asked"]:
                return f"At 1 % its strength is {figures['strength']:.0f} of 100."
            told = strength_against(figures["strength"], figures["asked"], asked, figures["firm"])
            return f"At the same dose it is {told}."
        case "relation":
            return f"{path(found)}."[0].upper() + f"{path(found)}."[1:]
        case "warning":
            note = f": {figures['note']}" if figures["note"] else ""
            return f"Mind: {offered} {RELATION_WORDS[figures['relation']]} {asked}{note}."
        case "in the formula":
            dose, facets = parts_of(figures["parts"]), join(figures["facets"])
            start, end = (duration(figures[key]) for key in ("from_hours", "until_hours"))
            after, before, change = (100 * figures[key] for key in ("after", "before", "change"))
            return (
                f"In the formula, from {start} to {end}, {facets} is present {after:.0f} % with "
                f"{dose} parts per thousand of it, {before:.0f} % without; all else moves by {change:.0f} %."
            )
        case "relay":
            when = f" at about {duration(figures['handover_hours'])}" if figures["handover_hours"] else ""
            first, second = (f"{parts_of(figures[key])} parts first" for key in ("heart_parts", "base_parts"))
            return (
                f"Relay: {figures['heart']} ({first}) carries the heart "
                f"and hands over{when} to {figures['base']} ({second})."
            )
        case "blend":
            missing = figures["missing"]
            lacks = f"still missing: {join(missing)}" if missing else "nothing clear is missing"
            return f"Together they come to {100 * figures['profile']:.0f} % of its smell; {lacks}."
        case "adds to the label":
            return limit_sentences.label(figures["names"], figures["material"])
        case "counts against a limit":
            return limit_sentences.limit(figures)
        case "labels from memory":
            share = f"{figures['from_memory']} of its {figures['labels']} labels"
            return f"{share} come from memory: smell it first."
        case "use level":
            return (
                f"It is usually {percent(figures['low'])} to {percent(figures['high'])} % of a concentrate."
            )
        case "same trouble":
            return (
                f"It shares the trouble of {asked}: {join(TROUBLE_WORDS[kind] for kind in figures['kinds'])}."
            )
        case "milder":
            return f"An acetal is milder than its aldehyde and lacks the bite of {asked}."
        case "curve doubtful":
            return "Its measured strength curve is doubtful: take hours and strength as rough."
        case "strength disputed":
            return (
                f"The trade holds {figures['stronger']} stronger than {figures['weaker']}; "
                "the figures here say otherwise: try both on strips."
            )
        case "strength is a class":
            off = 10.0 ** figures["decades_either_way"]
            return f"Its strength is a grade, not a measurement: {off:.0f} times off either way is possible."
        case "terms disagree":
            if "facet" not in figures:
                return (
                    "The odour space and the plain labels do not agree on how alike it is: trust your strip."
                )
            if figures["facet"] > figures["likeness"]:
                return "It shows the facet, but the rest of it smells different: trust your strip."
            return "As a whole it smells alike, but it shows less of the facet: trust your strip."
    return found.kind


def with_figures(found: Reason, asked: str, offered: str) -> str:
    """Return one reason as a sentence, with the figure that it rests on where the sentence has none."""
    text = reason(found, asked, offered)
    if found.kind == "lasts" and found.figures["vapour_pressure_pa"] is not None:
        text += f" Vapour pressure {_figure(found.figures['vapour_pressure_pa']):.3g} Pa."
    return text


def sentence(
    found: Suggestion, asked: str, verb: str, wanted: Sequence[str], until_hours: float | None = None
) -> str:
    """Return the one plain sentence of why, and of what falls short of the hour that was asked for."""
    by_kind = {r.kind: r for r in found.reasons}
    for kind in ("relay", "blend"):
        if kind in by_kind:
            return reason(by_kind[kind], asked, found.material.name)
    named = [label for label in found.material.labels if label.facet in wanted]
    lead = found.facet or "the smell"
    if named:
        degree = {3: "leads with", 2: "clearly shows", 1: "keeps a trace of"}
        best = max(named, key=lambda label: label.strength)
        head = f"{degree[best.strength]} {best.facet}"
    elif wanted:
        head = f"comes near {join(wanted[:3], 'or')} with its {lead}"
    else:
        head = f"shares {lead} with {asked}"
    if "less of" in by_kind:
        head += f", with less {join(list(by_kind['less of'].figures))}"
    head += _against_asked(by_kind.get("lasts"), asked, verb)
    if (known := by_kind.get("relation")) and len(cast(Sequence[object], known.figures["path"])) == 1:
        step = cast(Sequence[Mapping[str, str]], known.figures["path"])[0]
        if step["relation"] not in UNSAID:
            head += f"; {step['from']} {RELATION_WORDS[step['relation']]} {step['to']}"
    if verb == "extend" and until_hours and found.lasting and found.lasting.hours < until_hours:
        head += f"; it falls short of {duration(until_hours)}"
    return head[0].upper() + head[1:] + "."


def worn(found: Suggestion) -> list[str]:
    """Return the lines on label and limits."""
    return [
        reason(r, "", found.material.name)
        for r in found.reasons
        if r.kind in ("adds to the label", "counts against a limit")
    ]


def _against_asked(lasts: Reason | None, asked: str, verb: str) -> str:
    """Return how the lasting compares with that of the asked material."""
    if lasts is None or not lasts.figures["asked_hours"]:
        return ""
    hours, before = _figure(lasts.figures["hours"]), _figure(lasts.figures["asked_hours"])
    if verb == "extend":
        where = f" where {asked} is gone in {duration(before)}" if hours > before else ""
        return f" and is there for {duration(hours)}{where}"
    if verb == "vary" or 0.5 <= hours / before <= 2:
        return ", and lasts about as long" if verb == "replace" else ""
    return ", and lasts longer" if hours > before else ", but is gone sooner"


def dose(found: Suggestion) -> str:
    """Return what to try first, blank where no dose is proposed."""
    if found.dose is None:
        return ""
    told = found.dose
    weigh = f", weighed as a {told.dilution_percent:g} % dilution" if told.dilution_percent else ""
    against = f"; {told.of_query:.2g} times the amount it stands for" if told.of_query else ""
    first, low, high = (parts_of(value) for value in (told.first_try, told.low, told.high))
    return f"try {first} parts per thousand first (ladder {low} to {high}{weigh}){against}"


def effect(found: Suggestion) -> str:
    """Return what it does to the formula: bitter almond clear until 48 min, then 12 h (5.3 to 26 h)."""
    if found.effect is None:
        return ""
    before, after = _figure(found.effect["before"]), _figure(found.effect["after"])
    if "theme_kept" in after:
        return (
            f"{join(after['facets'])} present {100 * before['presence']:.0f} % without, "
            f"{100 * after['presence']:.0f} % with "
            f"{_at(found)}; {100 * after['theme_kept']:.0f} % of the rest kept"
        )
    swapped = found.dose is not None and found.dose.of_query is not None
    old, new = ("as it is", " instead") if swapped else ("without", "")
    told = [
        f"{facet} {old}: {_ends(before[facet])}; with {_at(found)}{new}: {_ends(after[facet], band=True)}"
        for facet in list(after)[:2]
    ]
    return "; ".join(told)


def bottles(found: Suggestion) -> str:
    """Return which bottles of the shelf it is taken from, blank where the shelf was not asked for."""
    told = []
    for bottle in found.bottles:
        at = "neat" if bottle.dilution_percent == 100 else f"at {bottle.dilution_percent:g} %"
        left = "" if bottle.amount_g is None else f", {bottle.amount_g:.3g} g left"
        price = bottle.neat_price_per_g
        dear = "" if price is None else f", {price:.3g} a gram neat"
        if price is not None and found.dose is not None and not found.members:
            dear += f", {found.dose.first_try * price:.3g} for a kilogram of the accord at the first try"
        told.append(f"{bottle.label} {at}{left}{dear}")
    return f"on your shelf: {'; '.join(told)}" if told else ""


def _at(found: Suggestion) -> str:
    return f"{parts_of(found.dose.first_try)} parts" if found.dose else "it"


def _ends(found: Mapping[str, Any], band: bool = False) -> str:
    told = []
    for level, word in (("clear", "clear"), ("just_there", "there")):
        if (end := found[level]) is not None:
            width = f" ({duration(end['low'])} to {duration(end['high'])})" if band else ""
            told.append(f"{word} until {duration(end['hours'])}{width}")
    return ", ".join(told) or "never there"


def before_line(formula: str, before: Mapping[str, Any]) -> str:
    """Return how long the wanted facets last in a formula as it is."""
    told = [f"{facet} is {_ends(ends, band=True)}" for facet, ends in list(before.items())[:3]]
    return f"In {formula} {join(told)}."


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
    by_kind = {r.kind: r for r in found.reasons}
    if "strength" not in by_kind:
        return "strength unknown"
    figures = {key: _figure(value) for key, value in by_kind["strength"].figures.items()}
    told = strength_against(figures["strength"], figures["asked"], asked, figures["firm"])
    if "strength disputed" in by_kind:
        stronger = by_kind["strength disputed"].figures["stronger"]
        return f"{told} by the figures, though the trade calls {stronger} the stronger"
    return told


def doubt(found: Suggestion) -> str:
    """Return in a word or two what is uncertain, blank where nothing is."""
    words = {
        "milder": "milder, without its bite",
        "labels from memory": "smell labels from memory",
        "curve doubtful": "strength doubtful",
        "strength disputed": "strength disputed",
        "strength is a class": "strength not measured",
        "terms disagree": "likeness unsure",
    }
    again = [
        f"{TROUBLE_WORDS[kind]} as well"
        for r in found.reasons
        if r.kind == "same trouble"
        for kind in cast(Sequence[str], r.figures["kinds"])
    ]
    return ", ".join([*again, *(words[r.kind] for r in found.reasons if r.kind in words)])


def name_of(found: Suggestion) -> str:
    """Return the name of a suggestion, of several materials joined by plus signs."""
    if not found.members:
        return found.material.name
    return " + ".join(material.name for material, _ in found.members)
