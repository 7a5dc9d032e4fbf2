"""Files of unknown origin on the page, accords in accords, and views that nobody looks at."""

import asyncio
import time

import bombs
import pytest

pytest.importorskip("nicegui")

from recommender.errors import BadNotebook, BadTable, BadValue
from recommender.evidence import intake
from recommender.formulas import formula as formulas
from recommender.web.server import memory
from recommender.web.server import session as sessions
from recommender.web.server.memory import WaitingViews
from recommender.web.server.session import PageSession


@pytest.fixture
def session(tmp_path):
    found = PageSession(tmp_path / "notebook.sqlite")
    yield found
    found.jobs.end()


def test_an_upload_is_read_by_another_process_and_refused_in_one_line(session):
    async def whole():
        draft, notes = await session.upload("mine.csv", b"material,parts,colour\nlinalool,3,red\n")
        assert [line["material"] for line in draft.lines] == ["linalool"]
        assert notes == ["mine.csv: columns that are not used: colour."]
        columns, rows = await session.upload_bottles("shelf.csv", b"label,cas\nblue,91-64-5\n")
        assert (list(columns.places), rows[0].bottle.material) == (["label", "cas"], "coumarin")
        assert session.workspace.shelf.stock().bottles == ()  # nothing is stored before it was looked at
        columns, rows = await session.upload_bottles("s.csv", b"odd,cas\nblue,91-64-5\n", {"label": "odd"})
        assert (columns.places["label"], rows[0].bottle.label) == (0, "blue")
        wide = bombs.workbook(bombs.sheet([bombs.HEAD, '<row r="1048576"/>']))
        with pytest.raises(BadTable, match="blank ones counted") as refused:
            await session.upload("../../bomb.xlsx", wide)
        assert refused.value.file == "bomb.xlsx"
        with pytest.raises(BadTable, match="16 MB"):
            await session.upload("long.csv", b"a" * (intake.MOST_BYTES + 1))
        assert session.names() == ["mine"]

    asyncio.run(whole())


def test_reading_that_takes_too_long_is_ended_and_the_next_file_is_read(session, monkeypatch):
    async def whole():
        with monkeypatch.context() as patched:
            patched.setattr(sessions, "LONGEST_READING_S", 0.2)
            patched.setattr("recommender.web.server.jobs.answer", _sleep)
            with pytest.raises(BadTable, match="reading it took more than"):
                await session.upload("slow.csv", b"material,parts\nlinalool,3\n")
        assert (await session.upload("next.csv", b"material,parts\nlinalool,3\n"))[0].name == "next"

    asyncio.run(whole())


def _sleep(job):
    time.sleep(600)


def test_a_formula_that_is_too_long_for_the_page_is_refused(session):
    with pytest.raises(BadValue, match="301 lines are too many for the page"):
        session.create("long", [{"material": "linalool", "parts": "1"}] * 301)


def accord(*names):
    return [{"material": name, "parts": str(n)} for n, name in enumerate(names, 1)]


def test_accords_in_accords_are_read_once(session, monkeypatch):
    deep = 12
    session.create("f0", accord("linalool", "coumarin"))
    for number in range(1, deep):
        session.create(f"f{number}", accord(f"f{number - 1}.csv", f"f{number - 1}.csv"))
    asked = []
    find = PageSession.find
    monkeypatch.setattr(PageSession, "find", lambda self, name: asked.append(name) or find(self, name))
    read = session.read(session.find(f"f{deep - 1}"))
    assert len(asked) == deep
    assert formulas.size(read.formula) == 2**deep
    assert read.problems == {}


def test_a_circle_of_formulas_on_the_page_is_named_in_the_line_that_leads_to_it(session):
    session.create("one", accord("two.csv", "linalool"))
    session.create("two", accord("three.csv"))
    session.create("three", accord("Two.csv"))
    read = session.read(session.find("one"))
    (problem,) = read.problems.values()
    assert problem.text == "The formula contains itself: two > three > two. Take the line out."
    assert read.formula is not None


def test_accords_on_the_page_are_as_deep_and_as_long_as_in_files(session):
    session.create("f0", accord("linalool"))
    for number in range(1, formulas.DEEPEST + 2):
        session.create(f"f{number}", accord(f"f{number - 1}.csv"))
    assert session.read(session.find(f"f{formulas.DEEPEST}")).problems == {}
    (problem,) = session.read(session.find(f"f{formulas.DEEPEST + 1}")).problems.values()
    assert problem.text.startswith("Accords stand in one another more than 20 deep")
    session.create("wide0", accord(*["linalool"] * 300))
    session.create("wide1", accord(*["wide0.csv"] * 26))
    session.create("wide2", accord(*["wide0.csv"] * 27))
    assert session.read(session.find("wide1")).problems == {}
    (problem,) = session.read(session.find("wide2")).problems.values()
    assert problem.text.startswith("More than 8000 lines with the accords inside are too many")


def test_a_change_to_a_notebook_that_has_gone_is_not_lost_in_silence(session):
    draft = session.create("posy", accord("linalool"))
    session.path.unlink()
    with pytest.raises(BadNotebook, match="this change is not stored"):
        session.set_field(draft, "dosage", "3")
    assert not session.path.exists()


class View:
    """A view whose browser may open its socket, as the page's library has it."""

    def __init__(self, name):
        self.id, self.connected, self.deleted, self.handlers = name, None, None, []

    def on_connect(self, handler):
        self.connected = handler

    def on_delete(self, handler):
        self.deleted = handler

    def delete(self):
        self.handlers.append("deleted")
        self.deleted()


def test_few_views_wait_for_their_browser(monkeypatch):
    monkeypatch.setattr(memory, "MOST_WAITING", 2)
    waiting, views = WaitingViews(), [View(str(n)) for n in range(4)]
    waiting.add(views[0])
    views[0].connected()  # a person looks at it
    for view in views[1:]:
        waiting.add(view)
    assert [view.handlers for view in views] == [[], ["deleted"], [], []]
    assert len(waiting) == 2
    views[3].delete()
    assert len(waiting) == 1
    waiting.give_back()
