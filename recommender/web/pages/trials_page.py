"""Trials: how each saved version smelled, hour by hour, over what was predicted."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any
from urllib.parse import quote

from nicegui import run, ui

from recommender.chemistry.odour_strength import RATINGS
from recommender.errors import RecommenderError
from recommender.formulas import curves
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Reading, TrialRecord
from recommender.notebook.formulas import SavedVersion
from recommender.notebook.removed import Removed
from recommender.web.server import open_formulas
from recommender.web.server.session import PageSession
from recommender.web.widgets import chart, elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.next_version_section import NextVersionSection
from recommender.web.widgets.reading_writer import ReadingWriter
from recommender.web.widgets.readings_table import ReadingsTable
from recommender.web.widgets.removed_list import removed_list
from recommender.workspace import SmelledVersion

MARKS = ("circle", "rect", "triangle", "diamond", "pin", "arrow", "roundRect")
"""One sign for each line, so that readings can be distinguished without colour."""

MOST_STRONG = 60.0
"""Where the range of *strong* ends on the picture; the word itself has no end."""
NO_VERSION = (
    "A trial belongs to a saved version. Open a formula, press “Save a version”, weigh it, "
    "dip a strip, and come back with what you smell."
)
NO_READING = (
    "No reading yet. The curves are what is predicted; your readings will be drawn over them as "
    "signs of the same colour, as tall as the range of the word."
)


def span_of(reading: Reading) -> tuple[float, float]:
    """Return from where to where a reading reaches, 0-100: a number is a point, a word is a range."""
    if reading.level is not None:
        return reading.level, reading.level
    low, high = RATINGS[reading.rating]
    return low, min(high, MOST_STRONG)


def options(table: FormulaDrydown, readings: Sequence[Reading]) -> dict[str, Any]:
    """Return the predicted curves with the readings over them, each word as the range that it covers."""
    drawing = curves.drawing(table)
    spans = [span_of(reading) for reading in readings]
    drawing = replace(drawing, top=max([drawing.top, *(high for _, high in spans)]))
    picture = chart.options(drawing)
    by_facet = {facet: curve for curve in drawing.curves for facet in curve.facets}
    points: dict[int, list[dict[str, Any]]] = {}
    bars: dict[int, list[dict[str, Any]]] = {}
    for reading, (low, high) in zip(readings, spans, strict=True):
        curve = by_facet.get(reading.facet)
        at = chart.WHERE(max(reading.hours, 1 / 60))
        if curve is not None and reading.hours <= 168:
            point = {"value": [at, (low + high) / 2.0], "name": reading.facet}
            points.setdefault(curve.place, []).append(point)
            bars.setdefault(curve.place, []).append({"coords": [[at, low], [at, high]]})
    for place, data in points.items():
        colour = chart.COLOURS[place % len(chart.COLOURS)]
        picture["series"] += [
            {
                "type": "lines",
                "coordinateSystem": "cartesian2d",
                "silent": True,
                "z": 7,
                "lineStyle": {"color": colour, "width": 3, "opacity": 0.55},
                "data": bars[place],
            },
            {
                "type": "scatter",
                "id": f"read {place}",
                "data": data,
                "symbol": MARKS[place % len(MARKS)],
                "symbolSize": 13,
                "z": 8,
                "itemStyle": {"color": colour, "borderColor": "var(--ground)", "borderWidth": 1.5},
                "tooltip": {"show": False},
            },
        ]
    return picture


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
            elements.link("To the formulas", "/")
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
        self.writer = ReadingWriter(session, self.saved.title, self.show)
        self.box = elements.tag(
            "div", "chart trial-chart", role="img", aria_label="Predicted curves, readings over them"
        )
        with self.box:
            self.chart = ui.echart({}, renderer="svg")
        self.empty = elements.words(NO_READING, "empty")
        self.readings = ReadingsTable(session, self.message, self.show)
        self.next = NextVersionSection(session, self._open)
        self.removed = elements.tag("div")
        ui.timer(0.01, self.show, once=True)

    async def show(self) -> None:
        """Draw the prediction of this version with its readings over it."""
        found = await run.io_bound(self._drawn)
        if found is None:
            return
        smelled, drawn = found
        records = list(smelled.records)
        self.writer.show(records)
        self.chart.options.clear()
        self.chart.options.update(drawn)
        self.chart.update()
        self.empty.set_visibility(not any(record.readings for record in records))
        self.readings.show([(record, smelled.predicted(record)) for record in records])
        self.next.show(smelled)
        self.removed.clear()
        with self.removed:
            catalogue = self.session.workspace.palette.catalogue
            removed_list(self._removed(records), catalogue, self.readings.bring_back)

    def _drawn(self) -> tuple[SmelledVersion, dict[str, Any]]:
        found = self.session.workspace.smelled(self.saved.title)
        return found, options(found.drydown, [one for record in found.records for one in record.readings])

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
