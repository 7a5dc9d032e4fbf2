"""Suggestions for a formula: every candidate is simulated in it at the dose that suits it best."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from recommender import dosing, explanation, ranking
from recommender.bench import Bench, Table, end_figures, shipped
from recommender.drydown import Array
from recommender.drydown.mixture import Film
from recommender.errors import BadValue
from recommender.model import Amount, Dose, Findings, Material, Reason, Suggestion
from recommender.safety import offered
from recommender.suggest.question import CLEAR_LABEL, DEFAULT_UNTIL_HOURS, LEAST_FACET, WINDOWS, Wish

CANDIDATES = 60
"""How many carriers of a facet are simulated."""
RELAY = 8
"""How many heart and base carriers are paired for a relay."""


@dataclass(frozen=True)
class Aim:
    """What a formula needs: facets with their share, in a window of hours; `leader` is who carried them."""

    facets: Mapping[str, float]
    window: tuple[float, float]
    leader: Material
    gap_hours: float | None
    notes: tuple[str, ...]


def extend(wish: Wish, bench: Bench | None = None, fading: str | None = None) -> Findings:
    """Find carriers for a dying facet of a formula; `wish.material` is the formula's file.

    Without `facet` the loudest facet that dies is kept; `fading` names the material that carried it.

    Raises
    ------
    BadTable, UnknownFacet, BadValue
    """
    table = Table.of(wish.material, bench or shipped())
    aim = _aim(wish, table, fading)
    rows = _carriers(wish, table, aim)
    if not rows:
        return _findings(wish, table, aim, (), "extend")
    trial = _tried(table, aim, rows)
    scores = ranking.score(trial.terms, "extend in formula")
    order = ranking.order(scores, [m.name for m in trial.materials])
    shown = [_suggestion(table, aim, trial, i, float(scores[i])) for i in order[: wish.top]]
    return _findings(wish, table, aim, tuple(shown), "extend")


def relay(wish: Wish, bench: Bench | None = None, fading: str | None = None) -> Findings:
    """Find a heart carrier and a base carrier that keep a facet together, with the hour of handing over.

    Raises
    ------
    BadTable, UnknownFacet, BadValue
    """
    table = Table.of(wish.material, bench or shipped())
    aim = _aim(wish, table, fading)
    start = min(aim.window[0], WINDOWS["heart"][0])
    heart = replace(aim, window=(start, WINDOWS["heart"][1]))
    base = replace(aim, window=WINDOWS["base"])
    rows = _carriers(wish, table, aim)
    if not rows:
        return _findings(wish, table, aim, (), "extend")
    in_heart, in_base = _tried(table, heart, rows), _tried(table, base, rows)
    first = _best(in_heart, RELAY, aim.leader)
    second = _best(in_base, RELAY, aim.leader)
    pairs = [(i, j) for i in first for j in second if i != j]
    pairs = [
        (i, j)
        for i, j in pairs
        if _hours(in_heart.materials[i]) < _hours(in_base.materials[j]) >= WINDOWS["base"][1] / 3
    ]
    scored = sorted((_pair(table, aim, in_heart, in_base, i, j) for i, j in pairs), key=lambda s: -s.score)
    return _findings(wish, table, aim, tuple(_distinct(scored)[: wish.top]), "extend")


def vary(wish: Wish, bench: Bench | None = None) -> Findings:
    """Find what moves a formula toward other words, with how much of its theme is kept.

    Raises
    ------
    BadTable, UnknownFacet, BadValue
    """
    table = Table.of(wish.material, bench or shipped())
    phrase = table.bench.phrase(wish.toward or "")
    loudest = max(table.amounts, key=lambda a: (a.material.strength or 0.0) * a.mass_fraction)
    notes = (*table.notes, *phrase.notes)
    aim = Aim(phrase.facets, (0.25, wish.until_hours or DEFAULT_UNTIL_HOURS), loudest.material, None, notes)
    rows = _carriers(wish, table, aim)
    if not rows:
        return _findings(wish, table, aim, (), "vary")
    trial = _tried(table, aim, rows)
    terms = {**trial.terms, "theme": np.clip(1.0 - trial.gain.change, 0.0, 1.0)}
    terms.pop("steady")
    trial = replace(trial, terms=terms)
    scores = ranking.score(terms, "vary in formula")
    head = ranking.order(scores, [m.name for m in trial.materials])[: 3 * wish.top]
    vectors = table.bench.space.vectors[rows]
    order = ranking.diverse(head, scores, np.clip(vectors @ vectors.T, 0.0, 1.0))
    shown = [_suggestion(table, aim, trial, i, float(scores[i])) for i in order[: wish.top]]
    return _findings(wish, table, aim, tuple(shown), "vary")


def _aim(wish: Wish, table: Table, fading: str | None) -> Aim:
    notes = list(table.notes)
    hour: float | None = None
    asked = table.bench.catalogue.find(fading) if fading else None
    if asked is not None:
        table.share_of(asked)
    told = [gap for gap in table.gaps if asked is None or asked.name in gap.carried_by]
    if wish.facet:
        phrase = table.bench.phrase(wish.facet)
        facets, notes = phrase.facets, [*notes, *phrase.notes]
        dying = [gap for gap in table.gaps if gap.facet in facets]
        hour = min((gap.hours for gap in dying), default=None)
    elif told:
        loudest = told[0]
        facets = {loudest.facet: 1.0}
        hour = loudest.hours
        notes.append(f"No facet was named; kept is the loudest that dies, {loudest.facet}.")
        others = [gap.facet for gap in told[1:6]]
        if others:
            notes.append(f"Also dying: {', '.join(others)}.")
    else:
        raise BadValue(
            "--facet", "", f"nothing in {table.formula.name} dies within a week; name a facet to keep"
        )
    start, end = WINDOWS.get(wish.into or "", (hour or 1.0, DEFAULT_UNTIL_HOURS))
    end = wish.until_hours or max(end, 1.5 * start)
    return Aim(facets, (min(start, end / 1.5), end), asked or _leader(table, facets), hour, tuple(notes))


def _leader(table: Table, facets: Mapping[str, float]) -> Material:
    """Return the material that carries the wanted facets at the start, else the loudest of all."""
    film, first = table.film, table.film.intensities(table.film.left([1 / 60]))[0]
    columns = [film.facets.index(facet) for facet in facets]
    shown = first * film.weights[:, columns].max(axis=1)
    place = int((shown if shown.max() > 0 else first).argmax())
    amount: Amount = film.amounts[int(film.owner[place])]
    return amount.material


def _carriers(wish: Wish, table: Table, aim: Aim) -> list[int]:
    """Return the rows of the best carriers that may be offered and are not in the formula."""
    bench, present = table.bench, table.slugs()
    materials = bench.catalogue.materials
    carried = bench.space.carries(aim.facets)
    allowed = offered(materials, bench.catalogue.limits, wish.market) & (carried >= LEAST_FACET)
    avoided = bench.phrase(wish.avoid).facets if wish.avoid else {}
    allowed &= np.array(
        [
            m.slug not in present
            and m.curve is not None
            and (not wish.kind or m.kind == wish.kind)
            and all(m.strength_of(facet) < CLEAR_LABEL for facet in avoided)
            for m in materials
        ]
    )
    if aim.gap_hours is not None:
        allowed &= bench.hours(range(len(materials))) >= aim.gap_hours
    scored = np.where(allowed, carried, -1.0)
    return [int(row) for row in np.argsort(-scored, kind="stable")[:CANDIDATES] if scored[row] > 0]


@dataclass(frozen=True)
class Tried:
    """Candidates simulated in a formula."""

    materials: tuple[Material, ...]
    films: tuple[Film, ...]
    gain: dosing.Gain
    terms: Mapping[str, Array]


def _tried(table: Table, aim: Aim, rows: Sequence[int]) -> Tried:
    bench = table.bench
    materials = bench.materials(rows)
    films = table.alone(materials)
    gain = dosing.best_doses(table.film, films, aim.facets, aim.window)
    likeness = bench.space.vectors[list(rows)] @ table.smell
    kinship = bench.graph.kinship(bench.catalogue.index[aim.leader.slug])[list(rows)]
    terms = {
        "facet": bench.space.carries(aim.facets)[list(rows)],
        "presence": gain.after,
        "steady": 1.0 / (1.0 + 2.0 * gain.change),
        "likeness": np.clip((likeness + 0.2) / 1.2, 0.0, 1.0),
        "kinship": kinship,
        "evidence": np.array([1.0 if m.label_basis != "memory" else _held(m, aim) for m in materials]),
    }
    return Tried(tuple(materials), tuple(films), gain, terms)


def _held(material: Material, aim: Aim) -> float:
    named = [label for label in material.labels if label.facet in aim.facets] or list(material.labels)
    return 0.7 + 0.3 * sum(label.basis != "memory" for label in named) / len(named)


def _hours(material: Material) -> float:
    return material.lasting.hours if material.lasting else 0.0


def _best(trial: Tried, count: int, leader: Material) -> list[int]:
    scores = ranking.score(trial.terms, "extend in formula")
    return ranking.order(scores, [m.name for m in trial.materials])[:count]


def _dose(gain: dosing.Gain, place: int) -> Dose:
    return dosing.ladder(1000.0 * float(gain.share[place]), 1000.0 * float(gain.stands_out[place]))


def _suggestion(table: Table, aim: Aim, trial: Tried, place: int, score: float) -> Suggestion:
    material, dose = trial.materials[place], _dose(trial.gain, place)
    after = table.plus([(material, dose.high / 1000.0)])
    terms = {name: float(values[place]) for name, values in trial.terms.items()}
    told = (
        *_reasons(table, aim, material, terms),
        Reason(
            "in the formula",
            {
                "facets": list(aim.facets),
                "before": trial.gain.before,
                "after": float(trial.gain.after[place]),
                "change": float(trial.gain.change[place]),
                "parts": dose.high,
                "from_hours": aim.window[0],
                "until_hours": aim.window[1],
            },
            "estimated",
        ),
    )
    return _built(table, aim, material, score, terms, told, dose, _effect(table, after, aim), ())


def _reasons(table: Table, aim: Aim, material: Material, terms: Mapping[str, float]) -> tuple[Reason, ...]:
    bench = table.bench
    near = explanation.near_facets(bench.space, material, aim.facets)
    return explanation.reasons(
        bench.catalogue, bench.graph, aim.leader, material, tuple(aim.facets), near, terms
    )


def _built(
    table: Table,
    aim: Aim,
    material: Material,
    score: float,
    terms: Mapping[str, float],
    told: tuple[Reason, ...],
    dose: Dose | None,
    effect: Mapping[str, Mapping[str, object]],
    members: tuple[tuple[Material, float], ...],
) -> Suggestion:
    wanted = tuple(aim.facets)
    near = explanation.near_facets(table.bench.space, material, aim.facets)
    known = {
        label.facet for amount in table.amounts for label in amount.material.labels if label.strength > 1
    }
    carriers = [m for m, _ in members] or [material]
    brought = {
        label.facet: label
        for m in reversed(carriers)
        for label in explanation.brings(aim.leader, m, wanted)
        if label.facet not in known or label.strength == 3
    }
    return Suggestion(
        material=material,
        facet=explanation.answering_facet(aim.leader, material, wanted, near),
        score=score,
        terms=terms,
        lasting=material.lasting,
        strength=material.strength,
        brings=tuple(sorted(brought.values(), key=lambda label: -label.strength)),
        reasons=told,
        cautions=tuple(dict.fromkeys(c.text for m in carriers for c in m.cautions)),
        dose=dose,
        effect=effect,
        members=members,
    )


def _effect(before: Table, after: Table, aim: Aim) -> dict[str, Mapping[str, object]]:
    """Return the ends of the wanted facets before and after, each as the longest-lived of them."""
    return {
        name: {facet: end_figures(table.ends.get(facet)) for facet in aim.facets}
        for name, table in (("before", before), ("after", after))
    }


def _pair(table: Table, aim: Aim, heart: Tried, base: Tried, i: int, j: int) -> Suggestion:
    """Return a relay: both carriers at the upper rung of their own ladders, simulated together."""
    one, other = heart.materials[i], base.materials[j]
    doses = _dose(heart.gain, i), _dose(base.gain, j)
    members = [(one, doses[0].high / 1000.0), (other, doses[1].high / 1000.0)]
    together = table.plus(members)
    columns = [together.film.facets.index(facet) for facet in aim.facets]
    window = (min(aim.window[0], 1.0), WINDOWS["base"][1])
    found = {}
    for name, course in (("before", table.course), ("after", together.course)):
        found[name] = dosing.soft_presence(course.hours[None], course.facets[None], *window)[0]
    others = np.setdiff1d(np.arange(len(together.film.facets)), columns)
    moved = float(
        np.abs(found["after"] - found["before"])[others].sum() / max(found["before"][others].sum(), 1e-9)
    )
    handover = _handover(together, aim, one, other)
    terms = {
        "facet": float(np.sqrt(heart.terms["facet"][i] * base.terms["facet"][j])),
        "presence": float(found["after"][columns].max()),
        "steady": 1.0 / (1.0 + 2.0 * moved),
        "likeness": float(np.sqrt(heart.terms["likeness"][i] * base.terms["likeness"][j])),
        "kinship": float(np.sqrt(max(heart.terms["kinship"][i], 1e-4) * max(base.terms["kinship"][j], 1e-4))),
        "evidence": float(min(heart.terms["evidence"][i], base.terms["evidence"][j])),
    }
    score = float(ranking.score({name: np.array([v]) for name, v in terms.items()}, "extend in formula")[0])
    total = sum(share for _, share in members)
    dose = Dose(
        sum(d.first_try for d in doses),
        sum(d.low for d in doses),
        sum(d.high for d in doses),
        min((d.dilution_percent for d in doses if d.dilution_percent), default=None),
    )
    told = (
        Reason(
            "relay",
            {
                "heart": one.name,
                "heart_parts": doses[0].first_try,
                "base": other.name,
                "base_parts": doses[1].first_try,
                "handover_hours": handover,
            },
            "estimated",
        ),
        *_reasons(table, aim, other, terms),
    )
    shares = tuple((material, share / total) for material, share in members)
    return _built(table, aim, other, score, terms, told, dose, _effect(table, together, aim), shares)


def _handover(table: Table, aim: Aim, one: Material, other: Material) -> float | None:
    """Return the hour from which the base carrier tells the facets more strongly than the heart carrier."""
    film, hours = table.film, table.course.hours
    columns = [film.facets.index(facet) for facet in aim.facets]
    heard = film.intensities(film.left(hours)) * film.weights[:, columns].max(axis=1)
    lines = []
    for material in (one, other):
        place = next(i for i, a in enumerate(film.amounts) if a.material.slug == material.slug)
        lines.append(heard[:, film.owner == place].max(axis=1))
    later = np.flatnonzero((lines[1] > lines[0]) & (hours > 0.1))
    return float(hours[later[0]]) if len(later) else None


def _distinct(found: Sequence[Suggestion]) -> list[Suggestion]:
    """Keep relays of which each material stands in at most two, so that the list is worth reading."""
    seen: dict[str, int] = {}
    kept = []
    for suggestion in found:
        names = [material.slug for material, _ in suggestion.members]
        if all(seen.get(name, 0) < 2 for name in names):
            kept.append(suggestion)
            for name in names:
                seen[name] = seen.get(name, 0) + 1
    return kept


def _findings(wish: Wish, table: Table, aim: Aim, shown: tuple[Suggestion, ...], verb: str) -> Findings:
    query: dict[str, object] = {
        "verb": verb,
        "formula": table.formula.name,
        "material": aim.leader.name,
        "cas": aim.leader.cas or None,
        "facets": list(aim.facets),
        "into": wish.into,
        "from_hours": aim.window[0],
        "until_hours": aim.window[1],
        "market": wish.market,
        "top": wish.top,
        "lasting": None,
        "strength": aim.leader.strength,
        "before": {facet: end_figures(table.ends.get(facet)) for facet in aim.facets},
    }
    return Findings(query, aim.leader.name, shown, aim.notes)
