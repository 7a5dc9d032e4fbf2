"""A group of records of one notebook, and what all groups read: cells, days, times."""

from datetime import UTC, date, datetime
from typing import Any

from recommender.errors import BadTable, BadValue
from recommender.evidence.sheets import Row
from recommender.open_notebook import OpenNotebook


def now(timespec: str = "seconds") -> str:
    """Return the time as a notebook stores it, in UTC: yyyy-mm-ddThh:mm:ss, or finer."""
    return datetime.now(UTC).replace(tzinfo=None).isoformat(timespec=timespec)


class Group:
    """A group of records of one notebook."""

    def __init__(self, here: OpenNotebook) -> None:
        self._here = here


def cell(value: Any) -> str:
    """Return a value as the cell of a sheet; blank where there is none."""
    return "" if value is None else value.strip() if isinstance(value, str) else f"{value:.10g}"


def day_of(text: str) -> str:
    """Return a day as yyyy-mm-dd, today where it is blank; raises `BadValue`."""
    from recommender.notebook.importers import day

    try:
        return day(Row("", 0, {"day": text}), "day") or date.today().isoformat()
    except BadTable as error:
        raise BadValue("day", text, f"{error.problem}; write it as 2024-03-01") from None
