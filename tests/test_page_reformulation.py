"""A whole formula brought inside limits, price and shelf, on the page."""

import asyncio
from dataclasses import replace

import pytest

pytest.importorskip("nicegui")

from nicegui import ElementFilter
from nicegui.events import GenericEventArguments, handle_event
from test_page_views import POSY, field, on, press, texts, until, write

from recommender.output.worksheet import blind
from recommender.reformulation import Clash, Reformulation, ReformulationRequest
from recommender.reformulation.rules import CHANGES, KEEP
from recommender.reformulation.triangle import triangle
from recommender.web.pages.formula_page import FormulaPage
from recommender.web.server import line_edits
from recommender.web.server.job_progress import JobProgress, reporter
from recommender.web.server.session import PageSession
from recommender.web.server.worker import Job, Worker
from recommender.web.widgets.reformulation_section import nearness
from recommender.workspace import Workspace

WITHOUT = ReformulationRequest(without="benzaldehyde", seconds=600.0)


@pytest.fixture
def session(tmp_path):
    return PageSession(tmp_path / "notebook.sqlite")


@pytest.fixture(scope="module")
def found() -> Reformulation:
    """Return what a short formula becomes without one of its materials."""
    return Workspace().reformulate([(line["material"], float(line["parts"])) for line in POSY], WITHOUT)


def test_how_far_a_job_is_goes_through_a_file_whose_absence_is_the_stop():
    progress = JobProgress()
    report = reporter(progress.path)
    assert progress.read() == ("", 0.0)
    assert report("looking for candidates", 0.25)
    assert progress.read() == ("looking for candidates", 0.25)
    assert report("improving", 0.5)
    assert progress.read() == ("improving", 0.5)  # no rest of the longer words
    progress.stop()
    assert not report("improving", 0.6)
    assert not progress.path.exists()
    progress.stop()


def test_a_worker_reformulates_as_the_workspace_does_and_says_how_far_it_is(session, found):
    formula, progress = found.before, JobProgress()
    job = Job("reformulate", formula, reformulation=WITHOUT, progress=progress.path)
    answer = Worker().answer(job)
    assert [one.preserved for one in answer.answers] == [one.preserved for one in found.answers]
    assert progress.read()[1] > 0.5
    progress.stop()
    stopped = Worker().answer(job)
    assert not stopped.finished


def put(lines, answer, read):
    """Return material and parts of lines after an answer was put into them, and the lines."""
    change = line_edits.reformulated(answer, read, "reformulated")(lines)
    return [(line["material"], line["parts"]) for line in change.lines], change.lines


def test_an_answer_stands_where_the_lines_were_and_all_else_stays(session, found):
    lines = [
        {"material": "linalool", "parts": "90 g", "note": "air"},
        {"material": "eugenol", "parts": "5", "out": "out"},
        *POSY[1:],
        {"material": "vanilin", "parts": "2"},
    ]
    draft = session.create("posy", lines)
    after, new = put(draft.lines, found.answers[0], session.read(draft))
    (swap,) = found.answers[0].changes
    assert [name for name, _ in after] == [
        "linalool", "eugenol", swap.to.name, "methyl dihydrojasmonate", "vanilin",
    ]  # fmt: skip
    assert new[0] == draft.lines[0]  # as it was typed
    assert float(after[2][1]) == pytest.approx(swap.parts_after)
    assert new[2]["id"] not in {line["id"] for line in draft.lines}


def test_an_accord_stands_with_its_lines_where_it_was(session, found):
    session.create("inner", POSY[:2])
    draft = session.create("outer", [{"material": "inner", "parts": "100"}, POSY[2]])
    read = session.read(draft)
    assert read.problems == {}
    after, _ = put(draft.lines, found.answers[0], read)
    (swap,) = found.answers[0].changes
    assert [name for name, _ in after] == ["linalool", swap.to.name, "methyl dihydrojasmonate"]


def test_what_is_preserved_is_worded_by_its_share():
    assert [nearness(share) for share in (1.0, 0.966, 0.85, 0.7, 0.0)] == [
        "as good as the same",
        "as good as the same",
        "close, and the difference can be smelled",
        "the same idea, clearly changed",
        "much of it is gone",
    ]


def test_a_triangle_sheet_is_printed_with_its_key_on_a_second_page(found):
    data = blind.triangle(triangle(found.before, found.answers[0].formula))
    assert data.startswith(b"%PDF")
    assert data.count(b"/Type /Page\n") == 2
    assert data == blind.triangle(triangle(found.before, found.answers[0].formula))


def opened(session, draft):
    """Return the page of a formula, its section of the reformulation open."""
    session.set_field(session.get(draft.id), "reformulate", "open")
    return FormulaPage(session, session.jobs, session.get(draft.id))


def choose(user, label, value):
    with user:
        (select,) = [e for e in ElementFilter() if e.tag == "select" and e.props.get("aria-label") == label]
    for listener in list(select._event_listeners.values()):
        args = GenericEventArguments(sender=select, client=user.client, args=value)
        with user:
            handle_event(listener.handler, args)


def test_every_setting_reaches_the_request(session):
    draft = session.create("posy", POSY)
    for name, value in {
        "dosage": "12",
        "category": "5A",
        "market": "eu",
        "on": "2027-02-01",
        "share": "40",
    }.items():
        session.set_field(session.get(draft.id), name, value)
    session.change(draft.id, line_edits.set_flag(["3"], "lock", True))

    @on(session, "/notebook")
    async def _(user):
        with user:
            section = opened(session, draft).reformulation
        write(user, field(user, "a material that may not be put in"), "140-11-4")
        write(user, field(user, "a material that may not be put in"), "sqwibble")
        assert any("sqwibble" in text for text in texts(user))
        choose(user, "a line that stays as it is", "1")
        values = {"max_price": "0,4", "only_shelf": True, "no_label_allergens": True, "product": "soap",
                  "changes": "4", "top": "5", "seconds": "12"}  # fmt: skip
        section.question.form.values.update(values)
        request = section.question.request(session.workspace.shelf.stock())
        assert request == ReformulationRequest(
            dosage_percent=12.0, category="5A", market="eu", on="2027-02-01", share_percent=40.0,
            without=("benzyl acetate",), keep=("3", "1"), max_price=0.4, only_shelf=True,
            no_label_allergens=True, product="soap", changes=4, top=5, seconds=12.0,
        )  # fmt: skip
        assert any("Locked, so as it is: methyl dihydrojasmonate." in text for text in texts(user))
        press(user, "a material that may not be put in: take benzyl acetate off the list")
        assert section.question.request(session.workspace.shelf.stock()).without is None


def test_a_wrong_number_is_said_at_its_field(session):
    draft = session.create("posy", POSY)

    @on(session, "/notebook")
    async def _(user):
        with user:
            section = opened(session, draft).reformulation
        section.question.form.values["changes"] = "2.5"
        press(user, "Find the least change")
        assert any("it is a whole number, such as 3" in text for text in texts(user))
        section.question.form.values |= {"changes": "", "only_shelf": True}
        press(user, "Find the least change")
        await until(lambda: any("No bottle" in text or "no bottle" in text for text in texts(user)))
        assert not any("`" in text for text in texts(user))


def answers_of(session, monkeypatch, found):
    """Answer every question of the page with a reformulation."""

    async def run(job, most_seconds=None):
        return found if job.verb == "reformulate" else []

    monkeypatch.setattr(session.jobs, "run", run)


def test_an_answer_is_compared_taken_as_the_next_version_and_undone(session, monkeypatch, found):
    draft = session.create("posy", POSY)
    found = replace(found, before=session.read(draft).formula)
    answers_of(session, monkeypatch, found)

    @on(session, "/notebook")
    async def _(user):
        with user:
            whole = opened(session, draft)
        section = whole.reformulation
        press(user, "Find the least change")
        await until(lambda: any(text.startswith("1. ") and "preserved" in text for text in texts(user)))
        assert "3 answers that differ" in texts(user)
        assert any(text.startswith("Only cut or taken out, ") for text in texts(user))
        await until(lambda: section.lanes.props["lanes"])
        assert {lane["of"] for lane in section.lanes.props["lanes"]} == {"before", "answer 1"}
        press(user, "Lanes before and after answer 2")
        await until(
            lambda: section.lanes.props["lanes"][0]["key"] and any("answer 2, on" in t for t in texts(user))
        )
        press(user, "Take answer 2 as the next version")
        (swap,) = found.answers[1].changes
        assert [line["material"] for line in session.get(draft.id).lines][1] == swap.to.name
        saved = [one.title for one in session.workspace.formulas.versions("posy")]
        assert saved == ["posy@1", "posy@2"]
        assert session.workspace.formulas.version("posy@2").note.startswith("reformulated, ")
        assert any(
            text.startswith("posy@2 is saved and stands here; as it was it is posy@1.")
            for text in texts(user)
        )
        press(user, "Take answer 1 as the next version")  # it is one for the formula as it was
        assert any(text.startswith("Worked out before the last change") for text in texts(user))
        assert len(session.workspace.formulas.versions("posy")) == 2
        whole.step(-1)
        assert [line["material"] for line in session.get(draft.id).lines] == [
            line["material"] for line in POSY
        ]
        assert not section.is_old


def test_what_clashes_is_named_with_the_least_that_would_do(session, monkeypatch, found):
    draft = session.create("posy", POSY)
    clashes = (Clash(CHANGES, "", 1, 2), Clash(KEEP, "linalool", 90, 12.6))
    answers_of(session, monkeypatch, replace(found, answers=(), clashes=clashes, course=None))

    @on(session, "/notebook")
    async def _(user):
        with user:
            opened(session, draft)
        press(user, "Find the least change")
        await until(lambda: "Not all of this can be kept at once." in texts(user))
        assert "The number of changes: 2 in place of 1 would do." in texts(user)
        assert "Linalool, which is to stay: 12.6 parts in place of 90 would do." in texts(user)


def test_a_formula_in_whose_way_nothing_is_stays_as_it_is(session, monkeypatch, found):
    draft = session.create("posy", POSY)
    same = replace(found.answers[0], changes=(), preserved=1.0, formula=found.before)
    answers_of(session, monkeypatch, replace(found, answers=(same,)))

    @on(session, "/notebook")
    async def _(user):
        with user:
            opened(session, draft)
        press(user, "Find the least change")
        await until(lambda: "Nothing is in the way: it stays as it is." in texts(user))
        assert not any("as the next version" in text for text in texts(user))


def test_a_search_is_ended_with_what_it_has(session, monkeypatch, found):
    draft = session.create("posy", POSY)

    async def run(job, most_seconds=None):
        if job.verb != "reformulate":
            return []
        report = reporter(job.progress)
        while report("trying each candidate", 0.4):
            await asyncio.sleep(0.02)
        return replace(found, finished=False)

    monkeypatch.setattr(session.jobs, "run", run)

    @on(session, "/notebook")
    async def _(user):
        with user:
            section = opened(session, draft).reformulation
        press(user, "Find the least change")
        await until(lambda: "trying each candidate, 40 %" in texts(user))
        section.stop()
        await until(lambda: "3 answers that differ" in texts(user))
        assert any(text.startswith("The search was ended before all was tried") for text in texts(user))
        assert not section.working.visible
