"""Why a material is missing from a list, or ranks low in it."""

from collections.abc import Mapping, Sequence

from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Material, Suggestion
from recommender.palette import Array
from recommender.similarity.phrases import texts
from recommender.suggest.eligibility import Eligibility
from recommender.suggest.product_limits import no_room
from recommender.suggest.query import MaterialQuery

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
    "availability": "it is not easy to get",
    "price": "it is hardly cheaper, or its price is not known",
}


def why_not(
    question: MaterialQuery,
    ranked_rows: Sequence[int],
    terms: Mapping[str, Array],
    ranked: Sequence[int],
    shown: Sequence[int],
) -> list[str]:
    """Return the reasons for each material that is asked about, in sentences.

    Parameters
    ----------
    ranked_rows : sequence of int
        Rows of the catalogue from best to worst.
    terms : mapping of str -> ndarray, shape (candidates,)
    ranked : sequence of int
        Places in `terms`, in the same order as `ranked_rows`.
    shown : sequence of int
        Rows of the catalogue that are in the list, in its order.

    Raises
    ------
    UnknownMaterial, WrongCas
    """
    catalogue, found = question.palette.catalogue, list[str]()
    for other in asked_about(question.eligibility):
        row = catalogue.index[other.slug]
        if against := question.eligibility.why_not(other):
            found += against
        elif row in shown:
            found.append(in_the_list(other, shown.index(row)))
        elif row in ranked_rows:
            place = ranked_rows.index(row)
            values = {name: float(terms[name][ranked[place]]) for name in terms if name in WEAK_POINTS}
            found.append(ranked_at(other, place, len(ranked_rows), values, WEAK_POINTS))
        else:
            found.append(f"{other.name} is too unlike {question.asked.name} to be looked at.")
    return found


def in_the_list(material: Material, place: int) -> str:
    """Return at which place of the list a material is, from 0 on."""
    return f"{material.name} is in the list, at place {place + 1}."


def ranked_at(
    material: Material, place: int, count: int, values: Mapping[str, float], weak_points: Mapping[str, str]
) -> str:
    """Return where a material comes among so many, from 0 on, and what holds it back: its least term."""
    weakest = min(values, key=lambda name: values[name])
    return f"{material.name} comes in place {place + 1} of {count}: {weak_points[weakest]}."


def why_not_in_formula(
    eligibility: Eligibility, table: FormulaDrydown, shown: Sequence[Suggestion] = ()
) -> list[str]:
    """Return what keeps each material that is asked about from being offered for a formula, in sentences.

    `shown` is the list of suggestions, in its order.

    Raises
    ------
    UnknownMaterial, WrongCas
    """
    found = list[str]()
    places: dict[str, int] = {}
    for place, one in enumerate(shown):
        for material in [member for member, _ in one.members] or [one.material]:
            places.setdefault(material.slug, place)
    for other in asked_about(eligibility):
        if other.slug in places:
            found.append(in_the_list(other, places[other.slug]))
            continue
        against = eligibility.why_not(other) or no_room(eligibility.request, table, other)
        found += against or [
            f"Nothing keeps {other.name} from being offered; where it ranks is answered without the formula."
        ]
    return found


def asked_about(eligibility: Eligibility) -> list[Material]:
    """Return the materials of `why_not`; raises `UnknownMaterial` or `WrongCas`."""
    return [eligibility.palette.catalogue.find(name) for name in texts(eligibility.request.why_not)]
