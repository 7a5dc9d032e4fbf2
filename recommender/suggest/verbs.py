"""extend, replace, vary: retrieve, rank, explain."""

from collections.abc import Mapping

import numpy as np

from recommender import explanation, ranking, retrieval
from recommender.bench import Array, Bench, shipped
from recommender.model import Amount, Findings, Suggestion
from recommender.suggest import trouble, worn
from recommender.suggest.absence import why_not
from recommender.suggest.question import Question, Wish, read
from recommender.suggest.terms import all_terms


def extend(wish: Wish, bench: Bench | None = None) -> Findings:
    """Find what keeps a facet of a material alive after it has gone itself.

    Without a facet the material's own leading facets are wanted. The window runs from the hour at which
    the material is gone to `until_hours` (24 by default), or is that of heart or base. No suggestion is
    gone before the material itself.

    Raises
    ------
    UnknownMaterial, UnknownFacet, WrongCas, BadValue
    """
    return _answer(read("extend", wish, bench or shipped()))


def replace(wish: Wish, bench: Bench | None = None) -> Findings:
    """Find what can stand for a material, by its whole smell or, with `facet`, first of all by that.

    Raises
    ------
    UnknownMaterial, UnknownFacet, WrongCas, BadValue
    """
    return _answer(read("replace", wish, bench or shipped()))


def vary(wish: Wish, bench: Bench | None = None) -> Findings:
    """Find what moves a material toward other words (`toward`), with some diversity.

    Where the words only refuse ("less sweet"), what is like it with less of that.

    Raises
    ------
    UnknownMaterial, UnknownFacet, WrongCas, BadValue
    """
    return _answer(read("vary", wish, bench or shipped()))


def ranked(question: Question) -> tuple[list[int], dict[str, Array], Array, list[int]]:
    """Retrieve and rank: rows of the catalogue, their terms and scores, and places from best to worst."""
    bench = question.bench
    ways = {"whole smell": question.likeness, "relations": question.kinship}
    if question.carried is not None:
        ways["facet"] = question.carried
    rows = [found.row for found in retrieval.candidates(ways, question.allowed, question.row)]
    if not rows:
        return [], {}, np.zeros(0), []
    terms = all_terms(question, rows)
    scores = ranking.score(terms, question.weighed_as)
    return rows, terms, scores, ranking.order(scores, [m.name for m in bench.materials(rows)])


def _answer(question: Question) -> Findings:
    rows, terms, scores, order = ranked(question)
    notes = list(question.notes)
    if question.wish.why_not:
        notes += why_not(question, [rows[i] for i in order], terms, order)
    shown = _varied(question, rows, scores, order) if question.verb == "vary" else order
    suggestions = tuple(
        _suggestion(question, rows[i], float(scores[i]), {name: float(v[i]) for name, v in terms.items()})
        for i in shown[: question.wish.top]
    )
    return Findings(query_of(question), question.asked.name, suggestions, tuple(dict.fromkeys(notes)))


def _varied(question: Question, rows: list[int], scores: Array, order: list[int]) -> list[int]:
    head = order[: 3 * question.wish.top]
    space = question.bench.space
    vectors = space.vectors[rows]
    return ranking.diverse(head, scores, np.clip(space.alike(vectors, vectors), 0.0, 1.0))


def _suggestion(question: Question, row: int, score: float, terms: Mapping[str, float]) -> Suggestion:
    bench, asked = question.bench, question.asked
    offered, wanted = bench.catalogue.materials[row], tuple(question.wanted)
    near = explanation.near_facets(bench.space, offered, question.wanted)
    known = worn.labels_of(bench, [Amount(asked, 1.0)])
    return Suggestion(
        material=offered,
        facet=explanation.answering_facet(asked, offered, wanted, near),
        score=score,
        terms=terms,
        lasting=offered.lasting,
        strength=offered.strength,
        brings=explanation.brings(asked, offered, wanted),
        reasons=(
            *explanation.reasons(bench.catalogue, bench.graph, asked, offered, wanted, near, terms),
            *explanation.less_of(asked, offered, question.less),
            *trouble.told(question, offered),
            *worn.reasons(question.wish, worn.room_for(bench, question.wish, offered), None, offered, known),
        ),
        cautions=tuple(caution.text for caution in offered.cautions),
    )


def query_of(question: Question) -> dict[str, object]:
    """Return what was asked, as it stands in the answer."""
    asked, wish, stay = question.asked, question.wish, question.asked.lasting
    start, end = question.window if question.verb == "extend" else (None, None)
    return {
        "verb": question.verb,
        "material": asked.name,
        "cas": asked.cas or None,
        "facets": list(question.wanted),
        "refused": list(question.avoided),
        "into": wish.into,
        "from_hours": start,
        "until_hours": end,
        "market": wish.market,
        "dosage": wish.dosage_percent,
        "category": wish.category.upper(),
        "top": wish.top,
        "lasting": None
        if stay is None
        else {"hours": stay.hours, "low": stay.low, "high": stay.high, "position": stay.position},
        "strength": asked.strength,
        "likeness": question.bench.space.rests_on,
    }
