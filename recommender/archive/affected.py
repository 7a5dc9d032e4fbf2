"""Which formulas a material is in: put in, in accords, in dilutions, as a solvent, through naturals."""

import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from recommender.archive.store import FormulaStore, Part
from recommender.evidence.catalogue import Catalogue
from recommender.model import Amount, Material
from recommender.reformulation.rules import brings
from recommender.regulation import substances

PUT_IN, IN_NATURAL, BOTH = "put in", "in a natural", "put in and in a natural"
UNKNOWN = "in a natural, amount unknown"
SCHEMA = pa.schema(
    [
        ("number", pa.int64()),
        ("formula", pa.string()),
        ("name", pa.dictionary(pa.int32(), pa.string())),
        ("cas", pa.dictionary(pa.int32(), pa.string())),
        ("percent", pa.float64()),
        ("put_in_percent", pa.float64()),
        ("through", pa.list_(pa.string())),
        ("status", pa.dictionary(pa.int32(), pa.string())),
        ("origin", pa.string()),
    ]
)
_COLUMNS = ["formula", "material", "parts", "dilution_percent", "solvent", "accord"]


@dataclass(frozen=True)
class AffectedFormulas:
    """The formulas that a material is in.

    `rows` has one row a formula: `percent` is that of the concentrate [% by mass], naturals at the high end
    of their range, None where only naturals bring it whose content is not known; `put_in_percent` what was
    put in as such; `through` each way in which it comes in. `formulas` is how many were looked through.
    """

    material: Material
    rows: pa.Table
    formulas: int
    seconds: float


@dataclass(frozen=True)
class Bringers:
    """What brings a material: key of a material -> its share of the one asked about [mass fraction].

    `unknown` are the keys of naturals that have it in an amount that is not known.
    """

    shares: Mapping[str, float]
    unknown: frozenset[str]

    @classmethod
    def of(cls, asked: Material, catalogue: Catalogue) -> "Bringers":
        """Return what brings a material, by key or any of its CAS numbers."""
        opened = {one.slug: substances([Amount(one, 1.0)], catalogue) for one in catalogue.materials}
        shares = brings(asked, opened)
        listed = {one.slug for one in catalogue.materials if any(c.name == asked.slug for c in one.contents)}
        related = {
            one.end for one in catalogue.relations if one.kind == "constituent-of" and one.start == asked.slug
        }
        return cls(shares, frozenset((listed | related) - shares.keys()))


def affected(store: FormulaStore, asked: Material) -> AffectedFormulas:
    """Return the formulas that a material is in, in the order of their numbers.

    Raises
    ------
    BadTable
        A part of the store is damaged.
    """
    start, catalogue = time.monotonic(), store.palette.catalogue
    bringers = Bringers.of(asked, catalogue)
    tables = [_of_part(store, part, asked, bringers, catalogue) for part in store.parts if part.formulas]
    rows = pa.concat_tables([SCHEMA.empty_table(), *tables]).unify_dictionaries()
    return AffectedFormulas(asked, rows, len(store), time.monotonic() - start)


@dataclass
class _Found:
    """What was found in one formula."""

    put_in: float = 0.0
    through_naturals: float = 0.0
    known: bool = False
    direct: bool = False
    natural: bool = False

    def __post_init__(self) -> None:
        self.ways: dict[str, None] = {}

    @property
    def status(self) -> str:
        """How it comes in."""
        if self.direct:
            return BOTH if self.natural else PUT_IN
        return IN_NATURAL if self.known else UNKNOWN


def _of_part(
    store: FormulaStore, part: Part, asked: Material, bringers: Bringers, catalogue: Catalogue
) -> pa.Table:
    lines = store.table("lines", part, _COLUMNS)
    wanted = pa.array(sorted({*bringers.shares, *bringers.unknown}), pa.string())
    is_in = [pc.is_in(lines[name].cast(pa.string()), wanted) for name in ("material", "solvent")]
    chosen = lines.filter(pc.or_(*is_in))
    if not chosen.num_rows:
        return SCHEMA.empty_table()
    totals = _totals(lines)
    found: dict[int, _Found] = {}
    for row in chosen.to_pylist():
        one = found.setdefault(row["formula"], _Found())
        share = row["parts"] / totals[row["formula"]]
        dilution = 1.0 if row["dilution_percent"] is None else row["dilution_percent"] / 100.0
        for slug, amount in ((row["material"], share * dilution), (row["solvent"], share * (1.0 - dilution))):
            if slug in bringers.shares or slug in bringers.unknown:
                _count(one, asked, catalogue.by_slug(slug), amount, bringers)
                one.ways[_way(row, slug, catalogue, unknown=slug in bringers.unknown)] = None
    heads = store.table("formulas", part, ["formula", "name", "origin"])
    named = {row["formula"]: row for row in heads.to_pylist()}
    rows = [_row(number, named[number], asked, found[number]) for number in sorted(found)]
    return pa.Table.from_pylist(rows, schema=SCHEMA)


def _totals(lines: pa.Table) -> dict[int, float]:
    sums = lines.select(["formula", "parts"]).group_by("formula").aggregate([("parts", "sum")])
    return dict(zip(sums["formula"].to_pylist(), sums["parts_sum"].to_pylist(), strict=True))


def _count(one: _Found, asked: Material, material: Material, amount: float, bringers: Bringers) -> None:
    brought = amount * bringers.shares.get(material.slug, 0.0)
    one.known = one.known or brought > 0
    if material.kind == "natural" and material.slug != asked.slug:
        one.natural = True
        one.through_naturals += brought
    else:
        one.direct = True
        one.put_in += brought


def _way(row: Mapping[str, Any], slug: str, catalogue: Catalogue, *, unknown: bool) -> str:
    """Return how a line brings it: clove bud oil at 10 %, in accord rose > petal."""
    name = catalogue.by_slug(slug).name
    if slug == row["solvent"] and slug != row["material"]:
        text = f"{name} as the solvent of {catalogue.by_slug(row['material']).name}"
    elif row["dilution_percent"] is not None:
        text = f"{name} at {row['dilution_percent']:g} %"
    else:
        text = name
    if row["accord"]:
        text += f", in accord {row['accord']}"
    return f"{text}, amount unknown" if unknown else text


def _row(number: int, head: Mapping[str, Any], asked: Material, found: _Found) -> dict[str, object]:
    return {
        "number": number,
        "formula": head["name"],
        "name": asked.name,
        "cas": asked.cas or None,
        "percent": 100.0 * (found.put_in + found.through_naturals) if found.known else None,
        "put_in_percent": 100.0 * found.put_in,
        "through": list(found.ways),
        "status": found.status,
        "origin": head["origin"],
    }
