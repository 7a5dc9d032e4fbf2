"""What mends each formula of an archive: by hand in a toy world, and as the other verbs judge it."""

import csv
from dataclasses import replace

import pytest
from command_line import run
from conftest import make_catalogue, make_material, make_relation

pyarrow = pytest.importorskip("pyarrow")
pytest.importorskip("distributed")

from recommender import regulation  # noqa: E402
from recommender.archive import execution, open_store  # noqa: E402
from recommender.archive.mending import (  # noqa: E402
    Mending,
    MendingRequest,
    asked_in_words,
    mend,
    plan_of,
    rows_of,
    summary_of,
)
from recommender.archive.store import Batch, stored  # noqa: E402
from recommender.errors import BadTable, BadValue, UnknownMaterial  # noqa: E402
from recommender.formulas import formula as formulas  # noqa: E402
from recommender.formulas.drydown import FormulaDrydown  # noqa: E402
from recommender.model import Content, Formula, Line  # noqa: E402
from recommender.output import archive_page  # noqa: E402
from recommender.palette import Palette, shipped  # noqa: E402
from recommender.reformulation.preserved import Smell, presence  # noqa: E402

PALETTE = shipped()


def formula_of(lines, palette=PALETTE, name="accord"):
    return formulas.of_pairs(name, lines.items(), palette.catalogue)


def mended(lines, palette=PALETTE, **request):
    return mend(formula_of(lines, palette), plan_of(MendingRequest(**request), palette), palette)


def parts_in(formula):
    return {line.content.name: line.parts for line in formula.lines}


# a toy world: zest, its twin, and an oil with zest in it


@pytest.fixture(scope="module")
def toys():
    oil = {"kind": "natural", "hours": 2.0, "pressure_pa": 50.0}
    held = Content("zest", 40.0, 60.0, "published", "toy-2020")
    materials = [
        make_material("zest", {"lemon": 3, "rose": 1}, hours=1.0, pressure_pa=100.0, cas="11-11-1"),
        make_material("twin", {"lemon": 3, "rose": 1}, hours=1.1, pressure_pa=95.0),
        make_material("oil", {"lemon": 3, "rose": 2}, contents=(held,), **oil),
        make_material("peel", {"lemon": 3}, contents=(replace(held, low=None, high=None),), **oil),
        make_material("leaf", {"lemon": 2, "lime": 2}, **oil),
        make_material("rosy", {"rose": 3}, hours=20.0, pressure_pa=2.0),
        make_material("ember", {"smoke": 3}, hours=500.0, pressure_pa=0.1),
        make_material("carrier", kind="solvent", curve=None, pressure_pa=0.5),
    ]
    return Palette.of(make_catalogue(materials, [make_relation("zest", "constituent-of", "leaf")]))


def test_a_ban_reaches_naturals_whether_or_not_their_share_is_known(toys):
    plan = plan_of(MendingRequest(ban="zest"), toys)
    assert set(plan.offenders) == plan.out == {"zest", "oil", "peel", "leaf"}
    assert plan.offenders["zest"][0].slug == "twin"
    assert {one.slug for offered in plan.offenders.values() for one in offered}.isdisjoint(plan.offenders)


def test_without_reaches_the_bottle_alone(toys):
    assert set(plan_of(MendingRequest(without="zest"), toys).offenders) == {"zest"}


def test_what_is_banned_is_swapped_for_what_smells_and_lasts_alike(toys):
    found = mended({"zest": 30, "ember": 50, "carrier": 400}, toys, ban="zest")
    (change,) = found.lines
    assert (change.change, change.line.name, change.to.name) == ("swapped", "zest", "twin")
    assert change.parts_before == 30.0
    assert change.parts == pytest.approx(30.0, rel=0.7)
    assert found.preserved > 0.9
    assert parts_in(found.formula) == {
        "ember": 50.0,
        "twin": change.parts,
        "carrier": pytest.approx(430.0 - change.parts),
    }


def test_every_line_in_the_way_has_its_change(toys):
    found = mended({"zest": 5, "oil": 30, "ember": 50}, toys, ban="zest")
    assert [one.line.name for one in found.lines] == ["zest", "oil"]
    assert {"zest", "oil"}.isdisjoint(parts_in(found.formula))


def test_what_wins_nothing_is_not_put_in(toys):
    found = mended({"zest": 1e-7, "ember": 500}, toys, ban="zest")
    assert [(one.change, one.to, one.parts) for one in found.lines] == [("taken out", None, 0.0)]


def test_a_limit_is_kept_through_naturals(toys):
    lines = {"zest": 10, "oil": 20, "ember": 50, "carrier": 120}
    found = mended(lines, toys, limit="zest 2")
    after = {a.material.slug: a.mass_fraction for a in formulas.amounts(found.formula)}
    assert after.get("zest", 0.0) + 0.6 * after.get("oil", 0.0) <= 0.02 * (1 + 1e-9)
    assert mended(lines, toys, limit="zest 20") is None
    assert mended(lines, toys, limit="zest 2", dosage_percent=10.0) is None


def test_no_formula_costs_more_than_before(toys, tmp_path):
    sheet = tmp_path / "prices.csv"
    sheet.write_text("material,price,before\nzest,120,40\ntwin,60/kg,\nrosy,10,10\n", encoding="utf-8")
    found = mended({"zest": 30, "ember": 50, "rosy": 5, "carrier": 15}, toys, price=sheet)
    after = parts_in(found.formula)
    cost = 120 * after.get("zest", 0) + 60 * after.get("twin", 0) + 10 * after["rosy"]
    assert cost <= (40 * 30 + 10 * 5) * (1 + 1e-6)
    assert {one.to.name for one in found.lines if one.to} <= {"zest", "twin"}
    assert mended({"rosy": 5, "ember": 50}, toys, price=sheet) is None


def test_where_nothing_is_left_that_smells_no_mend_is_found(toys):
    other = Palette.of(make_catalogue([m for m in toys.catalogue.materials if m.slug in ("zest", "carrier")]))
    found = mended({"zest": 30, "carrier": 70}, other, ban="zest")
    assert (found.formula, found.preserved) == (None, None)
    assert [(one.change, one.to) for one in found.lines] == [("no mend found", None)]


def test_a_line_that_stands_twice_is_one(toys):
    zest, ember = toys.catalogue.by_slug("zest"), toys.catalogue.by_slug("ember")
    carrier = toys.catalogue.by_slug("carrier")
    formula = Formula("twice", (Line(zest, 100.0, 0.1, carrier), Line(ember, 50.0), Line(zest, 20.0)))
    found = mend(formula, plan_of(MendingRequest(ban="zest"), toys), toys)
    assert [one.parts_before for one in found.lines] == [30.0]


@pytest.mark.parametrize(
    ("request_", "wanted"),
    [
        ({}, "give one of"),
        ({"ban": "zest", "limit": "zest 1"}, "give one of"),
        ({"ban": "carrier"}, "carrier is a solvent"),
        ({"limit": "zest"}, "write a material and the most"),
        ({"limit": "zest 0"}, "write a material and the most"),
        ({"limit": "1"}, "write a material and the most"),
        ({"limit": "zest 1", "dosage_percent": 0.0}, "above 0 to 100"),
    ],
)
def test_a_question_that_cannot_be_asked_is_one_line(toys, request_, wanted):
    with pytest.raises(BadValue, match=wanted):
        plan_of(MendingRequest(**request_), toys)
    with pytest.raises(UnknownMaterial):
        plan_of(MendingRequest(ban="zzz"), toys)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("material,price,before\nzzz,1,2\n", 'line 2, column material: no material is called "zzz"'),
        ("material,price,before\nzest,1,2\nzest,3,2\n", "line 3, column material: zest is there twice"),
        ("material,price,before\nzest,,2\n", "line 2, column price: the price is missing"),
        ("material,price,before\nzest,-3,2\n", 'column price: "-3" is no price'),
        ("material,price,before\nzest,dear,2\n", 'column price: "dear" is not a number'),
        ("material,parts\nzest,2\n", 'no column "price"'),
    ],
)
def test_a_sheet_of_prices_names_the_line_that_is_wrong(toys, tmp_path, text, wanted):
    sheet = tmp_path / "prices.csv"
    sheet.write_text(text, encoding="utf-8")
    with pytest.raises(BadTable, match=wanted):
        plan_of(MendingRequest(price=sheet), toys)


def test_a_sheet_in_which_nothing_has_risen_is_no_question(toys, tmp_path):
    sheet = tmp_path / "prices.csv"
    sheet.write_text("material,price\nzest,2\n", encoding="utf-8")
    with pytest.raises(BadValue, match="no price has risen"):
        plan_of(MendingRequest(price=sheet), toys)


def test_the_thorough_way_is_that_of_reformulate(toys):
    lines = {"zest": 30, "ember": 50, "carrier": 400}
    quick, thorough = (mended(lines, toys, ban="zest", thorough=way) for way in (False, True))
    assert thorough.preserved >= quick.preserved - 1e-6
    assert "zest" not in parts_in(thorough.formula)
    limited = mended({"zest": 30, "oil": 20, "ember": 50}, toys, limit="zest 5", thorough=True)
    after = {a.material.slug: a.mass_fraction for a in formulas.amounts(limited.formula)}
    assert after.get("zest", 0.0) + 0.6 * after.get("oil", 0.0) <= 0.05 * (1 + 1e-9)


# the shipped evidence


HAY = {
    "coumarin": 40,
    "tonka bean absolute": 12,
    "lavender absolute": 30,
    "linalyl acetate": 120,
    "methyl dihydrojasmonate": 200,
    "cedarwood oil virginia": 80,
    "vanillin": 6,
    "dipropylene glycol": 300,
}
ROSE = {
    "phenethyl alcohol": 300,
    "citronellol": 120,
    "geraniol": 60,
    "geranium oil": 15,
    "benzyl salicylate": 90,
}
WOOD = {"cedarwood oil virginia": 200, "guaiacwood oil": 60, "patchouli oil": 40, "vanillin": 3}


def test_what_is_banned_is_gone_by_the_check_through_naturals_too():
    found = mended(HAY, ban="coumarin")
    report = regulation.check(formulas.amounts(found.formula), PALETTE.catalogue, 15.0, "4")
    assert "coumarin" not in {row.substance.key for row in report.rows}
    assert "coumarin" not in {unknown.substance.slug for unknown in report.unknown}
    before = regulation.check(formulas.amounts(formula_of(HAY)), PALETTE.catalogue, 15.0, "4")
    assert "coumarin" in {row.substance.key for row in before.rows}


def test_a_limit_is_kept_by_the_check():
    found = mended(HAY, limit="coumarin 0.2", dosage_percent=15.0)
    report = regulation.check(formulas.amounts(found.formula), PALETTE.catalogue, 15.0, "4")
    (row,) = (row for row in report.rows if row.substance.key == "coumarin")
    assert 0.15 < row.percent <= 0.2 * (1 + 1e-9)


@pytest.mark.parametrize("lines", [HAY, ROSE], ids=["hay", "rose"])
def test_what_is_preserved_is_that_of_the_mended_formula(lines):
    found = mended(lines, ban="coumarin" if lines is HAY else "geraniol")
    before, then = (FormulaDrydown(one, PALETTE) for one in (formula_of(lines), found.formula))
    smell = Smell.of(before.course, before.theme.facets)
    assert found.preserved == pytest.approx(smell.preserved(presence(then.film)), abs=1e-9)


# an archive


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    """Return a store of forty formulas: three, at twelve scales of their first line, and some twins."""
    store = open_store(tmp_path_factory.mktemp("archive") / "house", new=True)
    found = []
    for number in range(40):
        lines = dict((HAY, ROSE, WOOD)[number % 3])
        first = next(iter(lines))
        lines[first] *= 0.5 + 0.1 * (number // 3)
        found.append(stored(formula_of(lines, name=f"trial {number} <b>&"), "house.csv"))
    store.add(Batch.of(found))
    return store


def test_an_archive_has_the_answers_of_each_formula_asked_alone(house):
    request = MendingRequest(ban="coumarin")
    found = execution.run(Mending(request), house, workers=1)
    assert (found.asked, found.failures) == (14, ())
    alone = []
    for one in house.read():
        answer = mend(one.formula(PALETTE.catalogue), plan_of(request, PALETTE), PALETTE)
        alone += [] if answer is None else rows_of(answer, one)
    assert found.rows.to_pylist() == alone
    assert len({row["number"] for row in alone}) == 14


def test_two_workers_give_the_same_mend(house):
    one, two = (
        execution.run(Mending(MendingRequest(without="geraniol", market=market)), house, workers=workers)
        for workers, market in ((1, "any"), (2, "eu"))
    )
    assert one.rows.num_rows > 0
    assert one.folder != two.folder
    assert two.digest == one.digest


def test_the_summary_counts_formulas(house):
    request = MendingRequest(ban="coumarin")
    rows = execution.run(Mending(request), house, workers=1).rows.to_pylist()
    summary = summary_of(request, rows, len(house), 0, PALETTE)
    assert summary.asked == "coumarin is prohibited"
    assert (summary.formulas, summary.hit, summary.mended, summary.failed) == (40, 14, 14, 0)
    assert sum(count for *_, count in summary.bands) == 14
    assert sum(one.formulas for one in summary.swaps) == len(rows)


def test_the_question_in_words(tmp_path):
    assert asked_in_words(MendingRequest(without="coumarin"), PALETTE) == "coumarin is not to be had"
    limited = MendingRequest(limit="coumarin 0.1", dosage_percent=15.0)
    assert asked_in_words(limited, PALETTE) == "coumarin at most 0.1 % of the product at 15 %"
    priced = MendingRequest(price=tmp_path / "march.csv")
    assert asked_in_words(priced, PALETTE) == "no formula costs more than before the prices of march.csv"


# the command line


def asked(house, *more):
    return run("archive", "mend", "--store", str(house.path), "--workers", "1", *more)


def test_the_command_gives_all_rows_as_data(house):
    found = asked(house, "--ban", "coumarin", "--format", "json").json
    assert found["query"]["asked"] == "coumarin is prohibited"
    assert found["summary"]["hit"] == 14
    columns = "number,formula,change,from,to,parts_before,parts,preserved"
    assert list(found["rows"][0]) == columns.split(",")
    table = asked(house, "--ban", "coumarin", "--format", "csv").out
    assert len(list(csv.DictReader(table.splitlines()))) == len(found["rows"])


def test_the_command_shows_what_loses_most_and_how_much_more_there_is(house):
    shown = asked(house, "--ban", "coumarin")
    assert shown.status == 0
    assert "14 of 40 formulas have something in the way; 14 of them have a mend." in shown.out
    assert "How much of the smell is preserved" in shown.out
    assert "more: --format csv, or --out" in shown.out


def test_nothing_in_the_way_is_status_1(house):
    found = asked(house, "--ban", "skatole")
    assert (found.status, found.err) == (1, "recommender: nothing is in the way of any formula.\n")


def test_the_files_of_a_mend_are_written_whole(house, tmp_path):
    out = tmp_path / "report"
    assert asked(house, "--ban", "coumarin", "--out", str(out)).status == 0
    assert sorted(path.name for path in out.iterdir()) == ["mend.csv", "mend.html", "mend.parquet"]
    page = (out / "mend.html").read_text(encoding="utf-8")
    assert "trial 0 &lt;b&gt;&amp;" in page
    assert "<b>" not in page
    assert "http" not in page
    again = asked(house, "--ban", "coumarin", "--out", str(out))
    assert (again.status, "--force writes over it" in again.err) == (2, True)
    assert asked(house, "--ban", "coumarin", "--out", str(out), "--force").status == 0
    there = asked(house, "--ban", "coumarin", "--out", str(out / "mend.csv"))
    assert (there.status, "this is a file; name a folder" in there.err) == (2, True)


def test_a_question_that_cannot_be_asked_names_the_options(house):
    found = asked(house)
    assert (found.status, found.err) == (
        2,
        "recommender: --ban: give one of --ban, --without, --limit and --price\n",
    )


def test_a_store_that_is_not_there_is_one_line(tmp_path):
    found = run("archive", "mend", "--store", str(tmp_path / "none"), "--ban", "coumarin")
    assert (found.status, "there is no archive here" in found.err) == (2, True)


def test_a_long_list_ends_on_the_page_and_goes_on_in_the_file():
    rows = [{"formula": n} for n in range(archive_page.ON_A_PAGE + 7)]
    section = archive_page.Section("All", {"formula": "no."}, rows)
    page = archive_page.page(archive_page.ArchiveReport("T", [], [section]), ["mend.csv"])
    assert "and 7 more; all are in mend.csv" in page
    assert page.count("<tr>") == 1 + archive_page.ON_A_PAGE
