"""Why a suggestion stands where it stands: data taken from the same numbers that ranked it."""

from collections.abc import Mapping, Sequence

from recommender.catalogue import Catalogue
from recommender.graph import KIND_WEIGHTS, Graph
from recommender.model import Label, Material, Reason

UNLIKE = 0.35
"""Terms that lie this far apart are said to disagree."""


def shared(asked: Material, offered: Material, wanted: Sequence[str]) -> list[tuple[Label, int]]:
    """Return the labels of an offered material that the asked one has too or that are wanted.

    Each with the strength that it has in the asked material (0 if none), the strongest first.
    """
    own = {label.facet: label.strength for label in asked.labels}
    both = [(label, own.get(label.facet, 0)) for label in offered.labels if label.facet in own or label.facet in wanted]
    return sorted(both, key=lambda pair: (pair[0].facet not in wanted, -pair[0].strength, -pair[1]))


def brings(asked: Material, offered: Material, wanted: Sequence[str]) -> tuple[Label, ...]:
    """Return what an offered material brings along that nobody asked for, the strongest first."""
    known = {label.facet for label in asked.labels} | set(wanted)
    extra = [label for label in offered.labels if label.facet not in known]
    return tuple(sorted(extra, key=lambda label: -label.strength))


def reasons(
    catalogue: Catalogue,
    graph: Graph,
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
    found: list[Reason] = []
    common = shared(asked, offered, wanted)
    if common:
        basis = "memory" if any(label.basis == "memory" for label, _ in common) else "common practice"
        figures = {label.facet: {"here": label.strength, "asked": own} for label, own in common}
        found.append(Reason("shares", figures, basis))
    if near and not any(label.facet in wanted for label, _ in common):
        found.append(Reason("near", {facet: round(lent, 2) for facet, lent in near.items()}, "estimated", "labels"))
    before, after = asked.lasting, offered.lasting
    if after is not None:
        figures = {"hours": after.hours, "low": after.low, "high": after.high, "position": after.position}
        if before is not None:
            figures["asked_hours"] = before.hours
        pressures = offered.figures.get("vapour_pressure", ())
        source = pressures[0].source if pressures else ""
        if pressures:
            figures["vapour_pressure_pa"] = pressures[0].value
        found.append(Reason("lasts", figures, after.basis, source))
    if offered.strength is not None:
        used = offered.curve
        figures = {"strength": offered.strength, "asked": asked.strength, "rests_on": used.kind if used else ""}
        found.append(Reason("strength", figures, used.basis if used else "", used.source if used else ""))
    if path := graph.path(asked.slug, offered.slug):
        names = catalogue.by_slug
        steps = [
            {"from": names(r.start).name, "relation": r.kind, "to": names(r.end).name, "note": r.note,
             "basis": r.basis, "source": r.source}
            for r in path
        ]  # fmt: skip
        found.append(Reason("relation", {"path": steps}, path[0].basis, path[0].source))
    for relation in graph.between(asked.slug, offered.slug):
        if KIND_WEIGHTS[relation.kind] == 0:
            figures = {"relation": relation.kind, "note": relation.note}
            found.append(Reason("warning", figures, relation.basis, relation.source))
    found += doubts(offered, terms)
    return tuple(found)


def doubts(offered: Material, terms: Mapping[str, float]) -> list[Reason]:
    """Return what makes a suggestion less certain than its score looks."""
    found = []
    used = offered.curve
    if offered.label_basis == "memory":
        share = sum(label.basis == "memory" for label in offered.labels)
        found.append(Reason("labels from memory", {"labels": len(offered.labels), "from_memory": share}, "memory"))
    if used is not None and used.doubtful:
        found.append(Reason("curve doubtful", {"width": used.width}, used.basis, used.source))
    if used is not None and used.kind == "class":
        found.append(Reason("strength is a class", {"decades_either_way": used.log_error}, used.basis))
    pair = [terms[name] for name in ("likeness", "labels", "facet") if name in terms]
    if len(pair) > 1 and max(pair) - min(pair) > UNLIKE:
        figures = {name: terms[name] for name in ("likeness", "labels", "facet") if name in terms}
        found.append(Reason("terms disagree", figures, "estimated"))
    return found
