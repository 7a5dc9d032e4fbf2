"""Output in an encoding that lacks letters: every command answers, in plainer characters."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

import recommender
from recommender.cli.streams import BARS, plainer
from recommender.output.formulas import BARS as DRAWN

ROOT = str(Path(recommender.__file__).resolve().parents[1])
START = [sys.executable, "-c", "from recommender.cli import main; main()"]
PAGES = ["cp1252", "cp437", "koi8-r"]
"""Code pages that a terminal of Windows or an old one of Unix writes in."""


def asked(encoding, *question, cwd=None):
    environment = {**os.environ, "PYTHONIOENCODING": encoding, "PYTHONPATH": ROOT}
    done = subprocess.run(
        [*START, *question], capture_output=True, env=environment, timeout=120, check=False, cwd=cwd
    )
    return done.returncode, done.stdout.decode(encoding.split(":")[0]), done.stderr.decode("utf-8", "replace")


@pytest.fixture
def accord(tmp_path):
    (tmp_path / "ラベンダー é.csv").write_text("material,parts\nlinalool,10\ncoumarin,3\n", encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize("encoding", PAGES)
def test_an_encoding_without_bars_gets_plainer_ones(encoding, accord):
    status, out, err = asked(encoding, "drydown", "ラベンダー é.csv", cwd=accord)
    assert status == 0
    assert "????? " in out.splitlines()[0]
    assert f'{encoding}, the encoding of the output, lacks 5 characters, shown as "?"' in err


def test_what_the_encoding_has_stays_as_it_is(accord):
    _, out, _ = asked("utf-8", "drydown", "ラベンダー é.csv", cwd=accord)
    assert out.startswith("ラベンダー é on a strip")
    assert any(bar in out for bar in BARS)
    assert asked("cp1252", "drydown", "ラベンダー é.csv", cwd=accord)[1].startswith("????? é on")


def test_a_handler_that_was_asked_for_is_used(accord):
    _, out, _ = asked("cp1252:namereplace", "drydown", "ラベンダー é.csv", cwd=accord)
    assert "\\N{KATAKANA LETTER RA}" in out


def test_an_error_in_such_an_encoding_is_one_line(accord):
    status, _, err = asked("cp1252", "drydown", "ラ.csv", cwd=accord)
    assert status == 2
    assert len(err.splitlines()) == 1


def test_a_name_that_is_no_text_is_shown_and_does_no_harm(accord):
    (accord / "accord.csv").write_text("material,parts\nlinalool,10\n", encoding="utf-8")
    odd = os.fsdecode(b"\xff.csv")
    try:
        (accord / "accord.csv").rename(accord / odd)
    except OSError:
        pytest.skip("this file system takes no such name")
    status, out, _ = asked("utf-8", "drydown", odd, cwd=accord)
    assert status == 0
    assert out.startswith("? on a strip")


def test_every_bar_that_is_drawn_has_a_plainer_one():
    assert set(DRAWN.strip()) == set(BARS)
    assert [plainer(bar) for bar in DRAWN.strip()] == list(".:-=+*%#")
