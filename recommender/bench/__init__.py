"""What is laid out to work with: the catalogue with its space and graph, and a formula on a strip."""

from recommender.bench.bench import Array, Bench, find, shipped
from recommender.bench.missed import Missed, missed
from recommender.bench.own import laid_over, smells_of
from recommender.bench.table import Table, end_figures

__all__ = [
    "Array",
    "Bench",
    "Missed",
    "Table",
    "end_figures",
    "find",
    "laid_over",
    "missed",
    "shipped",
    "smells_of",
]
