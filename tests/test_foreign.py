"""Notebooks that others made, files in the place of a notebook, and who may read our own."""

import contextlib
import os
import sqlite3
import stat

import pytest
from command_line import run

from recommender.errors import BadNotebook, BadValue
from recommender.notebook import backup, csv_folder, foreign, store
from recommender.notebook.migrations import newest, steps, upgrade
from recommender.records import shelf as shelf_records
from recommender.workspace import Workspace

HOSTILE = {
    "a trigger that deletes what is added": (
        'CREATE TRIGGER "no news" AFTER INSERT ON bottles BEGIN DELETE FROM bottles WHERE id = new.id; END',
        'it has a trigger of its own, "no news"',
    ),
    "a view beside our tables": ("CREATE VIEW more AS SELECT 1", 'it has a view of its own, "more"'),
    "a view in the place of a table": (
        "ALTER TABLE trial_readings RENAME TO x; CREATE VIEW trial_readings AS SELECT * FROM x",
        "it has a view of its own",
    ),
    "another table": ("CREATE TABLE more (a)", 'its "more" is not that of a notebook'),
    "another column": ("ALTER TABLE labels ADD COLUMN more TEXT", 'its "labels" is not that'),
    "a table without its rules": (
        "DROP TABLE labels; CREATE TABLE labels (key TEXT, label TEXT, material TEXT)",
        'its "labels" is not that',
    ),
    "a missing index": ("DROP INDEX bottles_by_key", 'its "bottles_by_key" is not that'),
    "an index that computes": ("CREATE INDEX more ON bottles (abs(id))", 'its "more" is not that'),
}


@pytest.fixture
def path(tmp_path):
    found = tmp_path / "notebook.sqlite"
    with store.writing(found) as db:
        db.execute("INSERT INTO bottles (label, key) VALUES ('mine', 'mine')")
    return found


def spoil(path, script):
    with contextlib.closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA foreign_keys = OFF")
        db.executescript(script)


@pytest.mark.parametrize("name", HOSTILE)
def test_a_schema_that_is_not_ours_is_refused_by_opening_and_by_restore(name, path, tmp_path):
    script, problem = HOSTILE[name]
    other = tmp_path / "other.sqlite"
    backup.backup(path, other)
    spoil(other, script)
    before = other.read_bytes()
    for attempt in (
        lambda: store.reading(other).__enter__(),
        lambda: store.writing(other).__enter__(),
        lambda: backup.restore(path, other),
        lambda: backup.backup(other, tmp_path / "copy.sqlite"),
        lambda: csv_folder.export(other, tmp_path / "folder"),
    ):
        with pytest.raises(BadNotebook, match="Nothing in it was run or changed") as refused:
            attempt()
        assert problem in str(refused.value)
    assert other.read_bytes() == before
    with store.reading(path) as db:
        assert [row["label"] for row in db.execute("SELECT label FROM bottles")] == ["mine"]


@pytest.mark.parametrize("step", steps())
def test_a_notebook_of_any_step_is_ours_whatever_its_comments_said(step, tmp_path):
    path = tmp_path / "older.sqlite"
    with contextlib.closing(store.connected(str(path))) as db:
        upgrade(db, until=step)
        db.execute("PRAGMA writable_schema = ON")
        db.execute(
            "UPDATE sqlite_master SET sql = replace(sql, '-- the label', '-- what is written') || ' -- end'"
            " WHERE type = 'table' AND name = 'bottles'"
        )
    with store.reading(path) as db:
        assert "labels" in store.tables(db)
    with store.writing(path) as db:
        assert db.execute("PRAGMA user_version").fetchone()[0] == newest()


def test_statistics_that_sqlite_made_are_no_foreign_table(path):
    spoil(path, "ANALYZE")
    with store.reading(path) as db:
        foreign.check_schema(db, path, newest())


ROWS = {
    "a text where a number belongs": "INSERT INTO bottles (label, key, amount_g) VALUES ('a', 'a', 'much')",
    "a number beyond all bounds": "INSERT INTO bottles (label, key, amount_g) VALUES ('a', 'a', 9e999)",
    "bytes where a text belongs": "INSERT INTO bottles (label, key) VALUES ('a', x'00')",
    "fields that are no JSON": "INSERT INTO drafts (name, key, touched, fields) VALUES ('a', 'a', '', '{')",
    "lines that are no lines": (
        "INSERT INTO drafts (id, name, key, touched) VALUES (1, 'a', 'a', '');"
        'INSERT INTO draft_steps (draft, step, lines) VALUES (1, 0, \'[{"id": "x"}]\')'
    ),
    "a removed row of no table of ours": (
        "INSERT INTO removed (kind, key, name, content)"
        " VALUES ('bottle', '1', 'a', '{\"sqlite_master\": []}')"
    ),
}


@pytest.mark.parametrize("name", ROWS)
def test_rows_that_we_would_not_have_written_are_not_restored(name, path, tmp_path):
    other = tmp_path / "other.sqlite"
    backup.backup(path, other)
    spoil(other, ROWS[name])
    with pytest.raises(BadNotebook, match="would not write"):
        backup.restore(path, other)


def test_lines_that_are_no_lines_are_not_imported(path, tmp_path):
    folder = tmp_path / "folder"
    csv_folder.export(path, folder)
    with (folder / "drafts.csv").open("a", encoding="utf-8") as file:
        file.write('"1","a","a","1","0","2026-01-01","[]"\r\n')
    with pytest.raises(BadNotebook, match="fields that this program would not write"):
        csv_folder.import_folder(path, folder, replace=True)


@pytest.mark.parametrize("cell", ["9223372036854775808", "-9223372036854775809", "9" * 5000, "1.5"])
def test_a_number_that_no_notebook_takes_is_named_with_its_line(cell, path, tmp_path):
    folder = tmp_path / "folder"
    csv_folder.export(path, folder)
    with (folder / "drafts.csv").open("a", encoding="utf-8") as file:
        file.write(f'"1","a","a","{cell}","0","2026-01-01","{{}}"\r\n')
    ran = run("notebook", "--notebook", str(path), "import", str(folder), "--replace")
    assert ran.status == 2
    assert "drafts.csv, line 2, column version" in ran.err


def test_a_removed_row_comes_back_only_into_columns_that_are_there(path):
    content = '{"bottles": [{"label, key) SELECT 1, 2; --": 1}]}'
    with store.writing(path) as db:
        db.execute(
            "INSERT INTO removed (kind, key, name, content)"
            " VALUES ('bottle', '9', 'a', ?), ('x', '9', 'a', '{}')",
            (content,),
        )
    for number, problem in ((1, "not those of this notebook"), (2, "nothing of the kind")):
        with pytest.raises(BadValue, match=problem):
            Workspace(path).removed.bring_back(number)


def test_a_formula_that_stands_in_itself_is_named(path):
    with store.writing(path) as db:
        for number in (1, 2):
            db.execute(f"INSERT INTO formulas VALUES ({number}, 'f{number}', 'f{number}')")
            db.execute(f"INSERT INTO formula_versions VALUES ({number}, {number}, 1, '2026-01-01', '')")
        for number in (1, 2):
            db.execute(
                "INSERT INTO formula_lines (version, place, accord, parts) VALUES (?, 1, ?, 1)",
                (number, 3 - number),
            )
    with pytest.raises(BadValue, match="contains itself: f1@1 > f2@1 > f1@1"):
        Workspace(path).formula("f1")


def test_accords_in_accords_that_are_saved_are_opened_once(path):
    deep = 12
    with store.writing(path) as db:
        for number in range(1, deep + 1):
            db.execute(f"INSERT INTO formulas VALUES ({number}, 'f{number}', 'f{number}')")
            db.execute(f"INSERT INTO formula_versions VALUES ({number}, {number}, 1, '2026-01-01', '')")
        for number in range(2, deep + 1):
            for place in (1, 2):
                db.execute(
                    "INSERT INTO formula_lines (version, place, accord, parts) VALUES (?, ?, ?, 1)",
                    (number, place, number - 1),
                )
        db.execute("INSERT INTO formula_lines (version, place, material, parts) VALUES (1, 1, 'coumarin', 1)")
    formula = Workspace(path).formula(f"f{deep}")
    assert formula.lines[0].content is formula.lines[1].content


# files in the place of a notebook


@pytest.fixture
def places(tmp_path):
    (tmp_path / "nowhere").symlink_to("gone")
    (tmp_path / "loop").symlink_to("loop")
    (tmp_path / "zero").symlink_to("/dev/zero")
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    return tmp_path


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes and devices are files on Unix")
@pytest.mark.parametrize(
    ("name", "problem"),
    [
        ("pipe", "this is a pipe"),
        ("zero", "this is a device"),
        ("nowhere", "the link leads to no file"),
        ("loop", "the link leads back to itself"),
        ("folder", "this is a folder"),
    ],
)
def test_what_is_no_ordinary_file_is_no_notebook(name, problem, places, path, tmp_path):
    place = str(places / name)
    for words in (
        ("shelf", "--notebook", place, "add", "coumarin"),
        ("notebook", "--notebook", str(path), "restore", place),
        ("notebook", "--notebook", place, "restore", str(path)),
        ("shelf", "--notebook", place, "list"),
    ):
        ran = run(*words)
        assert (ran.status, ran.err.count("\n")) == (2, 1), words
        assert problem in ran.err, words


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes and devices are files on Unix")
def test_a_pipe_in_an_exported_folder_is_named(path, tmp_path):
    folder = tmp_path / "folder"
    csv_folder.export(path, folder)
    (folder / "bottles.csv").unlink()
    os.mkfifo(folder / "bottles.csv")
    ran = run("notebook", "--notebook", str(path), "import", str(folder), "--replace")
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert "bottles.csv: this is a pipe" in ran.err


def test_a_step_of_a_long_formula_that_was_removed_comes_back_from_a_folder(path, tmp_path):
    with store.writing(path) as db:
        db.execute(
            "INSERT INTO removed (kind, key, name, content) VALUES ('bottle', '1', 'a', ?)",
            ('{"bottles": [{"note": "%s"}]}' % ("x" * 300_000),),
        )
    csv_folder.export(path, tmp_path / "folder")
    rows, _, _ = csv_folder.import_folder(tmp_path / "new.sqlite", tmp_path / "folder", replace=False)
    assert rows["removed"] == 1


# who may read, and what is left over

posix = pytest.mark.skipif(os.name != "posix", reason="rights of files as Unix has them")


def rights(path):
    return stat.S_IMODE(path.stat().st_mode)


@posix
def test_notebook_log_copies_and_folders_are_for_their_owner_alone(path, tmp_path):
    with contextlib.closing(store.opened(path)) as db:
        db.execute("INSERT INTO bottles (label, key) VALUES ('a', 'a')")
        assert {p.name: rights(p) for p in tmp_path.iterdir()} == {
            "notebook.sqlite": 0o600,
            "notebook.sqlite-wal": 0o600,
            "notebook.sqlite-shm": 0o600,
        }
    backup.backup(path, tmp_path / "copy.sqlite")
    aside = backup.restore(path, tmp_path / "copy.sqlite")
    csv_folder.export(path, tmp_path / "folder")
    assert {rights(p) for p in (path, aside, tmp_path / "copy.sqlite")} == {0o600}
    assert rights(tmp_path / "folder") == 0o700
    assert {rights(p) for p in (tmp_path / "folder").iterdir()} == {0o600}


@posix
def test_a_notebook_of_an_earlier_version_is_closed_to_others_when_it_is_written(path):
    path.chmod(0o644)
    with store.reading(path):
        pass
    assert rights(path) == 0o644  # reading changes nothing
    with store.writing(path):
        pass
    assert rights(path) == 0o600


def test_the_last_notebooks_that_were_set_aside_are_left(path, tmp_path, monkeypatch):
    monkeypatch.setattr(backup, "MOST_ASIDE", 3)
    copy = tmp_path / "copy.sqlite"
    backup.backup(path, copy)
    made = [backup.restore(path, copy).name for _ in range(5)]
    assert made == [f"notebook.before-restore-{n}.sqlite" for n in range(1, 6)]
    left = sorted(p.name for p in tmp_path.glob("*before-restore*"))
    assert left == made[2:]
    csv_folder.export(path, tmp_path / "folder")
    aside = csv_folder.import_folder(path, tmp_path / "folder", replace=True)[1]
    assert aside.name == "notebook.before-import-1.sqlite"
    assert sorted(p.name for p in tmp_path.glob("*before-restore*")) == left


# gone or replaced while it is open


@pytest.mark.parametrize("way", ["removed", "replaced"])
def test_nothing_is_stored_beside_a_notebook_that_was_removed_or_replaced(way, path, tmp_path):
    workspace = Workspace(path)
    workspace.shelf.add("coumarin")
    if way == "removed":
        path.unlink()
        assert isinstance(workspace.shelf, shelf_records.ShelfRecords)
    else:
        other = tmp_path / "other.sqlite"
        with store.writing(other):
            pass
        other.replace(path)
    with pytest.raises(BadNotebook, match="removed or replaced since it was opened"):
        workspace.shelf.add("vanillin")
    assert path.exists() == (way == "replaced")
    again = Workspace(path)
    again.shelf.add("vanillin")
    assert [bottle.label for bottle in again.shelf.stock().bottles] == ["vanillin"]


def test_a_restore_leaves_the_same_file_so_that_it_may_be_written_on(path, tmp_path):
    workspace = Workspace(path)
    backup.backup(path, tmp_path / "copy.sqlite")
    workspace.shelf.add("coumarin")
    backup.restore(path, tmp_path / "copy.sqlite")
    workspace.shelf.add("vanillin")
    assert [bottle.label for bottle in workspace.shelf.stock().bottles] == ["mine", "vanillin"]
