from dataclasses import replace

import numpy as np

from recommender.model import OwnNote
from recommender.palette import shipped
from recommender.similarity import likeness_map

BENCH = shipped()
PLACES = likeness_map.places(BENCH.catalogue, BENCH.space)


def test_every_material_that_is_offered_and_smells_is_on_the_map():
    there = {place.material.slug for place in PLACES}
    assert there == {m.slug for m in BENCH.catalogue.materials if likeness_map.mapped(m)}
    assert all(abs(place.x) <= 1 and abs(place.y) <= 1 for place in PLACES)


def test_the_map_is_the_same_every_time():
    assert likeness_map.places(BENCH.catalogue, BENCH.space) == PLACES


def test_neighbours_in_the_space_are_neighbours_on_the_map():
    rows = [BENCH.catalogue.index[place.material.slug] for place in PLACES]
    plane = np.array([(place.x, place.y) for place in PLACES])
    apart = 1.0 - BENCH.space.all_likeness()[np.ix_(rows, rows)]
    assert likeness_map.preserved_neighbours(apart, plane) > 0.6  # by chance it would be 0.015


def test_near_by_the_trade_is_near_on_the_map():
    """Common practice: the ionones are one family, the musks another, and they are far apart."""
    at = {place.material.slug: np.array([place.x, place.y]) for place in PLACES}
    ionones = np.linalg.norm(at["alpha-ionone"] - at["beta-ionone"])
    musk = np.linalg.norm(at["alpha-ionone"] - at["ethylene-brassylate"])
    assert ionones < 0.25 * musk


def test_a_material_that_was_relabelled_is_placed_among_its_new_neighbours():
    row = BENCH.catalogue.index["alpha-ionone"]
    moved = replace(BENCH.catalogue.materials[row], own=OwnNote("alpha-ionone"))
    materials = tuple(moved if i == row else m for i, m in enumerate(BENCH.catalogue.materials))
    vectors = BENCH.space.vectors.copy()
    vectors[row] = vectors[BENCH.catalogue.index["ethylene-brassylate"]]
    palette = replace(
        BENCH,
        catalogue=replace(BENCH.catalogue, materials=materials),
        space=replace(BENCH.space, vectors=vectors),
    )
    at = {
        place.material.slug: np.array([place.x, place.y])
        for place in likeness_map.places(palette.catalogue, palette.space)
    }
    musk, violet = (
        np.linalg.norm(at["alpha-ionone"] - at[o]) for o in ("ethylene-brassylate", "beta-ionone")
    )
    assert musk < violet


def test_families_are_named_once_and_apart():
    regions = likeness_map.regions(PLACES, BENCH.catalogue)
    names = [region.name for region in regions]
    assert len(names) == len(set(names)) >= 12
    for i, one in enumerate(regions):
        for other in regions[:i]:
            assert abs(one.x - other.x) >= 0.3 or abs(one.y - other.y) >= 0.07
