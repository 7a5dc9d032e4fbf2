import pytest

from recommender.bench import Bench
from recommender.model import Caution, Limit
from recommender.suggest import Wish, trouble
from recommender.suggest.question import read


@pytest.fixture
def bench(material, catalogue_of, relation):
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
    return Bench.of(catalogue_of(materials, [relation("acetal", "acetal-of", "aldehyde")], [barred]))


def question(bench, name="aldehyde", verb="replace"):
    return read(verb, Wish(name), bench)


def test_a_trouble_that_comes_back_costs_more_than_a_new_one_and_none_costs_nothing(bench):
    rows = [bench.catalogue.index[slug] for slug in ("clean", "browns-too", "harms", "acetal")]
    # browns too: 0.7; a vapour that the asked does not have: 0.5 ^ 0.6 = 0.660; an acetal: 0.5
    found = trouble.untroubled(question(bench), rows)["untroubled"]
    assert found == pytest.approx([1.0, 0.7, 0.6598, 0.5], abs=1e-4)


def test_what_is_prohibited_is_as_troubled_as_what_is_regulated(bench):
    asked = bench.catalogue.find("barred")
    assert trouble.troubles(asked, bench, "any") == {"regulated"}
    assert trouble.troubles(asked, bench, "standards") == set()


def test_only_a_stand_in_is_told_that_it_shares_the_trouble(bench):
    browns = bench.catalogue.find("browns-too")
    told = trouble.told(question(bench), browns)
    assert [(reason.kind, reason.figures, reason.basis) for reason in told] == [
        ("same trouble", {"kinds": ["discolours"]}, "common practice")
    ]
    assert trouble.told(question(bench, verb="extend"), browns) == ()


def test_an_acetal_is_said_to_be_milder(bench):
    told = trouble.told(question(bench), bench.catalogue.find("acetal"))
    assert [reason.kind for reason in told] == ["milder"]
