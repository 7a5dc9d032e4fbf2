import pytest

from recommender.chemistry import odour_strength
from recommender.errors import BadTable, BadValue, UnknownFacet
from recommender.model import Reading
from recommender.notebook.readings import (
    ABOUT_A_STRIP,
    ABOUT_A_TRIAL,
    by_hour,
    from_sheet,
    readings_of,
    written,
)
from recommender.units import hours_of

KNOWN = ("almond", "hay", "bitter almond", "cut-grass green", "clear water")


def known(text):
    if text not in KNOWN:
        raise UnknownFacet(text, ("almond",))


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("clear", [("", "clear", None, "")]),
        ("whole too strong", [("", "too strong", None, "")]),
        ("almond clear, hay gone", [("almond", "clear", None, ""), ("hay", "gone", None, "")]),
        ("Bitter Almond: Just There", [("bitter almond", "trace", None, "")]),
        ("hay too strong (dusty, like a barn)", [("hay", "too strong", None, "dusty, like a barn")]),
        ("almond 12; hay 3,5", [("almond", "clear", 12.0, ""), ("hay", "trace", 3.5, "")]),
        ("cut-grass green faint", [("cut-grass green", "trace", None, "")]),
        ("clear water clear", [("clear water", "clear", None, "")]),
        ("40", [("", "strong", 40.0, "")]),
    ],
)
def test_what_is_said_of_a_strip_is_understood(text, found):
    told = readings_of(text, 8.0, known)
    assert [(r.facet, r.rating, r.level, r.words) for r in told] == found
    assert all(r.hours == 8.0 for r in told)


@pytest.mark.parametrize("text", ["almond clear (dusty)", "whole too strong", "hay 12", "whole gone (flat)"])
def test_written_and_read_again_is_the_same(text):
    (told,) = readings_of(text, 1.0, known)
    assert written(told) == text
    assert readings_of(written(told), 1.0, known) == (told,)


@pytest.mark.parametrize("text", ["", "almond", "almond mild", "almond 120", " , "])
def test_what_is_not_understood_says_the_scale(text):
    with pytest.raises(BadValue, match="gone, trace, clear, strong or too strong"):
        readings_of(text, 1.0, known)


def test_an_unknown_smell_is_named():
    with pytest.raises(UnknownFacet, match="almnd"):
        readings_of("almnd clear", 1.0, known)


def test_the_words_climb_from_gone_to_strong():
    lows = [low for low, _ in odour_strength.RATINGS.values()]
    assert lows == sorted(lows)
    assert [odour_strength.rating_of(level) for level in (0, 1.4, 6, 24, 100)] == [
        "gone",
        "trace",
        "clear",
        "strong",
        "strong",
    ]


@pytest.mark.parametrize(("text", "hours"), [("0", 0), ("fresh", 0), ("30min", 0.5), ("8 h", 8), ("1w", 168)])
def test_hours(text, hours):
    assert hours_of(text) == hours


@pytest.mark.parametrize("text", ["", "soon", "-1h", "8 y", "99999d"])
def test_what_is_no_hour_is_refused(text):
    with pytest.raises(BadValue, match="hour"):
        hours_of(text)


def test_readings_stand_by_hour_the_whole_first():
    told = [
        Reading(8, "clear", "hay"),
        Reading(0, "strong", "hay"),
        Reading(8, "clear"),
        Reading(0, "strong"),
    ]
    assert [(r.hours, r.facet) for r in by_hour(told)] == [(0, ""), (0, "hay"), (8, ""), (8, "hay")]


def test_a_sheet_of_readings_falls_into_trials(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text(
        "formula;day;hours;facet;strength;words\n"
        "plum;2024-03-01;0;almond;strong;\n"
        "plum;2024-03-01;8h;almond;gone;flat\n"
        "plum;2024-03-02;1;;clear;\n",
        encoding="utf-8",
    )
    found = from_sheet(path, ABOUT_A_TRIAL, known)
    assert [(row.line, len(told)) for row, told in found] == [(2, 2), (4, 1)]
    assert found[0][1][1] == Reading(8.0, "gone", "almond", None, "flat")
    assert found[1][1][0].facet == ""


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("linalool,soon,clear,", r"line 2, column hours: .*30min, 8h or 3d"),
        ("linalool,1,mild,", r"line 2, column strength: .*gone, trace"),
        ("linalool,1,clear,almnd", r"line 2, column facet: .*almond"),
    ],
)
def test_a_cell_that_cannot_be_read_is_named(tmp_path, line, told):
    path = tmp_path / "strips.csv"
    path.write_text(f"material,hours,strength,facet\n{line}\n", encoding="utf-8")
    with pytest.raises(BadTable, match=told):
        from_sheet(path, ABOUT_A_STRIP, known)


def test_a_sheet_of_strips_needs_the_material(tmp_path):
    path = tmp_path / "strips.csv"
    path.write_text("hours,strength\n1,clear\n", encoding="utf-8")
    with pytest.raises(BadTable, match="material"):
        from_sheet(path, ABOUT_A_STRIP, known)
