"""Two formulas lane by lane, and what was changed from one to the other, line by line."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from recommender.formulas import comparison, lanes
from recommender.formulas.drydown import FormulaDrydown
from recommender.output import revisions
from recommender.output.lanes import moment
from recommender.output.wording import parts_of
from recommender.web.widgets import lanes as drawn_lanes

MOST = 12
"""Smells of which both lanes are drawn."""


@dataclass(frozen=True, slots=True)
class ComparisonView:
    """Two formulas as the browser draws them: two lanes a smell, and the time cursor.

    `changes` are rows of a name, the parts before and after; `room` is what became of all other lines, blank
    where nothing did.
    """

    names: tuple[str, str]
    pictures: list[dict[str, Any]]
    moments: list[dict[str, Any]]
    changes: tuple[tuple[str, str, str], ...]
    room: str


def comparison_view(
    one: FormulaDrydown, other: FormulaDrydown, names: tuple[str, str], asked: Sequence[str] = ()
) -> ComparisonView:
    """Return two formulas side by side, called by their names; `asked` are smells that have to be drawn."""
    known = [facet for facet in asked if facet in one.film.facets]
    shown = [lanes.shown(each, known) for each in (one, other)]
    facets = list(dict.fromkeys(facet for pair in zip(*_even(shown), strict=True) for facet in pair if facet))
    loudest = max(float(each.course.facets.max()) for each in (one, other))
    pictures = []
    pairs = zip(lanes.lanes(one, facets[:MOST]), lanes.lanes(other, facets[:MOST]), strict=True)
    for pair in pairs:
        for number, (lane, table, name) in enumerate(zip(pair, (one, other), names, strict=True)):
            picture = drawn_lanes.drawn(lane, table.course.hours.tolist(), loudest)
            text = f"{name}: {picture['text']}"
            key = f"{lane.facet} {number}"
            pictures.append(picture | {"key": key, "of": name, "second": number == 1, "text": text})
    found = comparison.diff(one, other)
    return ComparisonView(
        names,
        pictures,
        _moments(one, other, names),
        tuple(map(_change, found.moved)),
        revisions.room_line(found),
    )


def _even(lists: Sequence[list[str]]) -> list[list[str]]:
    longest = max(map(len, lists))
    return [[*one, *[""] * (longest - len(one))] for one in lists]


def _moments(one: FormulaDrydown, other: FormulaDrydown, names: tuple[str, str]) -> list[dict[str, Any]]:
    """Return what the time cursor says of both."""
    first, second = lanes.moments(one), lanes.moments(other)
    drawn = drawn_lanes.moments_drawn(first)
    for each, here, there in zip(drawn, first, second, strict=True):
        each["smelled"] = f"{names[0]}: {moment(here)}; {names[1]}: {moment(there)}"
        each["speaking"] = ""
    return drawn


def _change(line: comparison.MovedLine) -> tuple[str, str, str]:
    before, after = ("not in it" if parts is None else parts_of(parts) for parts in (line.before, line.after))
    return line.material.name, before, after
