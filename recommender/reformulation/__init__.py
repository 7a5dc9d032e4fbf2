"""A whole formula inside limits, label, price and shelf with the least change to how it smells over time."""

from recommender.reformulation.answer import (
    Clash,
    CourseBeside,
    FacetShift,
    FormulaChange,
    ReformulatedFormula,
    Reformulation,
)
from recommender.reformulation.request import ReformulationRequest
from recommender.reformulation.search import reformulate

__all__ = [
    "Clash",
    "CourseBeside",
    "FacetShift",
    "FormulaChange",
    "ReformulatedFormula",
    "Reformulation",
    "ReformulationRequest",
    "reformulate",
]
