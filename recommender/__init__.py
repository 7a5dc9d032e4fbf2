"""Perfumery materials that smell of this, last as long as needed, fit the rest and are allowed.

>>> import recommender as r
>>> r.material("coumarin").name
'coumarin'

`r.open("notebook.sqlite")` gives the same verbs under a notebook. All of it is loaded on first use, so that
importing the package costs next to nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from recommender.api import (
        Answer,
        Filters,
        Notebook,
        OdourVectors,
        Reformulating,
        Weighing,
        check,
        compare,
        dose,
        drydown,
        drydown_of,
        evidence_tables,
        extend,
        facets,
        material,
        materials,
        odour_space,
        open,
        pair,
        preferred,
        reformulate,
        relations,
        replace,
        similarities,
        strips,
        trim,
        vary,
        weigh,
    )
    from recommender.errors import (
        AmbiguousMaterial,
        BadNotebook,
        BadTable,
        BadValue,
        ChangedMeanwhile,
        RecommenderError,
        SpoiltCas,
        StaleTable,
        UnknownFacet,
        UnknownMaterial,
        WrongCas,
    )

    __version__: str

__all__ = [
    "AmbiguousMaterial",
    "Answer",
    "BadNotebook",
    "BadTable",
    "BadValue",
    "ChangedMeanwhile",
    "Filters",
    "Notebook",
    "OdourVectors",
    "RecommenderError",
    "Reformulating",
    "SpoiltCas",
    "StaleTable",
    "UnknownFacet",
    "UnknownMaterial",
    "Weighing",
    "WrongCas",
    "check",
    "compare",
    "dose",
    "drydown",
    "drydown_of",
    "evidence_tables",
    "extend",
    "facets",
    "material",
    "materials",
    "odour_space",
    "open",
    "pair",
    "preferred",
    "reformulate",
    "relations",
    "replace",
    "similarities",
    "strips",
    "trim",
    "vary",
    "weigh",
]


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from importlib.metadata import version

        return version("recommender")
    if name in __all__:
        from recommender import errors

        home = errors if hasattr(errors, name) else import_module(f"{__name__}.api")
        return getattr(home, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
