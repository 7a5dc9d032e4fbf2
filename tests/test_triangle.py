"""Triangle tests: what was taken for the odd one is stored as a trial, and how likely that is by guessing."""

import pytest
from command_line import run

from recommender.errors import BadValue
from recommender.model import TriangleAnswer, TriangleRecord, guessed_right
from recommender.notebook import csv_folder
from recommender.reformulation.triangle import triangle
from recommender.workspace import Workspace

BEFORE = {"eugenol": 30, "vanillin": 70.5, "linalool": 899.5}
AFTER = {"vanillin": 71, "linalool": 900, "isoeugenol": 12.3456789}


@pytest.fixture
def here(tmp_path):
    workspace = Workspace(tmp_path / "notebook.sqlite")
    for lines in (BEFORE, AFTER):
        source = tmp_path / "bouquet.csv"
        source.write_text("material,parts\n" + "".join(f"{name},{parts}\n" for name, parts in lines.items()))
        workspace.formulas.save(source)
    return workspace


@pytest.fixture
def test_of(here):
    return triangle(*(here.formulas.open(name)[1] for name in ("bouquet@1", "bouquet@2")))


def wrong_of(visit):
    return next(number for number in visit.strips if number != visit.odd)


@pytest.mark.parametrize(
    ("right", "count", "chance"),
    # of 3^4 = 81 ways to guess: 1 with four right, 8 with three, 24 with two, 32 with one, 16 with none
    [
        (4, 4, 1 / 81),
        (3, 4, 9 / 81),
        (2, 4, 33 / 81),
        (1, 4, 65 / 81),
        (0, 4, 1.0),
        (0, 0, 1.0),
        (1, 1, 1 / 3),
    ],
)
def test_guessing_gives_one_of_three(right, count, chance):
    assert guessed_right(right, count) == pytest.approx(chance)
    answers = tuple(TriangleAnswer(float(n), (1, 2, 3), 1, 1 if n < right else 2) for n in range(count))
    record = TriangleRecord("a@1", answers)
    assert (record.right, record.by_chance) == (right, pytest.approx(chance))


def test_answers_are_stored_with_the_key_that_follows_from_both_formulas(here, test_of):
    first, second, *_ = test_of.visits
    done = here.trials.triangle(
        "bouquet@2", {0.25: f"{first.odd} greener, thin", 1.1: str(wrong_of(second))}, against="bouquet@1"
    )
    assert (done.formula, done.version, done.triangle.against) == ("bouquet", 2, "bouquet@1")
    assert (done.triangle.right, len(done.triangle.answers)) == (1, 2)
    one, other = done.triangle.answers
    assert (one.hours, one.strips, one.odd, one.chosen, one.words) == (
        *(0.25, first.strips, first.odd, first.odd),
        "greener, thin",
    )
    assert (other.hours, other.right) == (1.1, False)
    assert here.trials.record(done.number) == done


def test_later_answers_go_into_the_same_trial_and_a_second_test_into_another(here, test_of):
    for visit in test_of.visits:
        done = here.trials.triangle("bouquet", {visit.hours: str(visit.odd)})
    assert (done.number, done.triangle.right) == (1, 4)
    assert done.triangle.by_chance == pytest.approx(1 / 81)
    again = here.trials.triangle("bouquet", {0.25: str(test_of.visits[0].odd)})
    assert (again.number, len(again.triangle.answers)) == (2, 1)
    other = here.trials.triangle(
        "bouquet@1", {0.25: str(triangle(*reversed(both(here))).visits[0].odd)}, against="bouquet@2"
    )
    assert other.number == 3


def both(here):
    return [here.formulas.open(name)[1] for name in ("bouquet@1", "bouquet@2")]


def test_a_trial_that_was_removed_comes_back_with_its_answers(here, test_of):
    done = here.trials.triangle("bouquet", {0.25: str(test_of.visits[0].odd)})
    _, removed = here.trials.remove(done.number)
    assert here.trials.records() == []
    here.removed.bring_back(removed)
    assert here.trials.records() == [done]


def test_answers_survive_a_folder_of_csv_files(here, test_of, tmp_path):
    done = here.trials.triangle("bouquet", {0.25: f"{test_of.visits[0].odd} =1"})
    csv_folder.export(tmp_path / "notebook.sqlite", tmp_path / "folder")
    csv_folder.import_folder(tmp_path / "other.sqlite", tmp_path / "folder", replace=True)
    assert Workspace(tmp_path / "other.sqlite").trials.records() == [done]


def test_readings_stand_beside_the_answers_of_one_trial(here, test_of):
    done = here.trials.triangle("bouquet", {0.25: str(test_of.visits[0].odd)})
    read = here.trials.read(done.number, {8: "clove trace"})
    assert (len(read.readings), read.triangle) == (1, done.triangle)


@pytest.mark.parametrize(
    ("answers", "against", "field", "words"),
    [
        ({}, "", "smelled", "at least one answer"),
        ({0.25: "greener"}, "", "smelled", "the number of the odd strip first"),
        ({0.25: "1"}, "", "smelled", "no strip of bouquet@2 against bouquet@1 has this number; they are"),
        ({0.25: "1"}, "bouquet@2", "against", "another version"),
        ({0.25: "1"}, "mint", "formula", "no formula is saved under this name"),
    ],
)
def test_what_cannot_be_stored_names_the_field_and_a_way_out(here, answers, against, field, words):
    with pytest.raises(BadValue, match=words) as caught:
        here.trials.triangle("bouquet@2", answers, against=against)
    assert caught.value.field == field
    assert here.trials.records() == []


def test_the_first_version_needs_another_to_be_tested_against(here):
    with pytest.raises(BadValue, match="there is no version before it"):
        here.trials.triangle("bouquet@1", {0.25: "1"})


def test_the_same_strips_are_not_answered_twice_at_once(here, test_of):
    visit = test_of.visits[0]
    with pytest.raises(BadValue, match="the same three strips"):
        here.trials.triangle("bouquet", {0.25: str(visit.odd), 1.0: str(wrong_of(visit))})


def test_the_key_is_that_of_the_sheet_after_files_and_notebook(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    source, out, sheet = tmp_path / "bouquet.csv", tmp_path / "out.csv", tmp_path / "sheet.csv"
    source.write_text("material,parts\neugenol,30\nvanillin,70\nlinalool,900\n")
    options = ("--without", "eugenol", "--out", str(out), "--triangle", str(sheet))
    assert run("reformulate", str(source), *options).status == 0
    for file in (source, out):
        assert run("formulas", "save", str(file), "--as", "bouquet").status == 0
    strips = [line.split(",")[1:4] for line in sheet.read_text().splitlines()[1:]]
    at = [
        word
        for hours, row in zip(("15min", "1h", "8h", "24h"), strips, strict=True)
        for word in ("--at", hours, f"{row[1]} thin")
    ]
    done = run("trials", "triangle", "bouquet", *at)
    assert done.status == 0, done.err
    assert "triangle test against bouquet@1" in done.out
    assert "guessing gives as many or more in" in done.out
    (row,) = run("trials", "list", "--format", "json").json
    assert row["triangle"]["answered"] == 4
    assert row["triangle"]["right"] == sum(one["right"] for one in row["triangle"]["answers"])
    assert f"triangle test: {row['triangle']['right']} of 4 right" in run("trials", "list").out
    assert "triangle test against bouquet@1" in run("trials", "show", "1").out
    twice = run("trials", "triangle", "bouquet", "--at", "1h", "1", "--at", "1h", "2")
    assert twice.status == 2
    assert "two answers are of the same hour" in twice.err
