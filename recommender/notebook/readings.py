"""Readings of a strip as a person writes them: "almond clear, hay too strong (a bit dusty)"."""

import re
from collections.abc import Callable, Sequence
from pathlib import Path

from recommender.chemistry import odour_strength as strength
from recommender.errors import BadTable, BadValue, UnknownFacet
from recommender.evidence.sheets import Row, read_sheet
from recommender.model import Reading
from recommender.units import LONGEST_H, hours_of

SYNONYMS = {
    "just there": "trace",
    "faint": "trace",
    "a trace": "trace",
    "too much": "too strong",
    "too loud": "too strong",
    "nothing": "gone",
}
"""Other words of the trade for the same."""
WHOLE = ("whole", "all", "the whole", "whole smell", "it")
"""Words for the whole smell instead of one facet."""
SCALE = "gone, trace, clear, strong or too strong, or a number from 0 to 100"
_RATING = "|".join(sorted((*strength.RATINGS, *SYNONYMS), key=len, reverse=True))
_ONE = re.compile(
    rf"(?P<facet>.*?)\s*\b(?P<rating>{_RATING}|\d+(?:[.,]\d+)?)\s*(?:\((?P<words>[^()]*)\))?", re.IGNORECASE
)
_PARTED = re.compile(r"[;,](?![^()]*\))(?!\d)")


def readings_of(text: str, hours: float, known: Callable[[str], object]) -> tuple[Reading, ...]:
    """Return the readings that a person writes of a strip at one hour.

    Parameters
    ----------
    text : str
        Facets in words, each with how strong it is; without a facet the whole smell is meant.
    hours : float
        When it was smelled [h]; 0 is fresh.
    known : callable
        Raises `UnknownFacet` for words that name no facet.

    Raises
    ------
    BadValue, UnknownFacet
    """
    if not 0 <= hours <= LONGEST_H:
        raise BadValue("hour", f"{hours:g} h", "a strip is smelled between 0 h and ten years")
    found = []
    for part in filter(None, (piece.strip() for piece in _PARTED.split(text))):
        match = _ONE.fullmatch(part)
        if match is None:
            raise BadValue("reading", part, f'write a smell and {SCALE}, such as "almond clear, hay gone"')
        found.append(reading(hours, match["facet"], match["rating"], match["words"] or "", known))
    if not found:
        raise BadValue("reading", text, f'write a smell and {SCALE}, such as "almond clear, hay gone"')
    return tuple(found)


def reading(hours: float, facet: str, rating: str, words: str, known: Callable[[str], object]) -> Reading:
    """Return one reading from its cells; errors as `readings_of`."""
    facet, rating = " ".join(facet.casefold().strip(" :=").split()), " ".join(rating.casefold().split())
    facet = "" if facet in WHOLE else facet
    if facet:
        known(facet)
    rating = SYNONYMS.get(rating, rating)
    if rating in strength.RATINGS:
        return Reading(hours, rating, facet, None, words.strip())
    try:
        level = float(rating.replace(",", "."))
    except ValueError:
        level = -1.0
    if not 0 <= level <= 100:
        raise BadValue("strength", rating, f"it is {SCALE}")
    return Reading(hours, strength.rating_of(level), facet, level, words.strip())


def written(found: Reading) -> str:
    """Return a reading as it would be written: almond clear (dusty).

    >>> written(Reading(1.0, "clear", "almond", 12.0, "dusty"))
    'almond 12 (dusty)'
    """
    rating = found.rating if found.level is None else f"{found.level:g}"
    words = f" ({found.words})" if found.words else ""
    return f"{found.facet or 'whole'} {rating}{words}"


def by_hour(readings: Sequence[Reading]) -> list[Reading]:
    """Return readings in the order in which they were made."""
    return sorted(readings, key=lambda one: (one.hours, one.facet != "", one.facet))


ABOUT_A_TRIAL = ("formula", "day", "batch_g", "room_c", "verdict")
ABOUT_A_STRIP = ("material", "cas", "day", "dilution_percent", "solvent", "room_c")


def from_sheet(
    path: Path,
    about: Sequence[str],
    known: Callable[[str], object],
    notes: list[str] | None = None,
    sheet: str = "",
) -> list[tuple[Row, list[Reading]]]:
    """Read a table of readings, one a line, with the columns hours and strength, and facet and words.

    Returns the readings of each trial or strip, with the first row of it; lines with the same cells in
    the columns `about` belong together. Of these the first is required where it is `material`. `notes` takes
    what was understood and the columns that are not used. `sheet` is that of a workbook.

    Raises
    ------
    BadTable
        Says file, line and column.
    """
    needed = ["hours", "strength", *(name for name in about if name == "material")]
    optional = [*(name for name in about if name != "material"), "facet", "words"]
    rows = read_sheet(path, needed, optional, notes, {"material": ("label",)}, sheet)
    if not rows:
        raise BadTable(path.name, "there are no readings in it", remedy="Write one reading a line")
    found: dict[tuple[str, ...], tuple[Row, list[Reading]]] = {}
    for row in rows:
        try:
            hours = hours_of(row["hours"])
            one = reading(hours, row["facet"], row["strength"], row["words"], known)
        except UnknownFacet as error:
            near = f"Did you mean {', '.join(error.near)}?" if error.near else ""
            raise row.wrong("facet", f'no facet is known by "{error.phrase}"', near) from None
        except BadValue as error:
            column = {"hour": "hours", "smell": "facet"}.get(error.field, "strength")
            raise row.wrong(column, f'"{error.value}" cannot be read', f"Here, {error.wanted}") from None
        found.setdefault(tuple(row[name] for name in about), (row, []))[1].append(one)
    return list(found.values())
