import math

import pytest

import recommender
from recommender.chemistry import vapour_pressure

# P. B. Myrdal, S. H. Yalkowsky, Ind. Eng. Chem. Res. 36 (1997) 2494; hydrogen bond numbers by hand.
MYRDAL_YALKOWSKY = {
    "limonene": ("CC(=C)C1CCC(C)=CC1", 450.0, 0.0, 0.0, 179.0),
    "linalool": ("CC(C)=CCCC(C)(O)C=C", 471.0, 3.5, 0.0065, 28.0),
    "2-nonanone": ("CCCCCCCC(C)=O", 468.0, 5.5, 0.0, 55.0),
    "geraniol": ("CC(C)=CCCC(C)=CCO", 503.0, 4.0, 0.0065, 4.8),
}
EXAMPLES = pytest.mark.parametrize(
    ("smiles", "boiling_k", "tau", "hbn", "pascal"), MYRDAL_YALKOWSKY.values(), ids=MYRDAL_YALKOWSKY
)


@EXAMPLES
def test_pressure_from_the_boiling_point(smiles, boiling_k, tau, hbn, pascal):
    assert vapour_pressure.myrdal_yalkowsky(boiling_k, tau, hbn) == pytest.approx(pascal, rel=0.015)


@EXAMPLES
def test_torsions_and_hydrogen_bonds_from_the_structure(smiles, boiling_k, tau, hbn, pascal):
    assert vapour_pressure.torsion_and_hydrogen_bonds(smiles) == (tau, pytest.approx(hbn, abs=5e-5))


@pytest.mark.parametrize(
    ("name", "pascal"),
    [
        # Static method, Fluid Phase Equilibria 1999 (abstract).
        ("linalool", 27.0),
        ("(R)-limonene", 200.0),
        ("isoamyl acetate", 733.0),
        # D. Kozlovskiy, C. Gobble, J. Chickos, J. Chem. Thermodyn. 86 (2015) 65 (abstract).
        ("prenyl acetate", 468.0),
        ("phenethyl acetate", 13.2),
        ("linalyl acetate", 12.2),
        ("citronellyl acetate", 4.0),
        ("ethyl cinnamate", 1.5),
    ],
)
def test_the_preferred_pressure_is_near_the_measured_one(name, pascal):
    figure = vapour_pressure.pressure(recommender.material(name))
    assert figure is not None
    assert 1 / 2.5 <= figure.value / pascal <= 2.5


# Each has a correlation in the open library that is valid at 298.15 K.
@pytest.mark.parametrize(
    "name",
    [
        "acetophenone",
        "alpha-pinene",
        "anisole",
        "benzaldehyde",
        "benzyl alcohol",
        "beta-pinene",
        "butyl acetate",
        "decanal",
        "ethyl butyrate",
        "eugenol",
        "hexanoic acid",
        "linalyl propionate",
        "myrcene",
        "nonanal",
        "phenylacetaldehyde",
    ],
)
def test_the_preferred_pressure_agrees_with_correlations_of_the_open_library(name):
    from statistics import median

    from thermo import VaporPressure

    material = recommender.material(name)
    library = VaporPressure(CASRN=material.cas)
    valid = [m for m in library.all_methods if m in library.T_limits and _spans(library.T_limits[m])]
    figure = vapour_pressure.pressure(material)
    assert figure is not None
    assert figure.value == pytest.approx(median(library.calculate(298.15, m) for m in valid), rel=0.25)


def test_a_correlation_that_the_other_measurements_contradict_is_not_followed():
    # 4.62 Pa by one correlation within its range; 13 Pa at 20 C, 14.5 and 9 Pa by three other figures
    figure = vapour_pressure.pressure(recommender.material("methyl salicylate"))
    assert figure is not None
    assert 7.0 <= figure.value <= 15.0


def _spans(limits: tuple[float, float]) -> bool:
    return limits[0] <= 298.15 <= limits[1]


# Sublimation pressures at 298 K: Landolt-Boernstein, New Series IV/20 (1999), by the library
# `chemicals`. Ratios by Walden's rule, 56.5 J/mol/K.
SOLIDS = pytest.mark.parametrize(
    ("name", "melting_k", "crystal_pa", "ratio"),
    [
        ("vanillin", 355.15, 0.0293, 3.7),
        ("ethyl vanillin", 350.15, 0.0206, 3.3),
        ("coumarin", 343.15, 0.106, 2.8),
        ("piperonal", 310.15, 0.634, 1.3),
    ],
)


@SOLIDS
def test_walden_ratio_of_liquid_to_crystals(name, melting_k, crystal_pa, ratio):
    assert vapour_pressure.subcooled_pressure(crystal_pa, melting_k) / crystal_pa == pytest.approx(
        ratio, abs=0.05
    )


@SOLIDS
def test_crystals_and_their_liquid_are_fused_from_all_rows_and_near_the_measured_crystals(
    name, melting_k, crystal_pa, ratio
):
    (part,) = recommender.material(name).parts
    assert part.crystal_pa is not None
    assert 0.5 <= part.crystal_pa / crystal_pa <= 2.0
    assert part.pressure_pa / part.crystal_pa == pytest.approx(ratio, abs=0.05)


def test_crystals_of_camphor_are_near_the_published_pressure():
    # 27 Pa at 25 C (0.2 mm Hg, handbooks); the molecules turn in the crystals, so that Walden's rule,
    # which makes the liquid four times as volatile, does not hold
    (part,) = recommender.material("camphor").parts
    assert part.crystal_pa is not None
    assert 27.0 / 2 <= part.crystal_pa <= 27.0 * 2
    assert part.pressure_pa / part.crystal_pa < vapour_pressure.subcooled_pressure(1.0, 449.0)


def test_measured_subcooled_piperonal_is_near_waldens_rule():
    # Landolt-Boernstein, New Series IV/20: 1.03 Pa for the supercooled liquid, 0.634 Pa for the crystals
    assert abs(math.log10(vapour_pressure.subcooled_pressure(0.634, 310.15) / 1.03)) < 0.15
