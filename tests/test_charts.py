from dataclasses import replace
from pathlib import Path

import pytest
from asking import drydown, extend

from recommender.errors import BadValue
from recommender.formulas.comparison import after_first_try
from recommender.formulas.drydown import FormulaDrydown
from recommender.output import charts
from recommender.palette import shipped

DEMO = Path(__file__).parent.parent / "data" / "demo"
STARTS = {"svg": b"<?xml", "png": b"\x89PNG", "pdf": b"%PDF"}


@pytest.fixture(scope="module")
def morello():
    return drydown(DEMO / "morello.csv", shipped())


@pytest.mark.parametrize("kind", ["svg", "png", "pdf"])
def test_a_drydown_is_drawn(tmp_path, morello, kind):
    file = tmp_path / f"course.{kind}"
    charts.drydown(morello, str(file))
    assert file.read_bytes().startswith(STARTS[kind])


def test_an_ending_may_be_in_capitals(tmp_path, morello):
    charts.drydown(morello, str(tmp_path / "course.SVG"))
    assert (tmp_path / "course.SVG").stat().st_size > 1000


def test_two_formulas_are_drawn_side_by_side(tmp_path, morello):
    other = drydown(DEMO / "tide_pool.csv", shipped())
    charts.compare(morello, other, str(tmp_path / "two.svg"))
    assert (tmp_path / "two.svg").read_bytes().startswith(STARTS["svg"])


@pytest.mark.parametrize("relay", [False, True])
def test_a_formula_is_drawn_before_and_after(tmp_path, morello, relay):
    found = extend(morello.formula, shipped(), relay=relay, top=1)
    after = after_first_try(morello, found.suggestions[0])
    charts.before_and_after(morello, after, found, str(tmp_path / "mended.svg"))
    assert (tmp_path / "mended.svg").read_bytes().startswith(STARTS["svg"])


def test_a_formula_without_a_gap_is_drawn(tmp_path, morello):
    calm = replace(morello.formula, lines=morello.formula.lines[-1:])
    charts.drydown(FormulaDrydown(calm, shipped()), str(tmp_path / "calm.svg"))
    assert (tmp_path / "calm.svg").exists()


@pytest.mark.parametrize("name", ["course.gif", "course", "course.svg.txt"])
def test_another_ending_is_refused_and_nothing_written(tmp_path, morello, name):
    with pytest.raises(BadValue, match=r"\.svg, \.png, \.pdf"):
        charts.drydown(morello, str(tmp_path / name))
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_refused(tmp_path, morello):
    with pytest.raises(BadValue, match="no such folder"):
        charts.drydown(morello, str(tmp_path / "gone" / "course.svg"))


def test_figures_are_closed_after_they_are_saved(tmp_path, morello):
    import matplotlib.pyplot as plt

    charts.drydown(morello, str(tmp_path / "course.svg"))
    assert plt.get_fignums() == []
