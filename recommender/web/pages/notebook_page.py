"""The notebook: where it is and what is in it, copies of it, and putting one back."""

from collections.abc import Callable, Mapping
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

from nicegui import run, ui

from recommender.errors import RecommenderError
from recommender.notebook import backup
from recommender.notebook.csv_folder import counts
from recommender.web.server import notebook_files
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.sub_menu import sub_menu
from recommender.web.widgets.upload_button import upload_button

NONE_YET = "There is no notebook yet: it is made with the first thing that you write."
COPY = (
    "A copy is one file with everything in it. Putting one back takes the place of all that is here; what is "
    "here is moved into a file beside it, and can be put back."
)
TABLES = "The same as one CSV file for each table, in a ZIP archive, for a spreadsheet or another program."
Taken = Callable[[], Any]


CONTENTS = {
    "formulas": ("saved formula", "saved formulas"),
    "formula_versions": ("version of them", "versions of them"),
    "drafts": ("formula on the page", "formulas on the page"),
    "bottles": ("bottle", "bottles"),
    "trials": ("trial", "trials"),
    "strips": ("strip", "strips"),
    "notes": ("note of your nose", "notes of your nose"),
    "materials": ("own material", "own materials"),
    "limit_tables": ("table of limits", "tables of limits"),
    "removed": ("thing removed", "things removed"),
}
"""Table of the notebook -> one row and several rows of it in words; other tables hold parts of these."""


def contents(counts: Mapping[str, int]) -> str:
    """Return in words how much of what is in a notebook, from the number of rows of each table."""
    return ", ".join(f"{counts[name]} {one if counts[name] == 1 else many}"
                     for name, (one, many) in CONTENTS.items())  # fmt: skip


class NotebookPage:
    """One tab on the notebook as a whole."""

    def __init__(self, session: PageSession) -> None:
        self.session, self.path = session, session.path
        sub_menu("Notebook", "Copies")
        elements.words("Your notebook", name="h1")
        self.message = elements.Message()
        self.about = elements.tag("div")
        with elements.tag("section", "own-note", aria_labelledby="copy-head"):
            elements.words("A copy", name="h2").props["id"] = "copy-head"
            elements.words(COPY, "remark")
            with elements.tag("div", "own-acts"):
                elements.button("Save a copy", self.save_copy, "main")
                upload_button("Put a copy back…", ".sqlite,.db", self.copy_given, self.message.show)
        with elements.tag("section", "own-note", aria_labelledby="tables-head"):
            elements.words("As tables", name="h2").props["id"] = "tables-head"
            elements.words(TABLES, "remark")
            with elements.tag("div", "own-acts"):
                elements.button("Save as tables (ZIP)", self.save_tables, "main")
                upload_button("Read tables back…", ".zip", self.tables_given, self.message.show)
        self.asked = elements.tag("div", role="alertdialog", aria_label="Replace what is here?")
        self.show()

    def show(self) -> None:
        """Show where the notebook is, and how much is in it."""
        self.about.clear()
        with self.about:
            elements.words(str(self.path), "where")
            with self.session.workspace.reading() as db:
                found = counts(db) if db is not None else None
            if found is None:
                elements.words(NONE_YET, "empty")
                return
            elements.words(f"What is in it: {contents(found)}.")

    async def save_copy(self) -> None:
        """Download a copy."""
        await self._download(notebook_files.copy_of, "sqlite", "application/vnd.sqlite3")

    async def save_tables(self) -> None:
        """Download the tables."""
        await self._download(notebook_files.archive_of, "zip", "application/zip")

    async def _download(self, make: Callable[[Path], bytes], ending: str, kind: str) -> None:
        try:
            content: bytes | None = await run.io_bound(make, self.path)
        except RecommenderError as error:
            self.message.show(sentence(error))
            return
        if content is not None:
            ui.download.content(content, f"notebook-{date.today().isoformat()}.{ending}", kind)

    async def copy_given(self, name: str, content: bytes) -> None:
        """Ask before a copy takes the place of what is here."""
        self._ask(name, partial(self._put_back, _restored, name, content))

    async def tables_given(self, name: str, content: bytes) -> None:
        """Ask before tables take the place of what is here."""
        self._ask(name, partial(self._put_back, _imported, name, content))

    def _ask(self, name: str, act: Taken) -> None:
        self.asked.clear()
        with self.asked, elements.tag("div", "own-note"):
            elements.words(f"Put {name} in the place of everything that is here?", name="h2")
            with elements.tag("div", "own-acts"):
                yes = elements.button("Replace it", act, "main")
                elements.button("Leave it as it is", self.asked.clear, "small")
        ui.run_javascript(f"setTimeout(() => getHtmlElement({yes.id})?.focus(), 50)")

    async def _put_back(
        self, how: Callable[[Path, str, bytes], tuple[Path | None, str]], name: str, content: bytes
    ) -> None:
        self.asked.clear()
        try:
            done = await run.io_bound(how, self.path, name, content)
        except RecommenderError as error:
            self.message.show(f"Nothing was changed. {sentence(error)}")
            return
        if done is not None:
            self._replaced(*done)

    def _replaced(self, aside: Path | None, done: str) -> None:
        self.session.renew()
        beside = f" What was here is in {aside.name}, beside it." if aside else ""
        self.message.show(f"{done}{beside}", partial(self._undo, aside) if aside else None)
        self.show()

    async def _undo(self, aside: Path) -> None:
        try:
            await run.io_bound(backup.restore, self.path, aside)
        except RecommenderError as error:
            self.message.show(sentence(error))
            return
        self.session.renew()
        self.message.show("The notebook is as it was before.")
        self.show()


def _restored(path: Path, name: str, content: bytes) -> tuple[Path | None, str]:
    return notebook_files.restore(path, name, content), f"{name} is in its place."


def _imported(path: Path, name: str, content: bytes) -> tuple[Path | None, str]:
    rows, aside, notes = notebook_files.import_archive(path, name, content)
    return aside, " ".join([f"{rows} rows are read from {name}.", *notes])
