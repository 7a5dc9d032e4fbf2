"""The script that shows what the weights are worth, on invented cases."""

import json
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("scipy")
pytest.importorskip("sklearn")

import recommender
from recommender.palette import shipped
from recommender.similarity.relations import KIND_WEIGHTS
from recommender.suggest import scoring

SCRIPTS = Path(__file__).resolve().parent.parent / "scripts"
NOW = f"{KIND_WEIGHTS['shares-facet']:g}", f"{scoring.WEIGHTS['replace']['untroubled']:g}"


@pytest.fixture
def script(monkeypatch):
    monkeypatch.syspath_prepend(SCRIPTS)
    return pytest.importorskip("fit_weights")


def case(name, kind, asked, accept, reject=(), **context):
    return {
        "id": name,
        "type": kind,
        "query": {"name": "asked", "cas": asked},
        "context": context,
        "accept": [{"name": "good", "cas": number} for number in accept],
        "reject": [{"name": "bad", "cas": number} for number in reject],
    }


# Invented: what stands here is no judgement on the materials.
CASES = [
    case("stand-in", "swap", "121-33-5", ["121-32-4"], ["90-05-1"], facet="vanilla"),
    case("whole", "redundant", "91-64-5", ["8046-22-8"], ["121-33-5"]),
    case("later", "backup", "100-52-7", ["91-64-5"], facet="almond", target="base"),
    case("other words", "swap", "127-41-3", ["14901-07-6"], facet="qwertyish"),
    case("away", "variation", "121-33-5", ["123-32-0"], move="vanilla -> chocolate (darker)"),
    case("nowhere", "variation", "121-33-5", ["123-32-0"], move="vanilla -> qwertyish"),
    case("unknown", "swap", "999-99-4", ["91-64-5"], ["121-33-5"], facet="hay"),
    case("only bad", "negative", "431-03-8", ["513-86-0"], ["600-14-6"]),
]


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "cases.jsonl"
    path.write_text("".join(json.dumps(row) + "\n" for row in CASES))
    return path


def run(script, capsys, *arguments):
    status = script.main([str(argument) for argument in arguments])
    return status, capsys.readouterr().out


QUICK = ("--folds", "2", "--repeats", "2", "--draws", "3")


@pytest.mark.parametrize(
    ("name", "asked"),
    [
        ("stand-in", lambda: recommender.replace("121-33-5", facet="vanilla", top=50)),
        ("whole", lambda: recommender.replace("91-64-5", top=50)),
        ("later", lambda: recommender.extend("100-52-7", facet="almond", into="base", top=50)),
        ("other words", lambda: recommender.replace("127-41-3", top=50)),
        ("away", lambda: recommender.vary("121-33-5", "chocolate", top=50)),
    ],
)
def test_with_the_shipped_weights_answers_stand_as_the_verb_gives_them(script, file, name, asked):
    (mine,) = [found for found in script.read_cases(file) if found.name == name]
    found = script.candidates_of(mine, script.walked(shipped(), KIND_WEIGHTS["shares-facet"]))
    order = script.in_order(found, scoring.WEIGHTS[mine.verb])
    assert [found.names[place] for place in order] == [s.material.name for s in asked().value.suggestions]


@pytest.mark.parametrize("name", ["nowhere", "unknown"])
def test_what_cannot_be_asked_has_no_answer(script, file, name):
    (mine,) = [found for found in script.read_cases(file) if found.name == name]
    assert script.candidates_of(mine, shipped()) is None


def test_a_walk_changes_what_a_computed_resemblance_is_worth_and_nothing_else(script):
    graph = shipped().graph
    assert script.walked(shipped(), KIND_WEIGHTS["shares-facet"]).graph.weights == pytest.approx(
        graph.weights
    )
    changed = script.walked(shipped(), 0.0).graph.weights != graph.weights
    walked = [r for r in graph.relations if KIND_WEIGHTS[r.kind] > 0]
    assert changed.tolist() == 2 * [r.kind == "shares-facet" for r in walked]


def test_a_trouble_that_weighs_more_moves_what_shares_it_down(script, file):
    mine = script.read_cases(file)[-1:]  # diacetyl; 2,3-pentanedione shares its harmful vapour (NIOSH, 2016)
    settings = script.grid([KIND_WEIGHTS["shares-facet"]], [0.0, 6.0])
    without, heavy = script.ranks(mine, shipped(), settings).rejected[:, 0]
    assert without < heavy


def test_what_is_counted_of_ranks(script, file):
    cases = [
        found for found in script.read_cases(file) if found.name in ("stand-in", "whole", "later", "only bad")
    ]
    accepted = np.array([[1.0, 4.0, np.inf, 2.0]])
    rejected = np.array([[np.inf, 3.0, np.inf, 1.0]])
    found = script.measures(cases, script.Outcomes(accepted, rejected))
    by_hand = {
        "hit@1": [1, 0, 0, np.nan],
        "hit@5": [1, 1, 0, np.nan],
        "MRR": [1, 0.25, 0, np.nan],  # 1 / rank; a case of the type negative asks for no answer
        "rejected above accepted": [0, 1, np.nan, 1],  # "later" names nothing that is rejected
    }
    for name, values in by_hand.items():
        assert found.values[name][0] == pytest.approx(values, nan_ok=True), name
    assert found.goodness() == pytest.approx([1.25 / 3 - 2 / 3])


def test_a_fold_is_counted_under_the_setting_that_is_best_on_the_others(script):
    # the first setting is right on the first case alone, the second on the other three: left out, the first
    # case is always counted under the second setting, and comes out wrong
    right = np.array([[1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 1.0, 1.0]])
    names = ("hit@1", "hit@5", "MRR")
    found = script.Measures(
        dict.fromkeys(names, right) | {"rejected above accepted": np.full((2, 4), np.nan)}
    )
    validated = script.cross_validate(found, folds=4, repeats=3, seed=0)
    assert validated.held_out["MRR"].tolist() == [0.0, 1.0, 1.0, 1.0]
    assert validated.chosen == {1: 12}


def test_an_interval_holds_the_mean_and_narrows_with_more_cases(script):
    def interval(count):
        text = script.figure(np.tile([0.0, 1.0], count // 2), seed=1)
        mean, low, high, n = (float(part.strip("[],()n")) for part in text.replace("(n ", "").split())
        assert (mean, n) == (0.5, count)
        assert low < mean < high
        return high - low

    # 1.96 x 2 x 0.5 / sqrt(n): 0.98 for 4 cases would pass the ends, 0.196 for 100
    assert interval(100) == pytest.approx(0.196, abs=0.03)
    assert interval(400) == pytest.approx(0.098, abs=0.02)


@pytest.mark.parametrize(("values", "shown"), [([], "- (n 0)"), ([np.nan, 0.25], "0.250 (n 1)")])
def test_too_few_cases_have_no_interval(script, values, shown):
    assert script.figure(np.array(values, float), seed=1) == shown


def test_the_shipped_numbers_alone_on_the_grid_are_chosen(script, capsys, file):
    status, out = run(script, capsys, file, *QUICK, "--walk", NOW[0], "--trouble", NOW[1], "--list")
    assert status == 0
    assert "8 cases: 7 that ask for an answer, 1 only for what is rejected; 4 name rejected" in out
    assert "Cross-validation chooses the shipped numbers." in out
    assert "unknown        swap       asked" in out
    for verb in ("shipped weights", "held out, 2 folds, 2 repeats", "free search over 3 random weights"):
        assert verb in out


def test_other_numbers_are_named_beside_the_shipped_ones(script, capsys, file):
    status, out = run(script, capsys, file, *QUICK, "--walk", "0.7", "--trouble", "9")
    assert status == 1
    rows = [line.split() for line in out.splitlines()]
    assert ["resemblance", "in", "a", "walk", NOW[0], "0.7"] in rows
    assert ["shared", "trouble", "in", "replace", NOW[1], "9"] in rows
    assert "chooses other numbers" in out


def test_two_runs_say_the_same(script, capsys, file):
    arguments = (file, *QUICK, "--walk", "0.1,0.5", "--trouble", "1,3")
    assert run(script, capsys, *arguments) == run(script, capsys, *arguments)


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("{", "cases.jsonl, line 2: "),
        ("[]", "cases.jsonl, line 2: "),
        ('{"id": "a"}', "cases.jsonl, line 2: no 'type'"),
        ('{"id": "a", "type": "variation", "query": {"cas": "1"}, "accept": [{"cas": "2"}]}', "no 'move'"),
    ],
)
def test_a_line_that_is_no_case_is_named(script, capsys, file, line, expected):
    file.write_text(json.dumps(CASES[0]) + "\n" + line + "\n")
    with pytest.raises(SystemExit) as stopped:
        script.main([str(file)])
    assert stopped.value.code == 2
    assert expected in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (("--folds", "9"), "with 8 cases it is 2 to 8"),
        (("--folds", "1"), "with 8 cases it is 2 to 8"),
        (("--walk", "a"), "give numbers such as"),
        (("--trouble", "nan,2"), "0 or more"),
        (("--repeats", "0"), "1 or more"),
    ],
)
def test_an_option_that_cannot_be_used_is_named(script, capsys, file, arguments, expected):
    with pytest.raises(SystemExit) as stopped:
        script.main([str(file), *arguments])
    assert stopped.value.code == 2
    assert expected in capsys.readouterr().err


def test_files_without_a_case_and_files_that_are_not_there_are_named(script, capsys, tmp_path):
    empty = tmp_path / "empty.jsonl"
    empty.write_text(json.dumps(case("none", "swap", "", [])) + "\n")
    for path, expected in (
        (empty, "no case has a CAS number"),
        (tmp_path / "none.jsonl", "there is no such file"),
    ):
        with pytest.raises(SystemExit) as stopped:
            script.main([str(path)])
        assert stopped.value.code == 2
        assert expected in capsys.readouterr().err
