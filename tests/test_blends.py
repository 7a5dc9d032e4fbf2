"""Blends in a toy world: four smells at right angles, so that the shares can be worked out by hand."""

import numpy as np
import pytest
from asking import replace

from recommender.palette import Palette
from recommender.suggest.substitute import solve_shares

WORLD = {
    "bouquet": ({"lemon": 3, "rose": 2, "smoke": 1}, 10.0),
    "lemony": ({"lemon": 3}, 20.0),
    "rosy": ({"rose": 3}, 30.0),
    "smoky": ({"smoke": 3}, 100.0),
    "lime-wax": ({"lime": 3}, 20.0),
    "mixed": ({"lemon": 2, "rose": 2, "vanilla": 1}, 20.0),
    "ashen": ({"smoke": 2, "vanilla": 2}, 50.0),
}
"""Labels and hours on a strip."""


@pytest.fixture(scope="module")
def bench_of(material, catalogue_of, relation):
    def put(**more):
        rows = [
            material(name, labels, hours=hours, **more.get(name, {}))
            for name, (labels, hours) in WORLD.items()
        ]
        relations = [relation("lemony", "replaces", "bouquet"), relation("rosy", "clashes", "bouquet")]
        return Palette.of(catalogue_of(rows, relations))

    return put


@pytest.fixture(scope="module")
def palette(bench_of):
    return bench_of()


def blends(palette, size, **request):
    return replace("bouquet", palette, **{"top": 20} | request, blend=size).suggestions


def members(found):
    return {material.slug: share for material, share in found.members}


def with_members(found, *slugs):
    return next(s for s in found if set(members(s)) == set(slugs))


def told(found, kind="blend"):
    return next(r for r in found.reasons if r.kind == kind).figures


def test_the_three_that_make_up_a_smell_are_found_in_its_proportions(palette):
    best = blends(palette, 3)[0]
    # labels weigh 1, 0.6 and 0.3: of 1.9, the near lime taking a little from lemon
    assert members(best) == pytest.approx(
        {"lemony": 1 / 1.9, "rosy": 0.6 / 1.9, "smoky": 0.3 / 1.9}, abs=2e-3
    )
    assert (best.terms["profile"], best.terms["likeness"]) == pytest.approx((1.0, 1.0), abs=1e-3)
    assert told(best)["missing"] == []
    assert best.material.slug == "lemony"
    assert best.facet == "lemon"
    assert best.brings == ()


def test_of_two_the_better_carries_more_and_what_is_missing_is_named(palette):
    found = blends(palette, 2)
    first = found[0]
    assert members(first) == pytest.approx({"lemony": 1 / 1.6, "rosy": 0.6 / 1.6}, abs=2e-3)
    assert first.terms["profile"] == pytest.approx((1.36 / 1.45) ** 0.5, abs=1e-3)  # the smoke is not there
    assert told(first)["missing"] == []  # smoke is a trace in the asked
    assert told(with_members(found, "lemony", "smoky"))["missing"] == ["rose"]
    assert told(with_members(found, "rosy", "smoky"))["missing"] == ["lemon"]
    assert told(with_members(found, "smoky", "lime-wax"))["missing"] == ["lemon", "rose"]


def test_a_blend_brings_what_its_members_bring_as_far_as_it_can_be_noticed(palette):
    found = blends(palette, 2)
    brought = {
        tuple(sorted(members(s))): [(label.facet, label.strength) for label in s.brings] for s in found
    }
    assert brought["lemony", "rosy"] == []
    assert brought["lemony", "mixed"] == [("vanilla", 1)]
    assert brought["ashen", "lemony"] == []  # 0.21 of 0.6 vanilla is too weak to notice
    assert brought["ashen", "lime-wax"] == [("lime", 3), ("vanilla", 2)]
    assert brought["lime-wax", "smoky"] == [("lime", 2)]
    assert brought["lime-wax", "rosy"] == [("lime", 1)]


def test_relations_and_warnings_of_the_members_are_told(palette):
    first = blends(palette, 2)[0]
    assert [r.kind for r in first.reasons if r.kind != "blend"] == ["relation", "warning"]


def test_a_blend_that_hardly_fits_comes_last(palette):
    found = blends(palette, 2)
    scores = [s.score for s in found]
    assert scores == sorted(scores, reverse=True)
    assert members(found[0]).keys() == {"lemony", "rosy"}
    assert members(found[-1]).keys() == {"ashen", "lime-wax"}
    assert scores[0] > 50 * scores[-1]


def test_every_member_has_a_twentieth_at_least(palette):
    for size in (2, 3):
        for found in blends(palette, size):
            assert min(members(found).values()) >= 0.05


def test_a_material_stands_in_half_of_the_list_at_most_and_top_is_how_many(palette):
    for top in (2, 4, 6):
        found = blends(palette, 2, top=top)
        names = [slug for s in found for slug in members(s)]
        assert len(found) <= top
        assert max(names.count(name) for name in names) <= max(2, top // 2)
    assert len(blends(palette, 2, top=1)) == 1
    assert len(blends(palette, 2, top=4)) == 4


def test_labels_from_memory_count_in_each_member(bench_of):
    palette = bench_of(rosy={"label_basis": "memory"})
    assert blends(palette, 2)[0].terms["evidence"] == pytest.approx(0.85)
    both = bench_of(rosy={"label_basis": "memory"}, lemony={"label_basis": "memory"})
    assert with_members(blends(both, 2), "lemony", "rosy").terms["evidence"] == pytest.approx(0.7)


def test_with_too_few_stand_ins_there_is_no_blend(material, catalogue_of):
    rows = [material(name, WORLD[name][0], hours=5.0) for name in ("bouquet", "lemony", "rosy")]
    palette = Palette.of(catalogue_of(rows))
    assert len(blends(palette, 2)) == 1
    assert blends(palette, 3) == ()


@pytest.mark.parametrize(
    ("profiles", "target"),
    [
        ([[1, 0, 0, 0], [0.6, 0.8, 0, 0], [0, 0.6, 0.8, 0]], [0.8, 0, 0.6, 0]),
        ([[1, 0, 0], [0.6, 0.8, 0], [0, 0, 1]], [0.6, 0, 0.8]),
        ([[1, 0, 0], [0.8, 0.6, 0], [0.6, 0.8, 0]], [0, 0, 1]),
    ],
)
def test_who_would_have_to_be_taken_away_is_left_out_and_the_rest_solved_again(profiles, target):
    from scipy.optimize import nnls

    rows, wanted = np.array(profiles, float), np.array(target, float)
    (shares,), _ = solve_shares(rows, wanted, np.array([[0, 1, 2]]))
    solved = nnls(rows.T, wanted)[0]
    assert shares == pytest.approx(solved / max(solved.sum(), 1e-12), abs=1e-4)
