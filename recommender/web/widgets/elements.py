"""Small elements that every view is made of, each with a name for a screen reader."""

from collections.abc import Callable, Iterable, Sequence
from html import escape
from typing import Any

from nicegui import ui
from nicegui.element import Element


def tag(name: str, classes: str = "", **props: object) -> Element:
    """Return a plain element to put others in; a prop `aria_label` becomes `aria-label`."""
    element = ui.element(name).classes(classes)
    for key, value in props.items():
        element.props[key.rstrip("_").replace("_", "-")] = value
    return element


def words(text: str, classes: str = "", name: str = "p") -> ui.html:
    """Return a piece of text, shown as it is, in an element of its own."""
    return ui.html(text, sanitize=escape, tag=name).classes(classes)


def say(element: ui.html, text: str) -> None:
    """Put other text into an element made by `words`, and hide it where there is none."""
    if element.content != text:
        element.set_content(text)
    element.set_visibility(bool(text))


class Message:
    """One line above a view, announced by a screen reader too, with a way back where there is one.

    It stays until the next message, and stays visible while the page is scrolled.
    """

    def __init__(self) -> None:
        self.back: Callable[[], Any] | None = None
        self.client = ui.context.client
        with tag("div", "message") as self.box:
            self.text = words("", name="span")
            self.text.props["role"] = "status"
            self.button = button("Undo", self._undo, "small")
        self.show("")

    def show(self, text: str, undo: Callable[[], Any] | None = None) -> None:
        """Show a line; `undo` takes back what was done, and its button gets the focus."""
        self.back = undo
        say(self.text, text)
        self.box.set_visibility(bool(text))
        self.button.set_visibility(undo is not None)
        if undo is not None:  # the button that was pressed may be gone with what it removed
            self.client.run_javascript(f"setTimeout(() => getHtmlElement({self.button.id})?.focus(), 50)")

    def _undo(self) -> Any:
        return self.back() if self.back is not None else None


def table_head(heads: Sequence[str]) -> None:
    """Add the heads of the columns of a table."""
    with tag("thead"), tag("tr"):
        for head in heads:
            words(head, name="th").props["scope"] = "col"


def plain_table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Add a table of words; the first cell of a row names it."""
    with tag("table", "plain-table"):
        table_head(heads)
        with tag("tbody"):
            for name, *cells in rows:
                with tag("tr"):
                    words(name, name="th").props["scope"] = "row"
                    for cell in cells:
                        words(cell, name="td")


def scrolled(name: str) -> Element:
    """Return a box that a narrow screen can move sideways, by the keyboard too."""
    return tag("div", "scroll", tabindex="0", role="region", aria_label=name)


def button(
    text: str, act: Callable[[], Any], classes: str = "", label: str = "", title: str = "", **props: object
) -> ui.html:
    """Return a button; `label` is its name for a screen reader where the text is a sign."""
    element = words(text, name="button").classes(f"button {classes}")
    element.props["type"] = "button"
    if label:
        element.props["aria-label"] = label
    if title or label:
        element.props["title"] = title or label
    for key, value in props.items():
        element.props[key.replace("_", "-")] = value
    element.on("click", lambda _: act())
    return element


def link(text: str, target: str, classes: str = "") -> ui.html:
    """Return a link inside the page."""
    element = words(text, name="a").classes(classes)
    element.props["href"] = target
    return element


def field(
    label: str,
    value: str = "",
    *,
    live: Callable[[str], Any] | None = None,
    done: Callable[[str], Any] | None = None,
    options: str = "",
    hint: str = "",
    classes: str = "",
    numeric: bool = False,
) -> ui.input:
    """Return a text field named by `label`; `live` is called while typing, `done` when it is left or chosen.

    `options` is the id of a list of words to choose from.
    """
    element = ui.input(value=value, placeholder=hint).props("dense borderless").classes(f"field {classes}")
    element.props["aria-label"] = label
    element.props["autocomplete"] = "off"
    element.props["spellcheck"] = "false"
    if options:
        element.props["list"] = options
    if numeric:
        element.props["inputmode"] = "decimal"
    if live is not None:
        element.props["debounce"] = "90"
        element.on_value_change(lambda event: live(event.value or ""))
    if done is not None:
        element.on("change", lambda event: done(str(event.args or "")))
    return element


def choice(label: str, options: dict[str, str], value: str, act: Callable[[str], Any]) -> Element:
    """Return a native list to choose from, value -> words."""
    with ui.element("select").classes("choice") as element:
        element.props["aria-label"] = label
        for key, text in options.items():
            option = words(text, name="option")
            option.props["value"] = key
            if key == value:
                option.props["selected"] = True
    element.on("change", lambda event: act(str(event.args)), js_handler="(e) => emit(e.target.value)")
    return element


def tick(label: str, value: bool, act: Callable[[bool], Any]) -> Element:
    """Return a box to tick, with its words."""
    with ui.element("label").classes("tick") as element:
        box = ui.element("input")
        box.props["type"] = "checkbox"
        if value:
            box.props["checked"] = True
        box.on("change", lambda event: act(bool(event.args)), js_handler="(e) => emit(e.target.checked)")
        words(label, name="span")
    return element
