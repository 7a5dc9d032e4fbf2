"""One clock: what a person's strips show moves ranking, lists, cards and courses alike."""

import pytest

from recommender.evaporation import DEFAULT_CONDITIONS, Conditions, OwnReading
from recommender.output import materials as cards
from recommender.palette import palette_with, under
from recommender.suggest import Request, for_material
from recommender.workspace import Workspace


@pytest.fixture(scope="module")
def twins(palette_of):
    """Return three carriers of lemon that are alike, and what fades before them."""
    return palette_of(
        {
            "zest": ({"lemon": 3, "rose": 1}, 1.0, 100.0),
            "one": ({"lemon": 3, "rose": 2}, 100.0, 1.0),
            "two": ({"lemon": 3, "rose": 2}, 100.0, 1.0),
            "ember": ({"smoke": 3}, 500.0, 0.1),
        }
    )


def found(palette, verb=for_material.extend):
    asked = palette.catalogue.find("zest")
    return {s.material.name: s for s in verb(asked, Request(facet="lemon"), palette).suggestions}


def lasting(palette, name):
    return palette.catalogue.find(name).lasting


def test_a_reading_that_a_material_lasts_shorter_moves_it_down(twins):
    alike = found(twins)
    assert alike["one"].score == pytest.approx(alike["two"].score)
    read = under(twins, Conditions(own={"one": OwnReading(5.0, 1.0)}))
    own = found(read)
    assert list(own) == ["two", "one"]
    assert own["one"].lasting.hours == pytest.approx(20.0, rel=0.2)
    assert own["one"].lasting.hours < alike["one"].lasting.hours / 4
    assert own["two"].lasting == alike["two"].lasting


def test_what_is_gone_before_the_asked_is_not_offered(twins):
    read = under(twins, Conditions(own={"one": OwnReading(200.0, 1.0)}))
    assert lasting(read, "one").hours < lasting(read, "zest").hours
    assert list(found(read)) == ["two"]


def test_hours_and_strength_of_stand_ins_are_compared_as_read(twins):
    read = under(twins, Conditions(own={"one": OwnReading(100.0, 1.0), "two": OwnReading(1.0, 10.0)}))
    table, own = found(twins, for_material.replace), found(read, for_material.replace)
    assert own["one"].terms["lasting"] > table["one"].terms["lasting"] == table["two"].terms["lasting"]
    assert own["two"].strength > 1.2 * table["two"].strength


def test_the_air_moves_all_hours_and_no_position(twins):
    read = under(twins, Conditions(film_m=4e-3))
    for name in ("zest", "one", "ember"):
        before, after = lasting(twins, name), lasting(read, name)
        assert after.hours == pytest.approx(2 * before.hours, rel=0.25)
        assert after.low / before.low == pytest.approx(after.hours / before.hours)
        assert (after.position, after.basis) == (before.position, before.basis)


def test_own_strips_move_position_basis_and_pressure(twins):
    read = under(twins, Conditions(own={"one": OwnReading(1000.0, 1.0)}))
    after = lasting(read, "one")
    assert (after.position, after.basis) == ("top", "user")
    row = cards.row(read, read.catalogue.find("one"))
    assert (row["position"], row["vapour_pressure_pa"]) == ("top", pytest.approx(1000.0))
    card = cards.card(read, read.catalogue.find("one"))
    assert card["lasting"]["basis"] == "user"
    assert card["lasting"]["source"] is None
    assert card["vapour_pressure_pa"]["liquid"] == pytest.approx(1000.0)
    assert [f["value"] for f in card["figures"]["vapour_pressure"]] == [1000.0, 1.0]


def test_the_conditions_of_the_tables_change_nothing(twins):
    assert under(twins, DEFAULT_CONDITIONS) is twins
    same = under(twins, Conditions(own={"one": OwnReading(1.0, 1.0)}))
    assert lasting(same, "one").hours == pytest.approx(lasting(twins, "one").hours)


def test_an_answer_says_whose_hours_these_are(twins):
    read = under(twins, Conditions(film_m=4e-3))
    notes = for_material.extend(read.catalogue.find("zest"), Request(), read).notes
    assert any("your own strips" in note and "still air 2 times" in note for note in notes)


def test_what_strips_show_moves_the_ranking_from_the_notebook_on(tmp_path):
    here = Workspace(tmp_path / "n.sqlite")
    asked = Request(facet="tonka", top=30)
    before = [s.material.name for s in here.extend("linalool", asked).suggestions]
    assert "coumarin" in before[:3]
    here.own_strips.add("coumarin", {2: "clear", 5: "gone"})
    here.own_strips.fit(use=True)
    after = {s.material.name: n for n, s in enumerate(here.extend("linalool", asked).suggestions)}
    assert here.material("coumarin").lasting.hours < 5
    assert after.get("coumarin", 99) > before.index("coumarin")


def test_a_formula_and_a_list_follow_the_same_clock(shipped):
    from recommender.evidence.overlay import Overlay

    own = palette_with(Overlay(), Conditions(own={"linalool": OwnReading(8.0, 1.0)}))
    here = Workspace(palette=own)
    ends = here.drydown({"linalool": 1.0}).ends
    leading = next(label.facet for label in shipped.find("linalool").labels if label.strength == 3)
    listed = own.catalogue.find("linalool").lasting.hours
    assert listed < shipped.find("linalool").lasting.hours / 5
    assert ends[leading]["just_there"].hours == pytest.approx(listed, rel=0.15)
