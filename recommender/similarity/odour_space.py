"""The odour space: label vectors learnt from which labels occur together, and likeness in it.

Whole-smell likeness compares two materials; facet likeness asks how strongly a material shows one smell,
labels near it included.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from recommender.evidence.catalogue import Catalogue
from recommender.model import LABEL_WEIGHTS, Material

Array = npt.NDArray[np.float64]

RANK = 20
CONTEXT_EXPONENT = 0.75
PANEL_BASE = "any"
"""The row of the panel's table that applies to every smell."""
PANEL_RIDGE = 1.0
"""Ridge of the regression from label vectors to what a facet adds to the panel's words, as in the fit.

Facets left out one by one come out with 48 % of the squared error of no knowledge at all.
"""
PANEL_SHARE = 0.5
"""Weight of the panel's profiles in whole-smell likeness; the label vectors have the rest."""
NEAR_FROM = 0.45
"""Cosine of two label vectors from which one label counts a little for the other."""
NEAR_SHARE = 0.45
"""Share of its strength with which the nearest other label counts."""

TRACE = LABEL_WEIGHTS[1]
MOST_BY_NEAR = NEAR_SHARE + 0.5 * (1.0 - NEAR_SHARE) * NEAR_SHARE
"""What two leading labels, as near to a wanted facet as can be, add up to."""

# thresholds on the scales above: whoever changes these scales sets them again
LEAST_SHOWN = 0.08
"""A material that carries the wanted facets less than this does not show them."""
LEAST_LENT = 0.05
"""A facet that counts for a wanted one with less than this share is not near."""
UNLIKE_FROM = -0.2
"""Whole-smell likeness at and below which a smell counts nothing in a ranking."""
FAR_APART = 0.35
"""Likenesses of different kinds that differ by more than this disagree."""
NEAR_IN_PROFILE = 0.3
"""Weight of the near facets in a label profile; the labels themselves have the rest."""


def label_matrix(materials: Sequence[Material], facets: Sequence[str]) -> Array:
    """Return label weights, shape (materials, facets)."""
    column = {facet: i for i, facet in enumerate(facets)}
    matrix = np.zeros((len(materials), len(facets)))
    for row, material in enumerate(materials):
        for label in material.labels:
            matrix[row, column[label.facet]] = label.weight
    return matrix


def lift(together: Array, rows: Array, columns: Array, exponent: float = CONTEXT_EXPONENT) -> Array:
    """Return positive pointwise mutual information of counts, shape of `together` (rows, columns).

    `rows` and `columns` are the sums of the whole table, of which `together` may be some rows.

    References
    ----------
    Levy, Goldberg, Dagan, Trans. ACL 3 (2015) 211-225: context distribution smoothing with exponent 0.75.

    >>> lift(np.array([[2.0, 0.0], [0.0, 2.0]]), np.array([2.0, 2.0]), np.array([2.0, 2.0])).round(2).tolist()
    [[0.69, 0.0], [0.0, 0.69]]
    """
    context = columns**exponent
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.log(together * context.sum() / np.outer(rows, context))
    return np.asarray(np.where(np.isfinite(ratio), np.maximum(ratio, 0.0), 0.0), float)


def positive_pmi(weights: Array, exponent: float = CONTEXT_EXPONENT) -> Array:
    """Return positive pointwise mutual information of labels within materials, shape (facets, facets).

    Strong labels that occur together count more: pairs are weighted by both strengths.
    """
    together = weights.T @ weights
    np.fill_diagonal(together, 0.0)
    row = together.sum(axis=1)
    return lift(together, row, row, exponent)


def fit_label_vectors(weights: Array, rank: int = RANK) -> Array:
    """Learn unit-length label vectors, shape (facets, rank); needs scikit-learn, used when building.

    PPMI, truncated SVD, singular values to the power 1/2. Solver and signs are fixed.
    """
    from sklearn.decomposition import TruncatedSVD

    ppmi = positive_pmi(weights)
    model = TruncatedSVD(n_components=rank, algorithm="arpack", random_state=0, tol=1e-12)
    vectors: Array = model.fit_transform(ppmi) / np.sqrt(model.singular_values_)
    largest = np.abs(vectors).argmax(axis=0)
    vectors = vectors * np.sign(vectors[largest, np.arange(rank)])
    return unit(vectors)


def unit(vectors: Array) -> Array:
    """Return rows of unit length; rows of zeros stay zeros."""
    length = np.linalg.norm(vectors, axis=1, keepdims=True)
    return np.asarray(vectors / np.where(length > 0, length, 1.0), float)


def features(weights: Array, labels: Array) -> Array:
    """Return what a panel's answers are predicted from, shape (smells, facets + rank).

    Label weights at unit length, and their sum in the label vectors, so that a facet which the panel hardly
    met is still predicted from those that occur with it.
    """
    units = unit(weights)
    return np.hstack([units, units @ labels])


@dataclass(frozen=True)
class Panel:
    """How a panel of people described smells with each facet; fitted by `scripts/fit_calibration.py`.

    `effects` (facets, words) and `base` (words,) give a profile over the panel's words, on the square root
    of its 0-100 scale. `level` is taken off a likeness so that the middle pair stays as unlike as without.
    """

    effects: Array
    base: Array
    level: float

    @classmethod
    def of(
        cls, rows: Mapping[str, Sequence[float]], facets: Sequence[str], labels: Array, level: float
    ) -> "Panel":
        """Return the panel of a table: its row `PANEL_BASE`, and one for each facet that was fitted.

        A facet without a row is one that the panel never met: what it adds is predicted from its label
        vector, `labels` (facets, rank), as the fitted ones are, and is nothing where it occurs with no other.
        """
        fitted = np.array([facet in rows for facet in facets])
        base = np.array(rows[PANEL_BASE], float)
        effects = np.zeros((len(facets), len(base)))
        effects[fitted] = np.reshape([rows[facet] for facet in facets if facet in rows], (-1, len(base)))
        if not fitted.all():
            met = labels[fitted]
            ridge = met.T @ met + PANEL_RIDGE * np.eye(labels.shape[1])
            effects[~fitted] = labels[~fitted] @ np.linalg.solve(ridge, met.T @ effects[fitted])
        return cls(effects, base, level)

    def directions(self, weights: Array) -> Array:
        """Return predicted profiles, centred and of unit length: their products are Pearson's r."""
        profiles = unit(weights) @ self.effects + self.base
        return unit(profiles - profiles.mean(axis=-1, keepdims=True))


def place(weights: Array, labels: Array, panel: Panel | None = None) -> Array:
    """Return smells as unit vectors, shape (smells, dimensions); a smell without facets is all zeros."""
    smells = unit(weights @ labels)
    if panel is None:
        return smells
    panel_profile = panel.directions(weights) * weights.any(axis=1, keepdims=True)
    return np.hstack([np.sqrt(1.0 - PANEL_SHARE) * smells, np.sqrt(PANEL_SHARE) * panel_profile])


def ranked_likeness(likeness: Array) -> Array:
    """Return a whole-smell likeness as a term 0-1: what is a little unlike still counts a little."""
    return np.asarray(np.clip((likeness - UNLIKE_FROM) / (1.0 - UNLIKE_FROM), 0.0, 1.0), float)


def disagree(likenesses: Iterable[float]) -> bool:
    """Return whether likenesses of one material, each of another kind, are far apart."""
    values = list(likenesses)
    return len(values) > 1 and max(values) - min(values) > FAR_APART


def carried(weights: Array, lent: Array, named: npt.NDArray[np.bool_]) -> Array:
    """Return how strongly smells show what is wanted, 0-1, shape (...); see `OdourSpace.carries`.

    Parameters
    ----------
    weights : ndarray, shape (..., facets)
        Label weights.
    lent : ndarray, shape (facets,)
        How much each facet counts.
    named : ndarray of bool, shape (facets,)
        Those that are wanted by name.
    """
    strengths = weights * lent
    first = strengths.max(axis=-1)
    # the second strongest: the best of the others, or the same value again where two share the first place
    rest = np.where(strengths == first[..., None], -1.0, strengths).max(axis=-1)
    again = (strengths == first[..., None]).sum(axis=-1) > 1
    second = np.maximum(np.where(again, first, rest), 0.0)
    found = first + 0.5 * (1.0 - first) * second
    shown = weights[..., named].any(axis=-1)
    return np.asarray(np.where(shown, found, found * TRACE / MOST_BY_NEAR), float)


@dataclass(frozen=True)
class OdourSpace:
    """Materials in the odour space.

    `weights` (materials, facets) label weights; `labels` (facets, rank) of unit length; `vectors`
    (materials, dimensions) of unit length, in the label vectors and, where there is a `panel`, in its words;
    `near` (facets, facets) how much one label counts for another, 1 on the diagonal.
    """

    facets: tuple[str, ...]
    weights: Array
    labels: Array
    vectors: Array
    near: Array
    panel: Panel | None = None

    @classmethod
    def of(cls, catalogue: Catalogue) -> "OdourSpace":
        """Place the catalogue's materials."""
        facets = tuple(facet.name for facet in catalogue.facets)
        weights = label_matrix(catalogue.materials, facets)
        labels = np.array([catalogue.label_vectors[facet] for facet in facets])
        panel = None
        if catalogue.panel:
            panel = Panel.of(catalogue.panel, facets, labels, catalogue.parameters["likeness_level"])
        return cls.build(facets, weights, labels, panel)

    @classmethod
    def build(
        cls, facets: tuple[str, ...], weights: Array, labels: Array, panel: Panel | None = None
    ) -> "OdourSpace":
        """Place materials by their label weights, given label vectors and, if there is one, a panel."""
        cosine = labels @ labels.T
        near = NEAR_SHARE * np.clip((cosine - NEAR_FROM) / (1.0 - NEAR_FROM), 0.0, 1.0)
        np.fill_diagonal(near, 1.0)
        return cls(facets, weights, labels, place(weights, labels, panel), near, panel)

    @cached_property
    def column(self) -> Mapping[str, int]:
        """The column of each facet."""
        return {facet: i for i, facet in enumerate(self.facets)}

    @property
    def rests_on(self) -> str:
        """What whole-smell likeness is based on, in words."""
        return "odour labels and a panel of noses" if self.panel else "odour labels"

    def place(self, weights: Array) -> Array:
        """Return smells given by their facets, (facets,) or (smells, facets), as unit vectors."""
        return place(np.atleast_2d(weights), self.labels, self.panel).reshape(*weights.shape[:-1], -1)

    def alike(self, some: Array, others: Array) -> Array:
        """Return the whole-smell likeness of vectors, their products brought to [-1, 1]."""
        level = self.panel.level if self.panel else 0.0
        return np.asarray(np.clip((some @ others.T - level) / (1.0 - level), -1.0, 1.0), float)

    def likeness(self, row: int) -> Array:
        """Return the whole-smell likeness of one material to all, shape (materials,), within [-1, 1]."""
        return self.alike(self.vectors, self.vectors[row])

    def all_likeness(self) -> Array:
        """Return the whole-smell likeness of all pairs, shape (materials, materials)."""
        return self.alike(self.vectors, self.vectors)

    def label_cosine(self, row: int) -> Array:
        """Return the cosine of plain label weights of one material to all, shape (materials,)."""
        weights = unit(self.weights)
        return np.asarray(weights @ weights[row], float)

    def lent(self, wanted: Mapping[str, float]) -> Array:
        """Return how much each facet counts for the wanted ones, 1 for themselves, shape (facets,)."""
        columns = [self.facets.index(facet) for facet in wanted]
        share = np.array(list(wanted.values()))
        return np.asarray((self.near[:, columns] * share).max(axis=1), float)

    def carries(self, wanted: Mapping[str, float]) -> Array:
        """Return how strongly each material shows the wanted facets, 0-1, shape (materials,).

        The strongest of its labels counts, each times how much it counts for a wanted facet and times
        that facet's share in the request; further labels add half of what is left. What has only facets near
        the wanted ones is brought to a scale that ends where a trace of a wanted one begins.
        """
        named = [facet in wanted for facet in self.facets]
        return carried(self.weights, self.lent(wanted), np.array(named))

    def near_labels(self, material: Material, wanted: Mapping[str, float]) -> dict[str, float]:
        """Return the facets of a material near the wanted ones, each with how much it counts for them."""
        if not wanted:
            return {}
        lent = dict(zip(self.facets, self.lent(wanted), strict=True))
        return {
            label.facet: float(lent[label.facet])
            for label in material.labels
            if label.facet not in wanted and lent[label.facet] > LEAST_LENT
        }

    def profiles(self, rows: Sequence[int]) -> Array:
        """Return label profiles in which near facets count a little for each other, unit length or 0."""
        mixing = (1.0 - NEAR_IN_PROFILE) * np.eye(len(self.facets)) + NEAR_IN_PROFILE * self.near
        return unit(self.weights[list(rows)] @ mixing)
