#!/usr/bin/env python3
"""Measure speed as ratios in one run, the memory of answers, and how both grow.

usage: scripts/benchmark.py [--only ROW ...] [--repeat N] [--busy N]

Each command is a whole process, with bytecode and compiled tables in place as in an installed copy. The
yardstick is a process that only imports pandas, scikit-learn's neighbours and networkx; every round runs it
and each row once, so that all see the same machine. Ratios are those of the medians, of the least times and
of the least processor times, which say most on a machine that others use too. All of it takes about five
minutes on two quiet cores, of which the build takes two and the growth one and a half; nine on busy ones,
with three runs of each row and `--busy 2`.

Nothing here is a test: machines differ.
"""

import argparse
import json
import math
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
PYTHON = sys.executable
RECOMMENDER = (PYTHON, "-c", "from recommender.cli import main; main()")
YARDSTICK = (PYTHON, "-c", "import pandas, sklearn.neighbors, networkx")
LINES = (10, 40, 100, 300)
MATERIALS = (700, 5_000, 50_000)
BUSY_AIM = 1.6
"""How much longer a row may take while other processes are busy."""
EXPONENT_AIM = 1.2
MEMORY_AIM_MB = 150


@dataclass(frozen=True)
class Row:
    """A command line, and what its time may be against the yardstick."""

    arguments: tuple[str, ...]
    aim: float | None
    environment: Mapping[str, str]

    @property
    def command(self) -> tuple[str, ...]:
        """The words that start it."""
        return (*RECOMMENDER, *self.arguments) if self.arguments else YARDSTICK


@dataclass
class Times:
    """Wall and processor times [s] and peak memory [MB] of one row."""

    seconds: list[float]
    processor: list[float]
    peak_mb: float = 0.0

    @property
    def median(self) -> float:
        """The middle time [s]."""
        return statistics.median(self.seconds)

    @property
    def least(self) -> float:
        """The shortest time [s]."""
        return min(self.seconds)


def rows(folder: Path) -> dict[str, Row]:
    """Return all commands by name, the yardstick first; their files are in a folder."""
    formula, first = in_child(formula_file, folder / "forty.csv", 40)
    plain = {
        **{key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"},
        "RECOMMENDER_NOTEBOOK": str(folder / "none.sqlite"),
        "XDG_CACHE_HOME": str(folder / "cache"),
    }
    material = ("extend", "benzaldehyde", "--facet", "almond", "--until", "24h")
    commands: dict[str, tuple[tuple[str, ...], float | None]] = {
        "yardstick": ((), None),
        "help": (("--help",), 0.05),
        "extend": (material, 0.20),
        "extend-40": (("extend", formula), 0.35),
        "relay-40": (("extend", formula, "--relay"), 0.45),
        "replace-in-40": (("replace", first, "--in", formula), 0.40),
        "trim-40": (("trim", formula), 0.40),
        "drydown-40": (("drydown", formula), 0.30),
        "check-40": (("check", formula, "--dosage", "15"), 0.22),
        "extend-without-cache": (material, None),
    }
    found = {
        name: Row((*words, "--format", "json") if len(words) > 1 else words, aim, plain)
        for name, (words, aim) in commands.items()
    }
    nowhere = {**plain, "XDG_CACHE_HOME": os.devnull}
    found["extend-without-cache"] = replace(found["extend-without-cache"], environment=nowhere)
    return found


def ran(row: Row) -> tuple[float, float, float]:
    """Return wall time [s], processor time [s] and peak memory [MB] of a whole process.

    The peak is never below that of the process that calls this: the system carries its mark over to a child.
    """
    start = time.perf_counter()
    child = subprocess.Popen(
        row.command, env=dict(row.environment), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    _, status, usage = os.wait4(child.pid, 0)
    seconds = time.perf_counter() - start
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode not in (0, 1):  # 1 is an answer too: nothing found
        raise SystemExit(f"{' '.join(row.command)} ended with status {child.returncode}")
    peak_mb = usage.ru_maxrss / (1024 if sys.platform != "darwin" else 1024**2)
    return seconds, usage.ru_utime + usage.ru_stime, peak_mb


def measured(chosen: Mapping[str, Row], repeat: int) -> dict[str, Times]:
    """Return times of all rows, each round running every one of them; the first round does not count."""
    found = {name: Times([], []) for name in chosen}
    for turn in range(repeat + 1):
        for name, row in chosen.items():
            seconds, processor, peak_mb = ran(row)
            if turn:
                found[name].processor.append(processor)
                found[name].seconds.append(seconds)
                found[name].peak_mb = max(found[name].peak_mb, peak_mb)
    return found


@contextmanager
def busy(count: int) -> Iterator[None]:
    """Have some processes do nothing but keep the processor busy."""
    others = [subprocess.Popen([PYTHON, "-c", "while True: pass"]) for _ in range(count)]
    try:
        yield
    finally:
        for other in others:
            other.kill()
            other.wait()


def judged(value: float, aim: float | None, form: str) -> str:
    """Return an aim, and whether a value is within it."""
    if aim is None:
        return ""
    return f"aim {aim:{form}}{'' if value <= aim else ', missed'}"


def show_commands(chosen: Mapping[str, Row], repeat: int, others: int) -> None:
    """Print a line for each command; with `others` also how much longer it takes beside so many busy ones."""
    quiet = measured(chosen, repeat)
    yard = quiet["yardstick"]
    print(f"yardstick: median {yard.median * 1e3:.0f} ms, least {yard.least * 1e3:.0f} ms, of {repeat}")
    print(f"{'row':22}{'median':>9}{'least':>9}{'ratio':>8}{'least':>7}{'cpu':>7}{'peak':>8}")
    for name, row in chosen.items():
        if name == "yardstick":
            continue
        times = quiet[name]
        ratio, least = times.median / yard.median, times.least / yard.least
        processor = min(times.processor) / min(yard.processor)
        print(
            f"{name:22}{times.median * 1e3:6.0f} ms{times.least * 1e3:6.0f} ms{ratio:8.3f}{least:7.3f}"
            f"{processor:7.3f}{times.peak_mb:5.0f} MB  {judged(ratio, row.aim, '.2f')}"
        )
    if "extend" in quiet:
        peak_mb = quiet["extend"].peak_mb
        print(f"peak memory of extend: {peak_mb:.0f} MB ({judged(peak_mb, MEMORY_AIM_MB, '.0f')})")
    if others:
        with busy(others):
            loaded = measured(chosen, repeat)
        print(f"beside {others} busy processes, medians against those above (aim {BUSY_AIM} or less):")
        for name, times in loaded.items():
            print(f"{name:22}{times.median * 1e3:6.0f} ms{times.median / quiet[name].median:8.2f}")


# what is measured within one process: each in a fresh one


def in_child(step: Callable[..., Any], *given: Any) -> Any:
    """Return what a function returns in a process of its own, set up as that of the command line."""
    with ProcessPoolExecutor(1, get_context("spawn"), initializer=prepare) as pool:
        return pool.submit(step, *given).result()


def prepare() -> None:
    """Set up a process as the command line does."""
    from recommender import process

    process.prepare()


def formula_file(file: Path, count: int) -> tuple[str, str]:
    """Write a formula of `count` lines; returns its path and the material of its first line."""
    from measure_page import lines

    found = lines(count)
    text = "\n".join(f'"{line["material"]}",{line["parts"]}' for line in found)
    file.write_text(f"material,parts\n{text}\n", encoding="utf-8")
    return str(file), found[0]["material"]


def took(step: Callable[..., object], *given: object) -> float:
    """Return the time of one call [s]."""
    start = time.perf_counter()
    step(*given)
    return time.perf_counter() - start


def best(step: Callable[[], object], repeat: int) -> float:
    """Return the shortest time of some calls [s]."""
    return min(took(step) for _ in range(repeat))


def simulation(repeat: int) -> str:
    """Return the time to try 500 candidates in a formula of 40 materials, and against an ODE solver."""
    import numpy as np
    from scipy.integrate import solve_ivp

    from recommender.evaporation.course import film_of, with_added
    from recommender.formulas.simulation import simulate
    from recommender.model import Amount
    from recommender.palette import shipped

    palette = shipped()
    molecules = [
        m for m in palette.catalogue.materials if len(m.parts) == 1 and m.curve and m.kind == "molecule"
    ]
    space, index = palette.space, palette.catalogue.index
    formula = film_of([Amount(m, 1 / 40) for m in molecules[:: len(molecules) // 40][:40]], space, index)
    candidates = [film_of([Amount(m, 1.0)], space, index) for m in molecules[:500]]
    shares = np.full(len(candidates), 0.01)
    ours = best(lambda: simulate(formula, candidates, shares), repeat)
    film = with_added(formula, candidates[0], 0.01)
    hours = np.geomspace(1 / 60, 168, 60)

    def loss(_: float, moles: "np.ndarray") -> "np.ndarray":
        return -film.rates * moles / (film.inert + moles.sum())

    def stiff() -> object:
        seconds = hours * 3600
        return solve_ivp(
            loss, (0, seconds[-1]), film.moles, method="BDF", t_eval=seconds, rtol=1e-6, atol=1e-15
        )

    times, aim = best(stiff, 2) / (ours / len(candidates)), judged(ours * 1e3, 50, ".0f")
    return (
        f"{len(candidates)} candidates in {len(formula.amounts)} materials: {ours * 1e3:.0f} ms ({aim}), "
        f"{times:.0f} times faster than a stiff ODE solver for each (aim 20)"
    )


def likeness(repeat: int, materials: int = 100_000) -> str:
    """Return the time of one material's likeness to a made-up catalogue, against numpy's own product."""
    import numpy as np

    from recommender.palette import shipped
    from recommender.similarity.odour_space import OdourSpace

    space, rng = shipped().space, np.random.default_rng(0)
    weights = rng.choice([0.0, 0.3, 0.6, 1.0], (materials, len(space.facets)), p=[0.955, 0.02, 0.015, 0.01])
    crowd = OdourSpace.build(space.facets, weights, space.labels, space.panel)
    product, first = crowd.vectors.__matmul__, crowd.vectors[0]
    pairs = [(took(crowd.likeness, 0), took(product, first)) for _ in range(5 * repeat)]
    ours, own = (min(times) for times in zip(*pairs, strict=True))
    return (
        f"likeness of one material to {materials:,}: {ours * 1e3:.1f} ms, "
        f"{ours / own:.2f} times numpy's own product ({judged(ours / own, 2, '.0f')})"
    )


def build(repeat: int) -> str:
    """Return how long the tables take to build."""
    command = [PYTHON, str(ROOT / "scripts" / "build_tables.py"), "--check"]
    start = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return f"build of all tables, with its checks: {time.perf_counter() - start:.1f} s"


def exponents(sizes: Sequence[int], seconds: Sequence[float]) -> tuple[float, float]:
    """Return the power of size with which time grows: over all sizes (least squares), over the last two."""
    x, y = [math.log(size) for size in sizes], [math.log(t) for t in seconds]
    middle_x, middle_y = statistics.fmean(x), statistics.fmean(y)
    slope = sum((a - middle_x) * (b - middle_y) for a, b in zip(x, y, strict=True))
    return slope / sum((a - middle_x) ** 2 for a in x), (y[-1] - y[-2]) / (x[-1] - x[-2])


def growth(what: str, sizes: Sequence[int], times: Mapping[str, Sequence[float]]) -> str:
    """Return a line for each verb: time at each size, exponents."""
    found = [f"growth with {what}: {', '.join(f'{size:,}' for size in sizes)}"]
    for verb, seconds in times.items():
        overall, last = exponents(sizes, seconds)
        figures = "".join(f"{1e3 * one:8.0f}" for one in seconds)
        found.append(
            f"  {verb:18}{figures} ms  exponent {overall:.2f}, at the end {last:.2f}  "
            f"({judged(max(overall, last), EXPONENT_AIM, '.1f')})"
        )
    return "\n".join(found)


def growth_in_lines(repeat: int) -> str:
    """Return how the verbs grow with the lines of a formula; amounts differ from run to run."""
    from measure_page import lines

    from recommender.regulation import ProductUse
    from recommender.suggest import Request
    from recommender.workspace import Workspace

    workspace = Workspace()

    def formula(count: int, turn: int) -> Any:
        return workspace.formula([(one["material"], float(one["parts"]) + turn) for one in lines(count)])

    verbs: dict[str, Callable[[Any], object]] = {
        "extend": lambda f: workspace.extend(f, Request()),
        "relay": lambda f: workspace.extend(f, Request(relay=True)),
        "replace in": lambda f: workspace.replace(f.lines[0].content, Request(), within=f),
        "trim": workspace.trim,
        "drydown": lambda f: json_of_drydown(workspace.drydown(f)),
        "check": lambda f: workspace.check(f, ProductUse(15.0)),
    }
    times: dict[str, list[float]] = {verb: [] for verb in verbs}
    for verb, step in verbs.items():
        step(formula(LINES[0], 99))  # what is loaded on first use
        for count in LINES:
            turns = range(2 if count > 40 else min(repeat, 5))
            times[verb].append(min(took(step, formula(count, turn)) for turn in turns))
    return growth("lines of a formula", LINES, times)


def json_of_drydown(table: Any) -> str:
    """Return all that `drydown` prints."""
    from recommender.output import formulas

    return json.dumps(formulas.drydown(table))


def growth_in_materials(repeat: int) -> str:
    """Return how the verbs grow with a made-up catalogue: each material again and again under other names."""
    from measure_page import lines

    from recommender.suggest import Request
    from recommender.workspace import Workspace

    times: dict[str, list[float]] = {"extend": [], "replace": [], "extend 40 lines": []}
    for size in MATERIALS:
        workspace = Workspace(palette=made_up(size))

        def ask(verb: str, turn: int, workspace: Workspace = workspace) -> object:
            match verb:
                case "extend":
                    return workspace.extend("benzaldehyde", Request(facet="almond", until_hours=24.0))
                case "replace":
                    return workspace.replace("benzaldehyde", Request())
            return workspace.extend(
                [(one["material"], float(one["parts"]) + turn) for one in lines(40)], Request()
            )

        for verb, seconds in times.items():
            ask(verb, 99)  # what is worked out on first use
            seconds.append(min(took(ask, verb, turn) for turn in range(min(repeat, 2))))
    return growth("materials", MATERIALS, times)


def made_up(size: int) -> Any:
    """Return a palette of about as many materials, copies of those that are shipped."""
    from recommender.palette import Palette, shipped

    catalogue = shipped().catalogue
    materials, relations = list(catalogue.materials), list(catalogue.relations)
    for copy in range(1, round(size / len(catalogue.materials))):
        materials += [
            replace(m, slug=f"{m.slug}-{copy}", name=f"{m.name} {copy}", cas="") for m in catalogue.materials
        ]
        relations += [
            replace(r, start=f"{r.start}-{copy}", end=f"{r.end}-{copy}") for r in catalogue.relations
        ]
    index = {material.slug: row for row, material in enumerate(materials)}
    return Palette.of(replace(catalogue, materials=tuple(materials), relations=tuple(relations), index=index))


INSIDE: Mapping[str, Callable[[int], str]] = {
    "simulation": simulation,
    "likeness": likeness,
    "growth-in-lines": growth_in_lines,
    "growth-in-materials": growth_in_materials,
    "build": build,
}
"""What is measured within one process, by name."""


def main() -> None:
    """Print one line a measurement."""
    raw = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=raw)
    parser.add_argument("--repeat", type=int, default=7, help="runs of each row")
    parser.add_argument(
        "--only", action="append", metavar="ROW", help="this row, and the yardstick; may be repeated"
    )
    parser.add_argument("--busy", type=int, default=0, metavar="N", help="again, beside N busy processes")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        commands = rows(Path(folder))
        only = given.only or [*commands, *INSIDE]
        if unknown := [name for name in only if name not in commands and name not in INSIDE]:
            parser.error(f"no row is called {unknown[0]}; there are {', '.join((*commands, *INSIDE))}")
        chosen = {name: row for name, row in commands.items() if name in only}
        if chosen:
            show_commands({"yardstick": commands["yardstick"], **chosen}, given.repeat, given.busy)
        for name, step in INSIDE.items():
            if name in only:
                print(in_child(step, given.repeat), flush=True)


if __name__ == "__main__":
    main()
