"""A formula in the finished product: substances, limits, label, and what of naturals is unknown."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from recommender.evidence.catalogue import Catalogue
from recommender.evidence.markets import ANY, AUTHORITIES, market_of
from recommender.model import Amount, Category, Limit, Material
from recommender.regulation.constituents import Certificates, Substance, substances, unnamed
from recommender.regulation.labels import LabelEntry, declared
from recommender.regulation.limits import (
    FINDINGS,
    PROHIBITED,
    STATUSES,
    LimitUse,
    ProductUse,
    checked_category,
    checked_dosage,
    covering,
    rated,
    status,
)
from recommender.regulation.prohibitions import prohibitions


@dataclass(frozen=True, slots=True)
class UnknownContent:
    """A substance known to be in a natural, in an unknown amount."""

    natural: str
    substance: Material
    why: str


def unknown_in(
    naturals: Sequence[Material], present: Sequence[Substance], catalogue: Catalogue
) -> list[UnknownContent]:
    """Return limited, prohibited or listed substances known to be in a natural in an unknown amount."""
    found = []
    for natural in naturals:
        known = {content.name for content in natural.contents if content.low is not None}
        named = {content.name for content in natural.contents} | {
            r.start for r in catalogue.relations if r.kind == "constituent-of" and r.end == natural.slug
        }
        for key in sorted(named - known):
            row = catalogue.index.get(key)
            if row is None:
                continue
            own = catalogue.materials[row]
            alone = Substance(own.slug, own.name, own, 0.0, 0.0, {})
            rules = [r for r in covering(alone, catalogue.limits_by_key) if r.kind != "none recalled"]
            why = "limited" if rules else "listed" if covering(alone, catalogue.allergens_by_key) else ""
            if any(r.kind == "prohibition" for r in rules):
                why = "prohibited"
            if why and not any(s.key == key and natural.name in s.through for s in present):
                found.append(UnknownContent(natural.name, own, why))
    return found


LEAST_UNNAMED = 10.0
"""From this share on [%] a natural counts as only partly known."""
KNOWN_UP_TO = "the 51st Amendment (30 June 2023)"
"""The last amendment of the industry Standards that the tables cover."""
PHOTOTOXIC = "phototoxic oils together"
NEEDS_LOOKING_UP = ("restriction", "specification")


@dataclass(frozen=True, slots=True)
class SubstanceRow:
    """One substance in the finished product.

    `concentrate` and `percent` are % by mass of concentrate and product; `applied` the limits on it, the
    lowest first; `barred` the prohibitions that name it, whether they count here or not; `open_limits` what
    covers it without a figure for this category (of European law only where the product is a cosmetic).
    `ratio` and `highest` (dosage, %) belong to the lowest.
    """

    substance: Substance
    concentrate: float
    percent: float
    status: str
    applied: tuple[LimitUse, ...]
    barred: tuple[Limit, ...]
    open_limits: tuple[Limit, ...]
    ratio: float | None = None
    highest: float | None = None


@dataclass(frozen=True)
class Report:
    """What a formula comes to in the finished product; `set_by` names what sets the highest dosage.

    `highest_verified` leaves limits from memory out. `phototoxic` is the sum of the fractions of the limits
    of phototoxic oils where there are several. `unnamed` maps naturals to the share that is not known [%].
    """

    dosage_percent: float
    category: Category
    market: str
    rows: tuple[SubstanceRow, ...]
    labels: tuple[LabelEntry, ...]
    highest: float | None
    set_by: str | None
    highest_verified: float | None
    verified_set_by: str | None
    unknown: tuple[UnknownContent, ...]
    unnamed: dict[str, float]
    numberless: tuple[str, ...]
    formula: str = ""
    notes: tuple[str, ...] = ()

    @property
    def entries(self) -> list[Limit]:
        """The limits that apply and the prohibitions that name a substance of the formula."""
        applied = [use.limit for row in self.rows for use in row.applied]
        return applied + [limit for row in self.rows for limit in row.barred]

    @property
    def findings(self) -> bool:
        """Return whether a row is prohibited, above a limit, unverified, or lacks a figure or a condition."""
        return any(row.status in FINDINGS for row in self.rows)


def check(
    amounts: Sequence[Amount],
    catalogue: Catalogue,
    dosage_percent: float,
    category: str,
    market: str = ANY,
    certified: Certificates | None = None,
) -> Report:
    """Return a concentrate in the finished product: % of each substance, limits, highest dosage, label.

    Parameters
    ----------
    amounts : sequence of Amount
        Neat materials as mass fractions of the concentrate, solvents among them.
    dosage_percent : float
        The concentrate in the finished product [% by mass].
    category : str
        Category of the industry Standards, such as "4" or "5A".
    market : str
        A key of `evidence.markets.MARKETS`.
    certified : mapping, optional
        Shares in naturals by certificate, in place of the tables'.

    Raises
    ------
    BadValue

    References
    ----------
    finished % = dosage x sum(parts / total x dilution x content), all by mass: the industry Standards
    state limits in the finished product and count contributions from naturals.
    """
    use = ProductUse(checked_dosage(dosage_percent), checked_category(category), market)
    kind = next(c for c in catalogue.categories if c.name == use.category)
    present = substances(amounts, catalogue, certified)
    rows = [_row(s, present, catalogue, use, cosmetic=kind.use != "not a cosmetic") for s in present]
    rows = [row for row in rows if _worth_a_row(row)]
    if (sums := _phototoxic(rows, dosage_percent)) is not None:
        rows.append(sums)
    rows.sort(key=lambda r: (STATUSES.index(r.status), -(r.ratio or 0.0), not r.open_limits, -r.percent))
    bounds = [(a, r) for r in rows for a in r.applied]
    barred = [r for r in rows if r.status == PROHIBITED]
    highest, set_by = _least(bounds, barred)
    highest_verified, verified_set_by = _least([(a, r) for a, r in bounds if a.verified], barred)
    naturals = [a.material for a in amounts if a.material.kind == "natural"]
    shares = {m.name: unnamed(m, certified or {}) for m in naturals}
    return Report(
        dosage_percent,
        kind,
        market,
        tuple(rows),
        tuple(declared(present, catalogue, dosage_percent, kind.use)),
        highest,
        set_by,
        highest_verified,
        verified_set_by,
        tuple(unknown_in(naturals, present, catalogue)),
        {name: share for name, share in shares.items() if share >= LEAST_UNNAMED},
        tuple(a.material.name for a in amounts if not a.material.cas_all),
    )


def _row(
    substance: Substance,
    present: Sequence[Substance],
    catalogue: Catalogue,
    use: ProductUse,
    *,
    cosmetic: bool,
) -> SubstanceRow:
    dosage_percent = use.dosage_percent or 0.0
    applied = rated(substance, present, catalogue.limits_by_key, use)
    own = substance.material
    barred = prohibitions(own, catalogue.limits) if own else ()
    counts = prohibitions(own, catalogue.limits, use.market) if own else ()
    figured = {a.limit.market for a in applied}
    open_limits = tuple(
        limit
        for limit in covering(substance, catalogue.limits_by_key)
        if limit.kind in NEEDS_LOOKING_UP
        and use.category not in (*limit.percent, *limit.unlimited)
        and limit.market not in figured
        and limit.market in market_of(use.market).limits
        and (cosmetic or not AUTHORITIES[limit.market].cosmetics_only)
    )
    verdict = PROHIBITED if counts and substance.added > 0 else status(applied, dosage_percent, open_limits)
    return SubstanceRow(
        substance,
        100.0 * substance.fraction,
        dosage_percent * substance.fraction,
        verdict,
        tuple(applied),
        barred,
        open_limits,
        applied[0].ratio(dosage_percent) if applied else None,
        applied[0].highest if applied else None,
    )


def _worth_a_row(row: SubstanceRow) -> bool:
    """Return whether a substance gets a row: a natural only if a rule names it or none of it is known."""
    own = row.substance.material
    if own is None or own.kind != "natural" or not own.contents:
        return True
    return bool(row.applied or row.barred or row.open_limits)


def _phototoxic(rows: Iterable[SubstanceRow], dosage_percent: float) -> SubstanceRow | None:
    """Return the sum over phototoxic oils, None where fewer than two count."""
    oils = {
        row.substance.key: (row, max(group, key=lambda a: a.ratio(dosage_percent)))
        for row in rows
        if (group := [a for a in row.applied if a.limit.sum_group])
    }
    if len(oils) < 2:
        return None
    fraction = sum(row.substance.fraction for row, _ in oils.values())
    uses = sum(a.concentrate / a.percent for _, a in oils.values())
    # the sum of fractions is itself a limit: 1, from memory; as if one oil had the mean of the limits
    names = tuple(row.substance.name for row, _ in oils.values())
    rule = Limit(
        PHOTOTOXIC, (), (), "restriction", "standards", "memory", "", "sum of the fractions at most 1"
    )
    applied = LimitUse(rule, 100.0 * fraction / uses, 100.0 * fraction, len(names))
    whole = Substance(
        PHOTOTOXIC,
        PHOTOTOXIC,
        None,
        fraction,
        fraction,
        {row.substance.name: row.substance.fraction for row, _ in oils.values()},
    )
    return SubstanceRow(
        whole,
        100.0 * fraction,
        dosage_percent * fraction,
        status([applied], dosage_percent),
        (applied,),
        (),
        (),
        applied.ratio(dosage_percent),
        applied.highest,
    )


def _least(
    bounds: Sequence[tuple[LimitUse, SubstanceRow]], barred: Sequence[SubstanceRow]
) -> tuple[float | None, str | None]:
    """Return the smallest of the highest dosages, and what sets it; 0 where something is prohibited."""
    if barred:
        return 0.0, barred[0].substance.name
    if not bounds:
        return None, None
    applied, row = min(bounds, key=lambda pair: pair[0].highest)
    return applied.highest, row.substance.name
