"""A strip by the figures: evaporation worked out by hand, thresholds of fading, parts of naturals."""

import math
from dataclasses import replace

import numpy as np
import pytest
from conftest import CURVE

from recommender import evaporation as drydown
from recommender.chemistry import odour_strength
from recommender.evaporation import Conditions, OwnReading
from recommender.evaporation.conditions import pressure_factor
from recommender.evaporation.course import HOURS, course, doses_added, film_of, masked
from recommender.evaporation.film import last_above
from recommender.evaporation.gaps import ends, gaps
from recommender.model import Amount, Component, Curve
from recommender.palette import Palette

RATE = 5e-4 * 6.0e-6 / 2e-3 / (8.314462618 * 298.15)
"""mol/s of 1 Pa at 136 g/mol from 5 cm2 through 2 mm of air with D = 6.0e-6 m2/s: A D p / (film R T)."""
MOLES = 20e-3 / 136.0
"""A dip of 20 mg."""


def part(pressure_pa=1.0, molar_mass=136.0, share=1.0, name="a", **more):
    return Component(name, share, pressure_pa, molar_mass, **({"curve": CURVE} | more))


# evaporation


def test_the_rate_is_that_of_diffusion_through_still_air():
    assert float(drydown.evaporation_rate(1.0, 136.0)) == pytest.approx(RATE, rel=1e-4)
    assert float(drydown.evaporation_rate(3.0, 136.0)) == pytest.approx(3 * RATE, rel=1e-4)
    # D goes as M^-0.64: 2^0.64 = 1.558
    assert float(drydown.evaporation_rate(1.0, 272.0)) == pytest.approx(RATE / 1.5583, rel=1e-4)
    assert float(drydown.evaporation_rate(1.0, 136.0, Conditions(film_m=1e-3))) == pytest.approx(
        2 * RATE, rel=1e-4
    )


@pytest.mark.parametrize(
    ("temperature_c", "factor"), [(25.0, 1.0), (26.0, 1.084), (18.0, 0.559), (35.0, 2.194)]
)
def test_a_warmer_room_raises_the_pressure_by_eight_per_cent_a_degree(temperature_c, factor):
    # Clausius and Clapeyron with 60 kJ/mol (memory): exp(60000 / 8.314 (1/298.15 - 1/T))
    assert pressure_factor(temperature_c) == pytest.approx(factor, abs=1e-3)
    warm = Conditions(temperature_c=temperature_c)
    # the vapour of one pressure is thinner where it is warmer
    vapour = factor * 298.15 / (273.15 + temperature_c)
    assert float(drydown.evaporation_rate(1.0, 136.0, warm)) == pytest.approx(vapour * RATE, rel=1e-3)


def test_the_law_of_clausius_and_clapeyron_to_six_digits():
    # exp(60000 / 8.314462618 x (1/298.15 - 1/308.15)), by hand: the exponent is 0.7854528
    assert pressure_factor(35.0) == pytest.approx(2.193400, rel=2e-6)


@pytest.mark.parametrize("left", [0.5, 0.25, 0.01])
def test_the_time_until_a_share_is_left_follows_from_the_closed_form(left):
    # t = (inert s + n (1 - e^(-a s))) / a with s = ln(1 / left), the paper holding 7.5 % of the moles
    seconds = MOLES * (0.075 * math.log(1 / left) + 1 - left) / RATE
    strips = drydown.neat_or_diluted([[part()]])
    found = drydown.remaining(strips.moles, strips.rates, strips.inert, [seconds])
    assert found[0, 0, 0] == pytest.approx(left * MOLES, rel=1e-4)


def test_the_nose_meets_three_per_cent_of_saturation():
    (met,) = drydown.fresh_concentrations([part()])
    assert met == pytest.approx(1e6 * RATE * 136.0 / 1.075 / 0.045, rel=1e-4)
    saturated = 136.0 / (8.314462618 * 298.15) * 1e3  # p M / (R T) [ug/L]
    assert met / saturated == pytest.approx(0.031, abs=0.001)


def test_in_a_dilution_the_solvent_thins_what_is_met():
    # 1 % in dipropylene glycol, 134.17 g/mol: a mole fraction of 0.00977, less what the paper takes
    (met,) = drydown.fresh_concentrations([part()], 0.01)
    moles, solvent = 0.01 / 136.0, 0.99 / 134.17
    share = moles / ((moles + solvent) * 1.075)
    assert met == pytest.approx(1e6 * RATE * 136.0 * share / 0.045, rel=1e-4)


def test_what_leaves_within_seconds_is_judged_when_half_of_it_has_gone():
    slow, quick = ([part(p)] for p in (1.0, 1e6))
    strips = drydown.neat_or_diluted([slow, quick])
    left = strips.first_smelled()[:, 0, 0] / strips.moles[:, 0]
    assert left[0] == pytest.approx(1.0, abs=1e-3)
    assert left[1] == pytest.approx(0.5, abs=1e-6)


def test_three_quarters_of_a_neat_strip_decide_the_position(material):
    bottle = material("a", parts=(part(),))
    hours = MOLES * (0.075 * math.log(4) + 0.75) / RATE / 3600
    assert hours == pytest.approx(57.5, abs=0.2)
    assert drydown.evaporation_hours([bottle])[0] == pytest.approx(hours, rel=0.01)
    for borders, place in (((57.0, 100.0), "heart"), ((58.0, 100.0), "top"), ((1.0, 57.0), "base")):
        (stay,) = drydown.lasting([bottle], *borders)
        assert stay.position == place


def test_a_smell_lasts_until_it_is_just_there_with_a_band_of_the_pressure(material):
    bottles = [
        material("firm", parts=(part(log_error=0.1),)),
        material(
            "vague",
            parts=(part(log_error=0.6, basis="memory"), part(0.5, share=0.04, name="b", log_error=2.0)),
        ),
        material("solid", parts=(part(10.0, crystal_pa=1.0),)),
        material("dead", parts=(part(0.0),)),
    ]
    firm, vague, solid, dead = drydown.lasting(bottles, 2.0, 48.0)
    assert firm.hours / firm.low == pytest.approx(10**0.35)
    assert firm.high / firm.hours == pytest.approx(10**0.35)
    assert vague.high / vague.hours == pytest.approx(10**0.6)  # a trace does not widen the band
    assert (firm.basis, vague.basis) == ("published", "memory")
    assert dead is None
    # as crystals it lasts as the firm one does; dissolved it would be gone in a tenth of the time or so
    assert solid.hours == pytest.approx(firm.hours, rel=0.02)
    assert solid.hours / solid.low > 5 * 10**0.35
    assert solid.high / solid.hours == pytest.approx(10**0.35)


def test_a_stricter_level_is_reached_sooner(material):
    bottle = material("a", parts=(part(),))
    (faint,), (clear,) = drydown.lasting([bottle], 2.0, 48.0), drydown.lasting([bottle], 2.0, 48.0, 6.0)
    assert clear.hours < faint.hours


def test_own_strips_move_pressure_crystals_and_strength(material):
    solid = material("solid", parts=(part(10.0, crystal_pa=1.0), part(2.0, name="b", curve=None)))
    own = Conditions(own={"solid": OwnReading(4.0, 10.0)})
    one, other = drydown.parts_as_read(solid, own)
    assert (one.pressure_pa, one.crystal_pa, one.curve.log10_half) == pytest.approx((40.0, 4.0, -1.0))
    assert (other.pressure_pa, other.crystal_pa, other.curve) == (8.0, None, None)


def test_crystals_count_only_where_a_neat_solid_is_alone_on_the_strip():
    solid = part(10.0, crystal_pa=1.0)
    alone, mixed = drydown.neat_or_diluted([[solid]]), drydown.neat_or_diluted([[solid, part(name="b")]])
    assert alone.rates[0, 0] == pytest.approx(RATE, rel=1e-4)
    assert mixed.rates[0, 0] == pytest.approx(10 * RATE, rel=1e-4)


# mixtures


@pytest.mark.parametrize(
    ("parts", "whole"),
    [
        ([10.0], 10.0),
        ([10.0, 10.0], 10.0 * 2**0.125),
        ([10.0, 5.0], 10.0 * (1 + 0.5**8) ** 0.125),
        ([0.0, 0.0], 0.0),
    ],
)
def test_odours_add_by_the_eighth_power(parts, whole):
    assert float(drydown.together(np.array(parts))) == pytest.approx(whole)


@pytest.mark.parametrize(
    ("own", "rest", "left"), [(10.0, 10.0, 8.718), (5.0, 50.0, 2.024), (50.0, 5.0, 49.276)]
)
def test_the_rest_masks_one_odour_by_a_seventh_of_its_strength(own, rest, left):
    # own^2 / (own + 0.147 rest), the weight fitted to panel means of binary mixtures, doi 10.15454/51OVY6
    whole = drydown.together(np.array([own, rest]))
    assert float(masked(np.array(own), whole)) == pytest.approx(left, abs=1e-3)


@pytest.fixture(scope="module")
def palette(material, catalogue_of):
    zest, far = part(100.0, name="zest"), part(0.1, name="ember")
    rows = [
        material("zest", {"lemon": 3}, parts=(replace(zest, molar_mass=150.0),)),
        material("twin", {"lemon": 3}, parts=(replace(zest, name="twin", molar_mass=150.0),)),
        material("ember", {"smoke": 3}, parts=(far,)),
        material("petal", {"rose": 3}, pressure_pa=5.0, molar_mass=200.0),
        material(
            "oil",
            {"lemon": 3, "smoke": 2, "rose": 1},
            kind="natural",
            parts=(replace(zest, mass_fraction=0.7), replace(far, mass_fraction=0.3)),
        ),
        material("resin", kind="natural", parts=(), molar_mass=None, curve=None),
        material("heavy", kind="natural", parts=(), molar_mass=800.0, curve=None),
    ]
    return Palette.of(catalogue_of(rows))


@pytest.fixture(scope="module")
def film(palette):
    def put(crystals=False, conditions=drydown.DEFAULT_CONDITIONS, **shares):
        amounts = [Amount(palette.catalogue.by_slug(slug), share) for slug, share in shares.items()]
        return film_of(amounts, palette.space, palette.catalogue.index, crystals, conditions)

    return put


def test_a_label_of_a_natural_goes_to_the_part_that_shows_it(film):
    found = film(oil=1.0)
    weights = {
        facet: found.weights[:, found.facets.index(facet)].tolist()
        for facet in ("lemon", "smoke", "rose", "vanilla")
    }
    assert weights["lemon"] == pytest.approx([1.0, 0.0])
    assert weights["smoke"] == pytest.approx([0.0, 0.6])
    assert weights["rose"] == pytest.approx([0.3, 0.3])  # neither part is known for it: both are
    assert weights["vanilla"] == [0.0, 0.0]


def test_what_has_no_parts_is_inert_by_its_molar_mass(film):
    volatile = film(zest=0.5, heavy=0.5)
    moles = 10e-3 / 150.0
    assert volatile.moles.tolist() == pytest.approx([moles])
    assert volatile.inert == pytest.approx(10e-3 / 800.0 + 0.075 * (moles + 10e-3 / 800.0))
    unknown = film(zest=0.5, resin=0.5)
    assert unknown.inert == pytest.approx(10e-3 / 400.0 + 0.075 * (moles + 10e-3 / 400.0))


def test_near_identical_odours_share_one_smell_by_dose(film):
    # two halves of one odour: together as the whole, each a half of it in the eighth power
    halves, whole = film(zest=0.25, twin=0.25, ember=0.5), film(zest=0.5, ember=0.5)
    left, other = halves.left([0.1]), whole.left([0.1])
    joint = doses_added(halves, halves.intensities(left))[0]
    alone = whole.intensities(other)[0]
    assert joint[:2] == pytest.approx([alone[0] * 0.5**0.125] * 2, rel=1e-6)
    assert joint[2] == pytest.approx(alone[1], rel=1e-6)


def test_of_two_odours_of_different_strength_neither_is_lost(film):
    found = film(zest=0.2, twin=0.1, ember=0.7)
    found = replace(
        found,
        log10_half=found.log10_half + np.array([0.0, -1.0, 0.0]),
        i_max=found.i_max * np.array([1.0, 0.5, 1.0]),
    )
    alone = found.intensities(found.left([0.1, 1.0]))
    joint = doses_added(found, alone)
    summed = (joint[:, :2] ** 8).sum(axis=1) ** 0.125
    assert (summed >= alone[:, :2].max(axis=1) * (1 - 1e-9)).all()
    assert joint[:, 2] == pytest.approx(alone[:, 2])


def test_only_the_part_that_carries_the_wanted_facet_counts_in_a_natural(palette):
    catalogue, space = palette.catalogue, palette.space
    oil, zest = catalogue.by_slug("oil"), catalogue.by_slug("zest")

    def carried(**wanted):
        found = drydown.carriers([oil, zest], wanted, space.carries(wanted), catalogue.index)
        assert found.shape == (2, 2)
        return found.tolist()

    assert carried(lemon=1.0) == [pytest.approx([1.0, 0.0]), [1.0, 1.0]]
    assert carried(smoke=1.0) == [pytest.approx([0.0, 1.0]), [1.0, 1.0]]
    assert carried(vanilla=1.0) == [[1.0, 1.0], [1.0, 1.0]]  # none carries it: all do alike


@pytest.mark.parametrize(
    ("name", "share"),
    [
        ("unnamed odorants", 1.0),  # it carries the whole smell
        ("monoterpene hydrocarbon", 0.6),  # known for lemon: common practice
        ("sesquiterpene", 0.0),  # known for wood
        ("anything else", 0.0),
    ],
)
def test_an_unnamed_part_carries_what_its_class_is_known_for(palette, material, name, share):
    from recommender.evaporation.presence import part_weights

    catalogue, space = palette.catalogue, palette.space
    oil = material("x", {"lemon": 3}, parts=(part(100.0, name="zest", share=0.5), part(name=name, share=0.5)))
    wanted = {"lemon": 1.0}
    found = drydown.carriers([oil], wanted, space.carries(wanted), catalogue.index)
    assert found.tolist() == [pytest.approx([1.0, share])]
    weights = part_weights(oil, space, catalogue.index)[:, space.facets.index("lemon")]
    assert weights.tolist() == pytest.approx([1.0, share])


# curves


def test_a_strength_is_read_on_a_typical_curve():
    # two decades above clear at 1 %, where 3 ug/L are met: clear at 0.03 ug/L,
    # the half 0.5 ln(40 / 6 - 1) = 0.8673 decades above that
    found = odour_strength.typical_curve(2.0, 3.0, "class", "memory", "somewhere", 0.4)
    assert found == Curve(
        40.0, pytest.approx(-0.6556, abs=1e-4), 0.5, "class", "memory", "somewhere", log_error=0.4
    )


def test_a_mixture_of_two_equal_parts_is_moved_by_hand():
    # equal parts add to 2^(1/8) = 1.0905 of one: each has to give 5.502 where both are clear together
    half = replace(part(1.0), mass_fraction=0.5)
    moved = drydown.with_strength([half, replace(half, name="b")], 0.0, CURVE)
    met = drydown.first_concentrations([half, replace(half, name="b")], 0.01)[0]
    (one,) = {p.curve.log10_half for p in moved}
    assert one == pytest.approx(math.log10(met) + CURVE.width * math.log(CURVE.i_max / 5.502 - 1), abs=1e-4)


# fading


def course_of(film, **lines):
    """Return a course with facets and the whole drawn by hand: name -> function of the hour."""
    found = course(film(zest=0.3, petal=0.3, ember=0.4))
    facets = np.zeros_like(found.facets)
    for facet, drawn in lines.items():
        if facet != "whole":
            facets[:, found.film.facets.index(facet)] = [drawn(h) for h in found.hours]
    return replace(found, facets=facets, whole=np.array([lines["whole"](h) for h in found.hours]))


def falls(before, after, at=10.0):
    return lambda hour: before if hour < at else after


@pytest.mark.parametrize(
    ("peak", "after", "other", "whole", "is_gap"),
    [
        (40.0, 5.0, 40.0, 50.0, True),
        (40.0, 9.9, 50.0, 60.0, True),
        (40.0, 10.0, 60.0, 60.0, False),  # a quarter of its own peak is left
        (80.0, 9.9, 50.0, 80.0, True),
        (80.0, 10.0, 50.0, 80.0, False),  # a fifth of the strongest
        (6.0, 1.0, 40.0, 60.0, True),
        (5.9, 1.0, 40.0, 50.0, False),  # it never was clear
        (6.5, 1.0, 40.0, 66.0, False),  # nor a tenth of the smell
        (6.5, 1.0, 40.0, 65.0, True),
    ],
)
def test_what_counts_as_a_gap(film, peak, after, other, whole, is_gap):
    found = gaps(course_of(film, lemon=falls(peak, after), smoke=lambda _: other, whole=lambda _: whole))
    lemon = [gap for gap in found if gap.facet == "lemon"]
    assert bool(lemon) is is_gap
    if is_gap:
        first = HOURS[HOURS >= 10.0][0]
        assert (lemon[0].hours, lemon[0].peak) == (pytest.approx(first), peak)


@pytest.mark.parametrize(("rest", "is_gap"), [(6.0, True), (5.9, False)])
def test_there_is_a_gap_only_while_the_whole_is_clear(film, rest, is_gap):
    drawn = course_of(film, lemon=falls(40.0, 0.5), smoke=lambda _: 6.0, whole=falls(40.0, rest))
    assert bool([gap for gap in gaps(drawn) if gap.facet == "lemon"]) is is_gap


def test_a_facet_that_has_yet_to_come_is_no_gap(film):
    drawn = course_of(film, lemon=falls(0.5, 40.0), smoke=lambda _: 40.0, whole=lambda _: 40.0)
    assert gaps(drawn) == []


def test_the_louder_and_the_sooner_lost_is_missed_most(film):
    def order(lemon, rose):
        drawn = course_of(film, lemon=lemon, rose=rose, smoke=lambda _: 50.0, whole=lambda _: 50.0)
        return [gap.facet for gap in gaps(drawn)]

    assert order(falls(40.0, 0.0, 1.0), falls(40.0, 0.0, 50.0)) == ["lemon", "rose"]
    assert order(falls(40.0, 0.0, 50.0), falls(40.0, 0.0, 1.0)) == ["rose", "lemon"]
    assert order(falls(20.0, 0.0, 5.0), falls(40.0, 0.0, 5.0)) == ["rose", "lemon"]
    # half as loud, but missed from the first minutes on: log 1009 against log 4.4
    assert order(falls(20.0, 0.0, 0.17), falls(40.0, 0.0, 50.0)) == ["lemon", "rose"]
    assert order(falls(40.0, 0.0, 5.0), falls(40.0, 0.0, 5.0)) == ["lemon", "rose"]


def test_how_long_a_facet_is_missed_is_counted_to_the_end_of_the_week(film):
    def first(rose):
        drawn = course_of(
            film,
            lemon=falls(15.0, 0.0, 2.0),
            rose=falls(rose, 0.0, 50.0),
            smoke=lambda _: 50.0,
            whole=lambda _: 50.0,
        )
        return gaps(drawn)[0].facet

    # missed from 2.115 and 56.28 h on: 15 log(168 / 2.115 + 1) = 65.8 = 47.6 log(168 / 56.28 + 1)
    assert (first(47.0), first(48.2)) == ("lemon", "rose")


def test_the_band_is_that_of_who_carries_the_facet_when_it_ends_not_later(material, catalogue_of):
    solid = part(10.0, name="solid", crystal_pa=1.0, log_error=0.2)
    weak = part(0.05, name="weak", curve=replace(CURVE, i_max=4.0, log10_half=-3.0), log_error=0.7)
    rows = [material(p.name, {"lemon": 3}, parts=(p,)) for p in (solid, weak)]
    palette = Palette.of(catalogue_of(rows))
    amounts = [Amount(m, 0.5) for m in rows]
    dissolved, crystals = (film_of(amounts, palette.space, palette.catalogue.index, c) for c in (False, True))
    # one odour each: the weak one goes on after the strong one has ended
    dissolved, crystals = (replace(f, group=np.array([0, 1])) for f in (dissolved, crystals))
    end = ends(dissolved, crystals)["lemon"]["clear"]
    assert end.hours / end.low == pytest.approx(2.2)
    assert end.high / end.hours > 5 * 2.2


def test_the_band_of_an_end_is_the_pressure_of_who_carries_it_last(film):
    made = film(zest=0.3, ember=0.7)
    vague = replace(made, log_error=np.array([0.2, 0.7]))
    found = ends(vague, vague)
    for facet, factor in (("lemon", 2.2), ("smoke", 10**0.7)):
        for end in found[facet].values():
            assert end.hours / end.low == pytest.approx(factor)
            assert end.high / end.hours == pytest.approx(factor)
    assert set(found["lemon"]) == {"clear", "just_there"}


def test_the_ends_are_where_the_line_crosses_six_and_one_point_four(film):
    made = film(zest=0.3, ember=0.7)
    found = ends(made, made)["lemon"]
    for name, level, beside in (("clear", 6.0, 1 / 3), ("just_there", 1.4, 1 / 5)):
        at = course(made, [0.98 * found[name].hours, 1.02 * found[name].hours])
        line, needed = at.facets[:, made.facets.index("lemon")], beside * at.facets.max(axis=1)
        assert line[0] > max(level, needed[0])
        assert line[1] < max(level, needed[1])


@pytest.mark.parametrize(
    ("line", "hour"),
    [
        ([9.0, 6.0, 1.0], 10.0),
        ([9.0, 5.9, 1.0], 1.0 * 10 ** (3 / 3.1)),
        ([5.0, 5.0, 6.0], 100.0),
        ([6.0, 0.0, 0.0], 1.0),
    ],
)
def test_a_level_that_is_just_met_is_met(line, hour):
    assert last_above(np.array([1.0, 10.0, 100.0]), np.array(line), 6.0) == pytest.approx(hour)


def test_a_film_of_cached_materials_is_that_of_a_formula_put_on_afresh(palette):
    films, slugs = palette.films, ("zest", "oil", "heavy", "ember")
    materials = [palette.catalogue.by_slug(slug) for slug in slugs]
    for shares in ((0.4, 0.3, 0.2, 0.1), (0.1, 0.2, 0.3, 0.4)):
        amounts = [Amount(m, share) for m, share in zip(materials, shares, strict=True)]
        found, fresh = films.formula(amounts), film_of(amounts, palette.space, palette.catalogue.index)
        assert found.moles == pytest.approx(fresh.moles)
        volatile = [p for m in materials for p in m.parts if p.pressure_pa > 0]
        masses = [
            20e-3 * s * p.mass_fraction for m, s in zip(materials, shares, strict=True) for p in m.parts
        ]
        assert found.moles == pytest.approx([g / p.molar_mass for g, p in zip(masses, volatile, strict=True)])
    assert films.alone(materials[0]) is films.alone(materials[0])
    other = replace(materials[0], labels=())
    assert films.alone(other).weights.max() == 0.0  # the same key, but another material


def test_the_ends_of_some_facets_are_those_among_all(film):
    found = film(zest=0.3, oil=0.3, ember=0.4)
    everything = ends(found, found)
    assert ends(found, found, facets=("lemon",)) == {"lemon": everything["lemon"]}
    assert {"lemon", "smoke"} <= set(everything)
