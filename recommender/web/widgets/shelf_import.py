"""A spreadsheet of bottles before it is stored: rows mended in place, open questions asked."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial

from nicegui import ui

from recommender.errors import RecommenderError
from recommender.evidence.catalogue import Catalogue
from recommender.evidence.names import plain
from recommender.model import Bottle
from recommender.notebook import importers
from recommender.notebook.importers import Columns, ImportedRow
from recommender.output import wording
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence

CELL_WORDS = {
    "label": "label", "material": "material", "cas": "CAS number", "dilution": "dilution, %",
    "solvent": "solvent", "amount": "amount", "unit": "unit of the amount", "size": "size of a full bottle",
    "price": "price", "density": "density, g/ml", "opened": "opened", "lot": "lot", "note": "note",
}  # fmt: skip
"""What a column can be, in words."""
HEADS = ("label", "material", "dilution", "g", "price a gram", "opened", "remark")
MOST_MENDED, MOST_READ = 40, 200
"""Rows that can be mended here, and rows that are listed as read."""


class ShelfImport:
    """What was read of a sheet, until it is put on the shelf or left."""

    def __init__(
        self,
        name: str,
        columns: Columns,
        rows: Sequence[ImportedRow],
        catalogue: Catalogue,
        there: Sequence[Bottle],
        put: Callable[[str, list[Bottle]], object],
        cancel: Callable[[], object],
        read_as: Callable[[Mapping[str, str], str], object],
        chosen: Mapping[str, str],
        sheet: str,
    ) -> None:
        self.name, self.columns, self.catalogue = name, columns, catalogue
        self.rows = list(rows)
        self.there = {(plain(b.label), b.dilution_percent, b.lot) for b in there}
        self.chosen, self.sheet, self.read_as = dict(chosen), sheet, read_as
        elements.words(f"Read from {name}: nothing is stored yet", name="h2").props["id"] = "import-head"
        self.count = elements.words("")
        self.count.props["role"] = "status"
        self._columns()
        wrong = [place for place, row in enumerate(self.rows) if row.error]
        odd = [place for place, row in enumerate(self.rows) if row.candidates]
        unknown = [place for place, row in enumerate(self.rows) if _unknown(row)]
        if wrong:
            elements.words("These rows cannot be read: mend them here, or they are left out", name="h3")
            for place in wrong[:MOST_MENDED]:
                MendedRow(self, place)
            if len(wrong) > MOST_MENDED:
                elements.words(
                    f"{len(wrong) - MOST_MENDED} more: mend them in the file, and read it again.", "remark"
                )
        if odd:
            elements.words("These rows say two things", name="h3")
            for place in odd:
                self._ask(place)
        if unknown:
            elements.words(
                "These labels are not known yet: say what they are, or leave that for later", name="h3"
            )
            for place in unknown[:MOST_MENDED]:
                self._name(place)
        self._read_rows()
        with elements.tag("div", "form import-acts"):
            self.putter = elements.button("", lambda: put(self.name, self.bottles), "main")
            elements.button("Cancel", cancel, "small")
        self.recount()

    @property
    def bottles(self) -> list[Bottle]:
        """What would be put on the shelf."""
        return [row.bottle for row in self.rows if row.bottle is not None]

    def recount(self) -> None:
        """Say how many rows are read, and how many are left out."""
        ready = len(self.bottles)
        left = len(self.rows) - ready
        open_ones = sum(row.bottle is not None and not row.bottle.material for row in self.rows)
        known = sum(self._is_there(bottle) for bottle in self.bottles)
        words = [f"{ready} of {len(self.rows)} rows are read"]
        words += [f"{left} left out until mended"] if left else []
        words += [f"{open_ones} without a known material"] if open_ones else []
        words += [f"{known} on the shelf already, brought up to date"] if known else []
        elements.say(self.count, f"{wording.join(words)}.")
        self.putter.set_content(f"Put {ready} bottle{'' if ready == 1 else 's'} on the shelf")
        self.putter.props.set_bool("disabled", not ready)

    def _is_there(self, bottle: Bottle) -> bool:
        return (plain(bottle.label), bottle.dilution_percent, bottle.lot) in self.there

    def _columns(self) -> None:
        with elements.tag("details"):
            elements.words("How the columns were read", name="summary")
            for line in (*self.columns.summary(), *self.columns.notes):
                elements.words(line, "remark")
            headers = {header: header for header in self.columns.headers if header}
            with elements.tag("div", "form"):
                for field, words in CELL_WORDS.items():
                    at = self.columns.places.get(field)
                    read = "none" if at is None else f"“{self.columns.headers[at]}”"
                    with elements.tag("div", "labelled"):
                        elements.words(words, "label", "span")
                        options = {"": f"as read: {read}"} | headers
                        choose = partial(self._choose, field)
                        elements.choice(f"column of the {words}", options, self.chosen.get(field, ""), choose)
                with elements.tag("div", "labelled"):
                    elements.words("sheet of the workbook", "label", "span")
                    elements.field("sheet of the workbook", self.sheet, hint="the one that is open",
                                   done=self._other_sheet)  # fmt: skip

    def _choose(self, field: str, header: str) -> object:
        chosen = {name: title for name, title in self.chosen.items() if name != field}
        return self.read_as(chosen | ({field: header} if header else {}), self.sheet)

    def _other_sheet(self, sheet: str) -> object:
        return self.read_as(self.chosen, sheet.strip())

    def _ask(self, place: int) -> None:
        """Ask which of two materials a bottle is."""
        row = self.rows[place]
        label = row.bottle.label if row.bottle else ""
        names = {slug: self.catalogue.by_slug(slug).name for slug in row.candidates}
        with elements.tag("div", "question-row") as entry:
            self._question(
                place,
                entry,
                f"Line {row.line}, “{label}”: {row.remark}. Is it {wording.join(names.values(), 'or')}?",
                names,
            )

    def _question(self, place: int, entry: ui.element, question: str, names: Mapping[str, str]) -> None:
        entry.clear()
        label = getattr(self.rows[place].bottle, "label", "")
        with entry:
            elements.words(question)
            with elements.tag("div", "near"):
                for slug, name in names.items():

                    def choose(slug: str = slug, name: str = name) -> None:
                        self._set(place, slug)
                        entry.clear()
                        with entry:
                            elements.words(f"Line {self.rows[place].line}, “{label}” is {name}.")
                            again = partial(self._question, place, entry, question, names)
                            elements.button(
                                "Choose again", again, "small", label=f"Choose again what {label} is"
                            )

                    elements.button(name, choose, "small", label=f"{label} is {name}")

    def _set(self, place: int, slug: str) -> None:
        row = self.rows[place]
        assert row.bottle is not None
        self.rows[place] = replace(row, bottle=replace(row.bottle, material=slug))
        self.recount()

    def _name(self, place: int) -> None:
        """Ask what a bottle with an unknown label is."""
        row = self.rows[place]
        label = row.bottle.label if row.bottle else ""
        with elements.tag("div", "labelled"):
            elements.words(f"Line {row.line}, “{label}” is", "label", "span")

            def named(text: str) -> None:
                try:
                    slug = self.catalogue.find(text).slug if text.strip() else ""
                except RecommenderError as error:
                    elements.say(wrong, sentence(error))
                    return
                elements.say(wrong, "")
                self._set(place, slug)

            elements.field(f"what {label} is", done=named, options="names", hint="left for later")
            wrong = elements.words("", "wrong", "span")
            elements.say(wrong, "")
            if row.remark:
                elements.words(row.remark, "remark", "span")

    def _read_rows(self) -> None:
        read = [row for row in self.rows if row.bottle is not None]
        if not read:
            return
        with elements.tag("details") as details:
            elements.words(f"{len(read)} rows as they were read", name="summary")
            with elements.scrolled("Rows as they were read"), elements.tag("table", "plain-table"):
                elements.table_head(HEADS)
                with elements.tag("tbody"):
                    for row in read[:MOST_READ]:
                        self._read_row(row)
            if len(read) > MOST_READ:
                elements.words(f"{len(read) - MOST_READ} more are not listed.", "remark")
        details.props.set_bool("open", len(read) <= 12)

    def _read_row(self, row: ImportedRow) -> None:
        bottle = row.bottle
        assert bottle is not None
        known = bottle.material in self.catalogue.index
        with elements.tag("tr"):
            elements.words(bottle.label, name="th").props["scope"] = "row"
            for text in (
                self.catalogue.by_slug(bottle.material).name if known else "not known yet",
                "neat" if bottle.dilution_percent == 100 else f"{bottle.dilution_percent:g} %",
                "" if bottle.amount_g is None else f"{bottle.amount_g:.6g}",
                "" if bottle.price_per_g is None else f"{bottle.price_per_g:.4g}",
                bottle.opened,
                "; ".join(
                    filter(None, ("on the shelf already" if self._is_there(bottle) else "", row.remark))
                ),
            ):
                elements.words(text, name="td")


class MendedRow:
    """One row that could not be read: its cells to type in, what is wrong beside the cell."""

    def __init__(self, above: ShelfImport, place: int) -> None:
        self.above, self.place = above, place
        row = above.rows[place]
        self.cells = dict(row.cells)
        self.inputs: dict[str, ui.input] = {}
        self.wrong: dict[str, ui.html] = {}
        there = set(above.columns.places) | {row.column, "label"}
        with elements.tag("fieldset", "mend"):
            elements.words(f"line {row.line}", name="legend")
            with elements.tag("div", "form"):
                for name, words in CELL_WORDS.items():
                    if name not in there:
                        continue
                    with elements.tag("div", "labelled"):
                        elements.words(words, "label", "span")
                        self.inputs[name] = elements.field(
                            f"{words} in line {row.line}",
                            self.cells.get(name, ""),
                            done=partial(self._mend, name),
                            options="names" if name in ("material", "solvent") else "",
                            classes="" if name in ("label", "material", "note", "solvent") else "short wide",
                        )
                        self.wrong[name] = elements.words("", "wrong", "span")
            self.state = elements.words("", "remark")
        self._show()

    def _mend(self, name: str, text: str) -> None:
        self.cells[name] = text.strip()
        above = self.above
        above.rows[self.place] = importers.read_again(
            above.rows[self.place], self.cells, above.columns, above.catalogue
        )
        self._show()
        above.recount()

    def _show(self) -> None:
        row = self.above.rows[self.place]
        problem = row.error.partition(": ")[2] or row.error
        for name, line in self.wrong.items():
            here = bool(row.error) and name == row.column
            elements.say(line, f"{problem[:1].upper()}{problem[1:]}." if here else "")
            self.inputs[name].props.set_bool("aria-invalid", here)
        state = ""
        if row.bottle is not None:
            known = row.bottle.material in self.above.catalogue.index
            name = (
                self.above.catalogue.by_slug(row.bottle.material).name if known else "material not known yet"
            )
            state = f"Read: {row.bottle.label}, {name}."
        elif row.column not in self.wrong:
            state = row.error
        elements.say(self.state, state)


def _unknown(row: ImportedRow) -> bool:
    return row.bottle is not None and not row.bottle.material and not row.candidates
