"""Questions at the edge: prohibited materials, nothing to offer, an empty shelf, extreme amounts."""

import json
import os
import random

import pytest
from command_line import run

from recommender.model import Limit
from recommender.regulation import ProductUse, reduced

COUNT = 2000 if os.environ.get("RECOMMENDER_FAULTS") == "all" else 0
"""How many questions; 0 for the short sample."""
PROHIBITED = "80-54-6"
"""Butylphenyl methylpropional: Annex II of Regulation (EC) 1223/2009, by Regulation (EU) 2021/1902."""


def test_what_is_prohibited_gets_no_amount_beside_what_a_limit_bounds():
    done = run("dose", PROHIBITED, "coumarin", "--dosage", "10", "--format", "json")
    assert done.status == 0
    barred, bounded = done.json["rows"]
    assert (barred["parts"], barred["grams"], barred["held_back"]) == (None, None, "prohibited")
    assert bounded["parts"] > 0


def test_a_limit_of_which_nothing_counts_is_met_at_no_dosage(material, catalogue_of):
    limit = Limit(
        "Toy", ("11-11-1",), (), "restriction", "standards", "published", "toy-2020", percent={"4": 1}
    )
    toy = material("toy", {"rose": 3}, cas="11-11-1")
    found = reduced([toy], [None], catalogue_of([toy], limits=[limit]), ProductUse(10.0, "4"))
    assert found == [(None, "")]


NOTHING = ["--kind", "base"]
"""No base is offered: the tables hold none."""


@pytest.mark.parametrize(
    "question",
    [
        ["replace", "bitter almond oil"],
        ["replace", "bitter almond oil", "--blend", "2"],
        ["replace", "bitter almond oil", "--blend", "3", "--why-not", "vanillin"],
        ["replace", "coumarin", "--in", "ACCORD"],
        ["extend", "ACCORD"],
        ["extend", "ACCORD", "--relay"],
        ["extend", "coumarin", "--facet", "hay"],
        ["extend", "coumarin", "--facet", "hay", "--in", "ACCORD"],
        ["vary", "coumarin", "--toward", "smoke"],
        ["vary", "ACCORD", "--toward", "smoke"],
        ["pair", "coumarin"],
        ["pair", "ACCORD"],
    ],
    ids=" ".join,
)
@pytest.mark.parametrize("form", ["table", "json", "csv"])
def test_where_nothing_can_be_offered_the_answer_is_that_nothing_was_found(question, form, accord):
    asked = [accord if word == "ACCORD" else word for word in question]
    done = run(*asked, *NOTHING, "--format", form)
    if "--why-not" in question:  # the one question that is refused, in one line
        assert done.status == 2
        return
    assert done.status == 1
    assert "nothing found" in done.err
    if form == "json":
        assert json.loads(done.out)["suggestions"] == []


@pytest.fixture
def accord(tmp_path):
    path = tmp_path / "accord.csv"
    path.write_text("material,parts\ncoumarin,10\nlinalool,60\nbergamot oil,30\n", encoding="utf-8")
    return str(path)


def test_a_material_without_a_smell_has_no_blend_that_stands_for_it():
    done = run("replace", "diethyl phthalate", "--blend", "2")
    assert done.status == 1
    assert "nothing found" in done.err


MATERIALS = (
    *(PROHIBITED, "hydroxyisohexyl 3-cyclohexene carboxaldehyde", "costus root oil"),  # prohibited
    *("diethyl phthalate", "ethanol", "dipropylene glycol"),  # solvents
    *("coumarin", "bitter almond oil", "2-isobutyl-3-methoxypyrazine", "ethylene brassylate", "linalool"),
)
FACETS = ("almond", "hay", "smoke", "nut")


def questions(count, seed, folder):
    """Return questions drawn at random from all verbs, about formulas of the least and the most parts."""
    dice = random.Random(seed)

    def some(*options):
        return [word for option in options if dice.random() < 0.4 for word in option]

    def any_of(*words):
        return dice.choice(words)

    def formula():
        path = folder / f"accord_{dice.randrange(10**9)}.csv"
        lines = dice.sample(MATERIALS, any_of(1, 1, 2, 5))
        rows = [f'"{m}",{any_of("1", "1e-12", "1e9")},{any_of("", "10", "0.001")}\n' for m in lines]
        path.write_text("material,parts,dilution_percent\n" + "".join(rows), encoding="utf-8")
        return str(path)

    def filters():
        return some(
            *(["--kind", any_of("molecule", "natural", "base")], ["--top", any_of("1", "1000")]),
            *(
                ["--avoid", any_of(*FACETS)],
                ["--market", any_of("eu", "standards")],
                ["--no-label-allergens"],
            ),
            ["--dosage", any_of("0.0001", "100"), *some(["--category", any_of("1", "9", "12")])],
            *(["--shelf"], ["--explain"], ["--format", any_of("json", "csv")]),
        )

    for _ in range(count):
        one, facet, dosage = dice.choice(MATERIALS), dice.choice(FACETS), any_of("0.0001", "100")
        yield any_of(
            [
                "dose",
                *dice.sample(MATERIALS, 3),
                *some(["--dosage", any_of("0.0001", "100")], ["--market", "eu"]),
            ],
            ["extend", one, *some(["--facet", facet], ["--into", "base"], ["--in", formula()]), *filters()],
            ["extend", formula(), *some(["--facet", facet], ["--relay"], ["--until", "1min"]), *filters()],
            ["replace", one, *some(["--facet", facet], ["--blend", "2"]), *filters()],
            ["replace", one, "--in", formula(), *filters()],
            ["vary", any_of(one, formula()), "--toward", facet, *filters()],
            ["pair", any_of(one, formula()), *some(["--facet", facet]), *filters()],
            ["trim", formula()],
            ["strips", *dice.sample(MATERIALS, any_of(1, 4)), *some(["--at", any_of("0h", "1000d")])],
            ["drydown", formula()],
            [
                "weigh",
                formula(),
                *some(["--batch", "1mg"], ["--resolution", "1g"], ["--dosage", "0.0001"], ["--flat"]),
            ],
            ["check", formula(), "--dosage", dosage, *some(["--category", "1"])],
            ["compare", formula(), formula()],
            ["limits", one],
            ["shelf", "cost", formula()],
        )


@pytest.mark.faults
def test_every_verb_answers_or_refuses_in_one_line(tmp_path):
    for question in questions(COUNT or 120, 1, tmp_path):
        done = run(*question)
        assert done.status in (0, 1, 2), question
        assert done.out or done.err, question
        if done.status == 2:
            assert len(done.err.splitlines()) == 1, question
