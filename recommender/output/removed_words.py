"""Removed entries in words: what each is, with enough detail to recognise it."""

from typing import Any

from recommender.evidence.catalogue import Catalogue
from recommender.model import Reading
from recommender.notebook.readings import written
from recommender.notebook.removed import KINDS, Removed
from recommender.output.trials import at

KIND_WORDS = {
    "bottle": "bottle",
    "trial": "trial",
    "strip": "strip of one material",
    "trial reading": "reading of a trial",
    "strip reading": "reading of a strip",
    "fit": "fit to your strips",
    "note": "note of your nose",
    "material": "material of your own",
    "formula": "formula on the page",
    "shelf change": "change of bottles",
}
COLUMNS = ("number", "kind", "what", "removed")
HEADS = {"number": "no.", "kind": "kind", "what": "what", "removed": "removed"}


def what(one: Removed, catalogue: Catalogue) -> str:
    """Return a description of an entry: violet stuff, 10 %; or morello@2, 2024-03-01, 5 readings."""
    rows = one.rows
    first = rows[KINDS[one.kind].table][0]
    readings = rows.get("trial_readings", rows.get("strip_readings", ()))
    details = [_name(one, catalogue)]
    match one.kind:
        case "shelf change":
            count = len(rows["shelf_change_bottles"])
            details = [change_words(first["kind"], one.name, first["batch_g"], count)]
        case "bottle":
            percent, amount = first["dilution_percent"], first["amount_g"]
            details += [f"{percent:g} %" if percent != 100 else "", "" if amount is None else f"{amount:g} g"]
            details.append(f"lot {first['lot']}" if first["lot"] else "")
        case "trial" | "strip":
            details += [first["day"], f"{len(readings)} reading{'' if len(readings) == 1 else 's'}"]
        case "trial reading" | "strip reading":
            reading = Reading(
                first["hours"], first["said"], first.get("facet", ""), first["level"], first["words"]
            )
            details.append(f"{at(reading.hours)}: {written(reading)}")
        case "note":
            labels = rows.get("note_labels", ())
            facets = ((x["facet"], x["strength"]) for x in labels)
            details += [f"{facet} {strength}" if strength else f"no {facet}" for facet, strength in facets]
            details += [first["strength"], "cannot be smelled" if first["blind"] else "", first["words"]]
    return ", ".join(filter(None, details))


def change_words(kind: str, name: str, batch_g: float | None, bottles: int) -> str:
    """Return what was done to bottles in one go.

    >>> change_words("weighed", "morello", 10.0, 2)
    'weighed: 10 g of morello, from 2 bottles'
    """
    count = f"{bottles} bottle{'' if bottles == 1 else 's'}"
    match kind:
        case "weighed":
            mass = "" if batch_g is None else f"{batch_g:.6g} g of "
            return f"weighed: {mass}{name}, from {count}"
        case "imported":
            return f"imported: {name}, {count}"
        case _:
            return f"changed by hand: {name}"


def _name(one: Removed, catalogue: Catalogue) -> str:
    if one.kind in ("note", "strip") and one.name in catalogue.index:
        return catalogue.by_slug(one.name).name
    return one.name.replace("T", " ") if one.kind == "fit" else one.name


def row(one: Removed, catalogue: Catalogue) -> dict[str, Any]:
    """Return an entry as a row of a listing."""
    return {
        "number": one.number,
        "kind": KIND_WORDS[one.kind],
        "what": what(one, catalogue),
        "removed": f"{one.when.replace('T', ' ')} UTC",
    }
