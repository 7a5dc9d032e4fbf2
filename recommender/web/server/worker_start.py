"""How a worker process starts: imported before anything that the jobs need, numpy above all."""

import os

from recommender import process


def start() -> None:
    """Let the page itself go first."""
    process.prepare()
    if hasattr(os, "nice"):
        os.nice(10)
