"""The terms that rank: each a number 0-1 for every candidate, separate so that it can be explained."""

from collections.abc import Collection, Sequence

import numpy as np

from recommender import evaporation
from recommender.model import Material
from recommender.palette import Array
from recommender.similarity.odour_space import ranked_likeness
from recommender.suggest.drawbacks import untroubled
from recommender.suggest.query import MaterialQuery
from recommender.suggest.scoring import closeness

FROM_MEMORY = 0.7
"""Weight of a label from memory, where one that any trained perfumer would agree with has 1."""


def all_terms(question: MaterialQuery, rows: Sequence[int]) -> dict[str, Array]:
    """Return every term that applies to a verb, each shape (candidates,)."""
    palette, picked = question.palette, list(rows)
    terms: dict[str, Array] = {}
    if question.carried is not None:
        terms["facet"] = question.carried[picked]
    terms["likeness"] = ranked_likeness(question.likeness[picked])
    terms["kinship"] = question.kinship[picked]
    terms["evidence"] = np.array([evidence(m, question.wanted) for m in palette.materials(picked)])
    if question.verb == "extend" and question.carried is not None:  # extend always wants a facet
        return terms | presence(question, question.carried, picked)
    if question.weighed_as == "vary away":
        labels = np.clip(palette.space.label_cosine(question.row)[picked], 0.0, 1.0)
        return terms | {"labels": labels, "away": away(question, picked)} | strength(question, picked)
    if question.verb == "vary":
        return terms | {"purity": purity(question, picked)} | strength(question, picked)
    return terms | sameness(question, picked) | strength(question, picked) | untroubled(question, picked)


def evidence(material: Material, wanted: Collection[str]) -> float:
    """Return the evidence quality of the labels that matter here: 1 if none is from memory."""
    labels = [label for label in material.labels if label.facet in wanted] or material.labels
    firm = sum(label.weight for label in labels if label.basis != "memory")
    return FROM_MEMORY + (1.0 - FROM_MEMORY) * firm / sum(label.weight for label in labels)


def presence(question: MaterialQuery, carried: Array, rows: list[int]) -> dict[str, Array]:
    """Return the soft presence of the wanted facets in the window, and at its end."""
    palette = question.palette
    materials = palette.materials(rows)
    carriers = evaporation.carriers(materials, question.wanted, carried, palette.catalogue.index)
    strips = evaporation.neat_strips(materials, conditions=palette.conditions)
    over, at_end = evaporation.presence(strips, carried[rows], carriers, *question.window)
    return {"presence": over, "reach": at_end}


def sameness(question: MaterialQuery, rows: list[int]) -> dict[str, Array]:
    """Return how alike the plain labels are, and how near the lasting."""
    palette, stay = question.palette, question.asked.lasting
    found = {"labels": np.clip(palette.space.label_cosine(question.row)[rows], 0.0, 1.0)}
    if stay is not None:
        found["lasting"] = closeness(palette.hours(rows), stay.hours)
    return found


def strength(question: MaterialQuery, rows: list[int]) -> dict[str, Array]:
    """Return how near each is in strength, so that it is dosed alike; nothing where that is unknown."""
    if not question.asked.strength:
        return {}
    values = np.array([material.strength or np.nan for material in question.palette.materials(rows)])
    return {"strength": closeness(values, question.asked.strength)}


def away(question: MaterialQuery, rows: list[int]) -> Array:
    """Return how little of each smell is refused or near it, 0-1."""
    refused = dict.fromkeys(question.less, 1.0)
    return np.asarray(1.0 - question.palette.space.carries(refused)[rows], float)


def purity(question: MaterialQuery, rows: list[int]) -> Array:
    """Return the share of each smell that is a wanted facet or near one, strong labels counting more."""
    weights = question.palette.space.weights[rows] ** 2
    lent = question.palette.space.lent(question.wanted)
    return np.asarray((weights * lent).sum(axis=1) / np.maximum(weights.sum(axis=1), 1e-9), float)
