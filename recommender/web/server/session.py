"""What the page works on: one workspace, and the formulas that are open on the page."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from recommender.errors import BadNotebook, BadTable, BadValue, RecommenderError
from recommender.evidence.intake import LONGEST_SHEET, check_size
from recommender.evidence.names import plain
from recommender.evidence.sheets import THEME, Row
from recommender.formulas import formula as formulas
from recommender.model import Formula, Reading
from recommender.notebook import drafts
from recommender.notebook import formulas as versions
from recommender.notebook.drafts import Cells, Draft
from recommender.notebook.formulas import SavedVersion
from recommender.notebook.importers import Columns, ImportedRow
from recommender.palette import Palette
from recommender.records.group import now
from recommender.web.server import line_edits, pasted_lines, worker
from recommender.web.server import typed_lines as typed
from recommender.web.server.jobs import JobPool
from recommender.web.server.line_edits import Edit
from recommender.web.server.memory import WaitingViews
from recommender.web.server.worker import SheetJob
from recommender.workspace import Workspace

MOST_LINES = 300
"""Lines of a formula that the page shows; the command line takes longer ones."""
LONGEST_READING_S = 10.0
"""How long a process may read one file that was uploaded [s]."""
Watcher = Callable[[Draft | None], None]
NEW = "untitled"
FINE = "microseconds"
"""Changes of a formula are timed as finely, so that the last one opened is known."""


@dataclass(frozen=True, slots=True)
class _Accord:
    """A formula of the page as it stands in others: its lines, opened, or why it cannot stand there."""

    formula: Formula | None = None
    lines: int = 0
    error: BadValue | None = None


def _same(lines: Sequence[Cells], others: Sequence[Cells]) -> bool:
    """Tell whether lines are equal in what was typed in them, blank ones aside."""

    def cells(found: Sequence[Cells]) -> list[list[str]]:
        rows = ([line.get(column, "").strip() for column in formulas.COLUMNS] for line in found)
        return [row for row in rows if any(row)]

    return cells(lines) == cells(others)


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

    def listed(self) -> list[tuple[int, str]]:
        """Return number and name of the formulas on the page, the last opened first."""
        with self.workspace.reading() as db:
            return [] if db is None else drafts.listed(db)

    def find(self, name: str) -> Draft | None:
        """Return the formula of this name on the page."""
        with self.workspace.reading() as db:
            return None if db is None else drafts.find(db, name)

    def at(self, key: str) -> Draft | None:
        """Return the formula that an address means: its number, else its name; None where there is none."""
        if key.isascii() and key.isdecimal() and any(key == str(number) for number, _ in self.listed()):
            return self.get(int(key))
        return self.find(key)

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
                    if inner is None:
                        formula, error = self._saved(name, palette)
                    else:
                        parsed, error = self._read(inner, palette, here, opened)
                        formula = parsed.formula
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

    def _saved(self, name: str, palette: Palette) -> tuple[Formula | None, BadValue | None]:
        """Return the saved formula of a name (NAME or NAME@2), None where there is none, or what is wrong."""
        with self.workspace.reading() as db:
            try:
                found = None if db is None else versions.find(db, name)
                if db is None or found is None:
                    return None, None
                return versions.formula_of(db, found, palette.catalogue), None
            except BadValue as error:
                return None, error

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
        return self._open_of(name, rows)

    async def upload(self, name: str, content: bytes) -> tuple[Draft, list[str]]:
        """Put a formula file of unknown origin on the page, read by a process that can be ended.

        Returns the formula, and notes as `import_file` has them.

        Raises
        ------
        BadTable, BadValue, BadNotebook
        JobFailed
        """
        rows, notes = await self.read_sheet(SheetJob("formula", name, content, self.workspace.overlay))
        return self._open_of(name, rows), notes

    def _open_of(self, name: str, rows: Sequence[Row]) -> Draft:
        """Put the rows of a file on the page; a formula of its name with the same lines is opened instead."""
        theme = ", ".join(dict.fromkeys(row[THEME] for row in rows if row[THEME]))
        lines = [dict(row.cells) for row in rows]
        there = self.find(Path(name).stem)
        if there is not None and _same(there.lines, lines):
            return there
        return self.create(Path(name).stem, lines, theme)

    def open_example(self, file: Path) -> Draft:
        """Open an example: the formula of its name where one is on the page, as it stands there."""
        return self.find(file.stem) or self.import_file(file.name, file.read_bytes())

    def open_empty(self) -> Draft:
        """Open an empty formula: one that is still empty, else a new one."""
        there = self.find(NEW)
        empty = there is not None and all(map(typed.blank, there.lines))
        return there if there is not None and empty else self.create(NEW, [{}])

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
        job = SheetJob("bottles", name, content, self.workspace.overlay, columns, sheet)
        found: tuple[Columns, list[ImportedRow]] = await self.read_sheet(job)
        return found

    async def read_sheet(self, job: SheetJob) -> Any:
        """Return what is in a sheet of unknown origin, read by a process that can be ended.

        Raises
        ------
        BadTable, BadValue, WrongCas, BadNotebook
        JobFailed
        """
        check_size(job.name, len(job.content))
        try:
            return await self.jobs.run(job, LONGEST_READING_S)
        except TimeoutError:
            problem = f"reading it took more than {LONGEST_READING_S:g} s"
            raise BadTable(job.name, problem, remedy="Save the sheet that is meant as CSV") from None

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

    def group(self, number: int, lines: Sequence[str], name: str, by: Watcher | None = None) -> Draft:
        """Make an accord of some lines of a formula: a formula of its own, and one line that names it.

        Raises
        ------
        BadValue
            The name is blank or taken, or a line has no amount; nothing is changed then.
        """
        name = versions.check_name(name, self.workspace.palette.catalogue)
        if self.find(name) is not None or self._saved(name, self.workspace.palette)[0] is not None:
            raise BadValue("name", name, "another formula is called so; give the accord another name")
        with self.workspace.writing() as db:
            inside = [line for line in drafts.get(db, number).lines if line["id"] in lines]
            draft = drafts.change(db, number, line_edits.group(lines, name), now(FINE))
            drafts.create(db, name, [line | {"lock": ""} for line in inside], now(FINE))
            drafts.touch(db, number, now(FINE))
        self._notify(draft, by)
        return draft

    def dissolve(self, number: int, line: str, by: Watcher | None = None) -> Draft:
        """Put the lines of an accord in the place of the line that names it.

        Raises
        ------
        BadValue
            The line is no accord that can be read, is diluted, or has no amount.
        """
        found = self.read(self.get(number)).found.get(line)
        if found is None or not isinstance(found.content, Formula):
            raise BadValue("line", "", "it is no accord whose lines can be read")
        rows = formulas.rows(found.content, {one.name: one.name for one in formulas.accords(found.content)})
        return self.change(number, line_edits.dissolve(line, rows), by)

    def pasted(self, text: str) -> list[Cells]:
        """Return the lines of a spreadsheet that were copied as text, with a header or without.

        Raises
        ------
        BadTable
        """
        return pasted_lines.read(text, self.workspace.palette.catalogue)

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
        """Put a saved version on the page: where its name is there already, as a step that can be undone."""
        saved, formula = self.workspace.formulas.open(version.title)
        with self.workspace.reading() as db:
            accords = {} if db is None else versions.accord_titles(db, saved)
        lines, theme = formulas.rows(formula, accords), ", ".join(formula.theme)
        there = self.find(formula.name)
        if there is None:
            return self.create(formula.name, lines, theme)
        if not _same(there.lines, lines):
            there = self.change(there.id, line_edits.put_in(lines, f"opened {version.title}"))
        if there.fields.get(drafts.THEME_FIELD, "") != theme:
            there = self.set_field(there, drafts.THEME_FIELD, theme)
        return there

    def open_accord(self, name: str) -> Draft:
        """Open the formula that a line names: that on the page, else the saved version."""
        name = name.rsplit(".", 1)[0] if formulas.is_file(name) else name
        return self.find(name) or self.open_version(self.workspace.formulas.version(name))

    def save_version(self, formula: Formula, note: str = "") -> SavedVersion:
        """Save a formula as the next version of its name; raises `BadValue` where the name will not do."""
        return self.workspace.formulas.save(formula, formula.name, note)[-1]

    def readings_of(self, formula: Formula | None) -> list[Reading]:
        """Return the readings of the trials of the saved version that a formula equals."""
        with self.workspace.reading():
            if formula is None or not (title := self.workspace.formulas.same_version(formula)):
                return []
            return [one for record in self.workspace.trials.records(title) for one in record.readings]

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

    def renew(self) -> None:
        """Show every tab what its formula is now: another notebook is in the place of the one before."""
        for number in list(self._watchers):
            try:
                draft: Draft | None = self.get(number)
            except RecommenderError:
                draft = None
            for watcher in list(self._watchers[number]):
                watcher(draft)
