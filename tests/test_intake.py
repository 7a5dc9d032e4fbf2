"""The gate in front of the sheet reader: what is too much is refused while it is read."""

import io
import os
import zipfile

import bombs
import pytest

from recommender.errors import BadTable
from recommender.evidence import intake
from recommender.evidence.sheets import grid

SMALL = 0.05
"""Of the size of a bomb, enough to be over each limit."""


def refused(tmp_path, name, data):
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(BadTable) as caught:
        grid(path)
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.fixture(autouse=True)
def limits(monkeypatch):
    """Make the limits as small as the bombs."""
    for name in ("MOST_BYTES", "MOST_INFLATED", "MOST_TAGS", "MOST_PART_TAGS", "MOST_LINES", "MOST_CELLS"):
        monkeypatch.setattr(intake, name, int(getattr(intake, name) * SMALL))


WORKBOOKS, TEXTS = dict(bombs.workbooks(SMALL)), dict(bombs.texts(SMALL))


@pytest.mark.parametrize("name", WORKBOOKS)
def test_a_workbook_that_is_too_much_is_refused(name, tmp_path):
    said = refused(tmp_path, "bomb.xlsx", WORKBOOKS[name])
    assert any(word in said for word in ("more than", "too large", "too many", "this is not a workbook"))


@pytest.mark.parametrize("name", TEXTS)
def test_a_text_that_is_too_much_is_refused(name, tmp_path):
    said = refused(tmp_path, "bomb.csv", TEXTS[name])
    assert any(word in said for word in ("more than", "too large", "not a table"))


def test_a_quote_that_is_not_closed_is_named_with_the_line_where_it_opens(tmp_path, monkeypatch):
    monkeypatch.setattr(intake, "MOST_BYTES", 1_000_000)
    said = refused(tmp_path, "open.csv", b'material,parts\nlinalool,1\n"' + b"a,1\n" * 100_000)
    assert "open.csv, line 3: a cell has more than" in said


def test_what_a_workbook_states_of_its_size_is_not_believed(tmp_path):
    whole = bombs.workbook(bombs.sheet([bombs.HEAD, bombs.row("coumarin")]))
    with zipfile.ZipFile(io.BytesIO(whole)) as archive:
        size = archive.getinfo("xl/worksheets/sheet1.xml").file_size
    lies = whole.replace(size.to_bytes(4, "little"), (7).to_bytes(4, "little"))
    assert "this is not a workbook" in refused(tmp_path, "lies.xlsx", lies)


def test_a_workbook_within_the_limits_is_read_without_its_blank_lines(tmp_path):
    path = tmp_path / "sheet.xlsx"
    far = f'<row r="40">{bombs.cell("coumarin", "A40")}{bombs.cell("2", "B40")}</row>'
    path.write_bytes(bombs.workbook(bombs.sheet([bombs.HEAD, far], '<dimension ref="A1:XFD1048576"/>')))
    assert grid(path) == [(1, ["material", "parts"]), (40, ["coumarin", "2"])]


def test_lines_are_counted_while_they_are_read():
    read = []

    def lines():
        for number in range(1, 10**9):
            read.append(number)
            yield number, [""]

    with pytest.raises(BadTable, match="blank ones counted"):
        list(intake.counted("sheet.csv", lines()))
    assert len(read) == intake.MOST_LINES + 1


@pytest.mark.skipif(not os.path.exists("/dev/zero"), reason="devices are files on Unix")
@pytest.mark.parametrize(("name", "problem"), [("/dev/zero", "a device"), ("/dev/null", "a device")])
def test_a_device_is_no_sheet(name, problem, tmp_path):
    link = tmp_path / "link.csv"
    link.symlink_to(name)
    for path in (link, link.resolve()):
        with pytest.raises(BadTable, match=problem):
            intake.content(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes are files on Unix")
def test_a_file_that_has_become_a_pipe_is_neither_read_nor_waited_for(tmp_path, monkeypatch):
    pipe = tmp_path / "pipe.csv"
    os.mkfifo(pipe)
    monkeypatch.setattr(intake, "file_at", lambda path: path)
    with pytest.raises(BadTable, match="this is a pipe"):
        intake.content(pipe)
