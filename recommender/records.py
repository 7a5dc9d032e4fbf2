"""The person's own records, in groups: each with the verbs that store, list and remove what is in it.

Every write is one transaction: all of it is stored, or nothing. What is removed can be brought back by its
number among the removed. Command line, page and Python store through these verbs alone.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from recommender.errors import BadTable, BadValue, UnknownMaterial, WrongCas
from recommender.evidence.catalogue import looks_like_cas, plain
from recommender.evidence.identity import identify
from recommender.evidence.overlay import SHIFTS, OwnMaterial
from recommender.evidence.sheets import Row, decimal, percent_of, read_sheet
from recommender.formulas import formula as formulas
from recommender.model import Bottle, Formula, Limit, Material, OwnNote, OwnStrip, Reading, TrialRecord
from recommender.open_notebook import FormulaSource, OpenNotebook
from recommender.palette import own_smells
from recommender.similarity.phrases import Words
from recommender.suggest.stock import Shelf

if TYPE_CHECKING:
    from recommender.calibration.fitting import Fit
    from recommender.notebook.formulas import SavedVersion
    from recommender.notebook.importers import Columns, ImportedRow
    from recommender.notebook.limits import LimitTable
    from recommender.notebook.removed import Removed
    from recommender.notebook.strips import StoredFit

Smelled: TypeAlias = Sequence[Reading] | Mapping[float, str]
"""Readings, or what is written of a strip by hour [h]: {8: "almond gone, hay clear"}."""
USUAL_ROOM_C = 25.0
_CELLS = {"dilution_percent": "dilution", "amount_g": "amount", "price_per_g": "price"}
"""The columns of a sheet of bottles, where a field of a bottle is called otherwise."""


def now(timespec: str = "seconds") -> str:
    """Return the time as a notebook stores it, in UTC: yyyy-mm-ddThh:mm:ss, or finer."""
    return datetime.now(UTC).replace(tzinfo=None).isoformat(timespec=timespec)


class _Group:
    """A group of records of one notebook."""

    def __init__(self, here: OpenNotebook) -> None:
        self._here = here


class ShelfRecords(_Group):
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
        texts |= {"lot": lot, "note": note} | {name: _cell(value) for name, value in given.items()}
        if not texts["label"]:
            raise BadValue("label", "", "write the label of the bottle")
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
            raise BadValue("solvent", texts["solvent"], "no solvent is called so")
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

        return importers.read(path, self._here.palette.catalogue, columns)

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
            raise BadValue("label", label, "it is your own word for a bottle, not a CAS number")
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


class NoseRecords(_Group):
    """Notes of the person's own nose on materials, which count in place of the table."""

    def add(
        self,
        material: Material | str,
        smells: str = "",
        denied: Words = (),
        *,
        also: bool = False,
        strength: str = "",
        blind: bool = False,
        words: str = "",
    ) -> tuple[OwnNote, bool]:
        """Store how a material smells to the person; returns the note, and whether it replaced one.

        Parameters
        ----------
        material : Material or str
        smells : str
            "raspberry 3, hay 1": 1 is a trace, 2 clear, 3 leading.
        denied : str or sequence of str
            What it does not smell of.
        also : bool
            Whether the smells are added to those of the table instead of replacing them.
        strength : str
            Against the table: much weaker, weaker, stronger or much stronger.
        blind : bool
            Whether the person cannot smell it.
        words : str
            Their own words.

        Raises
        ------
        UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadNotebook
        """
        if not (smells.strip() or denied or strength or also or blind or words.strip()):
            raise BadValue("smells", "", "write what it smells of to you, {denied}, or {strength}")
        if strength and strength not in SHIFTS:
            raise BadValue("strength", strength, f"it is one of {', '.join(SHIFTS)}")
        found = self._here.material(material)
        labels, absent = own_smells(smells, denied, self._here.palette)
        if also and not labels:
            raise BadValue("also", "", "write with {smells} what is to be added")
        note = OwnNote(found.slug, labels, absent, also, strength, blind, words.strip())
        return note, self._store(note)

    def blind(self, material: Material | str) -> Material:
        """Store that the person cannot smell a material, and return it; errors as `add`."""
        found = self._here.material(material)
        self._store(replace(found.own or OwnNote(found.slug), blind=True, instead_of=()))
        return found

    def _store(self, note: OwnNote) -> bool:
        from recommender.notebook import nose

        with self._here.writing() as db:
            return nose.note(db, note)

    def remove(self, material: Material | str) -> tuple[Material, int]:
        """Remove the note on a material; returns it with the number of the note among the removed.

        Raises
        ------
        UnknownMaterial, WrongCas, BadNotebook
        BadValue
            There is no note on it.
        """
        from recommender.notebook import nose

        found, removed = self._here.material(material), None
        if found.own is not None:
            with self._here.writing() as db:
                removed = nose.remove(db, found.slug)
        if removed is None:
            raise BadValue("material", found.name, f"your notebook has no note on {found.name}")
        return found, removed


class MaterialRecords(_Group):
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
        cells |= {"strength": strength, "pressure": _cell(pressure_pa), "molar_mass": _cell(molar_mass)}
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
        return [own_material(row) for row in read_sheet(path, REQUIRED, COLUMNS, unused)], unused

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
                raise BadValue("name", found.name, "it is a material of the table, not one that you added")
        return found, removed


class LimitRecords(_Group):
    """The limits that the person typed from the Standards in force, a table at a time."""

    def read_sheet(self, path: Path) -> tuple[list[Limit], list[str]]:
        """Return the limits of a sheet, and the columns that are not used; raises `BadTable`."""
        from recommender.notebook import limits

        unused: list[str] = []
        return limits.read(path, self._here.palette.catalogue, unused), unused

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


class FormulaRecords(_Group):
    """The saved formulas, every version of them."""

    def save(self, formula: FormulaSource, name: str = "", note: str = "") -> "list[SavedVersion]":
        """Save a formula as the next version of a name, accords in it first; the formula itself comes last.

        Parameters
        ----------
        formula : FormulaSource
        name : str
            That of the formula by default.
        note : str
            What is new in this version.

        Raises
        ------
        BadTable, BadNotebook
        BadValue
            A name under which nothing can be saved.
        """
        from recommender.notebook import formulas as saved

        catalogue, found = self._here.palette.catalogue, self._here.formula(formula)
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

    def open(self, name: str) -> "tuple[SavedVersion, Formula]":
        """Return the saved version that a name stands for, and its formula; errors as `versions`."""
        from recommender.notebook import formulas as saved

        with self._here.reading() as db:
            found = self.version(name)
            assert db is not None, "a version comes from a notebook"
            return found, saved.formula_of(db, found, self._here.palette.catalogue)


class TrialRecords(_Group):
    """How each version of a saved formula smelled, hour by hour."""

    def __init__(self, here: OpenNotebook, saved: FormulaRecords) -> None:
        super().__init__(here)
        self._saved = saved

    def records(self, name: str | None = None) -> list[TrialRecord]:
        """Return the trials of a saved name (all versions), of one version NAME@2, or all of the notebook.

        Raises
        ------
        BadValue, BadNotebook
        """
        with self._here.reading() as db:
            if db is None:
                return []
            from recommender.notebook import trials

            if name is None:
                return trials.of_versions(db)
            found = self._saved.version(name)
            wanted = [found] if "@" in name else self._saved.versions(found.name)
            return trials.of_versions(db, [one.version for one in wanted])

    def record(self, number: int) -> TrialRecord:
        """Return one trial; raises `BadValue` where none has this number, `BadNotebook`."""
        from recommender.notebook import trials

        with self._here.reading() as db:
            if db is None:
                raise trials.missing(number)
            return trials.find(db, number)

    def add(
        self,
        name: str,
        readings: Smelled = (),
        *,
        day: str = "",
        batch_g: float | None = None,
        room_c: float | None = None,
        verdict: str = "",
    ) -> TrialRecord:
        """Store a trial of a saved formula, NAME or NAME@2, and return it.

        Parameters
        ----------
        name : str
        readings : sequence of Reading, or mapping
            How it smelled, by hour [h]: {8: "almond gone, hay clear"}.
        day : str
            Such as 2024-03-01; today by default.
        batch_g : float, optional
            Size of the batch [g].
        room_c : float, optional
            The room [C].
        verdict : str

        Raises
        ------
        BadValue, UnknownFacet, BadNotebook
        """
        from recommender.notebook import trials

        found, day = _readings(readings, self._here), _day(day)
        with self._here.writing(existing=True) as db:
            version = self._saved.version(name)
            record = TrialRecord(version.name, version.number, day, batch_g, room_c, verdict.strip(), found)
            return replace(record, number=trials.add(db, version.version, record))

    def add_all(self, records: Sequence[TrialRecord]) -> list[TrialRecord]:
        """Store some trials, all or none; returns them with their numbers."""
        from recommender.notebook import trials

        with self._here.writing(existing=True) as db:
            rows = [self._saved.version(f"{one.formula}@{one.version}").version for one in records]
            return [
                replace(one, number=trials.add(db, row, one)) for row, one in zip(rows, records, strict=True)
            ]

    def read(self, number: int, readings: Smelled, verdict: str | None = None) -> TrialRecord:
        """Add readings to a trial, and a verdict where one is given; returns the trial as it is then.

        Raises
        ------
        BadValue, UnknownFacet, BadNotebook
        """
        from recommender.notebook import trials

        found = _readings(readings, self._here)
        if not found and verdict is None:
            raise BadValue("smelled", "", 'write how it smelled: {smelled} 8h "almond gone"')
        with self._here.writing(existing=True) as db:
            trials.find(db, number)
            trials.add_readings(db, number, found)
            if verdict is not None:
                trials.judge(db, number, verdict.strip())
            return trials.find(db, number)

    def read_today(self, name: str, readings: Smelled) -> TrialRecord:
        """Add readings to today's trial of a saved version, made if there is none yet; errors as `add`."""
        today = date.today().isoformat()
        version = self._saved.version(name)
        records = [record for record in self.records(version.title) if record.day == today]
        return self.read(records[-1].number, readings) if records else self.add(version.title, readings)

    def read_sheet(self, path: Path, name: str = "") -> tuple[list[TrialRecord], list[str]]:
        """Return the trials of a sheet, and the columns that are not used.

        Parameters
        ----------
        path : Path
        name : str
            The formula of the lines that name none.

        Raises
        ------
        BadTable, BadValue, BadNotebook
        """
        from recommender.notebook.importers import day as day_in
        from recommender.notebook.readings import ABOUT_A_TRIAL, from_sheet

        found: list[TrialRecord] = []
        unused: list[str] = []
        for row, readings in from_sheet(path, ABOUT_A_TRIAL, self._here.palette.smell, unused):
            if not (row["formula"] or name):
                raise row.wrong("formula", "no formula is named", "Say --formula NAME for all lines")
            try:
                saved = self._saved.version(row["formula"] or name)
            except BadValue as error:
                if not row["formula"]:
                    raise
                raise row.wrong("formula", f'"{error.value}": {error.wanted}') from None
            batch_g, room_c = decimal(row, "batch_g"), decimal(row, "room_c")
            if batch_g is not None and batch_g <= 0:
                raise row.wrong("batch_g", f"{batch_g:g} g is no batch")
            day, verdict = day_in(row, "day") or _day(""), row["verdict"]
            found.append(
                TrialRecord(saved.name, saved.number, day, batch_g, room_c, verdict, tuple(readings))
            )
        return found, unused

    def remove(self, number: int) -> tuple[TrialRecord, int]:
        """Remove a trial with all its readings; returns it with its number among the removed.

        Raises
        ------
        BadValue, BadNotebook
        """
        from recommender.notebook import trials

        with self._here.writing(existing=True) as db:
            record, removed = trials.find(db, number), trials.remove(db, number)
        if removed is None:
            raise trials.missing(number)
        return record, removed


class StripRecords(_Group):
    """Strips of single materials, and what was fitted to them."""

    def records(self) -> list[OwnStrip]:
        """Return the strips, those of materials no longer known left out."""
        with self._here.reading() as db:
            if db is None:
                return []
            from recommender.notebook import strips

            catalogue = self._here.palette.catalogue
            rows = catalogue.index
            return strips.strips(db, lambda slug: catalogue.by_slug(slug) if slug in rows else None)

    def add(
        self,
        material: Material | str,
        readings: Smelled = (),
        *,
        dilution_percent: float | str = "",
        solvent: str = "",
        day: str = "",
        room_c: float | None = None,
    ) -> OwnStrip:
        """Store a strip of a material (20 mg on 5 cm2), and return it.

        Parameters
        ----------
        material : Material or str
        readings : sequence of Reading, or mapping
            How strong it was, by hour [h]: {1: "clear", 8: "gone"}.
        dilution_percent : float or str
            Dilution [%]; neat by default.
        solvent : str
            Dipropylene glycol by default.
        day : str
            Such as 2024-03-01; today by default.
        room_c : float, optional
            The room [C]; 25 by default.

        Raises
        ------
        UnknownMaterial, WrongCas, BadValue, BadNotebook
        """
        row = Row("strip", 0, {"dilution_percent": _cell(dilution_percent), "solvent": solvent})
        found = self._here.material(material)
        try:
            strip = self._strip(row, found, _day(day), room_c, _readings(readings, self._here))
        except BadTable as error:
            field = error.column or ""
            raise BadValue(field, row[field], error.problem) from None
        return self.add_all([strip])[0]

    def _strip(
        self, row: Row, material: Material, day: str, room_c: float | None, readings: tuple[Reading, ...]
    ) -> OwnStrip:
        from recommender.calibration.fitting import check_material
        from recommender.notebook.importers import solvent_of

        check_material(material)
        percent = percent_of(row, "dilution_percent")
        if percent is not None and not 0 < percent <= 100:
            raise row.wrong("dilution_percent", f"{percent:g} % is not a dilution", "Above 0, at most 100")
        solvent = solvent_of(row["solvent"], self._here.palette.catalogue) if row["solvent"] else ""
        if row["solvent"] and not solvent:
            raise row.wrong("solvent", f'no solvent is called "{row["solvent"]}"')
        room_c = USUAL_ROOM_C if room_c is None else room_c
        return OwnStrip(material, _whole(readings), (percent or 100.0) / 100.0, solvent, room_c, day)

    def add_all(self, strips: Sequence[OwnStrip]) -> list[OwnStrip]:
        """Store some strips, all or none; returns them with their numbers."""
        from recommender.notebook import strips as records

        with self._here.writing() as db:
            return [replace(strip, number=records.add(db, strip)) for strip in strips]

    def read(self, number: int, readings: Smelled) -> tuple[Reading, ...]:
        """Add readings to a strip, and return them.

        Raises
        ------
        BadValue, BadNotebook
        """
        from recommender.notebook import strips

        found = _whole(_readings(readings, self._here))
        if not found:
            raise BadValue("smelled", "", "write how it smelled: {smelled} 8h trace")
        with self._here.writing(existing=True) as db:
            strips.add_readings(db, number, found)
        return found

    def read_sheet(self, path: Path) -> tuple[list[OwnStrip], list[str]]:
        """Return the strips of a sheet, and the columns that are not used; raises `BadTable`."""
        from recommender.notebook.importers import day as day_in
        from recommender.notebook.readings import ABOUT_A_STRIP, from_sheet

        palette = self._here.palette
        found: list[OwnStrip] = []
        unused: list[str] = []
        for row, readings in from_sheet(path, ABOUT_A_STRIP, palette.smell, unused):
            try:
                room_c = decimal(row, "room_c")
                identity = identify(row["material"], row["cas"], palette.catalogue)
                if identity.candidates:
                    raise row.wrong("material", identity.reason, "Correct the one that is wrong")
                material = identity.material or palette.catalogue.find(row["material"])
                day = day_in(row, "day") or _day("")
                found.append(self._strip(row, material, day, room_c, tuple(readings)))
            except (UnknownMaterial, WrongCas) as error:
                raise row.wrong("material", str(error)) from None
            except BadValue as error:
                column = "material" if error.field == "strip" else "facet"
                raise row.wrong(column, error.wanted) from None
        return found, unused

    def remove(self, number: int) -> int:
        """Remove a strip; returns its number among the removed. What was fitted stays until the next fit.

        Raises
        ------
        BadValue, BadNotebook
        """
        from recommender.notebook import strips

        with self._here.writing(existing=True) as db:
            removed = strips.remove(db, number)
            if removed is None:
                raise strips.missing(number)
        return removed

    def fit(self, *, use: bool = False) -> "Fit":
        """Fit still air, paper and nose to the strips; `use` stores the fit for every drydown.

        Raises
        ------
        BadValue
            There are no strips with readings.
        BadNotebook
        """
        from recommender.calibration.fitting import fit

        found = fit([strip for strip in self.records() if strip.readings])
        if use:
            from recommender.notebook import strips

            fitted = found.conditions
            figures = {name: getattr(fitted, name) for name in ("film_m", "nose_l_per_s", "paper_share")}
            own = {slug: asdict(offset) for slug, offset in fitted.own.items()}
            with self._here.writing() as db:
                strips.store_fit(db, now(), figures | {"room_c": fitted.temperature_c}, own)
        return found

    def fit_in_use(self) -> "StoredFit | None":
        """Return the last fit that was stored, None where the figures of the table count."""
        with self._here.reading() as db:
            if db is None:
                return None
            from recommender.notebook import strips

            return strips.last_fit(db)

    def reset_fit(self) -> int | None:
        """Go back to the figures of the table; the strips stay.

        Returns the number of the last fit among the removed, None where there was none.
        """
        from recommender.notebook import strips

        if self.fit_in_use() is None:
            return None
        with self._here.writing() as db:
            return strips.reset(db)


class RemovedRecords(_Group):
    """What was removed or replaced; all of it can be brought back."""

    def entries(self, kind: str = "") -> "list[Removed]":
        """Return what was removed, of one kind or all, the last first."""
        with self._here.reading() as db:
            if db is None:
                return []
            from recommender.notebook import removed

            return removed.listed(db, kind)

    def bring_back(self, number: int) -> "Removed":
        """Bring something removed back as it was, and return it; what stands in its place is removed.

        Raises
        ------
        BadValue
            Nothing removed has this number, or another entry has taken its place.
        BadNotebook
        """
        from recommender.notebook import removed

        with self._here.writing(existing=True) as db:
            return removed.bring_back(db, number)


def _cell(value: Any) -> str:
    """Return a value as the cell of a sheet; blank where there is none."""
    return "" if value is None else value.strip() if isinstance(value, str) else f"{value:.10g}"


def _day(text: str) -> str:
    """Return a day as yyyy-mm-dd, today where it is blank; raises `BadValue`."""
    from recommender.notebook.importers import day

    try:
        return day(Row("", 0, {"day": text}), "day") or date.today().isoformat()
    except BadTable as error:
        raise BadValue("day", text, f"{error.problem}; write it as 2024-03-01") from None


def _readings(given: Smelled, here: OpenNotebook) -> tuple[Reading, ...]:
    """Return readings as they are, or read what is written of each hour."""
    if not isinstance(given, Mapping):
        return tuple(given)
    from recommender.notebook.readings import readings_of

    smell = here.palette.smell
    return tuple(one for hours, text in given.items() for one in readings_of(text, hours, smell))


def _whole(readings: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """Return readings of a strip of one material; raises `BadValue` where one names a facet."""
    for one in readings:
        if one.facet:
            raise BadValue("reading", one.facet, "a strip of one material is read as a whole: write clear")
    return readings
