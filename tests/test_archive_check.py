"""What is asked of all formulas at once is what is asked of each alone."""

import csv
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from command_line import run

pytest.importorskip("pyarrow")
pytest.importorskip("distributed")

import pyarrow.parquet as pq

from recommender import archive, regulation
from recommender.archive import checking, open_store
from recommender.archive.affected import BOTH, IN_NATURAL, PUT_IN, UNKNOWN
from recommender.archive.search import HOURS, SearchRequest, alike, course_of, given
from recommender.archive.store import Batch, stored
from recommender.errors import BadValue
from recommender.evidence.catalogue import load
from recommender.formulas.formula import amounts
from recommender.model import Formula, Line
from recommender.palette import shipped
from recommender.regulation import FINDINGS, ProductUse
from recommender.workspace import Workspace
from scripts import make_archive

CATALOGUE = load()


def line(name, parts, dilution=1.0, solvent=None):
    content = name if isinstance(name, Formula) else CATALOGUE.find(name)
    return Line(content, parts, dilution, CATALOGUE.find(solvent) if solvent else None)


def made(name, *pairs):
    return Formula(name, tuple(line(*pair) for pair in pairs))


def store_of(folder, *formulas, notebook=None):
    found = open_store(folder, notebook, new=True)
    found.add(Batch.of([stored(formula, f"{formula.name}.csv", formula.name) for formula in formulas]))
    return found


EDGES = (
    made("two citrus oils", ("bergamot oil", 5), ("lemon oil", 20), ("linalool", 75)),
    made("tiny", ("methyl eugenol", 0.001), ("linalool", 999)),
    made("much", ("cinnamaldehyde", 50), ("linalool", 50)),
    made("banned", ("80-54-6", 1), ("linalool", 99)),
    made("basil", ("basil oil", 30), ("vanillin", 70)),
    made("plain", ("vanillin", 10), ("ethyl vanillin", 1)),
)


@pytest.fixture(scope="module")
def formulas():
    """Return invented formulas, and some at the edges."""
    return [*make_archive.invented(CATALOGUE, 60, 25, seed=7), *EDGES]


@pytest.fixture(scope="module")
def house(tmp_path_factory, formulas):
    return store_of(tmp_path_factory.mktemp("archive") / "house", *formulas)


def expected(formula, catalogue, use):
    """Return the decision and the findings of one formula, as `check` has them."""
    report = regulation.check(
        amounts(formula), catalogue, use.dosage_percent, use.category, use.market, None, use.on
    )
    rows = {
        (row.substance.name, row.status, tuple(row.substance.through)): row.percent
        for row in report.rows
        if row.status in FINDINGS
    }
    return report.decision, rows


def compare(store, formulas, use, **given):
    """Compare what an archive has with what each formula alone has; return what was checked."""
    done = store.check(use, **({"workers": 1} | given))
    found = {number: {} for number in store.numbers()}
    for row in done.rows.to_pylist():
        found[row["number"]][row["name"], row["status"], tuple(row["through"])] = row["percent"]
    decisions = {row["number"]: row["decision"] for row in done.decisions.to_pylist()}
    for number, formula in enumerate(formulas, 1):
        decision, rows = expected(formula, store.palette.catalogue, use)
        assert found[number] == pytest.approx(rows, rel=1e-9), formula.name
        assert decisions[number] == decision, formula.name
    return done


@pytest.mark.parametrize("dosage", [0.5, 20.0])
@pytest.mark.parametrize(("market", "on"), [("eu", "2026-11-30"), ("standards", ""), ("any", "2027-08-01")])
def test_every_formula_has_what_check_has_for_it_alone(house, formulas, market, on, dosage):
    done = compare(house, formulas, ProductUse(dosage, "4", market, on))
    assert 0 < done.in_full < len(formulas) or dosage < 1
    assert sum(done.counts.values()) == len(formulas)


def test_another_category_and_a_product_that_is_no_cosmetic(house, formulas):
    for category in ("9", "12"):
        compare(house, formulas, ProductUse(15.0, category, "any", ""))


def test_own_limits_and_materials_count(tmp_path, formulas):
    notebook = tmp_path / "notebook.sqlite"
    here = Workspace(notebook)
    here.own_materials.add("rose lactone X", smells="rose 3")
    for words in (["limits", "import", "demo/own_limits.csv"],):
        assert run(*words, "--notebook", str(notebook)).status == 0
    own = Formula("own", (Line(here.material("rose lactone X"), 1.0), line("coumarin", 30)))
    store = store_of(tmp_path / "store", *formulas[:30], own, notebook=notebook)
    done = compare(store, [*formulas[:30], own], ProductUse(10.0, "4", "standards", ""))
    assert any(row["status"] == "not looked up" for row in done.rows.to_pylist())


def test_a_formula_at_its_limit_is_checked_in_full(tmp_path):
    use = ProductUse(10.0, "4", "eu", "")
    limit = next(
        x
        for x in CATALOGUE.entries
        if x.market.startswith("eu") and "4" in x.percent and len(x.materials) == 1 and not x.counted_with
    )
    name, percent = CATALOGUE.by_slug(limit.materials[0]).name, limit.percent["4"]
    parts = 1000.0 * percent / use.dosage_percent
    shares = (0.5, 0.97, 0.981, 1.0, 1.0 + 5e-9, 1.1)
    formulas = [
        made(f"at {share:.9f}", (name, parts * share), ("vanillin", 1000.0 - parts * share))
        for share in shares
    ]
    done = compare(store_of(tmp_path / "store", *formulas), formulas, use)
    assert done.in_full >= 4


def test_two_processes_find_the_same_as_one(house, formulas):
    use = ProductUse(18.0, "4", "any", "")
    one = house.check(use, workers=1)
    assert one.in_full > 4
    other = open_store(house.path)
    shutil.rmtree(house.path / "runs")
    two = other.check(use, workers=2)
    assert two.rows.equals(one.rows)
    assert two.decisions.equals(one.decisions)


def test_a_limit_of_one_authority_with_other_companions_sends_a_formula_to_the_full_check():
    limit = next(x for x in CATALOGUE.limits if x.percent and x.verified)
    other = replace(limit, basis="memory")
    apart, alike_ = np.array([[1.0, 0.0], [0.0, 1.0]]), np.array([[1.0, 1.0], [0.0, 0.0]])
    columns = {id(limit): 0, id(other): 1}
    assert checking._depends_on_order([limit, other], apart, columns)
    assert not checking._depends_on_order([limit, other], alike_, columns)
    same = replace(limit)
    assert not checking._depends_on_order([limit, same], apart, {id(limit): 0, id(same): 1})


@pytest.mark.parametrize(
    ("use", "field"),
    [
        (ProductUse(None), "dosage_percent"),
        (ProductUse(10.0, "99"), "category"),
        (ProductUse(10.0, on="May"), "on"),
    ],
)
def test_a_use_that_is_none_is_refused(house, use, field):
    with pytest.raises(BadValue) as caught:
        house.check(use, workers=1)
    assert caught.value.field == field


# affected


def test_each_way_in_which_a_material_comes_in_is_found(tmp_path):
    accord = made("sweet", ("coumarin", 1), ("vanillin", 3))
    store = store_of(
        tmp_path / "store",
        made("direct", ("coumarin", 5), ("linalool", 95)),
        made("diluted", ("coumarin", 50, 0.1, "ethanol"), ("linalool", 50)),
        Formula("inside", (Line(accord, 40.0), line("linalool", 60))),
        made("natural", ("tonka bean absolute", 10), ("linalool", 90)),
        made("both", ("tonka bean absolute", 10), ("coumarin", 10), ("linalool", 80)),
        made(
            "none",
            ("linalool", 1),
        ),
    )
    found = {row["formula"]: row for row in store.affected("coumarin").rows.to_pylist()}
    assert found.keys() == {"direct", "diluted", "inside", "natural", "both"}
    assert found["direct"]["percent"] == pytest.approx(5.0)
    assert found["diluted"]["percent"] == pytest.approx(5.0)
    assert found["inside"]["percent"] == pytest.approx(10.0)
    share = next(c.high for c in CATALOGUE.find("tonka bean absolute").contents if c.name == "coumarin")
    assert found["natural"]["percent"] == pytest.approx(0.1 * share)
    assert found["both"]["percent"] == pytest.approx(10.0 + 0.1 * share)
    assert found["both"]["put_in_percent"] == pytest.approx(10.0)
    assert {name: row["status"] for name, row in found.items()} == {
        **dict.fromkeys(("direct", "diluted", "inside"), PUT_IN),
        "natural": IN_NATURAL,
        "both": BOTH,
    }
    assert found["diluted"]["through"] == ["coumarin at 10 %"]
    assert found["inside"]["through"] == ["coumarin, in accord sweet"]
    assert found["both"]["through"] == ["tonka bean absolute", "coumarin"]
    solvent = {row["formula"]: row for row in store.affected("ethanol").rows.to_pylist()}
    assert solvent["diluted"]["percent"] == pytest.approx(45.0)
    assert solvent["diluted"]["through"] == ["ethanol as the solvent of coumarin"]


@pytest.mark.parametrize("name", ["coumarin", "eugenol", "limonene", "lavender oil", "dipropylene glycol"])
def test_what_is_affected_is_what_the_check_counts(house, formulas, name):
    asked = CATALOGUE.find(name)
    keys = {asked.slug, *asked.cas_all}
    rows = house.affected(name).rows.to_pylist()
    found = {row["number"]: row["percent"] for row in rows if row["percent"] is not None}
    for number, formula in enumerate(formulas, 1):
        present = regulation.substances(amounts(formula), CATALOGUE)
        share = sum(s.fraction for s in present if not keys.isdisjoint(s.keys))
        assert found.get(number, 0.0) == pytest.approx(100.0 * share, rel=1e-9), formula.name


def test_a_natural_that_has_it_in_an_unknown_amount_is_found(tmp_path):
    natural, content = next(
        (material, content.name)
        for material in CATALOGUE.materials
        for content in material.contents
        if content.low is None and content.high is None and content.name in CATALOGUE.index
    )
    store = store_of(tmp_path / "store", made("f", (natural.name, 1), ("vanillin", 1)))
    (row,) = store.affected(CATALOGUE.by_slug(content)).rows.to_pylist()
    assert (row["percent"], row["status"]) == (None, UNKNOWN)
    assert row["through"] == [f"{natural.name}, amount unknown"]


# search


def test_the_nearest_of_a_formula_is_itself(house, formulas):
    found = house.search(SearchRequest(like=formulas[40], top=3), workers=1)
    assert [row["rank"] for row in found.rows] == [1, 2, 3]
    title = formulas[40].name
    first = {"rank": 1, "number": 41, "formula": title, "score": 1.0, "origin": f"{title}.csv"}
    assert found.rows[0] == first
    assert found.rows[1]["score"] < 1.0


def test_what_is_given_is_found_and_what_is_refused_left_out(house):
    found = house.search(SearchRequest(words="vanilla", top=200), workers=1)
    titles = [row["formula"] for row in found.rows]
    assert titles.index("plain") < 3
    scores = [row["score"] for row in found.rows]
    assert scores == sorted(scores, reverse=True)
    without = house.search(SearchRequest(words="vanilla, not basil", top=200), workers=1)
    assert "basil" in titles
    assert "basil" not in [row["formula"] for row in without.rows]


def test_a_second_search_looks_the_courses_up(house, monkeypatch):
    house.search(SearchRequest(words="hay"), workers=1)

    def worked_out(*given):
        raise AssertionError("a course is worked out again")

    monkeypatch.setattr("recommender.archive.search.Courses.answer", worked_out)
    assert house.search(SearchRequest(words="hay"), workers=1).rows


def test_a_course_is_that_of_the_drydown():
    from recommender.chemistry.odour_strength import soft
    from recommender.evaporation.course import course

    palette = shipped()
    film = Workspace(palette=palette).drydown(EDGES[4]).film
    assert course_of(EDGES[4], palette) == pytest.approx(soft(course(film, HOURS).facets), rel=1e-5)


def test_how_alike_courses_are_by_hand():
    one = np.zeros((len(HOURS), 2), np.float32)
    one[:, 0] = 0.5
    other = one.copy()
    other[:, 1] = 0.5
    assert alike(np.stack([one, other]), one).tolist() == pytest.approx([1.0, 0.5])
    assert alike(np.stack([other]), one, np.array([2.0, 1.0])).tolist() == pytest.approx([2 / 3])
    wanted, nothing = np.array([1.0, 0.0]), np.zeros(2, bool)
    assert given(np.stack([one, other]), wanted, nothing).tolist() == pytest.approx([0.5, 0.5])
    assert given(np.stack([one, other]), wanted, np.array([False, True])).tolist() == pytest.approx(
        [0.5, 0.0]
    )


def test_a_search_needs_a_formula_or_words(house, formulas):
    for request in (SearchRequest(), SearchRequest(like=formulas[0], words="hay")):
        with pytest.raises(BadValue, match="name a formula, or the smells"):
            house.search(request, workers=1)


# the command line


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Stand in a folder with four formulas and one broken file, imported into `house`."""
    monkeypatch.chdir(tmp_path)
    Path("formulas").mkdir()
    make_archive.write_sheets(Path("formulas"), iter(EDGES))
    Path("formulas/odd.csv").write_text("material,parts\nxyzzyol,1\n", encoding="utf-8")
    done = run("archive", "import", "formulas", "--store", "house", "--workers", "1", "--format", "json")
    assert done.status == 1
    return done


def test_an_import_says_what_it_did(folder):
    found = folder.json
    assert (found["formulas"], found["added"], found["replaced"], found["unchanged"]) == (
        len(EDGES),
        len(EDGES),
        0,
        0,
    )
    (row,) = found["failures"]
    assert (row["file"], row["line"]) == ("formulas/odd.csv", 2)
    shown = run("archive", "import", "formulas", "--store", "house", "--workers", "1")
    assert f"{len(EDGES)} unchanged; 1 failure" in shown.out
    assert "formulas/odd.csv" in shown.out


@pytest.mark.usefixtures("folder")
def test_affected_and_check_have_rows_for_scripts():
    found = run("archive", "affected", "coumarin", "--store", "house", "--format", "json")
    assert (found.status, found.json["rows"], found.json["formulas"]) == (1, [], len(EDGES))
    hit = run("archive", "affected", "linalool", "--store", "house", "--format", "csv").out
    assert hit.splitlines()[0] == "number,formula,name,cas,percent,put_in_percent,through,status,origin"
    done = run(
        "archive",
        "check",
        "--store",
        "house",
        "--dosage",
        "20",
        "--market",
        "eu",
        "--workers",
        "1",
        "--format",
        "json",
    )
    assert done.status == 1
    by_title = {row["formula"]: row["decision"] for row in done.json["formulas"]}
    for formula in EDGES:
        alone = run(
            "check", f"formulas/{formula.name}.csv", "--dosage", "20", "--market", "eu", "--format", "json"
        ).json
        assert by_title[formula.name] == alone["decision"]
        rows = [row for row in done.json["rows"] if row["formula"] == formula.name]
        per_cent = {row["name"]: row["percent"] for row in rows}
        assert per_cent == {
            row["name"]: row["percent_in_product"] for row in alone["rows"] if row["status"] in FINDINGS
        }


@pytest.mark.usefixtures("folder")
def test_answers_are_written_as_files():
    words = ("archive", "check", "--store", "house", "--dosage", "20", "--workers", "1", "--out", "answers")
    shown = run(*words)
    assert "What follows" in shown.out
    assert "answers/check.html" in shown.err
    table = pq.read_table("answers/check.parquet")
    with open("answers/check.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == table.num_rows > 0
    assert [row["name"] for row in rows] == table["name"].to_pylist()
    assert pq.read_table("answers/check_decisions.parquet").num_rows == len(EDGES)
    assert "<h1>Archive: check at 20 %" in Path("answers/check.html").read_text(encoding="utf-8")
    again = run(*words)
    assert (again.status, again.err.count("\n")) == (2, 1)
    assert run(*words, "--force").status == 1
    assert run("archive", "affected", "linalool", "--store", "house", "--out", "answers").status == 0
    assert (
        run(
            "archive",
            "search",
            "--store",
            "house",
            "--gives",
            "vanilla",
            "--workers",
            "1",
            "--out",
            "answers",
        ).status
        == 0
    )
    assert {"affected.csv", "search.parquet"} <= {path.name for path in Path("answers").iterdir()}


@pytest.mark.usefixtures("folder")
def test_a_search_takes_a_file_or_words():
    like = run(
        "archive",
        "search",
        "--store",
        "house",
        "--like",
        "formulas/basil.csv",
        "--workers",
        "1",
        "--format",
        "json",
    )
    assert like.json["rows"][0]["formula"] == "basil"
    assert like.json["query"]["like"] == "basil"
    none = run("archive", "search", "--store", "house")
    assert (none.status, none.out) == (2, "")
    assert "--like" in none.err


def test_what_is_no_archive_is_one_line(tmp_path):
    done = run("archive", "affected", "coumarin", "--store", str(tmp_path / "nowhere"))
    assert (done.status, done.out, done.err.count("\n")) == (2, "", 1)
    assert "archive import" in done.err


def test_without_the_extra_one_line_says_how_to_install_it(monkeypatch, tmp_path):
    import builtins

    real = builtins.__import__

    def missing(name, *given, **named):
        if name == "distributed":
            raise ModuleNotFoundError(name)
        return real(name, *given, **named)

    monkeypatch.setattr(builtins, "__import__", missing)
    with pytest.raises(BadValue, match=r"recommender\[archive\]"):
        archive.open_store(tmp_path)
