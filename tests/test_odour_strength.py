import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.chemistry import odour_strength
from recommender.evidence.catalogue import load
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
@given(st.floats(-3.0, 5.0), st.floats(1e-4, 1e4))
def test_a_typical_curve_is_clear_where_the_strength_says(decades, one_per_cent):
    curve = odour_strength.typical_curve(decades, one_per_cent, "threshold", "published", "somewhere", 0.4)
    clear = one_per_cent / 10.0**decades
    assert float(odour_strength.intensity(clear, curve)) == pytest.approx(odour_strength.CLEAR)
    assert (curve.i_max, curve.width) == (odour_strength.TYPICAL_MAXIMUM, odour_strength.TYPICAL_WIDTH)
    assert (curve.kind, curve.basis, curve.source) == ("threshold", "published", "somewhere")
    assert (curve.log_error, curve.doubtful) == (0.4, False)


@LAWS
@given(st.floats(0.5, 39.0))
def test_decades_above_clear_are_those_of_the_typical_curve(level):
    curve = odour_strength.typical_curve(odour_strength.decades_above_clear(level), 7.0, "class", "memory")
    assert float(odour_strength.intensity(7.0, curve)) == pytest.approx(level)


@LAWS
@given(st.floats(-3.0, 4.0), st.floats(0.01, 1.0))
def test_a_stronger_material_smells_stronger_at_one_dilution(decades, more):
    weak, strong = (
        float(odour_strength.intensity(1.0, odour_strength.typical_curve(d, 1.0, "class", "memory")))
        for d in (decades, decades + more)
    )
    assert weak < strong


def test_the_classes_of_strength_stand_in_the_order_of_their_words():
    parameters = load().parameters
    middles = [parameters[f"class {name}"] for name in odour_strength.CLASSES if name != "none"]
    assert middles == sorted(set(middles))
    # the anchor: a 1 % strip of a medium material is nearly clear
    assert parameters["class medium"] == pytest.approx(
        odour_strength.decades_above_clear(odour_strength.MEDIUM), abs=1e-5
    )
