"""trials, formulas diff and calibrate by the command line."""

import csv
import io
import json

import pytest
from click.testing import CliRunner
from command_line import run

from recommender.cli import cli
from recommender.notebook import csv_folder, store

AT = ("--at", "0", "cherry strong", "--at", "1h", "almond clear", "--at", "8h", "almond gone, whole clear")


@pytest.fixture
def path(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    assert run("formulas", "save", "data/demo/morello.csv").status == 0
    return tmp_path / "notebook.sqlite"


@pytest.fixture
def smelled(path):
    assert run("trials", "add", "morello", "--day", "2024-03-01", "--room", "21", *AT).status == 0
    return path


def rows(path, table):
    with store.reading(path) as db:
        return [tuple(row) for row in db.execute(f"SELECT * FROM {table}")]


def test_a_trial_is_recorded_and_continued(smelled):
    done = run("trials", "read", "1", "--at", "24h", "whole trace (flat)", "--verdict", "too short")
    assert done.out == "trial 1 of morello@1: 5 readings\n"
    (row,) = run("trials", "list", "morello", "--format", "json").json
    assert row["verdict"] == "too short"
    assert [one["hours"] for one in row["readings"]] == [0, 1, 8, 8, 24]
    assert "5 at fresh, 60 min, 8 h and 24 h" in run("trials", "list", "morello").out
    shown = run("trials", "show", "1", "--format", "json").json
    last = shown["readings"][-1]
    assert (last["hours"], last["facet"], last["said"], last["words"]) == (24, None, "trace", "flat")
    assert last["predicted"] > 6  # the strip as the tables see it still smells
    assert "whole trace (flat)   (predicted: strong, 26 of 100)" in run("trials", "show", "1").out


def test_what_is_shown_as_csv_can_be_imported(smelled, tmp_path):
    table = run("trials", "show", "1", "--format", "csv").out
    assert len(list(csv.DictReader(io.StringIO(table)))) == 4
    (tmp_path / "again.csv").write_text(table, encoding="utf-8")
    dry = run("trials", "import", str(tmp_path / "again.csv"), "--dry-run")
    assert dry.out == "trial of morello@1, 2024-03-01: 4 readings\n"
    assert len(rows(smelled, "trials")) == 1
    assert run("trials", "import", str(tmp_path / "again.csv")).status == 0
    first, second = (run("trials", "show", n, "--format", "json").json for n in ("1", "2"))
    assert first["readings"] == second["readings"]


def test_a_bad_line_in_a_sheet_leaves_everything_as_it_was(smelled, tmp_path):
    bad = tmp_path / "bad.csv"
    bad.write_text("formula,hours,strength\nmorello,1,clear\nmorello@7,2,clear\n", encoding="utf-8")
    before = rows(smelled, "trial_readings")
    done = run("trials", "import", str(bad))
    assert done.status == 2
    assert "versions 1 to 1" in done.err
    assert rows(smelled, "trial_readings") == before
    assert len(rows(smelled, "trials")) == 1


def test_proposals_are_only_shown_where_nobody_can_be_asked(smelled):
    done = run("trials", "next", "morello")
    assert done.status == 0
    assert " 1. " in done.out
    assert "almond was clear at 60 min and gone at 8 h; benzaldehyde carried it" in done.out
    assert "One strip of it, smelled at:" in done.out
    assert "a qualified person signs off" in done.err
    assert len(rows(smelled, "formula_versions")) == 1


def test_what_is_accepted_is_saved_as_the_next_version_with_its_reason(smelled):
    done = run("trials", "next", "morello", "--accept", "1", "--save", "--format", "json").json
    assert done["accepted"] == [1]
    assert done["saved"] == "morello@2"
    last = run("formulas", "list", "morello", "--format", "json").json[-1]
    assert last["note"].startswith("from trial 1: add ")
    diff = run("formulas", "diff", "morello@1", "morello@2", "--format", "json").json
    assert [row["change"] for row in diff["moved"]] == ["new"] * len(done["changes"][0]["moves"])
    assert diff["room"] < 1
    assert max(diff["facets"]["bitter almond"]["morello@2"][4:5]) > max(
        diff["facets"]["bitter almond"]["morello@1"][4:5]
    )
    assert "everything else times" in run("formulas", "diff", "morello").out


def test_accepting_nothing_saves_nothing(smelled):
    done = run("trials", "next", "morello", "--accept", "none", "--save")
    assert done.status == 0
    assert "nothing was saved" in done.err
    assert len(rows(smelled, "formula_versions")) == 1


def test_on_a_terminal_each_change_is_asked_for(smelled, monkeypatch):
    monkeypatch.setattr("recommender.cli.trials_next.on_a_terminal", lambda: True)
    many = len(run("trials", "next", "morello", "--format", "json").json["changes"])
    answers = "y\n" + "n\n" * (many - 1) + "y\n"
    result = CliRunner().invoke(cli, ["trials", "next", "morello"], input=answers, standalone_mode=False)
    assert result.exception is None
    assert "accept change 1?" in result.output
    assert "morello@2 saved" in result.output
    versions = run("formulas", "list", "morello", "--format", "json").json
    assert versions[-1]["note"].count(";") == 0


def test_a_version_without_trials_says_which_has_some(smelled):
    run("trials", "next", "morello", "--accept", "1", "--save")
    done = run("trials", "next", "morello")
    assert done.status == 2
    assert "morello@1 has" in done.err
    assert run("trials", "next", "morello@1").status == 0


def test_a_trial_can_be_taken_out(smelled):
    assert run("trials", "forget", "1").status == 0
    assert rows(smelled, "trial_readings") == []
    assert run("trials", "list").status == 1


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["trials", "add", "morelo", "--at", "1h", "clear"], "did you mean morello?"),
        (["trials", "add", "morello", "--at", "1h", "almnd clear"], "almond"),
        (["trials", "add", "morello", "--at", "1h", "almond nice"], "gone, trace, clear"),
        (["trials", "add", "morello", "--at", "soon", "clear"], "30min, 8h or 3d"),
        (["trials", "add", "morello", "--day", "soon"], "2024-03-01"),
        (["trials", "add", "morello", "--room", "90"], "--room"),
        (["trials", "read", "1"], "--at"),
        (["trials", "read", "9", "--at", "1h", "clear"], "trials list"),
        (["trials", "show", "9"], "trials list"),
        (["trials", "forget", "9"], "trials list"),
        (["trials", "next", "morello", "--accept", "99"], "numbers from 1 to"),
        (["trials", "next", "morello", "--accept", "one"], "numbers from 1 to"),
        (["trials", "next", "morello", "--max-price", "3"], "no bottle"),
        (["trials", "import", "nowhere.csv"], "no such file"),
        (["formulas", "diff", "morello"], "no version before it"),
        (["formulas", "diff", "plum"], "formulas list"),
        (["calibrate", "add", "linalool", "--at", "1h", "rose clear"], "without facets"),
        (["calibrate", "add", "linaloool", "--at", "1h", "clear"], "linalool"),
        (["calibrate", "add", "linalool", "--dilution", "200"], "--dilution"),
        (["calibrate", "add", "dipropylene glycol", "--at", "1h", "clear"], "is not known"),
        (["calibrate", "add", "linalool", "--solvent", "rum"], "--solvent"),
        (["calibrate", "read", "9", "--at", "1h", "clear"], "calibrate list"),
        (["calibrate", "forget", "9"], "calibrate list"),
        (["calibrate", "fit"], "smell a few materials"),
    ],
)
def test_a_wrong_use_is_one_line_with_a_way_out(smelled, arguments, message):
    done = run(*arguments)
    assert done.status == 2
    assert message in done.err
    assert done.err.count("\n") == 1
    assert done.out == ""


@pytest.mark.parametrize("arguments", [["trials", "read", "1", "--at", "1h", "clear"], ["trials", "list"]])
def test_nothing_is_made_where_there_is_no_notebook(tmp_path, arguments):
    where = tmp_path / "none.sqlite"
    assert run(*arguments, "--notebook", str(where)).status in (1, 2)
    assert not where.exists()


def test_own_strips_are_fitted_and_the_drydown_uses_them(path):
    assert run("calibrate", "import", "data/demo/strips.csv").status == 0
    assert len(run("calibrate", "list", "--format", "json").json) == 6
    before = run("drydown", "morello", "--format", "json").json
    fitted = run("calibrate", "fit", "--format", "json").json
    air = fitted["figures"][0]
    assert air["fitted"]
    assert air["value"] > 1.3 * air["table"]
    (slip,) = fitted["outliers"]
    assert slip["reading"].startswith("11 h 45 (perhaps")
    assert fitted["apart"]["own"] < fitted["apart"]["table"]
    after = run("drydown", "morello", "--format", "json").json
    message = "benzaldehyde: your strip says clear until 1.83 h, the table predicted 0.965 h."
    assert message in after["notes"]
    ends = [data["ends"]["bitter almond"]["clear"]["hours"] for data in (before, after)]
    assert ends[1] > 1.2 * ends[0]
    assert "still air over the strip: 3.3 mm (table 2)" in run("calibrate", "show").out
    assert run("calibrate", "reset").status == 0
    assert run("drydown", "morello", "--format", "json").json == before
    assert len(run("calibrate", "list", "--format", "json").json) == 6


def test_a_dry_fit_changes_nothing(path):
    run("calibrate", "import", "data/demo/strips.csv")
    assert run("calibrate", "fit", "--dry-run").status == 0
    assert rows(path, "calibrations") == []
    assert json.loads(run("calibrate", "show", "--format", "json").out)["fitted"] is None


def test_trials_strips_and_fits_travel_with_an_export(smelled, tmp_path):
    run("calibrate", "import", "data/demo/strips.csv")
    run("calibrate", "fit")
    run("trials", "read", "1", "--at", "3d", "whole gone (=1+1)")
    folder, copy = tmp_path / "folder", tmp_path / "copy.sqlite"
    assert run("notebook", "export", str(folder)).status == 0
    assert run("notebook", "import", str(folder), "--notebook", str(copy)).status == 0
    with store.reading(smelled) as one, store.reading(copy) as other:
        assert csv_folder.digest(one) == csv_folder.digest(other)
    assert "'=1+1" in (folder / "trial_readings.csv").read_text(encoding="utf-8-sig")
    assert len(rows(copy, "trial_readings")) == 5
    assert rows(copy, "calibrations") == rows(smelled, "calibrations")


def test_a_line_of_a_formula_that_is_not_saved_is_named(smelled, tmp_path):
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("formula,hours,facet,strength\nmorello,8,almond,gone\nmorelo,8,almond,gone\n")
    done = run("trials", "import", str(sheet))
    assert done.status == 2
    assert 'sheet.csv, line 3, column formula: "morelo"' in done.err
    assert "did you mean morello" in done.err
    done = run("trials", "import", "data/demo/readings.csv", "--formula", "nix", "--dry-run")
    assert done.status == 0  # a column names it
