"""The terms that rank: each a number 0-1 for every candidate, separate so that it can be explained."""

from collections.abc import Collection, Mapping, Sequence

import numpy as np

from recommender import evaporation
from recommender.evaporation.lasting import ABOUT_AS_LONG
from recommender.model import Material
from recommender.palette import Array
from recommender.similarity.odour_space import OdourSpace, ranked_likeness
from recommender.suggest import availability
from recommender.suggest.confidence import Variants
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
    terms["availability"] = availability.worth(palette.materials(picked), question.request)
    if question.verb == "extend" and question.carried is not None:  # extend always wants a facet
        own = {label.facet for label in question.asked.labels}
        clean = {"purity": purity(palette.space, picked, question.wanted, own)}
        return terms | clean | outlasts(question, picked) | presence(question, question.carried, picked)
    if question.weighed_as == "vary away":
        labels = np.clip(palette.space.label_cosine(question.row)[picked], 0.0, 1.0)
        away_from = {"labels": labels, "away": away(question, picked)}
        return terms | away_from | lasting(question, picked) | strength(question, picked)
    if question.verb == "vary":
        clean = {"purity": purity(palette.space, picked, question.wanted)}
        return terms | clean | lasting(question, picked) | strength(question, picked)
    terms |= sameness(question, picked) | strength(question, picked) | untroubled(question, picked)
    return terms | cheapness(question, picked)


def evidence(material: Material, wanted: Collection[str]) -> float:
    """Return the evidence quality of the labels that matter here: 1 if none is from memory."""
    labels = [label for label in material.labels if label.facet in wanted] or material.labels
    firm = sum(label.weight for label in labels if label.basis != "memory")
    return FROM_MEMORY + (1.0 - FROM_MEMORY) * firm / sum(label.weight for label in labels)


def presence(
    question: MaterialQuery, carried: Array, rows: list[int], variants: Variants | None = None
) -> dict[str, Array]:
    """Return the soft presence of the wanted facets in the window, and at its end; of `variants` if given."""
    palette = question.palette
    materials = palette.materials(rows)
    carriers = evaporation.carriers(materials, question.wanted, carried, palette.catalogue.index)
    strips, weights = evaporation.neat_strips(materials, conditions=palette.conditions), carried[rows]
    if variants is not None:
        strips, weights, carriers = variants.of(strips), weights[variants.places], carriers[variants.places]
    over, at_end = evaporation.presence(strips, weights, carriers, *question.window)
    return {"presence": over, "reach": at_end}


def sameness(question: MaterialQuery, rows: list[int]) -> dict[str, Array]:
    """Return how alike the plain labels are, and how near the lasting."""
    labels = np.clip(question.palette.space.label_cosine(question.row)[rows], 0.0, 1.0)
    return {"labels": labels} | lasting(question, rows)


def cheapness(question: MaterialQuery, rows: list[int]) -> dict[str, Array]:
    """Return how cheap each is, where the asked material is too dear."""
    if question.request.because != "price":
        return {}
    materials = question.palette.materials(rows)
    return {"price": availability.cheapness(question.asked, materials, question.request)}


def lasting(question: MaterialQuery, rows: list[int]) -> dict[str, Array]:
    """Return how near each is in hours on a strip; nothing where those of the asked are unknown."""
    stay = question.asked.lasting
    return {} if stay is None else {"lasting": closeness(question.palette.hours(rows), stay.hours)}


def outlasts(question: MaterialQuery, rows: list[int]) -> dict[str, Array]:
    """Return how much longer each lasts than the asked: a half where it is twice as long, a third if equal.

    Nothing where the hours of the asked are unknown.
    """
    stay = question.asked.lasting
    if stay is None:
        return {}
    times = np.nan_to_num(question.palette.hours(rows) / stay.hours)
    return {"outlasts": np.asarray(times / (times + ABOUT_AS_LONG), float)}


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


def purity(
    space: OdourSpace, rows: Sequence[int], wanted: Mapping[str, float], shown: Collection[str] = ()
) -> Array:
    """Return the share of each smell that is a wanted facet or near one, strong labels counting more, 0-1.

    What it smells of besides is brought along; facets that are `shown` anyway are not.
    """
    weights, counted = space.weights[list(rows)] ** 2, space.lent(wanted)
    counted[[space.facets.index(facet) for facet in shown]] = 1.0
    return np.asarray((weights * counted).sum(axis=1) / np.maximum(weights.sum(axis=1), 1e-9), float)
