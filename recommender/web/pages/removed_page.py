"""Everything that was removed or replaced, of all kinds, to be brought back."""

from functools import partial

from recommender.notebook.removed import Removed
from recommender.output import removed_words
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.removed_list import bringing_back
from recommender.web.widgets.sub_menu import sub_menu

MOST = 100
"""Entries at a time."""
EMPTY = "Nothing was removed. Whatever you remove is stored, and stands here to be brought back."


class RemovedPage:
    """One tab that lists what was removed."""

    def __init__(self, session: PageSession) -> None:
        self.session, self.kind, self.most = session, "", MOST
        sub_menu("Notebook", "Removed")
        elements.words("What was removed or replaced", name="h1")
        self.message = elements.Message()
        self.back = bringing_back(session, self.message, self._is_back, self.show)
        kinds = {"": "all kinds"} | dict(removed_words.KIND_WORDS)
        with elements.tag("div", "form"), elements.tag("div", "labelled"):
            elements.words("show", "label", "span")
            elements.choice("kind of entry", kinds, "", self.choose)
        self.list = elements.tag("div", "removed")
        self.show()

    def choose(self, kind: str) -> None:
        """Show one kind alone."""
        self.kind, self.most = kind, MOST
        self.show()

    def more(self) -> None:
        """Show more entries."""
        self.most += MOST
        self.show()

    def show(self) -> None:
        """List the entries, the last removed first."""
        here = self.session.workspace
        found = here.removed.entries(self.kind)
        self.list.clear()
        with self.list:
            if not found:
                elements.words(EMPTY, "empty")
                return
            with elements.tag("ul"):
                for one in found[: self.most]:
                    row = removed_words.row(one, here.palette.catalogue)
                    with elements.tag("li", "gap"):
                        what = f"{row['kind']}: {row['what']}; removed {row['removed']}"
                        elements.words(what, "remark", "span")
                        elements.button("Bring back", partial(self.back, one.number), "small",
                                        label=f"Bring back: {row['kind']} {row['what']}")  # fmt: skip
            if len(found) > self.most:
                elements.button(f"{len(found) - self.most} more", self.more, "small")

    def _is_back(self, found: Removed) -> str:
        row = removed_words.row(found, self.session.workspace.palette.catalogue)
        return f"Brought back: {row['kind']} {row['what']}."
