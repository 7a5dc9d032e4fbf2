"""Where an answer of a triangle test is written: against which version, after how long, the odd strip."""

from collections.abc import Awaitable, Callable, Sequence

from recommender import units
from recommender.errors import BadValue, RecommenderError
from recommender.notebook.formulas import SavedVersion
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.typed_form import TypedForm


class TriangleWriter:
    """The section in which the strip that was taken for the odd one is written down."""

    def __init__(
        self,
        session: PageSession,
        tested: SavedVersion,
        others: Sequence[SavedVersion],
        changed: Callable[[], Awaitable[None]],
    ) -> None:
        self.session, self.tested, self.changed = session, tested, changed
        own = [one for one in others if one.name == tested.name]
        earlier = [one for one in own if one.number < tested.number]
        first = max(earlier or own or others, key=lambda one: one.number)
        with elements.tag("details", "more"):
            elements.words(f"Triangle test of {tested.title}: which strip is the odd one", name="summary")
            self.form = TypedForm(self._save)
            with elements.tag("div", "form"):
                titles = {one.title: one.title for one in others}
                self.form.choice("against", "against", titles, first.title)
                self.form.text("hour", "smelled after", hint="15 min", options="hours", classes="short wide")
                self.form.text("smelled", "the odd one", hint="482 greener", classes="long")
                self.form.text("day", "day", hint="today", classes="short wide", aria="day of the test")
                self.form.text(
                    "room_c",
                    "room, °C",
                    hint="25",
                    classes="short",
                    numeric=True,
                    aria="room of the test",
                )
                elements.button("Save this answer", self._save, "small")
            self.form.end()
            elements.words(
                "Write the number of the strip first, then words. The key follows from both versions, as on "
                "the triangle sheet. Later answers are added to the same trial, with its day and room.",
                "remark",
            )

    async def _save(self) -> None:
        form = self.form
        form.fine()
        try:
            hours = form.read("hour", units.hours_of)
            if hours is None:
                raise BadValue("hour", "", "write after how long it was smelled, such as 15 min")
            self.session.workspace.trials.triangle(
                self.tested.title,
                {hours: form.values["smelled"]},
                against=form.values["against"],
                day=form.values["day"],
                room_c=form.read("room_c", units.celsius_of),
            )
        except RecommenderError as error:
            form.complain(error)
            return
        form.put("hour", "")
        form.put("smelled", "")
        await self.changed()
