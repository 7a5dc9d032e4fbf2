"""Prohibitions, limits and label allergens: by market, category of product and dosage.

A missing figure never means that something may be used.
"""

from recommender.evidence.markets import AUTHORITIES, MARKETS
from recommender.regulation.constituents import Certificates, Substance, certificates, substances, unnamed
from recommender.regulation.headroom import Headroom, LimitIncrease, headroom, reduced
from recommender.regulation.labels import DECLARED_ABOVE, LabelEntry, declared, listed
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
from recommender.regulation.report import PHOTOTOXIC, Report, SubstanceRow, UnknownContent, check

__all__ = [
    "AUTHORITIES",
    "CATEGORY",
    "CONDITION",
    "DECLARED_ABOVE",
    "FINDINGS",
    "MARKETS",
    "PHOTOTOXIC",
    "RESTRICTED",
    "STATUSES",
    "Certificates",
    "Headroom",
    "LabelEntry",
    "LimitIncrease",
    "LimitUse",
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
    "headroom",
    "listed",
    "prohibitions",
    "rated",
    "reduced",
    "substances",
    "unnamed",
    "warnings",
]
