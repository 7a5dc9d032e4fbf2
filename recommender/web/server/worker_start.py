"""How a worker process starts: imported before anything that its jobs need, numpy above all."""

import os

from recommender import process

NICENESS = 2
"""A little behind the page. Much more, and beside busy programs a person would wait for a core."""


def start() -> None:
    """Let the page itself go first, and load what every job needs before the first one comes."""
    process.prepare()
    if hasattr(os, "nice"):
        os.nice(NICENESS)
    from recommender.web.server.worker import WORKER

    WORKER.get_ready()


def started() -> None:
    """Do nothing; a pool starts its processes with the first job."""
