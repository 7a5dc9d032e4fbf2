"""Which entries concern a material, and which limits a person should look up."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from recommender.evidence.catalogue import Catalogue
from recommender.evidence.markets import AUTHORITIES, authorities_of
from recommender.model import Amount, Limit, Material
from recommender.regulation.constituents import Substance, substances
from recommender.regulation.labels import listed
from recommender.regulation.limits import counted, covering
from recommender.regulation.prohibitions import prohibitions

OLD_YEARS = 5
"""A figure older than this should be looked up: the Standards are amended every year or two."""

REASONS = (
    *("no figure", "from memory", "superseded", "second-hand", "undated", "of "),
    "condition to be shown",  # of each lot, however sound the entry is
)
"""How reasons to look a limit up begin, the most pressing first."""


@dataclass(frozen=True, slots=True)
class MaterialEntries:
    """The entries that name a material: prohibitions in a market, limits in any, label allergens.

    `label_allergens` maps each name to the share of the material that it makes up, at the high end.
    """

    prohibitions: tuple[Limit, ...]
    limits: tuple[Limit, ...]
    label_allergens: dict[str, float]


def entries_of(material: Material, catalogue: Catalogue, market: str) -> MaterialEntries:
    """Return the entries that name a material as a whole."""
    whole = next(s for s in substances([Amount(material, 1.0)], catalogue) if s.key == material.slug)
    limits = (x for x in covering(whole, catalogue.limits_by_key) if x.kind != "prohibition")
    barred = prohibitions(material, catalogue.entries, market)
    return MaterialEntries(tuple(barred), tuple(limits), listed(material, catalogue))


def limits_of(material: Material, catalogue: Catalogue) -> list[Limit]:
    """Return the limits on a material and on its constituents."""
    keys = {key for found in substances([Amount(material, 1.0)], catalogue) for key in found.keys}
    return [
        limit
        for limit in catalogue.entries
        if keys.intersection((*limit.cas, *limit.materials)) and material.slug not in limit.excepted
    ]


def covers(limit: Limit, present: Iterable[Substance]) -> bool:
    """Return whether a limit covers a substance of a formula, constituents of its naturals among them."""
    return bool(counted(limit, present))


def reasons_to_look_up(limit: Limit, catalogue: Catalogue, today: date) -> list[str]:
    """Return why a person should look a limit up, in the order of `REASONS`; empty if it is sound.

    An entry that limits nothing in any category, such as one for the label alone, has no figure to look up.
    """
    found = []
    if limit.kind == "restriction" and not limit.percent and not limit.unlimited:
        found.append("no figure")
    found += ["from memory"] if limit.basis == "memory" else _doubts(limit, catalogue, today)
    if limit.kind == "specification" or limit.condition:
        found.append("condition to be shown")
    return found


def _doubts(limit: Limit, catalogue: Catalogue, today: date) -> list[str]:
    """Return what is doubtful of an entry that has a source: its amendment, how it was read, its age."""
    found = [f"superseded by amendment {limit.superseded_by}"] if limit.superseded_by else []
    if "quoted elsewhere" in catalogue.sources.get(limit.source, ""):
        found.append("second-hand")
    if not limit.date:
        found.append("undated")
    elif any(AUTHORITIES[name].yearly for name in authorities_of(limit.market)) and (
        today.year - int(limit.date[:4]) > OLD_YEARS
    ):
        found.append(f"of {limit.date[:4]}")
    return found


def urgency(reasons: Sequence[str]) -> int:
    """Return the place of the first reason in `REASONS`, the number of all for none."""
    found = (place for place, known in enumerate(REASONS) if reasons and reasons[0].startswith(known))
    return next(found, len(REASONS))
