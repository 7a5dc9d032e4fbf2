import itertools
import math
from dataclasses import replace
from statistics import fmean

import numpy as np
import pytest

import recommender
from recommender.evaporation import neat_or_diluted

# W. A. Poucher, J. Soc. Cosmet. Chem. 6(2), 1955, 81-94; read from pages 86 and 90. 100 is his cap.
POUCHER_MOLECULES = {
    "benzyl acetate": 1,
    "alpha-terpineol": 3,
    "phenethyl alcohol": 4,
    "piperonal": 15,
    "p-anisaldehyde": 21,
    "cinnamyl alcohol": 65,
    "hydroxycitronellal": 80,
    "ethyl methylphenylglycidate": 88,
    "cyclamen aldehyde": 89,
    "gamma-undecalactone": 91,
    "alpha-amylcinnamaldehyde": 100,
    "coumarin": 100,
    "isoeugenol": 100,
    "vanillin": 100,
    "musk ambrette": 100,
    "musk ketone": 100,
    "musk xylene": 100,
}
POUCHER_NATURALS = {
    "opoponax resinoid": 90,
    "orris butter": 90,
    "angelica root oil": 94,
    "labdanum absolute": 100,
    "labdanum resinoid": 100,
    "oakmoss absolute": 100,
    "patchouli oil": 100,
    "sandalwood oil": 100,
    "vetiver oil": 100,
}
# He gives 100 to these three as well: they turn on paper and leave an odour, which is not evaporation.
POUCHER_TURN_ON_PAPER = ("decanal", "undecanal", "phenylacetaldehyde")

# M. Zarzo, Sensors 13 (2013) 463-483, table 1: substantivity index over 820 perfumes, 0 always top,
# 100 always base; descriptors that are facets here (clary sage is sage, olibanum incense, mossy and
# oakmoss oakmoss, ambery labdanum, musk clean musk). "watery" rests on one perfume and is left out.
ZARZO = {
    "bergamot": 0,
    "lemon": 0,
    "citrus": 0,
    "aldehydic": 0,
    "peach": 2,
    "galbanum": 3,
    "herbal": 3,
    "lavender": 6,
    "peppermint": 6,
    "fresh": 6,
    "green": 7,
    "fruity": 8,
    "anise": 9,
    "sage": 21,
    "spicy": 30,
    "floral": 48,
    "pine": 49,
    "clove": 50,
    "honey": 69,
    "fir": 82,
    "woody": 82,
    "patchouli": 83,
    "cedar": 85,
    "sweet": 88,
    "incense": 99,
    "oakmoss": 100,
    "civet": 100,
    "castoreum": 100,
    "leather": 100,
    "labdanum": 100,
    "vanilla": 100,
    "balsamic": 100,
    "tonka": 100,
    "clean musk": 100,
    "powdery": 100,
}


def spearman(one: list[float], two: list[float]) -> float:
    from scipy.stats import spearmanr

    return float(spearmanr(one, two).statistic)


def hours(name: str) -> float:
    stay = recommender.material(name).lasting
    assert stay is not None
    return stay.hours


# Measured: 0.85 over 17 molecules, which the film model places; 0.84 over all 26. The hours of naturals are
# common practice, so the molecules are the test of the model.
@pytest.mark.parametrize(
    "coefficients",
    [POUCHER_MOLECULES, POUCHER_MOLECULES | POUCHER_NATURALS],
    ids=["molecules", "with naturals"],
)
def test_lasting_ranks_as_pouchers_coefficients(coefficients, record_property):
    rho = spearman(list(coefficients.values()), [hours(name) for name in coefficients])
    record_property("n", len(coefficients))
    record_property("rho", round(rho, 3))
    assert rho >= 0.8


CONTRADICTED = {"isoeugenol", "hydroxycitronellal"}
"""Published pressures (landolt: 0.683 and 0.589 Pa) contradict the order of this pair; hours are level."""


# Measured: 26 of 27 pairs, 22 of 22 where published pressures of both do not contradict the order.
# Molar mass alone is right in far fewer.
def test_of_two_molecules_of_like_mass_the_one_that_poucher_holds_longer_lasts_longer(record_property):
    found: dict[bool, list[bool]] = {True: [], False: []}
    for one, other in itertools.combinations(POUCHER_MOLECULES, 2):
        pair = [recommender.material(name) for name in (one, other)]
        apart = POUCHER_MOLECULES[one] - POUCHER_MOLECULES[other]
        if abs(pair[0].molar_mass - pair[1].molar_mass) <= 20 and abs(apart) >= 10:
            measured = all(m.parts[0].basis == "published" for m in pair) and {one, other} != CONTRADICTED
            found[measured].append((hours(one) - hours(other)) * apart > 0)
    record_property("right", {key: f"{sum(values)} of {len(values)}" for key, values in found.items()})
    assert all(found[True])
    assert fmean(found[True] + found[False]) >= 0.85
    level = recommender.material("isoeugenol").lasting.hours / hours("hydroxycitronellal")
    assert level == pytest.approx(1.0, abs=0.1)


def test_every_coefficient_of_poucher_is_held_and_none_else():
    held = {
        m.name: m.figures["poucher_coefficient"][0].value
        for m in recommender.materials().value
        if "poucher_coefficient" in m.figures
    }
    assert held == POUCHER_MOLECULES | POUCHER_NATURALS | dict.fromkeys(POUCHER_TURN_ON_PAPER, 100)


@pytest.mark.parametrize("name", POUCHER_TURN_ON_PAPER)
def test_aldehydes_that_turn_on_paper_are_not_called_base(name):
    stay = recommender.material(name).lasting
    assert stay is not None
    assert stay.position in ("top", "heart")


# Measured: 0.76 over 35 facets.
def test_facets_last_as_the_substantivity_index_says(record_property):
    means = []
    for facet in ZARZO:
        stays = [m.lasting for m in recommender.materials().value if m.strength_of(facet)]
        means.append(fmean(math.log(stay.hours) for stay in stays if stay is not None))
    rho = spearman(list(ZARZO.values()), means)
    record_property("n", len(means))
    record_property("rho", round(rho, 3))
    assert rho >= 0.7


def test_mass_does_not_decide_decanal_leaves_long_before_vanillin():
    # 156 and 152 g/mol; 12.7 Pa (Perry's Handbook, 8th edition) and 0.029 Pa (Landolt-Boernstein IV/20)
    decanal, vanillin = recommender.material("decanal"), recommender.material("vanillin")
    assert decanal.molar_mass == pytest.approx(vanillin.molar_mass, rel=0.03)
    assert hours("vanillin") > 50 * hours("decanal")


@pytest.mark.parametrize(
    ("position", "names"),  # common practice
    [
        ("top", ["limonene", "benzaldehyde", "cis-3-hexenol", "isoamyl acetate", "ethyl butyrate"]),
        (
            "heart",
            ["phenethyl alcohol", "geraniol", "eugenol", "alpha-ionone", "beta-ionone", "citronellol"],
        ),
        (
            "base",
            ["coumarin", "vanillin", "ethylene brassylate", "HHCB", "patchouli oil", "cyclopentadecanolide"],
        ),
    ],
)
def test_materials_that_the_trade_agrees_on_stand_where_it_puts_them(position, names):
    stays = {name: recommender.material(name).lasting for name in names}
    assert {name: stay and stay.position for name, stay in stays.items()} == dict.fromkeys(names, position)


def acetophenone_with(additive: str | None) -> np.ndarray:
    (odorant,) = recommender.material("acetophenone").parts
    parts = [odorant]
    if additive:
        (fixative,) = recommender.material(additive).parts
        parts = [
            replace(odorant, mass_fraction=0.9),
            replace(fixative, mass_fraction=0.1, curve=None),
        ]
    return neat_or_diluted([parts]).at(np.linspace(0.05, 24.0, 480))[0, :, 0]


def test_the_fixative_order_of_poucher():
    # Poucher 1955, page 88: 10 % benzyl alcohol, diethyl phthalate or benzyl benzoate in acetophenone; the
    # pure material is strongest at first, later the order follows the additive, benzyl benzoate strongest.
    courses = {
        name: acetophenone_with(name)
        for name in (None, "benzyl alcohol", "diethyl phthalate", "benzyl benzoate")
    }
    early = {name: course[0] for name, course in courses.items()}
    last = {name: np.flatnonzero(course >= 1.4)[-1] for name, course in courses.items()}
    assert max(early, key=early.__getitem__) is None
    assert sorted(last, key=last.__getitem__) == [
        None,
        "benzyl alcohol",
        "diethyl phthalate",
        "benzyl benzoate",
    ]
