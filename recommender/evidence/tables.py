"""The tables, row by row: what each must contain, and the values read from it.

What a person edits is read as it is edited; the build adds tables of what is computed from it.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from recommender.errors import BadTable, StaleTable
from recommender.evidence.sheets import Row, digest, read
from recommender.model import (
    ALDEHYDE,
    AMINE,
    Allergen,
    AnnexEntry,
    Category,
    Caution,
    Component,
    Content,
    Curve,
    Figure,
    Label,
    Lasting,
    Limit,
    Material,
    Name,
    PracticeFact,
    PublishedStandard,
)

REBUILD = "Run scripts/build_tables.py"
CATEGORIES = (
    *("1", "2", "3", "4", "5A", "5B", "5C", "5D", "6"),
    *("7A", "7B", "8", "9", "10A", "10B", "11A", "11B", "12"),
)
"""Categories of finished products, as the industry Standards number them since their 49th Amendment."""

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "facets": ("facet", "family", "meaning", "synonyms"),
    "umbrellas": ("word", "members", "synonyms", "language"),
    "materials": (
        *("slug", "name", "cas", "cas_more", "kind"),
        *("form", "role", "smiles", "availability"),
    ),
    "molecules": ("material", "molar_mass", "log_p", "vaporisation_kj_per_mol", "schiff_base"),
    "activity": ("material",),
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
    "use_levels": ("material", "percent_low", "percent_high", "basis", "source"),
    "stays": ("material", "hours", "low", "high", "position", "basis", "strength"),
    "relations": ("from", "relation", "to", "weight", "basis", "source", "note"),
    "limits": (
        "name",
        "cas",
        "materials",
        "kind",
        "market",
        *(f"cat_{category}" for category in CATEGORIES),
        "unlimited",
        "counted_with",
        "sum_group",
        "basis",
        "source",
        "reference",
        "date",
        "applies_from",
        "applies_until",
        "condition",
        "mapping",
        "excepted",
        "note",
    ),
    "allergens": (
        *("name", "cas", "materials", "added", "entry"),
        *("basis", "source", "date", "excepted", "note"),
    ),
    "annexes": ("annex", "entry", "name", "cas", "regulation", "updated"),
    "standards": ("name", "cas", "types", "amendment", "published", "source"),
    "categories": ("category", "words", "use", "basis", "source"),
    "constituents": ("natural", "constituent", "class", "percent_low", "percent_high", "basis", "source"),
    "cautions": ("material", "kind", "text", "basis", "source", "dilution_percent"),
    "practice": ("material", "quality", "value", "basis", "source", "note"),
    "sources": ("key", "author", "year", "title", "place"),
    "columns": ("table", "column", "unit", "meaning"),
    "label_vectors": ("facet",),
    "panel": ("facet", "basis", "source"),
    "parameters": ("name", "value", "unit", "meaning"),
    "observations": ("material", "figure", "kind", "other", "decades", "scatters"),
}
"""The tables that an answer reads and the columns that each must have."""
COMPUTED = (
    "molecules",
    "activity",
    "volatility",
    "components",
    "stays",
    "relations",
    "label_vectors",
    "parameters",
    "observations",
)
"""Those of them that the build computes; all others are the evidence as it is edited."""
ON_FIRST_USE = ("annexes", "standards")
"""Those of them that are read, and compared with their fingerprint, when something is looked up in them."""
SCHIFF_BASE = "schiff base"
"""Kind of the caution that a material makes coloured Schiff bases."""
MUCH_PERCENT = 5.0
"""Share of a natural [%] from which the aldehydes or amines in it count without such a caution."""


@dataclass(frozen=True)
class Folders:
    """Where the tables are: `computed` by the build, `edited` by hand."""

    computed: Path
    edited: Path

    def path(self, name: str) -> Path:
        """Return the file of one table."""
        return (self.computed if name in COMPUTED else self.edited) / f"{name}.csv"

    def rows(self, name: str) -> list[Row]:
        """Return the rows of one table; raises `BadTable`."""
        return read(self.path(name), COLUMNS[name])

    @property
    def manifest(self) -> Path:
        """The fingerprints that the build wrote."""
        return self.computed / "manifest.csv"

    def files(self) -> list[Path]:
        """Return the manifest and all files that it lists; raises `BadTable`."""
        return [self.manifest, *(path for _, path, _ in self.listed())]

    def listed(self) -> list[tuple[str, Path, str]]:
        """Return name, path and fingerprint of each file of the manifest; raises `BadTable`."""
        return [
            (
                f"{row['folder']}/{row['file']}",
                (self.computed if row["folder"] == "tables" else self.edited) / row["file"],
                row["digest"],
            )
            for row in read(self.manifest, ("folder", "file", "digest"))
        ]


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


def required(row: Row, column: str) -> float:
    """Return the number in a cell that may not be blank; raises `BadTable`."""
    value = row.number(column)
    if value is None:
        raise row.wrong(column, "a number is missing", REBUILD)
    return value


def _component(row: Row, molecules: Mapping[str, Row]) -> Component:
    curve = None
    if row["i_max"]:
        curve = Curve(
            i_max=required(row, "i_max"),
            log10_half=required(row, "log10_half"),
            width=required(row, "width"),
            kind=row["curve_kind"],
            basis=row["curve_basis"],
            source=row["curve_source"],
            doubtful=row["doubtful"] == "yes",
            log_error=required(row, "curve_log_error"),
        )
    molecule = molecules.get(row["component"])
    return Component(
        name=row["component"],
        mass_fraction=required(row, "mass_fraction"),
        pressure_pa=required(row, "pressure_pa"),
        molar_mass=required(row, "molar_mass"),
        crystal_pa=row.number("crystal_pa"),
        log_error=required(row, "log_error"),
        basis=row["basis"],
        curve=curve,
        log_p=None if molecule is None else required(molecule, "log_p"),
        vaporisation_j_per_mol=(
            None if molecule is None else 1e3 * required(molecule, "vaporisation_kj_per_mol")
        ),
    )


def _lasting(row: Row) -> Lasting:
    hours, low, high = (required(row, column) for column in ("hours", "low", "high"))
    return Lasting(hours, low, high, row["position"], row["basis"])


def _use(row: Row) -> Figure:
    """Return the usual share of a concentrate; its value is the middle on a log scale."""
    low, high = required(row, "percent_low"), required(row, "percent_high")
    return Figure(math.sqrt(low * high), "% of a concentrate", row["basis"], row["source"], low, high)


def _caution(row: Row) -> Caution:
    return Caution(row["kind"], row["text"], row["basis"], row["source"], row.number("dilution_percent"))


def side_of_natural(cautions: Iterable[Row], known: Iterable[Content], molecules: Mapping[str, Row]) -> str:
    """Return the side that a natural takes in a Schiff base: that of what it has much of, or is warned of.

    Of one with such a caution an amine counts before an aldehyde: there is little of it, and it colours.
    """
    shares: dict[str, float] = defaultdict(float)
    for content in known:
        if content.name in molecules and (side := molecules[content.name]["schiff_base"]):
            shares[side] += content.middle_percent
    if any(row["kind"] == SCHIFF_BASE for row in cautions):
        return AMINE if AMINE in shares else ALDEHYDE
    side = max(shares, key=lambda one: shares[one], default="")
    return side if shares.get(side, 0.0) >= MUCH_PERCENT else ""


def materials(folders: Folders) -> tuple[Material, ...]:
    """Return all materials with what the other tables have on them."""
    tables = ("names", "labels", "volatility", "components", "cautions", "stays", "use_levels", "practice")
    groups = {table: _grouped(folders.rows(table)) for table in tables}
    constituents = contents(folders)
    molecules = {row["material"]: row for row in folders.rows("molecules")}
    materials = []
    for row in folders.rows("materials"):
        slug = row["slug"]
        names, labels, volatility, components, cautions, stays, uses, practice = (
            groups[t].get(slug, []) for t in tables
        )
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
                molar_mass=required(molecules[slug], "molar_mass") if slug in molecules else None,
                names=tuple(Name(r["name"], r["kind"]) for r in names),
                labels=tuple(Label(r["facet"], int(r["strength"]), r["basis"], r["source"]) for r in labels),
                figures=figures,
                lasting=_lasting(stays[0]) if stays and stays[0]["hours"] else None,
                strength=stays[0].number("strength") if stays else None,
                use=_use(uses[0]) if uses else None,
                parts=tuple(_component(r, molecules) for r in components),
                cautions=tuple(_caution(cell) for cell in cautions),
                contents=constituents.get(slug, ()),
                availability=row["availability"],
                practice=tuple(
                    PracticeFact(r["quality"], r["value"], r["basis"], r["source"], r["note"])
                    for r in practice
                ),
                schiff_base=(
                    molecules[slug]["schiff_base"]
                    if slug in molecules
                    else side_of_natural(cautions, constituents.get(slug, ()), molecules)
                ),
            )
        )
    return tuple(materials)


def activities(folders: Folders) -> dict[str, dict[str, float]]:
    """Return ln gamma at infinite dilution at 25 C: carrier -> molecule -> estimate."""
    rows = folders.rows("activity")
    carriers = [column for column in rows[0].cells if column != "material"] if rows else []
    return {carrier: {row["material"]: required(row, carrier) for row in rows} for carrier in carriers}


def contents(folders: Folders) -> dict[str, tuple[Content, ...]]:
    """Return the named constituents of each natural with the range of their share."""
    found: dict[str, list[Content]] = defaultdict(list)
    for row in folders.rows("constituents"):
        if name := row["constituent"]:
            low, high = row.number("percent_low"), row.number("percent_high")
            found[row["natural"]].append(Content(name, low, high, row["basis"], row["source"]))
    return {natural: tuple(constituents) for natural, constituents in found.items()}


def check_fresh(folders: Folders, only: str = "") -> None:
    """Compare the fingerprints that the build wrote with the files that are there.

    `only` names a single table; without it those that are read on first use are left for then.
    """
    for name, path, known in folders.listed():
        if path.stem != only if only else path.stem in ON_FIRST_USE:
            continue
        if not path.exists():
            raise BadTable(name, "the table is missing", remedy=REBUILD)
        if digest(path) != known:
            read(path, ())
            raise StaleTable(name, "the table was edited without a rebuild", remedy=REBUILD)


def limits(folders: Folders) -> tuple[Limit, ...]:
    """Return prohibitions and limits."""
    return tuple(
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
            percent={c: required(r, f"cat_{c}") for c in CATEGORIES if r[f"cat_{c}"]},
            counted_with=r.list("counted_with"),
            sum_group=r["sum_group"],
            date=r["date"],
            unlimited=r.list("unlimited"),
            applies_from=r["applies_from"],
            applies_until=r["applies_until"],
            condition=r["condition"],
            mapping=r["mapping"],
        )
        for r in folders.rows("limits")
    )


def allergens(folders: Folders) -> tuple[Allergen, ...]:
    """Return the allergens that European law wants on the label."""
    return tuple(
        Allergen(
            r["name"],
            r.list("cas"),
            r.list("materials"),
            r["added"],
            r["entry"],
            r["basis"],
            r["source"],
            r["date"],
            r.list("excepted"),
            r["note"],
        )
        for r in folders.rows("allergens")
    )


def categories(folders: Folders) -> tuple[Category, ...]:
    """Return the categories of finished products."""
    return tuple(Category(r["category"], r["words"], r["use"]) for r in folders.rows("categories"))


def annexes(folders: Folders) -> tuple[AnnexEntry, ...]:
    """Return every entry of Annexes II and III; raises `BadTable`, `StaleTable`."""
    check_fresh(folders, "annexes")
    return tuple(
        AnnexEntry(r["annex"], r["entry"], r["name"], r.list("cas"), r["regulation"], r["updated"])
        for r in folders.rows("annexes")
    )


def standards(folders: Folders) -> tuple[PublishedStandard, ...]:
    """Return the published industry Standards; raises `BadTable`, `StaleTable`."""
    check_fresh(folders, "standards")
    return tuple(
        PublishedStandard(
            r["name"], r.list("cas"), r.list("types"), r["amendment"], r["published"], r["source"]
        )
        for r in folders.rows("standards")
    )
