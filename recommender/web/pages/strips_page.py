"""Strips of single materials, and the fit of still air, paper and nose to them."""

from functools import partial
from urllib.parse import quote

from nicegui import run, ui

from recommender import units
from recommender.calibration import Fit
from recommender.errors import RecommenderError
from recommender.model import OwnStrip, Reading
from recommender.notebook.readings import SCALE, written
from recommender.output import calibration
from recommender.output.trials import at, reading_count
from recommender.web.server.session import PageSession
from recommender.web.server.uploads import read_sheet
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.formula_view import without_commands
from recommender.web.widgets.readings_import import ReadingsImport
from recommender.web.widgets.removed_list import bringing_back, removed_list

LEAD = (
    "Smell strips of a few materials hour by hour, then fit. Three materials that you know show how fast "
    "your strips dry; six or more, each smelled until it is gone, also show the effect of the paper and of "
    "your nose."
)
EMPTY = "No strip yet. Dip 20 mg on 5 cm², and write down what you smell at each hour."
FIELDS = {
    "material": ("material", "name or CAS number"),
    "dilution_percent": ("dilution, %", "blank: neat"),
    "solvent": ("in", "blank: dipropylene glycol"),
    "room_c": ("room, °C", "blank: 25"),
    "day": ("day", "blank: today"),
    "hour": ("after", "how long"),
    "rating": ("it was", "its strength"),
}
COLUMNS = (
    "A sheet has the columns material, hours and strength, and where known cas, dilution_percent, solvent, "
    "room_c, day and words. Nothing is stored before you have seen it."
)
HEADS = ("material", "as", "day", "room", "readings", "")


class StripsPage:
    """One tab on the strips of single materials."""

    def __init__(self, session: PageSession) -> None:
        self.session = session
        elements.words("Strips of single materials: your air, your paper, your nose", name="h1")
        self.message = elements.Message()
        self._bring_back = bringing_back(session, self.message, lambda _: "It is there again.", self.show)
        elements.words(LEAD, "lead")
        with elements.tag("section", "own-note", aria_labelledby="strip-head"):
            elements.words("A new strip", name="h2").props["id"] = "strip-head"
            self.cells: dict[str, ui.input] = {}
            with elements.tag("div", "form"):
                for name, (label, hint) in FIELDS.items():
                    with elements.tag("div", "labelled"):
                        elements.words(label, "label", "span")
                        wide = "" if name in ("material", "solvent") else "short wide"
                        options = "names" if name in ("material", "solvent") else ""
                        self.cells[name] = elements.field(label, "", hint=hint, options=options, classes=wide)
                elements.button("Save this strip", self._add, "main")
            elements.words(f"Strength is {SCALE}; an hour is written as 30 min, 8 h or 3 days.", "remark")
        self.list = elements.tag("div")
        heads = ("material", "as", "day", "readings")
        self.sheets = ReadingsImport(
            "strips", COLUMNS, heads, self._read_sheet, _cells, self._put_all, self.message
        )
        with elements.tag("section", "fit", aria_labelledby="fit-head"):
            elements.words("Figures in use", name="h2").props["id"] = "fit-head"
            self.used = elements.tag("div")
            with elements.tag("div", "form"):
                elements.button("Fit to my strips", self._fit)
                self.take = elements.button("Use this fit", self._use, "main")
                self.back = elements.button("Back to the figures of the table", self._reset, "small")
                self.status = elements.words("", "remark", "span")
                self.status.props["role"] = "status"
            self.fitted = elements.tag("div")
        self.removed = elements.tag("div")
        self.take.set_visibility(False)
        self.show()

    async def _read_sheet(self, name: str, content: bytes) -> tuple[list[OwnStrip], list[str]]:
        found: tuple[list[OwnStrip], list[str]] = await read_sheet(self.session, "strips", name, content)
        return found

    def _put_all(self, found: list[OwnStrip]) -> None:
        self.session.workspace.own_strips.add_all(found)
        self.show()

    def show(self) -> None:
        """List the strips, and the figures in use."""
        workspace = self.session.workspace
        strips = workspace.own_strips.records()
        self.list.clear()
        with self.list:
            if not strips:
                elements.words(EMPTY, "empty")
            else:
                with elements.tag("div", "scroll"), elements.tag("table", "plain-table readings"):
                    elements.table_head(HEADS)
                    with elements.tag("tbody"):
                        for strip in strips:
                            self._row(strip)
        fit = workspace.own_strips.fit_in_use()
        self.used.clear()
        with self.used:
            for line in calibration.used_lines(calibration.used_data(fit, workspace.palette)):
                elements.words(without_commands(line), "remark")
        self.back.set_visibility(fit is not None)
        self.removed.clear()
        with self.removed:
            kinds = ("strip", "strip reading", "fit")
            entries = [one for kind in kinds for one in workspace.removed.entries(kind)]
            entries.sort(key=lambda one: -one.number)
            removed_list(entries, workspace.palette.catalogue, self._bring_back)

    def _row(self, strip: OwnStrip) -> None:
        with elements.tag("tr"):
            with elements.tag("th", scope="row"):
                elements.link(strip.material.name, f"/material/{quote(strip.material.slug)}")
            for cell in (_strength(strip), strip.day, f"{strip.room_c:g} °C"):
                elements.words(cell, name="td")
            with elements.tag("td"):
                for one in strip.readings:
                    self._reading(strip, one)
                elements.field(
                    f"another reading of {strip.material.name}",
                    hint="add: after how long, and its strength",
                    done=partial(self._read, strip),
                    classes="reading",
                )
            with elements.tag("td"):
                off = partial(self._remove, strip)
                elements.button("×", off, "plain sign", label=f"Remove the strip of {strip.material.name}")

    def _reading(self, strip: OwnStrip, one: Reading) -> None:
        what = reading_words(one)
        with elements.tag("span", "reading"):
            elements.field(
                f"reading of {strip.material.name}: {what}",
                what,
                done=partial(self._correct, strip, one),
                classes="strip-reading",
            )
            label = f"Take out: {strip.material.name}, {what}"
            elements.button("×", partial(self._remove_reading, strip, one), "plain sign", label=label)

    def _add(self) -> None:
        cells = {name: (field.value or "").strip() for name, field in self.cells.items()}
        try:
            hours = units.hours_of(cells["hour"] or "1 h")
            readings = {hours: cells["rating"]} if cells["rating"] else {}
            room_c = units.celsius_of(cells["room_c"]) if cells["room_c"] else None
            strip = self.session.workspace.own_strips.add(
                cells["material"],
                readings,
                dilution_percent=cells["dilution_percent"],
                solvent=cells["solvent"],
                room_c=room_c,
                day=cells["day"],
            )
        except RecommenderError as error:
            self.message.show(sentence(error))
            return
        for name in ("material", "hour", "rating"):
            self.cells[name].value = ""
        self.message.show(f"The strip of {strip.material.name} is on record.")
        self.show()

    def _read(self, strip: OwnStrip, text: str) -> None:
        if not text.strip():
            return
        try:
            hours, rating = hour_and_rating(text)
            self.session.workspace.own_strips.read(strip.number, {hours: rating})
        except RecommenderError as error:
            self.message.show(sentence(error))
            return
        self.message.show("")
        self.show()

    def _correct(self, strip: OwnStrip, one: Reading, text: str) -> None:
        if text.strip() == reading_words(one):
            return
        try:
            hours, rating = hour_and_rating(text)
            self.session.workspace.own_strips.correct(strip.number, one.place, rating, hours)
        except RecommenderError as error:
            # what was typed stays, to be mended
            self.message.show(f"{sentence(error)} Stored is still: {reading_words(one)}.")
            return
        self.message.show(
            f"The reading of {strip.material.name} is changed from {reading_words(one)}; "
            "the older one is among the removed."
        )
        self.show()

    def _remove(self, strip: OwnStrip) -> None:
        try:
            removed = self.session.workspace.own_strips.remove(strip.number)
        except RecommenderError as error:
            self.message.show(sentence(error))
        else:
            text = f"The strip of {strip.material.name} is removed."
            self.message.show(text, partial(self._bring_back, removed))
        self.show()

    def _remove_reading(self, strip: OwnStrip, one: Reading) -> None:
        try:
            removed = self.session.workspace.own_strips.remove_reading(strip.number, one.place)
        except RecommenderError as error:
            self.message.show(sentence(error))
        else:
            text = f"A reading of {strip.material.name} is taken out."
            self.message.show(text, partial(self._bring_back, removed))
        self.show()

    async def _fit(self) -> None:
        elements.say(self.status, "fitting to your strips …")
        try:
            found = await run.io_bound(self.session.workspace.own_strips.fit)
        except RecommenderError as error:
            elements.say(self.status, sentence(error))
            return
        if found is None:  # the server is closing
            return
        elements.say(self.status, "")
        self.take.set_visibility(True)
        self._show_fit(found)

    def _show_fit(self, found: Fit) -> None:
        self.fitted.clear()
        with self.fitted:
            for line in calibration.fit_lines(found):
                elements.words(line, "fit-line")

    async def _use(self) -> None:
        try:
            await run.io_bound(partial(self.session.workspace.own_strips.fit, use=True))
        except RecommenderError as error:
            elements.say(self.status, sentence(error))
            return
        self.take.set_visibility(False)
        self.fitted.clear()
        self.message.show("Every drydown uses the fit to your strips from now on.")
        self.show()

    def _reset(self) -> None:
        try:
            removed = self.session.workspace.own_strips.reset_fit()
        except RecommenderError as error:
            self.message.show(sentence(error))
            return
        undo = None if removed is None else partial(self._bring_back, removed)
        self.message.show("Every drydown uses the figures of the table again; your strips stay.", undo)
        self.show()


def _strength(strip: OwnStrip) -> str:
    return f"{round(100 * strip.dilution, 9):g} %" if strip.dilution < 1 else "neat"


def _cells(strip: OwnStrip) -> tuple[str, ...]:
    """Return the cells of a strip that is not stored yet."""
    return strip.material.name, _strength(strip), strip.day, reading_count(strip.readings)


def reading_words(one: Reading) -> str:
    """Return a reading as it is written in one: 8 h gone."""
    return f"{at(one.hours)} {written(one).removeprefix('whole ')}"


def hour_and_rating(text: str) -> tuple[float, str]:
    """Return the hour [h] and the strength of a reading written in one: 8 h gone, fresh strong.

    Raises
    ------
    BadValue
        Its beginning is no hour.

    >>> hour_and_rating("8 h too strong")
    (8.0, 'too strong')
    """
    words = text.split()
    for count in (2, 1):
        hour, rating = " ".join(words[:count]), " ".join(words[count:])
        try:
            return units.hours_of(hour), rating
        except RecommenderError:
            continue
    return units.hours_of(text), ""
