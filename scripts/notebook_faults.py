#!/usr/bin/env python3
"""Hurt a notebook in every way that is known, and count the rows that are lost.

usage: scripts/notebook_faults.py [--kills N] [--writes N]

One line a fault: how often, rows promised, rows lost, and the message that a person sees. A row counts as
promised once the program has said that it is kept. Needs Linux for the faults of disks and folders.
"""

import argparse
import contextlib
import ctypes
import os
import random
import resource
import shutil
import signal
import sqlite3
import stat
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from recommender.notebook import newest, steps

CODE = "from recommender.cli import main; main()"
WRITER = """
import sys
from pathlib import Path
from recommender.notebook import writing
path, name, count = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
for number in range(count):
    with writing(path) as db:
        label = f"{name} {number}"
        db.execute("INSERT INTO bottles (label, key) VALUES (?, ?)", (label, label))
        db.executemany(
            "INSERT INTO labels (key, label, material) VALUES (?, '', 'x')",
            [(f"{label} {n}",) for n in range(20)],
        )
    print(label, flush=True)
"""
KEEP_CAPABILITIES = {1, 2}
"""CAP_DAC_OVERRIDE and CAP_DAC_READ_SEARCH: what lets root write where nobody may."""


def run(path: Path, *words: str, child: object = None) -> tuple[int, str]:
    """Ask the command line in a process of its own; returns its status and the first line of stderr."""
    done = subprocess.run(
        [sys.executable, "-c", CODE, *words],
        env={**os.environ, "RECOMMENDER_NOTEBOOK": str(path)},
        capture_output=True,
        text=True,
        preexec_fn=child,  # type: ignore[arg-type]
        check=False,
    )
    lines = done.stderr.strip().splitlines()
    if "Traceback" in done.stderr or "a fault of the program" in done.stderr:
        raise SystemExit(done.stderr)
    return done.returncode, lines[0] if lines else ""


def count(path: Path, table: str = "bottles") -> int:
    """Return how many rows a notebook has, its log read too."""
    with contextlib.closing(sqlite3.connect(path)) as db:
        if db.execute("PRAGMA integrity_check").fetchone()[0] != "ok":
            raise SystemExit(f"{path} is damaged")
        return int(db.execute(f"SELECT count(*) FROM {table}").fetchone()[0])


def told(fault: str, times: int, promised: int, kept: int, message: str) -> None:
    """Print one line of the table."""
    print(f"{fault:<26} {times:>5}  {promised:>8}  {max(promised - kept, 0):>5}  {message}", flush=True)


def writer(path: Path, name: str, writes: int) -> list[str]:
    """Return the command of a process that writes so many entries, one transaction each."""
    return [sys.executable, "-c", WRITER, str(path), name, str(writes)]


def filled(path: Path, rows: int = 50) -> Path:
    """Return the path of a new notebook with some bottles."""
    subprocess.run(writer(path, "bottle", rows), stdout=subprocess.DEVNULL, check=True)
    return path


def kills(folder: Path, times: int) -> None:
    """Kill a writer at random moments; every row that it said was kept has to be there."""
    path, promised = folder / "kill.sqlite", 0
    chance = random.Random(7)
    halves = 0
    for number in range(times):
        child = subprocess.Popen(writer(path, f"run {number}", 100_000), stdout=subprocess.PIPE, text=True)
        assert child.stdout is not None
        said = [child.stdout.readline()] if number else []  # the first may die while the file is made
        time.sleep(chance.uniform(0.0, 0.15))
        child.send_signal(signal.SIGKILL)
        promised += len(said) + len(child.stdout.readlines())
        child.wait()
        if path.exists() and count(path, "labels") != 20 * count(path):
            halves += 1
    kept = count(path)
    status, line = run(path, "shelf", "list")
    message = line or f"none needed (status {status}); entries kept by half: {halves}"
    told("kill -9 in mid-write", times, promised, kept, message)


def writers(folder: Path, writes: int) -> None:
    """Let two processes write at once."""
    path = folder / "two.sqlite"
    both = [
        subprocess.Popen(writer(path, name, writes), stdout=subprocess.DEVNULL) for name in ("one", "two")
    ]
    failed = sum(child.wait() != 0 for child in both)
    told(
        "two writers at once",
        2 * writes,
        2 * writes,
        count(path),
        f"writers that gave up: {failed}",
    )


def full(folder: Path) -> None:
    """Write onto a disk without room: a small file system where one can be mounted, else a size limit."""
    disk = folder / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=512k", "tmpfs", str(disk)], capture_output=True, check=False
    )
    try:
        path = filled(disk / "full.sqlite", 20)
        before = count(path)

        def small() -> None:
            if mounted.returncode:
                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                resource.setrlimit(resource.RLIMIT_FSIZE, (path.stat().st_size, path.stat().st_size))

        if not mounted.returncode:
            with contextlib.suppress(OSError), (disk / "ballast").open("wb") as ballast:
                while True:
                    ballast.write(b"x" * 4096)
                    ballast.flush()
        status, line = run(path, "shelf", "add", "coumarin", "--note", "x" * 40_000, child=small)
        first = run(disk / "new.sqlite", "shelf", "add", "coumarin", child=small)
        asked = run(path, "extend", "benzaldehyde", "--facet", "almond", child=small)
        (disk / "ballast").unlink(missing_ok=True)
        told("disk full", 1, before, count(path), f"status {status}: {line}")
        told("disk full, first entry", 1, 0, 0, f"status {first[0]}: {first[1]}")
        told("disk full, an answer", 1, before, count(path), f"status {asked[0]}: {asked[1] or 'the answer'}")
    finally:
        if not mounted.returncode:
            subprocess.run(["umount", str(disk)], check=False)


def powerless() -> None:
    """Take from a child what lets root write anywhere."""
    if os.geteuid() == 0:
        for capability in KEEP_CAPABILITIES:
            ctypes.CDLL(None, use_errno=True).prctl(24, capability, 0, 0, 0)


def read_only(folder: Path) -> None:
    """Write into, and read from, a folder that nobody may write."""
    closed = folder / "closed"
    closed.mkdir()
    path = filled(closed / "notebook.sqlite")
    before = count(path)
    closed.chmod(stat.S_IRUSR | stat.S_IXUSR)
    path.chmod(stat.S_IRUSR)
    try:
        status, line = run(path, "shelf", "add", "coumarin", child=powerless)
        told("read-only folder, write", 1, before, count(path), f"status {status}: {line}")
        status, line = run(path, "shelf", "list", child=powerless)
        told("read-only folder, read", 1, before, count(path), f"status {status}: {line or 'the list'}")
        status, line = run(closed / "new.sqlite", "shelf", "add", "coumarin", child=powerless)
        told("read-only, first entry", 1, 0, 0, f"status {status}: {line}")
    finally:
        closed.chmod(stat.S_IRWXU)
        path.chmod(stat.S_IRUSR | stat.S_IWUSR)


def cut(folder: Path) -> None:
    """Cut the file short at many lengths; it is refused each time, and a backup brings all back."""
    path = filled(folder / "cut.sqlite")
    copy = folder / "copy.sqlite"
    run(path, "notebook", "backup", str(copy))
    whole, messages, opened = path.read_bytes(), {}, 0
    lengths = sorted({len(whole) * part // 40 for part in range(40)} | {len(whole) - 1})
    for length in lengths:
        path.write_bytes(whole[:length])
        for suffix in ("-wal", "-shm"):
            path.with_name(path.name + suffix).unlink(missing_ok=True)
        status, line = run(path, "shelf", "list")
        opened += status == 0
        messages[line.split(": ", 2)[-1]] = messages.get(line.split(": ", 2)[-1], 0) + 1
    most = max(messages, key=lambda text: messages[text])
    status, _ = run(path, "notebook", "restore", str(copy))
    told("file cut short", len(lengths), 50, count(path), f"{opened} taken for whole; mostly: {most}")
    told("  then restore", 1, 50, count(path), f"status {status}")


def newer(folder: Path) -> None:
    """Open a notebook that a later version wrote."""
    path = filled(folder / "newer.sqlite")
    with contextlib.closing(sqlite3.connect(path)) as db:
        db.execute(f"PRAGMA user_version = {newest() + 1}")
    before = path.read_bytes()
    for words in (("shelf", "add", "coumarin"), ("extend", "benzaldehyde")):
        status, line = run(path, *words)
        told(f"newer schema, {words[0]}", 1, 50, count(path), f"status {status}: {line}")
    if path.read_bytes() != before:
        raise SystemExit("a newer notebook was changed")


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--kills", type=int, default=100, help="how often a writer is killed")
    parser.add_argument("--writes", type=int, default=500, help="how much each of two writers writes")
    given = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="notebook-faults-"))
    print(f"schema steps: {', '.join(str(step) for step in steps())}")
    print(f"{'fault':<26} {'times':>5}  {'promised':>8}  {'lost':>5}  message")
    try:
        kills(folder, given.kills)
        writers(folder, given.writes)
        full(folder)
        read_only(folder)
        cut(folder)
        newer(folder)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
