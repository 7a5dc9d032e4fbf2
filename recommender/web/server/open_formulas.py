"""Putting materials into a formula of the page, from a view that shows something else."""

from collections.abc import Sequence

from recommender.errors import BadValue
from recommender.model import Material
from recommender.notebook.drafts import Draft, DraftChange, numbered
from recommender.output import wording
from recommender.web.server.session import PageSession

Members = Sequence[tuple[Material, float]]
"""Materials that go in together, each with its share of the parts."""
NEW = ""
"""The choice of a new formula."""


def choices(session: PageSession) -> dict[str, str]:
    """Return the formulas on the page, number -> name, the last opened first; then a new one."""
    return {str(number): name for number, name in session.listed()} | {NEW: "a new formula"}


def address(draft: Draft) -> str:
    """Return where a formula is worked on."""
    return address_of(draft.id)


def address_of(number: int | str) -> str:
    """Return where the formula of a number is worked on."""
    return f"/formula/{number}"


def add_materials(
    session: PageSession, number: str, members: Members, parts: str, percent: str = ""
) -> tuple[Draft, bool]:
    """Put materials at the end of a formula as one step; returns the formula, and whether it is new.

    `parts`, which their shares divide, and `percent` (of the dilution) are as typed; both may be blank.

    Raises
    ------
    BadValue
        The formula was removed meanwhile, or the parts are no amount above 0.
    """
    whole = _amount(parts) if parts else None
    new = [
        {
            "material": material.name,
            "parts": "" if whole is None else parts if share == 1.0 else f"{share * whole:.4g}",
            "dilution_percent": percent,
        }
        for material, share in members
    ]
    if number == NEW:
        return session.create("untitled", new), True
    done = f"added {wording.join(cells['material'] for cells in new)}"
    return session.change(int(number), lambda lines: DraftChange(numbered([*lines, *new]), done)), False


def _amount(typed: str) -> float:
    try:
        found = float(typed.replace(",", "."))
    except ValueError:
        found = 0.0
    if not 0 < found < float("inf"):
        raise BadValue("parts", typed, "write an amount above 0, or leave it blank for later")
    return found
