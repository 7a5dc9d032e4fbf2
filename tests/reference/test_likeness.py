"""Whole-smell likeness against what noses say, where structure would mislead."""

import pytest

from recommender.palette import shipped


def likeness(one: str, other: str) -> float:
    palette = shipped()
    rows = [palette.catalogue.index[palette.catalogue.find(name).slug] for name in (one, other)]
    return float(palette.space.likeness(rows[0])[rows[1]])


# Look alike on paper, smell apart: each against the neighbour that a nose names. Common practice; the two
# carvones: L. Friedman and J. G. Miller, Science 172 (1971) 1044-1046.
@pytest.mark.parametrize(
    ("asked", "trap", "neighbour"),
    [
        ("vanillin", "isovanillin", "ethyl vanillin"),
        ("(R)-carvone", "(S)-carvone", "spearmint oil"),
        ("(S)-carvone", "(R)-carvone", "caraway oil"),
        ("beta-ionone", "beta-damascone", "alpha-ionone"),
        ("cinnamaldehyde", "alpha-hexylcinnamaldehyde", "cassia oil"),
        ("2,3,5-trimethylpyrazine", "2-isobutyl-3-methoxypyrazine", "2-ethyl-3,5-dimethylpyrazine"),
    ],
)
def test_structure_does_not_mislead(asked, trap, neighbour, record_property):
    found = likeness(asked, trap), likeness(asked, neighbour)
    record_property("likeness", [round(value, 2) for value in found])
    assert found[0] < found[1]


# Look unlike, smell alike; and the near in structure that smells otherwise. Common practice.
@pytest.mark.parametrize(
    ("asked", "alike", "near_in_structure"),
    [
        ("HHCB", "ethylene brassylate", "beta-caryophyllene"),
        ("benzaldehyde", "bitter almond oil", "phenylacetaldehyde"),
        ("vanillin", "vanilla absolute", "guaiacol"),
        ("coumarin", "tonka bean absolute", "ethyl cinnamate"),
        ("santalol", "isobornylcyclohexanol", "farnesol"),
    ],
)
def test_different_molecules_may_smell_alike(asked, alike, near_in_structure):
    assert likeness(asked, alike) > likeness(asked, near_in_structure)
