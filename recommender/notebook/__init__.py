"""The person's own: shelf, nose, materials, formulas, in one SQLite file that is made on first use."""

from recommender.notebook.exchange import counts
from recommender.notebook.place import VARIABLE, place_of
from recommender.notebook.store import check, newest, opened, reading, steps, told, upgrade, version, writing

__all__ = [
    "VARIABLE",
    "check",
    "counts",
    "newest",
    "opened",
    "place_of",
    "reading",
    "steps",
    "told",
    "upgrade",
    "version",
    "writing",
]
