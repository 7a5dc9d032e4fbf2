"""What was removed in a view, listed so that it can be brought back, today or later."""

from collections.abc import Callable, Sequence
from functools import partial

from recommender.evidence.catalogue import Catalogue
from recommender.notebook.removed import Removed
from recommender.output import removed_words
from recommender.web.widgets import elements

MOST = 50
"""So many are listed, the last removed first."""


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
