"""An open notebook: the palette under a person's records, and formulas by name, file or value.

Whatever names a material or a formula is turned into a `Material` or a `Formula` here, so that no stage below
reads a file.
"""

import os
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, Protocol, TypeAlias

from recommender.errors import BadNotebook, BadTable, BadValue, UnknownMaterial
from recommender.evaporation.conditions import DEFAULT_CONDITIONS, Conditions
from recommender.evidence import demo
from recommender.evidence.catalogue import plain
from recommender.evidence.intake import NO_SUCH_FILE
from recommender.evidence.overlay import Overlay
from recommender.evidence.sheets import Row
from recommender.formulas import formula as formulas
from recommender.model import Formula, Material
from recommender.notebook import is_missing
from recommender.palette import Palette, palette_with, shipped
from recommender.similarity.phrases import vocabulary

if TYPE_CHECKING:
    import sqlite3


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
UNKNOWN = (-1,)
"""The stamp of no state of a notebook: what it changes in the palette is read again."""
TABLE = "table"
"""What a formula that was given as a table or a mapping is called."""
CLOSE = 80.0
"""How alike a name and that of a formula are at least, where one may be a slip of the other [%]."""
MOST_NAMED = 3
"""Facets of one word that are named in an error."""
FORMULA_WANTED = "a file, a saved name, a mapping or pairs of material and parts, or a DataFrame"


def notebook_path(given: str | None, environment: Mapping[str, str]) -> Path:
    """Return the path of the notebook: the given one, that of the variable, else the data folder's.

    The file need not be there.
    """
    if named := given or environment.get(VARIABLE):
        return Path(named).expanduser()
    from platformdirs import user_data_path

    return user_data_path("recommender", appauthor=False) / FILE


class OpenNotebook:
    """One notebook, or none, over the shipped evidence.

    What the notebook changes in the palette is worked out again only when the notebook has changed. Threads
    may share it.

    Parameters
    ----------
    notebook : Path, optional
        The notebook; the file need not be there.
    palette : Palette, optional
        The palette to answer from, in place of the shipped one under the notebook.
    sheet : str
        The sheet to read of workbooks, by name; by default the one that was active when each was saved.
    """

    def __init__(self, notebook: Path | None = None, palette: Palette | None = None, sheet: str = "") -> None:
        self.notebook = notebook
        self.sheet = sheet
        self._given = palette
        self._current: Palette | None = palette
        self._overlay: tuple[Overlay, Conditions] = Overlay(), DEFAULT_CONDITIONS
        self._stamp: tuple[int, ...] = ()
        self._thread = threading.local()
        self._file: tuple[int, int] | None = _file_of(notebook)

    def __reduce__(self) -> tuple[Any, ...]:  # an open notebook cannot be sent to another process
        return type(self), (self.notebook, self._given, self.sheet)

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
        if self.notebook is None or is_missing(self.notebook):  # most calls end here: no database is loaded
            yield None
            return
        from recommender.notebook.store import reading

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
            Also where the file has been removed since it was opened, or another is in its place: what is
            stored would not be in the notebook that was read.
        """
        if self.notebook is None:
            raise BadNotebook("", "none is open", "Open one by the path of its file")
        if self._file is not None and _file_of(self.notebook) != self._file:
            problem = "it was removed or replaced since it was opened; this change is not stored"
            raise BadNotebook(str(self.notebook), problem, "Put the file back, or open it again")
        from recommender.notebook import backup
        from recommender.notebook.store import writing

        if existing:
            backup.present(self.notebook)
        try:
            with writing(self.notebook) as db:
                yield db
            self._file = self._file or _file_of(self.notebook)
        finally:
            self._stamp = UNKNOWN

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

    def material(self, source: Any) -> Material:
        """Return a material: itself, or by name, synonym, CAS number or own label.

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
        try:
            return self.palette.catalogue.find(source)
        except UnknownMaterial as error:
            raise self._unknown(error) from None

    def _unknown(self, error: UnknownMaterial, *hints: str) -> UnknownMaterial:
        """Return the error, with what else the name is known as: a bottle without a material, a smell."""
        if type(error) is not UnknownMaterial or error.entry:
            return error
        hint = next(filter(None, (*hints, self._unresolved(error.name), self._smell(error.name))), "")
        return UnknownMaterial(error.name, error.near, hint=hint) if hint else error

    def _unresolved(self, name: str) -> str:
        """Return how to define a label that stands on a bottle of which no material is known."""
        with self.reading() as db:
            if db is None:
                return ""
            from recommender.notebook import shelf

            label = next((b.label for b in shelf.bottles(db) if plain(b.label) == plain(name)), "")
        if not label:
            return ""
        return (
            f'it is a bottle without a material: `recommender shelf resolve "{label}" MATERIAL` defines it.'
        )

    def _smell(self, name: str) -> str:
        """Return what lists the materials of a smell."""
        catalogue = self.palette.catalogue
        meant = vocabulary(catalogue.facets, catalogue.umbrellas).get(plain(name), ())
        if not meant:
            return ""
        called = f" ({', '.join(meant)})" if 0 < len(meant) <= MOST_NAMED and meant != (plain(name),) else ""
        return f'it is a smell{called}: `recommender materials "{plain(name)}"` lists what has it.'

    def formula(self, source: Any) -> Formula:
        """Return a formula.

        Parameters
        ----------
        source : FormulaSource
            A formula, a file (CSV, XLSX, XLS, ODS), a saved name, a mapping or pairs of material and parts,
            or a table with the columns of a file.

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
                return formulas.of_pairs(TABLE, source.items(), self.palette.catalogue, self._accord)
        if _is_table(source):
            return self._of_table(source)
        if isinstance(source, Sequence) and all(map(_is_pair, source)):
            return formulas.of_pairs(TABLE, source, self.palette.catalogue, self._accord)
        raise BadValue("formula", type(source).__name__, f"it is {FORMULA_WANTED}")

    def _of_table(self, table: Table) -> Formula:
        names = [str(name) for name in table.columns]
        known = f"The columns of a formula are {', '.join(formulas.SHEET_COLUMNS)}"
        for name in formulas.SHEET_COLUMNS:
            if name in formulas.REQUIRED and name not in names:
                raise BadTable(TABLE, f"no column is called {name}", remedy=known)
            if names.count(name) > 1:
                raise BadTable(TABLE, f"{names.count(name)} columns are called {name}", remedy="Name one so")
        rows = [
            Row(TABLE, n, {name: formulas.cell_of(record.get(name)) for name in formulas.SHEET_COLUMNS})
            for n, record in enumerate(table.to_dict("records"), 1)
        ]
        unused = [name for name in names if name not in formulas.SHEET_COLUMNS]
        notes = [f"{TABLE}: not used: {', '.join(unused)}."] if unused else []
        return formulas.of_rows(TABLE, rows, self.palette.catalogue, notes, self._accord)

    def _named(self, text: str) -> Formula:
        saved = self._saved(text)
        if saved is None:
            try:
                found = self._read(text)
            except BadTable as error:
                raise self._no_formula(text, error) from None
            if demo.example(text) is None:
                return found
            note = f"{text} is an example that comes with the program."
            return replace(found, notes=(note, *found.notes))
        if os.path.isfile(text):
            found = self._read(text)
            note = f'"{text}" is a file here and a saved formula ({saved.name}); the file is taken.'
            return replace(found, notes=(note, *found.notes))
        return saved

    def _read(self, text: str) -> Formula:
        return formulas.read(text, self.palette.catalogue, self.sheet, self._accord)

    def _accord(self, name: str) -> Formula | None:
        """Return the saved formula that a line names, NAME or NAME@2, None where there is none."""
        found = self._saved(name)
        return None if found is None else replace(found, name=found.name.split("@")[0])

    def _no_formula(self, text: str, error: BadTable) -> BadTable:
        """Return what is wrong with a text that names no file where a formula is wanted."""
        if error.problem != NO_SUCH_FILE or error.line is not None:
            return error
        near = self._formulas_near(text)
        meant = f"D{near[1:]}"
        if formulas.is_file(text):
            return BadTable(error.file, error.problem, remedy=meant) if near else error
        problem = f"is that a formula? {NO_SUCH_FILE}, and no formula is saved under this name"
        remedy = "Name a file, or a saved formula"
        if self.palette.catalogue.meanings(text):
            remedy = f"It is a material. {remedy}"
        elif near:
            remedy = meant
        return BadTable(text, problem, remedy=remedy)

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
            return self._saved(source) or self._material_or_file(source)
        try:
            return self.formula(source)
        except BadValue as error:
            if error.field == "formula" and error.value == type(source).__name__:
                wanted = f"it is a name, a CAS number, a Material or a formula: {FORMULA_WANTED}"
                raise BadValue("material", error.value, wanted) from None
            raise

    def _material_or_file(self, name: str) -> Material:
        """Return a material; an unknown name may be that of a formula, misspelt or without its suffix."""
        try:
            return self.palette.catalogue.find(name)
        except UnknownMaterial as error:
            hint = self._formulas_near(name)
            if hint and error.near and f" {name}." not in hint:
                hint = f"{hint[:-1]}, or the material {error.near[0]}?"
            raise self._unknown(error, hint) from None

    def _formulas_near(self, text: str) -> str:
        """Return a question for the formula that a text may mean: a file beside it, or a saved one."""
        near = _files_near(text)
        if not near:
            with self.reading() as db:
                if db is not None:
                    from recommender.notebook import formulas as versions

                    near = list(versions.near(db, text.split("@")[0], CLOSE))
        return f"did you mean the formula {' or '.join(near)}?" if near else ""


def _files_near(text: str) -> list[str]:
    """Return the one or two sheets in the same folder whose names come nearest to a text."""
    from rapidfuzz import fuzz, process

    folder, _, name = text.rpartition("/")
    try:
        sheets = [one for one in os.listdir(folder or ".") if formulas.is_file(one)]
    except OSError:
        return []
    stems = {one: os.path.splitext(one)[0] for one in sheets}
    stem = os.path.splitext(name)[0] if formulas.is_file(name) else name
    found = process.extract(
        stem.casefold(),
        {k: v.casefold() for k, v in stems.items()},
        scorer=fuzz.ratio,
        limit=2,
        score_cutoff=CLOSE,
    )
    return [f"{folder}/{key}" if folder else key for _, _, key in found]


def _is_table(source: object) -> bool:
    return hasattr(source, "to_dict") and hasattr(source, "columns")


def _is_pair(source: object) -> bool:
    return isinstance(source, Sequence) and not isinstance(source, str) and len(source) == 2


def _file_of(notebook: Path | None) -> tuple[int, int] | None:
    """Return which file a notebook is, None where there is none."""
    try:
        found = notebook.stat() if notebook else None
    except OSError:
        return None
    return (found.st_dev, found.st_ino) if found else None


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
