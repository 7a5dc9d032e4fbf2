from itertools import pairwise

import numpy as np
import pytest
from asking import drydown

from recommender.evaporation.course import course
from recommender.formulas import curves
from recommender.output.curves import mark_text
from recommender.palette import shipped

TABLE = drydown("data/demo/morello.csv", shipped())
DRAWING = curves.drawing(TABLE)


def test_the_loudest_gap_is_drawn_and_no_more_curves_than_can_be_distinguished():
    names = [facet for curve in DRAWING.curves for facet in curve.facets]
    assert TABLE.gaps[0].facet in names
    assert len(names) <= curves.MOST
    assert any(curve.gone for curve in DRAWING.curves)


def test_facets_of_one_curve_are_one_line_with_both_names():
    for curve in DRAWING.curves:
        for facet in curve.facets:
            line = TABLE.course.facets[:, TABLE.film.facets.index(facet)]
            assert np.abs(line - curve.values).max() < curves.SAME


def test_a_line_is_within_its_band_and_the_band_is_what_shifted_hours_give():
    for curve in DRAWING.curves:
        assert (curve.low <= curve.values + 1e-9).all()
        assert (curve.values <= curve.high + 1e-9).all()
    column = TABLE.film.facets.index("bitter almond")
    early = course(TABLE.film, TABLE.course.hours / 2.2).facets[:, column]
    _, high = curves.bands(TABLE)
    assert np.abs(high[:, column] - early).max() < 0.35  # read off a finer course in log time


def test_marks_say_what_fades_when_in_the_order_of_hours():
    hours = [mark.hours for mark in DRAWING.marks]
    assert hours == sorted(hours)
    assert mark_text(DRAWING.marks[0]) == "cherry and bitter almond gone by 40 min to 51 min"
    assert mark_text(curves.Mark(2.0, ("hay",), 2.0)) == "hay gone by 2 h"
    assert mark_text(curves.Mark(2.0, ("hay", "tonka"), 2.0)) == "hay and tonka gone by 2 h"
    assert all(after.hours > curves.CLOSE * before.hours for before, after in pairwise(DRAWING.marks))


@pytest.mark.parametrize("name", ["tide_pool", "green_fig", "bell_flower"])
def test_every_demo_can_be_drawn(name):
    found = curves.drawing(drydown(f"data/demo/{name}.csv", shipped()))
    assert found.curves
    assert found.top > 0
