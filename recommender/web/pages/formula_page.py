"""The page of a formula: lines to type in, its drydown beside them, and what would help below."""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from urllib.parse import quote

from nicegui import background_tasks, ui

from recommender.errors import BadNotebook, ChangedMeanwhile, RecommenderError
from recommender.model import LoweredLine, Suggestion
from recommender.notebook.drafts import Draft
from recommender.output.sentences import name_of
from recommender.web.server import line_edits
from recommender.web.server.csv_export import as_csv
from recommender.web.server.jobs import JobPool
from recommender.web.server.session import PageSession
from recommender.web.server.typed_lines import blank
from recommender.web.widgets import elements
from recommender.web.widgets.drydown_section import DrydownSection
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.formula_table import Acts, FormulaTable
from recommender.web.widgets.formula_view import formula_view
from recommender.web.widgets.product_section import ProductSection
from recommender.web.widgets.redundancy_marks import RedundancyMarks
from recommender.web.widgets.suggestions import Suggestions
from recommender.web.widgets.theme_field import ThemeField
from recommender.web.widgets.title_bar import FormulaActions, TitleBar
from recommender.web.widgets.weighing_section import WeighingSection

WORKER = ThreadPoolExecutor(1, thread_name_prefix="drawing")
"""One drawing after the other: two at once would only slow each other down."""


class FormulaPage:
    """One tab that works on one formula. Every change goes through the notebook, so that nothing is lost."""

    def __init__(self, session: PageSession, jobs: JobPool, draft: Draft) -> None:
        self.session, self.draft = session, draft
        self.palette = session.workspace.palette
        self.drawn = self.wanted = 0
        self.drawing = False
        self.client = ui.context.client
        actions = FormulaActions(self.rename, self.step, self.save, self.weigh, self.export)
        self.title = TitleBar(session, draft.name, actions)
        self.message = elements.Message()
        with elements.tag("div", "bench"):
            with elements.tag("section", "left", aria_label="Formula"):
                acts = Acts(self.set_cell, self.add, self.remove, self.replace)
                self.table = FormulaTable(acts)
                with elements.tag("div", "below"):
                    elements.button("Add a line", self.add, "small")
                    self.sum = elements.words("", "sum", "span")
                self.theme = ThemeField(draft.fields, self.set_field)
                self.redundant = RedundancyMarks(jobs, self.table.mark)
                self.product = ProductSection(self.palette, draft.fields, self.set_field)
            with elements.tag("section", "right", aria_label="Drydown"):
                self.drydown = DrydownSection(
                    self.extend, lambda is_open: self.set_field("figures", "open" if is_open else "")
                )
                self.drydown.details.props.set_bool("open", bool(draft.fields.get("figures")))
        self.suggestions = Suggestions(jobs, self.take, session.workspace.shelf.stock, self.lower)
        self.weighing = WeighingSection(draft.fields, self.set_field, session.workspace, self._edit, self.say)
        self.client.on_delete(session.watch(draft.id, self._changed_elsewhere))
        self.client.on_delete(self.suggestions.stop)
        self.client.on_delete(self.redundant.stop)
        self.show(draft)

    # what the person does

    def set_cell(self, number: str, column: str, was: str, value: str) -> None:
        """Write into one cell as it was seen."""
        self._edit(line_edits.set_cell(number, column, was, value))

    def add(self) -> None:
        """Add a line and put the cursor there."""
        self._edit(line_edits.add({}))
        self.table.focus(self.draft.lines[-1]["id"])

    def remove(self, number: str) -> None:
        """Take a line out; it can be undone."""
        line = next((line for line in self.draft.lines if line["id"] == number), None)
        if self._edit(line_edits.remove(number)) and line is not None and not blank(line):
            self.say(f"{line_edits.called(line)} is out of the formula.", undo=lambda: self.step(-1))

    def take(self, found: Suggestion, instead_of: tuple[str, ...]) -> None:
        """Put a suggestion into the formula."""
        if self._edit(line_edits.add_suggestion(found, self.read, instead_of)):
            self.say(f"{name_of(found)} is in the formula, at the dose to try first. Undo takes it out.")

    def lower(self, found: LoweredLine) -> None:
        """Lower what hides a smell, or take it out."""
        if self._edit(line_edits.lower(found, self.read)):
            done = "is lowered" if found.reason.factor else "is out of the formula"
            self.say(f"{found.material.name} {done}.", undo=lambda: self.step(-1))

    def extend(self, facet: str) -> None:
        """Ask what keeps a facet alive."""
        shown = self.drydown.shown
        hours = {gap.facet: gap.hours for gap in shown.gaps} if shown else {}
        self.suggestions.extend(facet, hours.get(facet))
        ui.run_javascript("document.querySelector('.advice').scrollIntoView({block: 'start'})")

    def replace(self, number: str) -> None:
        """Ask what can stand for a line."""
        self.suggestions.replace(number)
        ui.run_javascript("document.querySelector('.advice').scrollIntoView({block: 'start'})")

    def step(self, by: int) -> None:
        """Undo (-1) or do again (1)."""
        self._carry_out(lambda: self.session.step(self.draft, by, self._changed_elsewhere))

    def rename(self, name: str) -> None:
        """Give the formula another name."""
        if name.strip() != self.draft.name and self._carry_out(
            lambda: self.session.rename(self.draft, name, self._changed_elsewhere)
        ):
            ui.run_javascript(f"history.replaceState(null, '', '/formula/{quote(self.draft.name)}')")

    def save(self) -> None:
        """Save a version."""
        if self.read.formula is None:
            self.say("There is nothing to save yet: put a material with its parts into a line.")
            return
        try:
            version = self.session.save_version(self.read.formula)
        except RecommenderError as error:
            self.say(sentence(error))
            return
        self.say(f"Saved as {version.title}." if version.new else f"{version.title} is the same already.")

    def weigh(self) -> None:
        """Open or close the weighing sheet."""
        self.set_field("weigh", "" if self.draft.fields.get("weigh") else "open")
        if self.draft.fields.get("weigh"):
            ui.run_javascript("document.getElementById('weigh').scrollIntoView({block: 'start'})")

    def export(self) -> None:
        """Download the formula as typed."""
        content = as_csv(self.draft)
        ui.download.content(content, f"{self.draft.name}.csv", "text/csv; charset=utf-8")

    def set_field(self, name: str, value: str) -> None:
        """Store what was typed about the formula as a whole."""
        if self.draft.fields.get(name, "") != value:
            self._carry_out(lambda: self.session.set_field(self.draft, name, value))

    def say(self, text: str, undo: Callable[[], object] | None = None) -> None:
        """Show one line above the formula, announced by a screen reader too."""
        self.message.show(text, undo)

    # how it is done

    def _edit(self, edit: line_edits.Edit) -> bool:
        return self._carry_out(lambda: self.session.change(self.draft.id, edit, self._changed_elsewhere))

    def _carry_out(self, act: Callable[[], Draft]) -> bool:
        """Do something with the notebook and show the result; returns whether it was done."""
        self.say("")
        try:
            draft = act()
        except ChangedMeanwhile as error:
            self.show(self.session.get(self.draft.id))
            self.say(sentence(error))
            return False
        except BadNotebook as error:  # nothing can be stored: what was typed stays in its field
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
        self.palette = self.session.workspace.palette
        self.draft, self.read = draft, self.session.read(draft, self.palette)
        self.title.show(draft)
        self.table.show(draft, self.read)
        lines = len(self.read.found)
        left = len(self.read.problems)
        total = f"{lines} line{'' if lines == 1 else 's'}, {self.read.total:.6g} parts"
        if left:
            total += f"; {left} not in the picture until corrected"
        elements.say(self.sum, total if lines or left else "")
        self.theme.show(draft.fields, self.read.theme_problem)
        self.suggestions.show(self.read, self.palette, self.session.workspace.overlay, stale=True)
        self.suggestions.fields = draft.fields
        self.redundant.show(self.read, self.session.workspace.overlay)
        self.weighing.section.set_visibility(bool(draft.fields.get("weigh")))
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
                bottles = self.session.workspace.shelf.stock().by_material if fields.get("weigh") else None
                view = await loop.run_in_executor(WORKER, formula_view, read, self.palette, fields, bottles)
                self.drawn = number
                with self.client:
                    self.drydown.show(view.drydown, number)
                    self.product.show(view.product_summary)
                    if view.sheet is not None:
                        self.weighing.show(view.sheet, read, fields)
        finally:
            self.drawing = False
