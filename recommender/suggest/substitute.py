"""Stand-ins in a formula, and blends of two or three materials that together replace one."""

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from recommender.errors import BadValue
from recommender.evaporation import Array, Conditions, as_read
from recommender.formulas import dosing, simulation
from recommender.formulas.drydown import FormulaDrydown, end_figures
from recommender.formulas.usual import checked_share
from recommender.model import Amount, Dose, Findings, Formula, Label, Material, Suggestion
from recommender.palette import Palette
from recommender.reasons import BlendProfile, Reason, ReplacementDose
from recommender.suggest import drawbacks, explanation, product_limits, scoring
from recommender.suggest.assembly import assembled, terms_at
from recommender.suggest.availability import hard_to_get
from recommender.suggest.confidence import Variants, swings, with_confidence
from recommender.suggest.for_material import left_out, query_of, ranked, ranking_of
from recommender.suggest.practice import condense_among
from recommender.suggest.query import MaterialQuery, read
from recommender.suggest.request import Request, drydown_for
from recommender.suggest.terms import all_terms
from recommender.suggest.why_not import why_not_in_formula

CANDIDATES = 40
"""How many stand-ins are simulated in a formula, or enumerated for blends."""
COMPARED_AT = 10.0
"""Parts per thousand at which two strips are compared for strength, 1 %."""
MOST_REPLACED = 500.0
"""Parts per thousand of which a stand-in is at most."""
LEAST_SHARE = 0.05
"""A member of a blend has at least this share of its odour."""
LEAST_LOST = 0.05
"""A stand-in that takes away less of what is refused than this share of it takes away nothing."""
MISSING_FROM, MISSING_BELOW = 0.6, 0.3
"""Label weights: a facet is missing if the asked has at least the first, the blend less than the second."""


def replace_in(
    asked: Material, formula: Formula, request: Request, palette: Palette, less: Sequence[str] = ()
) -> Findings:
    """Find materials that can replace one in a formula, simulated there one to one or at equal strength.

    With `less`, only what leaves less of these facets in the formula, the least first.

    Raises
    ------
    UnknownFacet, BadValue
    """
    table = drydown_for(formula, request, palette)
    question = read("replace", asked, request, palette, present=frozenset(table.slugs()))
    share = table.share_of(asked)
    notes = tuple(dict.fromkeys((*question.notes, *table.notes, *table.carrier_notes)))
    query = {
        **query_of(question),
        "share": checked_share(request.share_percent),
        "theme": table.theme.figures,
    }
    rows, _, _, order = ranked(question)
    rest = table.minus(asked)
    rows, most = product_limits.fitting(request, [rows[i] for i in order][:CANDIDATES], rest)
    if not rows:
        against = why_not_in_formula(question.eligibility, table)
        return Findings(query, asked.name, (), tuple(dict.fromkeys((*notes, *against))))
    if not any(part.pressure_pa > 0 for amount in rest.amounts for part in amount.material.parts):
        raise BadValue("within", formula.name, f"nothing else in it smells; ask for {asked.name} alone")
    materials = palette.materials(rows)
    doses = replacement_doses(asked, materials, 1000.0 * share, most, rest)
    shares = np.array([parts / 1000.0 for parts, _ in doses])
    films = simulation.Candidates.of(table.alone(materials))
    own = simulation.simulate(rest.film, [table.films.formula([Amount(asked, 1.0)])], np.array([share]))

    def in_formula(stand_ins: simulation.Candidates, shares: Array) -> dict[str, Array]:
        found = stand_ins.in_formula(rest.film, shares)
        terms = {"in formula": preserved(own, found) * still_shown(question, own, found, less)}
        return terms | ({"away": _lost(question, own, found, less)} if less else {})

    terms = all_terms(question, rows) | in_formula(films, shares)
    scores = scoring.score(terms, "replace in formula", request.because)
    best = scoring.order(scores, [m.name for m in materials], hard_to_get(materials, request))
    best = [i for i in best if not less or terms["away"][i] >= LEAST_LOST]
    meant = scoring.means_something(terms, "replace in formula", request.because)
    notes += tuple(left_out([i for i in best if not meant[i]], scores, materials, int(meant.sum()), request))
    best = [i for i in best if meant[i]][: request.top]
    shown = [
        stand_in(
            question,
            materials[i],
            float(scores[i]),
            terms_at(terms, i),
            swap_dose(materials[i], doses[i][0], 1000.0 * share, most[i], rest),
            doses[i][1],
            table,
            rest,
            less,
        )
        for i in best
    ]
    against = why_not_in_formula(question.eligibility, table, shown)
    notes = tuple(dict.fromkeys((*notes, *against)))
    offered, offered_shares = films.picked(np.array(best, np.intp)), shares[best]

    def drawn(them: Variants) -> dict[str, Array]:
        return in_formula(them.of_candidates(offered), offered_shares[them.places])

    picked = {name: values[best] for name, values in terms.items()}
    ranking = ranking_of(question, [rows[i] for i in best], picked, "replace in formula")
    swing = swings(ranking.materials, drawn) if best else {}
    return Findings(query, asked.name, with_confidence(shown, ranking, swing), notes)


def replacement_doses(
    asked: Material, offered: Sequence[Material], parts: float, rooms: Sequence[float], rest: FormulaDrydown
) -> list[tuple[float, ReplacementDose]]:
    """Return the parts per thousand of each stand-in for so many of the asked, and how they were chosen.

    One to one where the bands of the two strengths allow that they are equal, else at equal strength; at most
    what limits leave (`rooms`) and what is usual beside `rest`, the formula without the asked.
    """
    found = []
    factors = replacement_factors(asked, offered, rest.palette.conditions)
    for material, (factor, reason), room in zip(offered, factors, rooms, strict=True):
        usual = rest.usual(material)
        wanted, allowed = parts * factor, room if usual is None else min(room, usual.room)
        dose = min(wanted, allowed, MOST_REPLACED)
        found.append((dose, replace(reason, bounded=wanted > allowed)))
    return found


def replacement_factors(
    asked: Material, offered: Sequence[Material], conditions: Conditions
) -> list[tuple[float, ReplacementDose]]:
    """Return how many parts of each stand-in a part of the asked is replaced by, and how that was chosen.

    One where the bands of the two strengths allow that they are equal, else as many as smell as strong.
    """
    read = [as_read(material, conditions) for material in offered]
    equal = dosing.equal_strengths(read, as_read(asked, conditions), COMPARED_AT)
    found = []
    for material, same in zip(offered, equal, strict=True):
        times = None if same is None else same / COMPARED_AT
        within = dosing.strength_band(asked, material)
        agree = times is None or within is None or 1.0 / within <= times <= within
        factor = 1.0 if agree or times is None else times
        found.append((factor, ReplacementDose(agree, times, within, False, basis="estimated")))
    return found


def swap_dose(offered: Material, parts: float, of_parts: float, room: float, rest: FormulaDrydown) -> Dose:
    """Return the dose of a stand-in for so many parts of the asked: all of it first, half as the least."""
    dose = dosing.dose_range(parts, MOST_REPLACED, room, rest.usual(offered), offered.working_percent)
    weighed = dosing.working_dilution(dose.high, dose.first_try, dose.high, offered.working_percent)
    return replace(
        dose,
        first_try=dose.high,
        low=dose.first_try,
        dilution_percent=weighed,
        of_query=dose.high / of_parts,
    )


def preserved(own: simulation.SimulatedDoses, found: simulation.SimulatedDoses) -> Array:
    """Return how much of the formula stays as it was, 0-1: all facets, a minute to three days."""
    before = simulation.soft_presence(own.hours, own.facets, 1 / 60, 72.0)[0]
    after = simulation.soft_presence(found.hours, found.facets, 1 / 60, 72.0)
    return np.asarray(1.0 / (1.0 + 2.0 * simulation.presence_change(before, after)), float)


def _lost(
    question: MaterialQuery,
    own: simulation.SimulatedDoses,
    found: simulation.SimulatedDoses,
    less: Sequence[str],
) -> Array:
    """Return which share of some facets' presence is gone with each stand-in, 0-1."""
    columns = [question.palette.space.facets.index(facet) for facet in less]
    before = simulation.soft_presence(own.hours, own.facets, 1 / 60, 72.0)[:, columns].sum(axis=1)
    after = simulation.soft_presence(found.hours, found.facets, 1 / 60, 72.0)[:, columns].sum(axis=1)
    return np.asarray(np.clip(1.0 - after / np.maximum(before, 1e-9), 0.0, 1.0), float)


def still_shown(
    question: MaterialQuery,
    own: simulation.SimulatedDoses,
    found: simulation.SimulatedDoses,
    less: Sequence[str],
) -> Array:
    """Return how far the wanted facets, or those that the asked leads with, are still there, 0-1."""
    space, asked = question.palette.space, question.asked
    leading = [label.facet for label in asked.labels if label.strength == 3 and label.facet not in less]
    facets = list(question.wanted) or leading
    if not facets:
        return np.ones(len(found.facets))
    columns = [space.facets.index(facet) for facet in facets]
    before = simulation.soft_presence(own.hours, own.facets, 1 / 60, 72.0)[0, columns].max()
    after = simulation.soft_presence(found.hours, found.facets, 1 / 60, 72.0)[:, columns].max(axis=1)
    return np.asarray(np.clip(after / max(float(before), 1e-9), 0.0, 1.0), float)


def stand_in(
    question: MaterialQuery,
    material: Material,
    score: float,
    terms: Mapping[str, float],
    dose: Dose,
    chosen: ReplacementDose,
    before: FormulaDrydown,
    rest: FormulaDrydown,
    less: Sequence[str],
) -> Suggestion:
    """Return a stand-in at its dose; `before` is the formula as it is, `rest` without the asked material."""
    palette, request, asked, wanted = question.palette, question.request, question.asked, question.wanted
    shown = tuple(wanted) or tuple(x.facet for x in asked.labels if x.strength == 3)
    near = palette.space.near_labels(material, wanted)
    after = rest.plus([(material, dose.first_try / 1000.0)])
    room = product_limits.headroom_for(palette, request, material, rest)
    known = product_limits.labels_of(palette, before.concentrate)
    return assembled(
        asked,
        material,
        shown,
        near,
        score=score,
        terms=terms,
        brings=explanation.brings(asked, material, tuple(wanted)),
        reasons=(
            *explanation.reasons(
                palette.catalogue, palette.graph, asked, material, tuple(wanted), near, terms
            ),
            *explanation.less_of(asked, material, less),
            *drawbacks.drawback_reasons(question, material),
            chosen,
            *product_limits.reasons(palette, request, room, dose.first_try, material, known),
        ),
        dose=dose,
        effect={
            name: {facet: end_figures(found.get(facet)) for facet in (*less, *shown)}
            for name, found in (("before", before.ends), ("after", after.ends_of((*less, *shown))))
        },
    )


def blend(asked: Material, size: int, request: Request, palette: Palette) -> Findings:
    """Find two or three materials that together replace one, with their shares and what is still missing.

    All combinations of the forty best stand-ins are solved at once: non-negative shares of their label
    profiles that come nearest to that of the asked material.

    Raises
    ------
    UnknownFacet, BadValue
    """
    if size not in (2, 3):
        raise BadValue("blend", size, "it is 2 or 3")
    question = read("replace", asked, request, palette)
    rows, terms, _, order = ranked(question)
    if len(rows) < size:
        return Findings(query_of(question), question.asked.name, (), question.notes)
    # the parts of a natural share its drawbacks by nature; each is reported, none counts against the blend
    smell = {name: values for name, values in terms.items() if name != "untroubled"}
    alone = scoring.score(smell, "replace", request.because)
    order = sorted(order, key=lambda i: -alone[i])
    single = {rows[i]: float(alone[i]) for i in order}
    pool = _pool(question, [rows[i] for i in order])
    if len(pool) < size:
        return Findings(query_of(question), question.asked.name, (), question.notes)
    target, profiles = palette.space.profiles([question.row])[0], palette.space.profiles(pool)
    teams = np.array(list(itertools.combinations(range(len(pool)), size)), np.intp)
    shares, fit = solve_shares(profiles, target, teams)
    full = (shares >= LEAST_SHARE).all(axis=1)
    if request.colourless:
        full &= np.array([not condense_among(palette.materials([pool[i] for i in team])) for team in teams])
    means = np.array([single[row] for row in pool])[teams]
    value = np.where(full, fit**3 * np.exp((shares * np.log(means)).sum(axis=1)) ** 0.5, 0.0)
    last = np.array(hard_to_get(palette.materials(pool), request))[teams].any(axis=1)
    shown: list[Suggestion] = []
    used: dict[int, int] = {}
    for place in np.lexsort((-value, last, value <= 0)):
        team = [pool[i] for i in teams[place]]
        if value[place] <= 0 or len(shown) >= request.top:
            break
        if any(used.get(row, 0) >= max(2, request.top // 2) for row in team):
            continue
        for row in team:
            used[row] = used.get(row, 0) + 1
        shown.append(_blended(question, team, shares[place], float(fit[place]), float(value[place])))
    return Findings(query_of(question), question.asked.name, tuple(shown), question.notes)


def _pool(question: MaterialQuery, ordered: list[int]) -> list[int]:
    """Return the rows to combine: the best stand-ins and, for each leading facet, its best carriers."""
    space, asked = question.palette.space, question.asked
    chosen = dict.fromkeys(ordered[: CANDIDATES // 2])
    for label in sorted(asked.labels, key=lambda x: -x.strength):
        column = space.facets.index(label.facet)
        carriers = sorted(ordered, key=lambda row: (-space.weights[row, column], ordered.index(row)))
        chosen.update(dict.fromkeys(carriers[:4]))
    return list(chosen)[:CANDIDATES]


def solve_shares(profiles: Array, target: Array, teams: npt.NDArray[np.intp]) -> tuple[Array, Array]:
    """Return non-negative shares (teams, size) that come nearest to a target, and the cosine they reach.

    A batched least-squares solve; negative shares are cut to zero and the rest solved again.
    """
    members = profiles[teams]
    gram = members @ members.transpose(0, 2, 1)
    right = members @ target
    size = teams.shape[1]
    shares = np.linalg.solve(gram + 1e-6 * np.eye(size), right[:, :, None])[:, :, 0]
    for _ in range(size):
        negative = shares < 0
        if not negative.any():
            break
        positive = ~negative
        masked = (
            gram * positive[:, :, None] * positive[:, None, :] + np.eye(size) * (1.0 * negative)[:, None, :]
        )
        solved = np.linalg.solve(masked + 1e-6 * np.eye(size), (right * positive)[:, :, None])[:, :, 0]
        shares = np.where(negative, 0.0, solved)
    shares = np.maximum(shares, 0.0)
    mixed = np.einsum("ts,tsf->tf", shares, members)
    fit = mixed @ target / np.maximum(np.linalg.norm(mixed, axis=1), 1e-12)
    return shares / np.maximum(shares.sum(axis=1, keepdims=True), 1e-12), np.clip(fit, 0.0, 1.0)


def _blended(question: MaterialQuery, rows: list[int], shares: Array, fit: float, value: float) -> Suggestion:
    palette, asked = question.palette, question.asked
    materials = palette.materials(rows)
    order = np.argsort(-shares, kind="stable")
    members = tuple((materials[i], float(shares[i])) for i in order)
    mixed = shares @ palette.space.weights[rows] / shares.max()
    shown = dict(zip(palette.space.facets, mixed, strict=True))
    missing = [
        label.facet
        for label in asked.labels
        if label.weight >= MISSING_FROM and shown[label.facet] < MISSING_BELOW
    ]
    brought = {
        label.facet: label
        for material, _ in reversed(members)
        for label in explanation.brings(asked, material, ())
    }
    lead = members[0][0]
    terms = {
        "profile": fit,
        "likeness": float(np.clip(_likeness(question, mixed), 0.0, 1.0)),
        "evidence": float(np.mean([m.label_basis != "memory" for m, _ in members]) * 0.3 + 0.7),
    }
    profile = BlendProfile({m.name: s for m, s in members}, fit, tuple(missing), basis="estimated")
    return assembled(
        asked,
        lead,
        tuple(question.wanted),
        {},
        score=value,
        terms=terms,
        brings=_noticed(brought.values(), mixed, palette),
        reasons=(profile, *_member_reasons(question, [m for m, _ in members])),
        members=members,
    )


def _member_reasons(question: MaterialQuery, members: Iterable[Material]) -> list[Reason]:
    """Return for each member of a blend how it is related to the asked material, and which limits apply."""
    palette, request, asked = question.palette, question.request, question.asked
    known = product_limits.labels_of(palette, [Amount(asked, 1.0)])
    found: list[Reason] = []
    for material in members:
        room = product_limits.headroom_for(palette, request, material)
        found += explanation.relations(palette.catalogue, palette.graph, asked, material)
        found += product_limits.reasons(palette, request, room, None, material, known)
    return found


def _noticed(labels: Iterable[Label], mixed: Array, palette: Palette) -> list[Label]:
    """Return labels with the strength that they have in the blend, those too weak to notice left out."""
    weight = dict(zip(palette.space.facets, mixed, strict=True))
    reached = [(label, explanation.strength_in_mixture(weight[label.facet])) for label in labels]
    return [replace(label, strength=strength) for label, strength in reached if strength]


def _likeness(question: MaterialQuery, mixed: Array) -> float:
    space = question.palette.space
    return float(space.alike(space.vectors[question.row], space.place(mixed)))
