"""All formulas, on the page and saved, found by part of a name."""

from functools import partial

from nicegui import ui

from recommender.errors import RecommenderError
from recommender.evidence.names import plain
from recommender.notebook.drafts import Draft
from recommender.notebook.formulas import SavedVersion
from recommender.web.server import open_formulas
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.removed_list import bringing_back, removed_list
from recommender.web.widgets.sub_menu import sub_menu

MOST = 60
"""So many of each are shown; part of a name finds the others."""


def matching(names: list[str], part: str) -> list[str]:
    """Return the names with every word of a text in them, in any order.

    >>> matching(["green fig", "Fig, green 2", "morello"], "GREEN fi")
    ['green fig', 'Fig, green 2']
    """
    words = plain(part).split()
    return [name for name in names if all(word in plain(name) for word in words)]


class FormulasPage:
    """One tab that lists formulas."""

    def __init__(self, session: PageSession) -> None:
        self.session, self.part = session, ""
        sub_menu("Notebook", "All formulas")
        elements.words("All formulas", name="h1")
        self.message = elements.Message()
        self.back = bringing_back(session, self.message, lambda found: f"{found.name} is back.", self.show)
        with elements.tag("div", "form"), elements.tag("div", "labelled"):
            elements.words("part of a name", "label", "span")
            elements.field("part of a name", "", live=self.search, hint="such as fig")
        self.status = elements.words("", "status-line")
        self.status.props["role"] = "status"
        self.list = elements.tag("div")
        self.show()

    def search(self, part: str) -> None:
        """Show the formulas whose names have a text."""
        self.part = part
        self.show()

    def show(self) -> None:
        """List what is found."""
        here = {draft: name for draft, name in open_formulas.choices(self.session).items() if draft}
        numbers = {name: number for number, name in here.items()}
        versions = {one.title: one for one in self.session.workspace.formulas.versions()}
        known, saved = matching(list(here.values()), self.part), matching(list(versions), self.part)
        elements.say(self.status, f"{len(known)} on the page, {len(saved)} saved")
        self.list.clear()
        with self.list:
            if known:
                elements.words("On the page", name="h2")
                with elements.tag("ul", "formula-list"):
                    for name in known[:MOST]:
                        with elements.tag("li"):
                            elements.link(name, open_formulas.address_of(numbers[name]))
                            elements.button("×", partial(self.remove, name), "plain sign",
                                            label=f"Remove {name} from the page")  # fmt: skip
            if saved:
                elements.words("Saved, the latest version of each", name="h2")
                with elements.tag("ul", "formula-list"):
                    for title in saved[:MOST]:
                        with elements.tag("li"):
                            elements.button(title, partial(self.open, versions[title]), "as-link",
                                            label=f"Open {title}")  # fmt: skip
                            about = ", ".join(filter(None, (versions[title].when[:10], versions[title].note)))
                            elements.words(about, "stay", "span")
            if left := max(len(known) - MOST, 0) + max(len(saved) - MOST, 0):
                elements.words(f"and {left} more; write more of the name.", "remark")
            entries = self.session.workspace.removed.entries("formula")
            removed_list(entries, self.session.workspace.palette.catalogue, self.back)

    def open(self, version: SavedVersion) -> None:
        """Put a saved version on the page, and go there."""
        try:
            draft: Draft = self.session.open_version(version)
        except RecommenderError as error:
            self.message.show(sentence(error))
            return
        ui.navigate.to(open_formulas.address(draft))

    def remove(self, name: str) -> None:
        """Remove a formula from the page; it can be brought back."""
        draft = self.session.find(name)
        number = self.session.remove(draft) if draft else None
        text = f"{name} is off the page; its saved versions stay."
        self.message.show(text, None if number is None else partial(self.back, number))
        self.show()
