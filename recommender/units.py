"""Hours, grams and per cent as people write them: one table of units, one reader of each."""

import re
from collections.abc import Mapping

from recommender.errors import BadValue

HOURS: Mapping[str, float] = {
    **dict.fromkeys(("min", "mins", "m", "minute", "minutes"), 1 / 60),
    **dict.fromkeys(("", "h", "hr", "hrs", "hour", "hours"), 1.0),
    **dict.fromkeys(("d", "day", "days"), 24.0),
    **dict.fromkeys(("w", "wk", "week", "weeks"), 168.0),
    **dict.fromkeys(("month", "months"), 24 * 30.4),
}
"""Hours of each unit of time, as people write it and as it is printed here [h]; a bare number is hours."""
MASSES: Mapping[str, float] = {
    **dict.fromkeys(("g", "gr", "gm", "gram", "grams", "gramm", "gramme", "grammes"), 1.0),
    **dict.fromkeys(("mg", "milligram", "milligrams", "milligramm", "milligramme", "milligrammes"), 1e-3),
    **dict.fromkeys(("kg", "kilo", "kilogram", "kilograms", "kilogramm", "kilogramme", "kilogrammes"), 1e3),
    **dict.fromkeys(("ug", "mcg", "\N{GREEK SMALL LETTER MU}g"), 1e-6),
    **dict.fromkeys(
        ("oz", "ounce", "ounces", "unze", "unzen", "once", "onces"), 28.349523125
    ),  # avoirdupois, 1959
    **dict.fromkeys(("lb", "lbs", "pound", "pounds"), 453.59237),  # avoirdupois, 1959
}
"""Unit of mass, as a sheet may write it, in lower case without accents -> grams."""
MILLILITRES: Mapping[str, float] = {
    **dict.fromkeys(("ml", "milliliter", "milliliters", "millilitre", "millilitres"), 1.0),
    **dict.fromkeys(("cl", "centiliter", "centilitre", "centilitres"), 10.0),
    **dict.fromkeys(("l", "liter", "liters", "litre", "litres"), 1000.0),
    **dict.fromkeys(("fl oz", "floz"), 29.5735295625),  # of the United States
}
"""Unit of volume, as a sheet may write it -> millilitres."""
CELSIUS: Mapping[str, float] = dict.fromkeys(("\N{DEGREE SIGN}c", "c", "\N{DEGREE SIGN}"), 1.0)
"""Unit of a temperature, as a sheet may write it."""
COUNTED = ("vol", "volume", "volumen", "drop", "drops", "tropfen", "goutte", "gouttes", "gtt")
"""What is no measure of mass, and of no known volume."""
PERCENT = ("%", "percent", "percentage", "pct", "prozent", "pourcent", "pourcentage")
SHARES: Mapping[str, str] = {
    **dict.fromkeys(("part", "parts", "teil", "teile", "partie", "parties"), "parts"),
    **dict.fromkeys((*PERCENT, "% w/w", "w/w"), "%"),
    **dict.fromkeys(("\N{PER MILLE SIGN}", "permille", "promille", "parts per thousand"), "permille"),
}
"""Unit of a share, as a sheet may write it -> one word for it; of one kind they are parts."""
GRAMS = {"": 1.0, "µg": 1e-6} | {word: MASSES[word] for word in ("g", "gram", "grams", "mg", "kg", "ug")}
"""Grams of each unit of mass that the command line takes [g]; a bare number is grams."""
VOLUMES = ("ml", "l", "cl", "drop", "drops", "oz", "fl oz")
LONGEST_H = 24.0 * 365 * 10
LEAST_G, MOST_G = 1e-6, 1e6

_NUMBER = r"(\d+(?:[.,]\d+)?|[.,]\d+)"
_THOUSANDS = re.compile(r"[1-9]\d{0,2}[.,]\d{3}")


def hours_of(text: str, *, above_zero: bool = False) -> float:
    """Return the hours of a time on a strip: 0, fresh, 30min, 8h, 1 day, 2 weeks [h].

    Parameters
    ----------
    text : str
    above_zero : bool
        Whether a fresh strip (0 h) is refused.

    Raises
    ------
    BadValue
        It is no time, or more than ten years.

    >>> hours_of("30 min"), hours_of("fresh"), hours_of("3d"), hours_of("a day"), hours_of("2 weeks")
    (0.5, 0.0, 72.0, 24.0, 336.0)
    """
    wanted = "write 30min, 8h or 3d" if above_zero else "write fresh, 30min, 8h or 3d"
    written = re.sub(r"^an? +", "1 ", text.strip().casefold())
    found = re.fullmatch(_NUMBER + r"\s*([a-z]*)", "0" if written == "fresh" else written)
    if not found or found[2] not in HOURS:
        raise BadValue("hour", text, wanted)
    hours = _number(found[1]) * HOURS[found[2]]
    if hours > LONGEST_H:
        raise BadValue("hour", text, f"a strip is smelled for ten years at most; {wanted}")
    if above_zero and hours == 0:
        raise BadValue("hour", text, f"it is above 0; {wanted}")
    return hours


def mass_of(text: str) -> float:
    """Return the grams of a mass: 10g, 250 mg, 1.5kg [g].

    Raises
    ------
    BadValue
        It is no mass, a volume, ambiguous, or not between a microgram and a tonne.

    >>> mass_of("250 mg"), mass_of("1,5 kg"), mass_of("10")
    (0.25, 1500.0, 10.0)
    """
    way_out = "write 10g, 250mg or 1.5kg"
    found = re.fullmatch(_NUMBER + r"\s*([a-zµ ]*)", text.strip().lower().replace("μ", "µ"))
    if found and found[2] in VOLUMES:
        raise BadValue("mass", text, f"it is not a mass; all is weighed: {way_out}")
    if not found or found[2] not in GRAMS:
        raise BadValue("mass", text, f"it is not a mass; {way_out}")
    if "," in found[1] and _THOUSANDS.fullmatch(found[1]):
        raise BadValue("mass", text, "it may be thousands or decimals; write it without a comma")
    grams = _number(found[1]) * GRAMS[found[2]]
    if not LEAST_G <= grams <= MOST_G:
        raise BadValue("mass", text, f"it is not a mass for a bench; {way_out}")
    return grams


def percent_of(text: str) -> float:
    """Return a share: 15, 15%, 0,5 % [%].

    Raises
    ------
    BadValue
        It is no share, or not above 0 and at most 100.

    >>> percent_of("12,5 %"), percent_of(".5")
    (12.5, 0.5)
    """
    found = re.fullmatch(_NUMBER + r"\s*%?", text.strip())
    if not found:
        raise BadValue("share", text, "it is not a share in per cent; write 15 or 15%")
    percent = _number(found[1])
    if not 0 < percent <= 100:
        raise BadValue("share", text, "it is not a share in per cent; it is above 0 and at most 100")
    return percent


def celsius_of(text: str) -> float:
    """Return the temperature of a room: 21, 21,5 C, 25 °C [C].

    Raises
    ------
    BadValue
        It is no temperature, or none of a room.
    """
    found = re.fullmatch(r"(-?\d+(?:[.,]\d+)?)\s*(\S*)", text.strip().casefold())
    if not found or found[2] not in ("", *CELSIUS) or not -10 <= _number(found[1]) <= 50:
        raise BadValue("room_c", text, "write a room between -10 and 50 C, such as 21")
    return _number(found[1])


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def duration(hours: float) -> str:
    """Return a time as a perfumer says it, a figure with the same words wherever it is shown.

    >>> duration(15.46), duration(15.5), duration(47.7)
    ('16 h', '16 h', '2 days')
    >>> duration(0.43), duration(3.6), duration(100), duration(620), duration(5000)
    ('26 min', '3.6 h', '4.2 days', '3.7 weeks', '7 months')
    """
    hours = float(f"{hours:.3g}")  # as data have it: both round to the same words
    minutes = hours * 60
    if minutes < 0.95:
        return "under a minute"
    if float(f"{minutes:.0f}") < 90:
        return f"{minutes:.0f} min"
    if float(f"{hours:.2g}") < 48:
        return f"{hours:.2g} h"
    days = hours / 24
    if float(f"{days:.2g}") < 14:
        return f"{days:.2g} days"
    if days < 70:
        return f"{days / 7:.2g} weeks"
    return f"{days / 30.4:.0f} months" if days < 365 else "over a year"
