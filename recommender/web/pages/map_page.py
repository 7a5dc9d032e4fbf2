"""The map: materials that smell alike are close together; filtered by smell, position and shelf."""

from collections.abc import Collection, Sequence
from functools import partial
from typing import Any
from urllib.parse import quote, urlencode

from nicegui import ui
from nicegui.events import EChartComponentClickEventArguments

from recommender.errors import RecommenderError
from recommender.formulas.formula import amounts
from recommender.model import Material
from recommender.output import wording
from recommender.similarity import likeness_map
from recommender.similarity.likeness_map import Place, Region
from recommender.web.server import open_formulas
from recommender.web.server.session import PageSession
from recommender.web.widgets import chart, elements
from recommender.web.widgets.add_to_formula import AddToFormula
from recommender.web.widgets.error_words import sentence

POSITIONS = {"": "top, heart and base", "top": "top", "heart": "heart", "base": "base"}
FILLED = {"top": 0.12, "heart": 0.5, "base": 1.0}
"""How solid a dot is: the longer it lasts, the more."""
COLOURS = {"top": "var(--line-5)", "heart": "var(--line-4)", "base": "var(--line-1)"}
"""Set in `style.css` for light and dark, as readable as text; how solid a dot is says the same."""
MOST_LISTED = 80
CLOSEST_PERCENT = 6
"""Share of the whole map that is seen at the closest [%]."""
FONT = 'Roboto, "Helvetica Neue", Arial, sans-serif'
SERIF = '"Iowan Old Style", Palatino, "Book Antiqua", Georgia, serif'
"""Those of `style.css` by name: the chart library cannot measure the width of an inherited one."""
UNDER = "(p) => { if (p.dataIndex === 0) document.querySelector('.map-chart').placed = []; return {}; }"
"""Families stand under the names that somebody asked for, and take no room from them."""
LONGEST_NAME = 26
"""Characters of a name beside a dot that nobody asked for; the tooltip has all of it."""
PLACED = """(p) => {
  const box = document.querySelector('.map-chart'), {width, height} = p.labelRect;
  const first = p.seriesIndex === 0 && p.dataIndex === 0;
  const placed = box.placed = first ? [] : box.placed || [];
  const {x, y, width: w, height: h} = p.rect, middle = y + h / 2 - height / 2;
  const sides = SIDES;
  for (const [left, top] of sides) {
    const fits = left > 2 && left + width < box.clientWidth - 2;
    if (!fits || placed.some(([l, t, r, b]) =>
      left < r + AIR && left + width > l - AIR && top < b + ROOM && top + height > t - ROOM)) continue;
    placed.push([left, top, left + width, top + height]);
    return {x: left, y: top, align: 'left', verticalAlign: 'top'};
  }
  return {x: -9999, y: -9999};
}"""
"""Places names one after the other where none is yet, the most wanted first; in the browser at every zoom."""
CROWDED, ASKED = (46, 13), (6, 3)
"""Room between names [px], across and down: on the whole map, and where somebody asked for these."""
BESIDE = "[[x + w + 4, middle], [x - width - 4, middle], [x + w / 2 - width / 2, y - height - 2]]"
OVER = "[0, -22, 22].map(by => [x + w / 2 - width / 2, middle + by])"
NO_FORMULA = "none"


def options(
    places: Sequence[Place],
    regions: Sequence[Region],
    hits: set[str] | None,
    chosen: str,
    joined: Sequence[str],
    in_formula: Collection[str] = (),
    on_shelf: Collection[str] = (),
) -> dict[str, Any]:
    """Return the map for the chart library; `hits` are the keys that the filter leaves, None without one.

    `in_formula` and `on_shelf` are the keys of what is in the formula (square) and on the shelf (ring).
    """
    at = {place.material.slug: [place.x, place.y] for place in places}
    dots = sorted(
        (
            _dot(place, hits, chosen, place.material.slug in in_formula, place.material.slug in on_shelf)
            for place in places
        ),
        key=lambda dot: -dot["symbolSize"],
    )
    zoom = {"type": "inside", "filterMode": "none", "minSpan": CLOSEST_PERCENT, "throttle": 40}
    return {
        "animation": False,
        "textStyle": {"fontFamily": FONT},
        "grid": {"left": 6, "right": 6, "top": 6, "bottom": 6},
        "xAxis": {"type": "value", "min": -1.12, "max": 1.12, "show": False},
        "yAxis": {"type": "value", "min": -1.08, "max": 1.08, "show": False},
        "dataZoom": [zoom | {"id": "across", "xAxisIndex": 0}, zoom | {"id": "down", "yAxisIndex": 0}],
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
                "id": "shelf",
                "silent": True,
                "z": 2,
                "symbolSize": 17,
                "itemStyle": {"color": "transparent", "borderColor": "var(--ink)", "borderWidth": 1.3},
                "data": [at[slug] for slug in on_shelf if slug in at],
            },
            _dots("own", 5, [dot for dot in dots if dot["name"] in in_formula], False),
            _dots(
                "materials", 4, [d for d in dots if d["name"] not in in_formula and d["hit"]], hits is None
            ),
            _dots("rest", 3, [d for d in dots if d["name"] not in in_formula and not d["hit"]], False),
        ],
    }


def _dots(name: str, height: int, dots: list[dict[str, Any]], crowded: bool) -> dict[str, Any]:
    return {
        "type": "scatter",
        "id": name,
        "z": height,
        "data": dots,
        "label": {":formatter": "(p) => p.data.shown"},  # a text would be read as a template
        ":labelLayout": _placed(BESIDE, CROWDED if crowded else ASKED),
        "emphasis": {"disabled": True},
    }


def _placed(sides: str, room: tuple[int, int]) -> str:
    across, down = map(str, room)
    return PLACED.replace("SIDES", sides).replace("AIR", across).replace("ROOM", down)


def _names(regions: Sequence[Region], faded: bool) -> dict[str, Any]:
    return {
        "type": "scatter",
        "id": "families",
        "silent": True,
        "z": 1 if faded else 5,
        "symbolSize": 0.01,
        "data": [{"value": [r.x, r.y], "label": {"formatter": r.name}} for r in regions],
        ":labelLayout": UNDER if faded else _placed(OVER, ASKED),
        "label": {
            "show": True,
            "color": "var(--quiet)" if faded else "var(--ink)",
            "fontSize": 13 if faded else 15,
            "fontStyle": "italic",
            "fontFamily": SERIF,
            "textBorderColor": "var(--sheet)",
            "textBorderWidth": 4,
        },
    }


def _dot(
    place: Place, hits: set[str] | None, chosen: str, in_formula: bool, on_shelf: bool
) -> dict[str, Any]:
    material = place.material
    hit = hits is None or material.slug in hits
    position = material.lasting.position if material.lasting else "top"
    apart = in_formula or material.slug == chosen
    ink = COLOURS[position] if hit or in_formula else "var(--edge)"
    smells = ", ".join(label.facet for label in material.labels[:4])
    where = wording.join([*["in the formula"] * in_formula, *["on the shelf"] * on_shelf])
    size = 15 if material.slug == chosen else 13 if in_formula else 10 if on_shelf else 9 if hit else 5
    return {
        "value": [place.x, place.y],
        "name": material.slug,
        "hit": hit or material.slug == chosen,
        "shown": _shown(material.name, material.slug == chosen or (hits is not None and not in_formula)),
        "lines": [material.name, wording.lasting(material.lasting), smells, *([where] if where else [])],
        "symbol": "rect" if in_formula else "circle",
        "symbolSize": size,
        "itemStyle": {
            "color": f"color-mix(in srgb, {ink} {100 * FILLED[position]:.0f}%, var(--sheet))",
            "opacity": 1.0 if hit or in_formula else 0.35,
            "borderColor": "var(--ink)" if apart else ink,
            "borderWidth": 2.4 if material.slug == chosen else 1.6 if in_formula else 1.3,
        },
        "label": {
            "show": apart or hit,
            "position": "right",
            "distance": 4,
            "fontSize": 13 if apart else 12,
            "fontWeight": 600 if apart else 400,
            "color": "var(--ink)" if apart or hits is not None else "var(--quiet)",
            "textBorderColor": "var(--sheet)",
            "textBorderWidth": 3,
        },
    }


ZOOMS = (("+", "Zoom in", "+"), ("−", "Zoom out", "-"), ("⤢", "Whole map", "0"))
"""Buttons of the map: sign, name, and the key that does the same."""


def _shown(name: str, whole: bool) -> str:
    return name if whole or len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"


MOVE = """(id, by, right, down) => {
  const chart = getElement(id).chart;
  if (!chart) return;
  const seen = chart.getOption().dataZoom.map(zoom => [zoom.start, zoom.end]);
  chart.dispatchAction({type: 'dataZoom', batch: seen.map(([start, end], axis) => {
    const span = Math.min(100, Math.max(LEAST, (end - start) * by));
    const step = (axis ? -down : right) * 0.2 * span;
    const middle = Math.min(100 - span / 2, Math.max(span / 2, (start + end) / 2 + step));
    return {dataZoomIndex: axis, start: middle - span / 2, end: middle + span / 2};
  })});
}""".replace("LEAST", str(CLOSEST_PERCENT))
"""Zooms by a factor of what is seen, and moves by fifths of it to the right and down, in the browser."""
KEYS = {
    "+": (0.6, 0, 0), "=": (0.6, 0, 0), "-": (1.7, 0, 0), "0": (100, 0, 0), "ArrowRight": (1, 1, 0),
    "ArrowLeft": (1, -1, 0), "ArrowDown": (1, 0, 1), "ArrowUp": (1, 0, -1),
}  # fmt: skip


class MapPage:
    """One tab that shows the map."""

    def __init__(self, session: PageSession, smell: str, position: str, at: str, of: str = "") -> None:
        self.session, self.workspace, self.palette = session, session.workspace, session.workspace.palette
        self.places = likeness_map.places(self.palette.catalogue, self.palette.space)
        self.regions = likeness_map.regions(self.places, self.palette.catalogue)
        self.smell, self.position, self.at, self.only_shelf = smell, position, at, False
        formulas = {k: name for k, name in open_formulas.choices(session).items() if k != open_formulas.NEW}
        self.formula = of if of in {*formulas, NO_FORMULA} else next(iter(formulas), NO_FORMULA)
        elements.words("Materials that smell alike are close together", name="h1")
        with elements.tag("div", "form map-form"):
            with elements.tag("div", "labelled"):
                elements.words("smell", "label", "span")
                elements.field("smell", smell, done=self._set("smell"), options="smells", hint="such as rose")
            with elements.tag("div", "labelled"):
                elements.words("position", "label", "span")
                elements.choice("position", POSITIONS, position, self._set("position"))
            with elements.tag("div", "labelled"):
                elements.words("formula", "label", "span")
                known = formulas | {NO_FORMULA: "none marked"}
                elements.choice("formula marked on the map", known, self.formula, self._set("formula"))
            elements.tick("on my shelf only", False, self._set("only_shelf"))
            self.count = elements.words("", "status-line")
            self.count.props["role"] = "status"
        with elements.tag("div", "map"):
            with elements.tag("div", "map-left"):
                self._chart()
                _legend()
                elements.words(HOW, "remark")
            self.panel = elements.tag("aside", "panel", aria_label="The chosen material")
        with elements.tag("section", "listed", aria_label="Materials in the list"):
            self.listed = elements.tag("div")
        self.show()

    def _chart(self) -> None:
        """Add the chart, with buttons and keys that zoom and move it in the browser alone."""
        box = elements.tag("div", "map-chart", role="group", aria_label=MAP_LABEL, tabindex="0")
        with box:
            self.chart = ui.echart({}, renderer="svg", on_click=self._clicked)
            with elements.tag("div", "map-acts"):
                for sign, label, key in (
                    ("+", "Zoom in", "+"),
                    ("−", "Zoom out", "-"),
                    ("⤢", "Whole map", "0"),
                ):
                    zoom = elements.button(sign, lambda: None, "sign", label=label)
                    zoom.on("click", js_handler=f"() => ({MOVE})({self.chart.id}, {_given(key)})")
        cases = ", ".join(f"'{key}': [{_given(key)}]" for key in KEYS)
        box.on("keydown", js_handler=f"""(e) => {{
          const given = ({{{cases}}})[e.key];
          if (!given || e.ctrlKey || e.metaKey || e.altKey) return;
          e.preventDefault();
          ({MOVE})({self.chart.id}, ...given);
        }}""")  # fmt: skip

    def _set(self, name: str) -> Any:
        def change(value: object) -> None:
            setattr(self, name, value)
            self.show()

        return change

    def in_formula(self) -> list[Material]:
        """Return the materials of the formula that is marked, inner accords opened, that are on the map."""
        if self.formula == NO_FORMULA:
            return []
        try:
            read = self.session.read(self.session.get(int(self.formula)), self.palette)
        except RecommenderError:  # it was removed meanwhile
            return []
        found = amounts(read.formula) if read.formula else []
        return [one.material for one in found if likeness_map.mapped(one.material)]

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
        shelf = set(self.workspace.shelf.stock().by_material)
        if self.only_shelf and not shelf:
            count = "Your shelf has no bottle yet: put some on it under Shelf."
        elements.say(self.count, count)
        hits = None if found is None else {m.slug for m in found}
        own = self.in_formula()
        self.marked, joined = {m.slug for m in own}, self._card()
        self.shelf = shelf
        self.joined, self.found = joined, hits
        self._draw()
        self._list(found, own)
        choice = {"smell": self.smell, "position": self.position, "at": self.at, "of": self.formula}
        query = urlencode({k: v for k, v in choice.items() if v and v != NO_FORMULA})
        ui.run_javascript(f"history.replaceState(null, '', '/map{'?' + query if query else ''}')")

    def _draw(self) -> None:
        drawn = options(self.places, self.regions, self.found, self.at, self.joined, self.marked, self.shelf)
        self.chart.options.clear()
        self.chart.options.update(drawn)
        self.chart.update()

    def _formula_changed(self) -> None:
        """Mark what a formula has now; the card stays as it is, with the way back in it."""
        self.marked = {m.slug for m in self.in_formula()}
        self._draw()

    def _clicked(self, event: EChartComponentClickEventArguments) -> None:
        self.choose(str(getattr(event, "name", "") or ""))

    def choose(self, slug: str) -> None:
        """Choose a material: its card, and lines to what it is related to."""
        if slug in self.palette.catalogue.index:
            self.at = slug
            self.show()

    def leave(self) -> None:
        """Choose no material."""
        self.at = ""
        self.show()

    def _card(self) -> list[str]:
        """Show the chosen material in short; returns the keys of what it is related to."""
        self.panel.clear()
        chosen = self.at in self.palette.catalogue.index
        self.panel.classes(add="chosen") if chosen else self.panel.classes(remove="chosen")
        with self.panel:
            if not chosen:
                elements.words(EMPTY, "empty")
                return []
            material = self.palette.catalogue.by_slug(self.at)
            with elements.tag("div", "panel-head"):
                elements.words(material.name, name="h2")
                elements.button("×", self.leave, "plain sign", label=f"Close {material.name}")
            elements.words(wording.lasting(material.lasting), "stay")
            elements.words(wording.labels(material.labels))
            AddToFormula(self.session, [(material, 1.0)], changed=self._formula_changed)
            row = self.palette.catalogue.index[self.at]
            alike = self.palette.space.likeness(row).copy()
            alike[row] = -1
            offered = [
                i for i in alike.argsort()[::-1] if likeness_map.mapped(self.palette.catalogue.materials[i])
            ]
            more = elements.link("All that is known, and what it can be asked", f"/material/{quote(self.at)}")
            more.props["aria-label"] = f"All that is known, and what it can be asked: {material.name}"
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
            return list({r.end if r.start == self.at else r.start for r in related})

    def _list(self, found: Sequence[Material] | None, own: Sequence[Material]) -> None:
        """List what the filter leaves, without one what the marked formula has."""
        self.listed.clear()
        listed = own if found is None else found
        with self.listed:
            if not listed:
                return
            elements.words("In the formula" if found is None else "What the filter leaves", name="h2")
            with elements.tag("ul", "choices wide"):
                for material in listed[:MOST_LISTED]:
                    with elements.tag("li"):
                        elements.button(material.name, partial(self.choose, material.slug), "as-link")
                        elements.words(wording.lasting(material.lasting), "stay", "span")
            if len(listed) > MOST_LISTED:
                elements.words(f"and {len(listed) - MOST_LISTED} more; narrow it down to see them.", "remark")


def _given(key: str) -> str:
    return ", ".join(map(str, KEYS[key]))


def _legend() -> None:
    with elements.tag("ul", "map-legend"):
        for mark, text in (
            ("top", "top"), ("heart", "heart"), ("base", "base"), ("formula", "in the formula"),
            ("shelf", "on the shelf"),
        ):  # fmt: skip
            with elements.tag("li"):
                elements.tag("span", f"map-mark {mark}", aria_hidden="true")
                elements.words(text, name="span")


MAP_LABEL = (
    "Map of all materials by likeness of smell; plus and minus zoom, arrows move, 0 shows all. "
    "The filter above and the list below give the same to the keyboard."
)
HOW = (
    "Zoom with the wheel or + and −; drag to move; 0 shows the whole map. "
    "More names appear the closer you are."
)
EMPTY = (
    "Choose a dot, or a name in the list below, to see what it is and what it is related to, and to add it "
    "to a formula. Write a smell to see who has it."
)
