"""What follows from a weighing sheet: rounding errors, shares of the product, how each dilution is made."""

from recommender.model import Formula, Material
from recommender.weighing.dilutions import DilutionStep
from recommender.weighing.plan import Section, WeighingSheet, WeighingStep

FLAMMABLE = ("ethanol", "isopropyl-alcohol")
"""H225, highly flammable (harmonised classification 603-002-00-5 and 603-117-00-0)."""
MOST_LARGER = 1e6
"""A batch larger than this many times is no way out for a line that is too small to weigh."""


def rounding_percent(shown: float, exact: float) -> float | None:
    """Return the rounding error of a mass on the balance [%], None if the exact mass is 0."""
    return round(100 * (shown - exact) / exact, 3) + 0.0 if exact else None


def percent_of_concentrate(step: WeighingStep, section: Section, sheet: WeighingSheet) -> float | None:
    """Return the neat share of a line in the concentrate [%], None inside an accord."""
    if section.formula is not sheet.formula:
        return None
    return step.exact_g * step.dilution / sheet.batch_g * sheet.shares.of_concentrate_percent


def percent_in_product(step: WeighingStep, section: Section, sheet: WeighingSheet) -> float | None:
    """Return the neat share of a line in the finished product [%], None in an accord or without a dosage."""
    in_product = sheet.shares.of_finished_percent
    if in_product is None or section.formula is not sheet.formula:
        return None
    return step.exact_g * step.dilution / sheet.batch_g * in_product


def concentrate_g(sheet: WeighingSheet) -> float:
    """Return the mass of the whole concentrate of which the batch is a share [g]."""
    return 100 * sheet.batch_g / sheet.shares.of_concentrate_percent


def dilutions_for(step: WeighingStep, sheet: WeighingSheet) -> list[DilutionStep]:
    """Return the dilutions to make for a line, in order; empty if the formula's own will do."""
    content = step.line.content
    from_dilution = 1.0 if isinstance(content, Formula) else step.at_hand or step.line.dilution
    return [
        made
        for made in sheet.dilutions
        if made.content == content
        and made.solvent == step.solvent
        and step.dilution <= made.dilution
        and made.stronger <= from_dilution
    ]


def taken_by_dilutions_g(step: WeighingStep) -> float:
    """Return how much of a solvent line is already in the dilutions [g]."""
    return step.written_g - step.exact_g if step.exact_g < step.written_g * (1 - 1e-9) else 0.0


def times_larger(step: WeighingStep, sheet: WeighingSheet) -> float | None:
    """Return how many times as large a batch could weigh a line, None if that is beyond `MOST_LARGER`."""
    times = sheet.least_g / step.exact_g if step.exact_g > 0 else float("inf")
    return times if times <= MOST_LARGER else None


def weaker_percent(sheet: WeighingSheet) -> float:
    """Return by how much solvent that comes on top makes the batch weaker [%]."""
    return 100 * sheet.on_top_g / sheet.sections[-1].exact_g


def weaker_accords(sheet: WeighingSheet) -> list[Formula]:
    """Return the accords that come out weaker by the solvent of their dilutions."""
    return [s.formula for s in sheet.sections[:-1] if s.exact_g > s.wanted_g * (1 + 1e-9)]


def flammable(sheet: WeighingSheet) -> list[str]:
    """Return the names of the highly flammable solvents that are weighed or topped up with, sorted."""
    steps = [step for section in sheet.sections for step in section.pours]
    used = (sheet.carrier, *(s.solvent for s in steps), *(s.line.content for s in steps))
    return sorted({m.name for m in used if isinstance(m, Material) and m.slug in FLAMMABLE})
