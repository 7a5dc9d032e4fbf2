"""What the page works on: the notebook, the bench under it, and the formulas that lie on the page."""

import tempfile
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path

from recommender.errors import BadNotebook
from recommender.evaporation import DEFAULT_CONDITIONS, Conditions
from recommender.evidence.overlay import Overlay
from recommender.formulas import formula as formulas
from recommender.model import Formula
from recommender.notebook import drafts, reading, writing
from recommender.notebook import formulas as versions
from recommender.notebook.drafts import Cells, Draft
from recommender.notebook.formulas import SavedVersion
from recommender.notebook.overlay import overlay_of, palette_with
from recommender.palette import Palette, shipped
from recommender.web import lines as typed
from recommender.web.edits import Edit
from recommender.web.keeping import NotebookRecords

Over = tuple[Overlay, Conditions]
"""What the notebook lays over the shipped bench."""
Watcher = Callable[[Draft | None], None]


class PageSession(NotebookRecords):
    """One notebook, opened by any number of tabs of this server."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.over: Over = Overlay(), DEFAULT_CONDITIONS
        self._palette = shipped()
        self._watchers: dict[int, list[Watcher]] = defaultdict(list)

    def palette(self) -> Palette:
        """Return the shipped bench with what the notebook says laid over it, worked out where that is new."""
        if not self.path.exists():
            return shipped()
        with reading(self.path) as db:
            found = overlay_of(db) if db is not None else (Overlay(), DEFAULT_CONDITIONS)
        if found != self.over:
            self.over, self._palette = found, palette_with(*found)
        return self._palette

    @cached_property
    def demo(self) -> dict[str, Path]:
        """Formulas of the invented studio, by name."""
        return {path.stem: path for path in formulas.demo_files()}

    def names(self) -> list[str]:
        """Return the formulas on the page, the last touched first."""
        if not self.path.exists():
            return []
        with reading(self.path) as db:
            return [] if db is None else drafts.names(db)

    def find(self, name: str) -> Draft | None:
        """Return the formula of this name on the page."""
        if not self.path.exists():
            return None
        with reading(self.path) as db:
            return None if db is None else drafts.find(db, name)

    def get(self, number: int) -> Draft:
        """Return a formula as it stands now."""
        with reading(self.path) as db:
            if db is None:
                raise BadNotebook(str(self.path), "there is no notebook any more")
            return drafts.get(db, number)

    def read(self, draft: Draft, palette: Palette | None = None) -> typed.ParsedLines:
        """Read what is typed as a formula, other formulas of the page being accords in it.

        `palette` is that of the notebook where it has been asked for already.
        """
        return self._read(draft, palette or self.palette(), (draft.name,))

    def _read(self, draft: Draft, palette: Palette, above: tuple[str, ...]) -> typed.ParsedLines:
        def accord(name: str) -> Formula | None:
            held = None if name in above else self.find(name)
            return None if held is None else self._read(held, palette, (*above, name)).formula

        return typed.read(draft.name, draft.lines, palette.catalogue, accord)

    def create(self, name: str, lines: Sequence[Cells] = ()) -> Draft:
        """Lay a new formula on the page."""
        with writing(self.path) as db:
            return drafts.create(db, name, lines, now())

    def take(self, name: str, content: bytes, notes: list[str] | None = None) -> Draft:
        """Lay a formula file on the page, its lines as they are; raises `BadTable` where it is no table.

        `notes` takes what was read under another header, and the columns that are not used.
        """
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / Path(name).name
            file.write_bytes(content)
            rows = formulas.sheet_rows(file, self.palette().catalogue, [] if notes is None else notes)
        return self.create(file.stem, [dict(row.cells) for row in rows])

    def change(self, number: int, edit: Edit, by: Watcher | None = None) -> Draft:
        """Change a formula; every other tab that shows it is told.

        Raises
        ------
        ChangedMeanwhile
            The cell was changed elsewhere; nothing was overwritten.
        """
        with writing(self.path) as db:
            draft = drafts.change(db, number, edit, now())
        self._tell(draft, by)
        return draft

    def step(self, draft: Draft, by: int, watcher: Watcher | None = None) -> Draft:
        """Go a step back (-1) or forth (1); raises `ChangedMeanwhile` where another tab was quicker."""
        with writing(self.path) as db:
            found = drafts.step(db, draft.id, draft.version, by, now())
        self._tell(found, watcher)
        return found

    def note(self, draft: Draft, name: str, value: str) -> Draft:
        """Note what was typed about a formula as a whole: its dosage, its batch."""
        with writing(self.path) as db:
            return drafts.note(db, draft.id, name, value)

    def rename(self, draft: Draft, name: str, watcher: Watcher | None = None) -> Draft:
        """Give a formula another name."""
        with writing(self.path) as db:
            found = drafts.rename(db, draft.id, name, now())
        self._tell(found, watcher)
        return found

    def take_away(self, draft: Draft) -> int | None:
        """Take a formula off the page; returns its number among the removed."""
        with writing(self.path) as db:
            number = drafts.take_away(db, draft.id)
        for watcher in list(self._watchers.pop(draft.id, ())):
            watcher(None)
        return number

    def touch(self, draft: Draft) -> None:
        """Note that a formula was opened last."""
        with writing(self.path) as db:
            drafts.touch(db, draft.id, now())

    def lay_out(self, version: SavedVersion) -> Draft:
        """Lay a saved version on the page."""
        formula = self.formula_of(version)
        return self.create(formula.name, formulas.rows(formula))

    def save_version(self, formula: Formula, note: str = "") -> SavedVersion:
        """Save a formula as the next version of its name; raises `BadValue` where the name will not do."""
        named = replace(formula, name=versions.check_name(formula.name, self.palette().catalogue))
        with writing(self.path) as db:
            return versions.save(db, named, now()[:19], note)[-1]

    def watch(self, number: int, watcher: Watcher) -> Callable[[], None]:
        """Tell a tab of changes that others make; returns how to stop it."""
        held = self._watchers[number]
        held.append(watcher)

        def stop() -> None:
            if watcher in held:
                held.remove(watcher)

        return stop

    def _tell(self, draft: Draft, by: Watcher | None) -> None:
        for watcher in list(self._watchers.get(draft.id, ())):
            if watcher != by:
                watcher(draft)


def now() -> str:
    """Return the time in UTC as the notebook writes it, to the microsecond."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.%f")
