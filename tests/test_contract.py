import csv
import io

import pytest
from command_line import run

from recommender.evidence.catalogue import TABLES
from recommender.output.materials import OBSERVED

BASES = {"measured", "published", "estimated", "common practice", "memory"}
QUESTIONS = {
    "extend": ["extend", "benzaldehyde", "--facet", "almond", "--until", "24h"],
    "extend into base": ["extend", "limonene", "--into", "base"],
    "extend without facet": ["extend", "coumarin"],
    "replace": ["replace", "hydroxycitronellal", "--facet", "lily of the valley"],
    "replace whole smell": ["replace", "coumarin"],
    "vary": ["vary", "vanillin", "--toward", "chocolate"],
}


@pytest.fixture(params=QUESTIONS.values(), ids=QUESTIONS, scope="module")
def answer(request):
    done = run(*request.param, "--format", "json")
    assert done.status == 0
    return done.json


def table(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_an_answer_is_query_suggestions_notes(answer):
    more = ["lower"] if answer["query"]["verb"] == "extend" else []
    assert list(answer) == ["query", "suggestions", "notes", *more]
    assert all(isinstance(note, str) for note in answer["notes"])


def test_a_suggestion_has_exactly_the_published_keys(answer):
    assert answer["suggestions"]
    for found in answer["suggestions"]:
        assert list(found) == [
            "rank",
            "name",
            "cas",
            "cas_all",
            "facet",
            "score",
            "terms",
            "lasting",
            "strength",
            "dose",
            "brings",
            "effect",
            "reasons",
            "cautions",
            "confidence",
            "availability",
            "law",
        ]
        assert set(found["confidence"]) == {"tied_with", "first_in"}
        assert found["availability"] in ("common", "specialist", "hardly to be had", None)
        assert set(found["lasting"]) == {"hours", "low", "high", "position"}
        assert all(set(brought) == {"facet", "strength"} for brought in found["brings"])
        assert all(
            set(reason) == {"kind", "text", "figures", "basis", "source"} for reason in found["reasons"]
        )


def test_ties_are_among_the_ranks_shown_and_the_shares_of_the_first_place_add_up(answer):
    found = answer["suggestions"]
    ranks = {s["rank"] for s in found}
    assert all(set(s["confidence"]["tied_with"]) <= ranks - {s["rank"]} for s in found)
    assert sum(s["confidence"]["first_in"] for s in found) == pytest.approx(1.0, abs=0.01)


def test_ranks_count_from_one_and_scores_do_not_rise(answer):
    found = answer["suggestions"]
    assert [s["rank"] for s in found] == list(range(1, len(found) + 1))
    assert 0 < len(found) <= 10
    assert len(found) == 10 or any("more than a trace" in note for note in answer["notes"])
    if answer["query"]["verb"] != "vary":
        scores = [s["score"] for s in found]
        assert scores == sorted(scores, reverse=True)


def test_what_is_not_built_yet_is_null_and_lists_are_lists(answer):
    for found in answer["suggestions"]:
        assert found["dose"] is None
        assert found["effect"] is None
        assert isinstance(found["cas_all"], list)
        assert found["cas"] is None or found["cas"] == found["cas_all"][0]
        assert all(isinstance(caution, str) for caution in found["cautions"])


def test_scores_and_terms_lie_between_0_and_1(answer):
    for found in answer["suggestions"]:
        assert 0 <= found["score"] <= 1
        assert all(0 <= value <= 1 for value in found["terms"].values())


def test_bands_hold_the_figure_and_positions_are_words_of_the_trade(answer):
    for found in answer["suggestions"]:
        stay = found["lasting"]
        assert 0 < stay["low"] <= stay["hours"] <= stay["high"]
        assert stay["position"] in {"top", "heart", "base"}
        assert found["strength"] is None or 0 <= found["strength"] <= 100
        assert all(brought["strength"] in (1, 2, 3) for brought in found["brings"])


def test_every_reason_is_a_sentence_on_a_known_basis(answer):
    for found in answer["suggestions"]:
        assert found["reasons"]
        for reason in found["reasons"]:
            assert reason["text"].endswith(".")
            assert reason["text"] != reason["kind"]
            assert reason["basis"] in BASES


def test_the_asked_material_is_not_offered_to_itself(answer):
    assert answer["query"]["material"] not in [found["name"] for found in answer["suggestions"]]


@pytest.mark.parametrize("any_of_its_names", ["benzaldehyde", "BENZALDEHYDE", "100-52-7", " benzaldehyde "])
def test_a_material_is_found_by_name_or_cas(any_of_its_names):
    done = run("extend", any_of_its_names, "--format", "json", "--top", "1")
    assert done.json["query"]["material"] == "benzaldehyde"
    assert done.json["query"]["cas"] == "100-52-7"


def test_top_is_ten_by_default():
    assert len(table(run("replace", "coumarin", "--format", "csv").out)) == 10
    assert len(table(run("replace", "coumarin", "--format", "csv", "--top", "3").out)) == 3


def test_the_csv_of_suggestions_says_the_same_as_the_json():
    asked = ["extend", "benzaldehyde", "--facet", "almond", "--top", "4", "--format"]
    rows, found = table(run(*asked, "csv").out), run(*asked, "json").json["suggestions"]
    assert [(row["rank"], row["name"], row["cas"]) for row in rows] == [
        (str(s["rank"]), s["name"], s["cas"] or "") for s in found
    ]
    assert [float(row["score"]) for row in rows] == [s["score"] for s in found]


def test_materials_csv_has_exactly_the_published_header():
    done = run("materials", "bitter almond", "--format", "csv")
    assert done.status == 0
    assert done.out.splitlines()[0] == (
        "name,cas,cas_all,kind,role,prohibited,position,lasting_hours,lasting_low,lasting_high,"
        "vapour_pressure_pa,strength,labels,basis"
    )
    # common practice: benzaldehyde is the bitter almond of the trade
    row = next(row for row in table(done.out) if row["cas"] == "100-52-7")
    assert row["name"] == "benzaldehyde"
    assert row["kind"] == "molecule"
    assert row["role"] == "palette"
    assert row["prohibited"] == "no"
    assert row["position"] == "top"
    assert "bitter almond 3" in row["labels"].split("; ")


def test_materials_without_words_are_all_and_each_stands_once():
    names = [row["name"] for row in table(run("materials", "--format", "csv").out)]
    assert len(names) > 700
    assert len(set(names)) == len(names)


def test_materials_json_leaves_the_unknown_null():
    rows = run("materials", "--format", "json").json
    assert all(isinstance(row["cas_all"], list) and isinstance(row["prohibited"], bool) for row in rows)
    assert "" not in {row["cas"] for row in rows}
    assert 0 not in {row["lasting_hours"] for row in rows}
    assert 0 not in {row["vapour_pressure_pa"] for row in rows}


def test_the_leading_materials_stand_first():
    rows = run("materials", "hay", "--format", "json").json
    strengths = [int(label[-1]) for row in rows for label in row["labels"] if label[:-2] == "hay"]
    assert strengths[0] == 3
    assert strengths == sorted(strengths, reverse=True)


CARDS = ["coumarin", "lavender oil", "dihydrocoumarin", "ethyl maltol", "100-52-7"]


@pytest.mark.parametrize("name", CARDS)
def test_a_card_gives_each_figure_with_unit_basis_and_source(name):
    card = run("material", name, "--format", "json").json
    for figure in [figure for figures in card["figures"].values() for figure in figures]:
        assert set(figure) == {"value", "unit", "low", "high", "basis", "source", "note"}
        assert figure["basis"] in BASES
        assert figure["source"] or figure["basis"] in {"common practice", "memory"}
    for entry in [*card["labels"], *card["relations"], *card["prohibited"], card["strength"]]:
        assert entry["basis"] in BASES
        assert entry["source"] or entry["basis"] in {"common practice", "memory", "estimated"}


@pytest.mark.parametrize("name", ["coumarin", "lavender oil"])
def test_lasting_and_constituents_on_a_card_have_a_source_too(name):
    card = run("material", name, "--format", "json").json
    assert all("source" in entry for entry in [card["lasting"], *card["constituents"]])


def test_a_card_says_when_the_leading_smell_of_a_natural_ends_long_before_the_whole():
    stay = run("material", "bitter almond oil", "--format", "json").json["lasting"]
    assert stay["leading"]["facet"] == "bitter almond"
    assert 3 * stay["leading"]["hours"] < stay["hours"]
    assert "bitter almond, which leads, is gone by" in run("material", "bitter almond oil").out
    assert run("material", "lemon oil", "--format", "json").json["lasting"]["leading"] is None


def test_every_kind_of_observation_of_strength_has_words_on_a_card():
    with (TABLES / "observations.csv").open(encoding="utf-8") as file:
        kinds = {row["kind"] for row in csv.DictReader(file) if row["figure"] == "strength"}
    assert kinds <= set(OBSERVED)


def test_a_card_spells_out_every_source_that_it_names():
    card = run("material", "coumarin", "--format", "json").json
    assert card["cas"] == "91-64-5"
    assert "wakayama-2019" in card["sources"]
    named = {figure["source"] for figures in card["figures"].values() for figure in figures}
    assert named - {None} <= set(card["sources"])


def test_the_vapour_pressure_of_coumarin_is_shown_fused_and_as_its_rows_report_it():
    # Landolt-Boernstein New Series IV/20 (through the open library `chemicals`): 0.106 Pa, crystals, 25 C
    first, *rows = run("material", "coumarin", "--format", "json").json["figures"]["vapour_pressure"]
    assert first["value"] == pytest.approx(0.106, rel=0.25)
    assert (first["unit"], first["basis"], first["source"]) == ("Pa", "estimated", "fusion")
    assert first["low"] < first["value"] < first["high"]
    assert (0.106, "Pa", "published", "landolt") in [
        (row["value"], row["unit"], row["basis"], row["source"]) for row in rows
    ]


def test_similarities_are_each_pair_once_between_minus_1_and_1():
    done = run("similarities", "--format", "csv")
    assert done.status == 0
    header, *lines = done.out.splitlines()
    assert header == "cas_a,cas_b,similarity"
    pairs, numbers = set(), set()
    for line in lines:
        one, other, likeness = line.split(",")
        assert one != other
        assert -1 <= float(likeness) <= 1
        pairs.add(frozenset((one, other)))
        numbers |= {one, other}
    assert len(pairs) == len(lines) == len(numbers) * (len(numbers) - 1) // 2
    assert {"100-52-7", "91-64-5", "121-33-5"} <= numbers


def test_nothing_found_ends_with_status_1_and_says_so():
    # no base of the palette keeps almond
    asked = ["extend", "benzaldehyde", "--facet", "almond", "--kind", "base"]
    for form, out in (("table", ""), ("csv", None), ("json", None)):
        done = run(*asked, "--format", form)
        assert done.status == 1
        assert "nothing found" in done.err
        if out is not None:
            assert done.out == out
    assert run(*asked, "--format", "json").json["suggestions"] == []
    assert table(run(*asked, "--format", "csv").out) == []


def test_a_facet_that_no_material_shows_is_nothing_found():
    none = [row["facet"] for row in run("facets", "--format", "json").json if row["materials"] == 0]
    shown = {label[:-2] for row in run("materials", "--format", "json").json for label in row["labels"]}
    for facet in set(none) - shown:
        done = run("materials", facet, "--format", "json")
        assert done.status == 1
        assert done.json == []
        assert "nothing found" in run("materials", facet).err


@pytest.mark.parametrize("form", ["table", "csv"])
def test_notes_go_to_stderr_beside_a_table_or_csv(form):
    done = run("extend", "benzaldehyde", "--facet", "almond foobar", "--format", form, "--top", "1")
    assert done.status == 0
    assert 'note: "almond" is taken as bitter almond, marzipan, roasted almond.\n' in done.err
    assert "foobar" in done.err
    assert "foobar" not in done.out
    assert "note:" not in done.out


def test_notes_go_into_the_json_and_not_to_stderr():
    done = run("extend", "benzaldehyde", "--facet", "almond foobar", "--format", "json", "--top", "1")
    assert '"almond" is taken as bitter almond, marzipan, roasted almond.' in done.json["notes"]
    assert any("foobar" in note for note in done.json["notes"])
    assert done.err == ""


@pytest.mark.parametrize("verb", ["extend", "replace"])
def test_why_not_names_the_regulation(verb):
    # Regulation (EC) No 1223/2009, Annex II, entry 427: dihydrocoumarin as a fragrance ingredient
    done = run(verb, "coumarin", "--why-not", "dihydrocoumarin", "--format", "json")
    (message,) = [note for note in done.json["notes"] if note.startswith("dihydrocoumarin")]
    assert "prohibited" in message
    assert "1223/2009" in message
    assert "427" in message
    assert "dihydrocoumarin" not in [found["name"] for found in done.json["suggestions"]]
    beside = run(verb, "coumarin", "--why-not", "dihydrocoumarin")
    assert f"note: {message}\n" in beside.err


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        (["--why-not", "coumarin"], "is the material that was asked about"),
        (["--why-not", "vanillin"], "comes in place"),
        (["--why-not", "vanillin", "--kind", "natural"], "you asked for a natural"),
        (["--why-not", "vanillin", "--avoid", "vanilla"], "which you avoid"),
    ],
)
def test_why_not_gives_the_reason(asked, message):
    done = run("replace", "coumarin", *asked, "--format", "json")
    assert any(message in note for note in done.json["notes"])


def test_what_is_to_be_avoided_is_not_clear_in_any_suggestion():
    found = run("replace", "coumarin", "--avoid", "vanilla", "--format", "json").json["suggestions"]
    labels = {row["name"]: row["labels"] for row in run("materials", "--format", "json").json}
    for suggestion in found:
        assert not {"vanilla 2", "vanilla 3"} & set(labels[suggestion["name"]])


def test_only_the_wanted_kind_is_offered():
    found = run("replace", "coumarin", "--kind", "natural", "--format", "json").json["suggestions"]
    kinds = {row["name"]: row["kind"] for row in run("materials", "--format", "json").json}
    assert {kinds[suggestion["name"]] for suggestion in found} == {"natural"}


def test_nothing_prohibited_is_offered():
    prohibited = {row["name"] for row in run("materials", "--format", "json").json if row["prohibited"]}
    assert "dihydrocoumarin" in prohibited
    for question in QUESTIONS.values():
        found = run(*question, "--top", "400", "--format", "json").json["suggestions"]
        assert not prohibited & {suggestion["name"] for suggestion in found}


def test_facets_nut_shows_the_nut_facets():
    done = run("facets", "nut")
    assert done.status == 0
    for facet in ("bitter almond", "marzipan", "roasted almond", "hazelnut", "walnut"):
        assert any(line.startswith(facet) for line in done.out.splitlines())
    rows = run("facets", "nut", "--format", "json").json
    assert {row["family"] for row in rows} == {"nuts"}
    assert list(rows[0]) == ["facet", "family", "meaning", "synonyms", "materials"]


def test_facets_csv_says_the_same_as_the_json():
    rows, found = table(run("facets", "--format", "csv").out), run("facets", "--format", "json").json
    assert [row["facet"] for row in rows] == [facet["facet"] for facet in found]
    assert len(rows) >= 130


def test_the_same_question_has_the_same_answer():
    question = [*QUESTIONS["vary"], "--format", "json"]
    assert run(*question).out == run(*question).out


def test_explain_unfolds_figures_basis_and_sources():
    done = run(*QUESTIONS["extend"], "--explain")
    assert "Why, with figures" in done.out
    assert "Sources:" in done.out
    assert "[memory]" in done.out
