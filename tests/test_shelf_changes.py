"""What a weighing takes out of the bottles, and every change of the shelf undone and done again."""

import json

import pytest
from command_line import run

from recommender.errors import BadValue, ChangedMeanwhile
from recommender.model import Bottle
from recommender.notebook.csv_folder import digest
from recommender.notebook.store import reading
from recommender.weighing import WeighingRequest, withdrawals
from recommender.weighing.withdrawals import chosen
from recommender.workspace import Workspace

POSY = {"linalool": 60, "eugenol": 1, "coumarin": 10}


@pytest.fixture
def here(tmp_path):
    found = Workspace(tmp_path / "notebook.sqlite")
    found.shelf.add("my linalool", "linalool", amount_g=20, price_per_g=0.3)
    found.shelf.add("old linalool", "linalool", amount_g=9, opened="2024-01-01")
    found.shelf.add("clove", "eugenol", dilution_percent=10, solvent="ethanol", amount_g=3)
    found.shelf.add("coumarin")
    return found


def amounts(here):
    return {bottle.label: bottle.amount_g for bottle in here.shelf.stock().bottles}


def rows(here):
    with reading(here.notebook) as db:
        return digest(db)


def taken(here, request=None, **more):
    sheet = here.weigh(POSY, request or WeighingRequest())
    return {one.key: one for one in withdrawals(sheet, here.shelf.stock().by_material, **more)}


def test_each_line_is_taken_from_a_bottle_of_its_dilution_that_has_enough_the_older_first(here):
    found = taken(here)
    assert found["linalool 100"].bottle.label == "old linalool"
    assert [bottle.label for bottle in found["linalool 100"].bottles] == ["old linalool", "my linalool"]
    assert (found["linalool 100"].grams, found["eugenol 10"].grams) == (8.45, 1.41)
    assert found["eugenol 10"].bottle.label == "clove"
    assert found["coumarin 100"].bottles == ()  # its amount is unknown
    larger = taken(here, WeighingRequest(batch_g=20.0))
    assert larger["linalool 100"].bottle.label == "my linalool"  # the older one has not enough
    assert taken(here, WeighingRequest(batch_g=30.0))["linalool 100"].short_g == pytest.approx(5.36, abs=0.05)


def test_a_dilution_that_is_made_takes_its_material_and_its_solvent(here):
    sheet = here.weigh({"linalool": 999, "coumarin": 1})
    found = {one.key: one.grams for one in withdrawals(sheet, {})}
    (step,) = [step for step in sheet.dilutions if step.stronger == 1.0]
    assert found["coumarin 100"] == pytest.approx(step.take_g)
    solvents = sum(step.add_g for step in sheet.dilutions)
    assert found[f"{step.solvent.slug} 100"] == pytest.approx(solvents, abs=0.01)
    assert set(found) == {"linalool 100", "coumarin 100", f"{step.solvent.slug} 100"}


def test_the_top_up_counts_where_it_was_made(here):
    request = WeighingRequest(dosage_percent=10.0)
    assert "ethanol 100" not in taken(here, request)
    assert taken(here, request, top_up=True)["ethanol 100"].grams > 80


def test_three_vials_take_their_line_once_each(here):
    sheet = here.weigh(POSY, WeighingRequest(bracket="eugenol", batch_g=30.0))
    found = {one.key: one.grams for one in withdrawals(sheet, here.shelf.stock().by_material)}
    three = sheet.bracket
    assert found["eugenol 10"] == pytest.approx(sum(vial.grams for vial in three.vials))


def test_a_stronger_bottle_may_be_chosen_and_less_is_taken_of_it(here):
    bottle = here.shelf.add("neat clove", "eugenol", amount_g=5)
    sheet = here.weigh({"linalool": 90, "eugenol": 10}, WeighingRequest())
    (one,) = [x for x in withdrawals(sheet, {"eugenol": here.shelf.stock().bottles}) if "eugenol" in x.key]
    assert one.dilution_percent == 100
    diluted = here.shelf.stock()
    thin = Bottle("thin", "eugenol", 5.0, "ethanol", 9.0, number=77)
    ten = type(one)(one.material, 10.0, 2.0)
    assert ten.grams_from(bottle) == pytest.approx(0.2)
    assert ten.grams_from(next(b for b in diluted.bottles if b.label == "clove")) == 2.0
    assert thin.dilution_percent < ten.dilution_percent


def test_what_was_weighed_leaves_the_bottles_and_comes_back_to_the_last_digit(here):
    before, whole = amounts(here), rows(here)
    change, _ = here.shelf.weighed(here.weigh(POSY))
    assert amounts(here) == before | {"old linalool": 0.55, "clove": 1.59}
    assert [(one.kind, one.name, one.batch_g) for one in here.shelf.changes()] == [("weighed", "table", 10.0)]
    _, removed = here.shelf.undo(change.number)
    assert amounts(here) == before
    here.removed.bring_back(removed)
    assert amounts(here) == before | {"old linalool": 0.55, "clove": 1.59}
    _, removed = here.shelf.undo(change.number)
    with here.writing() as db:
        db.execute("DELETE FROM removed")
    assert rows(here) == whole


def test_undone_after_another_weighing_the_bottles_get_back_what_the_first_took(here):
    first, _ = here.shelf.weighed(here.weigh(POSY), [1])
    second, _ = here.shelf.weighed(here.weigh(POSY), [1])
    assert amounts(here)["my linalool"] == pytest.approx(20 - 2 * 8.45)
    here.shelf.undo(first.number)
    assert amounts(here)["my linalool"] == pytest.approx(20 - 8.45)
    here.shelf.undo(second.number)
    assert amounts(here)["my linalool"] == 20
    assert amounts(here)["clove"] == 3


def test_what_was_changed_by_hand_since_stays(here):
    change, _ = here.shelf.weighed(here.weigh(POSY))
    here.shelf.edit(2, opened="2025-05-05")
    here.shelf.undo(change.number)
    bottle = next(b for b in here.shelf.stock().bottles if b.number == 2)
    assert (bottle.amount_g, bottle.opened) == (9.0, "2025-05-05")


def test_a_bottle_has_never_less_than_nothing(here):
    change, found = here.shelf.weighed(here.weigh(POSY, WeighingRequest(batch_g=50.0)))
    assert amounts(here)["clove"] == 0
    assert any(one.short_g > 0 for one in found)
    here.shelf.undo(change.number)
    assert amounts(here)["clove"] == 3


def test_a_bottle_that_was_taken_off_since_has_to_come_back_first(here):
    change, _ = here.shelf.weighed(here.weigh(POSY))
    _, removed = here.shelf.remove(3)
    whole = rows(here)
    with pytest.raises(BadValue, match=r"clove.*bring it back first"):
        here.shelf.undo(change.number)
    assert rows(here) == whole
    here.removed.bring_back(removed)
    here.shelf.undo(change.number)
    assert amounts(here)["clove"] == 3


def test_nothing_on_the_shelf_is_no_change(tmp_path):
    here = Workspace(tmp_path / "empty.sqlite")
    change, found = here.shelf.weighed(here.weigh(POSY))
    assert change is None
    assert all(one.bottle is None for one in found)
    assert not here.notebook.exists()


def test_bottles_of_other_materials_are_refused(here):
    sheet = here.weigh(POSY)
    found = withdrawals(sheet, here.shelf.stock().by_material)
    assert next(x for x in chosen(found, [1]) if x.key == "linalool 100").bottle.label == "my linalool"
    with pytest.raises(BadValue, match="no bottle of this number"):
        here.shelf.weighed(sheet, [4])
    with pytest.raises(BadValue, match="no change of the shelf has it"):
        here.shelf.undo(9)


def test_an_import_is_one_change_new_bottles_and_those_brought_up_to_date(here):
    whole, before = rows(here), amounts(here)
    done = here.shelf.add_all(
        [Bottle("my linalool", "linalool", amount_g=100.0), Bottle("new one", "vanillin", amount_g=5.0)],
        "mine.csv",
    )
    assert [new for _, new, _ in done] == [False, True]
    (change,) = [one for one in here.shelf.changes() if one.kind == "imported"]
    here.shelf.edit(5, amount_g="4")
    _, removed = here.shelf.undo(change.number)
    assert amounts(here) == before
    here.removed.bring_back(removed)
    assert amounts(here) == before | {"my linalool": 100, "new one": 4}  # as it was when it went
    assert rows(here) != whole


def test_a_bottle_is_changed_and_what_is_wrong_changes_nothing(here):
    change = here.shelf.edit(1, amount_g="7,5 g", dilution_percent="50", solvent="ethanol", price_per_g="")
    bottle = next(b for b in here.shelf.stock().bottles if b.number == 1)
    assert (bottle.amount_g, bottle.dilution_percent, bottle.solvent) == (7.5, 50.0, "ethanol")
    assert (bottle.price_per_g, bottle.label, bottle.material) == (None, "my linalool", "linalool")
    whole = rows(here)
    for wrong in (
        {"amount_g": "much"},
        {"opened": "soon"},
        {"dilution_percent": "150"},
        {"solvent": "xyzzy"},
    ):
        with pytest.raises(BadValue) as error:
            here.shelf.edit(1, **wrong)
        assert error.value.field in wrong
    with pytest.raises(TypeError, match="label"):
        here.shelf.edit(1, label="another")
    assert here.shelf.edit(1, lot="") is None
    assert rows(here) == whole
    here.shelf.undo(change.number)
    assert next(b for b in here.shelf.stock().bottles if b.number == 1).price_per_g == 0.3


def test_a_bottle_that_is_another_than_was_seen_is_not_written_over(here):
    seen = next(b for b in here.shelf.stock().bottles if b.number == 1)
    here.shelf.edit(1, amount_g="5")
    with pytest.raises(ChangedMeanwhile):
        here.shelf.edit(1, seen, amount_g="6")
    assert amounts(here)["my linalool"] == 5


def test_the_command_line_takes_lists_and_undoes(here, tmp_path):
    file = tmp_path / "posy.csv"
    file.write_text("material,parts\nlinalool,60\neugenol,1\ncoumarin,10\n", encoding="utf-8")
    notebook = ["--notebook", str(here.notebook)]
    before = amounts(here)
    done = run("weigh", str(file), "--weighed", "--from-bottle", "1", *notebook)
    assert done.status == 0
    assert "my linalool: 8.45 g taken, 11.55 g left." in done.err
    assert "From no bottle with a known amount: coumarin." in done.err
    assert "`recommender shelf undo 1` puts it back." in done.err
    assert "weighed: 10 g of posy, from 2 bottles" in run("shelf", "changes", *notebook).out
    assert run("shelf", "undo", "1", *notebook).status == 0
    assert amounts(here) == before
    data = json.loads(run("weigh", str(file), "--weighed", "--format", "json", *notebook).out)
    assert data["weighed"]["change"] == 2
    assert {one["label"]: one["after_g"] for one in data["weighed"]["bottles"]} == {
        "old linalool": 0.55,
        "clove": 1.59,
    }
    refused = run("weigh", str(file), "--from-bottle", "1", *notebook)
    assert (refused.status, refused.err.count("\n")) == (2, 1)
    assert run("shelf", "edit", "1", "--amount", "3", *notebook).out == "bottle 1: my linalool changed\n"
    wrong = run("shelf", "edit", "1", "--amount", "much", *notebook)
    assert (wrong.status, "--amount cannot be" in wrong.err) == (2, True)
