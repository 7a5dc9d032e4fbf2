"""A weighing plan in words: masses, dilutions, recipes, cautions in short."""

from recommender.model import Formula, Material
from recommender.output import wording
from recommender.output.formats import cell
from recommender.weighing import DilutionStep, WeighingSheet, WeighingStep

SHORT = {
    "toxic vapour": "harmful vapour",
    "strong odour": "very strong",
    "schiff base": "reacts with amines",
    "regulated": "law or Standard",
    "specific anosmia": "not every nose smells it",
}
"""Kinds of cautions in fewer or plainer words."""

AT_THE_BALANCE = ("toxic vapour", "sensitiser", "strong odour", "phototoxic")
"""What hurts, or spoils the bench, comes first."""

FLAMMABLE = ("ethanol", "isopropyl-alcohol")
"""H225, highly flammable (harmonised classification 603-002-00-5 and 603-117-00-0)."""


def grams(value: float, resolution_g: float) -> str:
    """Return a mass with the digits that the balance shows.

    >>> grams(0.0204, 0.001), grams(3.0, 0.05)
    ('0.020', '3.00')
    """
    text = f"{resolution_g:.10f}".rstrip("0")
    return f"{value:.{len(text.partition('.')[2])}f}"


def plain(value: float) -> str:
    """Return a number as it is written by hand: 0.001, 10."""
    return f"{value:.10f}".rstrip("0").rstrip(".")


def tiny(value: float) -> str:
    """Return a mass that the balance cannot weigh.

    >>> tiny(0.016), tiny(0.0004), tiny(3e-7), tiny(1e-12)
    ('16 mg', '0.4 mg', '0.3 µg', 'next to nothing')
    """
    milligrams = float(f"{1000 * value:.2g}")
    if milligrams >= 0.01:
        return f"{plain(milligrams)} mg"
    return f"{plain(float(f'{1e6 * value:.2g}'))} µg" if value >= 1e-8 else "next to nothing"


def mass(value: float) -> str:
    """Return a mass with four digits.

    >>> mass(66.6667), mass(10.0)
    ('66.67 g', '10 g')
    """
    return f"{float(f'{value:.4g}'):.10f}".rstrip("0").rstrip(".") + " g"


def percent(value: float) -> str:
    """Return a share with two or three digits, never as a power of ten.

    >>> percent(0.15), percent(0.00012), percent(1.0)
    ('15 %', '0.012 %', '100 %')
    """
    shown = float(f"{100 * value:.3g}")
    return f"{shown:.15f}".rstrip("0").rstrip(".") + " %"


def strength(dilution: float, solvent: Material | None) -> str:
    """Return how something is weighed: neat, or 10 % in dipropylene glycol."""
    return "neat" if solvent is None else f"{percent(dilution)} in {solvent.name}"


def called(content: Material | Formula) -> str:
    """Return the name of a material, or of an accord as one."""
    return content.name if isinstance(content, Material) else f"{content.name} (accord)"


def kinds(material: Material) -> list[str]:
    """Return the kinds of a material's cautions in a few words each, what hurts first."""
    held = sorted({c.kind for c in material.cautions}, key=lambda k: (k not in AT_THE_BALANCE, k))
    told = [SHORT.get(kind, kind) for kind in held]
    return ["flammable", *told] if material.slug in FLAMMABLE else told


def recipe(step: DilutionStep, sheet: WeighingSheet) -> str:
    """Return how one dilution is made: 0.200 g neat + 1.800 g dipropylene glycol = 2.000 g of 10 %."""
    take, add, made = (grams(g, sheet.resolution_g) for g in (step.take_g, step.add_g, step.made_g))
    source = "neat" if step.stronger == 1.0 else f"of {percent(step.stronger)}"
    return f"{take} g {source} + {add} g {step.solvent.name} = {made} g of {percent(step.dilution)}"


def make_first(pour: WeighingStep, sheet: WeighingSheet) -> str:
    """Return how the dilution of a line is made, blank where the formula's own will do."""
    return "; then ".join(
        recipe(step, sheet)
        for step in sheet.dilutions
        if step.content == pour.line.content
        and step.solvent == pour.solvent
        and pour.dilution <= step.dilution
        and step.stronger <= (1.0 if isinstance(pour.line.content, Formula) else pour.line.dilution)
    )


def off_percent(shown: float, exact: float) -> float | None:
    """Return how far a rounded mass is from the exact one [%], None where that is nothing."""
    return round(100 * (shown - exact) / exact, 3) + 0.0 if exact else None


def shown(pour: WeighingStep, sheet: WeighingSheet) -> dict[str, str]:
    """Return one line as it is printed."""
    content = pour.line.content
    mind = kinds(content) if isinstance(content, Material) else []
    off = off_percent(pour.grams, pour.exact_g)
    of_finished = sheet.shares.of_finished_percent
    return {
        "name": called(content),
        "dilution": "as made"
        if isinstance(content, Formula) and pour.solvent is None
        else strength(pour.dilution, pour.solvent),
        "parts": wording.parts_of(pour.per_thousand) if pour.per_thousand >= 1e-3 else "under 0.001",
        "weigh": f"{grams(pour.grams, sheet.resolution_g)} g",
        "off": "" if off is None else "0" if abs(off) < 0.05 else f"{off:+.1f} %",
        "product": percent(pour.exact_g * pour.dilution / sheet.batch_g * of_finished / 100)
        if of_finished
        else "",
        "mind": str(cell(mind)),
        "instead": instead(pour, sheet),
    }


def instead(pour: WeighingStep, sheet: WeighingSheet) -> str:
    """Return why something else is weighed than the formula says."""
    if pour.diluted:
        at = "neat" if pour.line.solvent is None else f"of {percent(pour.line.dilution)}"
        return f"instead of {tiny(pour.written_g)} {at}"
    if pour.exact_g < pour.written_g * (1 - 1e-9):
        rest = grams(pour.written_g - pour.exact_g, sheet.resolution_g)
        return f"{rest} g of it is in the dilutions"
    return ""
