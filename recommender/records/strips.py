"""Strips of single materials, and the fit to them."""

from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING

from recommender.errors import BadTable, BadValue, UnknownMaterial, WrongCas
from recommender.evidence.identity import diluted, dilution_in, identify
from recommender.evidence.sheets import Row, measure, percent_of
from recommender.model import Material, OwnStrip, Reading
from recommender.progress import Progress
from recommender.records.group import Group, cell, day_of, now
from recommender.records.trials import Smelled, one_reading, readings_in
from recommender.units import CELSIUS

if TYPE_CHECKING:
    from recommender.calibration.fitting import Fit
    from recommender.notebook.strips import StoredFit

USUAL_ROOM_C = 25.0
"""The room of a strip for which none is given [C]."""


class StripRecords(Group):
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
        row = Row("strip", 0, {"dilution_percent": cell(dilution_percent), "solvent": solvent})
        found = self._here.material(material)
        try:
            strip = self._strip(row, found, day_of(day), room_c, readings_in(readings, self._here))
        except BadTable as error:
            field = error.column or ""
            raise BadValue(field, row[field], error.problem) from None
        return self.add_all([strip])[0]

    def _strip(
        self, row: Row, material: Material, day: str, room_c: float | None, readings: tuple[Reading, ...]
    ) -> OwnStrip:
        from recommender.calibration.fitting import check_material
        from recommender.evidence.identity import solvent_of

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

        found = _whole(readings_in(readings, self._here))
        if not found:
            raise BadValue("smelled", "", "give at least one reading: {smelled} 8h trace")
        with self._here.writing(existing=True) as db:
            strips.add_readings(db, number, found)
        return found

    def correct(self, number: int, place: int, text: str, hours: float | None = None) -> Reading:
        """Put another reading in the place of one; the older one can be brought back.

        `hours` is when it was smelled [h], by default as before.

        Raises
        ------
        BadValue, BadNotebook
        """
        from recommender.notebook import single_readings

        with self._here.writing(existing=True) as db:
            was = single_readings.hours_of(db, "strip", number, place)
            (found,) = _whole((one_reading(text, was if hours is None else hours, self._here),))
            single_readings.change(db, "strip", number, place, found)
        return found

    def remove_reading(self, number: int, place: int) -> int:
        """Take one reading off a strip; returns its number among the removed.

        Raises
        ------
        BadValue, BadNotebook
        """
        from recommender.notebook import single_readings

        with self._here.writing(existing=True) as db:
            return single_readings.remove(db, "strip", number, place)

    def read_sheet(self, path: Path) -> tuple[list[OwnStrip], list[str]]:
        """Return the strips of a sheet, and the columns that are not used; raises `BadTable`."""
        from recommender.notebook.importers import day as day_in
        from recommender.notebook.readings import ABOUT_A_STRIP, from_sheet

        palette = self._here.palette
        found: list[OwnStrip] = []
        unused: list[str] = []
        for row, readings in from_sheet(path, ABOUT_A_STRIP, palette.smell, unused, self._here.sheet):
            try:
                room_c = measure(row, "room_c", CELSIUS)
                name = row["material"]
                if inside := diluted(name):
                    cells = dilution_in(row, name, inside, palette.catalogue, unused)
                    name = name if palette.catalogue.meanings(name) else inside.name
                    row = replace(row, cells=row.cells | cells | {"material": name})
                identity = identify(name, row["cas"], palette.catalogue)
                if identity.candidates:
                    raise row.wrong("material", identity.reason, "Correct the one that is wrong")
                material = identity.material or palette.catalogue.find(row["material"])
                day = day_in(row, "day") or day_of("")
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

    def fit(self, *, use: bool = False, progress: Progress | None = None) -> "Fit":
        """Fit still air, paper and nose to the strips; `use` stores the fit for every drydown.

        `progress` is given the share of the work that is done, 0-1.

        Raises
        ------
        BadValue
            There are no strips with readings.
        BadNotebook
        """
        from recommender.calibration.fitting import fit

        found = fit([strip for strip in self.records() if strip.readings], progress)
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


def _whole(readings: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """Return readings of a strip of one material; raises `BadValue` where one names a facet."""
    for one in readings:
        if one.facet:
            raise BadValue(
                "reading", one.facet, "a strip of one material is read without facets, such as clear"
            )
    return readings
