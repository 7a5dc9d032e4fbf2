"""Suggestions for a formula: every candidate is simulated in it at the dose that suits it best."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from recommender.chemistry.odour_strength import soft
from recommender.errors import BadValue
from recommender.evaporation import Array
from recommender.formulas import dosing, simulation
from recommender.formulas.drydown import FormulaDrydown, end_figures
from recommender.formulas.usual import checked_share
from recommender.model import Dose, Findings, Formula, Material, Suggestion
from recommender.palette import Palette
from recommender.progress import Progress
from recommender.reasons import BeyondUsualUse, FormulaEffect, Reason
from recommender.similarity.phrases import texts
from recommender.suggest import explanation, product_limits, scoring
from recommender.suggest.assembly import Effect, Members, assembled, terms_at
from recommender.suggest.availability import hard_to_get
from recommender.suggest.confidence import Ranking, Variants, swings, with_confidence
from recommender.suggest.lower import lowered
from recommender.suggest.request import (
    DEFAULT_UNTIL_HOURS,
    Request,
    Smells,
    drydown_for,
    given_options,
    smells,
)
from recommender.suggest.substitute import replace_in
from recommender.suggest.target import (
    LEAST_GAIN,
    FormulaTarget,
    SimulatedCandidates,
    carriers,
    checked_notes,
    eligibility_in,
    first_answered,
    simulate_candidates,
    steady,
    theme_left,
    won,
)
from recommender.suggest.terms import purity
from recommender.suggest.why_not import why_not_in_formula

LESSENED_UNTIL_H = 72.0
"""Hours over which the material is looked for that carries most of what is refused."""


def extend(
    formula: Formula,
    request: Request,
    palette: Palette,
    fading: Material | None = None,
    progress: Progress | None = None,
) -> Findings:
    """Find carriers for a fading facet of a formula, or for what one material of it, `fading`, carried.

    Without `facet` the fading facet that is missed most is wanted, one of the theme before any other but one
    that fades only after the base last, and the next one where nothing is found for it.

    Raises
    ------
    UnknownFacet, BadValue
    """
    table = drydown_for(formula, request, palette)

    def answer(target: FormulaTarget, progress: Progress | None) -> Findings:
        return findings(request, table, target, carried(request, table, target, progress), "extend")

    target, found = first_answered(request, table, fading, answer, progress)
    return replace(found, lower=lowered(table, target))


def carried(
    request: Request, table: FormulaDrydown, target: FormulaTarget, progress: Progress | None = None
) -> tuple[Suggestion, ...]:
    """Return the carriers of what a formula needs, the best first."""
    trial = simulate_candidates(request, table, target, carriers(request, table, target), progress)
    if not trial.materials:
        return ()
    trial = with_purity(table, target, trial)
    scores = scoring.score(trial.terms, "extend in formula")
    last = hard_to_get(trial.materials, request)
    order = scoring.order(scores, [m.name for m in trial.materials], last)
    meant = scoring.means_something(trial.terms, "extend in formula")
    shown = [i for i in order if meant[i]][: request.top]
    suggestions = [_suggestion(request, table, target, trial, i, float(scores[i])) for i in shown]
    return _with_confidence(suggestions, table, target, trial, shown, "extend in formula")


def with_purity(
    table: FormulaDrydown, target: FormulaTarget, trial: SimulatedCandidates
) -> SimulatedCandidates:
    """Return candidates with how little each brings along that the formula does not show anyway."""
    rows = [table.palette.catalogue.index[m.slug] for m in trial.materials]
    clean = purity(table.palette.space, rows, target.facets, shown_by(table))
    return replace(trial, terms={**trial.terms, "purity": clean})


def vary(formula: Formula, request: Request, palette: Palette, progress: Progress | None = None) -> Findings:
    """Find what moves a formula toward other words, with how much of its theme is left.

    Where the words only refuse ("less sweet"), replacements for the material that carries most of that.

    Raises
    ------
    UnknownFacet, BadValue
    """
    table = drydown_for(formula, request, palette)
    found = smells("vary", request, table.palette)
    notes = (*checked_notes(request, table), *found.notes)
    if not found.wanted:
        return _lessened(request, table, found, notes)
    loudest = max(table.amounts, key=lambda a: (a.material.strength or 0.0) * a.mass_fraction)
    window = (0.25, request.until_hours or DEFAULT_UNTIL_HOURS)
    target = FormulaTarget(found.wanted, window, loudest.material, None, notes, found.refused)
    trial = simulate_candidates(request, table, target, carriers(request, table, target), progress)
    if not trial.materials:
        return findings(request, table, target, (), "vary")
    terms = {**trial.terms, "theme": trial.theme_left}
    terms.pop("steady")
    trial = replace(trial, terms=terms)
    scores = scoring.score(terms, "vary in formula")
    last = hard_to_get(trial.materials, request)
    head = scoring.order(scores, [m.name for m in trial.materials], last)[: 3 * request.top]
    places = [table.palette.catalogue.index[m.slug] for m in trial.materials]
    vectors = table.palette.space.vectors[places]
    alike = np.clip(table.palette.space.alike(vectors, vectors), 0.0, 1.0)
    meant = scoring.means_something(terms, "vary in formula")
    order = scoring.diverse([i for i in head if meant[i]], scores, alike, last=last)[: request.top]
    shown = [_moved(_suggestion(request, table, target, trial, i, float(scores[i])), trial, i) for i in order]
    return findings(
        request,
        table,
        target,
        _with_confidence(shown, table, target, trial, order, "vary in formula"),
        "vary",
    )


def _with_confidence(
    suggestions: Sequence[Suggestion],
    table: FormulaDrydown,
    target: FormulaTarget,
    trial: SimulatedCandidates,
    places: Sequence[int],
    verb: str,
) -> tuple[Suggestion, ...]:
    """Return suggestions with how sure their places are; each is simulated again at its best dose."""
    if not places:
        return ()
    materials, shares = [trial.materials[i] for i in places], trial.gain.share[list(places)]
    films, space = simulation.Candidates.of(table.alone(materials)), table.palette.space
    columns = [space.facets.index(facet) for facet in target.facets]
    others = np.setdiff1d(np.arange(len(space.facets)), columns)

    plain = simulation.as_it_is(table.film, films)
    before = simulation.soft_presence(plain.hours, plain.facets, *target.window)[0]

    def terms(them: Variants) -> dict[str, Array]:
        found = them.of_candidates(films).in_formula(table.film, shares[them.places])
        after = simulation.soft_presence(found.hours, found.facets, *target.window)
        left = theme_left(table, target, plain, found)
        presence = np.array([won(trial.gain.before, float(value)) for value in after[:, columns].max(axis=1)])
        if "theme" in trial.terms:
            return {"presence": presence, "theme": left}
        change = simulation.presence_change(before, after, others)
        return {"presence": presence, "steady": steady(change, left)}

    picked = {name: values[list(places)] for name, values in trial.terms.items()}
    ranking = Ranking(
        table.palette, materials, picked, verb, target.facets, table.smell, shown=sorted(shown_by(table))
    )
    return with_confidence(suggestions, ranking, swings(materials, terms))


def _lessened(request: Request, table: FormulaDrydown, found: Smells, notes: tuple[str, ...]) -> Findings:
    """Return replacements for the material that carries most of the refused facets over three days."""
    film, hours = table.film, table.course.hours
    columns = [film.facets.index(facet) for facet in found.less]
    hours = hours[hours <= LESSENED_UNTIL_H]
    intensity = film.intensities(film.left(hours)) * film.weights[:, columns].max(axis=1)
    carried = soft(intensity).mean(axis=0)
    place = int(carried.argmax())
    smelled, name = ", ".join(found.less), table.formula.name
    if carried[place] < LEAST_GAIN:
        raise BadValue("toward", ", ".join(texts(request.toward)), f"nothing in {name} smells of {smelled}")
    leader = film.amounts[int(film.owner[place])].material
    less = replace(request, toward=None, facet=request.toward)
    swapped = replace_in(leader, table.formula, less, table.palette, found.less)
    note = f"{leader.name} carries most of the {smelled} in {name}; the suggestions replace it."
    return replace(swapped, notes=tuple(dict.fromkeys((*notes, note, *swapped.notes))))


def _moved(suggestion: Suggestion, trial: SimulatedCandidates, place: int) -> Suggestion:
    """Return a suggestion whose effect is how far it moves the formula and how much of the theme it keeps."""
    facets = sorted(set(trial.facets))
    before: dict[str, object] = {"facets": facets, "presence": trial.gain.before, "theme_kept": 1.0}
    after: dict[str, object] = {
        "facets": facets,
        "presence": float(trial.gain.after[place]),
        "theme_kept": float(trial.terms["theme"][place]),
    }
    return replace(suggestion, effect={"before": before, "after": after})


def dose_of(
    gain: simulation.Gain, place: int, bound: float, material: Material, table: FormulaDrydown
) -> Dose:
    """Return the doses to try for one candidate: its best dose, what limits and usual use leave at most.

    `bound` are the parts per thousand that limits leave.
    """
    best, most = 1000.0 * float(gain.share[place]), 1000.0 * float(gain.stands_out[place])
    return dosing.dose_range(best, most, bound, table.usual(material), material.working_percent)


def beyond_usual(
    gain: simulation.Gain, place: int, material: Material, table: FormulaDrydown
) -> tuple[BeyondUsualUse, ...]:
    """Return that a candidate would need more than is usual to win what it can, empty where it does not."""
    usual, needed = table.usual(material), 1000.0 * float(gain.needed[place])
    if usual is None or not needed:
        return ()
    times = (needed + usual.present) / usual.high
    basis, source = (material.use.basis, material.use.source) if material.use else ("", "")
    return (
        BeyondUsualUse(
            material.name, needed, times, usual.low, usual.high, usual.present, basis=basis, source=source
        ),
    )


def _suggestion(
    request: Request,
    table: FormulaDrydown,
    target: FormulaTarget,
    trial: SimulatedCandidates,
    place: int,
    score: float,
) -> Suggestion:
    material, gain = trial.materials[place], trial.gain
    room = product_limits.headroom_for(table.palette, request, material, table)
    dose = dose_of(gain, place, 1000.0 if room.parts is None else room.parts, material, table)
    after = table.plus([(material, dose.first_try / 1000.0)])
    terms = terms_at(trial.terms, place)
    reasons = (
        *reasons_for(table, target, material, terms),
        FormulaEffect(
            tuple(target.facets),
            before=gain.before,
            after=float(gain.after[place]),
            change=float(gain.change[place]),
            parts=dose.high,
            from_hours=target.window[0],
            until_hours=target.window[1],
            basis="estimated",
        ),
        *beyond_usual(gain, place, material, table),
        *product_limits.reasons(table.palette, request, room, dose.first_try, material),
    )
    effect = effect_of(table, after, target)
    return answer_in(
        table, target, material, score=score, terms=terms, reasons=reasons, dose=dose, effect=effect
    )


def reasons_for(
    table: FormulaDrydown, target: FormulaTarget, material: Material, terms: Mapping[str, float]
) -> tuple[Reason, ...]:
    """Return the reasons for one carrier, against the material that carried the facet."""
    palette, wanted = table.palette, tuple(target.facets)
    near = palette.space.near_labels(material, target.facets)
    return explanation.reasons(palette.catalogue, palette.graph, target.leader, material, wanted, near, terms)


def answer_in(
    table: FormulaDrydown,
    target: FormulaTarget,
    material: Material,
    *,
    score: float,
    terms: Mapping[str, float],
    reasons: tuple[Reason, ...],
    dose: Dose,
    effect: Effect,
    members: Members = (),
) -> Suggestion:
    """Return a suggestion for what a formula needs.

    What the formula itself clearly shows does not count as brought along, unless it leads in a carrier.
    """
    wanted = tuple(target.facets)
    known = shown_by(table)
    brought = {
        label.facet: label
        for m in reversed([m for m, _ in members] or [material])
        for label in explanation.brings(target.leader, m, wanted)
        if label.facet not in known or label.strength == 3
    }
    return assembled(
        target.leader,
        material,
        wanted,
        table.palette.space.near_labels(material, target.facets),
        score=score,
        terms=terms,
        brings=brought.values(),
        reasons=reasons,
        dose=dose,
        effect=effect,
        members=members,
    )


def shown_by(table: FormulaDrydown) -> frozenset[str]:
    """Return the facets that a formula clearly shows by the labels of its materials."""
    return frozenset(
        label.facet for amount in table.amounts for label in amount.material.labels if label.strength > 1
    )


def effect_of(before: FormulaDrydown, after: FormulaDrydown, target: FormulaTarget) -> Effect:
    """Return the ends of the wanted facets before and after, facet by facet."""
    ends = {name: table.ends_of(target.facets) for name, table in (("before", before), ("after", after))}
    return {
        name: {facet: end_figures(found.get(facet)) for facet in target.facets}
        for name, found in ends.items()
    }


def findings(
    request: Request, table: FormulaDrydown, target: FormulaTarget, shown: tuple[Suggestion, ...], verb: str
) -> Findings:
    """Return the findings with the query as it was understood."""
    ends = table.ends_of(target.facets) if verb != "vary" else {}
    query: dict[str, object] = {
        "verb": verb,
        "formula": table.formula.name,
        "material": target.leader.name,
        "cas": target.leader.cas or None,
        "facets": list(target.facets),
        "refused": list(target.avoided),
        "into": request.into,
        "from_hours": target.window[0],
        "until_hours": target.window[1],
        **given_options(request),
        "share": checked_share(request.share_percent),
        "lasting": None,
        "strength": None if verb == "vary" else target.leader.strength,
        "likeness": table.palette.space.rests_on,
        "theme": table.theme.figures,
        "before": {} if verb == "vary" else {f: end_figures(ends.get(f)) for f in target.facets},
    }
    notes = why_not_in_formula(eligibility_in(request, table, target), table, shown)
    return Findings(
        query, target.leader.name, shown, tuple(dict.fromkeys((*target.notes, *table.carrier_notes, *notes)))
    )
