import itertools

import numpy as np
import pytest
from asking import replace
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.errors import BadTable, BadValue
from recommender.palette import shipped
from recommender.suggest.substitute import solve_shares

LAWS = settings(deadline=None, max_examples=40)


@pytest.fixture
def accord(tmp_path):
    path = tmp_path / "accord.csv"
    path.write_text("material,parts\nzest,200\nember,600\nvanilla pod,200\n")
    return str(path)


# in a formula


@pytest.fixture
def stood_in(accord, palette):
    return replace("zest", palette, formula=accord)


def test_what_is_in_the_formula_or_may_not_be_offered_is_not_proposed(stood_in):
    slugs = {s.material.slug for s in stood_in.suggestions}
    assert slugs & {"twin", "lemon-oil"}
    assert not slugs & {"zest", "ember", "vanilla-pod", "banned-lemon", "museum-lemon", "lemon-solvent"}


def test_a_stand_in_comes_with_a_dose_measured_against_what_it_replaces(stood_in):
    for found in stood_in.suggestions:
        assert found.dose.low <= found.dose.first_try <= found.dose.high
        assert found.dose.of_query == pytest.approx(found.dose.high / 200.0)


def test_a_stand_in_tells_the_ends_before_and_after(stood_in):
    twin = next(s for s in stood_in.suggestions if s.material.slug == "twin")
    before, after = (twin.effect[side]["lemon"]["clear"]["hours"] for side in ("before", "after"))
    assert after > 5 * before


def test_scores_fall_and_hold_the_term_of_the_formula(stood_in):
    scores = [s.score for s in stood_in.suggestions]
    assert scores == sorted(scores, reverse=True)
    assert all(0 <= s.terms["in formula"] <= 1 for s in stood_in.suggestions)


def test_what_is_not_in_the_formula_cannot_be_replaced_there(accord, palette):
    with pytest.raises(BadValue, match="lime wax is not in this formula"):
        replace("lime wax", palette, formula=accord)


def test_a_formula_that_is_not_there_is_named(palette):
    with pytest.raises(BadTable, match="no such file"):
        replace("zest", palette, formula="gone.csv")


# blends


def test_a_blend_for_clove_bud_oil_holds_eugenol():
    # common practice: eugenol makes up most of clove bud oil
    found = replace("clove bud oil", shipped(), blend=3).suggestions
    assert "eugenol" in [m.name for m, _ in found[0].members]
    assert all(len(s.members) == 3 for s in found)


@pytest.mark.parametrize("size", [2, 3])
def test_the_shares_of_a_blend_add_up_and_its_reason_names_what_is_missing(size):
    for found in replace("clove bud oil", shipped(), blend=size, top=5).suggestions:
        shares = [share for _, share in found.members]
        assert sum(shares) == pytest.approx(1.0)
        assert min(shares) >= 0.05
        assert shares == sorted(shares, reverse=True)
        (told,) = (r for r in found.reasons if r.kind == "blend")
        asked = shipped().catalogue.find("clove bud oil")
        assert set(told.figures["missing"]) <= {x.facet for x in asked.labels if x.strength > 1}


def test_a_blend_of_the_asked_never_holds_it():
    found = replace("clove bud oil", shipped(), blend=2, top=20).suggestions
    assert all("clove bud oil" not in [m.name for m, _ in s.members] for s in found)


@pytest.mark.parametrize("size", [1, 4])
def test_a_blend_is_of_two_or_three(palette, size):
    with pytest.raises(BadValue, match="2 or 3"):
        replace("zest", palette, blend=size)


def test_an_even_mixture_is_found_in_its_even_shares():
    shares, fit = solve_shares(np.eye(3), np.array([1.0, 1.0, 0.0]) / 2**0.5, np.array([[0, 1], [0, 2]]))
    assert shares == pytest.approx(np.array([[0.5, 0.5], [1.0, 0.0]]), abs=1e-5)
    assert fit == pytest.approx([1.0, 0.5**0.5])


@LAWS
@given(st.integers(0, 10**6), st.sampled_from([2, 3]))
def test_full_blends_are_those_of_a_non_negative_solver_and_none_is_better(seed, size):
    from scipy.optimize import nnls

    drawn = np.random.default_rng(seed)
    profiles = drawn.random((5, 8)) ** 3
    profiles /= np.linalg.norm(profiles, axis=1, keepdims=True)
    target = drawn.random(8) ** 3
    target /= np.linalg.norm(target)
    teams = np.array(list(itertools.combinations(range(5), size)))
    shares, fit = solve_shares(profiles, target, teams)
    assert (shares >= 0).all()
    assert shares.sum(axis=1) == pytest.approx(np.ones(len(teams)))
    for team, found, reached in zip(teams, shares, fit, strict=True):
        solved = nnls(profiles[team].T, target)[0]
        best = profiles[team].T @ solved
        assert reached <= best @ target / np.linalg.norm(best) + 1e-6
        if (solved > 1e-3).all():
            assert found == pytest.approx(solved / solved.sum(), abs=1e-3)
