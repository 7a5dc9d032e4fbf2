import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from recommender.similarity.odour_space import OdourSpace, Panel, label_matrix, positive_pmi, unit

LAWS = settings(deadline=None, max_examples=50)
WEIGHTS = st.sampled_from([0.0, 0.3, 0.6, 1.0])


@st.composite
def spaces(draw):
    materials, facets = draw(st.integers(1, 6)), draw(st.integers(2, 5))
    weights = draw(arrays(float, (materials, facets), elements=WEIGHTS))
    vectors = draw(arrays(float, (facets, 4), elements=st.floats(-1, 1, width=16)))
    vectors[:, 0] += 1.5
    return OdourSpace.build(tuple(f"facet {i}" for i in range(facets)), weights, unit(vectors))


@given(spaces())
@LAWS
def test_likeness_is_symmetric_and_within_minus_1_and_1(space):
    likeness = space.all_likeness()
    assert likeness == pytest.approx(likeness.T)
    assert (np.abs(likeness) <= 1.0).all()


@given(spaces())
@LAWS
def test_a_material_with_a_smell_is_like_itself(space):
    own = np.diag(space.all_likeness())
    smells = space.weights.any(axis=1)
    assert own[smells] == pytest.approx(1.0)
    assert (own[~smells] == 0.0).all()


@given(spaces())
@LAWS
def test_the_likeness_of_one_is_its_row_of_all(space):
    assert space.likeness(0) == pytest.approx(space.all_likeness()[0])


@given(spaces())
@LAWS
def test_a_material_carries_a_facet_between_0_and_1_and_at_least_as_its_label_says(space):
    carried = space.carries({"facet 0": 1.0})
    assert (carried <= 1.0 + 1e-12).all()
    assert (carried >= space.weights[:, 0] - 1e-12).all()


@given(spaces())
@LAWS
def test_every_facet_speaks_wholly_for_itself_and_no_more_than_that_for_another(space):
    assert np.diag(space.near).tolist() == [1.0] * len(space.facets)
    assert ((space.near >= 0.0) & (space.near <= 1.0)).all()


def test_a_label_matrix_holds_trace_clear_and_leading(material):
    matrix = label_matrix([material("a", {"rose": 1, "lemon": 3}), material("b")], ["lemon", "lime", "rose"])
    assert matrix.tolist() == [[1.0, 0.0, 0.3], [0.0, 0.0, 0.0]]


def test_three_on_a_line(line):
    space = OdourSpace.of(line)
    # b points half way between lemon and rose: cos 45 degrees
    assert space.likeness(0) == pytest.approx([1.0, 0.7071, 0.0], abs=1e-4)
    assert space.label_cosine(1) == pytest.approx([0.7071, 1.0, 0.7071], abs=1e-4)


def test_a_near_facet_lends_a_part_of_its_strength(line):
    space = OdourSpace.of(line)
    # lime to lemon has a cosine of 0.8: 0.45 x (0.8 - 0.45) / 0.55 = 0.2864
    assert space.lent({"lemon": 1.0}) == pytest.approx([1.0, 0.2864, 0.0, 0.0, 0.0], abs=1e-4)
    # alone it comes to at most 0.45 + 0.5 x 0.55 x 0.45 = 0.5738, which is where a trace begins
    near = 0.3 * 0.2864 / 0.5738
    assert space.carries({"lime": 1.0}) == pytest.approx([near, near, 0.0], abs=1e-4)


@given(st.floats(-1.0, 1.0), st.floats(-1.0, 1.0))
@settings(deadline=None, max_examples=60)
def test_what_only_comes_near_never_carries_more_than_a_trace(one, other):
    vectors = np.array([[1.0, 0.0], [one, (1 - one**2) ** 0.5], [other, (1 - other**2) ** 0.5]])
    weights = np.array([[0.3, 0.0, 0.0], [0.0, 1.0, 1.0], [0.0, 1.0, 0.0]])
    trace, *near = OdourSpace.build(("wanted", "one", "other"), weights, vectors).carries({"wanted": 1.0})
    assert all(value <= trace + 1e-9 for value in near)


def test_a_second_wanted_label_adds_half_of_what_is_left(material, catalogue_of):
    space = OdourSpace.of(catalogue_of([material("a", {"lemon": 2, "rose": 1})]))
    # 0.6 + 0.5 x 0.4 x 0.3
    assert space.carries({"lemon": 1.0, "rose": 1.0}) == pytest.approx([0.66])


def test_labels_that_keep_company_more_than_chance_have_positive_information():
    weights = np.array([[1, 1, 0, 0], [1, 1, 0, 0], [0, 0, 1, 1], [0, 0, 1, 1.0]])
    ppmi = positive_pmi(weights)
    # two labels in two of four pairs: log(2 x 4 x 2^0.75 / (2 x 2^0.75)) = log 4
    assert ppmi[0, 1] == pytest.approx(np.log(4.0))
    assert (ppmi[0, 2], ppmi[0, 0]) == (0.0, 0.0)


def test_rows_get_unit_length_and_rows_of_nought_stay():
    assert unit(np.array([[3.0, 4.0], [0.0, 0.0]])).tolist() == [[0.6, 0.8], [0.0, 0.0]]


NOSES = Panel(
    effects=np.array([[2.0, 0.0, -1.0], [0.0, 3.0, 0.0]]), base=np.array([1.0, 1.0, 1.0]), level=0.2
)


def test_a_panel_is_half_of_a_likeness_and_the_level_is_taken_off():
    # labels at right angles: cosine 0. Profiles (3, 1, 0) and (1, 4, 1): Pearson's r = -0.18898
    space = OdourSpace.build(("lemon", "rose"), np.eye(2), np.eye(2), NOSES)
    assert space.likeness(0) == pytest.approx([1.0, (0.5 * -0.18898 - 0.2) / 0.8], abs=1e-4)
    assert space.rests_on == "odour labels and a panel of noses"


def test_what_the_panel_says_of_a_facet_that_it_never_met_is_predicted_from_those_that_it_met():
    rows = {"any": (1.0, 1.0), "lemon": (2.0, 0.0), "rose": (0.0, 3.0)}
    labels = np.array([[1.0, 0.0], [0.0, 1.0], [0.6, 0.8], [0.0, 0.0]])
    panel = Panel.of(rows, ("lemon", "rose", "lychee", "alone"), labels, 0.2)
    # ridge 1 on orthogonal vectors halves each effect: 0.6 x (2, 0) / 2 + 0.8 x (0, 3) / 2
    assert panel.effects[2] == pytest.approx([0.6, 1.2])
    assert panel.effects[:2].tolist() == [[2.0, 0.0], [0.0, 3.0]]
    assert panel.effects[3].tolist() == [0.0, 0.0]
    assert (panel.base.tolist(), panel.level) == ([1.0, 1.0], 0.2)


def test_a_panel_that_met_no_facet_knows_what_all_smells_have_in_common():
    panel = Panel.of({"any": (1.0, 2.0)}, ("lemon",), np.array([[1.0]]), 0.0)
    assert panel.effects.tolist() == [[0.0, 0.0]]


def test_a_smell_is_placed_where_the_material_with_its_labels_stands():
    weights = np.array([[1.0, 0.3], [0.0, 0.0]])
    space = OdourSpace.build(("lemon", "rose"), weights, np.eye(2), NOSES)
    assert space.place(weights[0]) == pytest.approx(space.vectors[0])
    assert np.linalg.norm(space.vectors, axis=1) == pytest.approx([1.0, 0.0])


def test_without_a_panel_likeness_is_the_cosine_of_the_label_vectors(line):
    space = OdourSpace.of(line)
    assert space.rests_on == "odour labels"
    assert space.all_likeness() == pytest.approx(space.vectors @ space.vectors.T)
