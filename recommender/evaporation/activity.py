"""Non-ideal carriers: how much sooner what is dissolved in them may leave.

An activity coefficient multiplies the pressure over a solution. Those of perfumery materials in carriers are
estimates, so they move no figure: they only widen the band of an end towards shorter.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from recommender.evaporation.course import FormulaFilm, doses_added
from recommender.evaporation.film import Array, last_above

LEAST_SHARE = 0.05
"""A carrier with a smaller share of all moles has no effect."""


@dataclass(frozen=True, slots=True)
class CarrierEffect:
    """A carrier on a surface: its key, its mole fraction at the start, and the activity coefficients in it.

    `gammas`, shape (components,), are those above 1; a smaller or unknown one counts as 1.
    """

    carrier: str
    share: float
    gammas: Array


def carrier_effects(
    film: FormulaFilm, ln_gamma: Mapping[str, Mapping[str, float]]
) -> tuple[CarrierEffect, ...]:
    """Return the carriers that are at least 5 % of all moles and from which something may leave sooner.

    Parameters
    ----------
    film : FormulaFilm
    ln_gamma : mapping of str -> mapping of str -> float
        Carrier -> molecule -> logarithm of the activity coefficient at infinite dilution. At a mole fraction
        x of the carrier it is x^2 times as large: Margules' equation with one constant, which takes the rest
        of the formula to be like the molecule.
    """
    names = np.array(film.names)
    total = film.moles.sum() + film.inert
    found = []
    for carrier, values in ln_gamma.items():
        if carrier not in film.names:
            continue
        share = float(film.moles[names == carrier].sum() / total)
        if share < LEAST_SHARE:
            continue
        logs = np.array([values.get(name, 0.0) for name in film.names])
        if logs.max() > 0:
            found.append(CarrierEffect(carrier, share, np.exp(share**2 * np.maximum(logs, 0.0))))
    return tuple(found)


def perceived_in(film: FormulaFilm, effect: CarrierEffect, hours: Array) -> Array:
    """Return the intensity of every component if the activity coefficients are right, (times, components).

    Doses of one odour are added, see `doses_added`. The coefficients stay as at the start while the carrier
    is at least 5 % of all moles, and are 1 after that.
    """
    first = film.changed(rates=film.rates * effect.gammas)
    left = first.left(hours)
    carrier = left[:, np.array(film.names) == effect.carrier].sum(axis=-1)
    until = last_above(hours, carrier / first.total(left), LEAST_SHARE) or 0.0
    then = film.changed(moles=first.left([until])[0])
    inside = hours <= until
    parts = [(first, hours[inside]), (then, hours[~inside] - until)]
    return np.concatenate([doses_added(state, state.at(times)) for state, times in parts if len(times)])


def facets_in(film: FormulaFilm, effect: CarrierEffect, hours: Array) -> Array:
    """Return the intensity of every facet if the activity coefficients are right, shape (times, facets)."""
    return film.sums.facets(perceived_in(film, effect, hours))
