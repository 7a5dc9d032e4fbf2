"""The shelf: the person's bottles, added by hand or from a spreadsheet."""

import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path
from urllib.parse import quote

from nicegui import events, ui

from recommender.errors import BadTable, RecommenderError
from recommender.evidence.sheets import Row
from recommender.notebook import importers
from recommender.notebook.importers import ImportedRow
from recommender.web import parts
from recommender.web.desk import PageSession
from recommender.web.error_words import sentence
from recommender.web.removals import removals

FIELDS = {"label": ("as on the bottle", "violet stuff"), "material": ("material", "alpha-ionone"),
          "dilution": ("%", "neat"), "solvent": ("in", "dipropylene glycol"), "amount": ("grams left", ""),
          "price": ("price of a gram", ""), "opened": ("opened", "2026-03-01"),
          "lot": ("lot", "")}  # fmt: skip
HEADS = ("label", "material", "dilution", "g left", "price a gram neat", "opened", "caution", "what to do")

HEADERS = "A spreadsheet may have any headers: how each was read is reported, and what is wrong, row by row."
EMPTY = (
    "The shelf is empty. Put a bottle there above, or read the spreadsheet that you have: "
    "then suggestions can be limited to what you own, and prices are known."
)


class ShelfPage:
    """One tab that shows the shelf."""

    def __init__(self, desk: PageSession) -> None:
        self.desk = desk
        parts.words("Your bottles", name="h1")
        self.message = parts.Message()
        self._adder()
        self.report = parts.tag("div")
        self.list = parts.tag("div", "scroll bottles", tabindex="0", role="region", aria_label="Bottles")
        self.removed = parts.tag("div")
        self.show()

    def _adder(self) -> None:
        with parts.tag("section", "own-note", aria_labelledby="bottle-head"):
            parts.words("Put a bottle on the shelf", name="h2").props["id"] = "bottle-head"
            self.cells: dict[str, ui.input] = {}
            with parts.tag("div", "form"):
                for name, (label, hint) in FIELDS.items():
                    with parts.tag("div", "labelled"):
                        parts.words(label, "label", "span")
                        options = "names" if name in ("material", "solvent") else ""
                        wide = "" if name in ("label", "material", "solvent") else "short wide"
                        self.cells[name] = parts.field(label, "", hint=hint, options=options, classes=wide)
                parts.button("Put it there", self._put, "main")
                upload = ui.upload(on_upload=self._uploaded, auto_upload=True).classes("hidden")
                upload.props["accept"] = ".csv,.tsv,.txt,.xlsx,.xlsm"
                parts.button("Read a spreadsheet…", lambda: upload.run_method("pickFiles"), "small")
            parts.words(HEADERS, "remark")  # fmt: skip

    def _put(self) -> None:
        cells = {name: (field.value or "").strip() for name, field in self.cells.items()}
        try:
            catalogue = self.desk.workspace.palette.catalogue
            if cells["material"]:
                catalogue.find(cells["material"])
            row = Row("shelf", 0, {"cas": "", "note": "", **cells})
            bottle, _, _ = importers.bottle_of(row, catalogue)
            if not bottle.material:
                catalogue.find(cells["material"] or cells["label"])
            self.desk.add_bottle(bottle)
        except RecommenderError as error:
            column = FIELDS.get(error.column or "", ("",))[0] if isinstance(error, BadTable) else ""
            self.say(
                f"{column}: {error.problem}." if isinstance(error, BadTable) and column else sentence(error)
            )
            return
        for field in self.cells.values():
            field.value = ""
        self.say(f"{bottle.label} is on the shelf.")
        self.show()

    async def _uploaded(self, event: events.UploadEventArguments) -> None:
        content = await event.file.read()
        try:
            with tempfile.TemporaryDirectory() as folder:
                file = Path(folder) / Path(event.file.name).name
                file.write_bytes(content)
                columns, rows = importers.read(file, self.desk.workspace.palette.catalogue)
            self.desk.import_bottles(rows)
        except RecommenderError as error:
            self.say(sentence(error))
            return
        left = [row for row in rows if row.error]
        self.say(f"{len(rows) - len(left)} of {len(rows)} rows read, {len(left)} left out.")
        self.show()
        self._report(columns.told(), rows)

    def _report(self, lines: list[str], rows: list[ImportedRow]) -> None:
        odd = [row for row in rows if row.error or row.remark or (row.bottle and not row.bottle.material)]
        self.report.clear()
        with self.report:
            for line in lines:
                parts.words(line, "remark")
            for row in odd:
                what = row.error or row.remark or "its material is not known: write it below"
                label = f"“{row.bottle.label}”, " if row.bottle else ""
                with parts.tag("div") as entry:
                    parts.words(f"line {row.line}: {label}{what}", "wrong" if row.error else "remark")
                    self._choice(row, entry)

    def _choice(self, row: ImportedRow, entry: ui.element) -> None:
        """Offer what a bottle may be where its label and its CAS number disagree."""

        def choose(label: str, name: str) -> None:
            entry.delete()
            self._resolve(label, name)

        for slug in row.candidates:
            if row.bottle:
                label, name = row.bottle.label, self.desk.workspace.palette.catalogue.by_slug(slug).name
                parts.button(f"{label} is {name}", partial(choose, label, name), "small")

    def say(self, text: str, undo: Callable[[], object] | None = None) -> None:
        """Show one line above the shelf."""
        self.message.show(text[0].upper() + text[1:] if text else "", undo)

    def show(self) -> None:
        """List the bottles."""
        shelf, catalogue = self.desk.workspace.shelf(), self.desk.workspace.palette.catalogue
        self.removed.clear()
        with self.removed:
            removals(self.desk.removed("bottle"), catalogue, self._back)
        self.list.clear()
        with self.list:
            if not shelf.bottles:
                parts.words(EMPTY, "empty")  # fmt: skip
                return
            with parts.tag("table", "plain-table"):
                parts.table_head(HEADS)
                with parts.tag("tbody"):
                    for bottle in shelf.bottles:
                        row = catalogue.index.get(bottle.material)
                        material = catalogue.materials[row] if row is not None else None
                        price = bottle.neat_price_per_g
                        with parts.tag("tr"):
                            parts.words(bottle.label, name="th").props["scope"] = "row"
                            with parts.tag("td"):
                                if material is None:
                                    parts.field(
                                        f"what {bottle.label} is",
                                        done=partial(self._resolve, bottle.label),
                                        options="names",
                                        hint="what it is",
                                    )
                                else:
                                    parts.link(material.name, f"/material/{quote(material.slug)}")
                            diluted = bottle.dilution_percent != 100
                            for cell in (
                                f"{bottle.dilution_percent:g} %" if diluted else "neat",
                                "" if bottle.amount_g is None else f"{bottle.amount_g:g}",
                                "" if price is None else f"{price:.3g}",
                                bottle.opened,
                                " ".join(shelf.remarks(bottle, material)) if material else "",
                            ):
                                parts.words(cell, name="td")
                            with parts.tag("td"):
                                off = partial(self._off, bottle.number, bottle.label)
                                label = f"Take {bottle.label} off the shelf"
                                parts.button("×", off, "plain sign", label=label)

    def _resolve(self, label: str, name: str) -> None:
        try:
            found = self.desk.workspace.palette.catalogue.find(name)
        except RecommenderError as error:
            self.say(sentence(error))
            return
        named = self.desk.resolve(label, found.slug)
        if named is None:
            self.say(f"“{label}” is {found.name} from now on, here and in formulas.")
        else:
            self.say(f"The bottle “{label}” is {found.name}; in formulas {label} is {named.name} as before.")
        self.show()

    def _off(self, number: int, label: str) -> None:
        removed = self.desk.remove_bottle(number)
        text = f"{label} is off the shelf; the page still knows what its label stands for."
        self.say(text, undo=None if removed is None else partial(self._back, removed))
        self.show()

    def _back(self, number: int) -> None:
        try:
            self.say(f"{self.desk.bring_back(number).name} is on the shelf again.")
        except RecommenderError as error:
            self.say(sentence(error))
        self.show()
