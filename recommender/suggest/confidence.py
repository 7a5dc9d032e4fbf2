"""How sure the places of a list are: the scores drawn again within the bands of what they rest on.

Three things are drawn for each material by itself: its pressure and its strength, as normal deviates in
decades with the bands that the tables state, and the strength of each of its labels, which moves by one step.
What all places have in common stays as it is: what is asked about, the room, the rest of a formula.
"""

import zlib
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from recommender.chemistry.odour_strength import STEVENS
from recommender.evaporation.surface import SurfaceState
from recommender.formulas.simulation import Candidates
from recommender.model import LABEL_WEIGHTS, Confidence, Material, Suggestion
from recommender.palette import Array, Palette
from recommender.reasons import LabelsFromMemory
from recommender.similarity import odour_space
from recommender.suggest import scoring

DRAWS = 300
TIED = 0.3
"""Share of draws from which the order of two places is open: they differ by less than half a deviation."""
A_STEP_OFF: Mapping[str, float] = {"memory": 0.3, "estimated": 0.3, "common practice": 0.1, "user": 0.0}
"""Probability that a label is a step too strong or too weak, by its basis (own judgement)."""
A_STEP_OFF_ELSE = 0.05
"""The same for a label that is published."""
NODES = np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
"""Deviations at which a simulation is done again; between them its terms are interpolated."""

Swings = Mapping[str, tuple[Array, Array]]
"""Terms that are simulated: at the nodes of pressure and of strength, each shape (materials, nodes)."""


@dataclass(frozen=True)
class Ranking:
    """Materials in the order in which they are shown, with what their scores rest on.

    `terms` are arrays (materials,), `verb` and `because` name their weights; `target` is the smell, a vector,
    to which they are likened. `labels` (facets,) are the label weights of what is asked about, None where
    labels are not compared; `shown` facets are there anyway, so that `purity` does not count them; `refused`
    ones are what `away` is about. `hours` [h] and `strength` (0-100) are those to come near to, None where
    there are none.
    """

    palette: Palette
    materials: Sequence[Material]
    terms: Mapping[str, Array]
    verb: str
    wanted: Mapping[str, float]
    target: Array
    because: str | None = None
    labels: Array | None = None
    shown: Sequence[str] = ()
    refused: Sequence[str] = ()
    hours: float | None = None
    strength: float | None = None


@dataclass(frozen=True)
class Variants:
    """Materials as they may be, arrays (variants,).

    `places` in the list; `faster` is by what they leave faster than the table says, `stronger` by how many
    decades of concentration they are stronger.
    """

    places: npt.NDArray[np.intp]
    faster: Array
    stronger: Array

    def of(self, strips: SurfaceState) -> SurfaceState:
        """Return the variants of strips that lie side by side, one a material."""
        taken = strips.rows(self.places)
        return replace(
            taken,
            rates=taken.rates * self.faster[:, None],
            log10_half=taken.log10_half - self.stronger[:, None],
        )

    def of_candidates(self, candidates: Candidates) -> Candidates:
        """Return the variants of candidates, one a material."""
        return candidates.picked(self.places, self.of(candidates.strips))


def swings(materials: Sequence[Material], simulated: Callable[[Variants], Mapping[str, Array]]) -> Swings:
    """Return the terms of a simulation at the nodes of pressure and of strength.

    `simulated` returns terms for variants of the materials, each shape (variants,).
    """
    pressure = np.array([pressure_error(material) for material in materials])
    strength = np.array([strength_error(material) for material in materials])
    places = np.repeat(np.arange(len(materials)), 2 * len(NODES))
    both = np.zeros((2, len(materials), 2, len(NODES)))
    both[0, :, 0] = pressure[:, None] * NODES
    both[1, :, 1] = strength[:, None] * NODES
    found = simulated(Variants(places, 10.0 ** both[0].ravel(), both[1].ravel()))
    split = {name: values.reshape(both[0].shape) for name, values in found.items()}
    return {name: (values[:, 0], values[:, 1]) for name, values in split.items()}


def pressure_error(material: Material) -> float:
    """Return by how much the pressure of a material may be off by itself, one deviation [decades]."""
    return max((part.log_error for part in material.parts if part.mass_fraction >= 0.05), default=0.0)


def strength_error(material: Material) -> float:
    """Return by how much the strength of a material may be off, one deviation [decades]."""
    return material.curve.log_error if material.curve else 0.0


def with_confidence(
    suggestions: Sequence[Suggestion], ranking: Ranking, simulated: Swings
) -> tuple[Suggestion, ...]:
    """Return suggestions with how sure their places are.

    That labels come from memory is left out where it decides nothing: where the place stays the same in most
    draws of the labels alone.
    """
    if not suggestions:
        return ()
    by_labels, by_all = _drawn_scores(ranking, simulated)
    plain = np.log(scoring.score(ranking.terms, ranking.verb, ranking.because))
    found = []
    for suggestion, sure, unsure in zip(
        suggestions, confidences(by_all), _decides(by_labels, plain), strict=True
    ):
        reasons = tuple(r for r in suggestion.reasons if unsure or not isinstance(r, LabelsFromMemory))
        found.append(replace(suggestion, confidence=sure, reasons=reasons))
    return tuple(found)


def confidences(scores: Array) -> list[Confidence]:
    """Return how sure each place is, given the scores of each draw, shape (places, draws).

    >>> confidences(np.array([[3.0, 3.0, 1.0], [2.0, 2.0, 2.0], [0.0, 0.0, 0.0]]))[1]
    Confidence(tied_with=(1,), first_in=0.3333333333333333)
    """
    below = (scores[:, None, :] < scores[None, :, :]).mean(axis=2)
    turned = np.minimum(below, below.T)
    first = np.bincount(scores.argmax(axis=0), minlength=len(scores)) / scores.shape[1]
    return [
        Confidence(tuple(int(j) + 1 for j in np.flatnonzero(turned[i] >= TIED) if j != i), float(first[i]))
        for i in range(len(scores))
    ]


def groups(suggestions: Sequence[Suggestion]) -> list[tuple[int, int]]:
    """Return runs of ranks, first and last, in which no two can be told apart, from the top."""
    found, start = [], 1
    while start <= len(suggestions):
        end = start
        while end < len(suggestions) and all(
            (sure := suggestions[i - 1].confidence) is not None and end + 1 in sure.tied_with
            for i in range(start, end + 1)
        ):
            end += 1
        if end > start:
            found.append((start, end))
        start = end + 1
    return found


def _decides(by_labels: Array, plain: Array) -> npt.NDArray[np.bool_]:
    """Return whether the place of each changes in enough draws of its labels alone, shape (places,)."""
    above = (plain[None, :, None] > by_labels[:, None, :]) & ~np.eye(len(plain), dtype=bool)[:, :, None]
    before = (plain[None, :] > plain[:, None]).sum(axis=1)
    moved = above.sum(axis=1) != before[:, None]
    return np.asarray(moved.mean(axis=1) >= TIED)


def _drawn_scores(ranking: Ranking, simulated: Swings) -> tuple[Array, Array]:
    """Return log scores (places, draws): with the labels drawn alone, and with all."""
    weights = scoring.weights_of(ranking.verb, ranking.because)
    total = sum(weights[name] for name in ranking.terms)
    drawn = _DrawnLabels.of(ranking)
    by_labels = np.empty((len(ranking.materials), DRAWS))
    by_all = np.empty_like(by_labels)
    for place, material in enumerate(ranking.materials):
        uniform = _uniform(material, 4 + len(material.labels))
        pressure, strength = np.sqrt(-2.0 * np.log(uniform[:2])) * np.cos(2.0 * np.pi * uniform[2:4])
        terms = {name: float(values[place]) for name, values in ranking.terms.items()}
        labelled = drawn.terms(material, terms.keys(), uniform[4:].T)
        figures = _from_figures(material, ranking, terms.keys(), pressure, strength)
        for name, (by_pressure, by_strength) in simulated.items():
            swing = _swing(by_pressure[place], pressure) * _swing(by_strength[place], strength)
            figures[name] = terms[name] * swing
        for found, replaced in ((by_labels, labelled), (by_all, labelled | figures)):
            still = sum(weights[n] * _log(v) for n, v in terms.items() if n not in replaced)
            moved = sum(weights[n] * _log(v) for n, v in replaced.items())
            found[place] = (still + moved) / total
    return by_labels, by_all


def _log(values: Array | float) -> Array:
    return np.asarray(np.log(np.maximum(values, scoring.FLOOR)))


def _swing(nodes: Array, deviations: Array) -> Array:
    """Return by what a term is multiplied at some deviations, shape (draws,)."""
    floored = np.maximum(nodes, scoring.FLOOR)
    return np.asarray(np.exp(np.interp(deviations, NODES, np.log(floored / floored[len(NODES) // 2]))))


def _from_figures(
    material: Material, ranking: Ranking, names: Collection[str], pressure: Array, strength: Array
) -> dict[str, Array]:
    """Return the drawn terms that compare hours and strength with those of the asked, shape (draws,)."""
    found = {}
    if "lasting" in names and material.lasting is not None and ranking.hours:
        hours = material.lasting.hours * 10.0 ** (-pressure_error(material) * pressure)
        found["lasting"] = scoring.closeness(hours, ranking.hours)
    if "strength" in names and material.strength and ranking.strength:
        level = material.strength * 10.0 ** (STEVENS * strength_error(material) * strength)
        found["strength"] = scoring.closeness(level, ranking.strength)
    return found


@dataclass(frozen=True)
class _DrawnLabels:
    """The terms that rest on labels, with what they are compared with: arrays (facets,).

    `lent` is how much each facet counts for the wanted ones, `refused` for the refused ones, `counted` for
    `purity`; `asked` are the label weights of the asked material, of unit length.
    """

    ranking: Ranking
    column: Mapping[str, int]
    lent: Array | None
    counted: Array | None
    refused: Array | None
    asked: Array | None

    @classmethod
    def of(cls, ranking: Ranking) -> "_DrawnLabels":
        space = ranking.palette.space
        column = {facet: i for i, facet in enumerate(space.facets)}
        lent = space.lent(ranking.wanted) if ranking.wanted else None
        counted = None if lent is None else lent.copy()
        if counted is not None:
            counted[[column[facet] for facet in ranking.shown]] = 1.0
        refused = space.lent(dict.fromkeys(ranking.refused, 1.0)) if ranking.refused else None
        asked = None if ranking.labels is None else odour_space.unit(ranking.labels[None])[0]
        return cls(ranking, column, lent, counted, refused, asked)

    def terms(self, material: Material, names: Collection[str], uniform: Array) -> dict[str, Array]:
        """Return those of a material that are among some names, shape (draws,) each.

        `uniform` (draws, labels) are the numbers drawn.
        """
        ranking, space = self.ranking, self.ranking.palette.space
        facets = [label.facet for label in material.labels]
        columns = [self.column[facet] for facet in facets]
        weights = _drawn_labels(material, uniform)
        found = {}
        if "facet" in names and self.lent is not None:
            named = np.array([facet in ranking.wanted for facet in facets], bool)
            found["facet"] = odour_space.carried(weights, self.lent[columns], named)
        if "away" in names and self.refused is not None:
            named = np.array([facet in ranking.refused for facet in facets], bool)
            found["away"] = 1.0 - odour_space.carried(weights, self.refused[columns], named)
        if "purity" in names and self.counted is not None:
            squares = weights**2
            found["purity"] = squares @ self.counted[columns] / np.maximum(squares.sum(axis=1), 1e-9)
        if "labels" in names and self.asked is not None:
            found["labels"] = odour_space.unit(weights) @ self.asked[columns]
        panel = replace(space.panel, effects=space.panel.effects[columns]) if space.panel else None
        vectors = odour_space.place(weights, space.labels[columns], panel)
        found["likeness"] = odour_space.ranked_likeness(space.alike(vectors, ranking.target))
        return found


def _drawn_labels(material: Material, uniform: Array) -> Array:
    """Return label weights, shape (draws, labels): some a step up or down, a trace that goes down is gone.

    Where all would be gone, they stay as they are: no material is without a smell.
    """
    levels = np.array([0.0, *(LABEL_WEIGHTS[strength] for strength in sorted(LABEL_WEIGHTS))])
    strengths = np.array([label.strength for label in material.labels], int)
    off = np.array([A_STEP_OFF.get(label.basis, A_STEP_OFF_ELSE) for label in material.labels])
    steps = np.where(uniform < off / 2, -1, np.where(uniform < off, 1, 0))
    moved = np.clip(strengths + steps, 0, len(levels) - 1)
    moved[~moved.any(axis=1)] = strengths
    return np.asarray(levels[moved], float)


def _uniform(material: Material, rows: int) -> Array:
    """Return numbers within (0, 1), shape (rows, draws), always the same for a material.

    Its key is the seed, so that what stands beside it changes nothing. A counter, mixed by the finaliser of
    splitmix64; numpy's generators would take longer to load than all draws.

    References
    ----------
    Steele, Lea, Flood, OOPSLA 2014, 453-472.
    """
    start = np.uint64(zlib.crc32(material.slug.encode()) << 32)
    mixed = (start + np.arange(1, rows * DRAWS + 1, dtype=np.uint64)) * np.uint64(0x9E3779B97F4A7C15)
    mixed = (mixed ^ (mixed >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    mixed = (mixed ^ (mixed >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    mixed ^= mixed >> np.uint64(31)
    return np.asarray(((mixed >> np.uint64(11)) + 0.5) / 2.0**53, float).reshape(rows, DRAWS)
