import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import recommender
from recommender.chemistry import vapour_pressure
from recommender.model import Component

BOILING_K = st.floats(330.0, 700.0)
TAU = st.floats(0.0, 15.0)
LAWS = settings(deadline=None, max_examples=40)


def part(share: float, pressure_pa: float, log_error: float = 0.35) -> Component:
    return Component("a", share, pressure_pa, 150.0, log_error=log_error)


def test_at_its_boiling_point_a_liquid_has_one_atmosphere():
    assert vapour_pressure.myrdal_yalkowsky(450.0, 3.0, 0.006, temperature_k=450.0) == pytest.approx(101325.0)


@LAWS
@given(BOILING_K, st.floats(1.0, 50.0), TAU)
def test_a_higher_boiling_point_gives_a_lower_pressure(boiling_k, more, tau):
    low, high = (vapour_pressure.myrdal_yalkowsky(t, tau, 0.003) for t in (boiling_k + more, boiling_k))
    assert 0.0 < low < high


@LAWS
@given(BOILING_K, TAU)
def test_flexible_and_hydrogen_bonded_molecules_are_less_volatile_at_the_same_boiling_point(boiling_k, tau):
    plain = vapour_pressure.myrdal_yalkowsky(boiling_k, tau, 0.0)
    assert vapour_pressure.myrdal_yalkowsky(boiling_k, tau + 1.0, 0.0) < plain
    assert vapour_pressure.myrdal_yalkowsky(boiling_k, tau, 0.005) < plain


@LAWS
@given(st.floats(1e-6, 1e3), st.floats(299.0, 500.0))
def test_the_liquid_of_a_crystal_is_more_volatile(crystal_pa, melting_k):
    assert vapour_pressure.subcooled_pressure(crystal_pa, melting_k) > crystal_pa


@pytest.mark.parametrize("melting_k", [200.0, 298.15])
def test_what_has_melted_has_one_pressure(melting_k):
    assert vapour_pressure.subcooled_pressure(2.0, melting_k) == 2.0


@pytest.mark.parametrize(
    ("smiles", "tau", "hydrogen_bonds"),
    [
        ("CCO", 0.0, 1 / 46.069),
        ("CCCCCC", 3.0, 0.0),
        ("c1ccccc1", 0.0, 0.0),
        ("CCCc1ccc2ccccc2c1", 1.5, 0.0),  # two fused rings count once
        ("CCCc1ccc(cc1)-c1ccccc1", 2.0, 0.0),  # two rings on a bond count twice
        ("OCCO", 1.0, math.sqrt(2) / 62.068),
        ("NCCC", 1.0, 0.33 / 59.112),
    ],
)
def test_torsions_and_hydrogen_bonds_are_counted(smiles, tau, hydrogen_bonds):
    found = vapour_pressure.torsion_and_hydrogen_bonds(smiles)
    assert found == (pytest.approx(tau), pytest.approx(hydrogen_bonds, rel=1e-4))


def test_a_duration_is_never_surer_than_a_factor_of_two():
    assert vapour_pressure.duration_factor([part(1.0, 10.0, log_error=0.1)]) == pytest.approx(2.24, abs=0.01)
    assert vapour_pressure.duration_factor([]) == pytest.approx(2.24, abs=0.01)


def test_a_doubtful_pressure_widens_the_band_but_not_that_of_a_trace_or_of_a_resin():
    sure = part(0.96, 10.0)
    assert vapour_pressure.duration_factor([part(0.5, 10.0), part(0.5, 1.0, log_error=1.0)]) == pytest.approx(
        10.0
    )
    assert vapour_pressure.duration_factor([sure, part(0.04, 1.0, log_error=1.0)]) == pytest.approx(
        2.24, abs=0.01
    )
    assert vapour_pressure.duration_factor([sure, part(0.5, 0.0, log_error=1.0)]) == pytest.approx(
        2.24, abs=0.01
    )


def test_the_preferred_pressure_of_a_solid_is_that_of_its_crystals():
    figure = vapour_pressure.pressure(recommender.material("vanillin").value)
    assert figure is not None
    assert "solid" in figure.note
    assert figure.unit == "Pa"
