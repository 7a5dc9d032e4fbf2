"""What would help: carriers for a facet that dies, stand-ins, a move toward other words, companions."""

import asyncio
import time
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial

from nicegui import background_tasks, ui

from recommender.errors import RecommenderError
from recommender.evaporation import DEFAULT_CONDITIONS
from recommender.evidence.overlay import Overlay
from recommender.model import Findings, LoweredLine, Suggestion
from recommender.output import amount_sentences, text
from recommender.palette import Palette
from recommender.suggest import Request
from recommender.suggest.stock import Shelf
from recommender.web.server.jobs import JobFailed, JobPool
from recommender.web.server.typed_lines import ParsedLines, content_of
from recommender.web.server.worker import Job, PaletteKey
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.formula_view import without_commands
from recommender.web.widgets.product_section import usable
from recommender.web.widgets.suggestion import card

MODES = {
    "extend": "Keep a smell alive",
    "replace": "Stand in for a line",
    "vary": "Move it elsewhere",
    "pair": "Find companions",
}
UNTIL = {"": "a day or more", "8": "8 hours", "72": "3 days", "168": "a week", "504": "3 weeks"}
"""Hours; without one a day, or half as long again as the smell lasts already."""
INTO = {"": "heart or base", "heart": "the heart", "base": "the base"}
BECAUSE = {
    "": "any reason",
    "stock": "out of stock",
    "price": "too expensive",
    "law": "restricted or harmful",
    "smell": "the smell is not right",
}
PRODUCT = {"": "any product", "soap": "bar soap", "candle": "a candle", "shampoo": "shampoo",
           "wash": "washing powder"}  # fmt: skip
TOP = 6
HINTS = {
    "extend": "Choose a gap above, or write a smell, to see what keeps it alive and at which dose.",
    "replace": "Choose a line with ⇄, or here, to see what can stand for it in this formula.",
    "vary": "Write where it should go, such as hazelnut, smoke or pear.",
    "pair": "Ask what goes well with it, or write a smell that a companion should have.",
}

Take = Callable[[Suggestion, tuple[str, ...]], None]
Lower = Callable[[LoweredLine], None]


class Suggestions:
    """The panel below the formula: one question at a time, answered by a worker process."""

    def __init__(self, jobs: JobPool, take: Take, shelf: Callable[[], Shelf], lower: Lower) -> None:
        self.jobs, self.take, self.shelf, self.lower = jobs, take, shelf, lower
        self.fields: Mapping[str, str] = {}
        self.avoid, self.only_shelf = "", False
        self.product, self.colourless, self.available = "", False, False
        self.read: ParsedLines | None = None
        self.palette: Palette | None = None
        self.overlay: PaletteKey = Overlay(), DEFAULT_CONDITIONS
        self.mode, self.until, self.into, self.relay = "extend", "", "", False
        self.facet, self.toward, self.line, self.because, self.companion = "", "", "", "", ""
        self.gap = ""
        self.task: asyncio.Task[None] | None = None
        self.findings: Findings | None = None
        with elements.tag("section", "advice", aria_labelledby="advice-head"):
            elements.words("What would help", name="h2").props["id"] = "advice-head"
            with elements.tag("div", "modes", role="group", aria_label="What is asked"):
                self.tabs = {
                    mode: elements.button(title, partial(self.choose, mode), "mode")
                    for mode, title in MODES.items()
                }
            self.form = elements.tag("div", "form")
            with elements.tag("div", "progress", role="status") as self.progress:
                with elements.tag("div", "track"):
                    elements.tag("div", "runner")
                self.elapsed = elements.words("", "elapsed", "span")
                elements.button("Stop", self.stop, "small")
            self.status = elements.words("", "status-line")
            self.status.props["role"] = "status"
            self.results = elements.tag("div", "results")
        self.progress.set_visibility(False)
        self.choose("extend")

    def show(self, read: ParsedLines, palette: Palette, overlay: PaletteKey, stale: bool) -> None:
        """Take over a formula; answers for an older one are marked as such."""
        known = self.read.formula if self.read else None
        before = list(self.read.found) if self.read else []
        self.read, self.palette, self.overlay = read, palette, overlay
        if self.mode == "replace" and before != list(read.found):
            self._form()
        if stale and self.findings is not None and known != read.formula:
            self.results.classes(add="old")
            elements.say(self.status, "Worked out before the last change; ask again for new figures.")

    def choose(self, mode: str) -> None:
        """Show the fields of one question."""
        self.mode = mode
        for name, tab in self.tabs.items():
            tab.props["aria-pressed"] = "true" if name == mode else "false"
        self._form()
        if self.findings is None:
            elements.say(self.status, HINTS[mode])

    def extend(self, facet: str, hours: float | None) -> None:
        """Ask what keeps a facet alive after an hour by which it has gone; a click on its gap does this."""
        self.facet = self.gap = facet
        if hours is not None and self.until and float(self.until) < 1.5 * hours:
            self.until = ""
        self.choose("extend")
        self.ask()

    def replace(self, number: str) -> None:
        """Ask what can stand for a line."""
        self.line = number
        self.choose("replace")
        self.ask()

    def _form(self) -> None:
        self.form.clear()
        with self.form:
            getattr(self, f"_form_{self.mode}")()
            self._labelled("without", elements.field, self.avoid, live=self._set("avoid"), options="smells",
                           hint="nothing to avoid")  # fmt: skip
            elements.tick("from my shelf only", self.only_shelf, self._set("only_shelf"))
            self._labelled("for", elements.choice, PRODUCT, self.product, self._set("product"))
            elements.tick("colourless", self.colourless, self._set("colourless"))
            elements.tick("can be bought", self.available, self._set("available"))
            elements.button("Ask", self.ask, "main")

    def _form_extend(self) -> None:
        self._labelled("smell", elements.field, self.facet, live=self._set("facet"), options="smells",
                       hint="what is missed most")  # fmt: skip
        self._labelled("until", elements.choice, UNTIL, self.until, self._set("until"))
        self._labelled("into", elements.choice, INTO, self.into, self._set("into"))
        elements.tick("a relay of two", self.relay, self._set("relay"))

    def _form_replace(self) -> None:
        lines = self.read.found if self.read else {}
        names = {number: line.content.name for number, line in lines.items()}
        if self.line not in names:
            self.line = next(iter(names), "")
        self._labelled("line", elements.choice, names or {"": "no line yet"}, self.line, self._set("line"))
        self._labelled("above all its", elements.field, self.facet, live=self._set("facet"), options="smells",
                       hint="whole smell")  # fmt: skip
        self._labelled("because", elements.choice, BECAUSE, self.because, self._set("because"))

    def _form_vary(self) -> None:
        self._labelled("toward", elements.field, self.toward, live=self._set("toward"), options="smells",
                       hint="hazelnut, smoke, pear")  # fmt: skip

    def _form_pair(self) -> None:
        self._labelled("that smells of", elements.field, self.companion, live=self._set("companion"),
                       options="smells", hint="any smell")  # fmt: skip

    def _labelled(self, label: str, make: Callable[..., object], *given: object, **more: object) -> None:
        with elements.tag("div", "labelled"):
            elements.words(label, "label", "span")
            make(label, *given, **more)

    def _set(self, name: str) -> Callable[[object], None]:
        return lambda value: setattr(self, name, value)

    def ask(self) -> None:
        """Start a job; one that still runs is stopped."""
        self.stop()
        job = self._job()
        if isinstance(job, str):
            elements.say(self.status, job)
            return
        lines = (self.line,) if self.mode == "replace" else ()
        self.task = background_tasks.create(self._work(job, lines), name="advice")

    def _job(self) -> Job | str:
        """Return the job, or what is still missing for it."""
        formula = self.read.formula if self.read else None
        if formula is None or self.read is None:
            return "Put at least one material that smells into the formula first."
        use, share_percent = usable(self.fields)
        request = Request(
            top=TOP,
            dosage_percent=use.dosage_percent,
            category=use.category,
            market=use.market,
            on=use.on,
            avoid=self.avoid.strip() or None,
            only_shelf=self.only_shelf,
            because=self.because or None if self.mode == "replace" else None,
            shelf=self.shelf(),
            share_percent=share_percent,
            product=self.product or None,
            colourless=self.colourless,
            available=self.available,
        )
        facet = self.facet.strip() or None
        match self.mode:
            case "extend":
                into = None if self.relay else self.into or None
                request = replace(
                    request,
                    facet=facet,
                    gap=self.gap if self.gap and self.gap == facet else None,
                    into=into,
                    until_hours=None if into or not self.until else float(self.until),
                    relay=self.relay,
                )
                return Job("extend", formula, request, overlay=self.overlay)
            case "vary":
                if not self.toward.strip():
                    return HINTS["vary"]
                request = replace(request, toward=self.toward.strip())
                return Job("vary", formula, request, overlay=self.overlay)
            case "pair":
                request = replace(request, facet=self.companion.strip() or None)
                return Job("pair", formula, request, overlay=self.overlay)
        if self.line not in self.read.found:
            return HINTS["replace"]
        material = content_of(self.read.found[self.line])
        if material is None:
            return "This line is an accord of its own: open it, and choose one of its lines."
        return Job("replace", material, replace(request, facet=facet), formula, self.overlay)

    async def _work(self, job: Job, lines: tuple[str, ...]) -> None:
        start = time.monotonic()
        self.progress.set_visibility(True)
        elements.say(self.status, "")

        def tick() -> None:
            self.elapsed.set_content(f"trying materials, {time.monotonic() - start:.0f} s")

        with self.progress:
            timer = ui.timer(1.0, tick)
        self.elapsed.set_content("trying materials")
        try:
            findings: Findings = await self.jobs.run(job)
        except asyncio.CancelledError:
            elements.say(self.status, "Stopped. The formula is as it was.")
            raise
        except (RecommenderError, JobFailed) as error:
            self.findings = None
            self.results.clear()
            elements.say(self.status, sentence(error) if isinstance(error, RecommenderError) else str(error))
        else:
            self._show_answer(findings, lines)
        finally:
            timer.cancel()
            self.progress.set_visibility(False)

    def stop(self) -> None:
        """Stop the running job; the formula stays as it is."""
        if self.task is not None and not self.task.done():
            self.task.cancel()
        self.task = None

    def _show_answer(self, findings: Findings, lines: tuple[str, ...]) -> None:
        assert self.palette is not None
        self.findings = findings
        if findings.query["verb"] == "replace" and not lines and self.read is not None:
            found_lines = self.read.found
            lines = tuple(n for n, line in found_lines.items() if line.content.name == findings.asked)
        self.results.classes(remove="old")
        self.results.clear()
        with self.results:
            elements.words(text.heading(findings), "question", "h3")
            if before := text.asked_line(findings):
                elements.words(before, "before")
            for note in findings.notes:
                elements.words(without_commands(note), "remark")
            if tied := text.tied_line(findings):
                elements.words(tied, "before")
            with elements.tag("ol", "cards"):
                for found in findings.suggestions:
                    card(found, findings, self.palette.catalogue.sources, lambda f: self.take(f, lines))
            if findings.lower:
                self._or_lower(findings.lower)
        count = len(findings.suggestions) + len(findings.lower or ())
        nothing = "Nothing found; try a wider smell, another hour, or another direction."
        elements.say(self.status, nothing if not count else "")

    def _or_lower(self, lines: tuple[LoweredLine, ...]) -> None:
        """Show what hides the smell, each with a button that lowers it."""
        elements.words("Or lower what hides it", "question", "h3")
        with elements.tag("ul", "lower"):
            for line in lines:
                with elements.tag("li"):
                    elements.words(f"{amount_sentences.lowering(line)}.", "why")
                    what = "Lower it" if line.reason.factor else "Take it out"
                    elements.button(
                        what, partial(self.lower, line), "small", label=f"{what}: {line.material.name}"
                    )
