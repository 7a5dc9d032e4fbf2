"""Nothing is cropped: rows and lines at every width, and the pager."""

import os
import pty
import re
import select
import subprocess
import sys

import pytest
from command_line import run

from recommender.output import layout

MORELLO = "demo/morello.csv"
START = [sys.executable, "-c", "from recommender.cli import main; main()"]
ASKED = {
    "extend": ["extend", "benzaldehyde", "--facet", "almond"],
    "extend formula": ["extend", MORELLO, "--dosage", "15"],
    "relay": ["extend", MORELLO, "--relay", "--top", "2"],
    "replace": ["replace", "coumarin", "--explain", "--top", "2"],
    "vary": ["vary", "vanillin", "--toward", "chocolate"],
    "pair": ["pair", "lavender oil"],
    "drydown": ["drydown", MORELLO],
    "trim": ["trim", MORELLO],
    "strips": ["strips", "coumarin", "vanillin", "benzaldehyde"],
    "dose": ["dose", "benzaldehyde", "coumarin", "vanillin"],
    "compare": ["compare", MORELLO, "demo/bell_flower.csv"],
    "check": ["check", MORELLO, "--dosage", "15"],
    "weigh": ["weigh", MORELLO, "--dosage", "15"],
    "materials": ["materials", "bitter almond"],
    "material": ["material", "coumarin"],
    "facets": ["facets", "nut"],
    "limits": ["limits"],
    "limits of one": ["limits", "coumarin"],
    "limits to look up": ["limits", "--stale"],
    "config": ["config"],
    "shelf": ["shelf", "list"],
    "shelf import": ["shelf", "import", "demo/shelf.xlsx", "--dry-run"],
    "shelf cost": ["shelf", "cost", MORELLO],
    "formulas": ["formulas", "list"],
    "formulas show": ["formulas", "show", "morello"],
    "formulas diff": ["formulas", "diff", "morello", "demo/morello_mended.csv"],
    "trials": ["trials", "list"],
    "trials show": ["trials", "show", "1"],
    "trials next": ["trials", "next", "morello"],
    "calibrate list": ["calibrate", "list"],
    "calibrate show": ["calibrate", "show"],
    "limits import": ["limits", "import", "demo/own_limits.csv", "--dry-run"],
    "nose": ["nose", "list"],
    "removed": ["notebook", "removed"],
}


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """Return a notebook with something in every listing."""
    notebook = str(tmp_path_factory.mktemp("bench") / "notebook.sqlite")
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("RECOMMENDER_NOTEBOOK", notebook)
        for words in (
            ["shelf", "import", "demo/shelf.xlsx"],
            ["shelf", "remove", "1"],
            ["formulas", "save", MORELLO],
            ["trials", "import", "demo/readings.csv"],
            ["calibrate", "import", "demo/strips.csv"],
            ["nose", "add", "alpha-ionone", "--smells", "raspberry 3, hay 2", "--not", "violet"],
        ):
            assert run(*words).status == 0, words
    return notebook


@pytest.mark.parametrize("columns", [60, 80])
@pytest.mark.parametrize("asked", ASKED.values(), ids=ASKED)
def test_no_line_is_wider_than_the_screen(asked, columns, bench, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", bench)
    monkeypatch.setenv("COLUMNS", str(columns))
    done = run(*asked)
    assert done.status in (0, 1)
    assert done.out.strip()
    assert [line for line in done.out.splitlines() if len(line) > columns] == []


@pytest.mark.parametrize("columns", ["60", "80"])
def test_every_gram_and_every_name_is_there_at_any_width(columns, monkeypatch):
    asked = ["weigh", MORELLO, "--dosage", "15"]
    rows = run(*asked, "--format", "json").json["rows"]
    monkeypatch.setenv("COLUMNS", columns)
    shown = " ".join(run(*asked).out.split())
    for row in rows:
        assert f"{row['grams']:.2f} g" in shown
        assert row["name"] in shown


def test_a_table_that_does_not_fit_leads_with_the_amount(monkeypatch):
    monkeypatch.setenv("COLUMNS", "60")
    lines = run("weigh", MORELLO, "--dosage", "15").out.splitlines()
    assert any(re.match(r" *0\.24 g  benzaldehyde$", line) for line in lines)


def test_without_a_terminal_and_without_columns_a_row_is_one_line(monkeypatch):
    monkeypatch.delenv("COLUMNS", raising=False)
    out = run("materials", "bitter almond").out.splitlines()
    assert len(out) == 1 + len(run("materials", "bitter almond", "--format", "json").json)


ROWS = [
    ["0.5 g", "rose oxide", "leads"],
    ["12 g", "a very long name of a material", "is only there to blend"],
]
HEADS = ["weigh", "material", "what it does"]


def test_columns_that_may_wrap_share_the_width():
    lines = layout.table(ROWS, HEADS, [False, True, True], [True, False, False], 0, 40)
    assert max(map(len, lines)) <= 40
    assert lines[0].split() == ["weigh", "material", "what", "it", "does"]
    assert "".join(" ".join(lines).split()).count("blend") == 1


def test_nothing_is_lost_where_a_table_becomes_lines():
    lines = layout.table(ROWS, HEADS, [False, True, True], [True, False, False], 0, 30)
    words = " ".join(" ".join(lines).split())
    assert max(map(len, lines)) <= 30
    for row in ROWS:
        for cell in row:
            assert cell in words
    assert lines[0] == "0.5 g  rose oxide"


def test_a_table_of_no_bounded_width_has_a_line_for_each_row():
    assert layout.table(ROWS, HEADS, [False, True, True], [True, False, False], 0, None) == [
        "weigh  material                        what it does",
        "0.5 g  rose oxide                      leads",
        " 12 g  a very long name of a material  is only there to blend",
    ]


SCREEN = 44
"""Lines of an ordinary screen of 80 columns."""


@pytest.mark.parametrize(
    "asked", [["extend", "benzaldehyde"], ["extend", MORELLO], ["vary", "vanillin", "--toward", "pear"]]
)
def test_suggestions_are_a_screen_and_a_half_at_most(asked, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    assert run(*asked).out.count("\n") <= 1.5 * SCREEN


def test_a_table_has_five_suggestions_and_a_script_ten():
    asked = ["replace", "coumarin"]
    ranks = re.findall(r"^ ?(\d+)\. ", run(*asked).out, re.MULTILINE)
    assert ranks == ["1", "2", "3", "4", "5"]
    assert len(run(*asked, "--format", "json").json["suggestions"]) == 10
    assert run(*asked, "--top", "7").out.count("brings along") == 7


def test_general_cautions_are_shown_where_they_are_asked_for():
    asked = ["extend", "benzaldehyde", "--facet", "almond", "--top", "3"]
    general = "Melts near 37 C"
    assert general not in run(*asked).out
    assert general in run(*asked, "--explain").out
    assert any(
        general in text for s in run(*asked, "--format", "json").json["suggestions"] for text in s["cautions"]
    )


def test_a_caution_that_bounds_the_dose_is_always_shown():
    assert "sensitis" in run("replace", "cinnamic aldehyde", "--top", "10").out.lower()


def on_a_terminal(arguments, rows=24, columns=80, **variables):
    """Return what a command writes to a terminal of some size."""
    import fcntl
    import struct
    import termios

    first, second = pty.openpty()
    fcntl.ioctl(second, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
    plain = {key: value for key, value in os.environ.items() if key not in ("COLUMNS", "LINES", "PAGER")}
    with subprocess.Popen(
        [*START, *arguments],
        stdin=second,
        stdout=second,
        stderr=subprocess.DEVNULL,
        env=plain | {"TERM": "xterm"} | variables,
    ) as child:
        os.close(second)
        out = b""
        while select.select([first], [], [], 60)[0]:
            try:
                found = os.read(first, 65536)
            except OSError:
                break
            if not found:
                break
            out += found
        child.wait(timeout=60)
    os.close(first)
    return out.decode().replace("\r\n", "\n")


def test_a_long_answer_goes_through_the_pager_of_a_terminal(tmp_path):
    pager = tmp_path / "pager"
    pager.write_text("#!/bin/sh\nprintf 'paged\\n'\ncat\n", encoding="utf-8")
    pager.chmod(0o755)
    assert on_a_terminal(["facets"], PAGER=str(pager)).startswith("paged\n")
    assert not on_a_terminal(["facets", "hay"], PAGER=str(pager)).startswith("paged\n")
    assert "paged" not in on_a_terminal(["facets"], PAGER="cat")


def test_the_pager_is_off_in_a_pipe(monkeypatch):
    monkeypatch.setenv("PAGER", "false")
    assert run("facets").out.count("\n") > 100


def test_a_terminal_is_never_left_of_its_width():
    out = on_a_terminal(["extend", "benzaldehyde"], columns=60, PAGER="cat")
    assert max(map(layout.length, out.splitlines())) <= 60
    assert "\x1b[1m" in out
    assert "\x1b[1m" not in on_a_terminal(["extend", "benzaldehyde"], PAGER="cat", NO_COLOR="1")
