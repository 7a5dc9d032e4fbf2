"""What a person asks of the balance, and the plan that answers it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from recommender.errors import BadValue
from recommender.evidence.catalogue import Catalogue
from recommender.formulas import formula as formulas
from recommender.formulas.usual import above_usual
from recommender.model import Bottle, Formula, Material
from recommender.regulation import CATEGORY, check, warnings
from recommender.weighing.bracket import bracketed, vials
from recommender.weighing.dilutions import HAIR
from recommender.weighing.plan import LARGEST_STEP_PERCENT, WeighingSheet, plan
from recommender.weighing.shares import shares
from recommender.weighing.summary import dilutions_for

USUAL_BATCH_G = 10.0


@dataclass(frozen=True, slots=True)
class WeighingRequest:
    """How a formula is weighed: masses in grams, shares in per cent by mass.

    `batch_g` of the formula (10 by default), or `finished_g` of the finished product; `dosage_percent` of
    the concentrate in the finished product, `share_percent` of the formula in the concentrate,
    `finished_share_percent` of the formula in the finished product: two of them give the third;
    `within_percent` the largest share of a line that one digit of the balance may be; `flat` opens accords;
    `as_written` leaves the lines in the order of the file. `bracket` names a material of the formula: the
    batch is then shared in three vials that differ in the dose of it alone. `category`, `market` and the day
    `on` (yyyy-mm-dd) of the finished product say which limits count where its share is known.
    """

    batch_g: float | None = None
    finished_g: float | None = None
    resolution_g: float = 0.01
    within_percent: float = LARGEST_STEP_PERCENT
    dosage_percent: float | None = None
    share_percent: float | None = None
    finished_share_percent: float | None = None
    carrier: str = "ethanol"
    flat: bool = False
    as_written: bool = False
    market: str = "any"
    bracket: str = ""
    category: str = CATEGORY
    on: str = ""


def weighed(
    formula: Formula,
    wanted: WeighingRequest,
    catalogue: Catalogue,
    bottles: Mapping[str, Sequence[Bottle]] | None = None,
) -> WeighingSheet:
    """Return the plan for a formula; its notes begin with the assumptions made when it was read.

    Parameters
    ----------
    formula : Formula
    wanted : WeighingRequest
    catalogue : Catalogue
    bottles : mapping of str -> sequence of Bottle, optional
        What is on the shelf, by material: what is there only as a dilution is weighed from that, and a
        bottle that has not enough is named in the notes.

    Raises
    ------
    BadValue, UnknownMaterial
    """
    present = [amount.material for amount in formulas.amounts(formula)]
    notes = [*warnings(present, catalogue.entries, wanted.market), *formula.notes]
    if wanted.flat and any(not isinstance(line.content, Material) for line in formula.lines):
        formula = formulas.opened(formula)
        notes.append("The accords inside are opened: all goes into one vessel.")
    found = shares(wanted.share_percent, wanted.dosage_percent, wanted.finished_share_percent)
    notes += above_usual(formulas.amounts(formula), found.of_concentrate_percent)
    batch_g = USUAL_BATCH_G if wanted.batch_g is None else wanted.batch_g
    if wanted.finished_g is not None:
        asked = f"{wanted.finished_g:g} g"
        if wanted.batch_g is not None:
            raise BadValue("finished_g", asked, "give {batch_g} or {finished_g}, not both")
        if found.of_finished_percent is None:
            raise BadValue("finished_g", asked, "it needs {dosage_percent} too")
        batch_g = wanted.finished_g * found.of_finished_percent / 100.0
    line = None
    if wanted.bracket:
        if wanted.dosage_percent is not None or wanted.finished_share_percent is not None:
            alone = "three vials are compared without a finished product; leave {dosage_percent} out"
            raise BadValue("bracket", wanted.bracket, alone)
        line = bracketed(formula, catalogue.find(wanted.bracket), found.of_concentrate_percent)
    carrier = catalogue.find(wanted.carrier)
    if carrier.kind != "solvent":
        raise BadValue("carrier", wanted.carrier, "it is no solvent; ethanol is the usual one")
    default, at_hand = catalogue.by_slug(formulas.DEFAULT_SOLVENT), _at_hand(bottles or {}, catalogue)
    sheet = plan(
        formula if line is None else line.base,
        batch_g if line is None else batch_g * (1.0 - line.whole),
        wanted.resolution_g,
        default,
        shares=found,
        carrier=carrier,
        within_percent=wanted.within_percent,
        as_written=wanted.as_written,
        at_hand=at_hand,
    )
    if line is not None:
        base_g = sheet.sections[-1].exact_g
        three, made = vials(line, batch_g, base_g, wanted.resolution_g, sheet.least_g, default, at_hand)
        sheet = replace(sheet, bracket=three, dilutions=(*sheet.dilutions, *made))
    report = None
    if found.of_finished_percent is not None:
        report = check(
            formulas.amounts(formula),
            catalogue,
            found.of_finished_percent,
            wanted.category,
            wanted.market,
            on=wanted.on,
        )
    return replace(sheet, notes=(*notes, *_bottle_notes(sheet, bottles or {})), report=report)


def preferred(formula: Formula, wanted: WeighingRequest, number: int, catalogue: Catalogue) -> Formula:
    """Return a formula with the dose of the vial that was preferred, by its blind number.

    Raises
    ------
    BadValue
        Without a bracket; no vial has this number.
    UnknownMaterial, WrongCas
    """
    if not wanted.bracket:
        raise BadValue("preferred", number, "it needs {bracket}, the line of which three vials were smelled")
    three = weighed(formula, wanted, catalogue).bracket
    assert three is not None, "a sheet with a bracket has vials"
    share = shares(wanted.share_percent).of_concentrate_percent
    return bracketed(formula, three.material, share).at(three.vial(number).parts)


def _at_hand(
    bottles: Mapping[str, Sequence[Bottle]], catalogue: Catalogue
) -> dict[str, tuple[float, Material]]:
    """Return what is there only as a dilution: key -> mass fraction and solvent of its strongest bottle."""
    found = {}
    for slug, own in bottles.items():
        strongest = max(own, key=lambda bottle: bottle.dilution_percent)
        if strongest.dilution_percent < 100:
            known = strongest.solvent in catalogue.index
            solvent = catalogue.by_slug(strongest.solvent if known else formulas.DEFAULT_SOLVENT)
            found[slug] = strongest.dilution_percent / 100.0, solvent
    return found


def _bottle_notes(sheet: WeighingSheet, bottles: Mapping[str, Sequence[Bottle]]) -> list[str]:
    """Return which lines are weighed from a dilution on the shelf, and which bottles have not enough."""
    notes: list[str] = []
    needed: dict[tuple[str, float], float] = {}
    names: dict[str, str] = {}
    for taken in _taken(sheet):
        slug, name = taken.material.slug, taken.material.name
        if slug not in bottles:
            continue
        percent = round(100.0 * taken.dilution, 6)
        before = needed.get((slug, percent), 0.0)
        needed[slug, percent] = max(before, taken.grams) if taken.shared else before + taken.grams
        names[slug] = name
        if taken.at_hand:
            label = max(bottles[slug], key=lambda bottle: bottle.dilution_percent).label
            only = f"{name} is on your shelf only at {percent:g} % ({label})"
            notes.append(f"{only}: it is weighed from that.")
    for (slug, percent), grams in needed.items():
        own = [bottle for bottle in bottles[slug] if abs(bottle.dilution_percent - percent) < 1e-6]
        left = [bottle.amount_g for bottle in own if bottle.amount_g is not None]
        if own and len(left) == len(own) and sum(left) < grams * (1 - HAIR):
            name = names[slug] if percent == 100 else f"{names[slug]} at {percent:g} %"
            notes.append(f"Not enough {name}: {grams:.3g} g needed, {sum(left):.3g} g on the shelf.")
    return list(dict.fromkeys(notes))


@dataclass(frozen=True, slots=True)
class _Taken:
    """So much of a material at a mass fraction that a sheet takes from a bottle.

    `at_hand` is whether that is a bottle's dilution and not the formula's; `shared` whether it goes into a
    dilution that serves several lines.
    """

    material: Material
    dilution: float
    grams: float
    at_hand: bool
    shared: bool


def _taken(sheet: WeighingSheet) -> Iterator[_Taken]:
    """Yield what each line of a sheet, and its bracket, takes from a bottle."""
    for pour in (pour for section in sheet.sections for pour in section.pours):
        content = pour.line.content
        if isinstance(content, Material):
            dilution, made = pour.at_hand or pour.line.dilution, dilutions_for(pour, sheet)
            grams = made[0].take_g if made else pour.exact_g
            yield _Taken(content, dilution, grams, pour.at_hand is not None, bool(made))
    if (three := sheet.bracket) is not None:
        first = next((step for step in sheet.dilutions if step.content == three.material), None)
        dilution = three.dilution if first is None else first.stronger
        grams = sum(vial.exact_g for vial in three.vials) if first is None else first.take_g
        yield _Taken(three.material, dilution, grams, three.at_hand is not None, False)
