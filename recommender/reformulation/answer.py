"""What a reformulation gives: answers with their changes, or which constraints clash."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from recommender.model import Formula, Material
from recommender.reformulation.request import ReformulationRequest
from recommender.reformulation.rules import Cause
from recommender.regulation import Report

LOWERED, RAISED, SWAPPED, ADDED, TAKEN_OUT = "lowered", "raised", "swapped", "added", "taken out"


@dataclass(frozen=True)
class FacetShift:
    """How much presence a facet has in the mean over log time before and after, 0-1."""

    facet: str
    before: float
    after: float


@dataclass(frozen=True)
class FormulaChange:
    """One row of what changes: a line lowered, raised, swapped or taken out, or a material added.

    `line` is what stood there, None for what is added without one going; `to` what stands there then, None
    where the line goes. Parts are neat, on the scale of the formula. `causes` are what was in the way of the
    line; without any, the change makes good what others cost: `makes_good` are the facets that it brings
    back. `costs` is how much of the smell the change alone would cost, negative where it wins it back.
    `brings` are facets that it adds beside.
    """

    kind: str
    line: Material | None
    to: Material | None
    parts_before: float
    parts_after: float
    causes: tuple[Cause, ...] = ()
    makes_good: tuple[str, ...] = ()
    brings: tuple[str, ...] = ()
    costs: float = 0.0
    usual: tuple[float, float] | None = None


@dataclass(frozen=True)
class ReformulatedFormula:
    """One answer: the formula, what changed, and how much of the smell over time is preserved, 0-1.

    `number_of_changes` counts a line that goes and one that comes as one. `lost` and `gained` are the facets
    that move most. `report` is the finished product, None without a dosage; `price` that of a gram of the
    concentrate, None where it is not known.
    """

    formula: Formula
    changes: tuple[FormulaChange, ...]
    number_of_changes: int
    preserved: float
    lost: tuple[FacetShift, ...] = ()
    gained: tuple[FacetShift, ...] = ()
    report: Report | None = None
    price: float | None = None


@dataclass(frozen=True)
class Clash:
    """One of the constraints that cannot all be kept, and the least relaxation of it alone that would do.

    `asked` and `least` are in the unit of the constraint: % of the product for a limit or a label, a price of
    a gram, a number of changes, parts of a line; `least` is None where relaxing it alone is not enough.
    """

    kind: str
    name: str
    asked: float
    least: float | None


@dataclass(frozen=True)
class CourseBeside:
    """Both courses: `hours` (times,), `before` and `after` intensities of the facets that show (times,)."""

    hours: npt.NDArray[np.float64]
    before: Mapping[str, npt.NDArray[np.float64]]
    after: Mapping[str, npt.NDArray[np.float64]]


@dataclass(frozen=True)
class Reformulation:
    """What was found for a formula: the answers, the best first, or the constraints that clash.

    `obvious` is what is preserved where lines are only cut to their limit or taken out. `causes` are what was
    in the way. `finished` is false where the search was ended by its time or stopped. `course` is that of the
    first answer beside the formula as it was.
    """

    before: Formula
    request: ReformulationRequest
    theme: tuple[str, ...]
    causes: tuple[Cause, ...]
    answers: tuple[ReformulatedFormula, ...]
    obvious: float | None = None
    clashes: tuple[Clash, ...] = ()
    finished: bool = True
    course: CourseBeside | None = None
    notes: tuple[str, ...] = ()

    @property
    def unchanged(self) -> bool:
        """Whether nothing was in the way, so that the formula comes back as it is."""
        return bool(self.answers) and not self.answers[0].changes
