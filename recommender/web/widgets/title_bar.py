"""The formula's name, its steps back and forward, and what can be done with it as a whole."""

from collections.abc import Callable
from dataclasses import dataclass

from recommender.notebook.drafts import Draft
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.formula_picker import picker_dialog


@dataclass(frozen=True, slots=True)
class FormulaActions:
    """What the page does when a button of the bar is pressed, or another name is typed."""

    rename: Callable[[str], object]
    step: Callable[[int], object]
    save: Callable[[str], object]
    weigh: Callable[[], object]
    reformulate: Callable[[], object]
    export: Callable[[], object]


class TitleBar:
    """The line above the formula."""

    def __init__(self, session: PageSession, name: str, actions: FormulaActions) -> None:
        self.actions = actions
        with elements.tag("div", "title"):
            elements.words("Formula", "unseen", "h1")
            self.name = elements.field("name of the formula", name, done=actions.rename, classes="name")
            self.focused, self.shown = False, name
            self.name.on("focus", lambda _: self._focus(True), [])
            self.name.on("blur", lambda _: self._focus(False), [])
            with elements.tag("div", "title-acts", role="group", aria_label="The whole formula"):
                self.undo = elements.button("Undo", lambda: actions.step(-1), "small")
                self.redo = elements.button("Redo", lambda: actions.step(1), "small")
                self.note = elements.field(
                    "what is new in this version", hint="what is new", classes="version-note"
                )
                self.note.on("keydown.enter", lambda _: self._save())
                elements.button("Save a version", self._save, "small")
                elements.button("Weigh", actions.weigh, "small")
                elements.button("Reformulate", actions.reformulate, "small",
                                title="Bring it inside limits, price or shelf")  # fmt: skip
                elements.button("Export CSV", actions.export, "small")
                elements.button("Open…", picker_dialog(session).open, "small")

    def show(self, draft: Draft) -> None:
        """Show name and steps; the name is not written into its field while somebody is in it."""
        self.shown = draft.name
        if not self.focused and self.name.value != draft.name:
            self.name.value = draft.name
        for button, step, what in ((self.undo, draft.back, "Undo"), (self.redo, draft.forth, "Redo")):
            button.props.set_bool("disabled", not step)
            label = f"{what}: {step}" if step else f"{what}: nothing"
            if button.props.get("aria-label") != label:
                button.props["aria-label"] = button.props["title"] = label

    def _save(self) -> None:
        """Save a version with its note, which then is blank again."""
        if self.actions.save((self.note.value or "").strip()):
            self.note.value = ""

    def _focus(self, on: bool) -> None:
        before, self.focused = self.focused, on
        if before and not on and self.name.value != self.shown:
            self.name.value = self.shown
