import csv
import re
import string

import pytest
from command_line import run
from hypothesis import given
from hypothesis import strategies as st

from recommender.errors import BadNotebook, BadTable, BadValue
from recommender.notebook import backup, csv_folder, store
from recommender.notebook.csv_cells import as_written, harmless
from recommender.notebook.csv_folder import digest

NASTY = [
    "=1+1",
    "+1",
    "-1",
    "@sum(a1)",
    "\t=1",
    "'=1",
    "''",
    "a;=1",
    'a"\n=1',
    "фиалка",
    "\r",
    "",
    " =2",
    "x\x00y",
]
text = st.text(alphabet=st.sampled_from("=+-@'\t\r\n;,|\" aé＝"), max_size=12)


@pytest.fixture
def studio(tmp_path):
    path = tmp_path / "notebook.sqlite"
    with store.writing(path) as db:
        for number, label in enumerate(NASTY):
            db.execute(
                "INSERT INTO bottles (label, key, amount_g, price_per_g, note) VALUES (?, ?, ?, ?, ?)",
                (label or "blank", str(number), number / 3, None if number % 2 else 1e-7, label),
            )
        db.execute("INSERT INTO formulas VALUES (1, 'fig', 'fig')")
        db.execute("INSERT INTO formula_versions VALUES (3, 1, 1, '2025-01-01T00:00:00', '-new')")
        db.execute("INSERT INTO formula_lines VALUES (3, 1, 'coumarin', NULL, 0.1, 10, '', '=A1')")
        db.execute("INSERT INTO formula_lines VALUES (3, 2, '', 3, 2, 100, '', '')")
    return path


def mark(path):
    with store.reading(path) as db:
        return digest(db)


# OWASP, CSV injection: a cell that starts with = + - @, a tab or a carriage return may be run, also where a
# separator or a quote starts a new cell in mid-text
@given(text)
def test_no_text_starts_a_formula_and_each_comes_back(written):
    shown = harmless(written)
    assert as_written(shown) == written
    assert not re.match(r"[=+\-@\t\r\n＝]", shown)
    assert not re.search(r"[;,|\"\t\r\n] *[=+\-@＝]", shown)


@given(
    st.text(alphabet=string.ascii_letters + " -().", max_size=20).filter(
        lambda t: not t.strip().startswith("-")
    )
)
def test_ordinary_words_stay_as_they_are(written):
    assert harmless(written) == written


def test_a_folder_and_back_is_the_identity(studio, tmp_path):
    rows = csv_folder.export(studio, tmp_path / "out")
    assert rows["bottles"] == len(NASTY)
    other = tmp_path / "other.sqlite"
    assert csv_folder.import_folder(other, tmp_path / "out", replace=False)[1:] == (None, [])
    assert mark(other) == mark(studio)


def test_no_cell_of_an_export_starts_a_formula(studio, tmp_path):
    csv_folder.export(studio, tmp_path / "out")
    for file in (tmp_path / "out").iterdir():
        with file.open(encoding="utf-8-sig", newline="") as lines:
            for row in csv.reader(lines):
                assert not [c for c in row if re.match(r"[=+@\t\r\n-]", c)], file.name


def test_a_file_that_a_spreadsheet_saved_again_is_read(studio, tmp_path):
    csv_folder.export(studio, tmp_path / "out")
    for file in (tmp_path / "out").glob("*.csv"):
        with file.open(encoding="utf-8-sig", newline="") as lines:
            rows = list(csv.reader(lines))
        with file.open("w", encoding="utf-8", newline="") as lines:
            csv.writer(lines, delimiter=";").writerows(rows)
    csv_folder.import_folder(tmp_path / "other.sqlite", tmp_path / "out", replace=False)
    assert mark(tmp_path / "other.sqlite") == mark(studio)


@pytest.mark.parametrize(
    ("file", "old", "new", "message"),
    [
        (
            "bottles.csv",
            '"1e-07"',
            '"dear"',
            r'bottles.csv, line 2, column price_per_g: "dear" is not a number',
        ),
        ("bottles.csv", '"amount_g",', '"amount",', 'bottles.csv, line 1: column "amount_g" is missing'),
        (
            "formula_lines.csv",
            '"3","2"',
            '"8","2"',
            "formula_lines.csv, line 3: it refers to a row of formula_versions",
        ),
        ("formula_lines.csv", '"10.0"', '"1000"', "formula_lines.csv, line 2: the row cannot be stored"),
        ("formulas.csv", '"fig","fig"', '"fig"', "formulas.csv, line 2: 2 cells where the header has 3"),
        ("about.csv", '"schema step"', '"step"', "about.csv: the schema step is missing"),
    ],
)
def test_a_folder_that_cannot_be_read_changes_nothing(studio, tmp_path, file, old, new, message):
    csv_folder.export(studio, tmp_path / "out")
    place, before = tmp_path / "out" / file, mark(studio)
    content = place.read_text(encoding="utf-8-sig")
    assert old in content
    place.write_text(content.replace(old, new, 1), encoding="utf-8", newline="")
    with pytest.raises(BadTable, match=message):
        csv_folder.import_folder(studio, tmp_path / "out", replace=True)
    assert mark(studio) == before


def test_a_missing_file_and_a_newer_folder_are_reported(studio, tmp_path):
    csv_folder.export(studio, tmp_path / "out")
    about = tmp_path / "out" / "about.csv"
    about.write_text(
        re.sub(r'"schema step","\d+"', '"schema step","99"', about.read_text(encoding="utf-8-sig"))
    )
    with pytest.raises(BadTable, match="newer version"):
        csv_folder.import_folder(tmp_path / "x.sqlite", tmp_path / "out", replace=False)
    about.unlink()
    with pytest.raises(BadTable, match="missing"):
        csv_folder.import_folder(tmp_path / "x.sqlite", tmp_path / "out", replace=False)
    with pytest.raises(BadValue, match="no such folder"):
        csv_folder.import_folder(tmp_path / "x.sqlite", tmp_path / "nowhere", replace=False)
    assert not (tmp_path / "x.sqlite").exists()


def test_fewer_rows_than_were_exported_are_reported(studio, tmp_path):
    csv_folder.export(studio, tmp_path / "out")
    lines = tmp_path / "out" / "formula_lines.csv"
    lines.write_text(lines.read_text(encoding="utf-8-sig").rsplit('"3","2"', 1)[0], encoding="utf-8")
    _, _, notes = csv_folder.import_folder(tmp_path / "x.sqlite", tmp_path / "out", replace=False)
    assert notes == ["formula_lines.csv has 1 rows; 2 were exported."]


def test_a_full_notebook_is_replaced_only_on_request_and_moved_beside(studio, tmp_path):
    csv_folder.export(studio, tmp_path / "out")
    before = mark(studio)
    with store.writing(studio) as db:
        db.execute("DELETE FROM bottles")
    changed = mark(studio)
    with pytest.raises(BadValue, match="give replace"):
        csv_folder.import_folder(studio, tmp_path / "out", replace=False)
    _, previous, _ = csv_folder.import_folder(studio, tmp_path / "out", replace=True)
    assert mark(studio) == before
    assert previous is not None
    assert mark(previous) == changed


def test_an_export_does_not_write_into_a_folder_that_holds_something(studio, tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "letter.txt").write_text("mine")
    with pytest.raises(BadValue, match="already"):
        csv_folder.export(studio, tmp_path / "out")
    assert [f.name for f in (tmp_path / "out").iterdir()] == ["letter.txt"]


def test_a_backup_comes_back(studio, tmp_path):
    before = mark(studio)
    backup.backup(studio, tmp_path / "copy.sqlite")
    assert not list(tmp_path.glob("copy.sqlite-*"))
    with store.writing(studio) as db:
        db.execute("DELETE FROM bottles")
    previous = backup.restore(studio, tmp_path / "copy.sqlite")
    assert mark(studio) == before
    assert previous is not None
    with pytest.raises(BadValue, match="already"):
        backup.backup(studio, tmp_path / "copy.sqlite")


def test_a_damaged_notebook_is_moved_aside_when_a_copy_is_restored(studio, tmp_path):
    before = mark(studio)
    backup.backup(studio, tmp_path / "copy.sqlite")
    studio.write_bytes(studio.read_bytes()[:5000])
    previous = backup.restore(studio, tmp_path / "copy.sqlite")
    assert mark(studio) == before
    assert previous is not None
    assert previous.stat().st_size == 5000


def test_a_damaged_copy_changes_nothing(studio, tmp_path):
    copy, before = tmp_path / "copy.sqlite", mark(studio)
    backup.backup(studio, copy)
    whole = copy.read_bytes()
    copy.write_bytes(whole[:8192] + b"\x00" * 4096 + whole[12288:])
    for content in (whole[:8192] + b"\xff" * 4096 + whole[12288:], whole[:9000], b"", b"a letter"):
        copy.write_bytes(content)
        with pytest.raises(BadNotebook):
            backup.restore(studio, copy)
    with pytest.raises(BadNotebook, match="no such file"):
        backup.restore(studio, tmp_path / "nowhere")
    assert mark(studio) == before
    assert sorted(f.name for f in tmp_path.glob("*before*")) == []


def test_the_commands_say_what_they_did(studio, tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(studio))
    out, copy = str(tmp_path / "out"), str(tmp_path / "copy.sqlite")
    assert "rows written" in run("notebook", "export", out).out
    refused = run("notebook", "import", out)
    assert (refused.status, refused.err.strip().count("\n")) == (2, 0)
    assert "the previous notebook is now" in run("notebook", "import", out, "--replace").out
    assert copy in run("notebook", "backup", copy).out
    assert "the previous notebook is now" in run("notebook", "restore", copy).out
    assert "bottles" in run("notebook", "where").out


def test_a_notebook_stays_in_its_place_where_it_cannot_be_copied_first(studio, tmp_path, monkeypatch):
    backup.backup(studio, tmp_path / "copy.sqlite")
    with store.writing(studio) as db:
        db.execute("DELETE FROM bottles")
    before = mark(studio)

    def full(source, target):
        raise OSError(28, "No space left on device", str(target))

    monkeypatch.setattr(backup.os, "replace", full)
    with pytest.raises(BadNotebook, match="the disk is full"):
        backup.restore(studio, tmp_path / "copy.sqlite")
    monkeypatch.undo()
    monkeypatch.setattr(store, "WAIT_S", 0.1)
    with store.writing(studio), pytest.raises(BadNotebook, match="another process"):
        backup.restore(studio, tmp_path / "copy.sqlite")
    assert mark(studio) == before
    assert not list(tmp_path.glob("*before*"))
    with pytest.raises(BadNotebook, match="folder"):
        backup.restore(tmp_path, tmp_path / "copy.sqlite")
    assert tmp_path.is_dir()
