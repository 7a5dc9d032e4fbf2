#!/usr/bin/env python3
"""Change the code in small ways and count how many of the changes a test notices.

usage: scripts/mutation.py [--sample N] [--seed S] [--jobs N] [--tree FOLDER] [--record FILE] [STAGE ...]

The mutants are those of cosmic-ray (an operator, a comparison, a number, a condition, a decorator, a loop)
and decimals a fifth larger or smaller. Places are drawn at random, as many for each stage, and one mutant at
each place. It is caught if a test fails that reaches the changed line. Which tests do is found by running the
suite once under coverage (`--record` saves it). They run the fastest first, in a copy of the tree: the
checkout is never changed. Not run: tests of the page, tests slower than `--slowest`, and of many tests those
beyond `--budget` seconds. Needs the group `mutation`: pip install --group mutation

Left out, because no answer depends on them: annotations, type aliases, `TYPE_CHECKING`, `__all__`, decorators
of classes, `strict=` of zip, and replacements that make no sense (a shift, an operator of numbers for one of
sets, identity for equality). Strings are never changed.
"""

import argparse
import ast
import contextlib
import difflib
import json
import os
import queue
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import parso
import pytest
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.operators.number_replacer import NumberReplacer
from cosmic_ray.operators.operator import Operator
from cosmic_ray.plugins import get_operator, operator_names
from tqdm import tqdm

PACKAGE = "recommender"
STAGES = {
    "suggest": f"{PACKAGE}/suggest",
    "dosing": f"{PACKAGE}/formulas/dosing.py",
    "simulation": f"{PACKAGE}/formulas/simulation.py",
    "regulation": f"{PACKAGE}/regulation",
    "evaporation": f"{PACKAGE}/evaporation",
}
NOT_RUN = ("tests/browser", "tests/test_page")
"""Tests that start a server or a browser: slow, and under load now and then red by themselves."""
ALIKE = (("Add", "Sub", "Mul", "Div", "FloorDiv", "Mod", "Pow"), ("BitOr", "BitAnd", "BitXor", "Sub"))
"""Binary operators that may replace each other sensibly."""
PATIENCE = 60.0
"""Seconds that a run may take beyond three times what its tests took when they were recorded."""

TOO_SLOW = "too slow"
"""Status of a mutant whose tests did not end; on a busy machine, run these again."""

Span = tuple[int, int]


class DecimalReplacer(NumberReplacer):
    """Make a decimal a fifth larger or smaller."""

    FACTORS = (1.2, 0.8)

    def mutation_positions(self, node: parso.tree.NodeOrLeaf) -> Iterator[tuple[Span, Span]]:
        """Return each decimal twice."""
        if node.type == "number" and isinstance(ast.literal_eval(node.value), float):
            yield from ((node.start_pos, node.end_pos) for _ in self.FACTORS)

    def mutate(self, node: parso.tree.NodeOrLeaf, index: int) -> parso.tree.NodeOrLeaf:
        """Return the number, changed."""
        value = float(f"{ast.literal_eval(node.value) * self.FACTORS[index]:.12g}")
        return parso.python.tree.Number(str(value), node.start_pos, node.prefix)


@dataclass(frozen=True)
class Mutant:
    """One change: the file, the line (from 1), and the whole text of the file with the change made."""

    stage: str
    path: str
    line: int
    text: str


@dataclass
class Record:
    """What the tests reach: seconds by test, and by file and line the numbers of the tests that run it."""

    seconds: dict[str, float]
    lines: dict[str, dict[int, set[int]]]
    tests: list[str] = field(init=False)

    def __post_init__(self) -> None:
        self.tests = list(self.seconds)

    def of(self, path: str, lines: Span) -> set[int]:
        """Return the tests that run any line from the first to the last of two."""
        found = self.lines.get(path, {})
        return set().union(*(found.get(line, ()) for line in range(lines[0], lines[1] + 1)))


# ---- recording: which test reaches which line ------------------------------------------------------------


class Recorder:
    """A plugin of pytest that switches coverage's context with each test and takes its time.

    What is set up for one test may serve the others of its file: it has a context of its own.
    """

    SET_UP = "|set up"

    def __init__(self) -> None:
        import coverage

        self.coverage = coverage.Coverage(data_file=None, source=[PACKAGE], config_file=False)
        self.seconds: dict[str, float] = {}
        self.failed: set[str] = set()

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        """Begin to set up a test."""
        self.coverage.switch_context(nodeid + self.SET_UP)

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_call(self, item: pytest.Item) -> None:
        """Begin a test itself."""
        self.coverage.switch_context(item.nodeid)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Take the time of a test, with what it needed to be set up."""
        name = report.nodeid
        self.seconds[name] = self.seconds.get(name, 0.0) + report.duration
        if report.outcome != "passed":
            self.failed.add(name)


def record(target: Path) -> None:
    """Run the tests of the present folder once and write what each reaches to a file."""
    recorder = Recorder()
    recorder.coverage.start()
    excluded = [f"--ignore-glob={name}*" for name in NOT_RUN]
    pytest.main(["-q", "-p", "no:cacheprovider", *excluded], plugins=[recorder])
    recorder.coverage.stop()
    data, here = recorder.coverage.get_data(), Path.cwd()
    passed = {name: took for name, took in recorder.seconds.items() if name not in recorder.failed}
    reached: dict[str, list[int]] = defaultdict(list)
    for number, name in enumerate(passed):
        reached[name].append(number)
        reached[name.partition("::")[0] + recorder.SET_UP].append(number)

    def tests(context: str) -> list[int]:
        if context.endswith(recorder.SET_UP):
            context = context.partition("::")[0] + recorder.SET_UP
        return reached[context]

    lines = {
        str(Path(path).relative_to(here)): {
            line: sorted({number for name in names for number in tests(name)})
            for line, names in data.contexts_by_lineno(path).items()
        }
        for path in data.measured_files()
    }
    target.write_text(json.dumps({"seconds": passed, "lines": lines}))


def read_record(path: Path) -> Record:
    """Return a record from its file."""
    stored = json.loads(path.read_text())
    lines = {
        name: {int(line): set(tests) for line, tests in found.items()}
        for name, found in stored["lines"].items()
    }
    return Record(stored["seconds"], lines)


# ---- the mutants -----------------------------------------------------------------------------------------


def left_out(tree: ast.Module) -> list[tuple[Span, Span]]:
    """Return the spans of a module on which no answer depends."""
    found: list[ast.AST] = []
    for node in ast.walk(tree):
        match node:
            case ast.arg(annotation=ast.AST() as annotation):
                found.append(annotation)
            case ast.AnnAssign():
                found.append(node.annotation)
            case ast.If(test=ast.Name(id="TYPE_CHECKING")):
                found.append(node)
            case ast.Assign(targets=[ast.Name(id="__all__")]):
                found.append(node)
            case ast.Assign(value=ast.Call(func=ast.Name(id="TypeVar")) | ast.Subscript() as value):
                found += [value] if _is_type(value) else []
            case ast.Call(func=ast.Name(id="zip")):
                found += [word.value for word in node.keywords if word.arg == "strict"]
            case ast.ClassDef():
                found += node.decorator_list
            case ast.FunctionDef(returns=ast.AST() as returns):
                found.append(returns)
    # one column more on the left: the sign of a decorator
    return [((n.lineno, n.col_offset - 1), (n.end_lineno, n.end_col_offset)) for n in found]


def _is_type(value: ast.expr) -> bool:
    """Tell whether an expression is a type: a variable of types, or a generic with its arguments."""
    if isinstance(value, ast.Subscript):
        return isinstance(value.value, ast.Attribute | ast.Name) and value.value.__dict__.get(
            "id", getattr(value.value, "attr", "")
        ) in ("Mapping", "Sequence", "NDArray", "Callable", "dict", "list", "tuple")
    return True


def operators() -> list[tuple[str, Operator]]:
    """Return the operators that are used, with a family: at one place, one of a family is drawn."""
    found: list[tuple[str, Operator]] = [("NumberReplacer", DecimalReplacer())]
    for name in operator_names():
        kind = get_operator(name)
        family, _, change = name.partition("/")[2].partition("_")
        nonsense = {
            "ReplaceBinaryOperator": not any(set(change.split("_")) <= set(group) for group in ALIKE),
            "ReplaceComparisonOperator": change.count("Is") == 1,
        }
        if not kind.arguments() and not nonsense.get(family, False):
            found.append((family, kind()))
    return found


def mutants(root: Path, stage: str, count: int, chance: random.Random) -> list[Mutant]:
    """Return mutants at random places of a stage, one at each place."""
    top = root / STAGES[stage]
    places: dict[tuple[str, Span, str], list[tuple[Operator, int]]] = defaultdict(list)
    for path in [top] if top.is_file() else sorted(top.rglob("*.py")):
        source = path.read_text(encoding="utf-8")
        excluded = left_out(ast.parse(source))
        nodes = list(ast_nodes(get_ast(source)))
        for family, operator in operators():
            found = [at for node in nodes for at in operator.mutation_positions(node)]
            for number, (start, end) in enumerate(found):
                if not any(low <= start and end <= high for low, high in excluded):
                    key = (str(path.relative_to(root)), start, family)
                    places[key].append((operator, number))
    order = sorted(places)
    chance.shuffle(order)
    drawn: list[Mutant] = []
    for path, start, family in order:
        operator, number = chance.choice(places[path, start, family])
        source = (root / path).read_text(encoding="utf-8")
        text = mutate_code(source, operator, number)
        with contextlib.suppress(SyntaxError):
            if text is not None and ast.dump(ast.parse(text)) != ast.dump(ast.parse(source)):
                drawn.append(Mutant(stage, path, start[0], text))
        if len(drawn) == count:
            break
    return drawn


# ---- which tests reach a mutant --------------------------------------------------------------------------


class Reach:
    """Finds the tests that reach a line, also where the line is run when the module is loaded."""

    def __init__(self, root: Path, recorded: Record) -> None:
        self.record = recorded
        self.trees = {
            str(path.relative_to(root)): ast.parse(path.read_text(encoding="utf-8"))
            for path in sorted((root / PACKAGE).rglob("*.py"))
        }

    def tests(self, path: str, line: int) -> list[int]:
        """Return the tests that reach a line, the fastest first."""
        found = self._reached(path, line, set())
        if not found:  # no name to follow: all tests that run anything of the module
            found = set().union(*self._bodies(path, self.trees[path]))
        return sorted(found, key=lambda i: self.record.seconds[self.record.tests[i]])

    def _reached(self, path: str, line: int, seen: set[str]) -> set[int]:
        chain = list(_enclosing(self.trees[path], line))
        if not chain:
            return set()
        inside = any(isinstance(node, ast.FunctionDef) for node in chain[:-1])
        last = chain[-1]
        if isinstance(last, ast.FunctionDef):  # a default or a decorator: all tests that run the body
            return set().union(*self._bodies(path, last))
        if inside:
            return self.record.of(path, _span(last))
        return self._by_name(_names(last), seen)

    def _bodies(self, path: str, node: ast.AST) -> list[set[int]]:
        functions = [f for f in ast.walk(node) if isinstance(f, ast.FunctionDef)]
        return [self.record.of(path, (f.body[0].lineno, f.end_lineno or f.lineno)) for f in functions]

    def _by_name(self, names: set[str], seen: set[str]) -> set[int]:
        """Return the tests that run a statement in which one of some names of a module or class is used."""
        found: set[int] = set()
        for name in names - seen:
            seen.add(name)
            for path, tree in self.trees.items():
                lines = {
                    node.lineno
                    for node in ast.walk(tree)
                    if (isinstance(node, ast.Name) and node.id == name and isinstance(node.ctx, ast.Load))
                    or (isinstance(node, ast.Attribute) and node.attr == name)
                }
                for line in lines:
                    found |= self._reached(path, line, seen)
        return found


def _enclosing(tree: ast.Module, line: int) -> Iterator[ast.stmt]:
    """Return the statements around a line, the outermost first."""
    bodies: list[ast.AST] = [tree]
    while bodies:
        node = bodies.pop()
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.ExceptHandler | ast.match_case):
                bodies.append(child)
            elif isinstance(child, ast.stmt):
                decorators = getattr(child, "decorator_list", [])
                start = min([child.lineno, *(d.lineno for d in decorators)])
                if start <= line <= (child.end_lineno or child.lineno):
                    yield child
                    bodies = [child]
                    break


def _span(statement: ast.stmt) -> Span:
    """Return the lines of a statement, of a compound one those of its head."""
    body = getattr(statement, "body", None) or getattr(statement, "cases", None)
    if not body:
        return statement.lineno, statement.end_lineno or statement.lineno
    first = body[0].pattern.lineno if isinstance(body[0], ast.match_case) else body[0].lineno
    return statement.lineno, max(statement.lineno, first - 1)


def _names(statement: ast.stmt) -> set[str]:
    """Return the names that a statement of a module or class gives a value."""
    if isinstance(statement, ast.ClassDef):
        return {statement.name}
    return {
        node.id
        for node in ast.walk(statement)
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)
    }


# ---- judging ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Judged:
    """A mutant and what became of it: by which test or how it was caught, blank where it survived."""

    mutant: Mutant
    caught_by: str
    ran: int
    reach: int


def run_tests(folder: Path, tests: Sequence[str], seconds: float) -> tuple[int, str]:
    """Run some tests of a copy in their order until one fails: exit status (-1: too slow), and the output."""
    names = folder / ".tests"
    names.write_text("\n".join(tests), encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", "--tb=no", f"@{names}"]
    with subprocess.Popen(
        command,
        cwd=folder,
        env=_environment(folder),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    ) as process:
        try:
            out, _ = process.communicate(timeout=PATIENCE + 3.0 * seconds)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.communicate()
            return -1, ""
    return process.returncode, out


def _environment(folder: Path) -> dict[str, str]:
    # CI: the examples of property tests are then the same in every run
    return {**os.environ, "PYTHONPATH": str(folder), "CI": "1"}


def put(target: Path, text: str) -> None:
    """Write a module; delete its compiled form, which Python compares by second and size only."""
    target.write_text(text, encoding="utf-8")
    for compiled in target.parent.glob(f"__pycache__/{target.stem}.*.pyc"):
        compiled.unlink()


def judge(mutant: Mutant, folder: Path, reach: Reach, budget: float) -> Judged:
    """Make the change in a copy, run the tests that reach it, and take the change back."""
    recorded, numbers = reach.record, reach.tests(mutant.path, mutant.line)
    tests: list[str] = []
    spent = 0.0
    for name in (recorded.tests[number] for number in numbers):
        if tests and spent + recorded.seconds[name] > budget:
            break
        tests.append(name)
        spent += recorded.seconds[name]
    if not tests:
        return Judged(mutant, "", 0, 0)
    target = folder / mutant.path
    before = target.read_text(encoding="utf-8")
    put(target, mutant.text)
    try:
        status, out = run_tests(folder, tests, spent)
    finally:
        put(target, before)
    if status == 0:
        return Judged(mutant, "", len(tests), len(numbers))
    failed = next((line.split()[1] for line in out.splitlines() if line.startswith("FAILED ")), "")
    how = {-1: TOO_SLOW, 1: failed or "an error in a test"}.get(status, "it cannot be loaded")
    return Judged(mutant, how, len(tests), len(numbers))


def copy_of(root: Path, folder: Path) -> Path:
    """Return a copy of a tree, without what git and the tools keep there."""
    excluded = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache", ".hypothesis")
    return Path(shutil.copytree(root, folder / "tree", ignore=excluded, symlinks=True))


def change_of(mutant: Mutant, root: Path) -> str:
    """Return the lines that a mutant takes away and puts in."""
    before = (root / mutant.path).read_text(encoding="utf-8").splitlines()
    lines = list(difflib.unified_diff(before, mutant.text.splitlines(), lineterm="", n=0))
    return "\n".join(f"    {line}" for line in lines[3:] if line.strip("+- "))


def survivor(one: Judged, root: Path) -> str:
    """Return the place of a surviving mutant, the tests that ran, and the change."""
    tests = f"{one.ran} of {one.reach} tests that reach it" if one.reach else "no test reaches it"
    return f"SURVIVED {one.mutant.path}:{one.mutant.line} ({tests})\n{change_of(one.mutant, root)}"


def table(judged: Sequence[Judged]) -> str:
    """Return how many mutants were caught, by stage and in all."""
    rows = [f"{'stage':10} {'mutants':>7} {'caught':>7} {'share':>7} {'of them too slow':>17}"]
    stages = {one.mutant.stage for one in judged}
    for stage in [*(stage for stage in STAGES if stage in stages), "all"]:
        mine = [one for one in judged if stage in (one.mutant.stage, "all")]
        caught = [one for one in mine if one.caught_by]
        slow = sum(one.caught_by == TOO_SLOW for one in caught)
        share = len(caught) / max(len(mine), 1)
        rows.append(f"{stage:10} {len(mine):7d} {len(caught):7d} {share:7.0%} {slow:17d}")
    return "\n".join(rows)


def main() -> int:
    """Draw, judge, print."""
    arguments = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    arguments.add_argument("stages", nargs="*", choices=[*STAGES, []], help="default: all")
    arguments.add_argument("--sample", type=int, default=200, help="mutants in all (default 200)")
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--jobs", type=int, default=2)
    arguments.add_argument("--tree", type=Path, default=Path(__file__).resolve().parent.parent)
    arguments.add_argument("--record", type=Path, help="a file to read what tests reach from, or to write")
    arguments.add_argument("--slowest", type=float, default=15.0, help="seconds of the slowest test run")
    arguments.add_argument("--budget", type=float, default=60.0, help="seconds of tests for one mutant")
    arguments.add_argument("--write-record", type=Path, help=argparse.SUPPRESS)
    given = arguments.parse_args()
    if given.write_record:
        record(given.write_record)
        return 0
    stages, started = given.stages or list(STAGES), time.monotonic()
    with tempfile.TemporaryDirectory() as scratch:
        folders = [copy_of(given.tree, Path(scratch) / str(job)) for job in range(given.jobs)]
        store = given.record or Path(scratch) / "record.json"
        if not store.exists():
            own = [sys.executable, str(Path(__file__).resolve()), "--write-record", str(store.resolve())]
            subprocess.run(own, cwd=folders[0], env=_environment(folders[0]), check=True, stdout=sys.stderr)
        recorded = read_record(store)
        slow = {name for name, took in recorded.seconds.items() if took > given.slowest}
        excluded = {i for i, name in enumerate(recorded.tests) if name in slow or name.startswith(NOT_RUN)}
        for lines in recorded.lines.values():
            for line, tests in lines.items():
                lines[line] = tests - excluded
        chance, drawn = random.Random(given.seed), []
        for place, stage in enumerate(stages):
            share = given.sample // len(stages) + (place < given.sample % len(stages))
            drawn += mutants(given.tree, stage, share, chance)
        chance.shuffle(drawn)  # what is printed first is then of all stages
        reach, free = Reach(given.tree, recorded), queue.SimpleQueue()
        for folder in folders:
            free.put(folder)

        def work(mutant: Mutant) -> Judged:
            folder = free.get()
            try:
                return judge(mutant, folder, reach, given.budget)
            finally:
                free.put(folder)

        print(f"seed {given.seed}, {len(recorded.tests)} tests recorded; not run of them:")
        print(f"  tests of the page ({', '.join(NOT_RUN)}), and slower than {given.slowest:g} s:")
        print("".join(f"  {name}\n" for name in sorted(slow)), flush=True)
        judged = []
        with ThreadPoolExecutor(given.jobs) as pool:
            for one in tqdm(pool.map(work, drawn), total=len(drawn), mininterval=30.0):
                judged.append(one)
                if not one.caught_by:
                    print(survivor(one, given.tree), flush=True)
    print()
    print(table(judged))
    print(f"\n{(time.monotonic() - started) / 60:.0f} minutes")
    return 0


if __name__ == "__main__":
    sys.exit(main())
