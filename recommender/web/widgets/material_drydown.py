"""One material as it dries on a strip, skin or cloth: its curves, and when each smell goes."""

from nicegui import run, ui

from recommender import regulation
from recommender.errors import RecommenderError
from recommender.evaporation.surfaces import Application
from recommender.formulas import curves
from recommender.formulas import formula as formulas
from recommender.formulas.curves import Drawing
from recommender.model import Material
from recommender.output import formulas as output
from recommender.output import wording
from recommender.palette import Palette
from recommender.web.server.session import PageSession
from recommender.web.widgets import chart, elements
from recommender.web.widgets.material_question import SURFACES
from recommender.web.widgets.typed_form import TypedForm
from recommender.workspace import Workspace

NARROW = "short wide"
HEADS = ("smell", "clear until", "gone by")
Shown = tuple[Drawing, list[tuple[str, str, str]], list[str]]


def drying(material: Material, palette: Palette, application: Application) -> Shown:
    """Return the curves of a neat material, each smell with its two ends in words, and notes; may raise."""
    formula = formulas.of_pairs(material.name, [(material.name, 1.0)], palette.catalogue)
    table = Workspace(palette=palette).drydown(formula, application=application)
    data = output.drydown(table)
    rows = [
        (facet, output.until(ends["clear"]), output.until(ends["just_there"], "never there"))
        for facet, ends in data["ends"].items()
    ]
    return curves.drawing(table), rows, list(data["notes"])


class MaterialDrydown:
    """The section of a card, drawn when it is opened."""

    def __init__(self, session: PageSession, material: Material) -> None:
        self.session, self.material, self.drawn = session, material, False
        with elements.tag("details", "drying") as details:
            elements.words("How it dries, on a strip, skin or cloth", name="summary")
            with elements.tag("div", "form"):
                form = self.form = TypedForm(self.draw)
                form.choice("surface", "neat,", SURFACES, next(iter(SURFACES)), aria="surface")
                form.text("load_mg", "with", hint="20 by default", numeric=True, unit="mg", classes=NARROW,
                          aria="what is put on in mg")  # fmt: skip
                form.text("area_cm2", "on", hint="5 by default", numeric=True, unit="cm2", classes=NARROW,
                          aria="area in cm2")  # fmt: skip
                form.text("room_c", "room", hint="25 by default", numeric=True, unit="C", classes=NARROW,
                          aria="room temperature in C")  # fmt: skip
                form.text("dosage_percent", "as", hint="neat by default", numeric=True, classes=NARROW,
                          unit="% in ethanol", aria="dosage in ethanol in per cent")  # fmt: skip
                elements.button("Draw", self.draw, "main")
            form.end()
            with elements.tag(
                "div", "chart", role="img", aria_label=f"Drydown of {material.name}"
            ) as self.box:
                self.chart = ui.echart({}, renderer="svg")
            self.rows = elements.tag("div")
        self.box.set_visibility(False)
        details.on("toggle", self._opened, js_handler="(e) => { if (e.target.open) emit(); }")

    async def _opened(self) -> None:
        if not self.drawn:
            await self.draw()

    def application(self) -> Application:
        """Return how it is put on, as typed; raises `BadValue`."""
        form = self.form
        dosage = form.percent("dosage_percent")
        if dosage is not None:
            dosage = regulation.checked_dosage(dosage)
        numbers = {name: form.number(name) for name in ("load_mg", "area_cm2", "room_c")}
        return Application(form.values["surface"], **numbers, dosage_percent=dosage)

    async def draw(self) -> None:
        """Draw it as it is typed."""
        self.form.fine()
        try:
            application = self.application()
            palette = self.session.workspace.palette
            shown: Shown | None = await run.io_bound(drying, self.material, palette, application)
        except RecommenderError as error:
            self.form.complain(error)
            return
        if shown is None:  # the page is closing
            return
        drawing, rows, notes = shown
        self.drawn = True
        self.box.set_visibility(True)
        self.chart.options.clear()
        self.chart.options.update(chart.options(drawing))
        where = wording.on(application.surface)
        self.chart.options["xAxis"]["name"] = f"time on {where}"
        self.chart.update()
        self.rows.clear()
        with self.rows:
            with elements.tag(
                "div", "scroll", tabindex="0", role="region", aria_label="When each smell goes"
            ):
                elements.plain_table(HEADS, rows)
            for note in notes:
                elements.words(note, "remark")
