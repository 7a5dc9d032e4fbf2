"""The first visit: a lively example with three hints, and beside them how to start one's own."""

from nicegui import ui

from recommender.notebook.drafts import Draft
from recommender.web.server import open_formulas
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.formula_picker import formula_choices

EXAMPLE = "bell_flower"
"""The demo formula with the clearest gap: its theme, rose, is gone by 18 h, while woods and musk stay."""
FIELD = "hints"
"""The field of a formula in which is stored that the hints are shown."""
TITLE = "Which smell of your formula dies when, and what keeps it alive?"
HINTS = (
    "Each smell is drawn over time. Here the rose, which the formula is about, is gone within a day, and the "
    "rest still smells.",
    "Choose the rose, and see which materials would keep it alive, each at a dose to try.",
    "Change an amount, or take one of them: the picture follows at once. Everything can be undone.",
)


def first_example(session: PageSession) -> Draft:
    """Return the example with its hints: the one on the page, else a new one."""
    return session.set_field(session.open_example(session.demo[EXAMPLE]), FIELD, "shown")


def hints(session: PageSession, draft: Draft) -> None:
    """Show the hints above a formula where they were not dismissed yet."""
    if not draft.fields.get(FIELD):
        return
    with elements.tag("section", "first-visit", aria_labelledby="first-head") as box:
        with elements.tag("div"):
            elements.words(TITLE, name="h2").props["id"] = "first-head"
            with elements.tag("ol"):
                for hint in HINTS:
                    elements.words(hint, name="li")

            def dismiss() -> None:
                session.set_field(session.get(draft.id), FIELD, "")
                box.delete()

            elements.button("I have seen this", dismiss, "small", label="Close the hints")

            def start() -> None:
                ui.navigate.to(open_formulas.address(session.open_empty()))

        with elements.tag("div", "start-own"):
            elements.words("Or begin with yours", name="h2")
            elements.button("Start my own", start, "main")
            with elements.tag("details"):
                elements.words("Open a file, or another example", name="summary")
                formula_choices(session)
