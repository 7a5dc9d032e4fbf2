"""The only reader of the built tables: materials, facets, relations and limits, looked up by name or CAS."""

import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from recommender.errors import BadTable, StaleTable, UnknownMaterial, WrongCas
from recommender.model import (
    Caution,
    Component,
    Curve,
    Facet,
    Figure,
    Label,
    Lasting,
    Limit,
    Material,
    Name,
    Relation,
    Umbrella,
)
from recommender.sheets import Row, digest, read

TABLES = Path(__file__).parent / "tables"
EVIDENCE = Path(__file__).parent.parent / "data"
REBUILD = "Run scripts/build_tables.py"

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "facets": ("facet", "family", "meaning", "synonyms"),
    "umbrellas": ("word", "members", "synonyms"),
    "materials": ("slug", "name", "cas", "cas_more", "kind", "form", "role", "smiles", "molar_mass"),
    "names": ("material", "name", "kind"),
    "labels": ("material", "facet", "strength", "basis", "source"),
    "volatility": (
        "material",
        "quantity",
        "value",
        "unit",
        "phase",
        "low",
        "high",
        "basis",
        "source",
        "note",
    ),
    "components": (
        "material",
        "component",
        "mass_fraction",
        "pressure_pa",
        "crystal_pa",
        "molar_mass",
        "log_error",
        "basis",
        "i_max",
        "log10_half",
        "width",
        "curve_kind",
        "curve_basis",
        "curve_source",
        "doubtful",
        "curve_log_error",
    ),
    "stays": ("material", "hours", "low", "high", "position", "basis", "strength"),
    "relations": ("from", "relation", "to", "weight", "basis", "source", "note"),
    "limits": (
        "name",
        "cas",
        "materials",
        "kind",
        "market",
        "basis",
        "source",
        "reference",
        "excepted",
        "note",
    ),
    "cautions": ("material", "kind", "text", "basis", "source"),
    "sources": ("key", "author", "year", "title", "place"),
    "columns": ("table", "column", "unit", "meaning"),
    "label_vectors": ("facet",),
    "parameters": ("name", "value", "unit", "meaning"),
}
"""The shipped tables and the columns that each must have."""

_CAS = re.compile(r"\d{2,7}-\d{2}-\d")


def cas_check_digit(cas: str) -> int:
    """Return the check digit that a CAS number should end in.

    References
    ----------
    CAS, Check Digit Verification of CAS Registry Numbers: the digits before the last, counted from the
    right, are weighted 1, 2, 3 ...; the sum modulo 10 is the check digit.

    >>> cas_check_digit("100-52-7")
    7
    """
    digits = cas.replace("-", "")[:-1]
    return sum(int(d) * place for place, d in enumerate(reversed(digits), 1)) % 10


def looks_like_cas(text: str) -> bool:
    """Tell whether a text has the shape of a CAS number."""
    return _CAS.fullmatch(text) is not None


def plain(text: str) -> str:
    """Return a name as it is compared: lower case, Greek letters written out, no accents, single spaces."""
    text = text.casefold().strip()
    for letter, word in zip("αβγδ", ("alpha", "beta", "gamma", "delta"), strict=True):
        text = text.replace(letter, word)
    bare = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return re.sub(r"[\s_]+", " ", bare.replace("–", "-").replace("’", "'"))


@dataclass(frozen=True)
class Catalogue:
    """All evidence, indexed."""

    materials: tuple[Material, ...]
    facets: tuple[Facet, ...]
    umbrellas: tuple[Umbrella, ...]
    relations: tuple[Relation, ...]
    limits: tuple[Limit, ...]
    sources: Mapping[str, str]
    columns: Mapping[tuple[str, str], str]
    label_vectors: Mapping[str, tuple[float, ...]]
    parameters: Mapping[str, float]
    index: Mapping[str, int]
    by_name: Mapping[str, int]

    def find(self, text: str) -> Material:
        """Return the material of this name, synonym, slug or CAS number.

        Raises
        ------
        WrongCas
            The text is a CAS number whose check digit does not fit.
        UnknownMaterial
            Nothing has this name; carries the nearest known names.
        """
        key = plain(text)
        if (row := self.by_name.get(key)) is not None:
            return self.materials[row]
        if looks_like_cas(key):
            expected = cas_check_digit(key)
            if expected != int(key[-1]):
                raise WrongCas(key, expected)
            raise UnknownMaterial(text)
        raise UnknownMaterial(text, self._near(key))

    def _near(self, key: str) -> list[str]:
        from rapidfuzz import fuzz, process

        found = process.extract(key, self.by_name.keys(), scorer=fuzz.WRatio, limit=12, score_cutoff=72)
        names = dict.fromkeys(self.materials[self.by_name[name]].name for name, _, _ in found)
        return list(names)[:3]

    def by_slug(self, slug: str) -> Material:
        """Return the material with this slug."""
        return self.materials[self.index[slug]]


def _rows(name: str, folder: Path) -> list[Row]:
    return read(folder / f"{name}.csv", COLUMNS[name])


def _grouped(rows: Iterable[Row]) -> dict[str, list[Row]]:
    groups: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        groups[row["material"]].append(row)
    return groups


def _figure(row: Row) -> Figure:
    value = row.number("value")
    if value is None:
        raise row.wrong("value", "a value is missing")
    note = "; ".join(part for part in (row["phase"], row["note"]) if part)
    return Figure(
        value, row["unit"], row["basis"], row["source"], row.number("low"), row.number("high"), note
    )


def _required(row: Row, column: str) -> float:
    value = row.number(column)
    if value is None:
        raise row.wrong(column, "a number is missing", REBUILD)
    return value


def _component(row: Row) -> Component:
    curve = None
    if row["i_max"]:
        curve = Curve(
            i_max=_required(row, "i_max"),
            log10_half=_required(row, "log10_half"),
            width=_required(row, "width"),
            kind=row["curve_kind"],
            basis=row["curve_basis"],
            source=row["curve_source"],
            doubtful=row["doubtful"] == "yes",
            log_error=_required(row, "curve_log_error"),
        )
    return Component(
        name=row["component"],
        mass_fraction=_required(row, "mass_fraction"),
        pressure_pa=_required(row, "pressure_pa"),
        molar_mass=_required(row, "molar_mass"),
        crystal_pa=row.number("crystal_pa"),
        log_error=_required(row, "log_error"),
        basis=row["basis"],
        curve=curve,
    )


def _lasting(row: Row) -> Lasting:
    hours, low, high = (_required(row, column) for column in ("hours", "low", "high"))
    return Lasting(hours, low, high, row["position"], row["basis"])


def _materials(folder: Path) -> tuple[Material, ...]:
    tables = ("names", "labels", "volatility", "components", "cautions", "stays")
    groups = {table: _grouped(_rows(table, folder)) for table in tables}
    materials = []
    for row in _rows("materials", folder):
        slug = row["slug"]
        names, labels, volatility, components, cautions, stays = (groups[t].get(slug, []) for t in tables)
        figures: dict[str, tuple[Figure, ...]] = {}
        for cell in volatility:
            figures[cell["quantity"]] = (*figures.get(cell["quantity"], ()), _figure(cell))
        materials.append(
            Material(
                slug=slug,
                name=row["name"],
                cas=row["cas"],
                cas_more=row.list("cas_more"),
                kind=row["kind"],
                form=row["form"],
                role=row["role"],
                smiles=row["smiles"],
                molar_mass=row.number("molar_mass"),
                names=tuple(Name(r["name"], r["kind"]) for r in names),
                labels=tuple(Label(r["facet"], int(r["strength"]), r["basis"], r["source"]) for r in labels),
                figures=figures,
                lasting=_lasting(stays[0]) if stays and stays[0]["hours"] else None,
                strength=stays[0].number("strength") if stays else None,
                parts=tuple(_component(r) for r in components),
                cautions=tuple(Caution(r["kind"], r["text"], r["basis"], r["source"]) for r in cautions),
            )
        )
    return tuple(materials)


def _check_fresh(folder: Path, evidence: Path | None) -> None:
    """Compare the fingerprints that the build wrote with the files that are there."""
    for row in read(folder / "manifest.csv", ("folder", "file", "digest")):
        home = folder if row["folder"] == "tables" else evidence
        if home is None:
            continue
        path = home / row["file"]
        if not path.exists():
            raise BadTable(f"{home.name}/{row['file']}", "the table is missing", remedy=REBUILD)
        if digest(path) != row["digest"]:
            read(path, ())
            raise StaleTable(
                f"{home.name}/{row['file']}", "the table was edited without a rebuild", remedy=REBUILD
            )


@cache
def load(folder: Path = TABLES, evidence: Path | None = None) -> Catalogue:
    """Read the shipped tables.

    Parameters
    ----------
    folder : Path
        Where the built tables are.
    evidence : Path, optional
        The evidence that they were built from; by default the `data` folder of a checkout, where there
        is one. It is only compared with the fingerprints of the last build.

    Raises
    ------
    BadTable
        A table is missing, empty, cut short or cannot be read.
    StaleTable
        A table or its evidence was edited without a rebuild.
    """
    if evidence is None and folder == TABLES and (EVIDENCE / "facets.csv").exists():
        evidence = EVIDENCE
    _check_fresh(folder, evidence)
    materials = _materials(folder)
    index = {material.slug: row for row, material in enumerate(materials)}
    by_name: dict[str, int] = {}
    for row, material in enumerate(materials):
        by_name.setdefault(plain(material.name), row)
        by_name.setdefault(material.slug, row)
        by_name.update({cas: row for cas in material.cas_all if cas not in by_name})
    for row, material in enumerate(materials):
        for name in material.names:
            by_name.setdefault(plain(name.text), row)
    return Catalogue(
        materials=materials,
        facets=tuple(
            Facet(r["facet"], r["family"], r["meaning"], r.list("synonyms")) for r in _rows("facets", folder)
        ),
        umbrellas=tuple(
            Umbrella(r["word"], r.list("members"), r.list("synonyms")) for r in _rows("umbrellas", folder)
        ),
        relations=tuple(
            Relation(
                r["from"], r["relation"], r["to"], _required(r, "weight"), r["basis"], r["source"], r["note"]
            )
            for r in _rows("relations", folder)
        ),
        limits=tuple(
            Limit(
                r["name"],
                r.list("cas"),
                r.list("materials"),
                r["kind"],
                r["market"],
                r["basis"],
                r["source"],
                r["reference"],
                r.list("excepted"),
                r["note"],
            )
            for r in _rows("limits", folder)
        ),
        sources={
            r["key"]: ", ".join(p for p in (r["author"], r["year"], r["title"], r["place"]) if p)
            for r in _rows("sources", folder)
        },
        columns={(r["table"], r["column"]): r["meaning"] for r in _rows("columns", folder)},
        label_vectors={
            r["facet"]: tuple(_required(r, c) for c in r.cells if c != "facet")
            for r in _rows("label_vectors", folder)
        },
        parameters={r["name"]: _required(r, "value") for r in _rows("parameters", folder)},
        index=index,
        by_name=by_name,
    )
