"""How sure the places of a list are, on strips and in toy worlds whose answers can be worked out by hand."""

from dataclasses import replace as with_

import numpy as np
import pytest
from asking import extend, replace, vary
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.model import Confidence, Label
from recommender.output import sentences, text
from recommender.palette import Palette
from recommender.palette import shipped as shipped_palette
from recommender.reasons import LabelsFromMemory
from recommender.suggest.confidence import DRAWS, confidences, groups

pytestmark = pytest.mark.usefixtures("everything_shown")
LAWS = settings(deadline=None, max_examples=60)


@st.composite
def drawn(draw):
    places, draws = draw(st.integers(1, 6)), draw(st.integers(1, 40))
    values = st.lists(st.floats(-3, 3), min_size=places * draws, max_size=places * draws)
    return np.array(draw(values)).reshape(places, draws)


@given(drawn())
@LAWS
def test_ties_are_mutual_and_the_shares_of_the_first_place_add_up_to_1(scores):
    found = confidences(scores)
    assert sum(sure.first_in for sure in found) == pytest.approx(1.0)
    for rank, sure in enumerate(found, 1):
        assert rank not in sure.tied_with
        assert all(rank in found[other - 1].tied_with for other in sure.tied_with)


def test_an_order_that_turns_in_three_of_ten_draws_is_a_tie_and_one_in_two_is_not():
    above = np.zeros(10)
    thrice, twice = np.array([1.0] * 3 + [-1.0] * 7), np.array([-2.0] * 8 + [2.0] * 2)
    found = confidences(np.array([above, thrice, twice]))
    assert found[0] == Confidence((2,), pytest.approx(0.5))
    assert found[2].tied_with == ()


def test_runs_are_of_ranks_of_which_no_two_can_be_told_apart(material):
    ties = [(2, 3), (1, 3), (1, 2, 4), (3,), (6,), (5,)]

    class Found:
        def __init__(self, tied):
            self.confidence = Confidence(tied, 0.0)

    runs = groups([Found(tied) for tied in ties])
    assert runs == [(1, 3), (5, 6)]  # 4 is tied with 3, not with 1
    assert sentences.tied(runs) == "1 to 3 cannot be told apart, nor can 5 and 6."
    assert sentences.tied([]) == ""


@pytest.fixture(scope="module")
def twins(material, catalogue_of):
    """Return an asked material, two that differ by a hair, and one that plainly smells less of it."""
    rows = [
        material("zest", {"lemon": 3}, hours=1.0, pressure_pa=100.0),
        material("one", {"lemon": 3}, hours=50.0, pressure_pa=2.0),
        material("two", {"lemon": 3}, hours=50.0, pressure_pa=2.02),
        material("weak", {"rose": 3, "lemon": 1}, hours=50.0, pressure_pa=90.0),
    ]
    return Palette.of(catalogue_of(rows))


def test_what_differs_by_a_hair_is_tied_and_what_is_plainly_less_is_not(twins):
    one, two, weak = extend("zest", twins).suggestions
    assert {one.material.slug, two.material.slug} == {"one", "two"}
    assert (one.confidence.tied_with, two.confidence.tied_with) == ((2,), (1,))
    assert weak.confidence == Confidence((), 0.0)
    assert one.confidence.first_in + two.confidence.first_in == pytest.approx(1.0)
    assert text.tied_line(extend("zest", twins)) == "1 and 2 cannot be told apart."


def test_a_figure_known_exactly_ties_with_nothing(twins, catalogue_of):
    def exact(m):
        parts = tuple(with_(p, log_error=0.0, curve=with_(p.curve, log_error=0.0)) for p in m.parts)
        labels = tuple(Label(x.facet, x.strength, "user") for x in m.labels)
        return with_(m, parts=parts, labels=labels)

    known = Palette.of(catalogue_of([exact(m) for m in twins.catalogue.materials]))
    found = extend("zest", known).suggestions
    assert [s.confidence.tied_with for s in found] == [(), (), ()]
    assert found[0].confidence.first_in == 1.0


def test_draws_are_the_same_each_time_and_do_not_depend_on_what_else_is_shown(twins):
    again = [extend("zest", twins).suggestions for _ in range(2)]
    assert again[0] == again[1]
    assert extend("zest", twins, top=2).suggestions[0].confidence.tied_with == (2,)


def remembered(material, catalogue_of, weights):
    """Return an asked material and others whose labels come from memory."""
    asked = {"lemon": 3, "rose": 2, "smoke": 2, "vanilla": 1}
    rows = [material("zest", asked, hours=1.0, pressure_pa=100.0)]
    for name, labels in weights.items():
        rows.append(material(name, labels, hours=50.0, pressure_pa=2.0, label_basis="memory"))
    return Palette.of(catalogue_of(rows))


def cautioned(found):
    return [
        s.material.slug for s in found.suggestions if any(isinstance(r, LabelsFromMemory) for r in s.reasons)
    ]


def test_memory_is_a_caution_only_where_it_decides_the_place(material, catalogue_of):
    one = {"lemon": 3, "rose": 1, "smoke": 2, "vanilla": 1}
    near = {"one": one, "two": {"lemon": 3, "rose": 2, "smoke": 1, "vanilla": 1}}
    assert cautioned(replace("zest", remembered(material, catalogue_of, near))) == ["one", "two"]
    far = {"one": one, "two": {"vanilla": 3, "rose": 1}}
    assert cautioned(replace("zest", remembered(material, catalogue_of, far))) == []


def test_several_together_have_no_place_that_is_drawn(shipped_answers):
    relay = [s for found in shipped_answers["blend"] for s in found.suggestions]
    assert relay
    assert all(s.confidence is None for s in relay)


# on the shipped evidence: properties, no figures


ASKED = [
    ("extend", "linalool", {}),
    ("extend", "limonene", {}),
    ("extend", "benzaldehyde", {"facet": "bitter almond"}),
    ("extend", "benzyl acetate", {"facet": "jasmine"}),
    ("extend", "cis-3-hexenol", {"facet": "green", "into": "base"}),
    ("extend", "phenylacetaldehyde", {"facet": "hyacinth"}),
    ("extend", "linalyl acetate", {}),
    ("replace", "vanillin", {}),
    ("replace", "coumarin", {}),
    ("replace", "linalool", {}),
    ("replace", "hydroxycitronellal", {}),
    ("replace", "civet", {}),
    ("replace", "galbanum oil", {}),
    ("replace", "ambroxide", {"because": "smell"}),
    ("replace", "eugenol", {"because": "law"}),
    ("vary", "vanillin", {"toward": "smoke"}),
    ("vary", "linalool", {"toward": "pear"}),
    ("vary", "patchouli oil", {"toward": "chocolate"}),
    ("vary", "cedrol", {"toward": "amber"}),
    ("vary", "phenethyl alcohol", {"toward": "less rose"}),
]


@pytest.fixture(scope="module")
def shipped_answers():
    verbs = {"extend": extend, "replace": replace, "vary": vary}
    palette = shipped_palette()
    answers = {"one": [verbs[verb](asked, palette, **given) for verb, asked, given in ASKED]}
    answers["blend"] = [replace("clove bud oil", palette, blend=2, top=3)]
    return answers


def test_twenty_questions_say_how_sure_their_order_is(shipped_answers):
    for found in shipped_answers["one"]:
        sure = [s.confidence for s in found.suggestions]
        assert sum(s.first_in for s in sure) == pytest.approx(1.0)
        assert all(0.0 <= s.first_in * DRAWS <= DRAWS for s in sure)
        if found.query["verb"] != "vary":  # which moves what repeats
            assert sure[0].first_in >= max(s.first_in for s in sure[1:]) - 0.3


def test_some_order_is_open_and_some_is_not(shipped_answers):
    runs = [groups(found.suggestions) for found in shipped_answers["one"]]
    assert any(start == 1 and end >= 2 for found in runs for start, end in found)
    assert any(end - start >= 2 for found in runs for start, end in found)
    assert any(found.suggestions[0].confidence.first_in > 0.9 for found in shipped_answers["one"])


def test_memory_is_named_on_a_part_of_the_lines_only(shipped_answers):
    lines = [s for found in shipped_answers["one"] for s in found.suggestions]
    named = sum(any(isinstance(r, LabelsFromMemory) for r in s.reasons) for s in lines)
    assert 0 < named < len(lines) / 2
