"""Whole answers, every figure of them: a change of code that moves one of them is seen here.

Sentences are left to other tests. After a wanted change of figures write the answers anew and read the
difference:

    REFRESH_GOLDEN=1 python -m pytest tests/test_golden_answers.py
"""

import json
import os
from pathlib import Path

import pytest
from command_line import run

GOLDEN = Path(__file__).parent / "golden"
DEMO = Path(__file__).parent.parent / "data" / "demo"
FORMULAS = {
    "morello": DEMO / "morello.csv",
    "tide_pool": DEMO / "tide_pool.csv",
    "orchard_smoke": GOLDEN / "orchard_smoke.csv",
}
QUESTIONS = {
    "extend": ("extend", "{file}", "--top", "6", "--dosage", "12"),
    "extend_relay": ("extend", "{file}", "--relay", "--share", "20", "--top", "3"),
    "replace": ("replace", "{line}", "--in", "{file}", "--top", "6"),
    "vary": ("vary", "{file}", "--toward", "{toward}", "--top", "6"),
    "trim": ("trim", "{file}"),
    "drydown": ("drydown", "{file}"),
    "check": ("check", "{file}", "--dosage", "12", "--category", "4", "--on", "2026-11-29"),
    "trials_next": ("trials", "next", "{name}"),
}
WORDS = {
    "morello": {"line": "alpha-ionone", "toward": "plum"},
    "tide_pool": {"line": "dihydromyrcenol", "toward": "cucumber"},
    "orchard_smoke": {"line": "coumarin", "toward": "fig"},
}
READINGS = {
    "morello": ("--at", "0", "cherry strong", "--at", "1h", "cherry clear", "--at", "8h", "cherry gone"),
    "tide_pool": ("--at", "0", "marine too strong", "--at", "3h", "bergamot gone", "--at", "8h", "clear"),
    "orchard_smoke": ("--at", "0", "pear clear", "--at", "2h", "smoke too strong", "--at", "8h", "pear gone"),
}

PROSE = {
    "category_words",
    "cautions",
    "note",
    "notes",
    "reason",
    "sign_off",
    "sources",
    "text",
    "verdict",
    "why",
    "words",
}


def figures(answer):
    """Return an answer without its sentences, and with numbers to eight digits."""
    match answer:
        case dict():
            return {key: figures(value) for key, value in answer.items() if key not in PROSE}
        case list():
            return [figures(value) for value in answer]
        case float():
            return float(f"{answer:.8g}")
        case _:
            return answer


def asked(question, name, notebook):
    if question == "trials_next":
        assert run("formulas", "save", str(FORMULAS[name]), "--notebook", notebook).status == 0
        trial = ("trials", "add", name, "--day", "2024-03-01", *READINGS[name], "--notebook", notebook)
        assert run(*trial).status == 0
    words = [word.format(file=FORMULAS[name], name=name, **WORDS[name]) for word in QUESTIONS[question]]
    done = run(*words, "--format", "json", "--notebook", notebook)
    assert done.status in ((0, 1) if question == "check" else (0,)), done.err
    return figures(done.json)


@pytest.mark.parametrize("name", sorted(FORMULAS))
@pytest.mark.parametrize("question", sorted(QUESTIONS))
def test_every_figure_of_an_answer_is_unchanged(question, name, tmp_path):
    answer = asked(question, name, str(tmp_path / "notebook.sqlite"))
    file = GOLDEN / "answers" / f"{question}_{name}.json"
    if os.environ.get("REFRESH_GOLDEN") == "1":
        file.write_text(json.dumps(answer, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    assert_alike(answer, json.loads(file.read_text(encoding="utf-8")))


def assert_alike(answer, golden, place="answer"):
    match golden:
        case dict():
            assert sorted(answer) == sorted(golden), place
            for key in golden:
                assert_alike(answer[key], golden[key], f"{place}.{key}")
        case list():
            assert len(answer) == len(golden), place
            for i, (one, other) in enumerate(zip(answer, golden, strict=True)):
                assert_alike(one, other, f"{place}[{i}]")
        case float():
            assert answer == pytest.approx(golden, rel=1e-5, abs=1e-7), place
        case _:
            assert answer == golden, place
