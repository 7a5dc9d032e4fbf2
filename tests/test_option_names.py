"""An error names a field; the command line words it with its own option."""

import re

import click
import pytest
from command_line import run

from recommender.cli import cli
from recommender.cli.commands import Command, command, group, option, written_names
from recommender.errors import BadValue


def commands(found=cli, name="recommender"):
    if not isinstance(found, click.Group):
        yield name, found
    for inner, below in getattr(found, "commands", {}).items():
        yield from commands(below, f"{name} {inner}")


ALL = dict(commands())


@pytest.mark.parametrize("name", sorted(ALL))
def test_every_command_words_errors_with_its_options(name):
    assert isinstance(ALL[name], Command)
    found = written_names(ALL[name]).values()
    assert all(re.fullmatch(r"--[a-z0-9-]+|[A-Z_]+", written) for written in found)


def test_a_field_and_the_fields_in_the_way_out_are_written_as_options():
    @group()
    def tool():
        pass

    @tool.command()
    @option("--until", "until_hours")
    @option("--in", "within")
    def ask(until_hours, within):
        raise BadValue("until_hours", until_hours, "ask without {within}, or of {another}")

    with pytest.raises(BadValue) as caught:
        tool.main(["ask", "--until", "9h"], standalone_mode=False)
    assert str(caught.value) == '--until cannot be "9h": ask without --in, or of another'
    assert caught.value.field == "until_hours"


def test_a_command_by_itself_does_so_too():
    @command()
    @option("--top")
    def ask(top):
        raise BadValue("top", top, "more")

    with pytest.raises(BadValue, match="--top cannot be"):
        ask.main(["--top", "0"], standalone_mode=False)


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (["extend", "benzaldehyde", "--until", "30min"], '--until cannot be "0.5 h": benzaldehyde itself'),
        (
            ["extend", "benzaldehyde", "--relay"],
            "--relay: it needs a formula, as what is asked about or as --in",
        ),
        (["extend", "benzaldehyde", "--picture", "a.svg"], "--picture: it needs a formula"),
        (["replace", "coumarin", "--in", "data/demo/morello.csv", "--blend", "2"], "without --in"),
        (["strips", "coumarin"], 'MATERIAL cannot be "coumarin"'),
        (["formulas", "show", "nix"], 'formula cannot be "nix": no formula is saved'),
        (["extend", "benzaldehyde", "--category", "99"], '--category cannot be "99"'),
        (["vary", "vanillin", "--toward", ""], "for example --toward hazelnut"),
        (
            ["weigh", "data/demo/morello.csv", "--finished", "10g"],
            '--finished cannot be "10 g": it needs --d',
        ),
        (
            ["weigh", "data/demo/morello.csv", "--finished-share", "3", "--share", "9", "--dosage", "9"],
            '--finished-share cannot be "3 %": it follows from --share and --dosage',
        ),
        (["weigh", "data/demo/morello.csv", "--batch", "0.01g"], '--resolution cannot be "0.01 g"'),
        (
            ["nose", "add", "coumarin", "--smells", "hay 2", "--not", "hay"],
            '--not cannot be "hay": it is in --s',
        ),
        (["nose", "add", "coumarin", "--also"], "--also: give the facets to add with --smells"),
        (["shelf", "add", "x", "--material", "coumarin", "--dilution", "x"], "--dilution cannot be"),
        (["shelf", "import", "data/demo/shelf.xlsx", "--map", "colour=Label"], '--map cannot be "colour"'),
        (
            ["materials", "add", "m", "--smells", "rose 3", "--molar-mass", "-4"],
            "--molar-mass: -4 is out of range",
        ),
        (["calibrate", "add", "linalool", "--dilution", "x"], '--dilution cannot be "x"'),
        (["calibrate", "add", "linalool", "--day", "soon"], '--day cannot be "soon"'),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_what_goes_wrong_below_is_printed_with_the_option(arguments, line, tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    done = run(*arguments)
    assert done.status == 2
    assert line in done.err
