"""A line with which a material goes into a formula of the page, from wherever the material is shown."""

from collections.abc import Callable

from recommender.errors import ChangedMeanwhile, RecommenderError
from recommender.output import wording
from recommender.web.server import open_formulas
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.typed_form import TypedForm


class AddToFormula:
    """Which formula, how many parts, and a button; what was done can be undone in place."""

    def __init__(
        self,
        session: PageSession,
        members: open_formulas.Members,
        parts: str = "",
        percent: str = "",
        changed: Callable[[], object] = lambda: None,
    ) -> None:
        self.session, self.members, self.percent, self.changed = session, members, percent, changed
        self.name = wording.join(material.name for material, _ in members)
        self.verb = "is" if len(members) == 1 else "are"
        known = open_formulas.choices(session)
        with elements.tag("div", "add-to"):
            with elements.tag("div", "form"):
                self.form = TypedForm(self.add)
                self.form.choice("formula", "add to", known, next(iter(known)), f"formula for {self.name}")
                self.form.text("parts", "with", parts, "such as 5", numeric=True, classes="short wide",
                               aria=f"parts of {self.name} to add", unit="parts")  # fmt: skip
                elements.button("Add", self.add, "small", label=f"Add {self.name} to the formula")
            self.form.end()
            with elements.tag("div", "done", role="status"):
                self.outcome = elements.tag("div", "own-acts")

    def add(self) -> None:
        """Put it at the end of the chosen formula."""
        number, parts = self.form.values["formula"], self.form.values["parts"]
        self.form.fine()
        try:
            draft, new = open_formulas.add_materials(self.session, number, self.members, parts, self.percent)
        except RecommenderError as error:
            self.form.complain(error)
            return

        def undo() -> None:
            try:
                if new:
                    self.session.remove(draft)
                else:
                    self.session.step(draft, -1)
            except ChangedMeanwhile as error:
                self._say(sentence(error))
                return
            self._say(f"{self.name} {self.verb} out of {draft.name} again.")
            self.changed()

        self.outcome.clear()
        with self.outcome:
            elements.words(f"{self.name} {self.verb} in {draft.name}.", name="span")
            elements.link("Open it", open_formulas.address(draft)).props["aria-label"] = f"Open {draft.name}"
            elements.button("Undo", undo, "small", label=f"Undo: {self.name} in {draft.name}")
        self.changed()

    def _say(self, text: str) -> None:
        self.outcome.clear()
        with self.outcome:
            elements.words(text, name="span")
