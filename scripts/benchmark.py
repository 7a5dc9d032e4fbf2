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

PYTHON = sys.executable
RECOMMENDER = [PYTHON, "-c", "from recommender.cli import main; main()"]
YARDSTICK = [PYTHON, "-c", "import pandas, sklearn.neighbors, networkx"]
EXTEND = [*RECOMMENDER, "extend", "benzaldehyde", "--facet", "almond", "--until", "24h", "--format", "json"]


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


def main() -> None:
    """Print one line a measurement."""
    raw = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=raw)
    parser.add_argument("--repeat", type=int, default=7, help="runs of each command; the best counts")
    repeat = parser.parse_args().repeat
    yardstick = best_seconds(YARDSTICK, repeat)
    print(f"yardstick, import of pandas, scikit-learn and networkx: {yardstick * 1e3:.0f} ms")
    for name, command, aim in (
        ("recommender --help", [*RECOMMENDER, "--help"], 0.1),
        ("recommender extend", EXTEND, 0.5),
    ):
        seconds = best_seconds(command, repeat)
        ratio = seconds / yardstick
        print(f"{name}: {seconds * 1e3:.0f} ms, {ratio:.3f} of the yardstick (aim {aim} or less)")
    print(f"peak memory of recommender extend: {peak_mb(EXTEND):.0f} MB (aim under 150 MB)")


if __name__ == "__main__":
    main()
