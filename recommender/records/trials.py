"""Trials of saved formulas, and the readings of a strip."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from recommender.errors import BadValue
from recommender.evidence.sheets import measure
from recommender.model import Reading, TrialRecord, TriangleAnswer
from recommender.open_notebook import OpenNotebook
from recommender.records.formulas import FormulaRecords
from recommender.records.group import Group, day_of, now
from recommender.units import CELSIUS, MASSES

if TYPE_CHECKING:
    from recommender.notebook.formulas import SavedVersion
    from recommender.reformulation.triangle import TriangleTest

Smelled: TypeAlias = Sequence[Reading] | Mapping[float, str]
"""Readings, or what is written of a strip by hour [h]: {8: "almond gone, hay clear"}."""


class TrialRecords(Group):
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
        dipped: str = "",
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
        dipped : str
            When the strip was dipped, yyyy-mm-ddThh:mm in UTC.

        Raises
        ------
        BadValue, UnknownFacet, BadNotebook
        """
        from recommender.notebook import trials

        found, day = readings_in(readings, self._here), day_of(day)
        with self._here.writing(existing=True) as db:
            version = self._saved.version(name)
            about = version.name, version.number, day, batch_g, room_c, verdict.strip()
            record = TrialRecord(*about, found, dipped=dipped)
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

        found = readings_in(readings, self._here)
        if not found and verdict is None:
            raise BadValue("smelled", "", 'give at least one reading: {smelled} 8h "almond gone"')
        with self._here.writing(existing=True) as db:
            trials.find(db, number)
            trials.add_readings(db, number, found)
            if verdict is not None:
                trials.judge(db, number, verdict.strip())
            return trials.find(db, number)

    def correct(self, number: int, place: int, text: str, hours: float | None = None) -> Reading:
        """Put another reading in the place of one, and return it; the older one can be brought back.

        Parameters
        ----------
        number : int
            Of the trial.
        place : int
            Of the reading within it.
        text : str
            One reading, such as "almond trace".
        hours : float, optional
            When it was smelled [h]; as before by default.

        Raises
        ------
        BadValue, UnknownFacet, BadNotebook
        """
        from recommender.notebook import single_readings, trials

        with self._here.writing(existing=True) as db:
            trials.find(db, number)
            was = single_readings.hours_of(db, "trial", number, place)
            found = one_reading(text, was if hours is None else hours, self._here)
            single_readings.change(db, "trial", number, place, found)
        return found

    def remove_reading(self, number: int, place: int) -> int:
        """Take one reading out of a trial; returns its number among the removed.

        Raises
        ------
        BadValue, BadNotebook
        """
        from recommender.notebook import single_readings, trials

        with self._here.writing(existing=True) as db:
            trials.find(db, number)
            return single_readings.remove(db, "trial", number, place)

    def dip(self, name: str) -> TrialRecord:
        """Start a trial of a saved version, NAME or NAME@2: its strip is dipped now; errors as `add`."""
        return self.add(name, dipped=now("minutes"))

    def triangle(
        self,
        name: str,
        answers: Mapping[float, str],
        *,
        against: str = "",
        day: str = "",
        room_c: float | None = None,
    ) -> TrialRecord:
        """Store answers of a triangle test of a saved version against another, and return its trial.

        They are added to the last such trial that has no answer for these strips, else to a new one. The key
        follows from the two formulas, as on the sheet.

        Parameters
        ----------
        name : str
            The version after, NAME or NAME@2.
        answers : mapping of float -> str
            By hour [h] the number of the strip that was taken for the odd one, and words:
            {0.25: "482 greener"}.
        against : str
            The version before; the one before it by default.
        day, room_c
            As `add`, for a new trial.

        Raises
        ------
        BadValue
            A version that is not saved, a number that is on none of the strips, strips that are answered.
        BadNotebook
        """
        from recommender.notebook import trials
        from recommender.reformulation.triangle import triangle

        if not answers:
            raise BadValue("smelled", "", 'give at least one answer: {smelled} 15min "482 greener"')
        with self._here.writing(existing=True) as db:
            after = self._saved.version(name)
            before = self._saved.version(against) if against else self._before(after)
            if before.version == after.version:
                raise BadValue("against", before.title, "name another version than the one that was tested")
            test = triangle(*(self._saved.open(one.title)[1] for one in (before, after)))
            test = replace(test, name=f"{after.title} against {before.title}")
            found = tuple(_answer(test, hours, text) for hours, text in answers.items())
            if len({one.strips for one in found}) < len(found):
                raise BadValue("smelled", "", "two answers are of the same three strips")
            begun = _begun(trials.of_versions(db, [after.version]), before.title, found)
            if begun is None:
                begun = TrialRecord(after.name, after.number, day_of(day), room_c=room_c)
                begun = replace(begun, number=trials.add(db, after.version, begun))
            number = begun.number
            trials.add_triangle(db, number, before.version, found)
            return trials.find(db, number)

    def _before(self, version: "SavedVersion") -> "SavedVersion":
        """Return the version before a saved one; raises `BadValue` where there is none."""
        earlier = [one for one in self._saved.versions(version.name) if one.number < version.number]
        if not earlier:
            raise BadValue("against", version.title, "there is no version before it; name one with {against}")
        return earlier[-1]

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
        for row, readings in from_sheet(
            path, ABOUT_A_TRIAL, self._here.palette.smell, unused, self._here.sheet
        ):
            if not (row["formula"] or name):
                raise row.wrong("formula", "no formula is named", "Name one formula for all lines")
            try:
                saved = self._saved.version(row["formula"] or name)
            except BadValue as error:
                if not row["formula"]:
                    raise
                raise row.wrong("formula", f'"{error.value}": {error.wanted}') from None
            batch_g, room_c = measure(row, "batch_g", MASSES), measure(row, "room_c", CELSIUS)
            if batch_g is not None and batch_g <= 0:
                raise row.wrong("batch_g", f"{batch_g:g} g is not a batch size")
            day, verdict = day_in(row, "day") or day_of(""), row["verdict"]
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


def _begun(
    records: Sequence[TrialRecord], against: str, answers: Sequence[TriangleAnswer]
) -> TrialRecord | None:
    """Return the last triangle test against a version without answers for these strips, None without one."""
    strips = {answer.strips for answer in answers}
    for record in reversed(records):
        test = record.triangle
        if test is None or test.against != against:
            continue
        if strips.isdisjoint(answer.strips for answer in test.answers):
            return record
    return None


def _answer(test: "TriangleTest", hours: float, text: str) -> TriangleAnswer:
    """Return what is written of three strips as an answer: the number of the odd one, then words."""
    number, _, words = text.strip().partition(" ")
    if not number.isdecimal():
        raise BadValue("smelled", text, "write the number of the odd strip first, such as 482 greener")
    visit = test.visit_of(int(number))
    return TriangleAnswer(hours, visit.strips, visit.odd, int(number), words.strip())


def readings_in(given: Smelled, here: OpenNotebook) -> tuple[Reading, ...]:
    """Return readings as they are, or read what is written of each hour."""
    if not isinstance(given, Mapping):
        return tuple(given)
    from recommender.notebook.readings import readings_of

    smell = here.palette.smell
    return tuple(one for hours, text in given.items() for one in readings_of(text, hours, smell))


def one_reading(text: str, hours: float, here: OpenNotebook) -> Reading:
    """Return the one reading that is written; raises `BadValue` for several, `UnknownFacet`."""
    found = readings_in({hours: text}, here)
    if len(found) != 1:
        raise BadValue("reading", text, "write one smell with its strength, such as almond trace")
    return found[0]
