"""At the balance: what to weigh for a batch, what to dilute first, sheets and labels to print."""

import tempfile
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import partial
from pathlib import Path

from nicegui import run, ui

from recommender.errors import RecommenderError
from recommender.formulas.formula import amounts
from recommender.output import weighing, wording, worksheet
from recommender.suggest.stock import MaterialCost, cost
from recommender.web.server.dose_edits import take_dose
from recommender.web.server.line_edits import Edit
from recommender.web.server.typed_lines import ParsedLines
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.labelled_fields import LabelledFields
from recommender.web.widgets.stock_section import StockSection
from recommender.web.widgets.weighing_request import BATCH, CARRIER, DIGIT, WITHIN, request_of, sheet_of
from recommender.weighing.bracket import Bracket
from recommender.weighing.plan import WeighingSheet
from recommender.workspace import Workspace

__all__ = ["WeighingSection", "file_of", "labels_of", "notes_of", "sheet_of"]

HEADS = {"name": "material", "dilution": "as", "parts": "of 1000", "weigh": "weigh", "off": "rounding"}
KINDS = {"pdf": "application/pdf", "csv": "text/csv",
         "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}  # fmt: skip
SELDOM = ("finished", "finished-share", "within", "carrier", "flat", "as-written", "bracket")
"""Fields that are folded away while they are blank."""


def notes_of(sheet: WeighingSheet) -> list[str]:
    """Return what to read before weighing: of the formula, then of the sheet."""
    return [*sheet.notes, *weighing.notes(sheet)]


def file_of(sheet: WeighingSheet, kind: str) -> bytes:
    """Return a sheet as a file: pdf to print, xlsx or csv; three vials are among its notes."""
    notes = notes_of(sheet)
    if sheet.bracket is not None:
        notes += filter(None, weighing.bracket_lines(sheet, sheet.bracket))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"sheet.{kind}"
        worksheet.save(sheet, notes, str(path))
        return path.read_bytes()


def labels_of(sheet: WeighingSheet, version: str, lot: str) -> bytes:
    """Return the labels of the vessels of a sheet as PDF."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "labels.pdf"
        worksheet.save_labels(weighing.vessels(sheet, version, date.today(), lot), str(path))
        return path.read_bytes()


def cost_words(rows: Sequence[MaterialCost]) -> str:
    """Return what a batch costs from the bottles and what they lack, blank where no bottle has any of it."""
    if not any(row.bottle for row in rows):
        return ""
    prices = [row.price for row in rows if row.price is not None]
    of = "" if len(prices) == len(rows) else f", {len(prices)} of {len(rows)} materials counted"
    texts = [f"This batch costs {sum(prices):.3g} from your bottles{of}"] if prices else []
    unpriced = [row.material.name for row in rows if row.bottle and row.price is None]
    texts += [f"no price is known of {wording.join(unpriced)}"] if unpriced else []
    absent = [row.material.name for row in rows if row.bottle is None]
    texts += [f"in no bottle: {', '.join(absent)}"] if absent else []
    texts += [f"the bottle of {row.material.name} lacks {row.short_g:.3g} g" for row in rows if row.short_g]
    text = "; ".join(texts)
    return f"{text[0].upper()}{text[1:]}." if text else ""


class WeighingSection:
    """The section at the end of the page, worked out while it is open."""

    def __init__(
        self,
        fields: Mapping[str, str],
        set_field: Callable[[str, str], object],
        workspace: Workspace,
        edit: Callable[[Edit], bool],
        say: Callable[..., object],
    ) -> None:
        self.sheet: WeighingSheet | str = ""
        self.read: ParsedLines | None = None
        self.asked: dict[str, str] = {}
        self.workspace, self.edit, self.say = workspace, edit, say
        self.fields = typed = LabelledFields(fields, set_field)
        self.best = ""
        with elements.tag("section", "balance", aria_labelledby="balance-head", id="weigh") as self.section:
            elements.words("At the balance", name="h2").props["id"] = "balance-head"
            with elements.tag("div", "form"):
                typed.text("batch", "batch, g", "batch", "g", usual=BATCH)
                typed.text("digit", "last digit, g", "balance to", "g", usual=DIGIT)
            self._more()
            with elements.tag("div", "form prints"):
                for kind in KINDS:
                    name = {"pdf": "Sheet to print (PDF)"}.get(kind, kind.upper())
                    elements.button(name, partial(self._load, kind), "small")
                elements.button("Labels to print (PDF)", self._load_labels, "small")
                typed.text("lot", "lot number on the labels", "lot", hint="by hand",
                           classes="short wide", numeric=False)  # fmt: skip
            self.wrong = elements.words("", "status-line")
            self.content = elements.tag("div", "weighing")
            self.vials = elements.tag("div", "weighing")
            self.stock = StockSection(workspace, say)
            self.notes = elements.tag("div", "weighing")

    def _more(self) -> None:
        typed = self.fields
        with elements.tag("details", "more") as more:
            elements.words("More: finished product, one vessel, three blind vials", name="summary")
            with elements.tag("div", "form"):
                typed.text("finished", "finished product to make, g", "instead of a batch",
                           "g finished product", hint="none")  # fmt: skip
                share = "share of the formula in the finished product in per cent"
                typed.text(
                    "finished-share", share, "the formula is", "% of the finished product", hint="open"
                )
                carrier = "solvent to top up the finished product with"
                typed.text("carrier", carrier, "topped up with", usual=CARRIER, classes="", numeric=False,
                           options="names", on_leaving=True)  # fmt: skip
            with elements.tag("div", "form"):
                within = "largest share of one balance digit in a line in per cent"
                typed.text("within", within, "one digit is at most", "% of a line", usual=WITHIN)
                typed.tick("flat", "accords opened, all in one vessel")
                typed.tick("as-written", "in the order as written")
            with elements.tag("div", "form"):
                line = "line of the formula of which three blind vials are made"
                typed.text("bracket", line, "three blind vials that differ in", classes="", numeric=False,
                           options="names", hint="no line", on_leaving=True)  # fmt: skip
        more.props.set_bool("open", any(typed.values.get(name) for name in SELDOM))

    async def _load(self, kind: str) -> None:
        sheet = self.sheet
        if kind == "csv" and self.read is not None:  # one table: its accords are opened
            bottles = self.workspace.shelf.stock().by_material
            sheet = sheet_of(self.read, self.workspace, self.asked | {"flat": "yes"}, bottles)
        if isinstance(sheet, str):
            return
        data = await run.io_bound(file_of, sheet, kind)
        if data is not None:
            ui.download.content(data, f"{sheet.formula.name}_weighing.{kind}", KINDS[kind])

    async def _load_labels(self) -> None:
        if isinstance(self.sheet, str):
            return
        version = self.workspace.formulas.same_version(self.sheet.formula)
        data = await run.io_bound(labels_of, self.sheet, version, self.fields.values.get("lot", "").strip())
        if data is not None:
            ui.download.content(data, f"{self.sheet.formula.name}_labels.pdf", KINDS["pdf"])

    def show(self, sheet: WeighingSheet | str, read: ParsedLines, fields: Mapping[str, str]) -> None:
        """Show a plan of the lines as read and the fields as typed, or what is missing for one."""
        self.sheet, self.read, self.asked = sheet, read, dict(fields)
        beside = self.fields.show(sheet if isinstance(sheet, str) else None)
        elements.say(self.wrong, sheet if isinstance(sheet, str) and not beside else "")
        for box in (self.content, self.vials, self.notes):
            box.clear()
        found = None if isinstance(sheet, str) else sheet
        self.stock.show(found, bool(self.asked.get("finished", "").strip()))
        if found is None:
            return
        with self.content:
            if found.dilutions:
                elements.words("Dilutions to make first", name="h3")
                with elements.tag("ul"):
                    for step in found.dilutions:
                        elements.words(
                            f"{weighing.called(step.content)}: {weighing.recipe(step, found)}", name="li"
                        )
            for section in found.sections:
                elements.words(weighing.heading(section, found), name="h3")
                called = f"What to weigh: {section.formula.name}"
                with elements.scrolled(called), elements.tag("table", "plain-table weigh-table"):
                    elements.table_head(list(HEADS.values()))
                    with elements.tag("tbody"):
                        for pour in section.pours:
                            row = weighing.shown(pour, section, found)
                            with elements.tag("tr"):
                                elements.words(row["name"], name="th").props["scope"] = "row"
                                for key in list(HEADS)[1:]:
                                    elements.words(row[key], key, "td")
                elements.words(weighing.whole(section, found), "remark")
        if found.bracket is not None:
            with self.vials:
                self._three_vials(found, found.bracket)
        with self.notes:
            priced = cost(amounts(found.formula), self.workspace.shelf.stock(), found.batch_g)
            if line := cost_words(priced):
                elements.words(line, "remark")
            for line in (*weighing.product_lines(found), *notes_of(found)):
                elements.words(line, "caution" if line.startswith("PROHIBITED") else "remark")

    def _three_vials(self, sheet: WeighingSheet, three: Bracket) -> None:
        lines = weighing.bracket_lines(sheet, three)
        at = next(place for place, line in enumerate(lines) if line.startswith("- - -"))
        head, *more = (line.strip() for line in lines[:at] if line)
        elements.words(head, name="h3")
        with elements.tag("ul"):
            for line in more[: len(three.vials)]:
                elements.words(line, name="li")
        for line in more[len(three.vials) :]:
            elements.words(line)
        with elements.tag("details"):
            elements.words("The key: look at it after smelling", name="summary")
            with elements.tag("ul"):
                for line in lines[at + 1 :]:
                    elements.words(line.strip(), name="li")
        if self.asked.get("dosage", "").strip():
            elements.words(
                "They are compared without a finished product: its dosage does not count here.", "remark"
            )
        numbers = sorted(str(vial.number) for vial in three.vials)
        self.best = self.best if self.best in numbers else ""
        with elements.tag("div", "form"):
            with elements.tag("div", "labelled"):
                elements.words("The best was", "label", "span")
                options = {"": "not smelled yet"} | {number: number for number in numbers}
                elements.choice("number of the vial that was best", options, self.best, self._chose)
            elements.button("Put its dose into the formula", self._take_dose, "small")

    def _chose(self, number: str) -> None:
        self.best = number

    def _take_dose(self) -> None:
        if self.read is None or self.read.formula is None or isinstance(self.sheet, str):
            return
        three = self.sheet.bracket
        if three is None or not self.best:
            self.say("Choose the number of the vial that was best first.")
            return
        try:
            request = request_of(self.asked)
            preferred = self.workspace.preferred(self.read.formula, request, int(self.best))
            edit = take_dose(self.read, preferred, three.material, int(self.best))
        except RecommenderError as error:
            self.say(sentence(error))
            return
        dose = three.vial(int(self.best)).dose
        if self.edit(edit):
            text = f"{three.material.name} has the dose of vial {self.best} now ({dose}). Undo takes it back."
            self.say(text)
