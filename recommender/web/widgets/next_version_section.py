"""The next version of a formula from the readings of its trials: changes to tick, each with its reason."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

from recommender import units
from recommender.errors import RecommenderError
from recommender.formulas import formula as formulas
from recommender.formulas.drydown import FormulaDrydown
from recommender.notebook.formulas import SavedVersion
from recommender.output import revisions, wording
from recommender.output.trials import at
from recommender.suggest import Request
from recommender.suggest.revise import Revision, applied
from recommender.suggest.smelling_plan import plan
from recommender.web.server.jobs import JobFailed
from recommender.web.server.session import PageSession
from recommender.web.server.worker import Job
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.formula_view import without_commands
from recommender.web.widgets.material_question import offer_filters, offered
from recommender.web.widgets.typed_form import TypedForm
from recommender.workspace import SmelledVersion


class NextVersionSection:
    """What the readings ask for, and the version that follows from what is accepted."""

    def __init__(self, session: PageSession, opened: Callable[[SavedVersion], Any]) -> None:
        self.session, self.opened = session, opened
        self.smelled: SmelledVersion | None = None
        self.judged: SmelledVersion | None = None
        self.drydown: FormulaDrydown | None = None
        self.revision: Revision | None = None
        self.accepted: set[int] = set()
        with elements.tag("section", "next-version", aria_labelledby="next-head"):
            elements.words("The next version", name="h2").props["id"] = "next-head"
            with elements.tag("div", "form"):
                self.ask = elements.button("What do the readings ask for?", self._ask)
                self.status = elements.words("", "remark", "span")
                self.status.props["role"] = "status"
            form = self.form = TypedForm(self._ask)
            with elements.tag("details", "filters") as self.filters:
                elements.words("Filters, and the finished product", name="summary")
                with elements.tag("div", "form"):
                    form.text("until_hours", "smells last until", hint="24 h", classes="short wide")
                    form.text("theme", "it is about", hint="its own theme", options="smells")
                    offer_filters(form, session)
                form.end()
            self.list = elements.tag("div")

    def show(self, smelled: SmelledVersion) -> None:
        """Take over the readings; proposals for older ones go."""
        if self.smelled is not None and smelled.records != self.smelled.records:
            self.revision = None
            self.list.clear()
        self.smelled = smelled
        has_some = any(record.readings for record in smelled.records)
        self.ask.set_visibility(has_some)
        self.filters.set_visibility(has_some)
        elements.say(self.status, "" if has_some else "It follows from readings; there is none yet.")

    def request(self) -> Request:
        """Return what is asked under the filters as typed; raises `BadValue` for the field."""
        request = offered(self.form, Request(shelf=self.session.workspace.shelf.stock()))
        hours = self.form.read("until_hours", partial(units.hours_of, above_zero=True))
        return request if hours is None else replace(request, until_hours=hours)

    def _about(self, smelled: SmelledVersion) -> SmelledVersion:
        """Return a version judged by the theme that is typed, else by its own; raises `UnknownFacet`."""
        drydown = smelled.drydown
        words = self.form.values["theme"] or None
        formula = formulas.with_theme(drydown.formula, words, drydown.palette.catalogue)
        return replace(smelled, drydown=replace(drydown, formula=formula))

    async def _ask(self) -> None:
        smelled = self.smelled
        if smelled is None:
            return
        self.form.fine()
        try:
            request, self.judged = self.request(), self._about(smelled)
        except RecommenderError as error:
            self.form.complain(error)
            self.filters.props.set_bool("open", True)
            return
        elements.say(self.status, "working out what to change …")
        readings = tuple(one for record in smelled.records for one in record.readings)
        drydown = self.judged.drydown
        overlay = self.session.workspace.overlay[0], drydown.palette.conditions
        job = Job("next", drydown.formula, request, overlay=overlay, readings=readings)
        try:
            self.revision = await self.session.jobs.run(job)
        except RecommenderError as error:
            elements.say(self.status, "")
            self.form.complain(error)
            self.filters.props.set_bool("open", True)
            return
        except JobFailed as error:
            elements.say(self.status, str(error))
            return
        elements.say(self.status, "")
        self._changes()

    def _changes(self) -> None:
        assert self.revision is not None
        changes = self.revision.changes
        self.accepted = set(range(len(changes)))
        self.list.clear()
        with self.list:
            if not changes:
                elements.words("The readings call for no change.", "empty")
            with elements.tag("ol", "changes"):
                for place, change in enumerate(changes):
                    with elements.tag("li"):
                        text = revisions.change_text(change)
                        elements.tick(text[0].upper() + text[1:], True, self._accept(place))
                        elements.words(revisions.reason_text(change), "remark")
                        for caution in change.suggestion.cautions if change.suggestion else ():
                            elements.words(caution, "caution")
            for note in self.revision.notes:
                elements.words(without_commands(note), "remark")
            if changes:
                elements.button("Save it as the next version", self._save, "main")
                elements.words(wording.SIGNS_OFF, "remark")
            self.after = elements.tag("div")

    def _accept(self, place: int) -> Callable[[bool], None]:
        return lambda chosen: self.accepted.add(place) if chosen else self.accepted.discard(place)

    def _save(self) -> None:
        smelled, revision = self.judged, self.revision
        assert smelled is not None
        assert revision is not None
        taken = [change for place, change in enumerate(revision.changes) if place in self.accepted]
        if not taken:
            elements.say(self.status, "No change is ticked, so there is nothing to save.")
            return
        after = applied(smelled.drydown, taken)
        numbers = wording.join(str(record.number) for record in smelled.records if record.readings)
        done = "; ".join(revisions.change_text(change) for change in taken)
        note = f"from trial{'s' if ' ' in numbers else ''} {numbers}: {done}"
        try:
            name = smelled.version.name
            saved = self.session.workspace.formulas.save(after.formula, name, note)[-1]
        except RecommenderError as error:
            elements.say(self.status, sentence(error))
            return
        readings = [one for record in smelled.records for one in record.readings]
        self.after.clear()
        with self.after:
            is_new = f"{saved.title} is saved." if saved.new else f"{saved.title} is the same already."
            with elements.tag("div", "gap"):
                elements.words(is_new, "moved", "span")
                elements.button("Open it", lambda: self.opened(saved), "small")
            elements.words("What to smell on its strip", name="h3")
            with elements.tag("ul"):
                for look in plan(after, taken, readings):
                    what = f"{look.facet or 'the whole'}: {look.why} (expected: {look.rating})"
                    elements.words(f"{at(look.hours)}, {what}", name="li")
