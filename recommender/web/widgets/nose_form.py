"""What a material smells of to the person, to be written or changed."""

from collections.abc import Callable

from recommender.errors import RecommenderError
from recommender.model import Material
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.typed_form import TypedForm

STRENGTHS = {"": "as the table has it", "much weaker": "much weaker", "weaker": "weaker",
             "stronger": "stronger", "much stronger": "much stronger"}  # fmt: skip


class NoseForm:
    """The fields of a note; without a material its name is asked for too."""

    def __init__(
        self, session: PageSession, material: Material | None, stored: Callable[[Material], object]
    ) -> None:
        self.session, self.material, self.stored = session, material, stored
        own = material.own if material else None
        smells = ", ".join(f"{x.facet} {x.strength}" for x in own.labels) if own else ""
        form = self.form = TypedForm(self.save)
        with elements.tag("div", "form stacked"):
            if material is None:
                form.text("material", "material", hint="name or CAS number", options="names", classes="long")
            form.text("smells", "it smells of", smells, "such as bitter almond 3, hay 1", classes="long")
            form.text("like", "it smells like", "", "such as 2 vanillin, 1 coumarin", classes="long")
            denied = ", ".join(own.denied) if own else ""
            form.text("denied", "and not of", denied, "such as violet", classes="long")
            words = own.words if own else ""
            form.text("words", "in your words", words, "such as an old book", classes="long")
            form.choice("strength", "it is", STRENGTHS, own.strength if own else "",
                        aria="how strong it is to you")  # fmt: skip
            form.tick("also", "added to the table's smells, not in their place", bool(own and own.adds))
            form.tick("blind", "I cannot smell it", bool(own and own.blind))
        form.end()

    def save(self) -> None:
        """Store the note as typed."""
        values = dict(self.form.values)
        self.form.fine()
        values["also"] = values["also"] and bool(values["smells"] or values["like"])
        try:
            material = self.session.workspace.material(values.pop("material", self.material))
            self.session.workspace.nose.add(material, **values)
        except RecommenderError as error:
            self.form.complain(error)
            return
        self.stored(material)
