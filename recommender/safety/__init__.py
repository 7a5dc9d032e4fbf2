"""What may be offered, how much of it, and what stands on the label: by market, category and dosage.

No figure held never means that something may be used.
"""

from recommender.safety.contents import Certificates, Substance, certificates, substances, unnamed
from recommender.safety.exposure import (
    CATEGORY,
    CONDITION,
    FINDINGS,
    RESTRICTED,
    STATUSES,
    Applied,
    Wear,
    checked_category,
    checked_dosage,
    covering,
    rated,
)
from recommender.safety.labels import DECLARED_ABOVE, Declared, declared, listed
from recommender.safety.prohibited import MARKETS, offered, prohibitions, warnings
from recommender.safety.report import PHOTOTOXIC, Report, Row, check
from recommender.safety.room import Raised, Room, reduced, room
from recommender.safety.unknown import Unknown

__all__ = [
    "CATEGORY",
    "CONDITION",
    "DECLARED_ABOVE",
    "FINDINGS",
    "MARKETS",
    "PHOTOTOXIC",
    "RESTRICTED",
    "STATUSES",
    "Applied",
    "Certificates",
    "Declared",
    "Raised",
    "Report",
    "Room",
    "Row",
    "Substance",
    "Unknown",
    "Wear",
    "certificates",
    "check",
    "checked_category",
    "checked_dosage",
    "covering",
    "declared",
    "listed",
    "offered",
    "prohibitions",
    "rated",
    "reduced",
    "room",
    "substances",
    "unnamed",
    "warnings",
]
