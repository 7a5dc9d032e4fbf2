"""The JSON of every command: its schema, and lines that a script would write."""

import io
import json

import pandas as pd
import pytest
from command_line import run
from test_cli import ALL, SINGLE

from recommender.output import schemas

MORELLO, BELL = "demo/morello.csv", "demo/bell_flower.csv"
ASKED = {
    "extend": ["extend", "limonene", "--into", "base"],
    "extend formula": ["extend", BELL, "--market", "eu"],
    "replace": ["replace", "coumarin", "--because", "law"],
    "vary": ["vary", "rose oxide", "--toward", "less green"],
    "pair": ["pair", "coumarin"],
    "drydown": ["drydown", "demo/green_fig.csv"],
    "trim": ["trim", BELL],
    "strips": ["strips", "linalool", "indole"],
    "dose": ["dose", "linalool", "vanillin", "--balance", "vanilla 2"],
    "compare": ["compare", MORELLO, BELL],
    "check": ["check", "demo/green_fig.csv", "--dosage", "20", "--market", "gb"],
    "weigh": ["weigh", BELL, "--resolution", "0.001g"],
    "materials": ["materials", "hay"],
    "material": ["material", "linalool"],
    "facets": ["facets", "almond"],
    "limits": ["limits", "eugenol"],
    "config": ["config"],
    "demo": ["demo"],
}
KINDS = {
    "object": dict,
    "array": list,
    "string": str,
    "number": (int, float),
    "boolean": bool,
    "null": type(None),
}
CONTRACT = {
    "extend": ["query", "suggestions", "notes", "lower"],
    "replace": ["query", "suggestions", "notes"],
    "vary": ["query", "suggestions", "notes"],
    "pair": ["query", "suggestions", "notes"],
    "drydown": ["hours", "facets", "ends", "gaps", "theme", "sticks_out", "notes"],
    "trim": ["rows", "notes"],
    "strips": ["rows", "notes"],
    "dose": ["rows", "notes"],
    "compare": ["hours", "facets", "likeness", "notes"],
    "check": ["rows", "labels", "highest_dosage", "set_by", "decision", "notes"],
    "weigh": ["rows", "notes"],
    "material": ["name", "cas", "strength", "lasting", "figures", "vapour_pressure_pa"],
    "trials next": ["changes", "notes"],
}
"""Keys on which other people's programs rely."""


@pytest.fixture(scope="module")
def answers():
    return {name: run(*words, "--format", "json").json for name, words in ASKED.items()}


def misfits(value, schema, place="$"):
    """Yield where a value does not fit a schema, by the keywords that the schemas use."""
    assert set(schema) <= {
        "$schema",
        "title",
        "type",
        "properties",
        "required",
        "items",
        "additionalProperties",
    }
    kinds = schema.get("type", list(KINDS))
    allowed = [KINDS[kind] for kind in ([kinds] if isinstance(kinds, str) else kinds)]
    if not isinstance(value, tuple(allowed)) or (isinstance(value, bool) and bool not in allowed):
        yield f"{place} is {value!r}, not {kinds}"
    elif isinstance(value, list):
        for n, item in enumerate(value):
            yield from misfits(item, schema.get("items", {}), f"{place}[{n}]")
    elif isinstance(value, dict):
        yield from (f"{place} lacks {key}" for key in schema.get("required", ()) if key not in value)
        for key, item in value.items():
            inner = schema.get("properties", {}).get(key, schema.get("additionalProperties", {}))
            yield from misfits(item, inner, f"{place}.{key}")


@pytest.mark.parametrize("name", ASKED)
def test_a_real_answer_fits_its_schema(name, answers):
    verb = name.removesuffix(" formula")
    assert list(misfits(answers[name], schemas.schema(verb))) == []


def test_a_wrong_answer_does_not_fit(answers):
    broken = json.loads(json.dumps(answers["extend"]))
    broken["suggestions"][0]["cas"] = 5
    del broken["suggestions"][1]["rank"]
    assert len(list(misfits(broken, schemas.schema("extend")))) == 2


@pytest.mark.parametrize("verb", CONTRACT)
def test_the_keys_of_the_contract_are_required(verb):
    assert set(CONTRACT[verb]) <= set(schemas.schema(verb)["required"])


def test_lists_stay_lists():
    for verb in ("materials", "facets"):
        assert schemas.schema(verb)["type"] == "array"


def test_a_schema_is_printed():
    assert run("schema", "formulas", "show").json["title"] == "recommender formulas show --format json"
    assert "drydown" in run("schema").out.splitlines()
    wrong = run("schema", "nothing")
    assert (wrong.status, wrong.out) == (2, "")
    assert "extend" in wrong.err


def test_every_command_with_json_has_a_schema():
    with_json = {name for name in SINGLE if any(p.name == "form" for p in ALL[name].params)}
    called = {
        name.removesuffix(" list") if name in ("materials list", "limits list") else name
        for name in with_json
    }
    assert called == set(schemas.names())


def walked(value, key=""):
    yield key, value
    for name, item in (
        value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    ):
        yield from walked(item, name if isinstance(name, str) else key)


@pytest.mark.parametrize("name", ASKED)
def test_unknown_is_null_and_a_cas_number_is_a_text(name, answers):
    for key, value in walked(answers[name]):
        assert value != "", key
        if key == "cas":
            assert value is None or isinstance(value, str)
        if key in ("cas_all", "notes") and not isinstance(value, str):
            assert isinstance(value, list)


@pytest.mark.parametrize(
    "words", [ASKED["extend"], ["trim", MORELLO], ["compare", MORELLO, BELL], ["drydown", MORELLO]]
)
def test_what_stands_on_stderr_beside_a_table_stands_in_notes(words):
    table, answer = run(*words), run(*words, "--format", "json")
    assert answer.err == ""
    notes = [line.removeprefix("note: ") for line in table.err.splitlines()]
    assert notes
    assert set(notes) <= set(answer.json["notes"])


def test_what_stands_below_suggestions_stands_in_notes():
    found = run("replace", "coumarin", "--format", "json").json
    tied = any(s["confidence"]["tied_with"] for s in found["suggestions"])
    assert any("cannot be told apart" in note for note in found["notes"]) is tied
    assert (
        found["notes"][-1] == "Check the current Standards and your local law; a qualified person signs off."
    )


# lines that a script would write


def test_names_and_hours_of_suggestions(answers):
    # jq -r '.suggestions[] | [.rank, .name, .lasting.hours] | @tsv'
    rows = [(s["rank"], s["name"], s["lasting"]["hours"]) for s in answers["extend"]["suggestions"]]
    assert len(rows) == 10
    assert all(isinstance(hours, float | int) for _, _, hours in rows)


def test_substances_above_a_limit():
    # jq '.rows[] | select(.status | startswith("above")) | {name, cas, percent_in_product}'
    found = run("check", MORELLO, "--dosage", "15", "--format", "json").json
    above = [row for row in found["rows"] if row["status"].startswith("above")]
    assert [(row["name"], row["cas"]) for row in above] == [("benzaldehyde", "100-52-7")]


def test_a_csv_of_suggestions_is_a_table_of_numbers():
    table = pd.read_csv(io.StringIO(run("replace", "coumarin", "--format", "csv").out))
    assert len(table) == 10
    assert table["score"].is_monotonic_decreasing
    assert table["lasting_hours"].dtype == float


def test_the_course_of_a_drydown_is_in_its_csv():
    found = run("drydown", MORELLO, "--format", "json").json
    table = pd.read_csv(io.StringIO(run("drydown", MORELLO, "--format", "csv").out)).set_index("facet")
    course = table.filter(regex=r"^strength_")
    assert list(table.columns[:2]) == ["clear_hours", "clear_low"]
    assert course.shape == (len(found["facets"]), len(found["hours"]))
    assert course.loc["bitter almond"].tolist() == found["facets"]["bitter almond"]
    hours = [float(name.removeprefix("strength_").removesuffix("h")) for name in course]
    assert hours == found["hours"]


def test_readings_are_rows(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    run("formulas", "save", MORELLO)
    run("trials", "import", "demo/readings.csv")
    run("calibrate", "import", "demo/strips.csv")
    trials = run("trials", "list", "--format", "json").json
    readings = pd.json_normalize(trials, record_path="readings", meta=["formula", "version"])
    assert {"hours", "facet", "said", "level", "words", "formula"} <= set(readings)
    strips = run("calibrate", "list", "--format", "json").json
    assert all(reading["hours"] >= 0 for strip in strips for reading in strip["readings"])
    lines = run("formulas", "show", "morello", "--format", "json").json["lines"]
    assert (lines[0]["parts"], lines[0]["dilution_percent"]) == (18, None)


@pytest.mark.parametrize("words", [["material", "coumarin"], ["calibrate", "show"]])
def test_a_card_has_every_format(words):
    table = pd.read_csv(io.StringIO(run(*words, "--format", "csv").out))
    assert {"name", "value"} <= set(table)
    assert table["value"].dtype == float
    assert run(*words).out


def test_columns_are_chosen_for_csv_and_for_a_table():
    asked = ["materials", "hay", "--columns", "NAME, cas"]
    table = pd.read_csv(io.StringIO(run(*asked, "--format", "csv").out))
    assert list(table) == ["name", "cas"]
    assert run(*asked).out.splitlines()[0].split() == ["name", "cas"]
    assert run("extend", "benzaldehyde", "--columns", "rank,name,term_facet").out.splitlines()[0].split() == [
        *("rank", "name", "term_facet"),
    ]


@pytest.mark.parametrize(
    ("words", "way_out"),
    [
        (["materials", "hay", "--columns", "colour"], "the columns are name, cas"),
        (["materials", "hay", "--columns", "name", "--format", "json"], "use it with --format csv"),
        (["materials", "hay", "--columns", ","], "name some of name, cas"),
    ],
)
def test_columns_that_are_not_there_are_refused(words, way_out):
    done = run(*words)
    assert (done.status, done.out) == (2, "")
    assert way_out in done.err


def test_the_pairs_have_columns_too():
    out = run("similarities", "--format", "csv", "--columns", "similarity").out
    assert out.splitlines()[0].strip() == "similarity"
