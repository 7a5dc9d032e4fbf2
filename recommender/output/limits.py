"""The limits on record as rows and lines, with the reasons to look each one up."""

import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from recommender.evidence.catalogue import Catalogue
from recommender.evidence.markets import authorities_of, names_of, short_names_of
from recommender.model import Limit, Material
from recommender.output import layout
from recommender.output.limit_sentences import looked_up
from recommender.palette import shipped
from recommender.regulation import ANY, limits_of, listed, reasons_to_look_up, urgency

COLUMNS = (
    *("name", "cas", "kind", "market", "category", "percent", "basis", "source", "reference", "date"),
    *("look_up", "note", "applies_from", "applies_until", "superseded_by", "condition", "used_in", "cas_all"),
)
HEADS: Mapping[str, str] = {
    "name": "substance",
    "limit": "limit",
    "by": "by",
    "look_up": "look up because",
}
USED: Mapping[str, str] = {**HEADS, "used_in": "in formulas"}
"""Heads where the person's formulas count."""


def rows(
    catalogue: Catalogue,
    today: date,
    category: str,
    material: Material | None = None,
    stale: bool = False,
    used_in: Callable[[Sequence[Limit]], Sequence[int]] | None = None,
) -> list[dict[str, Any]]:
    """Return the limits on record, of one material or all; `stale` leaves only those to look up.

    `used_in` counts for each limit the person's formulas in which it covers something: of those to look up
    the most used come first, then those with the most pressing reason.
    """
    found = []
    limits = catalogue.entries if material is None else limits_of(material, catalogue)
    counts = used_in(limits) if used_in else [0 for _ in limits]
    for limit, count in zip(limits, counts, strict=True):
        why = reasons_to_look_up(limit, catalogue, today)
        if stale and not why:
            continue
        percent = limit.percent.get(category)
        found.append(
            {
                "name": limit.name,
                "cas": limit.cas[0] if limit.cas else None,
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
                "applies_until": limit.applies_until or None,
                "superseded_by": limit.superseded_by or None,
                "condition": limit.condition or None,
                "used_in": count,
                "cas_all": list(limit.cas),
            }
        )
    if not stale:
        return found
    return sorted(found, key=lambda row: (-row["used_in"], urgency(row["look_up"]), row["name"]))


def _by(row: Mapping[str, Any]) -> str:
    entry = (row["reference"] or "").removeprefix("EU ")
    return f"{short_names_of(row['market'])} {entry}".strip()


def shown(found: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return rows for a screen."""
    return [
        {
            "name": row["name"],
            "limit": f"{row['percent']:g} %" if row["percent"] is not None else row["kind"],
            "by": _by(row),
            "look_up": ", ".join(row["look_up"]),
            "used_in": row["used_in"],
        }
        for row in found
    ]


def nothing(catalogue: Catalogue, material: Material | None, stale: bool) -> str:
    """Return what it means that no limit is listed."""
    if stale:
        return f"nothing to look up{f' for {material.name}' if material else ''}."
    if material is None:
        return "no limit is on record, which does not mean that none exists."
    where = f"looked for in {looked_up(ANY)}"
    if listed(material, catalogue):
        return f"no limit found for {material.name}, which the label has to name; {where}."
    by_name = material.kind == "natural" and material.slug not in catalogue.own
    if not material.cas_all and not by_name:
        return f"{material.name} was not looked up: it has no CAS number. Add it, or look it up yourself."
    return f"no entry found for {material.name} or for what it contains; {where}."


def lines(material: Material, found: Sequence[Mapping[str, Any]], catalogue: Catalogue) -> list[str]:
    """Return the limits on one material, with all categories, then its label allergens as lines."""
    out = [material.name, "=" * len(material.name)]
    for row in found:
        origin = catalogue.sources.get(row["source"] or "", "from memory, unverified")
        place = f", {row['reference']}" if row["reference"] else ""
        out.append(f"{row['name']}: {row['kind']} by {names_of(row['market'])}{place} [{origin}]")
        figures = "; ".join(f"{c}: {x:g} %" for c, x in row["percent_by_category"].items())
        details = [f"category {figures}" if figures else "", row["note"] or ""]
        details.append(f"applies from {row['applies_from']}" if row["applies_from"] else "")
        details.append(f"applies until {row['applies_until']}" if row["applies_until"] else "")
        newer = row["superseded_by"]
        details.append(f"superseded: amendment {newer} is in force" if newer else "")
        details.append(f"condition to be shown: {row['condition']}" if row["condition"] else "")
        details.append("look it up: " + ", ".join(row["look_up"]) if row["look_up"] else "")
        for text in filter(None, details):
            out += textwrap.wrap(text, layout.most(78), initial_indent="  ", subsequent_indent="    ")
    for name, share in listed(material, catalogue).items():
        out.append(
            f"label allergen: {name}" + ("" if share > 0.999 else f", up to {100 * share:.3g} % of it")
        )
    return out


def compared(new: Limit) -> dict[str, Any]:
    """Return a row that compares a limit that a person typed with that of the shipped table."""
    old = [
        limit
        for limit in shipped().catalogue.limits
        if set(authorities_of(limit.market)) & set(authorities_of(new.market))
        and set(limit.cas) & set(new.cas)
    ]
    shipped_limits = {category: value for limit in old for category, value in limit.percent.items()}
    banned = any(limit.kind == "prohibition" for limit in old)
    return {
        "name": new.name,
        "cas": new.cas[0] if new.cas else None,
        "cas_all": list(new.cas),
        "kind": new.kind,
        "market": new.market,
        "limits": len(new.percent),
        "changed": [
            {"category": category, "before": shipped_limits.get(category), "after": value}
            for category, value in new.percent.items()
            if shipped_limits.get(category) != value
        ],
        "mind": "prohibited by the shipped table; the prohibition stays" if banned and new.percent else None,
    }


def change_words(found: Mapping[str, Any]) -> str:
    """Return a limit that changes, in words: 4: none to 1.2."""
    return f"{found['category']}: {_percent(found['before'])} to {_percent(found['after'])}"


def _percent(value: float | None) -> str:
    return "none" if value is None else f"{value:g}"
