#!/usr/bin/env python3
"""Evaluate the ranking weights on substitution cases, and choose weights by cross-validation.

usage: scripts/fit_weights.py CASES.jsonl                  figures, cross-validation, chosen weights
       scripts/fit_weights.py CASES.jsonl --list           the rank of every case as well
       scripts/fit_weights.py CASES.jsonl --draws 0        without the free search (the slowest part)
       scripts/fit_weights.py CASES.jsonl --walk 0.1,0.25 --trouble 1,3     another grid

CASES.jsonl has one case per line:

    {"id": "a-1", "type": "swap", "query": {"name": "vanillin", "cas": "121-33-5"},
     "context": {"facet": "vanilla"}, "accept": [{"name": "ethyl vanillin", "cas": "121-32-4"}], "reject": []}

`type` is the question: `backup` is `extend` (context: facet, target heart or base), `variation` is `vary`
(context: move, the words after the arrow), `swap` is `replace` for a facet, any other `replace` alone. The
type `negative` tests only what is rejected: it is left out of hit@1, hit@5 and the reciprocal rank. A facet
in unknown words is left out of the question; an unknown material, or only unknown words to move toward, has
no answer. The accepted materials are never complete: an unlisted answer is unknown, not wrong.

Two numbers were taken from such cases and are searched again on a grid: the weight of a computed resemblance
(`shares-facet`) in a walk over the relations, and the weight of a shared drawback in `replace`
(`untroubled`). A setting is judged by the mean reciprocal rank less the share of cases in which a rejected
material ranks above the first accepted one; of equal settings the first of the grid is taken. In each fold
the setting is chosen that is best on the other cases, and only the cases of the fold are then counted. Each
case is held out once in every repeat and its values are averaged over the repeats. Intervals (95 %,
percentile bootstrap) are over cases. As a comparison a free search chooses among random weights for all
terms, each within four times the shipped one. A difference whose interval spans zero is not evidence for a
setting.

Exit status: 0 if most folds choose the shipped numbers, 1 if they choose others, 2 for wrong use.
"""

import argparse
import json
import sys
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.stats import bootstrap
from sklearn.model_selection import RepeatedKFold

from recommender.errors import RecommenderError, UnknownFacet
from recommender.palette import Palette, shipped
from recommender.similarity.relations import KIND_WEIGHTS
from recommender.suggest import scoring as ranking
from recommender.suggest.availability import hard_to_get
from recommender.suggest.for_material import ranked
from recommender.suggest.query import MaterialQuery, read
from recommender.suggest.request import Request

Array = npt.NDArray[np.float64]
Weights = Mapping[str, Mapping[str, float]]

DEPTH = 50
"""Answers below this rank count as none."""
WALK, TROUBLE = "shares-facet", "untroubled"
WALKS = (0.0, 0.1, 0.25, 0.5, 1.0)
TROUBLES = (0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0)
SPREAD = 4.0
"""A weight of the free search is within this factor of the shipped one."""
RESAMPLES = 2000
VERBS = {"backup": "extend", "variation": "vary"}


class BadCases(Exception):
    """The cases cannot be read; the message names the file and the line."""


@dataclass(frozen=True)
class Case:
    """A question with the CAS numbers of what is accepted and what is rejected."""

    name: str
    kind: str
    query: str
    cas: str
    request: Request
    accepted: frozenset[str]
    rejected: frozenset[str]

    @property
    def verb(self) -> str:
        """The verb that answers it."""
        return VERBS.get(self.kind, "replace")


@dataclass(frozen=True)
class Candidates:
    """The candidates of a case for one weight of the walk: everything but the weights of the terms.

    `logs` (terms, candidates) are the logarithms of the floored terms; `last` can hardly be had; `likeness`
    is there for `vary` alone.
    """

    terms: tuple[str, ...]
    logs: Array
    names: tuple[str, ...]
    numbers: tuple[frozenset[str], ...]
    likeness: Array | None
    last: tuple[bool, ...] = ()


@dataclass(frozen=True)
class Setting:
    """One choice of weights; `label` says it in words."""

    label: str
    walk: float
    weights: Weights


@dataclass(frozen=True)
class Outcomes:
    """Ranks (settings, cases) of the first accepted and the first rejected answer, infinite where none is."""

    accepted: Array
    rejected: Array


@dataclass(frozen=True)
class Measures:
    """What is counted of each case, shape (settings, cases); NaN where a measure does not apply."""

    values: Mapping[str, Array]

    def goodness(self, cases: npt.NDArray[np.intp] | slice = slice(None)) -> Array:
        """Return by what settings are compared on some cases, shape (settings,)."""
        return _mean(self.values["MRR"][:, cases]) - _mean(self.values["rejected above accepted"][:, cases])


def _mean(values: Array) -> Array:
    """Return the means over cases to which a measure applies, 0 where it applies to none."""
    count = np.isfinite(values).sum(axis=1)
    return np.asarray(np.nansum(values, axis=1) / np.maximum(count, 1), float)


def read_cases(path: Path) -> list[Case]:
    """Read the cases that have a material asked for and one accepted; raises `BadCases`."""
    cases = []
    for number, line in enumerate(path.read_text(encoding="utf-8-sig").splitlines(), 1):
        if not line.strip():
            continue
        try:
            case = _case(json.loads(line))
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            problem = f"no {error}" if isinstance(error, KeyError) else str(error)
            raise BadCases(f"{path.name}, line {number}: {problem}; see --help for the format") from None
        if case is not None:
            cases.append(case)
    if not cases:
        raise BadCases(f"{path.name}: no case has a CAS number asked for and one accepted")
    return cases


def _case(row: Mapping[str, Any]) -> Case | None:
    kind, query = str(row["type"]), row["query"]
    context = row.get("context") or {}
    accepted, rejected = (
        frozenset(entry["cas"] for entry in row.get(key) or () if entry.get("cas"))
        for key in ("accept", "reject")
    )
    asked = query.get("cas")
    if kind == "strength" or not accepted or not asked:
        return None
    request = Request(top=DEPTH)
    if kind == "variation":
        toward = context["move"].split("->")[-1].split("(")[0].strip()
        request = replace(request, toward=toward)
    elif kind == "backup":
        target = context.get("target")
        request = replace(
            request, facet=context.get("facet"), into=target if target in ("heart", "base") else None
        )
    elif kind == "swap":
        request = replace(request, facet=context.get("facet"))
    return Case(str(row["id"]), kind, query.get("name", asked), asked, request, accepted, rejected)


def question_of(case: Case, palette: Palette) -> MaterialQuery | None:
    """Return the question of a case without unknown facets, None if it cannot be asked."""
    try:
        asked = palette.catalogue.find(case.cas)
        try:
            return read(case.verb, asked, case.request, palette)
        except UnknownFacet:
            if case.verb == "vary":
                return None
            return read(case.verb, asked, replace(case.request, facet=None), palette)
    except RecommenderError:
        return None


def walked(palette: Palette, walk: float) -> Palette:
    """Return the palette with another weight of a computed resemblance in a walk."""
    shared = [
        (walk if relation.kind == WALK else KIND_WEIGHTS[relation.kind]) * relation.weight
        for relation in palette.graph.relations
        if KIND_WEIGHTS[relation.kind] > 0
    ]
    return replace(palette, graph=replace(palette.graph, weights=np.array(shared + shared, float)))


def candidates_of(case: Case, palette: Palette) -> Candidates | None:
    """Return the candidates of a case with their terms, None where it has no answer."""
    question = question_of(case, palette)
    if question is None:
        return None
    rows, terms, _, _ = ranked(question)
    if not rows:
        return None
    materials = palette.materials(rows)
    likeness = None
    if case.verb == "vary":
        vectors = palette.space.vectors[rows]
        likeness = np.clip(palette.space.alike(vectors, vectors), 0.0, 1.0)
    return Candidates(
        tuple(terms),
        np.log(np.clip(np.array(list(terms.values())), ranking.FLOOR, 1.0)),
        tuple(material.name for material in materials),
        tuple(frozenset(material.cas_all) for material in materials),
        likeness,
        tuple(hard_to_get(palette.materials(rows), case.request)),
    )


def in_order(found: Candidates, weights: Mapping[str, float]) -> list[int]:
    """Return the places of the answers, the best first, as the verb gives them with these weights."""
    share = np.array([weights[name] for name in found.terms])
    scores = np.exp(share @ found.logs / share.sum())
    best = ranking.order(scores, found.names, found.last)
    if found.likeness is not None:
        best = ranking.diverse(best[: 3 * DEPTH], scores, found.likeness, last=found.last)
    answering = share * np.array([name not in ranking.NO_ANSWER for name in found.terms])
    meant = np.exp(answering @ found.logs / (answering.sum() or 1.0)) >= ranking.LEAST_SCORE
    return [place for place in best if meant[place]][:DEPTH]


def first(found: Candidates, order: Iterable[int], numbers: frozenset[str]) -> float:
    """Return the rank of the first answer that is one of some materials, infinite where none is."""
    return next((float(i) for i, place in enumerate(order, 1) if found.numbers[place] & numbers), np.inf)


def ranks(cases: Sequence[Case], palette: Palette, settings: Sequence[Setting]) -> Outcomes:
    """Return the ranks of every case under every setting; terms are computed once for each walk."""
    accepted = np.full((len(settings), len(cases)), np.inf)
    rejected = accepted.copy()
    for walk in dict.fromkeys(setting.walk for setting in settings):
        ground = walked(palette, walk)
        mine = [place for place, setting in enumerate(settings) if setting.walk == walk]
        for column, case in enumerate(cases):
            found = candidates_of(case, ground)
            if found is None:
                continue
            known: dict[tuple[float, ...], tuple[float, float]] = {}
            for place in mine:
                weights = settings[place].weights[case.verb]
                key = tuple(weights[name] for name in found.terms)
                if key not in known:
                    order = in_order(found, weights)
                    known[key] = first(found, order, case.accepted), first(found, order, case.rejected)
                accepted[place, column], rejected[place, column] = known[key]
    return Outcomes(accepted, rejected)


def measures(cases: Sequence[Case], found: Outcomes) -> Measures:
    """Return hits, reciprocal ranks and rejected materials that rank above the first accepted one."""
    counted = np.array([case.kind != "negative" for case in cases])
    negative = np.array([bool(case.rejected) for case in cases])
    return Measures(
        {
            "hit@1": np.where(counted, found.accepted <= 1, np.nan),
            "hit@5": np.where(counted, found.accepted <= 5, np.nan),
            "MRR": np.where(counted, 1.0 / found.accepted, np.nan),
            "rejected above accepted": np.where(negative, found.rejected < found.accepted, np.nan),
        }
    )


def with_trouble(trouble: float) -> Weights:
    """Return the shipped weights with another one for a shared trouble in `replace`."""
    return {**ranking.WEIGHTS, "replace": {**ranking.WEIGHTS["replace"], TROUBLE: trouble}}


def grid(walks: Sequence[float], troubles: Sequence[float]) -> list[Setting]:
    """Return every pair of the two numbers, in the order given."""
    return [
        Setting(f"walk {walk:g}, trouble {trouble:g}", walk, with_trouble(trouble))
        for walk in walks
        for trouble in troubles
    ]


def draws(count: int, walks: Sequence[float], seed: int) -> list[Setting]:
    """Return random weights of all terms, log-uniform about the shipped ones, and a walk of the grid."""
    random = np.random.default_rng(seed)
    found = []
    for number in range(count):
        weights = {
            verb: {name: weight * SPREAD ** random.uniform(-1, 1) for name, weight in terms.items()}
            for verb, terms in ranking.WEIGHTS.items()
        }
        found.append(Setting(f"draw {number + 1}", float(random.choice(walks)), weights))
    return found


@dataclass(frozen=True)
class Validated:
    """Result of cross-validation: held-out measures of each case, and the settings chosen by the folds."""

    held_out: Mapping[str, Array]
    training: float
    chosen: Counter[int]


def cross_validate(found: Measures, folds: int, repeats: int, seed: int) -> Validated:
    """Choose on the training part of each fold, count on the other; mean over repeats for each case."""
    count = found.values["MRR"].shape[1]
    sums = {name: np.zeros(count) for name in found.values}
    chosen: Counter[int] = Counter()
    training = []
    parts = RepeatedKFold(n_splits=folds, n_repeats=repeats, random_state=seed)
    for train, test in parts.split(np.zeros((count, 1))):
        best = int(np.argmax(np.round(found.goodness(train), 9)))
        chosen[best] += 1
        training.append(float(_mean(found.values["MRR"][best : best + 1, train])[0]))
        for name, values in found.values.items():
            sums[name][test] += values[best, test]
    return Validated(
        {name: total / repeats for name, total in sums.items()}, float(np.mean(training)), chosen
    )


def figure(values: Array, seed: int) -> str:
    """Return a mean with its 95 % interval over the cases to which it applies, and their number."""
    known = values[np.isfinite(values)]
    if len(known) < 2:
        return f"{known.mean():.3f} (n {len(known)})" if len(known) else "- (n 0)"
    interval = bootstrap(
        (known,),
        np.mean,
        n_resamples=RESAMPLES,
        method="percentile",
        rng=np.random.default_rng(seed),
    ).confidence_interval
    return f"{known.mean():.3f} [{interval.low:.3f}, {interval.high:.3f}] (n {len(known)})"


def show(title: str, values: Mapping[str, Array], seed: int) -> None:
    """Print each measure with its interval."""
    print(f"\n{title}")
    for name, each in values.items():
        known = each[np.isfinite(each)]
        which = f"  {known.sum():g} of {len(known)} cases with rejected materials" if "reject" in name else ""
        print(f"  {name:24s} {figure(each, seed)}{which}")


def show_kinds(cases: Sequence[Case], values: Mapping[str, Array]) -> None:
    """Print the figures of each kind of case."""
    print(f"\n  {'kind':12s} {'n':>3s} {'hit@1':>6s} {'hit@5':>6s} {'MRR':>6s}")
    for kind in sorted({case.kind for case in cases} - {"negative"}):
        mine = np.array([case.kind == kind for case in cases])
        shown = " ".join(f"{values[name][mine].mean():6.3f}" for name in ("hit@1", "hit@5", "MRR"))
        print(f"  {kind:12s} {mine.sum():3d} {shown}")


def show_cases(cases: Sequence[Case], found: Outcomes) -> None:
    """Print the rank of each case under the first setting."""
    print()
    for column, case in enumerate(cases):
        rank, worst = found.accepted[0, column], found.rejected[0, column]
        outcome = f"rank {rank:g}" if np.isfinite(rank) else "no accepted answer"
        outcome += f", a rejected one at {worst:g}" if np.isfinite(worst) else ""
        print(f"  {case.name:14s} {case.kind:10s} {case.query:40s} {outcome}")


def differences(held_out: Mapping[str, Array], base: Mapping[str, Array]) -> dict[str, Array]:
    """Return by how much held-out measures differ from those of the shipped weights, case by case."""
    return {name: values - base[name] for name, values in held_out.items()}


def numbers(text: str) -> tuple[float, ...]:
    """Return numbers of 0 or more, separated by commas."""
    try:
        found = tuple(dict.fromkeys(float(part) for part in text.split(",")))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text}: give numbers such as 0.1,0.25,1") from None
    if not all(0 <= value < np.inf for value in found):
        raise argparse.ArgumentTypeError(f"{text}: a weight is a number of 0 or more")
    return found


def report(args: argparse.Namespace, cases: Sequence[Case]) -> int:
    """Print all figures; return the exit status."""
    palette, seed = shipped(), args.seed
    walk, trouble = KIND_WEIGHTS[WALK], ranking.WEIGHTS["replace"][TROUBLE]
    now = Setting(f"walk {walk:g}, trouble {trouble:g}", walk, ranking.WEIGHTS)
    settings = grid(args.walk, args.trouble)
    free = draws(args.draws, args.walk, seed)
    outcomes = ranks(cases, palette, [now, *settings, *free])
    found = measures(cases, outcomes)
    base = {name: values[0] for name, values in found.values.items()}

    counted = sum(case.kind != "negative" for case in cases)
    with_rejected = sum(bool(case.rejected) for case in cases)
    print(
        f"{len(cases)} cases: {counted} that ask for an answer, {len(cases) - counted} only for what is "
        f"rejected; {with_rejected} name rejected materials"
    )
    show(f"shipped weights ({now.label})", base, seed)
    show_kinds(cases, base)
    if args.list:
        show_cases(cases, outcomes)

    end = 1 + len(settings)
    on_grid = Measures({name: values[1:end] for name, values in found.values.items()})
    validated = cross_validate(on_grid, args.folds, args.repeats, seed)
    runs = args.folds * args.repeats
    print(f"\ngrid: walk {_list(args.walk)}; trouble {_list(args.trouble)}")
    show(
        f"held out, {args.folds} folds, {args.repeats} repeats, choice from the grid",
        validated.held_out,
        seed,
    )
    show("  less the shipped weights, case by case", differences(validated.held_out, base), seed)
    print("\n  chosen by the folds")
    for place, times in validated.chosen.most_common():
        print(f"  {times:4d} of {runs}  {settings[place].label}")
    if free:
        searched = Measures({name: values[end:] for name, values in found.values.items()})
        by_chance = cross_validate(searched, args.folds, args.repeats, seed)
        show(f"held out, free search over {len(free)} random weights of all terms", by_chance.held_out, seed)
        by_grid = f"(the grid's choice: {validated.training:.3f})"
        print(f"  MRR in training          {by_chance.training:.3f} {by_grid}")

    # of settings chosen equally often the one that is better on all cases, then the first of the grid
    whole = np.round(on_grid.goodness(), 9)
    best = max(sorted(validated.chosen), key=lambda place: (validated.chosen[place], whole[place]))
    on_all = settings[int(np.argmax(whole))]
    same = (settings[best].walk, settings[best].weights["replace"][TROUBLE]) == (walk, trouble)
    now_good = float(found.goodness()[0])
    print(f"\n{'':28s} {'shipped':>8s} {'chosen':>8s}")
    print(f"{'resemblance in a walk':28s} {walk:8g} {settings[best].walk:8g}")
    print(f"{'shared trouble in replace':28s} {trouble:8g} {settings[best].weights['replace'][TROUBLE]:8g}")
    print(f"{'MRR less rejected, all cases':28s} {now_good:8.3f} {whole[best]:8.3f}")
    print(f"best on all cases: {on_all.label} ({whole.max():.3f})")
    print(
        "Cross-validation chooses the shipped numbers."
        if same
        else "Cross-validation chooses other numbers than the shipped ones. Whether that is more than "
        "chance is in the differences above."
    )
    return 0 if same else 1


def _list(values: Iterable[float]) -> str:
    return " ".join(f"{value:g}" for value in values)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run from the command line."""
    raw = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(prog="fit_weights", description=__doc__, formatter_class=raw)
    parser.add_argument("cases", type=Path, help="substitution cases, one JSON object per line")
    parser.add_argument("--folds", type=int, default=5)
    parser.add_argument("--repeats", type=int, default=20)
    parser.add_argument(
        "--draws", type=int, default=200, help="random weights of the free search, 0 for none"
    )
    parser.add_argument("--seed", type=int, default=1, help="of folds, draws and intervals")
    parser.add_argument("--walk", type=numbers, default=WALKS, help="grid of a resemblance in a walk")
    parser.add_argument("--trouble", type=numbers, default=TROUBLES, help="grid of a shared trouble")
    parser.add_argument("--list", action="store_true", help="print the rank of every case")
    args = parser.parse_args(arguments)
    if not args.cases.is_file():
        parser.error(f"{args.cases}: there is no such file")
    if args.repeats < 1 or args.draws < 0:
        parser.error("--repeats is 1 or more, --draws 0 or more")
    try:
        cases = read_cases(args.cases)
    except BadCases as error:
        parser.error(str(error))
    if not 2 <= args.folds <= len(cases):
        parser.error(f"--folds {args.folds}: with {len(cases)} cases it is 2 to {len(cases)}")
    return report(args, cases)


if __name__ == "__main__":
    sys.exit(main())
