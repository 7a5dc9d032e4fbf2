#!/usr/bin/env python3
"""Write a trial archive of invented formulas: a folder of sheets, or Parquet.

usage: scripts/make_archive.py FOLDER [--formulas 2000] [--lines 40] [--seed 1] [--broken 0] [--parquet]

The same seed gives the same formulas. A third of them name an accord, some accords another one; one line in
five is a dilution, one material in four a natural. With --parquet they are one file of lines, accords opened.
"""

import argparse
import csv
import random
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

from recommender.archive.store import FORMULAS, LINES, Batch, stored
from recommender.evidence.catalogue import Catalogue, load
from recommender.formulas.formula import COLUMNS, rows
from recommender.model import Formula, Line, Material

ACCORDS = 24
AT_ONCE = 2_000
BROKEN = (
    ("misspelt.csv", b"material,parts\ncoumarin,10\nxyzzyol,5\n"),
    ("negative.csv", b"material,parts\ncoumarin,10\nvanillin,-5\n"),
    ("no_parts.csv", b"material,colour\ncoumarin,white\n"),
    ("empty.csv", b""),
    ("circle.csv", b"material,parts\ncoumarin,10\n{name},5\n"),
    ("no_workbook.xlsx", b"PK\x03\x04 this is no workbook"),
    ("zeros.csv", b"\0" * 5_000),
    ("long_cell.csv", b'material,parts\n"' + b"a" * 40_000 + b'",1\n'),
)
"""Name and bytes of files that cannot be read."""


class Inventor:
    """Invents formulas of a catalogue: common materials more often, in amounts around their usual use."""

    def __init__(self, catalogue: Catalogue, seed: int) -> None:
        self.random = random.Random(seed)
        offered = [m for m in catalogue.materials if m.role == "palette" and m.kind != "solvent" and m.parts]
        self.random.shuffle(offered)
        self.materials = offered
        self.popular = [1.0 / (rank + 30) for rank in range(len(offered))]
        self.solvents = [
            catalogue.by_slug(slug) for slug in ("dipropylene-glycol", "triethyl-citrate", "ethanol")
        ]
        self.accords: list[Formula] = []

    def line(self, material: Material) -> Line:
        """Return a line of a material: one in five diluted."""
        usual = material.use.value if material.use else 0.5
        parts = float(f"{10 * usual * self.random.lognormvariate(0.0, 0.8):.3g}")
        if self.random.random() < 0.2:
            dilution = self.random.choice((0.01, 0.1, 0.1, 0.5))
            return Line(
                material, float(f"{parts / dilution:.3g}"), dilution, self.random.choice(self.solvents)
            )
        return Line(material, parts)

    def drawn(self, count: int) -> list[Material]:
        """Return so many different materials."""
        found: dict[str, Material] = {}
        while len(found) < count:
            material = self.random.choices(self.materials, self.popular)[0]
            found[material.slug] = material
        return list(found.values())

    def formula(self, name: str, lines: int, accord: float) -> Formula:
        """Return a formula of so many lines, with an accord among them at a probability."""
        found = [self.line(material) for material in self.drawn(lines)]
        if self.accords and self.random.random() < accord:
            inner = self.random.choice(self.accords)
            dilution, solvent = (0.5, self.solvents[0]) if self.random.random() < 0.3 else (1.0, None)
            place = self.random.randrange(len(found))
            found[place] = Line(inner, float(f"{self.random.uniform(20, 200):.3g}"), dilution, solvent)
        return Formula(name, tuple(found))


def invented(catalogue: Catalogue, count: int, lines: int, seed: int) -> Iterator[Formula]:
    """Yield accords, then formulas."""
    inventor = Inventor(catalogue, seed)
    for number in range(1, ACCORDS + 1):
        accord = inventor.formula(f"accord_{number:02d}", inventor.random.randint(4, 9), 0.3)
        inventor.accords.append(accord)
        yield accord
    for number in range(1, count + 1):
        yield inventor.formula(f"f{number:06d}", lines, 1 / 3)


def write_sheets(folder: Path, found: Iterator[Formula]) -> int:
    """Write a CSV for each formula; return how many."""
    count = 0
    for formula in found:
        count += 1
        with (folder / f"{formula.name}.csv").open("w", encoding="utf-8", newline="") as file:
            table = csv.DictWriter(file, COLUMNS)
            table.writeheader()
            table.writerows(rows(formula))
    return count


def write_parquet(folder: Path, found: Iterator[Formula]) -> int:
    """Write the lines and the names of formulas as Parquet; return how many."""
    import pyarrow as pa
    import pyarrow.compute as pc
    import pyarrow.parquet as pq

    count, batch = 0, list[Formula]()
    for name in ("lines", "formulas"):
        (folder / name).mkdir()
    keys = {"material", "solvent"}
    plain = pa.schema([pa.field(f.name, pa.string()) if f.name in keys else f for f in LINES])
    with (
        pq.ParquetWriter(folder / "lines" / "lines.parquet", plain) as lines,
        pq.ParquetWriter(folder / "formulas" / "formulas.parquet", FORMULAS) as heads,
    ):

        def write(some: Sequence[Formula]) -> None:
            made = Batch.of([stored(formula, "invented") for formula in some])
            first = pa.scalar(count - len(some) + 1, pa.int64())
            for table, writer, schema in ((made.lines, lines, plain), (made.formulas, heads, FORMULAS)):
                numbers = pc.add(table["formula"], first)
                writer.write_table(table.set_column(0, "formula", numbers).cast(schema))

        for formula in found:
            count += 1
            batch.append(formula)
            if len(batch) == AT_ONCE:
                write(batch)
                batch = []
        if batch:
            write(batch)
    return count


def main() -> int:
    """Write an archive."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--formulas", type=int, default=2_000)
    parser.add_argument("--lines", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--broken", type=int, default=0, help="So many files that cannot be read.")
    parser.add_argument("--parquet", action="store_true")
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    if any(given.folder.iterdir()):
        parser.error(f"{given.folder} is not empty")
    found = invented(load(), given.formulas, given.lines, given.seed)
    count = write_parquet(given.folder, found) if given.parquet else write_sheets(given.folder, found)
    for number in range(given.broken):
        name, data = BROKEN[number % len(BROKEN)]
        path = given.folder / f"broken_{number + 1:03d}_{name}"
        path.write_bytes(data.replace(b"{name}", path.name.encode()))
    print(f"{count} formulas, {given.broken} broken files: {given.folder}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
