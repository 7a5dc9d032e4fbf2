"""What a suggestion does to the finished product: which limits bound it, what it adds to the label."""

from collections.abc import Collection, Sequence

import numpy as np
import numpy.typing as npt

from recommender import safety
from recommender.bench import Bench
from recommender.model import Amount, Material, Reason
from recommender.suggest.question import Wish, wear_of

TOLD = 2
"""How many limits are told, the tightest first."""
LEAST_PARTS = 0.01
"""A material for which limits leave less than this [parts per thousand] is not offered."""


def room_for(bench: Bench, wish: Wish, material: Material, rest: Sequence[Amount] = ()) -> safety.Room:
    """Return what limits leave for a material beside others in the concentrate."""
    return safety.room(material, bench.catalogue, wear_of(wish), rest)


def most_parts(
    bench: Bench, wish: Wish, materials: Sequence[Material], rest: Sequence[Amount]
) -> npt.NDArray[np.float64]:
    """Return the parts per thousand that limits leave for each material, 1000 where none bounds it."""
    if wish.dosage_percent is None:
        return np.full(len(materials), 1000.0)
    found = [room_for(bench, wish, material, rest).parts for material in materials]
    return np.array([1000.0 if parts is None else parts for parts in found])


def reasons(
    wish: Wish,
    room: safety.Room,
    parts: float | None,
    material: Material,
    known: Collection[str] = (),
) -> tuple[Reason, ...]:
    """Return which ratios a suggestion raises and which names it adds to the label; `parts` a first try.

    `known` are the names that stand on the label without it.
    """
    told = []
    shares = {name: 100.0 * share for name, share in room.labels if name not in known}
    if shares:
        told.append(
            Reason(
                "adds to the label", {"material": material.name, "names": shares}, "published", "eu-2023-1545"
            )
        )
    by_name = {found.name: found for found in reversed(room.raised)}  # the tightest limit of each substance
    tightest = sorted(by_name.values(), key=lambda found: found.percent / found.share)
    for found in tightest[:TOLD]:
        figures: dict[str, object] = {
            "substance": found.name,
            "through": material.name if found.through else None,
            "limit_percent": found.percent,
            "category": wish.category.upper(),
            "market": found.limit.market,
            "verified": found.limit.basis != "memory",
            "dosage": wish.dosage_percent,
            "most_parts": None
            if wish.dosage_percent is None
            else min(1000.0, found.most(wish.dosage_percent)),
            "before": None,
            "after": None,
        }
        if wish.dosage_percent is not None and parts is not None:
            figures["before"], figures["after"] = found.ratios(parts, wish.dosage_percent)
        told.append(Reason("counts against a limit", figures, found.limit.basis, found.limit.source))
    return tuple(told)


def barred(other: Material, bench: Bench, wish: Wish) -> list[str]:
    """Return why rules keep a material from being offered, each with its source; empty where none does."""
    catalogue = bench.catalogue
    told = []
    for limit in safety.prohibitions(other, catalogue.limits, wish.market):
        origin = catalogue.sources.get(limit.source, "from memory, unverified")
        entry = f", {limit.reference}" if limit.reference else ""
        note = f"; {limit.note}" if limit.note else ""
        told.append(f"{other.name} is prohibited: {limit.name} ({origin}{entry}{note}).")
    if wish.no_label_allergens and not told:
        by_name = {allergen.name: allergen for allergen in catalogue.allergens}
        for name, share in safety.listed(other, catalogue).items():
            rule = by_name[name]
            origin = f"{catalogue.sources.get(rule.source, rule.source)}, Annex III entry {rule.entry}"
            brings = f"brings {name} (up to {100 * share:.2g} % of it)" if share < 1.0 else f"is {name}"
            told.append(f"{other.name} {brings}, which has to stand on the label ({origin}).")
    return told


def labels_of(bench: Bench, amounts: Sequence[Amount]) -> set[str]:
    """Return the names that some materials bring to the label already."""
    return {name for amount in amounts for name in safety.listed(amount.material, bench.catalogue)}
