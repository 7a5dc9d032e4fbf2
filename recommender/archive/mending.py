"""What mends each formula after a ban, a limit, a price or a missing material.

What is the same for all formulas is worked out once, the `MendingPlan`: who is in the way, what may stand
for each, and how much of it. A formula is then simulated with a few of these at a few doses; what preserves
most of its smell is the answer. Whoever asks about one formula alone has the same code answer: `mend`.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow
import pyarrow.compute as pc

from recommender.archive.affected import Bringers
from recommender.archive.execution import run
from recommender.archive.runs import Failure
from recommender.archive.store import FormulaStore, StoredFormula, fingerprint
from recommender.chemistry import odour_strength
from recommender.errors import BadTable, BadValue, UnknownMaterial
from recommender.evaporation import Array
from recommender.evidence.sheets import Row, decimal, read_sheet
from recommender.formulas import formula as formulas
from recommender.formulas.drydown import FormulaDrydown
from recommender.formulas.simulation import Candidates
from recommender.model import Formula, Material
from recommender.palette import Palette
from recommender.progress import StageProgress
from recommender.reformulation import ReformulationRequest, reformulate
from recommender.reformulation.amounts import Amounts, Item, items_of, with_most
from recommender.reformulation.answer import LOWERED, SWAPPED, TAKEN_OUT
from recommender.reformulation.candidates import stand_ins
from recommender.reformulation.preserved import TIMES
from recommender.reformulation.rules import LIMIT, PRICE, Rule
from recommender.reformulation.search import IDLE, tidied
from recommender.reformulation.selection import thinned
from recommender.regulation import checked_dosage
from recommender.suggest.request import Request
from recommender.suggest.substitute import replacement_factors

BAN, WITHOUT = "ban", "without"
NO_MEND = "no mend found"
"""What becomes of a line in the way where nothing is left that smells."""
OFFERED = 10
"""So many stand-ins are simulated in a formula, the best that are not in it."""
DOSES = (0.3, 1.0)
"""Doses at which each is simulated, as shares of what is as strong as what goes."""
LOOKED_AT = 2
"""So many of these, each at its best dose, are then simulated as a drydown does."""
FINER = 1.6
"""The dose of the best is moved by this factor, up and down."""
STEPS = 12
"""So many hours stand for all while stand-ins are compared."""
CHUNK = 16
"""Formulas given to a worker at once."""
DIGITS = 4
"""Decimals of what is preserved."""


@dataclass(frozen=True)
class MendingRequest:
    """What has happened; one of `ban`, `without`, `limit` and `price` is given.

    `ban` names a material that is prohibited from now on, what naturals bring of it too; `without` one whose
    bottle is not to be had; `limit` one with the most that the finished product may contain, through naturals
    too, "coumarin 0.1" [%]: of the concentrate itself, unless `dosage_percent` is given. `price` is a sheet
    with the columns material, price and, where it has changed, before: no formula is to cost more than it
    did. Only what has a price there stands in then. `market` is whose prohibitions bound what may stand in.
    `thorough` searches each formula as `reformulate` does, which takes seconds for each.
    """

    ban: str = ""
    without: str = ""
    limit: str = ""
    price: Path | None = None
    dosage_percent: float = 100.0
    market: str = "any"
    thorough: bool = False


@dataclass(frozen=True, slots=True)
class StandIn:
    """A material, by key, and how many parts of it are as strong as a part of what it stands for."""

    slug: str
    factor: float


@dataclass(frozen=True)
class MendingPlan:
    """What is in the way, and what may stand for it, for every formula alike.

    `offenders` maps the key of each material in the way to its stand-ins, the best first; those of `out` may
    not be in a formula at all. `shares` is what counts of a gram of each material against the bound: of a
    limit [mass fraction], with its `percent` at `dosage_percent`, or of a price, with `before` the prices
    as they were. `names` are those of the materials that may not be put in, or may only in part.
    """

    kind: str
    offenders: Mapping[str, tuple[StandIn, ...]]
    out: frozenset[str] = frozenset()
    shares: Mapping[str, float] = field(default_factory=dict)
    before: Mapping[str, float] = field(default_factory=dict)
    name: str = ""
    percent: float = 0.0
    dosage_percent: float = 100.0
    market: str = "any"
    thorough: bool = False

    def rules(self, items: Sequence[Item]) -> tuple[Rule, ...]:
        """Return what bounds a formula of some lines."""
        if self.kind == LIMIT:
            return (Rule(LIMIT, self.name, self.percent, self.dosage_percent, self.shares),)
        if self.kind == PRICE:
            cost = sum(item.parts * self.before.get(item.material.slug, 0.0) for item in items)
            whole = sum(item.parts * item.total for item in items)
            return (Rule(PRICE, "", cost / whole, 1.0, self.shares),) if cost > 0 else ()
        return ()


@dataclass(frozen=True, slots=True)
class MendedLine:
    """What becomes of a line: `change`, from one material to another, None where there is none.

    Parts are neat, on the scale of the formula: of the line as it was, and of what stands there then.
    """

    change: str
    line: Material | None
    to: Material | None
    parts_before: float
    parts: float


@dataclass(frozen=True)
class MendedFormula:
    """A formula after its mend: the lines that change, and how much of the smell is preserved, 0-1.

    `formula` is None where no mend was found.
    """

    formula: Formula | None
    lines: tuple[MendedLine, ...]
    preserved: float | None


# the plan


def plan_of(request: MendingRequest, palette: Palette) -> MendingPlan:
    """Return what is worked out once for all formulas.

    Raises
    ------
    BadValue
        Not one of `ban`, `without`, `limit` and `price` is given, or one that cannot be used.
    UnknownMaterial, WrongCas, BadTable
    """
    given = [name for name in (BAN, WITHOUT, "limit", "price") if getattr(request, name)]
    if len(given) != 1:
        wanted = "give one of {ban}, {without}, {limit} and {price}"
        raise BadValue(given[1] if given else BAN, "", wanted)
    if request.price and request.thorough:
        wanted = "`reformulate` needs the price of every line; leave it out with {price}"
        raise BadValue("thorough", "", wanted)
    common = MendingPlan("", {}, market=request.market, thorough=request.thorough)
    if request.price:
        return _with_stand_ins(_of_prices(request.price, common, palette), palette)
    catalogue = palette.catalogue
    if request.limit:
        name, percent = _material_and_percent(request.limit)
        material = catalogue.find(name)
        dosage_percent = checked_dosage(request.dosage_percent)
        shares = Bringers.of(material, catalogue).shares
        plan = replace(
            common,
            kind=LIMIT,
            offenders=dict.fromkeys(shares, ()),
            shares=shares,
            name=material.name,
            percent=percent,
            dosage_percent=dosage_percent,
        )
    else:
        material = catalogue.find(request.ban or request.without)
        found = {material.slug}
        if request.ban:
            bringers = Bringers.of(material, catalogue)
            found |= bringers.shares.keys() | bringers.unknown
        kind = BAN if request.ban else WITHOUT
        plan = replace(common, kind=kind, offenders=dict.fromkeys(found, ()), out=frozenset(found))
    if material.kind == "solvent":
        wanted = f"{material.name} is a solvent and stands for no smell; `archive affected` lists where it is"
        raise BadValue(given[0], "", wanted)
    return _with_stand_ins(plan, palette)


def _material_and_percent(text: str) -> tuple[str, float]:
    name, _, number = text.strip().removesuffix("%").rstrip().rpartition(" ")
    try:
        percent = float(number)
    except ValueError:
        percent = -1.0
    if not name or not 0 < percent < 100:
        wanted = 'write a material and the most that there may be of it in per cent, such as "coumarin 0.1"'
        raise BadValue("limit", text, wanted)
    return name, percent


def _of_prices(path: Path, common: MendingPlan, palette: Palette) -> MendingPlan:
    """Return the plan of a sheet of prices; which currency they are in does not matter."""
    now: dict[str, float] = {}
    before: dict[str, float] = {}
    for row in read_sheet(path, ("material", "price"), ("before",)):
        try:
            material = palette.catalogue.find(row["material"])
        except UnknownMaterial as error:
            near = f"Did you mean {', '.join(error.near)}?" if error.near else ""
            raise row.wrong("material", f'no material is called "{error.name}"', near) from None
        if material.slug in now:
            raise row.wrong("material", f"{material.name} is there twice", "Leave one of the lines")
        price, earlier = _price(row, "price"), _price(row, "before")
        if price is None:
            raise row.wrong("price", "the price is missing")
        now[material.slug] = price
        before[material.slug] = price if earlier is None else earlier
    risen = [slug for slug, price in now.items() if price > before[slug]]
    if not risen:
        wanted = 'no price has risen there: give what it was in a column "before"'
        raise BadValue("price", str(path), wanted)
    return replace(common, kind=PRICE, offenders=dict.fromkeys(risen, ()), shares=now, before=before)


_PER_KG = re.compile(r"\s*/\s*(k?g)\s*$", re.IGNORECASE)


def _price(row: Row, column: str) -> float | None:
    """Return a price, "120", "120/kg" or "0.12/g", of a kilogram where nothing is said."""
    unit = _PER_KG.search(row[column])
    cells = row.cells | {column: _PER_KG.sub("", row[column])}
    price = decimal(replace(row, cells=cells), column)
    if price is not None and price <= 0:
        raise row.wrong(
            column, f'"{row[column]}" is no price', "Write a number above 0, such as 120 or 0.12/g"
        )
    return None if price is None else price * (1000.0 if unit and unit[1].lower() == "g" else 1.0)


def _with_stand_ins(plan: MendingPlan, palette: Palette) -> MendingPlan:
    """Return a plan with what may stand for each offender, none of which is in the way itself."""
    catalogue, request = palette.catalogue, Request(market=plan.market)
    found: dict[str, tuple[StandIn, ...]] = {}
    for slug in sorted(plan.offenders):
        asked = catalogue.by_slug(slug)
        offered = [
            one
            for one in stand_ins(asked, palette, request)
            if one.slug not in plan.offenders
            and one.curve is not None
            and (plan.kind != PRICE or one.slug in plan.shares)
        ]
        factors = replacement_factors(asked, offered, palette.conditions)
        found[slug] = tuple(
            StandIn(one.slug, factor) for one, (factor, _) in zip(offered, factors, strict=True)
        )
    return replace(plan, offenders=found)


# one formula


def mend(formula: Formula, plan: MendingPlan, palette: Palette) -> MendedFormula | None:
    """Return a formula after its mend, None where nothing is in its way.

    Raises
    ------
    BadTable
        How it evaporates is not known.
    """
    table = FormulaDrydown(formulas.opened(formula), palette, plan.market)
    lines = items_of(table.formula)
    hit = [item.material.slug for item in lines if item.material.slug in plan.offenders]
    if not hit or not (work := _Mend(table, lines, hit, plan)).in_the_way:
        return None
    found = _thorough(formula, plan, palette) if plan.thorough else work.result()
    return found or work.unmended


@dataclass(frozen=True)
class _Proposal:
    """Amounts, what they preserve of the smell, and of lines in the way the stand-in and its parts."""

    value: float
    amounts: Array
    added: Mapping[str, tuple[int, float]] = field(default_factory=dict)


class _Mend:
    """One formula: its lines with the stand-ins as a model, whose smell is simulated exactly."""

    def __init__(
        self, table: FormulaDrydown, lines: Sequence[Item], hit: Sequence[str], plan: MendingPlan
    ) -> None:
        self.table, self.hit, self.plan = table, hit, plan
        present = {item.material.slug for item in lines}
        self.offered = {
            slug: [one for one in plan.offenders[slug] if one.slug not in present][:OFFERED] for slug in hit
        }
        catalogue = table.palette.catalogue
        new = dict.fromkeys(one.slug for offered in self.offered.values() for one in offered)
        candidates = [Item(catalogue.by_slug(slug), 0.0) for slug in new]
        whole = sum(item.parts * item.total for item in lines)
        lowered = [Item(one.material, one.parts, one.carriers, one.parts) for one in lines]
        items = (*lowered, *with_most(candidates, table, whole)[0])
        self.model = Amounts(table, items, plan.rules(lines), out=plan.out & present)
        self.places = [self.model.places[slug] for slug in hit]

    @property
    def in_the_way(self) -> bool:
        """Whether the formula is not allowed as it is."""
        return bool(self.model.out) or not self.model.allowed(self.model.before)

    def result(self) -> MendedFormula | None:
        """Return the formula with each line in the way lowered or taken out, or a stand-in in its place.

        None where nothing of its smell would be left.
        """
        model = self.model
        best = max((self._filled_in(base) for base in self._bases()), key=lambda one: one.value)
        if best.value <= 0.0:
            return None
        rows = []
        for slug, place in zip(self.hit, self.places, strict=True):
            line, before, after = model.items[place].material, model.items[place].parts, best.amounts[place]
            if slug in best.added:
                to, parts = best.added[slug]
                rows.append(MendedLine(SWAPPED, line, model.items[to].material, before, parts))
            if 0 < after < before:
                rows.append(MendedLine(LOWERED, line, line, before, float(after)))
            elif after == 0 and slug not in best.added:
                rows.append(MendedLine(TAKEN_OUT, line, None, before, 0.0))
        return MendedFormula(model.formula(best.amounts), tuple(rows), best.value)

    @property
    def unmended(self) -> MendedFormula:
        """The formula where no mend was found."""
        items = [self.model.items[place] for place in self.places]
        lines = tuple(MendedLine(NO_MEND, one.material, None, one.parts, one.parts) for one in items)
        return MendedFormula(None, lines, None)

    def _bases(self) -> list[_Proposal]:
        """Return the formula with what is in the way lowered as far as it must be, and taken out."""
        model, out = self.model, self.model.before.copy()
        out[self.places] = 0.0
        found = [model.filled(out)]
        if not model.out and (lowered := model.repaired(model.before, self.places)) is not None:
            found.append(tidied(model, lowered, self.places))
        return [_Proposal(model.preserved(amounts), amounts) for amounts in found]

    def _filled_in(self, base: _Proposal) -> _Proposal:
        """Return a proposal with the stand-ins that win something, of what goes most of first."""
        gone = self.model.before - base.amounts
        weight = {slug: gone[place] for slug, place in zip(self.hit, self.places, strict=True)}
        for slug in sorted(self.hit, key=lambda one: (-weight[one], one)):
            if weight[slug] > 0:
                base = self._with_best(base, slug, float(weight[slug]))
        return base

    def _with_best(self, base: _Proposal, slug: str, gone: float) -> _Proposal:
        """Return a proposal with the best stand-in for so many parts of a line, as it is where none wins."""
        tried = [self._with(base, slug, place, parts) for place, parts in self._ranked(base, slug, gone)]
        best = max((one for one in tried if one), key=lambda one: one.value, default=None)
        if best is None:
            return base
        place, parts = best.added[slug]
        for factor in (FINER, 1.0 / FINER):
            finer = self._with(base, slug, place, parts * factor)
            if finer is not None and finer.value > best.value:
                best = finer
                break
        return best if best.value > base.value + IDLE else base

    def _with(self, base: _Proposal, slug: str, place: int, parts: float) -> _Proposal | None:
        """Return a proposal with so many parts of a stand-in, None where the bounds do not allow that."""
        model, amounts = self.model, base.amounts.copy()
        parts = float(f"{min(parts, model.items[place].most):.3g}")
        amounts[place] += parts
        amounts = model.filled(amounts)
        if not model.allowed(amounts):
            lowered = model.repaired(amounts, [one for one in self.places if amounts[one] > 0])
            if lowered is None:
                return None
            amounts = tidied(model, lowered, self.places)
        return _Proposal(model.preserved(amounts), amounts, {**base.added, slug: (place, parts)})

    def _ranked(self, base: _Proposal, slug: str, gone: float) -> list[tuple[int, float]]:
        """Return the best stand-ins for so many parts of a line, by place, each with its best dose.

        They are simulated side by side at a few hours; what is near the top is then simulated exactly.
        """
        model, places = self.model, self.model.places
        offered = [(places[one.slug], gone * one.factor) for one in self.offered[slug]]
        doses = [
            (place, min(share * parts, model.items[place].most))
            for place, parts in offered
            for share in DOSES
        ]
        doses = [(place, parts) for place, parts in doses if parts > 0]
        if not doses:
            return []
        try:
            film = model.film(base.amounts)
        except BadTable:  # nothing is left that evaporates
            return doses[len(DOSES) - 1 :: len(DOSES)][:LOOKED_AT]
        total = float(model.totals @ base.amounts)
        shares = np.array([parts / (total + parts) for _, parts in doses])
        new = {place: row for row, place in enumerate(dict.fromkeys(place for place, _ in doses))}
        films = Candidates.of([self.table.films.alone(model.items[place].material) for place in new])
        them = films.picked(np.array([new[place] for place, _ in doses], np.intp))
        hours, counts = thinned(STEPS)
        found = odour_strength.soft(them.at(film, shares, TIMES[hours]))
        smell = model.smell
        before = smell.present[hours]
        common = np.minimum(found, before) @ smell.counts @ counts
        either = np.maximum(found, before) @ smell.counts @ counts
        best: dict[int, float] = {}
        for at in np.argsort(-common / np.maximum(either, 1e-12), kind="stable").tolist():
            best.setdefault(doses[at][0], doses[at][1])
        return list(best.items())[:LOOKED_AT]


def _thorough(formula: Formula, plan: MendingPlan, palette: Palette) -> MendedFormula | None:
    """Return what `reformulate` finds for a formula, None where that is nothing."""
    catalogue = palette.catalogue
    request = ReformulationRequest(
        market=plan.market,
        without=tuple(catalogue.by_slug(slug).name for slug in sorted(plan.out)) or None,
        at_most=((plan.name, 100.0 * plan.percent / plan.dosage_percent),) if plan.kind == LIMIT else (),
        top=1,
    )
    found = reformulate(formula, request, palette)
    if not found.answers:
        return None
    best = found.answers[0]
    rows = tuple(MendedLine(c.kind, c.line, c.to, c.parts_before, c.parts_after) for c in best.changes)
    return MendedFormula(best.formula, rows, best.preserved)


# the question


class Mending:
    """The question of `archive mend`, asked of every formula; see `execution.Question`."""

    chunk = CHUNK
    schema = pyarrow.schema(
        [
            ("number", pyarrow.int64()),
            ("formula", pyarrow.string()),
            ("change", pyarrow.string()),
            ("from", pyarrow.string()),
            ("to", pyarrow.string()),
            ("parts_before", pyarrow.float64()),
            ("parts", pyarrow.float64()),
            ("preserved", pyarrow.float64()),
        ]
    )

    def __init__(self, request: MendingRequest) -> None:
        self.request = request

    def key(self) -> Mapping[str, object]:
        """Return the request as plain data, a sheet of prices by its content."""
        found = dict(vars(self.request))
        if self.request.price:
            found["price"] = fingerprint(self.request.price.read_bytes())
        return found

    def plan(self, store: FormulaStore, palette: Palette) -> MendingPlan:
        """Return what is worked out once; errors as `plan_of`."""
        return plan_of(self.request, palette)

    def numbers(self, store: FormulaStore, palette: Palette, plan: MendingPlan) -> list[int]:
        """Return the numbers of the formulas that have a line in the way."""
        wanted = pyarrow.array(sorted(plan.offenders), pyarrow.string())
        found: set[int] = set()
        for part in store.parts:
            if part.formulas:
                lines = store.table("lines", part, ["formula", "material"])
                hit = pc.is_in(lines["material"].cast(pyarrow.string()), wanted)
                found.update(lines["formula"].filter(hit).to_pylist())
        return sorted(found)

    def answer(self, plan: MendingPlan, palette: Palette, formula: StoredFormula) -> list[dict[str, object]]:
        """Return a row for each line that changes; none where nothing is in the way."""
        found = mend(formula.formula(palette.catalogue), plan, palette)
        return [] if found is None else rows_of(found, formula)


def rows_of(found: MendedFormula, formula: StoredFormula) -> list[dict[str, object]]:
    """Return what becomes of a formula as rows."""
    return [
        {
            "number": formula.number,
            "formula": formula.name,
            "change": line.change,
            "from": line.line.name if line.line else None,
            "to": line.to.name if line.to else None,
            "parts_before": float(f"{line.parts_before:.10g}"),
            "parts": float(f"{line.parts:.10g}"),
            "preserved": None if found.preserved is None else round(found.preserved, DIGITS),
        }
        for line in found.lines
    ]


# all of them together


BANDS = (0.0, 0.5, 0.7, 0.8, 0.9, 0.95, 1.0)
"""Ends of the bands in which what is preserved is counted."""


@dataclass(frozen=True)
class Swap:
    """What became of a line in how many formulas, and the middle of what these preserve, 0-1."""

    change: str
    line: str
    to: str
    formulas: int
    preserved: float | None


@dataclass(frozen=True)
class MendSummary:
    """What a question comes to in all formulas.

    `asked` is the question in words, `formulas` how many there are, `hit` those with something in the way,
    `mended` those with a mend, `failed` those without an answer; `bands` are how many preserve so much, from
    and to, 0-1; `swaps` what became of the lines, the most frequent first.
    """

    asked: str
    formulas: int
    hit: int
    mended: int
    failed: int
    bands: tuple[tuple[float, float, int], ...]
    swaps: tuple[Swap, ...]


@dataclass(frozen=True)
class MendedFormulas:
    """What mends each formula of a store.

    `rows` are those of `Mending.schema`, `failures` the formulas without an answer; `finished` is false where
    the run was ended before all were done.
    """

    rows: pyarrow.Table
    failures: tuple[Failure, ...]
    summary: MendSummary
    seconds: float
    finished: bool = True


def mend_all(
    store: FormulaStore,
    request: MendingRequest,
    *,
    workers: int | None = None,
    scheduler: str | None = None,
    progress: StageProgress | None = None,
) -> MendedFormulas:
    """Return what mends each formula of a store; arguments and errors as `execution.run` and `plan_of`."""
    found = run(Mending(request), store, workers=workers, scheduler=scheduler, progress=progress)
    rows, failed = found.rows.to_pylist(), len(found.failures)
    summary = summary_of(request, rows, len(store), failed, store.palette)
    return MendedFormulas(found.rows, found.failures, summary, found.seconds, found.finished)


def asked_in_words(request: MendingRequest, palette: Palette) -> str:
    """Return a question as a heading; errors as `plan_of`."""
    if request.price:
        return f"no formula costs more than before the prices of {request.price.name}"
    if request.limit:
        name, percent = _material_and_percent(request.limit)
        of = "concentrate" if request.dosage_percent == 100.0 else f"product at {request.dosage_percent:g} %"
        return f"{palette.catalogue.find(name).name} at most {percent:g} % of the {of}"
    material = palette.catalogue.find(request.ban or request.without).name
    return f"{material} is prohibited" if request.ban else f"{material} is not to be had"


def summary_of(
    request: MendingRequest, rows: Sequence[Mapping[str, Any]], formulas: int, failed: int, palette: Palette
) -> MendSummary:
    """Return what the rows of all formulas come to."""
    preserved = {row["number"]: row["preserved"] for row in rows}
    known = np.array([value for value in preserved.values() if value is not None], float)
    counts, _ = np.histogram(known, BANDS)
    bands = zip(BANDS, BANDS[1:], counts.tolist(), strict=False)
    found: dict[tuple[str, str, str], list[float | None]] = {}
    for row in rows:
        key = row["change"], row["from"] or "", row["to"] or ""
        found.setdefault(key, []).append(row["preserved"])
    swaps = []
    for key in sorted(found, key=lambda one: (-len(found[one]), one)):
        values = [value for value in found[key] if value is not None]
        swaps.append(Swap(*key, len(found[key]), float(np.median(values)) if values else None))
    asked = asked_in_words(request, palette)
    return MendSummary(asked, formulas, len(preserved), len(known), failed, tuple(bands), tuple(swaps))
