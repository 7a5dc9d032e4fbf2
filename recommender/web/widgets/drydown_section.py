"""The drydown in the middle of the page: the lanes or the curves, the gaps to click, the same in figures."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial

from nicegui import ui
from nicegui.events import EChartComponentClickEventArguments

from recommender.evaporation.surfaces import SURFACES
from recommender.model import STRIP
from recommender.output import wording
from recommender.output.curves import curve_name, mark_text
from recommender.web.widgets import chart, elements
from recommender.web.widgets.formula_view import (
    CURVES,
    EVERY,
    PICTURE,
    PINNED,
    SURFACE,
    DrydownView,
    gap_words,
)
from recommender.web.widgets.lanes import Lanes
from recommender.web.widgets.theme_field import THEME

SHOWN_GAPS = 4
EMPTY = (
    "Nothing to draw yet. Write a material with its parts into the first line: each smell of it gets a lane "
    "that shows how long it lasts, from a minute to a week."
)
SURFACE_WORDS = {surface: f"on {wording.on(surface)}" for surface in SURFACES}


class DrydownSection:
    """Redrawn as a whole on every change; what was asked about stays drawn and highlighted.

    `extend` asks what keeps a smell alive, `set_field` stores how the formula is looked at, `smells` reads
    words for smells, and may refuse them by a message.
    """

    def __init__(
        self,
        extend: Callable[[str], object],
        set_field: Callable[[str, str], object],
        smells: Callable[[str], list[str]],
    ) -> None:
        self.extend, self.set_field, self.smells = extend, set_field, smells
        self.fields: Mapping[str, str] = {}
        self.asked: tuple[str, ...] = ()
        self.shown: DrydownView | None = None
        self.shown_gaps: list[tuple[str, str]] | None = None
        self.gap_rows: list[tuple[ui.html, ui.html]] = []
        with elements.tag("div", "picture-head"):
            elements.words("Which smell lasts how long", name="h2")
            with elements.tag("div", "picture-acts"):
                self.views = {
                    view: elements.button(title, partial(set_field, PICTURE, view), "mode small")
                    for view, title in (("", "Lanes"), (CURVES, "Curves"))
                }
                self.surface = elements.choice(
                    "surface on which it dries", SURFACE_WORDS, STRIP, partial(set_field, SURFACE)
                )
        with elements.tag("div", "theme-line") as self.theme_line:
            self.theme = elements.words("", "remark")
            change = elements.words("change", "button as-link", "button")
            change.props["type"], change.props["aria-label"] = "button", "change the theme"
            change.on("click", js_handler=f"() => document.querySelector('.labelled.{THEME} input')?.focus()")
        self.empty = elements.words(EMPTY, "empty")
        self.box = elements.tag("div", "picture", role="group", aria_label="Lanes, one for each smell")
        with self.box:
            self.lanes = Lanes(self._chosen, self._pin)
            self.chart_box = elements.tag("div", "chart", role="img")
        self.chart: ui.echart | None = None
        with elements.tag("div", "picture-foot") as self.foot:
            self.pin_field = elements.field(
                "a smell that is always drawn", done=self._pin_words, options="smells", hint="always draw…"
            )
            self.more = elements.button("", self._every, "as-link")
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
            "toggle",
            lambda event: set_field("figures", "open" if event.args else ""),
            js_handler="(e) => emit(e.target.open)",
        )

    def show(self, shown: DrydownView | None, fields: Mapping[str, str], number: int) -> None:
        """Draw what a formula shows; `number` counts the drawings, so that a new one can be recognised."""
        before, self.shown, self.fields = self.shown, shown, fields
        self.empty.set_visibility(shown is None)
        for part in (self.theme_line, self.box, self.foot, self.gaps, self.notes, self.details):
            part.set_visibility(shown is not None)
        if shown is None:
            return
        in_curves = shown.drawing is not None
        for view, button in self.views.items():
            button.props["aria-pressed"] = "true" if (view == CURVES) == in_curves else "false"
        self.surface.props["value"] = shown.surface
        self.lanes.set_visibility(not in_curves)
        self.chart_box.set_visibility(in_curves)
        self.lanes.show(shown.pictures, shown.moments)
        self.box.props["data-drawn"] = str(number)
        if shown.drawing is not None:
            earlier = before.drawing if before else None
            self.shown = shown = replace(shown, drawing=chart.steady(shown.drawing, earlier))
            self._curves(shown)
        elements.say(self.moved, moved_words(self.asked, before, shown) or self.moved.content)
        elements.say(self.theme, shown.theme)
        more = f"{shown.fainter} fainter smell{'' if shown.fainter == 1 else 's'}"
        elements.say(
            self.more, f"show {more}" if shown.fainter else "fewer smells" if fields.get(EVERY) else ""
        )
        self._gaps(shown)
        if before is None or (before.notes, before.sticks_out) != (shown.notes, shown.sticks_out):
            self.notes.clear()
            with self.notes:
                for note in (*(f"{line[0].upper()}{line[1:]}" for line in shown.sticks_out), *shown.notes):
                    elements.words(note, "caution" if note.startswith("PROHIBITED") else "remark")
        self._figures(shown)

    def ask_about(self, facets: tuple[str, ...]) -> None:
        """Take over the smells that a question is about: their lanes are drawn from the next drawing on."""
        if facets != self.asked:
            self.asked = facets
            elements.say(self.moved, "")

    def _curves(self, shown: DrydownView) -> None:
        assert shown.drawing is not None
        if self.chart is None:
            with self.chart_box:
                self.chart = ui.echart({}, renderer="svg", on_click=self._clicked)
        # as a plain dict: watching each of its thousand numbers for changes takes longer than computing them
        dict.clear(self.chart.options)
        asked = self.asked[0] if self.asked else None
        on = SURFACE_WORDS[shown.surface]
        dict.update(self.chart.options, chart.options(shown.drawing, asked, on=on))
        self.chart.update()
        drawn = wording.join(curve_name(curve) for curve in shown.drawing.curves)
        marks = " ".join(f"{mark_text(mark)}." for mark in shown.drawing.marks)
        self.chart_box.props["aria-label"] = f"Curves over time {on}: {drawn}. {marks}"

    def _gaps(self, shown: DrydownView) -> None:
        worded = [(gap.facet, gap_words(gap, shown.ends_of(gap.facet))) for gap in shown.gaps]
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
                "Ends early: what goes while the rest still smells. Choose one to see what would keep it.",
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
        self.ask_about((facet,))
        self.extend(facet)

    def _clicked(self, event: EChartComponentClickEventArguments) -> None:
        """Ask what keeps alive what was clicked: a curve, its name or its gap."""
        if self.shown is None or self.shown.drawing is None:
            return
        known = {facet for curve in self.shown.drawing.curves for facet in curve.facets}
        first = str(getattr(event, "name", "") or "")
        series = str(getattr(event, "series_name", "") or "")
        by_name = {curve_name(curve): curve.facets[0] for curve in self.shown.drawing.curves}
        facet = first if first in known else by_name.get(series, "")
        if facet:
            self._chosen(facet)

    def _pin(self, facet: str) -> None:
        """Pin a smell, or let go of it."""
        pins = [one for one in self.fields.get(PINNED, "").split(";") if one]
        pins = [one for one in pins if one != facet] if facet in pins else [*pins, facet]
        self.set_field(PINNED, ";".join(pins))

    def _pin_words(self, words: str) -> None:
        """Pin the smells that words name."""
        if not words.strip() or not (found := self.smells(words)):
            return
        self.pin_field.value = ""
        pins = [one for one in self.fields.get(PINNED, "").split(";") if one]
        self.set_field(PINNED, ";".join(dict.fromkeys([*pins, *found])))

    def _every(self) -> None:
        self.set_field(EVERY, "" if self.fields.get(EVERY) else "yes")

    def _figures(self, shown: DrydownView) -> None:
        self.figures.clear()
        rows = [(row.facet, row.clear, row.there, row.gap) for row in shown.rows]
        with self.figures:
            elements.plain_table(("smell", "clear until", "gone by", "gap"), rows)


def _asking(facet: str, text: str) -> str:
    """Return the name of the button of a gap."""
    return f"What keeps {facet} alive? It is {text}."


def moved_words(facets: tuple[str, ...], before: DrydownView | None, after: DrydownView) -> str:
    """Return how the ends of the smells that were asked about have moved, blank where they have not.

    It stays until another smell is chosen.
    """
    if before is None:
        return ""
    moved = []
    for facet in facets:
        old, new = before.ends_of(facet), after.ends_of(facet)
        if old and new and old != new:
            moved.append(f"{facet[0].upper()}{facet[1:]}: now {new}; before {old}.")
    return " ".join(moved)
