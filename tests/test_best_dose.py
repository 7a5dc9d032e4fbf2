"""The dose of a carrier in a formula: what is won against what is changed, worked out once in a toy world."""

from dataclasses import replace

import numpy as np
import pytest
from conftest import CURVE

from recommender.evaporation.course import film_of
from recommender.formulas.dosing import dilution, dose_range, equal_strength, first_amounts
from recommender.formulas.simulation import best_doses
from recommender.model import Amount
from recommender.palette import Palette

CARRIERS = {
    "twin": ({"lemon": 3}, 1.0),
    "sweet-trace": ({"lemon": 2, "vanilla": 1}, 1.0),
    "vanilla-lemon": ({"lemon": 2, "vanilla": 3}, 1.0),
    "smoked": ({"lemon": 2, "smoke": 3}, 1.0),
    "faint": ({"lemon": 1, "smoke": 1}, 1.0),
    "thin": ({"lemon": 3, "rose": 1}, 0.05),
    "slow": ({"lemon": 3, "rose": 1}, 0.01),
}
"""Labels and vapour pressure [Pa]."""


@pytest.fixture(scope="module")
def palette(material, catalogue_of):
    return Palette.of(
        catalogue_of(
            [
                material("zest", {"lemon": 3}, pressure_pa=100.0),
                material("ember", {"smoke": 3}, pressure_pa=0.1),
                *(material(name, labels, pressure_pa=pa) for name, (labels, pa) in CARRIERS.items()),
            ]
        )
    )


@pytest.fixture(scope="module")
def film(palette):
    def put(**shares):
        amounts = [Amount(palette.catalogue.by_slug(slug), share) for slug, share in shares.items()]
        return film_of(amounts, palette.space, palette.catalogue.index)

    return put


def gained(film, most=None, window=(1.0, 24.0)):
    candidates = [film(**{name: 1.0}) for name in CARRIERS]
    return best_doses(film(zest=0.3, ember=0.7), candidates, {"lemon": 1.0}, window, most)


@pytest.fixture(scope="module")
def gain(film):
    return gained(film)


def by_name(values):
    return dict(zip(CARRIERS, np.round(values, 4).tolist(), strict=True))


def test_what_also_changes_the_rest_is_dosed_lower_and_what_changes_too_much_hardly_at_all(gain):
    # the smallest rung that wins 80 % of the most that can be won, a change of all else costing half
    assert by_name(1000 * gain.share) == {
        "twin": 50.0,
        "sweet-trace": 12.0,
        "vanilla-lemon": 0.01,
        "smoked": 50.0,
        "faint": 100.0,
        "thin": 100.0,
        "slow": 100.0,
    }


def test_a_carrier_stands_out_where_half_of_everything_else_changes(gain):
    assert by_name(1000 * gain.stands_out) == {
        "twin": 150.0,
        "sweet-trace": 50.0,
        "vanilla-lemon": 12.0,
        "smoked": 150.0,
        "faint": 150.0,
        "thin": 150.0,
        "slow": 150.0,
    }


def test_the_presence_before_and_after_and_the_change_are_those_at_the_chosen_dose(gain):
    assert gain.before == pytest.approx(0.4064, abs=1e-4)
    presence = {
        "twin": 0.758,
        "sweet-trace": 0.565,
        "vanilla-lemon": 0.407,
        "smoked": 0.688,
        "faint": 0.645,
        "thin": 0.568,
        "slow": 0.471,
    }
    assert by_name(gain.after) == pytest.approx(presence, abs=2e-3)
    assert by_name(gain.change)["sweet-trace"] == pytest.approx(0.2823, abs=1e-3)
    assert by_name(gain.change)["thin"] == pytest.approx(0.2014, abs=1e-3)


def test_a_limit_bounds_the_dose_and_what_it_wins(film, gain):
    most = np.array([0.150, 0.150, 0.150, 0.005, 0.020, 0.020, 0.150])
    bound = gained(film, most)
    doses = by_name(1000 * bound.share)
    assert (doses["twin"], doses["sweet-trace"], doses["slow"]) == (50.0, 12.0, 100.0)
    assert (doses["smoked"], doses["faint"], doses["thin"]) == (5.0, 20.0, 20.0)
    assert bound.before < bound.after[3] < gain.after[3]


def test_a_later_window_asks_for_more_of_what_is_leaving(film, gain):
    late = gained(film, window=(8.0, 72.0))
    assert late.before < 0.05
    assert late.after[0] < gain.after[0]
    assert late.share[0] >= gain.share[0]


def test_half_a_decade_stronger_takes_the_next_rung_down(material, catalogue_of):
    zest, ember = (
        material(name, {facet: 3}, pressure_pa=pa)
        for name, facet, pa in (("zest", "lemon", 100.0), ("ember", "smoke", 0.1))
    )
    curves = [replace(CURVE, log10_half=-1.0 - 0.5 * step) for step in range(6)]
    rows = [
        material(
            f"s{i}", {"lemon": 3}, pressure_pa=2.0, parts=(replace(zest.parts[0], pressure_pa=2.0, curve=c),)
        )
        for i, c in enumerate(curves)
    ]
    palette = Palette.of(catalogue_of([zest, ember, *rows]))

    def film(*amounts):
        return film_of([Amount(m, share) for m, share in amounts], palette.space, palette.catalogue.index)

    found = best_doses(
        film((zest, 0.3), (ember, 0.7)), [film((m, 1.0)) for m in rows], {"lemon": 1.0}, (1.0, 24.0)
    )
    assert 1000 * found.share == pytest.approx([6.0, 3.0, 1.0, 0.3, 0.1, 0.03])
    assert found.after == pytest.approx([0.808, 0.835, 0.838, 0.835, 0.838, 0.835], abs=3e-3)


# the rungs below the best dose


@pytest.mark.parametrize(
    ("best", "most", "bound", "rungs"),
    [
        (100.0, 150.0, 1000.0, (33.0, 50.0, 100.0)),
        (100.0, 150.0, 17.59, (5.9, 8.8, 17.0)),  # rounded up, 18 would be above the limit
        (100.0, 150.0, 0.01999, (0.0067, 0.01, 0.019)),
        (100.0, 150.0, 18.0, (6.0, 9.0, 18.0)),
        (100.0, 0.6, 1000.0, (0.2, 0.3, 0.6)),
    ],
)
def test_no_rung_is_rounded_above_what_limits_leave(best, most, bound, rungs):
    found = dose_range(best, most, bound)
    assert (found.low, found.first_try, found.high) == pytest.approx(rungs)
    assert found.high <= bound


@pytest.mark.parametrize(
    ("parts", "percent"),
    # a balance that shows 10 mg, 10 g of the accord: a tenth of what is weighed is 0.1 g = 10 parts neat
    [(30.0, None), (29.9, 10.0), (3.0, 10.0), (2.9, 1.0), (0.3, 1.0), (0.29, 0.1)],
)
def test_the_smallest_rung_decides_the_dilution(parts, percent):
    assert dose_range(parts, 150.0).dilution_percent == percent


@pytest.mark.parametrize(
    ("parts", "percent"), [(10.0, None), (9.9, 10.0), (1.0, 10.0), (0.99, 1.0), (0.1, 1.0), (0.099, 0.1)]
)
def test_a_dose_is_weighed_neat_where_it_is_ten_digits_of_the_balance(parts, percent):
    assert dilution(parts) == percent


# equal strength and first amounts


def test_ten_times_the_vapour_needs_a_tenth_of_the_amount(material):
    weak, strong = material("weak", pressure_pa=0.1), material("strong", pressure_pa=1.0)
    # so little of either that neither thins the other's film
    assert equal_strength(strong, weak, 1.0) == pytest.approx(0.1, rel=0.01)
    assert equal_strength(weak, strong, 1.0) == pytest.approx(10.0, rel=0.02)


def test_of_nothing_nothing_is_as_strong(material):
    one = material("one")
    assert equal_strength(one, one, 0.0) is None
    assert equal_strength(one, one, 1e-3) == pytest.approx(1e-3, rel=1e-3)


def test_first_amounts_are_the_thousand_parts_shared_by_odour_value(material):
    # the vapour pressure in a thin film is all that differs: the amounts go as one over it
    weak, strong = material("weak", pressure_pa=0.1), material("strong", pressure_pa=0.4)
    assert first_amounts([weak, strong], [1.0, 1.0]) == pytest.approx([800.0, 200.0], rel=1e-3)
