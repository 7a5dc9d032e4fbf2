"""A sheet of readings: what is in it is shown, and stored by a button."""

from collections.abc import Awaitable, Callable, Sequence
from functools import partial
from typing import Any, Generic, TypeVar

from recommender.errors import RecommenderError
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.upload_button import SHEETS, read_or_say, upload_button

Record = TypeVar("Record")


class ReadingsImport(Generic[Record]):
    """The button, and below it the trials or strips of a sheet before they are on record.

    Parameters
    ----------
    what : str
        The records in words: trials or strips.
    columns : str
        What a sheet has, as one sentence.
    read : callable
        Reads name and content of a file; returns its records, and the columns that are not used.
    row : callable
        The cells of one record, under `heads`.
    store : callable
        Puts all records on record; returns nothing that is used, or something to wait for.
    """

    def __init__(
        self,
        what: str,
        columns: str,
        heads: Sequence[str],
        read: Callable[[str, bytes], Awaitable[tuple[list[Record], list[str]]]],
        row: Callable[[Record], Sequence[str]],
        store: Callable[[list[Record]], Any],
        message: elements.Message,
    ) -> None:
        self.what, self.heads, self.read, self.row, self.store = what, heads, read, row, store
        self.message = message
        with elements.tag("details", "sheet-import"):
            elements.words(f"Read {what} from a sheet", name="summary")
            elements.words(columns, "remark")
            with elements.tag("div", "own-acts"):
                upload_button("Read a sheet…", SHEETS, self.uploaded, message.show)
            self.preview = elements.tag("div", role="status")

    async def uploaded(self, name: str, content: bytes) -> None:
        """Show what is in a sheet; it is stored by a button."""
        self.preview.clear()
        sheet = await read_or_say(self.read(name, content), self.message)
        if sheet is None:
            return
        found, unused = sheet
        self.message.show("")
        with self.preview:
            elements.words(f"{name}: {len(found)} {self.what}, not stored yet", name="h3")
            with elements.scrolled(f"What is in {name}"):
                elements.plain_table(self.heads, [self.row(one) for one in found])
            for note in unused:
                elements.words(note, "remark")
            with elements.tag("div", "own-acts"):
                elements.button("Put them on record", partial(self._put, found), "main")
                elements.button("Leave them out", self.preview.clear, "small")

    def _put(self, found: list[Record]) -> Any:
        try:
            done = self.store(found)
        except RecommenderError as error:
            self.message.show(sentence(error))
            return None
        self.preview.clear()
        self.message.show(f"{len(found)} {self.what} are on record.")
        return done
