"""The report on a formula in the finished product as plain data."""

from collections.abc import Mapping
from typing import Any

from recommender.evidence.catalogue import Catalogue
from recommender.evidence.markets import AUTHORITIES, decides, market_of, names_of
from recommender.model import Limit
from recommender.output import limit_sentences
from recommender.output.wording import SIGNS_OFF, sixth
from recommender.regulation import ALL_FROM, NEW_FROM, LimitUse, Report, SubstanceRow, condition_of

COLUMNS = (
    *("name", "cas", "percent_in_product", "percent_in_concentrate", "status", "limit_percent"),
    *("use_ratio", "highest_dosage", "basis", "source", "through", "note"),
)


def data(report: Report, catalogue: Catalogue) -> dict[str, Any]:
    """Return a report as plain data with the keys of the published contract."""
    rows = [_row(row, report) for row in report.rows]
    entries = ("limits", "prohibited_by", "restricted_without_figure", "conditions")
    keys = {limit["source"] for row in rows for entry in entries for limit in row[entry]}
    keys |= {found.allergen.source for found in report.labels}
    return {
        "formula": report.formula,
        "dosage": report.dosage_percent,
        "category": report.category.name,
        "category_words": report.category.words,
        "use": report.category.use,
        "market": report.market,
        "on": report.on or None,
        "decision": report.decision,
        "looked_up": looked_up(report.market),
        "rows": rows,
        "labels": [
            {
                "name": found.allergen.name,
                "cas": found.allergen.cas[0] if found.allergen.cas else None,
                "cas_all": list(found.allergen.cas),
                "percent_in_product": sixth(found.percent),
                "through": list(found.through),
                "list": found.allergen.added,
                "new_products_from": NEW_FROM if found.allergen.added == "2023" else None,
                "all_products_from": ALL_FROM if found.allergen.added == "2023" else None,
                "basis": found.allergen.basis,
                "source": found.allergen.source or None,
            }
            for found in report.labels
            if found.named
        ],
        "labels_below": [found.allergen.name for found in report.labels if not found.named],
        "highest_dosage": sixth(report.highest),
        "set_by": report.set_by,
        "highest_dosage_held": sixth(report.highest_verified),
        "held_set_by": report.verified_set_by,
        "unknown": [
            {"natural": u.natural, "name": u.substance.name, "cas": u.substance.cas or None, "why": u.why}
            | {"decides": u.decides}
            for u in report.unknown
        ],
        "partly_known": [
            {"name": natural, "unknown_percent": round(share)} for natural, share in report.unnamed.items()
        ],
        "without_cas": list(report.numberless),
        "figures_from": sorted({limit.date for limit in report.entries if limit.date}),
        "later": [
            {
                "from": change.limit.applies_from,
                "names": list(change.names),
                "kind": change.limit.kind,
                "market": change.limit.market,
                "reference": change.limit.reference or None,
                "percent": change.percent,
                "counted_percent": sixth(change.counted),
                "above": change.above,
            }
            for change in report.later
        ],
        "sources": {key: catalogue.sources[key] for key in sorted(keys & catalogue.sources.keys())},
        "notes": [*report.notes, *limit_sentences.remarks(report), SIGNS_OFF],
    }


def looked_up(market: str) -> list[dict[str, str]]:
    """Return the lists in which every substance was looked for in a market, and their state."""
    return [
        {"market": name, "where": AUTHORITIES[name].lists, "as_of": AUTHORITIES[name].as_of}
        for name in market_of(market).decides
    ]


def _row(row: SubstanceRow, report: Report) -> dict[str, Any]:
    own, substance, dosage_percent = row.substance.material, row.substance, report.dosage_percent
    return {
        "name": substance.name,
        "cas": own.cas or None if own else None,
        "cas_all": list(own.cas_all) if own else [],
        "percent_in_product": sixth(row.percent),
        "percent_in_concentrate": sixth(row.concentrate),
        "at_least": substance.least,
        "status": row.status,
        "limits": [
            *(_limit(applied, dosage_percent, decides=True) for applied in row.applied),
            *(_limit(applied, dosage_percent, decides=False) for applied in row.beside),
        ],
        "use_ratio": sixth(row.ratio),
        "highest_dosage": sixth(row.highest),
        "added_percent": sixth(dosage_percent * substance.added),
        "through": [
            {"name": name, "percent_in_product": sixth(dosage_percent * fraction)}
            for name, fraction in substance.through.items()
        ],
        "share_basis": sorted(substance.bases),
        "prohibited_by": [_origin(limit, report.market) for limit in row.barred],
        "restricted_without_figure": [_origin(limit, report.market) for limit in row.open_limits],
        "conditions": [
            _origin(limit, report.market) | {"condition": condition_of(limit), "shown": limit in row.shown}
            for limit in (*row.conditions, *row.shown)
        ],
        "looked_up_by": row.looked_up_by or None,
    }


def _limit(applied: LimitUse, dosage_percent: float, *, decides: bool) -> dict[str, Any]:
    limit = applied.limit
    return {
        "percent": applied.percent,
        "basis": limit.basis,
        "source": limit.source or None,
        "market": limit.market,
        "reference": limit.reference or None,
        "date": limit.date or None,
        "applies_from": limit.applies_from or None,
        "counted_percent": sixth(dosage_percent / 100.0 * applied.concentrate),
        "use_ratio": sixth(applied.ratio(dosage_percent)),
        "decides": decides,
        "applies_until": limit.applies_until or None,
        "superseded_by": limit.superseded_by or None,
    }


def _origin(limit: Limit, market: str) -> dict[str, Any]:
    return {
        "name": limit.name,
        "kind": limit.kind,
        "market": limit.market,
        "basis": limit.basis,
        "source": limit.source or None,
        "reference": limit.reference or None,
        "date": limit.date or None,
        "applies_from": limit.applies_from or None,
        "note": limit.note or None,
        "decides": decides(limit.market, market),
    }


def lowest(row: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return the lowest limit of a row that decides, empty where none does."""
    return next((limit for limit in row["limits"] if limit["decides"]), {})


def flat(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row of the report with single values only; its limit is the lowest that decides."""
    least = lowest(row)
    remarks = [f"prohibited: {_by(x)}" for x in row["prohibited_by"]]
    remarks += [f"without a figure here: {_by(x)}" for x in row["restricted_without_figure"]]
    remarks += [
        f"condition {'shown' if x['shown'] else 'to be shown'}: {x['condition']}: {_by(x)}"
        for x in row["conditions"]
    ]
    remarks += [f"shown beside: {_by(x)}, {x['percent']:g} %" for x in row["limits"] if not x["decides"]]
    if least.get("superseded_by"):
        remarks.append(f"the figure is superseded by amendment {least['superseded_by']}")
    if least.get("applies_from"):
        remarks.append(f"the limit applies from {least['applies_from']}")
    return {
        **row,
        "limit_percent": least.get("percent"),
        "basis": least.get("basis"),
        "source": least.get("source"),
        "through": [part["name"] for part in row["through"]],
        "note": [text.strip() for text in remarks],
    }


def _by(entry: Mapping[str, Any]) -> str:
    return f"{names_of(entry['market'])} {entry['reference'] or ''}".strip()
