"""What the other views keep in the notebook: notes of the nose, bottles, trials."""

from abc import ABC, abstractmethod
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from recommender.errors import BadNotebook
from recommender.model import Bottle, Formula, Material, OwnNote, Reading, TrialRecord
from recommender.notebook import formulas as versions
from recommender.notebook import nose, reading, removed, shelf, trials, writing
from recommender.notebook.formulas import SavedVersion
from recommender.notebook.importers import ImportedRow
from recommender.notebook.removed import Removed
from recommender.palette import Palette
from recommender.suggest.stock import Shelf
from recommender.workspace import shelf_of


class NotebookRecords(ABC):
    """One notebook; each call is one transaction, so that all who look see it at once."""

    path: Path

    @abstractmethod
    def palette(self) -> Palette:
        """Return the bench under the notebook."""

    def note_nose(self, note: OwnNote) -> None:
        """Write down what the person's nose says of a material."""
        with writing(self.path) as db:
            nose.note(db, note)

    def forget_nose(self, slug: str) -> int | None:
        """Take back what the nose said of a material; returns its number among the removed."""
        with writing(self.path) as db:
            return nose.forget(db, slug)

    def removed(self, kind: str) -> list[Removed]:
        """Return what was removed of a kind, the last first."""
        if not self.path.exists():
            return []
        with reading(self.path) as db:
            return [] if db is None else removed.listed(db, kind)

    def bring_back(self, number: int) -> Removed:
        """Bring something removed back as it was; raises `BadValue` where that cannot be done."""
        with writing(self.path) as db:
            return removed.bring_back(db, number)

    def shelf(self) -> Shelf:
        """Return the person's bottles as they are today."""
        return shelf_of(self.path, date.today())

    def put(self, bottle: Bottle) -> None:
        """Put a bottle on the shelf, and remember what its label stands for."""
        catalogue = self.palette().catalogue
        with writing(self.path) as db:
            shelf.put(db, bottle)
            shelf.learn(db, bottle, catalogue)

    def take_in(self, rows: Sequence[ImportedRow]) -> None:
        """Put the bottles of a sheet on the shelf; those that are there are brought up to date."""
        catalogue = self.palette().catalogue
        with writing(self.path) as db:
            shelf.take_in(db, [row.bottle for row in rows if row.bottle is not None], catalogue)

    def resolve(self, label: str, slug: str) -> Material | None:
        """Say what the bottles with a label are; returns the material whose name the label is."""
        catalogue = self.palette().catalogue
        with writing(self.path) as db:
            return shelf.resolve(db, label, slug, catalogue)[1]

    def take_off(self, number: int) -> int | None:
        """Take a bottle off the shelf; returns its number among the removed."""
        with writing(self.path) as db:
            return shelf.take_off(db, number)

    def saved(self) -> list[SavedVersion]:
        """Return the last saved version of every formula."""
        if not self.path.exists():
            return []
        with reading(self.path) as db:
            return [] if db is None else versions.latest(db)

    def versions(self, name: str) -> list[SavedVersion]:
        """Return all saved versions of a name."""
        with reading(self.path) as db:
            return [] if db is None else versions.versions(db, name)

    def formula_of(self, version: SavedVersion) -> Formula:
        """Return a saved version as a formula."""
        with reading(self.path) as db:
            if db is None:
                raise BadNotebook(str(self.path), "there is no notebook any more")
            return versions.formula_of(db, version, self.palette().catalogue)

    def trials(self, version: SavedVersion) -> list[TrialRecord]:
        """Return the trials of a version."""
        with reading(self.path) as db:
            return [] if db is None else trials.of_versions(db, [version.version])

    def add_readings(self, version: SavedVersion, readings: Sequence[Reading]) -> None:
        """Add readings to today's trial of a version, made if there is none yet."""
        today = date.today().isoformat()
        with writing(self.path) as db:
            held = [t for t in trials.of_versions(db, [version.version]) if t.day == today]
            if held:
                trials.add_readings(db, held[-1].number, readings)
            else:
                record = TrialRecord(version.name, version.number, today, readings=tuple(readings))
                trials.add(db, version.version, record)

    def forget_trial(self, number: int) -> int | None:
        """Take a trial out; returns its number among the removed."""
        with writing(self.path) as db:
            return trials.forget(db, number)
