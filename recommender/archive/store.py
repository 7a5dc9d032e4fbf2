"""A store of many formulas: a folder of Parquet parts, and a manifest that says which of them count.

::

    STORE/archive.json               layout, program, evidence, number of formulas, parts
    STORE/formulas/part-000001.parquet   a row a formula, `FORMULAS`
    STORE/lines/part-000001.parquet      a row a line, `LINES`, accords opened
    STORE/failures/part-000001.parquet   a row a file or formula that could not be read, `FAILURES`

A part is written aside and renamed, and counts from when the manifest names it: an import that is interrupted
leaves what was stored before.
"""

import hashlib
import json
import os
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from recommender.errors import BadTable, BadValue
from recommender.evidence.catalogue import Catalogue
from recommender.model import Formula, Line, Material
from recommender.workspace import Workspace

if TYPE_CHECKING:
    from recommender.archive.affected import AffectedFormulas
    from recommender.archive.checking import CheckedFormulas
    from recommender.archive.composition import CompositionMatrix
    from recommender.archive.importing import ImportResult
    from recommender.archive.mending import MendedFormulas, MendingRequest
    from recommender.archive.search import FoundFormulas, SearchRequest
    from recommender.palette import Palette
    from recommender.regulation import ProductUse

LAYOUT = 1
MANIFEST = "archive.json"
ROWS_A_PART = 2_000
"""Formulas in a part, at most: what is read at a time."""
BETWEEN_ACCORDS = " > "
FORMULAS = pa.schema(
    [
        ("formula", pa.int64()),
        ("name", pa.string()),
        ("origin", pa.string()),
        ("theme", pa.list_(pa.string())),
        ("lines", pa.int32()),
        ("digest", pa.string()),
        ("files", pa.list_(pa.string())),
    ]
)
LINES = pa.schema(
    [
        ("formula", pa.int64()),
        ("place", pa.int32()),
        ("material", pa.dictionary(pa.int32(), pa.string())),
        ("parts", pa.float64()),
        ("dilution_percent", pa.float64()),
        ("solvent", pa.dictionary(pa.int32(), pa.string())),
        ("accord", pa.string()),
    ]
)
FAILURES = pa.schema([("file", pa.string()), ("line", pa.int64()), ("reason", pa.string())])
SCHEMAS: Mapping[str, pa.Schema] = {"formulas": FORMULAS, "lines": LINES, "failures": FAILURES}


class StoredLine(NamedTuple):
    """A line of a stored formula: so many parts, as weighed, of a material (its key).

    `dilution_percent` is None for neat, `solvent` a key or None; `accord` are the names of the accords in
    which it stands, the outer one first, joined by " > ".
    """

    place: int
    material: str
    parts: float
    dilution_percent: float | None = None
    solvent: str | None = None
    accord: str = ""


@dataclass(frozen=True, slots=True)
class StoredFormula:
    """A formula of a store; `origin` is the file, sheet or notebook that it is from, as given.

    `digest` is that of its file with those of its accords, blank where it cannot be compared; `files` are the
    files of the accords, beside its own.
    """

    number: int
    name: str
    origin: str
    theme: tuple[str, ...]
    lines: tuple[StoredLine, ...]
    digest: str = ""
    files: tuple[str, ...] = ()

    def formula(self, catalogue: Catalogue) -> Formula:
        """Return it with its accords opened; its amounts are those of the sheet that it was read from.

        Raises
        ------
        BadValue
            A material is not known here: it may be one of a notebook that is not open.
        """
        lines = [
            Line(
                _material(line.material, self.name, catalogue),
                line.parts,
                1.0 if line.dilution_percent is None else line.dilution_percent / 100.0,
                None if line.solvent is None else _material(line.solvent, self.name, catalogue),
            )
            for line in self.lines
        ]
        return Formula(self.name, tuple(lines), theme=self.theme)


def _material(slug: str, formula: str, catalogue: Catalogue) -> Material:
    if slug not in catalogue.index:
        problem = f'"{slug}" is in it, which is not known here; name the notebook that has it by --notebook'
        raise BadValue("formula", formula, problem)
    return catalogue.by_slug(slug)


def stored(formula: Formula, origin: str, digest: str = "", files: Sequence[str] = ()) -> StoredFormula:
    """Return a formula as it is stored, its number still open (0)."""
    lines = tuple(
        StoredLine(
            place,
            line.content.slug,
            line.parts,
            None if line.dilution == 1.0 else 100.0 * line.dilution,
            line.solvent.slug if line.solvent else None,
            accord,
        )
        for place, (line, accord) in enumerate(_leaves(formula, 1.0, ()), 1)
        if isinstance(line.content, Material)
    )
    return StoredFormula(0, formula.name, origin, formula.theme, lines, digest, tuple(files))


def _leaves(formula: Formula, factor: float, above: tuple[str, ...]) -> Iterator[tuple[Line, str]]:
    """Yield the lines of a formula with those of its accords, each with the accords that it stands in."""
    for line in formula.lines:
        parts = line.parts * factor
        if isinstance(line.content, Material):
            yield Line(line.content, parts, line.dilution, line.solvent), BETWEEN_ACCORDS.join(above)
            continue
        inner = (*above, line.content.name)
        share = parts * line.dilution / sum(each.parts for each in line.content.lines)
        yield from _leaves(line.content, share, inner)
        if line.solvent is not None:
            yield Line(line.solvent, parts * (1.0 - line.dilution)), BETWEEN_ACCORDS.join(inner)


class Part(NamedTuple):
    """A part of a store: its file name, how many formulas and failures it has, and its fingerprint."""

    name: str
    formulas: int
    failures: int
    digest: str


@dataclass(frozen=True)
class Batch:
    """Formulas to add, as columns (numbers from 0), and what could not be read."""

    formulas: pa.Table
    lines: pa.Table
    failures: pa.Table

    @classmethod
    def of(cls, formulas: Sequence[StoredFormula], failures: Sequence[Mapping[str, object]] = ()) -> "Batch":
        """Return formulas as columns, and failures (`file`, `line`, `reason`)."""
        rows = [(number, line) for number, one in enumerate(formulas) for line in one.lines]
        heads = {
            "formula": list(range(len(formulas))),
            "name": [one.name for one in formulas],
            "origin": [one.origin for one in formulas],
            "theme": [list(one.theme) for one in formulas],
            "lines": [len(one.lines) for one in formulas],
            "digest": [one.digest for one in formulas],
            "files": [list(one.files) for one in formulas],
        }
        columns: dict[str, Any] = {"formula": [number for number, _ in rows]}
        for name in StoredLine._fields:
            values = [getattr(line, name) for _, line in rows]
            is_key = name in ("material", "solvent")
            columns[name] = pa.array(values, pa.string()).dictionary_encode() if is_key else values
        return cls(
            pa.table(heads, schema=FORMULAS),
            pa.table(columns, schema=LINES),
            pa.Table.from_pylist([dict(row) for row in failures], schema=FAILURES),
        )

    @classmethod
    def joined(cls, batches: Sequence["Batch"]) -> "Batch":
        """Return several batches as one, their formulas numbered on."""
        start, found = 0, [cls.of([])]
        for batch in batches:
            formulas, lines = _shifted(batch.formulas, start), _shifted(batch.lines, start)
            found.append(cls(formulas, lines, batch.failures))
            start += batch.formulas.num_rows
        return cls(
            pa.concat_tables([each.formulas for each in found]),
            pa.concat_tables([each.lines for each in found]),
            pa.concat_tables([each.failures for each in found]),
        )


def _shifted(table: pa.Table, first: int) -> pa.Table:
    """Return formulas or lines with something added to their numbers."""
    if not first:
        return table
    return table.set_column(0, "formula", pc.add(table["formula"], pa.scalar(first, pa.int64())))


@dataclass
class FormulaStore:
    """The formulas of a folder, and what is asked of all of them.

    Parameters
    ----------
    path : Path
        The folder; see `recommender.archive.open_store`.
    notebook : Path, optional
        The notebook whose materials, nose and strips count.
    """

    path: Path
    notebook: Path | None = None
    _manifest: dict[str, Any] = field(default_factory=dict, repr=False)

    @cached_property
    def workspace(self) -> Workspace:
        """The questions, under the notebook."""
        return Workspace(self.notebook)

    @property
    def palette(self) -> "Palette":
        """The materials as the person has them."""
        return self.workspace.palette

    # what is there

    @property
    def manifest(self) -> Mapping[str, Any]:
        """The manifest as it was read last; raises `BadTable` where it is damaged."""
        if not self._manifest:
            self._manifest = _read_manifest(self.path)
        return self._manifest

    @property
    def parts(self) -> tuple[Part, ...]:
        """The parts that count, the oldest first."""
        return tuple(Part(*each) for each in self.manifest["parts"])

    def __len__(self) -> int:
        return sum(part.formulas for part in self.parts)

    @property
    def content_key(self) -> str:
        """A fingerprint of all formulas that are stored."""
        return fingerprint(",".join(part.digest for part in self.parts if part.formulas).encode())

    def table(self, name: str, part: Part, columns: Sequence[str] | None = None) -> pa.Table:
        """Return `formulas`, `lines` or `failures` of one part, or some columns.

        Raises
        ------
        BadTable
            The part is missing or damaged.
        """
        path = self.path / name / f"{part.name}.parquet"
        if (name != "failures" and not part.formulas) or (name == "failures" and not part.failures):
            schema = SCHEMAS[name]
            wanted = schema if columns is None else pa.schema([schema.field(c) for c in columns])
            return wanted.empty_table()
        try:
            found = pq.read_table(path, columns=None if columns is None else list(columns), partitioning=None)
            return found.unify_dictionaries()
        except (OSError, pa.ArrowException) as error:
            problem = (
                "a part of the archive is missing" if not path.exists() else f"it cannot be read: {error}"
            )
            remedy = "Put it back from a copy, or import everything into a new folder"
            raise BadTable(str(path), problem, remedy=remedy) from None

    def formulas(self, columns: Sequence[str] | None = None) -> pa.Table:
        """Return the formulas without their lines, or some columns of them, in the order of their numbers."""
        tables = [self.table("formulas", part, columns) for part in self.parts if part.formulas]
        return (
            pa.concat_tables(tables) if tables else FORMULAS.empty_table().select(columns or FORMULAS.names)
        )

    def failures(self) -> list[dict[str, Any]]:
        """Return what could not be read: `file`, `line` (None where it is the whole file) and `reason`."""
        return [row for part in self.parts for row in self.table("failures", part).to_pylist()]

    def numbers(self) -> list[int]:
        """Return the numbers of all formulas, ascending."""
        found: list[int] = self.formulas(["formula"])["formula"].to_pylist()
        return found

    def read(self, numbers: Iterable[int] | None = None) -> Iterator[StoredFormula]:
        """Yield formulas, all by default, in the order of their numbers, a part of the store at a time."""
        wanted = None if numbers is None else set(numbers)
        for part in self.parts:
            if part.formulas and (wanted is None or wanted):
                yield from self._of_part(part, wanted)

    def _of_part(self, part: Part, wanted: Collection[int] | None) -> Iterator[StoredFormula]:
        heads = self.table("formulas", part)
        if wanted is not None:
            heads = heads.filter(pc.is_in(heads["formula"], pa.array(sorted(wanted), pa.int64())))
        if not heads.num_rows:
            return
        lines = self.table("lines", part)
        owners = lines["formula"].to_numpy()
        columns = [lines[name] for name in StoredLine._fields]
        for head in heads.to_pylist():
            start, end = np.searchsorted(owners, (head["formula"], head["formula"] + 1))
            cells = [column.slice(start, end - start).to_pylist() for column in columns]
            yield StoredFormula(
                head["formula"],
                head["name"],
                head["origin"],
                tuple(head["theme"] or ()),
                tuple(StoredLine(*row) for row in zip(*cells, strict=True)),
                head["digest"],
                tuple(head["files"] or ()),
            )

    def composition(self, palette: "Palette | None" = None) -> "CompositionMatrix":
        """Return what is in every formula, as sparse matrices; see `CompositionMatrix`."""
        from recommender.archive.composition import CompositionMatrix

        return CompositionMatrix.of(self, (palette or self.palette).catalogue)

    # what is asked of all of them

    def import_formulas(self, source: "str | os.PathLike[str]", **given: Any) -> "ImportResult":
        """Store the formulas of a folder, a sheet, a notebook or Parquet; see `importing.import_formulas`."""
        from recommender.archive.importing import import_formulas

        return import_formulas(self, Path(source).expanduser(), **given)

    def affected(self, material: Material | str) -> "AffectedFormulas":
        """Return the formulas that a material is in; see `affected.affected`."""
        from recommender.archive.affected import affected

        return affected(self, self.workspace.material(material))

    def check(self, use: "ProductUse", **given: Any) -> "CheckedFormulas":
        """Return what follows for each formula in the finished product; see `checking.check`."""
        from recommender.archive.checking import check

        return check(self, use, **given)

    def mend(self, request: "MendingRequest", **given: Any) -> "MendedFormulas":
        """Return what mends each formula after a ban, a limit or a price; see `mending.mend_all`."""
        from recommender.archive.mending import mend_all

        return mend_all(self, request, **given)

    def search(self, request: "SearchRequest", **given: Any) -> "FoundFormulas":
        """Return the formulas that smell like one, or of something; see `search.search`."""
        from recommender.archive.search import search

        return search(self, request, **given)

    # what is stored

    def add(self, batch: Batch, remove: Collection[int] = ()) -> None:
        """Store a batch as a new part, and take formulas out: both count at once, or neither.

        Raises
        ------
        BadTable
            The archive was changed by another import meanwhile.
        """
        manifest = dict(self.manifest)
        parts, gone = list(self.parts), set(remove)
        nothing = Batch.of([])
        if batch.formulas.num_rows:
            number = int(manifest["next"])
            manifest["next"] = number + batch.formulas.num_rows
            whole = Batch(batch.formulas, batch.lines, nothing.failures)
            parts.append(self._write(manifest, whole, number))
        if batch.failures.num_rows:
            parts.append(self._write(manifest, Batch(nothing.formulas, nothing.lines, batch.failures), 0))
        old = []
        for place, part in enumerate(parts if gone else ()):
            heads = self.table("formulas", part)
            left = pc.invert(pc.is_in(heads["formula"], pa.array(sorted(gone), pa.int64())))
            if not pc.all(left).as_py():
                lines = self.table("lines", part)
                stay = pc.invert(pc.is_in(lines["formula"], pa.array(sorted(gone), pa.int64())))
                rest = Batch(heads.filter(left), lines.filter(stay), nothing.failures)
                old.append(part)
                parts[place] = self._write(manifest, rest, 0)
        manifest["parts"] = [list(part) for part in parts if part.formulas or part.failures]
        self._commit(manifest)
        self._delete(old)

    def forget_failures(self, files: Collection[str]) -> None:
        """Take the failures of some files out: what fails again is found again."""
        manifest, parts, old = dict(self.manifest), list(self.parts), []
        nothing, wanted = Batch.of([]), pa.array(sorted(files), pa.string())
        for place, part in enumerate(self.parts):
            failures = self.table("failures", part)
            left = pc.invert(pc.is_in(failures["file"], wanted))
            if not pc.all(left, min_count=0).as_py():
                rest = Batch(nothing.formulas, nothing.lines, failures.filter(left))
                old.append(part)
                parts[place] = self._write(manifest, rest, 0)
        if old:
            manifest["parts"] = [list(part) for part in parts if part.formulas or part.failures]
            self._commit(manifest)
            self._delete(old)

    def declare(self, evidence: str) -> None:
        """State under which evidence the names of the sheets were understood."""
        if self.manifest.get("evidence") != evidence:
            self._commit(dict(self.manifest) | {"evidence": evidence})

    def _write(self, manifest: dict[str, Any], batch: Batch, first: int) -> Part:
        """Write the tables of a part aside and rename them; `first` is added to the numbers."""
        manifest["written"] = int(manifest["written"]) + 1
        name = f"part-{manifest['written']:06d}"
        digests = []
        for folder, table in (
            ("lines", batch.lines),
            ("formulas", batch.formulas),
            ("failures", batch.failures),
        ):
            if not table.num_rows:
                continue
            if folder != "failures":
                table = _shifted(table, first)
            target = self.path / folder / f"{name}.parquet"
            target.parent.mkdir(parents=True, exist_ok=True)
            written_aside(target, partial(pq.write_table, table, compression="zstd"))
            if folder != "failures":
                digests.append(fingerprint(target.read_bytes()))
        return Part(
            name, batch.formulas.num_rows, batch.failures.num_rows, fingerprint(",".join(digests).encode())
        )

    def _commit(self, manifest: dict[str, Any]) -> None:
        """Have a new manifest count; raises `BadTable` where it is no longer the one that was read."""
        target = self.path / MANIFEST
        if target.exists() and _read_manifest(self.path) != self.manifest:
            problem = "another import has changed the archive meanwhile"
            raise BadTable(str(target), problem, remedy="Wait for it to end, and start this one again")
        manifest["formulas"] = sum(part[1] for part in manifest["parts"])
        self.path.mkdir(parents=True, exist_ok=True)
        text = json.dumps(manifest, indent=1) + "\n"
        written_aside(target, lambda to: to.write_text(text, encoding="utf-8"))
        self._manifest = manifest

    def _delete(self, parts: Iterable[Part]) -> None:
        for part in parts:
            for folder in SCHEMAS:
                (self.path / folder / f"{part.name}.parquet").unlink(missing_ok=True)


def written_aside(file: Path, write: Callable[[Path], Any]) -> None:
    """Have a file written beside its place and then moved there: it is whole, or as it was before."""
    aside = file.with_name(f".{file.name}.{os.getpid()}.tmp")
    try:
        write(aside)
        aside.replace(file)
    except BaseException:
        aside.unlink(missing_ok=True)
        raise


def fingerprint(data: bytes) -> str:
    """Return a short fingerprint of some bytes."""
    return hashlib.sha256(data).hexdigest()[:16]


def evidence_key(workspace: Workspace) -> str:
    """Return a fingerprint of the evidence under a notebook: tables, own materials, nose, strips."""
    from recommender.evidence.catalogue import EVIDENCE, TABLES
    from recommender.evidence.tables import Folders

    manifest = Folders(TABLES, EVIDENCE).manifest
    return fingerprint(manifest.read_bytes() + repr(workspace.overlay).encode())


def _read_manifest(path: Path) -> dict[str, Any]:
    file = path / MANIFEST
    try:
        found = json.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return {
            "layout": LAYOUT,
            "program": version("recommender"),
            "evidence": "",
            "formulas": 0,
            "next": 1,
            "written": 0,
            "parts": [],
        }
    except (OSError, ValueError):
        raise BadTable(str(file), "it cannot be read", remedy="Put it back from a copy") from None
    if not isinstance(found, dict) or not {"layout", "next", "written", "parts"} <= found.keys():
        raise BadTable(str(file), "this is no archive of formulas", remedy="Name the folder of one")
    if found["layout"] != LAYOUT:
        problem = f"its layout is {found['layout']}, this program reads {LAYOUT}"
        raise BadTable(str(file), problem, remedy="Import the formulas into a new folder")
    return found
