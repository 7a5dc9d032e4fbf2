"""Typed, sourced relations between materials: who is kin to whom, and by which path."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

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
LEAST_LENGTH = 1e-6
"""Decides between paths that are equally long."""
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

    @cached_property
    def _walked(self) -> tuple[Relation, ...]:
        """The relation of each walkable edge."""
        walked = tuple(r for r in self.relations if KIND_WEIGHTS[r.kind] > 0)
        return walked + walked

    @cached_property
    def _edges(self) -> Array:
        """How long each walkable edge is: one over its weight, and a little for each edge."""
        return np.asarray(1.0 / self.weights + LEAST_LENGTH, float)

    @cached_property
    def _lengths(self) -> dict[int, Array]:
        """The lengths of the shortest paths from the rows that were asked for, each (materials,)."""
        return {}

    def lengths(self, row: int) -> Array:
        """Return how long the shortest path from a material to each is, (materials,), inf where none is.

        All edges are relaxed at once until nothing gets shorter (Bellman and Ford).
        """
        if row not in self._lengths:
            found, edges = np.full(len(self.index), np.inf), self._edges
            found[row] = 0.0
            before = np.zeros_like(found)
            while not np.array_equal(found, before):
                before = found.copy()
                np.minimum.at(found, self.targets, before[self.sources] + edges)
            self._lengths[row] = found
        return self._lengths[row]

    def path(self, start: str, end: str, longest: int = 3) -> tuple[Relation, ...]:
        """Return the relations along the shortest path between two materials, empty if there is none near."""
        if direct := [r for r in self.between(start, end) if KIND_WEIGHTS[r.kind] > 0]:
            return (direct[0],)
        if start not in self.index or end not in self.index:
            return ()
        first, here = self.index[start], self.index[end]
        lengths, found = self.lengths(first), list[Relation]()
        while here != first:
            edges = np.flatnonzero(self.targets == here)
            over = lengths[self.sources[edges]] + self._edges[edges]
            if not len(edges) or np.isinf(over.min()) or len(found) == longest:
                return ()
            best = int(edges[over.argmin()])
            found.append(self._walked[best])
            here = int(self.sources[best])
        return tuple(reversed(found))
