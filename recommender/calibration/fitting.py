"""What a person's strips show: figures with their bands, and predictions beside readings.

Three figures hold for all strips (still air, nose, paper). For each material the table's pressure and
strength may be off by the table's own uncertainty, so that a few materials cannot pretend to know the air.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from recommender.calibration.likelihood import SLIP, levels, readings_of
from recommender.calibration.search import WIDE, best
from recommender.chemistry import odour_strength as strength
from recommender.chemistry.vapour_pressure import STRIP_ERROR
from recommender.errors import BadValue
from recommender.evaporation import DEFAULT_CONDITIONS, Array, Conditions, OwnReading
from recommender.evaporation.film import last_above
from recommender.model import Material, OwnStrip, Reading
from recommender.progress import Progress, parts

KNOWN_WITHIN = math.log(2.0)
"""A figure is taken from the readings where they determine it to within a factor of two."""
MISSED_TIMES = 2.0
"""A fit misses the end of a material if it has it so many times later or sooner than all readings."""
_STRETCHES = 8
"""How often such a material is stretched in time: each brings its end closer to what was read."""
READINGS_NEEDED = {
    "film_m": "smell three materials or more until they are gone",
    "nose_l_per_s": "smell more materials within their first hours, and put numbers to the strength",
    "paper_share": "smell more volatile materials again and again until no trace is left",
}
"""What to smell so that a figure can be fitted."""
PARAMETERS = tuple(READINGS_NEEDED)
ODD = 0.8 * math.sqrt(-2.0 * math.log(SLIP))
"""A reading that fits worse than this is shown as an outlier: a slip explains it as well."""
_HOURS = np.geomspace(1 / 60, 24 * 365 * 5, 200)


@dataclass(frozen=True, slots=True)
class FittedParameter:
    """One figure of the strips: its value, its band (a standard error either way), and that of the table.

    `fitted` is False where the readings do not determine it; then the table's value stands, and `remark` is
    what to smell.
    """

    name: str
    value: float
    low: float
    high: float
    table: float
    fitted: bool
    remark: str = ""


@dataclass(frozen=True, slots=True)
class PredictedReading:
    """One reading beside those predicted by table and fit, 0-100; `outlier` where it fits badly."""

    strip: OwnStrip
    reading: Reading
    table: float
    own: float
    outlier: bool


@dataclass(frozen=True, slots=True)
class StripEnd:
    """When a strip was no longer *clear* (or *just there*): between two readings, by table, as fitted [h].

    `alone` is what the three figures predict without this material's own offsets, as for any other material.
    """

    strip: OwnStrip
    level: str
    after: float
    before: float
    table: float
    own: float
    alone: float

    @property
    def read(self) -> float:
        """The hour halfway, in ratios, between the two readings."""
        return math.sqrt(self.after * self.before)


@dataclass(frozen=True, slots=True)
class Fit:
    """What was fitted to strips.

    `apart` is the typical factor between hours read and predicted, for each of table, own and alone.
    """

    conditions: Conditions
    known: tuple[FittedParameter, ...]
    compared: tuple[PredictedReading, ...]
    ended: tuple[StripEnd, ...]
    apart: Mapping[str, float]


def fit(strips: Sequence[OwnStrip], progress: Progress | None = None) -> Fit:
    """Fit still air, nose and paper to strips of some materials.

    Figures that the readings do not determine to within a factor of two stay as in the table, with a remark.
    Outliers stay in the fit, where a slip can pull only so far, and are marked. But where all readings of a
    material agree on when it ended, and the fit has it end at twice or half of that, its course follows
    them: what a person smelled overrules the table. `progress` is given the share of the work that is done,
    0-1, as if no figure were determined.

    Raises
    ------
    BadValue
        There is no strip, or one of a material that is not known well enough, or without readings.
    """
    _check(strips)
    readings = readings_of(strips, DEFAULT_CONDITIONS)
    prior = _prior(strips)
    free, remarks = list(range(len(PARAMETERS))), {}
    rounds = parts(progress, len(PARAMETERS) + 1)
    while True:
        unknowns, spread = best(readings, prior, free, rounds[-1 - len(free)])
        doubtful = [k for k in free if spread[k] > KNOWN_WITHIN]
        if not doubtful:
            break
        worst = max(doubtful, key=lambda k: float(spread[k]))
        name = PARAMETERS[worst]
        factor = math.exp(min(float(spread[worst]), WIDE))
        remarks[name] = f"readings determine it only to a factor of {factor:.2g}: {READINGS_NEEDED[name]}"
        free.remove(worst)
    unknowns = _stretched(strips, unknowns)
    fitted = _conditions(strips, unknowns)
    own = dict(fitted.own)
    values = {name: getattr(fitted, name) for name in PARAMETERS}
    known = tuple(
        FittedParameter(
            name,
            values[name],
            values[name] * math.exp(-float(spread[k])) if k in free else values[name],
            values[name] * math.exp(float(spread[k])) if k in free else values[name],
            getattr(DEFAULT_CONDITIONS, name),
            k in free,
            remarks.get(name, ""),
        )
        for k, name in enumerate(PARAMETERS)
    )
    misfit = readings.misfit(readings.predicted(unknowns))
    ended = tuple(end for strip in strips for end in _ends(strip, fitted))
    clear_ends = {end.strip.material.slug: end for end in ended if end.level == "clear"}
    own |= {
        slug: replace(own[slug], hours=end.read, table_hours=end.table) for slug, end in clear_ends.items()
    }
    return Fit(replace(fitted, own=own), known, _compared(strips, fitted, misfit), ended, _apart(ended))


def _conditions(strips: Sequence[OwnStrip], unknowns: Array) -> Conditions:
    """Return the conditions that unknowns stand for, at the median temperature of the rooms."""
    slugs = list(dict.fromkeys(strip.material.slug for strip in strips))
    pairs = np.exp(unknowns[3:]).reshape(2, -1).T
    own = {slug: OwnReading(float(f), float(s)) for slug, (f, s) in zip(slugs, pairs, strict=True)}
    ratios = dict(zip(PARAMETERS, np.exp(unknowns[:3]).tolist(), strict=True))
    values = {name: getattr(DEFAULT_CONDITIONS, name) * ratio for name, ratio in ratios.items()}
    rooms = float(np.median([strip.room_c for strip in strips]))
    return Conditions(**values, temperature_c=rooms, own=own)


def _stretched(strips: Sequence[OwnStrip], unknowns: Array) -> Array:
    """Return the unknowns, with those materials stretched in time whose end the fit misses.

    What is n times faster and n times weaker in air smells as strong at the start, and ends n times sooner.
    """
    slugs = list(dict.fromkeys(strip.material.slug for strip in strips))
    declining = [strip for strip in strips if _declines(strip)]
    moved, missed = unknowns.copy(), dict[str, str]()
    for end in (end for strip in declining for end in _ends(strip, _conditions(strips, moved))):
        if not end.after / MISSED_TIMES <= end.own <= end.before * MISSED_TIMES:
            missed.setdefault(end.strip.material.slug, end.level)
    for _ in range(_STRETCHES if missed else 0):
        fitted = _conditions(strips, moved)
        ends = [end for strip in declining for end in _ends(strip, fitted)]
        for slug, level in missed.items():
            same = [x for x in ends if x.strip.material.slug == slug and x.level == level]
            sooner = float(np.mean([math.log(x.own / x.read) for x in same]))
            place = 3 + slugs.index(slug)
            moved[place] += sooner
            moved[place + len(slugs)] -= sooner
    return moved


def _declines(strip: OwnStrip) -> bool:
    """Return whether a strip, once it was no longer clear, was never so again."""
    clear = [_at_least(one, strength.CLEAR) for one in sorted(strip.readings, key=lambda one: one.hours)]
    return clear == sorted(clear, reverse=True)


def check_material(material: Material) -> None:
    """Raise `BadValue` where a strip of a material could show nothing."""
    if material.curve is None or not any(part.pressure_pa > 0 for part in material.parts):
        raise BadValue("strip", material.name, "how it evaporates or how strong it is, is not known")


def _check(strips: Sequence[OwnStrip]) -> None:
    if not strips:
        raise BadValue("strips", "", "there is none yet; smell a few materials hour by hour")
    for strip in strips:
        material = strip.material
        check_material(material)
        if not strip.readings:
            raise BadValue("strip", material.name, "it has no readings; say how it smelled at which hour")


def _prior(strips: Sequence[OwnStrip]) -> Array:
    """Return how far each unknown may be off, in logs: for materials by the table's own uncertainty.

    It is no less than what one dip and one nose differ by, or a single strip would tell the air.
    """
    materials = {strip.material.slug: strip.material for strip in strips}
    loudest = [
        max((p for p in m.parts if p.curve is not None), key=lambda p: p.mass_fraction)
        for m in materials.values()
    ]
    pressures = [part.log_error for part in loudest]
    curves = [part.curve.log_error if part.curve else 0.5 for part in loudest]
    decades = np.maximum([*pressures, *curves], STRIP_ERROR)
    return np.concatenate([[WIDE] * len(PARAMETERS), math.log(10.0) * decades])


def _compared(strips: Sequence[OwnStrip], fitted: Conditions, misfit: Array) -> tuple[PredictedReading, ...]:
    found = []
    for row, strip in enumerate(strips):
        hours = [reading.hours for reading in strip.readings]
        by_table, by_own = levels(strip, hours, DEFAULT_CONDITIONS), levels(strip, hours, fitted)
        for column, reading in enumerate(strip.readings):
            odd = abs(float(misfit[row, column])) > ODD
            found.append(
                PredictedReading(strip, reading, float(by_table[column]), float(by_own[column]), odd)
            )
    return tuple(found)


def _ends(strip: OwnStrip, fitted: Conditions) -> list[StripEnd]:
    """Return the ends of a strip that its readings bracket, with what is predicted for them."""
    read = sorted(strip.readings, key=lambda reading: reading.hours)
    settings: dict[str, Callable[[], Conditions]] = {
        "table": lambda: DEFAULT_CONDITIONS,
        "own": lambda: fitted,
        "alone": lambda: replace(fitted, own={}),
    }
    lines = {name: levels(strip, _HOURS, make()) for name, make in settings.items()}
    found = []
    for name, level in (("clear", strength.CLEAR), ("just_there", strength.JUST_THERE)):
        above = [reading.hours for reading in read if _at_least(reading, level)]
        below = [r.hours for r in read if not _at_least(r, level) and (not above or r.hours > above[-1])]
        if not above or not below:
            continue
        ends = {key: last_above(_HOURS, line, level) or float(_HOURS[0]) for key, line in lines.items()}
        found.append(StripEnd(strip, name, max(above[-1], float(_HOURS[0])), below[0], **ends))
    return found


def _at_least(reading: Reading, level: float) -> bool:
    if reading.level is not None:
        return reading.level >= level
    return strength.RATINGS[reading.rating][0] >= level


def _apart(ended: Sequence[StripEnd]) -> dict[str, float]:
    """Return the typical factor (root mean square of logs) between hours read and hours predicted."""
    if not ended:
        return {}
    return {
        name: math.exp(
            math.sqrt(sum(math.log(getattr(end, name) / end.read) ** 2 for end in ended) / len(ended))
        )
        for name in ("table", "own", "alone")
    }
