"""The reasons for a suggestion: data taken from the same numbers that ranked it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from recommender.evidence.catalogue import Catalogue
from recommender.model import Label, Material, Relation
from recommender.reasons import (
    DoubtfulCurve,
    FacetStrengths,
    LabelsFromMemory,
    LastingReason,
    LessOfFacets,
    NearFacets,
    Reason,
    RelationPath,
    RelationStep,
    RelationWarning,
    SharedFacets,
    StrengthClass,
    StrengthDispute,
    StrengthReason,
    TermDisagreement,
    UseLevel,
)
from recommender.similarity.odour_space import disagree
from recommender.similarity.relations import KIND_WEIGHTS, RelationGraph

MIXTURE_STRENGTHS: Mapping[int, float] = {3: 0.8, 2: 0.45, 1: 0.15}
"""Least weight of a facet in a mixture, against its strongest, for each strength: leading, clear, trace."""


def strength_in_mixture(weight: float) -> int:
    """Return the strength of the label that a weight in a mixture stands for, 0 for none.

    >>> strength_in_mixture(0.5), strength_in_mixture(0.1)
    (2, 0)
    """
    return max((strength for strength, least in MIXTURE_STRENGTHS.items() if weight >= least), default=0)


def shared(asked: Material, offered: Material, wanted: Sequence[str]) -> list[tuple[Label, int]]:
    """Return the labels of an offered material that the asked one has too or that are wanted.

    Each with the strength that it has in the asked material (0 if none), the strongest first.
    """
    own = {label.facet: label.strength for label in asked.labels}
    both = [
        (label, own.get(label.facet, 0))
        for label in offered.labels
        if label.facet in own or label.facet in wanted
    ]
    return sorted(both, key=lambda pair: (pair[0].facet not in wanted, -pair[0].strength, -pair[1]))


def brings(asked: Material, offered: Material, wanted: Sequence[str]) -> tuple[Label, ...]:
    """Return the labels of an offered material that nobody asked for, the strongest first."""
    known = {label.facet for label in asked.labels} | set(wanted)
    extra = [label for label in offered.labels if label.facet not in known]
    return tuple(sorted(extra, key=lambda label: -label.strength))


def answering_facet(
    asked: Material, offered: Material, wanted: Sequence[str], near: Mapping[str, float]
) -> str | None:
    """Return the facet with which an offered material answers: a wanted one, one near it, or a shared one."""
    if named := [label for label in offered.labels if label.facet in wanted]:
        return max(named, key=lambda label: label.strength).facet
    if near:
        weights = {label.facet: label.weight for label in offered.labels}
        return max(near, key=lambda facet: near[facet] * weights[facet])
    common = shared(asked, offered, wanted)
    # what both have most of: one may lead with what is only a trace in the other
    return (
        max(common, key=lambda pair: (min(pair[0].strength, pair[1]), pair[0].strength))[0].facet
        if common
        else None
    )


def reasons(
    catalogue: Catalogue,
    graph: RelationGraph,
    asked: Material,
    offered: Material,
    wanted: Sequence[str],
    near: Mapping[str, float],
    terms: Mapping[str, float],
) -> tuple[Reason, ...]:
    """Return the reasons for one suggestion.

    Parameters
    ----------
    near : mapping of str -> float
        Facets of the offered material near the wanted ones, with how much they count for them.
    """
    return (
        *_smell(asked, offered, wanted, near),
        *_lasting(asked, offered),
        *_strength(asked, offered),
        *_use(offered),
        *relations(catalogue, graph, asked, offered),
        *disputes(graph, asked, offered),
        *doubts(offered, wanted, terms),
    )


def at_the_bench(
    asked: Material, offered: Material, wanted: Sequence[str], terms: Mapping[str, float]
) -> tuple[Reason, ...]:
    """Return how long a material lasts, how strong it is and how it is used, with what is uncertain.

    Beside an accord, which is no material of the catalogue, a ratio of strengths says nothing.
    """
    strength = _strength(asked if asked.slug else replace(asked, strength=None), offered)
    return (*_lasting(asked, offered), *strength, *_use(offered), *doubts(offered, wanted, terms))


def relations(
    catalogue: Catalogue, graph: RelationGraph, asked: Material, offered: Material
) -> list[RelationPath | RelationWarning]:
    """Return how two materials are related, and which relations warn against the pair."""
    found: list[RelationPath | RelationWarning] = []
    if path := graph.path(asked.slug, offered.slug):
        steps = tuple(_step(catalogue, relation) for relation in path)
        found.append(RelationPath(steps, basis=path[0].basis, source=path[0].source))
    found += [
        RelationWarning(relation.kind, relation.note, basis=relation.basis, source=relation.source)
        for relation in graph.between(asked.slug, offered.slug)
        if KIND_WEIGHTS[relation.kind] == 0
    ]
    return found


def _smell(
    asked: Material, offered: Material, wanted: Sequence[str], near: Mapping[str, float]
) -> list[Reason]:
    found: list[Reason] = []
    if common := shared(asked, offered, wanted):
        strengths = {label.facet: FacetStrengths(label.strength, own) for label, own in common}
        found.append(SharedFacets(strengths, basis=_weakest(label.basis for label, _ in common)))
    if near and not any(label.facet in wanted for label, _ in common):
        shares = {facet: round(share, 2) for facet, share in near.items()}
        found.append(NearFacets(shares, basis="estimated"))
    return found


def less_of(asked: Material, offered: Material, refused: Sequence[str]) -> list[LessOfFacets]:
    """Return how much an offered material has of the refused facets that the asked one smells of."""
    own = [facet for facet in refused if asked.strength_of(facet)]
    if not own:
        return []
    strengths = {f: FacetStrengths(offered.strength_of(f), asked.strength_of(f)) for f in own}
    bases = (label.basis for m in (asked, offered) for label in m.labels if label.facet in own)
    return [LessOfFacets(strengths, basis=_weakest(bases))]


def _weakest(bases: Iterable[str]) -> str:
    """Return the basis of several labels together."""
    return "memory" if "memory" in set(bases) else "common practice"


def _lasting(asked: Material, offered: Material) -> list[LastingReason]:
    stay, pressures = offered.lasting, offered.figures.get("vapour_pressure", ())
    if stay is None:
        return []
    return [
        LastingReason(
            stay.hours,
            stay.low,
            stay.high,
            stay.position,
            asked_hours=asked.lasting.hours if asked.lasting else None,
            vapour_pressure_pa=pressures[0].value if pressures else None,
            basis=stay.basis,
            source=pressures[0].source if pressures else "",
        )
    ]


def _strength(asked: Material, offered: Material) -> list[StrengthReason]:
    used = offered.curve
    if offered.strength is None or used is None:
        return []
    firm = all(c is not None and c.kind == "curve" and not c.doubtful for c in (used, asked.curve))
    return [
        StrengthReason(
            offered.strength, asked.strength, used.kind, firm, basis=used.basis, source=used.source
        )
    ]


def _use(offered: Material) -> list[UseLevel]:
    used = offered.use
    if used is None or used.low is None or used.high is None:
        return []
    return [UseLevel(used.low, used.high, basis=used.basis, source=used.source)]


def _step(catalogue: Catalogue, relation: Relation) -> RelationStep:
    return RelationStep(
        catalogue.by_slug(relation.start).name,
        relation.kind,
        catalogue.by_slug(relation.end).name,
        relation.note,
        relation.basis,
        relation.source,
    )


def disputes(graph: RelationGraph, asked: Material, offered: Material) -> list[StrengthDispute]:
    """Return reasons where common practice and the data disagree on which of two materials is stronger."""
    if not asked.strength or not offered.strength:
        return []
    found = []
    for relation in graph.between(asked.slug, offered.slug):
        if relation.kind == "stronger-form-of":
            strong, weak = (asked, offered) if relation.start == asked.slug else (offered, asked)
            if (strong.strength or 0.0) < (weak.strength or 0.0):
                found.append(
                    StrengthDispute(
                        strong.name, weak.name, relation.note, basis=relation.basis, source=relation.source
                    )
                )
    return found


def doubts(offered: Material, wanted: Sequence[str], terms: Mapping[str, float]) -> list[Reason]:
    """Return what makes a suggestion less certain than its score looks.

    That labels come from memory is one only where those are that answer: the wanted ones, else all.
    """
    found: list[Reason] = []
    used = offered.curve
    answering = [label for label in offered.labels if label.facet in wanted] or offered.labels
    if any(label.basis == "memory" for label in answering):
        from_memory = sum(label.basis == "memory" for label in offered.labels)
        found.append(LabelsFromMemory(len(offered.labels), from_memory, basis="memory"))
    if used is not None and used.doubtful:
        found.append(DoubtfulCurve(used.width, basis=used.basis, source=used.source))
    if used is not None and used.kind == "class":
        found.append(StrengthClass(used.log_error, basis=used.basis))
    compared = {name: terms[name] for name in ("likeness", "labels", "facet") if name in terms}
    if disagree(compared.values()):
        found.append(TermDisagreement(compared, basis="estimated"))
    return found
