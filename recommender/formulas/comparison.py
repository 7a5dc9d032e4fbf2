"""Strips side by side, first amounts, two formulas or versions hour by hour."""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from recommender import regulation
from recommender.chemistry import odour_strength
from recommender.errors import BadValue, UnknownFacet
from recommender.evaporation import CARRIER, Array, as_read, neat_or_diluted, parts_as_read, together
from recommender.evaporation.course import course, masked
from recommender.evidence.catalogue import plain
from recommender.formulas import dosing
from recommender.formulas import formula as formulas
from recommender.formulas.drydown import FormulaDrydown
from recommender.formulas.usual import checked_share, usual_range
from recommender.model import Material, Suggestion
from recommender.palette import Palette
from recommender.similarity.phrases import Words, exactly, texts

LONGEST_H = 24.0 * 365 * 10
CALLED_SO = 9
"""A material answers more to its own name than to any smell."""
APART = 0.35
"""Mean likeness to the others below which a strip stands apart."""
HIDDEN = 0.45
"""A material that keeps less than this of its strength beside the others is masked."""
LOUD = 1.5
"""One that is so many times stronger than the next overpowers."""
SMALL_DOSE = 10.0
"""Parts per thousand at which a suggestion without a dose is simulated."""
SHOWN_HOURS = (1 / 60, 0.25, 1.0, 3.0, 8.0, 24.0, 72.0, 168.0)
"""Hours that a perfumer comes back to a strip."""


def first_parts(suggestion: Suggestion) -> float:
    """Return the parts per thousand at which to try a suggestion first, `SMALL_DOSE` if it has no dose."""
    return suggestion.dose.first_try if suggestion.dose else SMALL_DOSE


def after_first_try(before: FormulaDrydown, suggestion: Suggestion) -> FormulaDrydown:
    """Return a formula with a suggestion added at its `first_parts`."""
    members = suggestion.members or ((suggestion.material, 1.0),)
    added = first_parts(suggestion) / 1000.0
    return before.plus([(material, share * added) for material, share in members])


@dataclass(frozen=True, slots=True)
class StripComparison:
    """One material beside others: alone and beside them, 0-100; mean likeness; what sticks out."""

    material: Material
    alone: float | None
    beside: float | None
    likeness: float
    nearest: str
    own_facets: tuple[str, ...]
    verdict: str


def strips(materials: Sequence[Material], palette: Palette, hours: float = 1 / 60) -> list[StripComparison]:
    """Compare strips of the same dilution (1 %) at one hour: which dominates, which is hidden.

    Raises
    ------
    BadValue
        Fewer than two materials; an hour before the strips were dipped or after ten years.
    """
    if len(materials) < 2:
        only = materials[0].name if materials else ""
        raise BadValue("material", only, "name two or more to compare their strips")
    if not 0 <= hours <= LONGEST_H:
        raise BadValue("hours", f"{hours:g}", "a strip is smelled between 0 h and ten years")
    parts = [parts_as_read(material, palette.conditions) for material in materials]
    diluted = neat_or_diluted(parts, 0.01, conditions=palette.conditions, carrier=CARRIER)
    alone = together(diluted.at([hours]))[:, 0]
    whole = float(together(alone))
    beside = masked(alone, np.full(len(alone), whole))
    rows = [palette.catalogue.index[m.slug] for m in materials]
    vectors = palette.space.vectors[rows]
    likeness = palette.space.alike(vectors, vectors)
    np.fill_diagonal(likeness, np.nan)
    found = []
    for place, material in enumerate(materials):
        mean = float(np.nanmean(likeness[place]))
        nearest = materials[int(np.nanargmax(likeness[place]))].name
        others = {x.facet for i, m in enumerate(materials) if i != place for x in m.labels}
        own = tuple(x.facet for x in material.labels if x.strength > 1 and x.facet not in others)
        known = material.curve is not None
        verdict = _verdict(place, alone, beside, mean, float(np.nanmax(likeness[place])))
        found.append(
            StripComparison(
                material,
                float(alone[place]) if known else None,
                float(beside[place]) if known else None,
                mean,
                nearest,
                own,
                verdict if known else "strength unknown",
            )
        )
    return found


def _verdict(place: int, alone: Array, beside: Array, mean: float, nearest: float) -> str:
    if alone[place] < odour_strength.JUST_THERE:
        return "gone, or too faint to tell"
    findings = []
    others = np.delete(alone, place)
    if alone[place] > LOUD * others.max():
        findings.append("overpowers the rest")
    elif beside[place] < HIDDEN * alone[place] or alone[place] < others.max() / 4:
        findings.append("is hidden by the rest")
    if mean < APART:
        findings.append("stands apart")
    elif nearest > 0.95:
        findings.append("does much the same work as its neighbour")
    return ", ".join(findings) or "sits well"


@dataclass(frozen=True, slots=True)
class FirstAmount:
    """A first-trial amount: neat parts per thousand, and how to weigh it in the given batch.

    `held_back` is why there is less or none of it: a prohibition, or the substance whose limit cut it, or
    usual use. `usual` are the ends of its usual range [parts per thousand], None where none is on record.
    """

    material: Material
    balance: float
    parts: float | None
    dilution_percent: float | None
    grams: float | None
    held_back: str = ""
    usual: tuple[float, float] | None = None


def dose(
    materials: Sequence[Material],
    balance: Mapping[str, float],
    palette: Palette,
    batch_g: float = 10.0,
    resolution_g: float = 0.01,
    use: regulation.ProductUse | None = None,
    share_percent: float | None = None,
) -> list[FirstAmount]:
    """Return first-trial amounts for a wanted balance of materials or facets.

    Parameters
    ----------
    materials : sequence of Material
    balance : mapping of str -> float
        Facet or material name -> how strong it should seem; 1 where nothing is given. A facet goes to the
        materials that show it most.
    batch_g, resolution_g : float
        Size of the trial and last digit of the balance [g].
    use : ProductUse, optional
        Dosage, category and market; limits bound the amounts where a dosage is given. For what is
        prohibited in the market there is no amount.
    share_percent : float, optional
        What share of a concentrate the trial is [% by mass], the whole by default: usual use bounds the
        amounts, which then add up to less than a thousand.

    Raises
    ------
    BadValue
        A name in the balance that no material answers to; a batch or a balance of no mass.
    """
    for field, mass_g in (("batch_g", batch_g), ("resolution_g", resolution_g)):
        if not 0 < mass_g < math.inf:
            raise BadValue(field, f"{mass_g:g} g", "it is a mass above 0 g")
    wanted = _balanced(materials, balance, palette)
    product = use or regulation.ProductUse()
    barred = [regulation.prohibitions(m, palette.catalogue.entries, product.market) for m in materials]
    smelled = [as_read(m, palette.conditions) for m in materials]
    allowed = [m for m, prohibited in zip(smelled, barred, strict=True) if not prohibited]
    amounts = iter(dosing.first_amounts(allowed, [w for w, h in zip(wanted, barred, strict=True) if not h]))
    first = [None if prohibited else next(amounts) for prohibited in barred]
    share = checked_share(share_percent)
    usual = [usual_range(material, share) for material in materials]
    bounded = dosing.within_usual(first, [one and one[1] for one in usual])
    cut = [(parts, "") for parts in bounded]
    if product.dosage_percent is not None:
        cut = regulation.reduced(materials, bounded, palette.catalogue, product)
    factor = _lowered_by(first, bounded)
    found = []
    for place, (material, prohibited, (parts, by)) in enumerate(zip(materials, barred, cut, strict=True)):
        asked, before = bounded[place], first[place]
        why = "prohibited" if prohibited else f"cut to the limit of {by}" if by else ""
        if not why and asked and before and asked < before * factor * (1.0 - 1e-9):
            why = "cut to the high end of usual use"
        percent, grams = None, None
        if parts is not None:
            advised = material.working_percent
            percent = dosing.working_dilution(parts, parts, parts, advised, batch_g, resolution_g)
            grams = parts / 1000.0 * batch_g / ((percent or 100.0) / 100.0)
        found.append(FirstAmount(material, wanted[place], parts, percent, grams, why, usual[place]))
    return found


def _balanced(materials: Sequence[Material], balance: Mapping[str, float], palette: Palette) -> list[float]:
    """Return how strong each material should seem; raises `BadValue` for a name that none answers to."""
    wanted = [1.0] * len(materials)
    for name, value in balance.items():
        claims = [_answers(m, name, palette) for m in materials]
        hits = [i for i, claim in enumerate(claims) if claim and claim == max(claims)]
        if not hits:
            raise BadValue("balance", name, "none of the materials smells of it or is called so")
        for i in hits:
            wanted[i] = value
    return wanted


def _lowered_by(first: Sequence[float | None], bounded: Sequence[float | None]) -> float:
    """Return the factor by which all amounts were lowered together."""
    return max(
        (after / before for before, after in zip(first, bounded, strict=True) if before and after),
        default=1.0,
    )


def out_of_thousand(amounts: Sequence[FirstAmount]) -> float | None:
    """Return to how many parts first amounts add up where usual use or limits leave less than a thousand."""
    total = sum(one.parts for one in amounts if one.parts is not None)
    return total if 0 < total < 999.5 else None


def _answers(material: Material, name: str, palette: Palette) -> int:
    """Return how strongly a material answers to a name: 9 if it is called so, else as it smells of it."""
    row = palette.catalogue.by_name.get(plain(name))
    if row is not None and palette.catalogue.materials[row].slug == material.slug:
        return CALLED_SO
    if row is not None and not known_facet(name, palette):
        return 0
    facets = palette.smell(name)
    return max((label.strength for label in material.labels if label.facet in facets), default=0)


def known_facet(name: str, palette: Palette) -> bool:
    """Return whether a word is one for a smell."""
    try:
        return bool(exactly(palette.phrase(name)).facets)
    except UnknownFacet:
        return False


def balance_of(words: Words) -> dict[str, float]:
    """Read a balance such as "almond 2, vanilla 1", or several that add up.

    Raises
    ------
    BadValue
        A part is not a name with a positive number, or a name is given twice.
    """
    found: dict[str, float] = {}
    for part in filter(None, (p.strip() for text in texts(words) for p in re.split(r"[,;]", text))):
        hit = re.fullmatch(r"(.+?)\s*[:= ]\s*(\d+(?:\.\d+)?)", part)
        if not hit or float(hit[2]) <= 0:
            raise BadValue("balance", part, 'write a smell and a number, such as "almond 2, vanilla 1"')
        if (name := hit[1].strip()) in found:
            raise BadValue("balance", name, "it is given twice; say once how strong it should seem")
        found[name] = float(hit[2])
    return found


@dataclass(frozen=True)
class Comparison:
    """Two formulas hour by hour: facet -> intensities of each at the hours."""

    names: tuple[str, str]
    hours: tuple[float, ...]
    facets: Mapping[str, tuple[tuple[float, ...], tuple[float, ...]]]
    likeness: tuple[float, ...]


def compare(one: FormulaDrydown, other: FormulaDrydown, hours: Sequence[float] = SHOWN_HOURS) -> Comparison:
    """Follow two formulas side by side; facets that differ most come first."""
    found = [course(drydown.film, np.array(hours)) for drydown in (one, other)]
    soft = [odour_strength.soft(c.facets) for c in found]
    moved = np.abs(soft[0] - soft[1]).sum(axis=1) / np.maximum((soft[0] + soft[1]).sum(axis=1), 1e-12)
    apart = np.abs(found[0].facets - found[1].facets).max(axis=0)
    loud = np.maximum(found[0].facets.max(axis=0), found[1].facets.max(axis=0))
    order = [k for k in np.argsort(-apart, kind="stable") if loud[k] >= odour_strength.JUST_THERE]
    rows = {
        one.film.facets[k]: (tuple(found[0].facets[:, k].tolist()), tuple(found[1].facets[:, k].tolist()))
        for k in order
    }
    names = one.formula.name, other.formula.name
    if names[0] == names[1]:
        names = f"{names[0]} (first)", f"{names[1]} (second)"
    return Comparison(
        names,
        tuple(hours),
        rows,
        tuple((1.0 - moved).tolist()),
    )


@dataclass(frozen=True, slots=True)
class MovedLine:
    """One material in two versions: neat parts per thousand of each, None where it is not in it."""

    material: Material
    before: float | None
    after: float | None


@dataclass(frozen=True)
class VersionDiff:
    """Two versions of a formula: what was moved, most first, and both hour by hour.

    `room` is the factor by which the parts of all others changed, only to make room.
    """

    moved: tuple[MovedLine, ...]
    room: float
    side: Comparison


LEAST_MOVED = 0.005
"""What moved by a smaller share than the others was not moved."""


def diff(one: FormulaDrydown, other: FormulaDrydown, hours: Sequence[float] = SHOWN_HOURS) -> VersionDiff:
    """Compare two versions in neat parts per thousand, solvents left out, and in facets over time.

    Most materials change only because the parts add up to a thousand again: that factor is reported once, and
    they are left out.
    """
    before, after = (
        {a.material.slug: a for a in formulas.per_thousand(drydown.formula)} for drydown in (one, other)
    )
    both = [after[slug].mass_fraction / before[slug].mass_fraction for slug in before if slug in after]
    room = float(np.median(both)) if both else 1.0
    rows = []
    for slug, amount in {**before, **after}.items():
        old = before[slug].mass_fraction if slug in before else None
        new = after[slug].mass_fraction if slug in after else None
        if old is None or new is None or abs(new / old / room - 1.0) > LEAST_MOVED:
            rows.append(MovedLine(amount.material, old, new))
    rows.sort(key=lambda row: (-abs((row.after or 0.0) - (row.before or 0.0)), row.material.name))
    return VersionDiff(tuple(rows), room, compare(one, other, hours))
