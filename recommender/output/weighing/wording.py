"""Words for a weighing sheet: masses, dilutions, recipes, cautions in brief."""

from recommender.model import Formula, Material
from recommender.output import wording
from recommender.output.formats import cell
from recommender.weighing import (
    FLAMMABLE,
    DilutionStep,
    Section,
    WeighingSheet,
    WeighingStep,
    dilutions_for,
    percent_in_product,
    rounding_percent,
    taken_by_dilutions_g,
)

SHORT = {
    "toxic vapour": "harmful vapour",
    "strong odour": "very strong",
    "schiff base": "reacts with amines",
    "regulated": "law or Standard",
    "specific anosmia": "not every nose smells it",
}
"""Shorter or plainer words for kinds of cautions."""

AT_THE_BALANCE = ("toxic vapour", "sensitiser", "strong odour", "phototoxic")
"""Kinds that come first: what can harm a person or contaminate the bench."""


def grams(value: float, resolution_g: float) -> str:
    """Return a mass with the digits that the balance shows.

    >>> grams(0.0204, 0.001), grams(3.0, 0.05)
    ('0.020', '3.00')
    """
    text = f"{resolution_g:.10f}".rstrip("0")
    return f"{value:.{len(text.partition('.')[2])}f}"


def plain(value: float) -> str:
    """Return a number without an exponent or trailing zeros: 0.001, 10."""
    return f"{value:.10f}".rstrip("0").rstrip(".")


def tiny(value: float) -> str:
    """Return a mass that the balance cannot weigh.

    >>> tiny(0.016), tiny(0.0004), tiny(3e-7), tiny(1e-12)
    ('16 mg', '0.4 mg', '0.3 µg', 'less than 0.01 µg')
    """
    milligrams = float(f"{1000 * value:.2g}")
    if milligrams >= 0.01:
        return f"{plain(milligrams)} mg"
    return f"{plain(float(f'{1e6 * value:.2g}'))} µg" if value >= 1e-8 else "less than 0.01 µg"


def mass(value: float) -> str:
    """Return a mass with four digits.

    >>> mass(66.6667), mass(10.0)
    ('66.67 g', '10 g')
    """
    return f"{float(f'{value:.4g}'):.10f}".rstrip("0").rstrip(".") + " g"


def share_percent(value: float) -> str:
    """Return a share in per cent with at most three digits and no exponent.

    >>> share_percent(0.15), share_percent(0.00012), share_percent(0.107)
    ('15 %', '0.012 %', '10.7 %')
    """
    shown = float(f"{100 * value:.3g}")
    return f"{shown:.12f}".rstrip("0").rstrip(".") + " %"


def strength(dilution: float, solvent: Material | None) -> str:
    """Return the dilution that is weighed: neat, or 10 % in dipropylene glycol."""
    return "neat" if solvent is None else f"{share_percent(dilution)} in {solvent.name}"


def called(content: Material | Formula) -> str:
    """Return the name of a material, or that of an accord, marked as one."""
    return content.name if isinstance(content, Material) else f"{content.name} (accord)"


def kinds(material: Material) -> list[str]:
    """Return the kinds of a material's cautions in a few words each, the most harmful first."""
    found = sorted({c.kind for c in material.cautions}, key=lambda k: (k not in AT_THE_BALANCE, k))
    words = [SHORT.get(kind, kind) for kind in found]
    return ["flammable", *words] if material.slug in FLAMMABLE else words


def recipe(step: DilutionStep, sheet: WeighingSheet) -> str:
    """Return how one dilution is made: 0.200 g neat + 1.800 g dipropylene glycol = 2.000 g of 10 %."""
    take, add, made = (grams(g, sheet.resolution_g) for g in (step.take_g, step.add_g, step.made_g))
    source = "neat" if step.stronger == 1.0 else f"of {share_percent(step.stronger)}"
    return f"{take} g {source} + {add} g {step.solvent.name} = {made} g of {share_percent(step.dilution)}"


def make_first(pour: WeighingStep, sheet: WeighingSheet) -> str:
    """Return how the dilution of a line is made, blank if the formula's own will do."""
    return "; then ".join(recipe(step, sheet) for step in dilutions_for(pour, sheet))


def shown(pour: WeighingStep, section: Section, sheet: WeighingSheet) -> dict[str, str]:
    """Return the texts of one line, as printed."""
    content = pour.line.content
    cautions = kinds(content) if isinstance(content, Material) else []
    off = rounding_percent(pour.grams, pour.exact_g)
    in_product = percent_in_product(pour, section, sheet)
    return {
        "name": called(content),
        "dilution": "as made"
        if isinstance(content, Formula) and pour.solvent is None
        else strength(pour.dilution, pour.solvent),
        "parts": wording.parts_of(pour.per_thousand) if pour.per_thousand >= 1e-3 else "under 0.001",
        "weigh": f"{grams(pour.grams, sheet.resolution_g)} g",
        "off": "" if off is None else "0" if abs(off) < 0.05 else f"{off:+.1f} %",
        "product": share_percent(in_product / 100) if in_product else "",
        "cautions": str(cell(cautions)),
        "instead": instead(pour, sheet),
    }


def instead(pour: WeighingStep, sheet: WeighingSheet) -> str:
    """Return why a line is not weighed as the formula has it, blank if it is."""
    if pour.diluted:
        at = "neat" if pour.line.solvent is None else f"of {share_percent(pour.line.dilution)}"
        return f"instead of {tiny(pour.written_g)} {at}"
    if rest := taken_by_dilutions_g(pour):
        return f"{grams(rest, sheet.resolution_g)} g of it is already in the dilutions"
    return ""
