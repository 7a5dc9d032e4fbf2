"""A relay: a heart carrier and a base carrier that keep a facet together, and the hour of the handover."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from recommender.errors import BadValue
from recommender.evaporation import Array
from recommender.formulas import dosing, simulation
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Dose, Findings, Formula, Material, Suggestion
from recommender.palette import Palette
from recommender.progress import Progress, parts
from recommender.reasons import BeyondUsualUse, RelayReason
from recommender.suggest import product_limits, scoring
from recommender.suggest.availability import hard_to_get
from recommender.suggest.in_formula import (
    answer_in,
    beyond_usual,
    dose_of,
    effect_of,
    findings,
    reasons_for,
    with_purity,
)
from recommender.suggest.lower import lowered
from recommender.suggest.practice import condense_among
from recommender.suggest.request import WINDOWS, Request, drydown_for
from recommender.suggest.target import (
    FormulaTarget,
    SimulatedCandidates,
    carriers,
    first_answered,
    simulate_candidates,
    steady,
    theme_left,
    won,
)

LEAST_BASE_H = 24.0
"""A base carrier lasts at least a day by itself."""
WORTH_A_PLACE = 0.1
"""Presence that each of the two must win in its own window."""
RELAY = 8
"""How many heart and base carriers are paired."""


def relay(
    formula: Formula,
    request: Request,
    palette: Palette,
    fading: Material | None = None,
    progress: Progress | None = None,
) -> Findings:
    """Find a heart carrier and a base carrier that keep a facet together, with the hour of the handover.

    Raises
    ------
    UnknownFacet, BadValue
    """
    if request.into:
        raise BadValue("into", request.into, "a relay goes through heart and base; leave it out")
    table = drydown_for(formula, request, palette)

    def answer(target: FormulaTarget, progress: Progress | None) -> Findings:
        return handed_over(request, table, target, progress)

    target, found = first_answered(request, table, fading, answer, progress)
    return replace(found, lower=lowered(table, target))


def handed_over(
    request: Request, table: FormulaDrydown, target: FormulaTarget, progress: Progress | None = None
) -> Findings:
    """Find relays for what a formula needs."""
    start = min(target.window[0], WINDOWS["heart"][0])
    heart = start, WINDOWS["heart"][1]
    base = WINDOWS["base"][0], max(request.until_hours or 0.0, WINDOWS["base"][1])
    target = replace(target, window=(target.window[0], base[1]))
    rows = carriers(request, table, target)
    hearts_part, bases_part, pairs_part = parts(progress, 3)
    in_heart, first = _carriers_in(heart, request, table, target, rows, hearts_part)
    in_base, second = (
        _carriers_in(base, request, table, target, rows, bases_part) if first else (in_heart, [])
    )
    pairs = [(i, j) for i in first for j in second if in_heart.materials[i].slug != in_base.materials[j].slug]
    stays = {(i, j): (_hours(in_heart.materials[i]), _hours(in_base.materials[j])) for i, j in pairs}
    pairs = [pair for pair, (short, long) in stays.items() if short < long and long >= LEAST_BASE_H]
    if request.colourless:
        both = {(i, j): (in_heart.materials[i], in_base.materials[j]) for i, j in pairs}
        pairs = [pair for pair in pairs if not condense_among(both[pair])]
    hearts = {i: _first(request, table, in_heart, i) for i in dict.fromkeys(i for i, _ in pairs)}
    found = []
    for (i, j), progress_of in zip(pairs, parts(pairs_part, len(pairs)), strict=True):
        if progress_of:
            progress_of(0.0)
        found.append(_together(request, table, target, in_heart, in_base, i, j, hearts[i]))
    found = [pair for pair in found if pair.score >= scoring.LEAST_SCORE]
    scored = sorted(found, key=lambda pair: (any(hard_to_get(pair.materials, request)), -pair.score))
    shown = [_suggestion(request, table, target, pair) for pair in _distinct(scored)[: request.top]]
    return findings(request, table, target, tuple(shown), "extend")


def _carriers_in(
    window: tuple[float, float],
    request: Request,
    table: FormulaDrydown,
    target: FormulaTarget,
    rows: Sequence[int],
    progress: Progress | None,
) -> tuple[SimulatedCandidates, list[int]]:
    """Return candidates simulated in a window, and the places of the best that are worth one in a relay."""
    found = simulate_candidates(request, table, replace(target, window=window), rows, progress)
    if not found.materials:
        return found, []
    found = with_purity(table, target, found)
    scores = scoring.score(found.terms, "extend in formula")
    best = scoring.order(scores, [m.name for m in found.materials])[:RELAY]
    return found, [place for place in best if _won(found, place) >= WORTH_A_PLACE]


def _won(trial: SimulatedCandidates, place: int) -> float:
    return float(trial.gain.after[place]) - trial.gain.before


def _hours(material: Material) -> float:
    return material.lasting.hours if material.lasting else 0.0


@dataclass(frozen=True)
class _Pair:
    """A heart and a base carrier at the doses to try first.

    The formula `beside` the base carrier has the most of the heart carrier, that of `together` has both.
    """

    materials: tuple[Material, Material]
    beside: FormulaDrydown
    doses: tuple[Dose, Dose]
    unusual: tuple[BeyondUsualUse, ...]
    together: FormulaDrydown
    terms: Mapping[str, float]
    score: float

    @property
    def members(self) -> list[tuple[Material, float]]:
        """Both, each with its mass fraction in the finished accord."""
        return [(m, dose.first_try / 1000.0) for m, dose in zip(self.materials, self.doses, strict=True)]


def _first(
    request: Request, table: FormulaDrydown, heart: SimulatedCandidates, place: int
) -> tuple[Dose, FormulaDrydown]:
    """Return the dose of a heart carrier, and the formula with the most of it."""
    material = heart.materials[place]
    (bound,) = product_limits.most_parts(request, [material], table)
    dose = dose_of(heart.gain, place, float(bound), material, table)
    return dose, table.plus([(material, dose.high / 1000.0)])


def _together(
    request: Request,
    table: FormulaDrydown,
    target: FormulaTarget,
    heart: SimulatedCandidates,
    base: SimulatedCandidates,
    i: int,
    j: int,
    first: tuple[Dose, FormulaDrydown],
) -> _Pair:
    """Return two of the candidates, simulated together; `first` is what `_first` returns of the heart."""
    one, other = heart.materials[i], base.materials[j]
    dose, beside = first
    (bound,) = product_limits.most_parts(request, [other], beside)
    doses = dose, dose_of(base.gain, j, float(bound), other, beside)
    together = table.plus([(one, doses[0].first_try / 1000.0), (other, doses[1].first_try / 1000.0)])
    columns = [together.film.facets.index(facet) for facet in target.facets]
    window = (min(target.window[0], 1.0), WINDOWS["base"][1])
    found = {}
    for name, course in (("before", table.course), ("after", together.course)):
        found[name] = simulation.soft_presence(course.hours[None], course.facets[None], *window)[0]
    others = np.setdiff1d(np.arange(len(together.film.facets)), columns)
    change = simulation.presence_change(found["before"], found["after"], others)
    terms = {
        "facet": float(np.sqrt(heart.terms["facet"][i] * base.terms["facet"][j])),
        "presence": won(float(found["before"][columns].max()), float(found["after"][columns].max())),
        "steady": float(steady(change, _theme_left(table, target, together))[0]),
        "likeness": float(np.sqrt(heart.terms["likeness"][i] * base.terms["likeness"][j])),
        "kinship": float(np.sqrt(max(heart.terms["kinship"][i], 1e-4) * max(base.terms["kinship"][j], 1e-4))),
        "purity": float(np.sqrt(heart.terms["purity"][i] * base.terms["purity"][j])),
        "evidence": float(min(heart.terms["evidence"][i], base.terms["evidence"][j])),
    }
    score = float(scoring.score({name: np.array([v]) for name, v in terms.items()}, "extend in formula")[0])
    unusual = (*beyond_usual(heart.gain, i, one, table), *beyond_usual(base.gain, j, other, table))
    return _Pair((one, other), beside, doses, unusual, together, terms, score)


def _suggestion(request: Request, table: FormulaDrydown, target: FormulaTarget, pair: _Pair) -> Suggestion:
    """Return a pair as it is shown: with its handover, its reasons and the ends before and after."""
    (one, other), doses, together = pair.materials, pair.doses, pair.together
    handover = _handover(together, target, one, other)
    total = sum(share for _, share in pair.members)
    dose = Dose(
        sum(d.first_try for d in doses),
        sum(d.low for d in doses),
        sum(d.high for d in doses),
        min((d.dilution_percent for d in doses if d.dilution_percent), default=None),
        usual=dosing.together(doses),
        members=doses,
    )
    limits = [
        product_limits.reasons(
            table.palette,
            request,
            product_limits.headroom_for(table.palette, request, material, rest),
            each.first_try,
            material,
        )
        for rest, each, material in zip((table, pair.beside), doses, pair.materials, strict=True)
    ]
    reasons = (
        RelayReason(
            one.name, doses[0].first_try, other.name, doses[1].first_try, handover, basis="estimated"
        ),
        *reasons_for(table, target, other, pair.terms),
        *pair.unusual,
        *limits[0],
        *limits[1],
    )
    return answer_in(
        table,
        target,
        other,
        score=pair.score,
        terms=pair.terms,
        reasons=reasons,
        dose=dose,
        effect=effect_of(table, together, target),
        members=tuple((material, share / total) for material, share in pair.members),
    )


def _theme_left(table: FormulaDrydown, target: FormulaTarget, together: FormulaDrydown) -> Array:
    """Return how much of the theme is left with both carriers, shape (1,)."""
    before, after = (
        simulation.SimulatedDoses(course.hours[None], course.facets[None])
        for course in (table.course, together.course)
    )
    return theme_left(table, target, before, after)


def _handover(table: FormulaDrydown, target: FormulaTarget, one: Material, other: Material) -> float | None:
    """Return the hour from which the base carrier shows the facets more strongly than the heart carrier."""
    film, hours = table.film, table.course.hours
    columns = [film.facets.index(facet) for facet in target.facets]
    intensity = film.intensities(film.left(hours)) * film.weights[:, columns].max(axis=1)
    lines = []
    for material in (one, other):
        place = next(i for i, a in enumerate(film.amounts) if a.material.slug == material.slug)
        lines.append(intensity[:, film.owner == place].max(axis=1))
    later = np.flatnonzero((lines[1] > lines[0]) & (hours > 0.1))
    return float(hours[later[0]]) if len(later) else None


def _distinct(found: Sequence[_Pair]) -> list[_Pair]:
    """Return relays of which no material is in more than two, so that the list is worth reading."""
    seen: dict[str, int] = {}
    distinct = []
    for pair in found:
        names = [material.slug for material in pair.materials]
        if all(seen.get(name, 0) < 2 for name in names):
            distinct.append(pair)
            for name in names:
                seen[name] = seen.get(name, 0) + 1
    return distinct
