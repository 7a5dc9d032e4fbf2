"""What was removed in a view, listed and brought back, today or later."""

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from recommender.errors import RecommenderError
from recommender.evidence.catalogue import Catalogue
from recommender.notebook.removed import Removed
from recommender.output import removed_words
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence

MOST = 50
"""So many are listed, the last removed first."""


def bringing_back(
    session: PageSession,
    message: elements.Message,
    words: Callable[[Removed], str],
    then: Callable[[], Any],
) -> Callable[[int], Any]:
    """Return what brings back the removed entry of a number, and says so or what stops it.

    `words` are those for an entry that is there again; `then` draws the view anew, and may have to be
    awaited.
    """

    def bring_back(number: int) -> Any:
        try:
            message.show(words(session.workspace.removed.bring_back(number)))
        except RecommenderError as error:
            message.show(sentence(error))
        return then()

    return bring_back


def removed_list(found: Sequence[Removed], catalogue: Catalogue, bring_back: Callable[[int], object]) -> None:
    """List what was removed, each with a button that brings it back; nothing where nothing was."""
    if not found:
        return
    with elements.tag("details", "removed"):
        elements.words(f"Removed: {len(found)}, can be brought back", name="summary")
        with elements.tag("ul"):
            for one in found[:MOST]:
                row = removed_words.row(one, catalogue)
                with elements.tag("li", "gap"):
                    elements.words(f"{row['what']}; removed {row['removed']}", "remark", "span")
                    elements.button("Bring back", partial(bring_back, one.number), "small",
                                 label=f"Bring back: {row['what']}")  # fmt: skip
        if len(found) > MOST:
            elements.words(f"{len(found) - MOST} older ones are not listed here.", "remark")
