import pytest

from recommender.model import Caution, Limit
from recommender.palette import Palette
from recommender.suggest import Request, drawbacks
from recommender.suggest.query import read


@pytest.fixture
def palette(material, catalogue_of, relation):
    def bottle(slug, *kinds, **more):
        cautions = tuple(Caution(kind, "Mind it.", "common practice") for kind in kinds)
        return material(slug, {"lemon": 3, "rose": 1}, hours=4.0, cautions=cautions, **more)

    materials = [
        bottle("aldehyde", "discolours"),
        bottle("browns-too", "discolours"),
        bottle("harms", "toxic vapour"),
        bottle("clean", "oxidises"),
        bottle("acetal"),
        bottle("barred", cas="50-00-0"),
    ]
    barred = Limit("barred", ("50-00-0",), (), "prohibition", "eu", "published", "toy-2020")
    return Palette.of(catalogue_of(materials, [relation("acetal", "acetal-of", "aldehyde")], [barred]))


def question(palette, name="aldehyde", verb="replace", because=None):
    return read(verb, palette.catalogue.find(name), Request(because=because), palette)


def test_where_no_reason_is_named_a_trouble_counts_only_where_it_comes_back(palette):
    rows = [palette.catalogue.index[slug] for slug in ("clean", "browns-too", "harms", "acetal")]
    assert drawbacks.untroubled(question(palette), rows)["untroubled"] == pytest.approx([1.0, 0.7, 1.0, 0.5])


@pytest.mark.parametrize("because", ["stock", "price", "smell"])
def test_no_trouble_counts_where_another_reason_is_named(palette, because):
    assert drawbacks.untroubled(question(palette, because=because), [0, 1]) == {}


def test_where_law_is_the_reason_a_trouble_that_comes_back_costs_more_than_a_new_one(palette):
    rows = [palette.catalogue.index[slug] for slug in ("clean", "browns-too", "harms", "acetal")]
    # browns too: 0.7; a vapour that the asked does not have: 0.5 ^ 0.6 = 0.660; an acetal: 0.5
    found = drawbacks.untroubled(question(palette, because="law"), rows)["untroubled"]
    assert found == pytest.approx([1.0, 0.7, 0.6598, 0.5], abs=1e-4)


def test_what_is_prohibited_is_as_troubled_as_what_is_regulated(palette):
    asked = palette.catalogue.find("barred")
    assert drawbacks.drawbacks(asked, palette, "any") == {"regulated"}
    assert drawbacks.drawbacks(asked, palette, "standards") == set()


def test_only_a_stand_in_is_told_that_it_shares_the_trouble(palette):
    browns = palette.catalogue.find("browns-too")
    told = drawbacks.drawback_reasons(question(palette), browns)
    assert [(reason.kind, reason.figures, reason.basis) for reason in told] == [
        ("same trouble", {"kinds": ["discolours"]}, "common practice")
    ]
    assert drawbacks.drawback_reasons(question(palette, verb="extend"), browns) == ()


def test_an_acetal_is_said_to_be_milder(palette):
    told = drawbacks.drawback_reasons(question(palette), palette.catalogue.find("acetal"))
    assert [reason.kind for reason in told] == ["milder"]
