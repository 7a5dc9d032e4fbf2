"""A dilution or a unit is never dropped: it is read, or refused in one line; what is not used is named."""

import openpyxl
import pytest
from command_line import run

from recommender.errors import BadTable
from recommender.evidence.catalogue import load
from recommender.evidence.headers import says_amount, says_dilution, says_parts
from recommender.evidence.sheets import OWN_SHEET
from recommender.formulas import formula as formulas
from recommender.notebook.importers import guess
from recommender.output.weighing import FILE_COLUMNS
from recommender.web.server.session import PageSession

CATALOGUE = load()
STRONG = "2-isobutyl-3-methoxypyrazine"


@pytest.fixture
def read(tmp_path):
    """Return a formula and the notes about its sheet, read from text."""

    def ask(text):
        path = tmp_path / "accord.csv"
        path.write_text(text, encoding="utf-8")
        found = formulas.read(path, CATALOGUE)
        return found, list(found.notes)

    return ask


def dilutions(formula):
    return [line.dilution for line in formula.lines]


# common practice: how formula sheets of the trade head the column
@pytest.mark.parametrize(
    "header",
    [
        *("dilution", "Dilution", "dilution %", "Dilution (%)", "dil. %", "dil.%", "Dil", "% dilution"),
        *("Verdünnung", "Verdünnung %", "Verdünnung in %", "Verdunnung", "verd. %", "dilué à %"),
        *("dilluton_percent", "dilution_percnt", "Dillution", "diluton %", "dilutionpercent", "Diluted to"),
    ],
)
def test_a_dilution_is_read_under_the_headers_of_the_trade(read, header):
    found, notes = read(f'material,parts,"{header}"\n{STRONG},1,1\nlinalool,99,\ncoumarin,5,50\n')
    assert dilutions(found) == [0.01, 1.0, 0.5]
    assert f'accord.csv: "{header}" is read as dilution_percent.' in notes


@pytest.mark.parametrize(
    ("cells", "wanted"),
    [
        (["10", "100"], [0.1, 1.0]),
        (["10 %", "0.1%"], [0.1, 0.001]),
        (["1:10", "1:1000"], [0.1, 0.001]),
        (["1/100", ""], [0.01, 1.0]),
        (["neat", "10"], [1.0, 0.1]),
        (["pur", "1 %"], [1.0, 0.01]),
        (["unverdünnt", "1 %"], [1.0, 0.01]),
        (["0,1", "10"], [0.001, 0.1]),
        (["0,1 %", ""], [0.001, 1.0]),
    ],
)
@pytest.mark.parametrize("header", ["dilution", "dilution %", "dilution_percent"])
def test_what_is_written_of_a_dilution_is_read(read, header, cells, wanted):
    found, notes = read(f"material;parts;{header}\nlinalool;1;{cells[0]}\ncoumarin;2;{cells[1]}\n")
    assert dilutions(found) == pytest.approx(wanted)
    assert any("one part in ten" in note for note in notes) == (":" in cells[0])


def test_numbers_up_to_one_without_a_percent_sign_may_be_fractions(read):
    with pytest.raises(BadTable, match="per cent or a fraction") as caught:
        read("material;parts;dilution\nlinalool;1;\ncoumarin;2;0,1\nvanillin;2;1\n")
    assert (caught.value.file, caught.value.line, caught.value.column) == ("accord.csv", 3, "dilution")
    assert 'Write "0,1 %"' in str(caught.value)
    found, _ = read("material;parts;dilution %\nlinalool;1;\ncoumarin;2;0,1\n")
    assert dilutions(found) == [1.0, 0.001]


@pytest.mark.parametrize("cell", ["10 mg/g", "ten", "1,000", "-10", "0", "150", "10 vol"])
def test_a_dilution_that_cannot_be_read_is_refused_with_its_place(read, cell):
    with pytest.raises(BadTable) as caught:
        read(f'material,parts,dilution\nlinalool,1,\ncoumarin,2,"{cell}"\n')
    assert caught.value.line == 3
    assert "dilution" in caught.value.column


@pytest.mark.parametrize(
    "header",
    [
        *(
            "%",
            "percent",
            "Prozent",
            "pourcentage",
            "conc.",
            "Concentration",
            "concentraton",
            "Konzentration",
        ),
        *("Stärke", "strength", "g", "weight (g)", "mg", "ml", "drops", "Tropfen", "Lösung", "ppm"),
    ],
)
def test_a_column_that_may_be_a_dilution_or_an_amount_is_refused_with_a_way_out(read, header):
    with pytest.raises(BadTable, match="may be a dilution or an amount") as caught:
        read(f"material,parts,{header}\n{STRONG},1,1\nlinalool,99,5\n")
    assert (caught.value.line, caught.value.column) == (1, header)
    assert "Name it dilution_percent or parts" in caught.value.remedy


@pytest.mark.parametrize("cell", ["10 %", "1:10"])
@pytest.mark.parametrize("header", ["", "level", "remark 2"])
def test_a_column_whose_cells_read_like_a_dilution_is_refused_too(read, header, cell):
    with pytest.raises(BadTable, match="may be a dilution"):
        read(f"material,parts,{header}\n{STRONG},1,{cell}\nlinalool,99,\n")


def test_two_columns_of_dilutions_are_refused(read):
    with pytest.raises(BadTable, match='"dilution_percent" and "Verdünnung" may both be dilution_percent'):
        read("material,parts,dilution_percent,Verdünnung\nlinalool,1,10,10\n")


def test_a_column_that_is_not_used_is_named(read):
    text = "material,parts,supplier,price/kg,,EUR per g,solvant\nlinalool,1,x,2,y,3,ethanol\n"
    _, notes = read(text)
    left = "supplier, price/kg, the 5th, without a header, EUR per g"
    assert notes == [
        'accord.csv: "solvant" is read as solvent.',
        f"accord.csv: columns that are not used: {left}.",
    ]
    assert read("material,parts,supplier\nlinalool,1,\n")[1] == []  # nothing stands in it


def test_a_share_beside_a_dilution_is_named(read):
    found, notes = read("material,parts,dilution_percent,% of formula\nlinalool,1,10,50\nvanillin,1,,50\n")
    assert dilutions(found) == [0.1, 1.0]
    assert notes[0] == "accord.csv: columns that are not used: % of formula."


@pytest.mark.parametrize(
    "header",
    ["parts_g", "parts (g)", "Parts [mg]", "parts %", "parts per thousand", "Teile", "Teile g", "parties"],
)
def test_parts_in_whatever_unit_of_mass_are_parts(read, header):
    found, notes = read(f"material,{header}\nlinalool,10\nvanillin,30\n")
    assert [line.parts for line in found.lines] == [10, 30]
    assert f'accord.csv: "{header}" is read as parts.' in notes


@pytest.mark.parametrize("header", ["parts (ml)", "parts in drops", "part no"])
def test_parts_that_are_not_by_mass_are_no_parts(read, header):
    with pytest.raises(BadTable, match='no column "parts"'):
        read(f"material,{header}\nlinalool,10\n")


@pytest.mark.parametrize(
    ("units", "wanted"),
    [
        (["g", "g", "G"], [10, 500, 1]),
        (["g", "mg", "kg"], [10, 0.5, 1000]),
        (["g", "mg", "µg"], [10, 0.5, 1e-6]),
        (["oz", "g", "g"], [283.49523125, 500, 1]),  # 1 oz = 28.349523125 g, international pound of 1959
        (["%", "%", "percent"], [10, 500, 1]),
        (["parts", "Teile", "parts"], [10, 500, 1]),
        (["", "", ""], [10, 500, 1]),
    ],
)
@pytest.mark.parametrize("header", ["unit", "Einheit"])
def test_units_of_mass_are_brought_to_one(read, header, units, wanted):
    rows = zip(("linalool", "coumarin", "vanillin"), ("10", "500", "1"), units, strict=True)
    found, notes = read(f"material,parts,{header}\n" + "".join(",".join(row) + "\n" for row in rows))
    assert [line.parts for line in found.lines] == pytest.approx(wanted)
    assert any("brought to g" in note for note in notes) == (wanted != [10, 500, 1])


@pytest.mark.parametrize(
    ("units", "problem"),
    [
        (["g", "%"], '"%" beside "g" in line 2'),
        (["parts", "%"], '"%" beside "parts" in line 2'),
        (["g", "ml"], '"ml" is no unit of mass'),
        (["drops", "drops"], '"drops" is no unit of mass'),
        (["g", ""], "the unit is missing here"),
    ],
)
def test_units_that_cannot_be_brought_to_one_are_refused_with_their_place(read, units, problem):
    with pytest.raises(BadTable, match=problem) as caught:
        read(f"material,parts,unit\nlinalool,10,{units[0]}\nvanillin,30,{units[1]}\n")
    assert caught.value.column == "unit"
    assert caught.value.line in (2, 3)


def test_a_workbook_keeps_its_dilutions(tmp_path):
    book = openpyxl.Workbook()
    for row in (["Material", "Parts", "Verdünnung"], [STRONG, 1, 0.01], ["linalool", 99, None]):
        book.active.append(row)
    book.active["C2"].number_format = "0%"
    book.save(tmp_path / "accord.xlsx")
    found = formulas.read(tmp_path / "accord.xlsx", CATALOGUE)
    assert dilutions(found) == [0.01, 1.0]


def test_the_command_line_says_what_was_read_and_what_was_not(tmp_path):
    path = tmp_path / "accord.csv"
    path.write_text(f"material,parts,dil. %,colour\n{STRONG},1,1,red\nlinalool,99,,\n", encoding="utf-8")
    done = run("weigh", str(path))
    assert '"dil. %" is read as dilution_percent' in done.err
    assert "columns that are not used: colour" in done.err


def test_an_accord_inside_is_read_in_the_same_way(tmp_path):
    (tmp_path / "inner.csv").write_text(f"material,parts,dilution\n{STRONG},1,1 %\n", encoding="utf-8")
    (tmp_path / "outer.csv").write_text("material,parts\nlinalool,1\ninner.csv,1\n", encoding="utf-8")
    found = formulas.read(tmp_path / "outer.csv", CATALOGUE)
    inner = found.lines[1].content
    assert dilutions(inner) == [0.01]


def test_the_page_lays_out_the_same_dilutions_and_says_what_it_left_out(tmp_path):
    notes = []
    text = f"material,parts,dilution,unit,colour\n{STRONG},1,1:100,g,red\nlinalool,500,,mg,\n"
    draft = PageSession(tmp_path / "notebook.sqlite").import_file("mine.csv", text.encode(), notes)
    assert [(line["dilution_percent"], line["parts"]) for line in draft.lines] == [
        ("1:100", "1"),
        ("", "0.5"),
    ]
    assert any("colour" in note for note in notes)


def test_a_sheet_that_the_program_wrote_is_read_again_as_it_is(tmp_path):
    assert set(FILE_COLUMNS) > OWN_SHEET
    (tmp_path / "accord.csv").write_text(
        "material,parts,dilution_percent\ncoumarin,40,50\nlinalool,60,\n", encoding="utf-8"
    )
    for name in ("sheet.csv", "sheet.xlsx"):
        assert run("weigh", str(tmp_path / "accord.csv"), "--out", str(tmp_path / name)).status == 0
        again = formulas.read(tmp_path / name, CATALOGUE)
        assert sorted(dilutions(again)) == [0.5, 1.0]


@pytest.mark.parametrize("header", ["Dilluton", "Verdünnung (%)", "Konzentration", "dilué à"])
def test_a_shelf_takes_such_a_column_as_the_dilution(header):
    assert guess(["Bottle", header]).places["dilution"] == 1


def test_a_shelf_names_what_it_leaves_out(tmp_path):
    path = tmp_path / "shelf.csv"
    path.write_text("Bottle,Dilution,Colour\nlinalool,10,red\n", encoding="utf-8")
    assert "left out: Colour" in run("shelf", "import", str(path), "--dry-run").err


def test_strips_take_such_a_column_and_name_what_is_not_used(tmp_path):
    path = tmp_path / "strips.csv"
    path.write_text("material,hours,strength,Verdünnung %,mood\nlinalool,1,clear,10,calm\n", encoding="utf-8")
    done = run("calibrate", "import", str(path), "--dry-run")
    assert '"Verdünnung %" is read as dilution_percent' in done.err
    assert "not used: mood" in done.err


@pytest.mark.parametrize(
    ("question", "text"),
    [
        (["trials", "import", "FILE", "--dry-run"], "formula,hours,strength,mood\naccord,1,clear,calm\n"),
        (["limits", "import", "FILE", "--dry-run"], "name,cas,cat_4,cat4b\nlinalool,78-70-6,1,2\n"),
        (["materials", "import", "FILE", "--dry-run"], "name,smells,colour\nplum base 7,plum 3,red\n"),
    ],
    ids=lambda value: value[0] if isinstance(value, list) else "",
)
def test_the_other_sheets_name_what_is_not_used(question, text, tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    (tmp_path / "accord.csv").write_text("material,parts\nlinalool,1\n", encoding="utf-8")
    assert run("formulas", "save", str(tmp_path / "accord.csv")).status == 0
    (tmp_path / "mine.csv").write_text(text, encoding="utf-8")
    done = run(*(str(tmp_path / "mine.csv") if word == "FILE" else word for word in question))
    assert done.status == 0
    assert f"columns that are not used: {text.splitlines()[0].rsplit(',', 1)[1]}" in done.err


@pytest.mark.parametrize(
    "header",
    ["material", "note", "supplier", "CAS", "lot", "opened", "diluent", "Solvent", "colour", "position"],
)
def test_headers_of_other_things_are_no_dilution_and_no_amount(header):
    assert not says_dilution(header)
    assert not says_amount(header)
    assert not says_parts(header)
