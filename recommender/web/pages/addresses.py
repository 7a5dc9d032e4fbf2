"""Which address shows which view."""

from contextlib import suppress
from typing import Annotated

from fastapi import Query
from nicegui import Client, app, ui
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from recommender.errors import BadNotebook
from recommender.notebook import is_missing
from recommender.web.pages.beside_page import BesidePage
from recommender.web.pages.formula_page import FormulaPage
from recommender.web.pages.formulas_page import FormulasPage
from recommender.web.pages.frame import ICON, assets, frame, word_lists
from recommender.web.pages.limits_page import LimitsPage
from recommender.web.pages.map_page import MapPage
from recommender.web.pages.material_page import MaterialPage
from recommender.web.pages.materials_page import MaterialsPage
from recommender.web.pages.nose_page import NosePage
from recommender.web.pages.notebook_page import NotebookPage
from recommender.web.pages.own_materials_page import OwnMaterialsPage
from recommender.web.pages.removed_page import RemovedPage
from recommender.web.pages.shelf_page import ShelfPage
from recommender.web.pages.strips_page import StripsPage
from recommender.web.pages.trials_page import TrialsPage
from recommender.web.server.memory import EVERY_S
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.first_visit import first_example, hints
from recommender.web.widgets.formula_picker import formula_choices

__all__ = ["ICON", "register"]


def register(session: PageSession) -> None:
    """Register all views over one notebook."""
    assets()
    app.on_shutdown(session.jobs.end)
    app.timer(EVERY_S, session.waiting.give_back)

    @ui.page("/")
    def start() -> None:
        if found := session.listed():
            show_formula(str(found[0][0]))
            return
        if is_missing(session.path):
            with suppress(BadNotebook):  # without a place to store it there is no example to change
                show_formula(str(first_example(session).id))
                return
        with frame(session, "", "Formula"), elements.tag("section", "start"):
            elements.words("Which smell of your formula dies when, and what keeps it alive?", name="h1")
            elements.words(
                "Open an example, a file of yours, or start with an empty sheet. Each cell is saved as "
                "soon as you leave it; nothing leaves this machine.",
                "lead",
            )
            formula_choices(session)

    @ui.page("/formula/{key:path}")
    def formula(key: str) -> None:
        show_formula(key)

    @ui.page("/first")
    def first() -> None:
        show_formula(str(first_example(session).id))

    @ui.page("/map")
    def likeness_map(smell: str = "", position: str = "", at: str = "", of: str = "") -> None:
        word_lists(session.workspace.palette)
        with frame(session, "map", "Map"):
            MapPage(session, smell, position, at, of)

    @ui.page("/trials")
    def trials(of: str = "") -> None:
        word_lists(session.workspace.palette)
        with frame(session, "trials", "Trials"):
            TrialsPage(session, of)

    @ui.page("/strips")
    def strips() -> None:
        word_lists(session.workspace.palette)
        with frame(session, "strips", "Trials"):
            StripsPage(session)

    @ui.page("/shelf")
    def shelf() -> None:
        word_lists(session.workspace.palette)
        with frame(session, "shelf", "Shelf"):
            ShelfPage(session)

    @ui.page("/materials")
    def all_materials(smell: str = "", named: str = "") -> None:
        word_lists(session.workspace.palette)
        with frame(session, "materials", "Materials"):
            MaterialsPage(session, smell, named)

    @ui.page("/beside")
    def beside(m: Annotated[list[str] | None, Query()] = None) -> None:
        word_lists(session.workspace.palette)
        with frame(session, "side by side", "Materials"):
            BesidePage(session, m or ())

    @ui.page("/own-materials")
    def own_materials() -> None:
        word_lists(session.workspace.palette)
        with frame(session, "own materials", "Materials"):
            OwnMaterialsPage(session)

    @ui.page("/nose")
    def nose() -> None:
        word_lists(session.workspace.palette)
        with frame(session, "nose", "Materials"):
            NosePage(session)

    @ui.page("/limits")
    def limits(of: str = "") -> None:
        word_lists(session.workspace.palette)
        with frame(session, "limits", "Materials"):
            LimitsPage(session, of)

    @ui.page("/notebook")
    def notebook() -> None:
        with frame(session, "notebook", "Notebook"):
            NotebookPage(session)

    @ui.page("/removed")
    def removed() -> None:
        with frame(session, "removed", "Notebook"):
            RemovedPage(session)

    @ui.page("/formulas")
    def all_formulas() -> None:
        with frame(session, "formulas", "Notebook"):
            FormulasPage(session)

    @ui.page("/material/{slug}")
    def material(slug: str) -> None:
        palette = session.workspace.palette
        catalogue = palette.catalogue
        word_lists(palette)
        with frame(session, slug, "Materials"):
            if slug in catalogue.index:
                MaterialPage(session, catalogue.by_slug(slug))
            else:
                elements.words("No material has this key", name="h1")
                elements.link("Look for it on the map", "/map")

    @app.exception_handler(404)
    async def missing(request: Request, error: Exception) -> Response:
        if request.scope.get("endpoint") is not None:  # a file of a page, not an address that was typed
            detail = error.detail if isinstance(error, HTTPException) else "not found"
            return JSONResponse({"detail": detail}, 404)
        client = Client(ui.page(""), request=request)
        with client, frame(session, "Not here", ""), elements.tag("section", "start"):
            elements.words("There is no such page", name="h1")
            elements.words(f"Nothing is at {request.url.path}. All formulas are listed here.", "lead")
            elements.link("Go to the formula that was open last", "/")
            formula_choices(session)
        return client.build_response(request, 404)

    def show_formula(key: str) -> None:
        draft = session.at(key)
        if draft is None:
            with frame(session, "", "Formula"), elements.tag("section", "start"):
                elements.words(f"No formula called {key} is on the page", name="h1")
                elements.words("It may have been removed or renamed; what there is, is listed here.", "lead")
                formula_choices(session)
            return
        session.mark_opened(draft)
        word_lists(session.workspace.palette)
        with frame(session, draft.name, "Formula"):
            hints(session, draft)
            FormulaPage(session, session.jobs, draft)
