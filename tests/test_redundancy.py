import numpy as np
import pytest

from recommender.evaporation.course import doses_added
from recommender.evaporation.surface import eighth_power
from recommender.formulas.drydown import FormulaDrydown
from recommender.formulas.redundancy import _Lines, trim
from recommender.formulas.simulation import soft_presence
from recommender.formulas.theme import PHASES
from recommender.model import Formula, Line
from recommender.palette import Palette, shipped

SMOKE, ROSE = ("smoke",), ("rose",)


def table(palette, theme=(), **parts):
    lines = [Line(palette.catalogue.find(name.replace("_", " ")), value) for name, value in parts.items()]
    return FormulaDrydown(Formula("accord", tuple(lines), theme=theme), palette)


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
    assert found[0].covered_by == ("benzyl salicylate",)
    assert [spare.redundant for spare in found[1:]] == [False] * 6


def test_a_little_of_a_note_beside_far_more_of_it_is_redundant(toy):
    found = {s.material.name: s for s in trim(table(toy, ROSE, ember=900, ash=20, petal=100))}
    assert (found["ash"].redundant, found["ash"].covered_by) == (True, ("ember",))
    assert not found["ember"].redundant
    assert not found["petal"].redundant


def test_of_two_alike_in_the_same_amount_each_covers_the_other_and_stays(toy):
    found = {s.material.name: s for s in trim(table(toy, ROSE, ember=450, ash=450, petal=100))}
    assert found["ember"].covered_by == ("ash",)
    assert not found["ember"].redundant
    assert not found["ash"].redundant
    assert found["petal"].covered_by == ()


def test_a_carrier_of_the_theme_is_never_redundant(toy):
    parts = {"ember": 900, "ash": 110, "petal": 100}
    for theme, redundant in ((SMOKE, False), (ROSE, True)):
        found = {s.material.name: s for s in trim(table(toy, theme, **parts))}
        assert found["ash"].redundant is redundant, theme
    found = {s.material.name: s for s in trim(table(toy, SMOKE, **parts))}
    assert (found["ash"].role, found["ash"].does_facet) == ("carries", "smoke")
    assert (found["petal"].role, found["petal"].does_facet) == ("brings", "rose")


def test_a_trace_label_covers_nothing(material, catalogue_of):
    world = Palette.of(
        catalogue_of(
            [
                material("petal", {"rose": 3}, pressure_pa=1.0),
                material("ember", {"smoke": 3, "rose": 1}, pressure_pa=1.0),
                material("blush", {"smoke": 3, "rose": 2}, pressure_pa=1.0),
            ]
        )
    )
    found = {s.material.name: s for s in trim(table(world, SMOKE, petal=10, ember=900, blush=0.01))}
    assert found["petal"].covered_by == ()
    assert not found["petal"].redundant
    found = {s.material.name: s for s in trim(table(world, SMOKE, petal=10, blush=900, ember=0.01))}
    assert found["petal"].covered_by == ("blush",)
    assert found["petal"].redundant


def test_the_shares_of_the_theme_add_up_to_one_and_those_of_the_whole_to_less(toy):
    found = trim(table(toy, SMOKE, ember=450, ash=450, petal=100))
    assert sum(s.share_of_theme for s in found) == pytest.approx(1.0, abs=1e-6)
    assert 0.0 < sum(s.share_of_whole for s in found) <= 1.0
    shares = {s.material.name: s.share_of_theme for s in found}
    assert shares["petal"] == 0.0
    assert shares["ember"] == pytest.approx(shares["ash"])


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


def test_what_is_lost_without_a_line_is_that_of_a_formula_smelled_without_it(material, catalogue_of):
    twins = [material(slug, {"smoke": 3, "rose": 1}, pressure_pa=0.1) for slug in ("ember", "ash")]
    world = Palette.of(catalogue_of([*twins, material("petal", {"rose": 3, "smoke": 2}, pressure_pa=5.0)]))
    drydown = table(world, ember=300, ash=100, petal=600)
    film, columns = drydown.film, np.array([world.space.facets.index(facet) for facet in ("smoke", "rose")])
    lines = _Lines(drydown.course, world.space.near)

    def present(odours):
        facets = (eighth_power(doses_added(film, odours)) @ eighth_power(lines.weights)) ** 0.125
        facets = (facets[:, :, None] * world.space.near).max(axis=1)[None, :, columns]
        windows = PHASES.values()
        return np.array([soft_presence(drydown.course.hours[None], facets, *each)[0] for each in windows])

    alone = film.at(drydown.course.hours)
    for place in range(3):
        without = np.where(film.owner == place, 0.0, alone)
        assert lines.lost(place, columns) == pytest.approx(present(alone) - present(without), abs=1e-12)
