"""Any two versions or trials beside each other, lane by lane, and a sheet to smell them blind."""

import asyncio
import secrets
from collections.abc import Callable
from dataclasses import replace

from nicegui import background_tasks, run, ui

from recommender.errors import RecommenderError
from recommender.formulas.drydown import FormulaDrydown
from recommender.output.worksheet import blind
from recommender.web.server.session import PageSession
from recommender.web.server.typed_lines import ParsedLines
from recommender.web.widgets import elements
from recommender.web.widgets.comparison_view import ComparisonView, comparison_view
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.lanes import Lanes
from recommender.workspace import Workspace

NOW = "now"
"""The formula as it stands on the page."""
NO_VERSION = "Nothing is saved yet: save a version, change the formula, and compare the two."


class CompareSection:
    """Two choices, worked out while the section is open; closed until it is asked for."""

    def __init__(self, session: PageSession, asked: Callable[[], tuple[str, ...]]) -> None:
        self.session, self.asked = session, asked
        self.read: ParsedLines | None = None
        self.chosen = {"one": "", "other": NOW}
        self.options: dict[str, str] = {}
        self.is_open = False
        self.wanted = self.drawn = 0
        self.working = False
        self.shown: ComparisonView | None = None
        self.client = ui.context.client
        with elements.tag("details", "compare", id="compare") as self.section:
            elements.words("Compare two versions or trials", name="summary")
            self.form = elements.tag("div", "form sentence")
            self.status = elements.words("", "status-line")
            self.status.props["role"] = "status"
            self.box = elements.tag("div", "compared")
            with self.box, elements.tag("div", "two"):
                with elements.tag("div", "picture", role="group", aria_label="Lanes of both"):
                    self.lanes = Lanes()
                self.changes = elements.tag("div", "changes")
        self.box.set_visibility(False)
        self.section.on("toggle", self._toggled, js_handler="(e) => emit(e.target.open)")

    def show(self, read: ParsedLines) -> None:
        """Take over the formula as it stands; what is shown of it is worked out again."""
        self.read = read
        if self.is_open:
            self._renew()

    def _toggled(self, event: object) -> None:
        self.is_open = bool(getattr(event, "args", False))
        if self.is_open:
            self._renew()

    def _renew(self) -> None:
        try:
            options = self._choices()
        except RecommenderError as error:
            elements.say(self.status, sentence(error))
            return
        if options != self.options:
            self.options = options
            before = next((key for key in options if key != NOW), "")
            for side, usual in (("one", before), ("other", NOW)):
                if self.chosen[side] not in options:
                    self.chosen[side] = usual
            self._show_form()
        self._compare()

    def _choices(self) -> dict[str, str]:
        """Return what can be compared: as it stands, the versions of this name, of others, the trials."""
        saved, name = (
            self.session.workspace.formulas,
            self.read.formula.name if self.read and self.read.formula else "",
        )
        with self.session.workspace.reading():
            last = saved.versions()
            names = sorted({one.name for one in last}, key=lambda other: (other != name, other))
            versions = [one for other in names for one in reversed(saved.versions(other))]
            trials = self.session.workspace.trials.records()
        found = {NOW: "as it stands now"}
        found |= {one.title: f"{one.title}, {one.when[:10]}" for one in versions}
        found |= {f"trial {t.number}": f"trial {t.number}: {t.formula}@{t.version}, {t.day}" for t in trials}
        return found

    def _show_form(self) -> None:
        self.form.clear()
        with self.form:
            if len(self.options) < 2:
                elements.words(NO_VERSION, "remark")
                return
            for side, word in (("one", "Compare"), ("other", "with")):
                elements.words(word, name="span")
                elements.choice(f"{word}:", self.options, self.chosen[side], self._choosing(side))
            elements.button("Blind sheet to print (PDF)", self._blind, "small")

    def _choosing(self, side: str) -> Callable[[str], None]:
        def choose(value: str) -> None:
            self.chosen[side] = value
            self._compare()

        return choose

    def _compare(self) -> None:
        if len(self.options) < 2:
            return
        self.wanted += 1
        if not self.working:
            self.working = True
            background_tasks.create(self._work(), name="compare")

    async def _work(self) -> None:
        """Work out the comparison in a thread; of several changes in a row only the last is shown."""
        loop = asyncio.get_running_loop()
        try:
            while self.drawn != self.wanted:
                number, chosen, read = self.wanted, dict(self.chosen), self.read
                try:
                    view = await loop.run_in_executor(None, self._view, chosen, read)
                except RecommenderError as error:
                    view = sentence(error)
                self.drawn = number
                with self.client:
                    self._show(view)
        finally:
            self.working = False

    def _view(self, chosen: dict[str, str], read: ParsedLines | None) -> ComparisonView | str:
        with self.session.workspace.reading():
            both = [self._drydown(chosen[side], read) for side in ("one", "other")]
        one, other = both
        if one is None or other is None:
            return "Put a material with its parts into the formula first."
        names = self._name(chosen["one"]), self._name(chosen["other"])
        return comparison_view(one, other, names, self.asked())

    def _drydown(self, key: str, read: ParsedLines | None) -> FormulaDrydown | None:
        workspace = self.session.workspace
        if key == NOW:
            formula = read.formula if read else None
            return None if formula is None else Workspace(palette=workspace.palette).drydown(formula)
        if key.startswith("trial "):
            return workspace.trial(int(key.removeprefix("trial ")))[1].drydown
        version, formula = workspace.formulas.open(key)
        return workspace.drydown(replace(formula, name=version.title))

    def _name(self, key: str) -> str:
        return "now" if key == NOW else key

    def _show(self, view: ComparisonView | str) -> None:
        problem = view if isinstance(view, str) else ""
        elements.say(self.status, problem)
        self.box.set_visibility(not problem)
        if isinstance(view, str):
            return
        self.shown = view
        self.lanes.show(view.pictures, view.moments)
        self.changes.clear()
        with self.changes:
            elements.words("What changed, line by line", name="h3")
            if view.changes:
                elements.plain_table(("material", *view.names), view.changes)
                elements.words("Neat parts of 1000.", "remark")
            room = view.room
            elements.words(f"{room[0].upper()}{room[1:]}.", "remark")

    async def _blind(self) -> None:
        """Download a sheet with a code for each of the two, in an order that nobody chose."""
        if self.shown is None:
            return
        names = list(self.shown.names)
        if secrets.randbelow(2):
            names.reverse()
        codes = _codes(len(names))
        title = self.read.formula.name if self.read and self.read.formula else "two formulas"
        data = await run.io_bound(blind.sheet, title, list(zip(codes, names, strict=True)))
        if data is not None:
            ui.download.content(data, "blind.pdf", "application/pdf")


def _codes(count: int) -> list[str]:
    """Return codes of three digits, each another one."""
    found: list[str] = []
    while len(found) < count:
        code = str(100 + secrets.randbelow(900))
        if code not in found:
            found.append(code)
    return found
