"""The shelf: the person's bottles, added by hand or from a spreadsheet, searched, changed in place."""

from collections.abc import Callable, Mapping
from functools import partial

from nicegui import events, ui

from recommender.errors import BadValue, RecommenderError, UnknownMaterial, WrongCas
from recommender.evidence.intake import MOST_BYTES
from recommender.model import Bottle
from recommender.notebook import shelf_changes
from recommender.notebook.importers import Columns, ImportedRow
from recommender.notebook.removed import Removed
from recommender.notebook.shelf_changes import ShelfChange
from recommender.output import removed_words
from recommender.web.server.guard import TOO_LARGE
from recommender.web.server.jobs import JobFailed
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.bottle_list import BottleList
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.removed_list import bringing_back, removed_list
from recommender.web.widgets.shelf_import import ShelfImport

FIELDS = {"label": ("name on the label", ""),
          "material": ("material (if the label is your own word)", "as the label says"),
          "dilution_percent": ("dilution %", "neat"), "solvent": ("dissolved in", ""),
          "amount_g": ("grams left", "unknown"), "price_per_g": ("price of a gram", "unknown"),
          "opened": ("opened", "yyyy-mm-dd"), "lot": ("lot", ""), "note": ("note", "")}  # fmt: skip
"""Field of a bottle -> its words, and what its blank stands for."""
HEADERS = (
    "A spreadsheet may have any headers. You see how it was read, row by row, before anything is stored; "
    "what is wrong can be mended there."
)
MOST_CHANGES = 20


class ShelfPage:
    """One tab that shows the shelf."""

    def __init__(self, session: PageSession) -> None:
        self.session, self.shelf = session, session.workspace.shelf
        self.upload: tuple[str, bytes] = "", b""
        elements.words("Your bottles", name="h1")
        self.message = elements.Message()
        self._back = bringing_back(session, self.message, self._is_back, self.show)
        self._adder()
        self.preview = elements.tag("section", "own-note preview", aria_labelledby="import-head")
        self.preview.set_visibility(False)
        self.list = BottleList(session.workspace, self.say, self._resolve, self._off, self._changed)
        self.changes = elements.tag("div")
        self.removed = elements.tag("div")
        self.show()

    def _adder(self) -> None:
        with elements.tag("section", "own-note", aria_labelledby="bottle-head"):
            elements.words("Put a bottle on the shelf", name="h2").props["id"] = "bottle-head"
            self.cells: dict[str, ui.input] = {}
            self.wrong: dict[str, ui.html] = {}
            with elements.tag("div", "form"):
                for name, (label, hint) in FIELDS.items():
                    with elements.tag("div", "labelled"):
                        elements.words(label, "label", "span")
                        options = "names" if name in ("material", "solvent") else ""
                        wide = "" if name in ("label", "material", "solvent", "note") else "short wide"
                        self.cells[name] = elements.field(label, "", hint=hint, options=options, classes=wide)
                        self.cells[name].on("keydown.enter", lambda _: self._put())
                        self.wrong[name] = elements.words("", "wrong", "span")
                        elements.say(self.wrong[name], "")
                elements.button("Put it there", self._put, "main")
                upload = ui.upload(
                    on_upload=self._uploaded,
                    on_rejected=lambda: self.say(TOO_LARGE),
                    max_file_size=MOST_BYTES,
                    auto_upload=True,
                ).classes("hidden")
                upload.props["accept"] = ".csv,.tsv,.txt,.xlsx,.xlsm,.xls,.ods"
                self.uploader = upload
                elements.button("Read a spreadsheet…", lambda: upload.run_method("pickFiles"), "small")
            elements.words(HEADERS, "remark")

    def _put(self) -> None:
        cells = {name: (field.value or "").strip() for name, field in self.cells.items()}
        for name in FIELDS:
            elements.say(self.wrong[name], "")
            self.cells[name].props.set_bool("aria-invalid", False)
        try:
            bottle = self.shelf.add(**cells | {"label": cells["label"] or cells["material"]})
        except RecommenderError as error:
            named = isinstance(error, UnknownMaterial | WrongCas)
            place = ("material" if cells["material"] else "label") if named else getattr(error, "field", "")
            if place in self.wrong:
                elements.say(self.wrong[place], sentence(error))
                self.cells[place].props.set_bool("aria-invalid", True)
            else:
                self.say(sentence(error))
            return
        for field in self.cells.values():
            field.value = ""
        self.say(f"{bottle.label} is on the shelf.")
        self.show()

    # a spreadsheet

    async def _uploaded(self, event: events.UploadEventArguments) -> None:
        self.upload = event.file.name, await event.file.read()
        self.uploader.reset()
        await self._read({}, "")

    async def _read(self, columns: Mapping[str, str], sheet: str) -> None:
        """Read the spreadsheet, and show what would be put on the shelf."""
        name, content = self.upload
        try:
            found, rows = await self.session.upload_bottles(name, content, columns or None, sheet)
        except RecommenderError as error:
            self.message.show(sentence(error))  # it begins with the name of the file
            return
        except JobFailed as error:
            self.say(str(error))
            return
        self.say("")
        self.show_import(name, found, rows, columns, sheet)

    def show_import(
        self,
        name: str,
        columns: Columns,
        rows: list[ImportedRow],
        chosen: Mapping[str, str] | None = None,
        sheet: str = "",
    ) -> None:
        """Show a spreadsheet as it was read, with the questions that it leaves open."""
        self.preview.clear()
        self.preview.set_visibility(True)
        with self.preview:
            ShelfImport(
                name,
                columns,
                rows,
                self.session.workspace.palette.catalogue,
                self.shelf.stock().bottles,
                self._put_all,
                self._cancel,
                self._read,
                chosen or {},
                sheet,
            )
        ui.run_javascript("document.getElementById('import-head').scrollIntoView({block: 'start'})")

    def _cancel(self) -> None:
        self._close()
        self.say("Nothing of the spreadsheet was stored.")

    def _close(self) -> None:
        self.preview.clear()
        self.preview.set_visibility(False)

    def _put_all(self, name: str, bottles: list[Bottle]) -> None:
        before = {change.number for change in self.shelf.changes()}
        try:
            done = self.shelf.add_all(bottles, name)
        except RecommenderError as error:
            self.say(sentence(error))
            return
        new = sum(is_new for _, is_new, _ in done)
        change = next((one for one in self.shelf.changes() if one.number not in before), None)
        self._close()
        text = f"{len(done)} bottle{'' if len(done) == 1 else 's'} from {name}: {new} new"
        text += f", {len(done) - new} brought up to date." if len(done) > new else "."
        self.say(text, undo=None if change is None else partial(self._undo, change.number))
        self.show()

    def say(self, text: str, undo: Callable[[], object] | None = None) -> None:
        """Show one line above the shelf."""
        self.message.show(_upper(text), undo)

    def show(self) -> None:
        """List the bottles, what was done to them and what was taken away."""
        self.list.show()
        removed = self.session.workspace.removed.entries()
        self.removed.clear()
        with self.removed:
            here = [one for one in removed if one.kind in ("bottle", shelf_changes.KIND)]
            removed_list(here, self.session.workspace.palette.catalogue, self._back)
        self.changes.clear()
        if changes := self.shelf.changes():
            with self.changes, elements.tag("details", "removed"):
                elements.words(f"Changes: {len(changes)}, can be undone", name="summary")
                with elements.tag("ul"):
                    for one in changes[:MOST_CHANGES]:
                        with elements.tag("li", "gap"):
                            made = one.made.replace("T", " ")
                            elements.words(f"{_words(one)}; {made} UTC", "remark", "span")
                            elements.button("Undo", partial(self._undo, one.number), "small",
                                            label=f"Undo: {_words(one)}, {made}")  # fmt: skip

    def _changed(self, number: int) -> None:
        """Show the shelf after a bottle was changed, with the way back."""
        change = next(one for one in self.shelf.changes() if one.number == number)
        self.say(f"{change.name} is changed: {_differs(change)}.", undo=partial(self._undo, number))
        self.show()

    def _undo(self, number: int) -> None:
        try:
            change, _ = self.shelf.undo(number)
        except RecommenderError as error:
            self.say(sentence(error))
        else:
            self.say(f"Undone: {_words(change)}.")
        self.show()

    def _resolve(self, label: str, name: str) -> None:
        try:
            found, _, named = self.shelf.resolve(label, name)
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
            _, removed = self.shelf.remove(number)
        except BadValue:  # another tab was quicker
            removed = None
        text = f"{label} is off the shelf; the material of its label stays on record."
        self.say(text, undo=None if removed is None else partial(self._back, removed))
        self.show()

    def _is_back(self, found: Removed) -> str:
        if found.kind == "bottle":
            return f"{_upper(found.name)} is on the shelf again."
        return f"{_upper(removed_words.what(found, self.session.workspace.palette.catalogue))} is done again."


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def _words(change: ShelfChange) -> str:
    return removed_words.change_words(change.kind, change.name, change.batch_g, len(change.bottles))


def _differs(change: ShelfChange) -> str:
    """Return what is new on the one bottle of a change."""
    (bottle,) = change.bottles
    words = {"amount_g": "grams left", "price_per_g": "price of a gram", "dilution_percent": "dilution"}
    found = []
    for name, value in bottle.after.items():
        if value != bottle.before[name]:
            shown = (
                "unknown" if value in (None, "") else f"{value:.10g}" if isinstance(value, float) else value
            )
            found.append(f"{words.get(name, name)} {shown}")
    return ", ".join(found)
