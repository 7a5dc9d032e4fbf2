"""What a weighing takes out of which bottle of the shelf."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from recommender.errors import BadValue
from recommender.model import Bottle, Material
from recommender.weighing.dilutions import HAIR, rounded
from recommender.weighing.plan import WeighingSheet

SAME_PERCENT = 1e-6
"""Dilutions that differ by less are the same [%]."""


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """So many grams of a material at a dilution [%] that a weighing takes, and the bottle they come from.

    `bottle` is None where they come from none; `bottles` are those with a known amount that may be meant: the
    same dilution first, the one that is proposed before the others, then stronger ones, of which less is
    taken.
    """

    material: Material
    dilution_percent: float
    grams: float
    bottles: tuple[Bottle, ...] = ()
    bottle: Bottle | None = None

    @property
    def key(self) -> str:
        """Tells this line from the others of a weighing."""
        return f"{self.material.slug} {self.dilution_percent:g}"

    def grams_from(self, bottle: Bottle) -> float:
        """Return how much of what is in a bottle that is [g]."""
        if abs(bottle.dilution_percent - self.dilution_percent) < SAME_PERCENT:
            return self.grams
        return self.grams * self.dilution_percent / bottle.dilution_percent

    @property
    def taken_g(self) -> float:
        """How much is taken from its bottle [g], 0 without one."""
        return 0.0 if self.bottle is None else self.grams_from(self.bottle)

    @property
    def short_g(self) -> float:
        """How much the bottle lacks [g]."""
        amount = None if self.bottle is None else self.bottle.amount_g
        return 0.0 if amount is None else max(self.taken_g - amount, 0.0)

    def from_bottle(self, number: int) -> "Withdrawal":
        """Return the same from another bottle of `bottles`, by its number; from none for any other number."""
        chosen = next((bottle for bottle in self.bottles if bottle.number == number), None)
        return replace(self, bottle=chosen)


def withdrawals(
    sheet: WeighingSheet, bottles: Mapping[str, Sequence[Bottle]], top_up: bool = False
) -> tuple[Withdrawal, ...]:
    """Return what a weighing takes from the shelf, in the order of weighing, each material and dilution once.

    Parameters
    ----------
    sheet : WeighingSheet
    bottles : mapping of str -> sequence of Bottle
        What is on the shelf, by material.
    top_up : bool
        Whether the finished product was topped up with its solvent.

    Returns
    -------
    tuple of Withdrawal
        Each from a bottle of its dilution: of those that have enough the one opened first, else the fullest.
        Without a bottle of its dilution it comes from none; stronger ones stand in `bottles`.
    """
    taken: dict[tuple[str, float], tuple[Material, float]] = {}
    for material, fraction, grams in _taken(sheet, top_up):
        key = material.slug, round(100.0 * fraction, 6)
        taken[key] = material, taken.get(key, (material, 0.0))[1] + grams
    return tuple(
        _from_shelf(Withdrawal(material, percent, float(f"{grams:.10g}")), bottles.get(slug, ()))
        for (slug, percent), (material, grams) in taken.items()
        if grams > 0
    )


def chosen(found: Sequence[Withdrawal], numbers: Collection[int]) -> tuple[Withdrawal, ...]:
    """Return withdrawals from the bottles with these numbers, where one of them fits; raises `BadValue`."""
    for number in numbers:
        if not any(bottle.number == number for one in found for bottle in one.bottles):
            wanted = "no bottle of this number has a known amount of what is weighed"
            raise BadValue("from_bottles", number, wanted)
    return tuple(
        next((one.from_bottle(bottle.number) for bottle in one.bottles if bottle.number in numbers), one)
        for one in found
    )


def _from_shelf(one: Withdrawal, own: Sequence[Bottle]) -> Withdrawal:
    known = [bottle for bottle in own if bottle.amount_g is not None]

    def rank(bottle: Bottle) -> tuple[bool, bool, float, str, float, int]:
        amount = bottle.amount_g or 0.0
        other = abs(bottle.dilution_percent - one.dilution_percent) >= SAME_PERCENT
        enough = amount >= one.grams_from(bottle) * (1 - HAIR)
        return (
            other,
            not enough,
            -bottle.dilution_percent if other else 0.0,
            (bottle.opened or "9999") if enough else "",
            amount if enough else -amount,
            bottle.number,
        )

    fitting = [b for b in known if b.dilution_percent >= one.dilution_percent - SAME_PERCENT]
    ranked = tuple(sorted(fitting, key=rank))
    same = ranked and abs(ranked[0].dilution_percent - one.dilution_percent) < SAME_PERCENT
    return replace(one, bottles=ranked, bottle=ranked[0] if same else None)


def _taken(sheet: WeighingSheet, top_up: bool) -> Iterator[tuple[Material, float, float]]:
    """Yield material, mass fraction and grams as the balance shows them, of all that is not made first."""
    digit = sheet.resolution_g
    made = {(step.content.name, step.dilution, step.solvent.slug) for step in sheet.dilutions}
    for pour in (pour for section in sheet.sections for pour in section.pours):
        content = pour.line.content
        solvent = "" if pour.solvent is None else pour.solvent.slug
        if isinstance(content, Material) and (content.name, pour.dilution, solvent) not in made:
            yield content, pour.dilution, pour.grams
    for step in sheet.dilutions:
        source = (step.content.name, step.stronger, step.solvent.slug)
        if isinstance(step.content, Material) and source not in made:
            yield step.content, step.stronger, rounded(step.take_g, digit)
        yield step.solvent, 1.0, rounded(step.add_g, digit)
    if (three := sheet.bracket) is not None:
        solvent = "" if three.solvent is None else three.solvent.slug
        if (three.material.name, three.dilution, solvent) not in made:
            yield three.material, three.dilution, sum(vial.grams for vial in three.vials)
        if three.solvent is not None:
            yield three.solvent, 1.0, sum(vial.fill_g for vial in three.vials)
    if top_up and sheet.carrier is not None and sheet.top_up_g:
        yield sheet.carrier, 1.0, rounded(sheet.top_up_g, digit)
