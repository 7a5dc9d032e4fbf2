"""Odours in mixtures: a worked accord, masking, and the rules of published studies."""

import numpy as np
import pytest

from recommender.evaporation import SurfaceState, evaporation_rate, together
from recommender.evaporation.conditions import NOSE_L_PER_S
from recommender.evaporation.course import masked

HOURS = (1 / 60, 0.5, 1.0, 4.0, 24.0, 72.0)


@pytest.fixture(scope="module")
def accord():
    """20 mg of a cherry accord: intensity of each material at the hours."""
    rows = [
        # mg, g/mol, Pa at 25 C, curve: top, log10 ug/L at the half, width. Curves: Wakayama, Sakasai,
        # Yoshikawa, Inoue, Ind. Eng. Chem. Res. 2019, doi 10.1021/acs.iecr.9b01225, supporting table.
        # limonene: 200 Pa, static method, Fluid Phase Equilibria 1999 (abstract)
        (2.0, 136.24, 200.0, 52.62, 1.71, 0.50),
        # benzaldehyde: 171 Pa, correlations of the chemicals library valid at 298 K
        (1.5, 106.12, 171.0, 62.02, 1.23, 0.69),
        # gamma-nonalactone: estimates range over 0.7-5.4 Pa
        (2.0, 156.22, 1.9, 34.60, -0.09, 0.45),
        # ethyl maltol: order of magnitude, set so that caramel starts at its figure  # memory
        (1.5, 140.14, 0.13, 49.29, -1.59, 0.61),
        # ethyl vanillin: sublimation 0.0206 Pa (Landolt-Boernstein fit), times 3.3 for the subcooled liquid
        (2.0, 166.17, 0.0678, 43.45, -1.06, 0.45),
        # dipropylene glycol: order of magnitude  # memory
        (11.0, 134.17, 2.0, 0.0, 0.0, 1.0),
    ]
    mg, molar, pressure, top, half, width = np.array(rows).T
    strips = SurfaceState(
        moles=mg * 1e-3 / molar,
        rates=evaporation_rate(pressure, molar),
        sinks=np.zeros(len(rows)),
        molar_mass=molar,
        i_max=top,
        log10_half=half,
        width=width,
        inert=np.array(1.5e-6),
        nose_l_per_s=NOSE_L_PER_S,
    )
    names = ("citrus", "almond", "coconut", "caramel", "vanilla")
    return dict(zip(names, strips.at(HOURS).T, strict=False))


# Computed apart from this package with the same published data; vapour pressures of the slow ones are
# orders of magnitude, hence 15 %.
@pytest.mark.parametrize(
    ("facet", "expected"),
    [
        ("almond", (35.2, 21.6, 8.9, 0.0, 0.0, 0.0)),
        ("citrus", (22.0, 9.0, 2.1, 0.0, 0.0, 0.0)),
        ("coconut", (10.0, 11.1, 11.4, 11.4, 9.7, 0.0)),
        ("caramel", (22.0, 23.5, 23.9, 24.8, 30.7, 34.5)),
        ("vanilla", (5.1, 5.9, 6.2, 6.8, 11.8, 20.3)),
    ],
)
def test_the_worked_accord_hour_by_hour(accord, facet, expected):
    assert accord[facet] == pytest.approx(expected, rel=0.15, abs=0.05)


def test_vanilla_and_caramel_rise_as_solvent_and_top_leave(accord):
    assert (np.diff(accord["vanilla"]) > 0).all()
    assert (np.diff(accord["caramel"]) > 0).all()


# own^2 / (own + 0.147 other), fitted to panel means of 198 pairs: Ma, Tang, Thomas-Danguin, Xu 2021,
# doi 10.15454/51OVY6
@pytest.mark.parametrize(
    ("own", "other", "seen"),
    [(30.0, 30.0, 26.155), (30.0, 40.0, 25.084), (10.0, 60.0, 5.313), (60.0, 10.0, 58.565)],
)
def test_one_odour_hides_part_of_another(own, other, seen):
    whole = together(np.array([own, other]))
    assert float(masked(np.array(own), whole)) == pytest.approx(seen, abs=0.002)


# the same panel: no rule that adds fully describes a pair (arithmetic sum +5.13 on a scale of 0-10, root
# of squares +1.76); the stronger component alone is nearest, -0.27
def test_two_equal_odours_are_only_a_little_stronger_than_one():
    assert float(together(np.array([5.0, 5.0]))) == pytest.approx(5.0, rel=0.1)


def odour_intensity(log_oav):
    # Sensors 15 (2015) 5697: odour intensity against ln of the odour activity value, line through its column
    return 1.044 * np.array(log_oav) + 0.080


# stronger-component entries of the mixture table, Sensors 15 (2015) 5697
STRONGER = [
    ((3.36, 3.54), 3.8),
    ((2.34, 4.53), 4.8),
    ((2.34, 2.44, 3.49), 3.7),
    ((4.24, 2.20, 3.83, 2.15), 4.5),
    ((1.85, 1.77, 2.20, 2.15), 2.4),
]


@pytest.mark.parametrize(("logs", "published"), STRONGER)
def test_the_p_norm_lies_a_little_above_the_stronger_component(logs, published):
    ours = float(together(odour_intensity(logs)))
    assert published - 0.1 <= ours <= 1.2 * published + 0.1


# vector-model entries of the same table: the least square fit of the panel, above any one component
@pytest.mark.parametrize(
    ("logs", "published"),
    [
        ((3.36, 3.54), 4.9),
        ((3.03, 2.44), 3.9),
        ((2.34, 4.53), 5.2),
        ((3.54, 2.20, 3.83), 5.3),
        ((4.24, 2.20, 4.53), 6.2),
    ],
)
def test_the_p_norm_lies_between_the_stronger_component_and_the_vector_rule(logs, published):
    ours = float(together(odour_intensity(logs)))
    assert odour_intensity(logs).max() <= ours <= published


# One odour family (aromatic hydrocarbons) adds more than odours in general: measured 5.4, vector rule 4.9.
def test_the_p_norm_reads_low_within_one_odour_family():
    assert float(together(odour_intensity((3.36, 3.54)))) == pytest.approx(4.03, abs=0.01)
