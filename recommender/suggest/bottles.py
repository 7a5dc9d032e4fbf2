"""The bottles of the shelf that suggestions are taken from, with remarks on them."""

from dataclasses import replace

from recommender.formulas import dosing
from recommender.model import Bottle, Findings, Material, Suggestion
from recommender.suggest.request import Request


def from_shelf(findings: Findings, request: Request) -> Findings:
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


def _bottled(found: Suggestion, request: Request) -> Suggestion:
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
    """Return what prevents weighing so many neat parts per thousand from a bottle."""
    weighed = parts * 100.0 / bottle.dilution_percent
    if weighed > 1000.0:
        return [f"{bottle.label} at {bottle.dilution_percent:g} % is too thin for this dose."]
    if wanted and wanted < bottle.dilution_percent / 2:
        return [f"So little of {material.name} is weighed from {wanted:g} %: dilute {bottle.label} first."]
    return []
