"""Which formula to work on: those on the page, saved versions, examples, a file, or a new one."""

from collections.abc import Callable
from functools import partial

from nicegui import events, ui
from nicegui.elements.dialog import Dialog

from recommender.errors import RecommenderError
from recommender.evidence.intake import MOST_BYTES
from recommender.notebook.drafts import Draft
from recommender.notebook.formulas import SavedVersion
from recommender.web.server.guard import TOO_LARGE
from recommender.web.server.jobs import JobFailed
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.removed_list import removed_list

COLUMNS = (
    "CSV, XLSX, XLS or ODS with the columns material and parts (or Name, Grams, Menge, Quantité ...) "
    "and where needed dilution, solvent, CAS and note."
)


def path_of(number: int) -> str:
    """Return where a formula is worked on: its number, because a name may have any sign in it."""
    return f"/formula/{number}"


def picker_dialog(session: PageSession) -> Dialog:
    """Return the dialog; open it with `open`."""
    with ui.dialog() as dialog, ui.card().classes("sheet"):
        dialog.props["aria-label"] = "Open a formula"
        with elements.tag("div", "sheet-head"):
            elements.words("Open a formula", name="h2")
            elements.button("×", dialog.close, "plain sign", label="Close")
        content = elements.tag("div")

    def fill() -> None:
        content.clear()
        with content:
            formula_choices(session)

    dialog.on("before-show", fill)
    fill()
    return dialog


def formula_choices(session: PageSession) -> None:
    """List everything that can be opened, and formulas that were taken off the page."""
    outcome, lists = elements.tag("div", role="status"), elements.tag("div")

    def again() -> None:
        lists.clear()
        with lists:
            list_formulas()

    def opened(draft: Draft) -> None:
        ui.navigate.to(path_of(draft.id))

    def opening(act: Callable[[], Draft]) -> Callable[[], None]:
        def go() -> None:
            outcome.clear()
            try:
                opened(act())
            except RecommenderError as error:
                refused(sentence(error))

        return go

    def refused(text: str) -> None:
        with outcome:
            elements.words(text, "wrong")

    def list_formulas() -> None:
        if here := session.listed():
            elements.words("On the page", name="h3")
            with elements.tag("ul", "choices"):
                for number, name in here:
                    with elements.tag("li"):
                        elements.link(name, path_of(number))
                        elements.button(
                            "×", partial(taken_off, number), "plain sign", label=f"Take {name} off the page"
                        )
        if saved := session.workspace.formulas.versions():
            elements.words("Saved versions", name="h3")
            with elements.tag("ul", "choices saved"):
                for last in saved:
                    with elements.tag("li"):
                        _version_choice(session, last, opening)
        removed_list(
            session.workspace.removed.entries("formula"), session.workspace.palette.catalogue, brought_back
        )

    def taken_off(number: int) -> None:
        draft = session.get(number)
        taken = session.remove(draft)
        again()
        with outcome:
            elements.words(f"{draft.name} is off the page; its saved versions stay.", "remark")
            if taken is not None:
                elements.button("Undo", partial(brought_back, taken), "small")

    def brought_back(number: int) -> None:
        outcome.clear()
        try:
            session.workspace.removed.bring_back(number)
        except RecommenderError as error:
            refused(sentence(error))
            return
        again()

    async def uploaded(event: events.UploadEventArguments) -> None:
        try:
            draft, notes = await session.upload(event.file.name, await event.file.read())
        except RecommenderError as error:
            refused(sentence(error))
            return
        except JobFailed as error:
            refused(str(error))
            return
        if not notes:
            opened(draft)
            return
        with outcome:
            for note in notes:
                elements.words(note, "remark")
            elements.link(f"Open {draft.name}", path_of(draft.id))

    again()
    elements.words("Examples of an invented studio", name="h3")
    with elements.tag("ul", "choices"):
        for name, file in session.demo.items():
            with elements.tag("li"):
                act = opening(partial(session.open_example, file))
                elements.button(name.replace("_", " "), act, "as-link",
                             label=f"Open the example {name.replace('_', ' ')}")  # fmt: skip
    elements.words("Your own", name="h3")
    upload = ui.upload(
        on_begin_upload=outcome.clear,
        on_upload=uploaded,
        on_rejected=lambda: refused(TOO_LARGE),
        max_file_size=MOST_BYTES,
        auto_upload=True,
        multiple=True,
    ).classes("hidden")
    upload.props["accept"] = ".csv,.tsv,.txt,.xlsx,.xlsm,.xls,.ods"
    with elements.tag("div", "own-acts"):
        elements.button("New, empty", opening(session.open_empty), "small")
        elements.button("Upload files…", lambda: upload.run_method("pickFiles"), "small")
    elements.words(COLUMNS, "remark")  # fmt: skip


def _version_choice(
    session: PageSession, last: SavedVersion, opening: Callable[[Callable[[], Draft]], Callable[[], None]]
) -> None:
    """Offer the last version of a name, and those before it in a list that opens."""

    def offer(one: SavedVersion) -> None:
        act = opening(partial(session.open_version, one))
        elements.button(one.title, act, "as-link", label=f"Open {one.title}")
        about = f"{one.when[:10]}, {one.note}" if one.note else one.when[:10]
        elements.words(about, "remark", "span")

    offer(last)
    if last.number > 1:
        with elements.tag("details"):
            elements.words(f"older versions of {last.name}", name="summary")
            with elements.tag("ul", "choices"):
                for one in reversed(session.workspace.formulas.versions(last.name)[:-1]):
                    with elements.tag("li"):
                        offer(one)
