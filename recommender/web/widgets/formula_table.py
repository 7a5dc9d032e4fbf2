"""The formula as a table to type in: one row a line, each with what is known of it and what is wrong."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial

from nicegui import ui
from nicegui.element import Element

from recommender import units
from recommender.model import Line
from recommender.notebook.drafts import Cells, Draft
from recommender.web.server.typed_lines import ParsedLines, content_of
from recommender.web.widgets import elements

COLUMNS = {"material": "material", "parts": "parts", "dilution_percent": "%", "note": "note"}


@dataclass
class Row:
    """The elements of one line that change."""

    element: Element
    fields: dict[str, ui.input]
    signs: tuple[ui.html, ui.html]
    solvent: Element
    share: ui.html
    known: ui.html
    spare: ui.html
    wrong: ui.html
    near: Element
    shown_near: tuple[str, ...] = ()
    cells: Cells = field(default_factory=dict)


@dataclass
class Acts:
    """What the page does when something in the table is done."""

    set_cell: Callable[[str, str, str, str], object]
    add: Callable[[], object]
    remove: Callable[[str], object]
    replace: Callable[[str], object]


class FormulaTable:
    """Rows that stay as long as their lines do, so that the cursor stays where it is."""

    def __init__(self, acts: Acts) -> None:
        self.acts = acts
        self.rows: dict[str, Row] = {}
        self.order: list[str] = []
        with elements.tag("table", "formula") as table:
            table.props["aria-label"] = "Formula"
            with elements.tag("thead"), elements.tag("tr"):
                for name, head in COLUMNS.items():
                    label = {"dilution_percent": "dilution in per cent"}.get(name, "")
                    cell = elements.words(head, f"head {name}", "th")
                    cell.props["scope"] = "col"
                    if label:
                        cell.props["aria-label"] = label
                    if name == "dilution_percent":
                        elements.words("of 1000", "head share", "th").props["scope"] = "col"
                elements.words("what to do", "head acts unseen", "th").props["scope"] = "col"
            self.body = elements.tag("tbody")

    def show(self, draft: Draft, read: ParsedLines) -> None:
        """Show lines as they are, with what was read of them."""
        wanted = self.order = [line["id"] for line in draft.lines]
        if [number for number in self.rows if number in wanted] != [n for n in wanted if n in self.rows]:
            for row in self.rows.values():
                row.element.delete()
            self.rows.clear()
        for number in [n for n in self.rows if n not in wanted]:
            self.rows.pop(number).element.delete()
        for place, line in enumerate(draft.lines):
            if line["id"] not in self.rows:
                self.rows[line["id"]] = self._made(line)
                self.rows[line["id"]].element.move(self.body, target_index=place)
            self._filled(self.rows[line["id"]], line, read)

    def mark(self, spare: Mapping[str, str]) -> None:
        """Mark lines that are hardly missed: number of the line -> text."""
        for number, row in self.rows.items():
            elements.say(row.spare, spare.get(number, ""))

    def focus(self, number: str, column: str = "material") -> None:
        """Put the cursor into a cell."""
        if number in self.rows:
            self.rows[number].fields[column].run_method("focus")

    def _made(self, line: Cells) -> Row:
        number = line["id"]

        def live(column: str) -> Callable[[str], None]:
            return lambda value: self._typed(number, column, value)

        with self.body, elements.tag("tr", "line") as element:
            fields = {}
            with elements.tag("td", "material"):
                fields["material"] = elements.field(
                    "material", line["material"], done=live("material"), options="names",
                    hint="a name, CAS number or your label",
                )  # fmt: skip
                with elements.tag("div", "under"):
                    known = elements.words("", "known", "span")
                    with elements.tag("span", "solvent") as solvent:
                        elements.words("in", "in", "span")
                        fields["solvent"] = elements.field(
                            "solvent",
                            line["solvent"],
                            done=live("solvent"),
                            options="names",
                            hint="dipropylene glycol",
                        )
                    spare = elements.words("", "spare", "span")
                wrong = elements.words("", "wrong")
                wrong.props["role"] = "alert"
                near = elements.tag("div", "near")
            with elements.tag("td", "parts"):
                fields["parts"] = elements.field("parts", line["parts"], live=live("parts"), numeric=True)
            with elements.tag("td", "dilution_percent"):
                fields["dilution_percent"] = elements.field(
                    "dilution in per cent",
                    line["dilution_percent"],
                    live=live("dilution_percent"),
                    hint="neat",
                    numeric=True,
                )
            share = elements.words("", "share", "td")
            with elements.tag("td", "note"):
                fields["note"] = elements.field("note", line["note"], done=live("note"))
            with elements.tag("td", "acts"):
                swap = elements.button("⇄", lambda: self.acts.replace(number), "plain sign")
                out = elements.button("×", lambda: self.acts.remove(number), "plain sign")
            for column, cell in fields.items():
                cell.on("keydown.enter", lambda _, column=column: self._next(number, column))
        row = Row(element, fields, (swap, out), solvent, share, known, spare, wrong, near)
        return row

    def _filled(self, row: Row, line: Cells, read: ParsedLines) -> None:
        number, row.cells = line["id"], line
        for column, cell in row.fields.items():
            if (cell.value or "") != line[column]:
                cell.value = line[column]
        name = line["material"] or "new line"
        for column, cell in row.fields.items():
            head = {"dilution_percent": "dilution in per cent"}.get(column, column)
            label = f"{head} of {name}" if column != "material" else f"material: {name}"
            if cell.props.get("aria-label") != label:
                cell.props["aria-label"] = label
        name = line["material"] or "this line"
        for sign, label in zip(row.signs, (f"What can stand for {name}?", f"Take {name} out"), strict=True):
            if sign.props.get("aria-label") != label:
                sign.props["aria-label"] = sign.props["title"] = label
        share = read.per_thousand.get(number)
        text = "" if share is None else f"{share:.3g}" if share < 99.95 else f"{share:.0f}"
        if row.share.content != text:
            row.share.set_content(text)
        elements.say(row.known, _known(read.found.get(number), line))
        row.solvent.set_visibility(bool(line["dilution_percent"].strip() or line["solvent"].strip()))
        problem = read.problems.get(number)
        elements.say(row.wrong, problem.text if problem else "")
        for column, cell in row.fields.items():
            bad = problem is not None and problem.column == column
            if bool(cell.props.get("aria-invalid")) != bad:
                cell.props.set_bool("aria-invalid", bad)
        near = problem.near if problem else ()
        if near != row.shown_near:
            row.shown_near = near
            row.near.clear()
            column = problem.column if problem else "material"
            with row.near:
                for found in near:
                    elements.button(found, partial(self._typed, number, column, found), "small")

    def _typed(self, number: str, column: str, value: str) -> None:
        row = self.rows.get(number)
        if row is None or row.cells.get(column) == value:
            return
        self.acts.set_cell(number, column, row.cells[column], value)

    def _next(self, number: str, column: str) -> None:
        """Go on to the same column of the next line; after the last one a new line is made."""
        after = self.order[self.order.index(number) + 1 :] if number in self.order else []
        if after:
            self.focus(after[0], column)
        else:
            self.acts.add()


def _known(line: Line | None, cells: Cells) -> str:
    """Return what is known of a line under its name: what it is, and how long it lasts."""
    if line is None:
        return ""
    material = content_of(line)
    if material is None:
        return "an accord of its own"
    is_it = "" if material.name == cells["material"].strip() else f"{material.name}; "
    if material.kind == "solvent":
        return f"{is_it}solvent"
    stay = material.lasting
    lasting = f"{stay.position}, {units.duration(stay.hours)}" if stay else "lasting unknown"
    return f"{is_it}{lasting}"
