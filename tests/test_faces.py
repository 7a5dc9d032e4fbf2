"""The command line and Python give the same answer to the same question, as data, and store the same.

Each question is asked on the shipped evidence and under a notebook with a saved formula, a bottle and an own
note, which change what is answered.
"""

import json
import shlex
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from command_line import run

import recommender as r
from recommender.model import Bottle, Formula, Label, Line, OwnNote
from recommender.notebook import formulas, nose, shelf
from recommender.notebook.csv_folder import digest
from recommender.notebook.store import reading, writing
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
    case(["replace", "coumarin", "--in", FIG], "replace", "coumarin", formula=FIG),
    case(["replace", "coumarin", "--because", "law"], "replace", "coumarin", because="law"),
    case(
        ["replace", "coumarin", "--because", "price", "--top", "5"],
        "replace",
        "coumarin",
        because="price",
        top=5,
    ),
    case(
        ["replace", "vanillin", "--product", "soap", "--colourless", "--available", "--why-not", "coumarin"],
        *("replace", "vanillin"),
        product="soap",
        colourless=True,
        available=True,
        why_not="coumarin",
    ),
    case(
        ["extend", MORELLO, "--product", "candle", "--colourless", "--top", "3"],
        *("extend", MORELLO),
        product="candle",
        colourless=True,
        top=3,
    ),
    case(["pair", "lavender oil", "--product", "wash"], "pair", "lavender oil", product="wash"),
    case(
        ["vary", "hexyl acetate", "--toward", "apple", "--product", "shampoo", "--available"],
        *("vary", "hexyl acetate", "apple"),
        product="shampoo",
        available=True,
    ),
    case(["replace", "clove bud oil", "--blend", "2"], "replace", "clove bud oil", blend=2),
    case(["vary", "vanillin", "--toward", "less sweet"], "vary", "vanillin", "less sweet"),
    case(["vary", FIG, "--toward", "smoke"], "vary", FIG, "smoke"),
    case(["pair", "lavender oil", "--facet", "hay", "--top", "3"], "pair", "lavender oil", "hay", top=3),
    case(
        ["pair", FIG, "--kind", "natural", "--market", "eu", "--dosage", "15", "--why-not", "coumarin"],
        *("pair", FIG),
        kind="natural",
        market="eu",
        dosage_percent=15.0,
        why_not="coumarin",
    ),
    case(
        [
            "reformulate",
            MORELLO,
            "--without",
            "benzaldehyde",
            "--dosage",
            "5",
            "--market",
            "eu",
            "--keep",
            "4",
            "--keep",
            "eugenol",
            "--changes",
            "2",
            "--seconds",
            "600",
        ],
        *("reformulate", MORELLO),
        without=["benzaldehyde"],
        dosage_percent=5.0,
        market="eu",
        keep=["4", "eugenol"],
        changes=2,
        seconds=600.0,
    ),
    case(
        [
            "reformulate",
            MORELLO,
            "--without",
            "eugenol",
            "--theme",
            "cherry",
            "--top",
            "2",
            "--seconds",
            "600",
        ],
        *("reformulate", MORELLO),
        without="eugenol",
        theme="cherry",
        top=2,
        seconds=600.0,
    ),
    case(["drydown", MORELLO], "drydown", MORELLO),
    case(
        ["drydown", MORELLO, "--surface", "skin", "--dosage", "15", "--load-mg", "80", "--area-cm2", "20"],
        *("drydown", MORELLO),
        surface="skin",
        dosage_percent=15.0,
        load_mg=80.0,
        area_cm2=20.0,
    ),
    case(["drydown", FIG, "--room-c", "18"], "drydown", FIG, room_c=18.0),
    case(
        ["extend", MORELLO, "--surface", "skin", "--top", "3"],
        *("extend", MORELLO),
        surface="skin",
        top=3,
    ),
    case(
        ["replace", "eugenol", "--in", MORELLO, "--surface", "cotton", "--top", "3"],
        *("replace", "eugenol"),
        formula=MORELLO,
        surface="cotton",
        top=3,
    ),
    case(["trim", FIG, "--surface", "polyester"], "trim", FIG, surface="polyester"),
    case(["compare", MORELLO, FIG, "--surface", "skin"], "compare", MORELLO, FIG, surface="skin"),
    case(["trim", MORELLO], "trim", MORELLO),
    case(["trim", FIG, "--theme", "green", "--theme", "fig"], "trim", FIG, theme=["green", "fig"]),
    case(["drydown", FIG, "--theme", "fig"], "drydown", FIG, theme="fig"),
    case(["compare", MORELLO, FIG, "--theme", "almond"], "compare", MORELLO, FIG, theme="almond"),
    case(["vary", FIG, "--toward", "pear", "--theme", "fig"], "vary", FIG, "pear", theme="fig"),
    case(["extend", MORELLO, "--theme", "violet", "--top", "3"], "extend", MORELLO, theme="violet", top=3),
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
    case(
        ["dose", "vanillin", "coumarin", "--share", "20"],
        *("dose", ["vanillin", "coumarin"]),
        share_percent=20.0,
    ),
    case(
        ["extend", MORELLO, "--facet", "cherry", "--share", "20", "--top", "3"],
        *("extend", MORELLO, "cherry"),
        share_percent=20.0,
        top=3,
    ),
    case(["drydown", FIG, "--share", "10"], "drydown", FIG, share_percent=10.0),
    case(["weigh", MORELLO, "--bracket", "eugenol"], "weigh", MORELLO, bracket="eugenol"),
    case(["compare", MORELLO, FIG], "compare", MORELLO, FIG),
    case(
        ["check", MORELLO, "--dosage", "15", "--category", "4", "--market", "eu"],
        *("check", MORELLO, 15.0, "4"),
        market="eu",
    ),
    case(
        ["check", MORELLO, "--dosage", "15", "--market", "gb", "--on", "2027-02-01"],
        *("check", MORELLO, 15.0),
        market="gb",
        on="2027-02-01",
    ),
    case(
        ["extend", MORELLO, "--dosage", "15", "--market", "gb", "--on", "2027-02-01", "--top", "3"],
        *("extend", MORELLO),
        dosage_percent=15.0,
        market="gb",
        on="2027-02-01",
        top=3,
    ),
    case(
        ["weigh", MORELLO, "--dosage", "15", "--category", "9", "--market", "eu", "--on", "2027-02-01"],
        *("weigh", MORELLO),
        dosage_percent=15.0,
        category="9",
        market="eu",
        on="2027-02-01",
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
    case(["pair", "eugenol", "--shelf"], "pair", "eugenol", shelf=True),
    case(["drydown", "clove@1"], "drydown", "clove@1"),
    case(["trim", "clove"], "trim", "clove"),
    case(["compare", "clove@1", "clove@2"], "compare", "clove@1", "clove@2"),
    case(["compare", "clove", MORELLO], "compare", "clove", MORELLO),
    case(["check", "clove@1", "--dosage", "20"], "check", "clove@1", 20.0),
    case(["weigh", "clove", "--batch", "5g"], "weigh", "clove", batch_g=5.0),
    case(["material", "my clove"], "material", "my clove"),
    case(["materials", "clove", "--shelf"], "materials", "clove", shelf=True, part="materials"),
    case(["materials", "raspberry"], "materials", "raspberry", part="materials"),
    case(["materials", "--named", "anthranilate"], "materials", named="anthranilate", part="materials"),
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
        shelf.add(db, Bottle("eugenyl acetate", find("eugenyl acetate").slug, 100.0, "", 5.0, 1.0))
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
    owned = {"eugenol", "vanillin", "isoeugenol", "eugenyl acetate"}
    assert {row["name"] for row in mine.materials(shelf=True)} == owned


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
        (["drydown", MORELLO, "--load-mg", "0"], lambda: r.drydown(MORELLO, load_mg=0)),
        (["drydown", MORELLO, "--theme", "qqqq"], lambda: r.drydown(MORELLO, theme="qqqq")),
        (["extend", "coumarin", "--theme", "hay"], lambda: r.extend("coumarin", theme="hay")),
        (
            ["drydown", MORELLO, "--surface", "skin", "--room-c", "20"],
            lambda: r.drydown(MORELLO, surface="skin", room_c=20),
        ),
        (
            ["vary", "vanillin", "--toward", "pear", "--surface", "skin"],
            lambda: r.vary("vanillin", "pear", surface="skin"),
        ),
        (["check", MORELLO, "--dosage", "0"], lambda: r.check(MORELLO, 0)),
        (["weigh", MORELLO, "--batch", "0g"], lambda: r.weigh(MORELLO, batch_g=0)),
        (["material", "coumarim"], lambda: r.material("coumarim")),
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


def stored_in_python(mine):
    mine.shelf.add("violet stuff", "alpha-ionone", dilution_percent=10, solvent="ethanol", amount_g=12.5)
    rows = mine.shelf.read_sheet(Path(SHELF))[1]
    mine.shelf.add_all((row.bottle for row in rows if row.bottle), Path(SHELF).name)
    mine.shelf.edit(1, amount_g=9)
    mine.shelf.weighed(mine.weigh(MORELLO).value, [2])
    mine.shelf.resolve("plum stuff", "coumarin")
    mine.nose.add("coumarin", "hay 3, marzipan 1", "vanilla", strength="weaker", words="dusty")
    mine.nose.blind("ethylene brassylate")
    mine.own_materials.add("plum base 7", "plum 3", strength="soft", pressure_pa=2, molar_mass=150)
    mine.own_strips.add("linalool", {1: "clear", 8: "gone"}, day="2026-03-01", room_c=22)


SHELF = "data/demo/shelf.xlsx"
BY_COMMAND = f"""
shelf add "violet stuff" --material alpha-ionone --dilution 10 --solvent ethanol --amount 12.5
shelf import {SHELF}
shelf edit 1 --amount 9
weigh {MORELLO} --weighed --from-bottle 2
shelf resolve "plum stuff" coumarin
nose add coumarin --smells "hay 3, marzipan 1" --not vanilla --strength weaker --note dusty
nose blind "ethylene brassylate"
materials add "plum base 7" --smells "plum 3" --strength soft --pressure 2 --molar-mass 150
calibrate add linalool --at 1h clear --at 8h gone --day 2026-03-01 --room 22
"""


def test_both_store_the_same(tmp_path, monkeypatch):
    by_command, in_python = tmp_path / "command.sqlite", tmp_path / "python.sqlite"
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(by_command))
    monkeypatch.setattr("recommender.records.shelf.timed", lambda: "2026-03-01T09:00:00")
    for words in BY_COMMAND.strip().splitlines():
        done = run(*shlex.split(words))
        assert done.status == 0, done.err
    stored_in_python(r.open(in_python))
    found = []
    for path in (by_command, in_python):
        with reading(path) as db:
            found.append(digest(db))
    assert found[0] == found[1]


def test_both_store_the_same_versions_and_trials(tmp_path, monkeypatch):
    path = tmp_path / "notebook.sqlite"
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(path))
    mine = r.open(path)
    assert mine.formulas.save(MORELLO)[-1].title == "morello@1"
    assert run("formulas", "save", MORELLO).out == "morello@1 is identical; nothing new to save\n"
    one = mine.trials.add("morello", {8: "almond gone, whole clear"}, day="2026-03-01", verdict="thin")
    assert run("trials", "add", "morello", "--at", "8h", "almond gone, whole clear", "--day", "2026-03-01",
               "--verdict", "thin").status == 0  # fmt: skip
    same, other = mine.trials.records("morello")
    assert same == one
    assert replace(other, number=one.number) == one
    with pytest.raises(r.BadValue, match="write it as 2024-03-01"):
        mine.trials.add("morello", {}, day="soon")


def test_what_is_stored_counts_at_once_and_comes_back(tmp_path):
    mine = r.open(tmp_path / "notebook.sqlite")
    assert mine.material("coumarin").strength_of("hay") == 3
    mine.nose.add("coumarin", denied="hay")
    assert mine.material("coumarin").strength_of("hay") == 0
    _, number = mine.nose.remove("coumarin")
    assert mine.material("coumarin").strength_of("hay") == 3
    mine.removed.bring_back(number)
    assert mine.material("coumarin").strength_of("hay") == 0
    for wrong in (
        lambda: mine.shelf.add("  "),
        lambda: mine.shelf.add("my rose", "coumarin", amount_g="12 ml"),
        lambda: mine.shelf.remove(9),
        lambda: mine.nose.add("coumarin", strength="loud"),
        lambda: mine.nose.remove("vanillin"),
        lambda: mine.limits.use(3),
        lambda: mine.removed.bring_back(99),
    ):
        with pytest.raises(r.BadValue):
            wrong()
