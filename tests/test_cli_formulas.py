import codecs
import csv
import io
from pathlib import Path

import openpyxl
import pytest
from command_line import run

DEMO = Path(__file__).parent.parent / "data" / "demo"
"""Formulas of an invented studio with invented numbers."""
MORELLO = str(DEMO / "morello.csv")
SUGGESTION = {
    "rank", "name", "cas", "cas_all", "facet", "score", "terms", "lasting", "strength", "dose", "brings",
    "effect", "reasons", "cautions", "confidence", "availability", "law",
}  # fmt: skip
DOSE = {"first_try", "low", "high", "unit", "of_query", "dilution", "usual"}


@pytest.fixture
def write(tmp_path):
    def put(content, name="accord.csv"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return str(path)

    return put


def table(ran):
    return list(csv.DictReader(io.StringIO(ran.out)))


# drydown


@pytest.fixture(scope="module")
def drydown():
    ran = run("drydown", MORELLO, "--format", "json")
    assert ran.status == 0
    return ran.json


def test_drydown_gives_hours_facets_ends_and_gaps(drydown):
    assert {"hours", "facets", "ends", "gaps"} <= set(drydown)
    assert all(len(line) == len(drydown["hours"]) for line in drydown["facets"].values())
    assert set(drydown["ends"]) == set(drydown["facets"])
    assert all(set(gap) == {"facet", "hours", "carried_by", "of_theme"} for gap in drydown["gaps"])


def test_every_end_has_a_band_that_holds_its_hours(drydown):
    for ends in drydown["ends"].values():
        assert set(ends) == {"clear", "just_there"}
        for end in filter(None, ends.values()):
            assert set(end) == {"hours", "low", "high"}
            assert end["low"] < end["hours"] < end["high"]


def test_the_dying_almond_of_the_demo_is_found(drydown):
    assert drydown["gaps"][0]["facet"] == "bitter almond"
    assert drydown["gaps"][0]["carried_by"] == ["benzaldehyde"]
    assert 0.2 < drydown["gaps"][0]["hours"] < 4


def test_the_same_formula_saved_four_ways_prints_the_same_drydown(write, tmp_path):
    rows = [
        ("material", "parts", "dilution_percent"),
        ("linalool", 12.5, None),
        ("vanillin", 3.25, 10),
        ("rose oil", 7, 0.5),
    ]
    text = "".join(",".join("" if c is None else str(c) for c in row) + "\n" for row in rows)
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    book.save(tmp_path / "book.xlsx")
    files = [
        write(text, "comma.csv"),
        write(codecs.BOM_UTF8 + text.replace(",", ";").replace(".", ",").encode(), "semicolon.csv"),
        write(codecs.BOM_UTF16_LE + text.encode("utf-16-le"), "wide.csv"),
        str(tmp_path / "book.xlsx"),
    ]
    printed = [run("drydown", file, "--format", "json") for file in files]
    assert [ran.status for ran in printed] == [0] * 4
    assert [ran.out for ran in printed] == [printed[0].out] * 4


def test_a_shown_drydown_says_on_a_strip():
    ran = run("drydown", MORELLO)
    assert ran.status == 0
    assert "on a strip" in ran.out
    assert "gap: bitter almond " in ran.out
    assert "note: Dilutions without a solvent" in ran.err


@pytest.mark.parametrize("verb", ["drydown", "trim"])
def test_a_listing_has_one_csv_row_a_facet_or_material(verb, drydown):
    rows = table(run(verb, MORELLO, "--format", "csv"))
    assert len(rows) == (len(drydown["facets"]) if verb == "drydown" else 12)


# trim, strips, dose, compare


def test_trim_has_a_row_for_each_material():
    found = run("trim", MORELLO, "--format", "json").json
    keys = {"name", "cas", "parts", "redundant", "facet", "phase", "missed", "covered_by"}
    assert all(keys <= set(row) for row in found["rows"])
    assert [row["missed"] for row in found["rows"]] == sorted(row["missed"] for row in found["rows"])


def test_strips_have_a_row_for_each_material():
    found = run("strips", "coumarin", "121-33-5", "benzaldehyde", "--format", "json").json
    assert [row["name"] for row in found["rows"]] == ["coumarin", "vanillin", "benzaldehyde"]
    assert all(row["verdict"] for row in found["rows"])


def test_dose_gives_rising_amounts_from_pyrazine_to_coumarin():
    # common practice
    names = ["2-ethyl-3,5-dimethylpyrazine", "benzaldehyde", "vanillin", "coumarin"]
    rows = run("dose", *names, "--format", "json").json["rows"]
    assert [row["name"] for row in rows] == names
    assert [row["parts"] for row in rows] == sorted(row["parts"] for row in rows)


def test_dose_takes_a_balance_and_warns_about_skin():
    even = table(run("dose", "benzaldehyde", "vanillin", "--format", "csv"))
    ran = run("dose", "benzaldehyde", "vanillin", "--balance", "almond 2, vanilla 1", "--format", "csv")
    asked = table(ran)
    # usual use bounds the benzaldehyde, so there is less vanillin beside it
    assert float(asked[0]["parts"]) == float(even[0]["parts"]) == float(asked[0]["usual_high"])
    assert float(asked[1]["parts"]) < float(even[1]["parts"])
    assert "check the current Standards" in ran.err.replace("Check", "check")
    assert "qualified person" in ran.err


def test_compare_gives_both_formulas_hour_by_hour():
    found = run("compare", MORELLO, str(DEMO / "tide_pool.csv"), "--format", "json").json
    assert found["formulas"] == ["morello", "tide_pool"]
    assert all(set(lines) == {"morello", "tide_pool"} for lines in found["facets"].values())
    assert len(found["likeness"]) == len(found["hours"])


# suggestions in a formula


@pytest.mark.parametrize(
    "arguments",
    [
        ("extend", MORELLO),
        ("extend", "benzaldehyde", "--in", MORELLO),
        ("extend", MORELLO, "--facet", "bitter almond", "--into", "base"),
        ("replace", "benzaldehyde", "--in", MORELLO),
    ],
)
def test_a_suggestion_in_a_formula_has_every_key_with_dose_and_effect(arguments):
    ran = run(*arguments, "--top", "3", "--format", "json")
    assert ran.status == 0
    more = {"lower"} if arguments[0] == "extend" else set()
    assert set(ran.json) == {"query", "suggestions", "notes"} | more
    for row in ran.json["suggestions"]:
        assert set(row) == SUGGESTION
        assert set(row["dose"]) == DOSE
        assert row["dose"]["unit"] == "parts per thousand"
        assert set(row["effect"]) == {"before", "after"}
        assert row["name"] != "benzaldehyde"


def test_vary_of_a_formula_reports_how_much_of_the_theme_remains():
    ran = run("vary", MORELLO, "--toward", "smoke", "--top", "3", "--format", "json")
    assert ran.status == 0
    for row in ran.json["suggestions"]:
        assert 0 <= row["effect"]["after"]["theme_kept"] <= 1


@pytest.mark.parametrize(
    ("arguments", "size", "extra"),
    [
        (("extend", MORELLO, "--relay"), 2, {"dose"}),
        (("replace", "clove bud oil", "--blend", "2"), 2, set()),
        (("replace", "clove bud oil", "--blend", "3"), 3, set()),
    ],
)
def test_a_relay_or_blend_has_members_and_no_cas(arguments, size, extra):
    ran = run(*arguments, "--top", "3", "--format", "json")
    assert ran.status == 0
    for row in ran.json["suggestions"]:
        assert set(row) == SUGGESTION | {"members"}
        assert row["cas"] is None
        assert [set(member) for member in row["members"]] == [{"name", "cas", "share"} | extra] * size
        assert sum(member["share"] for member in row["members"]) == pytest.approx(1.0, abs=0.001)


def test_a_blend_for_clove_bud_oil_proposes_eugenol():
    # common practice
    first = run("replace", "clove bud oil", "--blend", "3", "--format", "json").json["suggestions"][0]
    assert "eugenol" in [member["name"] for member in first["members"]]


def test_a_relay_names_the_hour_of_handing_over():
    row = run("extend", MORELLO, "--relay", "--top", "1", "--format", "json").json["suggestions"][0]
    (relay,) = (reason for reason in row["reasons"] if reason["kind"] == "relay")
    assert relay["figures"]["handover_hours"] > 0.1


def test_nothing_found_ends_with_status_1():
    ran = run("extend", MORELLO, "--facet", "bitter almond", "--kind", "base", "--format", "json")
    assert (ran.status, ran.json["suggestions"]) == (1, [])


# pictures


@pytest.mark.parametrize(
    "arguments",
    [("drydown", MORELLO), ("compare", MORELLO, str(DEMO / "tide_pool.csv")), ("extend", MORELLO)],
)
def test_a_picture_is_written_beside_the_answer(tmp_path, arguments):
    ran = run(*arguments, "--picture", str(tmp_path / "course.svg"))
    assert ran.status == 0
    assert ran.out.strip()
    assert (tmp_path / "course.svg").stat().st_size > 1000


@pytest.mark.parametrize("verb", ["drydown", "extend"])
@pytest.mark.parametrize("name", ["course.gif", "gone/course.svg"])
def test_a_picture_that_cannot_be_written_is_one_line_and_no_answer(tmp_path, write, verb, name):
    accord = write("material,parts\nbenzaldehyde,20\nethylene brassylate,80\n")
    ran = run(verb, accord, "--picture", str(tmp_path / name))
    assert ran.status == 2
    assert ran.err.splitlines()[-1].startswith("recommender: --picture cannot be")
    assert ran.out == ""


# wrong use

BAD = [
    ("material,parts\nlinalool,-3\n", "accord.csv, line 2, column parts: "),
    ("material,parts\nvanillin,1\nlinalool,0\n", "accord.csv, line 3, column parts: "),
    ("material,parts,dilution_percent\nlinalool,1,120\n", "accord.csv, line 2, column dilution_percent: "),
    ("material,parts\n" + "linalool,1\n" * 5 + "vaniline,1\n", "accord.csv, line 7, column material: "),
    ("material,parts\naccord.csv,1\n", "contains itself: accord.csv > accord.csv"),
    ("material,parts\ndipropylene glycol,1\n", "accord.csv: nothing but solvents"),
    (
        "material,parts\n" + "linalool,1\n" * 10_001,
        "accord.csv, line 8001: more than 8000 lines are too many",
    ),
    (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "accord.csv: this is not a table"),
    (b"PK\x03\x04\x00\x00\x00\x00", "accord.csv: this is not a table"),
    ("", "accord.csv: the file is empty"),
    ("material,colour\nlinalool,1\n", 'accord.csv, line 1: no column "parts"'),
    (None, "there is no such file"),
]


@pytest.mark.parametrize("verb", ["drydown", "trim", "extend", "compare", "vary", "replace"])
@pytest.mark.parametrize(("content", "message"), BAD)
def test_a_bad_formula_is_one_line_with_its_place_and_status_2(write, tmp_path, verb, content, message):
    file = str(tmp_path / "accord.csv") if content is None else write(content)
    more = {
        "compare": [verb, MORELLO, file],
        "vary": [verb, file, "--toward", "smoke"],
        "replace": [verb, "linalool", "--in", file],
    }
    ran = run(*more.get(verb, [verb, file]))
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.count("\n") == 1
    assert message in ran.err
    assert "Traceback" not in ran.err


def test_an_unknown_material_comes_with_near_names(write):
    ran = run("drydown", write("material,parts\nvaniline,1\n"))
    assert "Did you mean vanillin" in ran.err


@pytest.mark.parametrize("name", ["accord.xlsx", "folder.csv"])
def test_what_is_no_workbook_or_a_folder_is_one_line(tmp_path, write, name):
    if name == "folder.csv":
        (tmp_path / name).mkdir()
    else:
        write("material,parts\nlinalool,1\n", name)
    ran = run("drydown", str(tmp_path / name))
    assert (ran.status, ran.err.count("\n")) == (2, 1)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("strips", "coumarin"), "two or more"),
        (("dose", "vanillin", "--balance", "much"), "--balance"),
        (("dose", "vanillin", "--balance", "smoke 2"), "none of the materials"),
        (("dose", "vanillin", "--batch", "0"), "--batch"),
        (("strips", "coumarim", "vanillin"), "coumarin,"),
        (("extend", "benzaldehyde", "--relay"), "it needs a formula"),
        (("replace", "benzaldehyde", "--in", MORELLO, "--blend", "2"), "--blend"),
        (("replace", "vanillin", "--in", MORELLO), "vanillin is not in this formula"),
        (("replace", "vanillin", "--blend", "4"), "--blend"),
        (("vary", MORELLO, "--toward", "zzzz"), "zzzz"),
    ],
)
def test_wrong_use_is_one_line_and_status_2(arguments, message):
    ran = run(*arguments)
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert message in ran.err
