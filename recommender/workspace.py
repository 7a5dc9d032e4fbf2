"""A workspace: the palette under a person's notebook, formulas by name, file or value, and every verb once.

Command line, page and Python ask here. Whatever names a material or a formula is turned into a `Material`
or a `Formula` here, so that no stage below reads a file.
"""

import os
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, Protocol, TypeAlias

from recommender import regulation, suggest, weighing
from recommender.errors import BadNotebook, BadTable, BadValue
from recommender.evaporation import DEFAULT_CONDITIONS, Conditions
from recommender.evidence.overlay import Overlay
from recommender.evidence.sheets import Row
from recommender.formulas import comparison, redundancy
from recommender.formulas import formula as formulas
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Facet, Findings, Formula, Material, OwnStrip, TrialRecord
from recommender.palette import Palette, find, palette_with, shipped
from recommender.similarity.phrases import NOTHING
from recommender.suggest import Request
from recommender.suggest.stock import MaterialCost, Shelf, cost

if TYPE_CHECKING:
    import sqlite3

    from recommender.calibration import Fit
    from recommender.notebook.formulas import SavedVersion
    from recommender.suggest.revise import Revision


class Table(Protocol):
    """A table of lines, such as a pandas DataFrame."""

    @property
    def columns(self) -> Any:
        """The names of the columns."""

    def to_dict(self, orient: Literal["records"], /) -> Any:
        """Return one mapping for each line."""


FormulaSource: TypeAlias = (
    Formula | str | os.PathLike[str] | Mapping[str, float] | Sequence[tuple[str, float]] | Table
)
"""A formula: itself, a file, a saved name (NAME or NAME@2), parts by material, or a table of lines."""

VARIABLE = "RECOMMENDER_NOTEBOOK"
FILE = "notebook.sqlite"
TABLE = "table"
"""What a formula that was given as a table or a mapping is called."""
FORMULA_WANTED = "a file, a saved name, a mapping or pairs of material and parts, or a DataFrame"


def notebook_path(given: str | None, environment: Mapping[str, str]) -> Path:
    """Return the path of the notebook: the given one, that of the variable, else the data folder's.

    The file need not be there.
    """
    if named := given or environment.get(VARIABLE):
        return Path(named).expanduser()
    from platformdirs import user_data_path

    return user_data_path("recommender", appauthor=False) / FILE


@dataclass(frozen=True)
class SmelledTrial:
    """A trial record with the drydown of its version in the room of the trial.

    `predicted` has how strong each reading of the record is predicted to be, 0-100.
    """

    record: TrialRecord
    drydown: FormulaDrydown
    predicted: tuple[float, ...]


@dataclass(frozen=True)
class NextVersion:
    """What the trials of a saved version propose for the next one.

    `drydown` is the version in the room in which it was smelled; `records` are its trials.
    """

    version: "SavedVersion"
    records: tuple[TrialRecord, ...]
    drydown: FormulaDrydown
    revision: "Revision"


class Workspace:
    """One notebook, or none, over the shipped evidence.

    A question opens the notebook once and sees one state of it; what it changes in the palette is worked out
    again only when the notebook has changed. Threads may share a workspace.

    Parameters
    ----------
    notebook : Path, optional
        The notebook; the file need not be there.
    palette : Palette, optional
        The palette to answer from, in place of the shipped one under the notebook.
    """

    def __init__(self, notebook: Path | None = None, palette: Palette | None = None) -> None:
        self.notebook = notebook
        self._given = palette
        self._current: Palette | None = palette
        self._overlay: tuple[Overlay, Conditions] = Overlay(), DEFAULT_CONDITIONS
        self._stamp: tuple[int, ...] = ()
        self._thread = threading.local()

    def __reduce__(self) -> tuple[Any, ...]:  # an open notebook cannot be sent to another process
        return type(self), (self.notebook, self._given)

    @contextmanager
    def reading(self) -> "Iterator[sqlite3.Connection | None]":
        """Open the notebook to read, once for everything inside; None where there is none.

        Raises
        ------
        BadNotebook
        """
        opened = getattr(self._thread, "db", None)
        if opened is not None:
            yield opened
            return
        if self.notebook is None or not self.notebook.exists():  # most calls end here: no database is loaded
            yield None
            return
        from recommender.notebook import reading

        with reading(self.notebook) as db:
            self._thread.db = db
            try:
                yield db
            finally:
                self._thread.db = None

    @contextmanager
    def writing(self, *, existing: bool = False) -> "Iterator[sqlite3.Connection]":
        """Open the notebook for one transaction, made if it is not there: all of it is stored, or nothing.

        Parameters
        ----------
        existing : bool
            Whether a notebook has to be there already.

        Raises
        ------
        BadNotebook
        """
        if self.notebook is None:
            raise BadNotebook("", "none is open", "Open one by the path of its file")
        from recommender.notebook import backup, writing

        if existing:
            backup.present(self.notebook)
        with writing(self.notebook) as db:
            yield db

    @property
    def palette(self) -> Palette:
        """The materials as the person has them; raises `BadNotebook`."""
        return self._worked_out()[0]

    @property
    def overlay(self) -> tuple[Overlay, Conditions]:
        """What the notebook changes in the palette, as values that another process can be given."""
        return self._worked_out()[1]

    def _worked_out(self) -> tuple[Palette, tuple[Overlay, Conditions]]:
        if self._given is not None:
            return self._given, self._overlay
        stamp = _stamp_of(self.notebook)
        if self._current is None:
            self._current = shipped()
        if stamp != self._stamp:
            with self.reading() as db:
                overlay: tuple[Overlay, Conditions] = Overlay(), DEFAULT_CONDITIONS
                if db is not None:
                    from recommender.notebook.overlay import overlay_of

                    overlay = overlay_of(db)
            if overlay != self._overlay:
                self._overlay, self._current = overlay, palette_with(*overlay)
            self._stamp = stamp
        return self._current, self._overlay

    def shelf(self) -> Shelf:
        """Return the person's bottles as they are today."""
        with self.reading() as db:
            if db is None:
                return Shelf((), date.today())
            from recommender.notebook import shelf

            return Shelf(tuple(shelf.bottles(db)), date.today())

    # what is asked about

    def material(self, source: "Material | str") -> Material:
        """Return a material by name, synonym, CAS number or own label.

        Raises
        ------
        UnknownMaterial, WrongCas
        BadValue
            Neither a material nor a text.
        """
        if isinstance(source, Material):
            return source
        if not isinstance(source, str):
            raise BadValue("material", type(source).__name__, "it is a name, a CAS number or a Material")
        return self.palette.catalogue.find(source)

    def formula(self, source: Any) -> Formula:
        """Return a formula.

        Parameters
        ----------
        source : FormulaSource
            A formula, a file (CSV or XLSX), a saved name, a mapping or pairs of material and parts, or a
            table with the columns of a file.

        Raises
        ------
        BadTable, BadValue, BadNotebook
        """
        match source:
            case Formula():
                return source
            case str() | os.PathLike():
                return self._named(os.fspath(source))
            case Mapping():
                return formulas.of_pairs(TABLE, source.items(), self.palette.catalogue)
        if _is_table(source):
            return self._of_table(source)
        if isinstance(source, Sequence) and all(map(_is_pair, source)):
            return formulas.of_pairs(TABLE, source, self.palette.catalogue)
        raise BadValue("formula", type(source).__name__, f"it is {FORMULA_WANTED}")

    def _of_table(self, table: Table) -> Formula:
        names = [str(name) for name in table.columns]
        known = f"The columns of a formula are {', '.join(formulas.COLUMNS)}"
        for name in formulas.COLUMNS:
            if name in formulas.REQUIRED and name not in names:
                raise BadTable(TABLE, f"no column is called {name}", remedy=known)
            if names.count(name) > 1:
                raise BadTable(TABLE, f"{names.count(name)} columns are called {name}", remedy="Name one so")
        rows = [
            Row(TABLE, n, {name: formulas.cell_of(record.get(name)) for name in formulas.COLUMNS})
            for n, record in enumerate(table.to_dict("records"), 1)
        ]
        unused = [name for name in names if name not in formulas.COLUMNS]
        notes = [f"{TABLE}: not used: {', '.join(unused)}."] if unused else []
        return formulas.of_rows(TABLE, rows, self.palette.catalogue, notes)

    def _named(self, text: str) -> Formula:
        saved = self._saved(text)
        if saved is None:
            return formulas.read(text, self.palette.catalogue)
        if os.path.isfile(text):
            found = formulas.read(text, self.palette.catalogue)
            note = f'"{text}" is a file here and a saved formula ({saved.name}); the file is taken.'
            return replace(found, notes=(note, *found.notes))
        return saved

    def _saved(self, text: str) -> Formula | None:
        """Return the saved formula of this name, None where there is none."""
        with self.reading() as db:
            if db is None:
                return None
            from recommender.notebook import formulas as versions

            version = versions.find(db, text)
            if version is None:
                return None
            formula = versions.formula_of(db, version, self.palette.catalogue)
            return replace(formula, name=version.title) if "@" in text or os.path.isfile(text) else formula

    def subject(self, source: Any) -> Material | Formula:
        """Return what a text or value names: a formula where it is a file or saved, else a material.

        Raises
        ------
        UnknownMaterial, WrongCas, BadTable, BadValue, BadNotebook
        """
        if isinstance(source, Material):
            return source
        if isinstance(source, str) and not formulas.is_file(source):
            return self._saved(source) or self.material(source)
        try:
            return self.formula(source)
        except BadValue as error:
            if error.field == "formula" and error.value == type(source).__name__:
                wanted = f"it is a name, a CAS number, a Material or a formula: {FORMULA_WANTED}"
                raise BadValue("material", error.value, wanted) from None
            raise

    # what is on record

    def facets(self, words: str | None = None) -> tuple[list[tuple[Facet, int]], list[str]]:
        """Return the facets that words stand for (all without words), and notes.

        Each with the number of materials of the palette that show it.

        Raises
        ------
        UnknownFacet, BadValue, BadNotebook
        """
        palette = self.palette
        phrase = palette.phrase(words) if words else NOTHING
        chosen = set(phrase.facets or (facet.name for facet in palette.catalogue.facets)) - set(
            phrase.refused
        )
        offered = [material for material in palette.catalogue.materials if material.role == "palette"]
        found = [
            (facet, sum(material.strength_of(facet.name) > 0 for material in offered))
            for facet in palette.catalogue.facets
            if facet.name in chosen
        ]
        return found, list(phrase.notes)

    def similarities(self) -> Iterator[tuple[Material, list[tuple[Material, float]]]]:
        """Yield each material that has a CAS number and labels, with its likeness to those after it, 0-1."""
        palette = self.palette
        numbered = [(i, m) for i, m in enumerate(palette.catalogue.materials) if m.cas and m.labels]
        likeness = palette.space.all_likeness()
        for place, (i, material) in enumerate(numbered):
            yield material, [(other, float(likeness[i, j])) for j, other in numbered[place + 1 :]]

    # the verbs

    def extend(self, asked: Any, request: Request | None = None, *, within: Any = None) -> Findings:
        """Find what keeps a facet alive after the material that carried it has gone.

        Parameters
        ----------
        asked : str, Material or FormulaSource
            A material, or a formula in which a facet dies.
        request : Request, optional
        within : FormulaSource, optional
            The formula in which the material `asked` fades.

        Raises
        ------
        UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadTable, BadNotebook
        """
        with self.reading():
            inner = None if within is None else self.formula(within)
            subject = self.subject(asked) if inner is None else self.material(asked)
            return suggest.extend(subject, self._stocked(request), self.palette, inner)

    def replace(self, asked: Any, request: Request | None = None, *, within: Any = None) -> Findings:
        """Find what can stand for a material, alone, `within` a formula or as a blend; errors as `extend`."""
        with self.reading():
            inner = None if within is None else self.formula(within)
            return suggest.replace(self.material(asked), self._stocked(request), self.palette, inner)

    def vary(self, asked: Any, request: Request) -> Findings:
        """Find what moves a material or a formula toward other words; errors as `extend`."""
        with self.reading():
            return suggest.vary(self.subject(asked), self._stocked(request), self.palette)

    def _stocked(self, request: Request | None) -> Request:
        """Return a request with the shelf where it asks for bottles or prices."""
        given = request or Request()
        needs = (given.only_shelf or given.max_price is not None) and given.shelf is None
        return replace(given, shelf=self.shelf()) if needs else given

    def materials(self, words: str | None = None) -> tuple[list[Material], list[str]]:
        """Return the materials that show the facets named by words, the strongest first, and notes.

        Raises
        ------
        UnknownFacet, BadNotebook
        """
        return find(words, self.palette)

    def drydown(self, formula: Any, market: str = "any") -> FormulaDrydown:
        """Return a formula on a strip: its course, ends and gaps; errors as `formula`."""
        with self.reading():
            return FormulaDrydown(self.formula(formula), self.palette, market)

    def trim(self, formula: Any) -> tuple[FormulaDrydown, list[redundancy.Contribution]]:
        """Return a formula with what would be missed without each material, the least missed first."""
        table = self.drydown(formula)
        return table, redundancy.trim(table)

    def strips(
        self, materials: "Sequence[Material | str]", hours: float = 1 / 60
    ) -> list[comparison.StripComparison]:
        """Compare 1 % strips of materials at one hour; raises `UnknownMaterial`, `WrongCas`, `BadValue`."""
        with self.reading():
            return comparison.strips([self.material(name) for name in materials], self.palette, hours)

    def dose(
        self,
        materials: "Sequence[Material | str]",
        balance: Mapping[str, float] | None = None,
        *,
        batch_g: float = 10.0,
        resolution_g: float = 0.01,
        use: regulation.ProductUse | None = None,
    ) -> list[comparison.FirstAmount]:
        """Return first amounts for a balance, facet or material -> how strong it should seem.

        Raises
        ------
        UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadNotebook
        """
        with self.reading():
            chosen = [self.material(name) for name in materials]
            return comparison.dose(chosen, balance or {}, self.palette, batch_g, resolution_g, use)

    def compare(self, one: Any, other: Any) -> tuple[FormulaDrydown, FormulaDrydown, comparison.Comparison]:
        """Return two formulas, and both side by side hour by hour; errors as `formula`."""
        with self.reading():
            both = self.drydown(one), self.drydown(other)
        return *both, comparison.compare(*both)

    def diff(
        self, one: Any, other: Any = None
    ) -> tuple[FormulaDrydown, FormulaDrydown, comparison.VersionDiff]:
        """Return two versions, and what moved from one to the other; errors as `formula`.

        Parameters
        ----------
        one : FormulaSource
            Where it stands alone, a saved name: that version is compared with the one before it.
        other : FormulaSource, optional
        """
        with self.reading():
            if other is None:
                one, other = self._with_the_one_before(one)
            both = self.drydown(one), self.drydown(other)
        return *both, comparison.diff(*both)

    def _with_the_one_before(self, name: str) -> tuple[Formula, Formula]:
        """Return the version before a saved one, and that one."""
        found = self.version(name)
        earlier = [one for one in self.versions(found.name) if one.number < found.number]
        if not earlier:
            raise BadValue("formula", found.title, "there is no version before it; name two")
        return self._opened(earlier[-1]), self._opened(found)

    def check(
        self,
        formula: Any,
        dosage_percent: float,
        category: str = regulation.CATEGORY,
        market: str = "any",
        content: Sequence[str] = (),
    ) -> regulation.Report:
        """Carry a formula to the finished product: limits, prohibitions, label.

        Parameters
        ----------
        formula : FormulaSource
        dosage_percent : float
            The concentrate in the finished product [% by mass].
        category : str
            Category of the industry Standards, such as "4" or "5A".
        market : str
            any, eu or standards.
        content : sequence of str
            What certificates say of naturals: "tonka bean absolute: coumarin 60".

        Raises
        ------
        BadTable, BadValue, UnknownMaterial, WrongCas, BadNotebook
        """
        with self.reading():
            catalogue = self.palette.catalogue
            regulation.checked_category(category)
            certified = regulation.certificates(content, catalogue)
            found = self.formula(formula)
            amounts = formulas.amounts(found)
            report = regulation.check(amounts, catalogue, dosage_percent, category, market, certified)
            notes = tuple(dict.fromkeys((*found.notes, *formulas.remarks(found))))
            return replace(report, formula=found.name, notes=notes)

    def weigh(self, formula: Any, request: weighing.WeighingRequest | None = None) -> weighing.WeighingSheet:
        """Return how to weigh a formula; raises `BadTable`, `BadValue`, `UnknownMaterial`, `BadNotebook`."""
        with self.reading():
            found = self.formula(formula)
            return weighing.weighed(found, request or weighing.WeighingRequest(), self.palette.catalogue)

    def cost(self, formula: Any, batch_g: float = 10.0) -> tuple[FormulaDrydown, list[MaterialCost]]:
        """Return a formula, and what a batch of it [g] takes from the bottles; errors as `formula`."""
        with self.reading():
            found = self.drydown(formula)
            return found, cost(found.concentrate, self.shelf(), batch_g)

    # saved formulas

    def versions(self, name: str | None = None) -> "list[SavedVersion]":
        """Return all versions of a saved name, the oldest first; the last of every name without one.

        Raises
        ------
        BadValue
            Nothing is saved under this name.
        BadNotebook
        """
        with self.reading() as db:
            if db is None:
                found = []
            else:
                from recommender.notebook import formulas as saved

                found = saved.latest(db) if name is None else saved.versions(db, name)
            if name is not None and not found:
                raise self._not_saved(name)
        return found

    def version(self, name: str) -> "SavedVersion":
        """Return the saved version that NAME or NAME@2 stands for; errors as `versions`."""
        with self.reading() as db:
            if db is not None:
                from recommender.notebook import formulas as saved

                found = saved.find(db, name)
                if found is not None:
                    return found
            raise self._not_saved(name)

    def _not_saved(self, name: str) -> BadValue:
        with self.reading() as db:
            near: Sequence[str] = ()
            if db is not None:
                from recommender.notebook import formulas as saved

                near = saved.near(db, name)
        way_out = f"did you mean {', '.join(near)}?" if near else "`recommender formulas list` shows them"
        return BadValue("formula", name, f"no formula is saved under this name; {way_out}")

    def _opened(self, version: "SavedVersion") -> Formula:
        """Return a saved version as a formula, called by name and number."""
        from recommender.notebook import formulas as saved

        with self.reading() as db:
            assert db is not None, "a version comes from a notebook"
            return replace(saved.formula_of(db, version, self.palette.catalogue), name=version.title)

    def saved(self, name: str) -> "tuple[SavedVersion, Formula]":
        """Return the saved version that a name stands for, and its formula; errors as `versions`."""
        with self.reading():
            found = self.version(name)
            return found, replace(self._opened(found), name=found.name)

    def save(self, formula: Formula, name: str, note: str = "") -> "list[SavedVersion]":
        """Save a formula as the next version of a name, accords in it first; the formula itself comes last.

        Raises
        ------
        BadValue
            A name under which nothing can be saved.
        BadNotebook
        """
        from recommender.notebook import formulas as saved

        catalogue = self.palette.catalogue
        named = replace(formula, name=saved.check_name(name, catalogue))
        for inner in formulas.accords(named):
            saved.check_name(inner.name, catalogue)
        with self.writing() as db:
            return list(dict.fromkeys(saved.save(db, named, now(), note)))

    # trial records and own strips

    def trial_records(self, name: str | None = None) -> list[TrialRecord]:
        """Return the trials of a saved name (all versions), of one version NAME@2, or all of the notebook.

        Raises
        ------
        BadValue, BadNotebook
        """
        with self.reading() as db:
            if db is None:
                return []
            from recommender.notebook import trials

            if name is None:
                return trials.of_versions(db)
            found = self.version(name)
            wanted = [found] if "@" in name else self.versions(found.name)
            return trials.of_versions(db, [one.version for one in wanted])

    def trial(self, number: int) -> SmelledTrial:
        """Return a trial beside what the drydown predicts for its readings.

        Raises
        ------
        BadValue
            There is none of this number.
        BadNotebook
        """
        from recommender.notebook import trials
        from recommender.suggest.trial_findings import level

        with self.reading() as db:
            if db is None:
                raise trials.missing(number)
            record = trials.find(db, number)
            drydown = self._as_smelled(self.version(f"{record.formula}@{record.version}"), [record])
        predicted = tuple(level(drydown, one.facet, one.hours) for one in record.readings)
        return SmelledTrial(record, drydown, predicted)

    def next_version(self, name: str, request: Request | None = None) -> NextVersion:
        """Propose the next version of a saved formula from how its trials smelled.

        Raises
        ------
        BadValue
            Nothing is saved under this name, or no trial of it has readings.
        UnknownFacet, BadNotebook
        """
        from recommender.suggest.revise import revise

        with self.reading():
            version = self.version(name)
            records = self.trial_records(version.title)
            readings = [one for record in records for one in record.readings]
            if not readings:
                raise self._without_readings(version)
            drydown = self._as_smelled(version, records)
            revision = revise(drydown, readings, self._stocked(request))
        return NextVersion(version, tuple(records), drydown, revision)

    def _without_readings(self, version: "SavedVersion") -> BadValue:
        with_some = (r for r in self.trial_records(version.name) if r.readings)
        others = sorted({f"{r.formula}@{r.version}" for r in with_some})
        way_out = f"{', '.join(others)} has" if others else "see `recommender trials add --help`"
        return BadValue("trial", version.title, f"there are no readings of it yet; {way_out}")

    def _as_smelled(self, version: "SavedVersion", records: Sequence[TrialRecord]) -> FormulaDrydown:
        """Return a version on a strip in the room in which it was smelled, the usual one where unknown."""
        palette = self.palette
        rooms = [record.room_c for record in records if record.room_c is not None]
        if rooms:
            conditions = replace(palette.conditions, temperature_c=sum(rooms) / len(rooms))
            palette = replace(palette, conditions=conditions)
        return FormulaDrydown(self._opened(version), palette)

    def own_strips(self) -> list[OwnStrip]:
        """Return the strips of single materials on record, those of materials no longer known left out."""
        with self.reading() as db:
            if db is None:
                return []
            from recommender.notebook import strips

            catalogue = self.palette.catalogue
            rows = catalogue.index
            return strips.strips(db, lambda slug: catalogue.by_slug(slug) if slug in rows else None)

    def fit_strips(self, *, use: bool = False) -> "Fit":
        """Fit still air, paper and nose to the strips on record; `use` stores the fit for every drydown.

        Raises
        ------
        BadValue
            There are no strips with readings.
        BadNotebook
        """
        from recommender.calibration import fit

        found = fit([strip for strip in self.own_strips() if strip.readings])
        if use:
            from recommender.notebook import strips

            fitted = found.conditions
            figures = {name: getattr(fitted, name) for name in ("film_m", "nose_l_per_s", "paper_share")}
            own = {slug: asdict(offset) for slug, offset in fitted.own.items()}
            with self.writing() as db:
                strips.keep(db, now(), figures | {"room_c": fitted.temperature_c}, own)
        return found


def now() -> str:
    """Return the time as a notebook stores it: yyyy-mm-ddThh:mm:ss in UTC."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S")


def _is_table(source: object) -> bool:
    return hasattr(source, "to_dict") and hasattr(source, "columns")


def _is_pair(source: object) -> bool:
    return isinstance(source, Sequence) and not isinstance(source, str) and len(source) == 2


def _stamp_of(notebook: Path | None) -> tuple[int, ...]:
    """Return what changes with every write to a notebook: age and size of the file and of its log."""
    if notebook is None:
        return ()
    stamp: list[int] = []
    for path in (notebook, notebook.with_name(notebook.name + "-wal")):
        try:
            found = path.stat()
        except OSError:
            stamp += [0, 0, 0]
        else:
            stamp += [found.st_ino, found.st_mtime_ns, found.st_size]
    return tuple(stamp)
