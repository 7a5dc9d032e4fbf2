"""A fault of the program ends in one line that names the report; what is no fault is left alone."""

import re
import subprocess
import sys
from pathlib import Path

import click
import pytest
from command_line import run

import recommender
from recommender.cli import drydown, fault


@pytest.fixture
def state(tmp_path, monkeypatch):
    """Return the folder that reports go to."""
    monkeypatch.setattr(fault, "_folders", lambda: iter([tmp_path / "state"]))
    return tmp_path / "state"


def broken(error):
    def verb(*_, **__):
        raise error

    return verb


@pytest.mark.parametrize(
    "error",
    [
        ZeroDivisionError("division by zero"),
        AssertionError("it\ncannot\x1b[2J be"),
        RecursionError(),
        MemoryError(),
        OSError(5, "Input/output error"),
        UnicodeEncodeError("utf-8", "\udcff", 0, 1, "surrogates not allowed"),
    ],
    ids=lambda error: type(error).__name__,
)
def test_a_fault_is_one_line_with_verb_class_and_report(error, state, monkeypatch):
    monkeypatch.setattr(drydown.drydown, "callback", broken(error))
    done = run("drydown", "accord.csv", fault=True)
    assert (done.status, done.out) == (2, "")
    assert len(done.err.splitlines()) == 1
    assert done.err.startswith(
        f"recommender: drydown failed with {type(error).__name__}, a fault of the program"
    )
    report = Path(re.search(r"attach (.*)$", done.err)[1])
    assert report.parent == state
    text = report.read_text(encoding="utf-8")
    assert "Traceback (most recent call last)" in text
    assert "accord.csv" in text
    assert type(error).__name__ in text


def test_the_report_goes_to_the_folder_for_temporary_files_where_the_first_takes_nothing(
    tmp_path, monkeypatch
):
    (tmp_path / "closed").write_text("a file where the folder would be", encoding="utf-8")
    folders = [tmp_path / "closed" / "state", tmp_path / "temporary"]
    monkeypatch.setattr(fault, "_folders", lambda: iter(folders))
    monkeypatch.setattr(drydown.drydown, "callback", broken(KeyError("x")))
    assert str(folders[1]) in run("drydown", "accord.csv", fault=True).err
    assert len(list(folders[1].iterdir())) == 1


def test_where_the_report_cannot_be_written_the_line_says_so(tmp_path, monkeypatch):
    (tmp_path / "closed").write_text("", encoding="utf-8")
    monkeypatch.setattr(fault, "_folders", lambda: iter([tmp_path / "closed" / "state"]))
    monkeypatch.setattr(drydown.drydown, "callback", broken(KeyError("the key")))
    done = run("drydown", "accord.csv", fault=True)
    assert done.status == 2
    assert len(done.err.splitlines()) == 1
    assert "the report could not be written" in done.err
    assert "the key" in done.err


def test_the_folders_are_the_persons_own_and_the_one_for_temporary_files():
    first, second = fault._folders()
    assert first.name == "recommender"
    assert second.is_dir()


@pytest.mark.parametrize(
    "error", [KeyboardInterrupt(), click.Abort()], ids=lambda error: type(error).__name__
)
def test_an_interruption_is_no_fault(error, state, monkeypatch):
    monkeypatch.setattr(drydown.drydown, "callback", broken(error))
    done = run("drydown", "accord.csv", fault=True)
    assert (done.status, "fault" in done.err, state.exists()) == (130, False, False)


def test_a_wrong_use_is_no_fault(state):
    assert run("drydown").status == 2
    assert run("nonsense").status == 2
    assert run("drydown", "gone.csv").status == 2
    assert not state.exists()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_under_the_output_is_no_fault_of_the_program():
    root = str(Path(recommender.__file__).resolve().parents[1])
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [sys.executable, "-c", "from recommender.cli import main; main()", "facets"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            cwd=root,
            timeout=60,
            check=False,
        )
    assert done.returncode == 2
    assert done.stderr == "recommender: the output cannot be written: No space left on device\n"
