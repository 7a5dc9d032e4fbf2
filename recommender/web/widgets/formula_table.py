"""The formula as rows to type in: each a line, with what is known of it and what is wrong."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from nicegui import ui
from nicegui.element import Element

from recommender import units
from recommender.errors import BadValue, RecommenderError
from recommender.formulas.usual import WHOLE, usual_range
from recommender.model import Line
from recommender.notebook.drafts import Cells, Draft
from recommender.suggest.stock import Shelf
from recommender.web.server import line_edits
from recommender.web.server.line_edits import Edit
from recommender.web.server.session import PageSession, Watcher
from recommender.web.server.typed_lines import ParsedLines, amount, blank, content_of
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.formula_picker import path_of
from recommender.web.widgets.product_section import usable

BALANCE_FIELD = "keep total"
"""The field of a formula that is filled while other lines make up for a changed amount."""


@dataclass(frozen=True, slots=True)
class Acts:
    """What the page does when something in the table is done.

    `carry_out` runs a change, shows its result or what is wrong with it, and returns whether it was done.
    """

    session: PageSession
    watcher: Watcher
    carry_out: Callable[[Callable[[], Draft]], bool]
    say: Callable[..., object]
    step: Callable[[int], object]
    replace: Callable[[str], object]
    set_field: Callable[[str, str], object]
    draw: Callable[[], object]


class FormulaRows(Element, component="formula_rows.js"):
    """The rows in the browser; `lines` are what is stored and what is known of it."""

    def __init__(self, act: Callable[[dict[str, Any]], object]) -> None:
        super().__init__()
        self.props.update({"lines": [], "answered": 0, "own": 0, "formula": 0, "balance": False})
        self.on("act", lambda event: act(event.args))


class FormulaTable:
    """Rows that stay as long as their lines do; what is being typed in one is never overwritten."""

    def __init__(self, acts: Acts) -> None:
        self.acts = acts
        self.draft: Draft | None = None
        self.typing: dict[tuple[str, str], str] = {}
        self.spare: Mapping[str, str] = {}
        self.rows = FormulaRows(self._act)

    def as_typed(self, draft: Draft) -> Draft:
        """Return a formula with what is being typed, for a drawing of it; nothing of that is stored."""
        if not self.typing:
            return draft
        lines = [
            line | {column: text for (number, column), text in self.typing.items() if number == line["id"]}
            for line in draft.lines
        ]
        return replace(draft, lines=tuple(lines))

    def show(self, draft: Draft, read: ParsedLines, elsewhere: bool = False) -> None:
        """Show lines as they are stored, with what was read of them.

        `elsewhere` is whether another tab changed them: a focused cell asks then whether to take its value.
        """
        self.draft = draft
        shelf = self.acts.session.workspace.shelf.stock()
        share = usable(draft.fields)[1] or WHOLE
        props = self.rows.props
        props["lines"] = [self._row(line, read, shelf, share) for line in draft.lines]
        props["formula"] = draft.id
        props["balance"] = bool(draft.fields.get(BALANCE_FIELD))
        if not elsewhere:
            props["own"] += 1
        self.rows.update()

    def mark(self, spare: Mapping[str, str]) -> None:
        """Mark lines that are hardly missed: number of the line -> text."""
        self.spare = spare
        self.rows.props["lines"] = [
            row | {"spare": spare.get(row["id"], "")} for row in self.rows.props["lines"]
        ]
        self.rows.update()

    def focus(self, number: str, column: str = "material") -> None:
        """Put the cursor into a cell."""
        self.rows.run_method("go", number, column)

    def add(self) -> None:
        """Put the cursor into the blank line at the end; it is stored once something is typed in it."""
        self.rows.run_method("go_new")

    # what is done in the rows

    def _act(self, args: dict[str, Any]) -> None:
        kind = args.pop("kind")
        acts: Mapping[str, Callable[..., object]] = {
            "write": self._write, "preview": self._preview, "near": self._near, "remove": self._remove,
            "replace": lambda id: self.acts.replace(id), "flag": self._flag, "move": self._move,
            "scale": self._scale, "balance": self._balance, "group": self._group, "dissolve": self._dissolve,
            "open": self._open, "paste": self._paste, "step": lambda by: self.acts.step(by),
        }  # fmt: skip
        acts[kind](**args)

    def _write(
        self, turn: int, id: str, column: str, was: str, value: str, fresh: bool = False, mark: str = ""
    ) -> None:
        """Store one cell; whatever comes of it, the rows are answered."""
        self.typing.pop((id, column), None)
        edit = line_edits.set_cell(id, column, was, value, fresh=fresh, mark=mark)
        if column == "parts" and self.draft is not None and self.draft.fields.get(BALANCE_FIELD):
            edit = line_edits.balanced(id, edit)
        try:
            self._edit(edit)
        finally:
            self.rows.props["answered"] = turn
            self.rows.update()

    def _edit(self, edit: Edit) -> bool:
        assert self.draft is not None
        session, number = self.acts.session, self.draft.id
        return self.acts.carry_out(lambda: session.change(number, edit, self.acts.watcher))

    def _preview(self, id: str, column: str, value: str | None) -> None:
        if value is not None:
            self.typing[id, column] = value
        elif self.typing.pop((id, column), None) is None:
            return
        self.acts.draw()

    def _near(self, id: str, column: str, was: str, value: str) -> None:
        self._edit(line_edits.set_cell(id, column, was, value))

    def _remove(self, ids: list[str]) -> None:
        lines = [line for line in self._lines() if line["id"] in ids]
        if self._edit(line_edits.remove(*ids)) and not all(map(blank, lines)):
            names = line_edits.names_of(lines)
            verb = "is" if len(lines) == 1 else "are"
            self.acts.say(f"{names} {verb} out of the formula.", undo=lambda: self.acts.step(-1))

    def _lines(self) -> tuple[Cells, ...]:
        return self.draft.lines if self.draft is not None else ()

    def _flag(self, ids: list[str], flag: str, on: bool) -> None:
        self._edit(line_edits.set_flag(ids, flag, on))

    def _move(self, id: str, before: str) -> None:
        self._edit(line_edits.move(id, before))

    def _scale(self, total: float) -> None:
        self._edit(line_edits.scale(total))

    def _balance(self, on: bool) -> None:
        self.acts.set_field(BALANCE_FIELD, "on" if on else "")

    def _group(self, ids: list[str], name: str) -> None:
        assert self.draft is not None
        session, number = self.acts.session, self.draft.id
        if self.acts.carry_out(lambda: session.group(number, ids, name, self.acts.watcher)):
            self.acts.say(f"{name} is an accord now, a formula of its own.", undo=lambda: self.acts.step(-1))

    def _dissolve(self, id: str) -> None:
        assert self.draft is not None
        session, number = self.acts.session, self.draft.id
        if self.acts.carry_out(lambda: session.dissolve(number, id, self.acts.watcher)):
            self.acts.say("Its lines stand here now.", undo=lambda: self.acts.step(-1))

    def _open(self, id: str) -> None:
        name = next((line["material"].strip() for line in self._lines() if line["id"] == id), "")
        try:
            draft = self.acts.session.open_accord(name)
        except RecommenderError as error:
            self.acts.say(sentence(error))
            return
        ui.navigate.to(path_of(draft.id))

    def _paste(self, text: str, after: str) -> None:
        try:
            new = self.acts.session.pasted(text)
        except (BadValue, RecommenderError) as error:
            self.acts.say(sentence(error))
            return
        if self._edit(line_edits.paste(new, after)):
            count = f"{len(new)} line{'' if len(new) == 1 else 's'}"
            self.acts.say(f"{count} pasted.", undo=lambda: self.acts.step(-1))

    # what is shown of a line

    def _row(self, line: Cells, read: ParsedLines, shelf: Shelf, share: float) -> dict[str, Any]:
        number = line["id"]
        found, problem = read.found.get(number), read.problems.get(number)
        of_1000 = read.per_thousand.get(number)
        low_high = usual_of(found, share)
        mark = ""
        if low_high is not None and found is not None and of_1000 is not None and len(read.found) > 1:
            neat = of_1000 * found.dilution
            mark = "above usual" if neat > low_high[1] else "below usual" if neat < low_high[0] else ""
        return line | {
            "amount": amount(line),
            "share": "" if of_1000 is None else f"{of_1000:.3g}" if of_1000 < 99.95 else f"{of_1000:.0f}",
            "known": _known(found, line),
            "accord": found is not None and content_of(found) is None,
            "usual": f"usual {low_high[0]:.3g} to {low_high[1]:.3g} of 1000" if low_high else "",
            "mark": mark,
            "shop": on_shelf(found, shelf),
            "spare": self.spare.get(number, ""),
            "wrong": None
            if problem is None
            else {"column": problem.column, "text": problem.text, "near": list(problem.near)},
        }


def usual_of(line: Line | None, share_percent: float) -> tuple[float, float] | None:
    """Return the usual range of a line's material [parts per thousand], None where none is on record."""
    material = content_of(line) if line is not None else None
    return None if material is None else usual_range(material, share_percent)


def on_shelf(line: Line | None, shelf: Shelf) -> str:
    """Return what the shelf knows of a line's material: what is left, and its price; blank without one."""
    material = content_of(line) if line is not None else None
    if material is None or not shelf.bottles or line is None:
        return ""
    bottle = shelf.bottle_for(material.slug, 100.0 * line.dilution)
    found = "not on the shelf"
    if bottle is not None:
        left = "amount unknown" if bottle.amount_g is None else f"{bottle.amount_g:.3g} g"
        at = "" if bottle.dilution_percent == 100 else f" at {bottle.dilution_percent:g} %"
        found = f"on the shelf: {left}{at}"
    price = shelf.prices.get(material.slug)
    return found if price is None else f"{found}, {price:.3g} a gram neat"


def _known(line: Line | None, cells: Cells) -> str:
    """Return what is known of a line: what it is, and how long it lasts."""
    if line is None:
        return "left out for now" if cells["out"] else ""
    material = content_of(line)
    if material is None:
        return f"an accord of its own: {line.content.name}"
    is_it = "" if material.name == cells["material"].strip() else f"{material.name}; "
    if material.kind == "solvent":
        return f"{is_it}solvent"
    stay = material.lasting
    lasting = f"{stay.position}, {units.duration(stay.hours)}" if stay else "lasting unknown"
    return f"{is_it}{lasting}"
