#!/usr/bin/env python3
"""Measure an archive on the command line: import, affected, check, search, mend; time and memory.

usage: scripts/measure_archive.py SOURCE STORE [--workers N] [--only STEP]...

SOURCE is a folder of `scripts/make_archive.py`. Memory is the most that all processes had together, shared
pages counted once for each. Nothing here is a test: machines differ.
"""

import argparse
import os
import resource
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path

START = "from recommender.cli import main; main()"
CHECK = ("--dosage", "15", "--market", "eu")


def steps(source: str, store: str, workers: Sequence[str]) -> dict[str, list[str]]:
    """Return the words of each step."""
    return {
        "import": ["import", source, "--store", store, *workers],
        "import again": ["import", source, "--store", store, *workers],
        "affected": ["affected", "coumarin", "--store", store],
        "check": ["check", "--store", store, *CHECK, *workers],
        "check again": ["check", "--store", store, *CHECK, *workers],
        "search": ["search", "--store", store, "--gives", "hay", *workers],
        "search again": ["search", "--store", store, "--gives", "almond", *workers],
        "mend": ["mend", "--ban", "coumarin", "--store", store, *workers],
        "mend again": ["mend", "--ban", "coumarin", "--store", store, *workers],
    }


def memory_mb(process: int) -> float:
    """Return what a process and those below it have in memory [MB]."""
    total, waiting = 0.0, [process]
    while waiting:
        number = waiting.pop()
        try:
            pages = int(Path(f"/proc/{number}/statm").read_text(encoding="ascii").split()[1])
            tasks = Path(f"/proc/{number}/task").glob("*/children")
            below = " ".join(path.read_text(encoding="ascii") for path in tasks)
        except (OSError, IndexError):
            continue
        total += pages * os.sysconf("SC_PAGE_SIZE") / 1e6
        waiting += map(int, below.split())
    return total


def measured(words: Sequence[str]) -> tuple[float, float, float, str]:
    """Return seconds, processor time, peak memory [MB] and the first lines of the answer of a command."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    child = subprocess.Popen(
        [sys.executable, "-c", START, "archive", *words], stdout=subprocess.PIPE, text=True
    )
    lines: list[str] = []
    reader = threading.Thread(target=lambda: lines.extend(child.stdout or ()))
    reader.start()
    peak = 0.0
    while child.poll() is None:
        peak = max(peak, memory_mb(child.pid))
        time.sleep(0.1)
    reader.join()
    took, after = time.monotonic() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return took, used, peak, " ".join(line.strip() for line in lines[:2])


def main() -> None:
    """Measure each step."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("source")
    parser.add_argument("store")
    parser.add_argument("--workers")
    parser.add_argument("--only", action="append")
    given = parser.parse_args()
    workers = ["--workers", given.workers] if given.workers else []
    for name, words in steps(given.source, given.store, workers).items():
        if given.only and name not in given.only:
            continue
        took, used, peak, answer = measured(words)
        print(f"{name:14} {took:7.1f} s, CPU {used:7.1f} s, {peak:6.0f} MB  {answer[:100]}", flush=True)


if __name__ == "__main__":
    main()
