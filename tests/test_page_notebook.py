"""The notebook as files for a browser, and the views on it: copies, what was removed, all formulas."""

import asyncio
import io
import zipfile

import pytest

pytest.importorskip("nicegui")

from test_page_views import POSY, button, field, on, press, texts, until

from recommender.errors import BadNotebook, BadTable
from recommender.evidence.intake import MOST_BYTES
from recommender.notebook.csv_folder import digest
from recommender.notebook.store import reading
from recommender.web.pages.formulas_page import matching
from recommender.web.pages.notebook_page import CONTENTS, contents
from recommender.web.server import notebook_files, open_formulas
from recommender.web.server.session import PageSession


@pytest.fixture
def session(tmp_path):
    return PageSession(tmp_path / "notebook.sqlite")


def state(session):
    with reading(session.path) as db:
        return digest(db)


def zipped(files):
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return made.getvalue()


def test_a_copy_and_the_tables_bring_everything_back(session):
    session.create("posy", POSY)
    session.workspace.shelf.add("coumarin")
    before = state(session)
    copy, tables = notebook_files.copy_of(session.path), notebook_files.archive_of(session.path)
    assert "drafts.csv" in zipfile.ZipFile(io.BytesIO(tables)).namelist()
    session.create("other", POSY)
    changed = state(session)
    aside = notebook_files.restore(session.path, "mine.sqlite", copy)
    assert state(session) == before
    with reading(aside) as db:
        assert digest(db) == changed
    session.create("other", POSY)
    rows, aside, notes = notebook_files.import_archive(session.path, "mine.zip", tables)
    assert (state(session), notes) == (before, [])
    assert rows == 3  # a formula with its first step, and a bottle
    assert aside.name.startswith("notebook.before-import-")


def test_archives_from_elsewhere_change_nothing(session, monkeypatch):
    session.create("posy", POSY)
    before = state(session)
    for content, problem in (
        (b"no archive", "this is not a ZIP archive"),
        (zipped({"about.csv": "nonsense"}), "about.csv"),
        (zipped({f"{n}.csv": "" for n in range(200)}), "more than 100 files"),
        (b"\0" * (MOST_BYTES + 1), "more than 16 MB"),
    ):
        with pytest.raises(BadTable, match=problem):
            notebook_files.import_archive(session.path, "it.zip", content)
    monkeypatch.setattr(notebook_files, "MOST_INFLATED", 1000)
    with pytest.raises(BadTable, match="its files have more"):
        notebook_files.import_archive(session.path, "it.zip", zipped({"about.csv": "0" * 5000}))
    with pytest.raises(BadNotebook):
        notebook_files.restore(session.path, "../../it.sqlite", b"no notebook")
    assert state(session) == before
    assert sorted(path.name for path in session.path.parent.glob("*.csv")) == []


def test_a_member_of_an_archive_is_written_nowhere_else(session, tmp_path):
    session.create("posy", POSY)
    outside = zipped({"../../evil.csv": "x", "about.csv": "what,number\r\nschema step,999\r\n"})
    with pytest.raises(BadTable, match="newer version"):
        notebook_files.import_archive(session.path, "it.zip", outside)
    assert not list(tmp_path.rglob("evil.csv"))


def test_another_notebook_in_its_place_reaches_every_tab(session):
    draft = session.create("posy", POSY)
    copy = notebook_files.copy_of(session.path)
    seen = []
    session.watch(draft.id, seen.append)
    session.rename(draft, "nosegay")
    notebook_files.restore(session.path, "mine.sqlite", copy)
    session.renew()
    assert seen[-1].name == "posy"


def test_the_notebook_says_where_it_is_and_that_there_is_none(session):
    @on(session, "/notebook")
    async def _(user):
        assert str(session.path) in texts(user)
        assert any(text.startswith("There is no notebook yet") for text in texts(user))
        press(user, "Save a copy")
        await until(lambda: any("there is no notebook yet" in text for text in texts(user)))


def test_what_was_removed_of_any_kind_is_brought_back(session):
    draft = session.create("posy", POSY)
    session.workspace.nose.add("coumarin", "hay 3")
    session.workspace.nose.remove("coumarin")
    session.remove(draft)

    @on(session, "/removed")
    async def _(user):
        press(user, "Bring back: formula on the page posy")
        assert session.find("posy") is not None
        press(user, "Bring back: note of your nose coumarin, hay 3")
        assert session.workspace.material("coumarin").own is not None
        assert any(text.startswith("Nothing was removed") for text in texts(user))


def test_formulas_are_found_by_part_of_a_name(session):
    for name in ("green fig", "Fig, green 2", "morello"):
        session.create(name, POSY)
    assert matching(["green fig", "Fig, green 2", "morello"], " FIG  gr") == ["green fig", "Fig, green 2"]

    @on(session, "/formulas")
    async def _(user):
        with user:
            field(user, "part of a name").value = "fig"
        assert "2 on the page, 0 saved" in texts(user)
        assert "morello" not in texts(user)
        press(user, "Remove green fig from the page")
        assert "1 on the page, 0 saved" in texts(user)
        press(user, "Undo")
        assert session.find("green fig") is not None


def test_a_first_visit_opens_an_example_whose_hints_can_be_closed_and_opened_again(session):
    @on(session, "/")
    async def _(user):
        shown = texts(user)
        assert any(text.startswith("Choose the rose") for text in shown)
        assert "Start my own" in shown
        assert "Open the example morello" in shown or button(user, "Open the example morello")
        assert [name for _, name in session.listed()] == ["bell_flower"]
        press(user, "Close the hints")
        assert not any(text.startswith("Choose the rose") for text in texts(user))
        await user.open("/")
        assert not any(text.startswith("Choose the rose") for text in texts(user))
        await user.open("/first")
        assert any(text.startswith("Choose the rose") for text in texts(user))
        assert [name for _, name in session.listed()] == ["bell_flower"]  # the same one


def test_materials_go_in_as_one_step_with_their_shares(session):
    draft = session.create("posy", POSY)
    linalool, vanillin = map(session.workspace.material, ("linalool", "vanillin"))
    changed, new = open_formulas.add_materials(
        session, str(draft.id), [(linalool, 0.75), (vanillin, 0.25)], "8", "10"
    )
    assert not new
    added = [(line["material"], line["parts"], line["dilution_percent"]) for line in changed.lines[-2:]]
    assert added == [("linalool", "6", "10"), ("vanillin", "2", "10")]
    assert len(session.step(changed, -1).lines) == 3
    other, new = open_formulas.add_materials(session, open_formulas.NEW, [(linalool, 1.0)], "")
    assert new
    assert other.lines[0]["material"] == "linalool"


def test_sheets_of_own_materials_and_limits_are_read_before_they_are_stored(session):
    from recommender.web.server.uploads import read_sheet

    async def read():
        found, unused = await read_sheet(
            session, "materials", "m.csv", b"name;smells;colour\nrose lactone X;rose 3;red\n"
        )
        assert [(own.name, own.labels[0].facet) for own, _ in found] == [("rose lactone X", "rose")]
        assert any("colour" in note for note in unused)
        limits, _ = await read_sheet(session, "limits", "l.csv", b"name,cas,cat_4\ncoumarin,91-64-5,0.4\n")
        assert limits[0].percent == {"4": 0.4}
        with pytest.raises(BadTable, match="more than"):
            await read_sheet(session, "limits", "l.csv", b"\0" * (MOST_BYTES + 1))

    try:
        asyncio.run(read())
    finally:
        session.jobs.end()
    assert not session.path.exists()


def test_what_is_in_a_notebook_is_counted_in_words():
    counted = contents(dict.fromkeys(CONTENTS, 0) | {"formulas": 1, "bottles": 2, "draft_steps": 9})
    assert counted.startswith("1 saved formula, 0 versions of them, 0 formulas on the page, 2 bottles, ")
