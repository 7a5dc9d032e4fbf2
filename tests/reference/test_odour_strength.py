import pytest

import recommender
from recommender import evaporation
from recommender.chemistry import odour_strength
from recommender.model import Curve

# H. Wakayama, M. Sakasai, K. Yoshikawa, M. Inoue, Ind. Eng. Chem. Res. 2019, doi 10.1021/acs.iecr.9b01225:
# supporting table and equation 3.
CURVES = pytest.mark.parametrize(
    ("name", "i_max", "half", "width", "threshold_ug_m3"),
    [
        ("benzaldehyde", 62.02, 1.23, 0.69, 42.7),
        ("coumarin", 26.79, -0.68, 0.77, 1.23),
        ("limonene", 52.62, 1.71, 0.50, 813.0),
        ("4-hydroxy-2,5-dimethyl-3(2H)-furanone", 48.78, -0.94, 0.56, 1.22),
    ],
)


@CURVES
def test_threshold_of_a_measured_curve(name, i_max, half, width, threshold_ug_m3):
    curve = Curve(i_max, half, width, "curve", "published")
    assert odour_strength.threshold_ng_per_l(curve) == pytest.approx(threshold_ug_m3, rel=0.005)


@CURVES
def test_the_catalogue_holds_the_measured_curve(name, i_max, half, width, threshold_ug_m3):
    curve = recommender.material(name).curve
    assert curve is not None
    assert (curve.i_max, curve.width) == (i_max, width)
    # a curve that contradicts the class of the trade by more than five times is moved, and says so
    assert curve.log10_half == half or curve.doubtful
    assert curve.source == "wakayama-2019"


# Stevens' law, exponents 0.2-0.8 for odours: a tenfold dilution divides the intensity by 1.6 to 6.3
# (guidance pages on odour regulation).
@pytest.mark.parametrize(("exponent", "factor"), [(0.2, 1.6), (0.8, 6.3)])
def test_a_curve_behaves_as_stevens_law_far_below_its_maximum(exponent, factor):
    # far below the half point the logistic is a power law with exponent 1 / (width ln 10)
    curve = Curve(1e6, 20.0, 1 / (exponent * 2.302585), "curve", "published")
    strong, weak = odour_strength.intensity([1.0, 0.1], curve)
    assert strong / weak == pytest.approx(factor, rel=0.015)


@CURVES
def test_a_tenfold_dilution_in_mid_curve_divides_the_intensity_as_published(
    name, i_max, half, width, threshold_ug_m3
):
    curve = Curve(i_max, half, width, "curve", "published")
    strong, weak = odour_strength.intensity([10 ** (half + 0.5), 10 ** (half - 0.5)], curve)
    assert 1.6 <= strong / weak <= 6.3


def first_smelled(name: str, dilution: float) -> float:
    parts = recommender.material(name).parts
    return float(evaporation.together(evaporation.neat_or_diluted([parts], dilution).at([1 / 60]))[0, 0])


@pytest.mark.parametrize(
    ("name", "dilution", "wanted", "at_one_per_cent"),
    [
        ("2,3-dimethylpyrazine", 0.01, 12.0, 12.0),  # strong
        ("2-acetylpyrrole", 0.01, 5.0, 5.0),  # medium
        ("2,3,5-trimethylpyrazine", 0.001, 12.0, 30.4),  # very strong, memory
        ("2-acetylpyridine", 0.001, 12.0, 30.4),  # very strong, memory
        ("2-acetyl-1-pyrroline", 0.0001, 24.0, 39.5),  # extreme, common practice
    ],
)
def test_a_class_is_what_a_strip_smells_at_the_dilution_in_which_it_is_used(
    name, dilution, wanted, at_one_per_cent
):
    assert first_smelled(name, dilution) == pytest.approx(wanted, rel=0.1)
    assert recommender.material(name).strength == pytest.approx(at_one_per_cent, rel=0.02)


@pytest.mark.parametrize("name", ["diacetyl", "trimethylamine"])
def test_a_class_without_a_curve_says_so(name):
    curve = recommender.material(name).curve
    assert curve is not None
    assert (curve.kind, curve.i_max, curve.width, curve.doubtful) == ("class", 40.0, 0.5, False)


# Shares: common practice. Most of these oils is measured molecules; much of the two absolutes is wax or not
# known by name.
@pytest.mark.parametrize("name", ["lavandin oil", "juniper berry oil", "laurel leaf oil"])
def test_the_parts_of_a_well_known_natural_have_the_curves_that_they_have_alone(name):
    measured = [
        part for part in recommender.material(name).parts if part.curve and part.curve.kind == "curve"
    ]
    assert sum(part.mass_fraction for part in measured) >= 0.6
    for part in measured:
        assert part.curve == recommender.material(part.name).curve


@pytest.mark.parametrize(("name", "wanted"), [("jasmine absolute", 12.0), ("oakmoss absolute", 5.0)])
def test_a_natural_of_which_little_is_known_smells_as_its_class_says(name, wanted):
    natural = recommender.material(name)
    assert natural.strength == pytest.approx(wanted, rel=1e-3)
    assert {part.curve.kind for part in natural.parts if part.curve} == {"class"}


def test_shipped_strength_is_that_of_the_model():
    materials = [recommender.material(name) for name in ("benzaldehyde", "lavender oil", "vanillin")]
    assert evaporation.strengths(materials) == [pytest.approx(m.strength, rel=1e-3) for m in materials]
