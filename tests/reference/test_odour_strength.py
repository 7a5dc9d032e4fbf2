import pytest

import recommender
from recommender import evaporation
from recommender.chemistry import odour_strength
from recommender.evidence.catalogue import load
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
def test_the_strength_in_the_catalogue_rests_on_the_measured_curve_and_is_near_it(
    name, i_max, half, width, threshold_ug_m3
):
    curve = recommender.material(name).curve
    assert curve is not None
    assert (curve.i_max, curve.width) == (odour_strength.TYPICAL_MAXIMUM, odour_strength.TYPICAL_WIDTH)
    assert (curve.kind, curve.source) == ("curve", "wakayama-2019")
    # class, use level and pairs move a measured curve: by less than a factor of five here
    assert 0.2 <= odour_strength.threshold_ng_per_l(curve) / threshold_ug_m3 <= 5.0


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


def test_materials_of_which_only_the_class_is_on_record_stand_in_its_order():
    names = (
        "2-acetyl-1-pyrroline",  # extreme, common practice
        "2-acetylpyridine",  # very strong, memory
        "2,3-dimethylpyrazine",  # strong
        "2-acetylpyrrole",  # medium
    )
    found = [recommender.material(name).strength for name in names]
    assert found == sorted(found, reverse=True)


@pytest.mark.parametrize("name", ["diacetyl", "trimethylamine"])
def test_a_class_without_a_curve_says_so(name):
    curve = recommender.material(name).curve
    assert curve is not None
    assert (curve.kind, curve.i_max, curve.width, curve.doubtful) == ("class", 40.0, 0.5, False)


# Shares: common practice.
@pytest.mark.parametrize("name", ["lavandin oil", "juniper berry oil", "laurel leaf oil", "rose absolute"])
def test_the_parts_of_a_natural_keep_their_strength_against_each_other(name):
    natural = recommender.material(name)
    by_slug = {m.slug: m for m in recommender.materials().value}
    moved = [
        (part.curve.log10_half - by_slug[part.name].curve.log10_half, part.pressure_pa)
        for part in natural.parts
        if part.curve and part.name in by_slug and by_slug[part.name].curve
    ]
    least = min(shift for shift, _ in moved)
    together = [pressure for shift, pressure in moved if shift == pytest.approx(least, abs=1e-4)]
    alone = [pressure for shift, pressure in moved if shift != pytest.approx(least, abs=1e-4)]
    # all but those that would be smelled when the strip no longer is: the least volatile
    assert len(together) >= max(3, 0.75 * len(moved))
    assert max(alone, default=0.0) < min(together)


@pytest.mark.parametrize(("name", "grade"), [("jasmine absolute", "strong"), ("oakmoss absolute", "medium")])
def test_a_natural_of_which_little_is_known_smells_about_as_its_class_says(name, grade):
    natural = recommender.material(name)
    middle = load().parameters[f"class {grade}"]
    assert odour_strength.decades_above_clear(natural.strength) == pytest.approx(middle, abs=0.3)
    assert {part.curve.kind for part in natural.parts if part.curve} == {"class"}


def test_shipped_strength_is_that_of_the_model():
    materials = [recommender.material(name) for name in ("benzaldehyde", "lavender oil", "vanillin")]
    assert evaporation.strengths(materials) == [pytest.approx(m.strength, rel=1e-3) for m in materials]
