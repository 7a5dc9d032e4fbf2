import pytest
from asking import extend, replace

from recommender.errors import BadValue
from recommender.palette import shipped

MORELLO = "data/demo/morello.csv"


@pytest.mark.parametrize(
    ("asked", "fields"),
    [
        ("benzaldehyde", {"relay": True}),
        (MORELLO, {"into": "base", "relay": True}),
        (MORELLO, {"top": 0}),
        (MORELLO, {"kind": "gas"}),
        (MORELLO, {"until_hours": 1000.0}),
        (MORELLO, {"facet": "bitter almond", "until_hours": 0.1}),
    ],
)
def test_a_request_that_cannot_be_met_is_refused(asked, fields):
    with pytest.raises(BadValue):
        extend(asked, shipped(), **fields)


def test_a_blend_in_a_formula_is_refused():
    with pytest.raises(BadValue, match="a blend is found for the material alone, without within"):
        replace("benzaldehyde", shipped(), formula=MORELLO, blend=2)


def test_a_formula_of_one_material_has_nothing_to_stand_beside(tmp_path):
    file = tmp_path / "alone.csv"
    file.write_text("material,parts\nbenzaldehyde,1\nethanol,9\n")
    with pytest.raises(BadValue, match="nothing else in it smells"):
        replace("benzaldehyde", shipped(), formula=str(file))


def test_a_stand_in_for_a_prohibited_material_is_found_in_the_formula():
    found = replace("80-54-6", shipped(), top=3, formula="data/demo/bell_flower.csv")
    assert all(s.terms["in formula"] <= 1.0 for s in found.suggestions)
    assert found.notes[0].startswith("PROHIBITED: butylphenyl methylpropional")
