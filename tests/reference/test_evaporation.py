"""The film dn_i/dt = -a_i n_i / N against its closed form by hand and against an ODE solver."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.evaporation import remaining

N0 = [1e-4, 1e-4]
RATES = [2e-8, 1e-9]
LAWS = settings(deadline=None, max_examples=30)


# Closed form evaluated apart from this package and checked against a stiff ODE solver.
@pytest.mark.parametrize(
    ("seconds", "inert", "first", "second"),
    [
        (1000, 0.0, 9.02416257e-5, 9.94879187e-5),
        (5000, 0.0, 5.64212685e-5, 9.71789366e-5),
        (20000, 0.0, 3.71023092e-6, 8.48144885e-5),
        (100000, 0.0, 9.5367e-31, 5.00000000e-6),
        (1000, 1e-4, 9.34778263e-5, 9.96633383e-5),
        (5000, 1e-4, 7.02662453e-5, 9.82510810e-5),
        (20000, 1e-4, 1.95875569e-5, 9.21720005e-5),
        (100000, 1e-4, 2.2355e-9, 5.85421707e-5),
    ],
)
def test_two_components_follow_the_closed_form(seconds, inert, first, second):
    left = remaining([N0], [RATES], [inert], [seconds])[0, 0]
    assert left[0] == pytest.approx(first, rel=1e-4 if seconds == 100000 else 1e-8)
    assert left[1] == pytest.approx(second, rel=1e-8)


def test_a_pure_liquid_falls_linearly_and_is_dry_at_moles_over_rate():
    dry = 1e-4 / 2e-8
    left = remaining([[1e-4]], [[2e-8]], [0.0], [0.25 * dry, 0.5 * dry, 0.9 * dry, 1.01 * dry])[0, :, 0]
    assert left == pytest.approx([0.75e-4, 0.5e-4, 0.1e-4, 0.0], abs=1e-12)


def test_a_trace_in_an_inert_liquid_has_a_half_life():
    half_life = math.log(2) * 1e-3 / 2e-8
    assert half_life == pytest.approx(34657.36, abs=0.01)
    left = remaining([[1e-12]], [[2e-8]], [1e-3], [half_life, 2 * half_life])[0, :, 0]
    assert left == pytest.approx([0.5e-12, 0.25e-12])


@LAWS
@given(
    st.tuples(st.floats(1e-6, 1e-3), st.floats(1e-6, 1e-3)),
    st.floats(1e-10, 1e-8),
    st.floats(1.0, 5.0),
    st.floats(0.0, 1e-3),
    st.floats(10.0, 1e4),
)
def test_the_shares_left_are_powers_of_each_other(moles, slow, ratio, inert, seconds):
    left = remaining([moles], [[ratio * slow, slow]], [inert], [seconds])[0, 0]
    shares = left / np.array(moles)
    assert shares[0] == pytest.approx(shares[1] ** ratio, rel=1e-6, abs=1e-12)


@LAWS
@given(st.floats(0.01, 100.0), st.floats(10.0, 1e5))
def test_scaling_all_moles_scales_all_times(factor, seconds):
    once = remaining([N0], [RATES], [1e-5], [seconds])[0, 0]
    more = remaining([[factor * n for n in N0]], [RATES], [factor * 1e-5], [factor * seconds])[0, 0]
    assert more == pytest.approx(factor * once, rel=1e-6, abs=1e-18)


@settings(deadline=None, max_examples=15)
@given(
    st.tuples(*[st.floats(1e-6, 1e-3)] * 3),
    st.tuples(*[st.floats(-10.0, -7.0)] * 3),
    st.floats(1e-5, 1e-3),
    st.floats(0.1, 3.0),
)
def test_three_components_agree_with_an_ode_solver(moles, log_rates, inert, lives):
    from scipy.integrate import solve_ivp

    start, rates = np.array(moles), 10.0 ** np.array(log_rates)
    end = lives * (start.sum() + inert) / rates.max()
    seconds = np.linspace(0.0, end, 6)
    solved = solve_ivp(
        lambda _, share: -rates * share / (inert + (start * share).sum()),
        (0.0, end),
        np.ones(3),
        method="LSODA",
        t_eval=seconds,
        rtol=1e-9,
        atol=1e-12,
    )
    left = remaining([moles], [rates], [inert], seconds)[0] / start
    assert left == pytest.approx(solved.y.T, abs=1e-6)
