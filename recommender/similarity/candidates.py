"""Candidates: the union of what the space, the facet and the relations bring up, each with its evidence."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

DEPTH = 120
"""How many each way of looking brings up."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A row of the catalogue, and the ways of looking that brought it up."""

    row: int
    found_by: tuple[str, ...]


def candidates(
    ways: Mapping[str, Array], allowed: npt.NDArray[np.bool_], depth: int = DEPTH
) -> list[Candidate]:
    """Return the best of each way of looking, in catalogue order.

    Parameters
    ----------
    ways : mapping of str -> ndarray, shape (materials,)
        Evidence of each way; higher is better, and 0 or less does not count.
    allowed : ndarray of bool, shape (materials,)
    depth : int
        How many of each way.
    """
    found: dict[int, list[str]] = {}
    for way, evidence in ways.items():
        scored = np.where(allowed, evidence, -np.inf)
        for row in np.argsort(-scored, kind="stable")[:depth]:
            if scored[row] > 0:
                found.setdefault(int(row), []).append(way)
    return [Candidate(row, tuple(found[row])) for row in sorted(found)]
