"""Marks the lines that are hardly missed, once nothing has been typed for a moment."""

import asyncio
from collections.abc import Callable, Mapping

from nicegui import background_tasks

from recommender.errors import RecommenderError
from recommender.formulas.redundancy import Contribution
from recommender.web.server.jobs import JobFailed, JobPool
from recommender.web.server.typed_lines import ParsedLines, content_of
from recommender.web.server.worker import Job, PaletteKey

REST_S = 1.5
"""How long nothing is typed before the search starts [s]."""

ONE_AT_A_TIME = asyncio.Semaphore(1)
"""User requests take priority over background checks."""


class RedundancyMarks:
    """Looks for redundant lines in the background; a change of the formula starts the search again."""

    def __init__(self, jobs: JobPool, mark: Callable[[Mapping[str, str]], None]) -> None:
        self.jobs, self.mark = jobs, mark
        self.task: asyncio.Task[None] | None = None
        self.read: ParsedLines | None = None

    def show(self, read: ParsedLines, overlay: PaletteKey) -> None:
        """Take over a formula; marks of an older one go at once."""
        if self.read is not None and self.read.formula == read.formula:
            return
        self.stop()
        self.read = read
        self.mark({})
        if read.formula is not None and len(read.found) > 1:
            self.task = background_tasks.create(self._look(read, overlay), name="redundant")

    def stop(self) -> None:
        """Stop looking."""
        if self.task is not None and not self.task.done():
            self.task.cancel()
        self.task = None

    async def _look(self, read: ParsedLines, overlay: PaletteKey) -> None:
        await asyncio.sleep(REST_S)
        assert read.formula is not None
        try:
            async with ONE_AT_A_TIME:
                found: list[Contribution] = await self.jobs.run(Job("trim", read.formula, overlay=overlay))
        except (RecommenderError, JobFailed):
            return
        self.mark(marks(found, read))


def marks(found: list[Contribution], read: ParsedLines) -> dict[str, str]:
    """Return the mark of each line that is hardly missed, by the number of the line.

    A material that is in several lines is marked in each.
    """
    spare = {s.material.slug: s for s in found if s.redundant}
    marked = {}
    for number, line in read.found.items():
        material = content_of(line)
        one = spare.get(material.slug) if material is not None else None
        if one is not None:
            marked[number] = f"hardly missed (most, {one.facet} in the {one.phase})"
    return marked
