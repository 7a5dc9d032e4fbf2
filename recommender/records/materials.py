"""Materials that the person adds, one by one or from a sheet."""

from collections.abc import Iterable
from pathlib import Path

from recommender.errors import BadTable, BadValue
from recommender.evidence.overlay import OwnMaterial
from recommender.evidence.sheets import Row, read_sheet
from recommender.model import Material
from recommender.records.group import Group, cell


class MaterialRecords(Group):
    """The materials that the person added."""

    def add(
        self,
        name: str,
        smells: str,
        *,
        cas: str = "",
        smiles: str = "",
        kind: str = "",
        strength: str = "",
        pressure_pa: float | str | None = None,
        molar_mass: float | str | None = None,
        note: str = "",
    ) -> tuple[OwnMaterial, list[str]]:
        """Add a material; returns it, and what was estimated or stays unknown.

        The same name again takes the place of the older one.

        Parameters
        ----------
        name, cas, smiles, note : str
        smells : str
            "rose 3, honey 1": 1 is a trace, 2 clear, 3 leading.
        kind : str
            molecule (by default), natural or base.
        strength : str
            faint, soft, medium, strong, very strong or extreme.
        pressure_pa : float or str, optional
            Vapour pressure at 25 C [Pa]; estimated from the structure by default.
        molar_mass : float or str, optional
            [g/mol]; from the structure by default.

        Raises
        ------
        BadValue, WrongCas, BadNotebook
        """
        from recommender.notebook.own_materials import own_material

        cells = {"name": name, "smells": smells, "cas": cas, "smiles": smiles, "kind": kind, "note": note}
        cells |= {"strength": strength, "pressure": cell(pressure_pa), "molar_mass": cell(molar_mass)}
        try:
            own, notes = own_material(Row("material", 0, cells))
        except BadTable as error:
            field = "pressure_pa" if error.column == "pressure" else str(error.column)
            raise BadValue(field, "", "; ".join(filter(None, (error.problem, error.remedy)))) from None
        self.add_all([own])
        return own, notes

    def read_sheet(self, path: Path) -> tuple[list[tuple[OwnMaterial, list[str]]], list[str]]:
        """Return the materials of a sheet, each with what was estimated, and the columns that are not used.

        Raises
        ------
        BadTable, WrongCas
        """
        from recommender.notebook.own_materials import COLUMNS, REQUIRED, own_material

        unused: list[str] = []
        rows = read_sheet(path, REQUIRED, COLUMNS, unused, sheet=self._here.sheet)
        return [own_material(row) for row in rows], unused

    def add_all(self, materials: Iterable[OwnMaterial]) -> None:
        """Add some materials, all or none."""
        from recommender.notebook import nose

        with self._here.writing() as db:
            for own in materials:
                nose.add_material(db, own)

    def remove(self, name: Material | str) -> tuple[Material, int]:
        """Remove a material that was added; returns it with its number among the removed.

        Raises
        ------
        UnknownMaterial, WrongCas, BadNotebook
        BadValue
            It is a material of the table.
        """
        from recommender.notebook import nose

        found = self._here.material(name)
        with self._here.writing() as db:
            removed = nose.remove_material(db, found.slug)
            if removed is None:
                raise BadValue("name", found.name, "it is a shipped material, not one that you added")
        return found, removed
