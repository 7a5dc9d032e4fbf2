from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import recommender
from recommender.evaporation.course import course, film_of, with_added
from recommender.formulas import dosing, simulation
from recommender.model import Amount
from recommender.palette import Palette

LAWS = settings(deadline=None, max_examples=30)


@pytest.fixture(scope="module")
def palette(material, catalogue_of):
    zest, ember = (
        material(slug, {facet: 3}, pressure_pa=pressure).parts[0]
        for slug, facet, pressure in (("zest", "lemon", 100.0), ("ember", "smoke", 0.1))
    )
    halves = (replace(zest, mass_fraction=0.5), replace(ember, mass_fraction=0.5))
    return Palette.of(
        catalogue_of(
            [
                material("oil", {"lemon": 3, "smoke": 2}, kind="natural", parts=halves),
                material("zest", {"lemon": 3}, pressure_pa=100.0),
                material("petal", {"rose": 3}, pressure_pa=5.0),
                material("ember", {"smoke": 3}, pressure_pa=0.1),
                material("lime-wax", {"lime": 3}, pressure_pa=0.5),
                material("mute", curve=None),
            ]
        )
    )


@pytest.fixture(scope="module")
def film(palette):
    def put(**shares):
        amounts = [Amount(palette.catalogue.by_slug(slug.replace("_", "-")), s) for slug, s in shares.items()]
        return film_of(amounts, palette.space, palette.catalogue.index)

    return put


@LAWS
@given(st.floats(1e-4, 0.5), st.floats(0.05, 0.95))
def test_a_candidate_added_to_the_stored_course_gives_the_full_course(film, share, zest):
    base, candidate = film(zest=zest, ember=1 - zest), film(petal=1.0)
    found = simulation.simulate(base, [candidate], np.array([share]))
    inside = (found.hours[0] > 1 / 60) & (found.hours[0] < 168)
    whole = course(with_added(base, candidate, share), found.hours[0][inside])
    assert found.facets[0][inside] == pytest.approx(whole.facets, rel=1e-6, abs=1e-6)


def test_a_natural_among_molecules_gives_the_full_course_too(film):
    base, candidates = film(zest=0.5, ember=0.5), [film(petal=1.0), film(oil=1.0)]
    shares = np.array([0.05, 0.2])
    found = simulation.simulate(base, candidates, shares)
    for place, (candidate, share) in enumerate(zip(candidates, shares, strict=True)):
        inside = (found.hours[place] > 1 / 60) & (found.hours[place] < 168)
        whole = course(with_added(base, candidate, share), found.hours[place][inside])
        assert found.facets[place][inside] == pytest.approx(whole.facets, rel=1e-6, abs=1e-6)


def test_candidates_side_by_side_do_not_touch_each_other(film):
    base, pair = film(zest=0.5, ember=0.5), [film(petal=1.0), film(lime_wax=1.0)]
    shares = np.array([0.02, 0.1])
    both = simulation.simulate(base, pair, shares)
    for place in (0, 1):
        alone = simulation.simulate(base, [pair[place]], shares[place : place + 1])
        inside = (both.hours[place] > 1 / 60) & (both.hours[place] < 168)
        again = [
            np.interp(both.hours[place][inside], alone.hours[0], alone.facets[0][:, k])
            for k in range(both.facets.shape[2])
        ]
        assert pytest.approx(np.array(again), abs=0.7) == both.facets[place][inside].T


def test_soft_presence_is_half_at_six_and_sees_only_its_window():
    hours = np.array([[0.1, 1.0, 10.0, 100.0]])
    steady = np.full((1, 4, 1), 6.0)
    late = np.array([[[0.0], [0.0], [6.0], [6.0]]])
    assert simulation.soft_presence(hours, steady, 0.5, 50.0)[0] == pytest.approx([0.5])
    assert simulation.soft_presence(hours, late, 0.1, 1.0)[0] == pytest.approx([0.0])
    assert simulation.soft_presence(hours, late, 10.0, 100.0)[0] == pytest.approx([0.5])


# doses


@pytest.mark.parametrize(
    ("best", "most", "rungs"),
    [(12.0, 30.0, (4.0, 6.0, 12.0)), (30.0, 12.0, (4.0, 6.0, 12.0)), (0.03, 1.0, (0.01, 0.015, 0.03))],
)
def test_the_ladder_is_a_third_a_half_and_the_full_amount_below_what_stands_out(best, most, rungs):
    found = dosing.dose_range(best, most)
    assert (found.low, found.first_try, found.high) == rungs


@pytest.mark.parametrize(
    ("parts", "batch_g", "resolution_g", "percent"),
    [
        (0.02, 10.0, 0.01, 0.1),  # 0.2 mg of a strong pyrazine: 0.2 g of a 0.1 % dilution (common practice)
        (1.0, 10.0, 0.01, 10.0),
        (0.5, 10.0, 0.01, 1.0),
        (10.0, 10.0, 0.01, None),
        (1.0, 100.0, 0.01, None),
        (1.0, 10.0, 0.001, None),
        (0.01, 10.0, 0.01, 0.1),
        (0.009, 10.0, 0.01, 0.01),  # a thiol: 0.09 mg
        (1e-6, 10.0, 0.01, 0.01),
    ],
)
def test_a_dose_is_weighed_in_the_strongest_dilution_that_the_balance_can_tell(
    parts, batch_g, resolution_g, percent
):
    assert dosing.dilution(parts, batch_g, resolution_g) == percent


@LAWS
@given(st.floats(0.1, 40.0))
def test_equal_strength_goes_both_ways(parts):
    one, other = recommender.material("eugenol").value, recommender.material("linalool").value
    there = dosing.equal_strength(one, other, parts)
    assert there is not None
    assert dosing.equal_strength(other, one, there) == pytest.approx(parts, rel=1e-3)


@pytest.mark.parametrize("name", ["linalool", "vanillin", "rose oil"])
def test_a_material_is_as_strong_as_itself(shipped, name):
    found = shipped.find(name)
    assert dosing.equal_strength(found, found, 5.0) == pytest.approx(5.0, rel=1e-3)


def test_a_stronger_material_needs_less(palette, material):
    weak = palette.catalogue.by_slug("petal")
    strong = material("strong", pressure_pa=50.0)
    assert dosing.equal_strength(strong, weak, 10.0) < 2.0


def test_without_a_smell_no_dose_is_as_strong(palette):
    mute, zest = palette.catalogue.by_slug("mute"), palette.catalogue.by_slug("zest")
    assert dosing.equal_strength(mute, zest, 1.0) is None
    assert dosing.equal_strength(zest, mute, 1.0) is None


# first amounts


def test_first_amounts_rise_from_pyrazine_to_coumarin(shipped):
    # common practice: a nut pyrazine goes in by traces, benzaldehyde sparingly, vanillin and coumarin freely
    names = ("2-ethyl-3,5-dimethylpyrazine", "benzaldehyde", "vanillin", "coumarin")
    amounts = dosing.first_amounts([shipped.find(name) for name in names], [1.0] * 4)
    assert amounts == sorted(amounts)
    assert sum(amounts) == pytest.approx(1000.0)


def test_twice_as_strong_takes_as_much_more_as_its_own_curve_says(palette):
    pair = [palette.catalogue.by_slug(slug) for slug in ("zest", "petal")]
    even, louder = dosing.first_amounts(pair, [1.0, 1.0]), dosing.first_amounts(pair, [2.0, 1.0])
    # slope of a curve of width 0.6 at half of its maximum: 1 / (2 ln 10 0.6) = 0.362; 2^(1/0.362) = 6.79
    assert (louder[0] / louder[1]) / (even[0] / even[1]) == pytest.approx(6.79, abs=0.01)


def test_what_has_no_smell_gets_no_amount(palette):
    found = dosing.first_amounts([palette.catalogue.by_slug(slug) for slug in ("mute", "petal")], [1.0, 1.0])
    assert found == [None, pytest.approx(1000.0)]


# the best dose in a formula


@pytest.fixture(scope="module")
def gain(film):
    candidates = [film(lime_wax=1.0), film(mute=1.0)]
    return simulation.best_doses(film(zest=0.3, ember=0.7), candidates, {"lime": 1.0}, (1.0, 24.0))


def test_a_carrier_wins_presence_at_a_rung_of_the_ladder(gain):
    assert gain.after[0] > gain.before + 0.1
    assert 1000 * gain.share[0] == pytest.approx(
        min(simulation.DOSE_GRID, key=lambda r: abs(r - 1000 * gain.share[0]))
    )


def test_what_does_not_smell_wins_nothing(gain):
    assert gain.after[1] == pytest.approx(gain.before, abs=1e-4)


def test_a_natural_of_one_molecule_is_as_strong_as_the_molecule():
    # bitter almond oil is nearly all benzaldehyde (common practice)
    oil, molecule = (
        recommender.material("bitter almond oil").value,
        recommender.material("benzaldehyde").value,
    )
    assert dosing.equal_strength(oil, molecule, 10.0) == pytest.approx(10.0, rel=0.1)
    assert dosing.odour_value(oil.parts) == pytest.approx(dosing.odour_value(molecule.parts), rel=0.2)


def test_a_picked_gain_keeps_the_rows_asked_for(gain):
    assert gain.picked(np.array([1])).after.tolist() == [gain.after[1]]
