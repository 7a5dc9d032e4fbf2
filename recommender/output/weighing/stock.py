"""What a weighing took out of which bottle, as sentences and data."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from recommender.output.wording import join
from recommender.weighing import Withdrawal

if TYPE_CHECKING:
    from recommender.notebook.shelf_changes import ShelfChange


def called_at(one: Withdrawal) -> str:
    """Return what is weighed: linalool, or linalool at 10 %."""
    percent = one.dilution_percent
    return one.material.name if percent == 100 else f"{one.material.name} at {percent:g} %"


def weighed_lines(change: "ShelfChange | None", rows: Sequence[Withdrawal]) -> list[str]:
    """Return what was taken from which bottle, and what was not."""
    lines = []
    if change is None:
        lines.append("No bottle on the shelf has a known amount of what was weighed: the shelf is as it was.")
    for bottle in change.bottles if change else ():
        lines.append(f"{bottle.label}: {bottle.taken_g:.6g} g taken, {bottle.after['amount_g']:.6g} g left.")
    for one in rows:
        if one.bottle is not None and one.short_g > 1e-9:
            lines.append(
                f"{one.bottle.label} had {one.short_g:.3g} g less than was weighed; it is empty now."
            )
    if none := [called_at(one) for one in rows if one.bottle is None]:
        lines.append(f"From no bottle with a known amount: {join(none)}.")
    return lines


def way_back(change: "ShelfChange | None") -> list[str]:
    """Return the command that undoes a change."""
    return [] if change is None else [f"`recommender shelf undo {change.number}` puts it back."]


def weighed_data(change: "ShelfChange | None", rows: Sequence[Withdrawal]) -> dict[str, Any]:
    """Return the same as plain data; `change` is the number by which it is undone."""
    return {
        "change": None if change is None else change.number,
        "rows": [
            {
                "name": one.material.name,
                "cas": one.material.cas or None,
                "dilution_percent": one.dilution_percent,
                "grams": one.grams,
                "bottle": None if one.bottle is None else one.bottle.label,
                "number": None if one.bottle is None else one.bottle.number,
                "taken_g": None if one.bottle is None else float(f"{one.taken_g:.10g}"),
            }
            for one in rows
        ],
        "bottles": [
            {
                "number": bottle.number,
                "label": bottle.label,
                "before_g": bottle.before["amount_g"],
                "after_g": bottle.after["amount_g"],
            }
            for bottle in (change.bottles if change else ())
        ],
    }
