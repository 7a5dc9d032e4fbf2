"""The drydown beside the formula: the chart, the gaps to click, and the same in figures."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial

from nicegui import ui
from nicegui.events import EChartComponentClickEventArguments

from recommender import units
from recommender.evaporation.gaps import Gap
from recommender.output import wording
from recommender.output.curves import curve_name, mark_text
from recommender.web.widgets import chart, elements
from recommender.web.widgets.formula_view import DrydownView, gap_words

SHOWN_GAPS = 5
EMPTY = (
    "Nothing to draw yet. Write a material with its parts into the first line: the curves show which smell "
    "of it is there when, from a minute to a week."
)


class DrydownSection:
    """Redrawn as a whole on every change; what was clicked stays highlighted."""

    def __init__(self, extend: Callable[[str], None], open_figures: Callable[[bool], object]) -> None:
        self.extend = extend
        self.highlighted: str | None = None
        self.shown: DrydownView | None = None
        self.shown_gaps: list[tuple[str, str]] | None = None
        self.gap_rows: list[tuple[ui.html, ui.html]] = []
        elements.words("Which smell dies when", name="h2")
        self.theme = elements.words("", "remark")
        self.empty = elements.words(EMPTY, "empty")
        self.box = elements.tag("div", "chart", role="img")
        with self.box:
            self.chart = ui.echart({}, renderer="svg", on_click=self._clicked)
        self.moved = elements.words("", "moved")
        self.moved.props["role"] = "status"
        self.moved.set_visibility(False)
        self.gaps = elements.tag("div", "gaps")
        self.notes = elements.tag("div", "notes")
        with elements.tag("details", "figures") as self.details:
            elements.words("The same in figures", name="summary")
            self.figures = elements.tag(
                "div", "scroll", tabindex="0", role="region", aria_label="Every smell in figures"
            )
        self.details.on(
            "toggle", lambda event: open_figures(bool(event.args)), js_handler="(e) => emit(e.target.open)"
        )

    def show(self, shown: DrydownView | None, number: int) -> None:
        """Draw what a formula shows; `number` counts the drawings, so that a new one can be recognised."""
        before = self.shown
        if shown is not None:
            shown = replace(shown, drawing=chart.steady(shown.drawing, before.drawing if before else None))
        self.shown = shown
        self.empty.set_visibility(shown is None)
        for part in (self.theme, self.box, self.gaps, self.notes, self.details):
            part.set_visibility(shown is not None)
        self.box.props["data-drawn"] = str(number)
        if shown is None:
            return
        elements.say(self.moved, moved_words(self.highlighted, before, shown) or self.moved.content)
        elements.say(self.theme, shown.theme)
        self._redraw()
        self._gaps(shown.gaps)
        if before is None or (before.notes, before.sticks_out) != (shown.notes, shown.sticks_out):
            self.notes.clear()
            with self.notes:
                for note in (*(f"{line[0].upper()}{line[1:]}" for line in shown.sticks_out), *shown.notes):
                    elements.words(note, "caution" if note.startswith("PROHIBITED") else "remark")
        self._figures(shown)

    def _redraw(self) -> None:
        if self.shown is None:
            return
        # as a plain dict: watching each of its thousand numbers for changes takes longer than computing them
        dict.clear(self.chart.options)
        dict.update(self.chart.options, chart.options(self.shown.drawing, self.highlighted))
        self.chart.update()
        drawn = wording.join(curve_name(curve) for curve in self.shown.drawing.curves)
        marks = " ".join(f"{mark_text(mark)}." for mark in self.shown.drawing.marks)
        self.box.props["aria-label"] = f"Curves over time on a strip: {drawn}. {marks}"

    def _gaps(self, gaps: tuple[Gap, ...]) -> None:
        worded = [(gap.facet, gap_words(gap)) for gap in gaps]
        before, self.shown_gaps = self.shown_gaps, worded
        if worded == before:
            return
        if before and [facet for facet, _ in before] == [facet for facet, _ in worded]:
            for (button, words), (facet, text) in zip(self.gap_rows, worded, strict=False):
                elements.say(words, text)
                button.props["aria-label"] = button.props["title"] = _asking(facet, text)
            return
        self.gap_rows = []
        self.gaps.clear()
        with self.gaps:
            if not worded:
                elements.words(
                    "Nothing of the theme, or that a line leads with, fades within a week.", "no-gap"
                )
                return
            elements.words(
                "Gaps: what dies while the rest still smells. Choose one to see what would keep it.",
                "gaps-head",
            )
            for facet, text in worded[:SHOWN_GAPS]:
                with elements.tag("div", "gap"):
                    button = elements.button(
                        facet, partial(self._chosen, facet), "gap-name", label=_asking(facet, text)
                    )
                    self.gap_rows.append((button, elements.words(text, "gap-words", "span")))
            if smaller := [facet for facet, _ in worded[SHOWN_GAPS:]]:
                with elements.tag("div", "gap-more"):
                    elements.words("and smaller:", name="span")
                    for facet in smaller:
                        elements.button(
                            facet, partial(self._chosen, facet), "as-link", label=f"What keeps {facet} alive?"
                        )

    def _chosen(self, facet: str) -> None:
        self.highlighted = facet
        elements.say(self.moved, "")
        self._redraw()
        self.extend(facet)

    def _clicked(self, event: EChartComponentClickEventArguments) -> None:
        """Ask what keeps alive what was clicked: a curve, its name or its gap."""
        if self.shown is None:
            return
        known = {facet for curve in self.shown.drawing.curves for facet in curve.facets}
        first = str(getattr(event, "name", "") or "")
        series = str(getattr(event, "series_name", "") or "")
        by_name = {curve_name(curve): curve.facets[0] for curve in self.shown.drawing.curves}
        facet = first if first in known else by_name.get(series, "")
        if facet:
            self._chosen(facet)

    def _figures(self, shown: DrydownView) -> None:
        self.figures.clear()
        rows = [(row.facet, row.clear, row.there, row.gap) for row in shown.rows]
        with self.figures:
            elements.plain_table(("smell", "clear until", "gone by", "gap"), rows)


def _asking(facet: str, text: str) -> str:
    """Return the name of the button of a gap."""
    return f"What keeps {facet} alive? It is {text}."


def moved_words(facet: str | None, before: DrydownView | None, after: DrydownView) -> str:
    """Return how the gap of the chosen facet has moved, blank where it has not.

    It stays until another smell is chosen.
    """
    if facet is None or before is None:
        return ""
    old, new = ({gap.facet: gap.hours for gap in shown.gaps}.get(facet) for shown in (before, after))
    if old == new or old is None:
        return ""
    was = f"it faded out by {units.duration(old)}"
    if new is None:
        return f"The gap of {facet} is closed: {was}, now it stays as long as the rest."
    return f"{facet[0].upper()}{facet[1:]} now fades out by {units.duration(new)}; {was}."
