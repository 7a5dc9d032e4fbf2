import numpy as np

from recommender.similarity.candidates import Candidate, candidates

OTHERS = np.array([False, True, True, True])
"""All but the asked material, in row 0."""


def test_every_allowed_row_is_a_candidate():
    found = candidates({"smell": np.array([1.0, 0.5, 0.4, 0.3])}, OTHERS)
    assert [c.row for c in found] == [1, 2, 3]


def test_what_is_not_allowed_is_no_candidate():
    found = candidates({"smell": np.ones(4)}, np.array([False, False, True, True]))
    assert [c.row for c in found] == [2, 3]


def test_evidence_of_nought_or_less_does_not_count():
    assert candidates({"smell": np.array([0.0, 0.0, -0.4, 0.1])}, OTHERS) == [Candidate(3, ("smell",))]


def test_each_way_brings_up_its_own_best_and_is_named():
    ways = {"smell": np.array([0.0, 0.9, 0.8, 0.1]), "kin": np.array([0.0, 0.0, 0.2, 0.9])}
    found = candidates(ways, OTHERS, depth=2)
    assert found == [Candidate(1, ("smell",)), Candidate(2, ("smell", "kin")), Candidate(3, ("kin",))]


def test_depth_is_how_many_each_way_brings_up():
    assert [c.row for c in candidates({"smell": np.array([0, 0.1, 0.3, 0.2])}, OTHERS, depth=1)] == [2]


def test_the_arrays_that_are_given_stay_as_they_are():
    allowed, evidence = OTHERS.copy(), np.array([1.0, 0.5, 0.2, 0.1])
    candidates({"smell": evidence}, allowed)
    assert allowed.tolist() == OTHERS.tolist()
    assert evidence.tolist() == [1.0, 0.5, 0.2, 0.1]


def test_nothing_allowed_gives_no_candidate():
    assert candidates({"smell": np.ones(4)}, np.zeros(4, bool)) == []
