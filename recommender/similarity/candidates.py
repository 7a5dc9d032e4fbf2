"""Candidates: the best by whole smell, by facet and by relations together, each with where it was found."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

DEPTH = 120
"""How many each search finds."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A row of the catalogue, and the searches that found it."""

    row: int
    found_by: tuple[str, ...]


def candidates(
    searches: Mapping[str, Array], allowed: npt.NDArray[np.bool_], depth: int = DEPTH
) -> list[Candidate]:
    """Return the best of each search, in catalogue order.

    Parameters
    ----------
    searches : mapping of str -> ndarray, shape (materials,)
        Evidence of each search; higher is better, and 0 or less does not count.
    allowed : ndarray of bool, shape (materials,)
    depth : int
        How many of each search.
    """
    found: dict[int, list[str]] = {}
    for search, evidence in searches.items():
        scored = np.where(allowed, evidence, -np.inf)
        for row in np.argsort(-scored, kind="stable")[:depth]:
            if scored[row] > 0:
                found.setdefault(int(row), []).append(search)
    return [Candidate(row, tuple(found[row])) for row in sorted(found)]
