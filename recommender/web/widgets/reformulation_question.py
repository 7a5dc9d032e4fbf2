"""What a whole formula has to keep to, as a question to edit."""

from collections.abc import Callable, Mapping
from datetime import date
from functools import partial
from math import ceil

from recommender.errors import BadValue
from recommender.evidence.markets import ANY
from recommender.output.wording import join
from recommender.palette import Palette
from recommender.reformulation import Clash, ReformulationRequest, rules
from recommender.regulation import ProductUse
from recommender.suggest.stock import Shelf
from recommender.web.server.typed_lines import ParsedLines
from recommender.web.widgets import elements
from recommender.web.widgets.product_section import MARKET_WORDS, usable
from recommender.web.widgets.question import ANY_PRODUCT
from recommender.web.widgets.typed_form import TypedForm

ANSWERS = {"1": "the best answer", "3": "three answers", "5": "five answers", "8": "eight answers"}
CHANGE_PRODUCT = """() => {
  const field = document.querySelector('.product input[aria-label="dosage in per cent"]');
  field.scrollIntoView({block: 'center'});
  field.focus();
}"""


class ReformulationQuestion:
    """The fields of the question; the finished product and the theme are those of the formula."""

    def __init__(self, palette: Palette, ask: Callable[[], object]) -> None:
        self.palette = palette
        self.read: ParsedLines | None = None
        self.locked: tuple[str, ...] = ()
        self.use = ProductUse()
        self.share_percent: float | None = None
        self.form = form = TypedForm(ask)
        with elements.tag("div", "gap product-line"):
            self.product = elements.words("", name="span")
            change = elements.button(
                "Change", lambda: None, "small", label="Change dosage, category, market or day"
            )
            change.on("click", js_handler=CHANGE_PRODUCT)
        with elements.tag("div", "form"):
            self.without = form.names(
                "without", "without", lambda names: names.typed("a material", self._material, ask),
                aria="a material that may not be put in",
            )  # fmt: skip
            self.keep = form.names(
                "keep", "these lines stay", lambda names: names.listed({}, "choose a line"),
                aria="a line that stays as it is",
            )  # fmt: skip
            form.text("max_price", "price at most", hint="any", numeric=True, classes="short wide",
                      aria="price of a gram of the concentrate, at most",
                      unit="a gram of concentrate")  # fmt: skip
            form.tick("only_shelf", "from my shelf only")
            form.tick("no_label_allergens", "no label allergens")
            form.choice("product", "does well in", ANY_PRODUCT)
        with elements.tag("div", "form"):
            form.text("changes", "changes at most", hint="any number", numeric=True, classes="short wide",
                      aria="number of changes, at most")  # fmt: skip
            form.choice("top", "show", ANSWERS, "3", aria="how many answers")
            form.text("seconds", "search for", "30", numeric=True, classes="short",
                      aria="seconds of the search, at most", unit="seconds at most")  # fmt: skip
            elements.button("Find the least change", ask, "main")
        self.staying = elements.words("", "remark")
        form.end()

    def _material(self, text: str) -> tuple[str, str]:
        """Return a material by any of its names; raises `UnknownMaterial` or `WrongCas`."""
        found = self.palette.catalogue.find(text)
        return found.name, found.name

    def show(
        self, read: ParsedLines, locked: tuple[str, ...], palette: Palette, fields: Mapping[str, str]
    ) -> None:
        """Take over the lines of a formula, those of them that are locked, and its finished product."""
        self.read, self.palette = read, palette
        self.locked = tuple(number for number in locked if number in read.found)
        self.keep.offer({number: read.typed[number] for number in read.found if number not in self.locked})
        names = join(read.typed[number] for number in self.locked)
        elements.say(self.staying, f"Locked, so as it is: {names}." if names else "")
        self.use, self.share_percent = usable(fields)
        elements.say(self.product, product_words(self.use, self.share_percent))

    def relaxing(self, clash: Clash) -> Callable[[], object] | None:
        """Return what relaxes one of the constraints by as little as would do, None where no field does."""
        if clash.least is None:
            return None
        match clash.kind:
            case rules.CHANGES:
                return partial(self.form.put, "changes", f"{clash.least:g}")
            case rules.PRICE:
                return partial(self.form.put, "max_price", f"{ceil(1000 * clash.least) / 1000:g}")
            case rules.WITHOUT:
                return partial(self.without.off, clash.name)
            case rules.KEEP if self.read is not None:
                content = {number: line.content.name for number, line in self.read.found.items()}
                number = next((n for n in self.keep.chosen if content.get(n) == clash.name), None)
                return None if number is None else partial(self.keep.off, number)
        return None

    def request(self, shelf: Shelf) -> ReformulationRequest:
        """Return what is asked for; raises `BadValue` for the field."""
        form, values, use = self.form, self.form.values, self.use
        places = {number: place for place, number in enumerate(self.read.found if self.read else (), 1)}
        staying = [number for number in (*self.locked, *self.keep.chosen) if number in places]
        changes = form.number("changes", "it is a number of changes, such as 3")
        if changes is not None and changes != int(changes):
            raise BadValue("changes", values["changes"], "it is a whole number, such as 3")
        return ReformulationRequest(
            dosage_percent=use.dosage_percent,
            category=use.category,
            market=use.market,
            on=use.on,
            without=tuple(self.without.chosen) or None,
            max_price=form.number("max_price", "it is a price of a gram, such as 0.5"),
            only_shelf=values["only_shelf"],
            no_label_allergens=values["no_label_allergens"],
            product=values["product"] or None,
            keep=tuple(str(places[number]) for number in staying) or None,
            changes=None if changes is None else int(changes),
            share_percent=self.share_percent,
            top=int(values["top"]),
            seconds=form.number("seconds", "it is a number of seconds, such as 30") or 30.0,
            shelf=shelf if shelf.bottles else None,
        )


def product_words(use: ProductUse, share_percent: float | None) -> str:
    """Return in which finished product the formula has to be allowed."""
    if use.dosage_percent is None:
        return "No dosage is written in the finished product, so that limits and the label bound nothing."
    market = "all rules on record" if use.market == ANY else MARKET_WORDS[use.market]
    day = "today" if use.on == date.today().isoformat() else f"from {use.on}"
    share = "" if share_percent is None else f", {share_percent:g} % of the concentrate"
    text = f"In the finished product: {use.dosage_percent:g} % in category {use.category}{share}"
    return f"{text}, by {market}, sold {day}."
