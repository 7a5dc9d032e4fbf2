"""Trials: how each saved version smelled, hour by hour, over what was predicted."""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from typing import Any

from nicegui import run, ui

from recommender.chemistry.odour_strength import RATINGS, rating_of
from recommender.errors import RecommenderError
from recommender.formulas import curves
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Reading
from recommender.notebook.readings import SCALE
from recommender.notebook.removed import Removed
from recommender.output import trials
from recommender.web.server.session import PageSession
from recommender.web.widgets import chart, elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.removed_list import removed_list
from recommender.workspace import SmelledVersion

HOURS = {"0": "fresh", "0.25": "15 min", "1": "1 h", "3": "3 h", "8": "8 h", "24": "a day", "72": "3 days",
         "168": "a week"}  # fmt: skip
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


def compared(found: SmelledVersion) -> list[tuple[str, str, str, str]]:
    """Return every reading beside its prediction: hour, smell, as read, as predicted."""
    rows = []
    for record in found.records:
        pairs = zip(record.readings, found.predicted(record), strict=True)
        for one, value in sorted(pairs, key=lambda pair: (pair[0].hours, pair[0].facet)):
            read = one.rating if one.level is None else f"{one.rating}, {one.level:g}"
            note = f" ({one.words})" if one.words else ""
            rows.append(
                (
                    trials.at(one.hours),
                    one.facet or "the whole",
                    f"{read}{note}",
                    f"{rating_of(value)}, {value:.0f}",
                )
            )
    return rows


class TrialsPage:
    """One tab that shows the trials of one saved formula."""

    def __init__(self, session: PageSession, name: str) -> None:
        self.session = session
        self.client = ui.context.client
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
        with elements.tag("div", "form"), elements.tag("div", "labelled"):
            elements.words("version", "label", "span")
            elements.choice("version", {t: t for t in titles}, self.saved.title,
                         lambda title: ui.navigate.to(f"/trials?of={title}"))  # fmt: skip
        self._writer()
        self.box = elements.tag(
            "div", "chart trial-chart", role="img", aria_label="Predicted curves, readings over them"
        )
        with self.box:
            self.chart = ui.echart({}, renderer="svg")
        self.list = elements.tag("div")
        ui.timer(0.01, self.show, once=True)

    def _writer(self) -> None:
        self.hour, self.text = "8", ""
        with elements.tag("section", "own-note", aria_labelledby="read-head"):
            elements.words("Write down what you smell", name="h2").props["id"] = "read-head"
            with elements.tag("div", "form"):
                with elements.tag("div", "labelled"):
                    elements.words("after", "label", "span")
                    elements.choice("after", HOURS, self.hour, lambda value: setattr(self, "hour", value))
                with elements.tag("div", "labelled grow"):
                    elements.words("it smells", "label", "span")
                    self.field = elements.field(
                        "it smells",
                        live=lambda value: setattr(self, "text", value),
                        hint="almond clear, woody too strong (dry)",
                        classes="long",
                    )
                elements.button("Save this reading", self._save, "main")
            elements.words(f"Each smell with {SCALE}; without a smell the whole is meant.", "remark")
            self.wrong = elements.words("", "wrong")
            self.wrong.props["role"] = "alert"
            self.wrong.set_visibility(False)

    async def _save(self) -> None:
        try:
            self.session.workspace.trials.read_today(self.saved.title, {float(self.hour): self.text})
        except RecommenderError as error:
            elements.say(self.wrong, sentence(error))
            return
        elements.say(self.wrong, "")
        self.field.value = ""
        await self.show()

    async def show(self) -> None:
        """Draw the prediction of this version with its readings over it."""
        found = await run.io_bound(self._drawn)
        if found is None:
            return
        smelled, drawn = found
        self.chart.options.clear()
        self.chart.options.update(drawn)
        self.chart.update()
        self.list.clear()
        with self.list:
            if rows := compared(smelled):
                elements.plain_table(("hour", "smell", "you smelled", "predicted, of 100"), rows)
            else:
                elements.words(NO_READING, "empty")
            for record in smelled.records:
                with elements.tag("div", "gap"):
                    text = f"trial {record.number}, {record.day}: {len(record.readings)} readings"
                    elements.words(text, "remark", "span")
                    elements.button("Remove", partial(self._remove, record.number), "small",
                                 label=f"Remove trial {record.number}")  # fmt: skip
            removed_list(self._removed(), self.session.workspace.palette.catalogue, self._back)

    def _drawn(self) -> tuple[SmelledVersion, dict[str, Any]]:
        found = self.session.workspace.smelled(self.saved.title)
        return found, options(found.drydown, [one for record in found.records for one in record.readings])

    def _removed(self) -> list[Removed]:
        """Return the removed trials of this version."""
        found = self.session.workspace.removed.entries("trial")
        return [one for one in found if one.rows["trials"][0]["version"] == self.saved.version]

    async def _remove(self, number: int) -> None:
        try:
            _, removed = self.session.workspace.trials.remove(number)
        except RecommenderError as error:
            self.message.show(sentence(error))
        else:
            text = f"Trial {number} is removed, with all its readings."
            self.message.show(text, partial(self._back, removed))
        await self.show()

    async def _back(self, number: int) -> None:
        try:
            self.message.show(
                f"Trial {self.session.workspace.removed.bring_back(number).key} is there again."
            )
        except RecommenderError as error:
            self.message.show(sentence(error))
        await self.show()
