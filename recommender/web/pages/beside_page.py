"""Materials side by side: their strips at one hour, and first amounts of each for a balance."""

from collections.abc import Sequence

from nicegui import ui

from recommender import regulation, units
from recommender.errors import RecommenderError
from recommender.formulas import comparison
from recommender.formulas.comparison import FirstAmount
from recommender.model import Material
from recommender.output import formulas
from recommender.regulation import ProductUse
from recommender.web.server import open_formulas
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.material_question import product_fields
from recommender.web.widgets.sub_menu import sub_menu
from recommender.web.widgets.typed_form import TypedForm

FEWEST = 3
"""Fields for materials at the start."""


class BesidePage:
    """One tab that compares materials."""

    def __init__(self, session: PageSession, names: Sequence[str] = ()) -> None:
        self.session, self.amounts = session, list[FirstAmount]()
        sub_menu("Materials", "Side by side")
        elements.words("Materials side by side", name="h1")
        elements.words("Which overpowers, which is hidden, and how much of each to try first.", "remark")
        self.names = TypedForm(self.compare)
        with elements.tag("div", "form") as self.fields:
            pass
        for place in range(max(FEWEST, len(names))):
            self._another(names[place] if place < len(names) else "")
        elements.button("Another material", self._another, "small")
        with elements.tag("section", "beside", aria_labelledby="strips-head"):
            elements.words("Strips at 1 %", name="h2").props["id"] = "strips-head"
            with elements.tag("div", "form"):
                self.strips = TypedForm(self.compare)
                self.strips.text("hours", "smelled after", "1 min", "such as 8h", classes="short wide")
                elements.button("Compare the strips", self.compare, "main")
            self.strips.end()
            self.compared = elements.tag("div", role="status")
        with elements.tag("section", "beside", aria_labelledby="dose-head"):
            elements.words("First amounts", name="h2").props["id"] = "dose-head"
            with elements.tag("div", "form"):
                form = self.doses = TypedForm(self.dose)
                form.text("balance", "balance", "", "such as almond 2, vanilla 1",
                          aria="how strong each should smell")  # fmt: skip
                form.text(
                    "batch_g", "of", "10 g", "such as 10 g", classes="short wide", aria="size of the trial"
                )
                form.text("resolution_g", "weighed to", "0.01 g", "such as 0.01 g", classes="short wide",
                          aria="last digit of the balance")  # fmt: skip
                elements.button("Propose amounts", self.dose, "main")
            with elements.tag("details", "filters"):
                elements.words("The finished product", name="summary")
                with elements.tag("div", "form"):
                    product_fields(form, session)
            form.end()
            self.proposed = elements.tag("div", role="status")

    def _another(self, name: str = "") -> None:
        place = len(self.names.fields) + 1
        with self.fields:
            self.names.text(f"material {place}", f"{place}.", name, "name or CAS number", "names",
                            aria=f"material {place}")  # fmt: skip

    def materials(self) -> list[Material]:
        """Return the materials that are named, blank fields aside; raises `UnknownMaterial`, `WrongCas`."""
        return [self.session.workspace.material(name) for name in self.names.values.values() if name]

    def _named(self, form: TypedForm, fewest: int) -> list[Material] | None:
        """Return the materials, None where something is wrong, which is shown then."""
        form.fine()
        self.names.fine()
        try:
            found = self.materials()
        except RecommenderError as error:
            self.names.complain(error)
            return None
        if len(found) < fewest:
            blank = next(name for name, text in self.names.values.items() if not text)
            wanted = "name two or more" if fewest > 1 else "name at least one"
            self.names.say(blank, f"{wanted[0].upper()}{wanted[1:]} materials.")
            return None
        return found

    def compare(self) -> None:
        """Show the strips beside each other."""
        found = self._named(self.strips, 2)
        self.compared.clear()
        if found is None:
            return
        try:
            hours = self.strips.read("hours", units.hours_of)
            strips = self.session.workspace.strips(found, 1 / 60 if hours is None else hours)
        except RecommenderError as error:
            self.strips.complain(error)
            return
        rows = [formulas.strip_row(strip) for strip in strips]
        with self.compared, elements.tag("div", "scroll", tabindex="0", role="region", aria_label="Strips"):
            elements.plain_table(
                ("material", "alone, of 100", "beside the others", "mean likeness", "only it has", "verdict"),
                [
                    (row["name"], _shown(row["alone"]), _shown(row["beside"]), f"{row['likeness']:.2f}",
                     ", ".join(row["own_facets"]), row["verdict"])
                    for row in rows
                ],
            )  # fmt: skip

    def dose(self) -> None:
        """Show a first amount of each."""
        found = self._named(self.doses, 1)
        self.proposed.clear()
        if found is None:
            return
        form = self.doses
        try:
            values = form.values
            day = regulation.checked_day(values["on"])
            use = ProductUse(form.percent("dosage_percent"), values["category"], values["market"], day)
            batch, digit = form.read("batch_g", units.mass_of), form.read("resolution_g", units.mass_of)
            self.amounts = self.session.workspace.dose(
                found,
                comparison.balance_of(values["balance"]),
                batch_g=10.0 if batch is None else batch,
                resolution_g=0.01 if digit is None else digit,
                use=use,
                share_percent=form.percent("share_percent"),
            )
        except RecommenderError as error:
            form.complain(error)
            return
        rows = [formulas.first_words(one) for one in self.amounts]
        with self.proposed:
            with elements.tag("div", "scroll", tabindex="0", role="region", aria_label="First amounts"):
                elements.plain_table(
                    ("material", "balance", "parts of 1000", "usual", "weigh"),
                    [
                        (row["name"], f"{row['balance']:g}", _shown(row["parts"]), row["used"], row["weigh"])
                        for row in rows
                    ],
                )
            for note in formulas.dose_notes(self.amounts):
                elements.words(note, "remark")
            elements.button("Put them into a new formula", self.put, "small")

    def put(self) -> None:
        """Open a new formula with the amounts."""
        lines = [
            {
                "material": one.material.name,
                "parts": f"{one.parts / ((one.dilution_percent or 100.0) / 100.0):.3g}" if one.parts else "",
                "dilution_percent": f"{one.dilution_percent:g}" if one.dilution_percent else "",
            }
            for one in self.amounts
        ]
        ui.navigate.to(open_formulas.address(self.session.create("untitled", lines)))


def _shown(value: float | None) -> str:
    return "unknown" if value is None else f"{value:.3g}"
