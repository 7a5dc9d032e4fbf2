"""Lines as typed on the page: read, changed, put into files."""

import pytest

from recommender.errors import ChangedMeanwhile
from recommender.model import Dose, Formula, Line, Suggestion
from recommender.notebook.drafts import Draft, numbered
from recommender.palette import shipped

pytest.importorskip("nicegui")

from recommender.web.server import csv_export, line_edits, typed_lines

CATALOGUE = shipped().catalogue
TYPED = numbered(
    [
        {"material": "bitter almond oil", "parts": "10"},
        {"material": "100-52-7", "parts": "2,5", "dilution_percent": "10"},
        {"material": "vanilin", "parts": "4"},
        {"material": "vanillin", "parts": ""},
        {"material": "", "parts": "", "note": ""},
        {"material": "ethanol", "parts": "x"},
    ]
)


def no_accord(name):
    return None


def read(typed=TYPED, accord=no_accord):
    return typed_lines.read("test", typed, CATALOGUE, accord)


def test_names_numbers_and_commas_are_understood_as_in_a_file():
    found = read().found
    assert found["1"].content.name == "bitter almond oil"
    assert found["2"].content.name == "benzaldehyde"
    assert (found["2"].parts, found["2"].dilution) == (2.5, 0.1)


def test_each_error_stands_at_its_line_with_a_way_out():
    problems = read().problems
    assert set(problems) == {"3", "4", "6"}
    assert problems["3"].column == "material"
    assert "vanillin" in problems["3"].near
    assert problems["4"].text == "Write its parts."
    assert problems["6"].column == "parts"


def test_a_blank_line_is_no_error_and_parts_of_a_thousand_are_of_what_could_be_read():
    found = read()
    assert "5" not in found.problems
    assert sum(found.per_thousand.values()) == pytest.approx(1000.0)
    assert found.per_thousand["1"] == pytest.approx(800.0)


def test_nothing_that_smells_is_no_formula():
    assert read(numbered([{"material": "dipropylene glycol", "parts": "5"}])).formula is None
    assert read(()).formula is None


def test_a_line_may_name_another_formula_of_the_page():
    inner = Formula("heart", (Line(CATALOGUE.find("eugenol"), 1.0),))
    typed = numbered([{"material": "heart.csv", "parts": "5"}, {"material": "base.csv", "parts": "1"}])
    found = read(typed, {"heart": inner}.get)
    assert found.found["1"].content == inner
    assert "base" in found.problems["2"].text


def test_a_cell_is_written_only_where_it_still_holds_what_was_seen():
    change = line_edits.set_cell("1", "parts", "10", "12")(TYPED)
    assert change.lines[0]["parts"] == "12"
    assert change.lines[1:] == TYPED[1:]
    with pytest.raises(ChangedMeanwhile, match='stands at "12" now'):
        line_edits.set_cell("1", "parts", "10", "14")(change.lines)
    assert line_edits.set_cell("1", "parts", "10", "12")(change.lines) is None
    with pytest.raises(ChangedMeanwhile):
        line_edits.set_cell("77", "parts", "1", "2")(TYPED)


def test_lines_are_added_with_new_numbers_and_taken_out():
    added = line_edits.add({"material": "coumarin"})(TYPED)
    assert (added.lines[-1]["id"], added.done) == ("7", "added coumarin")
    assert [x["id"] for x in line_edits.remove("2")(added.lines).lines] == ["1", "3", "4", "5", "6", "7"]
    assert line_edits.remove("99")(TYPED) is None


def suggestion(name, first, percent=None, members=()):
    material = CATALOGUE.find(name)
    dose = Dose(first, first / 2, first * 2, percent)
    return Suggestion(material, None, 0.5, {}, material.lasting, None, (), (), dose=dose, members=members)


def shares(typed):
    found = read(typed)
    return {line.content.name: found.per_thousand[number] for number, line in found.found.items()}


def test_a_suggestion_is_taken_up_at_its_dose_in_the_finished_accord():
    typed = numbered([{"material": "linalool", "parts": "90"}, {"material": "eugenol", "parts": "10"}])
    change = line_edits.add_suggestion(suggestion("coumarin", 50.0), read(typed))(typed)
    assert shares(change.lines)["coumarin"] == pytest.approx(50.0, rel=0.01)
    assert change.done == "added coumarin"


def test_what_is_too_small_to_weigh_goes_in_as_the_dilution_that_was_advised():
    typed = numbered([{"material": "linalool", "parts": "100"}])
    change = line_edits.add_suggestion(suggestion("coumarin", 0.1, 1.0), read(typed))(typed)
    assert change.lines[-1]["dilution_percent"] == "1"
    assert float(change.lines[-1]["parts"]) == pytest.approx(1.0, rel=0.01)  # 0.1 of 1000 neat, as 1 %


def test_a_stand_in_takes_the_place_of_its_line():
    typed = numbered([{"material": "linalool", "parts": "90"}, {"material": "eugenol", "parts": "10"}])
    change = line_edits.add_suggestion(suggestion("isoeugenol", 100.0), read(typed), ("2",))(typed)
    assert set(shares(change.lines)) == {"linalool", "isoeugenol"}
    assert shares(change.lines)["isoeugenol"] == pytest.approx(100.0, rel=0.01)
    assert change.done == "added isoeugenol in place of eugenol"


def test_a_stand_in_stands_where_its_line_stood_at_the_dose_that_was_chosen():
    typed = numbered([{"material": name, "parts": "50"} for name in ("linalool", "eugenol", "coumarin")])
    found = suggestion("isoeugenol", 100.0)
    change = line_edits.replace_line("1", found, read(typed), dose=200.0)(typed)
    assert [line["material"] for line in change.lines] == ["isoeugenol", "eugenol", "coumarin"]
    assert [line["id"] for line in change.lines] == ["4", "2", "3"]
    assert shares(change.lines)["isoeugenol"] == pytest.approx(200.0, rel=0.01)
    with pytest.raises(ChangedMeanwhile):
        line_edits.replace_line("9", found, read(typed))(typed)


def test_two_of_a_relay_share_the_dose():
    pair = tuple((CATALOGUE.find(name), share) for name, share in (("coumarin", 0.75), ("vanillin", 0.25)))
    typed = numbered([{"material": "linalool", "parts": "100"}])
    change = line_edits.add_suggestion(suggestion("vanillin", 40.0, members=pair), read(typed))(typed)
    assert shares(change.lines)["coumarin"] == pytest.approx(30.0, rel=0.01)
    assert shares(change.lines)["vanillin"] == pytest.approx(10.0, rel=0.01)


def test_an_export_holds_everything_typed_and_nothing_that_a_spreadsheet_would_run():
    typed = (*TYPED, {**TYPED[0], "id": "9", "note": '=HYPERLINK("http://example.org")'})
    text = csv_export.as_csv(Draft(1, "test", 1, typed)).decode("utf-8-sig")
    rows = text.splitlines()
    assert rows[0] == "material,parts,dilution_percent,solvent,note"
    assert len(rows) == 1 + 6  # the blank line is left out, the unfinished ones are not
    assert "vanilin,4" in text
    assert ",=HYPER" not in text
    assert "'=HYPER" in text


@pytest.mark.parametrize(
    ("written", "parts"),
    [
        ("10 g", 10.0),
        ("500mg", 0.5),
        ("1/2", 0.5),
        ("1 1/2 g", 1.5),
        ("2,5", 2.5),
        ("1\N{VULGAR FRACTION ONE HALF}", 1.5),
    ],
)
def test_an_amount_may_be_a_mass_a_fraction_or_have_a_comma(written, parts):
    found = read(numbered([{"material": "linalool", "parts": written}]))
    assert found.found["1"].parts == pytest.approx(parts)
    typed = numbered([{"material": "linalool", "parts": written}])
    (_, row) = csv_export.as_csv(Draft(1, "test", 1, typed)).decode("utf-8-sig").splitlines()
    assert read(numbered([{"material": "linalool", "parts": row.split(",", 1)[1].split(",,")[0].strip('"')}]))


@pytest.mark.parametrize("written", ["12 drops", "1/0", "1,500", "5 %", "some"])
def test_an_amount_that_is_none_says_what_to_write(written):
    (problem,) = read(numbered([{"material": "linalool", "parts": written}])).problems.values()
    assert problem.column == "parts"


def test_a_line_that_is_left_out_does_not_count_and_is_not_lost():
    typed = numbered(
        [{"material": "linalool", "parts": "3", "out": "out"}, {"material": "eugenol", "parts": "1"}]
    )
    found = read(typed)
    assert list(found.found) == ["2"]
    assert found.per_thousand == {"2": 1000.0}
    assert "linalool" not in csv_export.as_csv(Draft(1, "test", 1, typed)).decode()
    assert line_edits.set_cell("2", "parts", "1", "2")(typed).lines[0] == typed[0]
