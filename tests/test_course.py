from dataclasses import replace

import numpy as np
import pytest
from conftest import CURVE
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.evaporation import together
from recommender.evaporation.course import HOURS, FacetSums, course, film_of, masked, with_added
from recommender.evaporation.film import last_above
from recommender.evaporation.gaps import ends, gaps
from recommender.model import Amount, Component, Label
from recommender.palette import Palette

LAWS = settings(deadline=None, max_examples=40)
LEVELS = st.floats(0.1, 100.0)


@pytest.fixture(scope="module")
def palette(material, catalogue_of):
    resin = Component("resin", 0.6, 0.0, 300.0)
    solid = Component("pod", 1.0, 0.05, 150.0, crystal_pa=0.01, curve=replace(CURVE, log10_half=-2.0))
    return Palette.of(
        catalogue_of(
            [
                material("zest", {"lemon": 3}, pressure_pa=100.0),
                material("twin", {"lemon": 3}, pressure_pa=100.0),
                material("petal", {"rose": 3}, pressure_pa=5.0),
                material("ember", {"smoke": 3}, pressure_pa=0.1),
                material("pod", {"vanilla": 3}, parts=(solid,)),
                material(
                    "resinous", {"smoke": 2}, parts=(replace(solid, name="pod", mass_fraction=0.4), resin)
                ),
                material("bottle", kind="solvent", parts=(), molar_mass=134.0),
            ]
        )
    )


@pytest.fixture(scope="module")
def film(palette):
    def put(crystals=False, **shares):
        amounts = [Amount(palette.catalogue.by_slug(slug), share) for slug, share in shares.items()]
        return film_of(amounts, palette.space, palette.catalogue.index, crystals)

    return put


def line(found, facet):
    return found.facets[:, found.film.facets.index(facet)]


# the film


def test_what_does_not_evaporate_is_inert(film):
    assert len(film(resinous=1.0).moles) == 1
    assert film(resinous=1.0).inert > 20e-3 * 0.6 / 300.0
    assert film(zest=0.5, bottle=0.5).inert > 20e-3 * 0.5 / 134.0


def test_solids_are_dissolved_unless_crystals_are_asked_for(film):
    assert film(crystals=True, pod=0.5, zest=0.5).rates[0] == pytest.approx(
        0.2 * film(pod=0.5, zest=0.5).rates[0]
    )


def test_near_identical_odours_and_the_same_molecule_are_one_group(film):
    found = film(zest=0.2, petal=0.2, twin=0.2, pod=0.2, resinous=0.2)
    zest, petal, twin, pod, resinous = found.group
    assert zest == twin
    assert pod == resinous
    assert len({zest, petal, pod}) == 3


def test_near_identical_odours_add_their_doses(film):
    halves, one = course(film(zest=0.25, twin=0.25, ember=0.5)), course(film(zest=0.5, ember=0.5))
    assert halves.whole == pytest.approx(one.whole, rel=1e-6)
    twice = 2 ** (1 / 3 - 1 / 8)  # they are two materials all the same, which support each other
    assert line(halves, "lemon") == pytest.approx(twice * line(one, "lemon"), rel=1e-6)


def test_materials_that_share_a_smell_support_each_other(film):
    found = film(zest=0.2, petal=0.4, ember=0.4)
    alone = found.at([0.5])
    loud, soft = 0.8, 0.6
    weights = np.zeros_like(found.weights)
    weights[:, 0] = [loud, soft, 0.0]
    expected = ((loud * alone[0, 0]) ** 3 + (soft * alone[0, 1]) ** 3) ** (1 / 3)
    assert FacetSums.of(found.owner, weights).facets(alone)[0, 0] == pytest.approx(expected)


def test_the_parts_of_one_material_add_as_odours_do(film):
    found = film(zest=0.2, petal=0.4, ember=0.4)
    alone = found.at([0.5])
    joined = FacetSums.of(np.array([0, 0, 1]), np.eye(3)[[0, 0, 1]])
    assert joined.facets(alone)[0, 0] == pytest.approx(together(alone[0, :2]))
    assert joined.facets(alone)[0, 1] == pytest.approx(alone[0, 2])


def test_materials_share_the_smell_by_their_p_norm(film):
    found = course(film(zest=0.2, petal=0.4, ember=0.4))
    assert found.owners.shape == (len(HOURS), 3)
    assert found.whole == pytest.approx(together(found.owners))


def test_a_facet_rises_when_what_diluted_it_leaves(film):
    smoke = line(course(film(zest=0.9, ember=0.1)), "smoke")
    assert smoke[-1] > 1.1 * smoke[0]


def test_a_film_with_an_addition_is_that_of_the_whole_formula(film):
    joined = with_added(film(zest=0.5, petal=0.5), film(ember=1.0), 0.2)
    at_once = film(zest=0.4, petal=0.4, ember=0.2)
    assert joined.inert == pytest.approx(at_once.inert)
    assert [a.mass_fraction for a in joined.amounts] == pytest.approx([0.4, 0.4, 0.2])
    assert course(joined).facets == pytest.approx(course(at_once).facets)


@LAWS
@given(st.floats(0.01, 0.9), st.floats(1.0, 1.2))
def test_a_louder_label_never_makes_its_facet_quieter(film, share, factor):
    found = film(zest=share, petal=1 - share)
    louder = replace(found, weights=found.weights * factor)
    assert (line(course(louder), "lemon") >= line(course(found), "lemon") - 1e-12).all()
    assert (line(course(louder), "lemon") <= factor * line(course(found), "lemon") + 1e-9).all()


# masking


def test_alone_nothing_is_masked():
    assert float(masked(np.array(30.0), np.array(30.0))) == pytest.approx(30.0)


@LAWS
@given(LEVELS, LEVELS)
def test_the_rest_takes_away_but_never_adds(own, rest):
    whole = together(np.array([own, rest]))
    beside = float(masked(np.array(own), whole))
    assert 0 < beside <= own * (1 + 1e-9)


@LAWS
@given(LEVELS, LEVELS, st.floats(1.0, 10.0))
def test_a_louder_rest_hides_more(own, rest, factor):
    quiet, loud = (together(np.array([own, r])) for r in (rest, factor * rest))
    assert masked(np.array(own), loud) <= masked(np.array(own), quiet) * (1 + 1e-9)


# ends and gaps


def test_the_last_hour_above_a_level_is_read_between_the_points():
    hours = np.array([1.0, 10.0, 100.0])
    assert last_above(hours, np.array([9.0, 8.0, 4.0]), 6.0) == pytest.approx(10 * 10**0.5)
    assert last_above(hours, np.array([9.0, 8.0, 7.0]), 6.0) == 100.0
    assert last_above(hours, np.array([1.0, 2.0, 3.0]), 6.0) is None


def test_a_facet_that_comes_late_ends_late():
    assert last_above(np.array([1.0, 2.0, 4.0]), np.array([0.0, 9.0, 6.0]), 6.0) == 4.0


def test_the_bands_of_the_ends_hold_their_hours_and_span_crystals_and_solution(film):
    found = ends(film(zest=0.3, pod=0.7), film(crystals=True, zest=0.3, pod=0.7))
    assert set(found) == {"lemon", "vanilla"}
    for levels in found.values():
        for end in levels.values():
            assert end.low * 2.2 <= end.hours * (1 + 1e-9)
            assert end.high >= end.hours * 2.2 * (1 - 1e-9)
        assert levels["just_there"].hours >= levels["clear"].hours
    assert found["vanilla"]["clear"].high > 5 * found["vanilla"]["clear"].hours


def test_a_facet_that_is_never_clear_has_only_the_other_end(film, palette):
    faint = film(zest=0.001, ember=0.999)
    quiet = replace(faint, i_max=np.full_like(faint.i_max, 4.0))
    quiet = replace(quiet, log10_half=quiet.log10_half - 3.0)
    found = ends(quiet, quiet)["lemon"]
    assert found["clear"].hours is None
    assert found["just_there"].hours is not None


def test_a_facet_beside_a_much_stronger_one_is_gone_before_it_is_faint(film):
    beside = film(zest=0.3, ember=0.7)
    silent = replace(beside, weights=beside.weights * (np.array(beside.facets) == "lemon"))
    found, by_itself = (ends(each, each)["lemon"]["just_there"].hours for each in (beside, silent))
    assert found < by_itself
    at = course(beside, [0.99 * found, 1.01 * found])
    share = line(at, "lemon") / at.facets.max(axis=1)
    assert share[0] > 1 / 5 > share[1]


def test_the_trace_of_another_material_does_not_prolong_a_facet(film, palette):
    plain, traced = film(zest=0.3, ember=0.7), film(zest=0.3, ember=0.7)
    column = traced.facets.index("lemon")
    weights = traced.weights.copy()
    weights[traced.owner == 1, column] = 0.3
    traced = replace(traced, weights=weights)
    one, other = (ends(each, each)["lemon"]["just_there"].hours for each in (plain, traced))
    assert one == pytest.approx(other)


def test_a_facet_that_leaves_while_others_stay_is_a_gap(film):
    (gap,) = gaps(course(film(zest=0.5, ember=0.5)))
    assert (gap.facet, gap.carried_by) == ("lemon", ("zest",))
    assert 0.1 < gap.hours < 24


def test_a_facet_that_leaves_with_everything_else_is_no_gap(film):
    assert gaps(course(film(zest=1.0))) == []


def test_a_gap_is_relative_to_the_facets_own_peak_and_to_the_loudest(film):
    found = course(film(zest=0.5, ember=0.5))
    (gap,) = gaps(found)
    place = int(np.flatnonzero(found.hours == gap.hours)[0])
    lemon, smoke = line(found, "lemon"), line(found, "smoke")
    assert lemon[place] < 0.25 * lemon.max()
    assert lemon[place] < 0.2 * smoke[place]
    assert lemon[place - 1] >= 0.25 * lemon.max() or lemon[place - 1] >= 0.2 * smoke[place - 1]


def test_the_facet_that_is_missed_longest_comes_first(film):
    told = gaps(course(film(zest=0.4, petal=0.1, ember=0.5)))
    assert [gap.facet for gap in told] == ["lemon", "rose"]
    assert told[0].hours < told[1].hours


def test_a_gap_names_all_that_carried_the_facet(film, palette):
    lemon = palette.catalogue.by_slug("petal")
    both = replace(lemon, labels=(*lemon.labels, Label("lemon", 3, "memory")))
    amounts = [Amount(palette.catalogue.by_slug("zest"), 0.3), Amount(both, 0.3)]
    amounts.append(Amount(palette.catalogue.by_slug("ember"), 0.4))
    told = gaps(course(film_of(amounts, palette.space, palette.catalogue.index)))
    assert {gap.facet: set(gap.carried_by) for gap in told}["lemon"] == {"zest", "petal"}
