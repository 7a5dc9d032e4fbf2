"""The report on a formula in the finished product as plain data."""

from collections.abc import Mapping
from typing import Any

from recommender.evidence.catalogue import Catalogue
from recommender.evidence.markets import AUTHORITIES
from recommender.model import Limit
from recommender.output.wording import SIGNS_OFF
from recommender.regulation import ALL_FROM, NEW_FROM, Report, SubstanceRow

COLUMNS = (
    *("name", "cas", "percent_in_product", "percent_in_concentrate", "status", "limit_percent"),
    *("use_ratio", "highest_dosage", "basis", "source", "through", "note"),
)


def data(report: Report, catalogue: Catalogue) -> dict[str, Any]:
    """Return a report as plain data with the keys of the published contract."""
    rows = [_row(row, report.dosage_percent) for row in report.rows]
    entries = ("limits", "prohibited_by", "restricted_without_figure")
    keys = {limit["source"] for row in rows for entry in entries for limit in row[entry]}
    keys |= {found.allergen.source for found in report.labels}
    return {
        "formula": report.formula,
        "dosage": report.dosage_percent,
        "category": report.category.name,
        "category_words": report.category.words,
        "use": report.category.use,
        "market": report.market,
        "rows": rows,
        "labels": [
            {
                "name": found.allergen.name,
                "cas": list(found.allergen.cas),
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
            for u in report.unknown
        ],
        "partly_known": [
            {"name": natural, "unknown_percent": round(share)} for natural, share in report.unnamed.items()
        ],
        "without_cas": list(report.numberless),
        "figures_from": sorted({limit.date for limit in report.entries if limit.date}),
        "sources": {key: catalogue.sources[key] for key in sorted(filter(None, keys))},
        "notes": [*report.notes, SIGNS_OFF],
    }


def sixth(value: float | None) -> float | None:
    """Return a number with six significant digits."""
    return None if value is None else float(f"{value:.6g}")


def _row(row: SubstanceRow, dosage_percent: float) -> dict[str, Any]:
    own, substance = row.substance.material, row.substance
    return {
        "name": substance.name,
        "cas": own.cas or None if own else None,
        "cas_all": list(own.cas_all) if own else [],
        "percent_in_product": sixth(row.percent),
        "percent_in_concentrate": sixth(row.concentrate),
        "at_least": substance.least,
        "status": row.status,
        "limits": [
            {
                "percent": applied.percent,
                "basis": applied.limit.basis,
                "source": applied.limit.source or None,
                "market": applied.limit.market,
                "reference": applied.limit.reference or None,
                "date": applied.limit.date or None,
                "applies_from": applied.limit.applies_from or None,
                "counted_percent": sixth(dosage_percent / 100.0 * applied.concentrate),
                "use_ratio": sixth(applied.ratio(dosage_percent)),
            }
            for applied in row.applied
        ],
        "use_ratio": sixth(row.ratio),
        "highest_dosage": sixth(row.highest),
        "added_percent": sixth(dosage_percent * substance.added),
        "through": [
            {"name": name, "percent_in_product": sixth(dosage_percent * fraction)}
            for name, fraction in substance.through.items()
        ],
        "share_basis": sorted(substance.bases),
        "prohibited_by": [_origin(limit) for limit in row.barred],
        "restricted_without_figure": [_origin(limit) for limit in row.open_limits],
    }


def _origin(limit: Limit) -> dict[str, Any]:
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
    }


def flat(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row of the report with single values only; its limit is the lowest."""
    least = row["limits"][0] if row["limits"] else {}
    remarks = [
        f"prohibited: {AUTHORITIES[x['market']].words} {x['reference'] or ''}" for x in row["prohibited_by"]
    ]
    remarks += [
        f"without a figure here: {AUTHORITIES[x['market']].words} {x['reference'] or ''}"
        for x in row["restricted_without_figure"]
    ]
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
