"""The lanes of a formula as the browser draws them: places along the time axis, and how dark each is."""

import math
from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from nicegui.element import Element

from recommender import units
from recommender.formulas.lanes import Lane, Moment, Span
from recommender.model import Reading
from recommender.notebook.readings import written
from recommender.output import lanes as words
from recommender.output.trials import at

FIRST_H, LAST_H = 1 / 60, 168.0
"""Hours at the ends of the axis, which is logarithmic."""
TICKS = (1 / 60, 0.25, 1, 4, 12, 48, 168)
"""Hours that the axis names."""
SAME = 1.05
"""An hour of the cursor that is off a named one by less than this factor is that one."""
STEPS = 14
"""So many steps along the axis in how dark a lane is."""
FAINTEST, DARKEST = 0.5, 1.0
"""How dark a lane is where its smell is hardly clear, and where it is the loudest of all."""
Stop = tuple[float, float]
"""A place along the axis, 0-1, and how opaque the lane is there, 0-1."""


def place(hours: float) -> float:
    """Return where an hour is along the axis, 0 at a minute, 1 at a week.

    >>> [round(place(hours), 2) for hours in (1 / 60, 1.0, 168.0, 1000.0)]
    [0.0, 0.44, 1.0, 1.0]
    """
    share = math.log(max(hours, 1e-9) / FIRST_H) / math.log(LAST_H / FIRST_H)
    return min(max(share, 0.0), 1.0)


def sureness(span: Span, hours: float) -> float:
    """Return how sure it is that a smell has its level at an hour, 0-1.

    It falls along log time from 1 at the low end of the band over 0.5 at the end itself to 0 at the high end.
    """
    if hours < span.start:
        return 0.0
    for first, last, high in ((span.low, span.hours, 1.0), (span.hours, span.high, 0.5)):
        if hours <= first:
            return high
        if hours < last:
            return high - 0.5 * math.log(hours / first) / math.log(last / first)
    return 0.0


def stops(span: Span | None, strength: Callable[[float], float] = lambda hours: 1.0) -> list[Stop]:
    """Return how opaque a lane is along the axis: from its start, fading over the band of its end.

    `strength` is how dark the lane is at an hour where it is sure, 0-1. Empty where there is no span.
    """
    if span is None:
        return []
    inner = [FIRST_H * (LAST_H / FIRST_H) ** (k / STEPS) for k in range(STEPS + 1)]
    hours = sorted({h for h in (*inner, span.low, span.hours, span.high) if span.start <= h <= span.high})
    found = [(place(hour), sureness(span, hour) * strength(hour)) for hour in (span.start, *hours)]
    if span.start > FIRST_H:
        found.insert(0, (place(span.start / 1.15), 0.0))
    return _without_needless([(round(where, 3), round(dark, 2)) for where, dark in found])


def _without_needless(found: list[Stop]) -> list[Stop]:
    """Return stops without those that lie on the line between their neighbours."""
    bends = found[:1]
    for before, here, after in zip(found, found[1:], found[2:], strict=False):
        if not before[1] == here[1] == after[1]:
            bends.append(here)
    return [*bends, *found[-1:]] if len(found) > 1 else bends


def drawn(lane: Lane, hours: Sequence[float], loudest: float) -> dict[str, Any]:
    """Return a lane as the browser draws it; `hours` are those of its values, `loudest` the most of all."""

    def strength(hour: float) -> float:
        nearest = min(bisect_left(hours, hour), len(hours) - 1)
        return FAINTEST + (DARKEST - FAINTEST) * min(lane.values[nearest] / max(loudest, 1e-9), 1.0)

    return {
        "facet": lane.facet,
        "clear": stops(lane.clear, strength),
        "there": stops(lane.there),
        "ends": words.ends(lane),
        "text": words.alternative(lane),
        "theme": lane.of_theme,
        "gap": lane.gap is not None,
    }


SIGNS = {"gone": "○", "trace": "◔", "clear": "◑", "strong": "●", "too strong": "▲"}
"""The sign of a reading: fuller the stronger, so that it is read without colour."""


def with_readings(
    pictures: list[dict[str, Any]], readings: Sequence[Reading], smell: Callable[[str], Mapping[str, float]]
) -> list[dict[str, Any]]:
    """Return lanes with the readings of their smells as dots; a reading of an umbrella word is in all of its.

    `smell` returns the facets that a word stands for. A reading of the whole smell is in no lane.
    """
    found = []
    for picture in pictures:
        own = [one for one in readings if one.facet and picture["facet"] in smell(one.facet)]
        own.sort(key=lambda one: one.hours)
        dots = [
            {"at": round(place(max(one.hours, FIRST_H)), 4), "sign": SIGNS[one.rating], "text": read_at(one)}
            for one in own
        ]
        text = picture["text"]
        if own:
            text = f"{text}. Smelled: {'; '.join(map(read_at, own))}"
        found.append(picture | {"dots": dots, "text": text})
    return found


def read_at(one: Reading) -> str:
    """Return a reading with its hour: almond clear at 8 h."""
    return f"{written(one)}, {at(one.hours)}"


def moments_drawn(
    moments: Sequence[Moment], names: Mapping[str, str] = MappingProxyType({})
) -> list[dict[str, Any]]:
    """Return what the time cursor says at each hour; `names` are those as typed of materials."""
    return [
        {
            "at": round(place(moment.hours), 4),
            "hour": hour_words(moment.hours),
            "smelled": words.moment(moment),
            "speaking": words.speaking(
                replace(moment, speaking=tuple(names.get(n, n) for n in moment.speaking))
            ),
        }
        for moment in [replace(each, hours=on_tick(each.hours)) for each in moments]
    ]


def on_tick(hours: float) -> float:
    """Return an hour, or the one that the axis names where they differ by less than the ends are sure.

    >>> on_tick(0.97), on_tick(0.83)
    (1, 0.83)
    """
    return next((tick for tick in TICKS if abs(math.log(hours / tick)) < math.log(SAME)), hours)


def hour_words(hours: float) -> str:
    """Return an hour in words: 1 h, and not 60 min."""
    return "1 h" if hours == 1 else units.duration(hours)


def ticks() -> list[dict[str, Any]]:
    """Return the labels of the axis and their places."""
    last = {LAST_H: f"{units.duration(LAST_H)} and more"}
    return [{"at": round(place(t), 4), "text": last.get(t) or hour_words(t)} for t in TICKS]


class Lanes(Element, component="lanes.js"):
    """The lanes with a time cursor; the cursor moves in the browser alone.

    Without `ask` they are only to be looked at.
    """

    def __init__(
        self, ask: Callable[[str], object] | None = None, pin: Callable[[str], object] | None = None
    ) -> None:
        super().__init__()
        self.props["ticks"] = ticks()
        self.props["lanes"], self.props["moments"], self.props["ghost"] = [], [], None
        self.props["plain"] = ask is None
        if ask is not None:
            self.on("ask", lambda event: ask(str(event.args)))
        if pin is not None:
            self.on("pin", lambda event: pin(str(event.args)))

    def show(self, lanes: list[dict[str, Any]], moments: list[dict[str, Any]]) -> None:
        """Draw lanes; what was drawn before goes, the cursor stays at its hour."""
        self.props["lanes"], self.props["moments"] = lanes, moments

    def ghost(self, found: dict[str, Any] | None) -> None:
        """Draw a second set of lanes behind: `name` and `lanes` by smell; None takes them away."""
        self.props["ghost"] = found
