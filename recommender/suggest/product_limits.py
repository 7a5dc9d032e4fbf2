"""What a suggestion does to the finished product: the limits that bound it, the label, its status."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from recommender import regulation
from recommender.evidence.markets import decides, names_of
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import PRODUCTS, Amount, Category, Findings, Material, Suggestion
from recommender.palette import Palette
from recommender.reasons import LabelAddition, LimitContribution
from recommender.suggest.request import Request, category_of, product_use

SHOWN_LIMITS = 2
"""How many limits are shown, the tightest first."""
LEAST_PARTS = 0.01
"""A material for which limits leave less than this [parts per thousand] is not offered."""


def headroom_for(
    palette: Palette, request: Request, material: Material, table: FormulaDrydown | None = None
) -> regulation.Headroom:
    """Return what limits leave for a material by itself, or beside what is in a formula."""
    use = product_use(request)
    load = regulation.FormulaLoad((), palette.catalogue, use) if table is None else table.load(use)
    return load.headroom(material)


def most_parts(
    request: Request, materials: Sequence[Material], table: FormulaDrydown
) -> npt.NDArray[np.float64]:
    """Return the parts per thousand that limits leave for each material, 1000 where none bounds it."""
    if request.dosage_percent is None:
        return np.full(len(materials), 1000.0)
    load = table.load(product_use(request))
    return np.array([load.parts(material) for material in materials])


def fitting(request: Request, rows: Sequence[int], table: FormulaDrydown) -> tuple[list[int], list[float]]:
    """Return the rows for which limits leave enough to be worth offering, and the parts that they leave."""
    parts = most_parts(request, table.palette.materials(rows), table)
    found = [(row, float(most)) for row, most in zip(rows, parts, strict=True) if most >= LEAST_PARTS]
    return [row for row, _ in found], [most for _, most in found]


def no_room(request: Request, table: FormulaDrydown, material: Material) -> list[str]:
    """Return that limits leave too little of a material in a formula, empty where they leave enough."""
    row = table.palette.catalogue.index[material.slug]
    if fitting(request, [row], table)[0]:
        return []
    return [f"Limits leave no room for {material.name} in {table.formula.name} at this dosage."]


def reasons(
    palette: Palette,
    request: Request,
    room: regulation.Headroom,
    parts: float | None,
    material: Material,
    known: Collection[str] = (),
) -> tuple[LabelAddition | LimitContribution, ...]:
    """Return which ratios a suggestion raises and which names it adds to the label; `parts` a first try.

    `known` are the names on the label of what it replaces, beside which only new ones are named. The label of
    what is no cosmetic follows another law and is left out.
    """
    collected: list[LabelAddition | LimitContribution] = []
    shares = {name: 100.0 * share for name, share in room.labels if name not in known}
    if shares and _cosmetic(palette, request):
        collected.append(
            LabelAddition(material.name, shares, bool(known), basis="published", source="eu-2023-1545")
        )
    by_name = {found.name: found for found in reversed(room.raised)}  # the tightest limit of each substance
    tightest = sorted(by_name.values(), key=lambda found: found.percent / found.share)
    collected += [_contribution(request, found, parts, material) for found in tightest[:SHOWN_LIMITS]]
    return tuple(collected)


def _cosmetic(palette: Palette, request: Request) -> bool:
    category = _category(palette, request)
    return category is None or category.use != "not a cosmetic"


def _category(palette: Palette, request: Request) -> Category | None:
    name = category_of(request)
    return next((c for c in palette.catalogue.categories if c.name == name), None)


def category_notes(request: Request, palette: Palette) -> list[str]:
    """Return whose limits count, where the product decides the category; empty where it does not."""
    if request.product is None or request.category is not None:
        return []
    category = _category(palette, request)
    words = f": {category.words}" if category else ""
    return [f"Limits for {PRODUCTS[request.product]} are those of category {category_of(request)}{words}."]


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
        category=category_of(request),
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


def with_law(found: Findings, request: Request, palette: Palette, rest: Sequence[Amount] = ()) -> Findings:
    """Return findings with the status of each suggestion in the finished product, and what to look up.

    `rest` is what the suggestions are added to, as mass fractions of the concentrate without them. A status
    is that at the first dose; without a dosage only what of an own material is to be looked up is mentioned.
    """
    use = product_use(request)
    suggestions = [_with_law(one, use, palette, rest) for one in found.suggestions]
    notes = (*category_notes(request, palette), *found.notes)
    return replace(found, suggestions=tuple(suggestions), notes=notes)


def _with_law(
    found: Suggestion, use: regulation.ProductUse, palette: Palette, rest: Sequence[Amount]
) -> Suggestion:
    materials = [material for material, _ in found.members] or [found.material]
    if use.dosage_percent is None:
        own = [material for material in materials if material.slug in palette.catalogue.own]
        alone = [regulation.material_rows(m, [Amount(m, 1.0)], palette.catalogue, use) for m in own]
        return _cautioned(found, [text for one in alone for text in _to_look_up(*one, use)])
    doses = [] if found.dose is None else [one.first_try for one in found.dose.members or (found.dose,)]
    there = [Amount(m, parts / 1000.0) for m, parts in zip(materials, doses, strict=bool(doses))]
    if found.instead_of is not None:
        rest = without(found.instead_of, rest)
    left = 1.0 - sum(amount.mass_fraction for amount in there)
    amounts = [*(Amount(a.material, a.mass_fraction * left) for a in rest), *there]
    if not there:
        amounts = [Amount(material, 1.0) for material in materials]
    rows, unknown = [], []
    for material in materials:
        of_one, unmeasured = regulation.material_rows(material, amounts, palette.catalogue, use)
        rows += of_one
        unknown += unmeasured
    law = regulation.status_of(rows, unknown) if there else None
    return replace(_cautioned(found, _to_look_up(rows, unknown, use)), law=law)


def without(material: Material, amounts: Sequence[Amount]) -> list[Amount]:
    """Return some amounts without a material, as mass fractions of the rest."""
    left = [amount for amount in amounts if amount.material.slug != material.slug]
    total = sum(amount.mass_fraction for amount in left)
    return [Amount(a.material, a.mass_fraction / total) for a in left] if total > 0 else []


def _cautioned(found: Suggestion, cautions: Iterable[str]) -> Suggestion:
    return replace(found, cautions=tuple(dict.fromkeys((*found.cautions, *cautions))))


def _to_look_up(
    rows: Iterable[regulation.SubstanceRow],
    unknown: Iterable[regulation.UnknownContent],
    use: regulation.ProductUse,
) -> list[str]:
    """Return what of a material nobody looked up, and which figures, conditions and amounts are missing."""
    found, figures, conditions = [], [], []
    for row in rows:
        name = row.substance.name
        if row.status == regulation.NOT_LOOKED_UP:
            found.append(f"{name} is not looked up: your material has no CAS number on record.")
        superseded = [a.limit for a in row.applied if a.limit.superseded_by]
        for limit in (*row.open_limits, *superseded):
            if decides(limit.market, use.market):
                figures.append(f"{name} ({names_of(limit.market, use.market)})")
        for limit in row.conditions:
            if decides(limit.market, use.market):
                asks = regulation.condition_of(limit)
                conditions.append(f"{name}: {asks} ({names_of(limit.market, use.market)})")
    if figures:
        listed = ", ".join(dict.fromkeys(figures))
        found.append(f"Restricted, figure for category {use.category} to be looked up: {listed}.")
    if conditions:
        found.append(f"Condition to be shown by a certificate: {'; '.join(dict.fromkeys(conditions))}.")
    if amounts := [f"{one.substance.name} in {one.natural}" for one in unknown if one.decides]:
        found.append(f"Prohibited or limited, amount to be looked up: {', '.join(amounts)}.")
    return found
