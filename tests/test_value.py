"""Frozen values: equal by what they contain, of one class, unchangeable, and hashed as they compare."""

import pickle
from dataclasses import FrozenInstanceError, field, replace

import pytest

from recommender.model import Figure, Label
from recommender.value import value


@value
class Spot:
    row: int
    seen: int = field(default=0, compare=False, repr=False)


@value
class Place:
    row: int


def test_values_are_equal_by_the_fields_that_compare():
    assert Spot(1, seen=3) == Spot(1, seen=4)
    assert Spot(1) != Spot(2)
    assert Spot(1) != Place(1)
    assert len({Spot(1, seen=3), Spot(1), Place(1)}) == 2


def test_a_value_does_not_change():
    with pytest.raises(FrozenInstanceError):
        Spot(1).row = 2
    assert replace(Spot(1), row=2) == Spot(2)


def test_a_value_reads_as_the_call_that_makes_it():
    assert repr(Spot(1, seen=3)) == "Spot(row=1)"
    assert eval(repr(Label("rose", 3, "memory"))) == Label("rose", 3, "memory")


def test_a_value_is_pickled():
    figure = Figure(1.0, "Pa", "measured", "", low=0.5, high=2.0)
    assert pickle.loads(pickle.dumps(figure)) == figure
