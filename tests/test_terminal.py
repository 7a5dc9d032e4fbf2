"""A person at a terminal: settings, help, completion, examples, quiet, progress."""

import os
import shlex
import subprocess
import sys
from pathlib import Path

import click
import pytest
from command_line import run

from recommender import units
from recommender.cli import cli, completion, settings
from recommender.evidence import demo

START = [sys.executable, "-c", "from recommender.cli import main; main()"]


# settings


@pytest.fixture
def configured(tmp_path, monkeypatch):
    """Return how a file of settings is written, which the calls then use."""
    file = tmp_path / "config.toml"
    monkeypatch.setenv("RECOMMENDER_CONFIG", str(file))

    def write(text):
        file.write_text(text, encoding="utf-8")
        return file

    return write


def test_settings_are_what_options_are_without_them(configured):
    configured('dosage = 12\nmarket = "eu"\ncategory = "5A"\nbalance = "1mg"\n')
    found = run("check", "demo/morello.csv", "--format", "json").json
    assert (found["dosage"], found["market"], found["category"]) == (12, "eu", "5A")
    asked = run("extend", "benzaldehyde", "--format", "json").json["query"]
    assert (asked["dosage"], asked["market"], asked["category"]) == (12, "eu", "5A")
    assert run("weigh", "demo/morello.csv", "--format", "json").json["resolution_g"] == 0.001


def test_an_option_goes_before_a_setting(configured):
    configured('dosage = 12\nmarket = "eu"\n')
    found = run("check", "demo/morello.csv", "--dosage", "3", "--market", "gb", "--format", "json").json
    assert (found["dosage"], found["market"]) == (3, "gb")


def test_a_dosage_among_the_settings_leaves_a_strip_and_two_shares_alone(configured):
    plain = run("drydown", "demo/morello.csv", "--format", "json").json
    configured("dosage = 12\n")
    assert run("drydown", "demo/morello.csv", "--format", "json").json == plain
    done = run("weigh", "demo/morello.csv", "--share", "50", "--finished-share", "3", "--format", "json")
    assert done.json["shares"]["dosage_percent"] == 6


def test_the_settings_in_effect_are_shown_with_their_origin(configured):
    file = configured('market = "eu"\n')
    rows = {row["setting"]: row for row in run("config", "--format", "json").json["rows"]}
    assert (rows["market"]["value"], rows["market"]["from"]) == ("eu", str(file))
    assert (rows["category"]["value"], rows["category"]["from"]) == ("4", "default")
    assert set(rows) == set(settings.SETTINGS)


@pytest.mark.parametrize(
    ("text", "way_out"),
    [
        ("colour = 1\n", '"colour" is no setting. The settings are dosage, category, market, balance'),
        ("market = \n", "it is no TOML"),
        ('market = "mars"\n', 'market cannot be "mars". It is one of any, eu, gb, standards'),
        ("dosage = true\n", "dosage is neither a text nor a number"),
        ("dosage = 200\n", 'dosage cannot be "200"'),
        ('category = "99"\n', 'category cannot be "99"'),
        ('balance = "much"\n', 'balance cannot be "much"'),
    ],
)
def test_a_setting_that_cannot_be_used_is_one_line_that_names_the_file(configured, text, way_out):
    file = configured(text)
    done = run("extend", "benzaldehyde")
    assert (done.status, done.out, done.err.count("\n")) == (2, "", 1)
    assert str(file) in done.err
    assert way_out in done.err


def test_the_settings_are_in_the_config_folder_unless_a_variable_names_a_file():
    assert settings.path({}).name == "config.toml"
    assert settings.path({"RECOMMENDER_CONFIG": "/somewhere/mine.toml"}) == Path("/somewhere/mine.toml")


# help


@pytest.mark.parametrize("words", [["extend"], ["trials", "next"], ["limits"], []])
def test_help_of_a_command_is_what_its_option_shows(words):
    assert run("help", *words).out == run(*words, "--help").out


def test_help_of_what_is_no_command_says_so():
    done = run("help", "extnd")
    assert done.status == 2
    assert "extend" in done.err


def test_the_version_has_a_short_option():
    assert run("-V").out == run("--version").out


@pytest.mark.parametrize("name", ["limits", "materials", "shelf", "trials"])
def test_the_commands_of_a_group_are_listed_in_its_help(name):
    listed = run(name, "--help").out.split("Commands:")[1]
    for command in cli.commands[name].commands:
        assert f"\n  {command} " in listed


@pytest.mark.parametrize("words", [["nose", "add"], ["materials", "add"], ["weigh"], ["trials", "add"]])
def test_an_example_is_one_line_that_can_be_pasted(words, monkeypatch):
    monkeypatch.setenv("COLUMNS", "60")
    (line,) = [line for line in run(*words, "--help").out.splitlines() if "Example: " in line]
    typed = shlex.split(line.split("Example: ")[1])
    assert typed[: 1 + len(words)] == ["recommender", *words]


# what is typed


@pytest.mark.parametrize(
    "words",
    [
        ["extend", "benzaldehyde", "--into", "Base", "--top", "1"],
        ["check", "demo/morello.csv", "--dosage", "1", "--market", "EU"],
        ["replace", "coumarin", "--because", "LAW", "--kind", "Natural", "--top", "1"],
        ["drydown", "demo/morello.csv", "--surface", "Skin", "--format", "JSON"],
    ],
)
def test_the_case_of_letters_does_not_matter_in_choices(words):
    assert run(*words).status in (0, 1)
    assert "is not one of" not in run(*words).err


def test_all_suggestions_are_shown_where_all_are_asked_for():
    found = run("replace", "coumarin", "--top", "ALL", "--format", "json").json
    assert len(found["suggestions"]) > 10


@pytest.mark.parametrize("wrong", ["0", "-3", "many", "1.5"])
def test_a_number_of_suggestions_is_one_or_more_or_all(wrong):
    done = run("replace", "coumarin", "--top", wrong)
    assert done.status == 2
    assert "a number from 1, or all" in done.err


def test_a_mixture_is_what_a_person_added_as_such(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    run("materials", "add", "house plum", "--smells", "plum 3, bitter almond 3", "--kind", "mixture")
    found = run("vary", "vanillin", "--toward", "plum", "--kind", "mixture", "--format", "json").json
    assert [s["name"] for s in found["suggestions"]] == ["house plum"]
    old = run("vary", "vanillin", "--toward", "plum", "--kind", "base", "--format", "json").json
    assert old["suggestions"] == found["suggestions"]


@pytest.mark.parametrize("word", ["sexy", "luxurious", "elegant"])
def test_a_word_that_is_near_nothing_is_answered_without_a_guess(word):
    done = run("vary", "vanillin", "--toward", word)
    assert done.status == 2
    assert "Did you mean" not in done.err


def test_a_material_in_place_of_a_formula_is_recognised():
    done = run("drydown", "benzaldehyde")
    assert (done.status, done.out) == (2, "")
    assert "is that a formula? there is no such file" in done.err
    assert "It is a material" in done.err
    assert "It is a material" not in run("drydown", "nothing of the kind").err


# figures


@pytest.mark.parametrize("hours", [0.0154, 0.43, 1.4951, 15.46, 15.55, 47.7, 47.96, 335.9, 620.4])
def test_a_figure_is_shown_in_the_same_words_before_and_after_it_is_rounded(hours):
    assert units.duration(hours) == units.duration(float(f"{hours:.3g}"))


@pytest.mark.parametrize(
    ("hours", "words"),
    [(47.96, "2 days"), (48, "2 days"), (47.4, "47 h"), (1.499, "1.5 h"), (335.9, "2 weeks")],
)
def test_what_reads_the_same_has_one_unit(hours, words):
    assert units.duration(hours) == words


def test_a_card_and_a_list_have_the_same_hours():
    shown = run("extend", "benzaldehyde", "--facet", "almond", "--top", "3").out
    for name in ("benzaldehyde glyceryl acetal", "piperonal"):
        card = run("material", name).out
        line = next(line for line in card.splitlines() if line.startswith("On a strip, neat: "))
        assert line.removeprefix("On a strip, neat: ").split(",")[0] in shown


def test_hours_are_written_out_in_the_head_of_a_drydown():
    assert "3 days" in run("drydown", "demo/morello.csv").out
    assert "3 d " not in run("drydown", "demo/morello.csv").out


# examples


def test_the_examples_are_found_wherever_the_program_is_called(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = run("drydown", "demo/morello.csv")
    assert done.status == 0
    assert "note: demo/morello.csv is an example that comes with the program.\n" in done.err
    assert run("drydown", "demo/nothing.csv").status == 2


def test_the_examples_are_copied_and_a_copy_is_then_read(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert run("demo", "demo").status == 0
    assert sorted(path.name for path in (tmp_path / "demo").iterdir()) == demo.names()
    assert "example" not in run("drydown", "demo/morello.csv").err
    again = run("demo", "demo")
    assert (again.status, again.out) == (2, "")
    assert "--force" in again.err
    assert run("demo", "demo", "--force").status == 0


def test_every_example_is_described():
    rows = run("demo", "--format", "json").json
    assert [row["file"] for row in rows] == [f"demo/{name}" for name in demo.names()]
    assert all(row["what"] for row in rows)


# notes and progress


def test_quiet_leaves_out_notes_and_nothing_else():
    loud, quiet = run("trim", "demo/morello.csv"), run("trim", "demo/morello.csv", "--quiet")
    assert (quiet.out, quiet.err) == (loud.out, "")
    assert loud.err
    assert run("-q", "trim", "demo/morello.csv").err == ""
    assert run("material", "coumarim", "--quiet").err.startswith("recommender: ")


def test_long_work_shows_how_long_it_has_been_going_on(monkeypatch, capsys):
    import time

    from recommender.cli import printing

    monkeypatch.setattr(printing, "FIRST_SHOWN_S", 0.0)
    monkeypatch.setattr(printing, "STEP_S", 0.01)
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    with printing.working("fitting"):
        time.sleep(0.1)
    shown = capsys.readouterr().err
    assert "fitting ... 0 s" in shown
    assert shown.endswith("\r\x1b[K")


def test_long_work_shows_how_much_of_it_is_done(monkeypatch, capsys):
    import time

    from recommender.cli import printing

    monkeypatch.setattr(printing, "FIRST_SHOWN_S", 0.0)
    monkeypatch.setattr(printing, "STEP_S", 0.01)
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    with printing.working("fitting") as progress:
        progress(0.42)
        time.sleep(0.1)
    assert "fitting ... 42 %, 0 s" in capsys.readouterr().err


def test_nothing_is_shown_of_long_work_in_a_pipe(capsys):
    from recommender.cli import printing

    with printing.working("fitting"):
        pass
    assert capsys.readouterr().err == ""


# completion


def completed(line, folder, shell="bash", **variables):
    """Return what a shell is offered at the end of a line."""
    words = line.split("|")
    asked = {
        "_RECOMMENDER_COMPLETE": f"{shell}_complete",
        "COMP_WORDS": "\n".join(words),
        "COMP_CWORD": str(len(words) - 1),
    }
    done = subprocess.run(
        [sys.executable, "-c", "from recommender.cli import main; main()"],
        env=os.environ | asked | {"RECOMMENDER_NOTEBOOK": str(folder / "notebook.sqlite")} | variables,
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    return [text.split(",", 1)[1] for text in done.stdout.splitlines()]


def test_a_shell_completes_smells_files_saved_formulas_and_names_with_blanks(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    run("formulas", "save", "demo/morello.csv")
    (tmp_path / "more.csv").write_text("material,parts\ncoumarin,1\n", encoding="utf-8")
    assert "almond" in completed("recommender|extend|benzaldehyde|--facet|alm", tmp_path)
    assert completed("recommender|drydown|mor", tmp_path) == ["morello", "more.csv"]
    assert completed("recommender|drydown|morello@", tmp_path) == ["morello@1"]
    assert completed("recommender|drydown|demo/mor", tmp_path) == [
        "demo/morello.csv",
        "demo/morello_mended.csv",
    ]
    found = completed("recommender|replace|lemon", tmp_path)
    assert {r"lemon\ oil", r"lemongrass\ oil"} <= set(found)
    quoted = completed('recommender|replace|"lemon', tmp_path)
    assert {"lemon oil", "lemongrass oil"} <= set(quoted)
    assert completed(r"recommender|replace|lemon\ o", tmp_path) == [r"lemon\ oil"]
    assert r"rose,\ vanilla" in completed(r"recommender|vary|coumarin|--toward|rose,\ vani", tmp_path)


def test_what_a_shell_would_read_otherwise_is_escaped():
    assert shlex.split(completion.escaped("3-(4'-x) $y & z")) == ["3-(4'-x) $y & z"]


def test_every_choice_ignores_the_case():
    def walked(command):
        yield command
        for inner in getattr(command, "commands", {}).values():
            yield from walked(inner)

    for command in walked(cli):
        for param in command.params:
            if isinstance(param.type, click.Choice):
                assert not param.type.case_sensitive, (command.name, param.name)


# slips


@pytest.mark.parametrize(
    ("words", "way_out"),
    {
        "a name without quotes": ("extend lavender oil", 'write "lavender oil" in quotes'),
        "an amount without quotes": ("weigh demo/morello.csv --batch 10 g", 'write "10 g" in quotes'),
        "a word after a listing": ("shelf list benz", "`recommender shelf list --help` shows the usage"),
        "a missing argument": ("compare demo/morello.csv", "Usage: recommender compare ONE OTHER"),
        "an hour without words": ("trials add morello --at 1h", "--at needs HOUR READINGS: How"),
        "a name for a number": ("shelf remove vanillin", "'vanillin' is not a valid number"),
        "a smell for a material": (
            "replace muguet",
            'is a smell (lily of the valley): `recommender materials "',
        ),
        "a smell of several facets": ("replace nut", "is a smell: `recommender materials"),
        "a material for a smell": ("materials coumarin", "is a material that smells of hay, tonka"),
    }.values(),
)
def test_a_slip_is_answered_with_what_was_meant(words, way_out):
    done = run(*words.split())
    assert (done.status, done.out) == (2, "")
    assert way_out in done.err
    assert done.err.count("\n") == 1


def test_a_misspelt_formula_is_looked_for_among_files_and_saved_ones(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    monkeypatch.chdir(tmp_path)
    run("formulas", "save", "demo/morello.csv")
    (tmp_path / "green_tea.csv").write_text("material,parts\ncoumarin,1\n", encoding="utf-8")
    assert "did you mean the formula green_tea.csv?" in run("extend", "green_tea").err
    assert "did you mean the formula morello?" in run("vary", "morelo", "--toward", "nut").err
    assert "Did you mean the formula green_tea.csv?" in run("drydown", "gren_tea.csv").err


def test_a_bottle_without_a_material_is_recognised_by_its_label(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    sheet = tmp_path / "bottles.csv"
    sheet.write_text("label,amount\nschool base,10 g\n", encoding="utf-8")
    run("shelf", "import", str(sheet))
    assert (
        '`recommender shelf resolve "school base" MATERIAL` defines it' in run("material", "School Base").err
    )


def test_the_amount_of_a_bottle_has_a_unit_where_one_is_typed(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    assert run("shelf", "add", "nerol", "--amount", "0,5 kg", "--price", "0,2").status == 0
    (bottle,) = run("shelf", "list", "--format", "json").json
    assert (bottle["amount_g"], bottle["price_per_g"]) == (500.0, 0.2)


def test_a_sentence_in_a_list_of_commands_is_whole(monkeypatch):
    monkeypatch.setenv("COLUMNS", "60")
    for words in ("", "shelf", "trials", "notebook"):
        assert "..." not in run("help", *words.split()).out.partition("Commands:")[2]


# readable figures and lists


@pytest.fixture
def bench(tmp_path, monkeypatch):
    """Return a folder with a notebook that has two bottles and a formula."""
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    monkeypatch.chdir(tmp_path)
    run("shelf", "add", "my violet", "--material", "alpha-ionone", "--amount", "50", "--price", "1")
    run("shelf", "add", "my hay", "--material", "coumarin", "--opened", "2019-01-01")
    accord = "material,parts\nalpha-ionone,0.97979797\ncoumarin,3\n"
    (tmp_path / "accord.csv").write_text(accord, encoding="utf-8")
    run("formulas", "save", "accord.csv")
    return tmp_path


def test_an_amount_that_leads_a_row_has_its_unit(bench, monkeypatch):
    monkeypatch.setenv("COLUMNS", "40")
    assert run("shelf", "cost", "accord").out.startswith("2.5 g  alpha-ionone\n")


def test_a_row_of_a_sheet_begins_with_its_line_and_label(bench, monkeypatch):
    (bench / "bottles.csv").write_text("label,amount\ncoumarin,10 g\n", encoding="utf-8")
    monkeypatch.setenv("COLUMNS", "40")
    assert run("shelf", "import", "bottles.csv", "--dry-run").out.startswith("2  coumarin\n")


def test_parts_are_shown_with_the_digits_that_count(bench):
    assert " 0.9798\n" in run("formulas", "show", "accord").out
    shown = run("formulas", "show", "accord", "--format", "json").json["lines"]
    assert shown[0]["parts"] == 0.97979797


def test_what_a_notebook_contains_is_in_the_words_of_its_owner(bench):
    lines = run("notebook", "where").out.splitlines()[1:]
    assert lines == ["  bottles: 2", "  labels of bottles: 2", "  formulas: 1", "  versions of formulas: 1"]


def test_a_shell_completes_commands_bottles_and_removed_entries(bench):
    run("shelf", "remove", "2")
    assert completed("recommender|help|sh", bench) == ["shelf"]
    assert completed("recommender|help|shelf|im", bench) == ["import"]
    assert completed("recommender|shelf|remove|", bench) == ["1"]
    assert completed("recommender|notebook|bring-back|", bench) == ["1"]
    assert completed("recommender|shelf|resolve|my", bench) == [r"my\ violet"]
