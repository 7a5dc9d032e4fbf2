"""A whole formula brought inside limits, label, price and shelf: asked, watched, compared, taken, tested."""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from nicegui import background_tasks, run, ui

from recommender.errors import RecommenderError
from recommender.formulas import formula as formulas
from recommender.notebook.drafts import Draft
from recommender.output import formats, product_page, reformulation
from recommender.output.reformulation import NOT_IN_TIME
from recommender.output.worksheet import blind
from recommender.palette import Palette
from recommender.reformulation import FormulaChange, ReformulatedFormula, Reformulation
from recommender.reformulation.triangle import triangle
from recommender.web.server.job_progress import JobProgress
from recommender.web.server.jobs import JobFailed
from recommender.web.server.session import PageSession
from recommender.web.server.typed_lines import ParsedLines
from recommender.web.server.worker import Job
from recommender.web.widgets import elements
from recommender.web.widgets.comparison_view import ComparisonView, comparison_view
from recommender.web.widgets.formula_view import without_commands
from recommender.web.widgets.lanes import Lanes
from recommender.web.widgets.reformulation_question import ReformulationQuestion
from recommender.workspace import Workspace

LEAD = (
    "Lines are lowered, swapped, added or taken out, as few as will do, and with the least change to how it "
    "smells over time."
)
MEANING = (
    "Preserved is what both formulas smell of at the same hours, from a minute to three days, as a share of "
    "what either smells of; smells of the theme count twice. It is simulated: the triangle sheet shows "
    "whether a nose agrees."
)
NEARNESS = (
    (0.97, "as good as the same"),
    (0.92, "very close"),
    (0.8, "close, and the difference can be smelled"),
    (0.6, "the same idea, clearly changed"),
    (0.0, "much of it is gone"),
)
"""What a preserved share of at least so much is in words."""
LANES_IN_VIEW = """
  if (innerWidth <= 900) document.querySelector('.beside-lanes').scrollIntoView({block: 'start'});
"""
OLD = "Worked out before the last change; ask again, or undo the change, to take an answer."


def nearness(preserved: float) -> str:
    """Return how near a formula is to what it was, in words.

    >>> nearness(0.955), nearness(0.3)
    ('very close', 'much of it is gone')
    """
    return next(words for least, words in NEARNESS if round(preserved, 2) >= least)


@dataclass(frozen=True, slots=True)
class ReformulationActs:
    """What the page does with an answer: `take` makes it the next version, `say` shows a line above."""

    take: Callable[[ReformulatedFormula, str], object]
    say: Callable[[str], object]


class ReformulationSection:
    """The question and its answers; answers for an older formula are marked as such and cannot be taken."""

    def __init__(self, session: PageSession, acts: ReformulationActs) -> None:
        self.session, self.acts = session, acts
        self.read: ParsedLines | None = None
        self.asked: ParsedLines | None = None
        self.task: asyncio.Task[None] | None = None
        self.progress: JobProgress | None = None
        self.found: Reformulation | None = None
        self.drawing: asyncio.Task[None] | None = None
        self.shows: list[ui.html] = []
        self.client = ui.context.client
        with elements.tag(
            "section", "reformulate", aria_labelledby="reformulate-head", id="reformulate"
        ) as self.section:
            head = "Bring it inside limits, price or shelf"
            elements.words(head, name="h2").props["id"] = "reformulate-head"
            elements.words(LEAD, "remark")
            self.question = ReformulationQuestion(session.workspace.palette, self.ask)
            with elements.tag("div", "progress") as self.working:
                self.share = elements.tag("progress", "share", max="1", aria_label="how far the search is")
                self.doing = elements.words("", "elapsed", "span")
                self.doing.props["role"] = "status"
                self.end = elements.button(
                    "Stop", self.stop, "small", title="Ends the search with what it has found so far"
                )
            self.status = elements.words("", "status-line")
            self.status.props["role"] = "status"
            self.results = elements.tag("div", "results")
        self.working.set_visibility(False)
        elements.say(self.status, "")

    def show(self, draft: Draft, read: ParsedLines, palette: Palette) -> None:
        """Take over a formula."""
        self.read = read
        locked = tuple(line["id"] for line in draft.lines if line["lock"])
        self.question.show(read, locked, palette, draft.fields)
        if self.found is not None:
            self._mark(self.is_old)

    @property
    def is_old(self) -> bool:
        """Whether the answers are those of another formula."""
        return self.asked is None or self.read is None or self.asked.formula != self.read.formula

    def _mark(self, old: bool) -> None:
        self.results.classes(add="old" if old else "", remove="" if old else "old")
        elements.say(self.status, OLD if old else "")

    def ask(self) -> None:
        """Start the search; one that still runs is ended without an answer."""
        self.leave()
        self.question.form.fine()
        if self.read is None or self.read.formula is None:
            elements.say(self.status, "Put at least one material that smells into the formula first.")
            return
        try:
            request = self.question.request(self.session.workspace.shelf.stock())
        except RecommenderError as error:
            self.question.form.complain(error)
            return
        progress, overlay = JobProgress(), self.session.workspace.overlay
        job = Job("reformulate", self.read.formula, overlay=overlay, reformulation=request,
                  progress=progress.path)  # fmt: skip
        self.task = background_tasks.create(self._work(job, self.read, progress), name="reformulate")

    def stop(self) -> None:
        """End the search with what it has found so far."""
        if self.progress is not None:
            self.progress.stop()
            elements.say(self.doing, "ending with what was found …")

    def leave(self) -> None:
        """End the search at once, without an answer."""
        for task in (self.task, self.drawing):
            if task is not None and not task.done():
                task.cancel()
        self.task = self.drawing = None

    async def _work(self, job: Job, read: ParsedLines, progress: JobProgress) -> None:
        self.progress = progress

        def tick() -> None:
            what, share = progress.read()
            self.share.props["value"] = f"{share:.2f}"
            if progress.path.exists():
                elements.say(self.doing, f"{what or 'starting'}, {100 * share:.0f} %")

        self.working.set_visibility(True)
        elements.say(self.status, "")
        with self.working:
            tick()
            timer = ui.timer(0.25, tick)
        try:
            found: Reformulation = await self.session.jobs.run(job)
        except asyncio.CancelledError:
            raise
        except RecommenderError as error:
            self._clear()
            self.question.form.complain(error)
        except JobFailed as error:
            self._clear()
            elements.say(self.status, str(error))
        else:
            self.found, self.asked = found, read
            with self.client:
                self._show()
        finally:
            progress.stop()
            timer.cancel()
            if self.progress is progress:
                self.progress = None
                self.working.set_visibility(False)

    def _clear(self) -> None:
        self.found = self.asked = None
        self.results.clear()

    # what was found

    def _show(self) -> None:
        found = self.found
        assert found is not None
        self.results.clear()
        self.shows = []
        with self.results:
            head = elements.words(self._head(found), "question", "h3")
            head.props["tabindex"] = "-1"
            if found.causes and not found.unchanged:
                elements.words(f"In the way: {'; '.join(cause.text for cause in found.causes)}.", "before")
            if found.answers and not found.unchanged:
                self._answers(found)
            elif not found.answers:
                self._clashes(found)
            for note in reformulation.notes(found):
                elements.words(without_commands(note), "remark")
        self._mark(self.is_old)
        ui.run_javascript(f"getHtmlElement({head.id})?.focus()")
        if self.shows:
            self.compare(0)

    def _head(self, found: Reformulation) -> str:
        if found.unchanged:
            return "Nothing is in the way: it stays as it is."
        if not found.answers:
            return "Not all of this can be kept at once." if found.clashes else NOT_IN_TIME.capitalize()
        count = len(found.answers)
        return f"{count} answer{'' if count == 1 else 's that differ'}"

    def _clashes(self, found: Reformulation) -> None:
        if not found.clashes:
            return
        elements.words("These clash. Relaxing any one of them by as little as this would do:", "before")
        with elements.tag("ul", "clashes"):
            for one in found.clashes:
                text = reformulation.clash_text(one)
                with elements.tag("li"):
                    elements.words(f"{text[0].upper()}{text[1:]}.", name="span")
                    if relax := self.question.relaxing(one):
                        again, label = partial(self._relax, relax), f"Relax it and ask again: {text}"
                        elements.button("Relax it and ask again", again, "small", label=label)

    def _relax(self, relax: Callable[[], object]) -> None:
        relax()
        self.ask()

    def _answers(self, found: Reformulation) -> None:
        if found.obvious is not None:
            text = f"Only cut or taken out, {100 * found.obvious:.0f} % of the smell would be preserved."
            elements.words(text, "before")
        with elements.tag("div", "two"):
            with elements.tag("ol", "answers"):
                for place, one in enumerate(found.answers):
                    self._answer(place, one)
            with elements.tag("div", "beside-lanes"):
                self.beside = elements.words("", name="h3")
                with elements.tag("div", "picture", role="group", aria_label="Lanes before and after"):
                    self.lanes = Lanes()
                elements.words(MEANING, "remark")

    def _answer(self, place: int, one: ReformulatedFormula) -> None:
        number = place + 1
        with elements.tag("li", "answer"):
            share = f"{100 * one.preserved:.0f} % of the smell preserved"
            elements.words(f"{number}. {share}: {nearness(one.preserved)}", "card-name", "h4")
            elements.words(_about(one), "stay")
            with elements.tag("ul", "reformulated"):
                for change in one.changes:
                    with elements.tag("li"):
                        text = reformulation.change_text(change)
                        elements.words(f"{text[0].upper()}{text[1:]}", "change", "span")
                        elements.words(f" ({_cost(change)})", "stay", "span")
                        elements.words(reformulation.why(change), "why")
            for word, moved in (("Less", one.lost), ("More", one.gained)):
                if moved:
                    named = ", ".join(f"{s.facet} {100 * s.before:.0f} to {100 * s.after:.0f}" for s in moved)
                    elements.words(f"{word}: {named} (presence, 0 to 100).", "brings")
            with elements.tag("div", "own-acts"):
                shown = elements.button("Lanes before and after", partial(self._compared, place), "small",
                                        label=f"Lanes before and after answer {number}")  # fmt: skip
                self.shows.append(shown)
                elements.button("Take as the next version", partial(self.take, place), "main small",
                                label=f"Take answer {number} as the next version")  # fmt: skip
                elements.button("Triangle sheet to print (PDF)", partial(self._triangle, place), "small",
                                label=f"Triangle sheet of answer {number} to print (PDF)")  # fmt: skip
                elements.button("CSV", partial(self._load, place), "small",
                                label=f"Answer {number} as CSV")  # fmt: skip

    # what is done with an answer

    def compare(self, place: int) -> None:
        """Draw the lanes of an answer below those of the formula as it was."""
        for n, button in enumerate(self.shows):
            button.props["aria-pressed"] = "true" if n == place else "false"
        if self.drawing is not None and not self.drawing.done():
            self.drawing.cancel()
        self.drawing = background_tasks.create(self._draw(place), name="before and after")

    def _compared(self, place: int) -> None:
        """Draw the lanes of an answer that was chosen; on a narrow screen they come into sight."""
        self.compare(place)
        ui.run_javascript(LANES_IN_VIEW)

    async def _draw(self, place: int) -> None:
        found = self.found
        assert found is not None
        palette, name = self.session.workspace.palette, f"answer {place + 1}"

        def both() -> ComparisonView:
            here = Workspace(palette=palette)
            before, after = here.drydown(found.before), here.drydown(found.answers[place].formula)
            moved = (s.facet for s in (*found.answers[place].lost, *found.answers[place].gained))
            return comparison_view(before, after, ("before", name), tuple(moved))

        view = await asyncio.get_running_loop().run_in_executor(None, both)
        smelled = {one["facet"] for one in view.pictures if one["there"] or one["clear"]}
        with self.client:
            elements.say(self.beside, f"Before, and below each lane {name}, on a strip")
            self.lanes.show([one for one in view.pictures if one["facet"] in smelled], view.moments)

    def take(self, place: int) -> None:
        """Make an answer the next version, as long as it is one for the formula as it stands."""
        if self.found is None or self.is_old:
            self.acts.say(OLD)
            return
        one = self.found.answers[place]
        done = "; ".join(reformulation.change_text(change) for change in one.changes)
        self.acts.take(one, f"reformulated, {100 * one.preserved:.0f} % preserved: {done}")

    async def _triangle(self, place: int) -> None:
        """Download the sheet of a triangle test, before against after."""
        if self.found is None:
            return
        test = triangle(self.found.before, self.found.answers[place].formula)
        data = await run.io_bound(blind.triangle, test)
        if data is not None:
            ui.download.content(data, f"{test.name}_triangle_{place + 1}.pdf", "application/pdf")

    def _load(self, place: int) -> None:
        if self.found is None:
            return
        after = self.found.answers[place].formula
        text = formats.as_csv(formulas.rows(after), formulas.columns(after))
        ui.download.content(text, f"{after.name}_{place + 1}.csv", "text/csv; charset=utf-8")


def _about(one: ReformulatedFormula) -> str:
    """Return how many changes an answer has, what the finished product comes to, and its price."""
    count = one.number_of_changes
    text = f"{count} change{'' if count == 1 else 's'}"
    if one.price is not None:
        text += f"; {one.price:.3g} a gram of concentrate"
    if one.report is not None:
        why = product_page.why(one.report)
        text += f". In the finished product: {one.report.decision}. {why[0].upper()}{why[1:]}"
    return text


def _cost(change: FormulaChange) -> str:
    """Return what a change alone does to the smell."""
    share = f"{100 * abs(change.costs):.0f} %"
    return f"costs {share} of the smell" if change.costs >= 0 else f"wins back {share}"
