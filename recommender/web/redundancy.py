"""Marks the lines that are hardly missed, once the formula has come to rest."""

import asyncio
from collections.abc import Callable, Mapping

from nicegui import background_tasks

from recommender.formulas.redundancy import Contribution
from recommender.web.desk import Over
from recommender.web.helper import Job
from recommender.web.jobs import Helpers, JobFailed
from recommender.web.lines import ParsedLines, content_of

REST_S = 1.5
"""How long nothing is typed before it is looked for [s]."""

ONE_AT_A_TIME = asyncio.Semaphore(1)
"""What is asked for goes before what is only looked after."""


class Redundancy:
    """Looks for redundant lines in the background; a change of the formula starts it anew."""

    def __init__(self, helpers: Helpers, mark: Callable[[Mapping[str, str]], None]) -> None:
        self.helpers, self.mark = helpers, mark
        self.task: asyncio.Task[None] | None = None
        self.told: ParsedLines | None = None

    def show(self, read: ParsedLines, over: Over) -> None:
        """Take over the formula as it stands; marks of an older one go at once."""
        if self.told is not None and self.told.formula == read.formula:
            return
        self.stop()
        self.told = read
        self.mark({})
        if read.formula is not None and len(read.found) > 1:
            self.task = background_tasks.create(self._look(read, over), name="redundant")

    def stop(self) -> None:
        """Stop looking."""
        if self.task is not None and not self.task.done():
            self.task.cancel()
        self.task = None

    async def _look(self, read: ParsedLines, over: Over) -> None:
        await asyncio.sleep(REST_S)
        assert read.formula is not None
        try:
            async with ONE_AT_A_TIME:
                found: list[Contribution] = await self.helpers.ask(Job("trim", read.formula, over))
        except JobFailed:
            return
        self.mark(marks(found, read))


def marks(found: list[Contribution], read: ParsedLines) -> dict[str, str]:
    """Return by line what is said of those that are hardly missed.

    A material that stands in several lines is marked in each.
    """
    spare = {s.material.slug: s for s in found if s.redundant}
    told = {}
    for number, line in read.found.items():
        material = content_of(line)
        one = spare.get(material.slug) if material is not None else None
        if one is not None:
            told[number] = f"hardly missed (most, {one.facet} in the {one.phase})"
    return told
