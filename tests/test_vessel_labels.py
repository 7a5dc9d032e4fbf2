"""Labels for the vessels of a weighing: what stands on them, and that they print."""

from datetime import date

import pytest
from command_line import run

from recommender.output import weighing, worksheet
from recommender.weighing import WeighingRequest
from recommender.workspace import Workspace

DAY = date(2026, 3, 1)
POSY = {"limonene": 90, "eugenol": 9, "ethanol": 30, "isobutyl quinoline": 0.05}


@pytest.fixture(scope="module")
def here():
    return Workspace()


def labels(here, **options):
    sheet = here.weigh(POSY, WeighingRequest(**options))
    return weighing.vessels(sheet, "posy@2", DAY, "L7")


def test_a_label_says_what_is_in_the_vessel_and_what_to_look_out_for(here):
    batch, *others = labels(here)
    assert (batch.name, batch.version, batch.day, batch.lot) == ("table", "posy@2", "2026-03-01", "L7")
    assert batch.cautions[0] == "Highly flammable: ethanol."
    assert any(line.startswith("May sensitise skin: ") and "eugenol" in line for line in batch.cautions)
    diluted = [one for one in others if one.name == "6-isobutylquinoline" or "quinoline" in one.name]
    assert diluted
    assert all(" % in ethanol" in one.dilution for one in diluted)
    assert all(one.version == "" for one in diluted)  # it is no version of the formula


def test_the_finished_product_has_its_own_label(here):
    product = labels(here, dosage_percent=10.0)[1]
    assert product.dilution == "10 % in ethanol"
    assert product.version == "posy@2"


def test_blind_vials_bear_their_number_alone(here):
    found = labels(here, bracket="eugenol", batch_g=30.0)
    numbers = [one.name for one in found if one.dilution == "blind vial"]
    assert len(numbers) == 3
    assert numbers == sorted(numbers)
    assert not any(word in str(found) for word in ("low", "first try", "high"))


def test_a_version_is_named_only_where_the_formula_is_the_stored_one(tmp_path):
    here = Workspace(tmp_path / "notebook.sqlite")
    posy = here.formula(POSY)
    assert here.formulas.same_version(posy) == ""
    title = here.formulas.save(posy, "posy")[-1].title
    stored = here.formulas.open(title)[1]
    assert here.formulas.same_version(stored) == title
    other = here.formulas.open(title)[1]
    assert here.formulas.same_version(type(other)(other.name, other.lines[:2])) == ""


def test_labels_are_printed_ten_on_a_page_and_the_same_each_time(here, tmp_path):
    found = labels(here, dosage_percent=10.0) * 12
    one, other = tmp_path / "one.pdf", tmp_path / "other.pdf"
    assert worksheet.save_labels(found, str(one)) == []
    worksheet.save_labels(found, str(other))
    assert one.read_bytes() == other.read_bytes()
    assert one.read_bytes().startswith(b"%PDF")
    assert one.read_bytes().count(b"/Type /Page\n") >= len(found) / 10


def test_the_command_writes_labels_and_refuses_another_kind_of_file(tmp_path):
    file = tmp_path / "labels.pdf"
    done = run("weigh", "data/demo/morello.csv", "--labels", str(file), "--lot", "A1")
    assert (done.status, file.read_bytes()[:4]) == (0, b"%PDF")
    refused = run("weigh", "data/demo/morello.csv", "--labels", str(tmp_path / "labels.txt"))
    assert (refused.status, "--labels cannot be" in refused.err) == (2, True)
    again = run("weigh", "data/demo/morello.csv", "--labels", str(file))
    assert "--force writes over it" in again.err


def test_a_flammable_solvent_of_the_dilutions_is_named_on_the_batch(here):
    sheet = here.weigh({"limonene": 999, "coumarin": 0.05}, WeighingRequest(dosage_percent=10.0))
    assert any(step.solvent.slug == "ethanol" for step in sheet.dilutions)
    assert weighing.vessels(sheet, "", DAY)[0].cautions[0] == "Highly flammable: ethanol."
