#!/usr/bin/env python3
"""Fill a notebook, export it to a folder of CSV files and back, and time an answer with and without it.

usage: scripts/notebook_size.py [--bottles N] [--versions N] [--readings N] [--repeat N]
"""

import argparse
import contextlib
import os
import pty
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from recommender.model import Bottle, Formula, Line
from recommender.notebook import formulas, shelf, store
from recommender.notebook.csv_folder import counts, digest, tables
from recommender.palette import shipped

CODE = "from recommender.cli import main; main()"
EXTEND = ("extend", "benzaldehyde", "--facet", "almond", "--until", "24h", "--format", "json")
LINES = 15
"""Lines of a formula."""


def fill(path: Path, bottles: int, versions: int, readings: int) -> None:
    """Write an invented studio of the given size in one transaction."""
    chance = random.Random(3)
    catalogue = shipped().catalogue
    palette = [m for m in catalogue.materials if m.role == "palette" and m.kind != "solvent"]
    with store.writing(path) as db:
        for number in range(bottles):
            material = chance.choice(palette)
            dilution = chance.choice((100.0, 10.0, 1.0))
            label = f"={material.name}, bottle {number}; -{dilution:g} %"  # as bad as a label can be
            solvent = "" if dilution == 100 else "dipropylene-glycol"
            shelf.add(
                db,
                Bottle(
                    label,
                    material.slug,
                    dilution,
                    solvent,
                    chance.uniform(0, 200),
                    chance.uniform(0.01, 9),
                    f"202{chance.randrange(6)}-0{chance.randrange(1, 10)}-1{chance.randrange(10)}",
                    f"L-{number}",
                ),
            )
            shelf.remember(db, label, material.slug)
        for number in range(versions):
            lines = tuple(Line(m, round(chance.uniform(0.1, 300), 3)) for m in chance.sample(palette, LINES))
            formulas.save(db, Formula(f"study {number // 4}", lines), f"2025-01-01T00:00:{number % 60:02d}")
        if "trial_readings" in tables(db):
            per_trial = 10
            for number in range(readings // per_trial):
                db.execute(
                    "INSERT INTO trials (id, version) VALUES (?, ?)", (number + 1, number % versions + 1)
                )
                db.executemany(
                    "INSERT INTO trial_readings (trial, place, hours, facet, said, words)"
                    " VALUES (?, ?, ?, 'rose', 'clear', ?)",
                    [(number + 1, n + 1, chance.uniform(0, 72), f"+like tea {n}") for n in range(per_trial)],
                )


def timed(path: Path, *words: str) -> tuple[float, str]:
    """Run a command whose stderr is a terminal; return the seconds and what the terminal showed."""
    master, slave = pty.openpty()
    command = [sys.executable, "-c", CODE, *words, "--notebook", str(path)]
    start = time.perf_counter()
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=slave)
    os.close(slave)
    shown = b""
    with contextlib.suppress(OSError):  # reading raises at the end of a terminal
        while heard := os.read(master, 65536):
            shown += heard
    status, seconds = child.wait(), time.perf_counter() - start
    os.close(master)
    if status:
        raise SystemExit(shown.decode())
    return seconds, shown.decode()


def bar(shown: str) -> str:
    """Return the last full state of a progress bar, without the codes of the terminal."""
    frames = [re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", frame).strip() for frame in re.split(r"[\r\n]+", shown)]
    return next((frame for frame in reversed(frames) if frame), "")


def best(path: Path, repeat: int, rival: Path) -> tuple[float, float]:
    """Return the shortest whole-process seconds of an answer with two notebooks, asked in turn."""
    times: dict[Path, list[float]] = {path: [], rival: []}
    for _ in range(repeat):
        for place, seconds in times.items():
            environment = {**os.environ, "RECOMMENDER_NOTEBOOK": str(place)}
            start = time.perf_counter()
            subprocess.run(
                [sys.executable, "-c", CODE, *EXTEND],
                env=environment,
                check=True,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
            seconds.append(time.perf_counter() - start)
    return min(times[path]), min(times[rival])


def fingerprint(path: Path) -> tuple[str, dict[str, int]]:
    """Return the hash and the row counts of all tables."""
    with store.reading(path) as db:
        assert db is not None
        return digest(db), counts(db)


def main() -> None:
    """Print sizes, times and whether the round trip is the identity."""
    raw = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=raw)
    parser.add_argument("--bottles", type=int, default=5_000)
    parser.add_argument("--versions", type=int, default=2_000)
    parser.add_argument("--readings", type=int, default=20_000)
    parser.add_argument("--repeat", type=int, default=9, help="runs of each answer; the best counts")
    given = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="notebook-size-"))
    path, other, out = folder / "notebook.sqlite", folder / "other.sqlite", folder / "out"
    try:
        start = time.perf_counter()
        fill(path, given.bottles, given.versions, given.readings)
        before, rows = fingerprint(path)
        print(f"filled in {time.perf_counter() - start:.1f} s, {path.stat().st_size / 1e6:.1f} MB")
        print("rows: " + ", ".join(f"{name} {number}" for name, number in rows.items() if number))
        for words in (("export", str(out)), ("backup", str(folder / "copy.sqlite"))):
            seconds, shown = timed(path, "notebook", *words)
            print(f"{words[0]}: {seconds:.1f} s; the terminal shows {bar(shown)!r}")
        seconds, shown = timed(other, "notebook", "import", str(out))
        print(f"import: {seconds:.1f} s; the terminal shows {bar(shown)!r}")
        after, _ = fingerprint(other)
        print(f"hash of all tables before {before[:16]}, after {after[:16]}: identical {before == after}")
        with_it, without = best(path, given.repeat, folder / "nowhere.sqlite")
        print(
            f"extend, whole process: {with_it * 1e3:.0f} ms with it, {without * 1e3:.0f} ms without, "
            f"ratio {with_it / without:.3f}"
        )
    finally:
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
