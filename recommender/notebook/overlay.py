"""What a notebook changes in the shipped palette: the person's records, and how their strips dry."""

from typing import TYPE_CHECKING

from recommender.evaporation.conditions import DEFAULT_CONDITIONS, Conditions, OwnReading
from recommender.evidence.overlay import Overlay

if TYPE_CHECKING:
    import sqlite3


def overlay_of(db: "sqlite3.Connection") -> tuple[Overlay, Conditions]:
    """Return the overlay of a notebook, and the conditions of the last fit or else those of the table."""
    from recommender.notebook import limits, nose, shelf, strips

    notes, names, typed = tuple(nose.notes(db)), shelf.labels(db), limits.in_use(db)
    own = Overlay(tuple(nose.materials(db)), notes, names, *typed, shelf.dilutions(db))
    fitted = strips.last_fit(db)
    if fitted is None:
        return own, DEFAULT_CONDITIONS
    figures = fitted.figures
    readings = {
        slug: OwnReading(x["faster"] or 1.0, x["stronger"] or 1.0, x["hours"], x["table_hours"])
        for slug, x in fitted.materials.items()
    }
    drying = figures["film_m"], figures["nose_l_per_s"], figures["paper_share"], figures["room_c"]
    return own, Conditions(*drying, readings)
