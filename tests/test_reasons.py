"""The figures of a reason as they stand in the published JSON."""

import pytest

from recommender.reasons import (
    FacetStrengths,
    FadedFacet,
    MilderAcetal,
    NearFacets,
    RelationPath,
    RelationStep,
    RestoredFacet,
    SharedDrawbacks,
    SharedFacets,
)

LOST = ("lemon", 4.0, "gone", 1.0, 24.0, 8.0, None)


@pytest.mark.parametrize(
    ("reason", "figures"),
    [
        (SharedFacets({"hay": FacetStrengths(3, 2)}, basis="memory"), {"hay": {"here": 3, "asked": 2}}),
        (NearFacets({"basis": 0.3}, basis="estimated"), {"basis": 0.3}),
        (SharedDrawbacks(("regulated",), basis="memory", source="toy-2020"), {"kinds": ["regulated"]}),
        (MilderAcetal(basis="common practice"), {}),
        (
            RelationPath(
                (RelationStep("a", "isomer-of", "b", "near", "memory", "toy-2020"),), basis="memory"
            ),
            {
                "path": [
                    {
                        "from": "a",
                        "relation": "isomer-of",
                        "to": "b",
                        "note": "near",
                        "basis": "memory",
                        "source": "toy-2020",
                    }
                ]
            },
        ),
    ],
    ids=lambda value: type(value).__name__,
)
def test_figures_are_the_fields_without_basis_and_source(reason, figures):
    assert reason.figures == figures


def test_what_is_predicted_with_an_addition_comes_last():
    faded, restored = FadedFacet(*LOST), RestoredFacet(*LOST, after=20.0)
    assert list(restored.figures) == [*faded.figures, "after"]
    assert restored.figures == faded.figures | {"after": 20.0}
