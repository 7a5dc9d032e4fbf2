"""What a single material can be asked, without a formula or within one: four questions, with all filters."""

import asyncio
import re
from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from urllib.parse import quote

from nicegui import background_tasks, ui

from recommender import regulation, units
from recommender.errors import BadValue, RecommenderError
from recommender.evidence.markets import ANY
from recommender.model import SURFACE_NAMES, Findings, Formula, Material, Suggestion
from recommender.output import sentences, text, wording
from recommender.suggest import Request
from recommender.web.server import open_formulas
from recommender.web.server.jobs import JobFailed
from recommender.web.server.session import PageSession
from recommender.web.server.worker import Job
from recommender.web.widgets import elements
from recommender.web.widgets.add_to_formula import AddToFormula
from recommender.web.widgets.formula_view import without_commands
from recommender.web.widgets.product_section import MARKET_WORDS
from recommender.web.widgets.question import ANY_PRODUCT, BLENDS, INTO, KINDS
from recommender.web.widgets.typed_form import TypedForm

MODES = {
    "extend": "Keep its smell alive",
    "replace": "Stand in for it",
    "vary": "Move it elsewhere",
    "pair": "Find companions",
}
BECAUSE = {
    "": "any reason",
    "stock": "it is out of stock",
    "price": "it is too expensive",
    "law": "it is restricted or harmful",
    "smell": "its smell is not right",
}
HOW_MANY = {"6": "6 answers", "12": "12 answers", "25": "25 answers", "50": "50 answers"}
ALONE = "alone"
"""The choice of no formula."""
NOTHING = "Nothing found; try a wider smell, another hour, or fewer filters."
_OPTION = re.compile(r"; give --[^.]*")
SURFACES = {name: wording.on(name) for name in SURFACE_NAMES}


class MaterialQuestion:
    """One question at a time, answered by a worker process; answers go into a formula from here."""

    def __init__(self, session: PageSession, material: Material) -> None:
        self.session, self.material, self.mode = session, material, "extend"
        self.task: asyncio.Task[None] | None = None
        with elements.tag("section", "asking", aria_labelledby="ask-head"):
            elements.words("What would help", name="h2").props["id"] = "ask-head"
            with elements.tag("div", "modes", role="group", aria_label="What is asked"):
                self.tabs = {
                    mode: elements.button(title, partial(self.choose, mode), "mode")
                    for mode, title in MODES.items()
                }
            self.box = elements.tag("div")
            with elements.tag("div", "progress", role="status") as self.progress:
                with elements.tag("div", "track"):
                    elements.tag("div", "runner")
                elements.words("trying materials", "elapsed", "span")
                elements.button("Stop", self.stop, "small")
            self.status = elements.words("", "status-line")
            self.status.props["role"] = "status"
            self.results = elements.tag("div", "results")
        self.progress.set_visibility(False)
        elements.say(self.status, "")
        ui.context.client.on_delete(self.stop)
        self.choose("extend")

    def choose(self, mode: str) -> None:
        """Show the fields of one question."""
        self.mode = mode
        for name, tab in self.tabs.items():
            tab.props["aria-pressed"] = "true" if name == mode else "false"
        self.box.clear()
        form = self.form = TypedForm(self.ask)
        with self.box:
            with elements.tag("div", "form"):
                getattr(self, f"_{mode}")(form)
                elements.button("Ask", self.ask, "main")
            with elements.tag("details", "filters"):
                elements.words("Filters, and the finished product", name="summary")
                with elements.tag("div", "form"):
                    filters(form, self.session)
            form.end()

    def _extend(self, form: TypedForm) -> None:
        form.text("facet", "smell", hint="its leading smell", options="smells")
        form.text("until_hours", "until", hint="such as 8h or 3d", classes="short wide")
        form.choice("into", "in", INTO)
        self._within(form)

    def _replace(self, form: TypedForm) -> None:
        form.choice("blend", "by", BLENDS, aria="by how many")
        form.text("facet", "above all for its", hint="whole smell", options="smells")
        form.choice("because", "because", BECAUSE)
        self._within(form)

    def _within(self, form: TypedForm) -> None:
        known = open_formulas.choices(self.session)
        known.pop(open_formulas.NEW)
        form.choice(
            "within", "where", {ALONE: "on its own"} | {k: f"in {v}" for k, v in known.items()}, ALONE
        )

    def _vary(self, form: TypedForm) -> None:
        form.text("toward", "toward", hint="such as hazelnut or smoke", options="smells")

    def _pair(self, form: TypedForm) -> None:
        form.text("facet", "that smells of", hint="any smell", options="smells")

    def job(self) -> Job:
        """Return the question as it is typed; raises `BadValue`, `RecommenderError`."""
        form, values = self.form, self.form.values
        request = replace(
            filtered(form, Request(shelf=self.session.workspace.shelf.stock())),
            facet=values.get("facet") or None,
            toward=values.get("toward") or None,
            into=values.get("into") or None,
            because=values.get("because") or None,
            blend=int(values["blend"]) if values.get("blend") else None,
        )
        if self.mode == "vary" and not request.toward:
            raise BadValue("toward", "", "write where it should go, such as hazelnut or smoke")
        if values.get("until_hours"):
            request = replace(
                request, until_hours=form.read("until_hours", partial(units.hours_of, above_zero=True))
            )
        within = self._formula(values.get("within", ALONE))
        return Job(self.mode, self.material, request, within, self.session.workspace.overlay)

    def _formula(self, number: str) -> Formula | None:
        if number == ALONE:
            return None
        formula = self.session.read(self.session.get(int(number))).formula
        if formula is None:
            raise BadValue("within", "", "nothing in it smells yet; choose another")
        return formula

    def ask(self) -> None:
        """Start the question; one that still runs is stopped."""
        self.stop()
        self.form.fine()
        try:
            job = self.job()
        except RecommenderError as error:
            self.form.complain(error)
            return
        self.task = background_tasks.create(self._work(job), name="question")

    async def _work(self, job: Job) -> None:
        self.progress.set_visibility(True)
        elements.say(self.status, "")
        try:
            findings: Findings = await self.session.jobs.run(job)
        except asyncio.CancelledError:
            elements.say(self.status, "Stopped.")
            raise
        except RecommenderError as error:
            self.results.clear()
            self.form.complain(error)
        except JobFailed as error:
            elements.say(self.status, str(error))
        else:
            self._show(findings)
        finally:
            self.progress.set_visibility(False)

    def stop(self) -> None:
        """Stop the question that runs."""
        if self.task is not None and not self.task.done():
            self.task.cancel()
        self.task = None

    def _show(self, findings: Findings) -> None:
        elements.say(self.status, "" if findings.suggestions else NOTHING)
        sources = self.session.workspace.palette.catalogue.sources
        self.results.clear()
        with self.results:
            elements.words(text.heading(findings), "question", "h3")
            about = (text.asked_line(findings), sentences.itself(findings))
            for line in (*about, *findings.notes, text.tied_line(findings)):
                if line:
                    elements.words(without_commands(line), "remark")
            with elements.tag("ol", "found-list"):
                for found in findings.suggestions:
                    _found(self.session, found, findings, sources)


def filters(form: TypedForm, session: PageSession) -> None:
    """Add the filters of every question, what bounds a dose, the surface and how many answers."""
    offer_filters(form, session)
    form.choice("surface", "drying", SURFACES, SURFACE_NAMES[0])
    form.choice("top", "show", HOW_MANY, "6", aria="how many answers")
    form.text("why_not", "why not", hint="such as coumarin", options="names")


def offer_filters(form: TypedForm, session: PageSession) -> None:
    """Add the filters of what is offered, and what bounds a dose in the finished product."""
    form.text("avoid", "without", hint="such as hay", options="smells")
    form.choice("kind", "kind", KINDS)
    form.text("max_price", "at most", hint="such as 0.5", numeric=True, classes="short wide",
              aria="price of a gram neat, at most", unit="a gram, neat")  # fmt: skip
    form.tick("only_shelf", "from my shelf only")
    form.tick("no_label_allergens", "no label allergens")
    form.choice("product", "for", ANY_PRODUCT)
    form.tick("colourless", "colourless")
    form.tick("available", "can be bought")
    product_fields(form, session)


def product_fields(form: TypedForm, session: PageSession) -> None:
    """Add market, dosage, category, day and share of a concentrate."""
    categories = {c.name: f"{c.name}: {c.words}" for c in session.workspace.palette.catalogue.categories}
    form.choice("market", "market", MARKET_WORDS, ANY, aria="market whose rules decide")
    form.text("dosage_percent", "dosage", hint="such as 15", numeric=True, classes="short wide", unit="%",
              aria="dosage in the finished product in per cent")  # fmt: skip
    form.choice("category", "category", categories, regulation.CATEGORY,
                aria="category of the industry Standards")  # fmt: skip
    form.text("on", "sold from", hint="a day; today", classes="short wide",
              aria="day on which the product is placed on the market")  # fmt: skip
    form.text("share_percent", "its accord is", hint="all", numeric=True, classes="short wide",
              unit="% of the concentrate", aria="share of a concentrate in per cent")  # fmt: skip


def filtered(form: TypedForm, request: Request) -> Request:
    """Return a request with the filters as typed; raises `BadValue` for the field."""
    values = form.values
    return replace(
        offered(form, request),
        surface=values["surface"],
        top=int(values["top"]),
        why_not=values["why_not"] or None,
    )


def offered(form: TypedForm, request: Request) -> Request:
    """Return a request with the filters of what is offered as typed; raises `BadValue` for the field."""
    values = form.values
    return replace(
        request,
        avoid=values["avoid"] or None,
        kind=values["kind"] or None,
        max_price=form.number("max_price", "it is a price of a gram, such as 0.5"),
        only_shelf=values["only_shelf"],
        no_label_allergens=values["no_label_allergens"],
        market=values["market"],
        dosage_percent=form.percent("dosage_percent"),
        category=values["category"],
        on=regulation.checked_day(values["on"]),
        share_percent=form.percent("share_percent"),
        product=values["product"] or None,
        colourless=values["colourless"],
        available=values["available"],
    )


def _found(session: PageSession, found: Suggestion, findings: Findings, sources: Mapping[str, str]) -> None:
    texts, name = text.texts_of(found, findings), sentences.name_of(found)
    with elements.tag("li", "found"):
        elements.words(name, name="h4")
        elements.words(texts["stay"], "stay")
        elements.words(_told(texts["why"]), "why")
        with elements.tag("dl", "facts"):
            for label, key in (
                ("dose", "dose"), ("strips", "check"), ("effect", "effect"), ("brings along", "brings"),
                ("strength", "strength"), ("bottle", "bottles"),
            ):  # fmt: skip
                if texts[key]:
                    elements.words(label, name="dt")
                    elements.words(_told(texts[key]), name="dd")
            for line in sentences.in_product(found):
                elements.words("in the product", name="dt")
                elements.words(_told(line), name="dd")
        if texts["availability"]:
            elements.words(f"{texts['availability'][0].upper()}{texts['availability'][1:]}.", "caution")
        for caution in found.cautions:
            elements.words(f"Caution: {_told(caution)}", "caution")
        with elements.tag("details", "reasons"):
            elements.words("Why, with figures", name="summary")
            _reasons(found, findings, sources)
        members = found.members or ((found.material, 1.0),)
        for material, _ in members:
            more = elements.link(f"All on {material.name}", f"/material/{quote(material.slug)}", "more")
            more.props["aria-label"] = f"{material.name}: card of all that is known"
        percent = found.dose.dilution_percent if found.dose and not found.members else None
        with elements.tag("details"):
            elements.words(f"Add {name} to a formula", name="summary")
            AddToFormula(session, members, percent=f"{percent:g}" if percent else "")


def _told(text: str) -> str:
    """Return a text without the option of a command that it asks for; the field for it is above."""
    return without_commands(_OPTION.sub("", text))


def _reasons(found: Suggestion, findings: Findings, sources: Mapping[str, str]) -> None:
    with elements.tag("ul"):
        for reason in found.reasons:
            with elements.tag("li"):
                said = sentences.with_figures(reason, findings.asked, found.material.name)
                elements.words(_told(said), name="span")
                origin = ", ".join(filter(None, (reason.basis, reason.source)))
                if origin:
                    elements.words(origin, "origin", "span")
    for key in dict.fromkeys(reason.source for reason in found.reasons if reason.source in sources):
        elements.words(f"{key}: {sources[key]}", "source")
