"""Which formula to work on: those on the page, saved versions, examples, a file, or a new one."""

from functools import partial
from pathlib import Path
from urllib.parse import quote

from nicegui import events, ui
from nicegui.elements.dialog import Dialog

from recommender.errors import RecommenderError
from recommender.evidence.intake import MOST_BYTES
from recommender.notebook.formulas import SavedVersion
from recommender.web.server.guard import TOO_LARGE
from recommender.web.server.jobs import JobFailed
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence

COLUMNS = (
    "CSV, XLSX, XLS or ODS with the columns material and parts (or Name, Grams, Menge, Quantité ...) "
    "and where needed dilution, solvent, CAS and note."
)


def path_of(name: str) -> str:
    """Return where a formula is worked on."""
    return f"/formula/{quote(name, safe='')}"


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
    """List everything that can be opened."""
    outcome = elements.tag("div", role="status")

    def opened(name: str) -> None:
        ui.navigate.to(path_of(name))

    def open_file(file: Path) -> None:
        opened(session.import_file(file.name, file.read_bytes()).name)

    def open_version(one: SavedVersion) -> None:
        opened(session.open_version(one).name)

    def refused(text: str) -> None:
        with outcome:
            elements.words(text, "wrong")

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
            opened(draft.name)
            return
        with outcome:
            for note in notes:
                elements.words(note, "remark")
            elements.link(f"Open {draft.name}", path_of(draft.name))

    if names := session.names():
        elements.words("On the page", name="h3")
        with elements.tag("ul", "choices"):
            for name in names:
                with elements.tag("li"):
                    elements.link(name, path_of(name))
    if saved := session.workspace.formulas.versions():
        elements.words("Saved versions", name="h3")
        with elements.tag("ul", "choices"):
            for one in saved:
                with elements.tag("li"):
                    elements.button(one.title, partial(open_version, one), "as-link")
    elements.words("Examples of an invented studio", name="h3")
    with elements.tag("ul", "choices"):
        for name, file in session.demo.items():
            with elements.tag("li"):
                elements.button(name.replace("_", " "), partial(open_file, file), "as-link",
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
        elements.button("New, empty", lambda: opened(session.create("untitled", [{}]).name), "small")
        elements.button("Upload files…", lambda: upload.run_method("pickFiles"), "small")
    elements.words(COLUMNS, "remark")  # fmt: skip
