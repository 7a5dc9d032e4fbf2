"""A person's own data over the catalogue: names, materials, limits, and how they smell materials."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from recommender.evidence.catalogue import Catalogue
from recommender.evidence.markets import authorities_of
from recommender.evidence.names import plain
from recommender.model import Label, Limit, Material, OwnNote

SHIFTS = {"much stronger": -1.0, "stronger": -0.5, "weaker": 0.5, "much weaker": 1.0}
"""By how many decades of concentration a curve moves: half a decade is about three times."""
LIMITS_SOURCE = "own-limits"
"""Key of the source of a person's own limits."""
FROM_LABELS = "shares-facet"
"""Relations that were computed from labels, and are not valid once the labels change."""


@dataclass(frozen=True, slots=True)
class OwnMaterial:
    """A material that the person added, with what was typed or estimated then.

    `strength` is a class of odour strength; `pressure_pa` [Pa] is None where it is unknown, `log_error` its
    uncertainty in decades.
    """

    slug: str
    name: str
    cas: str = ""
    kind: str = "molecule"
    form: str = "liquid"
    smiles: str = ""
    molar_mass: float | None = None
    pressure_pa: float | None = None
    pressure_basis: str = ""
    pressure_source: str = ""
    log_error: float | None = None
    strength: str = ""
    strength_basis: str = ""
    note: str = ""
    labels: tuple[Label, ...] = ()


@dataclass(frozen=True, slots=True)
class Overlay:
    """What a person adds to the catalogue or changes: materials, own smell notes, labels (key -> key).

    `limits` were typed from the Standards in force, `limits_from` is where they come from. `dilutions` are
    those of the bottles with a label [%], where none of them is neat.
    """

    materials: tuple[OwnMaterial, ...] = ()
    notes: tuple[OwnNote, ...] = ()
    names: Mapping[str, str] = field(default_factory=dict)
    limits: tuple[Limit, ...] = ()
    limits_from: str = ""
    dilutions: Mapping[str, tuple[float, ...]] = field(default_factory=dict)


def with_own_materials(catalogue: Catalogue, own: Overlay, added: Iterable[Material] = ()) -> Catalogue:
    """Return the catalogue with a person's own names, notes and materials; `added` are theirs, built."""
    notes = {note.material: note for note in own.notes}
    materials = [*catalogue.materials, *added]
    merged = tuple(_with_note(m, notes[m.slug]) if m.slug in notes else m for m in materials)
    by_name = dict(catalogue.by_name)
    for row in range(len(catalogue.materials), len(merged)):
        for name in (merged[row].name, merged[row].slug, *merged[row].cas_all):
            by_name[plain(name)] = row
    relabelled = {m.slug for m in merged if m.own and m.labels != m.own.instead_of}
    return replace(
        catalogue,
        materials=merged,
        index={material.slug: row for row, material in enumerate(merged)},
        by_name=by_name,
        own_names=own.names,
        own_dilutions=own.dilutions,
        own=frozenset(material.slug for material in merged[len(catalogue.materials) :]),
        relations=tuple(
            r for r in catalogue.relations if r.kind != FROM_LABELS or not relabelled & {r.start, r.end}
        ),
    )


def with_limits(catalogue: Catalogue, own: Overlay) -> Catalogue:
    """Return the catalogue with a person's own limits in place of those of the same substance and market.

    Category by category: what they did not type stays as the table has it, and so does a prohibition.
    """
    if not own.limits:
        return catalogue
    retained = tuple(left for limit in catalogue.limits for left in untouched(limit, own.limits))
    sources = {**catalogue.sources, LIMITS_SOURCE: own.limits_from}
    return replace(catalogue, limits=(*retained, *own.limits), sources=sources)


def untouched(old: Limit, typed: Iterable[Limit]) -> tuple[Limit, ...]:
    """Return what stays of a limit of the table beside typed ones: nothing, itself, or what was not typed.

    What is typed for one authority leaves the figures of the others as they are.
    """
    numbers, names = set(old.cas), authorities_of(old.market)
    replaced: dict[str, set[str]] = {name: set() for name in names}
    for new in typed:
        if numbers.intersection(new.cas):
            for name in set(names).intersection(authorities_of(new.market)):
                replaced[name] |= old.percent.keys() & new.percent.keys()
    if not any(replaced.values()):
        return (old,)
    by_figures: dict[frozenset[str], list[str]] = {}
    for name in names:
        by_figures.setdefault(frozenset(replaced[name]), []).append(name)
    found = []
    for typed_over, authorities in by_figures.items():
        percent = {category: value for category, value in old.percent.items() if category not in typed_over}
        if percent or old.condition:
            found.append(replace(old, market="; ".join(authorities), percent=percent))
    return tuple(found)


def _with_note(material: Material, note: OwnNote) -> Material:
    """Return a material with a person's own smell note applied."""
    return replace(
        material,
        labels=labels_under(material.labels, note),
        parts=tuple(
            replace(part, curve=replace(part.curve, log10_half=part.curve.log10_half + SHIFTS[note.strength]))
            if part.curve is not None and note.strength
            else part
            for part in material.parts
        ),
        own=replace(note, instead_of=material.labels),
    )


def labels_under(table: tuple[Label, ...], note: OwnNote) -> tuple[Label, ...]:
    """Return the labels that count: the person's own in place of the table's, or on top of them."""
    own = {label.facet: label for label in note.labels}
    retained = table if note.adds or not own else ()
    labels = {label.facet: label for label in retained if label.facet not in note.denied} | own
    return tuple(sorted(labels.values(), key=lambda label: -label.strength))
