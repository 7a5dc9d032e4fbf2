"""At the balance: what to weigh for a batch, what to dilute first, and the sheet to print."""

import tempfile
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path

from nicegui import run, ui
from nicegui.element import Element

from recommender import units
from recommender.errors import BadValue, RecommenderError
from recommender.output import weighing, worksheet
from recommender.web.server.typed_lines import ParsedLines
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.product_section import product_use, share_of
from recommender.weighing.plan import WeighingSheet
from recommender.weighing.request import WeighingRequest
from recommender.workspace import Workspace

BATCH, DIGIT = "10", "0.01"
HEADS = {"name": "material", "dilution": "as", "parts": "of 1000", "weigh": "weigh", "off": "rounding"}
KINDS = {"pdf": "application/pdf", "csv": "text/csv",
         "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}  # fmt: skip


def sheet_of(read: ParsedLines, workspace: Workspace, fields: Mapping[str, str]) -> WeighingSheet | str:
    """Return the weighing sheet of a batch, or the sentence of what is missing for it."""
    if read.formula is None:
        return "Put a material with its parts into the formula first."
    try:
        use = product_use(fields)
        request = WeighingRequest(
            batch_g=_mass("batch_g", fields.get("batch", "").strip() or BATCH),
            resolution_g=_mass("resolution_g", fields.get("digit", "").strip() or DIGIT),
            dosage_percent=use.dosage_percent,
            share_percent=share_of(fields),
            market=use.market,
            category=use.category,
            on=use.on,
        )
        return workspace.weigh(read.formula, request)
    except RecommenderError as error:
        return sentence(error)


def _mass(field: str, text: str) -> float:
    """Return a mass as typed [g]; raises `BadValue` of this field."""
    try:
        return units.mass_of(text)
    except BadValue as error:
        raise BadValue(field, text, error.wanted) from None


def notes_of(sheet: WeighingSheet) -> list[str]:
    """Return what to read before weighing: of the formula, then of the sheet."""
    return [*sheet.notes, *weighing.notes(sheet)]


def file_of(sheet: WeighingSheet, kind: str) -> bytes:
    """Return a sheet as a file: pdf to print, xlsx or csv."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"sheet.{kind}"
        worksheet.save(sheet, notes_of(sheet), str(path))
        return path.read_bytes()


class WeighingSection:
    """The section at the end of the page, worked out while it is open."""

    def __init__(self, fields: Mapping[str, str], set_field: Callable[[str, str], object]) -> None:
        self.sheet: WeighingSheet | str = ""
        with elements.tag("section", "balance", aria_labelledby="balance-head", id="weigh") as self.section:
            elements.words("At the balance", name="h2").props["id"] = "balance-head"
            with elements.tag("div", "form"):
                for name, label, usual in (
                    ("batch", "batch, g", BATCH),
                    ("digit", "last digit, g", DIGIT),
                ):
                    with elements.tag("div", "labelled"):
                        elements.words(label, "label", "span")
                        elements.field(label, fields.get(name, "") or usual, classes="short", numeric=True,
                                    live=partial(set_field, name))  # fmt: skip
                for kind in KINDS:
                    name = {"pdf": "Sheet to print (PDF)"}.get(kind, kind.upper())
                    elements.button(name, self._loading(kind), "small")
            self.wrong = elements.words("", "status-line")
            self.content = elements.tag("div", "weighing")

    def _loading(self, kind: str) -> Callable[[], object]:
        async def load() -> None:
            if isinstance(self.sheet, str):
                return
            data = await run.io_bound(file_of, self.sheet, kind)
            if data is not None:
                ui.download.content(data, f"{self.sheet.formula.name}_weighing.{kind}", KINDS[kind])

        return load

    def show(self, sheet: WeighingSheet | str) -> None:
        """Show a plan, or what is missing for one."""
        self.sheet = sheet
        elements.say(self.wrong, sheet if isinstance(sheet, str) else "")
        self.content.clear()
        if isinstance(sheet, str):
            return
        with self.content:
            if sheet.dilutions:
                elements.words("Dilutions to make first", name="h3")
                with elements.tag("ul"):
                    for step in sheet.dilutions:
                        elements.words(
                            f"{weighing.called(step.content)}: {weighing.recipe(step, sheet)}", name="li"
                        )
            for section in sheet.sections:
                elements.words(weighing.heading(section, sheet), name="h3")
                with _scrolled(section.formula.name), elements.tag("table", "plain-table weigh-table"):
                    elements.table_head(list(HEADS.values()))
                    with elements.tag("tbody"):
                        for pour in section.pours:
                            row = weighing.shown(pour, section, sheet)
                            with elements.tag("tr"):
                                elements.words(row["name"], name="th").props["scope"] = "row"
                                for key in list(HEADS)[1:]:
                                    elements.words(row[key], key, "td")
                elements.words(weighing.whole(section, sheet), "remark")
            for line in (*weighing.product_lines(sheet), *notes_of(sheet)):
                elements.words(line, "caution" if line.startswith("PROHIBITED") else "remark")


def _scrolled(name: str) -> Element:
    """Return a box that a narrow screen can move sideways, by the keyboard too."""
    return elements.tag("div", "scroll", tabindex="0", role="region", aria_label=f"What to weigh: {name}")
