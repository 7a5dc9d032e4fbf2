"""Files of unknown origin on the page, accords in accords, and views that nobody looks at."""

import asyncio
import time

import bombs
import pytest

pytest.importorskip("nicegui")

from recommender.errors import BadNotebook, BadTable, BadValue
from recommender.evidence import intake
from recommender.formulas import formula as formulas
from recommender.web.server import line_edits, memory
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
        assert [name for _, name in session.listed()] == ["mine"]

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


def test_an_accord_is_found_by_its_name_on_the_page_else_as_it_was_saved(session):
    draft = session.create("Rain on stone", accord("linalool", "coumarin"))
    session.save_version(session.read(draft).formula)
    session.change(draft.id, line_edits.set_cell("1", "parts", "1", "7"))
    session.save_version(session.read(session.get(draft.id)).formula)
    outer = session.create("outer", accord("rain on stone", "Rain on stone@1", "Rain on stone@9", "nonsuch"))

    def first_parts():
        read = session.read(outer)
        return {n: line.content.lines[0].parts for n, line in read.found.items()}, read.problems

    parts, problems = first_parts()
    assert parts == {"1": 7.0, "2": 1.0}
    assert problems["3"].text.startswith("It has versions 1 to 2")
    assert problems["4"].text.startswith("No material is called")
    session.change(draft.id, line_edits.set_cell("1", "parts", "7", "8"))
    assert first_parts()[0]["1"] == 8.0
    session.remove(draft)
    assert first_parts()[0] == {"1": 7.0, "2": 1.0}


def test_a_version_with_an_accord_is_opened_with_the_version_that_it_had_and_saved_as_it_was(session):
    inner = session.create("stone", accord("linalool", "coumarin"))
    outer = session.create("outer", accord("stone", "eugenol"))
    first = session.save_version(session.read(outer).formula)
    session.change(inner.id, line_edits.set_cell("1", "parts", "1", "7"))
    session.save_version(session.read(outer).formula)
    opened = session.open_version(first)
    assert opened.id == outer.id
    assert [line["material"] for line in opened.lines] == ["stone@1", "eugenol"]
    assert session.save_version(session.read(opened).formula).number == 3
    assert [v.title for v in session.workspace.formulas.versions("stone")] == ["stone@1", "stone@2"]


def test_opening_makes_no_copies_and_can_be_undone(session, tmp_path):
    draft = session.open_example(session.demo["morello"])
    first = session.save_version(session.read(draft).formula)
    changed = session.change(draft.id, line_edits.set_cell("1", "parts", draft.lines[0]["parts"], "77"))
    assert session.open_example(session.demo["morello"]).lines == changed.lines
    assert session.open_version(first).id == draft.id
    again = session.open_version(first)
    assert again.back == "opened morello@1"
    assert session.step(again, -1).lines == changed.lines
    file = "mine.csv", b"material,parts\nlinalool,3\n"
    assert session.import_file(*file).id == session.import_file(*file).id
    assert session.import_file("mine.csv", b"material,parts\nlinalool,4\n").name == "mine 2"
    assert session.open_empty().id == session.open_empty().id
    assert sorted(name for _, name in session.listed()) == ["mine", "mine 2", "morello", "untitled"]


def test_an_address_means_a_number_first_and_a_name_with_any_sign(session):
    one, two = session.create("a/b", accord("linalool")), session.create("1", accord("eugenol"))
    assert session.at(str(one.id)).name == "a/b"
    assert session.at("a/b").id == one.id
    assert session.at(str(two.id)).name == "1"
    assert session.at("\N{SUPERSCRIPT TWO}") is None
    assert session.at("99999999999999999999999") is None


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


def test_an_accord_is_made_of_lines_and_dissolved_again(session):
    draft = session.create("outer", accord("linalool", "coumarin", "eugenol"))
    with pytest.raises(BadValue, match="name of a material"):
        session.group(draft.id, ["1", "2"], "vanillin")
    grouped = session.group(draft.id, ["1", "2"], "hay loft")
    assert [(line["material"], line["parts"]) for line in grouped.lines] == [
        ("hay loft", "3"),
        ("eugenol", "3"),
    ]
    whole = session.read(draft).formula
    assert formulas.amounts(session.read(grouped).formula) == formulas.amounts(whole)
    assert [line["material"] for line in session.find("hay loft").lines] == ["linalool", "coumarin"]
    with pytest.raises(BadValue, match="another formula is called so"):
        session.group(draft.id, [grouped.lines[1]["id"]], "Hay loft")
    back = session.dissolve(draft.id, grouped.lines[0]["id"])
    assert [line["material"] for line in back.lines] == ["linalool", "coumarin", "eugenol"]
    assert session.open_accord("hay loft.csv").id == session.find("hay loft").id
    undone = session.step(session.step(back, -1), -1)
    assert undone.lines == draft.lines


def test_a_formula_that_was_taken_off_the_page_comes_back(session):
    draft = session.create("posy", accord("linalool"))
    number = session.remove(draft)
    assert session.listed() == []
    session.workspace.removed.bring_back(number)
    assert session.get(draft.id).lines == draft.lines
