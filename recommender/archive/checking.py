"""All formulas of a store in the finished product: what follows for each, and each substance to look at.

A product of sparse matrices clears what is nowhere near a limit, exactly: below its limits the status of a
substance depends on nothing but what it is and what brings it, and that is asked of the `check` of each
material alone. What is near a limit or above one, or has a figure that depends on several oils together, gets
the full check.
"""

import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from recommender import regulation
from recommender.archive import execution
from recommender.archive.composition import Opened, part_composition
from recommender.archive.runs import Failure
from recommender.archive.store import FormulaStore, Part, StoredFormula
from recommender.errors import BadValue
from recommender.evidence.catalogue import Catalogue
from recommender.evidence.markets import authorities_of
from recommender.formulas.formula import amounts
from recommender.model import Amount, Limit
from recommender.progress import StageProgress
from recommender.regulation import FINDINGS, STATUSES, ProductUse, Substance
from recommender.regulation.limits import counted

if TYPE_CHECKING:
    from recommender.palette import Palette

NEAR = 0.98
"""From this share of a limit on a formula gets the full check; the matrices are exact to twelve digits."""
VANISHING = 1e-12
"""A share of the concentrate that is below every limit."""
SCHEMA = pa.schema(
    [
        ("number", pa.int64()),
        ("formula", pa.string()),
        ("name", pa.dictionary(pa.int32(), pa.string())),
        ("cas", pa.dictionary(pa.int32(), pa.string())),
        ("percent", pa.float64()),
        ("percent_in_concentrate", pa.float64()),
        ("through", pa.list_(pa.string())),
        ("status", pa.dictionary(pa.int32(), pa.string())),
    ]
)
DECISIONS = pa.schema(
    [
        ("number", pa.int64()),
        ("formula", pa.string()),
        ("decision", pa.dictionary(pa.int32(), pa.string())),
        ("findings", pa.int32()),
        ("origin", pa.string()),
    ]
)


@dataclass(frozen=True)
class CheckedFormulas:
    """What follows for the formulas of a store in a finished product.

    `rows` are the findings, a row a formula and substance: `percent` is that of the product [% by mass],
    `through` the naturals that bring it. `decisions` has a row a formula. `in_full` is how many formulas had
    the full check.
    """

    use: ProductUse
    rows: pa.Table
    decisions: pa.Table
    failures: tuple[Failure, ...]
    in_full: int
    seconds: float
    finished: bool = True

    @property
    def counts(self) -> dict[str, int]:
        """How many formulas come to each decision."""
        found = dict.fromkeys(regulation.DECISIONS, 0)
        for row in self.decisions["decision"].value_counts().to_pylist():
            found[row["values"]] = row["counts"]
        return found

    @property
    def nothing(self) -> bool:
        """Whether every formula was checked, and nothing was found in any."""
        found = self.counts[regulation.NOTHING] == self.decisions.num_rows
        return found and not self.failures and self.finished

    def common(self) -> list[dict[str, Any]]:
        """Return the findings: `status`, `name`, `cas` and how many `formulas`, the most serious first."""
        names = ("status", "name", "cas")
        plain = pa.table({name: self.rows[name].cast(pa.string()) for name in names})
        counted = plain.group_by(list(names)).aggregate([([], "count_all")]).to_pylist()
        found = [{"formulas": row.pop("count_all")} | row for row in counted]
        order = {name: place for place, name in enumerate(STATUSES)}
        found.sort(key=lambda row: (order[row["status"]], -row["formulas"], row["name"]))
        return found


def check(
    store: FormulaStore,
    use: ProductUse,
    *,
    workers: int | None = None,
    scheduler: str | None = None,
    progress: StageProgress | None = None,
) -> CheckedFormulas:
    """Return what follows for every formula in the finished product, as the verb `check` has it for one.

    Parameters
    ----------
    store : FormulaStore
    use : ProductUse
        With a dosage; entries count as of its day `on`, all of them without one.
    workers, scheduler, progress
        As `execution.run`.

    Raises
    ------
    BadValue
        No dosage; a category or day that is none.
    BadTable
    """
    start, use = time.monotonic(), checked(use)
    screen = Screen.of(store, use)
    cleared = [_cleared(store, part, screen) for part in store.parts if part.formulas]
    chosen = tuple(number for one in cleared for number in one.in_full)
    done = execution.run(
        FullCheck(use, chosen), store, workers=workers, scheduler=scheduler, progress=progress
    )
    tables = [SCHEMA.empty_table(), *(one.rows for one in cleared), done.rows]
    rows = _sorted(pa.concat_tables(tables).unify_dictionaries())
    failed = {failure.number for failure in done.failures}
    decisions = _decisions(store, rows, cleared, failed)
    return CheckedFormulas(
        use, rows, decisions, done.failures, len(chosen), time.monotonic() - start, done.finished
    )


def checked(use: ProductUse) -> ProductUse:
    """Return a use with category and day as they are written; raises `BadValue`."""
    if use.dosage_percent is None:
        raise BadValue("dosage_percent", "", "give the concentrate in the finished product in per cent")
    return ProductUse(
        regulation.checked_dosage(use.dosage_percent),
        regulation.checked_category(use.category),
        use.market,
        regulation.checked_day(use.on),
    )


# the full check


@dataclass(frozen=True)
class FullCheck:
    """The question of `execution` that checks formulas one by one: the rows are their findings."""

    use: ProductUse
    chosen: tuple[int, ...] = field(default=(), repr=False)
    chunk: int = 50
    schema: Any = field(default=SCHEMA, repr=False, compare=False)

    def __reduce__(self) -> tuple[Any, ...]:  # a worker is given its formulas
        return FullCheck, (self.use,)

    def key(self) -> Mapping[str, object]:
        """Return the use as plain data."""
        use = self.use
        return {"dosage": use.dosage_percent, "category": use.category, "market": use.market, "on": use.on}

    def plan(self, store: FormulaStore, palette: "Palette") -> None:
        """Return nothing."""

    def numbers(self, store: FormulaStore, palette: "Palette", plan: None) -> Sequence[int]:
        """Return the formulas that are not cleared."""
        return self.chosen

    def answer(self, plan: None, palette: "Palette", formula: StoredFormula) -> list[dict[str, object]]:
        """Return the findings of one formula, the most serious first."""
        use, catalogue = self.use, palette.catalogue
        present = amounts(formula.formula(catalogue))
        dosage = use.dosage_percent or 0.0
        report = regulation.check(present, catalogue, dosage, use.category, use.market, None, use.on)
        return [
            {
                "number": formula.number,
                "formula": formula.name,
                "name": row.substance.name,
                "cas": row.substance.material.cas or None if row.substance.material else None,
                "percent": row.percent,
                "percent_in_concentrate": row.concentrate,
                "through": list(row.substance.through),
                "status": row.status,
            }
            for row in report.rows
            if row.status in FINDINGS
        ]


# what clears a formula


@dataclass(frozen=True)
class Screen:
    """What is needed to clear formulas by matrices.

    `opened` is materials by substances (shares), `findings` the same for each status of `FINDINGS`: 1 where a
    material, put in, gives a substance that status while no limit is near. `groups` is substances by limits:
    what counts against each; `uses` the use ratio of each limit at a whole concentrate of it. A substance of
    `in_full` sends a formula to the full check, and so do two of `together`. A material of `unknown` has
    something limited in an unknown amount. `bringers` are, for each substance, the rows of the naturals that
    bring it.
    """

    use: ProductUse
    catalogue: Catalogue
    opened: Opened
    findings: tuple[Any, ...]
    groups: Any
    uses: npt.NDArray[np.float64]
    in_full: npt.NDArray[np.float64]
    together: npt.NDArray[np.float64]
    unknown: npt.NDArray[np.float64]
    bringers: tuple[frozenset[int], ...]

    @classmethod
    def of(cls, store: FormulaStore, use: ProductUse) -> "Screen":
        """Return what clears the formulas of a store."""
        from scipy.sparse import csr_array

        catalogue = store.palette.catalogue
        opened = Opened.of(catalogue)
        rows = {s.key: place for place, s in enumerate(opened.substances)}
        shape = len(catalogue.materials), len(opened.substances)
        places: tuple[tuple[list[int], list[int]], ...] = tuple(([], []) for _ in FINDINGS)
        unknown = np.zeros(len(catalogue.materials))
        dosage = use.dosage_percent or 0.0
        for row in sorted(_present(store, catalogue)):
            alone = [Amount(catalogue.materials[row], VANISHING)]
            report = regulation.check(alone, catalogue, dosage, use.category, use.market, None, use.on)
            unknown[row] = any(one.decides for one in report.unknown)
            for found in report.rows:
                if found.status in FINDINGS and found.substance.key in rows:
                    at = places[FINDINGS.index(found.status)]
                    at[0].append(row)
                    at[1].append(rows[found.substance.key])
        findings = tuple(csr_array((np.ones(len(at[0])), at), shape=shape) for at in places)
        applied = [_applied(s, catalogue, use) for s in opened.substances]
        limits = list({id(x): x for found in applied for x in found}.values())
        groups = np.zeros((len(opened.substances), len(limits)))
        for column, limit in enumerate(limits):
            for one in counted(limit, opened.substances):
                groups[rows[one.key], column] = 1.0
        columns = {id(limit): column for column, limit in enumerate(limits)}
        return cls(
            use,
            catalogue,
            opened,
            findings,
            csr_array(groups),
            np.array([dosage / limit.percent[use.category] for limit in limits]),
            np.array([_depends_on_order(found, groups, columns) for found in applied], float),
            np.array([any(x.sum_group for x in found) for found in applied], float),
            unknown,
            _bringers(opened),
        )

    def must_be_checked(self, there: Any) -> npt.NDArray[np.bool_]:
        """Return which formulas need the full check; `there` is formulas by substances."""
        ratios = (there @ self.groups).multiply(self.uses[None, :]).tocsr()
        near = ratios.max(axis=1).toarray().ravel() >= NEAR if ratios.shape[1] else np.zeros(there.shape[0])
        pattern = _pattern(there)
        found = near.astype(bool) | (pattern @ self.in_full > 0) | (pattern @ self.together > 1)
        return np.asarray(found, bool)


def _present(store: FormulaStore, catalogue: Catalogue) -> set[int]:
    """Return the rows of the materials that are in any formula."""
    found: set[str] = set()
    for part in store.parts:
        table = store.table("lines", part, ["material", "solvent"])
        for name in table.column_names:
            found.update(key for key in table[name].unique().to_pylist() if key is not None)
    return {catalogue.index[key] for key in found if key in catalogue.index}


def _applied(substance: Substance, catalogue: Catalogue, use: ProductUse) -> list[Limit]:
    """Return the limits with a figure that decide about a substance."""
    covering = regulation.covering(substance, catalogue.limits_by_key)
    return [
        x
        for x in regulation.binding(covering, use)
        if use.category in x.percent and regulation.in_force(x, use.on)
    ]


def _depends_on_order(
    limits: Sequence[Limit], groups: npt.NDArray[np.float64], columns: Mapping[int, int]
) -> bool:
    """Return whether the status below the limits of a substance depends on which of them is the lowest.

    Of each authority the lowest decides whether the figure is verified; where different substances count
    against limits of one authority, which is the lowest is not the same for every formula.
    """
    by_authority: dict[str, list[Limit]] = {}
    for limit in limits:
        for name in authorities_of(limit.market):
            by_authority.setdefault(name, []).append(limit)
    for found in by_authority.values():
        outcomes = {(bool(x.superseded_by), x.verified) for x in found}
        alike = {groups[:, columns[id(x)]].tobytes() for x in found}
        if len(outcomes) > 1 and len(alike) > 1:
            return True
    return False


def _bringers(opened: Opened) -> tuple[frozenset[int], ...]:
    found: list[set[int]] = [set() for _ in opened.substances]
    matrix = opened.matrix.tocoo()
    for row, column in zip(matrix.coords[0].tolist(), matrix.coords[1].tolist(), strict=True):
        if row != column:
            found[column].add(row)
    return tuple(frozenset(each) for each in found)


def _pattern(matrix: Any) -> Any:
    """Return 1 where a sparse matrix is above 0."""
    found = matrix.tocsr(copy=True)
    found.eliminate_zeros()
    found.data = np.ones_like(found.data)
    return found


# the formulas that are cleared


@dataclass(frozen=True)
class _Cleared:
    """The findings of the cleared formulas of a part, the numbers of the others, and who has what unknown."""

    rows: pa.Table
    in_full: tuple[int, ...]
    unknown: npt.NDArray[np.bool_]


def _cleared(store: FormulaStore, part: Part, screen: Screen) -> _Cleared:
    numbers, materials = part_composition(store, part, screen.catalogue)
    there = (materials @ screen.opened.matrix).tocsr()
    in_full = screen.must_be_checked(there)
    pattern = _pattern(materials)
    unknown = np.asarray(pattern @ screen.unknown > 0, bool)
    width = len(screen.opened.substances)
    keys, statuses = [np.empty(0, np.int64)], [np.empty(0, np.int64)]
    for place, found in enumerate(screen.findings):
        pairs = (pattern @ found).tocoo()
        keys.append(pairs.coords[0].astype(np.int64) * width + pairs.coords[1])
        statuses.append(np.full(len(keys[-1]), place))
    # the statuses come in order, so that the first of a pair is the most serious
    key, first = np.unique(np.concatenate(keys), return_index=True)
    status = np.concatenate(statuses)[first]
    stays = ~in_full[key // width]
    key, status = key[stays], status[stays]
    shares = there.tocoo()
    every = shares.coords[0].astype(np.int64) * width + shares.coords[1]
    order = np.argsort(every)
    share = shares.data[order][np.searchsorted(every, key, sorter=order)]
    rows = _rows(store, part, numbers, key, status, share, screen)
    return _Cleared(rows, tuple(numbers[in_full].tolist()), unknown)


def _rows(
    store: FormulaStore,
    part: Part,
    numbers: npt.NDArray[np.int64],
    key: npt.NDArray[np.int64],
    status: npt.NDArray[np.int64],
    share: npt.NDArray[np.float64],
    screen: Screen,
) -> pa.Table:
    """Return findings as rows; a pair of formula and substance is one number, `key`."""
    width, dosage = len(screen.opened.substances), screen.use.dosage_percent or 0.0
    at, substance = key // width, key % width
    names = np.array(store.table("formulas", part, ["name"])["name"].to_pylist(), object)
    cas = [s.material.cas or None if s.material else None for s in screen.opened.substances]
    called = [s.name for s in screen.opened.substances]
    columns = {
        "number": numbers[at],
        "formula": pa.array(names[at], pa.string()),
        "name": pa.DictionaryArray.from_arrays(substance.astype(np.int32), pa.array(called)),
        "cas": pa.array([cas[s] for s in substance], pa.string()).dictionary_encode(),
        "percent": dosage * share,
        "percent_in_concentrate": 100.0 * share,
        "through": pa.array(list(_through(store, part, at, substance, screen)), pa.list_(pa.string())),
        "status": pa.DictionaryArray.from_arrays(status.astype(np.int32), pa.array(list(FINDINGS))),
    }
    return pa.table(columns, schema=SCHEMA)


def _through(
    store: FormulaStore,
    part: Part,
    at: npt.NDArray[np.int64],
    substance: npt.NDArray[np.int64],
    screen: Screen,
) -> Iterator[list[str]]:
    """Yield the naturals that bring each substance, in the order of the lines of its formula."""
    catalogue = screen.catalogue
    lines = store.table("lines", part, ["formula", "material"])
    owners = lines["formula"].to_numpy()
    slugs = lines["material"].to_pylist()
    ends = np.flatnonzero(np.diff(owners, append=owners[-1:] + 1)) + 1
    starts = np.concatenate([[0], ends[:-1]])
    last, inside = -1, list[int]()
    for formula, one in zip(at.tolist(), substance.tolist(), strict=True):
        if formula != last:
            last = formula
            inside = [catalogue.index[s] for s in dict.fromkeys(slugs[starts[formula] : ends[formula]])]
        bringers = screen.bringers[one]
        yield [catalogue.materials[m].name for m in inside if m in bringers] if bringers else []


# all of them


def _sorted(rows: pa.Table) -> pa.Table:
    """Return findings by formula, the most serious first, then the most."""
    order = pa.array([STATUSES.index(one) for one in rows["status"].to_pylist()], pa.int32())
    keys = pa.table(
        {
            "number": rows["number"],
            "order": order,
            "percent": rows["percent"],
            "name": rows["name"].cast(pa.string()),
        }
    )
    by = [("number", "ascending"), ("order", "ascending"), ("percent", "descending"), ("name", "ascending")]
    return rows.take(pc.sort_indices(keys, sort_keys=by))


def _decisions(
    store: FormulaStore, rows: pa.Table, cleared: Sequence[_Cleared], failed: set[int]
) -> pa.Table:
    """Return what follows for each formula, those aside whose check failed."""
    table = store.formulas(["formula", "name", "origin"])
    numbers = table["formula"].to_numpy()
    of = np.searchsorted(numbers, rows["number"].to_numpy())
    status = np.array([STATUSES.index(one) for one in rows["status"].to_pylist()], np.int64)
    worst = np.full(len(numbers), len(STATUSES), np.int64)
    np.minimum.at(worst, of, status)
    unknown = np.concatenate([np.empty(0, bool), *(one.unknown for one in cleared)])
    by_status = [regulation.decision_of([name]) for name in STATUSES] + [regulation.NOTHING]
    found = [
        regulation.LOOK_UP if open_ and by_status[place] == regulation.NOTHING else by_status[place]
        for place, open_ in zip(worst.tolist(), unknown.tolist(), strict=True)
    ]
    columns = {
        "number": numbers,
        "formula": table["name"],
        "decision": pa.array(found, pa.string()).dictionary_encode(),
        "findings": np.bincount(of, minlength=len(numbers)).astype(np.int32),
        "origin": table["origin"],
    }
    whole = pa.table(columns, schema=DECISIONS)
    return whole.filter(pa.array([number not in failed for number in numbers.tolist()], pa.bool_()))
