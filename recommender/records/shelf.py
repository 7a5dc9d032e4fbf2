"""Bottles: put on the shelf by hand or from a sheet, resolved, removed."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from recommender.errors import BadTable, BadValue, ChangedMeanwhile
from recommender.evidence.catalogue import looks_like_cas, plain
from recommender.evidence.sheets import Row
from recommender.model import Bottle, Material
from recommender.records.group import Group, cell
from recommender.records.group import now as timed
from recommender.suggest.stock import Shelf

if TYPE_CHECKING:
    from recommender.notebook.importers import Columns, ImportedRow
    from recommender.notebook.shelf_changes import ShelfChange
    from recommender.weighing.plan import WeighingSheet
    from recommender.weighing.withdrawals import Withdrawal

_CELLS = {"dilution_percent": "dilution", "amount_g": "amount", "price_per_g": "price"}
"""The columns of a sheet of bottles, where a field of a bottle is called otherwise."""
BOTTLE = "bottle"
"""A label that says nothing, not even a dilution."""
EDITED = frozenset({"dilution_percent", "solvent", "amount_g", "price_per_g", "opened", "lot", "note"})
"""What can be changed of a bottle on the shelf; its label and material are set by `resolve`."""


class ShelfRecords(Group):
    """The bottles on the shelf, and the materials of their labels."""

    def stock(self) -> Shelf:
        """Return the bottles as they are today."""
        with self._here.reading() as db:
            if db is None:
                return Shelf((), date.today())
            from recommender.notebook import shelf

            return Shelf(tuple(shelf.bottles(db)), date.today())

    def add(
        self,
        label: str,
        material: Material | str = "",
        *,
        dilution_percent: float | str = "",
        solvent: str = "",
        amount_g: float | str | None = None,
        price_per_g: float | str | None = None,
        opened: str = "",
        lot: str = "",
        note: str = "",
    ) -> Bottle:
        """Put a bottle on the shelf; its label is stored, so that it counts in formulas too.

        Parameters
        ----------
        label : str
            As on the bottle.
        material : Material or str
            What is in it; by default the material of its label.
        dilution_percent : float or str
            Dilution [%]; neat by default.
        solvent : str
        amount_g : float or str, optional
            How much is left [g], or with its unit: "0.5 kg".
        price_per_g : float or str, optional
            Price of a gram of what is in the bottle.
        opened : str
            A date such as 2024-03-01.
        lot, note : str

        Raises
        ------
        UnknownMaterial, WrongCas, BadValue, BadNotebook
        """
        from recommender.notebook import shelf

        given: dict[str, Any] = {
            "dilution_percent": dilution_percent, "solvent": solvent, "amount_g": amount_g,
            "price_per_g": price_per_g, "opened": opened, "lot": lot, "note": note,
        }  # fmt: skip
        bottle = self._typed(label, given)
        catalogue = self._here.palette.catalogue
        if material:
            bottle = replace(bottle, material=self._here.material(material).slug)
        elif not bottle.material:
            bottle = replace(bottle, material=catalogue.find(bottle.label).slug)  # its error names the near
        with self._here.writing() as db:
            bottle = replace(bottle, number=shelf.add(db, bottle))
            shelf.learn(db, bottle, catalogue)
        return bottle

    def _typed(self, label: str, given: Mapping[str, Any]) -> Bottle:
        """Return a bottle as it was typed, its material that of its label; raises `BadValue`."""
        from recommender.notebook import importers

        texts = {"label": " ".join(label.split()), **{name: cell(value) for name, value in given.items()}}
        if not texts["label"]:
            raise BadValue("label", "", "give the text on the bottle")
        cells = {_CELLS.get(name, name): text for name, text in texts.items()} | {"material": "", "cas": ""}
        try:
            bottle, _, _ = importers.bottle_of(Row("bottle", 0, cells), self._here.palette.catalogue)
        except BadTable as error:
            field = next((name for name, column in _CELLS.items() if column == error.column), error.column)
            raise BadValue(str(field), texts.get(str(field), ""), error.problem) from None
        if texts["solvent"] and not bottle.solvent and bottle.dilution_percent < 100:
            raise BadValue("solvent", texts["solvent"], "no solvent has this name")
        return bottle

    def edit(self, number: int, seen: Bottle | None = None, **cells: Any) -> "ShelfChange | None":
        """Change a bottle; returns the change, None where it is as it was.

        Parameters
        ----------
        number : int
        seen : Bottle, optional
            The bottle as it was when the change was typed.
        **cells
            What is new: `dilution_percent`, `solvent`, `amount_g`, `price_per_g`, `opened`, `lot`, `note`, as
            for `add`; blank or None is unknown.

        Raises
        ------
        BadValue, BadNotebook
        TypeError
            A cell that is none of them.
        ChangedMeanwhile
            The bottle is another than was seen.
        """
        from recommender.notebook import shelf, shelf_changes

        if unknown := sorted(cells.keys() - EDITED):
            raise TypeError(f"edit() got an unexpected keyword argument '{unknown[0]}'")
        catalogue = self._here.palette.catalogue
        with self._here.writing(existing=True) as db:
            now = next((bottle for bottle in shelf.bottles(db) if bottle.number == number), None)
            if now is None:
                raise BadValue("number", number, "no bottle has it; `recommender shelf list` shows them")
            if seen is not None and seen != now:
                raise ChangedMeanwhile(now.label)
            as_typed = {name: getattr(now, name) for name in EDITED}
            if now.solvent in catalogue.index:
                as_typed["solvent"] = catalogue.by_slug(now.solvent).name
            new = self._typed(BOTTLE, as_typed | cells)
            new = replace(new, label=now.label, material=now.material, number=number)
            with shelf_changes.recording(db, "changed", now.label, timed()) as recorder:
                recorder.watch(number)
                shelf.update(db, number, new)
            return recorder.change

    def weighed(
        self,
        sheet: "WeighingSheet",
        from_bottles: Collection[int] = (),
        *,
        top_up: bool = False,
        taken: "Sequence[Withdrawal] | None" = None,
    ) -> "tuple[ShelfChange | None, tuple[Withdrawal, ...]]":
        """Take what was weighed out of the bottles whose amount is known.

        Parameters
        ----------
        sheet : WeighingSheet
            That of `Workspace.weigh`.
        from_bottles : collection of int
            Numbers of the bottles to take from, where several have one material.
        top_up : bool
            Whether the finished product was topped up too.
        taken : sequence of Withdrawal, optional
            What is taken from which bottle, where that was chosen line by line.

        Returns
        -------
        ShelfChange or None
            What can be undone; None where nothing of it is on the shelf with an amount.
        tuple of Withdrawal
            Each material, and the bottle from which it was taken, if any.

        Raises
        ------
        BadValue
            A number that is that of no bottle of what is weighed.
        BadNotebook
        """
        from recommender.notebook import shelf_changes
        from recommender.weighing.withdrawals import chosen, withdrawals

        if taken is None:
            taken = chosen(withdrawals(sheet, self.stock().by_material, top_up), from_bottles)
        grams: dict[int, float] = {}
        for one in taken:
            if one.bottle is not None:
                grams[one.bottle.number] = grams.get(one.bottle.number, 0.0) + one.taken_g
        if not grams:
            return None, tuple(taken)
        with self._here.writing(existing=True) as db:
            change = shelf_changes.weigh_out(db, grams, sheet.formula.name, sheet.batch_g, timed())
        return change, tuple(taken)

    def changes(self) -> "list[ShelfChange]":
        """Return what was done to bottles in one go and can be undone, the last first."""
        with self._here.reading() as db:
            if db is None:
                return []
            from recommender.notebook import shelf_changes

            return shelf_changes.changes(db)

    def undo(self, number: int) -> "tuple[ShelfChange, int]":
        """Undo a change of bottles: every amount is as before; returns it with its number among the removed.

        Raises
        ------
        BadValue
            No change has this number, or a bottle of it was taken off the shelf since.
        BadNotebook
        """
        from recommender.notebook import shelf_changes

        change = next((one for one in self.changes() if one.number == number), None)
        removed = None
        if change is not None:
            with self._here.writing(existing=True) as db:
                removed = shelf_changes.undo(db, number)
        if change is None or removed is None:
            wanted = "no change of the shelf has it; `recommender shelf changes` lists them"
            raise BadValue("number", number, wanted)
        return change, removed

    def read_sheet(
        self, path: Path, columns: Mapping[str, str] | None = None
    ) -> "tuple[Columns, list[ImportedRow]]":
        """Return how the columns of a sheet were read, and its rows; `columns` names the header of a field.

        Raises
        ------
        BadTable, BadValue
        """
        from recommender.notebook import importers

        return importers.read(path, self._here.palette.catalogue, columns, self._here.sheet)

    def add_all(self, bottles: Iterable[Bottle], name: str = "a sheet") -> list[tuple[Bottle, bool, str]]:
        """Put the bottles of a sheet on the shelf; those that are there are brought up to date.

        All of it is one change, under the `name` of the sheet: `undo` takes it back.

        Returns each with whether it is new, and the key of its material, blank where that is open.
        """
        from recommender.notebook import shelf, shelf_changes

        catalogue = self._here.palette.catalogue
        with self._here.writing() as db, shelf_changes.recording(db, "imported", name, timed()) as recorder:
            return shelf.add_all(db, bottles, catalogue, recorder)

    def resolve(self, label: str, material: Material | str) -> tuple[Material, int, Material | None]:
        """Set the material of a label.

        Returns the material, on how many bottles it was set, and where the label is itself the name of a
        material, that one: in formulas the name means the same as before.

        Raises
        ------
        UnknownMaterial, WrongCas, BadValue, BadNotebook
        """
        from recommender.notebook import shelf

        if not label.strip() or looks_like_cas(plain(label)):
            raise BadValue("label", label, "a label is your own name for a bottle, not a CAS number")
        catalogue, found = self._here.palette.catalogue, self._here.material(material)
        with self._here.writing() as db:
            count, named = shelf.resolve(db, " ".join(label.split()), found.slug, catalogue)
        return found, count, named

    def remove(self, number: int) -> tuple[Bottle, int]:
        """Take a bottle off the shelf; returns it with its number among the removed.

        The material of its label stays stored.

        Raises
        ------
        BadValue, BadNotebook
        """
        from recommender.notebook import shelf

        bottle = next((bottle for bottle in self.stock().bottles if bottle.number == number), None)
        removed = None
        if bottle is not None:
            with self._here.writing() as db:
                removed = shelf.remove(db, number)
        if bottle is None or removed is None:
            raise BadValue("number", number, "no bottle has it; `recommender shelf list` shows them")
        return bottle, removed
