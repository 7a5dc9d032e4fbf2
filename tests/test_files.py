"""Files that cannot be opened: each verb says so in one line, whatever the reason."""

import os
from pathlib import Path

import pytest
from command_line import run

from recommender.errors import BadTable
from recommender.evidence.intake import file_at
from recommender.evidence.sheets import grid

LONG = "a" * 300 + ".csv"
"""Longer than a name may be on the file systems of today (255 bytes, NAME_MAX of POSIX)."""


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("accord.csv").write_text("material,parts\nlinalool,10\n", encoding="utf-8")
    Path("folder.csv").mkdir()
    Path("loop.csv").symlink_to("loop.csv")
    Path("one.csv").symlink_to("other.csv")
    Path("other.csv").symlink_to("one.csv")
    Path("nowhere.csv").symlink_to("never.csv")
    if hasattr(os, "mkfifo"):
        os.mkfifo("pipe.csv")


REFUSED = [
    ("loop.csv", "leads back to itself"),
    ("one.csv", "leads back to itself"),
    (LONG, "too long"),
    ("folder.csv", "this is a folder"),
    ("gone.csv", "no such file"),
    ("accord.csv/inner.csv", "no such file"),
    ("a\0b.csv", "no such file"),
    ("pipe.csv", "this is a pipe"),
    ("nowhere.csv", "the link leads to no file"),
]


@pytest.mark.parametrize(("name", "problem"), REFUSED, ids=lambda text: text[:20])
def test_a_file_that_cannot_be_opened_says_why(name, problem):
    with pytest.raises(BadTable, match=problem) as caught:
        grid(Path(name))
    assert caught.value.file == name


@pytest.mark.parametrize(
    ("kind", "problem"),
    [
        (PermissionError(13, "Permission denied"), "may not be read"),
        (OSError(5, "Input/output error"), "it cannot be read"),
    ],
)
def test_a_file_that_may_not_be_read_says_so(kind, problem, monkeypatch):
    def refuse(*_, **__):
        raise kind

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(BadTable, match=problem):
        file_at(Path("accord.csv"))


@pytest.mark.parametrize(
    "question",
    [
        *(["drydown"], ["trim"], ["compare", "accord.csv"], ["extend"], ["formulas", "save"], ["weigh"]),
        *(["replace", "linalool", "--in"], ["shelf", "import"], ["trials", "import"], ["limits", "import"]),
        *(["calibrate", "import"], ["materials", "import"], ["check", "--dosage", "10"], ["shelf", "cost"]),
    ],
    ids=" ".join,
)
@pytest.mark.parametrize(("name", "problem"), REFUSED, ids=lambda text: text[:20])
def test_every_verb_ends_in_one_line(question, name, problem):
    done = run(*question, name)
    assert (done.status, done.out) == (2, "")
    assert len(done.err.splitlines()) == 1
    assert problem in done.err or "it contains a null character" in done.err


@pytest.mark.parametrize("name", ["loop.csv", LONG, "folder.csv", "a\0b.csv"], ids=lambda text: text[:20])
def test_a_line_that_names_such_a_file_is_named(name):
    cell = name.replace("\0", "")
    Path("whole.csv").write_text(f"material,parts\nlinalool,1\n{cell},1\n", encoding="utf-8")
    done = run("drydown", "whole.csv")
    assert done.status == 2
    assert done.err.startswith("recommender: whole.csv, line 3, column material: ")


@pytest.mark.parametrize("name", ["loop", "a" * 300, "a\0b"], ids=lambda text: text[:20])
@pytest.mark.parametrize(
    ("question", "suffix"),
    [
        (["weigh", "accord.csv", "--out"], "csv"),
        (["weigh", "accord.csv", "--out"], "pdf"),
        (["drydown", "accord.csv", "--picture"], "svg"),
        (["notebook", "backup"], "sqlite"),
        (["notebook", "restore"], "sqlite"),
        (["notebook", "export"], "folder"),
        (["shelf", "list", "--notebook"], "sqlite"),
        (["nose", "blind", "vanillin", "--notebook"], "sqlite"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else value,
)
def test_what_cannot_be_written_ends_in_one_line(question, suffix, name):
    done = run(*question, f"{name}.{suffix}")
    assert done.status in (0, 1, 2)
    if name != "loop":
        assert done.status == 2
        assert len(done.err.splitlines()) == 1
