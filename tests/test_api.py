import copy
import dataclasses
import doctest
import importlib
import json
import math
import pickle
import pkgutil

import numpy as np
import pytest
from command_line import run

import recommender as r
from recommender.model import Formula, Line
from recommender.notebook import formulas as saved
from recommender.notebook.store import writing
from recommender.palette import shipped
from recommender.weighing.request import WeighingRequest

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
    assert found.name == found["name"] == found.value.name == "coumarin"
    assert found.value.strength_of("hay") == 3
    assert found.strength_of("pear") == 0
    assert found.value is r.material("Coumarin").value
    assert {row["figure"] for row in found} == set(found["figures"])
    assert all(row["basis"] for row in found)


def test_materials_of_a_facet_come_with_the_strongest_first():
    found = r.materials("hay")
    strengths = [material.strength_of("hay") for material in found.value]
    assert strengths[0] == 3
    assert strengths == sorted(strengths, reverse=True)
    assert 0 not in strengths
    assert [row["name"] for row in found] == [material.name for material in found.value]
    assert len(r.materials()) > 700


def test_notes_on_how_words_were_read_come_with_the_materials():
    (note,) = r.materials("hay, not sweet").notes
    assert note.startswith('"hay, not sweet" is read as')


def test_facets_come_with_how_many_materials_show_them():
    (row,) = r.facets("hay")
    offered = [m for m in r.materials("hay").value if m.role == "palette"]
    assert (row["facet"], row["materials"]) == ("hay", len(offered))
    assert len(r.facets(["bitter almond", "hay"])) == 2


def test_an_unknown_material_carries_its_name_and_the_nearest():
    with pytest.raises(r.UnknownMaterial) as caught:
        r.extend("coumarim")
    assert caught.value.name == "coumarim"
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
        r.extend(clove_rose, "cinnamon", dosage_percent=percent, top=30),
        r.vary(clove_rose, "cinnamon", dosage_percent=percent, top=30),
    ):
        assert answer.to_dict()["query"]["dosage"] == percent
        figures = [
            reason.figures
            for found in answer.value.suggestions
            for reason in found.reasons
            if reason.kind == "counts against a limit" and reason.figures["substance"] == "eugenol"
        ]
        assert figures
        assert all(x["before"] * x["limit_percent"] == expected for x in figures)


def test_a_first_amount_meets_the_limit_at_the_dosage_of_check(tmp_path):
    first, _ = r.dose(["isoeugenol", "vanillin"], dosage_percent=50).value
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
    assert found.to_dict() == run("weigh", clove_rose, *options, "--format", "json").json
    assert found["shares"] == {"percent_of_concentrate": 5, "dosage_percent": 15, "percent_of_finished": 0.75}
    back = r.weigh(clove_rose, finished_share_percent=0.75, dosage_percent=15)
    assert back["shares"] == found["shares"]


@pytest.mark.parametrize("within", [0, -1, 101])
def test_a_share_of_one_digit_outside_per_cent_is_refused(clove_rose, within):
    with pytest.raises(r.BadValue, match="within_percent"):
        r.weigh(clove_rose, within_percent=within)


@pytest.mark.parametrize(
    ("verb", "arguments", "option", "shown"),
    [
        ("extend", ["eugenol", "clove"], "dosage", "dosage_percent"),
        ("replace", ["eugenol"], "dosage", "dosage_percent"),
        ("vary", ["eugenol", "clove"], "dosage", "dosage_percent"),
        ("weigh", ["x.csv"], "dosage", "dosage_percent"),
        ("weigh", ["x.csv"], "share", "share_percent"),
        ("weigh", ["x.csv"], "within", "within_percent"),
        ("check", ["x.csv"], "dosage", "dosage"),
        ("dose", [["eugenol", "vanillin"]], "dosage", "dosage"),
        ("extend", ["eugenol", "clove"], "colour", "did you mean colourless"),
        ("extend", ["eugenol", "clove"], "xyz", "there is no option xyz$"),
    ],
)
def test_an_option_of_another_name_is_refused_with_the_nearest(verb, arguments, option, shown):
    with pytest.raises(TypeError, match=shown):
        getattr(r, verb)(*arguments, **{option: 15})


# every result reads, iterates and becomes a table

ACCORD = {"benzaldehyde": 40, "coumarin": 60, "vanillin": 100}


def a_vial(line):
    return r.weigh(ACCORD, bracket=line)["bracket"]["smell"][0]


VERBS = {
    "extend": lambda: r.extend(ACCORD, "bitter almond", dosage_percent=10),
    "replace": lambda: r.replace("clove bud oil", blend=2),
    "vary": lambda: r.vary("vanillin", "chocolate"),
    "pair": lambda: r.pair("lavender oil", "hay"),
    "reformulate": lambda: r.reformulate({"eugenol": 30, "vanillin": 70}, without="eugenol", top=1),
    "material": lambda: r.material("coumarin"),
    "materials": lambda: r.materials("hay"),
    "facets": lambda: r.facets(),
    "drydown": lambda: r.drydown(ACCORD),
    "trim": lambda: r.trim(ACCORD),
    "strips": lambda: r.strips("coumarin", "vanillin"),
    "dose": lambda: r.dose(["coumarin", "vanillin"], {"vanilla": 2}),
    "check": lambda: r.check(ACCORD, 15),
    "compare": lambda: r.compare(ACCORD, "data/demo/morello.csv"),
    "weigh": lambda: r.weigh(ACCORD, dosage_percent=15),
    "preferred": lambda: r.preferred(ACCORD, "coumarin", a_vial("coumarin")),
    "similarities": lambda: r.similarities(),
}
WITHOUT_UNIT = {"answer", "rank", "balance", "materials", "value", "low", "high"}
"""Columns of numbers that count or compare, and those of figures, which have a column for their unit."""


@pytest.mark.parametrize("verb", VERBS)
def test_an_answer_iterates_and_becomes_a_table_of_plain_cells(verb):
    found = VERBS[verb]()
    assert len(list(found)) == len(found) > 0
    assert found[0] == next(iter(found))
    json.dumps(found.to_dict(), allow_nan=False)
    frame = found.to_frame()
    assert len(frame) == len(found)
    assert set(found.columns) <= set(frame.columns)
    assert not [cell for name in frame for cell in frame[name] if isinstance(cell, (list, tuple, dict))]
    numeric = {str(name) for name in frame.select_dtypes("number").dropna(axis="columns", how="all").columns}
    assert numeric - set(frame.attrs["units"]) <= WITHOUT_UNIT
    assert repr(found).startswith("<")
    assert "\n" not in repr(found)


def test_every_verb_is_in_the_table_above():
    verbs = {name for name in r.__all__ if name[0].islower()}
    other = {"open", "drydown_of", "odour_space", "relations", "evidence_tables"}
    assert verbs - other == set(VERBS)


def test_a_notebook_page_shows_the_notes_below_the_table():
    found = r.check({"eugenol": 1}, 10)
    assert found.notes
    page = found._repr_html_()
    assert "Check the current Standards" in page.partition("</table>")[2]


def test_an_answer_is_copied_and_pickled_with_its_value(answer):
    for same in (copy.copy(answer), pickle.loads(pickle.dumps(answer))):
        assert same.to_dict() == answer.to_dict()
        assert same.suggestions[0].material.name == answer[0]["name"]
    with pytest.raises(AttributeError, match="neither this answer nor its value has 'colour'"):
        _ = answer.colour


# a formula in every form

pd = pytest.importorskip("pandas")


def test_a_formula_may_be_a_value_of_any_kind(tmp_path):
    path = tmp_path / "accord.csv"
    path.write_text("material,parts\nbenzaldehyde,40\ncoumarin,60\nvanillin,100\n", encoding="utf-8")
    frame = pd.DataFrame({"material": list(ACCORD), "parts": list(ACCORD.values())})
    forms = [path, str(path), ACCORD, list(ACCORD.items()), frame, r.drydown(ACCORD).formula]
    courses = [r.drydown(form)["facets"] for form in forms]
    assert courses == [courses[0]] * len(forms)
    pairs = [(name, np.float64(parts)) for name, parts in ACCORD.items()]
    assert r.drydown(pairs)["facets"] == courses[0]


def test_a_table_may_have_dilutions_blanks_and_columns_of_its_own():
    frame = pd.DataFrame(
        {
            "material": ["benzaldehyde", "coumarin"],
            "parts": [1.125, 2],
            "dilution_percent": [10.0, None],
            "solvent": ["ethanol", pd.NA],
            "shelf place": [3, 4],
        }
    )
    found = r.drydown(frame).formula
    lines = [(line.content.name, line.parts, line.dilution) for line in found.lines]
    assert lines == [("benzaldehyde", 1.125, pytest.approx(0.1)), ("coumarin", 2.0, 1.0)]
    assert found.lines[0].solvent.name == "ethanol"
    assert found.notes == ("table: not used: shelf place.",)


@pytest.mark.parametrize(
    ("columns", "problem"),
    [
        (["material"], "no column is called parts"),
        (["parts", "material", "parts"], "2 columns are called parts"),
    ],
)
def test_a_table_without_its_columns_is_refused(columns, problem):
    with pytest.raises(r.BadTable, match=f"^table: {problem}"):
        r.drydown(pd.DataFrame([["1"] * len(columns)], columns=columns))


def test_a_notebook_gives_formulas_by_name_and_number(tmp_path):
    path = tmp_path / "notebook.sqlite"
    catalogue = shipped().catalogue
    with writing(path) as db:
        for parts in (30.0, 60.0):
            lines = (Line(catalogue.find("eugenol"), parts), Line(catalogue.find("vanillin"), 40.0))
            saved.save(db, Formula("clove", lines), "2026-01-15T10:00:00")
    mine = r.open(path)
    assert repr(mine) == f"<recommender on {path}>"
    assert [line.parts for line in mine.drydown("clove").formula.lines] == [60.0, 40.0]
    assert mine.drydown("clove@1")["facets"] != mine.drydown("clove")["facets"]
    assert mine.compare("clove@1", "clove@2")["formulas"] == ["clove@1", "clove@2"]
    (row,) = (row for row in mine.check("clove@1", 14) if row["name"] == "eugenol")
    assert row["percent_in_product"] == pytest.approx(6.0)
    with pytest.raises(r.BadTable, match="there is no such file"):
        r.drydown("clove")


def test_a_notebook_that_is_not_there_yet_is_empty(tmp_path):
    mine = r.open(tmp_path / "new.sqlite")
    assert mine.extend("benzaldehyde", "almond").to_dict() == r.extend("benzaldehyde", "almond").to_dict()
    assert not (tmp_path / "new.sqlite").exists()
    with pytest.raises(r.BadValue, match=r"^shelf: no bottle is on the shelf yet"):
        mine.extend("benzaldehyde", "almond", shelf=True)


# the science as arrays, graph and tables


def test_the_odour_space_has_unit_vectors_and_weights():
    space = r.odour_space()
    assert np.linalg.norm(space.vectors, axis=1).max() == pytest.approx(1.0)
    assert space.weights.shape == (len(space.names), len(space.facets))
    assert space.weights[space.names.index("coumarin"), space.facets.index("hay")] == 1.0
    space.vectors[:] = 0.0  # a copy: what is shipped stays
    assert r.odour_space().vectors.any()


def test_the_relations_are_a_graph_of_names_with_sources():
    graph = r.relations()
    assert graph.number_of_nodes() == len(r.materials())
    kinds = {data["kind"] for _, _, data in graph.edges(data=True)}
    assert {"replaces", "isomer-of"} <= kinds
    assert all(data["basis"] for _, _, data in graph.edges(data=True))


def test_the_evidence_is_tables_with_basis_and_units():
    tables = r.evidence_tables()
    assert all("basis" in frame.columns and len(frame) for frame in tables.values())
    assert tables["labels"].attrs["units"] == {"strength": "1-3"}
    assert tables["limits"].attrs["units"]["cat_4"] == "% by mass"
    figures = tables["figures"]
    assert (figures[figures["figure"] == "vapour_pressure"]["unit"] == "Pa").all()


# what cannot be used is refused by the name that it has here


@pytest.mark.parametrize(
    ("ask", "error", "problem"),
    [
        (lambda: r.drydown(5), r.BadValue, 'formula cannot be "int": it is a file, a saved name'),
        (lambda: r.drydown([1, 2]), r.BadValue, 'formula cannot be "list"'),
        (lambda: r.drydown({}), r.BadTable, "table: the formula has no lines"),
        (lambda: r.drydown({"ethanol": 1}), r.BadTable, "table: nothing but solvents"),
        (lambda: r.extend(3.0), r.BadValue, 'material cannot be "float": it is a name, a CAS number'),
        (lambda: r.replace(3), r.BadValue, 'material cannot be "int": it is a name, a CAS number'),
        (lambda: r.replace("coumarin", formula=5), r.BadValue, 'formula cannot be "int"'),
        (lambda: r.replace("coumarin", formula=ACCORD, blend=2), r.BadValue, "without formula"),
        (lambda: r.extend("coumarin", relay=True), r.BadValue, "it needs a formula, .* or as formula"),
        (lambda: r.extend("coumarin", top=2.5), r.BadValue, 'top cannot be "2.5": it is a whole number'),
        (lambda: r.extend("coumarin", until_hours="8h"), r.BadValue, 'until_hours cannot be "8h"'),
        (lambda: r.extend("coumarin", shelf="yes"), r.BadValue, 'shelf cannot be "yes": it is True'),
        (lambda: r.extend("coumarin", notebook=5), r.BadValue, 'notebook cannot be "5"'),
        (lambda: r.vary("coumarin", 5), r.BadValue, 'toward cannot be "5": it is a text'),
        (lambda: r.weigh({"benzaldehyde": "x"}), r.BadTable, 'line 1, column parts: "x" is not a number'),
        (lambda: r.weigh({"benzaldehyde": True}), r.BadTable, 'line 1, column parts: "True"'),
        (lambda: r.weigh(ACCORD, batch_g="10g"), r.BadValue, 'batch_g cannot be "10g": it is a number'),
        (lambda: r.weigh(ACCORD, batch_g=-1), r.BadValue, 'batch_g cannot be "-1 g"'),
        (lambda: r.weigh(ACCORD, finished_g=9), r.BadValue, "finished_g .* needs dosage_percent too"),
        (lambda: r.check(ACCORD, "15"), r.BadValue, 'dosage_percent cannot be "15": it is a number'),
        (lambda: r.check(ACCORD, 15, content=5), r.BadValue, 'content cannot be "5": it is a text'),
        (lambda: r.strips("coumarin"), r.BadValue, 'material cannot be "coumarin": name two or more'),
        (lambda: r.strips("coumarin", "vanillin", hours=-1), r.BadValue, 'hours cannot be "-1"'),
        (lambda: r.strips("coumarin", "vanillin", hours=math.nan), r.BadValue, 'hours cannot be "nan"'),
        (lambda: r.dose("vanillin"), r.BadValue, 'materials cannot be "vanillin": it is a list'),
        (lambda: r.dose(["vanillin"], batch_g=0), r.BadValue, 'batch_g cannot be "0 g"'),
        (lambda: r.dose(["vanillin"], {"vanilla": -1}), r.BadValue, 'balance cannot be "vanilla -1"'),
        (lambda: r.materials(5), r.BadValue, 'words cannot be "5": it is a text'),
        (lambda: r.drydown(ACCORD, market="mars"), r.BadValue, 'market cannot be "mars"'),
        (lambda: r.open(5), r.BadValue, 'notebook cannot be "5": it is the path of a file'),
    ],
)
def test_what_cannot_be_used_is_named_in_one_line(ask, error, problem):
    with pytest.raises(error, match=problem) as caught:
        ask()
    assert "\n" not in str(caught.value)
    assert "--" not in str(caught.value)


# the package's own names


def test_the_options_of_weighing_are_the_fields_of_its_request():
    assert list(r.Weighing.__annotations__) == [field.name for field in dataclasses.fields(WeighingRequest)]


@pytest.mark.parametrize("verb", sorted({*VERBS, "odour_space", "relations", "evidence_tables", "open"}))
def test_every_public_verb_has_an_example(verb):
    assert ">>> " in (getattr(r, verb).__doc__ or "")


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_in_the_docstrings_run(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0
