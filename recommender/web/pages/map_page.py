"""The map: materials that smell alike are close together; filtered by smell, position and shelf."""

from collections.abc import Sequence
from functools import partial
from typing import Any
from urllib.parse import quote, urlencode

from nicegui import ui
from nicegui.events import EChartComponentClickEventArguments

from recommender.errors import RecommenderError
from recommender.model import Material
from recommender.output import wording
from recommender.similarity import likeness_map
from recommender.similarity.likeness_map import Place, Region
from recommender.web.server.session import PageSession
from recommender.web.widgets import chart, elements
from recommender.web.widgets.error_words import sentence

POSITIONS = {"": "top, heart and base", "top": "top", "heart": "heart", "base": "base"}
FILLED = {"top": 0.12, "heart": 0.5, "base": 1.0}
"""How solid a dot is: the longer it lasts, the more."""
MOST_NAMED = 60
"""Names are written beside the dots where no more than these are left."""
MOST_LISTED = 80


def options(
    places: Sequence[Place],
    regions: Sequence[Region],
    hits: set[str] | None,
    chosen: str,
    joined: Sequence[str],
) -> dict[str, Any]:
    """Return the map for the chart library; `hits` are the keys that the filter leaves, None without one."""
    at = {place.material.slug: [place.x, place.y] for place in places}
    return {
        "animation": False,
        "textStyle": {"fontFamily": "inherit"},
        "grid": {"left": 6, "right": 6, "top": 6, "bottom": 6},
        "xAxis": {"type": "value", "min": -1.12, "max": 1.12, "show": False},
        "yAxis": {"type": "value", "min": -1.08, "max": 1.08, "show": False},
        "dataZoom": [
            {"type": "inside", "xAxisIndex": 0, "filterMode": "none", "zoomOnMouseWheel": "ctrl"},
            {"type": "inside", "yAxisIndex": 0, "filterMode": "none", "zoomOnMouseWheel": "ctrl"},
        ],
        "tooltip": {
            "confine": True,
            "backgroundColor": "var(--sheet)",
            "borderColor": "var(--rule)",
            "textStyle": {"color": "var(--ink)", "fontSize": 13},
            ":formatter": chart.tooltip("(p) => (p.data && p.data.lines || []).map(text => [text])"),
        },
        "series": [
            _names(regions, faded=hits is not None),
            {
                "type": "lines",
                "coordinateSystem": "cartesian2d",
                "silent": True,
                "z": 2,
                "lineStyle": {"color": "var(--accent)", "width": 1.2, "opacity": 0.7},
                "data": [
                    {"coords": [at[chosen], at[other]]} for other in joined if chosen in at and other in at
                ],
            },
            {
                "type": "scatter",
                "id": "materials",
                "z": 3,
                "data": [_dot(place, hits, chosen) for place in places],
                "label": {":formatter": "(p) => p.data.lines[0]"},  # a text would be read as a template
                "labelLayout": {"hideOverlap": True},
                "emphasis": {"disabled": True},
            },
        ],
    }


def _names(regions: Sequence[Region], faded: bool) -> dict[str, Any]:
    return {
        "type": "scatter",
        "id": "families",
        "silent": True,
        "z": 1 if faded else 5,
        "symbolSize": 0.01,
        "data": [{"value": [r.x, r.y], "label": {"formatter": r.name}} for r in regions],
        "label": {
            "show": True,
            "color": "var(--quiet)" if faded else "var(--ink)",
            "fontSize": 13 if faded else 14,
            "fontStyle": "italic",
            "fontFamily": "var(--serif)",
            "textBorderColor": "var(--sheet)",
            "textBorderWidth": 4,
        },
    }


def _dot(place: Place, hits: set[str] | None, chosen: str) -> dict[str, Any]:
    material = place.material
    hit = hits is None or material.slug in hits
    position = material.lasting.position if material.lasting else "top"
    named = material.slug == chosen or (hits is not None and hit and len(hits) <= MOST_NAMED)
    ink = "var(--accent)" if hit else "var(--edge)"
    smells = ", ".join(label.facet for label in material.labels[:4])
    return {
        "value": [place.x, place.y],
        "name": material.slug,
        "lines": [material.name, wording.lasting(material.lasting), smells],
        "symbolSize": 15 if material.slug == chosen else 9 if hit else 5,
        "itemStyle": {
            "color": f"color-mix(in srgb, {ink} {100 * FILLED[position]:.0f}%, var(--sheet))",
            "opacity": 1.0 if hit else 0.35,
            "borderColor": ink,
            "borderWidth": 1.3,
        },
        "label": {
            "show": named,
            "position": "right",
            "distance": 4,
            "fontSize": 12,
            "color": "var(--ink)",
            "textBorderColor": "var(--sheet)",
            "textBorderWidth": 3,
        },
    }


class MapPage:
    """One tab that shows the map."""

    def __init__(self, session: PageSession, smell: str, position: str, at: str) -> None:
        self.workspace, self.palette = session.workspace, session.workspace.palette
        self.places = likeness_map.places(self.palette.catalogue, self.palette.space)
        self.regions = likeness_map.regions(self.places, self.palette.catalogue)
        self.smell, self.position, self.at, self.only_shelf = smell, position, at, False
        elements.words("Materials that smell alike are close together", name="h1")
        with elements.tag("div", "form map-form"):
            with elements.tag("div", "labelled"):
                elements.words("smell", "label", "span")
                elements.field("smell", smell, done=self._set("smell"), options="smells", hint="any smell")
            with elements.tag("div", "labelled"):
                elements.words("position", "label", "span")
                elements.choice("position", POSITIONS, position, self._set("position"))
            elements.tick("on my shelf only", False, self._set("only_shelf"))
            self.count = elements.words("", "status-line")
            self.count.props["role"] = "status"
        with elements.tag("div", "map"):
            with elements.tag("div", "map-left"):
                with elements.tag("div", "map-chart", role="img", aria_label=MAP_LABEL):
                    self.chart = ui.echart({}, renderer="svg", on_click=self._clicked)
                elements.words(HOW, "remark")  # fmt: skip
            self.panel = elements.tag("aside", "panel", aria_label="The chosen material")
        with elements.tag("section", "listed", aria_label="Materials that the filter leaves"):
            self.listed = elements.tag("div")
        self.show()

    def _set(self, name: str) -> Any:
        def change(value: object) -> None:
            setattr(self, name, value)
            self.show()

        return change

    def hits(self) -> list[Material] | None:
        """Return the materials that the filter leaves, None where nothing is filtered; may raise."""
        if not (self.smell.strip() or self.position or self.only_shelf):
            return None
        placed = {place.material.slug for place in self.places}
        offered, _ = self.workspace.materials(self.smell.strip() or None, only_shelf=self.only_shelf)
        found = [material for material in offered if material.slug in placed]
        if self.position:
            found = [m for m in found if m.lasting and m.lasting.position == self.position]
        return found

    def show(self) -> None:
        """Draw the map as it is filtered, list what is left, put the choice into the address."""
        try:
            found = self.hits()
        except RecommenderError as error:
            elements.say(self.count, sentence(error))
            return
        count = "" if found is None else f"{len(found)} material{'' if len(found) == 1 else 's'}"
        if self.only_shelf and not self.workspace.shelf.stock().by_material:
            count = "Your shelf has no bottle yet: put some on it under Shelf."
        elements.say(self.count, count)
        hits = None if found is None else {m.slug for m in found}
        joined = self._card()
        self.chart.options.clear()
        self.chart.options.update(options(self.places, self.regions, hits, self.at, joined))
        self.chart.update()
        self._list(found or [])
        choice = {"smell": self.smell, "position": self.position, "at": self.at}
        query = urlencode({k: v for k, v in choice.items() if v})
        ui.run_javascript(f"history.replaceState(null, '', '/map{'?' + query if query else ''}')")

    def _clicked(self, event: EChartComponentClickEventArguments) -> None:
        self.choose(str(getattr(event, "name", "") or ""))

    def choose(self, slug: str) -> None:
        """Choose a material: its card, and lines to what it is related to."""
        if slug in self.palette.catalogue.index:
            self.at = slug
            self.show()

    def _card(self) -> list[str]:
        """Show the chosen material in short; returns the keys of what it is related to."""
        self.panel.clear()
        with self.panel:
            if self.at not in self.palette.catalogue.index:
                elements.words(EMPTY, "empty")  # fmt: skip
                return []
            material = self.palette.catalogue.by_slug(self.at)
            elements.words(material.name, name="h2")
            elements.words(wording.lasting(material.lasting), "stay")
            elements.words(wording.labels(material.labels))
            row = self.palette.catalogue.index[self.at]
            alike = self.palette.space.likeness(row).copy()
            alike[row] = -1
            offered = [
                i for i in alike.argsort()[::-1] if likeness_map.mapped(self.palette.catalogue.materials[i])
            ]
            elements.words("Smells most like", name="h3")
            with elements.tag("ul", "near-list"):
                for other in self.palette.materials([int(i) for i in offered[:6]]):
                    with elements.tag("li"):
                        elements.button(other.name, partial(self.choose, other.slug), "as-link")
            related = [r for r in self.palette.graph.relations if self.at in (r.start, r.end)]
            related = [r for r in related if r.kind not in ("shares-facet", "homologue-of")][:8]
            if related:
                elements.words("Related", name="h3")
                with elements.tag("ul", "near-list"):
                    for r in related:
                        start, end = (self.palette.catalogue.by_slug(s).name for s in (r.start, r.end))
                        step = {"from": start, "relation": r.kind, "to": end, "note": r.note}
                        elements.words(wording.step(step), name="li")
            more = elements.link("All that is known of it", f"/material/{quote(self.at)}")
            more.props["aria-label"] = f"All that is known of it: {material.name}"
            return list({r.end if r.start == self.at else r.start for r in related})

    def _list(self, found: Sequence[Material]) -> None:
        self.listed.clear()
        with self.listed:
            if not found:
                return
            elements.words("In the list", name="h2")
            with elements.tag("ul", "choices wide"):
                for material in found[:MOST_LISTED]:
                    with elements.tag("li"):
                        elements.button(material.name, partial(self.choose, material.slug), "as-link")
                        elements.words(wording.lasting(material.lasting), "stay", "span")
            if len(found) > MOST_LISTED:
                elements.words(f"and {len(found) - MOST_LISTED} more; narrow it down to see them.", "remark")


MAP_LABEL = (
    "Map of all materials by likeness of smell. "
    "The filter above and the list below give the same to the keyboard."
)
HOW = (
    "A dot is fuller the longer its material lasts: a ring is top, half is heart, full is base. "
    "Hold Ctrl and turn the wheel to zoom, drag to move."
)
EMPTY = (
    "Choose a dot, or a name in the list below, to see what it is and what it is related to. "
    "Write a smell to see who has it."
)
