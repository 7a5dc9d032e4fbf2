"""The page of a formula: lines to type in, its drydown beside them, and what would help below."""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from urllib.parse import quote

from nicegui import background_tasks, ui

from recommender.errors import ChangedMeanwhile, RecommenderError
from recommender.model import Suggestion
from recommender.notebook.drafts import Draft
from recommender.output.sentences import name_of
from recommender.web import edits, parts
from recommender.web.advice import Advice
from recommender.web.balance import Balance
from recommender.web.desk import PageSession
from recommender.web.drydown import Drydown
from recommender.web.error_words import sentence
from recommender.web.formula_table import Acts, FormulaTable
from recommender.web.jobs import Helpers
from recommender.web.lines import blank
from recommender.web.product import Product
from recommender.web.redundancy import Redundancy
from recommender.web.shown import formula_view
from recommender.web.titlebar import TitleBar

WORKER = ThreadPoolExecutor(1, thread_name_prefix="drawing")
"""One drawing after the other: two at once would only slow each other down."""


class BenchPage:
    """One tab that works on one formula. Every change goes through the notebook, so that nothing is lost."""

    def __init__(self, desk: PageSession, helpers: Helpers, draft: Draft) -> None:
        self.desk, self.draft = desk, draft
        self.palette = desk.workspace.palette
        self.drawn = self.wanted = 0
        self.drawing = False
        self.client = ui.context.client
        self.title = TitleBar(self)
        self.message = parts.Message()
        with parts.tag("div", "bench"):
            with parts.tag("section", "left", aria_label="Formula"):
                acts = Acts(self.set_cell, self.add, self.remove, self.replace)
                self.table = FormulaTable(acts)
                with parts.tag("div", "below"):
                    parts.button("Add a line", self.add, "small")
                    self.sum = parts.words("", "sum", "span")
                self.redundancy = Redundancy(helpers, self.table.mark)
                self.product = Product(self.palette, draft.fields, self.set_field)
            with parts.tag("section", "right", aria_label="Drydown"):
                self.drydown = Drydown(
                    self.extend, lambda is_open: self.set_field("figures", "open" if is_open else "")
                )
                self.drydown.details.props.set_bool("open", bool(draft.fields.get("figures")))
        self.advice = Advice(helpers, self.take, desk.workspace.shelf)
        self.balance = Balance(draft.fields, self.set_field)
        self.client.on_delete(desk.watch(draft.id, self._changed_elsewhere))
        self.client.on_delete(self.advice.stop)
        self.client.on_delete(self.redundancy.stop)
        self.show(draft)

    # what the person does

    def set_cell(self, number: str, column: str, was: str, value: str) -> None:
        """Write into one cell as it was seen."""
        self._edit(edits.set_cell(number, column, was, value))

    def add(self) -> None:
        """Add a line and put the cursor there."""
        self._edit(edits.add({}))
        self.table.focus(self.draft.lines[-1]["id"])

    def remove(self, number: str) -> None:
        """Take a line out; it can be undone."""
        line = next((line for line in self.draft.lines if line["id"] == number), None)
        if self._edit(edits.remove(number)) and line is not None and not blank(line):
            self.say(f"{edits.called(line)} is out of the formula.", undo=lambda: self.step(-1))

    def take(self, found: Suggestion, instead_of: tuple[str, ...]) -> None:
        """Put a suggestion into the formula."""
        if self._edit(edits.add_suggestion(found, self.read, instead_of)):
            self.say(f"{name_of(found)} is in the formula, at the dose to try first. Undo takes it out.")

    def extend(self, facet: str) -> None:
        """Ask what keeps a facet alive."""
        shown = self.drydown.shown
        hours = {gap.facet: gap.hours for gap in shown.gaps} if shown else {}
        self.advice.extend(facet, hours.get(facet))
        ui.run_javascript("document.querySelector('.advice').scrollIntoView({block: 'start'})")

    def replace(self, number: str) -> None:
        """Ask what can stand for a line."""
        self.advice.replace(number)
        ui.run_javascript("document.querySelector('.advice').scrollIntoView({block: 'start'})")

    def step(self, by: int) -> None:
        """Undo (-1) or do again (1)."""
        self._carry_out(lambda: self.desk.step(self.draft, by, self._changed_elsewhere))

    def rename(self, name: str) -> None:
        """Give the formula another name."""
        if name.strip() != self.draft.name and self._carry_out(
            lambda: self.desk.rename(self.draft, name, self._changed_elsewhere)
        ):
            ui.run_javascript(f"history.replaceState(null, '', '/formula/{quote(self.draft.name)}')")

    def save(self) -> None:
        """Save a version."""
        if self.read.formula is None:
            self.say("There is nothing to save yet: put a material with its parts into a line.")
            return
        try:
            version = self.desk.save_version(self.read.formula)
        except RecommenderError as error:
            self.say(sentence(error))
            return
        self.say(f"Saved as {version.title}." if version.new else f"{version.title} is the same already.")

    def weigh(self) -> None:
        """Open or close the weighing sheet."""
        self.set_field("weigh", "" if self.draft.fields.get("weigh") else "open")
        if self.draft.fields.get("weigh"):
            ui.run_javascript("document.getElementById('weigh').scrollIntoView({block: 'start'})")

    def set_field(self, name: str, value: str) -> None:
        """Store what was typed about the formula as a whole."""
        if self.draft.fields.get(name, "") != value:
            self._carry_out(lambda: self.desk.set_field(self.draft, name, value))

    def say(self, text: str, undo: Callable[[], object] | None = None) -> None:
        """Show one line above the formula, announced by a screen reader too."""
        self.message.show(text, undo)

    # how it is done

    def _edit(self, edit: edits.Edit) -> bool:
        return self._carry_out(lambda: self.desk.change(self.draft.id, edit, self._changed_elsewhere))

    def _carry_out(self, act: Callable[[], Draft]) -> bool:
        """Do something with the notebook and show the result; returns whether it was done."""
        self.say("")
        try:
            draft = act()
        except ChangedMeanwhile as error:
            self.show(self.desk.get(self.draft.id))
            self.say(sentence(error))
            return False
        except RecommenderError as error:
            self.show(self.draft)
            self.say(sentence(error))
            return False
        self.show(draft)
        return True

    def _changed_elsewhere(self, draft: Draft | None) -> None:
        """Show what another tab has done."""
        with self.client:
            if draft is None:
                self.say("This formula was removed from the page in another tab.")
                return
            self.show(draft)
            self.say(f"Changed in another tab: {draft.back or 'a step back'}.")

    def show(self, draft: Draft) -> None:
        """Show a formula as it is; the drawing follows as soon as it is computed."""
        self.palette = self.desk.workspace.palette
        self.draft, self.read = draft, self.desk.read(draft, self.palette)
        self.title.show(draft)
        self.table.show(draft, self.read)
        lines = len(self.read.found)
        left = len(self.read.problems)
        total = f"{lines} line{'' if lines == 1 else 's'}, {self.read.total:.6g} parts"
        if left:
            total += f"; {left} not in the picture until corrected"
        parts.say(self.sum, total if lines or left else "")
        self.advice.show(self.read, self.palette, self.desk.workspace.overlay, stale=True)
        self.advice.fields = draft.fields
        self.redundancy.show(self.read, self.desk.workspace.overlay)
        self.balance.section.set_visibility(bool(draft.fields.get("weigh")))
        self.wanted += 1
        if not self.drawing:
            self.drawing = True
            background_tasks.create(self._draw(), name="draw")

    async def _draw(self) -> None:
        """Compute the drawing in a thread; of several changes in a row only the last is drawn."""
        try:
            while self.drawn != self.wanted:
                number, read, fields = self.wanted, self.read, self.draft.fields
                loop = asyncio.get_running_loop()
                view = await loop.run_in_executor(WORKER, formula_view, read, self.palette, fields)
                self.drawn = number
                with self.client:
                    self.drydown.show(view.drydown, number)
                    self.product.show(view.product_summary)
                    if view.sheet is not None:
                        self.balance.show(view.sheet)
        finally:
            self.drawing = False
