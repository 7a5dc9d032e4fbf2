"""Usual use: between which parts per thousand a material usually goes into a formula, and what is there."""

from collections.abc import Sequence
from dataclasses import dataclass

from recommender.errors import BadValue
from recommender.model import Amount, Material

WHOLE = 100.0
"""A formula is the whole concentrate where nothing else is given [% of a concentrate]."""
MOST_PARTS = 1000.0
"""No usual range goes beyond the whole formula [parts per thousand]."""


@dataclass(frozen=True, slots=True)
class UsualUse:
    """The usual range of a material in a formula, and what is there of it, all in parts per thousand.

    >>> UsualUse(2.0, 40.0, present=30.0).room
    10.0
    """

    low: float
    high: float
    present: float = 0.0

    @property
    def least(self) -> float:
        """What is still to be added to reach the low end."""
        return max(self.low - self.present, 0.0)

    @property
    def room(self) -> float:
        """What may be added up to the high end."""
        return max(self.high - self.present, 0.0)


def checked_share(share_percent: float | None) -> float:
    """Return the share of a formula in a concentrate [%], 100 where none is given; raises `BadValue`."""
    if share_percent is None:
        return WHOLE
    if not 0 < share_percent <= WHOLE:
        raise BadValue("share_percent", f"{share_percent:g} %", "it is above 0 and at most 100 %")
    return float(share_percent)


def usual_range(material: Material, share_percent: float = WHOLE) -> tuple[float, float] | None:
    """Return the usual range [parts per thousand] in a formula that is such a share of a concentrate [%].

    None where no usual level is on record, and for solvents.
    """
    use = material.use
    if use is None or use.low is None or use.high is None or material.kind == "solvent":
        return None
    scale = 10.0 * WHOLE / share_percent
    return min(use.low * scale, MOST_PARTS), min(use.high * scale, MOST_PARTS)


def present_parts(amounts: Sequence[Amount]) -> dict[str, float]:
    """Return the parts per thousand of each material by key, with what naturals contain of it by name.

    The share of a constituent is the middle of its range.
    """
    found: dict[str, float] = {}
    for amount in amounts:
        parts = 1000.0 * amount.mass_fraction
        own = amount.material.slug
        found[own] = found.get(own, 0.0) + parts
        for content in amount.material.contents:
            brought = parts * content.middle_percent / 100.0
            found[content.name] = found.get(content.name, 0.0) + brought
    return found


def above_usual(amounts: Sequence[Amount], share_percent: float = WHOLE) -> list[str]:
    """Return one note that names each material of a formula above its usual use, empty where none is.

    The lines of accords inside count with what they are of the whole; solvents have no usual range. One
    material alone, perhaps diluted, is no concentrate.
    """
    if sum(amount.material.kind != "solvent" for amount in amounts) < 2:
        return []
    found = []
    for amount in amounts:
        usual = usual_range(amount.material, share_percent)
        if usual is None or 1000.0 * amount.mass_fraction <= usual[1] * (1.0 + 1e-9):
            continue
        low, high = (f"{value / 10.0:.3g}" for value in usual)
        found.append(f"{amount.material.name} {100.0 * amount.mass_fraction:.3g} % (usual {low}-{high} %)")
    if not found:
        return []
    whole = "the whole concentrate" if share_percent == WHOLE else f"{share_percent:.3g} % of a concentrate"
    return [f"Above usual use, taking this formula as {whole}: {', '.join(found)}."]
