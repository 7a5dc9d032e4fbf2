"""Bottles: put on the shelf by hand or from a sheet, resolved, removed."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from recommender.errors import BadTable, BadValue
from recommender.evidence.catalogue import looks_like_cas, plain
from recommender.evidence.sheets import Row
from recommender.model import Bottle, Material
from recommender.records.group import Group, cell
from recommender.suggest.stock import Shelf

if TYPE_CHECKING:
    from recommender.notebook.importers import Columns, ImportedRow

_CELLS = {"dilution_percent": "dilution", "amount_g": "amount", "price_per_g": "price"}
"""The columns of a sheet of bottles, where a field of a bottle is called otherwise."""


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
        from recommender.notebook import importers, shelf

        given = {"dilution_percent": dilution_percent, "amount_g": amount_g, "price_per_g": price_per_g}
        texts = {"label": " ".join(label.split()), "solvent": solvent.strip(), "opened": opened}
        texts |= {"lot": lot, "note": note} | {name: cell(value) for name, value in given.items()}
        if not texts["label"]:
            raise BadValue("label", "", "give the text on the bottle")
        cells = {_CELLS.get(name, name): text for name, text in texts.items()} | {"material": "", "cas": ""}
        catalogue = self._here.palette.catalogue
        try:
            bottle, _, _ = importers.bottle_of(Row("bottle", 0, cells), catalogue)
        except BadTable as error:
            field = next((name for name, column in _CELLS.items() if column == error.column), error.column)
            raise BadValue(str(field), texts.get(str(field), ""), error.problem) from None
        if material:
            bottle = replace(bottle, material=self._here.material(material).slug)
        elif not bottle.material:
            bottle = replace(bottle, material=catalogue.find(texts["label"]).slug)  # its error names the near
        if texts["solvent"] and not bottle.solvent and bottle.dilution_percent < 100:
            raise BadValue("solvent", texts["solvent"], "no solvent has this name")
        with self._here.writing() as db:
            bottle = replace(bottle, number=shelf.add(db, bottle))
            shelf.learn(db, bottle, catalogue)
        return bottle

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

    def add_all(self, bottles: Iterable[Bottle]) -> list[tuple[Bottle, bool, str]]:
        """Put the bottles of a sheet on the shelf; those that are there are brought up to date.

        Returns each with whether it is new, and the key of its material, blank where that is open.
        """
        from recommender.notebook import shelf

        catalogue = self._here.palette.catalogue
        with self._here.writing() as db:
            return shelf.add_all(db, bottles, catalogue)

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
