import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.evaporation import neat_strips, presence
from recommender.suggest.scoring import (
    BECAUSE,
    WEIGHTS,
    closeness,
    diverse,
    means_something,
    order,
    score,
    weights_of,
)

LAWS = settings(deadline=None, max_examples=60)
VERBS = st.sampled_from(sorted(WEIGHTS))
UNIT = st.floats(0.0, 1.0)


@st.composite
def termed(draw):
    verb = draw(VERBS)
    names = draw(st.lists(st.sampled_from(sorted(WEIGHTS[verb])), min_size=1, unique=True))
    return verb, {name: draw(UNIT) for name in names}


def one(terms, verb):
    return float(score({name: np.array([value]) for name, value in terms.items()}, verb)[0])


@given(termed())
@LAWS
def test_a_score_lies_above_0_and_at_most_at_1(case):
    verb, terms = case
    assert 0.0 < one(terms, verb) <= 1.0


@given(termed(), st.data())
@LAWS
def test_a_score_rises_with_each_term(case, data):
    verb, terms = case
    name = data.draw(st.sampled_from(sorted(terms)))
    low = data.draw(st.floats(0.02, 0.9))
    high = data.draw(st.floats(low + 0.01, 1.0))
    assert one(terms | {name: low}, verb) < one(terms | {name: high}, verb)


@given(VERBS, UNIT)
@LAWS
def test_equal_terms_give_that_value(verb, value):
    assert one(dict.fromkeys(WEIGHTS[verb], value), verb) == pytest.approx(max(value, 0.02))


@given(termed())
@LAWS
def test_a_fifth_less_of_one_term_costs_less_than_a_fifth_of_the_score(case):
    verb, terms = case
    whole = one(terms, verb)
    for name, value in terms.items():
        assert one(terms | {name: 0.8 * value}, verb) >= 0.8 * whole - 1e-12


def test_one_term_of_nought_does_not_bring_a_score_to_nought():
    # (1^2.8 x 0.02^1.0)^(1 / 3.8) = 0.357
    assert one({"facet": 1.0, "evidence": 0.0}, "vary") == pytest.approx(0.357, abs=0.001)


@given(st.permutations(list(enumerate([0.9, 0.5, 0.5, 0.5, 0.1, 0.9]))))
@LAWS
def test_order_does_not_depend_on_the_order_of_input(entries):
    names = [f"material {i}" for i, _ in entries]
    ranked = order(np.array([value for _, value in entries]), names)
    assert [entries[place][0] for place in ranked] == [0, 5, 1, 2, 3, 4]


def test_scores_that_differ_by_rounding_only_are_equal():
    assert order(np.array([0.5, 0.5 + 1e-13]), ["a", "b"]) == [0, 1]


@given(st.floats(1e-6, 1e6), st.floats(0.1, 3.0))
@LAWS
def test_closeness_is_1_at_the_value_and_falls_to_a_third_a_decade_away(to, decades):
    near = closeness(np.array([to, to * 10**decades, to / 10**decades]), to, decades)
    assert near == pytest.approx([1.0, 0.3679, 0.3679], abs=1e-4)


def test_closeness_of_nought_and_of_unknown_is_small_but_a_number():
    near = closeness(np.array([0.0, np.nan]), 5.0)
    assert np.isfinite(near).all()
    assert (near < 0.4).all()


def test_diversity_moves_a_copy_of_the_first_down():
    likeness = np.array([[1.0, 1.0, 0.0], [1.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    # 0.79 x (0.85 - 0.15) = 0.553 for the copy against 0.75 x 0.85 = 0.638
    assert diverse([0, 1, 2], np.array([0.8, 0.79, 0.75]), likeness) == [0, 2, 1]


def test_without_a_share_diversity_changes_nothing():
    assert diverse([2, 0, 1], np.array([0.5, 0.4, 0.9]), np.ones((3, 3)), share=0.0) == [2, 0, 1]


@given(st.lists(UNIT, min_size=1, max_size=8), st.floats(0.0, 1.0))
@LAWS
def test_diversity_keeps_every_place_once(values, share):
    scores = np.array(values)
    ranked = order(scores, [f"{i:03}" for i in range(len(values))])
    likeness = np.abs(np.subtract.outer(scores, scores))
    assert sorted(diverse(ranked, scores, likeness, share)) == sorted(ranked)


@given(st.floats(0.05, 4.0), st.floats(0.1, 50.0), st.floats(1.5, 20.0))
@LAWS
def test_a_longer_lasting_material_is_never_less_present_all_else_equal(kin, decades, start, factor):
    over, end = presence(neat_strips(kin(decades)), [1.0, 1.0], np.ones((2, 1)), start, start * factor)
    assert over[1] >= over[0] - 1e-12
    assert end[1] >= end[0] - 1e-12


def test_what_is_no_more_than_a_trace_of_the_asked_means_nothing():
    terms = {"facet": np.array([0.3, 0.29, 1.0]), "likeness": np.array([0.3, 0.3, 0.02])}
    # (1.0^1.9 x 0.02^1.4)^(1 / 3.3) = 0.19
    assert means_something(terms, "extend").tolist() == [True, False, False]


def test_that_there_is_no_drawback_is_no_answer():
    terms = {"likeness": np.array([0.25]), "untroubled": np.array([1.0])}
    assert score(terms, "replace")[0] > 0.3
    assert means_something(terms, "replace").tolist() == [False]


@given(st.permutations(range(4)))
@LAWS
def test_what_is_last_comes_after_all_others_whatever_its_score(places):
    scores, last = np.array([0.9, 0.8, 0.7, 0.6]), [True, False, True, False]
    found = order(scores[list(places)], [str(i) for i in places], [last[i] for i in places])
    assert [places[i] for i in found] == [1, 3, 0, 2]
    again = diverse(range(4), scores, np.eye(4), last=last)
    assert again == [1, 3, 0, 2]


@pytest.mark.parametrize("because", sorted(BECAUSE))
def test_a_reason_changes_weights_of_replace_alone(because):
    assert weights_of("extend") == WEIGHTS["extend"]
    assert weights_of("replace", because) == WEIGHTS["replace"] | BECAUSE[because]
