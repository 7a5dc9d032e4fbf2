"""Labelled fields of one question or entry, each with a place for what is wrong with it beside it."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from nicegui import ui
from nicegui.element import Element

from recommender import units
from recommender.errors import BadValue, RecommenderError, UnknownFacet, UnknownMaterial, WrongCas
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.name_list import NameList


class TypedForm:
    """The fields of a form by name; Enter in any of them does `act`.

    Attributes
    ----------
    values : dict of str -> Any
        What is typed (text, without blanks around it), chosen (text) or ticked (bool).
    """

    def __init__(self, act: Callable[[], Any]) -> None:
        self.act = act
        self.values: dict[str, Any] = {}
        self.fields: dict[str, Element] = {}
        self.labels: dict[str, str] = {}
        self._wrong: dict[str, ui.html] = {}
        self._last: ui.html | None = None

    @contextmanager
    def _place(self, name: str, label: str, classes: str = "") -> Iterator[None]:
        self.labels[name] = label.rstrip(",")
        with elements.tag("div", "asked"):
            with elements.tag("div", f"labelled {classes}"):
                elements.words(label, "label", "span")
                yield
            self._wrong[name] = _alert(f"wrong-{id(self)}-{name}")

    def text(
        self, name: str, label: str, value: str = "", hint: str = "", options: str = "", *,
        aria: str = "", classes: str = "", numeric: bool = False, unit: str = "",
    ) -> None:  # fmt: skip
        """Add a field to type in; `hint` is an example and says so, `unit` stands behind it."""
        self.values[name] = value
        with self._place(name, label):
            field = elements.field(
                aria or label,
                value,
                live=lambda typed: self._take(name, typed.strip()),
                done=lambda typed: self._take(name, typed.strip()),  # before a click that follows at once
                hint=hint,
                options=options,
                classes=classes,
                numeric=numeric,
            )
            field.on(
                "keydown.enter",
                lambda event: self._entered(name, str(event.args)),
                js_handler="(e) => emit(e.target.value)",
            )
            if unit:
                elements.words(unit, "label", "span")
        self.fields[name] = field

    def choice(
        self, name: str, label: str, options: Mapping[str, str], value: str = "", aria: str = ""
    ) -> None:
        """Add a list to choose from, value -> words."""
        self.values[name] = value
        with self._place(name, label):
            chosen = elements.choice(aria or label, dict(options), value, lambda got: self._take(name, got))
        self.fields[name] = chosen

    def tick(self, name: str, label: str, value: bool = False) -> None:
        """Add a box to tick."""
        self.values[name] = value
        with elements.tag("div", "asked"):
            self.fields[name] = elements.tick(label, value, lambda on: self._take(name, on))
            self._wrong[name] = _alert(f"wrong-{id(self)}-{name}")

    def names(self, name: str, label: str, add: Callable[[NameList], Element], aria: str = "") -> NameList:
        """Add a field for several names; `add` makes it, to type in or to choose from."""
        with self._place(name, label):
            found = NameList(aria or label, lambda text: elements.say(self._wrong[name], text))
            self.fields[name] = add(found)
        return found

    def end(self) -> None:
        """Add the place for what is wrong with no field alone; call it after the fields."""
        self._last = _alert(f"wrong-{id(self)}")

    def _entered(self, name: str, typed: str) -> Any:
        self._take(name, typed.strip())
        return self.act()

    def _take(self, name: str, value: Any) -> None:
        self.values[name] = value
        elements.say(self._wrong[name], "")

    def clear(self) -> None:
        """Empty the fields that are typed in."""
        for name, field in self.fields.items():
            if isinstance(field, ui.input):
                field.value = self.values[name] = ""

    def put(self, name: str, text: str) -> None:
        """Put another text into a field."""
        self.values[name] = text
        field = self.fields[name]
        if isinstance(field, ui.input):
            field.value = text

    def fine(self) -> None:
        """Take away what was wrong."""
        for line in (*self._wrong.values(), self._last):
            if line is not None:
                elements.say(line, "")

    def say(self, name: str, text: str) -> None:
        """Say something beside a field, and put the cursor there."""
        elements.say(self._wrong[name], text)
        field = self.fields[name]
        if isinstance(field, ui.input):
            field.props["aria-describedby"] = self._wrong[name].props["id"]
            field.run_method("focus")

    def complain(self, error: RecommenderError) -> None:
        """Say what is wrong beside the field that has it, below all fields where none has."""
        self.fine()
        name = self._named(error)
        if name is not None:
            if isinstance(error, BadValue):  # in the words of the label, whatever other views call it
                error = BadValue(self.labels.get(name, name), error.value, error.wanted)
            self.say(name, sentence(error))
        elif self._last is not None:
            elements.say(self._last, sentence(error))

    def _named(self, error: RecommenderError) -> str | None:
        match error:
            case BadValue(field=field) if field in self.fields:
                return field
            case UnknownFacet(phrase=words) | UnknownMaterial(name=words) | WrongCas(cas=words):
                texts = {name: v for name, v in self.values.items() if isinstance(v, str) and v}
                return next((name for name, text in texts.items() if words in text), None)
        return None

    def number(self, name: str, wanted: str = "it is a number, such as 0.5") -> float | None:
        """Return what is typed in a field as a number, None where it is blank; raises `BadValue`."""
        typed = self.values[name]
        if not typed:
            return None
        try:
            return float(typed.replace(",", "."))
        except ValueError:
            raise BadValue(name, typed, wanted) from None

    def read(self, name: str, reader: Callable[[str], float]) -> float | None:
        """Return a field read by a parser of `units`, None where it is blank; raises `BadValue` for it."""
        typed = self.values[name]
        if not typed:
            return None
        try:
            return reader(typed)
        except BadValue as error:
            raise BadValue(name, typed, error.wanted) from None

    def percent(self, name: str) -> float | None:
        """Return a field as per cent, None where it is blank; raises `BadValue`."""
        return self.read(name, units.percent_of)


def _alert(number: str) -> ui.html:
    line = elements.words("", "wrong")
    line.props["role"] = "alert"
    line.props["id"] = number
    line.set_visibility(False)
    return line
