"""Where not all constraints can be kept: which of them clash, and the least relaxation of each that would do.

Only the linear constraints are asked, not the smell: a formula that keeps to all of them and has something in
it that smells. A smallest set of constraints that clash is found by leaving out one after the other; then
each of its members is relaxed alone, as little as will do.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from recommender.reformulation.amounts import LEAST_SMELLING, Amounts
from recommender.reformulation.answer import Clash
from recommender.reformulation.request import ReformulationRequest
from recommender.reformulation.rules import CHANGES, KEEP, LABEL, LIMIT, PRICE, USUAL, Cause

MUCH = 1e3
"""A bound that is relaxed so many times is as good as none."""
BOUNDS = (LIMIT, LABEL, PRICE)
"""Kinds of constraints that are a rule of the model."""


@dataclass(frozen=True)
class Constraint:
    """One constraint of a request: a `kind`, the `name` of what it is about, and where it stands in a model.

    `place` is the number of a rule, or of an item; -1 for the number of changes.
    """

    kind: str
    name: str
    place: int


def clashes(model: Amounts, request: ReformulationRequest, out: Mapping[str, Cause]) -> Iterable[Clash]:
    """Return a smallest set of constraints that cannot all be kept, with the least relaxation of each alone.

    Empty where all can be kept.
    """
    found = _constraints(model, request, out)
    if _least(model, request, found, None) is not None:
        return []
    left = list(found)
    for one in found:
        without = [other for other in left if other is not one]
        if _least(model, request, without, None) is None:
            left = without
    return [_relaxed(model, request, left, one) for one in left]


def _constraints(model: Amounts, request: ReformulationRequest, out: Mapping[str, Cause]) -> list[Constraint]:
    found = [
        Constraint(rule.kind, rule.name, place)
        for place, rule in enumerate(model.rules)
        if rule.kind != USUAL and model.row(rule, relaxed=0.0).any()
    ]
    for place, item in enumerate(model.items):
        slug = item.material.slug
        if item.parts > 0 and slug in out:
            found.append(Constraint(out[slug].kind, item.material.name, place))
        if item.parts > 0 and slug in model.fixed:
            found.append(Constraint(KEEP, item.material.name, place))
    if request.changes is not None:
        found.append(Constraint(CHANGES, "", -1))
    return found


def _relaxed(
    model: Amounts, request: ReformulationRequest, found: Sequence[Constraint], one: Constraint
) -> Clash:
    """Return a constraint with the least relaxation of it that would do beside the others."""
    if one.place >= 0 and one.kind in BOUNDS:
        bound, least = model.rules[one.place].bound, _least_bound(model, request, found, one)
        return Clash(one.kind, one.name, bound, None if least is None else bound * least)
    least = _least(model, request, found, one)
    if one.kind == CHANGES:
        asked = float(request.changes or 0)
        return Clash(one.kind, one.name, asked, None if least is None else float(round(asked + least)))
    parts = model.items[one.place].parts
    asked, sign = (parts, -1.0) if one.kind == KEEP else (0.0, 1.0)
    return Clash(one.kind, one.name, asked, None if least is None else max(asked + sign * least * parts, 0.0))


def _least_bound(
    model: Amounts, request: ReformulationRequest, found: Sequence[Constraint], one: Constraint
) -> float | None:
    """Return how many times as high a bound has to be, to three digits, None where that does not do."""
    low, high = 1.0, MUCH
    if _least(model, request, found, None, (one, high)) is None:
        return None
    while high / low > 1.001:
        middle = (low * high) ** 0.5
        if _least(model, request, found, None, (one, middle)) is None:
            low = middle
        else:
            high = middle
    return high


def _least(
    model: Amounts,
    request: ReformulationRequest,
    found: Sequence[Constraint],
    relaxed: Constraint | None,
    raised: tuple[Constraint, float] | None = None,
) -> float | None:
    """Return by how much one constraint has to be relaxed, 0 for none, None where that does not do.

    A line by a share of its parts, the number of changes by changes. `raised` is a bound that is so many
    times as high.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    count, lines = len(model.items), [i for i, item in enumerate(model.items) if item.parts > 0]
    new = [i for i, item in enumerate(model.items) if item.parts == 0]
    # columns: amounts, whether a line changes, whether it goes, whether a candidate comes in, changes, slack
    changed = {place: count + n for n, place in enumerate(lines)}
    gone = {place: count + len(lines) + n for n, place in enumerate(lines)}
    used = {place: count + 2 * len(lines) + n for n, place in enumerate(new)}
    number = count + 2 * len(lines) + len(new)
    slack = number + 1
    lower, upper = np.zeros(slack + 1), np.ones(slack + 1)
    whole = np.ones(slack + 1)
    whole[:count] = whole[slack] = 0.0
    upper[:count] = [item.most for item in model.items]
    upper[number], upper[slack] = float(count), 0.0 if relaxed is None else MUCH
    rows, lows, highs = [], [], []

    def row(values: Mapping[int, float], low: float, high: float) -> None:
        line = np.zeros(slack + 1)
        for column, value in values.items():
            line[column] += value
        rows.append(line)
        lows.append(low)
        highs.append(high)

    filler = model.filler
    for place in lines:
        item = model.items[place]
        if place == filler or item.material.kind == "solvent":
            if place == filler:
                upper[place] = model.whole
            continue
        most = max(item.most, item.parts)
        row({place: 1.0, changed[place]: -most}, -np.inf, item.parts)
        row({place: 1.0, changed[place]: item.parts}, item.parts, np.inf)
        row({place: 1.0, gone[place]: item.parts}, -np.inf, max(most, item.parts))
        if most > item.parts:
            row({place: 1.0, gone[place]: most}, -np.inf, most)
        row({gone[place]: 1.0, changed[place]: -1.0}, -np.inf, 0.0)
    for place in new:
        row({place: 1.0, used[place]: -model.items[place].most}, -np.inf, 0.0)
    count_them = {number: 1.0} | dict.fromkeys(changed.values(), -1.0)
    row(count_them, 0.0, np.inf)
    both = count_them | dict.fromkeys(gone.values(), 1.0) | dict.fromkeys(used.values(), -1.0)
    row(both, 0.0, np.inf)
    row(dict(enumerate(model.smelling)), LEAST_SMELLING * float(model.smelling @ model.before), np.inf)
    if filler is not None:
        row(dict(enumerate(model.totals)), model.whole * (1.0 - 1e-9), np.inf)
    for place, rule in enumerate(model.rules):
        if rule.kind == USUAL:
            row(dict(enumerate(model.matrix[place])), -np.inf, 0.0)
    for one in found:
        ease = 1.0 if one is relaxed else 0.0
        if one.kind == CHANGES:
            row({number: 1.0, slack: -ease}, -np.inf, float(request.changes or 0))
        elif one.kind in BOUNDS:
            times = raised[1] if raised is not None and raised[0] is one else 1.0
            row(dict(enumerate(model.row(model.rules[one.place], times))), -np.inf, 0.0)
        elif one.kind == KEEP:
            parts = model.items[one.place].parts
            row({one.place: 1.0, slack: ease * parts}, parts, np.inf)
            row({one.place: 1.0}, -np.inf, parts)
        else:
            parts = model.items[one.place].parts
            row({one.place: 1.0, slack: -ease * parts}, -np.inf, 0.0)
    cost = np.zeros(slack + 1)
    cost[slack] = 1.0
    result = milp(
        cost,
        integrality=whole,
        bounds=Bounds(lower, upper),
        constraints=LinearConstraint(np.array(rows), np.array(lows), np.array(highs)),
    )
    return None if result.x is None else float(result.x[slack])
