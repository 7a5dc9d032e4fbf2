"""The limits that are held, and which of them a person should look up."""

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from recommender.evidence.catalogue import Catalogue
from recommender.evidence.markets import AUTHORITIES
from recommender.model import Amount, Limit, Material
from recommender.regulation import listed, substances

OLD_YEARS = 5
"""A figure older than this is worth a look: amendments of the Standards come every year or two."""
COLUMNS = (
    *("name", "cas", "kind", "market", "category", "percent", "basis", "source", "reference", "date"),
    *("look_up", "note", "applies_from"),
)
HEADS: Mapping[str, str] = {
    "name": "substance",
    "said": "limit",
    "by": "by",
    "look_up": "look up, because",
}

LONGEST_NAME = 36
"""Letters of a name on a screen; the rest stands in JSON and CSV."""


def reasons(limit: Limit, catalogue: Catalogue, today: date) -> list[str]:
    """Return why a person should look a limit up, the most pressing first; none where all is well."""
    told = []
    if limit.kind in ("restriction", "specification") and not limit.percent:
        told.append("no figure")
    if limit.basis == "memory":
        return [*told, "from memory"]
    if "quoted elsewhere" in catalogue.sources.get(limit.source, ""):
        told.append("second-hand")
    if not limit.date:
        told.append("undated")
    elif AUTHORITIES[limit.market].yearly and today.year - int(limit.date[:4]) > OLD_YEARS:
        told.append(f"of {limit.date[:4]}")
    return told


def rows(
    catalogue: Catalogue, today: date, category: str, material: Material | None = None, stale: bool = False
) -> list[dict[str, Any]]:
    """Return the limits held, of one material or all, with why to look each up; `stale` keeps only those."""
    opened = substances([Amount(material, 1.0)], catalogue) if material else []
    keys = {key for substance in opened for key in substance.keys}
    found = []
    for limit in catalogue.limits:
        if material and (
            not keys.intersection((*limit.cas, *limit.materials)) or material.slug in limit.excepted
        ):
            continue
        why = reasons(limit, catalogue, today)
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
            "name": row["name"]
            if len(row["name"]) <= LONGEST_NAME
            else f"{row['name'][: LONGEST_NAME - 3]}...",
            "said": f"{row['percent']:g} %" if row["percent"] is not None else row["kind"],
            "by": AUTHORITIES[row["market"]].short,
            "look_up": ", ".join(row["look_up"]),
        }
        for row in found
    ]


def lines(material: Material, found: Sequence[Mapping[str, Any]], catalogue: Catalogue) -> list[str]:
    """Return what is held on one material as lines: each limit with all its categories, then the label."""
    out = [material.name, "=" * len(material.name)]
    for row in found:
        origin = catalogue.sources.get(row["source"] or "", "from memory, unverified")
        place = f", {row['reference']}" if row["reference"] else ""
        out.append(f"{row['name']}: {row['kind']} by {AUTHORITIES[row['market']].words}{place} [{origin}]")
        figures = "; ".join(f"{c}: {x:g} %" for c, x in row["percent_by_category"].items())
        told = [f"category {figures}" if figures else "", row["note"] or ""]
        told.append(f"applies from {row['applies_from']}" if row["applies_from"] else "")
        told.append("look it up: " + ", ".join(row["look_up"]) if row["look_up"] else "")
        for text in filter(None, told):
            out += textwrap.wrap(text, 78, initial_indent="  ", subsequent_indent="    ")
    for name, share in listed(material, catalogue).items():
        out.append(
            f"label allergen: {name}" + ("" if share > 0.999 else f", up to {100 * share:.3g} % of it")
        )
    return out
