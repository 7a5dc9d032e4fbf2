"""A name and a CAS number that disagree are shown and asked about, by one rule for every sheet."""

import csv

import openpyxl
import pytest
from command_line import run

from recommender.errors import BadTable, WrongCas
from recommender.evidence.catalogue import load
from recommender.evidence.identity import identify
from recommender.evidence.sheets import Row
from recommender.notebook import importers, limits, shelf
from recommender.notebook.store import reading

CATALOGUE = load()
# the CAS registry: 121-33-5 is vanillin, 91-64-5 coumarin, 100-52-7 benzaldehyde
ROWS = [
    ("label", "cas", "grams"),
    ("linalool", "78-70-6", 5),
    ("vanillin", "91-64-5", 7),
    ("vanillin", "121-33-5", 9),
    ("studio fig", "", 3),
]
REASON = "the label says vanillin, the CAS number 91-64-5 is that of coumarin"


@pytest.fixture
def studio(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    return tmp_path


def sheet(path, rows=ROWS):
    if path.suffix == ".xlsx":
        book = openpyxl.Workbook()
        for row in rows:
            book.active.append(row)
        book.save(path)
    else:
        with path.open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(rows)
    return path


def bottles(path):
    with reading(path / "notebook.sqlite") as db:
        return sorted((b.label, b.material, b.amount_g) for b in shelf.bottles(db))


OPEN = [("linalool", "linalool", 5), ("studio fig", "", 3), ("vanillin", "", 7), ("vanillin", "vanillin", 9)]


@pytest.mark.parametrize(
    ("name", "cas", "slug", "candidates"),
    [
        ("vanillin", "121-33-5", "vanillin", []),
        ("vanillin", "", "vanillin", []),
        ("", "91-64-5", "coumarin", []),
        ("a word of my own", "91-64-5", "coumarin", []),
        ("vanillin", "none", "vanillin", []),
        ("vanillin", "7440-44-0", "vanillin", []),  # carbon, which the tables do not have
        ("vanillin", "91-64-5", None, ["vanillin", "coumarin"]),
        ("vanillin", "CAS 91-64-5", None, ["vanillin", "coumarin"]),
        ("vanillin", "121-33-5; 91-64-5", "vanillin", []),
        ("a word of my own", "121-33-5; 91-64-5", None, ["vanillin", "coumarin"]),
        ("a word of my own", "", None, []),
        ("limonene", "5989-27-5", "r-limonene", []),  # the number says which mirror image
        ("(R)-limonene", "138-86-3", None, ["r-limonene", "limonene"]),
        ("(R)-limonene", "5989-54-8", None, ["r-limonene", "s-limonene"]),
    ],
)
def test_name_and_number_have_to_agree(name, cas, slug, candidates):
    found = identify(name, cas, CATALOGUE)
    assert (found.material and found.material.slug) == slug
    assert [material.slug for material in found.candidates] == candidates


def test_a_plant_that_is_sold_in_several_forms_agrees_with_each():
    forms = CATALOGUE.meanings("clary sage")
    assert {form.name for form in forms} == {"clary sage oil", "clary sage absolute"}
    for form in forms:
        assert identify("clary sage", form.cas, CATALOGUE).material == form


def test_a_mistyped_number_is_named():
    with pytest.raises(WrongCas):
        identify("vanillin", "91-64-6", CATALOGUE)


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_bottle_that_disagrees_is_named_with_both_and_a_way_out_and_no_row_is_lost(studio, kind):
    done = run("shelf", "import", str(sheet(studio / f"mine.{kind}")), "--format", "json")
    assert done.status == 0
    assert [r["material"] for r in done.json["rows"]] == ["linalool", None, "vanillin", None]
    assert [r["candidates"] for r in done.json["rows"]] == [[], ["vanillin", "coumarin"], [], []]
    assert done.json["rows"][1]["mind"] == REASON
    notes = " ".join(done.json["notes"])
    assert f'line 3, "vanillin": {REASON}' in notes
    assert 'recommender shelf resolve "vanillin" "coumarin"' in notes
    assert bottles(studio) == OPEN


def test_the_answer_is_for_the_bottle_and_formulas_keep_their_meaning(studio):
    file = str(sheet(studio / "mine.csv"))
    run("shelf", "import", file)
    done = run("shelf", "resolve", "vanillin", "coumarin")
    assert "bottles resolved: 1" in done.out
    assert 'in formulas "vanillin" still means vanillin' in done.err
    answered = [*OPEN[:2], ("vanillin", "coumarin", 7), ("vanillin", "vanillin", 9)]
    assert bottles(studio) == answered
    assert run("material", "vanillin", "--format", "json").json["slug"] == "vanillin"
    again = run("shelf", "import", file, "--format", "json")
    assert bottles(studio) == answered  # no sheet takes the answer back
    assert [r["material"] for r in again.json["rows"]] == ["linalool", "coumarin", "vanillin", None]


def test_a_label_that_was_remembered_disagrees_like_a_name(studio):
    head = ROWS[0]
    run("shelf", "import", str(sheet(studio / "a.csv", [head, ("violet stuff", "127-41-3", 1)])))
    assert bottles(studio) == [("violet stuff", "alpha-ionone", 1)]
    done = run("shelf", "import", str(sheet(studio / "b.csv", [head, ("violet stuff", "91-64-5", 2)])))
    assert "the label says alpha-ionone, the CAS number 91-64-5 is that of coumarin" in done.err
    assert bottles(studio) == [("violet stuff", "alpha-ionone", 2)]


def test_the_material_column_says_what_is_under_an_own_label():
    cells = dict.fromkeys(("dilution", "solvent", "amount", "price", "opened", "lot", "note"), "")
    row = Row("s.csv", 2, cells | {"label": "vanillin", "material": "coumarin", "cas": "91-64-5"})
    assert importers.bottle_of(row, CATALOGUE)[0].material == "coumarin"


def test_the_page_leaves_the_same_rows_open_and_asks(studio):
    pytest.importorskip("nicegui")
    from recommender.web.server.session import PageSession

    session = PageSession(studio / "notebook.sqlite")
    _, rows = importers.read(sheet(studio / "mine.csv"), session.workspace.palette.catalogue)
    assert [row.candidates for row in rows] == [(), ("vanillin", "coumarin"), (), ()]
    session.workspace.shelf.add_all([row.bottle for row in rows])
    assert bottles(studio) == OPEN
    assert session.workspace.palette.catalogue.find("vanillin").slug == "vanillin"
    assert session.workspace.shelf.resolve("vanillin", "coumarin")[2].slug == "vanillin"
    assert ("vanillin", "coumarin", 7) in bottles(studio)
    assert session.workspace.palette.catalogue.find("vanillin").slug == "vanillin"


FORMULA = [("material", "cas", "parts"), ("linalool", "78-70-6", 10), ("vanillin", "91-64-5", 2)]


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_line_of_a_formula_that_disagrees_is_named_with_both(studio, kind):
    done = run("drydown", str(sheet(studio / f"fig.{kind}", FORMULA)))
    assert (done.status, done.err.count("\n")) == (2, 1)
    assert (
        "line 3, column material: the name says vanillin, the CAS number 91-64-5 is that of coumarin"
        in done.err
    )
    assert "Write the one that is meant: vanillin or coumarin" in done.err
    agreed = [*FORMULA[:2], ("vanillin", "121-33-5", 2), ("my tonka crystals", "91-64-5", 1)]
    agreed += [("limonene", "5989-27-5", 1), ("clary sage", "84775-83-7", 1)]
    done = run("weigh", str(sheet(studio / f"fig.{kind}", agreed)), "--format", "json")
    assert {row["name"] for row in done.json["rows"]} >= {
        *("linalool", "vanillin", "coumarin", "(R)-limonene", "clary sage absolute"),
    }


def test_a_line_of_a_formula_on_the_page_is_open_with_a_choice(studio):
    pytest.importorskip("nicegui")
    from recommender.web.server.session import PageSession

    session = PageSession(studio / "notebook.sqlite")
    draft = session.import_file("fig.csv", sheet(studio / "fig.csv", FORMULA).read_bytes())
    found = session.read(draft)
    assert [line["material"] for line in draft.lines] == ["linalool", "vanillin (CAS 91-64-5)"]
    (problem,) = found.problems.values()
    assert problem.near == ("vanillin", "coumarin")
    assert problem.text == "The name says vanillin, the CAS number 91-64-5 is that of coumarin."
    assert [line.content.slug for line in found.found.values()] == ["linalool"]


def test_a_limit_whose_name_is_of_another_substance_is_refused(studio):
    rows = [("name", "cas", "cat_4"), ("cinnamic alcohol", "104-54-1", 1.2), ("vanillin", "91-64-5", 5)]
    with pytest.raises(BadTable, match=r"line 3, column cas: the name says vanillin, .* that of coumarin"):
        limits.read(sheet(studio / "limits.csv", rows))
    rows[2:] = [("limonene", "138-86-3; 5989-27-5", 5), ("a group of my own", "91-64-5; 121-33-5", 5)]
    found = limits.read(sheet(studio / "limits.csv", rows))
    assert [limit.name for limit in found] == ["cinnamic alcohol", "limonene", "a group of my own"]


def test_a_strip_whose_name_is_of_another_material_is_refused(studio):
    rows = [("material", "cas", "hours", "strength"), ("vanillin", "91-64-5", 1, "clear")]
    done = run("calibrate", "import", str(sheet(studio / "strips.csv", rows)))
    assert (done.status, done.err.count("\n")) == (2, 1)
    assert "line 2, column material: the name says vanillin, the CAS number 91-64-5" in done.err
    rows[1] = ("vanillin", "121-33-5", 1, "clear")
    assert run("calibrate", "import", str(sheet(studio / "strips.csv", rows))).status == 0
