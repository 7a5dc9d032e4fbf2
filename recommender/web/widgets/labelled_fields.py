"""Fields of a section, each with its words before it and what is wrong with it beside it."""

from collections.abc import Callable, Mapping
from functools import partial

from nicegui import ui

from recommender.errors import BadValue, RecommenderError
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence

PLACES: Mapping[str, str] = {
    "dosage_percent": "dosage",
    "share_percent": "share",
    "batch_g": "batch",
    "resolution_g": "digit",
    "finished_g": "finished",
    "within_percent": "within",
    "finished_share_percent": "finished-share",
}
"""Field of a request -> the field of the page in which it is typed, where the two differ."""


class Problem(str):
    """What is wrong, as a sentence; `field` is the field of the page that it is about, blank for none."""

    field: str = ""

    @classmethod
    def of(cls, error: RecommenderError, field: str = "") -> "Problem":
        """Return an error in the words of the page, at a field or at the one that it names."""
        found = cls(sentence(error))
        named = error.field if isinstance(error, BadValue) else ""
        found.field = field or PLACES.get(named, named)
        return found


class LabelledFields:
    """The fields of one section: stored by `set_field` as they are typed, or when they are left."""

    def __init__(self, fields: Mapping[str, str], set_field: Callable[[str, str], object]) -> None:
        self.values = dict(fields)
        self.store = set_field
        self.inputs: dict[str, ui.input] = {}
        self.wrong: dict[str, ui.html] = {}

    def set(self, name: str, value: str) -> None:
        """Store what was typed or chosen."""
        self.values[name] = value
        self.store(name, value)

    def text(
        self,
        name: str,
        label: str,
        before: str = "",
        after: str = "",
        *,
        usual: str = "",
        hint: str = "",
        classes: str = "short",
        numeric: bool = True,
        options: str = "",
        on_leaving: bool = False,
    ) -> None:
        """Add a field with words before and after it; `usual` is its value where none is stored."""
        with elements.tag("div", "labelled"):
            if before:
                elements.words(before, "label", "span")
            changed = partial(self.set, name)
            self.inputs[name] = elements.field(
                label,
                self.values.get(name, "") or usual,
                live=None if on_leaving else changed,
                done=changed if on_leaving else None,
                options=options,
                hint=hint,
                classes=classes,
                numeric=numeric,
            )
            if after:
                elements.words(after, "label", "span")
            self.wrong[name] = elements.words("", "wrong", "span")
            self.wrong[name].props["id"] = f"wrong-{name}-{self.wrong[name].id}"
            elements.say(self.wrong[name], "")

    def tick(self, name: str, label: str) -> None:
        """Add a box to tick."""
        elements.tick(label, bool(self.values.get(name)), lambda on: self.set(name, "yes" if on else ""))

    def show(self, problem: str | None) -> bool:
        """Show what is wrong beside its field; returns whether it has one here."""
        place = getattr(problem, "field", "")
        for name, line in self.wrong.items():
            elements.say(line, problem or "" if name == place else "")
            cell = self.inputs[name]
            if bool(cell.props.get("aria-invalid")) != (name == place):
                cell.props.set_bool("aria-invalid", name == place)
                cell.props.set_optional("aria-describedby", str(line.props["id"]) if name == place else None)
        return place in self.wrong
