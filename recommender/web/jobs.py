"""Long work done by helper processes: waited for without holding up the page, and stopped on demand."""

import asyncio
import pickle
import sys
from contextlib import suppress
from typing import Any

from recommender.web.helper import LENGTH, Job, packed

MOST = 2
"""Helpers at the same time; further jobs wait their turn."""


class JobFailed(Exception):
    """A job that came to no answer; the text is for the person."""


class Helpers:
    """A few helper processes, started when they are needed and kept for the next job."""

    def __init__(self) -> None:
        self._idle: list[asyncio.subprocess.Process] = []
        self._busy: set[asyncio.subprocess.Process] = set()
        self._turn = asyncio.Semaphore(MOST)

    async def ask(self, job: Job) -> Any:
        """Return the answer to a job. Cancelling the call ends the process that works on it.

        Raises
        ------
        JobFailed
            With the line that the command line would print.
        """
        async with self._turn:
            process = await self._one()
            self._busy.add(process)
            whole = False
            try:
                kind, told = await self._exchange(process, job)
                whole = True
            except (EOFError, BrokenPipeError, ConnectionResetError, asyncio.IncompleteReadError):
                raise JobFailed("The work ended unexpectedly; ask again.") from None
            finally:
                self._busy.discard(process)
                if whole:
                    self._idle.append(process)
                else:
                    _end(process)
        if kind != "answer":
            raise JobFailed(str(told))
        return told

    async def _one(self) -> asyncio.subprocess.Process:
        while self._idle:
            process = self._idle.pop()
            if process.returncode is None:
                return process
        pipe = asyncio.subprocess.PIPE
        command = (sys.executable, "-m", "recommender.web.helper")
        return await asyncio.create_subprocess_exec(*command, stdin=pipe, stdout=pipe)

    async def _exchange(self, process: asyncio.subprocess.Process, job: Job) -> tuple[str, Any]:
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write(packed(job))
        await process.stdin.drain()
        length = LENGTH.unpack(await process.stdout.readexactly(LENGTH.size))[0]
        found: tuple[str, Any] = pickle.loads(await process.stdout.readexactly(length))
        return found

    def end(self) -> None:
        """End all helpers; the page is closing."""
        for process in (*self._idle, *self._busy):
            _end(process)
        self._idle.clear()


def _end(process: asyncio.subprocess.Process) -> None:
    with suppress(ProcessLookupError):
        process.kill()
