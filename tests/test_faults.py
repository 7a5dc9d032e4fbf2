"""Fault injection for the notebook: no row that was reported as saved may be lost.

RECOMMENDER_FAULTS=all kills and writes more often.
"""

import contextlib
import ctypes
import errno
import os
import platform
import random
import resource
import signal
import socket
import sqlite3
import stat
import struct
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import every_writer
import pytest
from notebook_writers import labels, lost, write, writer, writers

from recommender.notebook import backup, csv_folder, store
from recommender.notebook.migrations import newest

pytestmark = [
    pytest.mark.faults,
    pytest.mark.skipif(
        sys.platform != "linux", reason="faults of disks and folders are made as Linux has them"
    ),
]
LONG = os.environ.get("RECOMMENDER_FAULTS") == "all"
KILLS, WRITES, RESTORES = (100, 500, 100) if LONG else (6, 40, 5)
EVERY_KILL = 200 if LONG else 4
LONGEST_LIFE_S = 1.5
COMMAND = "from recommender.cli import main; main()"
OVERRIDES = (1, 2)
"""CAP_DAC_OVERRIDE and CAP_DAC_READ_SEARCH: with them root writes where nobody may."""
PR_CAPBSET_DROP, PR_SET_NO_NEW_PRIVS, PR_SET_SECCOMP = 24, 38, 22
SYNCS = {"x86_64": (74, 75), "aarch64": (82, 83)}
"""The numbers of fsync and fdatasync (Linux, asm/unistd.h)."""


def command(path, *words, child=None):
    """Run the command line in a process of its own; returns its status and what it said on stderr."""
    done = subprocess.run(
        [sys.executable, "-c", COMMAND, *words],
        env={**os.environ, "RECOMMENDER_NOTEBOOK": str(path)},
        capture_output=True,
        text=True,
        preexec_fn=child,
        check=False,
    )
    assert "Traceback" not in done.stderr
    return done.returncode, done.stderr


def refused(ran, words):
    status, said = ran
    assert (status, said.count("\n")) == (2, 1)
    assert words in said


def test_a_lost_row_is_seen_though_another_one_stands_in_its_place(tmp_path):
    path = tmp_path / "notebook.sqlite"
    reported = write(path, "bottle", 3)
    assert lost(reported, path) == set()
    with store.writing(path) as db:
        db.execute("UPDATE bottles SET label = 'another' WHERE label = 'bottle 1'")
        db.execute("DELETE FROM labels WHERE key = 'bottle 2 0'")  # an entry by half
    assert lost(reported, path) == {"bottle 1", "bottle 2"}


def test_a_writer_that_is_killed_in_mid_write_loses_nothing(tmp_path):
    path, reported, chance = tmp_path / "notebook.sqlite", set(), random.Random(7)
    for number in range(KILLS):
        with subprocess.Popen(writer(path, f"run {number}"), stdout=subprocess.PIPE, text=True) as child:
            if number:  # the first may die while the file is made
                reported.add(child.stdout.readline().strip())
            time.sleep(chance.uniform(0.0, 0.15))
            child.send_signal(signal.SIGKILL)
            reported.update(line.strip() for line in child.stdout)
        if path.exists():
            assert lost(reported, path) == set()
            with contextlib.closing(sqlite3.connect(path)) as db:
                assert db.execute("SELECT count(*) FROM bottles").fetchone()[0] == len(labels(path))
    assert len(reported) >= KILLS - 1


def test_no_command_and_no_page_that_is_killed_in_mid_write_loses_what_it_reported(tmp_path):
    path, base, reported, chance = (
        tmp_path / "notebook.sqlite",
        tmp_path / "base.csv",
        set(),
        random.Random(9),
    )
    base.write_text("material,parts\nlinalool,3\n", encoding="utf-8")
    assert command(path, "formulas", "save", str(base))[0] == 0
    words = [sys.executable, every_writer.__file__, str(path), str(tmp_path)]
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as writers:
        for number in range(EVERY_KILL):
            writers.stdin.write(f"run {number}\n")
            writers.stdin.flush()
            child = int(writers.stdout.readline())
            if number % 2 == 0:  # the others may die in their first words
                reported.add(writers.stdout.readline().strip())
            time.sleep(chance.uniform(0.0, LONGEST_LIFE_S))
            os.kill(child, signal.SIGKILL)
            reported.update(line.strip() for line in iter(writers.stdout.readline, "ended\n"))
            assert reported - every_writer.stored(path) == set()
        writers.stdin.close()
    if LONG:
        ends = Counter(label.rpartition(" ")[2] if "." not in label else "limits" for label in reported)
        sys.stderr.write(f"{EVERY_KILL} kills, {len(reported)} labels reported, none missing: {dict(ends)}\n")


def test_two_writers_at_once_lose_nothing(tmp_path):
    path = tmp_path / "notebook.sqlite"
    both = [
        subprocess.Popen(writer(path, name, WRITES), stdout=subprocess.PIPE, text=True)
        for name in ("one", "two")
    ]
    reported = {line for child in both for line in child.communicate()[0].splitlines()}
    assert [child.returncode for child in both] == [0, 0]
    assert len(reported) == 2 * WRITES
    assert lost(reported, path) == set()


@pytest.mark.parametrize("way", ["restore", "import"])
def test_a_copy_that_takes_the_place_of_a_notebook_in_use_loses_nothing(tmp_path, way):
    path, copy, folder = (tmp_path / name for name in ("notebook.sqlite", "copy.sqlite", "out"))
    reported = write(path, "first", 5)
    backup.backup(path, copy)
    csv_folder.export(path, folder)
    kept = []
    with writers(path, ("one", "two", "three"), reported):
        for number in range(RESTORES):
            if way == "restore":
                aside = backup.restore(path, copy)
            else:
                aside = csv_folder.import_folder(path, folder, replace=True)[1]
            kept.append(tmp_path / f"kept-{number}.sqlite")
            kept[-1].hardlink_to(aside)  # only the last few are left beside the notebook
            time.sleep(0.1)
    assert len(reported) > 20
    assert lost(reported, path, *kept) == set()


@pytest.fixture
def disk(tmp_path):
    """Return a folder on a small disk of its own, and how a child gets no room where none can be mounted."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=512k", "tmpfs", str(folder)]
    mounted = subprocess.run(mount, capture_output=True, check=False).returncode == 0

    def fill():
        if mounted:
            with contextlib.suppress(OSError), (folder / "ballast").open("wb") as ballast:
                while True:
                    ballast.write(b"x" * 4096)
                    ballast.flush()
            return None

        def small():
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (65_536, 65_536))

        return small

    yield folder, fill
    if mounted:
        subprocess.run(["umount", str(folder)], check=True)


def test_a_full_disk_loses_nothing_and_still_answers(disk):
    folder, fill = disk
    path = folder / "notebook.sqlite"
    reported = write(path, "bottle", 20)
    child = fill()
    refused(
        command(path, "shelf", "add", "coumarin", "--note", "x" * 100_000, child=child), "nothing was changed"
    )
    assert command(path, "extend", "benzaldehyde", "--facet", "almond", child=child)[0] == 0
    if child is None:
        refused(command(folder / "new.sqlite", "shelf", "add", "coumarin"), "the disk is full")
        assert not (folder / "new.sqlite").exists()
    (folder / "ballast").unlink(missing_ok=True)
    assert lost(reported, path) == set()
    assert command(path, "shelf", "add", "coumarin")[0] == 0


PAGE = """
import sys
from pathlib import Path
from recommender.errors import BadNotebook
from recommender.web.server import line_edits
from recommender.web.server.session import PageSession
session = PageSession(Path(sys.argv[1]))
for number in range(int(sys.argv[2])):
    try:
        draft = session.create(f"draft {number}", [{}])
        edit = line_edits.set_cell(draft.lines[0]["id"], "note", "", f"typed {number}")
        session.change(draft.id, edit)
        print(f"typed {number}", flush=True)
    except BadNotebook as error:
        print(f"refused: {error}", flush=True)
"""


def test_a_disk_that_is_full_under_the_page_loses_nothing_and_says_so(disk):
    pytest.importorskip("nicegui")
    folder, fill = disk
    path = folder / "notebook.sqlite"

    def typed(count, child=None):
        done = subprocess.run(
            [sys.executable, "-c", PAGE, str(path), str(count)],
            stdout=subprocess.PIPE,
            text=True,
            preexec_fn=child,
            check=True,
        )
        return done.stdout.splitlines()

    reported = set(typed(10))
    said = typed(10, fill())
    assert any("nothing was changed" in line for line in said)
    reported |= {line for line in said if not line.startswith("refused")}
    (folder / "ballast").unlink(missing_ok=True)
    assert reported - every_writer.stored(path) == set()
    assert len(typed(1)) == 1


def as_nobody():
    """Become the user that owns nothing."""
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)


@pytest.mark.skipif(os.geteuid() != 0, reason="root alone can become another user")
def test_another_user_of_the_machine_gets_nothing():
    pytest.importorskip("nicegui")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)  # as a home is on many machines
        path = folder / "notebook.sqlite"
        write(path, "bottle", 3)
        backup.backup(path, folder / "copy.sqlite")
        backup.restore(path, folder / "copy.sqlite")
        csv_folder.export(path, folder / "out")
        serve = [sys.executable, "-c", COMMAND, "serve", "--no-browser", "--port", "0"]
        environment = {key: text for key, text in os.environ.items() if not key.startswith("PYTEST")}
        environment |= {"RECOMMENDER_NOTEBOOK": str(path), "PYTHONUNBUFFERED": "1"}
        with subprocess.Popen(serve, env=environment, stdout=subprocess.PIPE, text=True) as server:
            try:
                printed = next(word for word in server.stdout.readline().split() if word.startswith("http"))
                url, _, token = printed.partition("/?token=")
                for _ in range(600):
                    with (
                        contextlib.suppress(OSError),
                        socket.create_connection(("127.0.0.1", int(url.rpartition(":")[2])), 1),
                    ):
                        break
                    time.sleep(0.1)
                asked = " ".join(
                    f"cat {place} || true;"
                    for place in (path, f"{path}-wal", *folder.glob("*.sqlite"), folder / "out/bottles.csv")
                )
                asked += f"ls {folder / 'out'} || true; cat /proc/{server.pid}/environ || true;"
                asked += f"tr '\\0' ' ' < /proc/{server.pid}/cmdline;"
                for where in ("/", "/shelf", "/?token=x", "/_nicegui_ws/socket.io/?EIO=4&transport=polling"):
                    asked += f"curl -s -w '%{{http_code}}\n' '{url}{where}';"
                found = subprocess.run(
                    ["sh", "-c", asked], capture_output=True, text=True, preexec_fn=as_nobody, check=False
                )
            finally:
                server.send_signal(signal.SIGINT)
                server.wait(30)
    assert found.stdout.count("403\n") == 4
    for secret in ("SQLite", "bottle 1", "bottle,", token):
        assert secret not in found.stdout
    assert found.stderr.count("Permission denied") >= 6


def powerless():
    """Take from a child what lets root write anywhere."""
    if os.geteuid() == 0:
        for capability in OVERRIDES:
            ctypes.CDLL(None, use_errno=True).prctl(PR_CAPBSET_DROP, capability, 0, 0, 0)


def test_a_folder_that_cannot_be_written_loses_nothing_and_is_read(tmp_path):
    closed = tmp_path / "closed"
    path = closed / "notebook.sqlite"
    reported = write(path, "bottle", 20)
    closed.chmod(stat.S_IRUSR | stat.S_IXUSR)
    path.chmod(stat.S_IRUSR)
    try:
        refused(command(path, "shelf", "add", "coumarin", child=powerless), "nothing was changed")
        assert command(path, "shelf", "list", child=powerless)[0] == 0
        new = closed / "new.sqlite"
        refused(command(new, "shelf", "add", "coumarin", child=powerless), "folder readable and writable")
        assert not new.exists()
        closed.chmod(stat.S_IRUSR)  # a notebook that cannot be looked at is not one that is missing
        refused(command(path, "shelf", "list", child=powerless), "it cannot be opened")
    finally:
        closed.chmod(stat.S_IRWXU)
        path.chmod(stat.S_IRUSR | stat.S_IWUSR)
    assert lost(reported, path) == set()


def test_a_file_cut_short_is_refused_and_a_backup_brings_all_back(tmp_path):
    path, copy = tmp_path / "notebook.sqlite", tmp_path / "copy.sqlite"
    reported = write(path, "bottle", 50)
    backup.backup(path, copy)
    whole, parts = path.read_bytes(), 40 if LONG else 3
    for length in sorted({len(whole) * part // parts for part in range(parts)} | {len(whole) - 1}):
        path.write_bytes(whole[:length])
        for end in ("-wal", "-shm"):
            path.with_name(path.name + end).unlink(missing_ok=True)
        refused(command(path, "shelf", "list"), "notebook restore")
        assert command(path, "notebook", "restore", str(copy))[0] == 0
        assert lost(reported, path) == set()


def test_a_notebook_of_a_newer_version_is_refused_and_left_alone(tmp_path):
    path = tmp_path / "notebook.sqlite"
    write(path, "bottle", 5)
    with contextlib.closing(sqlite3.connect(path)) as db:
        db.execute(f"PRAGMA user_version = {newest() + 1}")
    before = path.read_bytes()
    for words in (("shelf", "add", "coumarin"), ("extend", "benzaldehyde")):
        refused(command(path, *words), "newer version")
    assert path.read_bytes() == before


# SQLite, PRAGMA synchronous: 2 is FULL; 1 (NORMAL) may lose the last transactions of a write-ahead log when
# the power fails; 0 (OFF) may damage the file
def test_every_writing_connection_waits_for_the_disk(tmp_path, monkeypatch):
    path, made = tmp_path / "notebook.sqlite", []

    class Watched(sqlite3.Connection):
        def close(self):
            made.append(self.execute("PRAGMA synchronous").fetchone()[0])
            super().close()

    connect = sqlite3.connect
    monkeypatch.setattr(sqlite3, "connect", lambda *args, **more: connect(*args, factory=Watched, **more))
    with store.writing(path) as db:  # the first makes the file
        assert db.execute("PRAGMA synchronous").fetchone()[0] == 2
    backup.backup(path, tmp_path / "copy.sqlite")
    backup.restore(path, tmp_path / "copy.sqlite")
    assert set(made) == {2}


def refuse_syncs():
    """Make every fsync and fdatasync of this process fail, as on a disk that gives way (seccomp, Linux)."""
    load, equal, give, allow, fail = 0x20, 0x15, 0x06, 0x7FFF0000, 0x00050000 | errno.EIO
    first, second = SYNCS[platform.machine()]
    steps = [
        (load, 0, 0, 0),
        (equal, 2, 0, first),
        (equal, 1, 0, second),
        (give, 0, 0, allow),
        (give, 0, 0, fail),
    ]
    code = ctypes.create_string_buffer(b"".join(struct.pack("HBBI", *step) for step in steps))
    program = ctypes.create_string_buffer(struct.pack("HxxxxxxP", len(steps), ctypes.addressof(code)))
    calls = ctypes.CDLL(None, use_errno=True)
    for words in ((PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0), (PR_SET_SECCOMP, 2, program, 0, 0)):
        if calls.prctl(*words):
            raise OSError(ctypes.get_errno(), "a filter of system calls is not allowed here")


SAVE_ONE = """
import sys
from pathlib import Path
from recommender.notebook.store import writing
with writing(Path(sys.argv[1])) as db:
    if sys.argv[2]:
        db.execute("COMMIT")
        db.execute(f"PRAGMA synchronous = {sys.argv[2]}")
        db.execute("BEGIN IMMEDIATE")
    db.execute("INSERT INTO bottles (label, key) VALUES ('last', 'last')")
print("saved")
"""


@pytest.mark.skipif(
    platform.machine() not in SYNCS, reason="the numbers of its system calls are not known here"
)
@pytest.mark.parametrize(("level", "saved"), [("", ""), ("NORMAL", "saved\n"), ("OFF", "saved\n")])
def test_a_row_is_saved_only_once_the_disk_has_it(tmp_path, level, saved):
    path = tmp_path / "notebook.sqlite"
    write(path, "bottle", 3)
    with contextlib.closing(store.opened(path)) as db:  # so the log stays, and its head is written already
        db.execute("INSERT INTO bottles (label, key) VALUES ('first', 'first')")
        done = subprocess.run(
            [sys.executable, "-c", SAVE_ONE, str(path), level],
            capture_output=True,
            text=True,
            preexec_fn=refuse_syncs,
            check=False,
        )
    assert done.stdout == saved  # the other levels do not wait, so that this test would see them
    assert ("BadNotebook" in done.stderr) == (saved == "")
