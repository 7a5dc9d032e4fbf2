"""How a worker process starts: imported before anything that its jobs need, numpy above all."""

import os

from recommender import process


def start() -> None:
    """Let the page itself go first, and load what every job needs before the first one comes."""
    process.prepare()
    if hasattr(os, "nice"):
        os.nice(10)
    from recommender.web.server.worker import WORKER

    WORKER.get_ready()


def started() -> None:
    """Do nothing; a pool starts its processes with the first job."""
