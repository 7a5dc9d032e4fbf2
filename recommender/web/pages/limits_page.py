"""The limits on record, and those that the person typed from the Standards in force."""

from collections.abc import Sequence
from datetime import date
from functools import partial
from urllib.parse import quote

from recommender import regulation
from recommender.errors import BadValue, RecommenderError
from recommender.model import Limit
from recommender.output import limits as output
from recommender.output import wording
from recommender.web.server.session import PageSession
from recommender.web.server.uploads import read_sheet
from recommender.web.widgets import elements
from recommender.web.widgets.sub_menu import sub_menu
from recommender.web.widgets.typed_form import TypedForm
from recommender.web.widgets.upload_button import SHEETS, read_or_say, upload_button

MOST = 150
COLUMNS = (
    "A sheet has the columns name, cas, and one for each category (cat_1 to cat_12), in per cent of the "
    "product. Its figures count in place of those on record, which stay; nothing is stored before you have "
    "seen it."
)


class LimitsPage:
    """One tab that shows limits."""

    def __init__(self, session: PageSession, of: str = "") -> None:
        self.session = session
        sub_menu("Materials", "Limits")
        elements.words("Limits on record", name="h1")
        elements.words("A blank means that no figure is on record, not that there is no limit.", "remark")
        self.message = elements.Message()
        categories = {c.name: f"{c.name}: {c.words}" for c in session.workspace.palette.catalogue.categories}
        with elements.tag("div", "form"):
            form = self.form = TypedForm(self.show)
            form.text("name", "of", of, "all materials", "names", aria="material")
            form.choice("category", "category", categories, regulation.CATEGORY)
            form.tick("stale", "only those to look up")
            elements.button("Show", self.show, "main")
        form.end()
        self.list = elements.tag("div", "scroll tall", tabindex="0", role="region", aria_label="Limits")
        with elements.tag("section", "own-note", aria_labelledby="tables-head"):
            elements.words("Your own limits", name="h2").props["id"] = "tables-head"
            elements.words(COLUMNS, "remark")
            with elements.tag("div", "own-acts"):
                upload_button("Read a sheet…", SHEETS, self.uploaded, self.message.show)
            self.preview = elements.tag("div", role="status")
            self.tables = elements.tag("div")
        elements.words(wording.SIGNS_OFF, "remark")
        self.show()
        self.show_tables()

    def show(self) -> None:
        """List the limits that are asked for."""
        self.form.fine()
        values, here = self.form.values, self.session.workspace
        catalogue = here.palette.catalogue
        try:
            material = here.material(values["name"]) if values["name"] else None
        except RecommenderError as error:
            self.form.complain(error)
            return
        category = regulation.checked_category(values["category"])
        used = here.limits.used_in
        rows = output.rows(catalogue, date.today(), category, material, values["stale"], used)
        self.list.clear()
        with self.list:
            if material is not None and not values["stale"] and rows:
                elements.words(material.name, name="h2")
                for line in output.lines(material, rows, catalogue)[2:]:
                    elements.words(line.strip(), "limit-line" if line.startswith(" ") else "limit-head")
                elements.link("Its card", f"/material/{quote(material.slug)}")
                return
            if not rows:
                said = output.nothing(catalogue, material, values["stale"])
                elements.words(f"{said[0].upper()}{said[1:]}", "empty")
                return
            heads = output.USED if any(row["used_in"] for row in rows) else output.HEADS
            shown = output.shown(rows[:MOST])
            elements.plain_table(tuple(heads.values()), [[str(row[key]) for key in heads] for row in shown])
            if len(rows) > MOST:
                elements.words(f"and {len(rows) - MOST} more; name a material to see its own.", "remark")

    async def uploaded(self, name: str, content: bytes) -> None:
        """Show what a sheet would change; it is used after a button."""
        sheet = await read_or_say(read_sheet(self.session, "limits", name, content), self.message)
        if sheet is None:
            return
        found, unused = sheet
        rows = [output.compared(new) for new in found]
        self.preview.clear()
        with self.preview:
            elements.words(f"{name}: {len(found)} rows, not used yet", name="h3")
            elements.plain_table(
                ("substance", "kind", "categories", "changes, category: old % to new %", "caution"),
                [
                    (
                        row["name"],
                        row["kind"],
                        f"{row['limits']}",
                        "; ".join(map(output.change_words, row["changed"])),
                        row["mind"] or "",
                    )
                    for row in rows
                ],
            )
            for note in unused:
                elements.words(note, "remark")
            with elements.tag("div", "own-acts"):
                elements.button("Use them", partial(self.take, found, name), "main")
                elements.button("Use none", self.preview.clear, "small")

    def take(self, found: Sequence[Limit], name: str) -> None:
        """Store a table of limits and use it."""
        before = self._in_use()
        self.session.workspace.limits.add(found, name)
        self.preview.clear()
        text = f"{len(found)} limits of your own count from now on."
        self._changed(text, before)

    def use(self, number: int) -> None:
        """Use another table, or the shipped one alone."""
        before = self._in_use()
        try:
            count = self.session.workspace.limits.use(number)
        except BadValue:  # the notebook was replaced meanwhile
            self.show_tables()
            return
        text = f"{count} limits of your own count now." if number else "The limits on record count alone now."
        self._changed(text, before)

    def _changed(self, text: str, before: int) -> None:
        self.message.show(text, partial(self.use, before))
        self.show()
        self.show_tables()

    def _in_use(self) -> int:
        return next((one.number for one in self.session.workspace.limits.tables() if one.in_use), 0)

    def show_tables(self) -> None:
        """List the tables that were read, and which is in use."""
        tables, used = self.session.workspace.limits.tables(), self._in_use()
        self.tables.clear()
        if not tables:
            return
        with self.tables, elements.tag("table", "plain-table"):
            elements.table_head(("table", "read", "rows", "what to do"))
            with elements.tag("tbody"):
                rows = [
                    (one.number, one.file, one.read.replace("T", " ") + " UTC", f"{one.rows}")
                    for one in tables
                ]
                for number, file, read, count in [(0, "the limits on record alone", "", ""), *rows]:
                    with elements.tag("tr"):
                        elements.words(file, name="th").props["scope"] = "row"
                        elements.words(read, name="td")
                        elements.words(count, name="td")
                        with elements.tag("td"):
                            if number == used:
                                elements.words("in use", name="span")
                            else:
                                elements.button("Use it", partial(self.use, number), "small",
                                                label=f"Use {file} {read}".strip())  # fmt: skip
