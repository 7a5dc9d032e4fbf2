"""All notes of the person's own nose in one list: written, changed, removed."""

from functools import partial
from urllib.parse import quote

from recommender.errors import RecommenderError
from recommender.model import Material
from recommender.output import materials, wording
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.nose_form import NoseForm
from recommender.web.widgets.removed_list import bringing_back, removed_list
from recommender.web.widgets.sub_menu import sub_menu

EMPTY = "No note of your nose yet. What you write counts in place of the table, everywhere."


class NosePage:
    """One tab that shows the notes."""

    def __init__(self, session: PageSession) -> None:
        self.session = session
        sub_menu("Materials", "My nose")
        elements.words("What your nose says", name="h1")
        self.message = elements.Message()
        self.back = bringing_back(session, self.message, lambda _: "The note counts again.", self.show)
        self.editor = elements.tag("section", "own-note", aria_labelledby="note-head")
        self.list = elements.tag("div", "scroll tall", tabindex="0", role="region", aria_label="Notes")
        self.removed = elements.tag("div")
        self.edit(None)
        self.show()

    def edit(self, material: Material | None) -> None:
        """Show the fields, filled with a note that is to be changed."""
        self.editor.clear()
        with self.editor:
            title = f"Change your note on {material.name}" if material else "Write a note"
            elements.words(title, name="h2").props["id"] = "note-head"
            form = NoseForm(self.session, material, self.stored)
            with elements.tag("div", "own-acts"):
                elements.button("Save this note", form.save, "main")
                if material:
                    elements.button("Leave it as it was", lambda: self.edit(None), "small")

    def stored(self, material: Material) -> None:
        """Show that a note is stored."""
        self.message.show(f"Your note on {material.name} counts from now on.")
        self.edit(None)
        self.show()

    def show(self) -> None:
        """List the notes."""
        here = self.session.workspace
        described = [(m, m.own) for m in here.palette.catalogue.materials if m.own is not None]
        self.removed.clear()
        with self.removed:
            removed_list(here.removed.entries("note"), here.palette.catalogue, self.back)
        self.list.clear()
        with self.list:
            if not described:
                elements.words(EMPTY, "empty")
                return
            with elements.tag("table", "plain-table"):
                heads = ("material", "to your nose", "in the table", "in your words", "what to do")
                elements.table_head(heads)
                with elements.tag("tbody"):
                    for material, own in described:
                        with elements.tag("tr"):
                            with elements.tag("th", scope="row"):
                                elements.link(material.name, f"/material/{quote(material.slug)}")
                            table = wording.labels(own.instead_of)
                            for text in (materials.own_words(own), table, own.words):
                                elements.words(text, name="td")
                            with elements.tag("td"):
                                elements.button("Change", partial(self.edit, material), "small",
                                                label=f"Change your note on {material.name}")  # fmt: skip
                                elements.button("×", partial(self.remove, material), "plain sign",
                                                label=f"Remove your note on {material.name}")  # fmt: skip

    def remove(self, material: Material) -> None:
        """Remove a note; it can be brought back."""
        try:
            _, removed = self.session.workspace.nose.remove(material.name)
        except RecommenderError as error:  # another tab was quicker
            self.message.show(sentence(error))
        else:
            text = f"Your note on {material.name} is removed; the table counts again."
            self.message.show(text, partial(self.back, removed))
        self.show()
