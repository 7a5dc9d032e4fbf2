"""The limits on record as rows and lines, with the reasons to look each one up."""

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from recommender.evidence.catalogue import Catalogue
from recommender.evidence.markets import AUTHORITIES
from recommender.model import Material
from recommender.regulation import limits_of, listed, reasons_to_look_up

COLUMNS = (
    *("name", "cas", "kind", "market", "category", "percent", "basis", "source", "reference", "date"),
    *("look_up", "note", "applies_from"),
)
HEADS: Mapping[str, str] = {
    "name": "substance",
    "limit": "limit",
    "by": "by",
    "look_up": "look up because",
}

LONGEST_NAME = 36
"""Characters of a name on a screen; JSON and CSV have all of it."""


def rows(
    catalogue: Catalogue, today: date, category: str, material: Material | None = None, stale: bool = False
) -> list[dict[str, Any]]:
    """Return the limits on record, of one material or all; `stale` leaves only those to look up."""
    found = []
    for limit in catalogue.limits if material is None else limits_of(material, catalogue):
        why = reasons_to_look_up(limit, catalogue, today)
        if stale and not why:
            continue
        percent = limit.percent.get(category)
        found.append(
            {
                "name": limit.name,
                "cas": list(limit.cas),
                "kind": limit.kind,
                "market": limit.market,
                "category": category,
                "percent": percent,
                "percent_by_category": dict(limit.percent),
                "basis": limit.basis,
                "source": limit.source or None,
                "reference": limit.reference or None,
                "date": limit.date or None,
                "look_up": why,
                "note": limit.note or None,
                "applies_from": limit.applies_from or None,
            }
        )
    return sorted(found, key=lambda row: (row["look_up"][:1] or ["~"], row["name"])) if stale else found


def _cut(name: str) -> str:
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 3]}..."


def shown(found: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return rows for a screen."""
    return [
        {
            "name": _cut(row["name"]),
            "limit": f"{row['percent']:g} %" if row["percent"] is not None else row["kind"],
            "by": AUTHORITIES[row["market"]].short,
            "look_up": ", ".join(row["look_up"]),
        }
        for row in found
    ]


def lines(material: Material, found: Sequence[Mapping[str, Any]], catalogue: Catalogue) -> list[str]:
    """Return the limits on one material, with all categories, then its label allergens as lines."""
    out = [material.name, "=" * len(material.name)]
    for row in found:
        origin = catalogue.sources.get(row["source"] or "", "from memory, unverified")
        place = f", {row['reference']}" if row["reference"] else ""
        out.append(f"{row['name']}: {row['kind']} by {AUTHORITIES[row['market']].words}{place} [{origin}]")
        figures = "; ".join(f"{c}: {x:g} %" for c, x in row["percent_by_category"].items())
        details = [f"category {figures}" if figures else "", row["note"] or ""]
        details.append(f"applies from {row['applies_from']}" if row["applies_from"] else "")
        details.append("look it up: " + ", ".join(row["look_up"]) if row["look_up"] else "")
        for text in filter(None, details):
            out += textwrap.wrap(text, 78, initial_indent="  ", subsequent_indent="    ")
    for name, share in listed(material, catalogue).items():
        out.append(
            f"label allergen: {name}" + ("" if share > 0.999 else f", up to {100 * share:.3g} % of it")
        )
    return out
