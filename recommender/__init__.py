"""Perfumery materials that smell of this, last as long as needed, fit the rest and are allowed.

The verbs are loaded on first use, so that importing the package costs next to nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from recommender.api import (
        Answer,
        Filters,
        check,
        compare,
        dose,
        drydown_of,
        extend,
        material,
        materials,
        replace,
        strips,
        trim,
        vary,
        weigh,
    )
    from recommender.errors import (
        BadNotebook,
        BadTable,
        BadValue,
        ChangedMeanwhile,
        RecommenderError,
        StaleTable,
        UnknownFacet,
        UnknownMaterial,
        WrongCas,
    )

__all__ = [
    "Answer",
    "BadNotebook",
    "BadTable",
    "BadValue",
    "ChangedMeanwhile",
    "Filters",
    "RecommenderError",
    "StaleTable",
    "UnknownFacet",
    "UnknownMaterial",
    "WrongCas",
    "check",
    "compare",
    "dose",
    "drydown_of",
    "extend",
    "material",
    "materials",
    "replace",
    "strips",
    "trim",
    "vary",
    "weigh",
]


def __getattr__(name: str) -> Any:
    if name in __all__:
        from recommender import errors

        home = errors if hasattr(errors, name) else import_module(f"{__name__}.api")
        return getattr(home, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return __all__
