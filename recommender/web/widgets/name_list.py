"""Several names, typed or chosen: each one that was added stands beside, with a button that takes it off."""

from collections.abc import Callable, Mapping
from functools import partial

from nicegui.element import Element

from recommender.errors import RecommenderError
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence

Checked = Callable[[str], tuple[str, str]]
"""Returns the key and the words of what was typed; raises `RecommenderError` where it is nothing known."""


class NameList:
    """Names that were added, key -> words, in the order of adding; `say` shows what is wrong beside it."""

    def __init__(self, label: str, say: Callable[[str], object]) -> None:
        self.label, self.say = label, say
        self.chosen: dict[str, str] = {}
        self.options: dict[str, str] = {}
        self.select: Element | None = None

    def typed(self, hint: str, check: Checked, enter: Callable[[], object]) -> Element:
        """Add a field to type a name in; Enter in it adds the name, without one it does `enter`."""

        def add(text: str) -> None:
            if not text.strip():
                return
            try:
                self.add(*check(text.strip()))
            except RecommenderError as error:
                self.say(sentence(error))
            else:
                field.value = ""

        field = elements.field(self.label, done=add, hint=hint, options="names")
        field.on(
            "keydown.enter",
            lambda event: add(str(event.args)) if str(event.args).strip() else enter(),
            js_handler="(e) => emit(e.target.value)",
        )
        self._list()
        return field

    def listed(self, options: Mapping[str, str], hint: str) -> Element:
        """Add a list to choose from, key -> words, with a first entry that is none."""
        self.hint, self.options = hint, {}
        self.select = elements.tag("select", "choice", aria_label=self.label)
        self.select.on(
            "change",
            lambda event: self.add(str(event.args), self.options.get(str(event.args), "")),
            js_handler="(e) => { emit(e.target.value); e.target.value = ''; }",
        )
        self._list()
        self.offer(options)
        return self.select

    def offer(self, options: Mapping[str, str]) -> None:
        """Change what can be chosen; what is not there any more is taken off."""
        assert self.select is not None
        if options == self.options:
            return
        self.options = dict(options)
        self.select.clear()
        with self.select:
            for key, words in {"": self.hint, **options}.items():
                elements.words(words, name="option").props["value"] = key
        self.chosen = {key: options[key] for key in self.chosen if key in options}
        self._draw()

    def add(self, key: str, words: str) -> None:
        """Add a name; one that is there stays as it is."""
        self.say("")
        if key and key not in self.chosen:
            self.chosen[key] = words
            self._draw()

    def off(self, key: str) -> None:
        """Take a name off."""
        self.chosen.pop(key, None)
        self._draw()

    def _list(self) -> None:
        self.box = elements.tag("ul", "names", aria_label=f"{self.label}: added")
        self.box.set_visibility(False)

    def _draw(self) -> None:
        self.box.clear()
        self.box.set_visibility(bool(self.chosen))
        with self.box:
            for key, words in self.chosen.items():
                with elements.tag("li"):
                    elements.words(words, name="span")
                    label = f"{self.label}: take {words} off the list"
                    elements.button("×", partial(self.off, key), "sign small", label=label)
