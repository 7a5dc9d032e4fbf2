import os
import shlex
import shutil
import signal
import subprocess
import sys
from importlib.metadata import entry_points
from importlib.util import find_spec
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from command_line import run

from recommender import cli as cli_module
from recommender.cli import SUMMARIES, cli, main
from recommender.formulas.formula import demo_files

GOLDEN = Path(__file__).parent / "golden"
START = [sys.executable, "-c", "from recommender.cli import main; main()"]
COMMANDS = sorted(cli.commands)


def walked(group: click.Group, words: tuple[str, ...] = ()) -> dict[str, click.Command]:
    """Return every command below a group, by the words that call it."""
    found = {}
    for name, command in group.commands.items():
        found[" ".join((*words, name))] = command
        if isinstance(command, click.Group):
            found |= walked(command, (*words, name))
    return found


ALL = walked(cli)
LISTINGS = ("materials list", "limits list")
"""What a group does where none of its commands is named."""
SINGLE = sorted(name for name, command in ALL.items() if not isinstance(command, click.Group))
SINGLE.remove("serve")  # it goes on until it is ended: tests/browser opens it


def example(name: str) -> list[str]:
    epilog = ALL[name].epilog or ""
    words = shlex.split(epilog.removeprefix("Example: recommender "))
    return words[: words.index(">")] if ">" in words else words


def process(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([*START, *arguments], capture_output=True, text=True, timeout=60, check=False)


@pytest.mark.parametrize(
    "name", ["extend", "replace", "vary", "pair", "materials", "material", "facets", "similarities"]
)
def test_the_commands_that_scripts_rely_on_are_there(name):
    assert run(name, "--help").status == 0


def test_the_list_of_commands_says_what_the_help_of_each_says():
    assert {path.stem for path in Path(cli_module.__file__).parent.glob("*.py")} >= set(SUMMARIES)
    for name, summary in SUMMARIES.items():
        assert " ".join((ALL[name].help or "").split("\n\n")[0].split()) == summary, name
    listed = click.Group(commands=dict(cli.commands))
    with click.Context(listed, info_name="recommender") as context:
        as_by_click = listed.get_help(context).split("Commands:")[1]
    assert as_by_click.strip() in run("--help").out


@pytest.mark.parametrize("name", sorted(ALL))
def test_a_command_has_a_help_text_that_ends_in_an_example(name):
    example = f"Example: recommender {name.removesuffix(' list') if name in LISTINGS else name}"
    assert ALL[name].help
    assert (ALL[name].epilog or "").startswith(example)
    shown = CliRunner().invoke(cli, [*name.split(), "--help"])
    assert shown.exit_code == 0
    assert example in shown.output


@pytest.mark.parametrize("name", sorted(ALL))
def test_every_option_of_a_command_is_explained(name):
    options = [p for p in ALL[name].params if p.param_type_name == "option"]
    assert [p.name for p in options if not p.help] == []


@pytest.fixture
def studio(tmp_path, monkeypatch):
    """Stand in an empty folder, with a notebook that every example finds something in."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", "notebook.sqlite")
    for words in (
        ["shelf", "import", "demo/shelf.xlsx"],
        ["formulas", "save", "demo/morello.csv"],
        ["trials", "import", "demo/readings.csv"],
        ["calibrate", "import", "demo/strips.csv"],
        ["nose", "add", "alpha-ionone", "--smells", "raspberry 3"],
        ["materials", "add", "rose lactone X", "--smells", "rose 3"],
        ["limits", "import", "demo/own_limits.csv"],
        ["notebook", "export", "my-notebook"],
        ["shelf", "remove", "1"],
    ):
        assert run(*words).status == 0, words
    Path("formulas").mkdir()
    for path in demo_files():
        shutil.copy(path, "formulas")
    if find_spec("pyarrow"):
        assert run("archive", "import", "formulas", "--store", "house").status == 0
    copy = "notebook-copy.sqlite"
    assert run("notebook", "backup", copy).status == 0
    return Path(copy)


@pytest.mark.parametrize("name", SINGLE)
def test_the_example_of_a_command_runs(name, studio):
    if name.startswith("archive"):
        pytest.importorskip("pyarrow")
    if name == "notebook backup":
        studio.unlink()
    elif name == "notebook export":
        shutil.rmtree("my-notebook")
    elif name == "trials triangle":  # with two versions there is a sheet, with its numbers
        more = (
            Path("formulas/morello.csv")
            .read_text(encoding="utf-8")
            .replace("benzaldehyde,18", "benzaldehyde,20")
        )
        Path("morello.csv").write_text(more, encoding="utf-8")
        assert run("formulas", "save", "morello.csv").status == 0
    result = CliRunner().invoke(cli, example(name), standalone_mode=False)
    assert result.exception is None
    assert result.return_value in ((0, 1) if name.endswith("check") else (0, None))
    assert result.stdout.strip()


def test_the_entry_point_is_main():
    (found,) = entry_points(group="console_scripts", name="recommender")
    assert found.load() is main


@pytest.mark.parametrize("name", ["extend", "material", "facets"])
def test_the_example_runs_as_a_process_of_its_own(name):
    done = process(*example(name))
    assert done.returncode == 0
    assert done.stdout.strip()
    assert "Traceback" not in done.stderr


def test_a_wrong_use_ends_a_process_with_status_2_and_one_line():
    done = process("material", "coumarim")
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert "coumarin," in done.stderr


def test_a_reader_that_leaves_early_gets_no_traceback():
    with subprocess.Popen(
        [*START, "similarities", "--format", "csv"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as child:
        assert child.stdout is not None
        assert child.stderr is not None
        assert child.stdout.readline() == "cas_a,cas_b,similarity\n"
        child.stdout.close()
        assert child.stderr.read() == ""
        assert child.wait(timeout=60) in (0, -signal.SIGPIPE)


def test_no_arguments_show_the_help_and_count_as_wrong_use():
    done = run()
    assert done.status == 2
    assert "extend" in done.err
    assert done.out == ""


def test_the_version_is_printed():
    done = run("--version")
    assert done.status == 0
    assert "0.1.0" in done.out


WRONG_USES = {
    "unknown material": (["extend", "coumarim"], "coumarin,"),
    "unknown material without a near one": (["material", "zzzzqq"], "recommender materials"),
    "empty material": (["material", ""], 'called ""'),
    "unknown facet": (["extend", "benzaldehyde", "--facet", "almnd"], "almond,"),
    "unknown facet in a listing": (["materials", "vanila"], "vanilla"),
    "unknown facet of facets": (["facets", "zzzz"], "recommender facets"),
    "unknown word to avoid": (["extend", "benzaldehyde", "--avoid", "zzzz"], "recommender facets"),
    "unknown material in why-not": (["extend", "benzaldehyde", "--why-not", "coumarim"], "coumarin,"),
    "wrong check digit": (["material", "91-64-6"], "check digit would be 5"),
    "no time": (["extend", "benzaldehyde", "--until", "abc"], "write 30min, 8h or 3d"),
    "no time at all": (["extend", "benzaldehyde", "--until", "0h"], "write 30min, 8h or 3d"),
    "a time that is not a number": (["extend", "benzaldehyde", "--until", "nan"], "write 30min, 8h or 3d"),
    "more than ten years": (["extend", "benzaldehyde", "--until", "3651d"], "write 30min, 8h or 3d"),
    "an hour at which it is still there": (
        ["extend", "benzaldehyde", "--until", "30min"],
        "benzaldehyde itself is still there",
    ),
    "no such position": (["extend", "benzaldehyde", "--into", "middle"], "'heart', 'base'"),
    "none wanted": (["extend", "benzaldehyde", "--top", "0"], "--top"),
    "no such kind": (["extend", "benzaldehyde", "--kind", "gas"], "'molecule', 'natural', 'mixture'"),
    "no such market": (["materials", "--market", "mars"], "'any', 'eu', 'gb', 'standards'"),
    "no such format": (["facets", "--format", "xml"], "'table', 'json', 'csv'"),
    "missing argument": (["extend"], "MATERIAL"),
    "missing option": (["vary", "vanillin"], "--toward"),
    "empty direction": (["vary", "vanillin", "--toward", ""], "--toward"),
    "one argument too many": (["material", "coumarin", "vanillin"], "vanillin"),
    "unknown option": (["material", "coumarin", "--wrong"], "--wrong"),
    "unknown command": (["extnd", "benzaldehyde"], "extend"),
    "a line break in a name": (["material", "coum\narim"], "coumarin"),
    "a line break in a phrase": (["materials", "zz\nqq"], "recommender facets"),
}


@pytest.mark.parametrize(("arguments", "message"), WRONG_USES.values(), ids=WRONG_USES)
def test_a_wrong_use_is_one_line_that_says_the_way_out(arguments, message):
    done = run(*arguments)
    assert done.status == 2
    assert done.out == ""
    assert done.err.startswith("recommender: ")
    assert done.err.count("\n") == 1
    assert message in done.err


@pytest.mark.parametrize(
    ("written", "hours"),
    [("30min", 0.5), ("90m", 1.5), ("8h", 8), ("8", 8), ("3d", 72), ("1.5d", 36), ("1,5 d", 36), ("1w", 168)],
)
def test_a_time_is_read_as_hours(written, hours):
    # diacetyl is gone within a few minutes, so that every hour here is later
    done = run("extend", "diacetyl", "--facet", "butter", "--until", written, "--format", "json")
    assert done.json["query"]["until_hours"] == hours


@pytest.mark.parametrize(
    ("arguments", "note"),
    [
        (
            ["extend", "coumarin", "--facet", "rose", "--top", "2"],
            "note: coumarin itself is not known to smell of rose.\n",
        ),
        (
            # Regulation (EC) No 1223/2009, Annex II, entry 427
            ["extend", "dihydrocoumarin", "--facet", "hay"],
            "note: PROHIBITED: dihydrocoumarin, by European law and British law."
            " See `recommender material`.\n",
        ),
    ],
)
def test_cautions_about_the_asked_material_are_notes_of_the_answer(arguments, note):
    done = run(*arguments)
    # what is worn on skin ends with the law and a qualified person
    ends = "note: Check the current Standards and your local law; a qualified person signs off.\n"
    assert (done.status, done.err) == (0, note + ends)
    assert "PROHIBITED" not in done.out


# The goldens are whole outputs, read by a person before they are kept. After a wanted change of words or
# figures write them anew and read the difference:
#     REFRESH_GOLDEN=1 python -m pytest tests/test_cli.py -k golden
@pytest.mark.parametrize(
    ("file", "arguments"),
    [
        (
            "extend_benzaldehyde.txt",
            ["extend", "benzaldehyde", "--facet", "almond", "--until", "24h", "--top", "3"],
        ),
        ("material_coumarin.txt", ["material", "coumarin"]),
    ],
)
def test_golden_output_is_unchanged(file, arguments):
    done = run(*arguments)
    assert done.status == 0
    if os.environ.get("REFRESH_GOLDEN") == "1":
        (GOLDEN / file).write_text(done.out, encoding="utf-8")
    assert done.out == (GOLDEN / file).read_text(encoding="utf-8")
