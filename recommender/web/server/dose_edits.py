"""The dose of one material changed in a formula as typed."""

from recommender.errors import BadValue
from recommender.model import Formula, Material
from recommender.notebook.drafts import DraftChange, Lines
from recommender.web.server.line_edits import Edit
from recommender.web.server.typed_lines import ParsedLines


def take_dose(read: ParsedLines, preferred: Formula, material: Material, vial: int) -> Edit:
    """Put the dose of the vial that was preferred into the lines; `preferred` is the formula with it.

    Raises
    ------
    BadValue
        The material is in no line of its own, but inside an accord.
    """
    pairs = list(zip(read.found.items(), preferred.lines, strict=True))
    parts = {number: new.parts for (number, old), new in pairs if new.content == old.content == material}

    def edit(lines: Lines) -> DraftChange:
        if any(new.content != old.content for (_, old), new in pairs) or not parts:
            raise BadValue("line", material.name, "it is inside an accord: open that, and change it there")
        changed = tuple(
            line | {"parts": f"{parts[line['id']]:.4g}"} if line["id"] in parts else line for line in lines
        )
        return DraftChange(changed, f"{material.name} as in vial {vial}")

    return edit
