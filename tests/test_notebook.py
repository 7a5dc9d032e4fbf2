import contextlib
import multiprocessing
import os
import sqlite3
import subprocess
import sys

import pytest
from command_line import run

from recommender.errors import BadNotebook
from recommender.notebook import migrations as schema
from recommender.notebook import store
from recommender.notebook.csv_folder import digest, tables

FIG = (
    '{"id": 7, "label": "Fig", "key": "fig", "material": "gamma-octalactone", "dilution_percent": 10.0, '
    '"solvent": "ethanol", "amount_g": 3.5, "price_per_g": 0.25, "opened": "2024-02-29", "lot": "L", '
    '"note": "=1"}'
)
"""The bottle below as it is stored in a change of the shelf."""

ROWS = {
    1: {
        "labels": ("fig", "Fig", "gamma-octalactone"),
        "bottles": (
            7,
            "Fig",
            "fig",
            "gamma-octalactone",
            10.0,
            "ethanol",
            3.5,
            0.25,
            "2024-02-29",
            "L",
            "=1",
        ),
    },
    2: {
        "materials": (
            *("own-plum", "plum", "", "base", "liquid", "", 200.0, 1.5, "user", "", 0.35),
            *("strong", "user", "ours"),
        ),
        "material_labels": ("own-plum", "plum", 3),
        "notes": ("coumarin", 1, "weaker", 1, "dust"),
        "note_labels": ("coumarin", "hay", 0),
    },
    3: {
        "formulas": (4, "Green fig", "green fig"),
        "formula_versions": (9, 4, 1, "2025-01-01T00:00:00", "first"),
        "formula_lines": (9, 1, "coumarin", None, 12.5, 10.0, "ethanol", ""),
    },
    4: {
        "limit_tables": (1, "2025-01-01T00:00:00", "mine.csv", 1),
        "limits": (
            1,
            1,
            "cinnamic alcohol",
            "104-54-1",
            "restriction",
            "standards",
            "",
            "",
            "49",
            "",
            "",
            "",
        ),
        "limit_percents": (1, 1, "4", 1.2),
    },
    5: {
        "trials": (1, 9, "2024-03-01", 10.0, 21.0, "flat"),
        "trial_readings": (1, 1, 8.0, "almond", "gone", None, "dusty"),
        "strips": (1, "linalool", "2024-03-02", 10.0, "ethanol", 21.0),
        "strip_readings": (1, 1, 4.0, "clear", 12.0, ""),
        "calibrations": (1, "2024-03-03T08:00:00", 0.003, 0.05, 0.08, 21.0),
        "calibration_materials": (1, "linalool", 0.8, 1.2, 6.3, 4.5),
    },
    7: {"removed": (1, "2026-03-01T09:00:00", "bottle", "8", "Fig", '{"bottles": [{"id": 8}]}')},
    8: {"formula_themes": (9, 1, "green")},
    9: {"trial_dips": (1, "2024-03-01T08:30")},
    10: {
        "shelf_changes": (1, "2026-03-01T09:00:00", "weighed", "Green fig", 10.0),
        "shelf_change_bottles": (1, 7, FIG.replace("3.5", "4.25"), FIG),
    },
    11: {
        "trial_triangles": (1, 9),
        "trial_triangle_answers": (1, 1, 0.25, 482, 117, 553, 117, 482, "greener"),
    },
}
"""One row for each table, under the schema step that made it."""


def of_step(path, step):
    """Make a notebook as a version that knew only the first steps would have; returns its rows by table."""
    with contextlib.closing(store.connected(str(path))) as db:
        schema.upgrade(db, until=step)
        db.execute("PRAGMA journal_mode = WAL")
        held = {}
        for number in range(1, step + 1):
            for table, cells in ROWS.get(number, {}).items():
                db.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(cells))})", cells)
                held[table] = cells
        assert schema.version(db) == step
    return held


@pytest.fixture
def path(tmp_path):
    return tmp_path / "studio" / "notebook.sqlite"


@pytest.fixture
def filled(path):
    with store.writing(path) as db:
        for number in range(50):
            db.execute("INSERT INTO bottles (label, key) VALUES (?, '')", (f"bottle {number}",))
    return path


def bottles(path):
    with store.reading(path) as db:
        return db.execute("SELECT count(*) FROM bottles").fetchone()[0]


def test_nothing_is_made_until_something_is_written(path):
    with store.reading(path) as db:
        assert db is None
    assert not path.parent.exists()
    assert run("extend", "benzaldehyde", "--top", "1", "--notebook", str(path)).status == 0
    assert not path.parent.exists()
    with store.writing(path) as db:
        db.execute("INSERT INTO labels VALUES ('a', 'a', 'b')")
    assert [file.name for file in path.parent.iterdir()] == ["notebook.sqlite"]


def test_a_notebook_has_a_log_and_keys_that_hold(filled):
    with store.writing(filled) as db:
        assert db.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
        assert db.execute("PRAGMA foreign_keys").fetchone()[0] == 1
        assert schema.version(db) == schema.newest() == max(schema.steps())


def test_a_transaction_that_fails_leaves_nothing(filled):
    def halfway():
        with store.writing(filled) as db:
            db.execute("DELETE FROM bottles")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        halfway()
    assert bottles(filled) == 50


def test_a_refused_value_is_one_line(filled):
    with pytest.raises(BadNotebook, match="refused"), store.writing(filled) as db:
        db.execute("INSERT INTO bottles (label, key, dilution_percent) VALUES ('x', 'x', 200)")
    assert bottles(filled) == 50


def test_every_table_has_a_row_in_the_schema_test(filled):
    with store.reading(filled) as db:
        known = set(tables(db))
    assert {table for rows in ROWS.values() for table in rows} <= known


@pytest.mark.parametrize("step", sorted(ROWS))
def test_a_notebook_of_each_earlier_step_opens_and_keeps_all_rows(path, step):
    path.parent.mkdir()
    held = of_step(path, step)
    before = path.read_bytes()

    def rows(db):
        return {table: tuple(db.execute(f"SELECT * FROM {table}").fetchone()) for table in held}

    with store.reading(path) as db:
        assert schema.version(db) == schema.newest()
        assert rows(db) == held
    assert path.read_bytes() == before  # reading leaves an older file as it is
    with store.writing(path) as db:
        assert rows(db) == held
    with contextlib.closing(sqlite3.connect(path)) as db:
        assert schema.version(db) == schema.newest()
    assert run("materials", "hay", "--notebook", str(path)).status == 0


def test_a_step_that_fails_changes_nothing(path, monkeypatch):
    path.parent.mkdir()
    held = of_step(path, 1)
    broken = {**schema.steps(), 2: "CREATE TABLE half (a);\nCREATE TABLE half (a);"}
    monkeypatch.setattr(schema, "steps", lambda: broken)
    with pytest.raises(BadNotebook), store.writing(path):
        pass
    with contextlib.closing(sqlite3.connect(path)) as db:
        assert schema.version(db) == 1
        assert db.execute("SELECT count(*) FROM labels").fetchone()[0] == len([held["labels"]])
        assert not db.execute("SELECT 1 FROM sqlite_master WHERE name = 'half'").fetchone()


def test_a_newer_notebook_is_refused_and_left_alone(filled):
    with contextlib.closing(sqlite3.connect(filled)) as db:
        db.execute(f"PRAGMA user_version = {schema.newest() + 1}")
    before = filled.read_bytes()
    for words in (["extend", "coumarin"], ["shelf", "add", "coumarin"], ["notebook", "export", "x"]):
        done = run(*words, "--notebook", str(filled))
        assert (done.status, done.err.count("\n")) == (2, 1)
        assert "newer version" in done.err
        assert "nothing was changed" in done.err
    assert filled.read_bytes() == before


def test_a_file_that_is_cut_short_anywhere_is_refused(filled):
    whole = filled.read_bytes()
    for length in [0, 10, 99, 4096, 5000, len(whole) // 2, len(whole) - 4096, len(whole) - 1]:
        filled.write_bytes(whole[:length])
        for end in ("-wal", "-shm"):
            filled.with_name(filled.name + end).unlink(missing_ok=True)
        for way in (store.reading, store.writing):
            with pytest.raises(BadNotebook) as told, way(filled) as db:
                db.execute("SELECT count(*) FROM bottles").fetchone()
            assert "restore" in str(told.value)
        assert filled.read_bytes() == whole[:length]


def test_another_programs_database_a_text_and_a_folder_are_refused(path):
    path.parent.mkdir()
    with contextlib.closing(sqlite3.connect(path)) as db:
        db.execute("CREATE TABLE theirs (a)")
        db.commit()
    with pytest.raises(BadNotebook, match="another program"), store.writing(path):
        pass
    path.write_text("a letter to a friend, longer than any header of a database is, so that it is read" * 9)
    with pytest.raises(BadNotebook, match="not a notebook"), store.reading(path):
        pass
    with pytest.raises(BadNotebook, match="folder"), store.reading(path.parent):
        pass


def test_a_full_disk_is_one_line_and_loses_nothing(filled, monkeypatch):
    def small(name, **more):
        db = connected(name, **more)
        if ":memory:" not in name:
            db.execute(f"PRAGMA max_page_count = {db.execute('PRAGMA page_count').fetchone()[0]}")
        return db

    connected = store.connected
    monkeypatch.setattr(store, "connected", small)
    done = run("shelf", "add", "coumarin", "--note", "x" * 100_000, "--notebook", str(filled))
    assert (done.status, done.err.count("\n")) == (2, 1)
    assert "the disk is full; nothing was changed" in done.err
    assert bottles(filled) == 50


@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="a folder that nobody may write: Linux")
def test_a_folder_that_cannot_be_written_is_one_line():
    done = run("shelf", "add", "coumarin", "--notebook", "/proc/notebook.sqlite")
    assert (done.status, done.err.count("\n")) == (2, 1)
    assert "/proc/notebook.sqlite" in done.err


def test_a_long_writer_is_waited_for_and_then_told(filled, monkeypatch):
    monkeypatch.setattr(store, "WAIT_S", 0.1)
    with store.writing(filled):
        done = run("shelf", "add", "coumarin", "--notebook", str(filled))
        assert run("shelf", "list", "--notebook", str(filled)).status == 0  # readers do not wait
    assert (done.status, done.err.count("\n")) == (2, 1)
    assert "another process" in done.err
    assert bottles(filled) == 50


def test_a_reader_sees_one_state_whatever_is_written_meanwhile(filled):
    with store.reading(filled) as db:
        first = digest(db)
        with store.writing(filled) as other:
            other.execute("DELETE FROM bottles")
        assert digest(db) == first
    assert bottles(filled) == 0


def _write(path, name, count):
    for number in range(count):
        with store.writing(path) as db:
            db.execute("INSERT INTO bottles (label, key) VALUES (?, '')", (f"{name} {number}",))


def test_two_processes_make_and_write_one_notebook_at_once(path):
    fresh = multiprocessing.get_context("spawn")
    both = [fresh.Process(target=_write, args=(path, name, 15)) for name in ("one", "two")]
    for process in both:
        process.start()
    for process in both:
        process.join()
    assert [process.exitcode for process in both] == [0, 0]
    assert sorted(file.name for file in path.parent.iterdir()) == ["notebook.sqlite"]
    assert bottles(path) == 30


def test_the_notebook_is_where_it_is_named(tmp_path, monkeypatch):
    first, second = tmp_path / "a.sqlite", tmp_path / "b.sqlite"
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(first))
    assert run("notebook", "where").out.splitlines()[0] == str(first)
    for place in (
        ["--notebook", str(second), "notebook", "where"],
        ["notebook", "where", "--notebook", str(second)],
    ):
        assert run(*place).out.splitlines()[0] == str(second)
    monkeypatch.delenv("RECOMMENDER_NOTEBOOK")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "share"))
    where = run("notebook", "where").out.splitlines()[0]
    assert where.endswith("notebook.sqlite")
    assert "recommender" in where
    assert not (tmp_path / "share").exists()


def test_no_database_is_loaded_where_there_is_no_notebook(tmp_path):
    code = (
        "import sys; sys.argv = ['recommender', 'material', 'coumarin']\n"
        "from recommender.cli import main\n"
        "try: main()\nexcept SystemExit: pass\n"
        "print('sqlite3' in sys.modules, file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "RECOMMENDER_NOTEBOOK": str(tmp_path / "no.sqlite")},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stderr.strip() == "False"
