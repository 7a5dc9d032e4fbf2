"""How a worker process starts: imported before anything that the jobs need, numpy above all."""

import os

from recommender.threads import one_thread


def start() -> None:
    """Let the page itself go first, and have each worker use one thread."""
    one_thread()
    if hasattr(os, "nice"):
        os.nice(10)
