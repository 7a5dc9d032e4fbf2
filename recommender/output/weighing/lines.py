"""A weighing sheet as lines of text, with notes to read before weighing."""

from collections.abc import Mapping

from recommender.output import text
from recommender.output.amount_sentences import usual_parts
from recommender.output.limit_sentences import decided
from recommender.output.weighing.wording import (
    called,
    grams,
    mass,
    plain,
    recipe,
    share_percent,
    shown,
    strength,
)
from recommender.output.wording import join, parts_of
from recommender.weighing import (
    Bracket,
    Section,
    WeighingSheet,
    WeighingStep,
    concentrate_g,
    flammable,
    rounding_percent,
    times_larger,
    weaker_accords,
    weaker_percent,
)

HEADS = {
    "name": "material", "dilution": "as", "parts": "parts of 1000", "weigh": "weigh", "off": "rounding",
    "product": "in product", "cautions": "caution",
}  # fmt: skip

CARE = (
    "Wear gloves, ventilate, and read the safety data sheet of the lot in hand.",
    "Check the current Standards and your local law before anything is used on skin; "
    "a qualified person signs off.",
)


def sheet_lines(sheet: WeighingSheet) -> list[str]:
    """Return the sheet as lines: what to make first, each section, the finished product."""
    out: list[str] = []
    if sheet.dilutions:
        out += ["Dilutions to make first", ""]
        out += [f"  {called(step.content)}: {recipe(step, sheet)}" for step in sheet.dilutions]
        out.append("")
    for section in sheet.sections:
        out += [heading(section, sheet), ""]
        inner = section.formula is not sheet.formula
        left_out = {"product"} if inner or not sheet.shares.of_finished_percent else set()
        rows = [shown(pour, section, sheet) for pour in section.pours]
        for row in rows:
            row["dilution"] += f", {row['instead']}" if row["instead"] else ""
        heads = {key: title for key, title in HEADS.items() if key not in left_out}
        right = ("parts", "weigh", "off", "product")
        out += text.rows(rows, heads, ("dilution", "cautions"), right, "weigh")
        out += [whole(section, sheet), ""]
    lines = product_lines(sheet) if sheet.bracket is None else bracket_lines(sheet, sheet.bracket)
    while out and not lines and not out[-1]:
        out.pop()
    return [*out, *lines]


def heading(section: Section, sheet: WeighingSheet) -> str:
    """Return the heading of a section: the batch, or an accord to make first."""
    made = grams(section.exact_g, sheet.resolution_g)
    if section.formula is sheet.formula:
        more = sheet.on_top_g + sheet.off_top_up_g
        extra = f" plus {grams(more, sheet.resolution_g)} g of solvent from the dilutions" if more else ""
        batch = grams(sheet.batch_g, sheet.resolution_g)
        return f"{section.formula.name}: {batch} g{extra}, balance to {plain(sheet.resolution_g)} g"
    needed = grams(section.needed_g, sheet.resolution_g)
    return f"Make first: {section.formula.name} (accord), {made} g, of which {needed} g are used"


def whole(section: Section, sheet: WeighingSheet) -> str:
    """Return the total of a section and its rounding error."""
    off = rounding_percent(section.weighed_g, section.exact_g) or 0.0
    moved = "no rounding error" if abs(off) < 5e-4 else f"rounding error {off:+.2g} %"
    return f"{grams(section.weighed_g, sheet.resolution_g)} g in total, {moved}"


def product_lines(sheet: WeighingSheet) -> list[str]:
    """Return the share of the accord in concentrate and product, and what the product still needs."""
    share, lines = sheet.shares, []
    name, of_concentrate = sheet.formula.name, share.of_concentrate_percent / 100
    if of_concentrate < 1.0:
        lines.append(
            f"{name} is {share_percent(of_concentrate)} of the concentrate, "
            f"enough for {mass(concentrate_g(sheet))} of it."
        )
    if sheet.finished_g is not None:
        dosage = share_percent((share.dosage_percent or 0.0) / 100)
        of_finished = share_percent((share.of_finished_percent or 0.0) / 100)
        if of_concentrate < 1.0:
            lines.append(
                f"At a dosage of {dosage} it is {of_finished} of the finished product; "
                f"conversely, {of_finished} of the product is {share_percent(of_concentrate)} "
                "of the concentrate."
            )
        else:
            lines.append(f"{name} is the whole concentrate, {dosage} of the finished product.")
        assert sheet.carrier is not None
        less = sheet.off_top_up_g > 0
        lines.append(
            f"Finished product: {mass(sheet.finished_g)}. Top up with {mass(sheet.top_up_g or 0.0)} "
            f"{sheet.carrier.name}"
            + (f" ({mass(sheet.off_top_up_g)} is already in the dilutions)." * less or ".")
        )
    return lines


def bracket_lines(sheet: WeighingSheet, found: Bracket) -> list[str]:
    """Return what goes into the three vials, what to smell, and the key at the end."""
    name, at = found.material.name, strength(found.dilution, found.solvent)
    usual = f", {usual_parts(found.usual)}" if found.usual else ""
    low_first = []
    for vial in found.vials:
        weigh = f"{grams(vial.grams, sheet.resolution_g)} g"
        if found.solvent is not None and vial.fill_g:
            weigh += f" and {grams(vial.fill_g, sheet.resolution_g)} g {found.solvent.name}"
        low_first.append(f"  {vial.dose + ':':<10} {weigh}: {parts_of(vial.parts)} parts of 1000")
    base = grams(found.vials[0].base_g, sheet.resolution_g)
    return [
        f"Three vials: share the base, {base} g in each, and add {name} ({at})",
        *low_first,
        f"{name} is {parts_of(found.present)} parts of 1000 in the formula{usual}.",
        "",
        "Number the vials as the key says, or let somebody else do it, and put the key away.",
        f"Smell them in this order: {join([str(number) for number in found.order], 'then')}. "
        "Write down the number that is best.",
        "",
        "- - - the key, to be cut off - - -",
        *(f"  {vial.number} is {vial.dose}" for vial in sorted(found.vials, key=lambda v: v.number)),
    ]


def notes(sheet: WeighingSheet) -> list[str]:
    """Return what to know before weighing."""
    found = [] if sheet.report is None else [decided(sheet.report)]
    if sheet.dilutions:
        found.append(
            f"Below {mass(sheet.least_g)} one digit of the balance is more than "
            f"{share_percent(sheet.resolution_g / sheet.least_g)} of a line: such lines are weighed as "
            "dilutions. Check that a dilution is clear before using it."
        )
    for section in sheet.sections:
        for pour in section.pours:
            if pour.too_little:
                found.append(_too_little(pour, sheet))
    if sheet.on_top_g:
        found.append(
            f"The dilutions add {mass(sheet.on_top_g)} of solvent: no solvent line of the formula has "
            f"room for it, so the batch is {share_percent(weaker_percent(sheet) / 100)} weaker. "
            "A larger batch or a finer balance adds less."
        )
    found += [
        f"{accord.name} (accord) is weaker by the solvent of its dilutions; the amount used makes up for it."
        for accord in weaker_accords(sheet)
    ]
    found.append(
        "Order: solids and resins first, so that the rest dissolves them; then from the smallest amount up, "
        "where a mistake costs least; solvents last."
    )
    if names := flammable(sheet):
        found.append(f"Highly flammable: {join(names)}. No flames or sparks; ventilate well.")
    return [*found, *CARE]


def _too_little(pour: WeighingStep, sheet: WeighingSheet) -> str:
    name = called(pour.line.content)
    times = times_larger(pour, sheet)
    if times is None:
        return f"There is too little {name} to weigh at any dilution: remove it, or increase its parts."
    at = share_percent(pour.dilution)
    return (
        f"There is too little {name} to weigh even at {at}: "
        f"the batch would have to be {times:.2g} times as large."
    )


def as_mapping(sheet: WeighingSheet) -> Mapping[str, str]:
    """Return the fields of the head of a printed sheet that are already filled in."""
    return {
        "batch": mass(sheet.sections[-1].exact_g),
        "balance": f"to {plain(sheet.resolution_g)} g",
        "finished product": mass(sheet.finished_g) if sheet.finished_g else "",
    }
