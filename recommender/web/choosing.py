"""Which formula to work on: those on the page, saved versions, examples, a file, or a new one."""

from functools import partial
from pathlib import Path
from urllib.parse import quote

from nicegui import events, ui
from nicegui.elements.dialog import Dialog

from recommender.errors import RecommenderError
from recommender.notebook.formulas import SavedVersion
from recommender.web import parts
from recommender.web.desk import PageSession
from recommender.web.error_words import sentence

COLUMNS = (
    "CSV or XLSX with the columns material and parts, and where needed dilution_percent, solvent and note."
)


def path_of(name: str) -> str:
    """Return where a formula is worked on."""
    return f"/formula/{quote(name, safe='')}"


def chooser(desk: PageSession) -> Dialog:
    """Return the dialog; open it with `open`."""
    with ui.dialog() as dialog, ui.card().classes("sheet"):
        dialog.props["aria-label"] = "Open a formula"
        with parts.tag("div", "sheet-head"):
            parts.words("Open a formula", name="h2")
            parts.button("×", dialog.close, "plain sign", label="Close")
        content = parts.tag("div")

    def fill() -> None:
        content.clear()
        with content:
            choices(desk)

    dialog.on("before-show", fill)
    fill()
    return dialog


def choices(desk: PageSession) -> None:
    """List everything that can be opened."""
    message = parts.words("", "wrong")
    message.props["role"] = "alert"
    message.set_visibility(False)
    after_notes = parts.tag("div")

    def opened(name: str) -> None:
        ui.navigate.to(path_of(name))

    def open_file(file: Path) -> None:
        opened(desk.import_file(file.name, file.read_bytes()).name)

    def open_version(one: SavedVersion) -> None:
        opened(desk.open_version(one).name)

    async def uploaded(event: events.UploadEventArguments) -> None:
        notes: list[str] = []
        try:
            draft = desk.import_file(event.file.name, await event.file.read(), notes)
        except RecommenderError as error:
            parts.say(message, sentence(error))
            return
        if not notes:
            opened(draft.name)
            return
        parts.say(message, " ".join(notes))
        after_notes.clear()
        with after_notes:
            parts.link(f"Open {draft.name}", path_of(draft.name))

    if names := desk.names():
        parts.words("On the page", name="h3")
        with parts.tag("ul", "choices"):
            for name in names:
                with parts.tag("li"):
                    parts.link(name, path_of(name))
    if saved := desk.saved():
        parts.words("Saved versions", name="h3")
        with parts.tag("ul", "choices"):
            for one in saved:
                with parts.tag("li"):
                    parts.button(one.title, partial(open_version, one), "as-link")
    parts.words("Examples of an invented studio", name="h3")
    with parts.tag("ul", "choices"):
        for name, file in desk.demo.items():
            with parts.tag("li"):
                parts.button(name.replace("_", " "), partial(open_file, file), "as-link",
                             label=f"Open the example {name.replace('_', ' ')}")  # fmt: skip
    parts.words("Your own", name="h3")
    upload = ui.upload(on_upload=uploaded, auto_upload=True, multiple=True).classes("hidden")
    upload.props["accept"] = ".csv,.tsv,.txt,.xlsx,.xlsm"
    with parts.tag("div", "own-acts"):
        parts.button("New, empty", lambda: opened(desk.create("untitled", [{}]).name), "small")
        parts.button("Upload files…", lambda: upload.run_method("pickFiles"), "small")
    parts.words(COLUMNS, "remark")  # fmt: skip
