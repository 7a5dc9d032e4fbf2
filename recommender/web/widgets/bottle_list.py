"""The bottles on the shelf: searched, ordered, each changed in its place."""

from collections.abc import Callable
from functools import partial
from urllib.parse import quote

from nicegui import ui
from nicegui.element import Element

from recommender.errors import BadValue, ChangedMeanwhile, RecommenderError
from recommender.evidence.names import plain
from recommender.model import Bottle, Material
from recommender.suggest.stock import Shelf
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.workspace import Workspace

HEADS = ("label", "material", "dilution", "g left", "price a gram neat", "opened", "caution", "what to do")
ORDERS = {
    "low": "what runs low first",
    "label": "by label",
    "opened": "open for longest first",
    "price": "dearest first",
}
CELLS = {
    "amount_g": ("grams left", True),
    "price_per_g": ("price of a gram of the contents", True),
    "opened": ("opened", False),
    "dilution_percent": ("dilution, %", True),
    "solvent": ("solvent", False),
    "lot": ("lot", False),
    "note": ("note", False),
}
"""What can be changed of a bottle -> its words, and whether it is a number."""
EMPTY = (
    "The shelf is empty. Put a bottle there above, or read the spreadsheet that you have: "
    "then suggestions can be limited to what you own, and prices are known."
)


class BottleList:
    """The list of bottles.

    `resolve` sets the material of a label, `off` takes a bottle away; `changed` is called with the number
    of a change that was stored.
    """

    def __init__(
        self,
        workspace: Workspace,
        say: Callable[..., object],
        resolve: Callable[[str, str], object],
        off: Callable[[int, str], object],
        changed: Callable[[int], object],
    ) -> None:
        self.workspace, self.say = workspace, say
        self.resolve, self.off, self.changed = resolve, off, changed
        self.order, self.words = "low", ""
        self.rows: list[BottleRow] = []
        with elements.tag("div", "form") as self.tools:
            with elements.tag("div", "labelled"):
                elements.words("find", "label", "span")
                elements.field("find a bottle by label, material, CAS number, lot or note", live=self._find)
            with elements.tag("div", "labelled"):
                elements.words("order", "label", "span")
                elements.choice("order of the bottles", ORDERS, self.order, self._sort)
            self.count = elements.words("", "quiet", "span")
            self.count.props["role"] = "status"
        self.box = elements.tag("div", "scroll bottles", tabindex="0", role="region", aria_label="Bottles")

    def _find(self, words: str) -> None:
        self.words = words
        self._filter()

    def _sort(self, order: str) -> None:
        self.order = order
        self.show()

    def show(self) -> None:
        """List the bottles as they are now."""
        shelf, catalogue = self.workspace.shelf.stock(), self.workspace.palette.catalogue
        self.rows = []
        self.box.clear()
        self.tools.set_visibility(bool(shelf.bottles))
        with self.box:
            if not shelf.bottles:
                elements.words(EMPTY, "empty")
                return
            with elements.tag("table", "plain-table bottle-table"):
                elements.table_head(HEADS)
                with elements.tag("tbody"):
                    for bottle in sorted(shelf.bottles, key=_ORDERING[self.order]):
                        at = catalogue.index.get(bottle.material)
                        material = catalogue.materials[at] if at is not None else None
                        self.rows.append(BottleRow(self, bottle, material, shelf))
        self._filter()

    def _filter(self) -> None:
        wanted = plain(self.words)
        for row in self.rows:
            row.set_visible(wanted in row.text)
        shown, whole = sum(wanted in row.text for row in self.rows), len(self.rows)
        elements.say(self.count, f"{shown} of {whole} bottles" if wanted else f"{whole} bottles")


class BottleRow:
    """One bottle, and while it is changed the fields below it."""

    def __init__(self, above: BottleList, bottle: Bottle, material: Material | None, shelf: Shelf) -> None:
        self.above, self.bottle = above, bottle
        names = [bottle.label, bottle.lot, bottle.note]
        names += (
            [material.name, *material.cas_all, *(name.text for name in material.names)] if material else []
        )
        self.text = "\n".join(map(plain, names))
        price, diluted = bottle.neat_price_per_g, bottle.dilution_percent != 100
        with elements.tag("tr") as self.line:
            elements.words(bottle.label, name="th").props["scope"] = "row"
            with elements.tag("td", "material"):
                if material is None:
                    elements.field(
                        f"what {bottle.label} is",
                        done=partial(above.resolve, bottle.label),
                        options="names",
                        hint="what it is",
                    )
                else:
                    elements.link(material.name, f"/material/{quote(material.slug)}")
            for name, text in (
                ("dilution", f"{bottle.dilution_percent:g} %" if diluted else "neat"),
                ("amount", "" if bottle.amount_g is None else f"{bottle.amount_g:.6g}"),
                ("price", "" if price is None else f"{price:.3g}"),
                ("opened", bottle.opened),
                ("remarks", " ".join(shelf.remarks(bottle, material)) if material else ""),
            ):
                elements.words(text, name, "td")
            with elements.tag("td", "acts"):
                self.opener = elements.button(
                    "Change", self._toggle, "small", label=f"Change {bottle.label}", aria_expanded="false"
                )
                off = partial(above.off, bottle.number, bottle.label)
                elements.button("×", off, "plain sign", label=f"Take {bottle.label} off the shelf")
        self.editor: Element | None = None
        self.inputs: dict[str, ui.input] = {}
        self.wrong: dict[str, ui.html] = {}
        self.seen: dict[str, str] = {}

    def set_visible(self, visible: bool) -> None:
        """Show or hide the bottle; fields that are open stay."""
        self.line.set_visibility(visible or self.editor is not None)

    def _cells(self) -> dict[str, str]:
        """Return the cells of the bottle as they are shown for change."""
        catalogue = self.above.workspace.palette.catalogue
        cells = {name: getattr(self.bottle, name) for name in CELLS}
        if self.bottle.solvent in catalogue.index:
            cells["solvent"] = catalogue.by_slug(self.bottle.solvent).name
        return {
            name: "" if value is None else value if isinstance(value, str) else f"{value:.10g}"
            for name, value in cells.items()
        }

    def _toggle(self) -> None:
        if self.editor is not None:
            self._close()
            return
        self.opener.props["aria-expanded"] = "true"
        label = self.bottle.label
        with self.line.parent_slot or self.line:  # the row after this one
            self.editor = elements.tag("tr", "editing")
        assert self.line.parent_slot is not None
        place = self.line.parent_slot.children.index(self.line)
        self.editor.move(target_index=place + 1)
        with self.editor, elements.tag("td", colspan=str(len(HEADS))):
            with elements.tag("div", "form"):
                self.seen = self._cells()
            for name, value in self.seen.items():
                words, numeric = CELLS[name]
                with elements.tag("div", "labelled"):
                    elements.words(words, "label", "span")
                    cell = elements.field(
                        f"{words} of {label}",
                        value,
                        numeric=numeric,
                        options="names" if name == "solvent" else "",
                        hint="yyyy-mm-dd" if name == "opened" else "",
                        classes="" if name in ("solvent", "note") else "short wide",
                    )
                    cell.on("keydown.enter", lambda _: self._store())
                    cell.on("keydown.esc", lambda _: self._close())
                    self.inputs[name] = cell
                    self.wrong[name] = elements.words("", "wrong", "span")
                    elements.say(self.wrong[name], "")
            with elements.tag("div", "form"):
                elements.button("Store", self._store, "main", label=f"Store the change of {label}")
                elements.button("Leave as it was", self._close, "small")
        self.inputs["amount_g"].run_method("focus")

    def _close(self) -> None:
        if self.editor is not None:
            self.editor.delete()
        self.editor, self.inputs, self.wrong = None, {}, {}
        self.opener.props["aria-expanded"] = "false"
        ui.run_javascript(f"getHtmlElement({self.opener.id})?.focus()")

    def _store(self) -> None:
        """Store what was changed; what is wrong is said beside its field, and nothing is stored then."""
        typed = {name: (cell.value or "").strip() for name, cell in self.inputs.items()}
        new = {name: text for name, text in typed.items() if text != self.seen[name]}
        for name, line in self.wrong.items():
            elements.say(line, "")
            self.inputs[name].props.set_bool("aria-invalid", False)
        if not new:
            self._close()
            return
        try:
            change = self.above.workspace.shelf.edit(self.bottle.number, self.bottle, **new)
        except BadValue as error:
            if error.field not in self.wrong:
                self.above.say(sentence(error))
                return
            elements.say(self.wrong[error.field], sentence(error))
            self.inputs[error.field].props.set_bool("aria-invalid", True)
            return
        except ChangedMeanwhile:
            self._changed_elsewhere()
            return
        except RecommenderError as error:
            self.above.say(sentence(error))
            return
        if change is None:
            self._close()
        else:
            self.above.changed(change.number)

    def _changed_elsewhere(self) -> None:
        """Say what the bottle is now; what was typed stays in its fields, and may be stored after that."""
        bottles = self.above.workspace.shelf.stock().bottles
        now = next((bottle for bottle in bottles if bottle.number == self.bottle.number), None)
        if now is None:
            self.above.say(f"{self.bottle.label} was taken off the shelf elsewhere.")
            return
        before, self.bottle = self.seen, now
        self.seen = self._cells()
        changed = [name for name, text in self.seen.items() if text != before[name]]
        for name in changed:
            if (self.inputs[name].value or "").strip() == before[name]:  # nothing was typed there
                self.inputs[name].value = self.seen[name]
        differs = [f"{CELLS[name][0]} is {self.seen[name] or 'unknown'} now" for name in changed]
        self.above.say(
            f"{now.label} was changed elsewhere meanwhile: {'; '.join(differs) or 'look at it'}. "
            "Store again to write what you typed over it."
        )


_ORDERING: dict[str, Callable[[Bottle], tuple[object, ...]]] = {
    "low": lambda b: (b.amount_g is None, (b.amount_g or 0.0) * b.dilution_percent, plain(b.label)),
    "label": lambda b: (plain(b.label), -b.dilution_percent),
    "opened": lambda b: (b.opened or "9999", plain(b.label)),
    "price": lambda b: (-(b.neat_price_per_g or 0.0), plain(b.label)),
}
