"""A question about a formula: its settings are its own, its slider stays in the usual range."""

import pytest

pytest.importorskip("nicegui")

from recommender.errors import BadValue
from recommender.model import Dose, Suggestion
from recommender.output import amount_sentences
from recommender.palette import shipped
from recommender.suggest import Request
from recommender.web.widgets.question import Question
from recommender.web.widgets.suggestion import STEPS, DoseRange, dose_words, range_words

BASE = Request()


def test_a_setting_belongs_to_its_question_only():
    asked = Question("extend", facet="cut grass", until="504", into="base", avoid="hay", only_shelf=True)
    assert Question("replace", line="1").request(BASE).facet is None
    again = Question("extend", facet="rose").request(BASE)
    assert (again.facet, again.until_hours, again.into, again.avoid) == ("rose", None, None, None)
    assert not again.only_shelf
    assert asked.request(BASE).into == "base"


def test_every_filter_reaches_the_request():
    question = Question(
        "extend", facet="rose", gap="rose", until="72", avoid="hay", kind="natural", max_price="0,5",
        why_not="coumarin; vanillin", only_shelf=True, no_label_allergens=True,
    )  # fmt: skip
    found = question.request(BASE)
    assert (found.facet, found.gap, found.until_hours) == ("rose", "rose", 72.0)
    assert (found.avoid, found.kind, found.max_price) == ("hay", "natural", 0.5)
    assert found.why_not == ("coumarin", "vanillin")
    assert found.only_shelf
    assert found.no_label_allergens
    assert Question("extend", relay="relay", into="base").request(BASE).into is None
    assert Question("replace", because="price", blend="2").request(BASE).blend == 2
    assert Question("vary", toward=" smoke ").request(BASE).toward == "smoke"
    with pytest.raises(BadValue):
        Question(max_price="cheap").request(BASE)


def suggestion(dose):
    return Suggestion(shipped().catalogue.find("coumarin"), "hay", 1.0, {}, None, None, (), (), dose=dose)


def test_the_slider_spans_the_usual_range():
    doses = DoseRange.of(suggestion(Dose(5.0, 3.0, 10.0, usual=(2.0, 40.0))))
    assert (doses.low, doses.high) == (2.0, 40.0)
    assert (doses.at(0), doses.at(STEPS)) == (2.0, 40.0)
    assert doses.at(doses.step_of(5.0)) == pytest.approx(5.0, rel=0.04)
    without = DoseRange.of(suggestion(Dose(5.0, 3.0, 10.0)))
    assert (without.low, without.high) == (3.0, 10.0)
    below = DoseRange.of(suggestion(Dose(1.0, 0.5, 2.0, usual=(0.0, 40.0))))
    assert (below.low, below.high) == (0.4, 40.0)
    assert DoseRange.of(suggestion(None)) is None
    assert DoseRange.of(suggestion(Dose(5.0, 5.0, 5.0))) is None


def test_a_dose_is_so_much_neat_and_weighed_as_so_much_of_a_dilution():
    dose = Dose(10.0, 5.0, 20.0, dilution_percent=10.0, usual=(1.0, 20.0))
    assert dose_words(dose) == "10 parts neat of 1000, weighed as 100 of a 10 % dilution, usual 1 to 20"
    assert dose_words(Dose(1.0, 0.5, 2.0)) == "1 part of 1000"
    told = amount_sentences.dose(suggestion(dose))
    assert told.startswith("try 10 parts neat per thousand first (range 5 to 20, weighed as 100 of a 10 %")


def test_the_ends_of_the_slider_say_whether_they_are_the_usual_ones():
    usual, wider = Dose(10.0, 5.0, 20.0, usual=(1.0, 20.0)), Dose(0.5, 0.2, 2.0, usual=(1.0, 20.0))
    assert range_words(DoseRange.of(suggestion(usual)), usual) == ("1", "usual", "20")
    assert range_words(DoseRange.of(suggestion(wider)), wider) == ("0.5", "usual 1 to 20", "20")
    assert range_words(DoseRange(3.0, 10.0), Dose(5.0, 3.0, 10.0)) == ("3", "", "10")
