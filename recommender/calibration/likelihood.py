"""How well readings of strips fit given figures of air, nose and paper.

A reading is an interval of intensity (*clear* is 6 to 24 of 100) with a nose's scatter on a log scale; a few
readings are slips, which bounds what a single one can do.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from recommender.chemistry import odour_strength as strength
from recommender.evaporation import (
    CARRIER,
    Array,
    Conditions,
    OwnReading,
    SurfaceState,
    neat_or_diluted,
    side_by_side,
    together,
)
from recommender.formulas.formula import LEAVES_FIRST
from recommender.model import OwnStrip, Reading

SCATTER = 0.2
"""How far readings of one strip by one nose lie apart, as a share (memory)."""
ROUNDED = 0.05
"""A number that a person puts to a strength is rounded by so much, as a share."""
SLIP = 0.02
"""Share of readings that are slips: the wrong strip, a cold, a clock. A rate of lapses keeps a few of them
from bending a fit: Wichmann, Hill, Perception & Psychophysics 63 (2001) 1293-1313."""
WORD_INTERVALS: Mapping[str, tuple[float, float]] = {
    **strength.RATINGS,
    "clear": (strength.CLEAR, 35.0),
    "strong": (17.0, 100.0),
    "too strong": (17.0, 100.0),
}
"""Intensities that a word may stand for. People differ in what they call strong: words overlap between the
anchors *moderate* and *strong* of the labelled magnitude scale (memory)."""
FIRST_H = 1 / 60
"""A strip is first smelled a minute after something was put on it."""
_FLOOR = strength.JUST_THERE
"""Intensities are compared as log(S + 1.4): by ratios where they are clear, alike where there is nothing."""
_LOGISTIC = 1.7
"""Makes the logistic curve as wide as the normal one."""


@dataclass(frozen=True)
class Readings:
    """Strips and their readings as arrays; what is looked for are logs of ratios to the table.

    `strips` are without paper, `conditions` those of the table. `hours`, `low`, `high` and `there` are shaped
    (strips, readings), padded; `of` is the material of each strip, `own` (strips, components) which of its
    components are parts of that material, not of the carrier. The unknowns are air, nose and paper, then
    each material's pressure, then its strength in air.
    """

    strips: SurfaceState
    conditions: Conditions
    hours: Array
    low: Array
    high: Array
    there: npt.NDArray[np.bool_]
    of: npt.NDArray[np.intp]
    own: npt.NDArray[np.bool_]

    @property
    def materials(self) -> int:
        """How many different materials there are."""
        return int(self.of.max()) + 1

    def moved(self, unknowns: Array) -> SurfaceState:
        """Return the strips as the unknowns make them."""
        air, nose, paper = np.exp(unknowns[:3])
        faster = np.exp(unknowns[3 : 3 + self.materials])[self.of]
        stronger = unknowns[3 + self.materials :][self.of] / np.log(10.0)
        strips, table = self.strips, self.conditions
        papered = replace(table, paper_share=float(table.paper_share * paper), reservoir_mol_per_m2=0.0)
        return replace(
            strips,
            rates=strips.rates * np.where(self.own, faster[:, None], 1.0) / air,
            inert=papered.inert_moles(strips.moles.sum(axis=1), strips.inert),
            log10_half=strips.log10_half - stronger[:, None],
            nose_l_per_s=float(strips.nose_l_per_s * nose),
        )

    def predicted(self, unknowns: Array) -> Array:
        """Return the intensity at every reading, shape (strips, readings)."""
        return together(self.moved(unknowns).at(self.hours))

    def misfit(self, predicted: Array, scatter: float = SCATTER) -> Array:
        """Return signed roots of each reading's deviance, shape (strips, readings): about 1 is usual.

        At most 2.8: where a reading cannot be, it was a slip.
        """
        at = np.log(predicted + _FLOOR)
        middle = self.low.copy()  # where a reading fits best; open intervals fit best far out
        closed = np.isfinite(self.low) & np.isfinite(self.high)
        middle[closed] = (self.low[closed] + self.high[closed]) / 2
        middle[np.isneginf(self.low)] = self.high[np.isneginf(self.low)]
        best = np.where(closed, _within(middle, self.low, self.high, scatter), 1.0)
        likely = (1.0 - SLIP) * _within(at, self.low, self.high, scatter) / best + SLIP
        sign = np.where(at >= middle, 1.0, -1.0)
        return np.asarray(
            np.where(self.there, sign * np.sqrt(np.maximum(-2 * np.log(likely), 0)), 0.0), float
        )


def _within(at: Array, low: Array, high: Array, scatter: float) -> Array:
    """Return the likelihood that a nose reads a level `at` as one between two others; all are logs."""
    scale = _LOGISTIC / scatter
    upper = 1.0 / (1.0 + np.exp(-np.clip(scale * (high - at), -500, 500)))
    lower = 1.0 / (1.0 + np.exp(-np.clip(scale * (low - at), -500, 500)))
    return np.asarray(upper - lower, float)


def interval(reading: Reading) -> tuple[float, float]:
    """Return the intensities 0-100 between which a reading lies: its number, rounded, or its word's."""
    if reading.level is not None and reading.level >= strength.JUST_THERE:
        return reading.level / (1.0 + ROUNDED), reading.level * (1.0 + ROUNDED)
    if reading.level is not None:
        return WORD_INTERVALS["gone"]
    return WORD_INTERVALS[reading.rating]


def readings_of(strips: Sequence[OwnStrip], conditions: Conditions) -> Readings:
    """Return strips and their readings as arrays, each in the room in which it was smelled."""
    shape = len(strips), max(len(strip.readings) for strip in strips)
    hours, low, high = np.full(shape, FIRST_H), np.zeros(shape), np.full(shape, np.inf)
    there = np.zeros(shape, np.bool_)
    for row, strip in enumerate(strips):
        for column, reading in enumerate(strip.readings):
            least, most = interval(reading)
            hours[row, column] = max(reading.hours, FIRST_H)
            low[row, column] = np.log(least + _FLOOR) if least > 0 else -np.inf
            high[row, column] = np.log(most + _FLOOR) if most < 100 else np.inf
            there[row, column] = True
    slugs = list(dict.fromkeys(strip.material.slug for strip in strips))
    of = np.array([slugs.index(strip.material.slug) for strip in strips], np.intp)
    paperless = replace(conditions, paper_share=0.0)
    states = side_by_side([_state(strip, paperless) for strip in strips])
    own = np.zeros(states.moles.shape, np.bool_)
    for row, strip in enumerate(strips):
        own[row, : len(strip.material.parts)] = True
    return Readings(states, conditions, hours, low, high, there, of, own)


def _state(strip: OwnStrip, conditions: Conditions) -> SurfaceState:
    """Return one strip in its own room; where ethanol has left it, less is on it, and that is neat."""
    room = replace(conditions, temperature_c=strip.room_c)
    if strip.solvent != LEAVES_FIRST:
        carrier = CARRIER if strip.solvent in ("", CARRIER.name) else None
        return neat_or_diluted([strip.material.parts], strip.dilution, conditions=room, carrier=carrier)
    lighter = replace(room, load_mg=room.load_mg * strip.dilution)
    return neat_or_diluted([strip.material.parts], conditions=lighter)


def levels(strip: OwnStrip, hours: npt.ArrayLike, conditions: Conditions) -> Array:
    """Return the intensity 0-100 of a strip at some hours under given conditions, in its own room."""
    own = conditions.own.get(strip.material.slug, OwnReading(1.0, 1.0))
    own_readings = readings_of([strip], conditions)
    moved = own_readings.moved(np.array([0.0, 0.0, 0.0, np.log(own.faster), np.log(own.stronger)]))
    times = np.maximum(np.asarray(hours, float), FIRST_H)
    return np.asarray(together(moved.at(times))[0], float)
