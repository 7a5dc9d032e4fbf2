"""Three vials around one line of a formula: low, first try and high, from one base, under blind numbers."""

import hashlib
import random
from collections.abc import Mapping
from dataclasses import dataclass, replace

from recommender.errors import BadValue
from recommender.formulas import dosing
from recommender.formulas import formula as formulas
from recommender.formulas.usual import UsualUse, present_parts, usual_range
from recommender.model import Dose, Formula, Line, Material
from recommender.weighing.dilutions import LADDER, DilutionStep, rounded, steps, weighable

DOSES = ("low", "first try", "high")
ORDERS = ((0, 2, 1), (1, 0, 2), (1, 2, 0), (2, 0, 1))
"""Orders of smelling: neither rising nor falling in dose."""
MOST_OF_THE_LINE = 0.9
"""A vial has at most this share of what the line alone would be."""


@dataclass(frozen=True, slots=True)
class Vial:
    """One vial: its blind number, which dose it is, and neat parts per thousand of it.

    `exact_g` of the line go on `base_g` of the base; `grams` is what the balance shows. `fill_g` of the
    solvent make it as thin as the vial with the highest dose, so that they differ in the dose alone.
    """

    number: int
    dose: str
    parts: float
    base_g: float
    exact_g: float
    grams: float
    fill_g: float


@dataclass(frozen=True, slots=True)
class Bracket:
    """Three vials of a formula, from low to high, and the numbers in the order of smelling.

    `present` is the dose as the formula has it, `usual` its usual range [parts per thousand], None where none
    is on record; the line is weighed at a mass fraction `dilution` in `solvent` (None: neat). `at_hand` is
    the mass fraction of the bottle from which it is weighed or diluted where that is not the formula's.
    """

    material: Material
    present: float
    usual: tuple[float, float] | None
    dilution: float
    solvent: Material | None
    vials: tuple[Vial, ...]
    order: tuple[int, ...]
    at_hand: float | None = None

    def vial(self, number: int) -> Vial:
        """Return the vial of a number; raises `BadValue`."""
        for vial in self.vials:
            if vial.number == number:
                return vial
        known = ", ".join(str(vial.number) for vial in sorted(self.vials, key=lambda v: v.number))
        raise BadValue("preferred", number, f"it is one of {known}")


@dataclass(frozen=True, slots=True)
class BracketedLine:
    """A material of a formula, and the formula without it, its base.

    `neat` is the mass fraction of the material, `whole` that of its lines with their solvent, `line` the
    first of them.
    """

    formula: Formula
    material: Material
    base: Formula
    neat: float
    whole: float
    line: Line
    share_percent: float

    @property
    def present(self) -> float:
        """Neat parts per thousand as the formula has it."""
        return 1000.0 * self.neat

    @property
    def usual(self) -> UsualUse | None:
        """Usual use; what naturals of the base bring counts as present."""
        usual = usual_range(self.material, self.share_percent)
        brought = present_parts(formulas.amounts(self.formula)).get(self.material.slug, 0.0) - self.present
        return None if usual is None else UsualUse(*usual, max(brought, 0.0))

    @property
    def doses(self) -> Dose:
        """Low, first try and high, around the present dose and within usual use.

        The present dose is the first try, of which the high one is the double, as far as usual use allows; a
        dose above usual use is the high one.
        """
        usual, present = self.usual, self.present
        bound = MOST_OF_THE_LINE * 1000.0 * self.neat / self.whole
        if usual is None:
            return dosing.dose_range(2.0 * present, bound)
        if present >= usual.room:
            return dosing.dose_range(present, 1000.0)
        return dosing.dose_range(max(2.0 * present, 2.0 * usual.least), bound, usual=usual)

    def factor(self, parts: float) -> float:
        """Return by which factor the lines change for so many neat parts per thousand of the whole."""
        return parts * (1.0 - self.whole) / (1000.0 * self.neat - parts * self.whole)

    def at(self, parts: float) -> Formula:
        """Return the formula with so many neat parts per thousand of the material, all else as it is."""
        return formulas.times(self.formula, {self.material.slug: self.factor(parts)})


def bracketed(formula: Formula, material: Material, share_percent: float) -> BracketedLine:
    """Return a line of a formula that is such a share of a concentrate [%], ready to be varied.

    Raises
    ------
    BadValue
        The material is not in the formula, is a solvent, or is all that is in it.
    """
    amounts = {amount.material.slug: amount for amount in formulas.amounts(formula)}
    if material.slug not in amounts:
        raise BadValue("bracket", material.name, f"it is not in {formula.name}; name one of its lines")
    if material.kind == "solvent":
        raise BadValue("bracket", material.name, "it is a solvent; name a line that smells")
    base = formulas.without(formula, material.slug)
    if not base.lines:
        raise BadValue("bracket", material.name, f"there is nothing else in {formula.name}")
    total = sum(line.parts for line in formula.lines)
    whole = 1.0 - sum(line.parts for line in base.lines) / total
    line = next(x for x in formulas.opened(formula).lines if x.content == material)
    base = replace(base, name=f"{formula.name} without {material.name}")
    neat = amounts[material.slug].mass_fraction
    return BracketedLine(formula, material, base, neat, whole, line, share_percent)


def blind_numbers(found: BracketedLine) -> tuple[list[int], tuple[int, ...]]:
    """Return three numbers of three digits, and the order of smelling: always the same for a formula."""
    written = repr((found.material.slug, formulas.rows(formulas.opened(found.formula))))
    chance = random.Random(int(hashlib.sha256(written.encode()).hexdigest(), 16))
    numbers = chance.sample(range(100, 1000), len(DOSES))
    return numbers, tuple(numbers[place] for place in chance.choice(ORDERS))


def vials(
    found: BracketedLine,
    batch_g: float,
    base_g: float,
    resolution_g: float,
    least_g: float,
    default_solvent: Material,
    at_hand: Mapping[str, tuple[float, Material]] | None = None,
) -> tuple[Bracket, list[DilutionStep]]:
    """Return the three vials of a batch, and the dilutions of the line to make first.

    Parameters
    ----------
    found : BracketedLine
    batch_g, base_g : float
        Mass of all three as the formula has it, and of the base as it is weighed [g].
    resolution_g, least_g : float
        Last digit and least load of the balance [g].
    default_solvent : Material
        For a dilution where the line has none.
    at_hand : mapping of str -> (float, Material), optional
        What is there only as a dilution: key -> mass fraction, solvent; a neat line is weighed from that.
    """
    doses = found.doses
    parts = (doses.low, doses.first_try, doses.high)
    neat_g = [batch_g / 3.0 * found.neat * found.factor(each) for each in parts]
    stronger, line_solvent = found.line.dilution, found.line.solvent
    bottle = (at_hand or {}).get(found.material.slug) if stronger == 1.0 else None
    if bottle is not None:
        stronger, line_solvent = bottle
    advised = found.material.working_percent
    start = stronger if advised is None else min(stronger, advised / 100.0)
    dilution = weighable(neat_g[0], start, least_g) or min(LADDER[-1], start)
    solvent = None if dilution == 1.0 else line_solvent or default_solvent
    numbers, order = blind_numbers(found)
    exact_g = [neat / dilution for neat in neat_g]
    fill_g = [0.0 if solvent is None else max(exact_g) - each for each in exact_g]
    filled = tuple(
        Vial(
            numbers[place],
            dose,
            parts[place],
            base_g / 3.0,
            exact_g[place],
            rounded(exact_g[place], resolution_g),
            rounded(fill_g[place], resolution_g),
        )
        for place, dose in enumerate(DOSES)
    )
    made: list[DilutionStep] = []
    if dilution < stronger and solvent is not None:
        needed = sum(vial.exact_g for vial in filled)
        made = steps(found.material, stronger, {dilution: needed}, solvent, least_g)
    usual = found.usual
    ends = None if usual is None else (usual.low, usual.high)
    taken = None if bottle is None else bottle[0]
    return Bracket(found.material, found.present, ends, dilution, solvent, filled, order, taken), made
