"""The suggesting verbs: extend, replace, vary. The only module that knows the order of the stages."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from recommender import drydown, explanation, ranking, retrieval, safety, space
from recommender.catalogue import Catalogue, load
from recommender.errors import BadValue
from recommender.graph import Graph
from recommender.model import Findings, Material, Suggestion

Array = npt.NDArray[np.float64]

WINDOWS: Mapping[str, tuple[float, float]] = {"heart": (1.0, 8.0), "base": (8.0, 72.0)}
"""Hours on a strip in which a heart or a base has to speak."""
DEFAULT_UNTIL_HOURS = 24.0
CLASS_FACETS: Mapping[str, tuple[str, ...]] = {
    "monoterpene hydrocarbon": ("citrus", "orange", "lemon", "pine", "fresh", "juniper"),
    "oxygenated monoterpene": ("herbal", "camphor", "eucalyptus", "lavender", "floral", "fresh"),
    "sesquiterpene": ("woody", "spicy", "cedar"),
    "sesquiterpenol": ("woody", "sandalwood", "vetiver", "patchouli", "earth", "balsamic"),
    "aromatic ester or aldehyde": ("balsamic", "floral", "spicy", "sweet"),
    "light ester or aldehyde": ("fruity", "fresh"),
}
"""What the unnamed parts of naturals are known for (common practice)."""
LEAST_FACET = 0.15
"""A carrier shows at least this much of the wanted facet."""


@dataclass(frozen=True)
class Wish:
    """What is asked of a suggesting verb.

    `facet` and `toward` are phrases; `into` is heart or base; `until_hours` an hour on the strip.
    """

    material: str
    facet: str | None = None
    toward: str | None = None
    into: str | None = None
    until_hours: float | None = None
    top: int = 10
    kind: str | None = None
    avoid: str | None = None
    market: str = "any"
    why_not: str | None = None


@dataclass(frozen=True)
class Bench:
    """The catalogue with everything that is derived from it once."""

    catalogue: Catalogue
    space: space.Space
    graph: Graph

    @classmethod
    def of(cls, catalogue: Catalogue) -> "Bench":
        """Derive space and graph of a catalogue."""
        return cls(catalogue, space.Space.of(catalogue), Graph.of(catalogue))

    def phrase(self, text: str) -> space.Phrase:
        """Turn words into facets."""
        return space.parse(text, self.catalogue.facets, self.catalogue.umbrellas)

    def hours(self, rows: Sequence[int]) -> Array:
        """Return lasting hours of rows, 0 where unknown."""
        stays = (self.catalogue.materials[row].lasting for row in rows)
        return np.array([stay.hours if stay else 0.0 for stay in stays])


    def carriers(self, materials: Sequence[Material], wanted: Mapping[str, float], width: int) -> Array:
        """Return how far each part of each material carries the wanted facets, shape (materials, width).

        A part that is a material of its own carries what its labels say, an unnamed one what its class is
        known for; where none carries the facet, all do alike.
        """
        found = np.ones((len(materials), width))
        shown = self.space.carries(wanted)
        for row, material in enumerate(materials):
            if len(material.parts) < 2:
                continue
            shares = np.array([self._carried_by(part.name, shown, wanted) for part in material.parts])
            top = shares.max()
            if top >= LEAST_FACET:
                found[row, : len(shares)] = shares / top
        return found

    def _carried_by(self, part: str, shown: Array, wanted: Mapping[str, float]) -> float:
        if part in self.catalogue.index:
            return float(shown[self.catalogue.index[part]])
        return 0.6 if set(CLASS_FACETS.get(part, ())) & set(wanted) else 0.0


@cache
def shipped() -> Bench:
    """Return the bench of the shipped tables."""
    return Bench.of(load())


def extend(wish: Wish, bench: Bench | None = None) -> Findings:
    """Find what keeps a facet of a material alive after it has gone itself.

    Without a facet the material's own leading facets are wanted. The window runs from the hour at which
    the material is gone to `until_hours` (24 by default), or is that of heart or base. No suggestion is
    gone before the material itself.

    Raises
    ------
    UnknownMaterial, UnknownFacet, WrongCas, BadValue
    """
    return _Question(wish, bench or shipped(), "extend").answer()


def replace(wish: Wish, bench: Bench | None = None) -> Findings:
    """Find what can stand for a material, by its whole smell or, with `facet`, first of all by that.

    Raises
    ------
    UnknownMaterial, UnknownFacet, WrongCas, BadValue
    """
    return _Question(wish, bench or shipped(), "replace").answer()


def vary(wish: Wish, bench: Bench | None = None) -> Findings:
    """Find what moves a material toward other words (`toward`), with some diversity.

    Raises
    ------
    UnknownMaterial, UnknownFacet, WrongCas, BadValue
    """
    if not wish.toward:
        raise BadValue("--toward", "", "say in words where to go, for example --toward hazelnut")
    return _Question(wish, bench or shipped(), "vary").answer()


class _Question:
    """One wish on one bench: each step reads what the steps before it found."""

    def __init__(self, wish: Wish, bench: Bench, verb: str) -> None:
        self.wish, self.bench, self.verb = wish, bench, verb
        if wish.top < 1:
            raise BadValue("--top", wish.top, "it is 1 or more")
        if wish.into not in (None, *WINDOWS):
            raise BadValue("--into", wish.into, "it is heart or base")
        if wish.until_hours is not None and wish.until_hours <= 0:
            raise BadValue("--until", wish.until_hours, "it is a time such as 30min, 8h or 3d")
        catalogue = bench.catalogue
        self.asked = catalogue.find(wish.material)
        self.row = catalogue.index[self.asked.slug]
        self.notes: list[str] = []
        self.wanted = self._wanted()
        self.avoided = self._read(wish.avoid)[0] if wish.avoid else {}
        self.carried = bench.space.carries(self.wanted) if self.wanted else None
        self.allowed = retrieval.offered(catalogue.materials, catalogue.limits, wish.market)
        self._filter()

    def _read(self, words: str) -> tuple[Mapping[str, float], str]:
        phrase = self.bench.phrase(words)
        for word, members in phrase.used:
            if members != (word,):
                self.notes.append(f'"{word}" is taken as {", ".join(members)}.')
        if phrase.ignored:
            self.notes.append(f"Not understood and left out: {', '.join(phrase.ignored)}.")
        return phrase.facets, phrase.label

    def _wanted(self) -> Mapping[str, float]:
        words = self.wish.toward if self.verb == "vary" else self.wish.facet
        if words:
            return self._read(words)[0]
        if self.verb == "extend":
            leading = {x.facet: 1.0 for x in self.asked.labels if x.strength == 3}
            self.notes.append(f"No facet was named: its leading one is kept, {', '.join(leading)}.")
            return leading
        return {}

    def _filter(self) -> None:
        wish, materials = self.wish, self.bench.catalogue.materials
        if wish.kind:
            self.allowed &= np.array([m.kind == wish.kind for m in materials])
        for facet in self.avoided:
            self.allowed &= np.array([m.strength_of(facet) < 2 for m in materials])
        if self.verb == "extend":
            hours = self.bench.hours(range(len(materials)))
            self.allowed &= hours >= max(hours[self.row], 1e-9)
        if self.carried is not None:
            self.allowed &= self.carried >= LEAST_FACET

    @property
    def window(self) -> tuple[float, float]:
        """The hours on a strip in which the facet has to be there."""
        gone = self.bench.hours([self.row])[0]
        if self.wish.into:
            start, end = WINDOWS[self.wish.into]
        else:
            start, end = max(gone, 0.25), DEFAULT_UNTIL_HOURS
        end = self.wish.until_hours or max(end, 1.5 * start)
        return min(start, end / 1.5), end

    def _terms(self, rows: Sequence[int]) -> dict[str, Array]:
        """Return every term that applies, each shape (candidates,)."""
        bench, picked = self.bench, list(rows)
        terms: dict[str, Array] = {}
        if self.carried is not None:
            terms["facet"] = self.carried[picked]
        terms["likeness"] = np.clip((bench.space.likeness(self.row)[picked] + 0.2) / 1.2, 0.0, 1.0)
        terms["kinship"] = bench.graph.kinship(self.row)[picked]
        extra: dict[str, Callable[[], dict[str, Array]]] = {
            "extend": lambda: {"presence": self._presence(picked)},
            "replace": lambda: self._sameness(picked),
            "vary": lambda: {"purity": self._purity(picked)},
        }
        return terms | extra[self.verb]()

    def _presence(self, rows: list[int]) -> Array:
        materials = [self.bench.catalogue.materials[row] for row in rows]
        weights = self.carried[rows] if self.carried is not None else np.ones(len(rows))
        strips = drydown.neat_strips(materials)
        carriers = self.bench.carriers(materials, self.wanted, strips.moles.shape[1])
        return drydown.presence(strips, weights, carriers, *self.window)

    def _sameness(self, rows: list[int]) -> dict[str, Array]:
        bench = self.bench
        found = {"labels": np.clip(bench.space.label_cosine(self.row)[rows], 0.0, 1.0)}
        if own := self.asked.lasting:
            found["lasting"] = ranking.closeness(bench.hours(rows), own.hours)
        if self.asked.strength:
            values = np.array([bench.catalogue.materials[row].strength or np.nan for row in rows])
            found["strength"] = ranking.closeness(values, self.asked.strength)
        return found

    def _purity(self, rows: list[int]) -> Array:
        """Return the share of a material's smell that is the wanted facets or near them."""
        columns = [self.bench.space.facets.index(facet) for facet in self.wanted]
        weights = self.bench.space.weights[rows]
        lent = self.bench.space.near[:, columns].max(axis=1)
        return np.asarray((weights * lent).sum(axis=1) / np.maximum(weights.sum(axis=1), 1e-9), float)

    def answer(self) -> Findings:
        """Retrieve, rank and explain."""
        bench = self.bench
        ways = {"whole smell": bench.space.likeness(self.row), "relations": bench.graph.kinship(self.row)}
        if self.carried is not None:
            ways["facet"] = self.carried
        rows = [c.row for c in retrieval.candidates(ways, self.allowed, self.row)]
        if self.wish.why_not:
            self.notes += self._why_not(rows)
        suggestions = tuple(self._rank(rows)) if rows else ()
        return Findings(self._query(), self.asked, suggestions, tuple(dict.fromkeys(self.notes)))

    def _rank(self, rows: list[int]) -> list[Suggestion]:
        materials = self.bench.catalogue.materials
        terms = self._terms(rows)
        scores = ranking.score(terms, self.verb)
        ranked = ranking.order(scores, [materials[row].name for row in rows])
        if self.verb == "vary":
            head = ranked[: 3 * self.wish.top]
            vectors = self.bench.space.vectors[rows]
            ranked = ranking.diverse(head, scores, np.clip(vectors @ vectors.T, 0.0, 1.0))
        return [
            self._suggestion(rows[i], float(scores[i]), {name: float(v[i]) for name, v in terms.items()})
            for i in ranked[: self.wish.top]
        ]

    def _suggestion(self, row: int, score: float, terms: Mapping[str, float]) -> Suggestion:
        bench = self.bench
        offered, wanted = bench.catalogue.materials[row], list(self.wanted)
        near = self._near(offered)
        return Suggestion(
            material=offered,
            facet=self._facet_named(offered, near),
            score=score,
            terms=terms,
            lasting=offered.lasting,
            strength=offered.strength,
            brings=explanation.brings(self.asked, offered, wanted),
            reasons=explanation.reasons(
                bench.catalogue, bench.graph, self.asked, offered, wanted, near, terms
            ),
            cautions=tuple(caution.text for caution in offered.cautions),
        )

    def _near(self, offered: Material) -> dict[str, float]:
        if not self.wanted:
            return {}
        columns = [self.bench.space.facets.index(facet) for facet in self.wanted]
        lent = self.bench.space.near[:, columns].max(axis=1)
        found = {x.facet: float(lent[self.bench.space.facets.index(x.facet)]) for x in offered.labels}
        return {facet: share for facet, share in found.items() if share > 0.05 and facet not in self.wanted}

    def _facet_named(self, offered: Material, near: Mapping[str, float]) -> str | None:
        """Return the facet that this material answers with."""
        named = [label for label in offered.labels if label.facet in self.wanted]
        if named:
            return max(named, key=lambda label: label.strength).facet
        if near:
            return max(near, key=lambda facet: near[facet])
        asked = [label for label in offered.labels if self.asked.strength_of(label.facet)]
        return max(asked, key=lambda label: label.strength).facet if asked else None

    def _query(self) -> dict[str, object]:
        wish = self.wish
        start, end = self.window
        query: dict[str, object] = {
            "verb": self.verb,
            "material": self.asked.name,
            "cas": self.asked.cas or None,
            "facets": list(self.wanted),
            "into": wish.into,
            "from_hours": start if self.verb == "extend" else None,
            "until_hours": end if self.verb == "extend" else None,
            "market": wish.market,
            "top": wish.top,
        }
        if found := self.asked.lasting:
            query["lasting"] = {
                "hours": found.hours, "low": found.low, "high": found.high, "position": found.position,
            }  # fmt: skip
        query["strength"] = self.asked.strength
        return query

    def _why_not(self, rows: Sequence[int]) -> list[str]:
        """Return why a material is not in the list, in one sentence each."""
        catalogue = self.bench.catalogue
        other = catalogue.find(self.wish.why_not or "")
        row = catalogue.index[other.slug]
        held = safety.prohibitions(other, catalogue.limits, self.wish.market)
        if held:
            return [
                f"{other.name} is prohibited ({limit.name}: "
                f"{catalogue.sources.get(limit.source, 'from memory, unverified')}"
                f"{', ' + limit.reference if limit.reference else ''})."
                for limit in held
            ]
        if row == self.row:
            return [f"{other.name} is the material that was asked about."]
        if other.role != "palette":
            return [f"{other.name} is known for its smell only and is not offered."]
        if row in rows:
            terms = self._terms(rows)
            scores = ranking.score(terms, self.verb)
            place = ranking.order(scores, [catalogue.materials[r].name for r in rows]).index(rows.index(row)) + 1
            weakest = min(terms, key=lambda name: terms[name][rows.index(row)])
            value = terms[weakest][rows.index(row)]
            return [f"{other.name} comes in place {place} of {len(rows)}; its weakest term is {weakest}, {value:.2f}."]
        if self.carried is not None and self.carried[row] < LEAST_FACET:
            return [f"{other.name} shows too little of {', '.join(self.wanted)}."]
        own, gone = other.lasting, self.asked.lasting
        if self.verb == "extend" and own and gone and own.hours < gone.hours:
            return [f"{other.name} is gone from a strip before {self.asked.name} is."]
        for facet in self.avoided:
            if other.strength_of(facet) >= 2:
                return [f"{other.name} smells of {facet}, which you avoid."]
        return [f"{other.name} is too unlike {self.asked.name} to be looked at."]


def find(words: str | None, bench: Bench | None = None) -> tuple[list[Material], list[str]]:
    """Return the materials that show the facets named by words, the strongest first; all without words.

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
    notes = [f"Not understood and left out: {', '.join(phrase.ignored)}."] if phrase.ignored else []
    return [materials[i] for i in hits], notes

