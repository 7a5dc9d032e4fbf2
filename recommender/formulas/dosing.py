"""How much to try: a range below a best dose, equal strength, first amounts, what to dilute."""

import math
from collections.abc import Sequence

import numpy as np

from recommender.chemistry import odour_strength
from recommender.evaporation.surface import (
    diluted,
    first_intensities,
    first_strength,
    fresh_concentrations,
    neat_or_diluted,
)
from recommender.formulas.usual import UsualUse
from recommender.model import Component, Dose, Material

DILUTIONS = (10.0, 1.0, 0.1, 0.01)
"""Dilutions in which a dose is offered [%]."""
MOST_OF_A_DILUTION = 500.0
"""Parts per thousand of the accord that a dilution may be."""


def dose_range(
    best: float,
    most: float,
    bound: float = 1000.0,
    usual: UsualUse | None = None,
    working_percent: float | None = None,
) -> Dose:
    """Return the ladder that perfumers use below a best dose: a third, a half, the full amount.

    `most` is the dose from which the material stands out of the accord, `bound` what limits leave, `usual`
    its usual use; all cap the ladder, and no figure is rounded above a bound. The first try is not below the
    usual range where the full amount is not. `working_percent` is the dilution that a caution advises [%].

    >>> found = dose_range(12.0, 30.0)
    >>> found.first_try, found.low, found.high, found.dilution_percent
    (6.0, 4.0, 12.0, 10.0)
    >>> dose_range(12.0, 30.0, usual=UsualUse(0.5, 5.0)).high
    5.0
    """
    cap = bound if usual is None else min(bound, usual.room)
    full = min(best, most, cap)
    least = 0.0 if usual is None else min(usual.least, full)
    first = max(full / 2, least)
    return Dose(
        _tidy(first, cap, least),
        _tidy(full / 3, cap),
        _tidy(full, cap),
        working_dilution(first, full / 3, full, working_percent),
        usual=None if usual is None else (usual.low, usual.high),
    )


def _tidy(value: float, most: float, least: float = 0.0) -> float:
    """Return a dose with two digits, rounded down where it would be above `most`, up below `least`."""
    rounded = float(f"{value:.2g}")
    if least <= rounded <= most or value <= 0:
        return rounded
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    turned = math.floor if rounded > most else math.ceil
    off = 1.0 + 1e-9 if rounded > most else 1.0 - 1e-9
    return min(float(f"{turned(value / step * off) * step:.2g}"), most)


def dilution(parts_per_thousand: float, batch_g: float = 10.0, resolution_g: float = 0.01) -> float | None:
    """Return the dilution [%] in which a dose can be weighed to a tenth, None where neat will do.

    Parameters
    ----------
    parts_per_thousand : float
        The dose of the neat material.
    batch_g : float
        Size of the trial [g].
    resolution_g : float
        The balance's last digit [g].

    >>> dilution(0.02), dilution(4.0), dilution(40.0)
    (0.1, 10.0, None)
    """
    weighed = parts_per_thousand / 1000.0 * batch_g
    for percent in (100.0, *DILUTIONS):
        if weighed / (percent / 100.0) >= 10.0 * resolution_g * (1.0 - 1e-9):
            return None if percent == 100.0 else percent
    return DILUTIONS[-1]


def together(doses: Sequence[Dose]) -> tuple[float, float] | None:
    """Return the usual ranges of several doses added up, None where one of them is unknown."""
    ranges = [dose.usual for dose in doses if dose.usual is not None]
    if len(ranges) < len(doses):
        return None
    return sum(low for low, _ in ranges), sum(high for _, high in ranges)


def working_dilution(
    first: float,
    low: float,
    high: float,
    working_percent: float | None,
    batch_g: float = 10.0,
    resolution_g: float = 0.01,
) -> float | None:
    """Return the dilution [%] in which to weigh a range of doses, None where neat will do.

    That which a caution advises, as long as the first try is five digits of the balance in it; else what the
    balance needs. So much of a dilution that it would be half of the accord is never asked for.

    Parameters
    ----------
    first, low, high : float
        Doses of the neat material [parts per thousand].
    working_percent : float, optional
        The strongest dilution that the material's cautions advise [%].
    batch_g, resolution_g : float
        As `dilution`.

    >>> working_dilution(0.009, 0.006, 0.018, 0.1), working_dilution(0.009, 0.006, 0.018, None)
    (0.1, 0.01)
    """
    needed = dilution(low, batch_g, resolution_g)
    if working_percent is None:
        return needed
    percent = min(working_percent, dilution(2.0 * first, batch_g, resolution_g) or 100.0)
    while percent < 100.0 and 100.0 * high / percent > MOST_OF_A_DILUTION:
        percent *= 10.0
    return None if percent >= 100.0 else float(f"{percent:.6g}")


def equal_strength(material: Material, reference: Material, parts: float) -> float | None:
    """Return the parts of a material that smell as strong as so many parts of a reference, None if unknown.

    As `equal_strengths` of one material.
    """
    return equal_strengths([material], reference, parts)[0]


def equal_strengths(materials: Sequence[Material], reference: Material, parts: float) -> list[float | None]:
    """Return the parts of each material that smell as strong as so many of a reference, None if unknown.

    All are compared when first smelled on a strip, each diluted to its parts of a thousand in dipropylene
    glycol; naturals as the mixtures that they are.
    """
    if reference.curve is None or parts <= 0 or not materials:
        return [None] * len(materials)
    level = first_strength(reference.parts, min(parts / 1000.0, 1.0))
    dissolved = neat_or_diluted([material.parts for material in materials], dissolved=True)
    low, high = np.full(len(materials), -6.0), np.zeros(len(materials))
    for _ in range(40):
        middle = 0.5 * (low + high)
        strip = diluted(dissolved, 10.0**middle)
        weak = first_intensities(strip) < level
        low, high = np.where(weak, middle, low), np.where(weak, high, middle)
    return [
        None if material.curve is None else float(found)
        for material, found in zip(materials, 1000.0 * 10.0**high, strict=True)
    ]


def strength_band(one: Material, other: Material) -> float | None:
    """Return the factor by which the ratio of two strengths may be off either way, None if one is unknown.

    The bands of both are independent: their decades add up as squares.
    """
    if one.curve is None or other.curve is None:
        return None
    return float(10.0 ** math.hypot(one.curve.log_error, other.curve.log_error))


def first_amounts(materials: Sequence[Material], balance: Sequence[float]) -> list[float | None]:
    """Return first-trial amounts in parts per thousand from odour values.

    Each material gets the amount at which it stands as many times above its threshold as the others,
    shifted by the wanted balance: a perceived ratio r needs r^(1 / slope) in odour value, by the slope of the
    material's own curve.

    Parameters
    ----------
    materials : sequence of Material
    balance : sequence of float
        How strong each should seem against the others; 1 for all is even.

    References
    ----------
    Odour value, p M / (R T Thr): Mata, Gomes, Rodrigues, Ind. Eng. Chem. Res. 44 (2005) 4435-4441.
    """
    needed: list[float | None] = []
    for material, share in zip(materials, balance, strict=True):
        value = odour_value(material.parts)
        curve = material.curve
        needed.append(
            None if value <= 0 or curve is None else share ** (1.0 / odour_strength.slope(curve)) / value
        )
    total = sum(value for value in needed if value is not None)
    return [None if value is None else 1000.0 * value / total for value in needed]


OUTLIER = 3.0
"""Usual use of a material that asks for so much less than that of the others bounds itself alone."""


def within_usual(parts: Sequence[float | None], highs: Sequence[float | None]) -> list[float | None]:
    """Return amounts cut to usual use [parts per thousand], None where they are unknown.

    All are lowered by the same factor, so that the balance stays; only a material of which the high end lies
    far below what the others allow is cut by itself. What is cut is not made up.

    >>> within_usual([900.0, 90.0, 10.0], [180.0, 30.0, 0.01])
    [180.0, 18.0, 0.01]
    """
    pairs = [(p, h) for p, h in zip(parts, highs, strict=True) if p and h is not None]
    factors = sorted(high / part for part, high in pairs)
    middle = factors[(len(factors) - 1) // 2] if factors else 1.0
    factor = min(1.0, next((one for one in factors if OUTLIER * one >= middle), 1.0))
    return [
        None if part is None else min(part * factor, math.inf if high is None else high)
        for part, high in zip(parts, highs, strict=True)
    ]


def odour_value(parts: Sequence[Component], dilution: float = 0.01) -> float:
    """Return how many times a fresh strip stands above the thresholds of what is on it, added up."""
    total = 0.0
    for met, part in zip(fresh_concentrations(parts, dilution), parts, strict=True):
        if part.curve is not None:
            total += float(met) / odour_strength.concentration_at(odour_strength.JUST_THERE, part.curve)
    return total
