import pytest

from recommender.formulas.drydown import FormulaDrydown
from recommender.formulas.redundancy import trim
from recommender.model import Formula, Line
from recommender.palette import Palette, shipped


def table(palette, **parts):
    lines = [Line(palette.catalogue.find(name.replace("_", " ")), value) for name, value in parts.items()]
    return FormulaDrydown(Formula("accord", tuple(lines)), palette)


@pytest.fixture(scope="module")
def toy(material, catalogue_of):
    return Palette.of(
        catalogue_of(
            [
                material("ember", {"smoke": 3}, pressure_pa=0.1),
                material("ash", {"smoke": 3}, pressure_pa=0.1),
                material("petal", {"rose": 3}, pressure_pa=5.0),
                material("bottle", kind="solvent", curve=None, pressure_pa=2.0),
            ]
        )
    )


def test_benzoin_beside_vanillin_and_a_sugary_material_is_redundant():
    # common practice: benzoin's sweet balsam is lost beside vanillin and ethyl maltol
    found = trim(
        table(
            shipped(),
            vanillin=60,
            ethyl_maltol=20,
            benzoin_resinoid=15,
            coumarin=40,
            methyl_dihydrojasmonate=200,
            linalool=80,
            benzyl_salicylate=100,
        )
    )
    assert (found[0].material.name, found[0].redundant) == ("benzoin resinoid", True)
    assert "vanillin" in found[0].covered_by
    assert [spare.redundant for spare in found[1:]] == [False] * 6


def test_of_two_that_do_the_same_work_each_covers_the_other(toy):
    found = {s.material.name: s for s in trim(table(toy, ember=45, ash=45, petal=10))}
    assert found["ember"].redundant
    assert found["ash"].redundant
    assert found["ember"].covered_by == ("ash",)
    assert not found["petal"].redundant
    assert found["petal"].covered_by == ()


def test_what_alone_tells_a_facet_is_missed_in_its_phase(toy):
    found = {s.material.name: s for s in trim(table(toy, ember=50, petal=50))}
    assert (found["ember"].facet, found["petal"].facet) == ("smoke", "rose")
    assert found["ember"].phase == "base"
    assert found["ember"].missed > 0.5


def test_the_least_missed_comes_first_and_solvents_are_left_out(toy):
    found = trim(table(toy, ember=45, ash=40, petal=10, bottle=100))
    assert [s.missed for s in found] == sorted(s.missed for s in found)
    assert {s.material.name for s in found} == {"ember", "ash", "petal"}
    assert sum(s.parts for s in found) == pytest.approx(1000 * 95 / 195)


def test_a_single_material_cannot_be_left_out(toy):
    assert trim(table(toy, ember=1)) == []
