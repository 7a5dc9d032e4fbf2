"""The person's own: shelf, nose, materials, formulas, in one SQLite file that is made on first use."""

from recommender.notebook.csv_folder import counts
from recommender.notebook.faults import told
from recommender.notebook.migrations import newest, steps, upgrade, version
from recommender.notebook.store import check, opened, reading, writing

__all__ = [
    "check",
    "counts",
    "newest",
    "opened",
    "reading",
    "steps",
    "told",
    "upgrade",
    "version",
    "writing",
]
