"""Sheets of unknown origin, read by a process that can be ended, before anything of them is stored."""

from typing import Any, Literal

from recommender.errors import BadTable
from recommender.evidence.intake import check_size
from recommender.web.server.session import LONGEST_READING_S, PageSession
from recommender.web.server.worker import SheetJob


async def read_sheet(
    session: PageSession,
    kind: Literal["materials", "limits", "trials", "strips"],
    name: str,
    content: bytes,
    formula: str = "",
) -> Any:
    """Return the rows of a sheet, and the columns that are not used.

    Lines of trials that name no saved version are of `formula`.

    Raises
    ------
    BadTable, BadValue, WrongCas, BadNotebook
    JobFailed
    """
    check_size(name, len(content))
    try:
        job = SheetJob(kind, name, content, session.workspace.overlay, notebook=session.path, formula=formula)
        return await session.jobs.run(job, LONGEST_READING_S)
    except TimeoutError:
        problem = f"reading it took more than {LONGEST_READING_S:g} s"
        raise BadTable(name, problem, remedy="Save the sheet that is meant as CSV") from None
