"""What a suggestion does to the finished product: which limits bound it, what it adds to the label."""

from collections.abc import Collection, Sequence

import numpy as np
import numpy.typing as npt

from recommender import regulation
from recommender.model import Amount, Material, Reason
from recommender.palette import Palette
from recommender.suggest.request import Request, product_use

SHOWN_LIMITS = 2
"""How many limits are shown, the tightest first."""
LEAST_PARTS = 0.01
"""A material for which limits leave less than this [parts per thousand] is not offered."""


def headroom_for(
    palette: Palette, request: Request, material: Material, rest: Sequence[Amount] = ()
) -> regulation.Headroom:
    """Return what limits leave for a material beside others in the concentrate."""
    return regulation.headroom(material, palette.catalogue, product_use(request), rest)


def most_parts(
    palette: Palette, request: Request, materials: Sequence[Material], rest: Sequence[Amount]
) -> npt.NDArray[np.float64]:
    """Return the parts per thousand that limits leave for each material, 1000 where none bounds it."""
    if request.dosage_percent is None:
        return np.full(len(materials), 1000.0)
    found = [headroom_for(palette, request, material, rest).parts for material in materials]
    return np.array([1000.0 if parts is None else parts for parts in found])


def reasons(
    request: Request,
    room: regulation.Headroom,
    parts: float | None,
    material: Material,
    known: Collection[str] = (),
) -> tuple[Reason, ...]:
    """Return which ratios a suggestion raises and which names it adds to the label; `parts` a first try.

    `known` are the names that stand on the label without it.
    """
    collected = []
    shares = {name: 100.0 * share for name, share in room.labels if name not in known}
    if shares:
        collected.append(
            Reason(
                "adds to the label", {"material": material.name, "names": shares}, "published", "eu-2023-1545"
            )
        )
    by_name = {found.name: found for found in reversed(room.raised)}  # the tightest limit of each substance
    tightest = sorted(by_name.values(), key=lambda found: found.percent / found.share)
    for found in tightest[:SHOWN_LIMITS]:
        figures: dict[str, object] = {
            "substance": found.name,
            "through": material.name if found.through else None,
            "limit_percent": found.percent,
            "category": request.category.upper(),
            "market": found.limit.market,
            "verified": found.limit.basis != "memory",
            "dosage": request.dosage_percent,
            "most_parts": None
            if request.dosage_percent is None
            else min(1000.0, found.most(request.dosage_percent)),
            "before": None,
            "after": None,
        }
        if request.dosage_percent is not None and parts is not None:
            figures["before"], figures["after"] = found.ratios(parts, request.dosage_percent)
        collected.append(Reason("counts against a limit", figures, found.limit.basis, found.limit.source))
    return tuple(collected)


def prohibition_reasons(other: Material, palette: Palette, request: Request) -> list[str]:
    """Return why rules keep a material from being offered, each with its source; empty where none does."""
    catalogue = palette.catalogue
    collected = []
    for limit in regulation.prohibitions(other, catalogue.limits, request.market):
        origin = catalogue.sources.get(limit.source, "from memory, unverified")
        entry = f", {limit.reference}" if limit.reference else ""
        note = f"; {limit.note}" if limit.note else ""
        collected.append(f"{other.name} is prohibited: {limit.name} ({origin}{entry}{note}).")
    if request.no_label_allergens and not collected:
        by_name = {allergen.name: allergen for allergen in catalogue.allergens}
        for name, share in regulation.listed(other, catalogue).items():
            rule = by_name[name]
            origin = f"{catalogue.sources.get(rule.source, rule.source)}, Annex III entry {rule.entry}"
            brings = f"brings {name} (up to {100 * share:.2g} % of it)" if share < 1.0 else f"is {name}"
            collected.append(f"{other.name} {brings}, which has to stand on the label ({origin}).")
    return collected


def labels_of(palette: Palette, amounts: Sequence[Amount]) -> set[str]:
    """Return the names that some materials bring to the label already."""
    return {name for amount in amounts for name in regulation.listed(amount.material, palette.catalogue)}
