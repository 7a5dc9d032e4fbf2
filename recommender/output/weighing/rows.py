"""A weighing sheet as rows and plain data."""

from collections.abc import Mapping, Sequence
from typing import Any

from recommender.model import Formula, Material
from recommender.output.formulas import line_data
from recommender.output.limit_sentences import found_by_law
from recommender.output.suggestions import usual
from recommender.output.weighing.wording import make_first
from recommender.weighing import (
    Bracket,
    Section,
    WeighingSheet,
    WeighingStep,
    concentrate_g,
    percent_in_product,
    percent_of_concentrate,
    rounding_percent,
)

FILE_COLUMNS = (
    "material", "parts", "dilution_percent", "solvent", "note", "cas", "parts_per_thousand", "grams",
    "rounding_percent", "percent_of_concentrate", "percent_in_product", "make_first", "cautions",
)  # fmt: skip
"""Columns of a sheet that can be read again as a formula: `parts` are of what is weighed."""


def rows(sheet: WeighingSheet) -> list[dict[str, Any]]:
    """Return one row per line, accords first, in the order of weighing."""
    return [_row(pour, section, sheet) for section in sheet.sections for pour in section.pours]


def _row(pour: WeighingStep, section: Section, sheet: WeighingSheet) -> dict[str, Any]:
    content = pour.line.content
    material = content if isinstance(content, Material) else None
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
        "rounding_percent": rounding_percent(pour.grams, pour.exact_g),
        "reading_percent": _three(100 * sheet.resolution_g / pour.exact_g) if pour.exact_g else None,
        "percent_of_concentrate": _six_or_none(percent_of_concentrate(pour, section, sheet)),
        "percent_in_product": _six_or_none(percent_in_product(pour, section, sheet)),
        "make_first": make_first(pour, sheet),
        "too_little": pour.too_little,
        "note": pour.line.note,
        "cautions": [caution.text for caution in material.cautions] if material else [],
    }


def _six(value: float) -> float:
    return float(f"{value:.6g}")


def _three(value: float) -> float:
    return float(f"{value:.3g}")


def data(sheet: WeighingSheet, remarks: list[str]) -> dict[str, Any]:
    """Return the whole sheet as plain data."""
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
                "rounding_percent": rounding_percent(section.weighed_g, section.exact_g),
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
        "decision": None if sheet.report is None else sheet.report.decision,
        "statuses": [] if sheet.report is None else found_by_law(sheet.report),
        "shares": {
            "percent_of_concentrate": _six(sheet.shares.of_concentrate_percent),
            "dosage_percent": _six_or_none(sheet.shares.dosage_percent),
            "percent_of_finished": _six_or_none(sheet.shares.of_finished_percent),
        },
        "product": None
        if sheet.finished_g is None or sheet.carrier is None
        else {
            "finished_g": _six(sheet.finished_g),
            "concentrate_g": _six(concentrate_g(sheet)),
            "top_up": sheet.carrier.name,
            "top_up_g": _six(sheet.top_up_g or 0.0),
        },
        "notes": remarks,
    } | ({} if sheet.bracket is None else {"bracket": _bracket(sheet.bracket)})


def _bracket(found: Bracket) -> dict[str, Any]:
    """Return three vials, the numbers in the order of smelling, and the key: number -> which dose it is."""
    return {
        "name": found.material.name,
        "cas": found.material.cas or None,
        "present_parts": _six(found.present),
        "usual": usual(found.usual),
        "dilution_percent": _six(100 * found.dilution),
        "solvent": found.solvent.name if found.solvent else None,
        "vials": [
            {
                "dose": vial.dose,
                "parts": _six(vial.parts),
                "base_g": _six(vial.base_g),
                "grams": _six(vial.grams),
                "exact_g": _six(vial.exact_g),
                "fill_g": _six(vial.fill_g),
            }
            for vial in found.vials
        ],
        "smell": list(found.order),
        "key": {str(vial.number): vial.dose for vial in found.vials},
    }


def preferred_data(formula: Formula, lines: Sequence[Mapping[str, str]], saved: str | None) -> dict[str, Any]:
    """Return a formula with a preferred dose as plain data, and under which name it is saved."""
    return {
        "formula": formula.name,
        "lines": [line_data(line) for line in lines],
        "saved": saved,
        "notes": list(formula.notes),
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
