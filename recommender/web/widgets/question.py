"""A question about a formula as one sentence to edit: its settings belong to it alone."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial

from recommender.errors import BadValue
from recommender.model import PRODUCTS
from recommender.suggest import Request
from recommender.web.widgets import elements

MODES = {
    "extend": "Keep a smell alive",
    "replace": "Stand in for a line",
    "vary": "Move it elsewhere",
    "pair": "Find companions",
}
UNTIL = {"": "a day or more", "8": "8 hours", "72": "3 days", "168": "a week", "504": "3 weeks"}
"""Hours; without one a day, or half as long again as the smell lasts already."""
INTO = {"": "heart or base", "heart": "the heart", "base": "the base"}
BECAUSE = {
    "": "for any reason",
    "stock": "because it is out of stock",
    "price": "because it is too expensive",
    "law": "because it is restricted or harmful",
    "smell": "because its smell is not right",
}
CARRIERS = {"": "one material", "relay": "a relay of two"}
BLENDS = {"": "one material", "2": "two together", "3": "three together"}
ANY_PRODUCT = {"": "any product"} | dict(PRODUCTS)
KINDS = {"": "any kind", "molecule": "molecules", "natural": "naturals", "base": "bases"}
HINTS = {
    "extend": "Choose a lane, or write a smell, to see what keeps it alive and at which dose.",
    "replace": "Choose a line, here or with ⇄ beside it, to see what can stand for it in this formula.",
    "vary": "Write where it should go, such as hazelnut, smoke or pear.",
    "pair": "Ask what goes well with it, or write a smell that a companion should have.",
}
TOP = 6


@dataclass
class Question:
    """One question and its settings, as typed; a new question starts with none.

    `facet` is the smell that is to stay, that counts above all in a stand-in, or that a companion should
    have; `gap` is the same where it was chosen as a gap. `brought` is a material that something is to stand
    for instead of a line, such as one that only naturals bring.
    """

    mode: str = "extend"
    facet: str = ""
    gap: str = ""
    until: str = ""
    into: str = ""
    relay: str = ""
    line: str = ""
    because: str = ""
    blend: str = ""
    toward: str = ""
    avoid: str = ""
    kind: str = ""
    max_price: str = ""
    why_not: str = ""
    only_shelf: bool = False
    no_label_allergens: bool = False
    product: str = ""
    colourless: bool = False
    available: bool = False
    filtered: bool = field(default=False, compare=False)
    brought: str = ""

    def request(self, base: Request) -> Request:
        """Return a request with the settings of the question.

        Raises
        ------
        BadValue
            The price is no number.
        """
        found = replace(
            base,
            top=TOP,
            avoid=self.avoid.strip() or None,
            kind=self.kind or None,
            max_price=_price(self.max_price),
            only_shelf=self.only_shelf,
            no_label_allergens=self.no_label_allergens,
            product=self.product or None,
            colourless=self.colourless,
            available=self.available,
        )
        facet = self.facet.strip() or None
        match self.mode:
            case "extend":
                into = None if self.relay else self.into or None
                return replace(
                    found,
                    facet=facet,
                    gap=self.gap if self.gap and self.gap == facet else None,
                    into=into,
                    until_hours=None if into or not self.until else float(self.until),
                    relay=bool(self.relay),
                    why_not=self.excluded,
                )
            case "vary":
                return replace(found, toward=self.toward.strip(), why_not=self.excluded)
            case "pair":
                return replace(found, facet=facet, why_not=self.excluded)
        return replace(
            found, facet=facet, because=self.because or None, blend=int(self.blend) if self.blend else None
        )

    @property
    def excluded(self) -> tuple[str, ...] | None:
        """The materials of which the person asks why they are missing."""
        return tuple(filter(None, (name.strip() for name in self.why_not.split(";")))) or None


def _price(typed: str) -> float | None:
    if not typed.strip():
        return None
    try:
        return float(typed.strip().replace(",", "."))
    except ValueError:
        raise BadValue("max_price", typed, "it is a price per gram, such as 0.5") from None


class QuestionForm:
    """The sentence of a question, with fields in it, and further filters below."""

    def __init__(self, ask: Callable[[], object]) -> None:
        self.ask = ask
        self.box = elements.tag("div", "form sentence")

    def show(self, question: Question, lines: Mapping[str, str]) -> None:
        """Show the fields of a question; `lines` are the lines that something can stand for."""
        self.question, self.lines = question, lines
        self.box.clear()
        with self.box:
            getattr(self, f"_{question.mode}")()
            elements.button("Ask", self.ask, "main")
            with elements.tag("details", "filters") as more:
                more.props.set_bool("open", question.filtered)
                elements.words("Filters", name="summary")
                self._filters()
            more.on(
                "toggle",
                lambda event: setattr(question, "filtered", bool(event.args)),
                js_handler="(e) => emit(e.target.open)",
            )

    def _extend(self) -> None:
        _say("What keeps")
        self._typed("smell", "facet", "what ends early", "smells")
        _say("alive until")
        self._chosen("until", "until", UNTIL)
        _say("in")
        self._chosen("into", "into", INTO)
        _say("by")
        self._last(lambda: self._chosen("by how many", "relay", CARRIERS))

    def _replace(self) -> None:
        if self.question.line not in self.lines:
            self.question.line = next(iter(self.lines), "")
        _say("What can stand for")
        self._chosen("line", "line", dict(self.lines) or {"": "no line yet"})
        _say("or for what naturals bring")
        self._typed("what naturals bring", "brought", "such as coumarin", "names")
        _say("by")
        self._chosen("by how many", "blend", BLENDS)
        self._chosen("because", "because", BECAUSE)
        _say("above all for its")
        self._last(lambda: self._typed("above all its", "facet", "whole smell", "smells"))

    def _vary(self) -> None:
        _say("What moves it toward")
        self._last(lambda: self._typed("toward", "toward", "such as hazelnut", "smells"))

    def _pair(self) -> None:
        _say("What goes well with it, and smells of")
        self._last(lambda: self._typed("that smells of", "facet", "anything", "smells"))

    def _filters(self) -> None:
        with elements.tag("div", "filter-fields"):
            _say("without")
            self._typed("without", "avoid", "such as hay", "smells")
            self._chosen("kind", "kind", KINDS)
            _say("at most")
            self._typed("price of a gram at most", "max_price", "such as 0.5", numeric=True)
            _say("a gram")
            elements.tick("from my shelf only", self.question.only_shelf, self._set("only_shelf"))
            elements.tick(
                "no label allergens", self.question.no_label_allergens, self._set("no_label_allergens")
            )
            _say("for")
            self._chosen("for", "product", ANY_PRODUCT)
            elements.tick("colourless", self.question.colourless, self._set("colourless"))
            elements.tick("can be bought", self.question.available, self._set("available"))
            _say("Why not")
            self._last(lambda: self._typed("why not", "why_not", "such as coumarin", "names"))

    def _last(self, field: Callable[[], object]) -> None:
        """Show the last field with its question mark."""
        with elements.tag("span", "last"):
            field()
            _say("?")

    def _typed(self, label: str, name: str, hint: str, options: str = "", numeric: bool = False) -> None:
        value = str(getattr(self.question, name))
        cell = elements.field(
            label, value, live=self._set(name), options=options, hint=hint, classes="inline", numeric=numeric
        )
        cell.on("keydown.enter", lambda _: self.ask())

    def _chosen(self, label: str, name: str, options: Mapping[str, str]) -> None:
        elements.choice(label, dict(options), str(getattr(self.question, name)), self._set(name))

    def _set(self, name: str) -> Callable[[object], None]:
        return partial(setattr, self.question, name)


def _say(text: str) -> None:
    elements.words(text, name="span")
