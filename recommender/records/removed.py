"""Removed and replaced records: listed, brought back."""

from typing import TYPE_CHECKING

from recommender.records.group import Group

if TYPE_CHECKING:
    from recommender.notebook.removed import Removed


class RemovedRecords(Group):
    """What was removed or replaced; all of it can be brought back."""

    def entries(self, kind: str = "") -> "list[Removed]":
        """Return what was removed, of one kind or all, the last first."""
        with self._here.reading() as db:
            if db is None:
                return []
            from recommender.notebook import removed

            return removed.listed(db, kind)

    def bring_back(self, number: int) -> "Removed":
        """Bring something removed back as it was, and return it; what has taken its place is removed.

        Raises
        ------
        BadValue
            Nothing removed has this number, or another entry has taken its place.
        BadNotebook
        """
        from recommender.notebook import removed

        with self._here.writing(existing=True) as db:
            return removed.bring_back(db, number)
