"""A weighing plan as rows and plain data."""

from typing import Any

from recommender.model import Formula, Material
from recommender.output.weighing.wording import make_first, off_percent
from recommender.weighing import Section, WeighingSheet, WeighingStep

FILE_COLUMNS = (
    "material", "parts", "dilution_percent", "solvent", "note", "cas", "parts_per_thousand", "grams",
    "rounding_percent", "percent_of_concentrate", "percent_in_product", "make_first", "cautions",
)  # fmt: skip
"""Those of a sheet that can be read again as a formula: `parts` are of what is weighed."""


def rows(sheet: WeighingSheet) -> list[dict[str, Any]]:
    """Return one row a line, accords first, in the order of weighing."""
    return [_row(pour, section, sheet) for section in sheet.sections for pour in section.pours]


def _row(pour: WeighingStep, section: Section, sheet: WeighingSheet) -> dict[str, Any]:
    content = pour.line.content
    material = content if isinstance(content, Material) else None
    outer = section.formula is sheet.formula
    neat = pour.exact_g * pour.dilution / sheet.batch_g if outer else None
    in_product = sheet.shares.of_finished_percent
    return {
        "section": section.formula.name,
        "name": content.name,
        "kind": material.kind if material else "accord",
        "cas": (material.cas or None) if material else None,
        "parts_per_thousand": _six(pour.per_thousand),
        "dilution_percent": _six(100 * pour.dilution),
        "solvent": pour.solvent.name if pour.solvent else None,
        "grams": pour.grams,
        "exact_g": _six(pour.exact_g),
        "written_g": _six(pour.written_g),
        "rounding_percent": off_percent(pour.grams, pour.exact_g),
        "reading_percent": _three(100 * sheet.resolution_g / pour.exact_g) if pour.exact_g else None,
        "percent_of_concentrate": None if neat is None else _six(neat * sheet.shares.of_concentrate_percent),
        "percent_in_product": None if neat is None or in_product is None else _six(neat * in_product),
        "make_first": make_first(pour, sheet),
        "too_little": pour.too_little,
        "note": pour.line.note,
        "cautions": [caution.text for caution in material.cautions] if material else [],
    }


def _six(value: float) -> float:
    return float(f"{value:.6g}")


def _three(value: float) -> float:
    return float(f"{value:.3g}")


def data(sheet: WeighingSheet, told: list[str]) -> dict[str, Any]:
    """Return the whole plan as plain data."""
    return {
        "formula": sheet.formula.name,
        "batch_g": sheet.batch_g,
        "resolution_g": sheet.resolution_g,
        "least_load_g": _six(sheet.least_g),
        "rows": rows(sheet),
        "sections": [
            {
                "name": section.formula.name,
                "needed_g": _six(section.needed_g),
                "exact_g": _six(section.exact_g),
                "weighed_g": _six(section.weighed_g),
                "rounding_percent": off_percent(section.weighed_g, section.exact_g),
            }
            for section in sheet.sections
        ],
        "dilutions": [
            {
                "name": step.content.name,
                "cas": (step.content.cas or None) if isinstance(step.content, Material) else None,
                "from_percent": _six(100 * step.stronger),
                "dilution_percent": _six(100 * step.dilution),
                "solvent": step.solvent.name,
                "take_g": _six(step.take_g),
                "solvent_g": _six(step.add_g),
                "made_g": _six(step.made_g),
                "needed_g": _six(step.needed_g),
            }
            for step in sheet.dilutions
        ],
        "shares": {
            "percent_of_concentrate": _six(sheet.shares.of_concentrate_percent),
            "dosage_percent": _six_or_none(sheet.shares.dosage_percent),
            "percent_of_finished": _six_or_none(sheet.shares.of_finished_percent),
        },
        "product": None
        if sheet.finished_g is None or sheet.carrier is None
        else {
            "finished_g": _six(sheet.finished_g),
            "concentrate_g": _six(100 * sheet.batch_g / sheet.shares.of_concentrate_percent),
            "top_up": sheet.carrier.name,
            "top_up_g": _six(sheet.top_up_g or 0.0),
        },
        "notes": told,
    }


def _six_or_none(value: float | None) -> float | None:
    return None if value is None else _six(value)


def in_file(sheet: WeighingSheet, section: Section) -> list[dict[str, Any]]:
    """Return one section as rows that can be read again as a formula."""
    found = []
    for pour in section.pours:
        row = _row(pour, section, sheet)
        accord = isinstance(pour.line.content, Formula)
        if pour.exact_g > 0:
            found.append(
                row
                | {
                    "material": f"{row['name']}.csv" if accord else row["name"],
                    "cautions": " ".join(row["cautions"]),
                    "parts": float(f"{1000 * pour.exact_g / section.exact_g:.10g}"),
                    "dilution_percent": None if pour.dilution == 1.0 else row["dilution_percent"],
                }
            )
    return found
