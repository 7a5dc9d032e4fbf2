"""A button that takes one file from the person, and what is said where it cannot be read."""

from collections.abc import Awaitable, Callable
from typing import TypeVar

from nicegui import events, ui

from recommender.errors import RecommenderError
from recommender.evidence.intake import MOST_BYTES
from recommender.web.server.guard import TOO_LARGE
from recommender.web.server.jobs import JobFailed
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence

Read = TypeVar("Read")

SHEETS = ".csv,.tsv,.txt,.xlsx,.xlsm,.xls,.ods"


def upload_button(
    text: str, accept: str, take: Callable[[str, bytes], Awaitable[None]], refuse: Callable[[str], object]
) -> None:
    """Add the button; `take` is given name and content of the file, `refuse` why it is not taken."""

    async def uploaded(event: events.UploadEventArguments) -> None:
        upload.reset()
        await take(event.file.name, await event.file.read())

    upload = ui.upload(
        on_upload=uploaded,
        on_rejected=lambda: refuse(TOO_LARGE),
        max_file_size=MOST_BYTES,
        auto_upload=True,
    ).classes("hidden")
    upload.props["accept"] = accept
    elements.button(text, lambda: upload.run_method("pickFiles"), "small")


async def read_or_say(reading: Awaitable[Read], message: elements.Message) -> Read | None:
    """Return what was read, None where that failed: the message says why."""
    try:
        return await reading
    except RecommenderError as error:
        message.show(sentence(error))
    except JobFailed as error:
        message.show(str(error))
    return None
