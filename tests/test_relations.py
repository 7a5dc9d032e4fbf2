import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.model import Relation
from recommender.similarity.relations import KIND_WEIGHTS, RelationGraph, personalised_pagerank

LAWS = settings(deadline=None, max_examples=60)


@st.composite
def graphs(draw):
    nodes = draw(st.integers(2, 8))
    ends = st.integers(0, nodes - 1)
    pairs = draw(st.lists(st.tuples(ends, ends), min_size=1, max_size=20, unique=True))
    weights = draw(st.lists(st.floats(0.05, 5.0), min_size=len(pairs), max_size=len(pairs)))
    start = draw(st.lists(st.floats(0.01, 1.0), min_size=nodes, max_size=nodes))
    damping = draw(st.floats(0.1, 0.9))
    return pairs, weights, np.array(start), damping


def ranked(pairs, weights, start, damping):
    sources, targets = np.array(pairs, np.intp).T
    return personalised_pagerank(sources, targets, np.array(weights), start, damping)


@given(graphs())
@LAWS
def test_pagerank_sums_to_1(case):
    rank = ranked(*case)
    assert rank.sum() == pytest.approx(1.0)
    assert (rank >= 0).all()


@given(graphs())
@LAWS
def test_pagerank_agrees_with_networkx(case):
    import networkx as nx

    pairs, weights, start, damping = case
    graph = nx.DiGraph()
    graph.add_nodes_from(range(len(start)))
    graph.add_weighted_edges_from((a, b, w) for (a, b), w in zip(pairs, weights, strict=True))
    expected = nx.pagerank(
        graph,
        alpha=damping,
        personalization=dict(enumerate(start)),
        weight="weight",
        tol=1e-13,
        max_iter=1000,
    )
    found = ranked(*case)
    assert found == pytest.approx([expected[node] for node in range(len(start))], abs=1e-9)


def test_pagerank_of_two_nodes_by_hand():
    # r0 = 0.5 + 0.5 r1, r1 = 0.5 r0: two thirds and one third
    rank = ranked([(0, 1), (1, 0)], [1.0, 1.0], np.array([1.0, 0.0]), 0.5)
    assert rank == pytest.approx([2 / 3, 1 / 3])


def test_without_relations_all_rank_stays_at_the_start():
    none = np.array([], np.intp)
    rank = personalised_pagerank(none, none, np.array([]), np.array([0.0, 1.0]))
    assert rank.tolist() == [0.0, 1.0]


def test_the_strongest_relation_is_the_nearest_kin(star):
    kinship = star.kinship(0)
    hub, substitute, isomer, partner, foe, far, alone = kinship
    assert substitute == pytest.approx(
        0.5**0.5
    )  # half of the strongest tie: it replaces, and is not replaced
    assert substitute > isomer > partner > 0
    assert isomer > far > 0
    assert (hub, foe, alone) == (0.0, 0.0, 0.0)


def test_kinship_is_absolute_so_that_nobody_need_be_near(relation):
    weak = RelationGraph.build([relation("a", "classic-pair", "b")], {"a": 0, "b": 1})
    assert weak.kinship(0).max() == pytest.approx((0.05 / 2.6) ** 0.5)
    both = [relation("a", "replaces", "b"), relation("b", "replaces", "a")]
    assert RelationGraph.build(both, {"a": 0, "b": 1}).kinship(0) == pytest.approx([0.0, 1.0])


def test_many_relatives_do_not_make_each_of_them_less_kin(relation):
    one = RelationGraph.build([relation("a", "isomer-of", "b")], {"a": 0, "b": 1})
    names = {name: i for i, name in enumerate("abcdef")}
    many = RelationGraph.build([relation("a", "isomer-of", name) for name in "bcdef"], names)
    assert many.kinship(0)[1] == pytest.approx(one.kinship(0)[1])


def test_what_has_no_relation_has_no_kin(star):
    assert star.kinship(6).tolist() == [0.0] * 7


def test_kinship_does_not_depend_on_the_order_of_relations(star):
    again = RelationGraph.build(star.relations[::-1], star.index)
    assert again.kinship(0) == pytest.approx(star.kinship(0))


def test_between_finds_a_relation_from_both_ends(star):
    (found,) = star.between("isomer", "hub")
    assert found.kind == "isomer-of"
    assert star.between("hub", "isomer") == (found,)
    assert star.between("hub", "far") == ()


def test_between_puts_the_weightiest_relation_first(relation):
    pair = [relation("a", "classic-pair", "b"), relation("b", "replaces", "a"), relation("a", "clashes", "b")]
    graph = RelationGraph.build(pair, {"a": 0, "b": 1})
    assert [r.kind for r in graph.between("a", "b")] == ["replaces", "classic-pair", "clashes"]


def test_a_path_follows_relations_over_a_third_material(star):
    assert [r.kind for r in star.path("substitute", "far")] == ["replaces", "isomer-of", "ester-of"]


def test_a_direct_relation_is_the_path(star):
    assert [r.kind for r in star.path("hub", "partner")] == ["classic-pair"]


def test_a_clash_is_no_path(star):
    assert star.path("hub", "foe") == ()


def test_a_material_without_relations_has_no_path(star):
    assert star.path("hub", "alone") == ()


def test_a_path_that_is_too_long_is_no_path(star):
    assert star.path("substitute", "far", longest=2) == ()


@given(st.data())
@LAWS
def test_a_path_is_as_long_as_that_of_networkx(data):
    import networkx as nx

    kinds = sorted(kind for kind, weight in KIND_WEIGHTS.items() if weight > 0)
    ends = st.integers(0, 6).map(lambda i: f"m{i}")
    pairs = data.draw(st.lists(st.tuples(ends, st.sampled_from(kinds), ends), min_size=1, max_size=14))
    drawn = [Relation(a, kind, b, 1.0, "memory") for a, kind, b in pairs if a != b]
    graph, yardstick = RelationGraph.build(drawn, {f"m{i}": i for i in range(7)}), nx.MultiGraph()
    yardstick.add_nodes_from(graph.index)
    yardstick.add_edges_from((r.start, r.end, {"length": 1.0 / KIND_WEIGHTS[r.kind]}) for r in drawn)
    expected = nx.single_source_dijkstra_path_length(yardstick, "m0", weight="length")
    for slug, length in expected.items():
        found = graph.path("m0", slug, longest=7)
        if slug != "m0" and not any(KIND_WEIGHTS[r.kind] for r in graph.between("m0", slug)):
            assert sum(1.0 / KIND_WEIGHTS[r.kind] for r in found) == pytest.approx(length)
            assert "m0" in (found[0].start, found[0].end)
            assert slug in (found[-1].start, found[-1].end)
    assert all(graph.path("m0", slug) == () for slug in graph.index if slug not in expected)


@pytest.mark.parametrize("kind", ["clashes", "oxidises-to"])
def test_what_warns_is_never_walked(relation, kind):
    graph = RelationGraph.build(
        [relation("a", kind, "b"), relation("b", "isomer-of", "c")], {"a": 0, "b": 1, "c": 2}
    )
    assert graph.kinship(0).tolist() == [0.0, 0.0, 0.0]
    # the weight of an isomer, against that of two materials that replace each other
    assert graph.kinship(1) == pytest.approx([0.0, 0.0, (0.6 / 2.6) ** 0.5])
    assert graph.path("a", "b") == ()


def test_every_relation_that_is_shipped_has_a_known_kind_and_known_ends(shipped):
    assert {r.kind for r in shipped.relations} <= set(KIND_WEIGHTS)
    assert {slug for r in shipped.relations for slug in (r.start, r.end)} <= set(shipped.index)
