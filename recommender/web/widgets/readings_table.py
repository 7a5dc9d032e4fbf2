"""The readings of a trial, each to be corrected in place or taken out, beside what was predicted."""

from collections.abc import Awaitable, Callable, Sequence
from functools import partial

from recommender import units
from recommender.chemistry.odour_strength import rating_of
from recommender.errors import RecommenderError
from recommender.model import Reading, TrialRecord
from recommender.notebook.readings import written
from recommender.notebook.removed import Removed
from recommender.output.trials import at, reading_count, triangle_lines
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.removed_list import bringing_back

HEADS = ("after", "as you smelled it", "predicted, of 100", "")


class ReadingsTable:
    """The trials of one version, the last first."""

    def __init__(
        self, session: PageSession, message: elements.Message, changed: Callable[[], Awaitable[None]]
    ) -> None:
        self.session, self.message, self.changed = session, message, changed
        self.bring_back = bringing_back(session, message, _is_back, changed)
        self.box = elements.tag("div", "trial-records")

    def show(self, trials: Sequence[tuple[TrialRecord, Sequence[float]]]) -> None:
        """Show trials, each with what was predicted for its readings [0-100]."""
        self.box.clear()
        with self.box:
            for record, predicted in reversed(trials):
                about = [f"{record.batch_g:g} g"] if record.batch_g else []
                about += [f"{record.room_c:g} C"] if record.room_c is not None else []
                with elements.tag("section", "trial-record", aria_label=f"Trial {record.number}"):
                    with elements.tag("div", "gap"):
                        count = reading_count(record.readings) if record.readings else "no reading yet"
                        text = ", ".join([f"Trial {record.number}", record.day, *about, count])
                        elements.words(text, name="h3")
                        off = partial(self._remove_trial, record.number)
                        label = f"Remove trial {record.number}"
                        elements.button("Remove", off, "small", label=label)
                    if record.verdict:
                        elements.words(record.verdict, "remark")
                    if record.readings:
                        self._rows(record, predicted)
                    if record.triangle is not None:
                        first, *answers = triangle_lines(record.triangle)
                        elements.words(f"{first[0].upper()}{first[1:]}.")
                        with elements.tag("ul"):
                            for line in answers:
                                elements.words(" ".join(line.split()), name="li")

    def _rows(self, record: TrialRecord, predicted: Sequence[float]) -> None:
        with elements.tag("table", "plain-table readings"):
            elements.table_head(HEADS)
            with elements.tag("tbody"):
                for one, value in zip(record.readings, predicted, strict=True):
                    what = f"{one.facet or 'whole'} at {at(one.hours)}"
                    with elements.tag("tr"):
                        with elements.tag("td"):
                            elements.field(
                                f"hour of: {what}",
                                at(one.hours),
                                done=partial(self._hour, record.number, one),
                                options="hours",
                                classes="short wide",
                            )
                        with elements.tag("td"):
                            elements.field(
                                f"reading: {what}",
                                written(one),
                                done=partial(self._words, record.number, one),
                                classes="long",
                            )
                        elements.words(f"{rating_of(value)}, {value:.0f}", name="td")
                        with elements.tag("td"):
                            off = partial(self._remove, record.number, one)
                            elements.button("×", off, "plain sign", label=f"Take out: {what}")

    async def _hour(self, number: int, one: Reading, text: str) -> None:
        await self._correct(number, one, written(one), text)

    async def _words(self, number: int, one: Reading, text: str) -> None:
        await self._correct(number, one, text, at(one.hours))

    async def _correct(self, number: int, one: Reading, words: str, hour: str) -> None:
        try:
            hours = one.hours if hour == at(one.hours) else units.hours_of(hour)
            if (words, hours) == (written(one), one.hours):
                return
            self.session.workspace.trials.correct(number, one.place, words, hours)
        except RecommenderError as error:
            # what was typed stays, to be mended
            self.message.show(f"{sentence(error)} Stored is still: {written(one)}.")
            return
        self.message.show(
            f"The reading is changed from {at(one.hours)}, {written(one)}; "
            "the older one is among the removed."
        )
        await self.changed()

    async def _remove(self, number: int, one: Reading) -> None:
        try:
            removed = self.session.workspace.trials.remove_reading(number, one.place)
        except RecommenderError as error:
            self.message.show(sentence(error))
        else:
            text = f"{at(one.hours)}, {written(one)}: taken out of trial {number}."
            self.message.show(text, partial(self.bring_back, removed))
        await self.changed()

    async def _remove_trial(self, number: int) -> None:
        try:
            _, removed = self.session.workspace.trials.remove(number)
        except RecommenderError as error:
            self.message.show(sentence(error))
        else:
            text = f"Trial {number} is removed, with all its readings."
            self.message.show(text, partial(self.bring_back, removed))
        await self.changed()


def _is_back(found: Removed) -> str:
    what = f"Trial {found.key}" if found.kind == "trial" else f"The reading of {found.name}"
    return f"{what} is there again."
