"""A run on disk: the answers of each chunk and the failures, so that a second start does what is missing.

`STORE/runs/KEY/` has `run.json` (what was asked of what), `part-N.parquet` (the rows of chunk N) and, where
formulas of a chunk failed, `failures-N.parquet`. A part is written aside and renamed, its failures before it:
what is there is whole.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import pyarrow
from pyarrow import parquet

from recommender.archive.store import fingerprint, written_aside
from recommender.errors import BadValue

FAILURE_COLUMNS = ("number", "formula", "reason")


@dataclass(frozen=True)
class Failure:
    """A formula without an answer, by number and name, and why."""

    number: int
    formula: str
    reason: str


def key_of(asked: Mapping[str, object]) -> str:
    """Return the name of a run: a fingerprint of everything that its answers follow from."""
    return fingerprint(json.dumps(asked, sort_keys=True, default=str).encode())


@dataclass(frozen=True)
class RunFolder:
    """The folder of one run."""

    path: Path

    @classmethod
    def opened(cls, store: Path, asked: Mapping[str, object]) -> "RunFolder":
        """Return the folder of a run of a store, made if it is not there; raises `BadValue`."""
        folder = cls(store / "runs" / key_of(asked))
        try:
            folder.path.mkdir(parents=True, exist_ok=True)
            text = json.dumps(asked, sort_keys=True, indent=1, default=str)
            written_aside(folder.path / "run.json", lambda to: to.write_text(text, encoding="utf-8"))
        except OSError as error:
            raise BadValue("store", str(store), f"it cannot be written to ({error.strerror})") from None
        return folder

    def has(self, part: int) -> bool:
        """Return whether a chunk has its answers."""
        return self._part(part).exists()

    def write(
        self,
        part: int,
        rows: Sequence[Mapping[str, object]],
        failures: Sequence[Failure],
        schema: pyarrow.Schema,
    ) -> None:
        """Write the answers of a chunk, whole or not at all; raises `BadValue` where that is not possible."""
        answers = pyarrow.Table.from_pylist(list(rows), schema)
        failed = pyarrow.Table.from_pylist([vars(one) for one in failures], _failures_schema())
        try:
            if failures:
                written_aside(self._failures(part), partial(parquet.write_table, failed))
            written_aside(self._part(part), partial(parquet.write_table, answers))
        except OSError as error:
            raise BadValue("store", str(self.path), f"it cannot be written to ({error.strerror})") from None

    def rows(self, parts: int, schema: pyarrow.Schema) -> pyarrow.Table:
        """Return the answers of all chunks that are there, in the order of the formulas."""
        return _together([self._part(part) for part in range(parts)], schema)

    def failures(self, parts: int) -> tuple[Failure, ...]:
        """Return the formulas that failed."""
        found = _together([self._failures(part) for part in range(parts)], _failures_schema())
        return tuple(Failure(**row) for row in found.to_pylist())

    def _part(self, part: int) -> Path:
        return self.path / f"part-{part:06d}.parquet"

    def _failures(self, part: int) -> Path:
        return self.path / f"failures-{part:06d}.parquet"


def _failures_schema() -> pyarrow.Schema:
    types = (pyarrow.int64(), pyarrow.string(), pyarrow.string())
    return pyarrow.schema(list(zip(FAILURE_COLUMNS, types, strict=True)))


def _together(files: Sequence[Path], schema: pyarrow.Schema) -> pyarrow.Table:
    found = [parquet.read_table(file, schema=schema, partitioning=None) for file in files if file.exists()]
    return pyarrow.concat_tables([schema.empty_table(), *found]).combine_chunks()
