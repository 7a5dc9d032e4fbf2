import pytest

from recommender import suggest
from recommender.errors import BadValue
from recommender.suggest import Request

MORELLO = "data/demo/morello.csv"


@pytest.mark.parametrize(
    ("request", "options"),
    [
        (Request(), {"relay": True}),
        (Request(into="base"), {"relay": True}),
        (Request(top=0), {}),
        (Request(kind="gas"), {}),
        (Request(until_hours=1000.0), {}),
        (Request(facet="bitter almond", until_hours=0.1), {}),
    ],
)
def test_an_option_that_cannot_be_used_is_refused(request, options):
    with pytest.raises(BadValue):
        suggest.extend(request, **options)


def test_a_blend_in_a_formula_is_refused():
    with pytest.raises(BadValue, match="--blend"):
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
