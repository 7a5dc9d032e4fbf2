"""Which address shows which view."""

from nicegui import app, ui

from recommender.web import parts
from recommender.web.bench_page import BenchPage
from recommender.web.card_page import CardPage
from recommender.web.choosing import choices
from recommender.web.desk import PageSession
from recommender.web.frame import ICON, assets, frame, word_lists
from recommender.web.jobs import Helpers
from recommender.web.map_page import MapPage
from recommender.web.shelf_page import ShelfPage
from recommender.web.trials_page import TrialsPage

__all__ = ["ICON", "register"]


def register(desk: PageSession) -> None:
    """Register all views over one notebook."""
    helpers = Helpers()
    assets()
    app.on_shutdown(helpers.end)

    @ui.page("/")
    def start() -> None:
        names = desk.names()
        if names:
            show_formula(names[0])
            return
        with frame(desk, "", "Formula"), parts.tag("section", "start"):
            parts.words("Which smell of your formula dies when, and what keeps it alive?", name="h1")
            parts.words("Open an example, a file of yours, or start with an empty sheet. Everything you type "
                        "is saved at once; nothing leaves this machine.", "lead")  # fmt: skip
            choices(desk)

    @ui.page("/formula/{name}")
    def formula(name: str) -> None:
        show_formula(name)

    @ui.page("/map")
    def likeness_map(smell: str = "", position: str = "", at: str = "") -> None:
        word_lists(desk.workspace.palette)
        with frame(desk, "map", "Map"):
            MapPage(desk, smell, position, at)

    @ui.page("/trials")
    def trials(of: str = "") -> None:
        word_lists(desk.workspace.palette)
        with frame(desk, "trials", "Trials"):
            TrialsPage(desk, of)

    @ui.page("/shelf")
    def shelf() -> None:
        word_lists(desk.workspace.palette)
        with frame(desk, "shelf", "Shelf"):
            ShelfPage(desk)

    @ui.page("/material/{slug}")
    def material(slug: str) -> None:
        palette = desk.workspace.palette
        catalogue = palette.catalogue
        word_lists(palette)
        with frame(desk, slug, "Map"):
            if slug in catalogue.index:
                CardPage(desk, catalogue.by_slug(slug))
            else:
                parts.words("No material has this key", name="h1")
                parts.link("Look for it on the map", "/map")

    def show_formula(name: str) -> None:
        draft = desk.find(name)
        if draft is None:
            with frame(desk, "", "Formula"), parts.tag("section", "start"):
                parts.words(f"No formula called {name} is on the page", name="h1")
                choices(desk)
            return
        desk.mark_opened(draft)
        word_lists(desk.workspace.palette)
        with frame(desk, draft.name, "Formula"):
            BenchPage(desk, helpers, draft)
