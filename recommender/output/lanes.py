"""Lanes in words: the ends of a smell, what it is to the formula, what is smelled at an hour."""

from recommender import units
from recommender.formulas.lanes import Lane, Moment, Span
from recommender.output import wording

ABSENT = "not smelled"
NOTHING = "nothing is smelled any more"


def ends(lane: Lane) -> str:
    """Return the two ends of a smell: clear until 3 h, gone by 18 h; one that begins late from when on."""
    if lane.there is None:
        return ABSENT
    clear = "never clear"
    if lane.clear is not None:
        clear = f"{_from(lane.clear)}clear until {units.duration(lane.clear.hours)}"
    return f"{clear}, gone by {units.duration(lane.there.hours)}"


def alternative(lane: Lane) -> str:
    """Return a lane as text: rose, of the theme: clear until 18 h (8 to 40 h), gone by ...; it ends early."""
    head = f"{lane.facet}, of the theme" if lane.of_theme else lane.facet
    if lane.there is None:
        return f"{head}: {ABSENT} in this formula"
    clear = "never clear" if lane.clear is None else f"{_from(lane.clear)}clear until {_band(lane.clear)}"
    rest = "; it ends early" if lane.gap is not None else ""
    return f"{head}: {clear}, gone by {_band(lane.there)}{rest}"


def _from(span: Span) -> str:
    return f"from {units.duration(span.start)}, " if span.start > 0.05 else ""


def _band(span: Span) -> str:
    return wording.band(span.low, span.hours, span.high)


def moment(found: Moment) -> str:
    """Return what is smelled at an hour: vetiver, wood, a little grass."""
    faint = [f"a little {facet}" for facet in found.faint]
    return ", ".join([*found.clear, *faint]) or NOTHING


def speaking(found: Moment) -> str:
    """Return the lines that speak at an hour, the strongest first."""
    return wording.join(found.speaking)
