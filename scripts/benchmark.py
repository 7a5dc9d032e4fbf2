#!/usr/bin/env python3
"""Measure speed as ratios in one run, and the memory of an answer.

usage: scripts/benchmark.py [--repeat N]

Each command is a whole process; of N runs the best counts. The yardstick is a process that only imports
pandas, scikit-learn's neighbours and networkx. Nothing here is a test: machines differ.
"""

import argparse
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PYTHON = sys.executable
RECOMMENDER = [PYTHON, "-c", "from recommender.cli import main; main()"]
YARDSTICK = [PYTHON, "-c", "import pandas, sklearn.neighbors, networkx"]
EXTEND = [*RECOMMENDER, "extend", "benzaldehyde", "--facet", "almond", "--until", "24h", "--format", "json"]
FORMULA = [*RECOMMENDER, "extend", str(ROOT / "data/demo/morello.csv"), "--format", "json"]


def best_seconds(command: Sequence[str], repeat: int) -> float:
    """Return the shortest wall time of a whole process [s]."""
    times = []
    for _ in range(repeat):
        start = time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        times.append(time.perf_counter() - start)
    return min(times)


def peak_mb(command: Sequence[str]) -> float:
    """Return the peak resident memory of a process [MB]."""
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(child.pid, 0)
    if status:
        raise SystemExit(f"{' '.join(command)} ended with status {status}")
    return usage.ru_maxrss / 1024


def simulation(repeat: int) -> None:
    """Print the time to try 500 candidates in a formula of 40 materials, and against an ODE solver."""
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
    ours = []
    for _ in range(repeat):
        start = time.perf_counter()
        simulate(formula, candidates, shares)
        ours.append(time.perf_counter() - start)
    film = with_added(formula, candidates[0], 0.01)
    hours = np.geomspace(1 / 60, 168, 60)

    def loss(_: float, moles: "np.ndarray") -> "np.ndarray":
        return -film.rates * moles / (film.inert + moles.sum())

    start = time.perf_counter()
    solve_ivp(
        loss, (0, hours[-1] * 3600), film.moles, method="BDF", t_eval=hours * 3600, rtol=1e-6, atol=1e-15
    )
    stiff = time.perf_counter() - start
    each = min(ours) / len(candidates)
    print(
        f"{len(candidates)} candidates in {len(formula.amounts)} materials: {min(ours) * 1e3:.0f} ms "
        f"(aim 100 ms), {stiff / each:.0f} times faster than a stiff ODE solver for each (aim 20)"
    )


def likeness(repeat: int, materials: int = 100_000) -> None:
    """Print the time of one material's likeness to a made-up catalogue, against numpy's own product."""
    import numpy as np

    from recommender.palette import shipped
    from recommender.similarity.odour_space import OdourSpace

    space, rng = shipped().space, np.random.default_rng(0)
    weights = rng.choice([0.0, 0.3, 0.6, 1.0], (materials, len(space.facets)), p=[0.955, 0.02, 0.015, 0.01])
    crowd = OdourSpace.build(space.facets, weights, space.labels, space.panel)
    times: dict[str, list[float]] = {"ours": [], "numpy": []}
    for _ in range(5 * repeat):
        for name, step in (
            ("ours", lambda: crowd.likeness(0)),
            ("numpy", lambda: crowd.vectors @ crowd.vectors[0]),
        ):
            start = time.perf_counter()
            step()
            times[name].append(time.perf_counter() - start)
    ours, own = min(times["ours"]), min(times["numpy"])
    print(
        f"likeness of one material to {materials}: {ours * 1e3:.1f} ms, "
        f"{ours / own:.2f} times numpy's own product (aim 2 or less)"
    )


def build(repeat: int) -> None:
    """Print how long the tables take to build."""
    seconds = best_seconds([PYTHON, str(ROOT / "scripts" / "build_tables.py"), "--check"], min(repeat, 2))
    print(f"build of all tables, with its checks: {seconds:.1f} s")


def main() -> None:
    """Print one line a measurement."""
    raw = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=raw)
    parser.add_argument("--repeat", type=int, default=7, help="runs of each command; the best counts")
    repeat = parser.parse_args().repeat
    yardstick = best_seconds(YARDSTICK, repeat)
    print(f"yardstick, import of pandas, scikit-learn and networkx: {yardstick * 1e3:.0f} ms")
    for name, command, target in (
        ("recommender --help", [*RECOMMENDER, "--help"], 0.1),
        ("recommender extend", EXTEND, 0.5),
        ("recommender extend FORMULA", FORMULA, 1.0),
    ):
        seconds = best_seconds(command, repeat)
        ratio = seconds / yardstick
        print(f"{name}: {seconds * 1e3:.0f} ms, {ratio:.3f} of the yardstick (aim {target} or less)")
    print(f"peak memory of recommender extend: {peak_mb(EXTEND):.0f} MB (aim under 150 MB)")
    build(repeat)
    # these two last: they fill this process with what a child would inherit
    likeness(repeat)
    simulation(repeat)


if __name__ == "__main__":
    main()
