"""What is in every formula of a store, as sparse matrices: formulas by materials, formulas by substances."""

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from recommender.errors import BadValue
from recommender.evidence.catalogue import Catalogue
from recommender.model import Amount
from recommender.regulation import Substance, substances

if TYPE_CHECKING:
    import pyarrow as pa

    from recommender.archive.store import FormulaStore, Part

Matrix = Any
"""A `scipy.sparse.csr_array` of float64."""


@dataclass(frozen=True)
class Opened:
    """What each material of a catalogue comes to once naturals are opened.

    `matrix` is materials by substances: the share of the substance in the material [mass fraction], 1 for
    itself, at the high end of its range in a natural. `substances` are the columns, those of `materials`
    first, in the same order.
    """

    matrix: Matrix
    substances: tuple[Substance, ...]

    @classmethod
    def of(cls, catalogue: Catalogue) -> "Opened":
        """Return what the materials of a catalogue come to."""
        from scipy.sparse import csr_array

        columns = {m.slug: place for place, m in enumerate(catalogue.materials)}
        every = [Substance(m.slug, m.name, m, 0.0, 0.0, {}) for m in catalogue.materials]
        rows, places, shares = [], [], []
        for row, material in enumerate(catalogue.materials):
            for found in substances([Amount(material, 1.0)], catalogue):
                if found.key not in columns:
                    columns[found.key] = len(every)
                    every.append(Substance(found.key, found.name, found.material, 0.0, 0.0, {}))
                rows.append(row)
                places.append(columns[found.key])
                shares.append(found.fraction)
        shape = len(catalogue.materials), len(every)
        return cls(csr_array((shares, (rows, places)), shape=shape), tuple(every))


@dataclass(frozen=True)
class CompositionMatrix:
    """What is in some formulas.

    `numbers` are those of the rows; `materials` is formulas by materials of the catalogue: the share of the
    neat concentrate that was put in [mass fraction], solvents of dilutions among them, as `formulas.amounts`
    counts.
    """

    numbers: npt.NDArray[np.int64]
    materials: Matrix
    opened: Opened

    @classmethod
    def of(
        cls, store: "FormulaStore", catalogue: Catalogue, opened: Opened | None = None
    ) -> "CompositionMatrix":
        """Return what is in every formula of a store.

        Raises
        ------
        BadValue
            A material is not known here.
        BadTable
        """
        from scipy.sparse import csr_array, vstack

        parts = [part_composition(store, part, catalogue) for part in store.parts if part.formulas]
        empty = np.empty(0, np.int64), csr_array((0, len(catalogue.materials)))
        numbers, matrices = zip(*(parts or [empty]), strict=True)
        return cls(np.concatenate(numbers), vstack(matrices, format="csr"), opened or Opened.of(catalogue))

    @cached_property
    def substances(self) -> Matrix:
        """Formulas by substances, `opened.substances`: all that is there, put in or brought by naturals."""
        return self.materials @ self.opened.matrix


def part_composition(
    store: "FormulaStore", part: "Part", catalogue: Catalogue
) -> tuple[npt.NDArray[np.int64], Matrix]:
    """Return the numbers of the formulas of a part, and formulas by materials; errors as `of`."""
    from scipy.sparse import csr_array

    numbers = store.table("formulas", part, ["formula"])["formula"].to_numpy()
    columns = ["formula", "material", "parts", "dilution_percent", "solvent"]
    lines = store.table("lines", part, columns)
    rows = np.searchsorted(numbers, lines["formula"].to_numpy())
    parts = lines["parts"].to_numpy()
    totals = np.bincount(rows, weights=parts, minlength=len(numbers))
    shares = parts / totals[rows]
    dilutions = lines["dilution_percent"].to_numpy(zero_copy_only=False) / 100.0
    dilutions = np.where(np.isnan(dilutions), 1.0, dilutions)
    materials = _places(lines["material"], catalogue)
    solvents = _places(lines["solvent"], catalogue)
    diluted = solvents >= 0
    values = np.concatenate([shares * dilutions, (shares * (1.0 - dilutions))[diluted]])
    at = np.concatenate([rows, rows[diluted]]), np.concatenate([materials, solvents[diluted]])
    found = csr_array((values, at), shape=(len(numbers), len(catalogue.materials)))
    found.sum_duplicates()
    return numbers, found


def _places(column: "pa.ChunkedArray", catalogue: Catalogue) -> npt.NDArray[np.int64]:
    """Return the places of keys among the materials of a catalogue, -1 where there is none."""
    found = []
    for chunk in column.chunks:
        keys = chunk.dictionary.to_pylist()
        if unknown := [key for key in keys if key not in catalogue.index]:
            wanted = "it is not known here; name the notebook that has it"
            raise BadValue("material", unknown[0], wanted)
        places = np.array([catalogue.index[key] for key in keys], np.int64)
        indices = chunk.indices.fill_null(-1).to_numpy(zero_copy_only=False)
        found.append(np.where(indices < 0, -1, places[indices] if len(places) else -1))
    return np.concatenate(found) if found else np.empty(0, np.int64)
