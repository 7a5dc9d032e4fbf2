"""Putting a material into a formula of the page, from a view that shows another thing."""

from urllib.parse import quote

from recommender.errors import BadValue
from recommender.model import Material
from recommender.notebook.drafts import Draft
from recommender.web.server import line_edits
from recommender.web.server.session import PageSession

NEW = ""
"""The choice of a new formula."""


def choices(session: PageSession) -> dict[str, str]:
    """Return the formulas on the page, number -> name, the last opened first; then a new one."""
    found = [draft for name in session.names() if (draft := session.find(name)) is not None]
    return {str(draft.id): draft.name for draft in found} | {NEW: "a new formula"}


def address(draft: Draft) -> str:
    """Return where a formula is worked on."""
    return f"/formula/{quote(draft.name, safe='')}"


def add_material(
    session: PageSession, number: str, material: Material, parts: str, percent: str = ""
) -> tuple[Draft, bool]:
    """Put a material at the end of a formula; returns the formula, and whether it is new.

    `parts` and `percent` (of the dilution) are as typed; both may be blank.

    Raises
    ------
    BadValue
        The formula was removed meanwhile, or the parts are no amount above 0.
    """
    if parts:
        try:
            wrong = float(parts.replace(",", ".")) <= 0
        except ValueError:
            wrong = True
        if wrong:
            raise BadValue("parts", parts, "write an amount above 0, or leave it blank for later")
    cells = {"material": material.name, "parts": parts, "dilution_percent": percent}
    if number == NEW:
        return session.create("untitled", [cells]), True
    return session.change(int(number), line_edits.add(cells)), False
