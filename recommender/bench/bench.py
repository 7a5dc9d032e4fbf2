"""The catalogue with what is derived from it once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache

import numpy as np
import numpy.typing as npt

from recommender.catalogue import Catalogue, load
from recommender.drydown import TABLE, Conditions
from recommender.errors import BadValue
from recommender.formula import is_file, read, remarks
from recommender.graph import Graph
from recommender.model import Formula, Material
from recommender.phrases import Phrase, Words, parse, texts
from recommender.space import Space

Array = npt.NDArray[np.float64]

CLEAR_LABEL = 2
"""From this strength on a label counts as a smell to avoid."""


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

    def phrase(self, words: Words) -> Phrase:
        """Return which facets a phrase wants and which it refuses; several phrases add up.

        Raises
        ------
        UnknownFacet
            No word is known.
        BadValue
            A facet is wanted and refused at once.
        """
        return parse(", ".join(texts(words)), self.catalogue.facets, self.catalogue.umbrellas)

    def smell(self, text: str) -> Mapping[str, float]:
        """Return the facets that words name where nothing can be refused, such as in a reading.

        Raises
        ------
        UnknownFacet, BadValue
        """
        phrase = self.phrase(text)
        if phrase.refused:
            raise BadValue("smell", text, "a refusal makes no sense here; name the smell itself")
        return phrase.facets

    def avoided(self, words: Words | None, option: str = "--avoid") -> list[Phrase]:
        """Return the phrases that say what to avoid; a refusal in one is no more than that ("no hay").

        Raises
        ------
        UnknownFacet
        BadValue
            One of them names smells with and without a refusal, which can be read in two ways.
        """
        phrases = [self.phrase(text) for text in texts(words)]
        for phrase in phrases:
            if phrase.refused and phrase.facets:
                raise BadValue(option, phrase.text, "it can be read in two ways; name only what to avoid")
        return phrases

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

    What clearly smells of a refused facet is left out. Where no facet is wanted, all others, in catalogue
    order.

    Raises
    ------
    UnknownFacet
        No word is known.
    BadValue
        A facet is wanted and refused at once.
    """
    ground = bench or shipped()
    materials = list(ground.catalogue.materials)
    if not words:
        return materials, []
    phrase = ground.phrase(words)
    materials = [m for m in materials if all(m.strength_of(f) < CLEAR_LABEL for f in phrase.refused)]
    if phrase.facets:
        shown = {m.slug: max(m.strength_of(facet) for facet in phrase.facets) for m in materials}
        materials = sorted((m for m in materials if shown[m.slug]), key=lambda m: (-shown[m.slug], m.name))
    return materials, list(phrase.notes)
