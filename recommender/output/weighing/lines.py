"""A weighing plan as lines to read, and what a person should know before weighing."""

import sys
from collections.abc import Iterator, Mapping

from recommender.model import Material
from recommender.output import text
from recommender.output.weighing.wording import (
    FLAMMABLE,
    called,
    grams,
    mass,
    off_percent,
    percent,
    plain,
    recipe,
    shown,
)
from recommender.output.wording import join
from recommender.weighing import Section, WeighingSheet, WeighingStep

HEADS = {
    "name": "material", "dilution": "as", "parts": "parts of 1000", "weigh": "weigh", "off": "rounding",
    "product": "in product", "mind": "mind",
}  # fmt: skip

CARE = (
    "Wear gloves, work with air, read the safety data sheet of the lot in hand.",
    "Check the current Standards and your local law before anything is worn on skin; "
    "a qualified person signs off.",
)


def show(sheet: WeighingSheet) -> None:
    """Print the plan: what to make first, each section, the finished product."""
    out: list[str] = []
    if sheet.dilutions:
        out += ["Dilutions to make first", ""]
        out += [f"  {called(step.content)}: {recipe(step, sheet)}" for step in sheet.dilutions]
        out.append("")
    for section in sheet.sections:
        sys.stdout.write("\n".join([*out, heading(section, sheet), ""]) + "\n")
        inner = section.formula is not sheet.formula
        left_out = {"product"} if inner or not sheet.shares.of_finished_percent else set()
        rows = [shown(pour, sheet) for pour in section.pours]
        for row in rows:
            row["dilution"] += f", {row['instead']}" if row["instead"] else ""
        heads = {key: title for key, title in HEADS.items() if key not in left_out}
        text.rows(rows, heads, wide=("dilution", "mind"), right=("parts", "weigh", "off", "product"))
        out = [whole(section, sheet), ""]
    sys.stdout.write("\n".join([*out, *product_lines(sheet)]).rstrip() + "\n")


def heading(section: Section, sheet: WeighingSheet) -> str:
    """Return what a section is: the batch, or an accord made first."""
    made = grams(section.exact_g, sheet.resolution_g)
    if section.formula is sheet.formula:
        more = sheet.on_top_g + sheet.off_top_up_g
        extra = f" and {grams(more, sheet.resolution_g)} g solvent of the dilutions" if more else ""
        batch = grams(sheet.batch_g, sheet.resolution_g)
        return f"{section.formula.name}: {batch} g{extra}, balance to {plain(sheet.resolution_g)} g"
    needed = grams(section.needed_g, sheet.resolution_g)
    return f"Make first: {section.formula.name} (accord), {made} g, of which {needed} g goes in"


def whole(section: Section, sheet: WeighingSheet) -> str:
    """Return what a section adds up to and how far rounding has moved it."""
    off = off_percent(section.weighed_g, section.exact_g) or 0.0
    moved = "no rounding error" if abs(off) < 5e-4 else f"rounding {off:+.2g} %"
    return f"{grams(section.weighed_g, sheet.resolution_g)} g in all, {moved}"


def product_lines(sheet: WeighingSheet) -> list[str]:
    """Return the accord's shares both ways, and what the finished product still needs."""
    share, lines = sheet.shares, []
    name, of_concentrate = sheet.formula.name, share.of_concentrate_percent / 100
    if of_concentrate < 1.0:
        whole_g = sheet.batch_g / of_concentrate
        lines.append(
            f"{name} is {percent(of_concentrate)} of the concentrate: for {mass(whole_g)} of concentrate."
        )
    if sheet.finished_g is not None:
        dosage = percent((share.dosage_percent or 0.0) / 100)
        of_finished = percent((share.of_finished_percent or 0.0) / 100)
        if of_concentrate < 1.0:
            lines.append(
                f"At a dosage of {dosage} it is {of_finished} of the finished product; back: {of_finished} "
                f"of the product is {percent(of_concentrate)} of the concentrate."
            )
        else:
            lines.append(f"{name} is the whole concentrate, {dosage} of the finished product.")
        assert sheet.carrier is not None
        less = sheet.off_top_up_g > 0
        lines.append(
            f"Finished product: {mass(sheet.finished_g)}. Top up with {mass(sheet.top_up_g or 0.0)} "
            f"{sheet.carrier.name}"
            + (f" ({mass(sheet.off_top_up_g)} already came with the dilutions)." * less or ".")
        )
    return lines


def notes(sheet: WeighingSheet) -> list[str]:
    """Return what a person should know before weighing."""
    told = []
    if sheet.dilutions:
        told.append(
            f"Below {mass(sheet.least_g)} one digit of the balance is more than "
            f"{percent(sheet.resolution_g / sheet.least_g)} of a line: such lines are weighed as dilutions. "
            "Look whether a dilution is clear before it is used."
        )
    for section in sheet.sections:
        for pour in section.pours:
            if pour.too_little:
                told.append(_too_little(pour, section, sheet))
    if sheet.on_top_g:
        told.append(
            f"{mass(sheet.on_top_g)} of solvent comes on top with the dilutions: no solvent line could give "
            f"it up, so the batch is {percent(sheet.on_top_g / sheet.sections[-1].exact_g)} weaker. "
            "A larger batch or a finer balance needs less."
        )
    accords = [s for s in sheet.sections[:-1] if s.exact_g > s.wanted_g * (1 + 1e-9)]
    told += [
        f"{s.formula.name} (accord) comes out weaker by the solvent of its dilutions; the amount that goes "
        "in makes up for it."
        for s in accords
    ]
    told.append(
        "Order: solids and resins first, so that the rest dissolves them; then the smallest first, for a "
        "slip there costs least; solvents last."
    )
    if burning := sorted({m.name for m in _solvents(sheet) if m.slug in FLAMMABLE}):
        told.append(f"Highly flammable: {join(burning)}. No flame, no sparks, good air.")
    return [*told, *CARE]


def _solvents(sheet: WeighingSheet) -> Iterator[Material]:
    pours = [pour for section in sheet.sections for pour in section.pours]
    for held in (sheet.carrier, *(p.solvent for p in pours), *(p.line.content for p in pours)):
        if isinstance(held, Material):
            yield held


def _too_little(pour: WeighingStep, section: Section, sheet: WeighingSheet) -> str:
    name = called(pour.line.content)
    times = sheet.least_g / pour.exact_g if pour.exact_g > 0 else float("inf")
    if times > 1e6:
        return f"{name} is too little to weigh at any dilution: take it out, or write more of it."
    at = percent(pour.dilution)
    return (
        f"{name} is too little to weigh even at {at}: the batch would have to be {times:.2g} times as large."
    )


def as_mapping(sheet: WeighingSheet) -> Mapping[str, str]:
    """Return the head of a printed sheet: what stands in it already."""
    return {
        "batch": mass(sheet.sections[-1].exact_g),
        "balance": f"to {plain(sheet.resolution_g)} g",
        "finished product": mass(sheet.finished_g) if sheet.finished_g else "",
    }
