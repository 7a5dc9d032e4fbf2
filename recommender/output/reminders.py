"""When a strip is to be smelled again: as words, and as a calendar file (iCalendar, RFC 5545)."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from recommender import units

SMELL_AT_H = (1.0, 8.0, 24.0)
"""Hours after dipping at which a strip is smelled at the least: top, heart, base [h]."""
LATE_H = 0.5
"""An hour counts as smelled if a reading is as near [share of the hour]."""


def due(hours_read: Sequence[float], wanted: Sequence[float] = SMELL_AT_H) -> list[float]:
    """Return the hours that are still to be smelled: those without a reading near them, or a later one.

    >>> due([1.25])
    [8.0, 24.0]
    """
    last = max(hours_read, default=-1.0)
    return [hour for hour in wanted if hour * (1 - LATE_H) > last]


def next_line(since_h: float, hours_read: Sequence[float]) -> str:
    """Return what to smell next on a strip that was dipped some hours ago [h]."""
    left = due(hours_read)
    if not left:
        return "It has been smelled at 1 h, at 8 h and after a day."
    hour = left[0]
    if since_h >= hour:
        return f"Smell it now: {units.duration(hour)} after dipping are over."
    return f"Next: smell it {units.duration(hour)} after dipping, in {units.duration(hour - since_h)}."


def calendar(title: str, number: int, dipped: datetime, hours: Sequence[float] = SMELL_AT_H) -> str:
    """Return a calendar file with one reminder for each hour after dipping.

    Parameters
    ----------
    title : str
        What is on the strip: morello@2.
    number : int
        Of the trial; with the hour it makes the identifier, so that a second import changes nothing.
    dipped : datetime
        When it was dipped (UTC, naive).
    hours : sequence of float
        Hours after dipping [h].
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//recommender//trials//EN"]
    for hour in hours:
        start = dipped + timedelta(hours=hour)
        lines += [
            "BEGIN:VEVENT",
            f"UID:trial-{number}-{hour:g}h-{dipped:%Y%m%dT%H%M}@recommender",
            f"DTSTAMP:{dipped:%Y%m%dT%H%M%SZ}",
            f"DTSTART:{start:%Y%m%dT%H%M%SZ}",
            "DURATION:PT10M",
            f"SUMMARY:{_escaped(f'Smell the strip of {title}: {units.duration(hour)}')}",
            "BEGIN:VALARM",
            "ACTION:DISPLAY",
            f"DESCRIPTION:{_escaped(f'Smell the strip of {title}')}",
            "TRIGGER:PT0S",
            "END:VALARM",
            "END:VEVENT",
        ]
    folded = [piece for line in [*lines, "END:VCALENDAR"] for piece in _folded(line)]
    return "\r\n".join(folded) + "\r\n"


def _escaped(text: str) -> str:
    """Return a text value with the signs escaped that have a meaning in the file (RFC 5545, 3.3.11)."""
    for sign in ("\\", ";", ","):
        text = text.replace(sign, f"\\{sign}")
    return text.replace("\n", "\\n")


def _folded(line: str) -> list[str]:
    """Return a line in pieces of at most 75 octets, as RFC 5545 (3.1) asks."""
    pieces, room = [""], 75
    for sign in line:
        size = len(sign.encode())
        if size > room:
            pieces.append(" ")
            room = 74
        pieces[-1] += sign
        room -= size
    return pieces
