import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import recommender
from recommender import evaporation as drydown
from recommender.chemistry import odour_strength
from recommender.evaporation import (
    DEFAULT_CONDITIONS,
    Conditions,
    OwnReading,
    neat_or_diluted,
    parts_as_read,
    remaining,
    surface,
)
from recommender.model import Component, Curve

LAWS = settings(deadline=None, max_examples=40)
CURVE = Curve(60.0, 1.0, 0.6, "curve", "published", "somewhere")
INTENSITIES = st.lists(st.floats(0.0, 100.0), min_size=1, max_size=8).map(np.array)
PRESSURES = st.floats(1e-2, 1e2)


def molecule(pressure_pa: float = 10.0, curve: Curve | None = CURVE, **more: float) -> Component:
    return Component("a", more.pop("share", 1.0), pressure_pa, 150.0, curve=curve, **more)


# evaporation


@LAWS
@given(
    st.lists(st.tuples(st.floats(1e-7, 1e-3), st.floats(1e-12, 1e-6)), min_size=1, max_size=5),
    st.floats(0.0, 1e-3),
    st.floats(1.0, 1e7),
)
def test_mass_never_grows_and_is_never_negative(parts, inert, end):
    moles, rates = zip(*parts, strict=True)
    left = drydown.remaining([moles], [rates], [inert], np.linspace(0.0, end, 9))[0]
    assert left[0] == pytest.approx(np.array(moles))
    assert (left >= 0.0).all()
    assert (np.diff(left, axis=0) <= 1e-12 * np.array(moles)).all()


@LAWS
@given(PRESSURES, st.floats(1.01, 100.0), st.floats(80.0, 300.0))
def test_evaporation_grows_with_pressure_and_falls_with_molar_mass(pressure_pa, factor, molar_mass):
    rate = drydown.evaporation_rate(pressure_pa, molar_mass)
    assert drydown.evaporation_rate(factor * pressure_pa, molar_mass) == pytest.approx(factor * rate)
    assert drydown.evaporation_rate(pressure_pa, 1.1 * molar_mass) < rate


def test_the_elapsed_time_belongs_to_what_is_left():
    moles, rates, inert = np.array([[1e-4, 1e-4]]), np.array([[2e-8, 1e-9]]), np.array([1e-5])
    warp = np.array([[1e7, 1e8]])
    seconds = drydown.elapsed(warp, moles, rates, inert)
    left = drydown.remaining(moles, rates, inert, seconds)
    assert left == pytest.approx(moles[:, None, :] * np.exp(-rates[:, None, :] * warp[:, :, None]))


def test_what_does_not_evaporate_stays():
    left = drydown.remaining([[1e-4, 1e-4]], [[1e-8, 0.0]], [0.0], [1e5])
    assert left[0, 0, 1] == pytest.approx(1e-4)


def test_an_involatile_part_holds_the_rest_on_the_paper():
    neat = drydown.neat_or_diluted([[molecule()]])
    fixed = drydown.neat_or_diluted([[molecule(share=0.5), molecule(0.0, None, share=0.5)]])
    assert fixed.inert[0] > 5 * neat.inert[0]
    shares = [
        drydown.remaining(s.moles, s.rates, s.inert, [4 * 3600.0])[0, 0, 0] / s.moles[0, 0]
        for s in (neat, fixed)
    ]
    assert shares[1] > shares[0]


def test_neat_crystals_leave_more_slowly_than_their_liquid():
    solid = [molecule(10.0, crystal_pa=2.0)]
    assert drydown.neat_or_diluted([solid]).rates[0, 0] == pytest.approx(
        0.2 * drydown.neat_or_diluted([solid], dissolved=True).rates[0, 0]
    )
    assert (
        drydown.neat_or_diluted([solid], 0.01).rates[0, 0]
        == drydown.neat_or_diluted([solid], dissolved=True).rates
    )


def test_three_quarters_of_a_strip_take_longer_where_the_pressure_is_lower():
    volatile, tenacious = (
        recommender.material("limonene").value,
        recommender.material("ethylene brassylate").value,
    )
    hours = drydown.evaporation_hours([volatile, tenacious])
    assert hours[0] < 1.0
    assert hours[1] > 1000.0


def test_positions_part_at_their_borders():
    assert [drydown.position(h, 4.0, 120.0) for h in (0.1, 4.0, 119.0, 120.0)] == [
        "top",
        "heart",
        "heart",
        "base",
    ]


def test_the_band_of_lasting_holds_its_hours():
    materials = [recommender.material(name).value for name in ("limonene", "linalool", "vanillin")]
    for stay in drydown.lasting(materials, 4.0, 120.0):
        assert stay is not None
        assert stay.low * 2.2 <= stay.hours <= stay.high / 2.2


def test_what_has_no_smell_has_no_lasting():
    water = replace(recommender.material("limonene").value, parts=(molecule(curve=None),))
    assert drydown.lasting([water], 4.0, 120.0) == [None]


# curves


MIXTURES = st.lists(
    st.tuples(st.floats(0.05, 1.0), PRESSURES, st.floats(-3.0, 3.0)), min_size=1, max_size=5
).map(
    lambda rows: [
        Component(
            f"part {number}",
            share / sum(row[0] for row in rows),
            pressure,
            150.0,
            curve=replace(CURVE, log10_half=half),
        )
        for number, (share, pressure, half) in enumerate(rows)
    ]
)
MODEL = Curve(1.0, 0.0, 1.0, "class", "memory", log_error=0.4)


@LAWS
@given(MIXTURES, st.floats(-1.5, 4.0))
def test_a_mixture_is_just_clear_at_the_dilution_that_its_strength_says(parts, decades):
    moved = drydown.with_strength(parts, decades, MODEL)
    assert surface.first_strength(moved, 10.0 ** (-2.0 - decades)) == pytest.approx(6.0, rel=1e-3)


@LAWS
@given(MIXTURES, st.floats(-1.5, 4.0))
def test_the_parts_of_a_mixture_keep_their_strength_against_each_other(parts, decades):
    moved = drydown.with_strength(parts, decades, MODEL)
    shifts = [new.curve.log10_half - old.curve.log10_half for old, new in zip(parts, moved, strict=True)]
    assert shifts == pytest.approx([shifts[0]] * len(parts))


def test_the_curves_of_a_mixture_rest_on_what_its_strength_does():
    one, silent = drydown.with_strength(
        [molecule(20.0, share=0.9), molecule(0.1, None, share=0.1)], 1.0, MODEL
    )
    assert one.curve is not None
    assert (one.curve.kind, one.curve.basis, one.curve.source, one.curve.log_error) == (
        "class",
        "memory",
        "",
        0.4,
    )
    assert (one.curve.i_max, one.curve.width) == (CURVE.i_max, CURVE.width)
    assert silent.curve is None


@pytest.mark.parametrize("parts", [[molecule(curve=None)] * 2, [molecule(0.0)] * 2])
def test_a_mixture_of_which_nothing_smells_gets_no_curves(parts):
    assert [part.curve for part in drydown.with_strength(parts, 1.0, MODEL)] == [None, None]


@LAWS
@given(MIXTURES, st.floats(0.1, 1000.0))
def test_parts_are_gone_together_by_the_hours_that_their_half_points_are_for(parts, hours):
    softest = drydown.half_points_ending_by(parts, hours)
    whole = [
        replace(part, curve=replace(part.curve, log10_half=max(part.curve.log10_half, float(at))))
        for part, at in zip(parts, softest, strict=True)
    ]
    later = drydown.together(drydown.neat_or_diluted([whole]).at(hours * np.geomspace(1.0, 1e4, 50))[0])
    assert later[0] <= odour_strength.JUST_THERE * (1 + 1e-9)
    # between the hours that are looked at, 7 % apart, what rises may be a little higher
    assert later.max() <= odour_strength.JUST_THERE * 1.02


def test_what_is_met_more_when_the_rest_has_left_is_gone_as_well():
    parts = [molecule(10.0, share=0.9), replace(molecule(0.01, share=0.1), name="b")]
    softest = drydown.half_points_ending_by(parts, 1.0)
    at = [drydown.neat_or_diluted([parts]).at([hours])[0, 0, 1] for hours in (1.0, 24.0)]
    assert at[0] < at[1]
    # two parts: each below 1.4 / 2^(1/8)
    whole = [
        replace(p, curve=replace(CURVE, log10_half=float(half)))
        for p, half in zip(parts, softest, strict=True)
    ]
    assert drydown.neat_or_diluted([whole]).at(np.geomspace(1.0, 1e4, 200))[0].max() <= 1.2839


@LAWS
@given(MIXTURES, st.floats(0.0, 3.0), st.floats(1.0, 1000.0))
def test_the_strength_of_a_whole_and_the_hours_of_its_parts_go_together(parts, decades, hours):
    softest = drydown.half_points_ending_by(parts, hours)
    softest[-1] = -math.inf
    whole = drydown.with_strength(parts, decades, MODEL, softest)
    assert surface.first_strength(whole, 10.0 ** (-2.0 - decades)) == pytest.approx(6.0, rel=1e-3)
    assert all(p.curve.log10_half >= at for p, at in zip(whole, softest, strict=True))


def test_a_part_that_does_not_evaporate_or_smell_sets_no_half_point():
    parts = [molecule(share=0.4), molecule(0.0, share=0.3), molecule(curve=None, share=0.3)]
    assert np.isneginf(drydown.half_points_ending_by(parts, 5.0)).tolist() == [False, True, True]


def test_a_part_is_smelled_until_it_is_just_there():
    strip = [molecule(10.0, share=0.5), replace(molecule(0.1, share=0.5), name="b")]
    volatile, tenacious = (float(drydown.last_smelled([strip], name)[0]) for name in "ab")
    assert volatile < tenacious
    levels = drydown.neat_or_diluted([strip]).at([0.9 * volatile, 1.1 * volatile])[0, :, 0]
    assert levels[0] > odour_strength.JUST_THERE > levels[1]


def test_a_part_that_is_never_smelled_has_no_hours():
    faint = replace(molecule(), curve=replace(CURVE, log10_half=9.0))
    assert drydown.last_smelled([[faint]], "a").tolist() == [0.0]
    assert drydown.last_smelled([[molecule()]], "a", level=90.0).tolist() == [0.0]


# mixtures


@LAWS
@given(INTENSITIES)
def test_a_mixture_is_at_least_its_strongest_part_and_at_most_the_sum(parts):
    whole = float(drydown.together(parts))
    assert parts.max() * (1 - 1e-12) <= whole <= parts.sum() * (1 + 1e-12)


@LAWS
@given(INTENSITIES, st.floats(0.0, 100.0), st.integers(0, 7))
def test_a_mixture_never_grows_weaker_when_a_part_grows(parts, more, place):
    grown = parts.copy()
    grown[place % len(parts)] += more
    assert drydown.together(grown) >= drydown.together(parts) * (1 - 1e-12)


@LAWS
@given(INTENSITIES, INTENSITIES)
def test_mixing_in_steps_gives_the_same(one, two):
    steps = np.array([drydown.together(one), drydown.together(two)])
    at_once = float(drydown.together(np.concatenate([one, two])))
    assert float(drydown.together(steps)) == pytest.approx(at_once)


def test_one_part_is_itself_and_two_equal_parts_are_a_little_more():
    assert float(drydown.together(np.array([20.0, 0.0]))) == 20.0
    assert float(drydown.together(np.array([20.0, 20.0]))) == pytest.approx(20.0 * 2 ** (1 / 8))


# presence of a facet


@LAWS
@given(PRESSURES, st.floats(0.05, 0.8))
def test_a_fifth_more_of_a_label_moves_presence_by_less_than_a_fifth(pressure_pa, weight):
    strips = drydown.neat_or_diluted([[molecule(pressure_pa)]] * 2)
    over, at_end = drydown.presence(strips, [weight, 1.2 * weight], np.ones((2, 1)), 1.0, 24.0)
    assert over[0] <= over[1] < 1.2 * over[0] + 1e-12
    assert at_end[0] <= at_end[1] < 1.2 * at_end[0] + 1e-12


def test_a_longer_lasting_material_is_more_present_all_else_equal():
    # same odour value on the fresh strip: pressure ten times lower, half point ten times lower
    volatile = molecule(10.0)
    tenacious = molecule(1.0, replace(CURVE, log10_half=0.0))
    over, at_end = drydown.presence(
        drydown.neat_or_diluted([[volatile], [tenacious]]), [1.0, 1.0], np.ones((2, 1)), 1.0, 48.0
    )
    assert over[1] > over[0]
    assert at_end[1] > at_end[0]


def test_what_does_not_carry_the_facet_gives_it_no_presence():
    over, at_end = drydown.presence(drydown.neat_or_diluted([[molecule()]]), [1.0], [[0.0]], 1.0, 8.0)
    assert (over[0], at_end[0]) == (0.0, 0.0)


def test_twice_the_still_air_makes_everything_last_twice_as_long(shipped):
    parts = [shipped.find("linalool").parts, shipped.find("lemon oil").parts]
    thin = neat_or_diluted(parts, conditions=Conditions(film_m=2e-3))
    thick = neat_or_diluted(parts, conditions=Conditions(film_m=4e-3))
    hours = np.geomspace(0.1, 20, 12)
    left = [remaining(s.moles, s.rates, s.inert, h * 3600) for s, h in ((thin, hours), (thick, 2 * hours))]
    assert left[1] == pytest.approx(left[0], rel=1e-9)


def test_a_stronger_draught_through_the_nose_thins_what_it_meets(shipped):
    parts = [shipped.find("linalool").parts]
    one, other = (neat_or_diluted(parts, conditions=Conditions(nose_l_per_s=q)) for q in (0.045, 0.09))
    met = [s.concentrations(s.moles[:, None, :]) for s in (one, other)]
    assert met[0] == pytest.approx(2 * met[1])


def test_more_paper_lengthens_the_tail_and_the_table_is_the_default(shipped):
    parts = [shipped.find("linalool").parts]
    assert Conditions() == DEFAULT_CONDITIONS
    late = [
        neat_or_diluted(parts, conditions=Conditions(paper_share=p)).at([6.5])[0, 0, 0] for p in (0.03, 0.2)
    ]
    assert late[1] > 10 * late[0]
    assert neat_or_diluted(parts).inert == pytest.approx(
        neat_or_diluted(parts, conditions=DEFAULT_CONDITIONS).inert
    )


def test_own_strips_of_a_material_move_its_parts_only(shipped):
    linalool = shipped.find("linalool")
    own = Conditions(own={"linalool": OwnReading(0.5, 2.0)})
    (part,), (table,) = parts_as_read(linalool, own), linalool.parts
    assert part.pressure_pa == pytest.approx(table.pressure_pa / 2)
    assert part.curve.log10_half == pytest.approx(table.curve.log10_half - math.log10(2))
    assert parts_as_read(shipped.find("geraniol"), own) == shipped.find("geraniol").parts


# another surface


def test_more_area_and_less_on_it_shorten_all_times_alike(shipped):
    # without a reservoir the hours go as the load per area
    parts = [shipped.find("linalool").parts, shipped.find("lemon oil").parts]
    hours = np.geomspace(0.1, 20, 12)
    strip = neat_or_diluted(parts)
    wider = neat_or_diluted(parts, conditions=Conditions(area_m2=1e-3))
    lighter = neat_or_diluted(parts, conditions=Conditions(load_mg=10.0))
    share = strip.left(hours) / np.maximum(strip.moles, 1e-300)[:, None, :]
    for other in (wider, lighter):
        halved = other.left(hours / 2) / np.maximum(other.moles, 1e-300)[:, None, :]
        assert halved == pytest.approx(share, rel=1e-9, abs=1e-30)


def test_with_a_reservoir_the_last_traces_die_away_at_one_rate():
    skin = Conditions(paper_share=0.0, reservoir_mol_per_m2=0.2, load_mg=1e-6)  # on 5e-4 m2
    trace = neat_or_diluted([[molecule(1.0)]], conditions=skin)
    hour = math.log(2) * 1e-4 / trace.rates[0, 0] / 3600  # half-life: reservoir over rate constant
    assert trace.left([hour])[0, 0, 0] == pytest.approx(trace.moles[0, 0] / 2, rel=1e-3)


def test_what_a_surface_takes_up_is_gone_and_not_smelled():
    one = replace(molecule(), log_p=3.0)
    rate = float(drydown.evaporation_rate(one.pressure_pa, one.molar_mass))
    as_fast = rate / float(drydown.uptake_rate(3.0, one.molar_mass, Conditions(uptake=1.0)))
    paper, skin = (neat_or_diluted([[one]], conditions=Conditions(uptake=u)) for u in (0.0, as_fast))
    assert skin.concentrations(skin.moles[:, None, :]) == pytest.approx(
        paper.concentrations(paper.moles[:, None, :])
    )  # at first it smells the same
    assert skin.left([1.0]) == pytest.approx(paper.left([2.0]))  # lost twice as fast
    assert paper.first_smelled() == pytest.approx(paper.left([1 / 60]))
