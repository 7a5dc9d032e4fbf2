import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from recommender.errors import UnknownFacet
from recommender.space import Panel, Space, label_matrix, parse, positive_pmi, unit, vocabulary

LAWS = settings(deadline=None, max_examples=50)
WEIGHTS = st.sampled_from([0.0, 0.3, 0.6, 1.0])


@st.composite
def spaces(draw):
    materials, facets = draw(st.integers(1, 6)), draw(st.integers(2, 5))
    weights = draw(arrays(float, (materials, facets), elements=WEIGHTS))
    vectors = draw(arrays(float, (facets, 4), elements=st.floats(-1, 1, width=16)))
    vectors[:, 0] += 1.5
    return Space.build(tuple(f"facet {i}" for i in range(facets)), weights, unit(vectors))


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
    space = Space.of(line)
    # b points half way between lemon and rose: cos 45 degrees
    assert space.likeness(0) == pytest.approx([1.0, 0.7071, 0.0], abs=1e-4)
    assert space.label_cosine(1) == pytest.approx([0.7071, 1.0, 0.7071], abs=1e-4)


def test_a_near_facet_lends_a_part_of_its_strength(line):
    space = Space.of(line)
    # lime to lemon has a cosine of 0.8: 0.45 x (0.8 - 0.45) / 0.55 = 0.2864
    assert space.lent({"lemon": 1.0}) == pytest.approx([1.0, 0.2864, 0.0, 0.0, 0.0], abs=1e-4)
    assert space.carries({"lime": 1.0}) == pytest.approx([0.2864, 0.2864, 0.0], abs=1e-4)


def test_a_second_wanted_label_adds_half_of_what_is_left(material, catalogue_of):
    space = Space.of(catalogue_of([material("a", {"lemon": 2, "rose": 1})]))
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


@pytest.fixture(scope="module")
def words(shipped):
    def taken(text):
        return parse(text, shipped.facets, shipped.umbrellas)

    return taken


@pytest.mark.parametrize(
    ("text", "facets"),
    [
        ("bitter almond", ["bitter almond"]),
        ("Bitter Almond, rose", ["bitter almond", "rose"]),
        ("cocoa/malt", ["cocoa", "malt"]),
        ("a note of cherry stone", ["bitter almond"]),
        ("roses", ["rose"]),
        ("bitter almonds", ["bitter almond"]),
        ("peaches", ["peach"]),
        ("strawberries", ["strawberry"]),
        ("cherries", ["cherry"]),
        ("rosy", ["rose"]),
        ("smoky", ["smoke"]),
        ("cut-grass", ["cut grass"]),
        ("violet leaves", ["violet leaf"]),
    ],
)
def test_the_longest_known_words_are_taken_in_singular_or_plural(words, text, facets):
    assert list(words(text).facets) == facets


def test_a_word_that_is_a_facet_needs_no_note(words):
    assert words("bitter almond, rose").notes == ()


def test_an_umbrella_word_maps_to_its_members_and_says_so(words):
    found = words("almond")
    assert list(found.facets) == ["bitter almond", "marzipan", "roasted almond"]
    assert found.notes == ('"almond" is taken as bitter almond, marzipan, roasted almond.',)


def test_an_umbrella_over_a_family_stands_for_its_facets(line):
    assert list(parse("posy", line.facets, line.umbrellas).facets) == ["rose"]


def test_an_umbrella_member_that_is_a_facet_is_that_facet_alone(words):
    assert set(words("gardenia").facets) == {"tuberose", "jasmine", "coconut", "green"}


def test_a_note_names_each_facet_once(words):
    (note,) = words("green").notes
    assert note.count("cut grass") == 1


def test_a_family_is_a_word_too(line):
    assert list(parse("citrus fruit", line.facets, line.umbrellas).facets) == ["lemon", "lime"]


def test_unknown_words_are_left_out_and_named(words):
    found = words("crushed rose qqq")
    assert list(found.facets) == ["rose"]
    assert found.ignored == ("crushed", "qqq")
    assert found.notes == ("Not understood and left out: crushed, qqq.",)


def test_fillers_are_left_out_in_silence(words):
    assert words("a rose with the smell of smoke").notes == ()


def test_a_word_with_an_accent_is_read_as_one_without(words):
    assert words("fougère").facets == words("fougere").facets


def test_a_phrase_without_a_known_word_is_an_error_with_near_words(words):
    with pytest.raises(UnknownFacet) as caught:
        words("almund")
    assert caught.value.phrase == "almund"
    assert "almond" in caught.value.near


@pytest.mark.parametrize("text", ["", "  ", ",", "a note of the", "%%%"])
def test_a_phrase_that_says_nothing_is_an_error(words, text):
    with pytest.raises(UnknownFacet):
        words(text)


@given(st.text(max_size=30))
@LAWS
def test_any_text_is_read_or_refused(line, text):
    try:
        found = parse(text, line.facets, line.umbrellas)
    except UnknownFacet:
        return
    assert set(found.facets) <= {facet.name for facet in line.facets}


def test_every_facet_and_every_synonym_is_a_word(shipped):
    known = vocabulary(shipped.facets, shipped.umbrellas)
    names = {facet.name for facet in shipped.facets}
    assert all(set(members) <= names for members in known.values())
    assert names <= set(known)


def test_every_facet_name_is_understood(words, shipped):
    assert all(facet.name in words(facet.name).facets for facet in shipped.facets)


def test_what_is_denied_is_not_wanted(shipped):
    found = parse("almond without hay", shipped.facets, shipped.umbrellas)
    assert "hay" not in found.facets
    assert "without hay (say --avoid hay)" in found.ignored


NOSES = Panel(
    effects=np.array([[2.0, 0.0, -1.0], [0.0, 3.0, 0.0]]), base=np.array([1.0, 1.0, 1.0]), level=0.2
)


def test_a_panel_is_half_of_a_likeness_and_the_level_is_taken_off():
    # labels at right angles: cosine 0. Profiles (3, 1, 0) and (1, 4, 1): Pearson's r = -0.18898
    space = Space.build(("lemon", "rose"), np.eye(2), np.eye(2), NOSES)
    assert space.likeness(0) == pytest.approx([1.0, (0.5 * -0.18898 - 0.2) / 0.8], abs=1e-4)
    assert space.rests_on == "odour labels and a panel of noses"


def test_a_smell_is_placed_where_the_material_with_its_labels_stands():
    weights = np.array([[1.0, 0.3], [0.0, 0.0]])
    space = Space.build(("lemon", "rose"), weights, np.eye(2), NOSES)
    assert space.place(weights[0]) == pytest.approx(space.vectors[0])
    assert np.linalg.norm(space.vectors, axis=1) == pytest.approx([1.0, 0.0])


def test_without_a_panel_likeness_is_the_cosine_of_the_label_vectors(line):
    space = Space.of(line)
    assert space.rests_on == "odour labels"
    assert space.all_likeness() == pytest.approx(space.vectors @ space.vectors.T)
