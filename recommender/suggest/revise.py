"""The next version of a formula from the readings of its trials: changes to accept or not, with reasons.

What was called too strong is cut to a half or, where it was so at two hours or more, to a third (common
practice); what died early gets a carrier or a relay, facets of the theme first, and less of what hides it;
what nobody would miss may go.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from recommender.chemistry import odour_strength
from recommender.errors import BadValue
from recommender.formulas import formula as formulas
from recommender.formulas import redundancy, simulation
from recommender.formulas.drydown import FormulaDrydown
from recommender.formulas.usual import checked_share
from recommender.model import CLEAR_LABEL, Formula, Material, Reading, Suggestion
from recommender.progress import Progress, parts
from recommender.reasons import ChangeReason, FadedFacet, RedundantMaterial, RestoredFacet, TooStrongFacet
from recommender.suggest.eligibility import Eligibility
from recommender.suggest.in_formula import carried
from recommender.suggest.lower import lowered
from recommender.suggest.practice import about_lines
from recommender.suggest.product_limits import category_notes
from recommender.suggest.relay import WORTH_A_PLACE, handed_over
from recommender.suggest.request import DEFAULT_UNTIL_HOURS, Request, refuse_because, smells
from recommender.suggest.target import FormulaTarget, checked_notes
from recommender.suggest.trial_findings import (
    LostFacet,
    TooStrong,
    facets_of,
    level,
    lost_facets,
    shown_by,
    too_strong,
)
from recommender.suggest.why_not import why_not_in_formula

HALF, THIRD = 1 / 2, 1 / 3
AS_LOUD = 0.8
"""What shows at least this much of the strongest material's share is cut together with it."""
RAISED = 2.0
"""Where no carrier wins anything, the material that has the facet is doubled."""
LEAST_RAISED = 1.2
"""A smaller factor, where usual use leaves so little, would not be smelled."""
LOOKED_AT = 5
"""How many carriers are looked at: the first that is still there at the end is taken."""
MOST_LEFT_OUT = 2
"""How many redundant materials one version may lose: each changes what the others are needed for."""


@dataclass(frozen=True)
class Change:
    """One change, to be accepted or not.

    `kind` is cut, carrier, relay, raise or leave out. `moves` are materials with their parts per thousand of
    the strip before and after; `factors` multiply what is there, `additions` are mass fractions of the
    finished accord. `suggestion` is the carrier as `extend` gives it.
    """

    kind: str
    moves: tuple[tuple[Material, float, float], ...]
    factors: tuple[tuple[Material, float], ...]
    additions: tuple[tuple[Material, float], ...]
    reason: ChangeReason
    suggestion: Suggestion | None = None


@dataclass(frozen=True)
class Revision:
    """What is proposed for a formula, in the order in which it is applied, and notes."""

    before: Formula
    changes: tuple[Change, ...]
    notes: tuple[str, ...]


def revise(
    table: FormulaDrydown,
    readings: Sequence[Reading],
    request: Request,
    progress: Progress | None = None,
) -> Revision:
    """Propose the next version of a formula from the readings of its trials.

    Parameters
    ----------
    table : FormulaDrydown
        The formula that was smelled.
    readings : sequence of Reading
    request : Request
        What may be offered (shelf, price, market, smells to avoid), and until when facets have to live.
    progress : callable, optional
        Is given the share of the work that is done, 0-1.

    Raises
    ------
    BadValue
        There are no readings, or an option cannot be used.
    UnknownFacet
    """
    if not readings:
        raise BadValue(
            "trial", table.formula.name, "it has no readings yet; record how the strip smelled at some hour"
        )
    refuse_because(request)
    table = replace(table, share_percent=checked_share(request.share_percent))
    avoid = smells("extend", request, table.palette)
    refused = Eligibility(
        request,
        table.palette,
        avoided=dict.fromkeys(avoid.refused, CLEAR_LABEL),
        present=frozenset(table.slugs()),
        simulated=True,
        beside=frozenset(table.slugs()),
    )
    notes = [*category_notes(request, table.palette), *about_lines(table.formula, request)]
    notes += [*checked_notes(request, table), *why_not_in_formula(refused, table), *avoid.notes]
    until = request.until_hours or DEFAULT_UNTIL_HOURS
    changes: list[Change] = []
    cut: set[str] = set()
    for loud in too_strong(readings):
        if change := _cut(table, loud, cut):
            changes.append(change)
            cut |= {material.slug for material, _ in change.factors}
        elif not cut:
            notes.append(f"Nothing in the formula is known to smell of {loud.facet}: find it by smelling.")
    now = without_carriers = _revised(table, changes)
    about = set(table.theme.facets)
    faded = lost_facets(readings, table, until)
    faded.sort(key=lambda one: about.isdisjoint(facets_of(one.facet, table.palette)))
    *facet_parts, last_part = parts(progress, len(faded) + 1)
    for lost, progress_of in zip(faded, facet_parts, strict=True):
        change = _carry(table, now, lost, request, until, cut, avoid.refused, progress_of)
        if change is None:
            notes.append(
                f"Nothing was found that keeps {lost.facet} to {until:.3g} h; try a wider facet or fewer "
                "filters with `recommender extend`."
            )
        elif change.kind == "carrier" and any(_same(change, c) for c in changes):
            notes.append(f"{change.moves[0][0].name} serves {lost.facet} too.")
        else:
            changes.append(change)
            now = _revised(table, changes)
    if last_part:
        last_part(0.0)
    if hidden := _unmasked(table, without_carriers, faded, changes, until, avoid.refused):
        changes.append(hidden)
    changes += _spare(table, changes, readings)
    return Revision(table.formula, tuple(changes), tuple(dict.fromkeys(notes)))


def applied(table: FormulaDrydown, changes: Sequence[Change]) -> FormulaDrydown:
    """Return the drydown with some changes made: factors first, then all additions together."""
    factors = {material.slug: factor for change in changes for material, factor in change.factors}
    made = replace(table, formula=formulas.times(table.formula, factors)) if factors else table
    additions = [addition for change in changes for addition in change.additions]
    return made.plus(additions) if additions else made


def _revised(table: FormulaDrydown, changes: Sequence[Change]) -> FormulaDrydown:
    """Return the drydown with some changes made, about what the formula is about without them."""
    made = applied(table, changes)
    return replace(made, formula=replace(made.formula, theme=table.theme.facets))


def _same(one: Change, other: Change) -> bool:
    return bool({m.slug for m, _ in one.additions} & {m.slug for m, _ in other.additions})


def _parts(table: FormulaDrydown) -> dict[str, float]:
    return {a.material.slug: 1000.0 * a.mass_fraction for a in table.amounts}


def _scaled(
    table: FormulaDrydown, kind: str, factors: Sequence[tuple[Material, float]], reason: ChangeReason
) -> Change:
    parts = _parts(table)
    moves = tuple((m, parts[m.slug], parts[m.slug] * factor) for m, factor in factors)
    return Change(kind, moves, tuple(factors), (), reason)


def _cut(table: FormulaDrydown, loud: TooStrong, taken: set[str]) -> Change | None:
    """Return a cut of what makes a facet too strong, and of whatever shows it about as much."""
    shown = shown_by(table, loud.facet, loud.hours[0])
    if not shown:
        return None
    factor = HALF if len(loud.hours) == 1 else THIRD
    cut = [table.film.amounts[i].material for i, value in shown if value >= AS_LOUD * shown[0][1]]
    factors = [(material, factor) for material in cut if material.slug not in taken]
    if not factors:
        return None
    weaker = formulas.times(table.formula, {m.slug: f for m, f in factors})
    after = replace(table, formula=weaker)
    reason = TooStrongFacet(
        loud.facet,
        loud.hours,
        factor,
        before=level(table, loud.facet, loud.hours[0]),
        after=level(after, loud.facet, loud.hours[0]),
        basis="common practice",
    )
    return _scaled(table, "cut", factors, reason)


def _carry(
    table: FormulaDrydown,
    now: FormulaDrydown,
    lost: LostFacet,
    request: Request,
    until: float,
    cut: set[str],
    avoided: tuple[str, ...],
    progress: Progress | None,
) -> Change | None:
    """Return a carrier or, where one is not enough, a relay; else more of the material that has the facet."""
    target, shown = _target(table, lost, until, avoided), shown_by(table, lost.facet, 0.0)
    faded = FadedFacet(
        lost.facet,
        lost.hours,
        lost.rating,
        lost.alive,
        until_hours=until,
        predicted=level(table, lost.facet, lost.hours),
        by=target.leader.name if shown else None,
        basis="common practice",
    )
    several = replace(request, top=LOOKED_AT)
    alone, relayed = parts(progress, 2)
    single = [change for s in carried(several, now, target, alone) if (change := _added(now, s, faded))]
    lasting = [
        c for c in single if level(now.plus(c.additions), lost.facet, until) >= odour_strength.JUST_THERE
    ]
    best = next(iter([*lasting, *single]), None)
    if until >= DEFAULT_UNTIL_HOURS and lost.hours < 8.0:
        two = handed_over(replace(request, top=1), now, target, relayed).suggestions
        relay = _added(now, two[0], faded) if two else None
        if relay and (
            best is None or _presence(now, relay, target) >= _presence(now, best, target) + WORTH_A_PLACE
        ):
            return relay
    if best is not None:
        return best
    later = shown_by(table, lost.facet, lost.hours)
    if not later or later[0][1] < odour_strength.JUST_THERE:
        return None
    who = table.film.amounts[later[0][0]].material
    factor = raised_within_usual(table, who)
    return None if who.slug in cut or factor is None else _scaled(table, "raise", [(who, factor)], faded)


def raised_within_usual(table: FormulaDrydown, material: Material) -> float | None:
    """Return by which factor a material is raised within usual use, None where it has no room."""
    usual = table.usual(material)
    if usual is None:
        return RAISED
    factor = min(RAISED, 1.0 + usual.room / usual.present)
    return factor if factor >= LEAST_RAISED else None


def _target(table: FormulaDrydown, lost: LostFacet, until: float, avoided: tuple[str, ...]) -> FormulaTarget:
    """Return what a lost facet needs: from when it was last clear until the hour that is wanted."""
    start = min(max(lost.alive or lost.hours, 0.25), until / 1.5)
    shown = shown_by(table, lost.facet, 0.0)
    leader = table.film.amounts[shown[0][0] if shown else 0].material
    facets, gap = facets_of(lost.facet, table.palette), max(lost.hours, 1 / 60)
    return FormulaTarget(facets, (start, until), leader, gap, (), avoided)


def _unmasked(
    table: FormulaDrydown,
    now: FormulaDrydown,
    lost: Sequence[LostFacet],
    changes: Sequence[Change],
    until: float,
    avoided: tuple[str, ...],
) -> Change | None:
    """Return less of what hides a lost facet most, beside or instead of its carrier; not of what was cut."""
    taken = {m.slug for change in changes for m, _ in (*change.factors, *change.additions)}
    taken |= {
        amount.material.slug
        for amount in now.amounts
        for one in lost
        if any(
            amount.material.strength_of(facet) >= CLEAR_LABEL for facet in facets_of(one.facet, now.palette)
        )
    }
    found = [line for one in lost for line in lowered(now, _target(now, one, until, avoided), taken)]
    best = max(found, key=lambda line: line.reason.after - line.reason.before, default=None)
    if best is None:
        return None
    kind = "cut" if best.reason.factor else "leave out"
    return _scaled(table, kind, [(best.material, best.reason.factor)], best.reason)


def _added(now: FormulaDrydown, suggestion: Suggestion, faded: FadedFacet) -> Change | None:
    dose = suggestion.dose
    if dose is None:
        return None
    members = suggestion.members or ((suggestion.material, 1.0),)
    additions = tuple((m, dose.first_try * share / 1000.0) for m, share in members)
    moves = tuple((m, 0.0, 1000.0 * share) for m, share in additions)
    kind = "relay" if suggestion.members else "carrier"
    reason = RestoredFacet(
        faded.facet,
        faded.hours,
        faded.rating,
        faded.alive,
        faded.until_hours,
        faded.predicted,
        faded.by,
        after=level(now.plus(additions), faded.facet, faded.hours),
        basis="estimated",
    )
    return Change(kind, moves, (), additions, reason, suggestion)


def _presence(now: FormulaDrydown, change: Change, target: FormulaTarget) -> float:
    """Return the soft presence of the wanted facets in the window, with a change made."""
    course = now.plus(change.additions).course
    columns = [course.film.facets.index(facet) for facet in target.facets]
    found = simulation.soft_presence(course.hours[None], course.facets[None], *target.window)[0]
    return float(np.max(found[columns]))


def _spare(table: FormulaDrydown, changes: Sequence[Change], readings: Sequence[Reading]) -> list[Change]:
    """Return what may be left out, one after the other, but nothing that was read or changed."""
    named = {facet for one in readings if one.facet for facet in facets_of(one.facet, table.palette)}
    changed = {m.slug for change in changes for m, _ in (*change.factors, *change.additions)}
    found: list[Change] = []
    while len(found) < MOST_LEFT_OUT:
        now = _revised(table, [*changes, *found])
        spare = next(
            (
                one
                for one in redundancy.trim(now)
                if one.redundant and one.material.slug not in changed and one.facet not in named
            ),
            None,
        )
        if spare is None or len(now.amounts) <= 2:
            break
        reason = RedundantMaterial(
            spare.facet, spare.phase, spare.missed, tuple(spare.covered_by), basis="common practice"
        )
        found.append(_scaled(table, "leave out", [(spare.material, 0.0)], reason))
    return found
