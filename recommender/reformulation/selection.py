"""Which lines change and which candidates come in: a linear model of the smell, solved by HiGHS.

Materials that share a facet add up as cubes of intensities, so that in cubes a facet is a sum over the
materials; each has a curve of cubes over its amount, taken as straight between a few doses. Presence is
concave in the cubes, so that tangents bound what is preserved; what comes on top of it counts against it by a
straight line.
"""

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from recommender.chemistry import odour_strength
from recommender.evaporation import Array
from recommender.reformulation.amounts import LEAST_SMELLING, Amounts
from recommender.reformulation.preserved import TIME_WEIGHTS, TIMES

STEPS = 4
"""So many hours stand for all."""
TANGENTS = (0.05, 0.35, 1.0)
"""Where presence is bounded by its tangents, as shares of the cube that is to be preserved."""
FAINT = 3.0
"""What is fainter than this is measured by it, so that no coefficient is extreme."""
LONGEST_S = 20.0
"""A single solution that takes longer than this is cut short [s]; most take a tenth of it."""
LEAST_SHOWN = 0.03
"""A facet with less mean presence than this before and after is left out."""
GAP = 0.02
"""An answer whose surrogate is within this share of the best is good enough."""
NODES = 6
"""Nodes of branch and bound at most: a count, so that the answer is the same every time."""


@dataclass(frozen=True)
class Levels:
    """The doses of each item, and what it adds to the cubes of the facets at each.

    `doses` [neat parts] of an item rise from 0 for a line, from its least for a candidate; `cubes` are
    (doses, times, facets) for each, and `rest` (times, facets) is what no item adds.
    """

    doses: tuple[Array, ...]
    cubes: tuple[Array, ...]
    rest: Array


@dataclass(frozen=True)
class Support:
    """Which lines are changed or taken out, and which candidates come in: places of items, and amounts."""

    changed: frozenset[int]
    added: frozenset[int]
    amounts: Array = field(compare=False, hash=False)


@contextmanager
def _silent() -> Iterator[None]:
    """Drop what the solver itself writes to standard output, whatever its options say."""
    try:
        before = os.dup(1)
    except OSError:  # there is no standard output
        yield
        return
    sink = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(sink, 1)
        yield
    finally:
        os.dup2(before, 1)
        os.close(before)
        os.close(sink)


def thinned(steps: int = STEPS) -> tuple[npt.NDArray[np.intp], Array]:
    """Return the places of the hours that stand for all, so many, and what each counts."""
    logs = np.log(TIMES)
    inside = np.flatnonzero(TIME_WEIGHTS > 0)
    ends = np.linspace(logs[inside[0]], logs[inside[-1]], steps + 1)
    middles = 0.5 * (ends[1:] + ends[:-1])
    places = np.array([int(np.abs(logs - middle).argmin()) for middle in middles], np.intp)
    bins = np.clip(np.searchsorted(ends, logs, side="right") - 1, 0, steps - 1)
    return places, np.bincount(bins, TIME_WEIGHTS, steps).astype(float)


def _slope(cubes: Array) -> Array:
    """Return how fast presence rises with the cube of an intensity."""
    level = np.cbrt(cubes)
    return np.asarray(
        odour_strength.CLEAR / (level + odour_strength.CLEAR) ** 2 / (3.0 * np.maximum(level, 1e-9) ** 2),
        float,
    )


class Selection:
    """The linear model of one reformulation; `solved` gives the best support of so many changes.

    Parameters
    ----------
    model : Amounts
    levels : Levels
    wanted : ndarray, shape (times, facets)
        The presence that is to be preserved, at the hours of `thinned`.
    outweighs : float
        What is brought along counts so much against what is preserved: about the share preserved.
    """

    def __init__(self, model: Amounts, levels: Levels, wanted: Array, outweighs: float = 0.85) -> None:
        self.model, self.levels = model, levels
        self._columns = 0
        self._rows: list[tuple[npt.NDArray[np.intp], Array, float, float]] = []
        self._lower: list[float] = []
        self._upper: list[float] = []
        self._whole: list[int] = []
        self._cost: list[float] = []
        self._items()
        self._changes()
        self._bounds()
        self._smell(wanted, outweighs)

    def _column(self, count: int, lower: float, upper: float, whole: bool = False, cost: float = 0.0) -> int:
        start = self._columns
        self._columns += count
        self._lower += [lower] * count
        self._upper += [upper] * count
        self._whole += [int(whole)] * count
        self._cost += [cost] * count
        return start

    def _row(
        self, columns: Sequence[int] | npt.NDArray[np.intp], values: Any, lower: float, upper: float
    ) -> None:
        places = np.asarray(columns, np.intp)
        self._rows.append((places, np.broadcast_to(np.asarray(values, float), places.shape), lower, upper))

    def _items(self) -> None:
        """Add a share of each dose of each item; that of a candidate sums to whether it comes in."""
        model = self.model
        self.shares = [self._column(len(doses), 0.0, 1.0) for doses in self.levels.doses]
        self.filled = None if model.filler is None else self._column(1, 0.0, model.whole)
        self.changed: dict[int, int] = {}
        self.gone: dict[int, int] = {}
        self.used: dict[int, int] = {}
        for place, item in enumerate(model.items):
            start, doses = self.shares[place], self.levels.doses[place]
            own = np.arange(start, start + len(doses))
            if item.parts == 0:
                used = self.used[place] = self._column(1, 0.0, 1.0, whole=True)
                self._row([*own, used], [*np.ones(len(doses)), -1.0], 0.0, 0.0)
            elif len(doses):
                self._row(own, 1.0, 1.0, 1.0)
                if len(doses) > 1:
                    here = int(np.flatnonzero(doses == item.parts)[0]) if item.parts in doses else None
                    changed = self.changed[place] = self._column(1, 0.0, 1.0, whole=True)
                    if here is None:
                        self._lower[changed] = 1.0
                    else:
                        self._row([start + here, changed], 1.0, 1.0, np.inf)
                    gone = self.gone[place] = self._column(1, 0.0, 1.0, whole=True)
                    self._row([start, gone], [1.0, -1.0], 0.0, np.inf)
                    self._row([gone, changed], [1.0, -1.0], -np.inf, 0.0)
                elif doses[0] == 0.0:
                    changed = self.changed[place] = self._column(1, 1.0, 1.0, whole=True)
                    self.gone[place] = self._column(1, 1.0, 1.0, whole=True)

    def _changes(self) -> None:
        """Add the number of changes: a line that goes and one that comes are one."""
        count = self.count = self._column(1, 0.0, float(len(self.model.items)))
        changed, used = list(self.changed.values()), list(self.used.values())
        self._row([count, *changed], [1.0, *([-1.0] * len(changed))], 0.0, np.inf)
        # what is changed and not gone, and all that comes in
        gone = list(self.gone.values())
        values = [1.0, *([-1.0] * len(changed)), *([1.0] * len(gone)), *([-1.0] * len(used))]
        self._row([count, *changed, *gone, *used], values, 0.0, np.inf)

    def _amounts(self, row: Array) -> tuple[list[int], list[float]]:
        """Return a row over items as one over the shares of their doses."""
        columns: list[int] = []
        values: list[float] = []
        for place, doses in enumerate(self.levels.doses):
            if place == self.model.filler:
                continue
            columns += range(self.shares[place], self.shares[place] + len(doses))
            values += (row[place] * doses).tolist()
        if self.filled is not None and self.model.filler is not None:
            columns.append(self.filled)
            values.append(float(row[self.model.filler]))
        return columns, values

    def _bounds(self) -> None:
        """Add the rules, the solvent that makes up the whole, and that something is left that smells."""
        model = self.model
        for row in model.matrix:
            if row.any():
                self._row(*self._amounts(row / max(float(np.abs(row).max()), 1e-12)), -np.inf, 0.0)
        least = LEAST_SMELLING * float(model.smelling @ model.before)
        self._row(*self._amounts(model.smelling), least, np.inf)
        if self.filled is not None:
            self._row(*self._amounts(model.totals), model.whole * (1.0 - 1e-9), np.inf)
            lines = np.array([item.parts > 0 for item in model.items]) * model.totals
            self._row(*self._amounts(lines), -np.inf, model.whole * (1.0 + 1e-9))

    def _smell(self, wanted: Array, outweighs: float) -> None:
        """Add what is preserved of each facet at each hour, and what comes on top of it."""
        places, time_counts = thinned()
        counts = self.model.smell.counts
        cubes = [own[:, places] for own in self.levels.cubes]
        rest = self.levels.rest[places]
        total = float((time_counts @ wanted) @ counts)
        most = rest + sum(own.max(axis=0) for own in cubes if len(own))
        reached = np.cbrt(np.maximum(most, 0.0))
        shown = np.maximum(time_counts @ odour_strength.soft(reached), time_counts @ wanted) >= LEAST_SHOWN
        for facet in np.flatnonzero(shown).tolist():
            for step in range(len(places)):
                weight = float(time_counts[step] * counts[facet]) / max(total, 1e-9)
                present = float(wanted[step, facet])
                level = odour_strength.CLEAR * present / max(1.0 - present, 1e-9)
                self._cell(
                    [own[:, step, facet] for own in cubes],
                    float(rest[step, facet]),
                    present,
                    level**3,
                    weight,
                    outweighs,
                )

    def _cell(
        self, cubes: list[Array], rest: float, present: float, cube: float, weight: float, outweighs: float
    ) -> None:
        unit = max(cube, FAINT**3)
        top = (2.0 * max(np.cbrt(cube), odour_strength.CLEAR)) ** 3
        columns: list[int] = []
        values: list[float] = []
        for place, own in enumerate(cubes):
            for dose in np.flatnonzero(own > 1e-3 * unit).tolist():
                columns.append(self.shares[place] + dose)
                values.append(min(float(own[dose]), top) / unit)
        if not columns:
            return
        if present > 0.02:
            column = self._column(1, 0.0, present, cost=-weight)
            for share in TANGENTS:
                at = share * unit
                slope = float(_slope(np.array(at))) * unit
                start = float(odour_strength.soft(np.cbrt(np.array(at)))) - slope * share
                # column <= start + slope * (rest + sum)
                self._row([column, *columns], [1.0, *(-slope * v for v in values)], -np.inf,
                          start + slope * rest / unit)  # fmt: skip
        rise = float(odour_strength.soft(np.cbrt(np.array(top)))) - present
        slope = rise / (top - cube) * unit
        column = self._column(1, 0.0, np.inf, cost=outweighs * weight)
        start = slope * (rest - cube) / unit
        self._row([column, *columns], [1.0, *(-slope * v for v in values)], start, np.inf)

    def solved(self, most_changes: int, refused: Sequence[Support] = ()) -> Support | None:
        """Return the best support with so many changes at most, None where there is none.

        One of `refused` is not given again: neither with all that it adds, nor, where it adds nothing, the
        same changes.
        """
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_matrix

        rows = list(self._rows)
        for one in refused:
            if one.added:
                used = np.array([self.used[place] for place in sorted(one.added)], np.intp)
                rows.append((used, np.ones(len(used)), -np.inf, len(used) - 1.0))
            else:
                every = np.array([*self.used.values()], np.intp)
                if len(every):
                    rows.append((every, np.ones(len(every)), 1.0, np.inf))
        lengths = [len(columns) for columns, *_ in rows]
        matrix = csr_matrix(
            (
                np.concatenate([values for _, values, *_ in rows]),
                np.concatenate([columns for columns, *_ in rows]),
                np.concatenate([[0], np.cumsum(lengths)]),
            ),
            shape=(len(rows), self._columns),
        )
        lower, upper = (np.array([row[side] for row in rows]) for side in (2, 3))
        highest = np.array(self._upper)
        highest[self.count] = most_changes
        cost = np.array(self._cost)
        cost[self.count] = 1e-4
        with _silent():
            found = milp(
                cost,
                integrality=np.array(self._whole),
                bounds=Bounds(np.array(self._lower), highest),
                constraints=LinearConstraint(matrix, lower, upper),
                options={"node_limit": NODES, "mip_rel_gap": GAP, "time_limit": LONGEST_S},
            )
        if found.x is None:
            return None
        return self._support(found.x)

    def _support(self, solution: Array) -> Support:
        amounts = np.array(
            [
                float(doses @ solution[start : start + len(doses)]) if len(doses) else 0.0
                for start, doses in zip(self.shares, self.levels.doses, strict=True)
            ]
        )
        changed = frozenset(place for place, column in self.changed.items() if solution[column] > 0.5)
        added = frozenset(place for place, column in self.used.items() if solution[column] > 0.5)
        for place, item in enumerate(self.model.items):
            gone = place in self.gone and solution[self.gone[place]] > 0.5
            if place in self.changed and place not in changed:
                amounts[place] = item.parts
            elif gone or (item.parts == 0 and place not in added):
                amounts[place] = 0.0
        return Support(changed, added, self.model.filled(amounts))
