"""What a formula needs, which materials could carry it, and what each would do in it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np

from recommender.chemistry.odour_strength import soft
from recommender.errors import BadValue
from recommender.evaporation import Array
from recommender.formulas import simulation
from recommender.formulas.drydown import FormulaDrydown
from recommender.formulas.theme import amount_shares
from recommender.model import CLEAR_LABEL, Amount, Findings, Material
from recommender.progress import Progress, part, parts
from recommender.similarity.odour_space import ranked_likeness
from recommender.suggest import availability
from recommender.suggest.eligibility import Eligibility
from recommender.suggest.product_limits import fitting, most_parts
from recommender.suggest.request import DEFAULT_UNTIL_HOURS, WINDOWS, Request, check, smells
from recommender.suggest.terms import evidence
from recommender.units import duration

CANDIDATES = 60
"""How many carriers of a facet are simulated."""
LONGEST_H = 504.0
"""Hours for which candidates are simulated in a formula."""
FIRST_SHARE = 0.9
"""Share of the work that is shown for the facet that is missed most: others are seldom asked for."""
LEAST_GAIN = 0.02
"""A carrier that wins less presence of the wanted facet than this wins nothing."""


@dataclass(frozen=True)
class FormulaTarget:
    """What a formula needs: facets with their share, in a window of hours.

    `leader` is the material that carried them; `avoided` facets must not be brought along; `others` are
    further gaps where the facet was not named.
    """

    facets: Mapping[str, float]
    window: tuple[float, float]
    leader: Material
    gap_hours: float | None
    notes: tuple[str, ...]
    avoided: tuple[str, ...] = ()
    others: tuple[str, ...] = ()


@dataclass(frozen=True)
class SimulatedCandidates:
    """Candidates simulated in a formula; `theme_left` (candidates,) is what each leaves of its theme, 0-1."""

    materials: tuple[Material, ...]
    facets: tuple[str, ...]
    gain: simulation.Gain
    terms: Mapping[str, Array]
    theme_left: Array


NO_CANDIDATES = SimulatedCandidates(
    (), (), simulation.Gain(np.zeros(0), 0.0, np.zeros(0), np.zeros(0), np.zeros(0)), {}, np.ones(0)
)


def target_of(request: Request, table: FormulaDrydown, fading: Material | None) -> FormulaTarget:
    """Return which facets a formula needs, and when: the named ones, else the one that is missed most.

    A facet of the theme is missed before any other, except where it dies only after the base and the hour
    that is asked for.
    """
    notes = checked_notes(request, table)
    named = smells("extend", replace(request, facet=None) if request.gap else request, table.palette)
    notes += named.notes
    hour: float | None = None
    others: list[str] = []
    asked = fading
    if asked is not None:
        table.share_of(asked)
    missed = [gap for gap in table.gaps if asked is None or asked.name in gap.carried_by]
    late_hours = max(WINDOWS["base"][1], request.until_hours or 0.0)
    open_gaps = sorted(missed, key=lambda gap: gap.hours > late_hours)
    if request.gap or named.wanted:
        facets: Mapping[str, float] = {request.gap: 1.0} if request.gap else named.wanted
        fading_out = [gap for gap in table.gaps if gap.facet in facets]
        hour = min((gap.hours for gap in fading_out), default=None)
        notes += [_lasts(table, facet) for facet in facets if hour is None and _stays(table, facet)]
    elif open_gaps:
        loudest = open_gaps[0]
        facets = {loudest.facet: 1.0}
        hour = loudest.hours
        most = "the one of the theme that is missed most" if loudest.of_theme else "the one missed most"
        most += "" if loudest is missed[0] else f" of those that die within {duration(late_hours)}"
        notes.append(f"No facet was named; {most} is taken, {loudest.facet}.")
        others = [gap.facet for gap in open_gaps[1:6]]
        if others:
            notes.append(f"Also fading: {', '.join(others)}.")
    else:
        what = f"that {asked.name} carried " if asked else ""
        problem = f"nothing {what}in {table.formula.name} fades within a week; name a facet to keep"
        raise BadValue("facet", "", problem)
    if request.until_hours and request.until_hours > LONGEST_H:
        raise BadValue(
            "until_hours", f"{request.until_hours:.3g} h", "a formula is followed for three weeks at most"
        )
    if request.until_hours and hour and request.until_hours <= hour:
        still = f"the facet already lasts until {hour:.3g} h; ask for a later hour"
        raise BadValue("until_hours", f"{request.until_hours:.3g} h", still)
    start, end = WINDOWS.get(request.into or "", (hour or 1.0, DEFAULT_UNTIL_HOURS))
    end = request.until_hours or max(end, 1.5 * start)
    leader = asked or _leader(table, facets)
    return FormulaTarget(
        facets, (min(start, end / 1.5), end), leader, hour, tuple(notes), named.refused, tuple(others)
    )


def first_answered(
    request: Request,
    table: FormulaDrydown,
    fading: Material | None,
    answer: Callable[[FormulaTarget, Progress | None], Findings],
    progress: Progress | None = None,
) -> tuple[FormulaTarget, Findings]:
    """Return the answer for what a formula needs; where it was not named and has no carrier, the next gap.

    Raises
    ------
    UnknownFacet, BadValue
        As `target_of`.
    """
    target = target_of(request, table, fading)
    found = first = target, answer(target, part(progress, 0.0, FIRST_SHARE))
    following_parts = parts(part(progress, FIRST_SHARE, 1.0), len(target.others))
    for facet, progress_of in zip(target.others, following_parts, strict=True):
        if found[1].suggestions:
            break
        try:
            following = target_of(replace(request, gap=facet), table, fading)
        except BadValue:  # it is still there at the hour that was asked for
            continue
        note = f"No carrier was found for {next(iter(target.facets))}; {facet} is taken instead."
        following = replace(following, notes=(*target.notes, note))
        found = following, answer(following, progress_of)
    return found if found[1].suggestions else first


def _stays(table: FormulaDrydown, facet: str) -> bool:
    """Return whether a facet of a formula is still clear at the end of the base."""
    end = table.ends.get(facet)
    return end is not None and (end["clear"].hours or 0.0) >= WINDOWS["base"][1]


def _lasts(table: FormulaDrydown, facet: str) -> str:
    hours = table.ends[facet]["clear"].hours
    assert hours is not None, "it stays clear"
    return f"{facet} lasts in {table.formula.name} by itself: it is clear until {duration(hours)}."


def checked_notes(request: Request, table: FormulaDrydown) -> list[str]:
    """Return the notes on formula and options that come first; raises `BadValue` as `check`."""
    check(request)
    return list(table.notes)


def _leader(table: FormulaDrydown, facets: Mapping[str, float]) -> Material:
    """Return the material that carries the wanted facets at the start, else the loudest of all."""
    film, first = table.film, table.film.intensities(table.film.left([1 / 60]))[0]
    columns = [film.facets.index(facet) for facet in facets]
    shown = first * film.weights[:, columns].max(axis=1)
    place = int((shown if shown.max() > 0 else first).argmax())
    amount: Amount = film.amounts[int(film.owner[place])]
    return amount.material


def eligibility_in(request: Request, table: FormulaDrydown, target: FormulaTarget) -> Eligibility:
    """Return what bounds the offer of carriers for a formula."""
    return Eligibility(
        request,
        table.palette,
        target.facets,
        dict.fromkeys(target.avoided, CLEAR_LABEL),
        present=frozenset(table.slugs()),
        # half of it: what is gone before the gap scores low by itself, and no label decides who is looked at
        least_hours=None if target.gap_hours is None else 0.5 * target.gap_hours,
        simulated=True,
        beside=frozenset(table.slugs()),
    )


def carriers(request: Request, table: FormulaDrydown, target: FormulaTarget) -> list[int]:
    """Return the rows of the best carriers that may be offered."""
    carried, materials = table.palette.space.carries(target.facets), table.palette.catalogue.materials
    bounds = eligibility_in(request, table, target)
    best = (row for row in np.argsort(-carried, kind="stable").tolist() if carried[row] > 0)
    found = islice((row for row in best if not bounds.why_not(materials[row])), CANDIDATES)
    return fitting(request, list(found), table)[0]


def theme_left(
    table: FormulaDrydown,
    target: FormulaTarget,
    plain: simulation.SimulatedDoses,
    found: simulation.SimulatedDoses,
) -> Array:
    """Return how much of a formula's theme is left in each of some simulations, (candidates,).

    The share among all facets, as amounts, of those of the theme that are not wanted more of, while they are
    present, from a minute to three days, against the same in `plain`, the formula as it is, at most 1; 1
    where there are none.
    """
    columns = [table.film.facets.index(facet) for facet in table.theme.facets if facet not in target.facets]
    if not columns:
        return np.ones(len(found.hours))
    before, after = _theme_share(plain, columns), _theme_share(found, columns)
    return np.asarray(np.clip(after / np.maximum(before, 1e-9), 0.0, 1.0), float)


def _theme_share(found: simulation.SimulatedDoses, columns: Sequence[int]) -> Array:
    """Return the share of some facets among all while they are present, over log time, (candidates,)."""
    shares = amount_shares(found.facets)[:, :, columns].sum(axis=2)
    present = soft(found.facets[:, :, columns].max(axis=2))
    logs = np.log(np.clip(found.hours, 1 / 60, 72.0))
    widths = np.diff(logs, axis=1)
    shown = shares * present
    return np.asarray((0.5 * (shown[:, 1:] + shown[:, :-1]) * widths).sum(axis=1) / widths.sum(axis=1), float)


def steady(change: Array, theme: Array) -> Array:
    """Return how little a formula becomes another, 0-1: by all that changes, and by the loss of its theme."""
    return np.asarray(1.0 / (1.0 + 2.0 * (change + 1.0 - theme)), float)


def won(before: float, after: float) -> float:
    """Return how much of the presence that was missing a carrier wins, 0-1."""
    return max(after - before, 0.0) / max(1.0 - before, 1e-9)


def simulate_candidates(
    request: Request,
    table: FormulaDrydown,
    target: FormulaTarget,
    rows: Sequence[int],
    progress: Progress | None = None,
) -> SimulatedCandidates:
    """Simulate candidates in the formula, each at its best dose under the limits and within usual use.

    Those that win nothing are left out.
    """
    materials = table.palette.materials(rows)
    if not materials:
        return NO_CANDIDATES
    films = simulation.Candidates.of(table.alone(materials))
    most = most_parts(request, materials, table) / 1000.0
    usual = [table.usual(material) for material in materials]
    gain = simulation.best_doses_of(table.film, films, target.facets, target.window, most, usual, progress)
    return _winners(request, table, target, rows, films, gain)


def _winners(
    request: Request,
    table: FormulaDrydown,
    target: FormulaTarget,
    rows: Sequence[int],
    films: simulation.Candidates,
    gain: simulation.Gain,
) -> SimulatedCandidates:
    """Return those candidates that win something, with their terms."""
    palette = table.palette
    wins = np.flatnonzero(gain.after - gain.before >= LEAST_GAIN)
    rows, gain = [rows[i] for i in wins.tolist()], gain.picked(wins)
    materials = palette.materials(rows)
    left = np.ones(0)
    if rows:
        found = films.picked(wins).in_formula(table.film, gain.share)
        left = theme_left(table, target, simulation.as_it_is(table.film, films), found)
    likeness = palette.space.alike(palette.space.vectors[list(rows)], table.smell)
    kinship = palette.graph.kinship(palette.catalogue.index[target.leader.slug])[list(rows)]
    terms = {
        "facet": palette.space.carries(target.facets)[list(rows)],
        "presence": np.array([won(gain.before, float(after)) for after in gain.after]),
        "steady": steady(gain.change, left),
        "likeness": ranked_likeness(likeness),
        "kinship": kinship,
        "evidence": np.array([evidence(m, target.facets) for m in materials]),
        "availability": availability.worth(materials, request),
    }
    return SimulatedCandidates(tuple(materials), tuple(target.facets), gain, terms, left)
