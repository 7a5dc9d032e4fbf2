import doctest
import importlib
import json
import math
import pkgutil

import pytest
from command_line import run

import recommender as r

MODULES = sorted(m.name for m in pkgutil.walk_packages(r.__path__, "recommender."))


@pytest.fixture(scope="module")
def answer():
    return r.extend("benzaldehyde", facet="almond", until_hours=24, top=4)


@pytest.fixture(scope="module")
def nothing():
    return r.extend("benzaldehyde", facet="almond", kind="base")


def test_an_answer_gives_the_same_data_as_the_command_line(answer):
    question = ["extend", "benzaldehyde", "--facet", "almond", "--until", "24h", "--top", "4"]
    assert json.loads(json.dumps(answer.to_dict())) == run(*question, "--format", "json").json


def test_the_length_of_an_answer_is_the_number_of_suggestions(answer, nothing):
    assert len(answer) == 4
    assert len(nothing) == 0


def test_an_answer_shows_its_first_three_names(answer):
    names = [found["name"] for found in answer.to_dict()["suggestions"]]
    assert repr(answer) == f"<4 suggestions: {names[0]}, {names[1]}, {names[2]}, ...>"


def test_three_suggestions_are_shown_without_dots():
    assert not repr(r.replace("coumarin", top=3)).endswith("...>")


def test_a_frame_has_a_row_a_suggestion_and_a_column_a_term(answer):
    frame = answer.to_frame()
    assert list(frame["rank"]) == [1, 2, 3, 4]
    first = answer.to_dict()["suggestions"][0]
    assert frame["name"][0] == first["name"]
    assert frame["lasting_hours"][0] == first["lasting"]["hours"]
    for term, value in first["terms"].items():
        assert frame[f"term_{term}"][0] == value


def test_a_frame_of_nothing_is_empty_and_still_has_its_columns(nothing):
    frame = nothing.to_frame()
    assert len(frame) == 0
    assert "name" in frame.columns


def test_a_notebook_shows_a_table_with_the_names(answer):
    page = answer._repr_html_()
    assert page.startswith("<table")
    assert all(found["name"] in page for found in answer.to_dict()["suggestions"])


def test_an_empty_answer_can_be_shown(nothing):
    assert nothing._repr_html_().startswith("<table")
    assert "0 suggestions" in repr(nothing)


def test_each_verb_names_itself_in_the_query():
    assert r.extend("benzaldehyde").to_dict()["query"]["verb"] == "extend"
    assert r.replace("coumarin").to_dict()["query"]["verb"] == "replace"
    assert r.vary("vanillin", "chocolate").to_dict()["query"]["verb"] == "vary"


def test_a_material_is_everything_that_is_known():
    found = r.material("91-64-5")
    assert found.name == "coumarin"
    assert found.strength_of("hay") == 3
    assert found.strength_of("pear") == 0
    assert found is r.material("Coumarin")


def test_materials_of_a_facet_come_with_the_strongest_first():
    strengths = [material.strength_of("hay") for material in r.materials("hay")]
    assert strengths[0] == 3
    assert strengths == sorted(strengths, reverse=True)
    assert 0 not in strengths
    assert len(r.materials()) > 700


def test_an_unknown_material_carries_its_name_and_the_nearest():
    with pytest.raises(r.UnknownMaterial) as caught:
        r.extend("coumarine")
    assert caught.value.name == "coumarine"
    assert "coumarin" in caught.value.near


def test_an_unknown_facet_carries_its_phrase_and_the_nearest():
    with pytest.raises(r.UnknownFacet) as caught:
        r.extend("benzaldehyde", facet="almnd")
    assert caught.value.phrase == "almnd"
    assert "almond" in caught.value.near


def test_a_mistyped_cas_number_carries_the_digit_that_would_fit():
    with pytest.raises(r.WrongCas) as caught:
        r.material("100-52-8")
    assert (caught.value.cas, caught.value.expected) == ("100-52-8", 7)


@pytest.mark.parametrize(
    "option",
    [
        {"top": 0},
        {"top": -1},
        {"into": "middle"},
        {"until_hours": 0},
        {"until_hours": -1.0},
        {"until_hours": math.nan},
        {"until_hours": math.inf},
        {"market": "mars"},
        {"kind": "gas"},
    ],
    ids=str,
)
def test_an_option_that_cannot_be_used_is_named(option):
    with pytest.raises(r.BadValue) as caught:
        r.extend("benzaldehyde", facet="almond", **option)
    assert caught.value.wanted
    assert isinstance(caught.value, r.RecommenderError)


@pytest.fixture(scope="module")
def clove_rose(tmp_path_factory):
    path = tmp_path_factory.mktemp("units") / "clove_rose.csv"
    path.write_text("material,parts\neugenol,30\nphenethyl alcohol,970\n", encoding="utf-8")
    return str(path)


@pytest.mark.parametrize("percent", [0.5, 15, 30])
def test_the_same_dosage_gives_the_same_percentages_in_every_verb(clove_rose, percent):
    # 3 % of the concentrate: 0.015 % of a product dosed at 0.5 %, by mass (common practice)
    expected = pytest.approx(0.03 * percent)
    for answer in (r.check(clove_rose, percent), r.weigh(clove_rose, dosage_percent=percent)):
        (row,) = (row for row in answer["rows"] if row["name"] == "eugenol")
        assert row["percent_in_product"] == expected
    for answer in (
        r.extend(clove_rose, "clove", dosage_percent=percent, top=30),
        r.vary(clove_rose, "clove", dosage_percent=percent, top=30),
    ):
        assert answer.to_dict()["query"]["dosage"] == percent
        figures = [
            reason.figures
            for found in answer.findings.suggestions
            for reason in found.reasons
            if reason.kind == "counts against a limit" and reason.figures["substance"] == "eugenol"
        ]
        assert figures
        assert all(x["before"] * x["limit_percent"] == expected for x in figures)


def test_a_first_amount_meets_the_limit_at_the_dosage_of_check(tmp_path):
    first, _ = r.dose(["isoeugenol", "vanillin"], dosage_percent=50)
    path = tmp_path / "first.csv"
    path.write_text(f"material,parts\nisoeugenol,{first.parts}\nvanillin,{1000 - first.parts}\n")
    (row,) = (row for row in r.check(str(path), 50)["rows"] if row["name"] == "isoeugenol")
    assert row["percent_in_product"] == pytest.approx(
        0.02
    )  # Regulation (EC) No 1223/2009, Annex III, entry 73


def test_shares_of_a_weighing_are_per_cent_as_on_the_command_line(clove_rose):
    given = {"share_percent": 5, "dosage_percent": 15, "within_percent": 10, "resolution_g": 0.001}
    options = ["--share", "5", "--dosage", "15", "--within", "10", "--resolution", "0.001g"]
    found = r.weigh(clove_rose, **given)
    assert found == run("weigh", clove_rose, *options, "--format", "json").json
    assert found["shares"] == {"percent_of_concentrate": 5, "dosage_percent": 15, "percent_of_finished": 0.75}
    back = r.weigh(clove_rose, finished_share_percent=0.75, dosage_percent=15)
    assert back["shares"] == found["shares"]


@pytest.mark.parametrize("within", [0, -1, 101])
def test_a_share_of_one_digit_outside_per_cent_is_refused(clove_rose, within):
    with pytest.raises(r.BadValue, match="--within"):
        r.weigh(clove_rose, within_percent=within)


@pytest.mark.parametrize(
    ("verb", "arguments", "option", "told"),
    [
        ("extend", ["eugenol", "clove"], "dosage", "dosage_percent"),
        ("replace", ["eugenol"], "dosage", "dosage_percent"),
        ("vary", ["eugenol", "clove"], "dosage", "dosage_percent"),
        ("weigh", ["x.csv"], "dosage", "dosage_percent"),
        ("weigh", ["x.csv"], "share", "share_percent"),
        ("weigh", ["x.csv"], "within", "within_percent"),
        ("check", ["x.csv"], "dosage", "dosage"),
        ("dose", [["eugenol", "vanillin"]], "dosage", "dosage"),
        ("extend", ["eugenol", "clove"], "colour", "there is no option colour$"),
    ],
)
def test_an_option_of_another_name_is_refused_with_the_nearest(verb, arguments, option, told):
    with pytest.raises(TypeError, match=told):
        getattr(r, verb)(*arguments, **{option: 15})


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_in_the_docstrings_run(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0
