"""The formula's name, its steps back and forward, and what can be done with it as a whole."""

from typing import TYPE_CHECKING

from nicegui import ui

from recommender.notebook.drafts import Draft
from recommender.web import parts
from recommender.web.choosing import chooser
from recommender.web.files import as_csv

if TYPE_CHECKING:
    from recommender.web.bench_page import BenchPage


class TitleBar:
    """The line above the formula."""

    def __init__(self, page: "BenchPage") -> None:
        self.page = page
        with parts.tag("div", "title"):
            parts.words("Formula", "unseen", "h1")
            self.name = parts.field("name of the formula", page.draft.name, done=page.rename, classes="name")
            with parts.tag("div", "title-acts", role="group", aria_label="The whole formula"):
                self.undo = parts.button("Undo", lambda: page.step(-1), "small")
                self.redo = parts.button("Redo", lambda: page.step(1), "small")
                parts.button("Save a version", page.save, "small")
                parts.button("Weigh", page.weigh, "small")
                parts.button("Export CSV", self._export, "small")
                parts.button("Open…", chooser(page.desk).open, "small")

    def show(self, draft: Draft) -> None:
        """Show name and steps."""
        if self.name.value != draft.name:
            self.name.value = draft.name
        for button, step, what in ((self.undo, draft.back, "Undo"), (self.redo, draft.forth, "Redo")):
            button.props.set_bool("disabled", not step)
            label = f"{what}: {step}" if step else f"{what}: nothing"
            if button.props.get("aria-label") != label:
                button.props["aria-label"] = button.props["title"] = label

    def _export(self) -> None:
        draft = self.page.draft
        ui.download.content(as_csv(draft), f"{draft.name}.csv", "text/csv; charset=utf-8")
