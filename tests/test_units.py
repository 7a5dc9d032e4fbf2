"""Hours, grams and per cent are read and printed in one place."""

import pytest

from recommender.errors import BadValue
from recommender.units import duration, hours_of, mass_of, percent_of


@pytest.mark.parametrize(
    ("text", "hours"),
    [("0", 0), ("fresh", 0), ("30 min", 0.5), ("8h", 8), ("1,5 d", 36), ("2w", 336), ("8", 8)],
)
def test_hours_are_read(text, hours):
    assert hours_of(text) == pytest.approx(hours)


@pytest.mark.parametrize("text", ["0", "fresh", "0 min"])
def test_a_fresh_strip_is_refused_where_time_has_to_go_by(text):
    with pytest.raises(BadValue, match="write 30min, 8h or 3d"):
        hours_of(text, above_zero=True)


@pytest.mark.parametrize("text", ["", "soon", "-1h", "8 y", "nan", "inf", "3651d"])
def test_what_is_no_time_is_refused(text):
    with pytest.raises(BadValue, match="8h or 3d"):
        hours_of(text)


@pytest.mark.parametrize(
    ("text", "grams"),
    [("10g", 10), ("250 mg", 0.25), ("1,5 kg", 1500), (".5", 0.5), ("20 µg", 2e-5), ("20 μg", 2e-5)],
)
def test_masses_are_read(text, grams):
    assert mass_of(text) == pytest.approx(grams)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("5 ml", "all is weighed"),
        ("ten", "not a mass"),
        ("1,000 g", "thousands or decimals"),
        ("0", "not a mass for a bench"),
        ("2000 kg", "not a mass for a bench"),
    ],
)
def test_what_is_no_mass_is_refused(text, problem):
    with pytest.raises(BadValue, match=problem):
        mass_of(text)


@pytest.mark.parametrize(("text", "percent"), [("15", 15), ("12,5 %", 12.5), ("0.5%", 0.5), ("100", 100)])
def test_shares_are_read(text, percent):
    assert percent_of(text) == percent


@pytest.mark.parametrize("text", ["", "0", "101", "-3", "a half"])
def test_what_is_no_share_is_refused(text):
    with pytest.raises(BadValue, match="not a share in per cent"):
        percent_of(text)


def test_a_printed_time_can_be_read_again():
    assert hours_of(duration(0.5)) == 0.5
    assert hours_of(duration(3.6)) == 3.6
