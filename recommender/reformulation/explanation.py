"""What an answer changes, why, and what each change costs in smell."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from recommender import regulation
from recommender.evaporation import Array
from recommender.evaporation.course import course
from recommender.formulas.usual import usual_range
from recommender.model import CLEAR_LABEL
from recommender.reformulation.amounts import Amounts
from recommender.reformulation.answer import (
    ADDED,
    LOWERED,
    RAISED,
    SWAPPED,
    TAKEN_OUT,
    CourseBeside,
    FacetShift,
    FormulaChange,
    ReformulatedFormula,
)
from recommender.reformulation.preserved import THEME_COUNTS, TIME_WEIGHTS
from recommender.reformulation.request import ReformulationRequest
from recommender.reformulation.rules import Cause

SHIFTS = 5
"""So many facets are named that lose, and that win, most."""
LEAST_SHIFT = 0.02
"""A facet that moves less than this in mean presence is not named."""
NAMED = 3
"""So many facets are named beside a change."""
LEAST_SHOWN = 1.0
"""A facet whose intensity never reaches this in either course is left out of the courses."""


def explained(
    model: Amounts,
    found: Sequence[Array],
    request: ReformulationRequest,
    causes: Mapping[str, Sequence[Cause]],
) -> tuple[ReformulatedFormula, ...]:
    """Return the answers with their changes, what they move and what the product then comes to."""
    return tuple(_answer(model, amounts, request, causes) for amounts in found)


def _answer(
    model: Amounts, amounts: Array, request: ReformulationRequest, causes: Mapping[str, Sequence[Cause]]
) -> ReformulatedFormula:
    after = model.present(amounts)
    assert after is not None, "an answer smells"
    changes = _changes(model, amounts, causes)
    report = None
    if request.dosage_percent is not None:
        report = regulation.check(
            model.concentrate(amounts),
            model.table.palette.catalogue,
            request.dosage_percent,
            request.use.category,
            request.market,
            on=request.on,
        )
        report = replace(report, formula=model.table.formula.name)
    lost, gained = _shifts(model, after)
    return ReformulatedFormula(
        model.formula(amounts),
        changes,
        number_of(changes),
        model.smell.preserved(after),
        lost,
        gained,
        report,
        price_of(model, amounts, request),
    )


def number_of(changes: Sequence[FormulaChange]) -> int:
    """Return how many changes there are; a line that goes and a material that comes in are one."""
    gone = len({c.line.slug for c in changes if c.line and c.kind in (SWAPPED, TAKEN_OUT)})
    come = sum(c.kind in (SWAPPED, ADDED) for c in changes)
    moved = sum(c.kind in (LOWERED, RAISED) for c in changes)
    return moved + max(gone, come)


def price_of(model: Amounts, amounts: Array, request: ReformulationRequest) -> float | None:
    """Return the price of a gram of the concentrate by the shelf, None where it is not known.

    A solvent without a price counts nothing.
    """
    prices = request.shelf.prices if request.shelf else {}
    total = 0.0
    for amount in model.concentrate(amounts):
        price = prices.get(amount.material.slug)
        if price is None and amount.material.kind != "solvent":
            return None
        total += amount.mass_fraction * (price or 0.0)
    return total if prices else None


def _changes(
    model: Amounts, amounts: Array, causes: Mapping[str, Sequence[Cause]]
) -> tuple[FormulaChange, ...]:
    """Return the changes: lines in their order, what stands in their place after each, then additions."""
    table = model.table
    places = [
        place
        for place, item in enumerate(model.items)
        if place != model.filler and abs(amounts[place] - item.parts) > 1e-6 * max(item.parts, 1e-9)
    ]
    gone = [place for place in places if amounts[place] == 0]
    added = [place for place in places if model.items[place].parts == 0]
    instead = _instead_of(model, gone, added)
    found: list[FormulaChange] = []
    for place in places:
        item = model.items[place]
        before, after = item.parts, float(amounts[place])
        if before == 0:
            continue
        why = tuple(causes.get(item.material.slug, ())) if after < before else ()
        if after > 0:
            kind = LOWERED if after < before else RAISED
            found.append(
                FormulaChange(
                    kind,
                    item.material,
                    item.material,
                    before,
                    after,
                    why,
                    () if why else _made_good(model, amounts, [place]),
                    costs=_cost(model, amounts, [place], bool(why)),
                )
            )
        elif place in instead:
            found.append(
                replace(
                    _addition(model, amounts, instead[place]),
                    kind=SWAPPED,
                    line=item.material,
                    parts_before=before,
                    causes=why,
                    costs=_cost(model, amounts, [place, instead[place]], True),
                )
            )
        else:
            cost = _cost(model, amounts, [place], True)
            found.append(FormulaChange(TAKEN_OUT, item.material, None, before, 0.0, why, costs=cost))
    found += [_addition(model, amounts, one) for one in added if one not in instead.values()]
    share = table.share_percent
    return tuple(
        replace(change, usual=usual_range(change.to, share)) if change.to is not None else change
        for change in found
    )


def _instead_of(model: Amounts, gone: Sequence[int], added: Sequence[int]) -> dict[int, int]:
    """Return which addition stands for each line that goes: pairs, the most alike first."""
    space, index = model.table.palette.space, model.table.palette.catalogue.index
    rows = [[index[model.items[place].material.slug] for place in some] for some in (gone, added)]
    if not gone or not added:
        return {}
    alike = np.atleast_2d(space.alike(space.vectors[rows[0]], space.vectors[rows[1]]))
    found: dict[int, int] = {}
    for line, one in sorted(
        ((i, j) for i in range(len(gone)) for j in range(len(added))), key=lambda pair: -alike[pair]
    ):
        if gone[line] not in found and added[one] not in found.values():
            found[gone[line]] = added[one]
    return found


def _addition(model: Amounts, amounts: Array, place: int) -> FormulaChange:
    material = model.items[place].material
    good = _made_good(model, amounts, [place])
    there = model.smell.present.max(axis=0)
    facets = model.table.film.facets
    brings = [
        label.facet
        for label in sorted(material.labels, key=lambda one: -one.strength)
        if label.strength >= CLEAR_LABEL
        and label.facet not in good
        and there[facets.index(label.facet)] < 0.5
    ]
    cost = _cost(model, amounts, [place], False)
    return FormulaChange(
        ADDED, None, material, 0.0, float(amounts[place]), (), good, tuple(brings[:NAMED]), cost
    )


def _made_good(model: Amounts, amounts: Array, places: Sequence[int]) -> tuple[str, ...]:
    """Return the facets that changes bring back most, those of the theme counting twice."""
    after, without = model.present(amounts), _undone(model, amounts, places)
    if after is None or without is None:
        return ()
    before = model.smell.present
    won = TIME_WEIGHTS @ (np.minimum(before, after) - np.minimum(before, without)) * model.smell.counts
    best = [int(i) for i in np.argsort(-won, kind="stable")[:NAMED] if won[i] >= LEAST_SHIFT / 4]
    return tuple(model.table.film.facets[i] for i in best)


def _undone(model: Amounts, amounts: Array, places: Sequence[int]) -> Array | None:
    """Return the presence without some of the changes."""
    back = amounts.copy()
    for place in places:
        back[place] = model.items[place].parts
    return model.present(model.filled(back))


def _cost(model: Amounts, amounts: Array, places: Sequence[int], alone: bool) -> float:
    """Return what changes cost in smell: by themselves, or against the answer without them."""
    if alone:
        only = model.before.copy()
        only[list(places)] = amounts[list(places)]
        return 1.0 - model.preserved(model.filled(only))
    without = _undone(model, amounts, places)
    value = 0.0 if without is None else model.smell.preserved(without)
    return value - model.preserved(amounts)


def _shifts(model: Amounts, after: Array) -> tuple[tuple[FacetShift, ...], tuple[FacetShift, ...]]:
    """Return the facets that lose, and those that win, most presence; those of the theme count twice."""
    moved = model.smell.moved(after)
    before, then = TIME_WEIGHTS @ model.smell.present, TIME_WEIGHTS @ after
    found = []
    for sign in (1.0, -1.0):
        order = np.argsort(sign * moved, kind="stable")[:SHIFTS]
        found.append(
            tuple(
                FacetShift(model.table.film.facets[i], float(before[i]), float(then[i]))
                for i in order.tolist()
                if sign * (then[i] - before[i]) <= -LEAST_SHIFT
                or sign * moved[i] <= -LEAST_SHIFT * THEME_COUNTS
            )
        )
    return found[0], found[1]


def course_beside(model: Amounts, amounts: Array) -> CourseBeside:
    """Return the course of the formula as it was beside that of an answer."""
    table = model.table
    then = course(table.films.formula(model.on_surface(amounts)))
    before = table.course
    shown = np.flatnonzero(np.maximum(before.facets.max(axis=0), then.facets.max(axis=0)) >= LEAST_SHOWN)
    facets = before.film.facets
    return CourseBeside(
        before.hours,
        {facets[i]: before.facets[:, i] for i in shown.tolist()},
        {facets[i]: then.facets[:, i] for i in shown.tolist()},
    )
