"""A whole formula inside limits, label, price and shelf with the least change to how it smells over time."""

from recommender.reformulate.answer import (
    Clash,
    CourseBeside,
    FacetShift,
    FormulaChange,
    ReformulatedFormula,
    Reformulation,
)
from recommender.reformulate.request import ReformulationRequest
from recommender.reformulate.search import reformulate

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
