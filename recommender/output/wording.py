"""Words for figures: times, strengths, lists, relations."""

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, cast, overload

from recommender.chemistry.odour_strength import strength_ratio
from recommender.model import Label, Lasting
from recommender.units import duration

STRENGTH_WORDS = {1: "trace", 2: "clear", 3: "leading"}

SIGNS_OFF = "Check the current Standards and your local law; a qualified person signs off."

RELATION_WORDS = {
    "replaces": "is a customary substitute for",
    "stronger-form-of": "is a much stronger form of",
    "constituent-of": "is found in",
    "isomer-of": "is an isomer of",
    "homologue-of": "is a close homologue of",
    "shares-facet": "smells similar to",
    "ester-of": "is an ester of",
    "acetal-of": "is an acetal of",
    "derivative-of": "is made from",
    "classic-pair": "is a classic partner of",
    "oxidises-to": "oxidises in air to",
    "clashes": "clashes with",
}

TROUBLE_WORDS = {
    "toxic vapour": "harmful vapour",
    "regulated": "regulated",
    "phototoxic": "phototoxic",
    "discolours": "discolours",
    "schiff base": "discolours with amines",
    "sensitiser": "sensitises skin",
}


def join(words: Iterable[str], last: str = "and") -> str:
    """Return words as a list in a sentence: a, b and c."""
    found = list(words)
    if len(found) < 2:
        return "".join(found)
    return f"{', '.join(found[:-1])} {last} {found[-1]}"


def band(low: float, hours: float, high: float) -> str:
    """Return hours with their band: 3.7 weeks (1.7 to 8.1 weeks); without it if all three read the same."""
    first, middle, last = (duration(value) for value in (low, hours, high))
    if first == middle == last:
        return middle
    head, tail = first.split(" "), last.split(" ")
    if len(head) == len(tail) == 2 and head[1] == tail[1]:
        first = head[0]
    return f"{middle} ({first} to {last})"


def lasting(found: Lasting | None) -> str:
    """Return position, hours and band: base, 3.7 weeks (1.7 to 8.1 weeks)."""
    if found is None:
        return "lasting unknown"
    return f"{found.position}, {band(found.low, found.hours, found.high)}"


def strength_against(own: float | None, asked: float | None, name: str, firm: bool = True) -> str:
    """Return how strong one material is compared with another at the same dose; no numbers unless firm."""
    if own is None:
        return "strength unknown"
    found = strength_ratio(own, asked or 0.0)
    if found is None:
        return f"strength {own:.0f} of 100 at 1 %"
    ratio = found.ratio
    if found.about_equal:
        return f"about as strong as {name}"
    if not firm:
        much = "much " if found.much else ""
        return f"probably {much}{'stronger' if ratio > 1 else 'weaker'} than {name}"
    if ratio > 1:
        times = f"{ratio:.1f}" if ratio < 3 else f"{ratio:.0f}"
        return f"{times} times as strong as {name}"
    parts = {2: "half", 3: "a third", 4: "a quarter", 5: "a fifth", 6: "a sixth"}
    part = round(1 / ratio)
    if part < 2:
        return f"somewhat weaker than {name}"
    if found.far_weaker:
        return f"far weaker than {name}"
    return f"about {parts.get(part, f'1/{part}')} as strong as {name}"


def labels(found: Sequence[Label], most: int = 8) -> str:
    """Return facets with their strength: hay (leading), tonka (clear)."""
    return ", ".join(f"{label.facet} ({STRENGTH_WORDS[label.strength]})" for label in found[:most])


def facets(found: Sequence[Label], most: int = 6) -> str:
    """Return facets in words, traces last: hay and tonka; a trace of tobacco."""
    strong = [label.facet for label in found[:most] if label.strength > 1]
    faint = [label.facet for label in found[:most] if label.strength == 1]
    parts = [join(strong)] if strong else []
    if faint:
        parts.append(f"a trace of {join(faint)}")
    return "; ".join(parts)


def step(relation: Mapping[str, Any]) -> str:
    """Return one relation in words: coumarin is found in tonka bean absolute (about 60 %)."""
    note = f" ({relation['note']})" if relation["note"] else ""
    return f"{relation['from']} {RELATION_WORDS[relation['relation']]} {relation['to']}{note}"


def shown(value: float | None) -> str:
    """Return a number for a table: two or three digits, 0 for anything below 0.005."""
    if value is None:
        return ""
    if abs(value) < 0.005:
        return "0"
    return f"{value:.2g}" if abs(value) < 99.5 else f"{value:.0f}"


def parts_of(value: float) -> str:
    """Return parts per thousand with two or three digits and no exponent: 0.00012, 8.3, 150."""
    if value >= 99.5:
        return f"{value:.0f}"
    return f"{float(f'{value:.2g}'):.9f}".rstrip("0").rstrip(".") if 0 < value < 1e-4 else f"{value:.2g}"


def parts(value: float) -> str:
    """Return an amount with its noun: 1 part, 2.5 parts."""
    number = parts_of(value)
    return f"{number} part" if number == "1" else f"{number} parts"


def percent(value: float) -> str:
    """Return a percentage without needless digits: 0.0005, 0.1, 15."""
    return f"{value:.4f}".rstrip("0").rstrip(".") if value < 1 else f"{value:g}"


def tidy(value: float) -> float:
    """Return a number with three significant digits."""
    return float(f"{value:.3g}") if math.isfinite(value) else value


@overload
def sixth(value: float) -> float: ...
@overload
def sixth(value: None) -> None: ...
@overload
def sixth(value: float | None) -> float | None: ...
def sixth(value: float | None) -> float | None:
    """Return a number with six significant digits.

    >>> sixth(17.600000000000001), sixth(None)
    (17.6, None)
    """
    return None if value is None else float(f"{value:.6g}")


def tidy_figures(figures: Mapping[str, object]) -> dict[str, Any]:
    """Return figures with three significant digits, nested ones too."""
    return {
        key: tidy(value)
        if isinstance(value, float)
        else tidy_figures(cast(Mapping[str, object], value))
        if isinstance(value, Mapping)
        else value
        for key, value in figures.items()
    }


def theme(found: Mapping[str, Any]) -> str:
    """Return what a formula is about, as one line.

    >>> theme({"facets": ["lavender", "herbal"], "stated": False})
    'Theme: lavender, herbal (inferred)'
    """
    facets = ", ".join(found["facets"]) or "nothing that stands out"
    return f"Theme: {facets} ({'stated' if found['stated'] else 'inferred'})"


def on(surface: str) -> str:
    """Return a surface with its article.

    >>> on("strip"), on("skin")
    ('a strip', 'skin')
    """
    return "a strip" if surface == "strip" else surface
