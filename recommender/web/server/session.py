"""What the page works on: one workspace, and the formulas that are open on the page."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Literal

from recommender.errors import BadNotebook, BadTable, BadValue
from recommender.evidence.intake import LONGEST_SHEET, check_size
from recommender.evidence.names import plain
from recommender.evidence.sheets import THEME, Row
from recommender.formulas import formula as formulas
from recommender.model import Formula
from recommender.notebook import drafts
from recommender.notebook.drafts import Cells, Draft
from recommender.notebook.formulas import SavedVersion
from recommender.notebook.importers import Columns, ImportedRow
from recommender.palette import Palette
from recommender.records.group import now
from recommender.web.server import typed_lines as typed
from recommender.web.server import worker
from recommender.web.server.jobs import JobPool
from recommender.web.server.line_edits import Edit
from recommender.web.server.memory import WaitingViews
from recommender.web.server.worker import PaletteKey, SheetJob
from recommender.workspace import Workspace

MOST_LINES = 300
"""Lines of a formula that the page shows; the command line takes longer ones."""
LONGEST_READING_S = 10.0
"""How long a process may read one file that was uploaded [s]."""
Watcher = Callable[[Draft | None], None]
FINE = "microseconds"
"""Changes of a formula are timed as finely, so that the last one opened is known."""


@dataclass(frozen=True, slots=True)
class _Accord:
    """A formula of the page as it stands in others: its lines, opened, or why it cannot stand there."""

    formula: Formula | None = None
    lines: int = 0
    error: BadValue | None = None


class PageSession:
    """One notebook, opened by any number of tabs of this server, and the formulas that are open on them."""

    def __init__(self, path: Path) -> None:
        self.path, self.workspace = path, Workspace(path)
        self.jobs, self.waiting = JobPool(), WaitingViews()
        self._watchers: dict[int, list[Watcher]] = defaultdict(list)

    @cached_property
    def demo(self) -> dict[str, Path]:
        """Formulas of the invented studio, by name."""
        return {path.stem: path for path in formulas.demo_files()}

    def names(self) -> list[str]:
        """Return the names of the formulas on the page, the last opened first."""
        with self.workspace.reading() as db:
            return [] if db is None else drafts.names(db)

    def find(self, name: str) -> Draft | None:
        """Return the formula of this name on the page."""
        with self.workspace.reading() as db:
            return None if db is None else drafts.find(db, name)

    def get(self, number: int) -> Draft:
        """Return a formula as it stands now; raises `BadNotebook` where the notebook has gone."""
        with self.workspace.reading() as db:
            if db is None:
                raise BadNotebook(str(self.path), "there is no notebook any more")
            return drafts.get(db, number)

    def read(self, draft: Draft, palette: Palette | None = None) -> typed.ParsedLines:
        """Read what is typed as a formula, other formulas of the page being accords in it.

        `palette` is that of the notebook where the caller has it already.
        """
        return self._read(draft, palette or self.workspace.palette, (), {})[0]

    def _read(
        self, draft: Draft, palette: Palette, above: tuple[str, ...], opened: dict[str, "_Accord"]
    ) -> tuple[typed.ParsedLines, BadValue | None]:
        """Return a formula as read, and the error that stops it from being an accord, None without one.

        Each formula inside is read once: `opened` has those that were, by their keys.
        """
        here, errors, lines = (*above, plain(draft.name)), [], 0

        def accord(name: str) -> Formula | None:
            nonlocal lines
            key = plain(name)
            if key in here:
                found = _Accord(error=BadValue("material", name, formulas.circle(here, key)))
            elif len(above) >= formulas.DEEPEST:
                found = _Accord(error=BadValue("material", name, formulas.too_deep()))
            else:
                if key not in opened:
                    inner = self.find(name)
                    parsed, error = self._read(inner, palette, here, opened) if inner else (None, None)
                    formula = parsed.formula if parsed else None
                    opened[key] = _Accord(formula, formulas.size(formula) if formula else 0, error)
                found = opened[key]
            lines += found.lines
            error = found.error
            if error is None and lines > LONGEST_SHEET:
                error = BadValue("material", name, formulas.too_many_lines(name).problem)
            if error is not None:
                errors.append(error)
                raise error
            return found.formula

        theme = draft.fields.get(drafts.THEME_FIELD, "")
        read = typed.read(draft.name, draft.lines, palette.catalogue, accord, theme)
        return read, errors[0] if errors else None

    def create(self, name: str, lines: Sequence[Cells] = (), theme: str = "") -> Draft:
        """Put a new formula on the page.

        Raises
        ------
        BadValue
            It has more lines than the page shows.
        """
        if len(lines) > MOST_LINES:
            wanted = f"{len(lines)} lines are too many for the page (at most {MOST_LINES})"
            raise BadValue("formula", name, f"{wanted}; ask the command line about it")
        with self.workspace.writing() as db:
            draft = drafts.create(db, name, lines, now(FINE))
            return drafts.set_field(db, draft.id, drafts.THEME_FIELD, theme) if theme else draft

    def import_file(self, name: str, content: bytes, notes: list[str] | None = None) -> Draft:
        """Put a formula file on the page, lines and theme as they are; raises `BadTable` if it is no table.

        Headers that were read as another column, and columns that are not used, are added to `notes`.
        """
        rows, found = worker.formula_sheet(name, content, self.workspace.palette.catalogue)
        if notes is not None:
            notes += found
        return self._create_of(name, rows)

    async def upload(self, name: str, content: bytes) -> tuple[Draft, list[str]]:
        """Put a formula file of unknown origin on the page, read by a process that can be ended.

        Returns the formula, and notes as `import_file` has them.

        Raises
        ------
        BadTable, BadValue, BadNotebook
        JobFailed
        """
        rows, notes = await self._read_upload("formula", name, content)
        return self._create_of(name, rows), notes

    def _create_of(self, name: str, rows: Sequence[Row]) -> Draft:
        theme = ", ".join(dict.fromkeys(row[THEME] for row in rows if row[THEME]))
        return self.create(Path(name).stem, [dict(row.cells) for row in rows], theme)

    async def upload_bottles(
        self, name: str, content: bytes, columns: Mapping[str, str] | None = None, sheet: str = ""
    ) -> tuple[Columns, list[ImportedRow]]:
        """Read the bottles of a spreadsheet by a process that can be ended; nothing is stored.

        `columns` names the header of a field, `sheet` that of a workbook. Returns how its columns were read,
        and its rows.

        Raises
        ------
        BadTable, BadNotebook
        JobFailed
        """
        found: tuple[Columns, list[ImportedRow]] = await self._read_upload(
            "bottles", name, content, columns, sheet
        )
        return found

    async def _read_upload(
        self,
        kind: Literal["formula", "bottles"],
        name: str,
        content: bytes,
        columns: Mapping[str, str] | None = None,
        sheet: str = "",
    ) -> Any:
        check_size(name, len(content))
        overlay: PaletteKey = self.workspace.overlay
        job = SheetJob(kind, name, content, overlay, columns, sheet)
        try:
            return await self.jobs.run(job, LONGEST_READING_S)
        except TimeoutError:
            problem = f"reading it took more than {LONGEST_READING_S:g} s"
            raise BadTable(name, problem, remedy="Save the sheet that is meant as CSV") from None

    def change(self, number: int, edit: Edit, by: Watcher | None = None) -> Draft:
        """Change a formula, and notify every other tab that shows it.

        Raises
        ------
        ChangedMeanwhile
            The cell was changed elsewhere; nothing was overwritten.
        """
        with self.workspace.writing() as db:
            draft = drafts.change(db, number, edit, now(FINE))
        self._notify(draft, by)
        return draft

    def step(self, draft: Draft, by: int, watcher: Watcher | None = None) -> Draft:
        """Go a step back (-1) or forward (1); raises `ChangedMeanwhile` where another tab was quicker."""
        with self.workspace.writing() as db:
            found = drafts.step(db, draft.id, draft.version, by, now(FINE))
        self._notify(found, watcher)
        return found

    def set_field(self, draft: Draft, name: str, value: str) -> Draft:
        """Store what was typed about a formula as a whole: its theme, its dosage, its batch."""
        with self.workspace.writing() as db:
            return drafts.set_field(db, draft.id, name, value)

    def rename(self, draft: Draft, name: str, watcher: Watcher | None = None) -> Draft:
        """Give a formula another name."""
        with self.workspace.writing() as db:
            found = drafts.rename(db, draft.id, name, now(FINE))
        self._notify(found, watcher)
        return found

    def remove(self, draft: Draft) -> int | None:
        """Remove a formula from the page; returns its number among the removed."""
        with self.workspace.writing() as db:
            number = drafts.remove(db, draft.id)
        for watcher in list(self._watchers.pop(draft.id, ())):
            watcher(None)
        return number

    def mark_opened(self, draft: Draft) -> None:
        """Make a formula the one that was opened last."""
        with self.workspace.writing() as db:
            drafts.touch(db, draft.id, now(FINE))

    def open_version(self, version: SavedVersion) -> Draft:
        """Put a saved version on the page."""
        _, formula = self.workspace.formulas.open(version.title)
        return self.create(formula.name, formulas.rows(formula), ", ".join(formula.theme))

    def save_version(self, formula: Formula, note: str = "") -> SavedVersion:
        """Save a formula as the next version of its name; raises `BadValue` where the name will not do."""
        return self.workspace.formulas.save(formula, formula.name, note)[-1]

    def watch(self, number: int, watcher: Watcher) -> Callable[[], None]:
        """Notify a tab of changes that others make; returns how to stop it."""
        watchers = self._watchers[number]
        watchers.append(watcher)

        def stop() -> None:
            if watcher in watchers:
                watchers.remove(watcher)

        return stop

    def _notify(self, draft: Draft, by: Watcher | None) -> None:
        for watcher in list(self._watchers.get(draft.id, ())):
            if watcher != by:
                watcher(draft)
