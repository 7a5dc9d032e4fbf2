"""Formulas into a store: the sheets of a folder, all versions of a notebook, Parquet in the layout of lines.

What cannot be read is a row of the failures, and takes nothing else along. Sheets are read by the workers of
`execution`, everything else here.
"""

import hashlib
import os
import time
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from recommender.archive import execution
from recommender.archive.runs import Failure
from recommender.archive.store import (
    ROWS_A_PART,
    Batch,
    FormulaStore,
    StoredFormula,
    StoredLine,
    evidence_key,
    stored,
)
from recommender.errors import BadNotebook, BadTable, BadValue, RecommenderError
from recommender.evidence.catalogue import Catalogue
from recommender.evidence.intake import LONGEST_SHEET, content, file_at
from recommender.evidence.workbooks import SUFFIXES
from recommender.formulas import formula as formulas
from recommender.model import Formula
from recommender.one_line import one_line, printable
from recommender.open_notebook import OpenNotebook
from recommender.palette import Palette
from recommender.progress import StageProgress

CHUNK = 50
"""Sheets given to a worker at once."""
PARQUET = ".parquet"
REQUIRED = ("formula", "material", "parts")
OPTIONAL = ("dilution_percent", "solvent", "accord", "name", "theme")
ROWS_AT_ONCE = 65_536
MOST_ROWS = 100_000_000
MOST_GROUP = 1 << 30
"""A larger group of rows of a Parquet file is not read [bytes, as the file states it]."""
_SQLITE = b"SQLite format 3\0"


@dataclass(frozen=True)
class ImportResult:
    """What an import did: formulas that are new, replaced or as they were, and what could not be read.

    `left_out` are files of other kinds. `failures` have `file`, `line` (None for the whole) and `reason`.
    """

    added: int
    replaced: int
    unchanged: int
    failures: tuple[Mapping[str, Any], ...]
    left_out: int
    seconds: float
    formulas: int
    finished: bool = True


def import_formulas(
    store: FormulaStore,
    source: Path,
    *,
    workers: int | None = None,
    scheduler: str | None = None,
    progress: StageProgress | None = None,
) -> ImportResult:
    """Store the formulas of a folder, a sheet, a notebook or a Parquet file; what is unchanged is not read.

    Parameters
    ----------
    store : FormulaStore
    source : Path
        A folder of sheets (CSV, XLSX, XLS, ODS) and Parquet files, folders inside included; or one such file;
        or a notebook, of which every version of every formula is stored.
    workers, scheduler, progress
        As `execution.run`.

    Raises
    ------
    BadValue
        There is nothing at this place; no worker answers.
    BadNotebook, BadTable
    """
    start = time.monotonic()
    found = Sources.at(source, store.path)
    evidence = evidence_key(store.workspace)
    known = Known.of(store, fresh=store.manifest.get("evidence") == evidence)
    files = [source, *found.sheets, *found.parquet]
    store.forget_failures([storable(str(path)) for path in files])
    store.declare(evidence)
    writer = Writer(store, known)
    writer.fail(found.failures)
    finished = True
    if found.notebook:
        _add_notebook(found.notebook, store, known, writer)
    for path in found.parquet:
        _add_parquet(path, found.names, store.palette.catalogue, known, writer, progress)
    if found.sheets:
        finished = _add_sheets(found.sheets, store, known, writer, workers, scheduler, progress)
    writer.flush()
    return ImportResult(
        writer.added,
        writer.replaced,
        writer.unchanged,
        tuple(writer.failures),
        found.left_out,
        time.monotonic() - start,
        len(store),
        finished,
    )


@dataclass(frozen=True)
class Sources:
    """The files of a source, by kind; `names` is the folder of the table of formulas of a Parquet layout."""

    sheets: tuple[Path, ...] = ()
    parquet: tuple[Path, ...] = ()
    notebook: Path | None = None
    names: Path | None = None
    left_out: int = 0
    failures: tuple[Mapping[str, object], ...] = ()

    @classmethod
    def at(cls, source: Path, store: Path) -> "Sources":
        """Return what is at a place; raises `BadValue` where there is nothing."""
        if source.is_dir():
            return cls._in_folder(source, store)
        if not source.exists():
            raise BadValue("source", source, "there is no such file or folder")
        suffix = source.suffix.lower()
        if suffix == PARQUET:
            return cls(parquet=(source,))
        if suffix in SUFFIXES:
            return cls(sheets=(source,))
        if source.is_file():
            with source.open("rb") as file:
                if file.read(len(_SQLITE)) == _SQLITE:
                    return cls(notebook=source)
        wanted = "it is a folder of sheets, a sheet, a notebook or a Parquet file"
        raise BadValue("source", source, wanted)

    @classmethod
    def _in_folder(cls, source: Path, store: Path) -> "Sources":
        if (source / "lines").is_dir() and any((source / "lines").glob(f"*{PARQUET}")):
            return cls(
                parquet=tuple(sorted((source / "lines").glob(f"*{PARQUET}"))), names=source / "formulas"
            )
        failures: list[dict[str, object]] = []

        def failed(error: OSError) -> None:
            reason = f"the folder cannot be read: {error.strerror}"
            failures.append({"file": str(error.filename), "line": None, "reason": reason})

        sheets: list[Path] = []
        parquet: list[Path] = []
        others, own = 0, store.resolve()
        for folder, inside, files in os.walk(source, onerror=failed):
            here = Path(folder)
            inside[:] = sorted(n for n in inside if not n.startswith(".") and (here / n).resolve() != own)
            for name in sorted(files):
                suffix = Path(name).suffix.lower()
                if name.startswith("."):
                    continue
                if suffix in SUFFIXES:
                    sheets.append(here / name)
                elif suffix == PARQUET:
                    parquet.append(here / name)
                else:
                    others += 1
        if not sheets and not parquet:
            wanted = f"there are no sheets ({', '.join(SUFFIXES)}) and no Parquet files in it"
            raise BadValue("source", source, wanted)
        return cls(tuple(sheets), tuple(parquet), None, None, others, tuple(failures))


class Known:
    """What a store has of each origin: the formulas by name, with number, fingerprint and files beside.

    Without `fresh` evidence no fingerprint counts: the same sheet may mean other materials now.
    """

    def __init__(self) -> None:
        self.by_origin: dict[str, dict[str, tuple[int, str, tuple[str, ...]]]] = defaultdict(dict)

    @classmethod
    def of(cls, store: FormulaStore, *, fresh: bool) -> "Known":
        """Return what a store has."""
        found = cls()
        table = store.formulas(["formula", "name", "origin", "digest", "files"])
        for row in table.to_pylist():
            digest = row["digest"] if fresh else ""
            found.by_origin[row["origin"]][row["name"]] = row["formula"], digest, tuple(row["files"] or ())
        return found


class Writer:
    """Stores what is read in parts, in the order of the chunks in which it was given out."""

    def __init__(self, store: FormulaStore, known: Known) -> None:
        self.store, self.known = store, known
        self.added = self.replaced = self.unchanged = 0
        self.failures: list[Mapping[str, object]] = []
        self._batches: list[Batch] = []
        self._gone: list[int] = []
        self._waiting: dict[int, tuple[list[int], Batch]] = {}
        self._next = 0

    def fail(self, failures: Iterable[Mapping[str, object]]) -> None:
        """Store what could not be read."""
        self._take([], Batch.of([], [_clean(failure) for failure in failures]))

    def add(self, found: Sequence[StoredFormula], gone: Sequence[int] = ()) -> None:
        """Store formulas in place of others, by number."""
        self._take(list(gone), Batch.of(found))

    def write(
        self, part: int, rows: Sequence[Mapping[str, object]], failures: Sequence[Failure], schema: object
    ) -> None:
        """Take the answers about a chunk of sheets (`SheetReading`); they count once those before it do."""
        found = [row["stored"] for row in rows if "stored" in row]
        gone = [
            number
            for one in found
            for number, _, _ in self.known.by_origin.get(one.origin, {}).values()  # type: ignore[attr-defined]
        ]
        failed = [row["failure"] for row in rows if "failure" in row]
        failed += [{"file": one.formula, "line": None, "reason": one.reason} for one in failures]
        self.unchanged += sum("same" in row for row in rows)
        batch = Batch.of(found, [_clean(failure) for failure in failed])  # type: ignore[arg-type]
        self._waiting[part] = gone, batch
        while self._next in self._waiting:
            self._take(*self._waiting.pop(self._next))
            self._next += 1

    def _take(self, gone: list[int], batch: Batch) -> None:
        self._batches.append(batch)
        self._gone += gone
        self.replaced += len(gone)
        self.added += batch.formulas.num_rows - len(gone)
        self.failures += batch.failures.to_pylist()
        if sum(each.formulas.num_rows for each in self._batches) >= ROWS_A_PART:
            self.flush()

    def flush(self) -> None:
        """Have what was taken count."""
        batch = Batch.joined(self._batches)
        if batch.formulas.num_rows or batch.failures.num_rows:
            self.store.add(batch, self._gone)
        self._batches, self._gone = [], []


def _clean(failure: Mapping[str, object]) -> dict[str, object]:
    return {
        "file": storable(str(failure["file"])),
        "line": failure["line"],
        "reason": one_line(storable(str(failure["reason"]))),
    }


def storable(text: str) -> str:
    r"""Return a text that can be stored: what is no Unicode in a file name stands as its bytes.

    >>> storable("fig.csv"), storable("fi\udcffg.csv")
    ('fig.csv', 'fi\\udcffg.csv')
    """
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def _failure(origin: str, error: BaseException) -> dict[str, object]:
    """Return the row of a source that cannot be read."""
    if isinstance(error, BadTable):
        inside = Path(error.file).name == Path(origin).name
        column = f"column {error.column}: " if error.column else ""
        reason = f"{column}{error.problem}" + (f". {error.remedy}" if error.remedy else "")
        return {
            "file": origin,
            "line": error.line if inside else None,
            "reason": reason if inside else str(error),
        }
    if isinstance(error, RecommenderError):
        return {"file": origin, "line": None, "reason": str(error)}
    return {"file": origin, "line": None, "reason": f"it cannot be read ({type(error).__name__}: {error})"}


# sheets


@dataclass(frozen=True)
class SheetFile:
    """A sheet to read: `name` is its path as given, `digest` and `files` those of what is stored of it."""

    number: int
    name: str
    path: str
    digest: str = ""
    files: tuple[str, ...] = ()


@dataclass(frozen=True)
class SheetReading:
    """The question of `execution` that reads sheets: a row is `stored`, `failure` or `same`."""

    chunk: int = CHUNK
    schema: Any = field(default=None, compare=False)

    def key(self) -> Mapping[str, object]:
        """Return nothing: what is read is stored, and no run."""
        return {}

    def plan(self, store: FormulaStore, palette: Palette) -> str:
        """Return the path of the notebook, in which names of saved accords are looked up."""
        return str(store.notebook or "")

    def numbers(self, store: FormulaStore, palette: Palette, plan: str) -> Sequence[int]:
        """Return no formula: files are read, not what is stored."""
        return ()

    def answer(self, plan: str, palette: Palette, formula: Any) -> list[dict[str, object]]:
        """Return what a sheet has."""
        sheet: SheetFile = formula
        try:
            if sheet.digest and _digest(Path(sheet.path), sheet.files) == sheet.digest:
                return [{"same": sheet.name}]
            return [{"stored": _read_sheet(sheet, palette.catalogue, plan)}]
        except (RecommenderError, OSError, ValueError, ArithmeticError, LookupError, RecursionError) as error:
            return [{"failure": _failure(sheet.name, error)}]


def _read_sheet(sheet: SheetFile, catalogue: Catalogue, notebook: str) -> StoredFormula:
    path, opened_files = Path(sheet.path), dict[Path, Formula]()
    asked = False

    def accord(name: str) -> Formula | None:
        nonlocal asked
        found = _notebook(notebook)._accord(name) if notebook else None
        asked = asked or found is not None
        return found

    found = formulas.read(path, catalogue, accord=accord, opened_files=opened_files)
    own = file_at(path)
    beside = [os.path.relpath(each, own.parent) for each in opened_files if each != own]
    digest = "" if asked else _digest(path, beside)  # a saved accord may have another version later
    return stored(found, storable(sheet.name), digest, [storable(name) for name in beside])


@lru_cache(maxsize=1)
def _notebook(path: str) -> OpenNotebook:
    return OpenNotebook(Path(path))


def _digest(path: Path, beside: Iterable[str]) -> str:
    """Return a fingerprint of a sheet and of the files of its accords; blank where one cannot be read."""
    found = hashlib.sha256()
    folder = file_at(path).parent
    try:
        for each in (path, *(folder / name for name in beside)):
            found.update(hashlib.sha256(content(each)).digest())
    except BadTable:
        return ""
    return found.hexdigest()[:16]


def _add_sheets(
    paths: Sequence[Path],
    store: FormulaStore,
    known: Known,
    writer: Writer,
    workers: int | None,
    scheduler: str | None,
    progress: StageProgress | None,
) -> bool:
    """Read sheets on workers; returns whether all were."""
    items = []
    for number, path in enumerate(paths):
        before = next(iter(known.by_origin.get(storable(str(path)), {}).values()), (0, "", ()))
        items.append(SheetFile(number, str(path), str(path.absolute()), before[1], before[2]))
    chunks = [tuple(items[at : at + CHUNK]) for at in range(0, len(items), CHUNK)]
    tasks = (execution.Task(part, chunk) for part, chunk in enumerate(chunks))  # type: ignore[arg-type]
    return execution.spread(
        SheetReading(),
        str(store.notebook or ""),
        store,
        tasks,
        writer,
        len(items),
        workers=min(workers or os.cpu_count() or 1, len(chunks)),
        scheduler=scheduler,
        progress=progress,
        called="sheets",
    )


# a notebook


def _add_notebook(path: Path, store: FormulaStore, known: Known, writer: Writer) -> None:
    """Store every version of every formula of a notebook; raises `BadNotebook`."""
    from recommender.notebook import formulas as versions
    from recommender.notebook.store import reading

    origin, catalogue = storable(str(path)), store.palette.catalogue
    before = known.by_origin.get(origin, {})
    with reading(path) as db:
        if db is None:
            return
        for last in versions.latest(db):
            for version in versions.versions(db, last.name):
                try:
                    found = versions.formula_of(db, version, catalogue)
                    one = stored(found, origin)
                except (BadValue, BadTable) as error:
                    writer.fail([{"file": origin, "line": None, "reason": str(error)}])
                    continue
                lines = hashlib.sha256(repr((one.theme, one.lines)).encode()).hexdigest()[:16]
                named = StoredFormula(0, version.title, origin, one.theme, one.lines, lines)
                number, digest, _ = before.get(version.title, (0, "", ()))
                if digest == lines:
                    writer.unchanged += 1
                else:
                    writer.add([named], [number] if number else [])


# Parquet


def _add_parquet(
    path: Path,
    names: Path | None,
    catalogue: Catalogue,
    known: Known,
    writer: Writer,
    progress: StageProgress | None,
) -> None:
    """Store the formulas of a Parquet file of lines."""
    origin = storable(str(path))
    before = known.by_origin.get(origin, {})
    try:
        digest = _file_digest(file_at(path))
        if before and all(one[1] == digest for one in before.values()):
            writer.unchanged += len(before)
            return
        reading = LinesReading(path, origin, digest, catalogue, _titles(names) if names else {})
        with pq.ParquetFile(file_at(path)) as file:
            reading.check(file)
            gone = [number for number, _, _ in before.values()]
            batch: list[StoredFormula] = []
            for found in reading.formulas(file, progress):
                if isinstance(found, StoredFormula):
                    batch.append(found)
                else:
                    writer.fail([found])
                if len(batch) >= ROWS_A_PART // 2:
                    writer.add(batch, gone)
                    batch, gone = [], []
            writer.add(batch, gone)
    except (BadTable, OSError, ValueError, pa.ArrowException) as error:
        writer.fail([_failure(origin, error)])


def _file_digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()[:16]


def _titles(folder: Path) -> dict[object, tuple[str, tuple[str, ...]]]:
    """Return number -> name and theme of the table of formulas beside the lines."""
    found: dict[object, tuple[str, tuple[str, ...]]] = {}
    for path in sorted(folder.glob(f"*{PARQUET}")):
        table = pq.read_table(path, partitioning=None)
        if "formula" in table.schema.names and "name" in table.schema.names:
            for row in table.to_pylist():
                found[row["formula"]] = str(row["name"]), tuple(row.get("theme") or ())
    return found


class LinesReading:
    """Reads the formulas of a Parquet file whose rows are lines.

    Columns: `formula` (a number or name, its rows together), `material` (name, CAS number or key), `parts`;
    and where they are there `dilution_percent`, `solvent`, `accord`, `name`, `theme`.
    """

    def __init__(
        self,
        path: Path,
        origin: str,
        digest: str,
        catalogue: Catalogue,
        titles: Mapping[object, tuple[str, tuple[str, ...]]],
    ) -> None:
        self.path, self.origin, self.digest, self.catalogue, self.titles = (
            path,
            origin,
            digest,
            catalogue,
            titles,
        )
        self._keys: dict[tuple[str, str], str] = {}
        self._facets = {facet.name for facet in catalogue.facets}

    def check(self, file: pq.ParquetFile) -> None:
        """Raise `BadTable` where columns are missing or of another type, or there is too much."""
        schema = file.schema_arrow
        for name in REQUIRED:
            if name not in schema.names:
                called = ", ".join(schema.names)[:80] or "nothing"
                remedy = f"A row is a line of a formula: {', '.join((*REQUIRED, *OPTIONAL))}"
                raise BadTable(self.path.name, f'no column "{name}", only {called}', remedy=remedy)
        for name in ("parts", "dilution_percent"):
            if name in schema.names and not _is_number(schema.field(name).type):
                raise BadTable(self.path.name, "its values are no numbers", column=name)
        groups = [file.metadata.row_group(n).total_byte_size for n in range(file.metadata.num_row_groups)]
        if file.metadata.num_rows > MOST_ROWS or max(groups, default=0) > MOST_GROUP:
            remedy = "Write it in several files, in groups of a million rows at most"
            raise BadTable(self.path.name, "it is too large to be read at once", remedy=remedy)

    def formulas(
        self, file: pq.ParquetFile, progress: StageProgress | None
    ) -> Iterator[StoredFormula | dict[str, object]]:
        """Yield each formula, or the row of its failure."""
        columns = [name for name in (*REQUIRED, *OPTIONAL) if name in file.schema_arrow.names]
        seen: set[object] = set()
        current: object = None
        rows: list[tuple[int, dict[str, Any]]] = []
        line, total = 0, max(file.metadata.num_rows, 1)
        for batch in file.iter_batches(ROWS_AT_ONCE, columns=columns):
            cells = [batch.column(name).to_pylist() for name in columns]
            for values in zip(*cells, strict=True):
                line += 1
                row = dict(zip(columns, values, strict=True))
                if rows and row["formula"] != current:
                    yield self._formula(current, rows, again=current in seen)
                    seen.add(current)
                    rows = []
                current = row["formula"]
                if len(rows) <= LONGEST_SHEET:  # one more says that there are too many
                    rows.append((line, row))
            if progress is not None and not progress(f"{line:,} of {total:,} lines", line / total):
                return
        if rows:
            yield self._formula(current, rows, again=current in seen)

    def _formula(
        self, number: object, rows: Sequence[tuple[int, dict[str, Any]]], *, again: bool
    ) -> StoredFormula | dict[str, object]:
        first_line, first = rows[0]
        try:
            if number is None:
                raise BadTable(self.path.name, "the formula is missing", line=first_line)
            if again:
                problem = f"the lines of formula {printable(str(number))[:60]} do not stand together"
                raise BadTable(self.path.name, problem, line=first_line, remedy="Sort the rows by formula")
            if len(rows) > LONGEST_SHEET:
                raise BadTable(
                    self.path.name, f"more than {LONGEST_SHEET} lines in a formula", line=first_line
                )
            lines = tuple(self._line(place, at, row) for place, (at, row) in enumerate(rows, 1))
            kinds = {self.catalogue.by_slug(line.material).kind for line in lines}
            if kinds == {"solvent"}:
                raise BadTable(self.path.name, "nothing but solvents", line=first_line)
            name, theme = self.titles.get(
                number, (str(first.get("name") or number), _texts(first.get("theme")))
            )
            theme = tuple(facet for facet in theme if facet in self._facets)
            title = storable(printable(name))
            return StoredFormula(0, title, self.origin, theme, lines, self.digest)
        except BadTable as error:
            return _failure(self.origin, error)

    def _line(self, place: int, at: int, row: Mapping[str, Any]) -> StoredLine:
        parts, percent = row["parts"], row.get("dilution_percent")
        if parts is None or not 0 < parts <= formulas.MOST_PARTS:
            problem = f'"{parts}" is not a positive number of parts'
            raise BadTable(self.path.name, problem, line=at, column="parts")
        if percent is not None and not 0 < percent <= 100:
            problem = f"{percent:g} % is not a dilution"
            raise BadTable(
                self.path.name,
                problem,
                line=at,
                column="dilution_percent",
                remedy="It is above 0 and at most 100",
            )
        solvent = None
        if percent is not None and percent < 100:
            solvent = self._key(row.get("solvent") or formulas.DEFAULT_SOLVENT, at, "solvent")
        diluted = None if percent is None or percent == 100 else float(percent)
        accord = storable(printable(str(row.get("accord") or "")))
        return StoredLine(
            place, self._key(row["material"], at, "material"), float(parts), diluted, solvent, accord
        )

    def _key(self, text: object, at: int, column: str) -> str:
        """Return the key of a material; a name is looked up once."""
        name = str(text or "")
        if (name, column) not in self._keys:
            try:
                self._keys[name, column] = self.catalogue.find(name).slug
            except (RecommenderError, BadNotebook) as error:
                problem = str(error) if name else "the material is missing"
                raise BadTable(self.path.name, problem, line=at, column=column) from None
        return self._keys[name, column]


def _texts(value: object) -> tuple[str, ...]:
    if isinstance(value, list):
        return tuple(str(each) for each in value)
    return tuple(part.strip() for part in str(value or "").split(",") if part.strip())


def _is_number(kind: pa.DataType) -> bool:
    return bool(pa.types.is_floating(kind) or pa.types.is_integer(kind) or pa.types.is_null(kind))
