"""Which address shows which view."""

from nicegui import Client, app, ui
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from recommender.web.pages.formula_page import FormulaPage
from recommender.web.pages.frame import ICON, assets, frame, word_lists
from recommender.web.pages.map_page import MapPage
from recommender.web.pages.material_page import MaterialPage
from recommender.web.pages.shelf_page import ShelfPage
from recommender.web.pages.trials_page import TrialsPage
from recommender.web.server.memory import EVERY_S
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
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

    @ui.page("/map")
    def likeness_map(smell: str = "", position: str = "", at: str = "") -> None:
        word_lists(session.workspace.palette)
        with frame(session, "map", "Map"):
            MapPage(session, smell, position, at)

    @ui.page("/trials")
    def trials(of: str = "") -> None:
        word_lists(session.workspace.palette)
        with frame(session, "trials", "Trials"):
            TrialsPage(session, of)

    @ui.page("/shelf")
    def shelf() -> None:
        word_lists(session.workspace.palette)
        with frame(session, "shelf", "Shelf"):
            ShelfPage(session)

    @ui.page("/material/{slug}")
    def material(slug: str) -> None:
        palette = session.workspace.palette
        catalogue = palette.catalogue
        word_lists(palette)
        with frame(session, slug, "Map"):
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
            FormulaPage(session, session.jobs, draft)
