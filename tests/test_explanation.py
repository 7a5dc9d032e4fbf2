from dataclasses import replace

import pytest

from recommender.model import Curve, Label
from recommender.similarity.relations import RelationGraph
from recommender.suggest.explanation import answering_facet, brings, disputes, doubts, reasons, shared


@pytest.fixture(scope="module")
def asked(material):
    return material("asked", {"lemon": 3, "rose": 2}, hours=1.0)


@pytest.fixture(scope="module")
def other(material):
    return material("other", {"vanilla": 1, "rose": 1, "lemon": 2, "smoke": 3}, hours=50.0)


def test_shared_labels_stand_with_both_strengths_the_strongest_first(asked, other):
    found = shared(asked, other, ())
    assert [(label.facet, label.strength, own) for label, own in found] == [("lemon", 2, 3), ("rose", 1, 2)]


def test_a_wanted_label_stands_first_even_where_the_asked_has_none(asked, other):
    found = shared(asked, other, ("vanilla",))
    assert [(label.facet, own) for label, own in found] == [("vanilla", 0), ("lemon", 3), ("rose", 2)]


def test_what_nobody_asked_for_is_brought_along_the_strongest_first(asked, other):
    assert [label.facet for label in brings(asked, other, ())] == ["smoke", "vanilla"]


def test_what_is_wanted_is_not_brought_along(asked, other):
    assert [label.facet for label in brings(asked, other, ("smoke",))] == ["vanilla"]


def test_a_material_answers_with_its_strongest_wanted_facet(asked, other):
    assert answering_facet(asked, other, ("vanilla", "lemon"), {}) == "lemon"


def test_without_a_wanted_facet_it_answers_with_the_nearest(asked, other):
    assert answering_facet(asked, other, ("lime",), {"lemon": 0.35, "rose": 0.1}) == "lemon"


def test_without_either_it_answers_with_what_both_share(asked, other):
    assert answering_facet(asked, other, (), {}) == "lemon"


def test_with_nothing_in_common_it_answers_with_none(asked, material):
    assert answering_facet(asked, material("ember", {"smoke": 3}), (), {}) is None


@pytest.fixture(scope="module")
def told(asked, other, relation, catalogue_of):
    relations = [
        relation("asked", "isomer-of", "other", note="cis and trans"),
        relation("asked", "clashes", "other", note="too loud"),
    ]
    catalogue = catalogue_of([asked, other], relations)
    found = reasons(catalogue, RelationGraph.of(catalogue), asked, other, ("lemon",), {}, {"facet": 0.6})
    return {reason.kind: reason for reason in found}


def test_each_kind_of_reason_stands_once(told):
    assert list(told) == ["shares", "lasts", "strength", "relation", "warning"]


def test_shared_smells_are_told_with_both_strengths(told):
    assert told["shares"].figures == {"lemon": {"here": 2, "asked": 3}, "rose": {"here": 1, "asked": 2}}
    assert told["shares"].basis == "common practice"


def test_lasting_is_told_beside_that_of_the_asked(told):
    figures = told["lasts"].figures
    assert (figures["hours"], figures["asked_hours"], figures["position"]) == (50.0, 1.0, "base")
    assert (figures["vapour_pressure_pa"], told["lasts"].source) == (1.0, "toy-2020")


def test_strength_is_told_with_what_it_rests_on(told):
    assert told["strength"].figures == {"strength": 40.0, "asked": 40.0, "rests_on": "curve", "firm": True}


MEASURED = Curve(80.0, 0.0, 0.6, "curve", "published", "toy-2020")


@pytest.mark.parametrize(
    ("of_asked", "of_offered", "firm"),
    [
        (MEASURED, MEASURED, True),
        (MEASURED, replace(MEASURED, kind="class"), False),
        (MEASURED, replace(MEASURED, kind="threshold"), False),
        (MEASURED, replace(MEASURED, doubtful=True), False),
        (replace(MEASURED, kind="class"), MEASURED, False),
        (replace(MEASURED, doubtful=True), MEASURED, False),
        (None, MEASURED, False),
    ],
)
def test_strength_is_firm_only_where_both_curves_are_measured_and_sure(
    material, catalogue_of, of_asked, of_offered, firm
):
    pair = [material("a", {"lemon": 3}, curve=of_asked), material("b", {"lemon": 3}, curve=of_offered)]
    catalogue = catalogue_of(pair)
    found = reasons(catalogue, RelationGraph.of(catalogue), *pair, (), {}, {})
    assert [reason.figures["firm"] for reason in found if reason.kind == "strength"] == [firm]


def test_a_relation_is_told_step_by_step_with_its_basis(told):
    assert told["relation"].figures["path"] == [
        {
            "from": "asked",
            "relation": "isomer-of",
            "to": "other",
            "note": "cis and trans",
            "basis": "common practice",
            "source": "",
        }
    ]


def test_a_clash_is_a_warning(told):
    assert told["warning"].figures == {"relation": "clashes", "note": "too loud"}


def test_a_near_facet_is_told_where_no_wanted_one_is_held(asked, other, catalogue_of):
    catalogue = catalogue_of([asked, other])
    found = reasons(catalogue, RelationGraph.of(catalogue), asked, other, ("lime",), {"lemon": 0.351}, {})
    assert [r.figures for r in found if r.kind == "near"] == [{"lemon": 0.35}]


def test_what_is_not_known_is_not_told(material, catalogue_of):
    bare = [
        material("a", {"lemon": 3}, strength=None, figures={}),
        material("b", {"smoke": 3}, strength=None),
    ]
    catalogue = catalogue_of(bare)
    assert reasons(catalogue, RelationGraph.of(catalogue), *bare, (), {}, {}) == ()


@pytest.mark.parametrize(("strong", "weak", "count"), [(20.0, 60.0, 1), (60.0, 20.0, 0), (None, 60.0, 0)])
def test_strength_is_disputed_where_trade_and_figures_disagree(material, relation, strong, weak, count):
    asked, offered = material("plain", strength=weak), material("bold", strength=strong)
    graph = RelationGraph.build([relation("bold", "stronger-form-of", "plain")], {"plain": 0, "bold": 1})
    assert len(disputes(graph, asked, offered)) == count
    assert len(disputes(graph, offered, asked)) == count


def test_a_dispute_names_the_stronger_by_trade(material, relation):
    asked, offered = material("plain", strength=60.0), material("bold", strength=20.0)
    graph = RelationGraph.build([relation("bold", "stronger-form-of", "plain")], {"plain": 0, "bold": 1})
    (dispute,) = disputes(graph, asked, offered)
    assert (dispute.figures["stronger"], dispute.figures["weaker"]) == ("bold", "plain")


def test_a_measured_material_that_agrees_with_itself_raises_no_doubt(other):
    assert doubts(other, (), {"likeness": 0.6, "facet": 0.7}) == []


def test_memory_is_a_doubt_only_where_the_labels_that_answer_come_from_it(material):
    mixed = (Label("lemon", 3, "common practice"), Label("rose", 1, "memory"))
    offered = replace(material("mixed"), labels=mixed)
    kinds = {wanted: [r.kind for r in doubts(offered, wanted, {})] for wanted in (("lemon",), ("rose",), ())}
    assert kinds == {("lemon",): [], ("rose",): ["labels from memory"], (): ["labels from memory"]}


def test_doubts_name_memory_classes_doubtful_curves_and_terms_that_disagree(material):
    curve = Curve(40.0, 0.0, 0.5, "class", "memory", doubtful=True, log_error=0.8)
    guessed = material("guessed", {"lemon": 3, "rose": 1}, label_basis="memory", curve=curve)
    found = {reason.kind: reason.figures for reason in doubts(guessed, (), {"likeness": 0.9, "labels": 0.2})}
    assert found == {
        "labels from memory": {"labels": 2, "from_memory": 2},
        "curve doubtful": {"width": 0.5},
        "strength is a class": {"decades_either_way": 0.8},
        "terms disagree": {"likeness": 0.9, "labels": 0.2},
    }
