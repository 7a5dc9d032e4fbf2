#!/usr/bin/env python
"""Reformulate formulas with an offender each: what is preserved, against the obvious way and one swap.

Usage: measure_reformulate.py [--only ID,...] [--held-out] [--three] [--infeasible]. The formulas are those
of `tests/reference/reformulations.jsonl`, with `--held-out` ten further ones that nothing was tuned on. The
obvious way only cuts lines to their limit or takes them out; the best single swap is the best of the first
ten answers of `replace` that keeps to everything, at its dose. Seconds are processor time.
"""

import argparse
import json
import statistics
import time
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from recommender import process

process.prepare()

from recommender import suggest  # noqa: E402
from recommender.errors import BadValue  # noqa: E402
from recommender.formulas import formula as formulas  # noqa: E402
from recommender.formulas.drydown import FormulaDrydown  # noqa: E402
from recommender.model import Bottle, Formula  # noqa: E402
from recommender.palette import Palette, shipped  # noqa: E402
from recommender.reformulation import Reformulation, ReformulationRequest, reformulate  # noqa: E402
from recommender.reformulation.preserved import TIME_WEIGHTS, Smell, presence  # noqa: E402
from recommender.reformulation.rules import rules, why_out  # noqa: E402
from recommender.regulation import STOP  # noqa: E402
from recommender.suggest.stock import Shelf  # noqa: E402

REFERENCE = Path(__file__).parent.parent / "tests" / "reference"
PRICES = {"absolute": 2.0, "natural": 0.25, "molecule": 0.05}
"""Invented prices of a gram, spread by a factor of two and a half either way."""
SHELF_SIZE = 80


def cases(held_out: bool = False) -> list[dict[str, Any]]:
    """Return the formulas with their requests."""
    path = REFERENCE / ("reformulations_held_out.jsonl" if held_out else "reformulations.jsonl")
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def formula_of(case: dict[str, Any], palette: Palette) -> Formula:
    """Return the formula of a case with its theme."""
    found = formulas.of_pairs(case["name"], case["lines"].items(), palette.catalogue)
    return formulas.with_theme(found, case["theme"], palette.catalogue)


def share_of_theme(case: dict[str, Any], palette: Palette) -> float:
    """Return the greatest share of a theme facet's presence that goes with the offender."""
    table = FormulaDrydown(formula_of(case, palette), palette)
    rest = table.minus(palette.catalogue.find(case["offender"]))
    columns = [table.film.facets.index(facet) for facet in table.theme.facets]
    before, after = (TIME_WEIGHTS @ presence(each.film)[:, columns] for each in (table, rest))
    return float((1.0 - after / np.maximum(before, 1e-9)).max())


def best_single(case: dict[str, Any], request: ReformulationRequest, palette: Palette) -> float | None:
    """Return what the best single swap preserves, of the first ten of `replace` that keep to everything."""
    formula, catalogue = formula_of(case, palette), palette.catalogue
    table, asked = FormulaDrydown(formula, palette), catalogue.find(case["offender"])
    smell = Smell.of(table.course, table.theme.facets)
    found = suggest.replace(asked, request.offering, palette, formula)
    values = []
    for one in found.suggestions:
        if one.dose is None:
            continue
        after = table.minus(asked).plus([(one.material, one.dose.first_try / 1000.0)])
        materials = [amount.material for amount in after.concentrate]
        if any(why_out(m, request, {}, catalogue) for m in materials):
            continue
        if all(_fits(rule, after) for rule in rules(materials, request, catalogue)):
            values.append(smell.preserved(presence(after.film)))
    return max(values, default=None)


def _fits(rule: Any, table: FormulaDrydown) -> bool:
    there = sum(rule.shares.get(a.material.slug, 0.0) * a.mass_fraction for a in table.concentrate)
    return bool(rule.scale * there <= rule.bound * (1.0 + 1e-9))


def shelf_for(formula: Formula, palette: Palette) -> Shelf:
    """Return a shelf of eighty bottles: the lines of a formula and, by name, what is common to buy."""
    lines = [amount.material for amount in formulas.amounts(formula)]
    common = [m for m in palette.catalogue.materials if m.availability == "common" and m.role == "palette"]
    chance = np.random.default_rng(17)
    order = [common[i] for i in chance.permutation(len(common))]
    chosen = list({m.slug: m for m in (*lines, *order)}.values())[:SHELF_SIZE]
    bottles = []
    for number, material in enumerate(chosen, 1):
        kind = "absolute" if "absolute" in material.name else material.kind
        price = PRICES.get(kind, PRICES["molecule"]) * 2.5 ** float(chance.uniform(-1, 1))
        bottles.append(Bottle(material.name, material.slug, amount_g=100.0, price_per_g=price, number=number))
    return Shelf(tuple(bottles), date(2026, 11, 30))


def price_of(formula: Formula, shelf: Shelf) -> float:
    """Return the price of a gram of a formula by a shelf."""
    return sum(a.mass_fraction * shelf.prices.get(a.material.slug, 0.0) for a in formulas.amounts(formula))


def asked(found: Reformulation, seconds: float) -> str:
    """Return an answer in a line."""
    if not found.answers:
        clash = "; ".join(f"{c.kind} {c.name} {c.asked:.3g} -> {c.least}" for c in found.clashes)
        return f"no answer in {seconds:.1f} s; clash: {clash}"
    one = found.answers[0]
    said = one.report.decision if one.report else ""
    moves = "; ".join(
        f"{c.kind} {c.line.name if c.line else ''} > {c.to.name if c.to else ''} {c.parts_after:.3g}"
        for c in one.changes
    )
    return f"{one.preserved:.3f}, {one.number_of_changes} changes, {seconds:.1f} s, {said}: {moves}"


def timed(formula: Formula, request: ReformulationRequest, palette: Palette) -> tuple[Reformulation, float]:
    """Return a reformulation and its processor time [s]."""
    start = time.process_time()
    found = reformulate(formula, request, palette)
    return found, time.process_time() - start


def measured(formulas_asked: list[dict[str, Any]], only: set[str], palette: Palette) -> None:
    """Print formulas, the median of what is won back, and the longest time."""
    won, most, below, stopped, times = [], [], [], [], []
    print("id   theme  obvious single preserved won  changes  s    best  decision")
    for case in formulas_asked:
        if only and case["id"] not in only:
            continue
        request = ReformulationRequest(**case["request"], seconds=600.0)
        found, seconds = timed(formula_of(case, palette), request, palette)
        times.append(seconds)
        try:
            single = best_single(case, request, palette)
        except BadValue:
            single = None
        share = share_of_theme(case, palette)
        if not found.answers:
            print(case["id"], asked(found, seconds))
            continue
        one, obvious = found.answers[0], found.obvious or 0.0
        back = (one.preserved - obvious) / max(1.0 - obvious, 1e-9)
        won.append(back)
        best = max(answer.preserved for answer in found.answers)
        most.append((best - obvious) / max(1.0 - obvious, 1e-9))
        if single is not None and one.preserved < single - 5e-4:
            below.append(case["id"])
        decision = one.report.decision if one.report else ""
        if decision == STOP:
            stopped.append(case["id"])
        shown = "  -  " if single is None else f"{single:.3f}"
        print(
            f"{case['id']}  {share:.2f}   {obvious:.3f}  {shown}  {one.preserved:.3f}     {back:.2f} "
            f"{one.number_of_changes:>4}    {seconds:5.1f}  {best:.3f}  {decision}  {case['name']}",
            flush=True,
        )
    if won:
        medians = f"{statistics.median(won):.2f}, of the best shown {statistics.median(most):.2f}"
        print(f"median won back {medians}; below one swap: {below}; stop: {stopped}")
        print(f"seconds: median {statistics.median(times):.1f}, most {max(times):.1f}")


def three(palette: Palette) -> None:
    """Print five formulas made lawful and a fifth cheaper from a shelf of eighty."""
    for case in cases()[:5]:
        formula = formula_of(case, palette)
        shelf = shelf_for(formula, palette)
        before = price_of(formula, shelf)
        request = ReformulationRequest(
            **case["request"], shelf=shelf, only_shelf=True, max_price=0.8 * before, seconds=600.0
        )
        found, seconds = timed(formula, request, palette)
        price = found.answers[0].price if found.answers else None
        after = "" if price is None else f"{price / before:.2f} of the price"
        print(case["id"], after, f"obvious {found.obvious}", asked(found, seconds), flush=True)


def infeasible(palette: Palette) -> None:
    """Print a formula that cannot be made lawful with the line that is in the way kept."""
    case = cases()[2]
    request = ReformulationRequest(**case["request"], keep=case["offender"])
    print(case["id"], asked(*timed(formula_of(case, palette), request, palette)))
    case = cases()[0]
    request = ReformulationRequest(**case["request"], keep=["coumarin", "lavender oil"], changes=1)
    print(case["id"], asked(*timed(formula_of(case, palette), request, palette)))


def main() -> None:
    """Print what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default="")
    parser.add_argument("--held-out", action="store_true")
    parser.add_argument("--three", action="store_true")
    parser.add_argument("--infeasible", action="store_true")
    given = parser.parse_args()
    palette = shipped()
    if given.three:
        three(palette)
    elif given.infeasible:
        infeasible(palette)
    else:
        measured(cases(given.held_out), set(filter(None, given.only.split(","))), palette)


if __name__ == "__main__":
    main()
