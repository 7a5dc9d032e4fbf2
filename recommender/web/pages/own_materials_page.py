"""The person's own materials: listed, added, changed, removed, read from a sheet."""

from functools import partial
from urllib.parse import quote

from recommender.errors import RecommenderError
from recommender.evidence.overlay import OwnMaterial
from recommender.notebook.own_materials import CLASSES, KINDS
from recommender.output import wording
from recommender.web.server.session import PageSession
from recommender.web.server.uploads import read_sheet
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.formula_view import without_commands
from recommender.web.widgets.removed_list import bringing_back, removed_list
from recommender.web.widgets.sub_menu import sub_menu
from recommender.web.widgets.typed_form import TypedForm
from recommender.web.widgets.upload_button import SHEETS, read_or_say, upload_button

EMPTY = "You have added no material yet. What the program does not know can be added here by its smell."
COLUMNS = (
    "A sheet has the columns name and smells, and where known cas, smiles, kind, strength, pressure (Pa), "
    "molar_mass and note. Nothing is stored before you have seen it."
)
BASES = {"user": "yours"}
STRENGTHS = {"": "not known"} | {name: name for name in CLASSES}


class OwnMaterialsPage:
    """One tab that shows the person's own materials."""

    def __init__(self, session: PageSession) -> None:
        self.session = session
        sub_menu("Materials", "My own")
        elements.words("Your own materials", name="h1")
        self.message = elements.Message()
        self.back = bringing_back(session, self.message, lambda found: f"{found.name} is back.", self.show)
        self.editor = elements.tag("section", "own-note", aria_labelledby="own-head")
        self.preview = elements.tag("div", role="status")
        self.list = elements.tag(
            "div", "scroll tall", tabindex="0", role="region", aria_label="Own materials"
        )
        self.removed = elements.tag("div")
        self.edit(None)
        self.show()

    def edit(self, own: OwnMaterial | None) -> None:
        """Show the fields, filled with a material that is to be changed."""
        self.editor.clear()
        with self.editor:
            title = f"Change {own.name}" if own else "Add a material"
            elements.words(title, name="h2").props["id"] = "own-head"
            form = self.form = TypedForm(self.add)
            with elements.tag("div", "form"):
                form.text("name", "name", own.name if own else "", "such as rose lactone X")
                smells = ", ".join(f"{x.facet} {x.strength}" for x in own.labels) if own else ""
                form.text("smells", "it smells of", smells, "such as rose 3, honey 1")
                form.choice("kind", "kind", {kind: kind for kind in KINDS}, own.kind if own else KINDS[0])
                known = own.strength if own and own.strength_basis == "user" else ""
                form.choice("strength", "strength", STRENGTHS, known, "how strong it smells")
                form.text("cas", "CAS", own.cas if own else "", "such as 91-64-5", classes="short wide")
                form.text("smiles", "structure", own.smiles if own else "", "as SMILES")
                given = own and own.pressure_basis == "user" and own.pressure_pa
                form.text("pressure_pa", "vapour pressure", f"{given:g}" if given else "", "estimated",
                          numeric=True, classes="short wide", unit="Pa at 25 C")  # fmt: skip
                mass = f"{own.molar_mass:g}" if own and own.molar_mass else ""
                form.text("molar_mass", "molar mass", mass, "from the structure", numeric=True,
                          classes="short wide", unit="g/mol")  # fmt: skip
                form.text("note", "in your words", own.note if own else "", "such as from Anna")
            form.end()
            with elements.tag("div", "own-acts"):
                elements.button("Save the change" if own else "Add it", self.add, "main")
                if own:
                    elements.button("Leave it as it was", lambda: self.edit(None), "small")
                else:
                    upload_button("Read a sheet…", SHEETS, self.uploaded, self.message.show)
            elements.words(COLUMNS, "remark")

    def add(self) -> None:
        """Store what is typed."""
        self.form.fine()
        try:
            own, notes = self.session.workspace.own_materials.add(**self.form.values)
        except RecommenderError as error:
            self.form.complain(error)
            return
        remarks = " ".join(map(without_commands, notes))
        self.message.show(f"{own.name} is among your materials. {remarks}".strip())
        self.edit(None)
        self.show()

    async def uploaded(self, name: str, content: bytes) -> None:
        """Show what is in a sheet; it is added by a button."""
        sheet = await read_or_say(read_sheet(self.session, "materials", name, content), self.message)
        if sheet is None:
            return
        found, unused = sheet
        self.preview.clear()
        with self.preview:
            elements.words(f"{name}: {len(found)} materials, not stored yet", name="h2")
            rows = [
                (own.name, wording.labels(own.labels), own.strength, " ".join(notes)) for own, notes in found
            ]
            elements.plain_table(("name", "smells of", "strength", "estimated or unknown"), rows)
            for note in unused:
                elements.words(note, "remark")
            with elements.tag("div", "own-acts"):
                elements.button("Add them all", partial(self.take, [own for own, _ in found]), "main")
                elements.button("Add none", self.preview.clear, "small")

    def take(self, found: list[OwnMaterial]) -> None:
        """Store all materials of a sheet."""
        self.session.workspace.own_materials.add_all(found)
        self.preview.clear()
        self.message.show(f"{len(found)} materials are among yours.")
        self.show()

    def show(self) -> None:
        """List the materials."""
        here = self.session.workspace
        own = here.overlay[0].materials
        self.removed.clear()
        with self.removed:
            removed_list(here.removed.entries("material"), here.palette.catalogue, self.back)
        self.list.clear()
        with self.list:
            if not own:
                elements.words(EMPTY, "empty")
                return
            with elements.tag("table", "plain-table"):
                elements.table_head(
                    ("name", "smells of", "strength", "vapour pressure", "note", "what to do")
                )
                with elements.tag("tbody"):
                    for one in own:
                        with elements.tag("tr"):
                            with elements.tag("th", scope="row"):
                                elements.link(one.name, f"/material/{quote(one.slug)}")
                            pressure = f"{one.pressure_pa:.3g} Pa" if one.pressure_pa else "unknown"
                            for text in (
                                wording.labels(one.labels),
                                _with_basis(one.strength, one.strength_basis),
                                _with_basis(pressure, one.pressure_basis),
                                one.note,
                            ):
                                elements.words(text, name="td")
                            with elements.tag("td"):
                                elements.button("Change", partial(self.edit, one), "small",
                                                label=f"Change {one.name}")  # fmt: skip
                                elements.button("×", partial(self.remove, one.name), "plain sign",
                                                label=f"Remove {one.name}")  # fmt: skip

    def remove(self, name: str) -> None:
        """Remove a material; it can be brought back."""
        try:
            found, removed = self.session.workspace.own_materials.remove(name)
        except RecommenderError as error:  # another tab was quicker
            self.message.show(sentence(error))
        else:
            self.message.show(f"{found.name} is removed.", partial(self.back, removed))
        self.show()


def _with_basis(text: str, basis: str) -> str:
    return f"{text} ({BASES.get(basis, basis)})" if basis else text
