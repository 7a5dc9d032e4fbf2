"""Prohibitions, limits and label allergens: by market, category of product and dosage.

A missing figure never means that something may be used.
"""

from recommender.evidence.markets import AUTHORITIES, MARKETS
from recommender.regulation.constituents import Certificates, Substance, certificates, substances, unnamed
from recommender.regulation.headroom import Headroom, LimitIncrease, headroom, reduced, rounded_down
from recommender.regulation.labels import ALL_FROM, DECLARED_ABOVE, NEW_FROM, LabelEntry, declared, listed
from recommender.regulation.limits import (
    CATEGORY,
    CONDITION,
    FINDINGS,
    RESTRICTED,
    STATUSES,
    LimitUse,
    ProductUse,
    checked_category,
    checked_dosage,
    covering,
    rated,
)
from recommender.regulation.prohibitions import prohibitions, warnings
from recommender.regulation.report import KNOWN_UP_TO, PHOTOTOXIC, Report, SubstanceRow, UnknownContent, check
from recommender.regulation.review import MaterialEntries, entries_of, limits_of, reasons_to_look_up

__all__ = [
    "ALL_FROM",
    "AUTHORITIES",
    "CATEGORY",
    "CONDITION",
    "DECLARED_ABOVE",
    "FINDINGS",
    "KNOWN_UP_TO",
    "MARKETS",
    "NEW_FROM",
    "PHOTOTOXIC",
    "RESTRICTED",
    "STATUSES",
    "Certificates",
    "Headroom",
    "LabelEntry",
    "LimitIncrease",
    "LimitUse",
    "MaterialEntries",
    "ProductUse",
    "Report",
    "Substance",
    "SubstanceRow",
    "UnknownContent",
    "certificates",
    "check",
    "checked_category",
    "checked_dosage",
    "covering",
    "declared",
    "entries_of",
    "headroom",
    "limits_of",
    "listed",
    "prohibitions",
    "rated",
    "reasons_to_look_up",
    "reduced",
    "rounded_down",
    "substances",
    "unnamed",
    "warnings",
]
