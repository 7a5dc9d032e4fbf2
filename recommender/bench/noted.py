"""What a notebook lays over the shipped bench: the person's own, and how their strips dry."""

from dataclasses import replace
from typing import TYPE_CHECKING

from recommender.bench.bench import Bench, shipped
from recommender.bench.own import laid_over
from recommender.catalogue.own import Own
from recommender.drydown import TABLE, Conditions, OwnReading

if TYPE_CHECKING:
    import sqlite3


def noted(db: "sqlite3.Connection") -> tuple[Own, Conditions]:
    """Read a person's own, and their strips as they were last fitted; the table's where they never were."""
    from recommender.notebook import limits, nose, shelf, strips

    own = Own(tuple(nose.materials(db)), tuple(nose.notes(db)), shelf.labels(db), *limits.in_use(db))
    fitted = strips.kept(db)
    if fitted is None:
        return own, TABLE
    _, figures, materials = fitted
    readings = {
        slug: OwnReading(x["faster"] or 1.0, x["stronger"] or 1.0, x["hours"], x["table_hours"])
        for slug, x in materials.items()
    }
    kept = figures["film_m"], figures["nose_l_per_s"], figures["paper_share"], figures["room_c"]
    return own, Conditions(*kept, readings)


def under(own: Own, conditions: Conditions = TABLE) -> Bench:
    """Return the shipped bench with a person's own laid over it, their strips drying as they do."""
    return replace(laid_over(shipped(), own), conditions=conditions)
