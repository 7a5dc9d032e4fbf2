import pytest

from recommender.formulas import comparison
from recommender.formulas.drydown import FormulaDrydown
from recommender.formulas.redundancy import trim
from recommender.model import Formula, Line
from recommender.output import formulas


@pytest.fixture(scope="module")
def table(palette):
    zest, ember = (palette.catalogue.by_slug(slug) for slug in ("zest", "ember"))
    return FormulaDrydown(Formula("accord", (Line(zest, 60.0), Line(ember, 140.0))), palette)


@pytest.fixture(scope="module")
def data(table):
    return formulas.drydown(table)


def test_the_data_of_a_drydown_hold_a_line_for_every_facet(data):
    assert set(data) == {"hours", "facets", "ends", "theme", "gaps", "sticks_out", "notes"}
    assert set(data["facets"]) == {"lemon", "smoke", "rose"}
    assert all(len(line) == len(data["hours"]) for line in data["facets"].values())
    assert data["hours"] == sorted(data["hours"])


def test_the_loudest_facet_comes_first(data):
    peaks = [max(line) for line in data["facets"].values()]
    assert peaks == sorted(peaks, reverse=True)


def test_a_gap_names_its_hour_and_who_carried_the_facet(data):
    assert [(gap["facet"], gap["carried_by"], gap["of_theme"]) for gap in data["gaps"]] == [
        ("lemon", ["zest"], True)
    ]  # rose is a trace of zest: no gap


def test_each_facet_has_a_row_with_both_ends_and_its_gap(data):
    rows = {row["facet"]: row for row in formulas.drydown_rows(data)}
    assert set(rows["lemon"]) == set(formulas.DRYDOWN_COLUMNS)
    assert rows["lemon"]["clear_low"] < rows["lemon"]["clear_hours"] < rows["lemon"]["clear_high"]
    assert "gap_hours" not in rows["smoke"]


def test_the_lines_say_on_a_strip_and_tell_the_gaps(table, data):
    lines = formulas.drydown_lines(table, data)
    assert lines[0].startswith("accord on a strip")
    assert any(line.startswith("gap: lemon ") and "zest" in line for line in lines)
    assert "factor of 2.2" in lines[-1]


def test_a_formula_without_a_gap_is_called_so(palette):
    table = FormulaDrydown(Formula("calm", (Line(palette.catalogue.by_slug("ember"), 1.0),)), palette)
    assert "Nothing of the theme, or that a line leads with, fades within a week." in formulas.drydown_lines(
        table, formulas.drydown(table)
    )


@pytest.mark.parametrize(
    ("end", "words"), [(None, "never clear"), ({"hours": 8760.0}, "over a year"), ({"hours": 0.5}, "30 min")]
)
def test_an_end_in_words(end, words):
    assert formulas.until(end) == words


def test_a_redundant_material_is_called_hardly_missed(palette):
    lines = tuple(
        Line(palette.catalogue.by_slug(s), p) for s, p in (("twin", 45), ("lime-wax", 45), ("ember", 10))
    )
    found = trim(FormulaDrydown(Formula("x", lines), palette))
    assert all(set(formulas.spare_row(spare)) == set(formulas.SPARE_COLUMNS) for spare in found)
    for spare in found:
        assert ("hardly missed" in formulas.spare_words(spare)["verdict"]) == spare.redundant


def test_a_strip_and_a_first_amount_have_their_columns(palette):
    pair = [palette.catalogue.by_slug(slug) for slug in ("zest", "mute")]
    strip = formulas.strip_row(comparison.strips(pair, palette)[1])
    first = [formulas.first_flat(found) for found in comparison.dose(pair, {}, palette)]
    assert set(strip) == set(formulas.STRIP_COLUMNS)
    assert strip["alone"] is None
    assert set(first[0]) == set(formulas.FIRST_COLUMNS)
    assert (first[0]["weigh"], first[1]["weigh"]) == ("10 g neat", "strength unknown")


def test_two_formulas_have_a_row_for_each_facet_formula_and_hour(table):
    side = comparison.compare(table, table)
    rows = formulas.side_rows(side)
    assert len(rows) == 2 * len(side.facets) * len(side.hours)
    assert set(rows[0]) == set(formulas.SIDE_COLUMNS)
    assert set(formulas.side_data(side)) == {"formulas", "hours", "likeness", "facets", "notes"}
    assert "accord (first) against accord (second)" in formulas.side_lines(side)[0]
