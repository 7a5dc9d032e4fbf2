"""What can be done to lines as typed: each a change that can be undone."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from recommender.errors import BadValue, ChangedMeanwhile
from recommender.formulas import formula as formulas
from recommender.model import Formula, Line, LoweredLine, Material, Suggestion
from recommender.notebook.drafts import Cells, DraftChange, Lines, numbered
from recommender.output import wording
from recommender.output.sentences import name_of
from recommender.web.server.typed_lines import ParsedLines, amount, content_of

if TYPE_CHECKING:
    from recommender.reformulation import ReformulatedFormula

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


def set_cell(number: str, column: str, was: str, value: str, *, fresh: bool = False, mark: str = "") -> Edit:
    """Write into one cell, as long as it still has the value that was seen.

    A line that is not there is made at the end where it is `fresh`. Consecutive changes of one cell with the
    same `mark` are one step.

    Raises
    ------
    ChangedMeanwhile
        The cell or its line is another now.
    """

    def edit(lines: Lines) -> DraftChange | None:
        found = next((line for line in lines if line["id"] == number), None)
        if found is None and fresh:
            new = {"material": "", "id": number, column: value}
            what = f"added {called(new)}" if new["material"].strip() else "added a line"
            return DraftChange(numbered([*lines, new]), what)
        if found is None:
            raise ChangedMeanwhile("The line that you typed in")
        if found[column] == value:
            return None
        if found[column] != was:
            raise ChangedMeanwhile(f"{called(found)}, {COLUMN_WORDS[column]},", found[column])
        changed = tuple(line | {column: value} if line["id"] == number else line for line in lines)
        what = f"{called(found)}: {COLUMN_WORDS[column]} {value or 'cleared'}"
        return DraftChange(changed, what, f"{mark} {number} {column}" if mark else "")

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


def remove(*numbers: str) -> Edit:
    """Remove lines."""

    def edit(lines: Lines) -> DraftChange | None:
        out = [line for line in lines if line["id"] in numbers]
        if not out:
            return None
        rest = tuple(line for line in lines if line["id"] not in numbers)
        return DraftChange(rest, f"took out {names_of(out)}")

    return edit


def names_of(lines: Sequence[Cells]) -> str:
    """Return what some lines are called in a sentence, many of them as their count."""
    return wording.join(called(line) for line in lines) if len(lines) < 4 else f"{len(lines)} lines"


FLAGS = {"out": ("left out", "took back in"), "lock": ("locked", "unlocked")}
"""What can be set of a line on the page alone: left out for now, its amount locked."""


def set_flag(numbers: Sequence[str], flag: str, on: bool) -> Edit:
    """Leave lines out for now, or lock their amounts; or the other way round."""

    def edit(lines: Lines) -> DraftChange:
        done = [line for line in lines if line["id"] in numbers]
        value = flag if on else ""
        changed = tuple(line | {flag: value} if line["id"] in numbers else line for line in lines)
        return DraftChange(changed, f"{FLAGS[flag][0 if on else 1]} {names_of(done)}")

    return edit


def move(number: str, before: str) -> Edit:
    """Put a line before another, at the end where that is blank or has gone."""

    def edit(lines: Lines) -> DraftChange | None:
        own = [line for line in lines if line["id"] == number]
        if not own or number == before:
            return None
        rest = [line for line in lines if line["id"] != number]
        at = next((n for n, line in enumerate(rest) if line["id"] == before), len(rest))
        return DraftChange((*rest[:at], *own, *rest[at:]), f"moved {called(own[0])}")

    return edit


def scale(total: float, fixed: Sequence[str] = ()) -> Edit:
    """Bring the lines to a total [parts as weighed]; locked lines and those of `fixed` stay as they are.

    Raises
    ------
    BadValue
        Nothing may change, or what may not is the whole total or more.
    """

    def edit(lines: Lines) -> DraftChange:
        return DraftChange(_scaled(lines, total, fixed), f"scaled to {total:g} parts")

    return edit


def balanced(number: str, edit: Edit) -> Edit:
    """Return a change of one amount after which the other lines are scaled, so that the total stays.

    Where the others cannot make up for it, the amount alone changes.
    """

    def both(lines: Lines) -> DraftChange | None:
        change = edit(lines)
        if change is None:
            return None
        total = sum(amount(line) or 0.0 for line in lines)
        try:
            return replace(change, lines=_scaled(change.lines, total, (number,)))
        except BadValue:
            return change

    return both


def _scaled(lines: Lines, total: float, fixed: Sequence[str]) -> Lines:
    amounts = {line["id"]: amount(line) or 0.0 for line in lines}
    free = {
        line["id"] for line in lines if not line["lock"] and line["id"] not in fixed and amounts[line["id"]]
    }
    bound = sum(value for number, value in amounts.items() if number not in free)
    scaled = sum(amounts[number] for number in free)
    if not free:
        raise BadValue("line", "", "no amount may change: unlock one, or write one")
    if bound >= total:
        raise BadValue("line", f"{bound:g} parts", f"locked lines leave nothing of {total:g}; unlock one")
    factor = (total - bound) / scaled
    return tuple(
        line | {"parts": f"{amounts[line['id']] * factor:.6g}"} if line["id"] in free else line
        for line in lines
    )


def group(numbers: Sequence[str], name: str) -> Edit:
    """Put one line that names an accord in the place of some lines, with the parts of all of them.

    Raises
    ------
    BadValue
        One of them has no amount that could be read, or is left out.
    """

    def edit(lines: Lines) -> DraftChange:
        amounts = [amount(line) for line in lines if line["id"] in numbers]
        if None in amounts:
            raise BadValue("line", "", "each line of an accord needs its parts, and counts")
        parts = f"{sum(value or 0.0 for value in amounts):.6g}"
        new = {"material": name, "parts": parts}
        return DraftChange(_in_place(lines, [new], numbers), f"grouped {len(amounts)} lines into {name}")

    return edit


def dissolve(number: str, inside: Sequence[Cells]) -> Edit:
    """Put the lines of an accord in the place of the line that names it, scaled to its parts.

    Raises
    ------
    BadValue
        The accord is diluted, or has no amount.
    """

    def edit(lines: Lines) -> DraftChange | None:
        line = next((line for line in lines if line["id"] == number), None)
        if line is None:
            return None
        parts = amount(line)
        if parts is None:
            raise BadValue("line", called(line), "write its parts first, and let it count")
        if line["dilution_percent"].strip():
            raise BadValue("line", called(line), "it is diluted here; make it neat, then dissolve it")
        whole = sum(float(cells["parts"]) for cells in inside)
        new = [cells | {"parts": f"{float(cells['parts']) * parts / whole:.6g}"} for cells in inside]
        return DraftChange(_in_place(lines, new, (number,)), f"dissolved {called(line)}")

    return edit


def paste(new: Sequence[Cells], after: str) -> Edit:
    """Put lines after another, at the end where that is blank or has gone."""

    def edit(lines: Lines) -> DraftChange:
        at = next((n + 1 for n, line in enumerate(lines) if line["id"] == after), len(lines))
        made = numbered([*lines, *new])[len(lines) :]
        return DraftChange((*lines[:at], *made, *lines[at:]), f"pasted {names_of(made)}")

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


def reformulated(found: "ReformulatedFormula", read: ParsedLines, done: str) -> Edit:
    """Put a reformulated formula in the place of the lines that were read.

    A line whose material stays is the same line, with other parts where they changed. What comes in stands
    where the line was that it takes the place of, the lines of an accord where the accord was, the rest at
    the end. Lines that are left out for now, or could not be read, stay.
    """
    after = replace(found.formula, theme=())
    swaps = [(one.line, one.to) for one in found.changes if one.line and one.to and one.line != one.to]

    def stand_for(line: Line) -> set[str]:
        """Return the names of what can stand where a line was."""
        inside = {amount.material.name for amount in formulas.amounts(Formula("", (line,)))}
        return inside | {to.name for gone, to in swaps if gone.name in inside}

    def edit(lines: Lines) -> DraftChange:
        own = {_same(line) for line in read.found.values() if content_of(line)}
        left = {_same(line): row for line, row in zip(after.lines, formulas.rows(after), strict=True)}
        new: list[Cells] = []
        for cells in lines:
            line = read.found.get(cells["id"])
            if line is None:
                new.append(cells)
            elif content_of(line) and (row := left.pop(_same(line), None)):
                new.append(cells if float(row["parts"]) == line.parts else cells | {"parts": row["parts"]})
            else:
                names = stand_for(line)
                new += [left.pop(key) for key in list(left) if key[0] in names and key not in own]
        come = [cells for cells in (*new, *left.values()) if "id" not in cells]
        made = iter(numbered([*lines, *come])[len(lines) :])  # no number of a line that goes is given again
        stay = (cells if "id" in cells else next(made) for cells in new)
        return DraftChange((*stay, *made), done)

    return edit


def _same(line: Line) -> tuple[str, float, str]:
    """Return what two lines of the same material in the same dilution have in common."""
    return line.content.name, line.dilution, line.solvent.slug if line.solvent else ""


def _in_place(lines: Lines, new: Sequence[Cells], instead_of: Sequence[str]) -> Lines:
    """Return lines with new ones where the first of some was, at the end where none of them is there."""
    at = next((n for n, line in enumerate(lines) if line["id"] in instead_of), len(lines))
    before, after = (
        [line for line in part if line["id"] not in instead_of] for part in (lines[:at], lines[at:])
    )
    taken = numbered([*lines, *new])[len(lines) :]  # no number of a line that goes out is given again
    return (*before, *taken, *after)
