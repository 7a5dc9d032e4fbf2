"""What can be done to lines as typed: each a change that can be undone."""

from collections.abc import Callable, Mapping, Sequence

from recommender.errors import BadValue, ChangedMeanwhile
from recommender.model import LoweredLine, Material, Suggestion
from recommender.notebook.drafts import Cells, DraftChange, Lines, numbered
from recommender.output import wording
from recommender.output.sentences import name_of
from recommender.web.server.typed_lines import ParsedLines, content_of

COLUMN_WORDS = {
    "material": "material",
    "parts": "parts",
    "dilution_percent": "dilution",
    "solvent": "solvent",
    "note": "note",
}
Edit = Callable[[Lines], DraftChange | None]


def called(line: Cells) -> str:
    """Return what a line is called in a sentence."""
    return line["material"].strip() or "a line without a material"


def set_cell(number: str, column: str, was: str, value: str) -> Edit:
    """Write into one cell, as long as it still has the value that was seen.

    Raises
    ------
    ChangedMeanwhile
        The cell or its line is another now.
    """

    def edit(lines: Lines) -> DraftChange | None:
        found = next((line for line in lines if line["id"] == number), None)
        if found is None:
            raise ChangedMeanwhile("The line that you typed in")
        if found[column] == value:
            return None
        if found[column] != was:
            raise ChangedMeanwhile(f"{called(found)}, {COLUMN_WORDS[column]},", found[column])
        changed = tuple(line | {column: value} if line["id"] == number else line for line in lines)
        what = f"{called(found)}: {COLUMN_WORDS[column]} {value or 'cleared'}"
        return DraftChange(changed, what, f"cell {number} {column}")

    return edit


def add(cells: Mapping[str, str]) -> Edit:
    """Add a line at the end."""

    def edit(lines: Lines) -> DraftChange:
        new = {"material": "", **cells}
        return DraftChange(
            numbered([*lines, new]), f"added {called(new)}" if new["material"] else "added a line"
        )

    return edit


def put_in(new: Sequence[Cells], done: str) -> Edit:
    """Put other lines in the place of all."""
    return lambda _: DraftChange(numbered(new), done)


def remove(number: str) -> Edit:
    """Remove a line."""

    def edit(lines: Lines) -> DraftChange | None:
        found = next((line for line in lines if line["id"] == number), None)
        if found is None:
            return None
        return DraftChange(tuple(line for line in lines if line["id"] != number), f"took out {called(found)}")

    return edit


def _parts(value: float) -> str:
    return f"{value:.3g}" if value < 1000 else f"{value:.0f}"


def lower(found: LoweredLine, read: ParsedLines) -> Edit:
    """Lower what hides a smell, or take it out.

    Raises
    ------
    BadValue
        It is in no line of its own, but inside an accord.
    """
    factor, name = found.reason.factor, found.material.name
    own = {number: line for number, line in read.found.items() if content_of(line) == found.material}

    def edit(lines: Lines) -> DraftChange:
        if not any(line["id"] in own for line in lines):
            raise BadValue("line", name, "it is inside an accord: open that, and lower it there")
        if not factor:
            return DraftChange(tuple(line for line in lines if line["id"] not in own), f"took out {name}")
        changed = tuple(
            line | {"parts": _parts(factor * own[line["id"]].parts)} if line["id"] in own else line
            for line in lines
        )
        return DraftChange(changed, f"lowered {name}")

    return edit


def add_suggestion(
    found: Suggestion, read: ParsedLines, instead_of: Sequence[str] = (), dose: float | None = None
) -> Edit:
    """Put a suggestion into the formula, in the place of some lines or at the end.

    `dose` is in parts per thousand of the finished accord, that to try first by default; where it is too
    small to weigh neat, it goes in as the dilution that was suggested.
    """
    first = (dose or (found.dose.first_try if found.dose else 10.0)) / 1000.0
    members: Sequence[tuple[Material, float]] = found.members or ((found.material, 1.0),)
    others = read.total - sum(read.found[number].parts for number in instead_of if number in read.found)
    scale = others / max(1.0 - first, 1e-9)
    percent = found.dose.dilution_percent if found.dose else None
    doses = found.dose.members if found.dose else ()
    percents = [dose.dilution_percent for dose in doses] or [percent] * len(members)
    solvent = found.bottles[0].solvent.replace("-", " ") if len(found.bottles) == 1 else ""

    def edit(lines: Lines) -> DraftChange:
        out = [line for line in lines if line["id"] in instead_of]
        new = [
            {
                "material": material.name,
                "parts": f"{share * first * scale / ((percent or 100.0) / 100.0):.3g}",
                "dilution_percent": f"{percent:g}" if percent else "",
                "solvent": solvent if percent else "",
                "note": "",
            }
            for (material, share), percent in zip(members, percents, strict=True)
        ]
        what = f"added {name_of(found)}"
        if out:
            what += f" in place of {wording.join(called(line) for line in out)}"
        return DraftChange(_in_place(lines, new, instead_of), what)

    return edit


def replace_line(position: str, found: Suggestion, read: ParsedLines, dose: float | None = None) -> Edit:
    """Put a stand-in where a line is; `position` is the number (`id`) of the line, `dose` as above.

    Raises
    ------
    ChangedMeanwhile
        The line has gone.
    """
    stand_in = add_suggestion(found, read, (position,), dose)

    def edit(lines: Lines) -> DraftChange | None:
        if not any(line["id"] == position for line in lines):
            raise ChangedMeanwhile("The line that it was to stand in for")
        return stand_in(lines)

    return edit


def _in_place(lines: Lines, new: Sequence[Cells], instead_of: Sequence[str]) -> Lines:
    """Return lines with new ones where the first of some was, at the end where none of them is there."""
    at = next((n for n, line in enumerate(lines) if line["id"] in instead_of), len(lines))
    before, after = (
        [line for line in part if line["id"] not in instead_of] for part in (lines[:at], lines[at:])
    )
    taken = numbered([*lines, *new])[len(lines) :]  # no number of a line that goes out is given again
    return (*before, *taken, *after)
