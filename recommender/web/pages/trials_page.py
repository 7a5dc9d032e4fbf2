"""Trials: how each saved version smelled, hour by hour, over what was predicted."""

from collections.abc import Coroutine, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from nicegui import run, ui

from recommender.errors import RecommenderError
from recommender.formulas import lanes
from recommender.model import TrialRecord
from recommender.notebook.formulas import SavedVersion
from recommender.notebook.removed import Removed
from recommender.output.trials import reading_count
from recommender.web.server import open_formulas
from recommender.web.server.session import PageSession
from recommender.web.server.uploads import read_sheet
from recommender.web.widgets import elements
from recommender.web.widgets import lanes as drawn_lanes
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.next_version_section import NextVersionSection
from recommender.web.widgets.reading_writer import ReadingWriter
from recommender.web.widgets.readings_import import ReadingsImport
from recommender.web.widgets.readings_table import ReadingsTable
from recommender.web.widgets.removed_list import removed_list
from recommender.web.widgets.triangle_writer import TriangleWriter
from recommender.workspace import SmelledVersion

NO_VERSION = (
    "A trial belongs to a saved version: save one, weigh it, dip a strip, and come back with what you smell."
)
NO_READING = (
    "No reading yet. The lanes are what is predicted; your readings will be drawn into them as signs, "
    "fuller the stronger it smelled."
)


COLUMNS = (
    "A sheet has the columns hours and strength, and where known formula, facet, words, day, batch_g, "
    "room_c and verdict. Lines without a formula are of the version above. Nothing is stored before you have "
    "seen it."
)


@dataclass(frozen=True, slots=True)
class SmelledView:
    """A version as it smelled, with its lanes, readings in them as dots, and what is smelled at each hour."""

    smelled: SmelledVersion
    pictures: list[dict[str, Any]]
    moments: list[dict[str, Any]]


def smelled_view(smelled: SmelledVersion) -> SmelledView:
    """Return the lanes of a version: of its theme, of all that was read, and the loudest."""
    table = smelled.drydown
    readings = [one for record in smelled.records for one in record.readings]
    smell = table.palette.smell
    read = [facet for one in readings if one.facet for facet in smell(one.facet)]
    found = lanes.lanes(table, lanes.shown(table, [f for f in read if f in table.film.facets]))
    hours, loudest = table.course.hours.tolist(), float(table.course.facets.max())
    pictures = [drawn_lanes.drawn(lane, hours, loudest) | {"of": ""} for lane in found]
    pictures = drawn_lanes.with_readings(pictures, readings, smell)
    return SmelledView(smelled, pictures, drawn_lanes.moments_drawn(lanes.moments(table)))


class TrialsPage:
    """One tab that shows the trials of one saved formula."""

    def __init__(self, session: PageSession, name: str) -> None:
        self.session = session
        elements.words("Trials: how your strips smelled", name="h1")
        self.message = elements.Message()
        formulas = session.workspace.formulas
        saved = formulas.versions()
        if not saved:
            elements.words(NO_VERSION, "lead")
            with elements.tag("ul", "choices wide"):
                for number, formula in session.listed():
                    with elements.tag("li"):
                        elements.link(f"Open {formula} and save a version", open_formulas.address_of(number))
            if not session.listed():
                elements.link("To the formulas", "/")
            elements.link("Strips of single materials", "/strips")
            return
        titles = {one.title: one for last in saved for one in formulas.versions(last.name)}
        self.saved = titles.get(name) or next(reversed(titles.values()))
        with elements.tag("div", "form"):
            with elements.tag("div", "labelled"):
                elements.words("version", "label", "span")
                elements.choice(
                    "version",
                    {title: title for title in titles},
                    self.saved.title,
                    lambda title: ui.navigate.to(f"/trials?of={quote(title)}"),
                )
            elements.button("Open it", lambda: self._open(self.saved), "small")
            elements.link("Strips of single materials", "/strips")
        if self.saved.note:
            elements.words(f"What is new in it: {self.saved.note}", "remark")
        self.writer = ReadingWriter(session, self.saved.title, self.show)
        if others := [one for one in titles.values() if one.title != self.saved.title]:
            TriangleWriter(session, self.saved, others, self.show)
        with elements.tag("div", "picture trial-lanes", role="group", aria_label="Lanes, readings in them"):
            self.lanes = drawn_lanes.Lanes()
        signs = ", ".join(f"{sign} {rating}" for rating, sign in drawn_lanes.SIGNS.items())
        self.signs = elements.words(f"Your readings: {signs}.", "remark")
        self.empty = elements.words(NO_READING, "empty")
        self.readings = ReadingsTable(session, self.message, self.show)
        heads = ("version", "day", "readings", "verdict")
        self.sheets = ReadingsImport("trials", COLUMNS, heads, self._read, _row, self._put_all, self.message)
        self.next = NextVersionSection(session, self._open)
        self.removed = elements.tag("div")
        ui.timer(0.01, self.show, once=True)

    async def show(self) -> None:
        """Draw the prediction of this version with its readings over it."""
        found = await run.io_bound(self._view)
        if found is None:  # the server is closing
            return
        smelled = found.smelled
        records = list(smelled.records)
        self.writer.show(records)
        self.lanes.show(found.pictures, found.moments)
        self.signs.set_visibility(any(record.readings for record in records))
        self.empty.set_visibility(not any(record.readings for record in records))
        self.readings.show([(record, smelled.predicted(record)) for record in records])
        self.next.show(smelled)
        self.removed.clear()
        with self.removed:
            catalogue = self.session.workspace.palette.catalogue
            removed_list(self._removed(records), catalogue, self.readings.bring_back)

    async def _read(self, name: str, content: bytes) -> tuple[list[TrialRecord], list[str]]:
        found: tuple[list[TrialRecord], list[str]] = await read_sheet(
            self.session, "trials", name, content, self.saved.title
        )
        return found

    def _put_all(self, found: list[TrialRecord]) -> Coroutine[Any, Any, None]:
        self.session.workspace.trials.add_all(found)
        return self.show()

    def _view(self) -> SmelledView:
        return smelled_view(self.session.workspace.smelled(self.saved.title))

    def _removed(self, records: Sequence[TrialRecord]) -> list[Removed]:
        """Return the removed trials of this version, and the removed readings of its trials."""
        removed = self.session.workspace.removed
        here = {record.number for record in records}
        trials = [
            one for one in removed.entries("trial") if one.rows["trials"][0]["version"] == self.saved.version
        ]
        readings = [
            one for one in removed.entries("trial reading") if one.rows["trial_readings"][0]["trial"] in here
        ]
        return sorted(trials + readings, key=lambda one: -one.number)

    def _open(self, version: SavedVersion) -> None:
        try:
            draft = self.session.open_version(version)
        except RecommenderError as error:
            self.message.show(sentence(error))
            return
        ui.navigate.to(open_formulas.address(draft))


def _row(record: TrialRecord) -> tuple[str, ...]:
    """Return the cells of a trial that is not stored yet."""
    version = f"{record.formula}@{record.version}"
    return version, record.day, reading_count(record.readings), record.verdict
