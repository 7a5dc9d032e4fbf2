"""What authorities say, from the shipped tables: limits, allergens of the label, categories of product."""

from pathlib import Path

from recommender.catalogue.rows import CATEGORIES, required, rows_of
from recommender.model import Allergen, Category, Limit


def limits(folder: Path) -> tuple[Limit, ...]:
    """Return prohibitions and limits."""
    return tuple(
        Limit(
            r["name"],
            r.list("cas"),
            r.list("materials"),
            r["kind"],
            r["market"],
            r["basis"],
            r["source"],
            r["reference"],
            r.list("excepted"),
            r["note"],
            percent={c: required(r, f"cat_{c}") for c in CATEGORIES if r[f"cat_{c}"]},
            counted_with=r.list("counted_with"),
            sum_group=r["sum_group"],
            date=r["date"],
            unlimited=r.list("unlimited"),
            applies_from=r["applies_from"],
        )
        for r in rows_of("limits", folder)
    )


def allergens(folder: Path) -> tuple[Allergen, ...]:
    """Return the allergens that European law wants on the label."""
    return tuple(
        Allergen(
            r["name"],
            r.list("cas"),
            r.list("materials"),
            r["added"],
            r["entry"],
            r["basis"],
            r["source"],
            r["date"],
            r.list("excepted"),
            r["note"],
        )
        for r in rows_of("allergens", folder)
    )


def categories(folder: Path) -> tuple[Category, ...]:
    """Return the categories of finished products."""
    return tuple(Category(r["category"], r["words"], r["use"]) for r in rows_of("categories", folder))
