"""What each suggestion is ranked by: every term in a toy world, against figures worked out by hand."""

from dataclasses import replace as with_

import numpy as np
import pytest
from asking import extend, replace, vary

from recommender.model import Caution, Label
from recommender.palette import Palette
from recommender.suggest import scoring

pytestmark = pytest.mark.usefixtures("everything_shown")

LIKE_ZEST = {"lemon": 3, "rose": 1}


@pytest.fixture(scope="module")
def palette(material, catalogue_of, relation):
    def copy(name, **more):
        return material(name, LIKE_ZEST, **({"hours": 1.0, "pressure_pa": 100.0} | more))

    def troubled(name, kind):
        return copy(name, cautions=(Caution(kind, "x", "published"),))

    mixed = (Label("lemon", 3, "memory"), Label("rose", 1, "common practice"))
    return Palette.of(
        catalogue_of(
            [
                troubled("zest", "sensitiser"),
                copy("same"),
                with_(copy("half-remembered"), labels=mixed),
                copy("remembered", label_basis="memory"),
                copy("weaker", strength=4.0),
                copy("strength-unknown", strength=None),
                copy("longer", hours=10.0, pressure_pa=10.0),
                troubled("sensitising", "sensitiser"),
                troubled("poisonous", "toxic vapour"),
                copy("acetal"),
                material("lime-wax", {"lime": 3}, hours=60.0, pressure_pa=1.5),
                material("rosy", {"rose": 3, "lemon": 1}, hours=20.0, pressure_pa=5.0),
                material("smoky", {"lemon": 2, "smoke": 3}, hours=100.0, pressure_pa=1.0),
                material("ember", {"smoke": 3}, hours=500.0, pressure_pa=0.1),
                material("pod", {"vanilla": 3}, hours=300.0, pressure_pa=0.1),
                material("sweet-smoke", {"vanilla": 3, "smoke": 2}, hours=300.0, pressure_pa=0.1),
                material("sweet-ash", {"vanilla": 2, "smoke": 3}, hours=300.0, pressure_pa=0.1),
            ],
            [
                relation("acetal", "acetal-of", "zest"),
                relation("ember", "replaces", "zest"),
                relation("rosy", "isomer-of", "zest", 0.5),
            ],
        )
    )


def terms(found, name):
    return {s.material.slug: s.terms.get(name) for s in found.suggestions}


@pytest.fixture(scope="module")
def replaced(palette):
    return replace("zest", palette, top=30)


@pytest.fixture(scope="module")
def extended(palette):
    return extend("zest", palette, top=30)


def test_a_verb_is_ranked_by_its_own_terms(palette, replaced, extended):
    varied = vary("zest", palette, toward="vanilla")
    names = [set(found.suggestions[0].terms) for found in (replaced, extended, varied)]
    common = {"likeness", "kinship", "evidence", "availability"}
    assert names == [
        common | {"labels", "lasting", "strength", "untroubled"},
        common | {"facet", "purity", "presence", "reach", "outlasts"},
        common | {"facet", "purity", "lasting", "strength"},
    ]


def test_what_smells_of_nothing_shared_still_counts_a_sixth(replaced):
    # the cosine of two smells at right angles is 0: (0 + 0.2) / 1.2
    likeness = terms(replaced, "likeness")
    assert likeness["same"] == pytest.approx(1.0)
    assert likeness["ember"] == pytest.approx(1 / 6)
    # lemon 1, rose 0.3 against rose 1, lemon 0.3: 0.6 / 1.09 in the plain labels
    assert terms(replaced, "labels")["rosy"] == pytest.approx(0.6 / 1.09)
    assert likeness["same"] > likeness["lime-wax"] > likeness["rosy"] > likeness["ember"]
    assert likeness["lime-wax"] == pytest.approx(0.805, abs=1e-3)


def test_plain_labels_know_no_nearness(replaced):
    labels = terms(replaced, "labels")
    assert (labels["same"], labels["lime-wax"], labels["ember"]) == pytest.approx((1.0, 0.0, 0.0))
    # 0.6 of lemon beside 1 of smoke, against lemon 1 and rose 0.3
    assert labels["smoky"] == pytest.approx(0.6 / (1.36 * 1.09) ** 0.5)


def test_a_label_from_memory_is_worth_seven_tenths(replaced):
    evidence = terms(replaced, "evidence")
    assert (evidence["same"], evidence["remembered"]) == pytest.approx((1.0, 0.7))
    # rose 0.3 of 1.3 is not from memory
    assert evidence["half-remembered"] == pytest.approx(0.7 + 0.3 * 0.3 / 1.3)


def test_only_the_labels_that_answer_count_as_evidence(palette, extended):
    assert terms(extended, "evidence")["half-remembered"] == pytest.approx(0.7)  # lemon is from memory
    rose = replace("zest", palette, facet="rose", top=30)
    assert terms(rose, "evidence")["half-remembered"] == pytest.approx(1.0)  # rose is not


def test_ten_times_as_long_or_a_tenth_as_strong_is_worth_one_over_e(replaced):
    one_over_e = 0.36788
    assert terms(replaced, "lasting")["longer"] == pytest.approx(one_over_e, abs=1e-5)
    assert terms(replaced, "lasting")["same"] == 1.0
    strength = terms(replaced, "strength")
    assert (strength["weaker"], strength["strength-unknown"]) == pytest.approx((one_over_e,) * 2, abs=1e-5)


def test_a_shared_trouble_costs_more_than_its_new_kind(replaced):
    worth = terms(replaced, "untroubled")
    assert (worth["same"], worth["sensitising"], worth["acetal"]) == pytest.approx((1.0, 0.9, 0.5))
    assert worth["poisonous"] == 1.0  # zest is not, and no reason is named


def test_a_new_trouble_costs_something_where_law_is_the_reason(palette):
    worth = terms(replace("zest", palette, top=30, because="law"), "untroubled")
    assert worth["poisonous"] == pytest.approx(0.5**0.6)  # half of it, and less so as it is new
    assert worth["sensitising"] == pytest.approx(0.9)


@pytest.mark.parametrize("because", ["stock", "price", "smell"])
def test_no_trouble_counts_where_something_else_is_the_reason(palette, because):
    assert "untroubled" not in replace("zest", palette, because=because).suggestions[0].terms


def test_a_relation_that_the_trade_holds_counts_most(replaced):
    kinship = terms(replaced, "kinship")
    # half of the strongest tie, which is two materials that replace each other
    assert kinship["ember"] == pytest.approx(0.5**0.5)
    assert 0.7 > kinship["acetal"] > kinship["rosy"] > 0.0
    assert kinship["same"] == 0.0


def test_a_facet_is_carried_as_far_as_its_label_says_and_a_near_one_a_little(extended):
    facet = terms(extended, "facet")
    assert {name: facet[name] for name in ("longer", "smoky", "rosy")} == {
        "longer": 1.0,
        "smoky": 0.6,
        "rosy": 0.3,
    }
    # 0.286 of at most 0.574 by nearness alone, where a trace begins at 0.3
    assert facet["lime-wax"] == pytest.approx(0.3 * 0.2864 / 0.5738, abs=1e-3)
    assert "ember" not in facet


def test_what_lasts_longer_than_the_asked_counts_a_half_where_it_is_twice_as_long(palette, extended):
    # hours against the one of zest: t / (t + 2)
    outlasts = terms(extended, "outlasts")
    assert (outlasts["longer"], outlasts["rosy"]) == pytest.approx((10 / 12, 20 / 22))
    found = terms(extend("zest", palette, until_hours=1.5, top=30), "outlasts")
    assert found["same"] == pytest.approx(1 / 3)
    assert "outlasts" not in replace("zest", palette, top=30).suggestions[0].terms


def test_presence_and_reach_are_those_of_the_window(palette, extended):
    presence, reach = terms(extended, "presence"), terms(extended, "reach")
    assert (presence["smoky"], reach["smoky"]) == pytest.approx((0.8275, 0.8264), abs=1e-3)
    assert (presence["longer"], presence["rosy"]) == pytest.approx((0.6805, 0.7009), abs=1e-3)
    assert (reach["longer"], reach["rosy"]) == pytest.approx((0.0, 0.0376), abs=1e-3)
    base = extend("zest", palette, into="base", top=30)
    assert terms(base, "presence")["lime-wax"] == pytest.approx(0.508, abs=1e-3)
    assert terms(base, "reach")["lime-wax"] == pytest.approx(0.0453, abs=1e-3)


def test_purity_is_the_share_of_the_squares_of_the_labels_that_is_wanted(palette):
    purity = terms(vary("zest", palette, toward="vanilla", top=30), "purity")
    assert purity["pod"] == pytest.approx(1.0)
    assert purity["sweet-smoke"] == pytest.approx(1 / 1.36)  # 1 against 0.6 squared
    assert purity["sweet-ash"] == pytest.approx(0.36 / 1.36)


def test_a_variation_shows_what_is_new_before_the_second_of_two_near_ones(palette):
    found = vary("zest", palette, toward="vanilla, smoke", top=30).suggestions
    scores = {s.material.slug: s.score for s in found}
    # smoky lasts less unlike zest than ember does
    assert scores["smoky"] > scores["ember"] > scores["pod"]
    # ember smells of smoke as smoky does, which stands first; pod of vanilla
    assert [s.material.slug for s in found][:3] == ["smoky", "pod", "ember"]


@pytest.mark.parametrize(
    ("second", "order"),
    [
        # twins at 0.9 and x, a stranger at 0.7: the second twin is worth 0.85 x - 0.15 x
        (0.86, [0, 1, 2]),  # 0.602 against 0.595
        (0.84, [0, 2, 1]),  # 0.588
    ],
)
def test_repeating_what_stands_above_costs_fifteen_hundredths_of_the_score(second, order):
    likeness = np.array([[1.0, 1.0, 0.0], [1.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    assert scoring.diverse([0, 1, 2], np.array([0.9, second, 0.7]), likeness) == order


def test_likeness_to_any_that_stands_above_counts_not_only_to_the_last():
    likeness = np.eye(4)
    likeness[0, 2] = likeness[2, 0] = 1.0
    # 2 repeats 0; after 1 was shown it still does
    assert scoring.diverse([0, 1, 2, 3], np.array([0.9, 0.8, 0.75, 0.7]), likeness) == [0, 1, 3, 2]


# the hours that count


@pytest.mark.parametrize(
    ("asked", "fields", "window"),
    [
        ("zest", {}, (1.0, 24.0)),
        ("zest", {"into": "heart"}, (1.0, 8.0)),
        ("zest", {"into": "base"}, (8.0, 72.0)),
        ("zest", {"until_hours": 48.0}, (1.0, 48.0)),
        ("zest", {"into": "base", "until_hours": 100.0}, (8.0, 100.0)),
        ("zest", {"into": "base", "until_hours": 9.0}, (6.0, 9.0)),  # two thirds of the end at the latest
        ("lime wax", {}, (60.0, 90.0)),  # half as long again at the least
        ("rosy", {}, (20.0, 30.0)),
        ("longer", {}, (10.0, 24.0)),
        ("flash", {}, (0.25, 24.0)),  # the first quarter of an hour is the strip's own
        ("timeless", {}, (0.25, 24.0)),
    ],
)
def test_the_window_runs_from_when_the_asked_is_gone(palette, material, catalogue_of, asked, fields, window):
    more = [material("flash", {"lemon": 3}, hours=0.1), material("timeless", {"lemon": 3}, hours=None)]
    wider = Palette.of(catalogue_of([*palette.catalogue.materials, *more]))
    query = extend(asked, wider, **fields).query
    assert (query["from_hours"], query["until_hours"]) == pytest.approx(window)


def test_hours_are_no_gate_narrower_than_their_bands(material, catalogue_of):
    rows = [
        material("zest", {"lemon": 3}, hours=4.0),
        material("even", {"lemon": 3}, hours=4.0),
        material("sooner", {"lemon": 3}, hours=3.0),  # its band and that of zest overlap
        material("gone", {"lemon": 3}, hours=0.1),  # surely
    ]
    found = extend("zest", Palette.of(catalogue_of(rows)))
    assert [s.material.slug for s in found.suggestions] == ["even", "sooner"]


def test_a_trace_of_the_wanted_facet_carries_it_and_the_far_neighbour_does_not(material, catalogue_of):
    rows = [
        material("zest", {"lemon": 3}, hours=1.0),
        material("trace", {"lemon": 1, "smoke": 3}, hours=4.0),
        material("rose", {"rose": 3}, hours=4.0),
    ]
    found = extend("zest", Palette.of(catalogue_of(rows)))
    assert [s.material.slug for s in found.suggestions] == ["trace"]
