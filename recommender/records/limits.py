"""Tables of limits that the person typed: stored, listed, chosen."""

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from recommender.errors import BadValue
from recommender.model import Limit
from recommender.records.group import Group, now

if TYPE_CHECKING:
    from recommender.notebook.limits import LimitTable


class LimitRecords(Group):
    """The limits that the person typed from the Standards in force, a table at a time."""

    def read_sheet(self, path: Path) -> tuple[list[Limit], list[str]]:
        """Return the limits of a sheet, and the columns that are not used; raises `BadTable`."""
        from recommender.notebook import limits

        unused: list[str] = []
        return limits.read(path, self._here.palette.catalogue, unused, self._here.sheet), unused

    def used_in(self, limits: Iterable[Limit]) -> list[int]:
        """Return in how many saved formulas, each by its newest version, each limit covers something."""
        from recommender import regulation
        from recommender.formulas import formula as formulas

        with self._here.reading() as db:
            if db is None:
                return [0 for _ in limits]
            from recommender.notebook import formulas as saved

            catalogue = self._here.palette.catalogue
            present = [
                regulation.substances(formulas.amounts(saved.formula_of(db, version, catalogue)), catalogue)
                for version in saved.latest(db)
            ]
        return [sum(regulation.covers(limit, one) for one in present) for limit in limits]

    def add(self, limits: Sequence[Limit], file: str) -> int:
        """Store a table of limits and use it from now on; returns its number. The one before stays stored."""
        from recommender.notebook import limits as own

        with self._here.writing() as db:
            return own.store(db, limits, file, now())

    def tables(self) -> "list[LimitTable]":
        """Return the tables that were stored, the newest last."""
        with self._here.reading() as db:
            if db is None:
                return []
            from recommender.notebook import limits as own

            return own.tables(db)

    def use(self, number: int) -> int:
        """Use another of the stored tables, 0 for that of the package alone; returns how many limits it has.

        Raises
        ------
        BadValue, BadNotebook
        """
        from recommender.notebook import limits as own

        rows = {0: 0} | {table.number: table.rows for table in self.tables()}
        if number not in rows:
            raise BadValue("number", number, "no table has it; `recommender limits tables` shows them")
        if len(rows) > 1:
            with self._here.writing() as db:
                own.use(db, number)
        return rows[number]
