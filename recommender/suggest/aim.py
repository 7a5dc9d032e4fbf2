"""What a formula needs, who could carry it, and what each carrier would do in it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from recommender import dosing
from recommender.bench import CLEAR_LABEL, Table
from recommender.drydown import Array
from recommender.errors import BadValue
from recommender.model import Amount, Material
from recommender.phrases import texts
from recommender.suggest.bottles import open_to
from recommender.suggest.question import (
    DEFAULT_UNTIL_HOURS,
    LEAST_FACET,
    WINDOWS,
    Wish,
    check,
    may_be_offered,
    smells,
)
from recommender.suggest.terms import alike, evidence
from recommender.suggest.worn import LEAST_PARTS, barred, most_parts

CANDIDATES = 60
"""How many carriers of a facet are simulated."""
LONGEST_H = 504.0
"""Hours for which candidates are simulated in a formula."""
LEAST_GAIN = 0.005
"""A carrier that wins less presence of the wanted facet than this wins nothing."""


@dataclass(frozen=True)
class Aim:
    """What a formula needs: facets with their share, in a window of hours; `leader` is who carried them.

    `avoided` facets must not be brought along.
    """

    facets: Mapping[str, float]
    window: tuple[float, float]
    leader: Material
    gap_hours: float | None
    notes: tuple[str, ...]
    avoided: tuple[str, ...] = ()


@dataclass(frozen=True)
class Tried:
    """Candidates simulated in a formula."""

    materials: tuple[Material, ...]
    facets: tuple[str, ...]
    gain: dosing.Gain
    terms: Mapping[str, Array]


NOTHING_TRIED = Tried((), (), dosing.Gain(np.zeros(0), 0.0, np.zeros(0), np.zeros(0), np.zeros(0)), {})


def aim_of(wish: Wish, table: Table, fading: str | None) -> Aim:
    """Return which facets a formula needs, and when: the named ones, else the one that is missed most."""
    notes = checked_notes(wish, table)
    named = smells("extend", replace(wish, facet=None) if wish.gap else wish, table.bench)
    notes += named.notes
    hour: float | None = None
    asked = table.bench.catalogue.find(fading) if fading else None
    if asked is not None:
        table.share_of(asked)
    told = [gap for gap in table.gaps if asked is None or asked.name in gap.carried_by]
    if wish.gap or named.wanted:
        facets: Mapping[str, float] = {wish.gap: 1.0} if wish.gap else named.wanted
        dying = [gap for gap in table.gaps if gap.facet in facets]
        hour = min((gap.hours for gap in dying), default=None)
    elif told:
        loudest = told[0]
        facets = {loudest.facet: 1.0}
        hour = loudest.hours
        notes.append(f"No facet was named; kept is what is missed most, {loudest.facet}.")
        others = [gap.facet for gap in told[1:6]]
        if others:
            notes.append(f"Also dying: {', '.join(others)}.")
    else:
        what = f"that {asked.name} carried " if asked else ""
        problem = f"nothing {what}in {table.formula.name} dies within a week; name a facet to keep"
        raise BadValue("--facet", "", problem)
    if wish.until_hours and wish.until_hours > LONGEST_H:
        raise BadValue(
            "--until", f"{wish.until_hours:.3g} h", "a formula is followed for three weeks at most"
        )
    if wish.until_hours and hour and wish.until_hours <= hour:
        still = f"the facet is there until {hour:.3g} h as it is; ask for a later hour"
        raise BadValue("--until", f"{wish.until_hours:.3g} h", still)
    start, end = WINDOWS.get(wish.into or "", (hour or 1.0, DEFAULT_UNTIL_HOURS))
    end = wish.until_hours or max(end, 1.5 * start)
    leader = asked or _leader(table, facets)
    return Aim(facets, (min(start, end / 1.5), end), leader, hour, tuple(notes), named.refused)


def checked_notes(wish: Wish, table: Table) -> list[str]:
    """Return what is to be said of formula and options before an answer; raises `BadValue` as `check`."""
    check(wish)
    notes = list(table.notes)
    for name in texts(wish.why_not):
        told = barred(table.bench.catalogue.find(name), table.bench, wish)
        notes += told or ["--why-not is answered for a single material: ask without the formula."]
    return notes


def _leader(table: Table, facets: Mapping[str, float]) -> Material:
    """Return the material that carries the wanted facets at the start, else the loudest of all."""
    film, first = table.film, table.film.intensities(table.film.left([1 / 60]))[0]
    columns = [film.facets.index(facet) for facet in facets]
    shown = first * film.weights[:, columns].max(axis=1)
    place = int((shown if shown.max() > 0 else first).argmax())
    amount: Amount = film.amounts[int(film.owner[place])]
    return amount.material


def carriers(wish: Wish, table: Table, aim: Aim) -> list[int]:
    """Return the rows of the best carriers that may be offered and are not in the formula."""
    bench, present = table.bench, table.slugs()
    materials = bench.catalogue.materials
    carried = bench.space.carries(aim.facets)
    allowed = may_be_offered(bench, wish) & (carried >= LEAST_FACET)
    allowed &= open_to(wish, bench, aim.facets)
    allowed &= np.array(
        [
            m.slug not in present
            and m.curve is not None
            and (not wish.kind or m.kind == wish.kind)
            and all(m.strength_of(facet) < CLEAR_LABEL for facet in aim.avoided)
            for m in materials
        ]
    )
    if aim.gap_hours is not None:
        # half of it: what is gone before the gap scores low by itself, and no label decides who is looked at
        allowed &= bench.hours(range(len(materials))) >= 0.5 * aim.gap_hours
    scored = np.where(allowed, carried, -1.0)
    found = [int(row) for row in np.argsort(-scored, kind="stable")[:CANDIDATES] if scored[row] > 0]
    rooms = most_parts(bench, wish, bench.materials(found), table.concentrate)
    return [row for row, parts in zip(found, rooms, strict=True) if parts >= LEAST_PARTS]


def won(before: float, after: float) -> float:
    """Return how much of the presence that was missing a carrier wins, 0-1."""
    return max(after - before, 0.0) / max(1.0 - before, 1e-9)


def tried(wish: Wish, table: Table, aim: Aim, rows: Sequence[int]) -> Tried:
    """Simulate candidates in the formula, each at its best dose under the limits.

    Those that win nothing are left out.
    """
    bench = table.bench
    materials = bench.materials(rows)
    films = table.alone(materials)
    if not films:
        return NOTHING_TRIED
    most = most_parts(bench, wish, materials, table.concentrate) / 1000.0
    gain = dosing.best_doses(table.film, films, aim.facets, aim.window, most)
    wins = [int(i) for i in np.flatnonzero(gain.after - gain.before >= LEAST_GAIN)]
    rows, materials = [rows[i] for i in wins], [materials[i] for i in wins]
    gain = gain.picked(np.array(wins, np.intp))
    likeness = bench.space.alike(bench.space.vectors[list(rows)], table.smell)
    kinship = bench.graph.kinship(bench.catalogue.index[aim.leader.slug])[list(rows)]
    terms = {
        "facet": bench.space.carries(aim.facets)[list(rows)],
        "presence": np.array([won(gain.before, float(after)) for after in gain.after]),
        "steady": 1.0 / (1.0 + 2.0 * gain.change),
        "likeness": alike(likeness),
        "kinship": kinship,
        "evidence": np.array([evidence(m, aim.facets) for m in materials]),
    }
    return Tried(tuple(materials), tuple(aim.facets), gain, terms)
