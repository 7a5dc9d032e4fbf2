#!/usr/bin/env python3
"""Evaluate `pair` on the classic pairs of the table, those of a fifth of the materials held out at a time.

usage: scripts/fit_pairs.py                  figures of the shipped weights
       scripts/fit_pairs.py --draws 200      the best of so many random weights beside them, chosen held out

All pairs of the held-out materials are taken out of the table, from either end, so that their companions have
to be found by likeness and by facets. Counted are materials with at least six pairs: whether a companion on
record is among the first five (hit@5), whether one is that at most a tenth of these materials are paired with
(specific@5), and how many are among the first ten. Forms of one note count as one. What a pair on record
weighs cannot be seen here, since none is left. A random weight is within three times the shipped one; those
that are best on four fifths of the materials are counted on the fifth.
"""

import argparse
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from recommender.palette import Palette, shipped
from recommender.similarity.pairings import CLASSIC, Pairings
from recommender.similarity.relations import RelationGraph
from recommender.suggest.companion_query import read
from recommender.suggest.companions import all_terms
from recommender.suggest.request import Request
from recommender.suggest.scoring import FLOOR, WEIGHTS

Array = npt.NDArray[np.float64]

FOLDS, LEAST_PAIRS, LEAST_OFFERED, SPECIFIC, SPREAD, LOOKED_AT = 5, 6, 4, 0.1, 3.0, 100
FIRST, TOP = 5, 10
NAMES = tuple(name for name in WEIGHTS["pair"] if name not in ("facet", "pair"))


@dataclass(frozen=True)
class Case:
    """A held-out material: its candidates, logarithms of terms (terms, candidates), companions on record."""

    rows: npt.NDArray[np.intp]
    logs: Array
    accepted: npt.NDArray[np.bool_]
    fold: int


def cases(palette: Palette, pairings: Pairings, seed: int = 0) -> list[Case]:
    """Return every material with enough pairs, its own held out with those of its fold."""
    known = pairings.classic > 0
    asked = np.random.default_rng(seed).permutation(np.flatnonzero(known.sum(axis=1) >= LEAST_PAIRS))
    materials, found = palette.catalogue.materials, []
    for fold in range(FOLDS):
        held = {materials[row].slug for row in asked[fold::FOLDS]}
        left = [r for r in palette.graph.relations if r.kind != CLASSIC or not {r.start, r.end} & held]
        graph = RelationGraph.build(left, palette.catalogue.index)
        without = Pairings.of(palette.catalogue, graph, palette.space)
        for row in asked[fold::FOLDS]:
            query = read(materials[row], Request(), palette, without)
            rows = np.flatnonzero(query.eligibility.mask)
            if known[row, rows].sum() < LEAST_OFFERED:
                continue
            terms = all_terms(query, [int(r) for r in rows])
            logs = np.log(np.clip([terms.get(name, np.ones(len(rows))) for name in NAMES], FLOOR, 1.0))
            found.append(Case(rows, logs, known[row], fold))
    return found


def figures(found: Sequence[Case], weights: Array, pairings: Pairings, share: Array) -> Array:
    """Return hit@5, specific@5 and companions in ten, the mean over cases."""
    counted = []
    for case in found:
        first = list[int]()
        for row in case.rows[np.argsort(-(weights @ case.logs), kind="stable")[:LOOKED_AT]]:
            if not pairings.one_note[row, first].any():
                first.append(int(row))
            if len(first) == TOP:
                break
        forms = pairings.one_note[first] & case.accepted
        hit, specific = forms.any(axis=1), (forms & (share <= SPECIFIC)).any(axis=1)
        counted.append((hit[:FIRST].any(), specific[:FIRST].any(), hit.sum()))
    return np.mean(counted, axis=0)


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--draws", type=int, default=0, help="random weights to choose from (0)")
    given = parser.parse_args()
    palette = shipped()
    pairings = Pairings.of(palette.catalogue, palette.graph, palette.space)
    found = cases(palette, pairings)
    share = (pairings.classic[(pairings.classic > 0).sum(axis=1) >= LEAST_PAIRS] > 0).mean(axis=0)
    plain = np.array([WEIGHTS["pair"][name] for name in NAMES])
    print(f"{len(found)} materials          hit@5  specific@5  in ten")
    show("shipped", figures(found, plain, pairings, share))
    for name in ("paired alike", "affinity"):
        show(f"{name} alone", figures(found, 1.0 * (np.array(NAMES) == name), pairings, share))
    if given.draws:
        show("chosen, held out", chosen(found, plain, pairings, share, given.draws))


def chosen(found: Sequence[Case], plain: Array, pairings: Pairings, share: Array, draws: int) -> Array:
    """Return the figures, held out, of the weights that are best on the other folds."""
    dice, counted = np.random.default_rng(1), list[Array]()
    tried = [plain, *(plain * SPREAD ** dice.uniform(-1.0, 1.0, (draws, len(plain))))]
    for fold in range(FOLDS):
        rest, held = ([c for c in found if (c.fold == fold) is out] for out in (False, True))
        best = max(tried, key=lambda w: float(figures(rest, w, pairings, share) @ [0.0, 1.0, 0.1]))
        counted += [figures([case], best, pairings, share) for case in held]
        print(f"  fold {fold + 1}: " + ", ".join(f"{n} {w:.2g}" for n, w in words(best).items()))
    return np.mean(counted, axis=0)


def words(weights: Array) -> Mapping[str, float]:
    """Return weights by the name of their term."""
    return dict(zip(NAMES, weights, strict=True))


def show(label: str, values: Array) -> None:
    """Print one line of figures."""
    print(f"{label:22s} {values[0]:9.2f} {values[1]:11.2f} {values[2]:7.2f}")


if __name__ == "__main__":
    main()
