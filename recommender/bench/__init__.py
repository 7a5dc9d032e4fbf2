"""What is laid out to work with: the catalogue with its space and graph, and a formula on a strip."""

from recommender.bench.bench import CLEAR_LABEL, Array, Bench, find, shipped
from recommender.bench.missed import Missed, missed
from recommender.bench.noted import noted, under
from recommender.bench.own import laid_over, own_smells, smells_of
from recommender.bench.table import Table, end_figures

__all__ = [
    "CLEAR_LABEL",
    "Array",
    "Bench",
    "Missed",
    "Table",
    "end_figures",
    "find",
    "laid_over",
    "missed",
    "noted",
    "own_smells",
    "shipped",
    "smells_of",
    "under",
]
