"""What a suggestion does to the finished product: which limits bound it, what it adds to the label."""

from collections.abc import Collection, Sequence

import numpy as np
import numpy.typing as npt

from recommender import regulation
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Amount, Material
from recommender.palette import Palette
from recommender.reasons import LabelAddition, LimitContribution
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


def fitting(
    palette: Palette, request: Request, rows: Sequence[int], rest: Sequence[Amount]
) -> tuple[list[int], list[float]]:
    """Return the rows for which limits leave enough to be worth offering, and the parts that they leave."""
    parts = most_parts(palette, request, palette.materials(rows), rest)
    found = [(row, float(most)) for row, most in zip(rows, parts, strict=True) if most >= LEAST_PARTS]
    return [row for row, _ in found], [most for _, most in found]


def no_room(request: Request, table: FormulaDrydown, material: Material) -> list[str]:
    """Return that limits leave too little of a material in a formula, empty where they leave enough."""
    row = table.palette.catalogue.index[material.slug]
    if fitting(table.palette, request, [row], table.concentrate)[0]:
        return []
    return [f"Limits leave no room for {material.name} in {table.formula.name} at this dosage."]


def reasons(
    request: Request,
    room: regulation.Headroom,
    parts: float | None,
    material: Material,
    known: Collection[str] = (),
) -> tuple[LabelAddition | LimitContribution, ...]:
    """Return which ratios a suggestion raises and which names it adds to the label; `parts` a first try.

    `known` are the names that are on the label without it.
    """
    collected: list[LabelAddition | LimitContribution] = []
    shares = {name: 100.0 * share for name, share in room.labels if name not in known}
    if shares:
        collected.append(LabelAddition(material.name, shares, basis="published", source="eu-2023-1545"))
    by_name = {found.name: found for found in reversed(room.raised)}  # the tightest limit of each substance
    tightest = sorted(by_name.values(), key=lambda found: found.percent / found.share)
    collected += [_contribution(request, found, parts, material) for found in tightest[:SHOWN_LIMITS]]
    return tuple(collected)


def _contribution(
    request: Request, found: regulation.LimitIncrease, parts: float | None, material: Material
) -> LimitContribution:
    dosage, before, after = request.dosage_percent, None, None
    if dosage is not None and parts is not None:
        before, after = found.ratios(parts, dosage)
    return LimitContribution(
        substance=found.name,
        through=material.name if found.through else None,
        limit_percent=found.percent,
        category=request.category.upper(),
        market=found.limit.market,
        verified=found.limit.basis != "memory",
        dosage=dosage,
        most_parts=None if dosage is None else min(1000.0, regulation.rounded_down(found.most(dosage))),
        before=before,
        after=after,
        basis=found.limit.basis,
        source=found.limit.source,
    )


def labels_of(palette: Palette, amounts: Sequence[Amount]) -> set[str]:
    """Return the names that some materials bring to the label already."""
    return {name for amount in amounts for name in regulation.listed(amount.material, palette.catalogue)}
