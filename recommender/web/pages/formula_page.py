"""The page of a formula: its lines, its lanes over time, and what would help, beside each other."""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial

from nicegui import background_tasks, ui

from recommender.errors import BadNotebook, ChangedMeanwhile, RecommenderError
from recommender.model import LoweredLine, Suggestion
from recommender.notebook.drafts import Draft
from recommender.output.sentences import name_of
from recommender.output.wording import parts_of
from recommender.reformulation import ReformulatedFormula
from recommender.web.server import line_edits
from recommender.web.server.csv_export import as_csv
from recommender.web.server.jobs import JobPool
from recommender.web.server.session import PageSession
from recommender.web.server.typed_lines import ParsedLines
from recommender.web.widgets import elements
from recommender.web.widgets.compare_section import CompareSection
from recommender.web.widgets.drydown_section import DrydownSection
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.formula_table import Acts, FormulaTable
from recommender.web.widgets.formula_view import (
    SURFACE,
    FormulaView,
    SurfacePalettes,
    formula_view,
    formula_with,
    ghost_view,
)
from recommender.web.widgets.product_section import ProductSection, usable
from recommender.web.widgets.redundancy_marks import RedundancyMarks
from recommender.web.widgets.reformulation_section import ReformulationActs, ReformulationSection
from recommender.web.widgets.suggestion import Answer
from recommender.web.widgets.suggestions import PanelActs, Suggestions
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
        self.asked: tuple[object, ...] = ()
        self.drawing = False
        self.surfaces = SurfacePalettes()
        self.previewed: tuple[Answer, tuple[str, ...]] | None = None
        self.previewing = False
        self.client = ui.context.client
        actions = FormulaActions(self.rename, self.step, self.save, self.weigh, self.reformulate, self.export)
        self.title = TitleBar(session, draft.name, actions)
        self.message = elements.Message()
        with elements.tag("div", "bench"):
            with elements.tag("section", "left", aria_label="Formula"):
                self.table = FormulaTable(
                    Acts(
                        session,
                        self._changed_elsewhere,
                        self._carry_out,
                        self.say,
                        self.step,
                        self.replace,
                        self.set_field,
                        lambda: self.show(self.draft, elsewhere=True),
                    )
                )
                with elements.tag("div", "below"):
                    elements.button("Add a line", self.add, "small")
                    self.sum = elements.words("", "sum", "span")
                self.theme = ThemeField(draft.fields, self.set_field)
                self.redundant = RedundancyMarks(jobs, self.table.mark)
            with elements.tag("section", "middle", aria_label="Drydown"):
                self.drydown = DrydownSection(self.extend, self.set_field, self.smells)
                self.drydown.details.props.set_bool("open", bool(draft.fields.get("figures")))
            panel = PanelActs(self.take, self.lower, self.preview, self.ask_about)
            self.suggestions = Suggestions(jobs, panel, session.workspace.shelf.stock)
        self.comparison = CompareSection(session, lambda: self.drydown.asked)
        self.product = ProductSection(self.palette, draft.fields, self.set_field, self.open_reformulation)
        self.reformulation = ReformulationSection(session, ReformulationActs(self.take_version, self.say))
        self.weighing = WeighingSection(draft.fields, self.set_field, session.workspace, self._edit, self.say)
        self.client.on_delete(session.watch(draft.id, self._changed_elsewhere))
        self.client.on_delete(self.suggestions.stop)
        self.client.on_delete(self.redundant.stop)
        self.client.on_delete(self.reformulation.leave)
        self.show(draft)

    # what the person does

    def add(self) -> None:
        """Put the cursor into a new line."""
        self.table.add()

    def take(self, found: Suggestion, instead_of: tuple[str, ...]) -> None:
        """Put a suggestion into the formula."""
        self.preview(None, ())
        if self._edit(line_edits.add_suggestion(found, self.read, instead_of)):
            at = f", {parts_of(found.dose.first_try)} parts of 1000" if found.dose else ""
            self.say(f"{name_of(found)} is in the formula{at}. Undo takes it out.")

    def take_version(self, found: ReformulatedFormula, note: str) -> None:
        """Save the formula as it stands, then what it was reformulated to as its next version."""
        before = self.read.formula
        if before is None:
            return
        try:
            was = self.session.save_version(before)
        except RecommenderError as error:
            self.say(sentence(error))
            return
        if self._edit(line_edits.reformulated(found, self.read, "reformulated")) and self.save(note):
            now = self.session.workspace.formulas.version(before.name)
            text = f"{now.title} is saved and stands here; as it was it is {was.title}."
            self.say(f"{text} Undo puts its lines back.", undo=lambda: self.step(-1))

    def lower(self, found: LoweredLine) -> None:
        """Lower what hides a smell, or take it out."""
        if self._edit(line_edits.lower(found, self.read)):
            done = "is lowered" if found.reason.factor else "is out of the formula"
            self.say(f"{found.material.name} {done}.", undo=lambda: self.step(-1))

    def extend(self, facet: str) -> None:
        """Ask what keeps a facet alive; its lane is drawn."""
        self.suggestions.extend(facet)
        self.redraw()

    def replace(self, number: str) -> None:
        """Ask what can stand for a line."""
        self.suggestions.replace(number)

    def ask_about(self, facets: tuple[str, ...]) -> None:
        """Draw the lanes of the smells that a question is about, whatever else is louder."""
        self.drydown.ask_about(facets)
        self.redraw()

    def smells(self, words: str) -> list[str]:
        """Return the smells that words name; what is wrong with the words is shown, and none returned."""
        try:
            return list(self.palette.phrase(words).facets)
        except RecommenderError as error:
            self.say(sentence(error))
            return []

    def preview(self, answer: Answer | None, instead_of: tuple[str, ...]) -> None:
        """Draw an answer at its dose behind the present lanes; None takes it away."""
        self.previewed = None if answer is None else (answer, instead_of)
        if answer is None:
            self.drydown.lanes.ghost(None)
        elif not self.previewing:
            self.previewing = True
            background_tasks.create(self._preview(), name="preview")

    def step(self, by: int) -> None:
        """Undo (-1) or do again (1)."""
        self._carry_out(lambda: self.session.step(self.draft, by, self._changed_elsewhere))

    def rename(self, name: str) -> None:
        """Give the formula another name."""
        if name.strip() != self.draft.name and self._carry_out(
            lambda: self.session.rename(self.draft, name, self._changed_elsewhere)
        ):
            ui.run_javascript(f"history.replaceState(null, '', '/formula/{self.draft.id}')")

    def save(self, note: str = "") -> bool:
        """Save a version with a note of what is new; returns whether it was saved."""
        if self.read.formula is None:
            self.say("There is nothing to save yet: put a material with its parts into a line.")
            return False
        try:
            version = self.session.save_version(self.read.formula, note)
        except RecommenderError as error:
            self.say(sentence(error))
            return False
        self.say(f"Saved as {version.title}." if version.new else f"{version.title} is the same already.")
        return version.new

    def weigh(self) -> None:
        """Open or close the weighing sheet."""
        self._toggle("weigh")

    def reformulate(self) -> None:
        """Open or close what brings the formula inside limits, price or shelf."""
        self._toggle("reformulate")

    def open_reformulation(self) -> None:
        """Open what brings the formula inside limits, price or shelf, and go there."""
        if self.draft.fields.get("reformulate"):
            self._into_sight("reformulate")
        else:
            self._toggle("reformulate")

    def _toggle(self, section: str) -> None:
        """Open or close a section below the bench; an open one comes into sight."""
        self.set_field(section, "" if self.draft.fields.get(section) else "open")
        if self.draft.fields.get(section):
            self._into_sight(section)

    def _into_sight(self, section: str) -> None:
        """Scroll to a section, and put the cursor at its beginning."""
        ui.run_javascript(
            f"const section = document.getElementById('{section}'), head = section.querySelector('h2');"
            "section.scrollIntoView({block: 'start'});"
            "head.tabIndex = -1; head.focus({preventScroll: true});"
        )

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
            self.show(draft, elsewhere=True)
            self.say(f"Changed in another tab: {draft.back or 'a step back'}.")

    def show(self, draft: Draft, elsewhere: bool = False) -> None:
        """Show a formula as it is; the drawing follows as soon as it is computed."""
        self.palette = self.session.workspace.palette
        self.draft, self.read = draft, self.session.read(self.table.as_typed(draft), self.palette)
        self.title.show(draft)
        self.table.show(draft, self.read, elsewhere)
        lines = len(self.read.found)
        left = len(self.read.problems)
        total = f"{lines} line{'' if lines == 1 else 's'}, {self.read.total:.6g} parts"
        if left:
            total += f"; {left} not in the picture until corrected"
        elements.say(self.sum, total if lines or left else "")
        self.theme.show(draft.fields, self.read.theme_problem)
        self.suggestions.show(self.read, self.palette, self.session.workspace.overlay, draft.fields)
        self.comparison.show(self.read)
        self.redundant.show(self.read, self.session.workspace.overlay)
        self.weighing.section.set_visibility(bool(draft.fields.get("weigh")))
        self.reformulation.section.set_visibility(bool(draft.fields.get("reformulate")))
        self.reformulation.show(draft, self.read, self.palette)
        before, self.asked = self.asked, (id(self.palette), self.read, dict(draft.fields))
        if before == self.asked:  # what was typed is stored now: it is drawn already
            return
        self.redraw()

    def redraw(self) -> None:
        """Draw the formula again as soon as it is computed."""
        self.wanted += 1
        if not self.drawing:
            self.drawing = True
            background_tasks.create(self._draw(), name="draw")

    async def _draw(self) -> None:
        """Compute the drawing in a thread; of several changes in a row only the last is drawn."""
        loop = asyncio.get_running_loop()
        try:
            while self.drawn != self.wanted:
                number, read, fields = self.wanted, self.read, self.draft.fields
                on_surface = self.surfaces.on(self.palette, fields.get(SURFACE, ""))
                bottles = self.session.workspace.shelf.stock().by_material if fields.get("weigh") else None
                seen = self.palette, fields, self.drydown.asked, on_surface, bottles
                work = partial(formula_view, read, *seen)
                view = await loop.run_in_executor(WORKER, self._with_readings, work, read)
                self.drawn = number
                with self.client:
                    self.drydown.show(view.drydown, fields, number)
                    self.theme.infer(view.drydown.inferred if view.drydown else ())
                    self.product.show(view.product_summary)
                    if view.sheet is not None:
                        self.weighing.show(view.sheet, read, fields)
        finally:
            self.drawing = False

    def _with_readings(self, work: Callable[..., FormulaView], read: ParsedLines) -> FormulaView:
        """Return a view with the readings of the formula's trials; called in the thread that draws."""
        return work(readings=self.session.readings_of(read.formula))

    async def _preview(self) -> None:
        """Compute the lanes of an answer in a thread; of several in a row only the last is drawn."""
        loop = asyncio.get_running_loop()
        done = None
        try:
            while (
                self.previewed is not None and (wanted := (self.previewed, self.previewed[0].found)) != done
            ):
                (answer, instead_of), found = wanted
                shown, done = self.drydown.shown, wanted
                formula = formula_with(self.read, found, self.palette.catalogue, instead_of)
                if shown is None or formula is None:
                    return
                palette = self.surfaces.on(self.palette, shown.surface)
                share = usable(self.draft.fields)[1]
                asked = (*self.drydown.asked, *answer.wanted)
                ends, ghost = await loop.run_in_executor(
                    WORKER, ghost_view, formula, palette, share, shown, asked
                )
                if self.previewed is not None and self.previewed[0] is answer:
                    with self.client:
                        self.drydown.lanes.ghost(ghost)
                        answer.says(ends)
        finally:
            self.previewing = False
