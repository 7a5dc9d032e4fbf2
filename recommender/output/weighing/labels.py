"""What stands on the vessels of a weighing: name, version, dilution, batch, date, cautions."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from recommender.model import Formula, Line, Material
from recommender.output.weighing.wording import mass, share_percent, strength
from recommender.output.wording import join
from recommender.weighing import FLAMMABLE, Section, WeighingSheet

PURPOSE = "For the bench, not a label for sale."
MOST_NAMES = 3
"""Materials that a caution names."""
CAUTIONS = {
    "toxic vapour": "Harmful vapour",
    "sensitiser": "May sensitise skin",
    "phototoxic": "Burns skin in sunlight",
    "strong odour": "Very strong: open apart from other work",
    "oxidises": "Oxidises once opened",
}
"""Kinds of cautions that a vessel bears, the most harmful first, in plain words."""


@dataclass(frozen=True, slots=True)
class VesselLabel:
    """One label: what is in the vessel, `version` as stored (blank: not stored), how much, since when.

    `lot` is blank where it is to be written by hand.
    """

    name: str
    dilution: str
    batch: str
    day: str
    cautions: tuple[str, ...] = ()
    version: str = ""
    lot: str = ""


def vessels(sheet: WeighingSheet, version: str, day: date, lot: str = "") -> list[VesselLabel]:
    """Return a label for each vessel: the batch, the finished product, accords, dilutions, vials.

    `version` is under which the formula is stored, blank where it is not.
    """
    made, whole, on = [], sheet.sections[-1], day.isoformat()
    batch = poured(whole)
    inside = cautions(batch)
    name = sheet.formula.name
    if sheet.bracket is None:
        share = sheet.shares.of_concentrate_percent
        what = "concentrate" if share >= 100 else f"{share_percent(share / 100)} of the concentrate"
        made.append(VesselLabel(name, what, mass(whole.exact_g), on, inside, version, lot))
    else:
        made.append(VesselLabel(name, "base of three vials", mass(whole.exact_g), on, inside, "", lot))
        three = sheet.bracket
        both = cautions([*batch, three.material, *filter(None, (three.solvent,))])
        made += [
            VesselLabel(f"{vial.number}", "blind vial", mass(vial.base_g + vial.exact_g), on, both, "", lot)
            for vial in sorted(three.vials, key=lambda vial: vial.number)
        ]
    if sheet.finished_g is not None and sheet.carrier is not None:
        at = f"{share_percent((sheet.shares.of_finished_percent or 0.0) / 100)} in {sheet.carrier.name}"
        with_carrier = cautions([*batch, sheet.carrier])
        made.append(VesselLabel(name, at, mass(sheet.finished_g), on, with_carrier, version, lot))
    for section in sheet.sections[:-1]:
        here = cautions(poured(section))
        made.append(VesselLabel(section.formula.name, "accord", mass(section.exact_g), on, here, "", lot))
    for step in sheet.dilutions:
        content = step.content
        inner = [content] if isinstance(content, Material) else materials(content.lines)
        at = strength(step.dilution, step.solvent)
        made.append(
            VesselLabel(content.name, at, mass(step.made_g), on, cautions([*inner, step.solvent]), "", lot)
        )
    return made


def poured(section: Section) -> list[Material]:
    """Return the materials that go into a vessel, the solvents of the dilutions that are weighed too."""
    found = materials(pour.line for pour in section.pours)
    found += [pour.solvent for pour in section.pours if pour.solvent is not None]
    return list({one.slug: one for one in found}.values())


def materials(lines: Iterable[Line]) -> list[Material]:
    """Return the materials of lines, those of accords inside and the solvents of dilutions too."""
    found: list[Material] = []
    for line in lines:
        content = line.content
        found += materials(content.lines) if isinstance(content, Formula) else [content]
        found += [line.solvent] if line.solvent is not None else []
    return list({one.slug: one for one in found}.values())


def cautions(inside: Sequence[Material]) -> tuple[str, ...]:
    """Return the cautions of a vessel in plain words, each with the first materials that it is about."""
    lines = []
    if burn := [one.name for one in inside if one.slug in FLAMMABLE]:
        lines.append(f"Highly flammable: {join(dict.fromkeys(burn))}.")
    for kind, words in CAUTIONS.items():
        names = dict.fromkeys(one.name for one in inside if any(c.kind == kind for c in one.cautions))
        if names:
            more = len(names) - MOST_NAMES
            shown = list(names)[:MOST_NAMES] + ([f"{more} more"] if more > 0 else [])
            lines.append(f"{words}: {join(shown)}.")
    return tuple(lines)
