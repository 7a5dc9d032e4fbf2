"""Weighing against published rules and facts of the trade."""

import pytest

from recommender.model import Formula, Line
from recommender.weighing.dilutions import steps
from recommender.weighing.plan import plan
from recommender.weighing.shares import shares


@pytest.mark.parametrize(
    ("digit_g", "least_g"),
    [(0.001, 0.02), (0.01, 0.2), (0.05, 1.0)],  # OIML R 76-1:2006, table 3, class II: Min = 20 e (memory)
)
def test_the_least_load_is_the_minimum_capacity_of_such_a_balance(material, digit_g, least_g):
    dpg = material("dipropylene-glycol", kind="solvent", curve=None)
    sheet = plan(Formula("one", (Line(material("a"), 1.0),)), 100.0, digit_g, dpg)
    assert sheet.least_g == pytest.approx(least_g)


def test_tenfold_dilutions_follow_from_mass_and_share(material):
    # m1 w1 = m2 w2: 1 g neat in 10 g is 10 %, 1 g of that in 10 g is 1 % (common practice)
    ethanol = material("ethanol", kind="solvent", curve=None)
    first, second = steps(material("a"), 1.0, {0.01: 9.0}, ethanol, 0.02)
    assert (second.take_g, second.add_g) == pytest.approx((1.0, 9.0))
    assert (first.take_g, first.add_g) == pytest.approx((0.2, 1.8))


@pytest.mark.parametrize(("dosage", "concentrate_g"), [(5, 5.0), (15, 15.0), (20, 20.0), (30, 30.0)])
def test_a_dosage_is_a_share_by_mass(dosage, concentrate_g):
    # common practice: 5 % a cologne, 15-20 % a perfume for every day, 30 % an extract, all by mass
    assert shares(dosage_percent=dosage).of_finished_percent == pytest.approx(concentrate_g)


def test_a_dilution_at_one_per_cent_of_a_concentrate_dosed_at_thirty_is_0_03_per_cent():
    # 10 % solution at 1 % of the concentrate, dosage 30 %: 0.03 % in the product (common practice)
    assert 0.10 * shares(of_concentrate_percent=1, dosage_percent=30).of_finished_percent == pytest.approx(
        0.03
    )
