import sqlite3

import pytest

from recommender.errors import BadValue, ChangedMeanwhile
from recommender.notebook import drafts
from recommender.notebook.drafts import DraftChange
from recommender.notebook.migrations import upgrade

WHEN = "2026-03-01T09:00:00.000000"
LINES = [{"material": "rose", "parts": "3"}, {"material": "smoke", "parts": "1", "note": "a trace"}]


@pytest.fixture
def db():
    connection = sqlite3.connect(":memory:", isolation_level=None)
    connection.row_factory = sqlite3.Row
    upgrade(connection)
    yield connection
    connection.close()


def parts(number, value):
    def how(lines):
        changed = tuple(x | {"parts": value} if x["id"] == number else x for x in lines)
        return DraftChange(changed, f"parts {value}", f"cell {number}")

    return how


def test_a_draft_keeps_what_was_typed_and_every_line_has_a_number(db):
    draft = drafts.create(db, "  posy ", LINES, WHEN)
    assert (draft.name, draft.version, draft.back, draft.forth) == ("posy", 1, "", "")
    assert [line["id"] for line in draft.lines] == ["1", "2"]
    blank = {"dilution_percent": "", "solvent": "", "out": "", "lock": ""}
    assert draft.lines[1] == {"id": "2", "material": "smoke", "parts": "1", "note": "a trace"} | blank


def test_a_taken_name_gets_a_number(db):
    names = [drafts.create(db, "posy", LINES, WHEN).name for _ in range(3)]
    assert names == ["posy", "posy 2", "posy 3"]
    assert drafts.create(db, "", [], WHEN).name == "untitled"


def test_steps_back_and_forth(db):
    draft = drafts.create(db, "posy", LINES, WHEN)
    once = drafts.change(db, draft.id, parts("1", "5"), WHEN)
    assert (once.lines[0]["parts"], once.back, once.version) == ("5", "parts 5", 2)
    back = drafts.step(db, draft.id, once.version, -1, WHEN)
    assert (back.lines[0]["parts"], back.forth) == ("3", "parts 5")
    forth = drafts.step(db, draft.id, back.version, 1, WHEN)
    assert forth.lines == once.lines
    assert drafts.step(db, draft.id, forth.version, 1, WHEN) == forth


def test_typing_one_number_is_one_step(db):
    draft = drafts.create(db, "posy", LINES, WHEN)
    for value in ("1", "12", "120"):
        draft = drafts.change(db, draft.id, parts("1", value), WHEN)
    back = drafts.step(db, draft.id, draft.version, -1, WHEN)
    assert back.lines[0]["parts"] == "3"


def test_a_change_after_a_step_back_drops_what_lay_ahead(db):
    draft = drafts.create(db, "posy", LINES, WHEN)
    draft = drafts.change(db, draft.id, parts("1", "5"), WHEN)
    draft = drafts.step(db, draft.id, draft.version, -1, WHEN)
    draft = drafts.change(db, draft.id, parts("2", "9"), WHEN)
    assert draft.forth == ""
    assert [line["parts"] for line in draft.lines] == ["3", "9"]


def test_a_step_from_an_old_sight_is_refused_and_nothing_is_undone(db):
    draft = drafts.create(db, "posy", LINES, WHEN)
    seen = drafts.change(db, draft.id, parts("1", "5"), WHEN)
    now = drafts.change(db, draft.id, parts("2", "7"), WHEN)
    with pytest.raises(ChangedMeanwhile):
        drafts.step(db, draft.id, seen.version, -1, WHEN)
    assert drafts.get(db, draft.id) == now


def test_no_more_steps_are_kept_than_are_told(db, monkeypatch):
    monkeypatch.setattr(drafts, "MOST_STEPS", 3)
    draft = drafts.create(db, "posy", LINES, WHEN)
    for value in range(8):
        draft = drafts.change(
            db, draft.id, lambda x, v=value: DraftChange((x[0], {**x[1], "parts": str(v)}), f"{v}"), WHEN
        )
    assert db.execute("SELECT count(*) FROM draft_steps").fetchone()[0] == 3
    for _ in range(5):
        draft = drafts.step(db, draft.id, draft.version, -1, WHEN)
    assert draft.lines[1]["parts"] == "5"


def test_what_is_typed_about_the_whole_is_no_step(db):
    draft = drafts.create(db, "posy", LINES, WHEN)
    stored = drafts.set_field(db, draft.id, "dosage", "15")
    assert stored.fields == {"dosage": "15"}
    assert stored.back == ""
    assert drafts.set_field(db, draft.id, "category", "9").fields == {"dosage": "15", "category": "9"}


def test_another_name(db):
    draft = drafts.create(db, "posy", LINES, WHEN)
    drafts.create(db, "ember", LINES, WHEN)
    assert drafts.rename(db, draft.id, " garland ", WHEN).name == "garland"
    assert drafts.find(db, "Garland").id == draft.id
    for wrong in ("ember", "  "):
        with pytest.raises(BadValue):
            drafts.rename(db, draft.id, wrong, WHEN)


def test_what_was_taken_away_says_so(db):
    draft = drafts.create(db, "posy", LINES, WHEN)
    drafts.remove(db, draft.id)
    assert drafts.names(db) == []
    with pytest.raises(BadValue, match="removed from the page"):
        drafts.get(db, draft.id)


def test_the_last_touched_comes_first(db):
    one, _ = (drafts.create(db, name, LINES, f"2026-03-0{day}") for day, name in ((1, "a"), (2, "b")))
    assert drafts.names(db) == ["b", "a"]
    drafts.touch(db, one.id, "2026-03-03")
    assert drafts.names(db) == ["a", "b"]
