"""A suggestion, put together: the one place where material, terms, dose and reasons meet."""

from collections.abc import Iterable, Mapping, Sequence

from recommender.model import Dose, Label, Material, Suggestion
from recommender.palette import Array
from recommender.reasons import Reason
from recommender.suggest.availability import hardest
from recommender.suggest.explanation import answering_facet

Effect = Mapping[str, Mapping[str, object]]
"""The same figures of a formula before and after."""
Members = tuple[tuple[Material, float], ...]
"""Materials of a relay or a blend, each with its share."""


def terms_at(terms: Mapping[str, Array], place: int) -> dict[str, float]:
    """Return the terms of one candidate."""
    return {name: float(values[place]) for name, values in terms.items()}


def assembled(
    asked: Material,
    material: Material,
    wanted: Sequence[str],
    near: Mapping[str, float],
    *,
    score: float,
    terms: Mapping[str, float],
    brings: Iterable[Label],
    reasons: Iterable[Reason],
    dose: Dose | None = None,
    effect: Effect | None = None,
    members: Members = (),
) -> Suggestion:
    """Return a suggestion.

    Parameters
    ----------
    asked : Material
        What it answers for: the material asked about, or the one that carried the facet in a formula.
    material : Material
        What is suggested; of several `members` the one that represents them.
    wanted : sequence of str
        Facets with which it may answer.
    near : mapping of str -> float
        Facets of the material near the wanted ones, with how much they count for them.
    brings : iterable of Label
        What comes along; the strongest is put first.
    """
    carriers = [member for member, _ in members] or [material]
    return Suggestion(
        material=material,
        facet=answering_facet(asked, material, wanted, near),
        score=score,
        terms=terms,
        lasting=material.lasting,
        strength=material.strength,
        brings=tuple(sorted(brings, key=lambda label: -label.strength)),
        reasons=tuple(reasons),
        cautions=tuple(dict.fromkeys(caution.text for m in carriers for caution in m.cautions)),
        dose=dose,
        effect=effect,
        members=members,
        availability=hardest(carriers),
    )
