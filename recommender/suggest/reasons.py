"""Why a suggestion stands where it stands: data taken from the same numbers that ranked it."""

from collections.abc import Mapping, Sequence

from recommender.evidence.catalogue import Catalogue
from recommender.model import Label, Material, Reason, Relation
from recommender.similarity.odour_space import OdourSpace
from recommender.similarity.relations import KIND_WEIGHTS, RelationGraph

LEAST_LENT = 0.05
"""A facet that lends less than this to a wanted one does not count as near."""
UNLIKE = 0.35
"""Terms that lie this far apart disagree."""


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
    """Return what an offered material brings along that nobody asked for, the strongest first."""
    known = {label.facet for label in asked.labels} | set(wanted)
    extra = [label for label in offered.labels if label.facet not in known]
    return tuple(sorted(extra, key=lambda label: -label.strength))


def near_facets(space: OdourSpace, offered: Material, wanted: Mapping[str, float]) -> dict[str, float]:
    """Return the facets of an offered material that lie near the wanted ones, with how much they lend."""
    if not wanted:
        return {}
    lent = dict(zip(space.facets, space.lent(wanted), strict=True))
    return {
        label.facet: float(lent[label.facet])
        for label in offered.labels
        if label.facet not in wanted and lent[label.facet] > LEAST_LENT
    }


def answering_facet(
    asked: Material, offered: Material, wanted: Sequence[str], near: Mapping[str, float]
) -> str | None:
    """Return the facet with which an offered material answers: a wanted one, one near it, or a shared one."""
    if named := [label for label in offered.labels if label.facet in wanted]:
        return max(named, key=lambda label: label.strength).facet
    if near:
        return max(near, key=lambda facet: near[facet])
    common = shared(asked, offered, wanted)
    return max(common, key=lambda pair: pair[0].strength)[0].facet if common else None


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
        Facets of the offered material that are not wanted by name but lie near, with how much they lend.
    """
    found = [
        *_smell(asked, offered, wanted, near),
        *_stay(asked, offered),
        *_power(asked, offered),
        *_use(offered),
    ]
    if path := graph.path(asked.slug, offered.slug):
        steps = [_step(catalogue, relation) for relation in path]
        found.append(Reason("relation", {"path": steps}, path[0].basis, path[0].source))
    for relation in graph.between(asked.slug, offered.slug):
        if KIND_WEIGHTS[relation.kind] == 0:
            figures = {"relation": relation.kind, "note": relation.note}
            found.append(Reason("warning", figures, relation.basis, relation.source))
    return (*found, *disputes(graph, asked, offered), *doubts(offered, terms))


def _smell(
    asked: Material, offered: Material, wanted: Sequence[str], near: Mapping[str, float]
) -> list[Reason]:
    found = []
    if common := shared(asked, offered, wanted):
        basis = "memory" if any(label.basis == "memory" for label, _ in common) else "common practice"
        figures = {label.facet: {"here": label.strength, "asked": own} for label, own in common}
        found.append(Reason("shares", figures, basis))
    if near and not any(label.facet in wanted for label, _ in common):
        lent = {facet: round(share, 2) for facet, share in near.items()}
        found.append(Reason("near", lent, "estimated"))
    return found


def less_of(asked: Material, offered: Material, refused: Sequence[str]) -> list[Reason]:
    """Return how much an offered material has of the refused facets that the asked one smells of."""
    own = [facet for facet in refused if asked.strength_of(facet)]
    if not own:
        return []
    figures = {f: {"here": offered.strength_of(f), "asked": asked.strength_of(f)} for f in own}
    bases = {label.basis for m in (asked, offered) for label in m.labels if label.facet in own}
    return [Reason("less of", figures, "memory" if "memory" in bases else "common practice")]


def _stay(asked: Material, offered: Material) -> list[Reason]:
    stay, pressures = offered.lasting, offered.figures.get("vapour_pressure", ())
    if stay is None:
        return []
    figures: dict[str, object] = {
        "hours": stay.hours,
        "low": stay.low,
        "high": stay.high,
        "position": stay.position,
        "asked_hours": asked.lasting.hours if asked.lasting else None,
        "vapour_pressure_pa": pressures[0].value if pressures else None,
    }
    return [Reason("lasts", figures, stay.basis, pressures[0].source if pressures else "")]


def _power(asked: Material, offered: Material) -> list[Reason]:
    used = offered.curve
    if offered.strength is None or used is None:
        return []
    firm = all(c is not None and c.kind == "curve" and not c.doubtful for c in (used, asked.curve))
    figures = {"strength": offered.strength, "asked": asked.strength, "rests_on": used.kind, "firm": firm}
    return [Reason("strength", figures, used.basis, used.source)]


def _use(offered: Material) -> list[Reason]:
    used = offered.use
    if used is None:
        return []
    return [Reason("use level", {"low": used.low, "high": used.high}, used.basis, used.source)]


def _step(catalogue: Catalogue, relation: Relation) -> dict[str, str]:
    return {
        "from": catalogue.by_slug(relation.start).name,
        "relation": relation.kind,
        "to": catalogue.by_slug(relation.end).name,
        "note": relation.note,
        "basis": relation.basis,
        "source": relation.source,
    }


def disputes(graph: RelationGraph, asked: Material, offered: Material) -> list[Reason]:
    """Return reasons where common practice and the data disagree on which of two materials is stronger."""
    if not asked.strength or not offered.strength:
        return []
    found = []
    for relation in graph.between(asked.slug, offered.slug):
        if relation.kind == "stronger-form-of":
            strong, weak = (asked, offered) if relation.start == asked.slug else (offered, asked)
            if (strong.strength or 0.0) < (weak.strength or 0.0):
                figures = {"stronger": strong.name, "weaker": weak.name, "note": relation.note}
                found.append(Reason("strength disputed", figures, relation.basis, relation.source))
    return found


def doubts(offered: Material, terms: Mapping[str, float]) -> list[Reason]:
    """Return what makes a suggestion less certain than its score looks."""
    found = []
    used = offered.curve
    if offered.label_basis == "memory":
        share = sum(label.basis == "memory" for label in offered.labels)
        found.append(
            Reason("labels from memory", {"labels": len(offered.labels), "from_memory": share}, "memory")
        )
    if used is not None and used.doubtful:
        found.append(Reason("curve doubtful", {"width": used.width}, used.basis, used.source))
    if used is not None and used.kind == "class":
        found.append(Reason("strength is a class", {"decades_either_way": used.log_error}, used.basis))
    pair = [terms[name] for name in ("likeness", "labels", "facet") if name in terms]
    if len(pair) > 1 and max(pair) - min(pair) > UNLIKE:
        figures = {name: terms[name] for name in ("likeness", "labels", "facet") if name in terms}
        found.append(Reason("terms disagree", figures, "estimated"))
    return found
