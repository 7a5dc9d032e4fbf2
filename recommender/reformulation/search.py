"""A whole formula inside limits, label, price and shelf with the least change to how it smells over time.

Candidates are those of `replace` and `extend`. A linear model proposes which lines change and which materials
come in (`selection`), the doses of each proposal are then improved in the exact model by coordinate steps.
"""

import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from recommender.chemistry import odour_strength
from recommender.evaporation import Array
from recommender.formulas import formula as formulas
from recommender.formulas.drydown import FormulaDrydown, drydown_of
from recommender.formulas.usual import checked_share
from recommender.model import Formula, Material
from recommender.palette import Palette
from recommender.progress import StageProgress
from recommender.reformulation.amounts import Amounts, Item, items_of, parts_beside, with_most
from recommender.reformulation.answer import Reformulation
from recommender.reformulation.candidates import pool
from recommender.reformulation.clashes import clashes
from recommender.reformulation.explanation import course_beside, explained
from recommender.reformulation.request import ReformulationRequest, check, lines_kept, without_of
from recommender.reformulation.rules import LABEL, LIMIT, PRICE, Cause, Rule, barred, rules, why_out
from recommender.reformulation.selection import Levels, Selection, Support, thinned
from recommender.regulation import PHOTOTOXIC

COUNTS = 0.02
"""A line is in the way of a limit where it makes at least this share of what counts against it."""
DEAR = 0.08
"""A line is in the way of a price where it makes this share of it."""
MOST_LOOKED_AT = 6
"""Stand-ins are looked for of so many lines at most."""
CANDIDATE_DOSES = (0.02, 0.08, 0.3, 1.0)
LINE_DOSES = (0.0, 0.1, 0.3, 0.6)
"""Doses in the linear model, as shares of what a candidate may be, and of what a line is."""
SHORT_LIST, MODELLED = 36, 18
"""So many candidates are tried in the exact model, and so many of these in the linear one."""
MORE_CHANGES, MORE_MODELLED = 3, 1
"""Up to so many changes more than the least are tried, and so many in the linear model."""
NEAR_BEST = 0.02
"""Within this of the best, fewer changes come first."""
GROWN, ROUNDS, POLISHED = 2, 6, 2
"""So many answers are tried with one thing done otherwise, so often; so many of these are improved."""
EXCHANGED = 20
"""So many candidates, those best alone, are tried in the place of another one."""
LINE_MOVES = (0.0, 0.5, 0.75, 1.0, 1.4, 2.0)
"""To so many times of what it is a line is lowered or raised then."""
TRACE = 0.001
"""A line is taken out where less than this share of it is left: nobody would weigh that."""
IDLE = 0.003
"""A change that wins less than this is taken back."""
STEPS = (2.0, 1.4, 1.15, 1.04)
"""Factors by which doses are moved, one size after the other."""


class _Ended(Exception):
    """The time is over, or the search was stopped."""


@dataclass
class _Clock:
    """Says how far the search is, and ends it."""

    progress: StageProgress | None
    until: float
    finished: bool = True

    def at(self, what: str, share: float) -> None:
        """Report; raises `_Ended` where the search is over."""
        if time.monotonic() > self.until or (self.progress is not None and not self.progress(what, share)):
            self.finished = False
            raise _Ended


def reformulate(
    formula: Formula, request: ReformulationRequest, palette: Palette, progress: StageProgress | None = None
) -> Reformulation:
    """Return how a formula is brought to what is asked for with the least change to its smell.

    Parameters
    ----------
    formula : Formula
    request : ReformulationRequest
    palette : Palette
    progress : callable, optional
        Is given what is being done and how much of it is done, 0-1; the search ends with what it has where it
        returns false.

    Raises
    ------
    UnknownMaterial, UnknownFacet, WrongCas, BadValue
    """
    check(request)
    kept = lines_kept(request, formula, palette)
    without = without_of(request, palette)
    formula = formulas.with_theme(formulas.opened(formula), request.theme, palette.catalogue)
    table = drydown_of(formula, palette, request.market, checked_share(request.share_percent))
    return _Search(table, request, kept, without, progress).result()


class _Search:
    """One reformulation, from what is in the way to the answers."""

    def __init__(
        self,
        table: FormulaDrydown,
        request: ReformulationRequest,
        kept: frozenset[str],
        without: Mapping[str, Material],
        progress: StageProgress | None,
    ) -> None:
        self.table, self.request, self.kept, self.without = table, request, kept, without
        self.catalogue = table.palette.catalogue
        self.clock = _Clock(progress, time.monotonic() + request.seconds)
        whole = sum(line.parts for line in table.formula.lines)
        self.lines, _ = with_most(items_of(table.formula), table, whole)
        present = [amount.material for amount in table.concentrate]
        self.rules = rules(present, request, self.catalogue, present)
        found = {m.slug: why_out(m, request, without, self.catalogue) for m in present}
        self.out = {slug: cause for slug, cause in found.items() if cause}
        self.own = Amounts(table, tuple(self.lines), tuple(self.rules), kept, frozenset(self.out))
        self.causes = {slug: [cause] for slug, cause in self.out.items()}
        self._find_causes()

    def _find_causes(self) -> None:
        """Find which lines count against a rule that is exceeded, those that count most first."""
        own = self.own
        self.weight: dict[str, float] = {
            slug: float(own.before[own.places[slug]] / own.whole) if slug in own.places else 0.0
            for slug in self.out
        }
        left = own.before.copy()
        left[[own.places[slug] for slug in self.out if slug in own.places]] = 0.0
        for rule, excess in zip(self.rules, own.excess(left), strict=True):
            if excess <= 1e-9:
                continue
            row = own.row(rule, relaxed=0.0) * left
            least = DEAR if rule.kind == PRICE else COUNTS
            for place in np.argsort(-row, kind="stable").tolist():
                item = self.lines[place]
                share = float(row[place] / row.sum())
                dear = rule.kind != PRICE or row[place] > left[place] * item.total
                if share >= least and dear and item.material.slug not in self.out:
                    self.causes.setdefault(item.material.slug, []).append(_cause(rule, float(excess), self))
                    self.weight[item.material.slug] = max(
                        share * float(excess), self.weight.get(item.material.slug, 0.0)
                    )

    @property
    def in_the_way(self) -> list[Material]:
        """The lines that have to change, those that weigh most first."""
        order = sorted(self.causes, key=lambda slug: (-self.weight.get(slug, 0.0), slug))
        return [self.catalogue.by_slug(slug) for slug in order]

    def result(self) -> Reformulation:
        """Return what was found."""
        table, request = self.table, self.request
        causes = tuple(dict.fromkeys(cause for found in self.causes.values() for cause in found))
        start = Reformulation(table.formula, request, table.theme.facets, causes, (), notes=self._notes())
        if not causes and self.own.allowed(self.own.before):
            same = explained(self.own, [self.own.before], request, self.causes)
            return replace(start, answers=same, course=course_beside(self.own, self.own.before))
        if impossible := self.kept & self.out.keys():
            ways = {slug: self.out[slug] for slug in sorted(impossible)}
            return replace(start, clashes=tuple(clashes(self.own, request, ways)))
        obvious = self._obvious(self.own)
        kept_back = None if obvious is None else self.own.preserved(obvious)
        model, found = self.own, [] if obvious is None else [obvious]
        try:
            self.clock.at("looking for candidates", 0.0)
            model = self._with_candidates(obvious)
            found = [self._start(model, obvious)] if found else []
            model, found = self._found(model, obvious)
        except _Ended:
            pass
        best = self._best(model, found)
        if not best:
            clash = tuple(clashes(model, request, self.out))
            return replace(start, clashes=clash, obvious=kept_back, finished=self.clock.finished)
        answers = explained(model, best, request, self.causes)
        return replace(
            start,
            answers=answers,
            obvious=kept_back,
            finished=self.clock.finished,
            course=course_beside(model, best[0]),
        )

    def _notes(self) -> tuple[str, ...]:
        notes = [*self.table.formula.notes]
        if self.request.dosage_percent is None:
            notes.append("Without a dosage no limit bounds an amount; only prohibitions count.")
        return tuple(dict.fromkeys(notes))

    def _obvious(self, model: Amounts) -> Array | None:
        """Return the lines only cut to what is allowed or taken out, None where that does not do.

        As few lines as will do are cut, those that count most first.
        """
        amounts = model.before.copy()
        for slug in self.out:
            if slug in model.places:
                if slug in self.kept:
                    return None
                amounts[model.places[slug]] = 0.0
        free = [i for i, item in enumerate(model.items) if item.material.slug not in self.kept]
        ways = [model.places[m.slug] for m in self.in_the_way if m.slug in model.places]
        ways = [place for place in ways if place in free]
        for movable in (*(ways[: n + 1] for n in range(len(ways))), free):
            found = model.repaired(amounts, movable)
            if found is not None and model.present(found) is not None:
                return found
        return None

    def _with_candidates(self, obvious: Array | None) -> Amounts:
        """Return the model with everything that may be added."""
        table, request = self.table, self.request
        own = self.own
        cut = own.before.copy()
        for material in self.in_the_way:
            if material.slug in own.places and material.slug not in self.kept:
                cut[own.places[material.slug]] = 0.0
        cut = cut if obvious is None else obvious
        after = own.present(cut)
        lost = np.zeros(len(own.smell.counts)) if after is None else own.smell.lost(after)
        ways = [m for m in self.in_the_way if m.slug in own.places and m.kind != "solvent"][:MOST_LOOKED_AT]
        rest = table if after is None else drydown_of(
            own.formula(cut), table.palette, request.market, table.share_percent
        )  # fmt: skip
        offered = pool(ways, lost, table, rest, request.offering)
        offered = [m for m in offered if why_out(m, request, self.without, self.catalogue) is None]
        offered = [m for m in offered if barred(m, self.catalogue, replace(request.use, on="")) is None]
        if request.max_price is not None and request.shelf is not None:
            offered = [m for m in offered if m.slug in request.shelf.prices]
        new, usual = with_most([Item(m, 0.0) for m in offered], rest, own.whole)
        present = [amount.material for amount in table.concentrate]
        bounds = rules([*present, *offered], request, self.catalogue)
        fitting = []
        for item in new:
            most = min((r.most(item.material.slug) for r in bounds if r.kind != PRICE), default=1.0)
            most = min(item.most, parts_beside(own.whole, most))
            least = table.usual(item.material)
            if most > 0 and (least is None or most >= 0.1 * least.low / 1000.0 * own.whole):
                fitting.append(replace(item, most=most))
        names = {item.material.name for item in fitting}
        return Amounts(
            table,
            (*self.lines, *fitting),
            (*bounds, *(rule for rule in usual if rule.name in names)),
            self.kept,
            frozenset(self.out),
        )

    # doses and shares in the linear model

    def _movable(self, model: Amounts) -> list[int]:
        """Return the lines that may change."""
        return [
            place
            for place, item in enumerate(model.items)
            if item.parts > 0 and item.material.slug not in self.kept and item.material.kind != "solvent"
        ]

    def _start(self, model: Amounts, obvious: Array | None) -> Array:
        """Return the amounts to which candidates are added: the lines cut, or taken out where that fails."""
        if obvious is not None:
            return np.concatenate([obvious, np.zeros(len(model.items) - len(obvious))])
        amounts = model.before.copy()
        for slug in self.causes:
            if slug in model.places and slug not in self.kept:
                amounts[model.places[slug]] = 0.0
        return model.filled(amounts)

    def _cubes(self, model: Amounts, amounts: Array) -> Array:
        """Return the cubes of the intensities of the facets, (times, facets), 0 where nothing smells."""
        present = model.present(model.filled(amounts))
        if present is None:
            return np.zeros_like(model.smell.present)
        return _cubes_of(present)

    def _levels(self, model: Amounts, start: Array) -> tuple[Amounts, Levels, list[tuple[float, int, float]]]:
        """Return the short list of candidates with the cubes of all, and each candidate's best alone.

        That is what is preserved with it, its place and its dose, the best first.
        """
        base = self._cubes(model, start)
        singles: list[tuple[float, int, float]] = []
        own: dict[int, tuple[Array, Array]] = {}
        for place, item in enumerate(model.items):
            if item.parts > 0:
                continue
            if place % 16 == 0:
                self.clock.at("trying each candidate", 0.1 + 0.4 * place / len(model.items))
            doses = item.most * np.array(CANDIDATE_DOSES)
            cubes, values = [], []
            for dose in doses.tolist():
                amounts = start.copy()
                amounts[place] = dose
                present = model.present(model.filled(amounts))
                if present is None:
                    present = np.zeros_like(model.smell.present)
                cubes.append(np.maximum(_cubes_of(present) - base, 0.0))
                values.append(model.smell.preserved(present))
            own[place] = doses, np.array(cubes)
            best = int(np.argmax(values))
            singles.append((values[best], place, float(doses[best])))
        singles.sort(key=lambda one: (-one[0], one[1]))
        chosen = sorted(self._short_list(model, start, singles, own, SHORT_LIST))
        modelled = set(self._short_list(model, start, singles, own, MODELLED))
        places = [i for i, item in enumerate(model.items) if item.parts > 0] + chosen
        model = replace(model, items=tuple(model.items[i] for i in places))
        renamed = {old: new for new, old in enumerate(places)}
        singles = [(value, renamed[i], dose) for value, i, dose in singles if i in renamed]
        all_doses: list[Array] = []
        all_cubes: list[Array] = []
        movable, full = set(self._movable(model)), self._cubes(model, model.before)
        start = start[places]
        rest = full.copy()
        for place, item in enumerate(model.items):
            if item.parts == 0 and places[place] in modelled:
                found = own[places[place]]
            elif item.parts == 0 or place == model.filler:
                found = np.zeros(0), np.zeros((0, *rest.shape))
            else:
                found = self._of_line(model, place, full, movable)
                rest -= self._alone(model, place, full)
            all_doses.append(found[0])
            all_cubes.append(found[1])
        return model, Levels(tuple(all_doses), tuple(all_cubes), np.maximum(rest, 0.0)), singles

    def _alone(self, model: Amounts, place: int, full: Array) -> Array:
        """Return what a line adds to the cubes as it is."""
        amounts = model.before.copy()
        amounts[place] = 0.0
        return np.maximum(full - self._cubes(model, amounts), 0.0)

    def _of_line(self, model: Amounts, place: int, full: Array, movable: set[int]) -> tuple[Array, Array]:
        """Return the doses that a line may have, and what it adds to the cubes at each."""
        item = model.items[place]
        if item.material.slug in model.out and item.material.slug not in self.kept:
            return np.zeros(1), np.zeros((1, *full.shape))
        alone = self._alone(model, place, full)
        if place not in movable:
            return np.array([item.parts]), alone[None]
        least = full - alone
        doses = [share * item.parts for share in LINE_DOSES] + [item.parts]
        if item.most > 1.2 * item.parts:
            doses.append(item.most)
        cubes = []
        for dose in doses:
            if dose in (0.0, item.parts):
                cubes.append(np.zeros_like(full) if dose == 0.0 else alone)
                continue
            amounts = model.before.copy()
            amounts[place] = dose
            cubes.append(np.maximum(self._cubes(model, amounts) - least, 0.0))
        return np.array(doses), np.array(cubes)

    def _short_list(
        self,
        model: Amounts,
        start: Array,
        singles: Sequence[tuple[float, int, float]],
        own: Mapping[int, tuple[Array, Array]],
        count: int,
    ) -> list[int]:
        """Return so many candidates: those that are best alone, and the best of each facet that is lost."""
        chosen = dict.fromkeys(place for _, place, _ in singles[: 2 * count // 3])
        after = model.present(start)
        if after is not None:
            for facet in np.argsort(-model.smell.lost(after), kind="stable")[:4].tolist():
                shown = {
                    place: float(cubes[:, :, facet].max(axis=0).sum()) for place, (_, cubes) in own.items()
                }
                best = sorted(singles, key=lambda one: -shown[one[1]])[:4]
                chosen.update(dict.fromkeys(place for _, place, _ in best if shown[place] > 0))
        chosen.update(dict.fromkeys(place for _, place, _ in singles[:count]))
        return list(chosen)[:count]

    # proposals, and their doses in the exact model

    def _found(self, model: Amounts, obvious: Array | None) -> tuple[Amounts, list[Array]]:
        """Return the model with the short list of candidates, and amounts that keep to everything."""
        start = self._start(model, obvious)
        wide = model
        model, levels, singles = self._levels(model, start)
        places = [wide.places[item.material.slug] for item in model.items]
        start = start[places]
        found: list[Array] = []
        selection = Selection(model, levels, model.smell.present[thinned()[0]])
        forced = sum(1 for slug in self.out if slug in model.places)
        least = max(1, forced)
        most = min(self.request.changes or 99, least + MORE_MODELLED)
        seeds: list[Array] = []
        if obvious is not None:
            seeds.append(start)
        seeds += self._swaps(model, start, singles)
        refused: list[Support] = []
        try:
            for count in range(least, most + 1):
                share = (count - least) / (MORE_MODELLED + 1)
                self.clock.at("choosing lines and candidates", 0.5 + 0.2 * share)
                support = selection.solved(count, refused)
                if support is not None:
                    refused.append(support)
                    seeds.append(support.amounts)
            for number, seed in enumerate(seeds):
                self.clock.at("improving the doses", 0.7 + 0.3 * number / len(seeds))
                better = self._polished(model, seed)
                if better is not None:
                    found.append(better)
            found += self._grown(model, found, singles)
        except _Ended:
            if not found and obvious is not None:
                found.append(start)
        return model, found

    def _swaps(
        self, model: Amounts, start: Array, singles: Sequence[tuple[float, int, float]]
    ) -> list[Array]:
        """Return the best candidates added one by one, beside what is left of a line or in its place."""
        seeds = []
        ways = [model.places[slug] for slug in self.causes if slug in model.places and slug not in self.kept]
        for _, place, dose in singles[:3]:
            beside = start.copy()
            beside[place] = dose
            seeds.append(beside)
            if len(ways) == 1 and start[ways[0]] > 0:
                instead = beside.copy()
                instead[ways[0]] = 0.0
                seeds.append(instead)
        return seeds

    def _grown(
        self, model: Amounts, found: Sequence[Array], singles: Sequence[tuple[float, int, float]]
    ) -> list[Array]:
        """Return the best of what was found with one thing after the other otherwise, while that wins."""
        doses = {place: dose for _, place, dose in singles}
        most = changed(model, max(found, key=model.preserved)) + MORE_CHANGES if found else 0
        most = min(most, self.request.changes or most)
        grown: list[Array] = []
        for best in self._best_of_each_count(model, found):
            value = model.preserved(best)
            for _ in range(ROUNDS):
                self.clock.at("trying other changes", 0.9)
                steps = self._neighbours(model, best, doses)
                tried = [step for step in steps if changed(model, step) <= most]
                scored = sorted(((model.preserved(step), -n) for n, step in enumerate(tried)), reverse=True)
                polished = [self._polished(model, tried[-n]) for _, n in scored[:POLISHED]]
                better = [(model.preserved(step), step) for step in polished if step is not None]
                grown += [step for _, step in better]
                top = max(better, key=lambda one: one[0], default=None)
                if top is None or top[0] < value + IDLE:
                    break
                value, best = top
        return grown

    def _best_of_each_count(self, model: Amounts, found: Sequence[Array]) -> list[Array]:
        """Return the best with each number of changes, the best of them first, `GROWN` at most."""
        best: dict[int, tuple[float, Array]] = {}
        for amounts in found:
            count, value = changed(model, amounts), model.preserved(amounts)
            if count not in best or value > best[count][0]:
                best[count] = value, amounts
        order = sorted(best, key=lambda count: (-best[count][0], count))
        return [best[count][1] for count in order[:GROWN]]

    def _neighbours(self, model: Amounts, amounts: Array, doses: Mapping[int, float]) -> Iterator[Array]:
        """Yield amounts with one thing done otherwise that keep to every rule.

        A candidate more, or in the place of another; a line lowered, raised or as it was.
        """
        new = [place for place in doses if amounts[place] == 0]
        there = [place for place in doses if amounts[place] > 0]
        for number, place in enumerate(new):
            others = there if number < EXCHANGED else []
            for share, instead in ((1.0, None), (1.0 / 3.0, None), *((1.0, one) for one in others)):
                step = amounts.copy()
                step[place] = share * doses[place]
                if instead is not None:
                    step[instead] = 0.0
                yield from self._fitted(model, step, place)
        for place in self._movable(model):
            item = model.items[place]
            if item.material.slug in model.out:
                continue
            for times in LINE_MOVES:
                step = amounts.copy()
                step[place] = min(times * item.parts, item.most)
                if step[place] != amounts[place]:
                    yield from self._fitted(model, step, place)

    def _fitted(self, model: Amounts, amounts: Array, place: int) -> Iterator[Array]:
        """Yield amounts, one of them lowered where a rule asks for it; nothing where that does not do."""
        found = model.filled(amounts)
        if model.allowed(found):
            yield found
        elif (lower := model.repaired(found, [place])) is not None and lower[place] > 0:
            yield lower

    def _polished(self, model: Amounts, seed: Array) -> Array | None:
        """Return the doses improved by coordinate steps, None where the seed cannot be made to fit."""
        movable = [
            place
            for place, item in enumerate(model.items)
            if item.material.slug not in self.kept
            and item.material.kind != "solvent"
            and seed[place] > 0
            and seed[place] != item.parts
        ]
        ways = [
            model.places[slug]
            for slug in self.causes
            if slug in model.places and slug not in self.kept and seed[model.places[slug]] > 0
        ]
        movable = list(dict.fromkeys([*movable, *ways]))
        seed = seed.copy()
        for slug in self.out:
            if slug in model.places:
                seed[model.places[slug]] = 0.0
        amounts = model.repaired(seed, movable)
        if amounts is None:
            return None
        amounts = self._climbed(model, amounts, movable)
        amounts = self._pruned(model, amounts, movable)
        fits = self.request.changes is None or changed(model, amounts) <= self.request.changes
        return tidied(model, amounts, movable) if fits and model.present(amounts) is not None else None

    def _climbed(self, model: Amounts, amounts: Array, movable: Sequence[int]) -> Array:
        best = model.preserved(amounts)
        for factor in STEPS:
            gained = True
            rounds = 0
            while gained and rounds < 4:
                gained, rounds = False, rounds + 1
                for place in movable:
                    for times in (factor, 1.0 / factor):
                        step = self._moved(model, amounts, place, times, movable)
                        if step is None:
                            continue
                        value = model.preserved(step)
                        if value > best + 2e-5:
                            amounts, best, gained = step, value, True
        return amounts

    def _moved(
        self, model: Amounts, amounts: Array, place: int, times: float, movable: Sequence[int]
    ) -> Array | None:
        """Return amounts with one dose moved, the others lowered where a rule asks for it."""
        step = amounts.copy()
        step[place] = min(amounts[place] * times, model.items[place].most)
        if step[place] == amounts[place]:
            return None
        step = model.filled(step)
        if model.allowed(step):
            return step
        others = [i for i in movable if i != place]
        return model.repaired(step, others) if others else None

    def _pruned(self, model: Amounts, amounts: Array, movable: Sequence[int]) -> Array:
        """Return amounts without the changes that win next to nothing."""
        best = model.preserved(amounts)
        for place in sorted(movable, key=lambda i: amounts[i]):
            item = model.items[place]
            for parts in dict.fromkeys((item.parts, 0.0)):
                if amounts[place] in (item.parts, 0.0):
                    break
                back = amounts.copy()
                back[place] = parts
                back = model.filled(back)
                if model.allowed(back) and (value := model.preserved(back)) >= best - IDLE:
                    amounts, best = back, max(value, best - IDLE)
        return amounts

    def _best(self, model: Amounts, found: Iterable[Array]) -> list[Array]:
        """Return the answers to show, fewer changes first where they preserve about as much."""
        unlike: dict[tuple[int, ...], tuple[float, int, Array]] = {}
        for amounts in found:
            if not model.allowed(amounts):
                continue
            key = tuple(
                place
                for place, item in enumerate(model.items)
                if (amounts[place] > 0) != (item.parts > 0)
                or (place != model.filler and abs(amounts[place] - item.parts) > 1e-6 * item.parts)
            )
            value = model.preserved(amounts)
            if key not in unlike or value > unlike[key][0]:
                unlike[key] = value, changed(model, amounts), amounts
        if not unlike:
            return []
        top = max(value for value, *_ in unlike.values())
        ranked = sorted(
            unlike.items(),
            key=lambda one: (
                one[1][0] < top - NEAR_BEST,
                one[1][1] if one[1][0] >= top - NEAR_BEST else 0,
                -round(one[1][0], 6),
                one[0],
            ),
        )
        shown: list[tuple[frozenset[int], Array]] = []
        for key, (_, _, amounts) in ranked:
            added = frozenset(place for place in key if model.items[place].parts == 0)
            if all(_apart(added, other) for other, _ in shown):
                shown.append((added, amounts))
        return [amounts for _, amounts in shown][: self.request.top]


def _apart(one: frozenset[int], other: frozenset[int]) -> bool:
    """Return whether two answers differ in what they add: each has something that the other has not."""
    return bool(one - other) if len(one) >= len(other) else bool(other - one) and bool(one - other)


def _cause(rule: Rule, excess: float, search: "_Search") -> Cause:
    """Return a rule that is exceeded as a cause."""
    before = rule.bound * (1.0 + excess)
    if rule.name == PHOTOTOXIC:
        text = f"{rule.name} {before:.3g} times what they may be"
    elif rule.kind == LIMIT:
        text = f"{rule.name} {before:.3g} % of the product, the limit is {rule.bound:.3g} %"
    elif rule.kind == LABEL:
        text = f"{rule.name} {before:.3g} % of the product, named on the label from {rule.bound:.3g} %"
    else:
        text = f"{before:.3g} for a gram of the concentrate, at most {rule.bound:.3g}"
    return Cause(rule.kind, rule.name, text, before, rule.bound)


def changed(model: Amounts, amounts: Array) -> int:
    """Return the number of changes; a line that goes and a material that comes in are one."""
    gone = moved = added = 0
    for place, item in enumerate(model.items):
        if item.material.kind == "solvent" and place == model.filler:
            continue
        if item.parts == 0:
            added += bool(amounts[place] > 0)
        elif amounts[place] == 0:
            gone += 1
        else:
            moved += bool(abs(amounts[place] / item.parts - 1.0) > 1e-6)
    return moved + max(gone, added)


def _cubes_of(present: Array) -> Array:
    """Return the cubes of intensities from their soft presence S / (S + 6)."""
    level = odour_strength.CLEAR * present / np.maximum(1.0 - present, 1e-9)
    return np.asarray(level**3, float)


def tidied(model: Amounts, amounts: Array, movable: Sequence[int]) -> Array:
    """Return doses with three digits, those that a rule bounds rounded down; a trace of a line goes."""
    found = amounts.copy()
    for place in movable:
        if found[place] < TRACE * model.items[place].parts:
            found[place] = 0.0
        if 0 < found[place] != model.items[place].parts:
            found[place] = min(float(f"{found[place]:.3g}"), model.items[place].most)
    found = model.filled(found)
    if model.allowed(found):
        return found
    for place in movable:
        if 0 < amounts[place] != model.items[place].parts:
            step = 10.0 ** (np.floor(np.log10(amounts[place])) - 2)
            found[place] = float(f"{np.floor(amounts[place] / step * (1 - 1e-12)) * step:.3g}")
    found = model.filled(found)
    return found if model.allowed(found) else amounts
