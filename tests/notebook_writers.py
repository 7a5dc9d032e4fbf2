"""Processes that write into a notebook, and what they reported as saved."""

import contextlib
import sqlite3
import subprocess
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

PARTS = 5
"""How many rows of another table belong to each bottle, in the same transaction."""
CODE = f"""
import itertools, sys
from pathlib import Path
from recommender.notebook.store import writing
for number in range(int(sys.argv[3])) if int(sys.argv[3]) else itertools.count():
    label = f"{{sys.argv[2]}} {{number}}"
    with writing(Path(sys.argv[1])) as db:
        db.execute("INSERT INTO bottles (label, key) VALUES (?, ?)", (label, label))
        db.executemany(
            "INSERT INTO labels VALUES (?, ?, 'x')", [(f"{{label}} {{n}}", label) for n in range({PARTS})]
        )
    print(label, flush=True)
"""


def writer(path: Path, name: str, count: int = 0) -> list[str]:
    """Return the command of a process that saves so many bottles (0: without end) and prints each label."""
    return [sys.executable, "-c", CODE, str(path), name, str(count)]


def write(path: Path, name: str, count: int) -> set[str]:
    """Save so many bottles from another process; returns the labels that it reported."""
    done = subprocess.run(writer(path, name, count), stdout=subprocess.PIPE, text=True, check=True)
    return set(done.stdout.splitlines())


@contextlib.contextmanager
def writers(path: Path, names: Iterable[str], reported: set[str]) -> Iterator[None]:
    """Let processes write until they are killed at the end; `reported` gets what they reported."""
    children = [subprocess.Popen(writer(path, name), stdout=subprocess.PIPE, text=True) for name in names]
    try:
        reported.update(child.stdout.readline().strip() for child in children if child.stdout)
        yield  # all are at work
    finally:
        for child in children:
            child.kill()
        for child in children:
            with child:
                reported.update(line.strip() for line in child.stdout or ())


def labels(path: Path) -> set[str]:
    """Return the labels of the bottles that are whole in a notebook, its log read too."""
    with contextlib.closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        found = db.execute(
            "SELECT label, (SELECT count(*) FROM labels l WHERE l.label = b.label) FROM bottles b"
        )
        return {label for label, parts in found if parts in (0, PARTS)}


def lost(reported: set[str], *paths: Path) -> set[str]:
    """Return the labels that were reported as saved and stand whole in none of these notebooks."""
    return reported.difference(*(labels(path) for path in paths))
