"""Typed, sourced relations between materials: who is kin to whom, and by which path."""

import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from heapq import heappop, heappush

import numpy as np
import numpy.typing as npt

from recommender.evidence.catalogue import Catalogue
from recommender.model import Relation

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

KIND_WEIGHTS: Mapping[str, float] = {
    "replaces": 1.3,
    "stronger-form-of": 0.9,
    "constituent-of": 0.4,
    "isomer-of": 0.6,
    "homologue-of": 0.6,
    "shares-facet": 0.1,
    "ester-of": 0.3,
    "acetal-of": 0.5,
    "derivative-of": 0.4,
    "classic-pair": 0.05,
    "oxidises-to": 0.0,
    "clashes": 0.0,
}
"""How much a walk along each kind of relation is worth; the last two warn and are never walked.

A companion is no substitute: a pair is worth little, so that beside forty of them its kin are still nearest.
"""

CLOSEST = 2.0 * KIND_WEIGHTS["replaces"]
"""Weight of the strongest tie, by which kinship is measured: two materials that replace each other."""
DAMPING = 0.6
"""Share of steps that follow a relation; the rest start again at the asked material."""


def personalised_pagerank(
    sources: Indices, targets: Indices, weights: Array, personalisation: Array, damping: float = DAMPING
) -> Array:
    """Return personalised PageRank by power iteration, shape (nodes,), sum 1.

    Parameters
    ----------
    sources, targets : ndarray of int, shape (edges,)
        Directed edges; give both directions for an undirected graph.
    weights : ndarray, shape (edges,)
        Positive edge weights.
    personalisation : ndarray, shape (nodes,)
        Where walks start again, and where they go from a node without edges.

    References
    ----------
    Page, Brin, Motwani, Winograd, The PageRank citation ranking, Stanford InfoLab 1999.
    """
    nodes = len(personalisation)
    start = personalisation / personalisation.sum()
    out = np.bincount(sources, weights, nodes)
    share = weights / np.where(out > 0, out, 1.0)[sources]
    rank = start.copy()
    for _ in range(200):
        moved = np.bincount(targets, share * rank[sources], nodes)
        stuck = rank[out == 0].sum()
        following = damping * (moved + stuck * start) + (1.0 - damping) * start
        if np.abs(following - rank).sum() < 1e-12:
            return np.asarray(following, float)
        rank = following
    return np.asarray(rank, float)


@dataclass(frozen=True)
class RelationGraph:
    """Relations with their walkable edges in both directions."""

    relations: tuple[Relation, ...]
    index: Mapping[str, int]
    sources: Indices
    targets: Indices
    weights: Array
    by_pair: Mapping[tuple[str, str], tuple[Relation, ...]]

    @classmethod
    def of(cls, catalogue: Catalogue) -> "RelationGraph":
        """Build the graph of a catalogue's relations."""
        return cls.build(catalogue.relations, catalogue.index)

    @classmethod
    def build(cls, relations: Sequence[Relation], index: Mapping[str, int]) -> "RelationGraph":
        """Build the graph; `index` gives each slug its row."""
        walked = [(r, KIND_WEIGHTS[r.kind] * r.weight) for r in relations if KIND_WEIGHTS[r.kind] > 0]
        start = [index[r.start] for r, _ in walked]
        end = [index[r.end] for r, _ in walked]
        weight = [w for _, w in walked]
        by_pair: dict[tuple[str, str], tuple[Relation, ...]] = {}
        for relation in relations:
            for pair in ((relation.start, relation.end), (relation.end, relation.start)):
                by_pair[pair] = (*by_pair.get(pair, ()), relation)
        return cls(
            tuple(relations),
            index,
            np.array(start + end, np.intp),
            np.array(end + start, np.intp),
            np.array(weight + weight, float),
            by_pair,
        )

    def kinship(self, row: int) -> Array:
        """Return how near each material is by relations, 0-1, shape (materials,).

        The share of a walk that ends at each, times the weight of all relations of the asked: so a material
        with many relatives is no less kin to each of them. The square root of that against `CLOSEST`: where
        nobody is near nobody has 1.
        """
        start = np.zeros(len(self.index))
        start[row] = 1.0
        rank = personalised_pagerank(self.sources, self.targets, self.weights, start)
        walked = float(self.weights[self.sources == row].sum())
        found = np.sqrt(np.minimum(rank / (DAMPING * rank[row]) * walked / CLOSEST, 1.0))
        found[row] = 0.0
        return np.asarray(found, float)

    def between(self, start: str, end: str) -> tuple[Relation, ...]:
        """Return the relations that join two materials directly, the weightiest first."""
        found = self.by_pair.get((start, end), ())
        return tuple(sorted(found, key=lambda r: -KIND_WEIGHTS[r.kind] * r.weight))

    def path(self, start: str, end: str, longest: int = 3) -> tuple[Relation, ...]:
        """Return the relations along the shortest path between two materials, empty if there is none near.

        A relation is as long as its weight is small; of several between two materials the shortest counts.
        """
        if direct := [r for r in self.between(start, end) if KIND_WEIGHTS[r.kind] > 0]:
            return (direct[0],)
        if start not in self.index or end not in self.index:
            return ()
        rows = shortest_path(self._neighbours, self.index[start], self.index[end])
        if len(rows) > longest + 1:
            return ()
        slugs = [self._slugs[row] for row in rows]
        return tuple(self._shortest(*pair) for pair in itertools.pairwise(slugs))

    @cached_property
    def _slugs(self) -> Mapping[int, str]:
        return {row: slug for slug, row in self.index.items()}

    def _neighbours(self, row: int) -> list[tuple[int, float]]:
        """Return the materials beside one, each with the length of the shortest relation to it."""
        if (found := self._found_neighbours.get(row)) is None:
            edges = np.flatnonzero(self.sources == row)
            # relations of one weight stay in their order: each stands once in either direction
            edges = edges[np.lexsort((edges % (len(self.sources) // 2), self.weights[edges]))]
            lengths = (1.0 / self.weights[edges]).tolist()
            found = list(dict(zip(self.targets[edges].tolist(), lengths, strict=True)).items())
            self._found_neighbours[row] = found
        return found

    @cached_property
    def _found_neighbours(self) -> dict[int, list[tuple[int, float]]]:
        return {}

    def _shortest(self, start: str, end: str) -> Relation:
        return sorted(self.by_pair[start, end], key=lambda r: KIND_WEIGHTS[r.kind] * r.weight)[-1]


def shortest_path(
    neighbours: Callable[[int], Iterable[tuple[int, float]]], start: int, end: int
) -> list[int]:
    """Return the nodes along the shortest path from start to end, empty if there is none.

    Searched from both ends in turn, so that only what is near either of them is looked at.

    Parameters
    ----------
    neighbours : callable
        Returns the nodes beside a node, each with the length of the step, which is above 0 and the same back.

    References
    ----------
    Dijkstra, Numerische Mathematik 1 (1959) 269-271. From both ends: Pohl, Machine Intelligence 6 (1971)
    127-140.
    """
    count = itertools.count()  # of what is equally far, what was found first goes on
    done: tuple[dict[int, float], ...] = ({}, {})
    seen: tuple[dict[int, float], ...] = ({start: 0.0}, {end: 0.0})
    before: tuple[dict[int, int], ...] = ({}, {})
    fringes: tuple[list[tuple[float, int, int]], ...] = (
        [(0.0, next(count), start)],
        [(0.0, next(count), end)],
    )
    best, meeting, side = np.inf, start, 1
    while fringes[0] and fringes[1]:
        side = 1 - side
        so_far, _, node = heappop(fringes[side])
        if node in done[side]:
            continue
        done[side][node] = so_far
        if node in done[1 - side]:
            back = [meeting]
            while back[-1] in before[0]:
                back.append(before[0][back[-1]])
            path = back[::-1]
            while path[-1] in before[1]:
                path.append(before[1][path[-1]])
            return path
        for other, length in neighbours(node):
            reached = so_far + length
            if other in done[side] or reached >= seen[side].get(other, np.inf):
                continue
            seen[side][other] = reached
            before[side][other] = node
            heappush(fringes[side], (reached, next(count), other))
            if reached + seen[1 - side].get(other, np.inf) < best:
                best, meeting = reached + seen[1 - side][other], other
    return []
