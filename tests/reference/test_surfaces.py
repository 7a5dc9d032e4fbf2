"""Strip, skin and cloth against an ODE solver, and against what has been measured on them.

Loads are not in the abstracts that were read; where one is needed it is named beside the figure. The figures
are shown by pytest --log-cli-level=info.
"""

import logging
import math
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.evaporation import (
    SURFACES,
    Application,
    Conditions,
    evaporation_rate,
    neat_or_diluted,
    remaining,
    uptake_rate,
)
from recommender.evaporation.surfaces import CM2, alternatives
from recommender.model import Component

LAWS = settings(deadline=None, max_examples=40)
TABLE = Conditions()
LOG = logging.getLogger(__name__)


def put_on(surface, mg_per_cm2, own=TABLE):
    return replace(Application(surface).on(own), load_mg=mg_per_cm2 * own.area_m2 / CM2)


def share_left(part, conditions, hours):
    strip = neat_or_diluted([[part]], conditions=conditions)
    return float((strip.left([hours]) / strip.moles)[0, 0, 0])


def half_life_s(part, conditions):
    hours = np.geomspace(1e-5, 10.0, 4000)
    strip = neat_or_diluted([[part]], conditions=conditions)
    left = (strip.left(hours) / strip.moles)[0, :, 0]
    return 3600.0 * float(np.exp(np.interp(-0.5, -left, np.log(hours))))


def widest(conditions):
    """Return the conditions with the constants at either end of their bands, in every mixture."""
    found = [conditions]
    for pair in alternatives(conditions):
        changed = [{k: v for k, v in vars_of(one).items() if v != vars_of(conditions)[k]} for one in pair]
        found = [replace(one, **change) for one, change in product(found, [{}, *changed])]
    return found


def vars_of(conditions):
    return {name: getattr(conditions, name) for name in Conditions.__dataclass_fields__}


# the form with a sink and a reservoir


@settings(deadline=None, max_examples=12)
@given(
    st.tuples(*[st.floats(1e-6, 1e-3)] * 4),
    st.tuples(*[st.floats(-10.0, -7.0)] * 4),
    st.tuples(*[st.floats(-11.0, -7.0)] * 4),
    st.floats(1e-5, 1e-3),
    st.floats(0.1, 3.0),
)
def test_the_closed_form_agrees_with_runge_kutta(moles, log_rates, log_sinks, reservoir, lives):
    from scipy.integrate import solve_ivp

    start = np.array(moles)
    losses = 10.0 ** np.array(log_rates) + 10.0 ** np.array(log_sinks)
    end = lives * (start.sum() + reservoir) / losses.max()
    seconds = np.linspace(0.0, end, 6)
    solved = solve_ivp(
        lambda _, n: -losses * n / (reservoir + n.sum()),
        (0.0, end),
        start,
        method="RK45",
        t_eval=seconds,
        rtol=1e-10,
        atol=1e-18,
    )
    assert remaining([start], [losses], [reservoir], seconds)[0] == pytest.approx(
        solved.y.T, rel=1e-6, abs=1e-9 * start.sum()
    )


def test_a_worked_example_on_skin():
    # 1 umol and 2 umol on 1 cm2, c = e + s = (3e-10 + 1e-10, 5e-11 + 2e-11) mol/s, reservoir 0.2 umol;
    # at tau = 2e9 s/mol: n = n0 exp(-c tau), t = sum n0 (1 - exp(-c tau)) / c + 0.2e-6 tau, by hand
    moles, losses = np.array([1e-6, 2e-6]), np.array([4e-10, 7e-11])
    left = moles * np.exp([-0.8, -0.14])
    seconds = 1e-6 * (1 - math.exp(-0.8)) / 4e-10 + 2e-6 * (1 - math.exp(-0.14)) / 7e-11 + 0.2e-6 * 2e9
    assert seconds == pytest.approx(5509.2, abs=0.1)
    assert remaining([moles], [losses], [0.2e-6], [seconds])[0, 0] == pytest.approx(left, rel=1e-9)


def test_late_on_a_reservoir_leaves_one_exponential_each(shipped):
    # with a fixative each component decays as one exponential, Saiyasombati, Kasting, Int. J. Cosmet. Sci. 25
    # (2003) 235: a small deposit on skin
    skin = put_on("skin", 1e-4)
    strip = neat_or_diluted([shipped.find("linalool").parts], conditions=skin)
    logs = np.log(strip.left([0.05, 0.1, 0.15])[0, :, 0])
    assert logs[1] - logs[0] == pytest.approx(logs[2] - logs[1], rel=1e-2)


def test_without_sink_and_reservoir_every_surface_is_the_strip(shipped):
    parts = [shipped.find(name).parts for name in ("linalool", "lemon oil", "coumarin")]
    hours = np.geomspace(0.02, 500, 12)
    strip = neat_or_diluted(parts).left(hours)
    for name in SURFACES:
        bare = {field: getattr(TABLE, field) for field in SURFACES[name]}
        same = replace(Application(name).on(TABLE), **bare)
        assert neat_or_diluted(parts, conditions=same).left(hours) == pytest.approx(strip, rel=1e-12, abs=0)


# published figures


def test_half_lives_of_ethanol(shipped):
    # Pendlington et al., Food Chem. Toxicol. 39 (2001) 169 (abstract): 13.6 s on absorbent paper, 11.7 s on
    # pig skin, 24.8 s on glass; the volume is not in the abstract, so one load is taken for all, 1.4 mg/cm2.
    # Glass has one face where a strip has two. The model's times are right within a factor of 2 to 3.
    (ethanol,) = shipped.find("ethanol").parts
    glass = replace(put_on("strip", 1.4), film_m=2 * TABLE.film_m, paper_share=0.0)
    for name, conditions, measured in (
        ("paper", put_on("strip", 1.4), 13.6),
        ("pig skin", put_on("skin", 1.4), 11.7),
        ("glass", glass, 24.8),
    ):
        found = half_life_s(ethanol, conditions)
        LOG.info(f"ethanol on {name}: half-life {found:.1f} s, measured {measured} s")
        assert 1 / 2.5 < found / measured < 2.5, name


def test_the_share_of_linalool_that_skin_takes_up(shipped):
    # human epidermis, open: 1.84 % in dipropylene glycol to 4.08 % in ethanol and water (abstract of "In
    # vitro human skin absorption of linalool"); the share is s / (e + s) whatever else is there
    (linalool,) = shipped.find("linalool").parts

    def share(conditions):
        own = linalool.molar_mass, conditions
        evaporated = float(evaporation_rate(linalool.pressure_pa, *own, linalool.vaporisation_j_per_mol))
        taken_up = float(uptake_rate(linalool.log_p, *own))
        return 100.0 * taken_up / (evaporated + taken_up)

    skin = Application("skin").on(TABLE)
    band = [share(one) for one in widest(skin)]
    spread = f"{min(band):.1f}-{max(band):.1f}"
    LOG.info(f"linalool on skin: {share(skin):.1f} % taken up ({spread}), measured 1.8-4.1 %")
    assert min(band) < 1.84 < 4.08 < max(band)
    assert share(skin) == pytest.approx(math.sqrt(1.84 * 4.08), rel=0.6)


ALLYL_ESTER = Component("allyl cyclohexylpropionate", 1.0, 1.36, 196.29)
"""With the pressure that the paper gives."""


@pytest.mark.parametrize("mg_per_cm2", [0.01, 0.03])
def test_an_ester_on_cotton_and_polyester(mg_per_cm2):
    # J. Appl. Polym. Sci. 99 (2006) 1720 (abstract): after 480 min 20 % left on cotton, none found on
    # polyester; the load is not in the abstract, a small one is taken. The reservoir of cotton rests on this.
    left = {name: share_left(ALLYL_ESTER, put_on(name, mg_per_cm2), 8.0) for name in ("cotton", "polyester")}
    shown = ", ".join(f"{100 * share:.1f} % left on {name}" for name, share in left.items())
    LOG.info(f"allyl cyclohexylpropionate at 8 h: {shown}, measured 20 % and none")
    assert left["cotton"] == pytest.approx(0.20, abs=0.05)
    assert left["polyester"] < 0.02
    assert max(share_left(ALLYL_ESTER, one, 8.0) for one in widest(put_on("polyester", mg_per_cm2))) < 0.2


def test_what_hardly_evaporates_stays_alike_on_both_cloths():
    # the same paper: no difference for hexadec-7-en-16-olide, 0.03 Pa, after 480 min
    musk = Component("hexadec-7-en-16-olide", 1.0, 0.03, 252.4)
    left = [share_left(musk, put_on(name, 0.5), 8.0) for name in ("cotton", "polyester")]
    assert left[0] == pytest.approx(left[1], abs=0.05)


@pytest.mark.parametrize("name", sorted(SURFACES))
def test_each_constant_has_a_band_a_basis_and_a_source(name):
    for field, constant in SURFACES[name].items():
        assert field in Conditions.__dataclass_fields__
        assert constant.low <= constant.value <= constant.high
        assert constant.basis in ("measured", "published", "estimated", "memory")
        assert constant.source


# laws


@LAWS
@given(st.sampled_from(sorted(SURFACES)), st.floats(0.01, 10.0), st.floats(1.05, 20.0), st.floats(0.1, 100.0))
def test_more_on_it_lasts_longer(name, mg_per_cm2, more, hours):
    part = Component("a", 1.0, 10.0, 150.0, log_p=3.0)
    little, much = (share_left(part, put_on(name, mg), hours) for mg in (mg_per_cm2, more * mg_per_cm2))
    assert much >= little * (1 - 1e-9)


@LAWS
@given(st.sampled_from(sorted(SURFACES)), st.floats(0.5, 10.0), st.floats(3e4, 1e5), st.floats(0.1, 100.0))
def test_warmer_is_shorter(name, degrees, heat, hours):
    part = Component("a", 1.0, 10.0, 150.0, log_p=3.0, vaporisation_j_per_mol=heat)
    conditions = Application(name).on(TABLE)
    warm = replace(conditions, temperature_c=conditions.temperature_c + degrees)
    assert share_left(part, warm, hours) <= share_left(part, conditions, hours) * (1 + 1e-9)


@LAWS
@given(st.floats(0.0, 10.0), st.floats(0.1, 10.0), st.floats(-1.0, 6.0), st.floats(0.1, 100.0))
def test_a_sink_never_lengthens(uptake, more, log_p, hours):
    part = Component("a", 1.0, 1.0, 200.0, log_p=log_p)
    skin = Application("skin").on(TABLE)
    weak, strong = (replace(skin, uptake=u) for u in (uptake, uptake + more))
    assert share_left(part, strong, hours) <= share_left(part, weak, hours) * (1 + 1e-9)


def test_each_material_follows_the_warmth_by_its_own_heat():
    # 40 and 80 kJ/mol: 10 degrees are exp(4811 x 1.0883e-4) = 1.69 and 2.85 times (by hand)
    warm = Conditions(temperature_c=35.0)
    light, heavy = (
        float(evaporation_rate(10.0, 150.0, warm, heat) / evaporation_rate(10.0, 150.0))
        for heat in (40e3, 80e3)
    )
    assert light * 308.15 / 298.15 == pytest.approx(1.688, rel=1e-3)
    assert heavy * 308.15 / 298.15 == pytest.approx(2.850, rel=1e-3)


def test_a_dilution_is_stronger_when_its_carrier_has_left(shipped):
    # dipropylene glycol on a strip: k p / (R T) = 3.03e-3 x 2.75 / 2479 mol/m2/s, gone in 24.6 h (by hand)
    from recommender.evaporation import CARRIER, together

    (glycol,) = shipped.find("dipropylene glycol").parts
    assert CARRIER.name == glycol.name
    assert CARRIER.molar_mass == pytest.approx(glycol.molar_mass, rel=1e-4)
    assert CARRIER.pressure_pa == pytest.approx(glycol.pressure_pa, rel=0.05)
    assert CARRIER.vaporisation_j_per_mol == pytest.approx(glycol.vaporisation_j_per_mol, rel=0.05)
    assert share_left(glycol, replace(TABLE, paper_share=0.0), 12.3) == pytest.approx(0.5, abs=0.02)
    parts = [shipped.find("vanillin").parts]
    staying, leaving = (
        together(neat_or_diluted(parts, 0.01, carrier=carrier).at([1 / 60, 1.0, 24.0]))[0]
        for carrier in (None, CARRIER)
    )
    assert leaving[:2] == pytest.approx(staying[:2], rel=0.05)
    assert leaving[2] > 2 * staying[2]
