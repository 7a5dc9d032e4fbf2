"""All materials, found by smell or by part of a name, and the words for smells."""

from collections.abc import Iterable, Mapping
from typing import Any
from urllib.parse import quote

from nicegui import run, ui

from recommender.errors import RecommenderError
from recommender.evidence.markets import ANY
from recommender.output import formats, materials, wording
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.product_section import MARKET_WORDS
from recommender.web.widgets.sub_menu import sub_menu
from recommender.web.widgets.typed_form import TypedForm
from recommender.workspace import Workspace

MOST = 60
"""So many materials are shown; the file has all."""
HEADS = ("material", "CAS", "kind", "on a strip", "strength of 100", "smells of")
NOTHING = "No material is found so; try a wider smell, or less of the name."


class MaterialsPage:
    """One tab that lists materials."""

    def __init__(self, session: PageSession, smell: str = "", named: str = "") -> None:
        self.session, self.rows = session, list[dict[str, Any]]()
        sub_menu("Materials", "Find")
        elements.words("Find a material", name="h1")
        with elements.tag("div", "form"):
            form = self.form = TypedForm(self.show)
            form.text("words", "smell", smell, "such as rose", "smells")
            form.text("named", "part of a name", named, "such as ionone")
            form.choice(
                "market", "prohibitions by the rules of", MARKET_WORDS, ANY, aria="market whose rules decide"
            )
            form.tick("only_shelf", "on my shelf only")
            elements.button("Find", self.show, "main")
        form.end()
        self.status = elements.words("", "status-line")
        self.status.props["role"] = "status"
        self.list = elements.tag("div", "scroll tall", tabindex="0", role="region", aria_label="Materials")
        with elements.tag("div", "own-acts"):
            elements.button("Save this list (CSV)", self.save, "small")
            elements.button("Save how alike all are (CSV)", self.save_likeness, "small")
        self._smells()
        self.show()

    def show(self) -> None:
        """List what is found."""
        self.form.fine()
        values, here = self.form.values, self.session.workspace
        try:
            found, notes = here.materials(
                values["words"] or None, only_shelf=values["only_shelf"], named=values["named"]
            )
        except RecommenderError as error:
            self.form.complain(error)
            return
        self.rows = [materials.row(here.palette, material, values["market"]) for material in found]
        count = f"{len(found)} material{'' if len(found) == 1 else 's'}"
        count += f", the first {MOST} are shown" if len(found) > MOST else ""
        elements.say(self.status, " ".join([f"{count}." if found else NOTHING, *notes]))
        self.list.clear()
        with self.list, elements.tag("table", "plain-table materials-table"):
            elements.table_head(HEADS)
            with elements.tag("tbody"):
                for material, row in zip(found[:MOST], self.rows[:MOST], strict=True):
                    with elements.tag("tr"):
                        with elements.tag("th", scope="row"):
                            elements.link(material.name, f"/material/{quote(material.slug)}")
                        elements.words(material.cas, "cas", "td")
                        elements.words(_kind(row), name="td")
                        elements.words(wording.lasting(material.lasting), name="td")
                        elements.words("" if row["strength"] is None else f"{row['strength']:.0f}", name="td")
                        elements.words(wording.labels(material.labels, 4), "smells", "td")

    def save(self) -> None:
        """Download the whole list."""
        content = formats.as_csv(self.rows, materials.ROW_COLUMNS) + "\n"
        ui.download.content(content.encode("utf-8-sig"), "materials.csv", "text/csv; charset=utf-8")

    async def save_likeness(self) -> None:
        """Download the likeness of all pairs of materials that have a CAS number."""
        content: bytes | None = await run.io_bound(likeness_csv, self.session.workspace)
        if content is not None:
            ui.download.content(content, "likeness.csv", "text/csv; charset=utf-8")

    def _smells(self) -> None:
        with elements.tag("details", "smell-words"):
            elements.words("The words for smells", name="summary")
            with elements.tag("div", "form"):
                words = self.smells = TypedForm(self.show_smells)
                words.text("words", "those for", "", "such as nut", "smells", aria="words for smells")
                elements.button("Show", self.show_smells, "small")
            words.end()
            self.smell_list = elements.tag("div", "scroll", tabindex="0", role="region", aria_label="Smells")
        self.show_smells()

    def show_smells(self) -> None:
        """List the words for smells, or those that are meant by others."""
        self.smells.fine()
        try:
            found, _ = self.session.workspace.facets(self.smells.values["words"] or None)
        except RecommenderError as error:
            self.smells.complain(error)
            return
        self.smell_list.clear()
        with self.smell_list, elements.tag("table", "plain-table"):
            elements.table_head(("smell", "family", "meaning", "also called", "materials"))
            with elements.tag("tbody"):
                for facet, count in found:
                    with elements.tag("tr"):
                        with elements.tag("th", scope="row"):
                            elements.link(facet.name, f"/map?smell={quote(facet.name)}")
                        for text in (facet.family, facet.meaning, ", ".join(facet.synonyms), f"{count}"):
                            elements.words(text, name="td")


def _kind(row: Mapping[str, Any]) -> str:
    remark = ", prohibited" if row["prohibited"] else ", not offered" if row["role"] == "reference" else ""
    return f"{row['kind']}{remark}"


def likeness_csv(workspace: Workspace) -> bytes:
    """Return the likeness of all pairs as CSV: two CAS numbers, and 0 (unlike) to 1 (alike)."""

    def lines() -> Iterable[str]:
        yield "cas_a,cas_b,similarity"
        for one, others in workspace.similarities():
            for other, likeness in others:
                yield f"{one.cas},{other.cas},{likeness:.5f}"

    return ("\r\n".join(lines()) + "\r\n").encode("utf-8-sig")
