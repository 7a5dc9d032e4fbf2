#!/usr/bin/env python3
"""Ask extend, replace and vary for every material, and count offers of prohibited ones: none may be there.

usage: scripts/offers.py [--market any|eu|standards] [--every N]

Prohibitions are read from data/limits.csv directly, not through the stage that filters. Prints a line for
each prohibited offer and the counts; exit status 1 where there is one.
"""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from tqdm import tqdm

from recommender import suggest
from recommender.bench import Bench, shipped
from recommender.errors import RecommenderError
from recommender.sheets import read

DATA = Path(__file__).resolve().parent.parent / "data"
TOWARD = ("vanilla", "smoke", "rose", "green apple")


def barred_slugs(bench: Bench, market: str) -> set[str]:
    """Return the keys of the materials that a prohibition names by CAS number or key."""
    found = set()
    for row in read(DATA / "limits.csv", ("kind", "market", "cas", "materials", "excepted")):
        if row["kind"] == "prohibition" and market in ("any", row["market"]):
            numbers = set(row.list("cas"))
            found |= {
                m.slug
                for m in bench.catalogue.materials
                if (numbers & set(m.cas_all) or m.slug in row.list("materials"))
                and m.slug not in row.list("excepted")
            }
    return found


def asked(name: str, place: int, market: str) -> list[tuple[str, suggest.Wish]]:
    """Return the three questions about a material."""
    toward = TOWARD[place % len(TOWARD)]
    return [
        ("extend", suggest.Wish(name, market=market, top=50)),
        ("replace", suggest.Wish(name, market=market, top=50)),
        ("vary", suggest.Wish(name, toward=toward, market=market, top=50)),
    ]


def count(market: str, every: int = 1, bar: bool = False) -> tuple[int, int, list[str]]:
    """Return how many questions were answered, how many offers made, and which were prohibited ones."""
    bench = shipped()
    barred = barred_slugs(bench, market)
    answered, offers, wrong = 0, 0, []
    materials: Sequence[str] = [m.slug for m in bench.catalogue.materials][::every]
    for place, name in enumerate(tqdm(materials, disable=not bar, leave=False)):
        for verb, wish in asked(name, place, market):
            try:
                found = getattr(suggest, verb)(wish, bench)
            except RecommenderError:
                continue  # a material without a smell has to be asked with a facet
            answered += 1
            for suggestion in found.suggestions:
                offers += 1
                if suggestion.material.slug in barred:
                    wrong.append(f"{verb} {name} offers {suggestion.material.name}")
    return answered, offers, wrong


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--market", choices=["any", "eu", "standards"], default="any")
    parser.add_argument("--every", type=int, default=1, help="ask about every Nth material only")
    args = parser.parse_args()
    answered, offers, wrong = count(args.market, args.every, bar=True)
    print("\n".join([*wrong, f"{answered} questions, {offers} offers, prohibited offers {len(wrong)}"]))
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
