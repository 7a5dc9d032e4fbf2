"""Laws of fusion, and small worlds whose answers can be worked out by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.chemistry.fusion import LEAST_SCATTER, Observation, Source, fuse

LAWS = settings(deadline=None, max_examples=30)
COUNT = 6
MEAN, COVARIANCE = np.zeros(COUNT), 4.0 * np.eye(COUNT)
SOURCES = {"anchor": Source(fits=("scatter",)), "other": Source(), "pair": Source(fits=(), scatter=0.3)}
FIXED = {"anchor": Source(fits=(), scatter=0.2), "other": Source(fits=(), scatter=0.4)}
MATERIALS = st.integers(0, COUNT - 1)
PLAIN = st.builds(Observation, st.sampled_from(["anchor", "other"]), MATERIALS, st.floats(-4.0, 4.0))
PAIRS = st.tuples(MATERIALS, MATERIALS, st.floats(-1.0, 1.0), st.booleans()).filter(
    lambda row: row[0] != row[1]
)
OBSERVED = st.tuples(
    st.lists(PLAIN, min_size=4, max_size=15),
    st.lists(PAIRS.map(lambda row: Observation("pair", row[0], row[2], row[1], row[3])), max_size=4),
).map(lambda both: both[0] + both[1])


def fused(seen, sources=SOURCES):
    return fuse(seen, sources, MEAN, COVARIANCE)


# laws


@LAWS
@given(OBSERVED, st.randoms(use_true_random=False))
def test_the_order_of_observations_does_not_matter(seen, random):
    other = list(seen)
    random.shuffle(other)
    one, two = fused(seen), fused(other)
    assert one.figures == pytest.approx(two.figures, abs=1e-6)
    assert one.bands == pytest.approx(two.bands, abs=1e-6)


@LAWS
@given(st.lists(PLAIN, min_size=1, max_size=10), MATERIALS)
def test_one_more_observation_that_agrees_narrows_the_band(seen, place):
    before = fused(seen, FIXED)
    after = fused([*seen, Observation("anchor", place, float(before.figures[place]))], FIXED)
    assert after.bands[place] < before.bands[place]
    assert after.figures[place] == pytest.approx(before.figures[place], abs=1e-2)


@LAWS
@given(st.floats(-100.0, 100.0))
def test_one_wild_row_among_five_moves_a_figure_by_less_than_a_fifth_of_a_decade(wild):
    seen = [Observation("anchor", 0, 1.0 + shift) for shift in (-0.1, -0.05, 0.0, 0.05, 0.1)]
    found = fused([*seen, Observation("anchor", 0, wild)], FIXED)
    assert abs(found.figures[0] - 1.0) < 0.2


@LAWS
@given(OBSERVED, st.floats(-5.0, 5.0))
def test_a_source_that_reads_higher_throughout_changes_nothing(seen, shift):
    moved = [replace(o, value=o.value + shift) if o.source == "other" else o for o in seen]
    sources = {**SOURCES, "other": Source(offset=shift)}
    one, two = fused(seen), fused(moved, sources)
    assert one.figures == pytest.approx(two.figures, abs=1e-6)
    assert two.sources["other"].offset - one.sources["other"].offset == pytest.approx(shift, abs=1e-6)


@LAWS
@given(
    st.lists(st.floats(-2.0, 2.0), min_size=COUNT, max_size=COUNT), st.floats(-3.0, 3.0), st.floats(0.3, 3.0)
)
def test_the_anchor_sets_the_scale_and_offset_and_slope_of_the_rest_follow(true, offset, slope):
    true = np.array(true) + np.linspace(-3.0, 3.0, COUNT)
    seen = [Observation("anchor", place, value) for place, value in enumerate(true)]
    seen += [Observation("other", place, offset + slope * value) for place, value in enumerate(true)]
    found = fuse(
        seen,
        {
            "anchor": Source(fits=(), scatter=LEAST_SCATTER),
            "other": Source(fits=("offset", "slope", "scatter")),
        },
        MEAN,
        100.0 * np.eye(COUNT),
    )
    assert found.figures == pytest.approx(true, abs=0.02)
    assert found.sources["other"].offset == pytest.approx(offset, abs=0.05)
    assert found.sources["other"].slope == pytest.approx(slope, rel=0.02)


@LAWS
@given(st.floats(0.5, 3.0), st.floats(0.0, 0.4))
def test_a_difference_of_at_least_so_much_pulls_only_if_it_is_less(apart, least):
    seen = [Observation("anchor", 0, apart), Observation("anchor", 1, 0.0)]
    sources = {**FIXED, "pair": SOURCES["pair"]}
    alone = fused(seen, sources)
    met = fused([*seen, Observation("pair", 0, least, 1, at_least=True)], sources)
    assert met.figures == pytest.approx(alone.figures, abs=0.02)
    violated = fused([*seen, Observation("pair", 1, least, 0, at_least=True)], sources)
    assert violated.figures[0] < alone.figures[0]
    assert violated.figures[1] > alone.figures[1]


@LAWS
@given(OBSERVED)
def test_every_band_is_narrower_than_what_was_expected_before(seen):
    found = fused(seen, {**FIXED, "pair": SOURCES["pair"]})
    assert (found.bands <= np.sqrt(np.diag(COVARIANCE)) * (1 + 1e-9)).all()
    assert (found.bands > 0).all()
    assert len(found.deviations) == len(seen)


def test_a_repeat_gives_the_same_figures_to_the_last_digit():
    seen = [Observation("anchor", n % COUNT, math.sin(n)) for n in range(20)]
    seen += [Observation("other", n % COUNT, 3.0 + math.cos(n)) for n in range(20)]
    one, two = fused(seen), fused(seen)
    assert (one.figures == two.figures).all()
    assert one.sources == two.sources


# small worlds


def test_two_sources_of_known_scatter_meet_where_their_precisions_say():
    # t distribution with 4 degrees of freedom: both agree within their scatter, so the weights are near
    # 5 / 4; precisions 25 and 6.25, and 0.25 of what was expected: near (25 x 1 + 6.25 x 1.1) / 31.25
    found = fused([Observation("anchor", 0, 1.0), Observation("other", 0, 1.1)], FIXED)
    assert found.figures[0] == pytest.approx(1.02, abs=0.01)
    assert found.bands[0] == pytest.approx(1 / math.sqrt(31.5), rel=0.1)


def test_what_nobody_reports_is_what_was_expected():
    found = fuse([Observation("anchor", 0, 1.0)], FIXED, np.full(COUNT, -2.0), COVARIANCE)
    assert found.figures[1:] == pytest.approx(np.full(COUNT - 1, -2.0))
    assert found.bands[1:] == pytest.approx(np.full(COUNT - 1, 2.0))


def test_kin_are_expected_to_be_alike():
    covariance = 4.0 * np.array([[1.0, 0.5, 0.0], [0.5, 1.0, 0.0], [0.0, 0.0, 1.0]])
    found = fuse([Observation("anchor", 0, 1.0)], FIXED, np.zeros(3), covariance)
    # half of what its relative is moved by; nothing for the stranger
    assert found.figures[1] == pytest.approx(0.5 * found.figures[0], abs=1e-6)
    assert found.figures[2] == pytest.approx(0.0, abs=1e-9)


def test_a_pair_gives_a_figure_to_what_is_only_compared():
    sources = {**FIXED, "pair": SOURCES["pair"]}
    found = fused([Observation("anchor", 0, 1.0), Observation("pair", 1, 2.0, 0)], sources)
    assert found.figures[1] - found.figures[0] == pytest.approx(2.0, abs=0.1)
    assert found.bands[1] > found.bands[0]


def test_no_source_is_taken_to_be_exact():
    found = fused([Observation("anchor", n, float(n)) for n in range(COUNT)] * 3)
    assert found.sources["anchor"].scatter >= LEAST_SCATTER


def test_the_row_that_disagrees_with_all_else_deviates_most():
    values = [1.0, 1.1, 0.9, 1.05, 3.5]
    found = fused([Observation("anchor", 0, value) for value in values], FIXED)
    assert np.abs(found.deviations).argmax() == 4
    assert found.deviations[4] > 5.0
    assert np.abs(found.deviations[:4]).max() < 1.5


def test_a_source_without_rows_stays_as_it_is_given():
    found = fused([Observation("anchor", 0, 1.0)], SOURCES)
    assert found.sources["other"] == SOURCES["other"]
    assert found.sources["pair"] == SOURCES["pair"]
