"""Whatever is removed is stored whole, and comes back as it was."""

import re
import sqlite3
from pathlib import Path

import pytest
from command_line import run
from test_notebook import ROWS

import recommender.notebook
from recommender.errors import BadNotebook, BadValue
from recommender.evidence.overlay import OwnMaterial
from recommender.model import Bottle, Label, OwnNote, Reading, TrialRecord
from recommender.notebook import (
    drafts,
    nose,
    removed,
    shelf,
    shelf_changes,
    single_readings,
    strips,
    trials,
)
from recommender.notebook.csv_folder import digest, export, import_folder, tables
from recommender.notebook.removed import KINDS
from recommender.notebook.store import reading, writing

MORE = {
    "bottles": [(8, "=fig 'x", "fig", "", 100.0, "", None, None, "", "", 'a "b"\n;=1')],
    "trials": [(2, 9, "2024-03-01", None, None, "")],
    "trial_readings": [(1, 2, 0.25, "", "clear", 30.5, ""), (2, 1, 1.0, "hay", "trace", None, "")],
    "strips": [(2, "linalool", "", 100.0, "", 25.0)],
    "strip_readings": [(1, 2, 0.1 + 0.2, "gone", None, "thin"), (2, 1, 1.0, "trace", None, "")],
    "calibrations": [(2, "2024-04-03T08:00:00", 0.004, 0.06, 0.09, 20.5)],
    "calibration_materials": [(1, "coumarin", 1.1, 0.9, None, 3.0), (2, "linalool", 1.0, 1.0, None, None)],
    "notes": [("linalool", 0, "", 0, "")],
    "note_labels": [("coumarin", "bitter almond", 3), ("linalool", "lemon", 1)],
    "materials": [("own-b", "b", "", "molecule", "solid", "", None, None, "", "", None, "", "", "")],
    "material_labels": [("own-plum", "sweet", 1), ("own-b", "rose", 2)],
    "drafts": [
        (1, "Posy", "posy", 7, 1, "2026-03-01T09:00:00.000001", '{"dosage": "15"}'),
        (2, "ember", "ember", 1, 0, "2026-03-01T09:00:00.000002", "{}"),
    ],
    "draft_steps": [
        (1, 0, "", "", "[]"),
        (1, 1, "tried it", "cell 1 parts", '[{"id": "1"}]'),
        (2, 0, "", "", "[]"),
    ],
}
"""Beside one row of each table a second entry of each kind, and more rows below the first."""
FIRST = {
    "bottle": 7,
    "trial": 1,
    "strip": 1,
    "fit": 1,
    "note": "coumarin",
    "material": "own-plum",
    "formula": 1,
    "trial reading": "1.1",
    "strip reading": "1.1",
    "shelf change": 1,
}
TAKE = {
    "bottle": shelf.remove,
    "trial": trials.remove,
    "strip": strips.remove,
    "fit": lambda db, number: strips.reset(db),
    "note": nose.remove,
    "material": nose.remove_material,
    "formula": drafts.remove,
    "trial reading": lambda db, key: single_readings.remove(db, "trial", *map(int, key.split("."))),
    "strip reading": lambda db, key: single_readings.remove(db, "strip", *map(int, key.split("."))),
    "shelf change": shelf_changes.undo,
}


def fill(db):
    for rows in ROWS.values():
        for table, cells in rows.items():
            if table != "removed":
                db.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(cells))})", cells)
    for table, rows in MORE.items():
        for cells in rows:
            db.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(cells))})", cells)


@pytest.fixture
def path(tmp_path):
    with writing(tmp_path / "notebook.sqlite") as db:
        fill(db)
    return tmp_path / "notebook.sqlite"


def whole(path):
    with reading(path) as db:
        return digest(db)


def take(path, kind):
    with writing(path) as db:
        return TAKE[kind](db, FIRST[kind])


def back(path, number):
    with writing(path) as db:
        return removed.bring_back(db, number)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_what_is_removed_comes_back_with_all_rows_and_columns(path, kind):
    before = whole(path)
    number = take(path, kind)
    with reading(path) as db:
        place = KINDS[kind]
        left = db.execute(f"SELECT count(*) FROM {place.table} WHERE {place.key} = ?", (FIRST[kind],))
        assert left.fetchone()[0] == 0
        (entry, *others) = removed.listed(db, kind)
    assert entry.number == number
    assert entry.name
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d", entry.when)
    for one in [entry, *others]:
        back(path, one.number)
    assert whole(path) == before


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_what_is_removed_is_carried_out_as_csv_and_comes_back_from_there(path, kind, tmp_path):
    before = whole(path)
    take(path, kind)
    export(path, tmp_path / "out")
    other = tmp_path / "other.sqlite"
    import_folder(other, tmp_path / "out", replace=False)
    assert whole(other) == whole(path)
    with reading(other) as db:
        entries = removed.listed(db)
    for entry in entries:
        back(other, entry.number)
    assert whole(other) == before


def test_every_table_below_one_that_can_be_removed_is_stored_with_it(path):
    with reading(path) as db:
        above = {
            (row["table"], table, row["from"])
            for table in tables(db)
            for row in db.execute(f"PRAGMA foreign_key_list({table})")
            if row["on_delete"] == "CASCADE"
        }
    known = {kind.table for kind in KINDS.values()}
    stored = {(kind.table, table, column) for kind in KINDS.values() for table, column in kind.below.items()}
    assert {link for link in above if link[0] in known} == stored
    assert not {table for _, table, _ in stored} & {parent for parent, _, _ in above}  # no deeper than that


def test_nothing_is_deleted_from_the_notebook_in_another_way():
    folder = Path(recommender.notebook.__file__).parent
    found = {
        (file.name, table)
        for file in folder.glob("*.py")
        for table in re.findall(r"DELETE FROM ([\w{}]+)", file.read_text(encoding="utf-8"))
    }
    # steps of a formula fall away when another way is taken from an earlier one, and after 300 of them; a
    # restore empties every table after a safety copy; a label gives way to the material that is called so; a
    # bottle that came with a change goes into the removed with it
    assert {file for file, _ in found} == {
        *("removed.py", "drafts.py", "backup.py", "shelf.py", "bottle_rows.py")
    }
    assert {table for file, table in found if file == "drafts.py"} == {"draft_steps"}
    assert {table for file, table in found if file == "backup.py"} == {"{table}"}
    assert {table for file, table in found if file == "shelf.py"} == {"labels"}
    assert {table for file, table in found if file == "bottle_rows.py"} == {"bottles"}


def test_removed_twice_is_removed_once(path):
    assert take(path, "bottle") == 1
    assert take(path, "bottle") is None
    back(path, 1)
    with pytest.raises(BadValue, match="nothing removed has it"):
        back(path, 1)


def test_a_number_is_never_given_to_another_entry(path):
    with writing(path) as db:
        last = shelf.add(db, Bottle("last", "coumarin"))
        shelf.remove(db, last)
        assert shelf.add(db, Bottle("next", "coumarin")) == last + 1
        record = TrialRecord("Green fig", 1, "2026-01-01", readings=(Reading(1.0, "clear"),))
        trial = trials.add(db, 9, record)
        trials.remove(db, trial)
        assert trials.add(db, 9, record) == trial + 1
        for entry in removed.listed(db):
            removed.bring_back(db, entry.number)
        assert {last, last + 1} <= {bottle.number for bottle in shelf.bottles(db)}
        assert [r.number for r in trials.of_versions(db, [9])][-2:] == [trial, trial + 1]


def test_an_older_note_or_material_changes_places_with_the_one_that_replaced_it(path):
    before = whole(path)
    with writing(path) as db:
        assert nose.note(db, OwnNote("coumarin", (Label("rose", 3, "user"),), words="new"))
        nose.add_material(db, OwnMaterial("own-plum", "plum", labels=(Label("hay", 1, "user"),)))
        older = removed.listed(db)
        assert [one.kind for one in older] == ["material", "note"]
        for one in older:
            removed.bring_back(db, one.number)
        newer = removed.listed(db)
        assert [one.rows["notes"][0]["words"] for one in newer if one.kind == "note"] == ["new"]
        db.execute("DELETE FROM removed")
    assert whole(path) == before


def test_the_same_note_again_removes_nothing(path):
    with writing(path) as db:
        (own,) = [one for one in nose.notes(db) if one.material == "coumarin"]
        assert nose.note(db, own)
        for material in nose.materials(db):
            nose.add_material(db, material)
        assert removed.listed(db) == []


def test_where_its_place_is_taken_nothing_is_changed(path):
    take(path, "formula")
    with writing(path) as db:
        drafts.create(db, "Posy", [], "2026-03-02T09:00:00.000000")
    before = whole(path)
    with pytest.raises(BadValue, match="formula Posy cannot be brought back: another formula has its name"):
        back(path, 1)
    assert whole(path) == before


def test_a_trial_whose_version_is_gone_says_so(path):
    take(path, "trial")
    with writing(path) as db:
        db.execute("DELETE FROM trials")
        db.execute("DELETE FROM formulas")
    with pytest.raises(BadValue, match="no longer in the notebook"):
        back(path, 1)


def test_a_removal_that_fails_half_way_leaves_all_as_it_was(path, monkeypatch):
    before = whole(path)

    def refused(*_):
        raise sqlite3.OperationalError("disk I/O error")

    monkeypatch.setattr(removed, "_store", refused)
    with pytest.raises(BadNotebook):
        take(path, "bottle")
    assert whole(path) == before


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["shelf", "remove", "7"], "bottle Fig, 10 %, 3.5 g, lot L"),
        (["trials", "forget", "1"], "trial Green fig@1, 2024-03-01, 2 readings"),
        (["calibrate", "forget", "1"], "strip of one material linalool, 2024-03-02, 2 readings"),
        (["calibrate", "reset"], "fit to your strips 2024-04-03 08:00:00"),
        (
            ["nose", "remove", "coumarin"],
            "note of your nose coumarin, bitter almond 3, no hay, weaker, cannot be smelled",
        ),
        (["materials", "remove", "plum"], "material of your own plum"),
        (["shelf", "undo", "1"], "change of bottles weighed: 10 g of Green fig, from 1 bottle"),
    ],
    ids=lambda words: " ".join(words) if isinstance(words, list) else "",
)
def test_a_command_that_removes_says_how_it_is_brought_back(path, words, told):
    before = whole(path)
    done = run(*words, "--notebook", str(path))
    assert done.status == 0
    hint = re.search(r"`recommender (notebook bring-back \d+)` brings it back", done.err)
    listed = run("notebook", "removed", "--notebook", str(path), "--format", "csv")
    assert listed.status == 0
    back_again = run(*hint[1].split(), "--notebook", str(path))
    assert back_again.status == 0
    assert back_again.out.startswith(f"brought back: {told}")
    if words[1] == "reset":  # the fit before it
        assert run("notebook", "bring-back", "1", "--notebook", str(path)).status == 0
    assert whole(path) == before
    empty = run("notebook", "removed", "--notebook", str(path))
    assert (empty.status, empty.err) == (1, "recommender: nothing was removed.\n")


def test_a_number_that_nothing_removed_has_is_one_line(path):
    done = run("notebook", "bring-back", "9", "--notebook", str(path))
    assert (done.status, done.err.count("\n")) == (2, 1)
    assert "`recommender notebook removed` lists them" in done.err
