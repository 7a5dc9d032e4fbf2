"""The catalogue with what is derived from it once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache

import numpy as np
import numpy.typing as npt

from recommender.catalogue import Catalogue, load
from recommender.drydown import TABLE, Conditions
from recommender.formula import is_file, read, remarks
from recommender.graph import Graph
from recommender.model import Formula, Material
from recommender.space import Phrase, Space, parse

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Bench:
    """The catalogue with its space and its graph, and what is the person's.

    `saved` holds the saved formulas that were asked for, by name; `conditions` say how their strips dry.
    """

    catalogue: Catalogue
    space: Space
    graph: Graph
    saved: Mapping[str, Formula] = field(default_factory=dict)
    conditions: Conditions = TABLE

    @classmethod
    def of(cls, catalogue: Catalogue) -> "Bench":
        """Derive space and graph of a catalogue."""
        return cls(catalogue, Space.of(catalogue), Graph.of(catalogue))

    def phrase(self, text: str) -> Phrase:
        """Turn words into facets; raises `UnknownFacet` where none is known."""
        return parse(text, self.catalogue.facets, self.catalogue.umbrellas)

    def is_formula(self, text: str) -> bool:
        """Tell whether a text names a formula, a file or a saved one, rather than a material."""
        return text in self.saved or is_file(text)

    def formula(self, text: str) -> tuple[Formula, list[str]]:
        """Return a formula, the saved one of this name or a file, with notes; raises `BadTable`."""
        if (kept := self.saved.get(text)) is not None:
            return kept, remarks(kept)
        return read(text, self.catalogue)

    def materials(self, rows: Sequence[int]) -> list[Material]:
        """Return the materials of some rows."""
        return [self.catalogue.materials[row] for row in rows]

    def hours(self, rows: Sequence[int]) -> Array:
        """Return lasting hours of rows, 0 where unknown."""
        return np.array([m.lasting.hours if m.lasting else 0.0 for m in self.materials(rows)])


@cache
def shipped() -> Bench:
    """Return the bench of the shipped tables."""
    return Bench.of(load())


def find(words: str | None, bench: Bench | None = None) -> tuple[list[Material], list[str]]:
    """Return the materials that show the facets named by words, the strongest first, and notes.

    Without words all materials, in catalogue order.

    Raises
    ------
    UnknownFacet
        No word is known.
    """
    ground = bench or shipped()
    materials = list(ground.catalogue.materials)
    if not words:
        return materials, []
    phrase = ground.phrase(words)
    strengths = [max(m.strength_of(facet) for facet in phrase.facets) for m in materials]
    hits = sorted((i for i, s in enumerate(strengths) if s), key=lambda i: (-strengths[i], materials[i].name))
    return [materials[i] for i in hits], list(phrase.notes)
