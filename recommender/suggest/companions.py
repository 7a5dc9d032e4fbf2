"""pair: what goes well with a material or an accord, and never what smells the same.

A companion is classic beside it, or beside what smells like it, or has facets that are often paired with its
own; a shared side facet bridges the two, neither hides the other, and it brings something of its own.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from recommender.chemistry.odour_strength import TYPICAL_MAXIMUM, decades_above_clear
from recommender.formulas import dosing
from recommender.formulas.usual import checked_share
from recommender.model import Dose, Findings, Formula, Material, Suggestion
from recommender.palette import Array, Palette
from recommender.reasons import (
    Bridge,
    ClassicPair,
    FacetAffinity,
    FacetStrengths,
    PairedLike,
    Reason,
    StripCheck,
)
from recommender.suggest import explanation, product_limits, scoring
from recommender.suggest.assembly import assembled, terms_at
from recommender.suggest.availability import hard_to_get
from recommender.suggest.companion_query import CompanionQuery, read
from recommender.suggest.request import Request, given_options
from recommender.suggest.terms import evidence
from recommender.suggest.why_not import asked_about, in_the_list, ranked_at

DROWNED, DROWNS = 1.0, 2.5
"""Decades of dose by which a companion may be weaker or stronger at the same dose without loss of score."""
SAME_POSITION = 0.7
"""What a companion is worth that lasts as long as all of the asked, where one that adds a phase has 1."""
BESIDE = 0.2
"""Dose of a companion in an accord, against one as strong as all of it; it then seems half as strong."""
AT_PARTS = 10.0
"""Parts per thousand at which a companion is compared with a single material for strength, 1 %."""
STRIP_PERCENTS = (10.0, 1.0, 0.1, 0.01)
STRIP_HOURS = (5 / 60, 1.0)
"""Dilutions of two strips that are smelled together [%], and when [h]."""
LEAST_KNOWN = 0.1
"""What pairs say of a companion in all; of which they say less, nothing is known beside the asked."""
BOTH_LEAD = explanation.MIXTURE_STRENGTHS[3]
"""Least weight of a facet in both from which both lead with it, so that it is no bridge."""
HEAD = 4
"""Of so many times the wanted companions a varied list is made."""
MOST_FACETS = 5
WEAK_POINTS = {
    "facet": "it shows too little of what is wanted",
    "pair": "it is not on record as a classic companion",
    "paired alike": "nothing like it is on record beside anything like it",
    "affinity": "its facets are seldom paired with these",
    "strength": "one of the two hides the other",
}


def pair(asked: Material | Formula, request: Request, palette: Palette) -> Findings:
    """Find companions for a material or an accord, each at a dose to try first.

    Raises
    ------
    UnknownFacet, BadValue
    """
    query = read(asked, request, palette)
    rows, terms, scores, order = ranked(query)
    shown = varied(query, rows, scores, order)[: request.top]
    notes = [*query.notes, *_why_not(query, rows, terms, order, shown)]
    equal = _as_strong(query, palette.materials([rows[i] for i in shown]))
    suggestions = tuple(
        _suggestion(query, rows[i], float(scores[i]), terms_at(terms, i), parts)
        for i, parts in zip(shown, equal, strict=True)
    )
    return Findings(_as_data(query), query.asked.name, suggestions, tuple(dict.fromkeys(notes)))


# ranking


def ranked(query: CompanionQuery) -> tuple[list[int], dict[str, Array], Array, list[int]]:
    """Return the rows that may be offered, their terms and scores, and places from best to worst."""
    rows = [int(row) for row in np.flatnonzero(query.eligibility.mask)]
    if not rows or not query.lines:
        return [], {}, np.zeros(0), []
    terms = all_terms(query, rows)
    known = terms["pair"] + terms["paired alike"] + terms["affinity"] >= LEAST_KNOWN
    rows = [row for row, is_known in zip(rows, known, strict=True) if is_known]
    terms = {name: values[known] for name, values in terms.items()}
    scores, materials = scoring.score(terms, "pair"), query.palette.materials(rows)
    last = hard_to_get(materials, query.eligibility.request)
    return rows, terms, scores, scoring.order(scores, [m.name for m in materials], last)


def all_terms(query: CompanionQuery, rows: list[int]) -> dict[str, Array]:
    """Return every term that applies, each shape (candidates,)."""
    palette, pairings = query.palette, query.pairings
    terms: dict[str, Array] = {}
    if query.eligibility.carried is not None:
        terms["facet"] = query.eligibility.carried[rows]
    terms["pair"] = pairings.on_record(query.loud)[rows]
    terms["paired alike"] = _against_the_best(pairings.paired_alike(query.loud)[rows])
    terms["affinity"] = _against_the_best(pairings.affinity(query.facets)[rows])
    terms["familiar"] = pairings.familiar[rows]
    terms["contrast"] = 1.0 - pairings.profile[rows] @ query.loud / query.loud.sum()
    terms["bridge"] = _bridging(query, rows)
    terms["position"] = _another_phase(query, rows)
    if query.asked.strength:
        terms["strength"] = _neither_hidden(query.asked.strength, palette.materials(rows))
    terms["evidence"] = np.array([evidence(m, query.eligibility.wanted) for m in palette.materials(rows)])
    return terms


def _against_the_best(values: Array) -> Array:
    return np.asarray(values / max(float(values.max(initial=0.0)), 1e-9), float)


def _bridging(query: CompanionQuery, rows: list[int]) -> Array:
    """Return how much both have of the same facets, those with which both lead left out, 0-1."""
    both = np.minimum(query.palette.space.weights[rows], query.facets)
    common = np.where(both >= BOTH_LEAD, 0.0, both).sum(axis=1)
    return np.asarray(common / (common + 1.0), float)


def _another_phase(query: CompanionQuery, rows: list[int]) -> Array:
    """Return whether each adds to the phases that the asked has, `SAME_POSITION` to 1."""
    palette, level = query.palette, dict[str, float]()
    for row, loud in query.lines.items():
        stay = palette.catalogue.materials[row].lasting
        if stay is not None:
            level[stay.position] = level.get(stay.position, 0.0) + loud
    total = max(sum(level.values()), 1e-9)
    stays = [m.lasting for m in palette.materials(rows)]
    share = np.array([level.get(stay.position, 0.0) / total if stay else 0.5 for stay in stays])
    return np.asarray(1.0 - (1.0 - SAME_POSITION) * share, float)


def _neither_hidden(strength: float, materials: Sequence[Material]) -> Array:
    """Return how little either hides the other at the same dose, 0-1; 1 where that is unknown."""
    gaps = np.array([_decades(strength) - _decades(m.strength or strength) for m in materials])
    return np.asarray(np.exp(-np.maximum(gaps - DROWNED, 0.0) - np.maximum(-gaps - DROWNS, 0.0)), float)


def _decades(strength: float) -> float:
    return decades_above_clear(min(max(strength, 1e-3), 0.99 * TYPICAL_MAXIMUM))


def varied(query: CompanionQuery, rows: Sequence[int], scores: Array, order: Sequence[int]) -> list[int]:
    """Return places of a varied list, one form of each note, before all others that on record."""
    pairings, picked, head = query.pairings, list(rows), list[int]()
    forms = pairings.one_note[np.ix_(picked, picked)]
    on_record = (query.loud @ pairings.classic)[picked] > 0
    stands_back = ~on_record & (forms & on_record).any(axis=1)
    for place in order:
        if not stands_back[place] and not forms[place, head].any():
            head.append(place)
        if len(head) == HEAD * query.eligibility.request.top:
            break
    last = hard_to_get(query.palette.materials(picked), query.eligibility.request)
    return scoring.diverse(head, scores, pairings.profile[np.ix_(picked, picked)], last=last)


# one companion


@dataclass(frozen=True, slots=True)
class _AsStrong:
    """The parts of a companion that smell as strong as `AT_PARTS` of the asked, and as an accord by itself.

    None where they are not known, and where nothing but a material is asked about.
    """

    parts: float | None
    whole: float | None


def _as_strong(query: CompanionQuery, materials: Sequence[Material]) -> list[_AsStrong]:
    """Return the parts of each companion that are as strong as what is asked about."""
    parts = dosing.equal_strengths(materials, query.asked, AT_PARTS)
    whole: list[float | None] = [None] * len(materials)
    if query.formula is not None:
        whole = dosing.equal_strengths(materials, query.asked, 1000.0)
    return list(map(_AsStrong, parts, whole))


def _suggestion(
    query: CompanionQuery, row: int, score: float, terms: Mapping[str, float], equal: _AsStrong
) -> Suggestion:
    palette, asked, request = query.palette, query.asked, query.eligibility.request
    offered, wanted = palette.catalogue.materials[row], tuple(query.eligibility.wanted)
    room = product_limits.headroom_for(palette, request, offered, query.formula)
    dose = _dose(query, offered, equal, 1000.0 if room.parts is None else room.parts)
    return assembled(
        asked,
        offered,
        wanted,
        palette.space.near_labels(offered, query.eligibility.wanted),
        score=score,
        terms=terms,
        brings=explanation.brings(asked, offered, wanted),
        reasons=(
            *_pairs(query, row),
            *_bridge(asked, offered),
            *_facets_together(query, row),
            *_strips(asked, equal.parts),
            *explanation.at_the_bench(asked, offered, tuple(wanted), terms),
            *product_limits.reasons(palette, request, room, dose.first_try if dose else None, offered),
        ),
        dose=dose,
    )


def _pairs(query: CompanionQuery, row: int) -> list[Reason]:
    """Return the classic pairs with lines of the asked, the loudest first, else the nearest by likeness."""
    materials = query.palette.catalogue.materials
    found: list[Reason] = []
    for line in sorted(query.lines, key=lambda line: -query.lines[line]):
        if (line, row) in query.pairings.pairs:
            known = query.pairings.pairs[line, row]
            found.append(
                ClassicPair(materials[line].name, known.note, basis=known.basis, source=known.source)
            )
    if found:
        return found
    if (near := query.pairings.by_likeness(query.loud, row)) is None:
        return []
    line, beside, partner = near
    known = query.pairings.pairs[beside, partner]
    names = {
        "like": materials[line].name,
        "beside": materials[beside].name,
        "partner": materials[partner].name,
    }
    return [PairedLike(**names, note=known.note, basis=known.basis, source=known.source)]


def _bridge(asked: Material, offered: Material) -> list[Bridge]:
    own = {label.facet: label for label in asked.labels}
    both = {
        label.facet: FacetStrengths(label.strength, own[label.facet].strength)
        for label in sorted(offered.labels, key=lambda label: -label.strength)
        if label.facet in own and min(label.strength, own[label.facet].strength) < 3
    }
    bases = {label.basis for m in (asked, offered) for label in m.labels if label.facet in both}
    return [Bridge(both, basis="memory" if "memory" in bases else "common practice")] if both else []


def _facets_together(query: CompanionQuery, row: int) -> list[FacetAffinity]:
    """Return the two facets that are paired most often against chance."""
    facets, space = query.palette.space.facets, query.palette.space
    lifts = np.outer(query.facets, space.weights[row]) * query.pairings.facet_lift
    np.fill_diagonal(lifts, 0.0)
    beside, own = np.unravel_index(int(lifts.argmax()), lifts.shape)
    value = float(query.pairings.facet_lift[beside, own])
    if lifts[beside, own] <= 0:
        return []
    return [FacetAffinity(facets[own], facets[beside], value, basis="estimated")]


def _strips(asked: Material, parts: float | None) -> list[StripCheck]:
    """Return the dilutions at which two strips come nearest to equal strength, the strongest of them.

    `parts` of the other material are as strong as `AT_PARTS` of the asked.
    """
    if parts is None:
        return []
    wanted = math.log10(parts / AT_PARTS)
    beside, percent = min(
        ((mine, other) for mine in STRIP_PERCENTS for other in STRIP_PERCENTS),
        key=lambda both: (abs(math.log10(both[1] / both[0]) - wanted), -both[0]),
    )
    return [StripCheck(asked.name, beside, percent, STRIP_HOURS, basis="estimated")]


def _dose(query: CompanionQuery, offered: Material, equal: _AsStrong, room: float) -> Dose | None:
    """Return the dose to try: in an accord well below its strength, beside a material as strong as it.

    In an accord within the usual range; beside a material `of_query` is the parts to one part of it, between
    equal strength and the ratio of the two usual levels, and the dose that share of both together.
    """
    if query.formula is not None:
        if equal.whole is None:
            return None
        usual, beside = query.formula.usual(offered), BESIDE * equal.whole
        best = beside if usual is None else max(beside, usual.low)
        return dosing.dose_range(best, 500.0, room, usual, offered.working_percent)
    if equal.parts is None:
        return None
    ratio, levels = equal.parts / AT_PARTS, [_usual_percent(m) for m in (offered, query.asked)]
    if levels[0] is not None and levels[1] is not None:
        ratio = math.sqrt(ratio * levels[0] / levels[1])
    low, first, high = (min(_share(times * ratio), room) for times in (0.5, 1.0, 2.0))
    return Dose(first, low, high, dosing.dilution(low), of_query=ratio)


def _share(ratio: float) -> float:
    """Return the parts per thousand of both together of so many parts to one, with two digits."""
    return float(f"{1000.0 * ratio / (1.0 + ratio):.2g}")


def _usual_percent(material: Material) -> float | None:
    used = material.use
    if used is None or not used.low or not used.high:
        return None
    return math.sqrt(used.low * used.high)


# the question as the answer repeats it


def _why_not(
    query: CompanionQuery,
    rows: Sequence[int],
    terms: Mapping[str, Array],
    order: Sequence[int],
    shown: Sequence[int],
) -> list[str]:
    """Return the reasons for each material that is asked about, in sentences."""
    found, listed = list[str](), [rows[i] for i in shown]
    places = {rows[i]: place for place, i in enumerate(order)}
    for other in asked_about(query.eligibility):
        row = query.palette.catalogue.index[other.slug]
        if against := query.eligibility.why_not(other):
            found += against
        elif row in listed:
            found.append(in_the_list(other, listed.index(row)))
        elif row in places:
            place = places[row]
            values = {name: float(terms[name][order[place]]) for name in terms if name in WEAK_POINTS}
            if values["pair"] > 0:
                del values["pair"]
            found.append(ranked_at(other, place, len(rows), values, WEAK_POINTS))
        else:
            found.append(
                f"Nothing is on record of {other.name} beside {query.asked.name}, or of their facets."
            )
    return found


def companion_facets(query: CompanionQuery) -> list[str]:
    """Return the facets that go best with what is asked about and are not its own, the best first."""
    facets, lifts = query.palette.space.facets, query.pairings.facets_with(query.facets)
    own = {label.facet for label in query.asked.labels}
    found = [int(i) for i in np.argsort(-lifts, kind="stable") if lifts[i] > 0 and facets[i] not in own]
    return [facets[i] for i in found[:MOST_FACETS]]


def _as_data(query: CompanionQuery) -> dict[str, object]:
    asked, request, stay = query.asked, query.eligibility.request, query.asked.lasting
    named: dict[str, object] = {}
    if query.formula:
        named = {
            "formula": asked.name,
            "theme": query.formula.theme.figures,
            "share": checked_share(request.share_percent),
        }
    return {
        "verb": "pair",
        **named,
        "material": None if query.formula else asked.name,
        "cas": asked.cas or None,
        "facets": list(query.eligibility.wanted),
        "refused": list(query.eligibility.avoided),
        "into": None,
        "from_hours": None,
        "until_hours": None,
        **given_options(request),
        "lasting": stay.figures if stay else None,
        "strength": asked.strength,
        "likeness": query.palette.space.rests_on,
        "companion_facets": companion_facets(query),
    }
