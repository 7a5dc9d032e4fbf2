"""I have weighed it: what a weighing takes out of which bottle of the shelf, with the way back."""

from collections.abc import Callable
from functools import partial

from recommender.errors import RecommenderError
from recommender.model import Bottle
from recommender.notebook.shelf_changes import ShelfChange
from recommender.output import weighing
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.weighing.plan import WeighingSheet
from recommender.weighing.withdrawals import Withdrawal, withdrawals
from recommender.workspace import Workspace

HEADS = ("material", "weighed", "from", "left after")
NO_BOTTLE = "from no bottle"
MOST_EARLIER = 5
EMPTY = (
    "No bottle on your shelf has a known amount of what is weighed here: there is nothing to take off. "
    "Write amounts on the page of the shelf first."
)


class StockSection:
    """What is taken out of the bottles, opened by a button and closed once it was done."""

    def __init__(self, workspace: Workspace, say: Callable[..., object]) -> None:
        self.workspace, self.say = workspace, say
        self.sheet: WeighingSheet | None = None
        self.rows: tuple[Withdrawal, ...] = ()
        self.chosen: dict[str, int] = {}
        self.top_up: bool | None = None
        self.finished = False
        self.is_open = False
        self.opener = elements.button("I have weighed it…", self._toggle, "main", aria_expanded="false")
        self.box = elements.tag("section", "stock", aria_label="Take it off the shelf")
        self.earlier = elements.tag("div")

    def show(self, sheet: WeighingSheet | None, finished: bool) -> None:
        """Show what a sheet takes; `finished` is whether an amount of finished product was asked for."""
        self.sheet, self.finished = sheet, finished
        self.opener.set_visibility(sheet is not None)
        if sheet is None:
            self.is_open = False
        self._draw()

    def _toggle(self) -> None:
        self.is_open = not self.is_open
        self._draw()

    def _draw(self) -> None:
        self.opener.props["aria-expanded"] = "true" if self.is_open else "false"
        self.box.clear()
        self.box.set_visibility(self.is_open)
        self._draw_earlier()
        sheet = self.sheet
        if not self.is_open or sheet is None:
            return
        top_up = self.finished if self.top_up is None else self.top_up
        found = withdrawals(sheet, self.workspace.shelf.stock().by_material, top_up)
        self.rows = tuple(
            one.from_bottle(self.chosen[one.key]) if one.key in self.chosen else one for one in found
        )
        with self.box:
            elements.words("Take it off the shelf", name="h3")
            if sheet.top_up_g and sheet.carrier is not None:
                label = f"the finished product was topped up with {sheet.carrier.name} too"
                elements.tick(label, top_up, self._set_top_up)
            if not any(one.bottles for one in self.rows):
                elements.words(EMPTY, "remark")
                elements.button("Close", self._toggle, "small")
                return
            with (
                elements.scrolled("What is taken from which bottle"),
                elements.tag("table", "plain-table stock-table"),
            ):
                elements.table_head(HEADS)
                with elements.tag("tbody"):
                    for one in self.rows:
                        self._row(one)
            with elements.tag("div", "form"):
                count = len({one.bottle.number for one in self.rows if one.bottle is not None})
                if count:
                    text = f"Take it out of {'one bottle' if count == 1 else f'{count} bottles'}"
                    elements.button(text, self._take, "main")
                elements.button("Cancel", self._toggle, "small")

    def _row(self, one: Withdrawal) -> None:
        with elements.tag("tr"):
            name = weighing.called_at(one)
            elements.words(name, name="th").props["scope"] = "row"
            elements.words(f"{one.grams:.6g} g", name="td")
            with elements.tag("td"):
                if one.bottles:
                    options = {str(bottle.number): _bottle_words(bottle) for bottle in one.bottles}
                    options |= {"0": NO_BOTTLE}
                    value = "0" if one.bottle is None else str(one.bottle.number)
                    choose = partial(self._choose, one.key)
                    elements.choice(f"bottle for {name}", options, value, choose)
                else:
                    elements.words("none with a known amount", "quiet", "span")
            left = ""
            if one.bottle is not None:
                amount = one.bottle.amount_g or 0.0
                left = f"{max(amount - one.taken_g, 0.0):.6g} g"
                if one.short_g > 1e-9:
                    left = f"0 g: {one.short_g:.3g} g less in it than was weighed"
            elements.words(left, "warn" if one.short_g > 1e-9 else "", "td")

    def _set_top_up(self, on: bool) -> None:
        self.top_up = on
        self._draw()

    def _choose(self, key: str, number: str) -> None:
        self.chosen[key] = int(number)
        self._draw()

    def _take(self) -> None:
        if self.sheet is None or not self.is_open:  # pressed twice
            return
        try:
            change, _ = self.workspace.shelf.weighed(self.sheet, taken=self.rows)
        except RecommenderError as error:
            self.say(sentence(error))
            return
        self.is_open, self.chosen, self.top_up = False, {}, None
        self._draw()
        if change is None:
            self.say(EMPTY)
            return
        text = f"{self.sheet.batch_g:.6g} g of {change.name} weighed: taken out of {_count(change)}."
        self.say(text, undo=partial(self._undo, change.number))

    def _undo(self, number: int) -> None:
        try:
            change, _ = self.workspace.shelf.undo(number)
        except RecommenderError as error:
            self.say(sentence(error))
            return
        self.say(f"Put back into {_count(change)}: every amount is as it was before.")
        self._draw()

    def _draw_earlier(self) -> None:
        """List the last weighings of this formula, each with its way back."""
        self.earlier.clear()
        if self.sheet is None:
            return
        name = self.sheet.formula.name
        done = [one for one in self.workspace.shelf.changes() if (one.kind, one.name) == ("weighed", name)]
        if not done:
            return
        with self.earlier, elements.tag("details"):
            elements.words(f"Weighed before: {len(done)}", name="summary")
            with elements.tag("ul", "earlier"):
                for one in done[:MOST_EARLIER]:
                    with elements.tag("li", "gap"):
                        mass = "" if one.batch_g is None else f"{one.batch_g:.6g} g, "
                        made = one.made.replace("T", " ")
                        elements.words(f"{mass}{made} UTC, from {_count(one)}", "remark", "span")
                        label = f"Put back what was weighed on {made}"
                        elements.button("Put it back", partial(self._undo, one.number), "small", label=label)


def _count(change: ShelfChange) -> str:
    count = len(change.bottles)
    return "one bottle" if count == 1 else f"{count} bottles"


def _bottle_words(bottle: Bottle) -> str:
    at = "neat" if bottle.dilution_percent == 100 else f"{bottle.dilution_percent:g} %"
    opened = f", opened {bottle.opened}" if bottle.opened else ""
    return f"{bottle.label}, {at}, {bottle.amount_g:.6g} g{opened}"
