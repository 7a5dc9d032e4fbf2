"""What the formula is about, in words; without words it is inferred from the lines."""

from collections.abc import Callable, Mapping, Sequence

from recommender.errors import RecommenderError
from recommender.notebook.drafts import THEME_FIELD
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence

THEME = "theme"
"""Class of the box of the field, by which a button elsewhere puts the cursor into it."""
HINT = "such as rose, hay"


class ThemeField:
    """One field below the lines, stored with the formula, and what is wrong with its words."""

    def __init__(self, fields: Mapping[str, str], set_field: Callable[[str, str], object]) -> None:
        with elements.tag("div", f"labelled {THEME}"):
            elements.words("theme", "label", "span")
            self.field = elements.field(
                "theme: what the formula is about",
                fields.get(THEME_FIELD, ""),
                done=lambda value: set_field(THEME_FIELD, value.strip()),
                options="smells",
                hint=HINT,
            )
        self.problem = elements.words("", "remark")
        self.problem.props["role"] = "status"

    def show(self, fields: Mapping[str, str], problem: RecommenderError | None) -> None:
        """Show the words as stored, and what is wrong with them."""
        if self.field.value != fields.get(THEME_FIELD, ""):
            self.field.value = fields.get(THEME_FIELD, "")
        elements.say(self.problem, "" if problem is None else sentence(problem))

    def infer(self, facets: Sequence[str]) -> None:
        """Show in the blank field what is inferred; without facets an example."""
        self.field.props["placeholder"] = ", ".join(facets) or HINT
