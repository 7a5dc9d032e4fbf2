"""What the person's own nose and shelf let through, and the bottle that each suggestion is taken from."""

from collections.abc import Collection
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from recommender.errors import BadValue
from recommender.formulas import dosing
from recommender.model import Bottle, Findings, Material, Suggestion
from recommender.palette import Palette

if TYPE_CHECKING:
    from recommender.suggest.request import Request


def available_mask(request: "Request", palette: Palette, wanted: Collection[str]) -> npt.NDArray[np.bool_]:
    """Tell which materials the person can use: smelled by them, on the shelf, and not too dear."""
    return np.array([why_unavailable(request, m, wanted) is None for m in palette.catalogue.materials], bool)


def why_unavailable(request: "Request", material: Material, wanted: Collection[str]) -> str | None:
    """Return why a material is not for this person, None where nothing speaks against it."""
    note = material.own
    if note is not None and note.blind:
        return f"You cannot smell {material.name}, as your notebook says."
    if note is not None and wanted and set(wanted) <= set(note.denied):
        return f"To your nose {material.name} does not smell of {', '.join(wanted)}."
    shelf = request.shelf
    if shelf is None:
        return None
    if request.only_shelf and material.slug not in shelf.by_material:
        return f"{material.name} is not on your shelf."
    if request.max_price is not None:
        price = shelf.prices.get(material.slug)
        if price is None:
            return f"Your shelf holds no price of {material.name}."
        if price > request.max_price:
            return f"{material.name} costs {price:.3g} a gram neat, more than {request.max_price:g}."
    return None


def check_shelf(request: "Request") -> None:
    """Raise `BadValue` where the shelf cannot answer what is asked of it."""
    if request.max_price is not None and not request.max_price > 0:
        raise BadValue("max_price", request.max_price, "it is a price per gram above 0")
    if not request.only_shelf and request.max_price is None:
        return
    shelf, field = request.shelf, "only_shelf" if request.only_shelf else "max_price"
    if shelf is None or not shelf.bottles:
        raise BadValue(field, "", "no bottle is on the shelf yet; see `recommender shelf add --help`")
    if request.only_shelf and not shelf.by_material:
        raise BadValue(field, "", "no bottle has a material yet; see `recommender shelf list`")
    if request.max_price is not None and not shelf.prices:
        raise BadValue("max_price", request.max_price, "no bottle on the shelf has a price yet")


def from_shelf(findings: Findings, request: "Request") -> Findings:
    """Return findings with the bottle that each suggestion is taken from, and what was filtered."""
    shelf = request.shelf
    if shelf is None:
        return findings
    notes = list(findings.notes)
    if request.max_price is not None:
        notes.append(
            f"Only materials with a price on the shelf, at most {request.max_price:g} for a gram of the neat "
            f"material ({len(shelf.prices)} have a price)."
        )
    suggestions = tuple(_bottled(found, request) for found in findings.suggestions)
    return replace(findings, suggestions=suggestions, notes=tuple(notes))


def _bottled(found: Suggestion, request: "Request") -> Suggestion:
    materials = [material for material, _ in found.members] or [found.material]
    shares = [share for _, share in found.members] or [1.0]
    bottles, remarks, dose = [], list[str](), found.dose
    for material, share in zip(materials, shares, strict=True):
        wanted = dosing.dilution(dose.first_try * share) if dose else None
        bottle = request.shelf.bottle_for(material.slug, wanted) if request.shelf else None
        if bottle is None:
            continue
        bottles.append(bottle)
        remarks += request.shelf.remarks(bottle, material) if request.shelf else []
        if dose:
            remarks += _weighing(bottle, material, dose.first_try * share, wanted)
    if dose and len(bottles) == 1 and not found.members:
        percent = bottles[0].dilution_percent
        dose = replace(dose, dilution_percent=None if percent == 100 else percent)
    cautions = tuple(dict.fromkeys((*remarks, *found.cautions)))
    return replace(found, dose=dose, bottles=tuple(bottles), cautions=cautions)


def _weighing(bottle: Bottle, material: Material, parts: float, wanted: float | None) -> list[str]:
    """Return what stands in the way of weighing so many neat parts per thousand from a bottle."""
    weighed = parts * 100.0 / bottle.dilution_percent
    if weighed > 1000.0:
        return [f"{bottle.label} at {bottle.dilution_percent:g} % is too thin for this dose."]
    if wanted and wanted < bottle.dilution_percent / 2:
        return [f"So little of {material.name} is weighed from {wanted:g} %: dilute {bottle.label} first."]
    return []
