"""What is too little for the balance, the dilution that brings it into reach, and how to make that."""

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from recommender.model import Formula, Material

FLOOR_DIGITS = 20
"""Least load in digits of the balance, where one digit either way is 5 %. It is also the minimum capacity of
class II balances up to 0.05 g a digit, and of class III (OIML R 76-1:2006, table 3)."""
LADDER = (0.1, 0.01, 0.001, 0.0001, 0.00001)
"""Mass fractions of the usual stock dilutions, each made from the one before (common practice)."""
SPARE = 1.1
"""A tenth more is made than is needed: some stays in the vessel."""
LEAST_MADE_G = 1.0
"""Less than a gram of a dilution is not worth a bottle."""
HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class DilutionStep:
    """One dilution to make: take so much of the stronger one, add solvent.

    `stronger` and `dilution` are mass fractions, `stronger` is 1 for neat; `needed_g` goes into the batch
    or into the next step.
    """

    content: Material | Formula
    stronger: float
    dilution: float
    solvent: Material
    needed_g: float
    take_g: float
    add_g: float

    @property
    def made_g(self) -> float:
        """How much there is of it [g]."""
        return self.take_g + self.add_g


def weighable(neat_g: float, dilution: float, least_g: float) -> float | None:
    """Return the strongest dilution at which a mass can be weighed: as it is, else one of the ladder.

    Parameters
    ----------
    neat_g : float
        Mass of the material itself [g].
    dilution : float
        Mass fraction at which it is at hand, 1 for neat.
    least_g : float
        Least load of the balance [g].

    Returns
    -------
    float or None
        None where even the weakest of the ladder is too little.

    Examples
    --------
    >>> weighable(0.004, 1.0, 0.02), weighable(0.5, 1.0, 0.02), weighable(1e-9, 1.0, 0.02)
    (0.1, 1.0, None)
    """
    weaker = (step for step in LADDER if step < dilution * (1 - HAIR))
    return next((d for d in (dilution, *weaker) if neat_g / d >= least_g * (1 - HAIR)), None)


def chain(stronger: float, dilution: float) -> list[float]:
    """Return the dilutions to make one from another until the wanted one is there.

    >>> chain(1.0, 0.001), chain(0.1, 0.01), chain(1.0, 0.05)
    ([0.1, 0.01, 0.001], [0.01], [0.1, 0.05])
    """
    between = [s for s in LADDER if dilution * (1 + HAIR) < s < stronger * (1 - HAIR)]
    return [*between, dilution]


def steps(
    content: Material | Formula,
    stronger: float,
    wanted: dict[float, float],
    solvent: Material,
    least_g: float,
) -> list[DilutionStep]:
    """Return the steps, strongest first, that give each wanted dilution (mass fraction -> grams needed)."""
    made = sorted({d for target in wanted for d in chain(stronger, target)}, reverse=True)
    found: list[DilutionStep] = []
    taken = 0.0
    for place in range(len(made) - 1, -1, -1):
        dilution = made[place]
        source = made[place - 1] if place else stronger
        needed = wanted.get(dilution, 0.0) + taken
        ratio = dilution / source
        least = max(SPARE * needed, least_g / min(ratio, 1 - ratio), LEAST_MADE_G)
        total = round_up(least)
        taken = total * ratio
        found.append(DilutionStep(content, source, dilution, solvent, needed, taken, total - taken))
    return found[::-1]


def rounded(grams: float, resolution_g: float) -> float:
    """Return a mass as the balance shows it [g].

    >>> rounded(0.1234, 0.01)
    0.12
    """
    step = Decimal(str(resolution_g))
    return float((Decimal(grams) / step).quantize(Decimal(1), ROUND_HALF_EVEN) * step)


def round_up(grams: float) -> float:
    """Return the next of 1, 2, 5, 10, 20, 50, ... grams, and of their tenths.

    >>> round_up(1.0), round_up(1.2), round_up(0.3)
    (1.0, 2.0, 0.5)
    """
    power = 10.0 ** math.floor(math.log10(grams))
    return float(next(f"{n * power:.1g}" for n in (1, 2, 5, 10) if n * power >= grams * (1 - HAIR)))
