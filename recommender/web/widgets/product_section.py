"""In the finished product: what is prohibited, above a limit, unverified; what the label must name."""

from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from nicegui import ui

from recommender import regulation, units
from recommender.errors import BadValue, RecommenderError
from recommender.evidence.markets import ANY, AUTHORITIES, MARKETS, names_of
from recommender.output import formats, limit_sentences, product, product_page, wording
from recommender.output.limit_sentences import percent_of
from recommender.palette import Palette
from recommender.regulation import ProductUse
from recommender.regulation.limits import ABOVE, ABOVE_UNVERIFIED, BELOW_UNVERIFIED
from recommender.web.server.typed_lines import ParsedLines
from recommender.web.widgets import elements
from recommender.web.widgets.labelled_fields import LabelledFields, Problem
from recommender.workspace import Workspace

SERIOUS = regulation.FINDINGS
MOST = 8
OPENED = "(e) => emit(e.target.open)"
MARKET_WORDS = {
    name: "any market" if name == ANY else " and ".join(AUTHORITIES[by].words for by in market.decides)
    for name, market in MARKETS.items()
}
"""Markets as a person chooses them on the page."""


@dataclass(frozen=True, slots=True)
class ProductSummary:
    """A report in words: a headline, rows to show, the label, what sets the dosage, what changes or lacks.

    `all_rows` has every substance, those below a limit or without an entry too; `data` is the report as data.
    """

    headline: str
    serious: bool
    rows: tuple[tuple[str, str, str, str], ...]
    label: str
    highest: str
    remarks: tuple[str, ...] = ()
    all_rows: tuple[tuple[str, str, str, str], ...] = ()
    data: Mapping[str, Any] = field(default_factory=dict)


def product_summary(
    read: ParsedLines, workspace: Workspace, fields: Mapping[str, str]
) -> ProductSummary | str | None:
    """Return the report at a dosage, or what is wrong with the fields; None without a formula."""
    if read.formula is None:
        return None
    try:
        use, share_percent = product_use(fields), share_of(fields)
        if use.dosage_percent is None:
            return "Write the dosage of the concentrate in the finished product to see limits and the label."
    except BadValue as error:
        return Problem.of(error)
    given: dict[str, tuple[str, ...]] = {}
    for name, check in (
        ("content", regulation.certificates),
        ("shown", regulation.shown_by_certificate),
    ):
        given[name] = several(fields.get(name, ""))
        try:
            check(given[name], workspace.palette.catalogue)
        except RecommenderError as error:
            return Problem.of(error, name)
    try:
        found = workspace.check(read.formula, use, share_percent=share_percent, **given)
    except BadValue as error:
        return Problem.of(error)
    data = product.data(found, workspace.palette.catalogue)
    return ProductSummary(
        f"{found.decision[0].upper()}{found.decision[1:]}: {product_page.why(found)}",
        found.findings,
        tuple(_row(row, data["market"]) for row in data["rows"] if row["status"] in SERIOUS),
        label_line(data),
        highest_line(data),
        tuple(
            remark.replace(" (--content)", " and write it under “More”")
            for remark in limit_sentences.remarks(found)
        ),
        tuple(_any_row(row) for row in data["rows"]),
        data,
    )


def several(text: str) -> tuple[str, ...]:
    """Return what was typed into one field, parted by semicolons.

    >>> several("lemon oil: furocoumarins; bergamot oil: furocoumarins;")
    ('lemon oil: furocoumarins', 'bergamot oil: furocoumarins')
    """
    return tuple(filter(None, (part.strip() for part in text.split(";"))))


def product_use(fields: Mapping[str, str]) -> ProductUse:
    """Return dosage, category, market and day as typed, without a dosage where none is; raises `BadValue`.

    Without a day it is today.
    """
    on = regulation.checked_day(fields.get("on", "")) or date.today().isoformat()
    return replace(_chosen(fields), dosage_percent=percent_typed(fields, "dosage", "dosage_percent"), on=on)


def _chosen(fields: Mapping[str, str]) -> ProductUse:
    """Return category and market as chosen, on this day."""
    category, market = fields.get("category") or regulation.CATEGORY, fields.get("market") or ANY
    return ProductUse(category=category, market=market, on=date.today().isoformat())


def share_of(fields: Mapping[str, str]) -> float | None:
    """Return the share of the formula in a concentrate as typed [%], None if blank; raises `BadValue`."""
    return percent_typed(fields, "share", "share_percent")


def usable(fields: Mapping[str, str]) -> tuple[ProductUse, float | None]:
    """Return dosage with category, and the share, without what cannot be used: the section says what."""
    use, share_percent = _chosen(fields), None
    with suppress(BadValue):
        use = product_use(fields)
    with suppress(BadValue):
        share_percent = share_of(fields)
    return use, share_percent


def percent_typed(fields: Mapping[str, str], field: str, name: str) -> float | None:
    """Return what was typed into a field [%], None if blank; raises `BadValue` under a name."""
    typed = fields.get(field, "").strip()
    if not typed:
        return None
    try:
        return units.percent_of(typed)
    except BadValue as error:
        raise BadValue(name, typed, error.wanted) from None


def _any_row(row: Mapping[str, Any]) -> tuple[str, str, str, str]:
    """Return a substance of any status as name, amount, its lowest limit that decides, and status."""
    least = product.lowest(row)
    limit = "" if not least else f"{percent_of(least['percent'])} %"
    return row["name"], f"{percent_of(row['percent_in_product'])} %", limit, row["status"]


def _row(row: Mapping[str, Any], market: str) -> tuple[str, str, str, str]:
    """Return a row as name, amount, limit, and status with whose rule it is."""
    amount = f"{percent_of(row['percent_in_product'])} %"
    deciding = [x for x in row["prohibited_by"] if x["decides"]]
    if row["status"] == regulation.PROHIBITED:
        return row["name"], amount, "prohibited", f"by {_by(deciding, market)}"
    status, least = row["status"], _deciding(row)
    asks = [x for x in row["conditions"] if x["decides"] and not x["shown"]]
    asked = [*(x for x in row["restricted_without_figure"] if x["decides"]), *asks]
    if conditions := [x["condition"] for x in asks]:
        status += f" ({'; '.join(conditions)})"
    if not least:
        return row["name"], amount, "look it up", f"{status}: {_by([*asked, *deciding], market)}".rstrip(": ")
    memory = ", from memory" if least["basis"] == "memory" else ""
    newer = f", superseded by amendment {least['superseded_by']}" if least["superseded_by"] else ""
    by = _by([least, *asked], market)
    return row["name"], amount, f"{percent_of(least['percent'])} %", f"{status}: {by}{memory}{newer}"


_VERIFIED = {ABOVE: True, ABOVE_UNVERIFIED: False, BELOW_UNVERIFIED: False}
"""Whether the limit that gives a row its status is verified."""


def _deciding(row: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return the lowest limit that gives a row its status, the lowest that decides where none does."""
    wanted = _VERIFIED.get(row["status"])
    fitting = (
        x
        for x in row["limits"]
        if x["decides"] and (x["basis"] != "memory" and not x["superseded_by"]) == wanted
    )
    return next(fitting, product.lowest(row))


def _by(entries: Iterable[Mapping[str, Any]], market: str) -> str:
    return wording.join(dict.fromkeys(names_of(entry["market"], market) for entry in entries))


def label_line(data: Mapping[str, Any]) -> str:
    """Return what the label must name."""
    named = [found["name"] for found in data["labels"]]
    return (
        f"The label names {wording.join(named)}."
        if named
        else "No allergen reaches the amount for the label."
    )


def highest_line(data: Mapping[str, Any]) -> str:
    """Return the highest dosage, and what sets it."""
    if data["highest_dosage"] is None:
        return "No limit on record sets a highest dosage."
    if data["highest_dosage"] == 0:
        return f"No dosage is possible: {data['set_by']} is prohibited."
    highest = percent_of(min(data["highest_dosage"], 100.0))
    return f"Highest dosage by the limits on record: {highest} %, set by {data['set_by']}."


class ProductSection:
    """The section with dosage, category and share of a concentrate, always visible below the formula.

    `reformulate` leads to what brings the formula inside the limits.
    """

    def __init__(
        self,
        palette: Palette,
        fields: Mapping[str, str],
        set_field: Callable[[str, str], object],
        reformulate: Callable[[], object],
    ) -> None:
        self.shown: ProductSummary | str | None = ""
        self.fields = typed = LabelledFields(fields, set_field)
        with elements.tag("section", "product", aria_labelledby="product-head"):
            elements.words("In the finished product", name="h2").props["id"] = "product-head"
            with elements.tag("div", "form product-form"):
                typed.text("dosage", "dosage in per cent", "dosage", "%")
                with elements.tag("div", "labelled"):
                    elements.words("category", "label", "span")
                    known = {c.name: f"{c.name}: {c.words}" for c in palette.catalogue.categories}
                    chosen = fields.get("category") or regulation.CATEGORY
                    elements.choice(
                        "category of the industry Standards",
                        known,
                        chosen,
                        lambda value: typed.set("category", value),
                    )
                with elements.tag("div", "labelled"):
                    elements.words("market", "label", "span")
                    elements.choice(
                        "market whose rules decide",
                        MARKET_WORDS,
                        fields.get("market") or ANY,
                        lambda value: typed.set("market", value),
                    )
            with elements.tag("details", "more") as more:
                elements.words("More: day of sale, share of a concentrate, certificates", name="summary")
                with elements.tag("div", "form product-form"):
                    day = "day on which the product is placed on the market"
                    typed.text("on", day, "sold from", hint="today", classes="short wide", numeric=False)
                    share = "share of the formula in a concentrate in per cent"
                    typed.text("share", share, "this formula is", "% of the concentrate", hint="all")
                typed.text("content", "content of naturals by certificate", "content by certificate",
                           classes="grow", numeric=False, on_leaving=True)  # fmt: skip
                elements.words("Written as “tonka bean absolute: coumarin 60”; several parted by ;", "remark")
                typed.text("shown", "conditions that a certificate shows", "condition shown",
                           classes="grow", numeric=False, on_leaving=True)  # fmt: skip
                elements.words("Written as “lemon oil: furocoumarins”; several parted by ;", "remark")
            more.props.set_bool("open", any(fields.get(name) for name in ("on", "share", "content", "shown")))
            self.line = elements.words("", "headline")
            self.line.props["role"] = "status"
            self.mend = elements.button("What brings it inside the limits?", reformulate, "small")
            self.rows = elements.tag("div")
            self.label = elements.words("", "label-line")
            self.highest = elements.words("", "remark")
            self.remarks = elements.tag("div")
            with elements.tag("details") as self.all:
                self.count = elements.words("", name="summary")
                self.every = elements.tag("div")
            self.all.on("toggle", lambda event: self._open(bool(event.args)), js_handler=OPENED)
            self.is_open = False
            self.file = elements.button("These rows as CSV", self._load, "small")
            elements.words(wording.SIGNS_OFF, "remark")
        self._hide()

    def show(self, found: ProductSummary | str | None) -> None:
        """Show a report, or what is missing for one."""
        if found == self.shown and getattr(found, "field", "") == getattr(self.shown, "field", ""):
            return
        self.shown = found
        self.rows.clear()
        self.remarks.clear()
        beside = self.fields.show(found if isinstance(found, str) else None)
        if not isinstance(found, ProductSummary):
            elements.say(self.line, "" if beside else found or "")
            self._hide()
            return
        elements.say(self.line, found.headline)
        self.line.classes(add="serious") if found.serious else self.line.classes(remove="serious")
        elements.say(self.label, found.label)
        elements.say(self.highest, found.highest)
        with self.remarks:
            for remark in found.remarks:
                elements.words(remark, "remark")
        with self.rows:
            _table(found.rows[:MOST])
            if len(found.rows) > MOST:
                with elements.tag("details"):
                    elements.words(f"{len(found.rows) - MOST} more", name="summary")
                    _table(found.rows[MOST:])
        self.mend.set_visibility(found.serious)
        self.all.set_visibility(True)
        self.file.set_visibility(True)
        self.count.set_content(f"All {len(found.all_rows)} substances, those without a finding too")
        self._open(self.is_open)

    def _hide(self) -> None:
        self.line.classes(remove="serious")
        for line in (self.label, self.highest):
            elements.say(line, "")
        self.mend.set_visibility(False)
        self.all.set_visibility(False)
        self.file.set_visibility(False)

    def _open(self, is_open: bool) -> None:
        """Fill the table of all substances while it is open."""
        self.is_open = is_open
        self.every.clear()
        if is_open and isinstance(self.shown, ProductSummary):
            with self.every, elements.scrolled("All substances in the finished product"):
                _table(self.shown.all_rows)

    def _load(self) -> None:
        if isinstance(self.shown, ProductSummary):
            rows = [product.flat(row) for row in self.shown.data["rows"]]
            text = formats.as_csv(rows, product.COLUMNS)
            ui.download.content(text, "finished_product.csv", "text/csv; charset=utf-8")


def _table(rows: tuple[tuple[str, str, str, str], ...]) -> None:
    if rows:
        elements.plain_table(("substance", "in product", "limit", "status"), rows)
