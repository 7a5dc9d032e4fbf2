"""Separate terms, one score: a weighted geometric mean, and diversity where it is wanted."""

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from recommender.model import LABEL_WEIGHTS

Array = npt.NDArray[np.float64]

FLOOR = 0.02
"""Least value of a term, so that no single one makes a score 0."""

NO_ANSWER = ("untroubled", "availability")
"""Terms that speak of the material and not of its smell: no drawback, easy to get."""

LEAST_SCORE = LABEL_WEIGHTS[1]
"""Score below which a candidate is not offered: as much as a trace of what is asked."""

REPLACE_IN_FORMULA: Mapping[str, float] = {
    "facet": 2.0,
    "likeness": 1.5,
    "labels": 1.2,
    "kinship": 1.5,
    "lasting": 0.4,
    "strength": 0.1,
    "untroubled": 1.5,
    "evidence": 0.7,
    "in formula": 2.0,
    "away": 2.0,
    "availability": 1.0,
}

WEIGHTS: Mapping[str, Mapping[str, float]] = {
    "extend": {
        "facet": 1.9,
        "presence": 1.8,
        "reach": 1.0,
        "outlasts": 0.8,
        "likeness": 1.4,
        "kinship": 2.2,
        "purity": 0.5,
        "evidence": 0.7,
        "availability": 1.0,
    },
    "replace": {
        "facet": 2.3,
        "likeness": 2.0,
        "labels": 1.5,
        "kinship": 2.5,
        "lasting": 0.5,
        "strength": 0.2,
        "untroubled": 4.0,
        "evidence": 0.7,
        "availability": 1.0,
    },
    "vary": {
        "facet": 2.8,
        "purity": 1.1,
        "likeness": 0.6,
        "kinship": 0.12,
        "lasting": 0.2,
        "strength": 0.25,
        "evidence": 1.0,
        "availability": 1.0,
    },
    "vary away": {
        "away": 2.0,
        "likeness": 2.0,
        "labels": 1.5,
        "kinship": 0.5,
        "lasting": 0.2,
        "strength": 0.25,
        "evidence": 0.7,
        "availability": 1.0,
    },
    "extend in formula": {
        "facet": 1.5,
        "presence": 2.5,
        "steady": 1.0,
        "likeness": 0.7,
        "kinship": 0.6,
        "purity": 0.5,
        "evidence": 0.7,
        "availability": 1.0,
    },
    "replace in formula": REPLACE_IN_FORMULA,
    "replace through natural": {**REPLACE_IN_FORMULA, "away": 4.0},
    "vary in formula": {
        "facet": 2.5,
        "presence": 1.5,
        "theme": 1.0,
        "likeness": 0.4,
        "kinship": 0.1,
        "evidence": 0.8,
        "availability": 1.0,
    },
    "pair": {
        "facet": 2.0,
        "pair": 2.5,
        "paired alike": 1.0,
        "affinity": 0.5,
        "contrast": 1.0,
        "familiar": 0.3,
        "bridge": 0.2,
        "position": 0.2,
        "strength": 0.5,
        "evidence": 0.2,
    },
}
"""Weight of each term by verb. A term that does not apply (no facet asked) is left out of the mean."""


BECAUSE: Mapping[str, Mapping[str, float]] = {
    "stock": {"availability": 2.0, "likeness": 3.0},
    "price": {"price": 3.0},
    "law": {},
    "smell": {"facet": 3.5, "likeness": 3.0, "labels": 2.0, "kinship": 1.0},
}
"""What weighs more, or less, where a reason is named why a material is replaced."""


def weights_of(verb: str, because: str | None = None) -> Mapping[str, float]:
    """Return the weight of each term for a verb and, of `replace`, a reason."""
    return {**WEIGHTS[verb], **(BECAUSE[because] if because else {})}


def score(terms: Mapping[str, Array], verb: str, because: str | None = None) -> Array:
    """Return the weighted geometric mean of the terms, in (0, 1], shape (candidates,).

    >>> float(score({"facet": np.array([0.5]), "likeness": np.array([0.5])}, "extend")[0].round(3))
    0.5
    """
    weights = weights_of(verb, because)
    total = sum(weights[name] for name in terms) or 1.0
    logs = sum(weights[name] * np.log(np.clip(values, FLOOR, 1.0)) for name, values in terms.items())
    return np.asarray(np.exp(logs / total), float)


def means_something(
    terms: Mapping[str, Array], verb: str, because: str | None = None
) -> npt.NDArray[np.bool_]:
    """Return which candidates answer more than a trace of what is asked, shape (candidates,).

    A label that is a trace has the weight 0.3; terms that are that much in their mean mean nothing. That a
    candidate has no drawback, or is easy to get, is no answer and does not count.
    """
    answering = {name: values for name, values in terms.items() if name not in NO_ANSWER}
    return np.asarray(score(answering, verb, because) >= LEAST_SCORE)


def closeness(values: Array, to: float, decades: float = 1.0) -> Array:
    """Return how near values are to one value on a log scale, 1 when equal, e^-1 at `decades` away."""
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = np.abs(np.log10(values / to)) / decades
    return np.asarray(np.exp(-np.nan_to_num(distance, nan=1.0, posinf=5.0)), float)


def order(scores: Array, names: Sequence[str], last: Sequence[bool] = ()) -> list[int]:
    """Return places from best to worst; equal scores by name, so that input order never matters.

    Those that are `last`, (candidates,), come after all others.
    """
    behind = last or [False] * len(scores)
    return sorted(range(len(scores)), key=lambda i: (behind[i], -round(float(scores[i]), 9), names[i]))


def diverse(
    ranked: Sequence[int], scores: Array, likeness: Array, share: float = 0.15, last: Sequence[bool] = ()
) -> list[int]:
    """Return places re-ordered by maximal marginal relevance.

    Parameters
    ----------
    ranked : sequence of int
        Places from best to worst.
    scores : ndarray, shape (candidates,)
    likeness : ndarray, shape (candidates, candidates)
    share : float
        Weight of not repeating what ranks above.
    last : sequence of bool, shape (candidates,)
        Those that come after all others.

    References
    ----------
    Carbonell, Goldstein, SIGIR 1998, 335-336.
    """
    left, chosen = list(ranked), []
    nearest = np.zeros(len(scores))
    while left:
        gain = [(1.0 - share) * scores[i] - share * nearest[i] * scores[i] for i in left]
        best = left.pop(int(np.argmax(gain)))
        chosen.append(best)
        nearest = np.maximum(nearest, likeness[best])
    return sorted(chosen, key=lambda i: last[i]) if last else chosen
