#!/usr/bin/env python3
"""Renew data/annexes.csv: the entries of Annexes II and III of Regulation (EC) No 1223/2009.

usage: scripts/annexes.py [--export FOLDER] [--out FILE]

Reads the export of the Commission's database of cosmetic ingredients: `annex_II.csv` and `annex_III.csv` of
a folder, by default those inside the package `on-the-list` (`pip install --group annexes`). Only facts are
taken over: annex, entry, the name of the substance without the conditions of the entry, CAS numbers (those in
its name too), act, day of the last update. The rows are sorted, so the same export always gives the same
table. CAS numbers whose check digit does not fit are left out and printed. A build needs neither the package
nor the export.
"""

import argparse
import csv
import datetime
import importlib.util
import re
import sys
from collections.abc import Iterator
from pathlib import Path

from recommender.errors import BadTable, RecommenderError
from recommender.evidence.names import cas_check_digit

OUT = Path(__file__).resolve().parent.parent / "data" / "annexes.csv"
COLUMNS = ("annex", "entry", "name", "cas", "regulation", "updated")
ANNEXES = ("II", "III")
LONGEST_NAME = 120
CAS = re.compile(r"(?<![\d-])\d{2,7}-\d{2}-\d(?![\d-])")
CONDITIONS = re.compile(
    r"[,;:.(]*\s*\b(when (used|the substance)|if (used|they|it)|(with the )?exceptions? (of|for)\b|except"
    r"|provided|unless|other than|in sun protection|used as|as defined|defined as|any substance|for traces"
    r"|containing|formaldehyde released|CAS No)",
    re.I,
)
"""Words with which an entry goes on from the substance to its conditions."""
Cells = tuple[str, ...]


def export_of_package() -> Path:
    """Return the folder with the export inside the installed package; raises `BadTable` without it."""
    found = importlib.util.find_spec("on_the_list")
    if found is None or found.origin is None:
        remedy = "pip install --group annexes, or name a folder with --export"
        raise BadTable("annex_II.csv", "the package on-the-list is not installed", remedy=remedy)
    return Path(found.origin).parent / "data"


def raw_rows(path: Path) -> Iterator[dict[str, str]]:
    """Yield the entries of one file of the export; a preamble stands above its header."""
    if not path.exists():
        raise BadTable(path.name, "the export is missing", remedy="Name its folder with --export")
    with path.open(encoding="utf-8-sig", newline="") as file:
        lines = list(csv.reader(file))
    at = next((i for i, line in enumerate(lines) if line[:1] == ["Reference Number"]), None)
    if at is None:
        raise BadTable(path.name, "no header begins with Reference Number")
    for line in lines[at + 1 :]:
        if any(line):
            yield dict(zip(lines[at], line, strict=False))


def name_of(text: str) -> str:
    """Return the substance of an entry: without its conditions, at most `LONGEST_NAME` characters."""
    name = re.sub(r"\s*\((\d{1,2}|\*)\s*\)$", "", " ".join(text.split()))
    if cut := CONDITIONS.search(name, 3):
        name = name[: cut.start()]
    if len(name) > LONGEST_NAME:
        name = name[:LONGEST_NAME].rsplit(" ", 1)[0]
    return name.rstrip(" ,;:.([{")


def numbers_of(text: str) -> tuple[list[str], list[str]]:
    """Return the CAS numbers in a text, and those whose check digit does not fit."""
    joined = re.sub(r"(?<=\d)(?:-\s+|\s+-)(?=\d)", "-", text)  # a hyphen between spaces parts two numbers
    found = list(dict.fromkeys(CAS.findall(joined)))
    wrong = [cas for cas in found if cas_check_digit(cas) != int(cas[-1])]
    return [cas for cas in found if cas not in wrong], wrong


def day_of(text: str) -> str:
    """Return a day such as 28/08/2026 as 2026-08-28, blank where there is none."""
    text = text.strip()
    return datetime.datetime.strptime(text, "%d/%m/%Y").date().isoformat() if text else ""


def order(cells: Cells) -> tuple[object, ...]:
    """Return the place of an entry: annex, number, letter (8, 8a, 8b), then its name."""
    number, letter = re.fullmatch(r"(\d+)(.*)", cells[1]).groups()  # type: ignore[union-attr]
    return (cells[0], int(number), letter, *cells[2:])


def rows(folder: Path) -> tuple[list[Cells], list[str]]:
    """Return the rows of the table, and a line for each CAS number that is left out."""
    found: list[Cells] = []
    left_out: list[str] = []
    for annex in ANNEXES:
        for raw in raw_rows(folder / f"annex_{annex}.csv"):
            entry = raw["Reference Number"].strip()
            if not re.fullmatch(r"\d+[a-z]*", entry):
                raise BadTable(f"annex_{annex}.csv", f'"{entry}" is not the number of an entry')
            numbers, wrong = numbers_of(f"{raw['CAS Number']} {raw['Chemical name / INN']}")
            left_out += [f"Annex {annex}/{entry}: {cas} has a wrong check digit" for cas in wrong]
            name = name_of(raw["Chemical name / INN"])
            act, day = raw["Regulation"].strip(), day_of(raw["Update Date"])
            found.append((annex, entry, name, "; ".join(numbers), act, day))
    return sorted(found, key=order), left_out


def main() -> int:
    """Write the table and print what it has."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--export", type=Path, help="folder with annex_II.csv and annex_III.csv")
    parser.add_argument("--out", type=Path, default=OUT)
    options = parser.parse_args()
    try:
        found, left_out = rows(options.export or export_of_package())
    except RecommenderError as error:
        print(error, file=sys.stderr)
        return 1
    with options.out.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([COLUMNS, *found])
    counts = (f"Annex {annex}: {sum(row[0] == annex for row in found)} rows" for annex in ANNEXES)
    print(*left_out, ", ".join(counts), sep="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
