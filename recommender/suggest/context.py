"""Suggestions for a formula: every candidate is simulated in it at the dose that suits it best."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from recommender import dosing, explanation, ranking
from recommender.bench import Bench, Table, end_figures, shipped
from recommender.errors import BadValue
from recommender.model import Dose, Findings, Material, Reason, Suggestion
from recommender.phrases import texts
from recommender.safety import Room
from recommender.strength import soft
from recommender.suggest import worn
from recommender.suggest.aim import LEAST_GAIN, Aim, Tried, aim_of, carriers, checked_notes, tried
from recommender.suggest.question import DEFAULT_UNTIL_HOURS, Smells, Wish, smells
from recommender.suggest.swap import replace_in

LESSENED_UNTIL_H = 72.0
"""Hours over which the material is looked for that carries most of what is refused."""


def extend(wish: Wish, bench: Bench | None = None, *, formula: str | None = None) -> Findings:
    """Find carriers for a dying facet of a formula: the file `wish.material`, or `formula` in which it fades.

    Without `facet` the dying facet that is missed most is kept.

    Raises
    ------
    BadTable, UnknownFacet, BadValue
    """
    table = Table.of(formula or wish.material, bench or shipped(), wish.market)
    aim = aim_of(wish, table, wish.material if formula else None)
    return findings(wish, table, aim, carried(wish, table, aim), "extend")


def carried(wish: Wish, table: Table, aim: Aim) -> tuple[Suggestion, ...]:
    """Return the carriers of what a formula needs, the best first."""
    trial = tried(wish, table, aim, carriers(wish, table, aim))
    if not trial.materials:
        return ()
    scores = ranking.score(trial.terms, "extend in formula")
    order = ranking.order(scores, [m.name for m in trial.materials])
    return tuple(_suggestion(wish, table, aim, trial, i, float(scores[i])) for i in order[: wish.top])


def vary(wish: Wish, bench: Bench | None = None) -> Findings:
    """Find what moves a formula toward other words, with how much of its theme is kept.

    Where the words only refuse ("less sweet"), what can stand for the material that carries most of that.

    Raises
    ------
    BadTable, UnknownFacet, BadValue
    """
    table = Table.of(wish.material, bench or shipped(), wish.market)
    found = smells("vary", wish, table.bench)
    notes = (*checked_notes(wish, table), *found.notes)
    if not found.wanted:
        return _lessened(wish, table, found, notes)
    loudest = max(table.amounts, key=lambda a: (a.material.strength or 0.0) * a.mass_fraction)
    window = (0.25, wish.until_hours or DEFAULT_UNTIL_HOURS)
    aim = Aim(found.wanted, window, loudest.material, None, notes, found.refused)
    trial = tried(wish, table, aim, carriers(wish, table, aim))
    if not trial.materials:
        return findings(wish, table, aim, (), "vary")
    terms = {**trial.terms, "theme": np.clip(1.0 - trial.gain.change, 0.0, 1.0)}
    terms.pop("steady")
    trial = replace(trial, terms=terms)
    scores = ranking.score(terms, "vary in formula")
    head = ranking.order(scores, [m.name for m in trial.materials])[: 3 * wish.top]
    places = [table.bench.catalogue.index[m.slug] for m in trial.materials]
    vectors = table.bench.space.vectors[places]
    order = ranking.diverse(head, scores, np.clip(table.bench.space.alike(vectors, vectors), 0.0, 1.0))
    built_up = [(_suggestion(wish, table, aim, trial, i, float(scores[i])), i) for i in order[: wish.top]]
    shown = [_moved(suggestion, trial, i) for suggestion, i in built_up]
    return findings(wish, table, aim, tuple(shown), "vary")


def _lessened(wish: Wish, table: Table, found: Smells, notes: tuple[str, ...]) -> Findings:
    """Return what can stand for the material that carries most of the refused facets over three days."""
    film, hours = table.film, table.course.hours
    columns = [film.facets.index(facet) for facet in found.less]
    hours = hours[hours <= LESSENED_UNTIL_H]
    heard = film.intensities(film.left(hours)) * film.weights[:, columns].max(axis=1)
    carried = soft(heard).mean(axis=0)
    place = int(carried.argmax())
    smelled, name = ", ".join(found.less), table.formula.name
    if carried[place] < LEAST_GAIN:
        raise BadValue("--toward", ", ".join(texts(wish.toward)), f"nothing in {name} smells of {smelled}")
    leader = film.amounts[int(film.owner[place])].material
    less = replace(wish, material=leader.name, toward=None, facet=wish.toward)
    swapped = replace_in(less, wish.material, table.bench, found.less)
    told = f"{leader.name} carries most of the {smelled} in {name}; what is proposed stands in its place."
    return replace(swapped, notes=tuple(dict.fromkeys((*notes, told, *swapped.notes))))


def _moved(suggestion: Suggestion, trial: Tried, place: int) -> Suggestion:
    """Return a suggestion whose effect is how far it moves the formula and how much of the theme it keeps."""
    facets = sorted(set(trial.facets))
    before: dict[str, object] = {"facets": facets, "presence": trial.gain.before, "theme_kept": 1.0}
    after: dict[str, object] = {
        "facets": facets,
        "presence": float(trial.gain.after[place]),
        "theme_kept": float(trial.terms["theme"][place]),
    }
    return replace(suggestion, effect={"before": before, "after": after})


def dose_of(gain: dosing.Gain, place: int, room: Room) -> Dose:
    """Return the ladder below the best dose of one candidate, under what limits leave."""
    best, most = 1000.0 * float(gain.share[place]), 1000.0 * float(gain.stands_out[place])
    return dosing.ladder(best, most, 1000.0 if room.parts is None else room.parts)


def _suggestion(wish: Wish, table: Table, aim: Aim, trial: Tried, place: int, score: float) -> Suggestion:
    material = trial.materials[place]
    room = worn.room_for(table.bench, wish, material, table.concentrate)
    dose = dose_of(trial.gain, place, room)
    after = table.plus([(material, dose.first_try / 1000.0)])
    terms = {name: float(values[place]) for name, values in trial.terms.items()}
    told = (
        *reasons_for(table, aim, material, terms),
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
        *worn.reasons(wish, room, dose.first_try, material),
    )
    return built(table, aim, material, score, terms, told, dose, effect_of(table, after, aim), ())


def reasons_for(table: Table, aim: Aim, material: Material, terms: Mapping[str, float]) -> tuple[Reason, ...]:
    """Return the reasons for one carrier, told against the material that carried the facet."""
    bench = table.bench
    near = explanation.near_facets(bench.space, material, aim.facets)
    return explanation.reasons(
        bench.catalogue, bench.graph, aim.leader, material, tuple(aim.facets), near, terms
    )


def built(
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
    """Put a suggestion together; what the formula itself clearly shows is not said to be brought along."""
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


def effect_of(before: Table, after: Table, aim: Aim) -> dict[str, Mapping[str, object]]:
    """Return the ends of the wanted facets before and after, facet by facet."""
    return {
        name: {facet: end_figures(table.ends.get(facet)) for facet in aim.facets}
        for name, table in (("before", before), ("after", after))
    }


def findings(wish: Wish, table: Table, aim: Aim, shown: tuple[Suggestion, ...], verb: str) -> Findings:
    """Return the findings with the query as it was understood."""
    query: dict[str, object] = {
        "verb": verb,
        "formula": table.formula.name,
        "material": aim.leader.name,
        "cas": aim.leader.cas or None,
        "facets": list(aim.facets),
        "refused": list(aim.avoided),
        "into": wish.into,
        "from_hours": aim.window[0],
        "until_hours": aim.window[1],
        "market": wish.market,
        "dosage": wish.dosage_percent,
        "category": wish.category.upper(),
        "top": wish.top,
        "lasting": None,
        "strength": None if verb == "vary" else aim.leader.strength,
        "likeness": table.bench.space.rests_on,
        "before": {} if verb == "vary" else {f: end_figures(table.ends.get(f)) for f in aim.facets},
    }
    return Findings(query, aim.leader.name, shown, aim.notes)
