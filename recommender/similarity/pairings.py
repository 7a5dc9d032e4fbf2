"""What goes with what, learned from the classic pairs of the trade.

A pair on record speaks for itself, for other forms of the same notes, for what smells like them, and for the
facets of both. What goes with everything says little about one question, so it counts less in the last two.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from recommender.evidence.catalogue import Catalogue
from recommender.model import Relation
from recommender.similarity.odour_space import OdourSpace, lift, unit
from recommender.similarity.relations import RelationGraph

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

CLASSIC = "classic-pair"
BASIS_WEIGHTS: Mapping[str, float] = {"published": 1.0, "common practice": 0.85, "memory": 0.6}
"""How much a pair counts by its basis; any other counts as one from memory."""
ONE_NOTE: Mapping[str, float] = {
    "constituent-of": 0.5,
    "stronger-form-of": 0.5,
    "isomer-of": 0.5,
    "replaces": 0.7,
}
"""Relations whose ends are forms of one note, each from which cosine of label profiles on."""
SAME_SMELL = 0.8
"""Cosine of two label profiles from which they are one note whatever joins them."""
AS_A_FORM = 0.9
"""How much a pair counts for another form of the asked note."""
IN_ANOTHER_FORM = 0.6
"""How much a pair counts for another form of the companion, so that the one on record comes first."""
SHARPNESS = 4.0
"""Power of the cosine of label profiles with which a pair speaks for what smells alike."""
POPULAR = 0.15
"""Power of what goes with everything by which a pair through likeness is divided."""
UNFAMILIAR, WELL_KNOWN = 0.1, 3.0
"""How familiar a material is that is in no pair, and the pairs that bring it half the way to 1."""
LEAST_SUPPORT = 0.1
"""A pair that supports a companion less, 0-1, is no reason for it."""


@dataclass(frozen=True)
class Pairings:
    """Classic pairs over the materials of an odour space.

    Attributes
    ----------
    pairs : mapping of (int, int) -> Relation
        The pairs on record by their rows, in both directions; of several the firmest.
    one_note : ndarray of bool, shape (materials, materials)
        Which materials are forms of one note: of one plant, isomers, or nearly the same smell.
    profile : ndarray, shape (materials, materials)
        Cosine of label profiles, in which near facets count a little for each other, 0-1.
    weights : ndarray, shape (materials, facets)
        Label weights.
    """

    pairs: Mapping[tuple[int, int], Relation]
    one_note: Flags
    profile: Array
    weights: Array

    @classmethod
    def of(cls, catalogue: Catalogue, graph: RelationGraph, space: OdourSpace) -> "Pairings":
        """Learn from the pairs of a graph."""
        profiles = space.profiles(range(len(catalogue.materials)))
        profile = np.clip(profiles @ profiles.T, 0.0, 1.0)
        pairs: dict[tuple[int, int], Relation] = {}
        for relation in sorted(graph.relations, key=basis_weight):
            if relation.kind == CLASSIC:
                ends = graph.index[relation.start], graph.index[relation.end]
                pairs[ends] = pairs[ends[::-1]] = relation
        natural = np.array([material.kind == "natural" for material in catalogue.materials])
        return cls(pairs, _one_note(graph, space, profile, natural), profile, space.weights)

    @cached_property
    def classic(self) -> Array:
        """Weights 0-1 of the pairs on record, shape (materials, materials)."""
        found = np.zeros_like(self.profile)
        for ends, relation in self.pairs.items():
            found[ends] = basis_weight(relation)
        return found

    @cached_property
    def familiar(self) -> Array:
        """How well known each material is as a companion of anything, 0.1 to 1, shape (materials,).

        What the trade pairs with many things is on most shelves, and known to mix.
        """
        count = (self.classic > 0).sum(axis=0)
        return np.asarray(UNFAMILIAR + (1.0 - UNFAMILIAR) * count / (count + WELL_KNOWN), float)

    @cached_property
    def as_forms(self) -> Array:
        """Weights of the pairs, counting for the other forms of both notes too, (materials, materials)."""
        found = np.zeros_like(self.profile)
        for start in sorted({start for start, _ in self.pairs}):
            own = self.classic[start]
            ends = np.flatnonzero(own)
            in_another = (own[ends, None] * self.one_note[ends]).max(axis=0, initial=0.0)
            counts = np.maximum(IN_ANOTHER_FORM * in_another, own)
            forms = np.flatnonzero(self.one_note[start])
            found[forms] = np.maximum(found[forms], AS_A_FORM * counts)
        return np.maximum(found, self.classic)

    @cached_property
    def alike(self) -> Array:
        """How far a pair of one material speaks for another, 0-1, shape (materials, materials)."""
        return np.asarray(np.maximum(self.profile**SHARPNESS, AS_A_FORM * self.one_note), float)

    def on_record(self, loud: Array) -> Array:
        """Return how firmly each material is a classic companion, 0-1, shape (materials,).

        `loud` is how loud each material is in what is asked about, 1 for the loudest.
        """
        summed = loud @ self.as_forms
        return np.asarray(summed / (summed + 1.0), float)

    def paired_alike(self, loud: Array) -> Array:
        """Return how much each goes with what smells like the asked, or smells like what goes with it.

        What goes with everything counts less; shape (materials,), from 0 on.
        """
        support = (loud @ self.alike) @ self.classic @ self.alike
        everything = self.alike.sum(axis=0) @ self.classic @ self.alike
        return np.asarray(support / np.maximum(everything, 1.0) ** POPULAR, float)

    def by_likeness(self, loud: Array, row: int) -> tuple[int, int, int] | None:
        """Return which pair speaks most for a companion that is on record with none of the asked.

        The rows of the asked material, of one end of the pair that is or smells like it, and of the other
        end, which is or smells like the companion; None where no pair does.
        """
        ends = np.array(list(self.pairs), np.intp).reshape(-1, 2)
        if not len(ends):
            return None
        likeness = loud[:, None] * self.alike[:, ends[:, 0]]
        support = likeness.max(axis=0) * self.classic[ends[:, 0], ends[:, 1]] * self.alike[ends[:, 1], row]
        best = int(support.argmax())
        if support[best] < LEAST_SUPPORT:
            return None
        return int(likeness[:, best].argmax()), int(ends[best, 0]), int(ends[best, 1])

    @cached_property
    def facet_lift(self) -> Array:
        """How much more often two facets meet in classic pairs than by chance, shape (facets, facets)."""
        units = unit(self.weights)
        together = units.T @ self.classic @ units
        return lift(together, together.sum(axis=1), together.sum(axis=0))

    def facets_with(self, facets: Array) -> Array:
        """Return how well each facet goes with a smell given by its facets, shape (facets,)."""
        return np.asarray(unit(facets[None, :])[0] @ self.facet_lift, float)

    def affinity(self, facets: Array) -> Array:
        """Return how well the facets of each material go with those of a smell, shape (materials,)."""
        return np.asarray(unit(self.weights) @ self.facets_with(facets), float)


def basis_weight(relation: Relation) -> float:
    """Return how much a pair counts, 0-1."""
    return BASIS_WEIGHTS.get(relation.basis, BASIS_WEIGHTS["memory"])


def _one_note(graph: RelationGraph, space: OdourSpace, profile: Array, natural: Flags) -> Flags:
    leads = 1.0 * (space.weights >= 1.0)
    found = (profile >= SAME_SMELL) | (np.outer(natural, natural) & (leads @ leads.T > 0))
    for relation in graph.relations:
        i, j = graph.index[relation.start], graph.index[relation.end]
        if profile[i, j] >= ONE_NOTE.get(relation.kind, np.inf):
            found[i, j] = found[j, i] = True
    np.fill_diagonal(found, True)
    return np.asarray(found, bool)
