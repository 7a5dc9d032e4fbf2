"""Sheets of unknown origin, read by a process that can be ended, before anything of them is stored."""

from typing import Any, Literal

from recommender.web.server.session import PageSession
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
    overlay, notebook = session.workspace.overlay, session.path
    return await session.read_sheet(
        SheetJob(kind, name, content, overlay, notebook=notebook, formula=formula)
    )
