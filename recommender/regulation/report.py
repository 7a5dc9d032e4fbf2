"""A formula in the finished product: substances, limits, label, and what of naturals is unknown."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from recommender.errors import BadValue
from recommender.evidence.catalogue import Catalogue
from recommender.evidence.markets import (
    ANY,
    authorities_of,
    cosmetics_only,
    decides,
    market_of,
    stands_beside,
    with_a_say,
)
from recommender.evidence.names import plain
from recommender.model import Amount, Category, Limit, Material, ProductStatus
from recommender.regulation.constituents import Certificates, Substance, substances, unnamed
from recommender.regulation.labels import LabelEntry, declared, required_by
from recommender.regulation.limits import (
    CONDITION,
    NO_LIMIT,
    NOT_FOUND,
    NOT_LOOKED_UP,
    NOTHING,
    PROHIBITED,
    RESTRICTED,
    ROUNDING,
    STATUSES,
    LimitUse,
    ProductUse,
    binding,
    checked_category,
    checked_day,
    checked_dosage,
    counted,
    covering,
    decision_of,
    in_force,
    rated,
    status,
    worst,
)
from recommender.regulation.prohibitions import prohibitions

LEAST_UNNAMED = 10.0
"""From this share on [%] a natural counts as only partly known."""
PHOTOTOXIC = "phototoxic oils together"
ANY_COSMETIC = Category("", "a cosmetic product", "leave-on")
"""The category where the tables name none."""


@dataclass(frozen=True, slots=True)
class UnknownContent:
    """A substance known to be in a natural, in an unknown amount.

    `decides` is whether it is prohibited or limited in the market, so that the amount has to be looked up.
    """

    natural: str
    substance: Material
    why: str
    decides: bool = False


@dataclass(frozen=True, slots=True)
class LaterChange:
    """An entry that decides in the market from a later day on, and what it will say of substances here.

    `percent` is its limit in the category, None for a prohibition or where it gives no figure; `counted` what
    counts against it [% of the product]; `above` whether that is not allowed from that day.
    """

    names: tuple[str, ...]
    limit: Limit
    percent: float | None
    counted: float
    above: bool


@dataclass(frozen=True, slots=True)
class SubstanceRow:
    """One substance in the finished product.

    `concentrate` and `percent` are % by mass of concentrate and product; `applied` the limits on it that
    decide, the lowest first; `beside` those that are only shown; `barred` the prohibitions that name it,
    whether they count here or not; `open_limits` what covers it without a figure for this category (of
    cosmetics law only where the product is a cosmetic); `conditions` what a certificate has to show, `shown`
    what one has shown. `ratio`
    and `highest` (dosage, %) belong to the lowest that decides. `looked_up_by` is cas, name or, where it
    could not be looked up, blank.
    """

    substance: Substance
    concentrate: float
    percent: float
    status: str
    applied: tuple[LimitUse, ...] = ()
    barred: tuple[Limit, ...] = ()
    open_limits: tuple[Limit, ...] = ()
    ratio: float | None = None
    highest: float | None = None
    beside: tuple[LimitUse, ...] = ()
    conditions: tuple[Limit, ...] = ()
    looked_up_by: str = "name"
    shown: tuple[Limit, ...] = ()


@dataclass(frozen=True)
class Report:
    """What a formula comes to in the finished product; `set_by` names what sets the highest dosage.

    `highest_verified` leaves limits out that settle nothing: from memory, superseded. `unnamed` maps naturals
    to the share that is not known [%]. `later` is what changes after the day `on`.
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
    on: str = ""
    later: tuple[LaterChange, ...] = ()

    @property
    def entries(self) -> list[Limit]:
        """The entries that say something of a substance of the formula, whether they decide or not."""
        found = [use.limit for row in self.rows for use in (*row.applied, *row.beside)]
        for row in self.rows:
            found += [*row.barred, *row.open_limits, *row.conditions, *row.shown]
        return found

    @property
    def decision(self) -> str:
        """What follows: stop, look up, or nothing found in this market."""
        return decision_of((row.status for row in self.rows), unknown=any(u.decides for u in self.unknown))

    @property
    def findings(self) -> bool:
        """Return whether there is anything that a person must look at."""
        return self.decision != NOTHING


def check(
    amounts: Sequence[Amount],
    catalogue: Catalogue,
    dosage_percent: float,
    category: str,
    market: str = ANY,
    certified: Certificates | None = None,
    on: str = "",
    shown: Mapping[str, Sequence[str]] | None = None,
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
    on : str, optional
        The day on which the product is placed on the market (yyyy-mm-dd); blank, entries of any date count.
    shown : mapping, optional
        Key of a material -> words of the conditions that a certificate shows of it.

    Raises
    ------
    BadValue

    References
    ----------
    finished % = dosage x sum(parts / total x dilution x content), all by mass: the industry Standards
    state limits in the finished product and count contributions from naturals.
    """
    market_of(market)
    use = ProductUse(checked_dosage(dosage_percent), checked_category(category), market, checked_day(on))
    kind = next(c for c in catalogue.categories if c.name == use.category)
    present = substances(amounts, catalogue, certified)
    by_certificate = shown or {}
    rows = [_row(s, present, catalogue, use, kind, shown=by_certificate.get(s.key, ())) for s in present]
    _check_shown(by_certificate, rows, catalogue)
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
        tuple(unknown_in(naturals, present, catalogue, use)),
        {name: share for name, share in shares.items() if share >= LEAST_UNNAMED},
        tuple(a.material.name for a in amounts if not a.material.cas_all),
        on=use.on,
        later=tuple(_later(present, catalogue, use)),
    )


def material_rows(
    material: Material, amounts: Sequence[Amount], catalogue: Catalogue, use: ProductUse
) -> tuple[list[SubstanceRow], list[UnknownContent]]:
    """Return the rows of a material and of what it brings among amounts, and what is in it unmeasured.

    Entries that are adopted and apply later count already, as they do for a suggested dose.
    """
    present = substances(amounts, catalogue)
    kind = next((c for c in catalogue.categories if c.name == use.category), ANY_COSMETIC)
    keys = {substance.key for substance in substances([Amount(material, 1.0)], catalogue)}
    rows = [
        _row(s, present, catalogue, use, kind, adopted=True, asked=material.slug)
        for s in present
        if s.key in keys
    ]
    return [row for row in rows if _worth_a_row(row)], unknown_in([material], present, catalogue, use)


def status_of(rows: Iterable[SubstanceRow], unknown: Iterable[UnknownContent] = ()) -> ProductStatus:
    """Return the most serious status of some rows, and what follows from them."""
    found = worst(row.status for row in rows)
    return ProductStatus(found, decision_of([found], unknown=any(one.decides for one in unknown)))


def looked_up_by(substance: Substance, catalogue: Catalogue) -> str:
    """Return how a substance was looked for in the published lists: cas, name, or blank where it was not.

    A natural of the tables without a number, and a constituent that has no row of its own, are looked for by
    name; a material that a person added has only its number.
    """
    own = substance.material
    if own is not None and own.cas_all:
        return "cas"
    by_name = own is None or (own.kind == "natural" and own.slug not in catalogue.own)
    return "name" if by_name else ""


def unknown_in(
    naturals: Sequence[Material], present: Sequence[Substance], catalogue: Catalogue, use: ProductUse
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
            if row is None or any(s.key == key and natural.name in s.through for s in present):
                continue
            own = catalogue.materials[row]
            alone = Substance(own.slug, own.name, own, 0.0, 0.0, {})
            rules = [
                r
                for r in covering(alone, catalogue.limits_by_key)
                if r.kind in ("prohibition", "restriction")
                and natural.slug not in r.excepted
                and use.category not in r.unlimited
                and in_force(r, use.on)
            ]
            bound = [r for r in rules if decides(r.market, use.market)]
            strict = bound or rules
            why = "limited" if strict else "listed" if covering(alone, catalogue.allergens_by_key) else ""
            if any(r.kind == "prohibition" for r in strict):
                why = "prohibited"
            if why:
                found.append(UnknownContent(natural.name, own, why, bool(bound)))
    return found


def _row(
    substance: Substance,
    present: Sequence[Substance],
    catalogue: Catalogue,
    use: ProductUse,
    kind: Category,
    *,
    adopted: bool = False,
    asked: str = "",
    shown: Sequence[str] = (),
) -> SubstanceRow:
    """Return one substance against the entries that cover it.

    `adopted` has entries of a later date count too. `asked` is the key of a material that alone counts as put
    in as such; `shown` are words of the conditions that a certificate shows.
    """
    dosage_percent, cosmetic = use.dosage_percent or 0.0, kind.use != "not a cosmetic"
    added = substance.added > 0 and asked in ("", substance.key)
    known = covering(substance, catalogue.limits_by_key)
    covered = [x for x in known if added or x.kind != "prohibition" or not _as_in_naturals(substance, x)]
    current = binding(covered, use)
    if not adopted:
        current = [x for x in current if in_force(x, use.on)]
    aside = [x for x in covered if stands_beside(x.market, use.market) and in_force(x, use.on)]
    applied, beside = (rated(found, present, use.category) for found in (current, aside))
    figured = {name for a in (*applied, *beside) for name in authorities_of(a.limit.market)}
    rules = [x for x in (*current, *aside) if cosmetic or not cosmetics_only(x.market)]
    open_limits = [
        x
        for x in rules
        if x.kind == "restriction"
        and use.category not in (*x.percent, *x.unlimited)
        and not set(with_a_say(x.market, use.market)) <= figured
    ]
    asks = [x for x in rules if added and (x.kind == "specification" or x.condition)]
    met = [x for x in asks if any(words in plain(condition_of(x)) for words in shown)]
    conditions = [x for x in asks if x not in met]
    own = substance.material
    barred = prohibitions(own, covered) if own else ()
    statuses = [status(applied, dosage_percent)] if applied else []
    if counts := [x for x in current if x.kind == "prohibition"]:
        # what only a natural brings is not put in, but how much of it may be there has to be looked up
        bars = added or not all(set(with_a_say(x.market, use.market)) <= figured for x in counts)
        statuses += [PROHIBITED if added else RESTRICTED] if bars else []
    statuses += [RESTRICTED for x in open_limits if decides(x.market, use.market)]
    statuses += [CONDITION for x in conditions if decides(x.market, use.market)]
    by = looked_up_by(substance, catalogue)
    if not statuses:
        listed = covering(substance, catalogue.allergens_by_key)
        entry = any(decides(rule.market, use.market) for rule in known) or any(
            decides(required_by(rule), use.market) for rule in listed
        )
        statuses = [NO_LIMIT if entry else NOT_FOUND if by else NOT_LOOKED_UP]
    return SubstanceRow(
        substance,
        100.0 * substance.fraction,
        dosage_percent * substance.fraction,
        worst(statuses),
        tuple(applied),
        barred,
        tuple(open_limits),
        applied[0].ratio(dosage_percent) if applied else None,
        applied[0].highest if applied else None,
        tuple(beside),
        tuple(conditions),
        by,
        tuple(met),
    )


def _as_in_naturals(substance: Substance, limit: Limit) -> bool:
    """Return whether an entry allows a substance as all that bring it here contain it."""
    return bool(substance.brought_by) and substance.brought_by <= set(limit.excepted)


def condition_of(limit: Limit) -> str:
    """Return the condition of an entry in words."""
    return limit.condition or limit.note or limit.name


def _check_shown(
    shown: Mapping[str, Sequence[str]], rows: Iterable[SubstanceRow], catalogue: Catalogue
) -> None:
    """Raise `BadValue` where a certificate shows what no entry asks of a material in the formula."""
    by_key = {row.substance.key: row for row in rows}
    for slug, texts in shown.items():
        row, name = by_key.get(slug), catalogue.by_slug(slug).name
        asked = [condition_of(x) for x in (*row.conditions, *row.shown)] if row else []
        for words in texts:
            if not any(words in plain(condition) for condition in asked):
                wanted = f"it has: {'; '.join(asked)}" if asked else "no condition of it has to be shown here"
                raise BadValue("shown", f"{name}: {words}", wanted)


def _worth_a_row(row: SubstanceRow) -> bool:
    """Return whether a substance gets a row: a natural only if a rule names it or none of it is known."""
    own = row.substance.material
    if own is None or own.kind != "natural" or not own.contents:
        return True
    asked = row.conditions or row.shown
    return bool(row.applied or row.barred or row.open_limits or row.beside or asked)


def _later(present: Sequence[Substance], catalogue: Catalogue, use: ProductUse) -> list[LaterChange]:
    """Return what entries that apply from a later day will say of what is present, the earliest first."""
    if not use.on:
        return []
    found: dict[int, LaterChange] = {}
    for substance in present:
        for limit in covering(substance, catalogue.limits_by_key):
            if limit.applies_from <= use.on or not decides(limit.market, use.market) or id(limit) in found:
                continue
            together = counted(limit, present)
            dosage_percent = use.dosage_percent or 0.0
            amount = dosage_percent * sum(s.fraction for s in together)
            names, percent = tuple(s.name for s in together), limit.percent.get(use.category)
            if limit.kind == "prohibition":
                above = any(s.added > 0 for s in together)
            elif limit.kind != "restriction" or use.category in limit.unlimited:
                continue
            else:
                above = percent is not None and amount > percent * ROUNDING
            now = [
                x.percent.get(use.category)
                for x in covering(substance, catalogue.limits_by_key)
                if x.kind == limit.kind
                and in_force(x, use.on)
                and set(authorities_of(limit.market)) <= set(authorities_of(x.market))
            ]
            if percent is None or percent not in now:
                found[id(limit)] = LaterChange(names, limit, percent, amount, above)
    return sorted(found.values(), key=lambda change: (change.limit.applies_from, change.names))


def _phototoxic(rows: Iterable[SubstanceRow], dosage_percent: float) -> SubstanceRow | None:
    """Return the sum over phototoxic oils, None where fewer than two count; beside where their limits are."""
    found = list(rows)
    for stands_aside in (False, True):
        oils = {
            row.substance.key: (row, max(group, key=lambda a: a.ratio(dosage_percent)))
            for row in found
            if (group := [a for a in (row.beside if stands_aside else row.applied) if a.limit.sum_group])
        }
        if len(oils) < 2:
            continue
        fraction = sum(row.substance.fraction for row, _ in oils.values())
        uses = sum(a.concentrate / a.percent for _, a in oils.values())
        # the sum of fractions is itself a limit: 1, from memory; as if one oil had the mean of the limits
        names = tuple(row.substance.name for row, _ in oils.values())
        rule = Limit(
            PHOTOTOXIC, (), (), "restriction", "standards", "memory", "", "sum of the fractions at most 1"
        )
        applied = LimitUse(rule, 100.0 * fraction / uses, 100.0 * fraction, len(names))
        brought = {row.substance.name: row.substance.fraction for row, _ in oils.values()}
        whole = Substance(PHOTOTOXIC, PHOTOTOXIC, None, fraction, fraction, brought)
        amounts = 100.0 * fraction, dosage_percent * fraction
        if stands_aside:
            return SubstanceRow(whole, *amounts, NO_LIMIT, beside=(applied,))
        return SubstanceRow(
            whole,
            *amounts,
            status([applied], dosage_percent),
            (applied,),
            ratio=applied.ratio(dosage_percent),
            highest=applied.highest,
        )
    return None


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
