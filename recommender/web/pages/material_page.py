"""The card of a material: everything known with basis and source, and the person's own note on its smell."""

from functools import partial
from typing import Any
from urllib.parse import quote

from nicegui import ui

from recommender import units
from recommender.errors import RecommenderError
from recommender.evidence.markets import names_of
from recommender.model import Material
from recommender.output import materials, wording
from recommender.palette import Palette
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.removed_list import removed_list

STRENGTHS = {"": "as the table has it", "much weaker": "much weaker", "weaker": "weaker",
             "stronger": "stronger", "much stronger": "much stronger"}  # fmt: skip
MOST_RELATIONS = 14


class MaterialPage:
    """One tab that shows one material."""

    def __init__(self, session: PageSession, material: Material) -> None:
        self.session, self.material = session, material
        self.message = elements.Message()
        self.box = elements.tag("div", "card-page")
        self.show()

    def show(self) -> None:
        """Show the card as it is now."""
        palette = self.session.workspace.palette
        self.material = palette.catalogue.by_slug(self.material.slug)
        data = materials.card(palette, self.material)
        self.box.clear()
        with self.box:
            _head(data)
            with elements.tag("div", "two"):
                with elements.tag("div"):
                    _smell(data)
                    self._nose(palette)
                    _cautions(data)
                with elements.tag("div"):
                    _figures(data)
            self._relations(data, palette)
            _sources(data)

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
            smells = ", ".join(f"{x.facet} {x.strength}" for x in own.labels) if own else ""
            wrong = elements.words("", "wrong")
            wrong.props["role"] = "alert"
            wrong.set_visibility(False)
            with elements.tag("div", "form stacked"):
                fields = {
                    "smells": self._asked("it smells of", smells, "bitter almond 3, hay 1"),
                    "like": self._asked("it smells like", "", "2 vanillin, 1 coumarin"),
                    "denied": self._asked("and not of", ", ".join(own.denied) if own else "", "violet"),
                    "words": self._asked(
                        "in your words", own.words if own else "", "dusty, like an old book"
                    ),
                }
                strength = {"strength": own.strength if own else ""}
                ticked = {"also": bool(own and own.adds), "blind": bool(own and own.blind)}
                with elements.tag("div", "labelled"):
                    elements.words("it is", "label", "span")
                    elements.choice("how strong it is to you", STRENGTHS, strength["strength"],
                                 lambda value: strength.update(strength=value))  # fmt: skip
                elements.tick("added to the table's smells, not in their place", ticked["also"],
                           lambda value: ticked.update(also=value))  # fmt: skip
                elements.tick("I cannot smell it", ticked["blind"], lambda value: ticked.update(blind=value))

            def save() -> None:
                try:
                    typed = {name: (field.value or "").strip() for name, field in fields.items()}
                    also = ticked["also"] and bool(typed["smells"] or typed["like"])
                    nose = self.session.workspace.nose
                    nose.add(self.material, **typed, **strength, also=also, blind=ticked["blind"])
                except RecommenderError as error:
                    elements.say(wrong, sentence(error))
                    return
                self.message.show("")
                self.show()

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
                elements.button("Save this note", save, "main")
                if own is not None:
                    elements.button("Remove it", remove, "small")
            older = [
                one for one in self.session.workspace.removed.entries("note") if one.key == self.material.slug
            ]
            removed_list(older, palette.catalogue, self._back)

    def _back(self, number: int) -> None:
        try:
            self.session.workspace.removed.bring_back(number)
            self.message.show(f"Your note on {self.material.name} counts again.")
        except RecommenderError as error:
            self.message.show(sentence(error))
        self.show()

    def _asked(self, label: str, value: str, hint: str) -> ui.input:
        with elements.tag("div", "labelled"):
            elements.words(label, "label", "span")
            return elements.field(label, value, hint=hint, classes="long")

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
    with elements.tag("section"):
        elements.words("Figures", name="h2")
        box = elements.tag("div", "scroll", tabindex="0", role="region", aria_label="Figures")
        with box, elements.tag("table", "plain-table"):
            elements.table_head(("figure", "value", "rests on"))
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
