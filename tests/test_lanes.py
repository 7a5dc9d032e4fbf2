"""Lanes: which smells have one, where they begin and end, what the cursor says, ghosts, two formulas."""

import math
from dataclasses import replace

import pytest
from asking import drydown

from recommender.evaporation.gaps import Gap
from recommender.formulas import lanes
from recommender.formulas.lanes import Lane, Moment, Span
from recommender.output import lanes as words
from recommender.output.worksheet import blind
from recommender.palette import shipped

TABLE = drydown("data/demo/bell_flower.csv", shipped())


def test_the_theme_comes_first_and_what_is_asked_for_is_always_there():
    assert lanes.shown(TABLE)[:2] == ["lily of the valley", "rose"]
    asked = lanes.shown(TABLE, ["smoke"])
    assert asked[:3] == ["lily of the valley", "rose", "smoke"]
    assert len(asked) == lanes.MOST
    every = lanes.shown(TABLE, ["smoke"], every=True)
    assert set(TABLE.ends) | {"smoke"} == set(every)
    many = [facet for facet in TABLE.ends if facet not in asked][:12]
    assert set(many) <= set(lanes.shown(TABLE, many))


def test_a_lane_ends_where_the_drydown_does_and_begins_where_it_is_first_smelled():
    rose, smoke = lanes.lanes(TABLE, ["rose", "smoke"])
    for span, level in ((rose.clear, "clear"), (rose.there, "just_there")):
        end = TABLE.ends["rose"][level]
        assert (span.low, span.hours, span.high) == (end.low, end.hours, end.high)
    assert rose.clear.start == pytest.approx(1 / 60)
    assert rose.of_theme
    assert rose.gap.facet == "rose"
    assert (smoke.clear, smoke.there, smoke.gap) == (None, None, None)
    late = lanes.lanes(TABLE, ["solar floral"])[0]
    assert late.clear.start > 1.0  # the top notes cover it at first


def test_what_is_smelled_at_an_hour_is_what_the_lanes_show_there():
    drawn = {lane.facet: lane for lane in lanes.lanes(TABLE, list(TABLE.ends))}
    found = lanes.moments(TABLE)
    assert [one.hours for one in found] == TABLE.course.hours.tolist()
    for one in found:
        for facet in one.clear:
            assert drawn[facet].clear.start <= one.hours <= drawn[facet].clear.hours
        for facet in one.faint:
            assert drawn[facet].there.start <= one.hours <= drawn[facet].there.hours
        assert len(one.clear) + len(one.faint) <= lanes.MOST_SMELLED
    assert "rose" in found[0].clear
    late = next(one for one in found if one.hours > 24)
    assert "rose" not in (*late.clear, *late.faint)
    assert "cis-3-hexenol" not in late.speaking
    assert len(late.speaking) <= lanes.MOST_SPEAKING


def test_the_words_of_a_lane_and_of_an_hour():
    lane = Lane("grass", (), Span(1 / 60, 0.5, 1.0, 2.0), Span(1 / 60, 1.0, 2.0, 4.0), of_theme=True)
    assert words.ends(lane) == "clear until 60 min, gone by 2 h"
    assert words.alternative(lane) == (
        "grass, of the theme: clear until 60 min (30 min to 2 h), gone by 2 h (60 min to 4 h)"
    )
    assert words.ends(Lane("grass", (), None, Span(1.0, 1.0, 2.0, 4.0))) == "never clear, gone by 2 h"
    assert words.ends(Lane("grass", (), None, None)) == "not smelled"
    late = Lane("musk", (), Span(3.0, 20.0, 30.0, 40.0), Span(1 / 60, 40.0, 60.0, 90.0))
    assert words.ends(late) == "from 3 h, clear until 30 h, gone by 2.5 days"
    missed = replace(lane, gap=Gap("grass", 1.0, ("linalool",), 50.0))
    assert words.alternative(missed).endswith("; it ends early")
    assert words.alternative(Lane("grass", (), None, None)) == "grass: not smelled in this formula"
    assert words.moment(Moment(5.0, ("vetiver", "wood"), ("grass",), ())) == "vetiver, wood, a little grass"
    assert words.moment(Moment(5.0, (), (), ())) == "nothing is smelled any more"


def test_a_stored_list_of_pins_gives_the_smells_that_are_known():
    assert lanes.pinned("rose;nonsense;hay;rose", {"rose", "hay"}) == ("rose", "hay")
    assert lanes.pinned("", {"rose"}) == ()


def test_a_sheet_to_smell_blind_has_the_key_on_a_page_of_its_own():
    data = blind.sheet("posy", [("123", "posy@1"), ("456", "now")])
    assert data.startswith(b"%PDF")
    assert data.count(b"/Type /Page\n") + data.count(b"/Type /Page ") == 2
    assert blind.sheet("ß <b> 花", [("123", "a & b"), ("456", "<i>")]).startswith(b"%PDF")


def geometry():
    pytest.importorskip("nicegui")
    from recommender.web.widgets import lanes as drawn

    return drawn


def test_a_lane_is_dark_where_it_is_sure_and_fades_over_its_band():
    drawn = geometry()
    span = Span(1 / 60, 1.0, 2.0, 4.0)
    hours = (0.5, 1.0, math.sqrt(2.0), 2.0, 4.0, 5.0)
    assert [round(drawn.sureness(span, h), 2) for h in hours] == [1.0, 1.0, 0.75, 0.5, 0.0, 0.0]
    assert drawn.sureness(Span(1.0, 2.0, 3.0, 4.0), 0.5) == 0.0
    stops = drawn.stops(span)
    assert stops[0] == (0.0, 1.0)
    assert stops[-1] == (round(drawn.place(4.0), 3), 0.0)
    assert (round(drawn.place(2.0), 3), 0.5) in stops
    assert [where for where, _ in stops] == sorted(where for where, _ in stops)
    assert len(stops) < 8  # those on a level stretch are left out
    assert drawn.stops(None) == []
    late = drawn.stops(Span(1.0, 2.0, 3.0, 4.0))
    assert late[0] == (round(drawn.place(1.0 / 1.15), 3), 0.0)
    assert late[1][1] == 1.0


def test_a_lane_is_darkest_where_its_smell_is_loudest():
    drawn = geometry()
    lane = Lane("rose", (80.0, 40.0, 0.0), Span(1 / 60, 10.0, 20.0, 40.0), Span(1 / 60, 10.0, 20.0, 40.0))
    picture = drawn.drawn(lane, (1 / 60, 1.0, 100.0), 80.0)
    dark = [value for _, value in picture["clear"]]
    assert dark[0] == drawn.DARKEST
    assert dark[-1] == 0.0
    assert picture["ends"] == words.ends(lane)


def test_the_lane_of_an_answer_is_drawn_where_it_ends_otherwise():
    pytest.importorskip("nicegui")
    from recommender.model import Dose, Suggestion
    from recommender.web.server.typed_lines import ParsedLines
    from recommender.web.widgets.formula_view import drydown_view, formula_with, ghost_view

    palette = shipped()
    read = ParsedLines(TABLE.formula, {str(n): line for n, line in enumerate(TABLE.formula.lines)})
    carrier = palette.catalogue.find("rose absolute")
    found = Suggestion(carrier, "rose", 1.0, {}, None, None, (), (), dose=Dose(12.0, 8.0, 25.0))
    beside = formula_with(read, found, palette.catalogue)
    assert beside.lines[:-1] == TABLE.formula.lines
    total = sum(line.parts for line in beside.lines)
    assert beside.lines[-1].parts / total == pytest.approx(0.012)
    instead = formula_with(read, found, palette.catalogue, ["0"])
    assert len(instead.lines) == len(TABLE.formula.lines)
    assert TABLE.formula.lines[0] not in instead.lines
    diluted = replace(found, dose=replace(found.dose, dilution_percent=10.0))
    line = formula_with(read, diluted, palette.catalogue).lines[-1]
    assert (line.parts * line.dilution, line.dilution) == (pytest.approx(beside.lines[-1].parts), 0.1)
    assert line.solvent.slug == "dipropylene-glycol"  # as when it is taken
    shown = drydown_view(read, palette, {})
    ends, ghost = ghost_view(beside, palette, None, shown, ["rose"])
    assert set(ends) == {lane.facet for lane in shown.lanes}
    assert ends["rose"] != shown.ends_of("rose")
    assert ghost["lanes"]["rose"]["ends"] == ends["rose"]
    drawn = ghost["lanes"]["rose"]
    assert not drawn["less"]
    assert drawn["there"][0][0] < drawn["gone"] < drawn["there"][-1][0]  # it fades beyond its end
    assert "lily of the valley" not in ghost["lanes"]  # hardly moved
    back = drydown_view(replace(read, formula=beside), palette, {})
    _, loss = ghost_view(TABLE.formula, palette, None, back, ["rose"])
    assert loss["lanes"]["rose"]["less"]
    assert loss["lanes"]["rose"]["gone"] < drawn["gone"]


def test_an_hour_of_the_cursor_next_to_one_of_the_axis_is_that_one():
    drawn = geometry()
    hours = drawn.moments_drawn([Moment(h, ("rose",), (), ("linalool",)) for h in (0.83, 0.97)])
    assert [one["hour"] for one in hours] == ["50 min", "1 h"]
    assert hours[1]["at"] == round(drawn.place(1.0), 4)
    assert drawn.ticks()[-1]["text"] == "7 days and more"


def test_the_cursor_names_materials_as_typed():
    drawn = geometry()
    moment = Moment(1.0, ("rose",), (), ("butylphenyl methylpropional", "linalool"))
    named = drawn.moments_drawn([moment], {"butylphenyl methylpropional": "my aldehyde"})
    assert named[0]["speaking"] == "my aldehyde and linalool"
    from recommender.web.server.typed_lines import ParsedLines
    from recommender.web.widgets.formula_view import drydown_view

    lines = {str(n): line for n, line in enumerate(TABLE.formula.lines)}
    read = ParsedLines(TABLE.formula, lines, typed={"0": "my aldehyde"})
    shown = drydown_view(read, shipped(), {})
    assert "my aldehyde" in shown.moments[26]["speaking"]
    assert shown.inferred == ("lily of the valley", "rose")


def test_lines_that_are_read_have_their_names_as_typed():
    pytest.importorskip("nicegui")
    from recommender.web.server import typed_lines

    blank = {"dilution_percent": "", "solvent": "", "note": "", "out": ""}
    lines = [{"id": "1", "material": " Linalool ", "parts": "2", **blank},
             {"id": "2", "material": "vanilin", "parts": "2", **blank}]  # fmt: skip
    read = typed_lines.read("posy", lines, shipped().catalogue, lambda name: None)
    assert read.typed == {"1": "Linalool"}


def test_two_formulas_have_two_lanes_a_smell_and_what_was_changed():
    pytest.importorskip("nicegui")
    from recommender.web.widgets.comparison_view import comparison_view

    one, other = (drydown(f"data/demo/{name}.csv", shipped()) for name in ("morello", "morello_mended"))
    view = comparison_view(one, other, ("before", "after"), ["smoke"])
    assert [p["of"] for p in view.pictures[:2]] == ["before", "after"]
    assert view.pictures[0]["facet"] == view.pictures[1]["facet"]
    assert "smoke" in [p["facet"] for p in view.pictures]
    assert len({p["key"] for p in view.pictures}) == len(view.pictures)
    assert view.pictures[1]["text"].startswith("after: ")
    assert any("not in it" in row for row in view.changes)
    assert view.moments[0]["smelled"].startswith("before: ")
