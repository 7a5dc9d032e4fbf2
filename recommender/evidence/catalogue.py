"""The only reader of the built tables: materials, facets, relations and limits, looked up by name or CAS."""

from collections.abc import Mapping
from dataclasses import dataclass, field, is_dataclass, replace
from functools import cache, cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from recommender import model
from recommender.errors import AmbiguousMaterial, SpoiltCas, UnknownMaterial, WrongCas
from recommender.evidence import compiled
from recommender.evidence.names import cas_check_digit, label_key, looks_like_cas, name_key, plain, squeezed
from recommender.evidence.registers import Registers, entries
from recommender.evidence.tables import (
    CATEGORIES,
    COLUMNS,
    Folders,
    activities,
    allergens,
    annexes,
    categories,
    check_fresh,
    limits,
    materials,
    required,
    standards,
)
from recommender.model import Allergen, Category, Facet, Limit, Material, Relation, Umbrella

if TYPE_CHECKING:
    from recommender.evidence.loose_names import LooseNames

SOLD_AS = (" oil", " absolute", " resinoid", " butter", " extract", " tincture")
"""What a natural is sold as when only the plant is named, the commonest first."""
LONGEST_NAME = 200
"""Characters; a longer text is no misspelt name."""
MOST_CANDIDATES = 6
"""Materials that one name may mean; a word that more of them have is no name."""
NEAR_WHOLE, NEAR_WORD, SHORTEST_WORD = 75.0, 80.0, 4
"""How alike a name, or a word of so many letters in it, is to one that may be a slip of it [%]."""
MOST_NEAR = 1_000
"""Unknown names of which the nearest are remembered: a formula is read again with every key."""
_PACKAGE = Path(__file__).parents[1]
TABLES = _PACKAGE / "tables"
"""What the build computes."""
Rule = TypeVar("Rule", bound=Limit | Allergen)
EVIDENCE = next(x for x in (_PACKAGE / "data", _PACKAGE.parent / "data") if x.is_dir())
"""What is edited by hand: within an installed package, beside it in a checkout."""


CODE = (*sorted(Path(__file__).parent.glob("*.py")), Path(model.__file__))
"""What makes a catalogue out of tables."""


@dataclass(frozen=True)
class Catalogue:
    """All evidence, indexed.

    `limits` are those of the table, with a person's own; `entries` all that counts. `own` are the keys of the
    materials that a person added, `own_dilutions` the dilutions [%] of bottles by the key of their label.
    `ln_gamma` is carrier -> molecule -> logarithm of its activity coefficient in much of that carrier.
    """

    materials: tuple[Material, ...]
    facets: tuple[Facet, ...]
    umbrellas: tuple[Umbrella, ...]
    relations: tuple[Relation, ...]
    limits: tuple[Limit, ...]
    sources: Mapping[str, str]
    columns: Mapping[tuple[str, str], str]
    label_vectors: Mapping[str, tuple[float, ...]]
    parameters: Mapping[str, float]
    panel: Mapping[str, tuple[float, ...]]
    index: Mapping[str, int]
    by_name: Mapping[str, int]
    allergens: tuple[Allergen, ...] = ()
    categories: tuple[Category, ...] = ()
    own_names: Mapping[str, str] = field(default_factory=dict)
    ln_gamma: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    registers: Registers = field(default_factory=Registers, compare=False, metadata=compiled.LEFT_OUT)
    own: frozenset[str] = field(default=frozenset(), metadata=compiled.LEFT_OUT)
    own_dilutions: Mapping[str, tuple[float, ...]] = field(default_factory=dict, metadata=compiled.LEFT_OUT)

    @cached_property
    def by_squeezed(self) -> Mapping[str, int]:
        """Names without spaces and hyphens; of several the first."""
        names = reversed(list(self.by_name.items()))
        return {squeezed(name): row for name, row in names if not looks_like_cas(name)}

    @cached_property
    def entries(self) -> tuple[Limit, ...]:
        """Prohibitions and limits: those of the table, and what the published lists add."""
        return entries(self.limits, self.materials, self.own, self.registers)

    @cached_property
    def limits_by_key(self) -> Mapping[str, tuple[Limit, ...]]:
        """Entries by the CAS numbers and the keys of materials that they cover."""
        return _by_key(self.entries)

    @cached_property
    def allergens_by_key(self) -> Mapping[str, tuple[Allergen, ...]]:
        """Allergens of the label by the CAS numbers and the keys of materials that they cover."""
        return _by_key(tuple(a for a in self.allergens if a.added != "deleted"))

    def find(self, text: str) -> Material:
        """Return the material of this name, synonym, slug, CAS number or label of the person's own.

        Raises
        ------
        WrongCas
            The text is a CAS number whose check digit does not fit.
        UnknownMaterial
            Nothing has this name; carries the nearest known names. `AmbiguousMaterial`: several may have it.
            `SpoiltCas`: it is a CAS number that a spreadsheet turned into a date.
        """
        if found := self.meanings(text):
            return found[0]
        key = name_key(text)
        if (dated := self.dated(text)) is not None:
            raise SpoiltCas(text, dated[0], dated[1].name)
        if candidates := self._candidates(text):
            raise AmbiguousMaterial(text, [self.materials[row].name for row in candidates])
        listed = self.registers.words_of(text)
        raise UnknownMaterial(text, [] if looks_like_cas(key) else self._near(key), listed)

    def named(self, text: str) -> Material | None:
        """Return the material of this name, synonym, slug or CAS number, labels of the person's own aside."""
        key = name_key(text)
        if not squeezed(key):
            return None
        row = self.by_name.get(key)
        if row is None:  # only then: the other spellings are worked out on first use
            row = self.by_squeezed.get(squeezed(key))
        return None if row is None else self.materials[row]

    def meanings(self, text: str) -> tuple[Material, ...]:
        """Return what a text can mean: one material, several where only a plant is named, or nothing.

        Raises
        ------
        WrongCas
            The text is a CAS number whose check digit does not fit.
        """
        if self.own_names and (slug := self.own_names.get(label_key(text))) in self.index:
            return (self.materials[self.index[slug or ""]],)
        if (exact := self.named(text)) is not None:
            return (exact,)
        key = name_key(text)
        if looks_like_cas(key) and (expected := cas_check_digit(key)) != int(key[-1]):
            raise WrongCas(key, expected)
        rows = self._sold_as(key)
        if rows and self._has_several_oils(key):
            return ()
        if not rows and len(key) <= LONGEST_NAME:
            from recommender.evidence.loose_names import written_cas

            if cas := written_cas(text):
                return self.meanings(cas)
            loose = self.loose.find(text)
            rows = list(loose) if len(loose) == 1 else []
        return tuple(self.materials[row] for row in rows)

    def _sold_as(self, key: str) -> list[int]:
        """Return the rows of what is made of a plant, its oil first."""
        letters = squeezed(key)
        known = (self.by_squeezed.get(squeezed(key + form)) for form in SOLD_AS if letters)
        return list(dict.fromkeys(row for row in known if row is not None))

    def _has_several_oils(self, key: str) -> bool:
        """Return whether a plant gives several oils, none of which is simply its oil: ylang ylang, pine."""
        if self.by_squeezed.get(squeezed(f"{key} oil")) is not None:
            return False
        return sum(" oil" in self.materials[row].name for row in self.loose.wider(key)) > 1

    @cached_property
    def loose(self) -> "LooseNames":
        """Names in other word orders and spellings; made when an exact name has failed."""
        from recommender.evidence.loose_names import LooseNames

        return LooseNames(self.materials, self.allergens)

    def dated(self, text: str) -> tuple[str, Material] | None:
        """Return the CAS number of ours that a spreadsheet turned into this date, and its material."""
        from recommender.evidence.loose_names import dated_cas

        known = [(cas, self.materials[self.by_name[cas]]) for cas in dated_cas(text) if cas in self.by_name]
        return known[0] if len(known) == 1 else None

    def containing(self, text: str) -> tuple[Material, ...]:
        """Return the materials that have a text in one of their names or CAS numbers."""
        key = name_key(text)
        letters = squeezed(key)
        rows = {row for name, row in self.by_name.items() if key in name}
        rows |= {row for name, row in self.by_squeezed.items() if letters and letters in name}
        rows |= set(self.loose.wider(text))
        labels = (slug for label, slug in self.own_names.items() if letters and letters in label)
        rows |= {self.index[slug] for slug in labels if slug in self.index}
        return tuple(self.materials[row] for row in sorted(rows) if key)

    def _candidates(self, text: str) -> tuple[int, ...]:
        """Return the rows of the few materials that a text may mean equally well."""
        from recommender.evidence.loose_names import names_natural, says_oil

        if len(text) > LONGEST_NAME:
            return ()
        rows = self.loose.find(text)
        if len(rows) < 2:
            naturals = names_natural(text)
            wider = self.loose.wider(text)
            rows = tuple(row for row in wider if not naturals or self.materials[row].kind == "natural")
            if says_oil(text):
                rows = tuple(row for row in rows if " oil" in self.materials[row].name) or rows
        return rows if 2 <= len(rows) <= MOST_CANDIDATES else ()

    @cached_property
    def _near_names(self) -> dict[str, list[str]]:
        return {}

    def _near(self, key: str) -> list[str]:
        if len(key) > LONGEST_NAME:
            return []
        if key not in self._near_names:
            if len(self._near_names) >= MOST_NEAR:
                self._near_names.clear()
            self._near_names[key] = self._nearest(key)
        return self._near_names[key]

    def _nearest(self, key: str) -> list[str]:
        from rapidfuzz import fuzz, process

        from recommender.evidence.loose_names import FORMS, PARTS, words_of

        def informative(name: str) -> list[str]:
            return [w for w in words_of(name) if len(w) >= SHORTEST_WORD and w not in FORMS | PARTS]

        def is_near(name: str) -> bool:
            pairs = ((one, other) for one in wanted for other in informative(name))
            return fuzz.ratio(key, name) >= NEAR_WHOLE or any(fuzz.ratio(*p) >= NEAR_WORD for p in pairs)

        wanted = informative(key)
        alike = process.extract(key, self.by_name.keys(), scorer=fuzz.WRatio, limit=30, score_cutoff=72)
        rows = [self.by_name[name] for name, _, _ in alike if is_near(name)]
        rows = [*self.loose.wider(key)[:1], *self.loose.narrower(key)[:1], *rows]
        return list(dict.fromkeys(self.materials[row].name for row in rows))[:3]

    def by_slug(self, slug: str) -> Material:
        """Return the material with this slug."""
        return self.materials[self.index[slug]]


CLASSES = {
    one.__name__: one
    for one in (*vars(model).values(), Catalogue)
    if isinstance(one, type) and is_dataclass(one)
}
"""What the compiled form of the tables is made of."""


def _by_key(rules: tuple[Rule, ...]) -> dict[str, tuple[Rule, ...]]:
    found: dict[str, tuple[Rule, ...]] = {}
    for rule in rules:
        for key in (*rule.cas, *rule.materials):
            found[key] = (*found.get(key, ()), rule)
    return found


@cache
def load(folder: Path = TABLES, evidence: Path = EVIDENCE) -> Catalogue:
    """Return the catalogue of some tables; that of the shipped ones comes from their compiled form if it can.

    Parameters
    ----------
    folder : Path
        Where the computed tables are.
    evidence : Path
        The evidence that they were built from, which is read as it is edited.

    Raises
    ------
    BadTable
        A table is missing, empty, cut short or cannot be read.
    StaleTable
        A table or its evidence was edited without a rebuild.
    """
    folders = Folders(folder, evidence)
    shipped = folders == Folders(TABLES, EVIDENCE)
    found = load_compiled(folders, compiled.place(folder) if shipped else None)
    return replace(found, registers=Registers(partial(annexes, folders), partial(standards, folders)))


def load_compiled(folders: Folders, file: Path | None) -> Catalogue:
    """Return the catalogue from a file where that fits the tables, else from the tables; then write it."""
    if file is None:
        return read(folders)
    found = compiled.read(file, CLASSES)
    if not isinstance(found, Catalogue):
        made_from = compiled.stamps([*folders.files(), *CODE])
        found = read(folders)
        compiled.write(file, found, made_from)
    return found


def read(folders: Folders) -> Catalogue:
    """Read the tables; raises `BadTable` and `StaleTable`."""
    check_fresh(folders)
    known = materials(folders)
    index = {material.slug: row for row, material in enumerate(known)}
    by_name: dict[str, int] = {}
    for row, material in enumerate(known):
        by_name.setdefault(name_key(material.name), row)
        by_name.setdefault(material.slug, row)
        by_name.update({cas: row for cas in material.cas_all if cas not in by_name})
    for row, material in enumerate(known):
        for name in material.names:
            by_name.setdefault(name_key(name.text), row)
    return Catalogue(
        materials=known,
        facets=tuple(
            Facet(r["facet"], r["family"], r["meaning"], r.list("synonyms")) for r in folders.rows("facets")
        ),
        umbrellas=tuple(
            Umbrella(r["word"], r.list("members"), r.list("synonyms"), r["language"])
            for r in folders.rows("umbrellas")
        ),
        relations=tuple(
            Relation(
                r["from"], r["relation"], r["to"], required(r, "weight"), r["basis"], r["source"], r["note"]
            )
            for r in folders.rows("relations")
        ),
        limits=limits(folders),
        allergens=allergens(folders),
        categories=categories(folders),
        sources={
            r["key"]: ", ".join(p for p in (r["author"], r["year"], r["title"], r["place"]) if p)
            for r in folders.rows("sources")
        },
        columns={(r["table"], r["column"]): r["meaning"] for r in folders.rows("columns")},
        label_vectors={
            r["facet"]: tuple(required(r, c) for c in r.cells if c != "facet")
            for r in folders.rows("label_vectors")
        },
        panel={
            r["facet"]: tuple(required(r, c) for c in r.cells if c not in COLUMNS["panel"])
            for r in folders.rows("panel")
        },
        parameters={r["name"]: required(r, "value") for r in folders.rows("parameters")},
        index=index,
        by_name=by_name,
        ln_gamma=activities(folders),
    )


__all__ = [
    "CATEGORIES",
    "COLUMNS",
    "EVIDENCE",
    "TABLES",
    "Catalogue",
    "cas_check_digit",
    "label_key",
    "load",
    "looks_like_cas",
    "plain",
]
