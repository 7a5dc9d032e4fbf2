"""Why a material is missing from a list, or stands low in it."""

from collections.abc import Mapping, Sequence

from recommender.palette import Array
from recommender.similarity.phrases import texts
from recommender.suggest.availability import why_unavailable
from recommender.suggest.product_limits import prohibition_reasons
from recommender.suggest.request import LEAST_FACET, MaterialQuery

WEAK_POINTS = {
    "facet": "it shows too little of what is wanted",
    "presence": "it is too faint, or gone, in the hours that you need",
    "reach": "it is gone by the hour that you need",
    "likeness": "as a whole it smells too different",
    "labels": "it has too few facets in common",
    "purity": "too much of it is something else",
    "away": "it still smells too much of what is refused, or of something near it",
    "lasting": "it lasts much longer or shorter",
    "untroubled": "it is as hard to use, or more so",
}


def why_not(
    question: MaterialQuery, ranked_rows: Sequence[int], terms: Mapping[str, Array], ranked: Sequence[int]
) -> list[str]:
    """Return the reasons for each material that is asked about, in sentences.

    Parameters
    ----------
    ranked_rows : sequence of int
        Rows of the catalogue from best to worst.
    terms : mapping of str -> ndarray, shape (candidates,)
    ranked : sequence of int
        Places in `terms`, in the same order as `ranked_rows`.

    Raises
    ------
    UnknownMaterial, WrongCas
    """
    names = texts(question.request.why_not)
    return [line for name in names for line in _why_not(name, question, ranked_rows, terms, ranked)]


def _why_not(
    name: str,
    question: MaterialQuery,
    ranked_rows: Sequence[int],
    terms: Mapping[str, Array],
    ranked: Sequence[int],
) -> list[str]:
    catalogue, asked = question.palette.catalogue, question.asked
    other = catalogue.find(name)
    row = catalogue.index[other.slug]
    if reasons := prohibition_reasons(other, question.palette, question.request):
        return reasons
    if other.kind == "solvent":
        return [f"{other.name} is a solvent and is not offered for its smell."]
    if row == question.row:
        return [f"{other.name} is the material that was asked about."]
    if other.role != "palette":
        return [f"{other.name} is known for its smell only and is not offered."]
    if (against := why_unavailable(question.request, other, question.wanted)) is not None:
        return [against]
    if row in ranked_rows:
        place = ranked_rows.index(row)
        values = {name: float(values[ranked[place]]) for name, values in terms.items()}
        weak = {name: value for name, value in values.items() if name in WEAK_POINTS}
        weakest = min(weak, key=lambda name: weak[name])
        return [f"{other.name} comes in place {place + 1} of {len(ranked_rows)}: {WEAK_POINTS[weakest]}."]
    for facet, too_much in question.avoided.items():
        if other.strength_of(facet) >= too_much:
            return [f"{other.name} smells of {facet}, which you avoid."]
    if question.request.kind and other.kind != question.request.kind:
        return [f"{other.name} is a {other.kind}; you asked for a {question.request.kind}."]
    if question.carried is not None and question.carried[row] < LEAST_FACET:
        return [f"{other.name} shows too little of {', '.join(question.wanted)}."]
    if question.verb == "extend" and other.lasting is None:
        return [f"How long {other.name} lasts is not known."]
    if (
        question.verb == "extend"
        and asked.lasting
        and other.lasting
        and other.lasting.hours < asked.lasting.hours
    ):
        return [f"{other.name} is gone from a strip before {asked.name} is."]
    return [f"{other.name} is too unlike {asked.name} to be looked at."]
