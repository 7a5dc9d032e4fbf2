"""The drydown of a formula as a chart: options for the chart library, no drawing of our own."""

import math
import zlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any

from recommender import units
from recommender.chemistry.odour_strength import CLEAR, JUST_THERE
from recommender.formulas import curves
from recommender.formulas.curves import Curve, Drawing, Mark
from recommender.output.curves import TICKS, curve_name, mark_text

COLOURS = tuple(f"var(--line-{place})" for place in range(curves.MOST))
"""Set in `style.css`, for light and dark; each readable as text on the page's ground."""
DASHES: Sequence[str | list[int]] = (
    "solid", [9, 4], [10, 3, 2, 3], [2, 3], [14, 4], [6, 3, 1, 3, 1, 3], [4, 2],
)  # fmt: skip
INK, FAINT, RULE = "var(--ink)", "var(--quiet)", "var(--rule)"
FONT = "inherit"
NAME_GAP = 0.058
"""Names stand apart by this share of the height."""
FAR_LEFT_H = 0.1
"""Names that stand earlier begin at their point, so that they are not cut off."""
AXIS_NAME_PX = 28
"""Room for the name of the upright axis [px]."""
MARK_ROW_PX, LETTER_PX, PLOT_PX = 15, 6.4, 260
"""A row of words above the chart, a letter in it, and the narrowest chart [px]."""
WHERE = math.log10


def options(drawing: Drawing, highlighted: str | None = None, on: str = "on a strip") -> dict[str, Any]:
    """Return what the chart library draws; `highlighted` is the facet that was clicked, `on` the surface."""
    rows = mark_rows(drawing)
    height = max(10.0, 10.0 * math.ceil(1.06 * drawing.top / 10.0))
    shown = [c for c in drawing.curves if c.gone or highlighted in c.facets] or list(drawing.curves[:2])
    series: list[dict[str, Any]] = []
    for curve in drawing.curves:
        if curve in shown:
            series += _band(drawing, curve)
    for curve in drawing.curves:
        series.append(_line(drawing, curve, highlighted))
    series.append(_names(drawing, height))
    series.append(_marks(drawing, height, rows))
    return {
        "animation": False,
        "textStyle": {"fontFamily": FONT, "color": INK},
        "aria": {"enabled": False},
        "grid": {
            "left": 44,
            "right": 108,
            "top": AXIS_NAME_PX + MARK_ROW_PX * (1 + max(rows, default=-1)),
            "bottom": 44,
        },
        "tooltip": {
            "trigger": "axis",
            "confine": True,
            "axisPointer": {"lineStyle": {"color": FAINT, "type": "solid"}},
            "backgroundColor": "var(--sheet)",
            "borderColor": RULE,
            "textStyle": {"color": INK, "fontSize": 13},
            ":formatter": tooltip(AT_AN_HOUR),
        },
        "xAxis": {
            "type": "value",
            "min": WHERE(1 / 60),
            "max": WHERE(168.0),
            "name": f"time {on}",
            "nameLocation": "middle",
            "nameGap": 30,
            "nameTextStyle": {"color": FAINT, "fontSize": 12},
            "axisLine": {"onZero": False, "lineStyle": {"color": RULE}},
            "axisTick": {"customValues": [WHERE(t) for t in TICKS], "lineStyle": {"color": RULE}},
            "axisLabel": {
                "customValues": [WHERE(t) for t in TICKS],
                "color": FAINT,
                "fontSize": 12,
                "hideOverlap": True,
                ":formatter": _ticks(),
            },
            "splitLine": {"show": False},
        },
        "yAxis": {
            "type": "value",
            "min": 0,
            "max": height,
            "name": "how strong, 0 to 100",
            "nameLocation": "end",
            "nameGap": 13,
            "nameTextStyle": {"color": FAINT, "fontSize": 12, "align": "left", "padding": [0, 0, 0, -38]},
            "axisLine": {"show": False, "onZero": False},
            "axisLabel": {"color": FAINT, "fontSize": 12},
            "splitLine": {"lineStyle": {"color": RULE, "opacity": 0.6}},
        },
        "series": series,
    }


def _ticks() -> str:
    named = {f"{WHERE(t):.3f}": "1 h" if t == 1 else units.duration(t) for t in TICKS}
    return f"(v) => ({named!r})[v.toFixed(3)] || ''"


def tooltip(rows: str) -> str:
    """Return a formatter whose rows are elements with texts in them, so that no name is read as markup.

    `rows` is a JavaScript function from what is pointed at to rows, each a list of texts; without rows
    there is no tooltip.
    """
    return f"""(found) => {{
  const rows = ({rows})(found), box = document.createElement('div');
  for (const texts of rows) {{
    const row = box.appendChild(document.createElement('div'));
    row.className = 'tip';
    for (const text of texts) row.appendChild(document.createElement('span')).textContent = text;
  }}
  return rows.length ? box : '';
}}"""


AT_AN_HOUR = """(points) => {
  const h = Math.pow(10, points[0].value[0]);
  const time = h < 1.5 ? Math.max(1, Math.round(h * 60)) + ' min'
    : h < 48 ? h.toPrecision(2) * 1 + ' h' : (h / 24).toPrecision(2) * 1 + ' days';
  const rows = points.filter(p => p.seriesId.startsWith('line ') && p.value[1] >= 0.5)
    .sort((a, b) => b.value[1] - a.value[1])
    .map(p => [p.seriesName, p.value[1].toFixed(0)]);
  return [[time], ...(rows.length ? rows : [['nothing is there any more']])];
}"""


def _colour(curve: Curve) -> str:
    return COLOURS[curve.place % len(COLOURS)]


def _points(drawing: Drawing, values: Sequence[float]) -> list[list[float]]:
    return [[round(WHERE(h), 4), round(v, 2)] for h, v in zip(drawing.hours.tolist(), values, strict=True)]


def _line(drawing: Drawing, curve: Curve, highlighted: str | None) -> dict[str, Any]:
    faded = highlighted is not None and highlighted not in curve.facets
    return {
        "type": "line",
        "id": f"line {curve.facets[0]}",
        "name": curve_name(curve),
        "data": _points(drawing, curve.values.tolist()),
        "showSymbol": False,
        "symbolSize": 10,
        "triggerLineEvent": True,
        "smooth": False,
        "z": 4 if curve.gone else 3,
        "lineStyle": {
            "color": _colour(curve),
            "width": 2.6 if curve.gone else 1.6,
            "type": DASHES[curve.place % len(DASHES)],
            "opacity": 0.45 if faded else 1,
        },
        "itemStyle": {"color": _colour(curve)},
        "emphasis": {"disabled": True},
    }


def _band(drawing: Drawing, curve: Curve) -> list[dict[str, Any]]:
    """Return the band between the least and the greatest: an unseen line and an area stacked on it."""
    stack = f"band {curve.facets[0]}"
    parts: Mapping[str, tuple[list[float], float]] = {
        "low": (curve.low.tolist(), 0.0),
        "high": ((curve.high - curve.low).tolist(), 0.13),
    }
    return [
        {
            "type": "line",
            "id": f"{stack} {name}",
            "data": _points(drawing, values),
            "stack": stack,
            "stackStrategy": "all",
            "showSymbol": False,
            "silent": True,
            "lineStyle": {"width": 0, "opacity": 0},
            "areaStyle": {"color": _colour(curve), "opacity": opacity, "origin": "auto"},
            "itemStyle": {"color": _colour(curve)},
            "emphasis": {"disabled": True},
            "tooltip": {"show": False},
            "z": 1,
        }
        for name, (values, opacity) in parts.items()
    ]


def _names(drawing: Drawing, height: float) -> dict[str, Any]:
    """Return the names as unseen points with labels, moved apart where they would touch."""
    items = []
    for curve, level in spread(drawing, height):
        at_end = curve.name_hours >= float(drawing.hours[-1])
        items.append(
            {
                "value": [WHERE(curve.name_hours), level],
                "name": curve.facets[0],
                "label": {
                    "formatter": curve_name(curve),
                    "color": _colour(curve),
                    "position": "right" if at_end else "top",
                    "align": "left" if at_end or curve.name_hours < FAR_LEFT_H else "center",
                    "fontWeight": 600 if curve.gone else 400,
                },
            }
        )
    return {
        "type": "scatter",
        "id": "names",
        "data": items,
        "symbolSize": 0.01,
        "clip": False,
        "label": {"show": True, "fontSize": 12.5, "width": 98, "overflow": "break", "distance": 6},
        "emphasis": {"disabled": True},
        "tooltip": {"show": False},
        "z": 6,
    }


def spread(drawing: Drawing, height: float) -> list[tuple[Curve, float]]:
    """Return curves with the height of their names, those at the right moved apart upwards, then down."""
    ends = sorted(
        (c for c in drawing.curves if c.name_hours >= float(drawing.hours[-1])), key=lambda c: c.name_height
    )
    gap, placed, lowest = NAME_GAP * height, [], 0.0
    for curve in ends:
        lines = 1 + len(curve_name(curve)) // 16
        at = max(curve.name_height, lowest + gap * (lines - 1) / 2)
        placed.append((curve, at))
        lowest = at + gap * (lines + 1) / 2
    over = (placed[-1][1] - height) if placed else 0.0
    if over > 0:
        placed = [(curve, max(at - over, gap * i)) for i, (curve, at) in enumerate(placed)]
    tops: list[tuple[Curve, float]] = []
    inner = [c for c in drawing.curves if c.name_hours < float(drawing.hours[-1])]
    for curve in sorted(inner, key=lambda c: c.name_height):
        at = curve.name_height
        for other, level in tops:
            near = abs(WHERE(curve.name_hours) - WHERE(other.name_hours)) < 0.9
            if near and abs(at - level) < gap:
                at = level + gap
        tops.append((curve, at))
    return [*placed, *tops]


def mark_rows(drawing: Drawing) -> list[int]:
    """Return in which row above the chart each mark has its words, so that none covers another."""
    ends: list[float] = []
    rows = []
    for mark in drawing.marks:
        at, width = PLOT_PX * _share(mark), LETTER_PX * len(mark_text(mark))
        start = at - {"left": 0.0, "center": 0.5, "right": 1.0}[_side(mark)] * width
        row = next((k for k, end in enumerate(ends) if start > end), len(ends))
        ends[row:] = [start + width, *ends[row + 1 :]]
        rows.append(row)
    return rows


def _share(mark: Mark) -> float:
    """Return where a mark is along the axis, 0-1."""
    return (WHERE(mark.hours) - WHERE(1 / 60)) / (WHERE(168.0) - WHERE(1 / 60))


def _side(mark: Mark) -> str:
    """Return how the words of a mark are aligned with it, so that none are cut off at either end."""
    share = _share(mark)
    return "left" if share < 0.25 else "center" if share < 0.6 else "right"


def _marks(drawing: Drawing, height: float, rows: Sequence[int]) -> dict[str, Any]:
    """Return the hours by which facets have gone as upright lines with their words above the chart."""
    return {
        "type": "line",
        "id": "marks",
        "data": [],
        "markLine": {
            "symbol": ["none", "none"],
            "silent": False,
            "animation": False,
            "lineStyle": {"color": INK, "width": 1, "type": [2, 3], "opacity": 0.75},
            "emphasis": {"disabled": True},
            "label": {"show": True, "position": "end", "rotate": 0, "fontSize": 12, "color": INK},
            "data": [
                {
                    "xAxis": WHERE(mark.hours),
                    "name": mark.facets[0],
                    "label": {
                        "formatter": mark_text(mark),
                        "align": _side(mark),
                        "distance": AXIS_NAME_PX - 18 + MARK_ROW_PX * (row + 1),
                    },
                }
                for mark, row in zip(drawing.marks, rows, strict=True)
            ]
            + [
                {
                    "yAxis": level,
                    "name": "",
                    "lineStyle": {"color": FAINT, "type": [1, 3], "opacity": 0.9},
                    "label": {
                        "formatter": word,
                        "position": "insideStartTop",
                        "rotate": 0,
                        "fontSize": 11,
                        "color": FAINT,
                    },
                }
                for level, word in ((CLEAR, "clear"), (JUST_THERE, "just there"))
                if level < height
            ],
        },
    }


def steady(drawing: Drawing, before: Drawing | None) -> Drawing:
    """Return a drawing in which every smell has the colour and dash that it had in the last one.

    A new one has those of its name where they are free, whatever its place among the others.
    """
    earlier: dict[str, tuple[int, int]] = {}
    for curve in before.curves if before else ():
        earlier |= {facet: (rank, curve.place) for rank, facet in enumerate(curve.facets)}
    claims = [
        (*earlier[facet], number)
        for number, curve in enumerate(drawing.curves)
        for facet in curve.facets
        if facet in earlier
    ]
    taken: dict[int, int] = {}
    for _, place, number in sorted(claims):  # the first of the smells that shared a line has it
        if number not in taken and place not in taken.values():
            taken[number] = place
    for number in sorted(range(len(drawing.curves)), key=lambda k: min(drawing.curves[k].facets)):
        if number not in taken:
            taken[number] = _free(_own_place(drawing.curves[number]), taken.values())
    coloured = [replace(curve, place=taken[number]) for number, curve in enumerate(drawing.curves)]
    return replace(drawing, curves=tuple(coloured))


def _own_place(curve: Curve) -> int:
    """Return the place of the colour that a smell has by its name, whatever else is drawn."""
    return zlib.crc32(min(curve.facets).encode()) % len(COLOURS)


def _free(wanted: int, taken: Collection[int]) -> int:
    """Return a place, or the next one that is not taken."""
    return next(
        p % len(COLOURS) for p in range(wanted, wanted + len(COLOURS)) if p % len(COLOURS) not in taken
    )
