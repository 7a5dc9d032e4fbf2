"""Sentences for a perfumer, made from reasons and figures."""

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, cast

from recommender.model import Dose, Findings, Label, Lasting, Reason, Suggestion

STRENGTH_WORDS = {1: "trace", 2: "clear", 3: "leading"}

RELATION_WORDS = {
    "replaces": "stands in by habit for",
    "stronger-form-of": "is a much stronger form of",
    "constituent-of": "is found in",
    "isomer-of": "is an isomer of",
    "homologue-of": "is a close homologue of",
    "shares-facet": "smells much like",
    "ester-of": "is an ester of",
    "acetal-of": "is an acetal of",
    "derivative-of": "is made from",
    "classic-pair": "is a classic partner of",
    "oxidises-to": "turns in air into",
    "clashes": "clashes with",
}


def join(words: Iterable[str], last: str = "and") -> str:
    """Return words as people list them: a, b and c."""
    found = list(words)
    if len(found) < 2:
        return "".join(found)
    return f"{', '.join(found[:-1])} {last} {found[-1]}"


def duration(hours: float) -> str:
    """Return a time as a perfumer says it.

    >>> duration(0.43), duration(3.6), duration(100), duration(620), duration(5000)
    ('26 min', '3.6 h', '4.2 days', '3.7 weeks', '7 months')
    """
    minutes = hours * 60
    if minutes < 0.95:
        return "under a minute"
    if minutes < 90:
        return f"{minutes:.0f} min"
    if hours < 48:
        return f"{hours:.2g} h"
    days = hours / 24
    if days < 14:
        return f"{days:.2g} days"
    if days < 70:
        return f"{days / 7:.2g} weeks"
    if days < 730:
        return f"{days / 30.4:.0f} months"
    return "over two years" if days < 3650 else "many years"


def lasting(found: Lasting | None) -> str:
    """Return position, hours and band: base, 3.7 weeks (1.7 to 8.1 weeks)."""
    if found is None:
        return "lasting unknown"
    low, high = duration(found.low), duration(found.high)
    head, tail = low.split(" "), high.split(" ")
    if len(head) == len(tail) == 2 and head[1] == tail[1]:
        low = head[0]
    return f"{found.position}, {duration(found.hours)} ({low} to {high})"


def strength_against(own: float | None, asked: float | None, name: str) -> str:
    """Return how strong one material smells beside another at the same dose."""
    if own is None:
        return "strength unknown"
    if asked is None or asked <= 0:
        return f"strength {own:.0f} of 100 at 1 %"
    ratio = max(own, 1e-6) / asked
    if 0.8 <= ratio <= 1.25:
        return f"about as strong as {name}"
    if ratio > 1:
        times = f"{ratio:.1f}" if ratio < 3 else f"{ratio:.0f}"
        return f"{times} times as strong as {name}"
    parts = {2: "half", 3: "a third", 4: "a quarter", 5: "a fifth", 6: "a sixth"}
    part = round(1 / ratio)
    if part < 2:
        return f"somewhat weaker than {name}"
    return (
        f"about {parts.get(part, f'1/{part}')} as strong as {name}"
        if part < 20
        else f"far weaker than {name}"
    )


def labels(found: Sequence[Label], most: int = 8) -> str:
    """Return facets with their strength: hay (leading), tonka (clear)."""
    return ", ".join(f"{label.facet} ({STRENGTH_WORDS[label.strength]})" for label in found[:most])


def facets(found: Sequence[Label], most: int = 6) -> str:
    """Return facets in three degrees by words: hay, tonka; a trace of tobacco."""
    strong = [label.facet for label in found[:most] if label.strength > 1]
    faint = [label.facet for label in found[:most] if label.strength == 1]
    parts = [join(strong)] if strong else []
    if faint:
        parts.append(f"a trace of {join(faint)}")
    return "; ".join(parts)


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


def step(relation: Mapping[str, Any]) -> str:
    """Return one relation in words: coumarin is found in tonka bean absolute (about 60 %)."""
    note = f" ({relation['note']})" if relation["note"] else ""
    return f"{relation['from']} {RELATION_WORDS[relation['relation']]} {relation['to']}{note}"


def reason(found: Reason, asked: str, offered: str) -> str:
    """Return one reason as a plain sentence."""
    figures = {key: _figure(value) for key, value in found.figures.items()}
    match found.kind:
        case "shares":
            return f"It shares {shares(found)}."
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
            return f"At the same dose it is {strength_against(figures['strength'], figures['asked'], asked)}."
        case "relation":
            return f"{path(found)}."[0].upper() + f"{path(found)}."[1:]
        case "warning":
            note = f": {figures['note']}" if figures["note"] else ""
            return f"Mind: {offered} {RELATION_WORDS[figures['relation']]} {asked}{note}."
        case "in the formula":
            return (
                f"In the formula, with {figures['parts']:.2g} parts per thousand of it, {join(figures['facets'])} is "
                f"present {figures['after']:.2f} of 1 between {duration(figures['from_hours'])} and "
                f"{duration(figures['until_hours'])}, {figures['before']:.2f} without; all else moves by "
                f"{100 * figures['change']:.0f} %."
            )
        case "relay":
            when = f" at about {duration(figures['handover_hours'])}" if figures["handover_hours"] else ""
            return (
                f"{figures['heart']} ({figures['heart_parts']:.2g} parts first) carries the heart and hands over"
                f"{when} to {figures['base']} ({figures['base_parts']:.2g} parts first)."
            )
        case "blend":
            missing = figures["missing"]
            lacks = f"still missing: {join(missing)}" if missing else "nothing clear is missing"
            return f"Together they come to {figures['profile']:.2f} of 1 of its smell; {lacks}."
        case "labels from memory":
            share = f"{figures['from_memory']} of its {figures['labels']} labels"
            return f"{share} come from memory: smell it first."
        case "curve doubtful":
            return "Its measured strength curve is doubtful: take hours and strength as rough."
        case "strength disputed":
            return (
                f"The trade holds {figures['stronger']} stronger than {figures['weaker']}; "
                "the figures here say otherwise: try both on strips."
            )
        case "strength is a class":
            return "Its strength is a class, not a measurement: it may be six times off either way."
        case "terms disagree":
            return "The figures do not agree with each other: trust your strip."
    return found.kind


def sentence(found: Suggestion, asked: str, verb: str, wanted: Sequence[str]) -> str:
    """Return the one plain sentence of why."""
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
    head += _against_asked(by_kind.get("lasts"), asked, verb)
    if (known := by_kind.get("relation")) and len(cast(Sequence[object], known.figures["path"])) == 1:
        step = cast(Sequence[Mapping[str, str]], known.figures["path"])[0]
        if step["relation"] not in ("shares-facet", "classic-pair"):
            head += f"; {step['from']} {RELATION_WORDS[step['relation']]} {step['to']}"
    return head[0].upper() + head[1:] + "."


def _against_asked(lasts: Reason | None, asked: str, verb: str) -> str:
    """Return how the lasting compares with that of the asked material."""
    if lasts is None or not lasts.figures["asked_hours"]:
        return ""
    hours, before = _figure(lasts.figures["hours"]), _figure(lasts.figures["asked_hours"])
    if verb == "extend":
        return f" and is there for {duration(hours)} where {asked} is gone in {duration(before)}"
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
    return f"try {told.first_try:.2g} parts per thousand first (ladder {told.low:.2g} to {told.high:.2g}{weigh}){against}"


def effect(found: Suggestion) -> str:
    """Return what it does to the formula: bitter almond clear until 48 min, then 12 h (5.3 to 26 h)."""
    if found.effect is None:
        return ""
    before, after = _figure(found.effect["before"]), _figure(found.effect["after"])
    told = [
        f"{facet} {_ends(before[facet])} without, {_ends(after[facet], band=True)} with {_at(found)}"
        for facet in list(after)[:2]
    ]
    return "; ".join(told)


def _at(found: Suggestion) -> str:
    return f"{found.dose.high:.2g} parts" if found.dose else "it"


def _ends(found: Mapping[str, Any], band: bool = False) -> str:
    for level, word in (("clear", "clear"), ("just_there", "just there")):
        if (end := found[level]) is not None:
            width = f" ({duration(end['low'])} to {duration(end['high'])})" if band else ""
            return f"{word} until {duration(end['hours'])}{width}"
    return "never there"


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


def doubt(found: Suggestion) -> str:
    """Return in a word or two what is uncertain, blank where nothing is."""
    words = {
        "labels from memory": "labels from memory",
        "curve doubtful": "strength doubtful",
        "strength disputed": "strength disputed",
        "strength is a class": "strength a guess",
        "terms disagree": "figures disagree",
    }
    return ", ".join(words[r.kind] for r in found.reasons if r.kind in words)


def as_dict(findings: Findings) -> dict[str, Any]:
    """Return findings as plain data with the keys of the published contract."""
    asked = findings.asked
    rows = []
    for rank, found in enumerate(findings.suggestions, 1):
        material = found.material
        stay = found.lasting
        rows.append(
            {
                "rank": rank,
                "name": name_of(found),
                "cas": None if found.members else material.cas or None,
                "cas_all": [] if found.members else list(material.cas_all),
                "facet": found.facet,
                "score": round(found.score, 4),
                "terms": {name: round(value, 4) for name, value in found.terms.items()},
                "lasting": None
                if stay is None
                else {
                    "hours": tidy(stay.hours),
                    "low": tidy(stay.low),
                    "high": tidy(stay.high),
                    "position": stay.position,
                },
                "strength": None if found.strength is None else tidy(found.strength),
                "dose": _dose(found.dose),
                "brings": [{"facet": label.facet, "strength": label.strength} for label in found.brings],
                "effect": None if found.effect is None else tidy_figures(found.effect),
                "reasons": [
                    {
                        "kind": r.kind,
                        "text": reason(r, asked, material.name),
                        "figures": tidy_figures(r.figures),
                        "basis": r.basis or None,
                        "source": r.source or None,
                    }
                    for r in found.reasons
                ],
                "cautions": list(found.cautions),
            }
            | _members(found)
        )
    return {"query": tidy_figures(findings.query), "suggestions": rows, "notes": list(findings.notes)}


def name_of(found: Suggestion) -> str:
    """Return the name of a suggestion, of several materials joined by plus signs."""
    if not found.members:
        return found.material.name
    return " + ".join(material.name for material, _ in found.members)


def _members(found: Suggestion) -> dict[str, Any]:
    if not found.members:
        return {}
    return {
        "members": [
            {"name": material.name, "cas": material.cas or None, "share": round(share, 4)}
            for material, share in found.members
        ]
    }


def _dose(found: Dose | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "first_try": tidy(found.first_try),
        "low": tidy(found.low),
        "high": tidy(found.high),
        "unit": "parts per thousand",
        "of_query": None if found.of_query is None else tidy(found.of_query),
        "dilution": found.dilution_percent,
    }


def tidy(value: float) -> float:
    """Return a number with three significant digits."""
    return float(f"{value:.3g}") if math.isfinite(value) else value


def tidy_figures(figures: Mapping[str, object]) -> dict[str, Any]:
    """Return figures with three significant digits, nested ones too."""
    return {
        key: tidy(value)
        if isinstance(value, float)
        else tidy_figures(cast(Mapping[str, object], value))
        if isinstance(value, Mapping)
        else value
        for key, value in figures.items()
    }
