"""What would help: carriers for a facet that dies, stand-ins, a move toward other words, companions."""

import asyncio
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

from nicegui import background_tasks, ui

from recommender.errors import RecommenderError
from recommender.evaporation import DEFAULT_CONDITIONS
from recommender.evaporation.surfaces import SURFACES
from recommender.evidence.overlay import Overlay
from recommender.model import STRIP, Findings, LoweredLine, Material, Suggestion
from recommender.output import amount_sentences, sentences, text
from recommender.palette import Palette, find
from recommender.suggest import Request
from recommender.suggest.stock import Shelf
from recommender.web.server.jobs import JobFailed, JobPool
from recommender.web.server.typed_lines import ParsedLines, content_of
from recommender.web.server.worker import Job, PaletteKey
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.formula_view import SURFACE, without_commands
from recommender.web.widgets.product_section import usable
from recommender.web.widgets.question import HINTS, MODES, Question, QuestionForm
from recommender.web.widgets.suggestion import Answer, AnswerActs

SECONDS_A_LINE = 0.03
"""How long an answer is expected to take before there was one [s]."""
NEAREST = 5
"""So many of the nearest materials are looked at where nothing is found."""
NOTHING = "Nothing found that fits. Try a wider smell, another hour, or fewer filters."
OLD = "Worked out before the last change; ask again for new figures."

RESULTS_IN_VIEW = """
  if (innerWidth < 760) setTimeout(() => {
    const middle = document.querySelector('.middle'), lane = document.querySelector('.lane.asked');
    scrollTo(0, document.querySelector('.bench').getBoundingClientRect().top + scrollY);
    if (lane) middle.scrollTop += lane.getBoundingClientRect().top - middle.getBoundingClientRect().top - 40;
    const panel = document.querySelector('.advice');
    const results = document.querySelector('.results').getBoundingClientRect().top;
    panel.scrollTop += results - panel.getBoundingClientRect().top - 4;
  }, 150);
"""
"""On a narrow screen: the lanes at the top, with that of the question, and the answers below them."""


@dataclass(frozen=True, slots=True)
class PanelActs:
    """What the page does with an answer.

    `take` puts a suggestion into the formula, in place of some lines; `lower` lowers a line; `preview` draws
    an answer behind the present lanes, None takes it away; `about` is given the smells of a question.
    """

    take: Callable[[Suggestion, tuple[str, ...]], object]
    lower: Callable[[LoweredLine], object]
    preview: Callable[[Answer | None, tuple[str, ...]], object]
    about: Callable[[tuple[str, ...]], object]


class Suggestions:
    """The panel beside the lanes: one question at a time, answered by a worker process."""

    def __init__(self, jobs: JobPool, acts: PanelActs, shelf: Callable[[], Shelf]) -> None:
        self.jobs, self.acts, self.shelf = jobs, acts, shelf
        self.fields: Mapping[str, str] = {}
        self.read: ParsedLines | None = None
        self.palette: Palette | None = None
        self.overlay: PaletteKey = Overlay(), DEFAULT_CONDITIONS
        self.questions = {mode: Question(mode) for mode in MODES}
        self.question = self.questions["extend"]
        self.task: asyncio.Task[None] | None = None
        self.findings: Findings | None = None
        self.took: dict[str, float] = {}
        with elements.tag("section", "advice", aria_labelledby="advice-head") as self.section:
            with elements.tag("div", "advice-head"):
                elements.words("What would help", name="h2").props["id"] = "advice-head"
                self.sheet = elements.button("Show", self._toggle, "small sheet-toggle")
                self.sheet.props["aria-expanded"] = "false"
            with elements.tag("div", "modes", role="group", aria_label="What is asked"):
                self.tabs = {
                    mode: elements.button(title, partial(self.choose, mode), "mode")
                    for mode, title in MODES.items()
                }
            self.form = QuestionForm(self.ask)
            with elements.tag("div", "progress", role="status") as self.progress:
                self.share = elements.tag(
                    "progress", "share", max="1", aria_label="how far the work is, about"
                )
                self.elapsed = elements.words("", "elapsed", "span")
                elements.button("Stop", self.stop, "small")
            self.status = elements.words("", "status-line")
            self.status.props["role"] = "status"
            self.results = elements.tag("div", "results")
        self.progress.set_visibility(False)
        self.choose("extend")

    def show(
        self, read: ParsedLines, palette: Palette, overlay: PaletteKey, fields: Mapping[str, str]
    ) -> None:
        """Take over a formula; answers for an older one are marked as such."""
        known = self.read.formula if self.read else None
        before = self._lines()
        surface = self.fields.get(SURFACE, "")
        self.read, self.palette, self.overlay, self.fields = read, palette, overlay, fields
        if self.question.mode == "replace" and before != self._lines():
            self._show_form()
        changed = known != read.formula or surface != fields.get(SURFACE, "")
        if self.findings is not None and changed:
            self.results.classes(add="old")
            elements.say(self.status, OLD)

    def choose(self, mode: str) -> None:
        """Show the fields of one kind of question, as they were left."""
        self.question = self.questions[mode]
        for name, tab in self.tabs.items():
            tab.props["aria-pressed"] = "true" if name == mode else "false"
        self._show_form()
        if self.findings is None:
            elements.say(self.status, HINTS[mode])

    def extend(self, facet: str) -> None:
        """Ask what keeps a facet alive; another facet than the last is a new question, without settings."""
        if self.questions["extend"].facet != facet:
            self.questions["extend"] = Question("extend", facet=facet)
        self.questions["extend"].gap = facet
        self.choose("extend")
        self.ask()

    def replace(self, number: str) -> None:
        """Ask what can stand for a line; another line than the last is a new question, without settings."""
        if self.questions["replace"].line != number or self.questions["replace"].brought:
            self.questions["replace"] = Question("replace", line=number)
        self.choose("replace")
        self.ask()

    def _lines(self) -> dict[str, str]:
        return {number: line.content.name for number, line in self.read.found.items()} if self.read else {}

    def _show_form(self) -> None:
        self.form.show(self.question, self._lines())

    def _toggle(self) -> None:
        """Open the panel from below, or close it, on a narrow screen."""
        self.open_sheet(self.sheet.props["aria-expanded"] != "true")

    def open_sheet(self, is_open: bool) -> None:
        """Open or close the panel on a narrow screen."""
        self.sheet.props["aria-expanded"] = "true" if is_open else "false"
        self.sheet.set_content("Hide" if is_open else "Show")
        self.section.classes(add="open" if is_open else "", remove="" if is_open else "open")

    def ask(self) -> None:
        """Start a job; one that still runs is stopped."""
        self.stop()
        self.open_sheet(True)
        try:
            job = self._job(self.question)
        except RecommenderError as error:
            job = without_commands(sentence(error))
        if isinstance(job, str):
            elements.say(self.status, job)
            return
        of_a_line = self.question.mode == "replace" and not self.question.brought.strip()
        lines = (self.question.line,) if of_a_line else ()
        self.task = background_tasks.create(self._work(job, lines, replace(self.question)), name="advice")

    def _job(self, question: Question) -> Job | str:
        """Return the job, or what is still missing for it; raises `BadValue`."""
        formula = self.read.formula if self.read else None
        if formula is None or self.read is None:
            return "Put at least one material that smells into the formula first."
        request = question.request(self._base())
        if question.mode == "vary" and not question.toward.strip():
            return HINTS["vary"]
        if question.mode != "replace":
            return Job(question.mode, formula, request, overlay=self.overlay)
        if question.brought.strip():
            assert self.palette is not None
            asked = self.palette.catalogue.find(question.brought.strip())
            return Job("replace", asked, request, formula, self.overlay)
        if question.line not in self.read.found:
            return HINTS["replace"]
        material = content_of(self.read.found[question.line])
        if material is None:
            return "This line is an accord of its own: open it, and choose one of its lines."
        if request.blend:
            return Job("replace", material, _of_a_material(request), overlay=self.overlay)
        return Job("replace", material, request, formula, self.overlay)

    def _base(self) -> Request:
        """Return what every question about this formula has: the product, the surface, the shelf."""
        use, share_percent = usable(self.fields)
        surface = self.fields.get(SURFACE, "")
        return Request(
            dosage_percent=use.dosage_percent,
            category=use.category,
            market=use.market,
            on=use.on,
            shelf=self.shelf(),
            share_percent=share_percent,
            surface=surface if surface in SURFACES else STRIP,
        )

    async def _work(self, job: Job, lines: tuple[str, ...], question: Question) -> None:
        start = time.monotonic()
        expected = self.took.get(question.mode) or 0.5 + SECONDS_A_LINE * len(self._lines())
        self.progress.set_visibility(True)
        elements.say(self.status, "")

        def tick() -> None:
            passed = time.monotonic() - start
            share = min(passed / expected, 0.95)
            self.share.props["value"] = f"{share:.2f}"
            self.elapsed.set_content(f"trying materials, about {100 * share:.0f} %")

        tick()
        with self.progress:
            timer = ui.timer(0.25, tick)
        try:
            findings: Findings = await self.jobs.run(job)
            self.took[question.mode] = time.monotonic() - start
            reasons = await self._why_not(job, question, findings)
        except asyncio.CancelledError:
            elements.say(self.status, "Stopped. The formula is as it was.")
            raise
        except (RecommenderError, JobFailed) as error:
            self.findings = None
            self.results.clear()
            problem = sentence(error) if isinstance(error, RecommenderError) else str(error)
            elements.say(self.status, without_commands(problem))
        else:
            with self.section:
                self._show_answer(findings, lines, reasons)
        finally:
            timer.cancel()
            self.progress.set_visibility(False)

    async def _why_not(self, job: Job, question: Question, findings: Findings) -> list[str]:
        """Return why what is asked about is missing; where nothing was found, why the nearest are."""
        names = question.excluded or ()
        if not names and not findings.suggestions:
            names = self._nearest(findings, question)
        if not names or job.request is None:
            return []
        if question.mode == "replace":  # it is answered of the material alone
            request = replace(_of_a_material(job.request), why_not=names, blend=None)
            found: Findings = await self.jobs.run(replace(job, request=request, within=None))
        elif question.excluded:
            found = findings
        else:
            found = await self.jobs.run(replace(job, request=replace(job.request, why_not=names)))
        known = [self._called(name) for name in names]
        return [note for note in found.notes if note.startswith(tuple(known))]

    def _called(self, name: str) -> str:
        """Return the name of a material in answers."""
        assert self.palette is not None
        try:
            return self.palette.catalogue.find(name).name
        except RecommenderError:
            return name

    def _nearest(self, findings: Findings, question: Question) -> tuple[str, ...]:
        """Return the materials that show most of what is wanted, and are not in the formula."""
        if self.palette is None or self.read is None:
            return ()
        wanted: list[str] = list(findings.query["facets"])  # type: ignore[call-overload]
        inside = {content.slug for line in self.read.found.values() if (content := content_of(line))}
        found: list[Material] = []
        for facet in wanted[:2]:
            found += find(facet, self.palette)[0]
        names = [m.name for m in found if m.role == "palette" and m.slug not in inside]
        return tuple(dict.fromkeys(names))[:NEAREST]

    def stop(self) -> None:
        """Stop the running job; the formula stays as it is."""
        if self.task is not None and not self.task.done():
            self.task.cancel()
        self.task = None

    def _show_answer(self, findings: Findings, lines: tuple[str, ...], reasons: list[str]) -> None:
        assert self.palette is not None
        self.findings = findings
        if findings.query["verb"] == "replace" and not lines:  # less of a smell replaces what carries it
            lines = tuple(number for number, name in self._lines().items() if name == findings.asked)
        ui.run_javascript(RESULTS_IN_VIEW)
        self.acts.about(tuple(findings.query["facets"]))  # type: ignore[arg-type]
        sources = self.palette.catalogue.sources
        self.results.classes(remove="old")
        self.results.clear()
        acts = AnswerActs(
            lambda found: self._take(found, lines),
            lambda one: self.acts.preview(one, self._out(one.found, lines) if one else lines),
        )
        with self.results:
            elements.words(text.heading(findings), "question", "h3")
            for line in filter(None, (text.asked_line(findings), sentences.itself(findings))):
                elements.words(line, "before")
            if reasons:
                elements.words(
                    "Why not?" if findings.suggestions else "Nearest, and why not", "question", "h3"
                )
                with elements.tag("ul", "why-not"):
                    for reason in reasons:
                        elements.words(reason, name="li")
            if tied := text.tied_line(findings):
                elements.words(tied, "before")
            with elements.tag("ol", "answers"):
                for rank, found in enumerate(findings.suggestions, 1):
                    Answer(rank, found, findings, sources, acts)
            if findings.lower:
                self._or_lower(findings.lower)
            for note in findings.notes:
                if note not in reasons:
                    elements.words(without_commands(note), "remark")
        count = len(findings.suggestions) + len(findings.lower or ())
        elements.say(self.status, NOTHING if not count else "")

    def _out(self, found: Suggestion, lines: tuple[str, ...]) -> tuple[str, ...]:
        """Return the lines that a suggestion takes the place of: those of a natural where it names one."""
        if found.instead_of is None or self.read is None:
            return lines
        return tuple(n for n, line in self.read.found.items() if content_of(line) == found.instead_of)

    def _take(self, found: Suggestion, lines: tuple[str, ...]) -> None:
        out = self._out(found, lines)
        if found.instead_of is not None and not out:
            elements.say(self.status, f"{found.instead_of.name} is in no line of its own: open its accord.")
            return
        self.acts.take(found, out)

    def _or_lower(self, lines: tuple[LoweredLine, ...]) -> None:
        """Show what hides the smell, each with a button that lowers it."""
        elements.words("Or lower what hides it", "question", "h3")
        with elements.tag("ul", "lower"):
            for line in lines:
                with elements.tag("li"):
                    elements.words(f"{amount_sentences.lowering(line)}.", "why")
                    what = "Lower it" if line.reason.factor else "Take it out"
                    elements.button(
                        what, partial(self.acts.lower, line), "small", label=f"{what}: {line.material.name}"
                    )


def _of_a_material(request: Request) -> Request:
    """Return a request as it can be asked of a material without a formula."""
    return replace(request, surface=STRIP, share_percent=None, theme=None)
