"""What the views other than the formula read and write in the notebook: nose, bottles, versions, trials."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from recommender.errors import BadNotebook
from recommender.model import Bottle, Formula, Material, OwnNote, Reading, TrialRecord
from recommender.notebook import formulas as versions
from recommender.notebook import nose, removed, shelf, trials, writing
from recommender.notebook.formulas import SavedVersion
from recommender.notebook.importers import ImportedRow
from recommender.notebook.removed import Removed
from recommender.workspace import Workspace


class NotebookRecords:
    """One notebook with the workspace over it; each write is one transaction, so that all see it at once."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.workspace = Workspace(path)

    def save_nose(self, note: OwnNote) -> None:
        """Save what the person's nose says of a material."""
        with writing(self.path) as db:
            nose.note(db, note)

    def remove_nose(self, slug: str) -> int | None:
        """Remove what the nose said of a material; returns its number among the removed."""
        with writing(self.path) as db:
            return nose.forget(db, slug)

    def removed(self, kind: str) -> list[Removed]:
        """Return what was removed of a kind, the last first."""
        with self.workspace.reading() as db:
            return [] if db is None else removed.listed(db, kind)

    def bring_back(self, number: int) -> Removed:
        """Bring something removed back as it was; raises `BadValue` where that cannot be done."""
        with writing(self.path) as db:
            return removed.bring_back(db, number)

    def add_bottle(self, bottle: Bottle) -> None:
        """Put a bottle on the shelf, and remember what its label stands for."""
        catalogue = self.workspace.palette.catalogue
        with writing(self.path) as db:
            shelf.put(db, bottle)
            shelf.learn(db, bottle, catalogue)

    def import_bottles(self, rows: Sequence[ImportedRow]) -> None:
        """Put the bottles of a sheet on the shelf; those that are there are brought up to date."""
        catalogue = self.workspace.palette.catalogue
        with writing(self.path) as db:
            shelf.take_in(db, [row.bottle for row in rows if row.bottle is not None], catalogue)

    def resolve(self, label: str, slug: str) -> Material | None:
        """Set what the bottles with a label are; returns the material whose name the label is."""
        catalogue = self.workspace.palette.catalogue
        with writing(self.path) as db:
            return shelf.resolve(db, label, slug, catalogue)[1]

    def remove_bottle(self, number: int) -> int | None:
        """Take a bottle off the shelf; returns its number among the removed."""
        with writing(self.path) as db:
            return shelf.take_off(db, number)

    def saved(self) -> list[SavedVersion]:
        """Return the last saved version of every formula."""
        with self.workspace.reading() as db:
            return [] if db is None else versions.latest(db)

    def versions(self, name: str) -> list[SavedVersion]:
        """Return all saved versions of a name."""
        with self.workspace.reading() as db:
            return [] if db is None else versions.versions(db, name)

    def formula_of(self, version: SavedVersion) -> Formula:
        """Return a saved version as a formula; raises `BadNotebook` where the notebook has gone."""
        with self.workspace.reading() as db:
            if db is None:
                raise BadNotebook(str(self.path), "there is no notebook any more")
            return versions.formula_of(db, version, self.workspace.palette.catalogue)

    def trials(self, version: SavedVersion) -> list[TrialRecord]:
        """Return the trials of a version."""
        with self.workspace.reading() as db:
            return [] if db is None else trials.of_versions(db, [version.version])

    def add_readings(self, version: SavedVersion, readings: Sequence[Reading]) -> None:
        """Add readings to today's trial of a version, made if there is none yet."""
        today = date.today().isoformat()
        with writing(self.path) as db:
            of_today = [t for t in trials.of_versions(db, [version.version]) if t.day == today]
            if of_today:
                trials.add_readings(db, of_today[-1].number, readings)
            else:
                record = TrialRecord(version.name, version.number, today, readings=tuple(readings))
                trials.add(db, version.version, record)

    def remove_trial(self, number: int) -> int | None:
        """Remove a trial; returns its number among the removed."""
        with writing(self.path) as db:
            return trials.forget(db, number)
