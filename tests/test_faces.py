"""The command line and Python give the same answer to the same question, as data.

Each question is asked on the shipped evidence and under a notebook with a saved formula, a bottle and an own
note, which change what is answered.
"""

import json
from dataclasses import dataclass

import pytest
from command_line import run

import recommender as r
from recommender.model import Bottle, Formula, Label, Line, OwnNote
from recommender.notebook import formulas, nose, shelf
from recommender.notebook.store import writing
from recommender.palette import shipped

MORELLO, FIG = "data/demo/morello.csv", "data/demo/green_fig.csv"


@dataclass(frozen=True)
class Case:
    """One question: the words of the command line, and the same call in Python.

    `part` is the entry of the data that the command line gives as a bare list.
    """

    words: tuple[str, ...]
    verb: str
    given: tuple[object, ...]
    options: dict[str, object]
    part: str | None = None


def case(words, verb, *given, part=None, **options):
    return pytest.param(Case(tuple(words), verb, given, options, part), id=" ".join(words))


QUESTIONS = [
    case(
        ["extend", "benzaldehyde", "--facet", "bitter almond", "--until", "24h", "--top", "5"],
        *("extend", "benzaldehyde", "bitter almond"),
        until_hours=24.0,
        top=5,
    ),
    case(
        ["extend", MORELLO, "--into", "base", "--dosage", "15", "--category", "5A", "--avoid", "hay"],
        *("extend", MORELLO),
        into="base",
        dosage_percent=15.0,
        category="5A",
        avoid="hay",
    ),
    case(
        ["extend", "benzaldehyde", "--in", MORELLO, "--kind", "molecule", "--no-label-allergens"],
        *("extend", "benzaldehyde"),
        formula=MORELLO,
        kind="molecule",
        no_label_allergens=True,
    ),
    case(["extend", MORELLO, "--relay", "--top", "3"], "extend", MORELLO, relay=True, top=3),
    case(
        ["replace", "coumarin", "--why-not", "vanillin", "--market", "eu"],
        *("replace", "coumarin"),
        why_not="vanillin",
        market="eu",
    ),
    case(
        ["replace", "eugenol", "--facet", "clove", "--in", MORELLO],
        *("replace", "eugenol", "clove"),
        formula=MORELLO,
    ),
    case(["replace", "clove bud oil", "--blend", "2"], "replace", "clove bud oil", blend=2),
    case(["vary", "vanillin", "--toward", "less sweet"], "vary", "vanillin", "less sweet"),
    case(["vary", FIG, "--toward", "smoke"], "vary", FIG, "smoke"),
    case(["drydown", MORELLO], "drydown", MORELLO),
    case(["trim", MORELLO], "trim", MORELLO),
    case(
        ["strips", "coumarin", "alpha-ionone", "vanillin", "--at", "8h"],
        *("strips", "coumarin", "alpha-ionone", "vanillin"),
        hours=8.0,
    ),
    case(
        ["dose", "benzaldehyde", "eugenol", "--balance", "almond 2, clove 1", "--dosage", "10"],
        *("dose", ["benzaldehyde", "eugenol"], "almond 2, clove 1"),
        dosage_percent=10.0,
    ),
    case(
        ["dose", "vanillin", "coumarin", "--batch", "20g", "--resolution", "1mg"],
        *("dose", ["vanillin", "coumarin"]),
        batch_g=20.0,
        resolution_g=0.001,
    ),
    case(["compare", MORELLO, FIG], "compare", MORELLO, FIG),
    case(
        ["check", MORELLO, "--dosage", "15", "--category", "4", "--market", "eu"],
        *("check", MORELLO, 15.0, "4"),
        market="eu",
    ),
    case(
        ["weigh", MORELLO, "--finished", "100g", "--dosage", "12", "--within", "10", "--flat"],
        *("weigh", MORELLO),
        finished_g=100.0,
        dosage_percent=12.0,
        within_percent=10.0,
        flat=True,
    ),
    case(
        ["weigh", MORELLO, "--batch", "20g", "--as-written"], "weigh", MORELLO, batch_g=20.0, as_written=True
    ),
    case(["material", "alpha-ionone"], "material", "alpha-ionone"),
    case(["material", "101-86-0", "--market", "standards"], "material", "101-86-0", market="standards"),
    case(["materials", "hay, not sweet"], "materials", "hay, not sweet", part="materials"),
    case(["materials", "--market", "eu"], "materials", market="eu", part="materials"),
    case(["facets", "nut"], "facets", "nut", part="facets"),
    case(["facets"], "facets", part="facets"),
    case(["similarities"], "similarities", part="similarities"),
]
OF_THE_NOTEBOOK = [
    case(["extend", "clove", "--facet", "clove", "--shelf"], "extend", "clove", "clove", shelf=True),
    case(["replace", "coumarin", "--max-price", "3"], "replace", "coumarin", max_price=3.0),
    case(["replace", "eugenol", "--in", "clove@1"], "replace", "eugenol", formula="clove@1"),
    case(["vary", "clove", "--toward", "smoke"], "vary", "clove", "smoke"),
    case(["drydown", "clove@1"], "drydown", "clove@1"),
    case(["trim", "clove"], "trim", "clove"),
    case(["compare", "clove@1", "clove@2"], "compare", "clove@1", "clove@2"),
    case(["compare", "clove", MORELLO], "compare", "clove", MORELLO),
    case(["check", "clove@1", "--dosage", "20"], "check", "clove@1", 20.0),
    case(["weigh", "clove", "--batch", "5g"], "weigh", "clove", batch_g=5.0),
    case(["material", "my clove"], "material", "my clove"),
    case(["materials", "clove", "--shelf"], "materials", "clove", shelf=True, part="materials"),
    case(["materials", "raspberry"], "materials", "raspberry", part="materials"),
]


def same_on_both(question, face):
    shown = run(*question.words, "--format", "json")
    assert shown.status in (0, 1), shown.err  # 1: nothing found, or findings of a check
    answer = getattr(face, question.verb)(*question.given, **question.options)
    data = answer.to_dict() if question.part is None else answer[question.part]
    assert json.loads(json.dumps(data)) == shown.json
    assert len(answer) > 0


@pytest.mark.parametrize("question", QUESTIONS)
def test_both_give_the_same_on_the_shipped_evidence(question):
    same_on_both(question, r)


@pytest.fixture(scope="module")
def notebook(tmp_path_factory):
    path = tmp_path_factory.mktemp("own") / "notebook.sqlite"
    find = shipped().catalogue.find
    with writing(path) as db:
        for parts in (30.0, 60.0):
            lines = (
                Line(find("eugenol"), parts),
                Line(find("vanillin"), 40.0, 0.1, find("ethanol")),
                Line(find("benzaldehyde"), 5.0),
                Line(find("phenethyl alcohol"), 300.0),
            )
            formulas.save(db, Formula("clove", lines), "2026-01-15T10:00:00")
        shelf.remember(db, "my clove", find("eugenol").slug)
        shelf.add(db, Bottle("my clove", find("eugenol").slug, 10.0, "ethanol", 25.0, 0.2))
        shelf.add(db, Bottle("vanillin", find("vanillin").slug, 100.0, "", 50.0, 0.1))
        shelf.add(db, Bottle("isoeugenol", find("isoeugenol").slug, 100.0, "", 5.0, 2.0))
        note = OwnNote(find("alpha-ionone").slug, (Label("raspberry", 3, "user"),), ("violet",))
        nose.note(db, note)
    return path


@pytest.mark.parametrize("question", [*QUESTIONS[:-1], *OF_THE_NOTEBOOK])
def test_both_give_the_same_under_a_notebook(question, notebook, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(notebook))
    same_on_both(question, r.open(notebook))


def test_the_notebook_changes_what_is_answered(notebook):
    mine = r.open(notebook)
    assert mine.material("alpha-ionone").to_dict() != r.material("alpha-ionone").to_dict()
    assert "alpha-ionone" in [row["name"] for row in mine.materials("raspberry")]
    assert {row["name"] for row in mine.materials(shelf=True)} == {"eugenol", "vanillin", "isoeugenol"}


@pytest.mark.parametrize(
    ("words", "ask"),
    [
        (["extend", "benzaldehyde", "--until", "1min"], lambda: r.extend("benzaldehyde", until_hours=1 / 60)),
        (["extend", "benzaldehyde", "--top", "0"], lambda: r.extend("benzaldehyde", top=0)),
        (["extend", "benzaldehyde", "--relay"], lambda: r.extend("benzaldehyde", relay=True)),
        (
            ["replace", "coumarin", "--in", MORELLO, "--blend", "2"],
            lambda: r.replace("coumarin", formula=MORELLO, blend=2),
        ),
        (["vary", "vanillin", "--toward", "qqq"], lambda: r.vary("vanillin", "qqq")),
        (["drydown", "nothing.csv"], lambda: r.drydown("nothing.csv")),
        (["check", MORELLO, "--dosage", "0"], lambda: r.check(MORELLO, 0)),
        (["weigh", MORELLO, "--batch", "0g"], lambda: r.weigh(MORELLO, batch_g=0)),
        (["material", "coumarine"], lambda: r.material("coumarine")),
        (["strips", "coumarin"], lambda: r.strips("coumarin")),
        (["dose", "coumarin", "--balance", "smoke 1"], lambda: r.dose(["coumarin"], "smoke 1")),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_both_refuse_the_same(words, ask):
    done = run(*words)
    assert (done.status, done.out, done.err.count("\n")) == (2, "", 1)
    with pytest.raises(r.RecommenderError):
        ask()
