"""The card of a material: everything known with basis and source, and the person's own note on its smell."""

from functools import partial
from typing import Any
from urllib.parse import quote

from recommender import units
from recommender.errors import RecommenderError
from recommender.evidence.markets import ANY, names_of
from recommender.model import Material
from recommender.output import materials, wording
from recommender.palette import Palette
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.add_to_formula import AddToFormula
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.material_drydown import MaterialDrydown
from recommender.web.widgets.material_question import MaterialQuestion
from recommender.web.widgets.nose_form import NoseForm
from recommender.web.widgets.product_section import MARKET_WORDS
from recommender.web.widgets.removed_list import bringing_back, removed_list

MOST_RELATIONS = 14
AVAILABILITY_BASIS = "common practice and memory"
"""What the availability of every material rests on."""


class MaterialPage:
    """One tab that shows one material."""

    def __init__(self, session: PageSession, material: Material) -> None:
        self.session, self.material, self.market = session, material, ANY
        self.message = elements.Message()
        self._back = bringing_back(session, self.message, self._is_back, self.show)
        self.box = elements.tag("div", "card-page")
        self.show()

    def show(self) -> None:
        """Show the card as it is now."""
        palette = self.session.workspace.palette
        self.material = palette.catalogue.by_slug(self.material.slug)
        data = materials.card(palette, self.material, self.market)
        self.box.clear()
        with self.box:
            _head(data)
            with elements.tag("div", "labelled"):
                elements.words("by the rules of", "label", "span")
                elements.choice(
                    "market whose rules are shown", MARKET_WORDS, self.market, self._choose_market
                )
                name = quote(self.material.name)
                elements.link("Its limits", f"/limits?of={name}").props["aria-label"] = (
                    f"Limits on {self.material.name}"
                )
            AddToFormula(self.session, [(self.material, 1.0)])
            with elements.tag("div", "two"):
                with elements.tag("div"):
                    _smell(data)
                    _cautions(data)
                    _practice(data)
                with elements.tag("div"):
                    _figures(data)
            self._nose(palette)
            if self.material.curve is not None and self.material.parts:
                MaterialDrydown(self.session, self.material)
            MaterialQuestion(self.session, self.material)
            self._relations(data, palette)
            _sources(data)

    def _choose_market(self, market: str) -> None:
        self.market = market
        self.show()

    def _nose(self, palette: Palette) -> None:
        own = self.material.own
        with elements.tag("section", "own-note", aria_labelledby="nose-head"):
            elements.words("Your own nose", name="h2").props["id"] = "nose-head"
            if own is not None:
                elements.words(
                    f"To your nose: {materials.own_words(own)}. It counts in place of the table, everywhere."
                )
                if own.words:
                    elements.words(f"“{own.words}”")
            form = NoseForm(self.session, self.material, lambda _: self._stored())

            def remove() -> None:
                try:
                    _, removed = self.session.workspace.nose.remove(self.material)
                except RecommenderError as error:
                    self.message.show(sentence(error))
                else:
                    text = f"Your note on {self.material.name} is removed; the table counts again."
                    self.message.show(text, partial(self._back, removed))
                self.show()

            with elements.tag("div", "own-acts"):
                elements.button("Save this note", form.save, "main")
                if own is not None:
                    elements.button("Remove it", remove, "small")
            older = [
                one for one in self.session.workspace.removed.entries("note") if one.key == self.material.slug
            ]
            removed_list(older, palette.catalogue, self._back)

    def _is_back(self, _: object) -> str:
        return f"Your note on {self.material.name} counts again."

    def _stored(self) -> None:
        self.message.show("")
        self.show()

    def _relations(self, data: dict[str, Any], palette: Palette) -> None:
        if data["relations"]:
            with elements.tag("section"):
                elements.words("Relations", name="h2")
                with elements.tag("ul", "relations"):
                    for relation in data["relations"][:MOST_RELATIONS]:
                        with elements.tag("li"):
                            self._step(relation, palette)
                if rest := data["relations"][MOST_RELATIONS:]:
                    with elements.tag("details"):
                        elements.words(f"{len(rest)} more", name="summary")
                        with elements.tag("ul", "relations"):
                            for relation in rest:
                                with elements.tag("li"):
                                    self._step(relation, palette)
        with elements.tag("section"):
            elements.words("How is it related to another?", name="h2")
            answer = elements.words("", "status-line")
            answer.props["role"] = "status"

            def ask(name: str) -> None:
                elements.say(answer, path_words(self.material, name, palette))

            with elements.tag("div", "labelled"):
                elements.words("to", "label", "span")
                elements.field("another material", "", done=ask, options="names", hint="name or CAS number")
            answer.move(target_index=-1)

    def _step(self, relation: dict[str, Any], palette: Palette) -> None:
        other = relation["to"] if relation["from"] == self.material.name else relation["from"]
        elements.words(wording.step(relation), name="span")
        elements.words(", ".join(filter(None, (relation["basis"], relation["source"]))), "origin", "span")
        if other != self.material.name:
            slug = palette.catalogue.find(other).slug
            elements.link("card", f"/material/{quote(slug)}", "more").props["aria-label"] = f"card of {other}"


def path_words(material: Material, name: str, palette: Palette) -> str:
    """Return how two materials are related, step by step, and how alike they smell."""
    if not name.strip():
        return ""
    try:
        other = palette.catalogue.find(name)
    except RecommenderError as error:
        return sentence(error)
    rows = [palette.catalogue.index[m.slug] for m in (material, other)]
    alike = float(palette.space.likeness(rows[0])[rows[1]])
    steps = palette.graph.path(material.slug, other.slug)
    steps_in_words = "; ".join(
        wording.step({"from": palette.catalogue.by_slug(r.start).name, "relation": r.kind,
                    "to": palette.catalogue.by_slug(r.end).name, "note": r.note})
        for r in steps
    )  # fmt: skip
    path = steps_in_words or "No short path of relations is on record"
    return f"{path}. Likeness of the whole smell: {alike:.2f} (1 is the same)."


def _head(data: dict[str, Any]) -> None:
    elements.words(data["name"], name="h1")
    numbers = ", ".join(data["cas_all"]) or "unknown"
    mass = f", {data['molar_mass']:.1f} g/mol" if data["molar_mass"] else ""
    elements.words(f"CAS {numbers} · {data['kind']}, {data['form']}{mass}", "lead")
    for line in materials.also_called(data["names"]):
        elements.words(line, "remark")
    for entry in data["prohibited"]:
        place = ", ".join(filter(None, (entry["reference"], entry["note"])))
        memory = ", from memory, unverified" if entry["basis"] == "memory" else ""
        elements.words(
            f"Prohibited by {names_of(entry['market'])}{f' ({place})' if place else ''}{memory}",
            "caution",
        )


def _smell(data: dict[str, Any]) -> None:
    with elements.tag("section"):
        elements.words("Smell", name="h2")
        with elements.tag("dl", "facts"):
            for degree, word in ((3, "leads with"), (2, "clearly"), (1, "a trace of")):
                named = [x for x in data["labels"] if x["strength"] == degree]
                if named:
                    elements.words(word, name="dt")
                    with elements.tag("dd"):
                        for x in named:
                            elements.link(x["facet"], f"/map?smell={quote(x['facet'])}", "smell-link").props[
                                "title"
                            ] = ", ".join(filter(None, (x["basis"], x["source"])))
        memory = sum(x["basis"] == "memory" for x in data["labels"])
        if data["labels"]:
            elements.words(f"{len(data['labels'])} labels, {memory} from memory", "remark")


def _figures(data: dict[str, Any]) -> None:
    rows: list[tuple[str, str, str]] = []
    if stay := data["lasting"]:
        band = f"{units.duration(stay['low'])} to {units.duration(stay['high'])}"
        rows.append(("on a strip, neat", f"{stay['position']}, {units.duration(stay['hours'])} ({band})",
                     _origin(stay)))  # fmt: skip
        if leading := stay["leading"]:
            rows.append(("its leading smell", materials.leading_words(leading), _origin(stay)))
    if own := data["strength"]:
        doubt = ", doubtful" if own["doubtful"] else ""
        rows.append(
            ("strength at 1 %", f"{own['value']:g} of 100, from a {own['rests_on']}{doubt}", _origin(own))
        )
    if used := data["use_level"]:
        level = f"{wording.percent(used['low'])} to {wording.percent(used['high'])} % of a concentrate"
        rows.append(("usual use", level, _origin(used)))
    titles = {"vapour_pressure": "vapour pressure, 25 C", "boiling_point": "boiling point",
              "melting_point": "melting point", "poucher_coefficient": "Poucher's coefficient"}  # fmt: skip
    for name, figures in data["figures"].items():
        for place, f in enumerate(figures):
            band = f" ({f['low']:.2g} to {f['high']:.2g})" if f["low"] is not None else ""
            title = "also on record" if place else titles.get(name, name)
            rows.append((title, f"{f['value']:.3g} {f['unit']}{band}", _origin(f)))
    for part in data["constituents"][:12]:
        rows.append((f"contains {part['name']}", f"{part['percent']:g} %", _origin(part)))
    _fact_table("Figures", "figure", rows)


def _practice(data: dict[str, Any]) -> None:
    rows = materials.practice_rows(data)
    if data["availability"]:
        rows.insert(0, ("availability", data["availability"], AVAILABILITY_BASIS))
    if rows:
        _fact_table("In practice", "quality", rows)


def _fact_table(title: str, head: str, rows: list[tuple[str, str, str]]) -> None:
    with elements.tag("section"):
        elements.words(title, name="h2")
        with elements.scrolled(title), elements.tag("table", "plain-table"):
            elements.table_head((head, "value", "rests on"))
            with elements.tag("tbody"):
                for name, value, origin in rows:
                    with elements.tag("tr"):
                        elements.words(name, name="th").props["scope"] = "row"
                        elements.words(value, name="td")
                        elements.words(origin, "origin-cell", "td")


def _origin(found: dict[str, Any]) -> str:
    return ", ".join(filter(None, (found.get("basis"), found.get("source"), found.get("note"))))


def _cautions(data: dict[str, Any]) -> None:
    if data["cautions"]:
        with elements.tag("section"):
            elements.words("At the bench", name="h2")
            for caution in data["cautions"]:
                elements.words(caution["text"], "caution")


def _sources(data: dict[str, Any]) -> None:
    if data["sources"]:
        with elements.tag("section"):
            elements.words("Sources", name="h2")
            for key, text in data["sources"].items():
                elements.words(f"{key}: {text}", "source")
