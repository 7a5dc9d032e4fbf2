import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.chemistry import odour_strength
from recommender.model import Curve

LAWS = settings(deadline=None, max_examples=50)
CURVES = st.builds(
    Curve,
    st.floats(5.0, 90.0),
    st.floats(-4.0, 4.0),
    st.floats(0.2, 1.5),
    st.just("curve"),
    st.just("published"),
)
LOG_CONCENTRATIONS = st.floats(-6.0, 6.0)


@LAWS
@given(CURVES, LOG_CONCENTRATIONS, st.floats(0.01, 2.0))
def test_more_in_the_air_never_smells_weaker_and_never_exceeds_the_maximum(curve, log_c, more):
    weak, strong = odour_strength.intensity([10**log_c, 10 ** (log_c + more)], curve)
    assert 0.0 <= weak <= strong <= curve.i_max


@LAWS
@given(CURVES)
def test_half_the_maximum_is_reached_at_the_half_point(curve):
    assert float(odour_strength.intensity(10**curve.log10_half, curve)) == pytest.approx(curve.i_max / 2)


@LAWS
@given(CURVES, st.floats(0.01, 0.99))
def test_level_and_concentration_are_inverse(curve, share):
    level = share * curve.i_max
    concentration = odour_strength.concentration_at(level, curve)
    assert float(odour_strength.intensity(concentration, curve)) == pytest.approx(level)


def test_nothing_in_the_air_smells_of_nothing():
    assert float(odour_strength.intensity(0.0, Curve(60.0, 1.0, 0.7, "curve", "published"))) == pytest.approx(
        0.0, abs=1e-12
    )


def test_a_level_above_the_maximum_is_never_reached():
    curve = Curve(30.0, 1.0, 0.7, "curve", "published")
    assert odour_strength.concentration_at(30.0, curve) == math.inf
    assert odour_strength.concentration_at(45.0, curve) == math.inf


def test_any_shape_goes_in_and_comes_out():
    assert odour_strength.intensity(np.ones((2, 3)), Curve(30.0, 1.0, 0.7, "curve", "published")).shape == (
        2,
        3,
    )


@LAWS
@given(st.floats(1e-5, 1e4))
def test_a_curve_from_a_threshold_has_that_threshold(threshold_ug_per_l):
    curve = odour_strength.curve_from_threshold(threshold_ug_per_l, "published", "somewhere")
    assert odour_strength.threshold_ng_per_l(curve) == pytest.approx(1e3 * threshold_ug_per_l)
    assert float(odour_strength.intensity(threshold_ug_per_l, curve)) == pytest.approx(1.4)
    assert (curve.kind, curve.basis, curve.source) == ("threshold", "published", "somewhere")


@LAWS
@given(st.floats(0.5, 60.0), st.floats(1e-4, 1e4))
def test_a_curve_from_a_class_gives_the_strip_its_intensity(wanted, concentration):
    curve = odour_strength.curve_from_class(wanted, concentration, "memory")
    assert float(odour_strength.intensity(concentration, curve)) == pytest.approx(wanted)
    assert curve.i_max > wanted
    assert curve.kind == "class"


def test_at_one_dilution_a_stronger_class_smells_stronger():
    # common practice: the order of the words
    words = ["none", "faint", "soft", "medium", "strong", "very strong", "extreme"]
    assert set(words) == set(odour_strength.CLASSES)
    at_one_per_cent = []
    for dilution, wanted in map(odour_strength.CLASSES.__getitem__, words[1:]):
        curve = odour_strength.curve_from_class(wanted, 100.0 * dilution, "memory")
        at_one_per_cent.append(float(odour_strength.intensity(1.0, curve)))
    assert at_one_per_cent == sorted(set(at_one_per_cent))
    assert at_one_per_cent[0] > odour_strength.CLASSES["none"][1] == 0.0


def test_a_class_is_less_sure_than_a_curve_and_surer_than_a_threshold_of_another_set():
    measured = Curve(60.0, 1.0, 0.7, "curve", "published")
    by_class = odour_strength.curve_from_class(12.0, 1.0, "memory")
    by_threshold = odour_strength.curve_from_threshold(1.0, "published", "")
    assert measured.log_error < by_class.log_error < by_threshold.log_error
