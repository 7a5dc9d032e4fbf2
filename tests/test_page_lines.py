"""Lines as typed on the page: read, changed, put into files."""

import pytest

from recommender.errors import BadValue, ChangedMeanwhile
from recommender.model import Dose, Formula, Line, Suggestion
from recommender.notebook.drafts import Draft, numbered
from recommender.palette import shipped

pytest.importorskip("nicegui")

from recommender.web.server import csv_export, line_edits, pasted_lines, typed_lines

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


def parts(change):
    return [line["parts"] for line in change.lines]


THREE = numbered(
    [
        {"material": "linalool", "parts": "50 g", "lock": "lock"},
        {"material": "eugenol", "parts": "1/2"},
        {"material": "coumarin", "parts": "2,0"},
    ]
)


def test_lines_are_scaled_to_a_total_but_not_those_that_are_locked():
    change = line_edits.scale(100.0)(THREE)
    assert parts(change) == ["50 g", "10", "40"]
    assert change.done == "scaled to 100 parts"
    with pytest.raises(BadValue, match="locked lines leave nothing of 50"):
        line_edits.scale(50.0)(THREE)
    with pytest.raises(BadValue, match="no amount may change"):
        line_edits.scale(50.0)(THREE[:1])


def test_the_total_stays_where_the_others_can_make_up_for_a_change():
    typed = line_edits.scale(100.0)(THREE).lines
    change = line_edits.balanced("2", line_edits.set_cell("2", "parts", "10", "20"))(typed)
    assert parts(change) == ["50 g", "20", "30"]
    change = line_edits.balanced("2", line_edits.set_cell("2", "parts", "10", "80"))(typed)
    assert parts(change) == ["50 g", "80", "40"]  # more than what is not locked


def test_lines_are_left_out_locked_and_moved():
    out = line_edits.set_flag(["2", "3"], "out", True)(THREE)
    assert [line["out"] for line in out.lines] == ["", "out", "out"]
    assert out.done == "left out eugenol and coumarin"
    assert line_edits.set_flag(["2", "3"], "out", False)(out.lines).lines == THREE
    assert [line["id"] for line in line_edits.move("3", "1")(THREE).lines] == ["3", "1", "2"]
    assert [line["id"] for line in line_edits.move("1", "")(THREE).lines] == ["2", "3", "1"]
    assert line_edits.move("9", "1")(THREE) is None


def test_lines_become_an_accord_and_an_accord_its_lines_again():
    grouped = line_edits.group(["2", "3"], "spice")(THREE)
    assert [(line["material"], line["parts"]) for line in grouped.lines] == [
        ("linalool", "50 g"),
        ("spice", "2.5"),
    ]
    inside = [{"material": "eugenol", "parts": "1"}, {"material": "coumarin", "parts": "4"}]
    number = grouped.lines[1]["id"]
    back = line_edits.dissolve(number, inside)(grouped.lines)
    assert parts(back) == ["50 g", "0.5", "2"]
    diluted = tuple(line | {"dilution_percent": "10"} for line in grouped.lines)
    with pytest.raises(BadValue, match="it is diluted here"):
        line_edits.dissolve(number, inside)(diluted)
    with pytest.raises(BadValue, match="each line of an accord needs its parts"):
        line_edits.group(["2", "3"], "spice")(line_edits.set_flag(["2"], "out", True)(THREE).lines)


def test_what_was_typed_first_in_a_new_line_makes_it():
    made = line_edits.set_cell("9", "material", "", "vanillin", fresh=True)(THREE)
    assert made.lines[-1]["id"] == "9"
    assert made.done == "added vanillin"
    again = line_edits.set_cell("9", "parts", "", "3", fresh=True)(made.lines)
    assert again.lines[-1]["parts"] == "3"


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("linalool\t10\neugenol\t2,5\n", [("linalool", "10", ""), ("eugenol", "2,5", "")]),
        ("12\tlinalool\n3\teugenol", [("linalool", "12", ""), ("eugenol", "3", "")]),
        ("Name\tGrams\tDilution\nlinalool\t1\t10 %", [("linalool", "1", "10 %")]),
        ("linalool\t10\t50\teye\neugenol\t1\t\t", [("linalool", "10", "50"), ("eugenol", "1", "")]),
        ("linalool\neugenol\n", [("linalool", "", ""), ("eugenol", "", "")]),
    ],
)
def test_lines_of_a_spreadsheet_are_pasted(text, found):
    rows = [
        dict.fromkeys(("parts", "dilution_percent"), "") | row for row in pasted_lines.read(text, CATALOGUE)
    ]
    assert [(row["material"], row["parts"], row["dilution_percent"]) for row in rows] == found
    change = line_edits.paste(rows, "1")(THREE)
    assert [line["material"] for line in change.lines][1 : 1 + len(found)] == [row[0] for row in found]
    assert len({line["id"] for line in change.lines}) == 3 + len(found)
