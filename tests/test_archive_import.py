"""Formulas into an archive: every sheet that the reader knows, accords, notebooks, Parquet, broken files."""

import os
import shutil
from pathlib import Path

import bombs
import pytest

pytest.importorskip("pyarrow")
pytest.importorskip("distributed")

import pyarrow as pa
import pyarrow.parquet as pq

from recommender.archive import open_store
from recommender.archive.importing import storable
from recommender.errors import BadValue, RecommenderError
from recommender.evidence import intake
from recommender.evidence.catalogue import load
from recommender.evidence.workbooks import SUFFIXES
from recommender.formulas import formula as formulas
from recommender.model import Formula, Line
from recommender.workspace import Workspace
from scripts import make_archive

CATALOGUE = load()
SHEETS = Path(__file__).parent / "sheets"
SMALL = 0.05


def shares(formula):
    return {amount.material.slug: amount.mass_fraction for amount in formulas.amounts(formula)}


def stored(store):
    """Return the formulas of a store by the file that each is from."""
    return {Path(one.origin).name: one for one in store.read()}


def write(folder, name, *lines):
    folder.mkdir(exist_ok=True)
    (folder / name).write_text("material,parts\n" + "\n".join(lines) + "\n", encoding="utf-8")


@pytest.fixture
def store(tmp_path):
    return open_store(tmp_path / "store", new=True)


@pytest.fixture
def folder(tmp_path):
    """Return a folder with an accord in an accord, and a file beside."""
    found = tmp_path / "formulas"
    write(found, "petal.csv", "phenethyl alcohol,3", "geraniol,1")
    write(found, "rose.csv", "petal.csv,60", "linalool,40")
    write(found, "hay.csv", "coumarin,50", "rose.csv,50")
    return found


def test_every_sheet_that_the_reader_knows_is_stored_as_it_reads_it(store):
    done = store.import_formulas(SHEETS, workers=1)
    found, failed = stored(store), {Path(row["file"]).name: row["reason"] for row in done.failures}
    sheets = sorted(path for path in SHEETS.iterdir() if path.suffix in SUFFIXES)
    assert len(found) + len(failed) == len(sheets)
    for path in sheets:
        try:
            expected = formulas.read(path, CATALOGUE)
        except RecommenderError:
            assert path.name in failed
        else:
            assert shares(found[path.name].formula(CATALOGUE)) == pytest.approx(shares(expected), rel=1e-12)
    assert {".xlsx", ".ods", ".xls", ".csv", ".txt"} <= {Path(name).suffix for name in found}


def test_accords_are_opened_and_diluted_as_in_their_sheets(store, tmp_path):
    folder = tmp_path / "invented"
    folder.mkdir()
    make_archive.write_sheets(folder, make_archive.invented(CATALOGUE, 12, 30, seed=3))
    done = store.import_formulas(folder, workers=1)
    assert (done.added, done.failures) == (make_archive.ACCORDS + 12, ())
    found = stored(store)
    assert any(line.accord for one in found.values() for line in one.lines)
    for path in folder.iterdir():
        expected = formulas.read(path, CATALOGUE)
        assert shares(found[path.name].formula(CATALOGUE)) == pytest.approx(shares(expected), rel=1e-12)


def test_folders_inside_are_read_and_other_files_left_out(store, folder):
    write(folder / "older", "fig.csv", "coumarin,1")
    (folder / "letter.docx").write_bytes(b"a letter")
    (folder / ".hidden.csv").write_text("material,parts\n", encoding="utf-8")
    done = store.import_formulas(folder, workers=1)
    assert sorted(stored(store)) == ["fig.csv", "hay.csv", "petal.csv", "rose.csv"]
    assert (done.added, done.left_out, done.failures) == (4, 1, ())


def test_a_theme_is_stored(store, tmp_path):
    folder = tmp_path / "formulas"
    folder.mkdir()
    (folder / "hay.csv").write_text("material,parts,theme\ncoumarin,1,hay\nvanillin,1,\n", encoding="utf-8")
    store.import_formulas(folder, workers=1)
    assert next(store.read()).theme == formulas.read(folder / "hay.csv", CATALOGUE).theme != ()


# again


def test_what_has_not_changed_is_not_read_again(store, folder):
    store.import_formulas(folder, workers=1)
    before = store.content_key
    again = open_store(store.path).import_formulas(folder, workers=1)
    assert (again.added, again.replaced, again.unchanged) == (0, 0, 3)
    assert open_store(store.path).content_key == before


def test_a_changed_file_replaces_its_formula_and_a_changed_accord_those_it_is_in(store, folder):
    store.import_formulas(folder, workers=1)
    write(folder, "petal.csv", "phenethyl alcohol,1", "nerol,1")
    again = store.import_formulas(folder, workers=1)
    assert (again.added, again.replaced, again.unchanged, len(store)) == (0, 3, 0, 3)
    for name, one in stored(store).items():
        assert shares(one.formula(CATALOGUE)) == pytest.approx(
            shares(formulas.read(folder / name, CATALOGUE))
        )
    write(folder, "hay.csv", "coumarin,1")
    assert store.import_formulas(folder, workers=1).replaced == 1


def test_other_evidence_has_every_sheet_read_again(store, folder):
    store.import_formulas(folder, workers=1)
    store.declare("other tables")
    again = store.import_formulas(folder, workers=1)
    assert (again.replaced, again.unchanged, len(store)) == (3, 0, 3)


def test_a_file_that_is_mended_is_no_failure_any_more(store, folder):
    write(folder, "odd.csv", "xyzzyol,1")
    (row,) = store.import_formulas(folder, workers=1).failures
    assert (Path(row["file"]).name, row["line"]) == ("odd.csv", 2)
    assert "xyzzyol" in row["reason"]
    write(folder, "odd.csv", "coumarin,1")
    assert store.import_formulas(folder, workers=1).failures == ()
    assert store.failures() == []


def test_failures_of_another_source_stay(store, folder, tmp_path):
    write(folder, "odd.csv", "xyzzyol,1")
    write(tmp_path / "other", "odd.csv", "plughol,1")
    for source in (folder, tmp_path / "other", folder):
        store.import_formulas(source, workers=1)
    assert len(store.failures()) == 2


def test_two_processes_store_the_same_as_one(store, folder, tmp_path):
    make_archive.write_sheets(folder, make_archive.invented(CATALOGUE, 60, 10, seed=5))
    write(folder, "odd.csv", "xyzzyol,1")
    store.import_formulas(folder, workers=1)
    other = open_store(tmp_path / "other", new=True)
    done = other.import_formulas(folder, workers=2)
    assert other.content_key == store.content_key
    assert list(done.failures) == store.failures()


# what is broken ends as one line of the failures, and takes nothing else along


@pytest.fixture
def limits(monkeypatch):
    """Make the limits as small as the bombs."""
    for name in ("MOST_BYTES", "MOST_INFLATED", "MOST_TAGS", "MOST_PART_TAGS", "MOST_LINES", "MOST_CELLS"):
        monkeypatch.setattr(intake, name, int(getattr(intake, name) * SMALL))


@pytest.mark.usefixtures("limits")
def test_each_file_that_is_too_much_is_one_failure(store, folder):
    hostile = []
    for number, (_, data) in enumerate(bombs.workbooks(SMALL)):
        hostile.append(folder / f"bomb{number}.xlsx")
        hostile[-1].write_bytes(data)
    for number, (_, data) in enumerate(bombs.texts(SMALL)):
        hostile.append(folder / f"bomb{number}.csv")
        hostile[-1].write_bytes(data)
    done = store.import_formulas(folder, workers=1)
    assert sorted(row["file"] for row in done.failures) == sorted(map(str, hostile))
    assert sorted(stored(store)) == ["hay.csv", "petal.csv", "rose.csv"]
    assert all("\n" not in row["reason"] and len(row["reason"]) < 700 for row in done.failures)


def test_what_is_no_ordinary_file_is_one_failure(store, folder):
    os.mkfifo(folder / "pipe.csv")
    (folder / "lost.csv").symlink_to(folder / "nowhere.csv")
    (folder / "round.csv").symlink_to(folder / "round.csv")
    write(folder, "circle.csv", "coumarin,1", "circle.csv,1")
    write(folder, "beside.csv", "coumarin,1", "pipe.csv,1")
    (folder / "sheet.ods").write_bytes(b"PK\x03\x04 no workbook")
    name = b"fi\xff.csv"
    with open(os.fsencode(folder) + b"/" + name, "w", encoding="utf-8") as file:
        file.write("material,parts\nxyzzyol,1\n")
    done = store.import_formulas(folder, workers=1)
    failed = {Path(row["file"]).name: row["reason"] for row in done.failures}
    assert failed.keys() == {
        *("pipe.csv", "lost.csv", "round.csv", "circle.csv", "beside.csv", "sheet.ods"),
        storable(os.fsdecode(name)),
    }
    assert failed["pipe.csv"].startswith("this is a pipe")
    assert "contains itself" in failed["circle.csv"]
    assert sorted(stored(store)) == ["hay.csv", "petal.csv", "rose.csv"]


def test_a_fault_in_reading_is_one_failure(store, folder, monkeypatch):
    real = formulas.read

    def read(path, *given, **named):
        if Path(path).name == "rose.csv":
            raise RecursionError("too deep")
        return real(path, *given, **named)

    monkeypatch.setattr(formulas, "read", read)
    (row,) = store.import_formulas(folder, workers=1).failures
    assert "RecursionError" in row["reason"]
    assert sorted(stored(store)) == ["hay.csv", "petal.csv"]


def test_nothing_to_import_is_refused(store, tmp_path):
    (tmp_path / "empty").mkdir()
    for source, reason in (("empty", "no sheets"), ("nowhere", "no such file")):
        with pytest.raises(BadValue, match=reason):
            store.import_formulas(tmp_path / source, workers=1)
    (tmp_path / "letter.docx").write_bytes(b"a letter")
    with pytest.raises(BadValue, match="a folder of sheets"):
        store.import_formulas(tmp_path / "letter.docx", workers=1)


# a notebook


@pytest.fixture
def notebook(tmp_path):
    """Return a notebook with two versions of a formula that has an accord, and one with an own material."""
    path = tmp_path / "notebook.sqlite"
    here = Workspace(path)
    rose = Formula(
        "petals", (Line(CATALOGUE.find("phenethyl alcohol"), 3.0), Line(CATALOGUE.find("geraniol"), 1.0))
    )
    for parts in (10.0, 20.0):
        here.formulas.save(
            Formula(
                "meadow",
                (Line(CATALOGUE.find("coumarin"), parts), Line(rose, 5.0, 0.5, CATALOGUE.find("ethanol"))),
            )
        )
    return path


def test_all_versions_of_a_notebook_are_stored(store, notebook):
    done = store.import_formulas(notebook)
    found = {one.name: one for one in store.read()}
    assert sorted(found) == ["meadow@1", "meadow@2", "petals@1"]
    assert (done.added, done.failures) == (3, ())
    here = Workspace(notebook)
    for title, one in found.items():
        assert shares(one.formula(CATALOGUE)) == pytest.approx(shares(here.formula(title)), rel=1e-12)
    again = store.import_formulas(notebook)
    assert (again.added, again.replaced, again.unchanged) == (0, 0, 3)


def test_an_own_material_needs_its_notebook(store, notebook, tmp_path):
    here = Workspace(notebook)
    here.own_materials.add("rose lactone X", smells="rose 3")
    here.formulas.save(Formula("own", (Line(here.material("rose lactone X"), 1.0),)))
    done = store.import_formulas(notebook)
    assert done.added == 3
    (row,) = done.failures
    assert "own@1" in row["reason"]
    under = open_store(tmp_path / "under", notebook, new=True)
    assert under.import_formulas(notebook).added == 4
    assert len(under.composition().numbers) == 4


# Parquet


def lines_file(path, **columns):
    pq.write_table(pa.table(columns), path)
    return path


def test_parquet_of_lines_is_what_the_sheets_are(store, tmp_path):
    found = list(make_archive.invented(CATALOGUE, 12, 30, seed=3))
    (tmp_path / "parquet").mkdir()
    make_archive.write_parquet(tmp_path / "parquet", iter(found))
    done = store.import_formulas(tmp_path / "parquet")
    assert (done.added, done.failures) == (len(found), ())
    for formula, one in zip(found, store.read(), strict=True):
        assert one.name == formula.name
        assert shares(one.formula(CATALOGUE)) == pytest.approx(shares(formula), rel=1e-12)
    again = store.import_formulas(tmp_path / "parquet")
    assert (again.added, again.unchanged) == (0, len(found))


def test_names_and_numbers_stand_for_materials_and_formulas(store, tmp_path):
    path = lines_file(
        tmp_path / "lines.parquet",
        formula=["hay", "hay", "fig"],
        material=["Cumarin", "100-52-7", "vanillin"],
        parts=[90, 10, 1],
        dilution_percent=[None, 10.0, None],
        theme=["hay", None, None],
    )
    store.import_formulas(path)
    hay, fig = store.read()
    assert [(line.material, line.parts, line.dilution_percent, line.solvent) for line in hay.lines] == [
        ("coumarin", 90.0, None, None),
        ("benzaldehyde", 10.0, 10.0, formulas.DEFAULT_SOLVENT),
    ]
    assert (hay.name, hay.theme, fig.name) == ("hay", ("hay",), "fig")


def test_each_formula_that_is_wrong_is_one_failure(store, tmp_path):
    rows = [
        ("good", "coumarin", 1.0, None),
        ("misspelt", "xyzzyol", 1.0, None),
        ("negative", "coumarin", -1.0, None),
        ("diluted", "coumarin", 1.0, 150.0),
        ("carrier", "ethanol", 1.0, None),
        ("good", "vanillin", 1.0, None),
        (None, "coumarin", 1.0, None),
        ("nothing", None, 1.0, None),
        ("endless", "coumarin", float("inf"), None),
        ("last", "coumarin", 1.0, None),
    ]
    names = ("formula", "material", "parts", "dilution_percent")
    path = lines_file(
        tmp_path / "l.parquet", **dict(zip(names, map(list, zip(*rows, strict=True)), strict=True))
    )
    done = store.import_formulas(path)
    assert [one.name for one in store.read()] == ["good", "last"]
    assert [row["line"] for row in done.failures] == [2, 3, 4, 5, 6, 7, 8, 9]
    assert "stand together" in done.failures[4]["reason"]


@pytest.mark.parametrize(
    ("columns", "reason"),
    [
        ({"formula": [1], "parts": [1.0]}, 'no column "material"'),
        ({"formula": [1], "material": ["coumarin"], "parts": ["much"]}, "no numbers"),
    ],
)
def test_parquet_of_another_kind_is_one_failure(store, tmp_path, columns, reason):
    (row,) = store.import_formulas(lines_file(tmp_path / "odd.parquet", **columns)).failures
    assert reason in row["reason"]


def test_damaged_parquet_is_one_failure_beside_sheets(store, folder):
    whole = lines_file(folder / "lines.parquet", formula=[1], material=["coumarin"], parts=[1.0])
    whole.write_bytes(whole.read_bytes()[:-30])
    (folder / "more.parquet").write_bytes(b"PAR1")
    done = store.import_formulas(folder, workers=1)
    assert len(done.failures) == 2
    assert done.added == 3


def test_a_store_inside_the_folder_is_not_read_as_a_source(folder):
    store = open_store(folder / "store", new=True)
    store.import_formulas(folder, workers=1)
    assert store.import_formulas(folder, workers=1).unchanged == 3
    shutil.rmtree(folder / "store")
