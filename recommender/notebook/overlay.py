"""What a notebook adds to the shipped palette: the person's own, and how their strips dry."""

from typing import TYPE_CHECKING

from recommender.evaporation import DEFAULT_CONDITIONS, Conditions, OwnReading
from recommender.evidence.overlay import Overlay

if TYPE_CHECKING:
    import sqlite3


def overlay_of(db: "sqlite3.Connection") -> tuple[Overlay, Conditions]:
    """Read a person's own, and their strips as they were last fitted; the table's where they never were."""
    from recommender.notebook import limits, nose, shelf, strips

    own = Overlay(tuple(nose.materials(db)), tuple(nose.notes(db)), shelf.labels(db), *limits.in_use(db))
    fitted = strips.kept(db)
    if fitted is None:
        return own, DEFAULT_CONDITIONS
    _, figures, materials = fitted
    readings = {
        slug: OwnReading(x["faster"] or 1.0, x["stronger"] or 1.0, x["hours"], x["table_hours"])
        for slug, x in materials.items()
    }
    drying = figures["film_m"], figures["nose_l_per_s"], figures["paper_share"], figures["room_c"]
    return own, Conditions(*drying, readings)
