import dataclasses

import pytest

from recommender import model
from recommender.model import Component, Curve, Label


@pytest.mark.parametrize(("strength", "weight"), [(1, 0.3), (2, 0.6), (3, 1.0)])
def test_a_label_weighs_by_its_strength(strength, weight):
    assert Label("rose", strength, "memory").weight == weight


def test_every_noun_is_frozen():
    nouns = [value for value in vars(model).values() if dataclasses.is_dataclass(value)]
    assert len(nouns) > 10
    assert all(noun.__dataclass_params__.frozen for noun in nouns)


def test_a_material_cannot_be_changed(material):
    with pytest.raises(dataclasses.FrozenInstanceError):
        material("a").name = "b"


def test_all_cas_numbers_begin_with_the_main_one(material):
    assert material("a", cas="11-11-0", cas_more=("22-22-0",)).cas_all == ("11-11-0", "22-22-0")


def test_a_blank_cas_number_is_no_cas_number(material):
    assert material("a").cas_all == ()


def test_a_facet_that_a_material_lacks_has_strength_0(material):
    lemon = material("a", {"lemon": 2})
    assert (lemon.strength_of("lemon"), lemon.strength_of("rose")) == (2, 0)


def test_one_label_from_memory_makes_the_labels_memory(material):
    held = Label("rose", 3, "common practice")
    assert dataclasses.replace(material("a"), labels=(held,)).label_basis == "common practice"
    mixed = dataclasses.replace(material("a"), labels=(held, Label("lemon", 1, "memory")))
    assert mixed.label_basis == "memory"


def test_the_curve_is_that_of_the_largest_part_that_smells(material):
    faint, main = Curve(50, 0, 0.5, "class", "memory"), Curve(80, -1, 0.6, "curve", "published")
    parts = (
        Component("trace", 0.1, 1.0, 150.0, curve=faint),
        Component("main", 0.3, 1.0, 150.0, curve=main),
        Component("carrier", 0.6, 1.0, 134.0),
    )
    assert material("a", parts=parts).curve is main


def test_a_material_without_a_smell_has_no_curve(material):
    assert material("a", curve=None).curve is None
    assert material("a", parts=()).curve is None


def test_unknown_is_none_and_not_nought(material):
    unknown = material("a", strength=None)
    assert unknown.lasting is None
    assert unknown.strength is None
    assert unknown.molar_mass is None
