"""Long work done by worker processes: awaited without blocking the page, and stopped on demand."""

import asyncio
from multiprocessing import get_context
from typing import Any

from pebble import ProcessExpired, ProcessPool

from recommender.errors import RecommenderError
from recommender.web.server import worker_start
from recommender.web.server.worker import Job, SheetJob, answer

MOST_WORKERS = 2
"""Jobs at the same time; further ones wait their turn."""


class JobFailed(Exception):
    """A job that ended without an answer for no fault of the person's; the text is for them."""


class JobPool:
    """At most two worker processes, started before the first job where there is time for it.

    They are spawned, not forked: a fork beside a running event loop and its threads may block for ever.
    """

    def __init__(self) -> None:
        self._pool: ProcessPool | None = None

    def start(self) -> None:
        """Start the workers, so that the first answer does not wait for them; once is enough."""
        if self._pool is None:
            for _ in range(MOST_WORKERS):
                self._open().schedule(worker_start.started)

    def _open(self) -> ProcessPool:
        if self._pool is None:
            self._pool = ProcessPool(
                MOST_WORKERS, initializer=worker_start.start, context=get_context("spawn")
            )
        return self._pool

    async def run(self, job: Job | SheetJob, most_seconds: float | None = None) -> Any:
        """Return the answer to a job. Cancelling the call ends the process that works on it.

        Raises
        ------
        RecommenderError
            As the verb raises it in the worker.
        TimeoutError
            It took longer than allowed; the process has been ended.
        JobFailed
        """
        try:
            return await asyncio.wrap_future(self._open().schedule(answer, args=[job], timeout=most_seconds))
        except (RecommenderError, TimeoutError):
            raise
        except ProcessExpired:
            raise JobFailed("The work ended unexpectedly; ask again.") from None
        except Exception as error:
            raise JobFailed(f"The work failed ({type(error).__name__}: {error}); ask again.") from error

    def end(self) -> None:
        """End all workers; the page is closing."""
        if self._pool is not None:
            self._pool.stop()  # type: ignore[no-untyped-call]
            self._pool.join()
            self._pool = None
