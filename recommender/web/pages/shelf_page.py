"""The shelf: the person's bottles, added by hand or from a spreadsheet."""

from collections.abc import Callable
from functools import partial
from urllib.parse import quote

from nicegui import events, ui

from recommender.errors import BadValue, RecommenderError
from recommender.evidence.intake import MOST_BYTES
from recommender.notebook.importers import ImportedRow
from recommender.web.server.guard import TOO_LARGE
from recommender.web.server.jobs import JobFailed
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.removed_list import removed_list

FIELDS = {"label": ("as on the bottle", "violet stuff"), "material": ("material", "alpha-ionone"),
          "dilution_percent": ("%", "neat"), "solvent": ("in", "dipropylene glycol"),
          "amount_g": ("grams left", ""), "price_per_g": ("price of a gram", ""),
          "opened": ("opened", "2026-03-01"), "lot": ("lot", "")}  # fmt: skip
HEADS = ("label", "material", "dilution", "g left", "price a gram neat", "opened", "caution", "what to do")

HEADERS = "A spreadsheet may have any headers: how each was read is reported, and what is wrong, row by row."
EMPTY = (
    "The shelf is empty. Put a bottle there above, or read the spreadsheet that you have: "
    "then suggestions can be limited to what you own, and prices are known."
)


class ShelfPage:
    """One tab that shows the shelf."""

    def __init__(self, session: PageSession) -> None:
        self.session = session
        elements.words("Your bottles", name="h1")
        self.message = elements.Message()
        self._adder()
        self.report = elements.tag("div")
        self.list = elements.tag("div", "scroll bottles", tabindex="0", role="region", aria_label="Bottles")
        self.removed = elements.tag("div")
        self.show()

    def _adder(self) -> None:
        with elements.tag("section", "own-note", aria_labelledby="bottle-head"):
            elements.words("Put a bottle on the shelf", name="h2").props["id"] = "bottle-head"
            self.cells: dict[str, ui.input] = {}
            with elements.tag("div", "form"):
                for name, (label, hint) in FIELDS.items():
                    with elements.tag("div", "labelled"):
                        elements.words(label, "label", "span")
                        options = "names" if name in ("material", "solvent") else ""
                        wide = "" if name in ("label", "material", "solvent") else "short wide"
                        self.cells[name] = elements.field(label, "", hint=hint, options=options, classes=wide)
                elements.button("Put it there", self._put, "main")
                upload = ui.upload(
                    on_upload=self._uploaded,
                    on_rejected=lambda: self.say(TOO_LARGE),
                    max_file_size=MOST_BYTES,
                    auto_upload=True,
                ).classes("hidden")
                upload.props["accept"] = ".csv,.tsv,.txt,.xlsx,.xlsm,.xls,.ods"
                elements.button("Read a spreadsheet…", lambda: upload.run_method("pickFiles"), "small")
            elements.words(HEADERS, "remark")  # fmt: skip

    def _put(self) -> None:
        cells = {name: (field.value or "").strip() for name, field in self.cells.items()}
        try:
            bottle = self.session.workspace.shelf.add(
                **cells | {"label": cells["label"] or cells["material"]}
            )
        except RecommenderError as error:
            self.say(sentence(error))
            return
        for field in self.cells.values():
            field.value = ""
        self.say(f"{bottle.label} is on the shelf.")
        self.show()

    async def _uploaded(self, event: events.UploadEventArguments) -> None:
        content = await event.file.read()
        try:
            columns, rows = await self.session.upload_bottles(event.file.name, content)
        except RecommenderError as error:
            self.message.show(sentence(error))  # it begins with the name of the file
            return
        except JobFailed as error:
            self.say(str(error))
            return
        left = [row for row in rows if row.error]
        self.say(f"{len(rows) - len(left)} of {len(rows)} rows read, {len(left)} left out.")
        self.show()
        self._report([*columns.summary(), *columns.notes], rows)

    def _report(self, lines: list[str], rows: list[ImportedRow]) -> None:
        odd = [row for row in rows if row.error or row.remark or (row.bottle and not row.bottle.material)]
        self.report.clear()
        with self.report:
            for line in lines:
                elements.words(line, "remark")
            for row in odd:
                what = row.error or row.remark or "its material is not known: write it below"
                label = f"“{row.bottle.label}”, " if row.bottle else ""
                with elements.tag("div") as entry:
                    elements.words(f"line {row.line}: {label}{what}", "wrong" if row.error else "remark")
                    self._choice(row, entry)

    def _choice(self, row: ImportedRow, entry: ui.element) -> None:
        """Offer what a bottle may be where its label and its CAS number disagree."""

        def choose(label: str, name: str) -> None:
            entry.delete()
            self._resolve(label, name)

        for slug in row.candidates:
            if row.bottle:
                label, name = row.bottle.label, self.session.workspace.palette.catalogue.by_slug(slug).name
                elements.button(f"{label} is {name}", partial(choose, label, name), "small")

    def say(self, text: str, undo: Callable[[], object] | None = None) -> None:
        """Show one line above the shelf."""
        self.message.show(text[0].upper() + text[1:] if text else "", undo)

    def show(self) -> None:
        """List the bottles."""
        shelf, catalogue = self.session.workspace.shelf.stock(), self.session.workspace.palette.catalogue
        self.removed.clear()
        with self.removed:
            removed_list(self.session.workspace.removed.entries("bottle"), catalogue, self._back)
        self.list.clear()
        with self.list:
            if not shelf.bottles:
                elements.words(EMPTY, "empty")  # fmt: skip
                return
            with elements.tag("table", "plain-table"):
                elements.table_head(HEADS)
                with elements.tag("tbody"):
                    for bottle in shelf.bottles:
                        row = catalogue.index.get(bottle.material)
                        material = catalogue.materials[row] if row is not None else None
                        price = bottle.neat_price_per_g
                        with elements.tag("tr"):
                            elements.words(bottle.label, name="th").props["scope"] = "row"
                            with elements.tag("td"):
                                if material is None:
                                    elements.field(
                                        f"what {bottle.label} is",
                                        done=partial(self._resolve, bottle.label),
                                        options="names",
                                        hint="what it is",
                                    )
                                else:
                                    elements.link(material.name, f"/material/{quote(material.slug)}")
                            diluted = bottle.dilution_percent != 100
                            for cell in (
                                f"{bottle.dilution_percent:g} %" if diluted else "neat",
                                "" if bottle.amount_g is None else f"{bottle.amount_g:g}",
                                "" if price is None else f"{price:.3g}",
                                bottle.opened,
                                " ".join(shelf.remarks(bottle, material)) if material else "",
                            ):
                                elements.words(cell, name="td")
                            with elements.tag("td"):
                                off = partial(self._off, bottle.number, bottle.label)
                                label = f"Take {bottle.label} off the shelf"
                                elements.button("×", off, "plain sign", label=label)

    def _resolve(self, label: str, name: str) -> None:
        try:
            found, _, named = self.session.workspace.shelf.resolve(label, name)
        except RecommenderError as error:
            self.say(sentence(error))
            return
        if named is None:
            self.say(f"“{label}” is {found.name} from now on, here and in formulas.")
        else:
            self.say(f"The bottle “{label}” is {found.name}; in formulas {label} is {named.name} as before.")
        self.show()

    def _off(self, number: int, label: str) -> None:
        try:
            _, removed = self.session.workspace.shelf.remove(number)
        except BadValue:  # another tab was quicker
            removed = None
        text = f"{label} is off the shelf; the material of its label stays on record."
        self.say(text, undo=None if removed is None else partial(self._back, removed))
        self.show()

    def _back(self, number: int) -> None:
        try:
            self.say(f"{self.session.workspace.removed.bring_back(number).name} is on the shelf again.")
        except RecommenderError as error:
            self.say(sentence(error))
        self.show()
