"""Where a reading is written: of which trial, after how long, and what it smells of."""

from collections.abc import Awaitable, Callable
from datetime import UTC, datetime
from typing import Any

from nicegui import ui

from recommender import units
from recommender.errors import BadValue, RecommenderError
from recommender.model import TrialRecord
from recommender.notebook.readings import SCALE
from recommender.output import reminders
from recommender.web.server.session import PageSession
from recommender.web.widgets import elements
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.typed_form import TypedForm

USUAL_HOURS = ("fresh", "15 min", "1 h", "3 h", "8 h", "1 day", "3 days", "7 days")
TODAY, NEW = "today", "new"
"""The choices of the trial of today, which may be a new one, and of a new one in any case."""
EVERY_S = 30.0
"""So often the time since dipping is shown anew [s]."""


class ReadingWriter:
    """The section in which a strip that is at the nose is written down."""

    def __init__(self, session: PageSession, title: str, changed: Callable[[], Awaitable[None]]) -> None:
        self.session, self.title, self.changed = session, title, changed
        self.chosen, self.hour, self.text = TODAY, "", ""
        self.records: list[TrialRecord] = []
        with elements.tag("section", "own-note", aria_labelledby="read-head"):
            elements.words("Write down what you smell", name="h2").props["id"] = "read-head"
            self.clock = elements.words("", "remark")
            self.clock.props["role"] = "status"
            self.form = elements.tag("div", "form")
            self.about = TypedForm(self._save)
            with elements.tag("details", "more"):
                elements.words("More: verdict, day, batch, room", name="summary")
                with elements.tag("div", "form"):
                    self.about.text("verdict", "verdict", hint="of the whole trial", classes="long")
                    with elements.tag("div", "form") as self.of_new:
                        self.about.text("day", "day", hint="today", classes="short wide")
                        self.about.text("batch_g", "batch", hint="10 g", classes="short wide")
                        self.about.text("room_c", "room, °C", hint="25", classes="short", numeric=True)
                elements.words("Day, batch and room are those of a new trial.", "remark")
                self.about.end()
            elements.words(
                f"Such as: almond clear, woody too strong (dry). Each smell with {SCALE}; without a smell "
                "the whole is meant. A reading counts for today's trial unless another is chosen.",
                "remark",
            )
            self.wrong = elements.words("", "wrong")
            self.wrong.props["role"] = "alert"
            self.wrong.set_visibility(False)
            with elements.tag("datalist", id="hours"):
                for hour in USUAL_HOURS:
                    elements.tag("option", value=hour)
        ui.timer(EVERY_S, self._tick, immediate=False)

    def show(self, records: list[TrialRecord]) -> None:
        """Take over the trials of the version."""
        self.records = records
        known = {TODAY, NEW, *(str(one.number) for one in records)}
        if self.chosen not in known:
            self.chosen = TODAY
        self.form.clear()
        with self.form:
            choices = {TODAY: "today's", NEW: "a new one"} | {
                str(one.number): f"trial {one.number}, {one.day}" for one in reversed(records)
            }
            with elements.tag("div", "labelled"):
                elements.words("trial", "label", "span")
                elements.choice("trial", choices, self.chosen, self._choose)
            with elements.tag("div", "labelled"):
                elements.words("after", "label", "span")
                self.after = elements.field(
                    "after",
                    self.hour,
                    live=lambda value: setattr(self, "hour", value),
                    options="hours",
                    hint=self._hour_hint(),
                    classes="short wide",
                )
            with elements.tag("div", "labelled grow"):
                elements.words("it smells", "label", "span")
                self.field = elements.field(
                    "it smells",
                    self.text,
                    live=lambda value: setattr(self, "text", value),
                    hint="a smell and its strength, several with commas",
                    classes="long",
                )
                self.field.on("keydown.enter", self._save)
            elements.button("Save this reading", self._save, "main")
            elements.button("A strip is dipped now", self._dip, "small", title="Starts a trial and its clock")
            self.remind = elements.button("Reminders for a calendar", self._remind, "small")
        self._tick()

    def _choose(self, number: str) -> None:
        self.chosen = number
        self.after.props["placeholder"] = self._hour_hint()
        self._tick()

    def _hour_hint(self) -> str:
        return "how long" if self._since() is None else "till now"

    def _record(self) -> TrialRecord | None:
        """Return the trial that a reading would be added to, None where it would be a new one."""
        if self.chosen == TODAY:
            # the day of a trial is that of the place, as the command line stores it
            today = datetime.now().date().isoformat()
            return next((one for one in reversed(self.records) if one.day == today), None)
        return next((one for one in self.records if str(one.number) == self.chosen), None)

    def _since(self) -> float | None:
        """Return how long ago the strip was dipped [h], None where unknown."""
        record = self._record()
        if record is None or not record.dipped:
            return None
        passed = datetime.now(UTC).replace(tzinfo=None) - datetime.fromisoformat(record.dipped)
        return max(passed.total_seconds() / 3600, 0.0)

    def _tick(self) -> None:
        record, since = self._record(), self._since()
        self.of_new.set_visibility(record is None)
        self.remind.set_visibility(since is not None)
        if record is None or since is None:
            elements.say(self.clock, "")
            return
        passed = "just now" if since < 1 / 60 else f"{units.duration(since)} ago"
        smelled = reminders.next_line(since, [one.hours for one in record.readings])
        elements.say(self.clock, f"Trial {record.number} was dipped {passed}. {smelled}")

    async def _save(self) -> None:
        trials, verdict = self.session.workspace.trials, self.about.values["verdict"]
        self.about.fine()
        try:
            only_verdict = verdict and not self.text.strip()
            readings = {} if only_verdict else {self._hours(): self.text}
            record = self._record()
            if record is None:
                record = trials.add(self.title, readings, verdict=verdict, **self._new())
            else:
                trials.read(record.number, readings, verdict or None)
        except BadValue as error:
            beside = error.field in self.about.fields
            elements.say(self.wrong, "" if beside else sentence(error))
            if beside:
                self.about.complain(error)
            return
        except RecommenderError as error:
            elements.say(self.wrong, sentence(error))
            return
        elements.say(self.wrong, "")
        self.about.clear()
        if self.chosen == NEW:
            self.chosen = str(record.number)
        self.text = ""
        await self.changed()
        self.field.run_method("focus")

    def _hours(self) -> float:
        """Return after how long it was smelled [h], by the clock where it is blank; raises `BadValue`."""
        if self.hour.strip():
            return units.hours_of(self.hour)
        since = self._since()
        if since is None:
            raise BadValue("hour", "", "write after how long it was smelled, such as 8 h, or fresh")
        return round(since, 1)

    def _new(self) -> dict[str, Any]:
        """Return day, batch and room of a new trial as typed; raises `BadValue`."""
        return {
            "day": self.about.values["day"],
            "batch_g": self.about.read("batch_g", units.mass_of),
            "room_c": self.about.read("room_c", units.celsius_of),
        }

    async def _dip(self) -> None:
        try:
            record = self.session.workspace.trials.dip(self.title)
        except RecommenderError as error:
            elements.say(self.wrong, sentence(error))
            return
        elements.say(self.wrong, "")
        self.chosen, self.hour = str(record.number), ""
        await self.changed()

    def _remind(self) -> None:
        record = self._record()
        if record is not None and record.dipped:
            text = reminders.calendar(self.title, record.number, datetime.fromisoformat(record.dipped))
            ui.download.content(text, f"{self.title.replace('@', '-')}.ics", "text/calendar")
