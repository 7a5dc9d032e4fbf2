"""Saved formulas: stored as versions of a name, listed, opened."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from recommender.errors import BadValue
from recommender.formulas import formula as formulas
from recommender.model import Formula
from recommender.open_notebook import FormulaSource
from recommender.records.group import Group, now
from recommender.similarity.phrases import Words

if TYPE_CHECKING:
    from recommender.notebook.formulas import SavedVersion


class FormulaRecords(Group):
    """The saved formulas, every version of them."""

    def save(
        self, formula: FormulaSource, name: str = "", note: str = "", theme: Words | None = None
    ) -> "list[SavedVersion]":
        """Save a formula as the next version of a name, accords in it first; the formula itself comes last.

        Parameters
        ----------
        formula : FormulaSource
        name : str
            That of the formula by default.
        note : str
            What is new in this version.
        theme : str or sequence of str, optional
            Words for what it is about, in place of its own theme.

        Raises
        ------
        BadTable, BadNotebook, UnknownFacet
        BadValue
            A name under which nothing can be saved, or a theme that refuses something.
        """
        from recommender.notebook import formulas as saved

        catalogue, found = self._here.palette.catalogue, self._here.formula(formula)
        found = formulas.with_theme(found, theme, catalogue)
        named = replace(found, name=saved.check_name(name or found.name.split("@")[0], catalogue))
        for inner in formulas.accords(named):
            saved.check_name(inner.name, catalogue)
        with self._here.writing() as db:
            return list(dict.fromkeys(saved.save(db, named, now(), note)))

    def versions(self, name: str | None = None) -> "list[SavedVersion]":
        """Return all versions of a saved name, the oldest first; the last of every name without one.

        Raises
        ------
        BadValue
            Nothing is saved under this name.
        BadNotebook
        """
        with self._here.reading() as db:
            if db is None:
                found = []
            else:
                from recommender.notebook import formulas as saved

                found = saved.latest(db) if name is None else saved.versions(db, name)
            if name is not None and not found:
                raise self._not_saved(name)
        return found

    def version(self, name: str) -> "SavedVersion":
        """Return the saved version that NAME or NAME@2 stands for; errors as `versions`."""
        with self._here.reading() as db:
            if db is not None:
                from recommender.notebook import formulas as saved

                found = saved.find(db, name)
                if found is not None:
                    return found
            raise self._not_saved(name)

    def _not_saved(self, name: str) -> BadValue:
        with self._here.reading() as db:
            near: Sequence[str] = ()
            if db is not None:
                from recommender.notebook import formulas as saved

                near = saved.near(db, name)
        way_out = f"did you mean {', '.join(near)}?" if near else "`recommender formulas list` shows them"
        return BadValue("formula", name, f"no formula is saved under this name; {way_out}")

    def same_version(self, formula: Formula) -> str:
        """Return the stored version that a formula equals, as NAME@2; blank where it equals none.

        That is the last one of its name, or the one that its name says.
        """
        with self._here.reading() as db:
            if db is None:
                return ""
            from recommender.notebook import formulas as saved

            version = saved.find(db, formula.name)
            if version is None:
                return ""
            stored = saved.formula_of(db, version, self._here.palette.catalogue)
            same = formulas.rows(formulas.opened(stored)) == formulas.rows(formulas.opened(formula))
            return version.title if same else ""

    def open(self, name: str) -> "tuple[SavedVersion, Formula]":
        """Return the saved version that a name stands for, and its formula; errors as `versions`."""
        from recommender.notebook import formulas as saved

        with self._here.reading() as db:
            found = self.version(name)
            assert db is not None, "a version comes from a notebook"
            return found, saved.formula_of(db, found, self._here.palette.catalogue)
