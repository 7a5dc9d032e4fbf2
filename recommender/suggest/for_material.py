"""extend, replace, vary: retrieve, rank, explain."""

from collections.abc import Mapping, Sequence

import numpy as np

from recommender.model import Amount, Findings, Material, Suggestion
from recommender.palette import Array, Palette
from recommender.similarity import candidates
from recommender.suggest import drawbacks, explanation, product_limits, scoring
from recommender.suggest.assembly import assembled, terms_at
from recommender.suggest.availability import hard_to_get
from recommender.suggest.confidence import Ranking, Swings, swings, with_confidence
from recommender.suggest.query import MaterialQuery, read
from recommender.suggest.request import Request, given_options
from recommender.suggest.terms import all_terms, presence
from recommender.suggest.why_not import why_not


def extend(asked: Material, request: Request, palette: Palette) -> Findings:
    """Find materials that still show a facet when the material that had it is gone.

    Without a facet the material's own leading facets are wanted. The window runs from the hour at which
    the material is gone to `until_hours` (24 by default), or is that of heart or base. What is surely gone
    before the material itself is not offered.

    Raises
    ------
    UnknownFacet, BadValue
    """
    return _answer(read("extend", asked, request, palette))


def replace(asked: Material, request: Request, palette: Palette) -> Findings:
    """Find materials that can replace one, by the whole smell or, with `facet`, first of all by that.

    Raises
    ------
    UnknownFacet, BadValue
    """
    return _answer(read("replace", asked, request, palette))


def vary(asked: Material, request: Request, palette: Palette) -> Findings:
    """Find what moves a material toward other words (`toward`), with some diversity.

    Where the words only refuse ("less sweet"), what is like it with less of that.

    Raises
    ------
    UnknownFacet, BadValue
    """
    return _answer(read("vary", asked, request, palette))


def ranked(question: MaterialQuery) -> tuple[list[int], dict[str, Array], Array, list[int]]:
    """Retrieve and rank: rows of the catalogue, their terms and scores, and places from best to worst."""
    palette = question.palette
    ways = {"whole smell": question.likeness, "relations": question.kinship}
    if question.carried is not None:
        ways["facet"] = question.carried
    rows = [found.row for found in candidates.candidates(ways, question.eligibility.mask)]
    if not rows:
        return [], {}, np.zeros(0), []
    terms = all_terms(question, rows)
    materials, request = palette.materials(rows), question.request
    scores = scoring.score(terms, question.weighed_as, request.because)
    order = scoring.order(scores, [m.name for m in materials], hard_to_get(materials, request))
    return rows, terms, scores, order


def _answer(question: MaterialQuery) -> Findings:
    rows, terms, scores, order = ranked(question)
    notes = list(question.notes)
    meant = scoring.means_something(terms, question.weighed_as, question.request.because)
    shown = _varied(question, rows, scores, order) if question.verb == "vary" else order
    shown = [i for i in shown if meant[i]][: question.request.top]
    if question.request.why_not:
        notes += why_not(question, [rows[i] for i in order], terms, order, [rows[i] for i in shown])
    notes += left_out(
        [i for i in order if not meant[i]],
        scores,
        question.palette.materials(rows),
        int(meant.sum()),
        question.request,
    )
    suggestions = with_confidence(
        [_suggestion(question, rows[i], float(scores[i]), terms_at(terms, i)) for i in shown],
        *_ranking(question, [rows[i] for i in shown], {name: v[shown] for name, v in terms.items()}),
    )
    return Findings(query_of(question), question.asked.name, suggestions, tuple(dict.fromkeys(notes)))


def left_out(
    places: Sequence[int], scores: Array, materials: Sequence[Material], offered: int, request: Request
) -> list[str]:
    """Return a note on what scores too low to be offered, where that makes the list short."""
    if not places or offered >= request.top:
        return []
    best = max(places, key=lambda i: scores[i])
    other = "Nothing else" if offered else "Nothing"
    return [
        f"{other} answers with more than a trace; the best left out is {materials[best].name} "
        f"({scores[best]:.2f})."
    ]


def _ranking(question: MaterialQuery, rows: list[int], terms: Mapping[str, Array]) -> tuple[Ranking, Swings]:
    """Return what the scores of some materials rest on, and how far what is simulated may swing."""
    ranking, carried = ranking_of(question, rows, terms, question.weighed_as), question.carried
    if question.verb != "extend" or carried is None or not rows:
        return ranking, {}
    return ranking, swings(ranking.materials, lambda them: presence(question, carried, rows, them))


def ranking_of(
    question: MaterialQuery, rows: list[int], terms: Mapping[str, Array], weighed_as: str
) -> Ranking:
    """Return what the scores of some materials rest on."""
    palette, asked = question.palette, question.asked
    return Ranking(
        palette,
        palette.materials(rows),
        terms,
        weighed_as,
        question.wanted,
        palette.space.vectors[question.row],
        because=question.request.because,
        labels=palette.space.weights[question.row],
        shown=[label.facet for label in asked.labels] if question.verb == "extend" else (),
        refused=question.less,
        hours=asked.lasting.hours if asked.lasting else None,
        strength=asked.strength,
    )


def _varied(question: MaterialQuery, rows: list[int], scores: Array, order: list[int]) -> list[int]:
    head = order[: 3 * question.request.top]
    space = question.palette.space
    vectors = space.vectors[rows]
    last = hard_to_get(question.palette.materials(rows), question.request)
    return scoring.diverse(head, scores, np.clip(space.alike(vectors, vectors), 0.0, 1.0), last=last)


def _suggestion(question: MaterialQuery, row: int, score: float, terms: Mapping[str, float]) -> Suggestion:
    palette, request, asked = question.palette, question.request, question.asked
    offered, wanted = palette.catalogue.materials[row], tuple(question.wanted)
    near = palette.space.near_labels(offered, question.wanted)
    room = product_limits.headroom_for(palette, request, offered)
    replaced = [Amount(asked, 1.0)] if question.verb == "replace" else []
    known = product_limits.labels_of(palette, replaced)
    return assembled(
        asked,
        offered,
        wanted,
        near,
        score=score,
        terms=terms,
        brings=explanation.brings(asked, offered, wanted),
        reasons=(
            *explanation.reasons(palette.catalogue, palette.graph, asked, offered, wanted, near, terms),
            *explanation.less_of(asked, offered, question.less),
            *drawbacks.drawback_reasons(question, offered),
            *product_limits.reasons(palette, request, room, None, offered, known),
        ),
    )


def query_of(question: MaterialQuery) -> dict[str, object]:
    """Return the question as the answer repeats it."""
    asked, request, stay = question.asked, question.request, question.asked.lasting
    start, end = question.window if question.verb == "extend" else (None, None)
    return {
        "verb": question.verb,
        "material": asked.name,
        "cas": asked.cas or None,
        "facets": list(question.wanted),
        "refused": list(question.eligibility.avoided),
        "into": request.into,
        "from_hours": start,
        "until_hours": end,
        **given_options(request),
        "lasting": stay.figures if stay else None,
        "strength": asked.strength,
        "likeness": question.palette.space.rests_on,
    }
