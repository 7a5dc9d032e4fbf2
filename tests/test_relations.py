import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.similarity.relations import (
    KIND_WEIGHTS,
    RelationGraph,
    personalised_pagerank,
    shortest_path,
)

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


def test_the_shortest_path_is_that_of_networkx(shipped):
    import networkx as nx

    graph = RelationGraph.of(shipped)
    same = nx.Graph()
    for relation in sorted(graph.relations, key=lambda r: KIND_WEIGHTS[r.kind] * r.weight):
        if (weight := KIND_WEIGHTS[relation.kind] * relation.weight) > 0:
            same.add_edge(relation.start, relation.end, length=1.0 / weight, relation=relation)
    slugs = np.random.default_rng(0).choice(list(shipped.index), (300, 2))
    found = 0
    for start, end in slugs.tolist():
        path = graph.path(start, end, longest=99)
        found += len(path) > 1
        if graph.between(start, end) or start == end:
            continue
        try:
            nodes = nx.bidirectional_dijkstra(same, start, end, weight="length")[1]
        except (nx.NodeNotFound, nx.NetworkXNoPath):
            nodes = []
        assert path == tuple(same.edges[pair]["relation"] for pair in itertools.pairwise(nodes))
    assert found > 100


@LAWS
@given(
    st.lists(
        st.tuples(st.integers(0, 7), st.integers(0, 7), st.sampled_from([1.0, 2.0, 2.5, 4.0])), max_size=24
    )
)
def test_a_shortest_path_is_as_short_as_by_all_pairs(edges):
    lengths = {}
    for start, end, length in edges:
        if start != end:
            for pair in ((start, end), (end, start)):
                lengths[pair] = min(length, lengths.get(pair, np.inf))
    beside = {
        node: [(end, length) for (start, end), length in lengths.items() if start == node]
        for node in range(8)
    }
    least = {(a, b): 0.0 if a == b else lengths.get((a, b), np.inf) for a in range(8) for b in range(8)}
    for middle, a, b in itertools.product(range(8), repeat=3):
        least[a, b] = min(least[a, b], least[a, middle] + least[middle, b])
    path = shortest_path(beside.__getitem__, 0, 7)
    assert sum(lengths[pair] for pair in itertools.pairwise(path)) == (least[0, 7] if path else 0.0)
    assert bool(path) == np.isfinite(least[0, 7])
    assert not path or (path[0], path[-1]) == (0, 7)


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
