"""Odour strength: concentration in air to perceived intensity, 0-100."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from recommender.model import Curve

JUST_THERE = 1.4
"""Intensity that is barely detectable; the labelled-magnitude anchor of the measured curves."""
CLEAR = 6.0
"""Intensity called weak but clear; labelled-magnitude anchor (memory)."""
STEVENS = 0.43
"""Median slope of perceived strength against concentration (both logs) of the measured curves."""
RATINGS: Mapping[str, tuple[float, float]] = {
    "gone": (0.0, JUST_THERE),
    "trace": (JUST_THERE, CLEAR),
    "clear": (CLEAR, 24.0),
    "strong": (24.0, 100.0),
    "too strong": (24.0, 100.0),
}
"""The ratings of a strip in words, as intensities 0-100. *Strong* starts halfway, in ratios, between the
anchors *moderate* (17) and *strong* (35) of the labelled magnitude scale (memory); *too strong* judges."""
TYPICAL_MAXIMUM, TYPICAL_WIDTH = 40.0, 0.50
"""Medians of the measured curves. All strengths are read on a curve of this shape: 99 % of the pairs in
`strength_pairs.csv` are then in order, 95 % with the heights and widths of single curves."""
ABOUT_EQUAL, MUCH, FAR_WEAKER = 1.25, 4.0, 20
"""Ratios of strength: up to which two materials are about equally strong, from which the difference is large
even under uncertain figures, and from which on a weaker one is only called far weaker."""
NARROWEST = 0.15
"""A measured curve steeper than this cannot be right; it is read with this width."""

CLASSES = ("none", "faint", "soft", "medium", "strong", "very strong", "extreme")
"""Classes of strength, from weak to strong; where each stands is fitted with the strengths of all materials
when the tables are built (`parameters.csv`)."""
MEDIUM = 5.0
"""Intensity of a 1 % strip of a medium material: nearly clear (common practice). It anchors the scale."""

Array = npt.NDArray[np.float64]


def intensity(concentration_ug_per_l: npt.ArrayLike, curve: Curve) -> Array:
    """Return the perceived intensity, 0-100, of a concentration in air [ug/L]; any shape.

    References
    ----------
    Wakayama, Sakasai, Yoshikawa, Inoue, Ind. Eng. Chem. Res. 2019, doi 10.1021/acs.iecr.9b01225.

    >>> curve = Curve(62.02, 1.23, 0.69, "curve", "published")
    >>> float(intensity(10**1.23, curve).round(2))
    31.01
    """
    return logistic(np.asarray(concentration_ug_per_l, float), curve.i_max, curve.log10_half, curve.width)


def logistic(concentration: Array, i_max: Any, log10_half: Any, width: Any) -> Array:
    """Return i_max / (1 + exp(-(log10 c - log10_half) / width)), 0 where there is nothing."""
    with np.errstate(divide="ignore"):
        return level_below_half((log10_half - np.log10(concentration)) / width, i_max)


def level_below_half(widths: npt.ArrayLike, i_max: Any) -> Array:
    """Return i_max / (1 + exp(x)), the intensity of what lies x widths below the half of its curve."""
    grown = np.asarray(np.minimum(widths, 700.0), float)
    np.exp(grown, out=grown)
    grown += 1.0
    return np.asarray(np.divide(i_max, grown, out=grown), float)


def soft(level: Array) -> Array:
    """Return how present an intensity is, S / (S + 6): 0 for nothing, a half where it is just *clear*."""
    below = np.asarray(level + CLEAR, float)
    return np.asarray(np.divide(level, below, out=below), float)


def rating_of(level: float) -> str:
    """Return the word for an intensity 0-100.

    >>> rating_of(0.3), rating_of(2.0), rating_of(9.0), rating_of(30.0)
    ('gone', 'trace', 'clear', 'strong')
    """
    return next(word for word, (_, high) in RATINGS.items() if level < high or high >= 100.0)


@dataclass(frozen=True, slots=True)
class StrengthRatio:
    """How many times as strong one material smells as another at the same dose; `ratio` is above 0."""

    ratio: float

    @property
    def about_equal(self) -> bool:
        """Whether a nose would hardly tell them apart by strength."""
        return 1 / ABOUT_EQUAL <= self.ratio <= ABOUT_EQUAL

    @property
    def much(self) -> bool:
        """Whether one is much stronger than the other, even if the figures are uncertain."""
        return self.ratio >= MUCH or self.ratio <= 1 / MUCH

    @property
    def far_weaker(self) -> bool:
        """Whether the first is so weak beside the other that a fraction would mean little."""
        return round(1 / self.ratio) >= FAR_WEAKER


def strength_ratio(strength: float, other: float) -> StrengthRatio | None:
    """Return how the strength of a material compares with that of another, both 0-100; None without a scent.

    >>> strength_ratio(10.0, 40.0).much
    True
    """
    return StrengthRatio(max(strength, 1e-6) / other) if other > 0 else None


def concentration_at(level: float, curve: Curve) -> float:
    """Return the concentration in air [ug/L] at which a level 0-100 is reached; inf if it never is."""
    if level >= curve.i_max:
        return math.inf
    return float(10.0 ** (curve.log10_half - curve.width * math.log(curve.i_max / level - 1.0)))


def slope(curve: Curve) -> float:
    """Return how perceived strength rises with concentration, both as logs, at half of a curve's maximum.

    It is Stevens' exponent there; the curves that were measured have 0.43 (their median).

    >>> round(slope(Curve(40.0, 0.0, TYPICAL_WIDTH, "curve", "published")), 2)
    0.43
    """
    return 1.0 / (2.0 * math.log(10.0) * max(curve.width, NARROWEST))


def threshold_ng_per_l(curve: Curve) -> float:
    """Return the odour threshold that a curve implies [ng/L, the same as ug/m3].

    References
    ----------
    As `intensity`, equation 3: Thr = 10^(3 + C - D ln((Imax - 1.4) / 1.4)).

    >>> round(threshold_ng_per_l(Curve(62.02, 1.23, 0.69, "curve", "published")), 1)
    42.7
    """
    return 1e3 * concentration_at(JUST_THERE, curve)


def decades_above_clear(level: float) -> float:
    """Return by how many decades of dose a typical curve at a level 0-100 is above *clear*.

    >>> round(decades_above_clear(CLEAR), 6), round(decades_above_clear(20.0), 2)
    (0.0, 0.87)
    """
    clear, here = (math.log(TYPICAL_MAXIMUM / value - 1.0) for value in (CLEAR, level))
    return TYPICAL_WIDTH * (clear - here)


def typical_curve(
    decades: float,
    one_per_cent_ug_per_l: float,
    kind: str,
    basis: str,
    source: str = "",
    log_error: float = 0.5,
) -> Curve:
    """Return a curve of typical height and width for a latent strength.

    Parameters
    ----------
    decades : float
        By how many decades a 1 % strip exceeds the dose that is just *clear*.
    one_per_cent_ug_per_l : float
        What the nose meets over a 1 % strip [ug/L].
    kind, basis, source : str
        What the strength rests on.
    log_error : float
        Its uncertainty [decades].
    """
    half = math.log10(one_per_cent_ug_per_l) - decades
    half += TYPICAL_WIDTH * math.log(TYPICAL_MAXIMUM / CLEAR - 1.0)
    return Curve(TYPICAL_MAXIMUM, half, TYPICAL_WIDTH, kind, basis, source, log_error=log_error)
