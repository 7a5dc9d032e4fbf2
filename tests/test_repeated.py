"""Options that are given more than once: words add up, a second single value is refused."""

import click
import pytest
from command_line import run

import recommender as r
from recommender.cli import cli
from recommender.cli.commands import Option

MORELLO = "data/demo/morello.csv"


def commands(command=cli, name="recommender"):
    yield name, command
    for inner, below in getattr(command, "commands", {}).items():
        yield from commands(below, f"{name} {inner}")


@pytest.mark.parametrize("name", [name for name, _ in commands()])
def test_every_option_is_declared_in_the_one_place(name):
    command = dict(commands())[name]
    plain = [p.name for p in command.params if isinstance(p, click.Option) and not isinstance(p, Option)]
    assert set(plain) <= {"help", "version"}


def names(*arguments):
    done = run(*arguments, "--format", "json")
    assert done.status == 0, done.err
    return [found["name"] for found in done.json["suggestions"]]


@pytest.mark.parametrize(
    ("twice", "once"),
    [
        (["extend", "benzaldehyde", "--facet", "marzipan", "--facet", "cherry"], ["marzipan, cherry"]),
        (["extend", "benzaldehyde", "--avoid", "hay", "--avoid", "cherry"], ["hay, cherry"]),
        (["replace", "coumarin", "--facet", "hay", "--facet", "not sweet"], ["hay, not sweet"]),
        (
            ["vary", "vanillin", "--toward", "less sandalwood", "--toward", "woody"],
            ["less sandalwood, woody"],
        ),
        (["extend", MORELLO, "--facet", "almond", "--avoid", "hay", "--avoid", "cherry"], ["hay, cherry"]),
    ],
    ids=["facet", "avoid", "replace", "toward", "formula"],
)
def test_repeated_words_add_up(twice, once):
    assert names(*twice) == names(*twice[:-4], twice[-2], *once)
    assert names(*twice) != names(*twice[:-2])
    assert names(*twice) != names(*twice[:-4], *twice[-2:])


def test_a_balance_adds_up():
    materials = ["benzaldehyde", "vanillin", "coumarin"]
    one = run("dose", *materials, "--balance", "almond 2", "--balance", "vanilla 3", "--format", "json")
    assert one.json == run("dose", *materials, "--balance", "almond 2, vanilla 3", "--format", "json").json
    assert [first.balance for first in r.dose(materials, ["almond 2", "vanilla 3"]).value] == [2.0, 3.0, 1.0]
    done = run("dose", *materials, "--balance", "almond 2", "--balance", "almond 3")
    assert (done.status, done.out) == (2, "")
    assert "almond" in done.err
    assert "given twice" in done.err


def test_certificates_add_up_and_none_is_overwritten():
    check = ["check", MORELLO, "--dosage", "15", "--format", "json"]
    one = ["--content", "patchouli oil: coumarin 1"]
    done = run(*check, *one, "--content", "cedarwood oil virginia: coumarin 2")
    (row,) = (row for row in done.json["rows"] if row["name"] == "coumarin")
    assert {found["name"] for found in row["through"]} == {"patchouli oil", "cedarwood oil virginia"}
    done = run(*check, *one, "--content", "patchouli oil: coumarin 2")
    assert (done.status, done.out) == (2, "")
    assert "coumarin in patchouli oil is given twice" in done.err


def test_why_not_is_answered_for_each():
    done = run("replace", "coumarin", "--why-not", "dihydrocoumarin", "--why-not", "ethanol")
    assert "dihydrocoumarin is prohibited" in done.err
    assert "ethanol is a solvent" in done.err


def test_words_of_a_nose_add_up(tmp_path):
    book = ["--notebook", str(tmp_path / "n.sqlite")]
    smells = ["--smells", "raspberry 3", "--smells", "hay 2"]
    denied = ["--not", "violet", "--not", "orris"]
    run("nose", "add", "alpha-ionone", *smells, *denied, "--note", "dusty", "--note", "dry", *book)
    own = run("material", "alpha-ionone", "--format", "json", *book).json["own"]
    text = run("nose", "list", *book).out
    assert all(word in text for word in ("raspberry", "hay", "violet", "orris", "dusty; dry"))
    assert own["note"] == "dusty; dry"


@pytest.mark.parametrize(
    "arguments",
    [
        ["extend", "benzaldehyde", "--until", "8h", "--until", "24h"],
        ["extend", "benzaldehyde", "--top", "3", "--top", "4"],
        ["extend", "benzaldehyde", "--kind", "natural", "--kind", "base"],
        ["extend", "benzaldehyde", "--format", "json", "--format", "json"],
        ["check", MORELLO, "--dosage", "15", "--dosage", "20"],
        ["weigh", MORELLO, "--batch", "10g", "--batch", "20g"],
        ["compare", MORELLO, MORELLO, "--picture", "a.svg", "--picture", "b.svg"],
        ["shelf", "list", "--notebook", "a", "--notebook", "b"],
        ["--notebook", "a", "shelf", "list", "--notebook", "b"],
        ["shelf", "import", "x.csv", "--map", "label=A", "--map", "label=B"],
    ],
    ids=" ".join,
)
def test_a_second_single_value_is_refused_in_one_line(arguments):
    done = run(*arguments)
    assert (done.status, done.out, done.err.count("\n")) == (2, "", 1)
    option = next(word for word in reversed(arguments) if word.startswith("--"))
    assert option in done.err
    assert "more than once" in done.err or "given twice" in done.err


def test_a_flag_may_be_repeated():
    done = run("weigh", MORELLO, "--flat", "--flat")
    assert done.status == 0
