"""A triangle test of an answer: the formula before against after, three strips at each of four hours."""

import hashlib
import random
from dataclasses import dataclass
from functools import cached_property

from recommender.errors import BadValue
from recommender.formulas import formula as formulas
from recommender.model import Formula, guessed_right

VISITS_H = (0.25, 1.0, 8.0, 24.0)
"""Hours at which the strips are smelled."""
BY_CHANCE = 0.05
"""So many right answers are wanted that guessing gives them with this probability at most."""


@dataclass(frozen=True)
class TriangleVisit:
    """Three strips at one hour in the order of smelling, and which of them are the formula after."""

    hours: float
    strips: tuple[int, int, int]
    after: tuple[bool, bool, bool]

    @property
    def odd(self) -> int:
        """The number of the odd strip."""
        most = sum(self.after) >= 2
        return next(n for n, after in zip(self.strips, self.after, strict=True) if after != most)


@dataclass(frozen=True)
class TriangleTest:
    """A triangle test of a formula: the visits, each with three strips under blind numbers."""

    name: str
    visits: tuple[TriangleVisit, ...]

    def numbers(self, which: str) -> list[int]:
        """Return the numbers of the strips that are before, or after."""
        found = []
        for one in self.visits:
            found += [
                n for n, after in zip(one.strips, one.after, strict=True) if after == (which == "after")
            ]
        return sorted(found)

    @cached_property
    def by_chance(self) -> int:
        """How many right answers guessing gives in one of twenty tests at most."""
        count = len(self.visits)
        few = (right for right in range(count + 1) if guessed_right(right, count) <= BY_CHANCE)
        return next(few, count)

    def visit_of(self, strip: int) -> TriangleVisit:
        """Return the visit at which a strip is smelled; raises `BadValue` where there is no such strip."""
        found = next((visit for visit in self.visits if strip in visit.strips), None)
        if found is None:
            strips = "; ".join(", ".join(map(str, visit.strips)) for visit in self.visits)
            raise BadValue("smelled", strip, f"no strip of {self.name} has this number; they are {strips}")
        return found


def triangle(before: Formula, after: Formula) -> TriangleTest:
    """Return the triangle test of two formulas: the same for the same lines, whatever they are called.

    References
    ----------
    ISO 4120: three samples of which two are the same; the odd one is guessed in one of three.
    """
    written = repr([_written(formula) for formula in (before, after)])
    chance = random.Random(int(hashlib.sha256(written.encode()).hexdigest(), 16))
    numbers = chance.sample(range(100, 1000), 3 * len(VISITS_H))
    # both formulas are the odd one equally often
    odd_is_after = [place % 2 == 0 for place in range(len(VISITS_H))]
    chance.shuffle(odd_is_after)
    visits = []
    for place, hours in enumerate(VISITS_H):
        odd = chance.randrange(3)
        after_ones = tuple((strip == odd) == odd_is_after[place] for strip in range(3))
        strips = numbers[3 * place : 3 * place + 3]
        visits.append(
            TriangleVisit(
                hours,
                (strips[0], strips[1], strips[2]),
                (after_ones[0], after_ones[1], after_ones[2]),
            )
        )
    return TriangleTest(before.name, tuple(visits))


def _written(formula: Formula) -> list[tuple[str, str, str]]:
    """Return the lines of a formula as they are after it was written into a file or a notebook, and read."""
    rows = formulas.rows(formulas.opened(formula))
    return [
        (row["material"], f"{float(row['parts']):.6g}", f"{float(row['dilution_percent'] or 100.0):.6g}")
        for row in rows
    ]
