"""Facts that any trained perfumer would sign; all are common practice."""

import pytest

import recommender
from recommender.evidence.catalogue import load
from recommender.regulation import prohibitions


def first(answer: recommender.Answer, count: int) -> list[str]:
    return [s.material.name for s in answer.value.suggestions[:count]]


# common practice
def test_at_equal_dose_the_pyrazine_outshouts_benzaldehyde_and_benzaldehyde_coumarin():
    pyrazine, almond, tonka = (
        recommender.material(name).strength
        for name in ("2-ethyl-3,5-dimethylpyrazine", "benzaldehyde", "coumarin")
    )
    assert pyrazine > almond > tonka > 0


# common practice
def test_benzaldehyde_is_a_top_and_coumarin_a_base():
    places = [recommender.material(name).lasting.position for name in ("benzaldehyde", "coumarin")]
    assert places == ["top", "base"]


# common practice
def test_coumarin_has_an_almond_side():
    coumarin = recommender.material("coumarin")
    assert max(coumarin.strength_of(facet) for facet in ("marzipan", "bitter almond")) >= 1


# common practice
def test_coumarin_keeps_the_almond_of_benzaldehyde_and_brings_hay_and_tonka():
    answer = recommender.extend("benzaldehyde", facet="almond", until_hours=24)
    assert "coumarin" in first(answer, 5)
    (coumarin,) = [s for s in answer.value.suggestions if s.material.name == "coumarin"]
    assert {"hay", "tonka"} <= {label.facet for label in coumarin.brings}


def test_nothing_that_extends_benzaldehyde_lasts_less_than_it():
    least = recommender.material("benzaldehyde").lasting.hours
    answer = recommender.extend("benzaldehyde", facet="almond", until_hours=24, top=500)
    assert len(answer) > 10  # of what is more than a trace of it
    assert min(s.lasting.hours for s in answer.value.suggestions) >= least


# common practice
def test_toward_hazelnut_the_first_is_the_hazelnut_ketone():
    assert first(recommender.vary("benzaldehyde", "hazelnut"), 1) == ["5-methyl-2-hepten-4-one"]


# common practice
def test_vanillin_toward_chocolate_finds_a_cocoa_material():
    answer = recommender.vary("vanillin", "chocolate")
    leading = [
        max(s.material.strength_of(facet) for facet in ("cocoa", "chocolate"))
        for s in answer.value.suggestions[:3]
    ]
    assert 3 in leading


# common practice
def test_the_prohibited_muguet_aldehyde_has_muguet_stand_ins_that_are_allowed():
    answer = recommender.replace("80-54-6", facet="lily of the valley")
    offered = [s.material for s in answer.value.suggestions]
    muguet = [m for m in offered if m.strength_of("lily of the valley") >= 2]
    assert len(muguet) >= 5
    assert not [m.name for m in offered if prohibitions(m, load().entries, "any")]
    # Regulation (EC) No 1223/2009 annex II: 80-54-6; Regulation (EU) 2017/1410: 31906-04-4
    assert not {"80-54-6", "31906-04-4"} & {cas for m in offered for cas in m.cas_all}


# Regulation (EU) 2021/1902 put 80-54-6 into annex II of Regulation (EC) No 1223/2009
def test_the_muguet_aldehyde_itself_is_prohibited():
    assert prohibitions(recommender.material("80-54-6"), load().limits, "eu")


@pytest.mark.parametrize(
    ("name", "facet"),  # common practice
    [
        ("vanillin", "vanilla"),
        ("eugenol", "clove"),
        ("geraniol", "rose"),
        ("cis-3-hexenol", "cut grass"),
        ("gamma-undecalactone", "peach"),
        ("gamma-nonalactone", "coconut"),
        ("isoamyl acetate", "banana"),
    ],
)
def test_a_classic_leads_with_the_smell_it_is_known_for(name, facet):
    assert recommender.material(name).strength_of(facet) == 3
