import codecs
import csv
import io

import openpyxl
import pytest
from asking import drydown
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from recommender.errors import BadTable
from recommender.formulas import formula as formulas
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Caution, Formula, Line
from recommender.palette import Palette

LAWS = settings(deadline=None, max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
PLAIN = "material,parts\nzest,30\nember,70\n"


@pytest.fixture(scope="module")
def shelf(material, catalogue_of):
    return catalogue_of(
        [
            material("zest", {"lemon": 3}, cas="11-11-0", pressure_pa=100.0),
            material("petal", {"rose": 3}, pressure_pa=5.0),
            material("ember", {"smoke": 3}, pressure_pa=0.1),
            material(
                "aldehyde",
                {"rose": 2},
                cautions=(Caution("changes on paper", "It oxidises.", "common practice"),),
            ),
            material("dipropylene-glycol", kind="solvent", curve=None, pressure_pa=2.0),
            material("ethanol", kind="solvent", curve=None, pressure_pa=7900.0),
        ]
    )


@pytest.fixture(scope="module")
def palette(shelf):
    return Palette.of(shelf)


@pytest.fixture
def read(tmp_path, shelf):
    def from_text(content, name="accord.csv", **others):
        for stem, text in {**others, name.removesuffix(".csv"): content}.items():
            (tmp_path / f"{stem}.csv").write_text(text, encoding="utf-8", newline="")
        found = formulas.read(tmp_path / name, shelf)
        return found, list(dict.fromkeys((*found.notes, *formulas.remarks(found))))

    return from_text


def lines(formula):
    return [(line.content.name, line.parts, line.dilution) for line in formula.lines]


def fractions(formula):
    return {a.material.name: a.mass_fraction for a in formulas.amounts(formula)}


# reading


@pytest.mark.parametrize(
    "text",
    [
        "parts,material\n30,zest\n70,ember\n",
        "MATERIAL,Parts\nzest,30\nember,70\n",
        "\nmaterial,parts\n\nzest,30\n,\nember,70\n\n",
        "material\tparts\nzest\t30\nember\t70\n",
        "material;parts\nzest;30,0\nember;70,0\n",
        "colour,material,parts\n,zest,30\n,ember,70\n",
        "material,parts,dilution percent\nZEST,30,\nEmber,70,100\n",
    ],
)
def test_a_formula_is_read_from_any_layout_of_its_sheet(read, text):
    found, notes = read(text)
    assert lines(found) == [("zest", 30.0, 1.0), ("ember", 70.0, 1.0)]
    assert (found.name, notes) == ("accord", [])


def test_the_same_formula_saved_four_ways_gives_the_same_drydown_to_the_last_digit(tmp_path, palette):
    rows = [
        ("material", "parts", "dilution_percent"),
        ("zest", 12.5, 10),
        ("petal", 3.25, None),
        ("ember", 7, 1),
    ]
    text = "".join(",".join("" if c is None else str(c) for c in row) + "\n" for row in rows)
    (tmp_path / "comma.csv").write_text(text)
    (tmp_path / "semicolon.csv").write_text(text.replace(",", ";").replace(".", ","))
    (tmp_path / "wide.csv").write_bytes(codecs.BOM_UTF16_LE + text.encode("utf-16-le"))
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    book.save(tmp_path / "book.xlsx")
    courses = [
        drydown(tmp_path / name, palette).course.facets.tobytes()
        for name in ("comma.csv", "semicolon.csv", "wide.csv", "book.xlsx")
    ]
    assert courses == [courses[0]] * 4


NOTES = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), max_size=12)
LINES = st.lists(
    st.tuples(
        st.sampled_from(["zest", "petal", "ember"]),
        st.integers(1, 10**7),
        st.integers(1, 10**5),
        st.sampled_from(["", "dipropylene glycol", "ethanol"]),
        NOTES,
    ),
    min_size=1,
    max_size=6,
    unique_by=lambda line: line[:3],  # lines that are equal to the letter are refused
)


@LAWS
@given(LINES)
def test_file_to_formula_to_file_is_the_identity(tmp_path, shelf, drawn):
    wanted = Formula(
        "accord",
        tuple(
            Line(
                shelf.find(name),
                parts / 1000,
                percent / 1000 / 100,
                shelf.find(solvent or "dipropylene glycol") if percent < 10**5 else None,
                note,
            )
            for name, parts, percent, solvent, note in drawn
        ),
    )
    file = io.StringIO(newline="")
    writer = csv.DictWriter(file, formulas.COLUMNS)
    writer.writeheader()
    writer.writerows(formulas.rows(wanted))
    (tmp_path / "accord.csv").write_text(file.getvalue(), encoding="utf-8", newline="")
    found = formulas.read(tmp_path / "accord.csv", shelf)
    assert found == wanted
    assert formulas.rows(found) == formulas.rows(wanted)


def test_a_note_may_hold_a_line_end_in_quotes(read):
    found, _ = read('material,parts,note\nzest,1,"two\nlines"\nember,1,\n')
    assert [line.note for line in found.lines] == ["two\nlines", ""]


@pytest.mark.parametrize("mark", ["\u2028", "\x0b", "\x0c", "\x85"])
def test_a_rare_line_mark_inside_a_note_does_not_end_the_line(read, mark):
    found, _ = read(f"material,parts,note\nzest,1,soft{mark}sharp\nember,1,\n")
    assert [line.content.name for line in found.lines] == ["zest", "ember"]


# what stands in it


def test_a_dilution_without_a_solvent_is_in_dipropylene_glycol_and_says_so(read):
    found, notes = read("material,parts,dilution_percent\nzest,50,10\nember,50,\n")
    assert fractions(found) == pytest.approx({"zest": 0.05, "dipropylene glycol": 0.45, "ember": 0.5})
    assert notes == ["Dilutions without a solvent are taken as in dipropylene glycol."]


def test_a_named_solvent_is_taken_without_a_note_of_the_default(read):
    found, notes = read("material,parts,dilution_percent,solvent\nzest,50,10,ethanol\nember,50,,\n")
    assert fractions(found) == pytest.approx({"zest": 0.05, "ethanol": 0.45, "ember": 0.5})
    assert notes == ["The clock starts when the ethanol has gone."]


def test_ethanol_is_gone_before_the_clock_starts(read, palette):
    with_ethanol, _ = read("material,parts\nzest,30\nember,70\nethanol,900\n")
    without, _ = read(PLAIN)
    assert {a.material.name: a.mass_fraction for a in formulas.on_strip(with_ethanol)} == pytest.approx(
        {"zest": 0.3, "ember": 0.7}
    )
    assert FormulaDrydown(with_ethanol, palette).course.facets == pytest.approx(
        FormulaDrydown(without, palette).course.facets
    )


def test_what_changes_on_paper_is_reported(read):
    _, notes = read("material,parts\naldehyde,1\n")
    assert notes == ["aldehyde: It oxidises. Its hours here are by evaporation alone."]


def test_equal_lines_are_added_up_and_reported(read):
    found, notes = read("material,parts\nzest,10\nember,70\nZest,20\n")
    assert fractions(found) == pytest.approx({"zest": 0.3, "ember": 0.7})
    assert notes == ["accord.csv: zest is in lines 2 and 4; added up."]


def test_a_line_that_stands_twice_to_the_letter_is_refused(read):
    with pytest.raises(BadTable, match="line 4, column material: the line is the same as line 2"):
        read("material,parts\nzest,10\nember,70\nzest,10\n")


def test_a_material_under_two_of_its_names_is_added_up_and_reported(read):
    found, notes = read("material,parts\nzest,10\nember,70\n11-11-0,20\n")
    assert fractions(found) == pytest.approx({"zest": 0.3, "ember": 0.7})
    assert len(notes) == 1
    assert "lines 2 and 4" in notes[0]


def test_parts_per_thousand_leave_the_solvents_out(read):
    found, _ = read("material,parts,dilution_percent\nzest,50,10\nember,15,\n")
    assert {a.material.name: a.mass_fraction for a in formulas.per_thousand(found)} == pytest.approx(
        {"zest": 250.0, "ember": 750.0}
    )


@LAWS
@given(st.floats(1e-3, 1e3))
def test_scaling_all_parts_changes_nothing_on_the_strip(shelf, palette, factor):
    once = Formula("x", (Line(shelf.find("zest"), 3.0), Line(shelf.find("petal"), 2.0, 0.1)))
    more = formulas.scaled(once, factor)
    assert more.lines[0].parts == pytest.approx(3.0 * factor)
    assert FormulaDrydown(more, palette).course.facets == pytest.approx(
        FormulaDrydown(once, palette).course.facets
    )


def test_a_formula_without_a_material_and_with_one_more(read, shelf):
    found, _ = read(PLAIN)
    assert lines(formulas.without(found, "zest")) == [("ember", 70.0, 1.0)]
    assert lines(formulas.plus(found, [(shelf.find("petal"), 5.0)]))[-1] == ("petal", 5.0, 1.0)


# accords inside accords

INNER = "material,parts\nzest,1\npetal,3\n"


def test_a_line_may_name_another_formula_and_dilute_it(read):
    found, _ = read("material,parts,dilution_percent\ninner.csv,40,50\nember,60,\n", inner=INNER)
    assert fractions(found) == pytest.approx(
        {"zest": 0.05, "petal": 0.15, "dipropylene glycol": 0.2, "ember": 0.6}
    )


def test_an_inner_formula_goes_back_to_its_file(read):
    found, _ = read("material,parts\ninner.csv,40\nember,60\n", inner=INNER)
    assert [row["material"] for row in formulas.rows(found)] == ["inner.csv", "ember"]
    assert formulas.rows(found, {"inner": "other.xlsx"})[0]["material"] == "other.xlsx"


def test_taking_a_material_out_reaches_inner_formulas_and_keeps_the_other_amounts(read):
    found, _ = read("material,parts\ninner.csv,40\nember,60\n", inner=INNER)
    # 30 parts of petal remain beside 60 of ember
    assert fractions(formulas.without(found, "zest")) == pytest.approx({"petal": 1 / 3, "ember": 2 / 3})
    assert fractions(formulas.without(formulas.without(found, "zest"), "petal")) == {"ember": 1.0}


def test_two_lines_may_name_the_same_formula(read):
    found, _ = read(
        "material,parts\na.csv,1\nb.csv,1\n", a="material,parts\ninner.csv,1\n", b=INNER, inner=INNER
    )
    assert fractions(found) == pytest.approx({"zest": 0.25, "petal": 0.75})


@pytest.mark.parametrize(
    ("files", "circle"),
    [
        ({}, "accord.csv > accord.csv"),
        ({"b": "material,parts\naccord.csv,1\n"}, "accord.csv > b.csv > accord.csv"),
        ({"b": "material,parts\nc.csv,1\n", "c": "material,parts\nb.csv,1\n"}, "b.csv > c.csv > b.csv"),
    ],
)
def test_a_circle_is_shown(read, files, circle):
    with pytest.raises(BadTable) as caught:
        read(f"material,parts\nzest,1\n{'b.csv' if files else 'accord.csv'},1\n", **files)
    assert caught.value.problem == f"the formula contains itself: {circle}"


# bad input


@pytest.mark.parametrize(
    ("text", "line", "column", "problem"),
    [
        ("material,parts\nzest,-3\n", 2, "parts", '"-3" is not a positive number'),
        ("material,parts\nember,1\nzest,0\n", 3, "parts", '"0" is not a positive number'),
        ("material,parts\nzest,\n", 2, "parts", '"" is not a positive number'),
        ("material,parts\nzest,much\n", 2, "parts", "much"),
        ("material,parts\n,3\n", 2, "material", "the material is missing"),
        ("material,parts,dilution_percent\nzest,1,120\n", 2, "dilution_percent", "120 % is not a dilution"),
        ("material,parts,dilution_percent\nzest,1,0\n", 2, "dilution_percent", "0 % is not a dilution"),
        ("material,parts,dilution_percent\nzest,1,-5\n", 2, "dilution_percent", "-5 % is not a dilution"),
        ("material,parts\n" + "ember,1\n" * 5 + "zast,1\n", 7, "material", 'no material is called "zast"'),
        ("material,parts,dilution_percent,solvent\nzest,1,5,oyl\n", 2, "solvent", 'is called "oyl"'),
        ("material,parts\ngone.csv,1\n", 2, "material", "there is no file gone.csv"),
        ("material,parts\ndipropylene glycol,1\nethanol,1\n", None, None, "nothing but solvents"),
        ("material,parts\n", None, None, "the formula has no lines"),
        ("", None, None, "the file is empty"),
        ("material,colour\nzest,1\n", 1, None, 'no column "parts", only material, colour'),
        ("material,parts\n" + "zest,1\n" * 10_000, 8001, None, "more than 8000 lines are too many"),
    ],
)
def test_a_bad_formula_is_named_with_its_place(read, text, line, column, problem):
    with pytest.raises(BadTable) as caught:
        read(text)
    assert (caught.value.file, caught.value.line, caught.value.column) == ("accord.csv", line, column)
    assert problem in caught.value.problem


def test_an_unknown_material_comes_with_near_names(read):
    with pytest.raises(BadTable, match="Did you mean zest"):
        read("material,parts\nzestt,1\n")


def test_an_error_in_an_inner_formula_names_the_inner_file(read):
    with pytest.raises(BadTable) as caught:
        read("material,parts\ninner.csv,1\n", inner="material,parts\nzest,-1\n")
    assert (caught.value.file, caught.value.line) == ("inner.csv", 2)


def test_the_line_in_which_a_spreadsheet_names_its_delimiter_is_not_a_header(read):
    found, _ = read("sep=;\nmaterial;parts\nzest;1,5\nember;4,5\n")
    assert fractions(found) == pytest.approx({"zest": 0.25, "ember": 0.75})


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('material,parts\nzest,"1,000"\nember,500\n', "line 2, column parts"),
        ("material;parts\nzest;1.000.000\n", "line 2, column parts"),
        ("material,parts\nember,1\nzest,1,5\n", "line 3"),
    ],
)
def test_a_number_that_could_be_two_is_refused_with_a_way_out(read, text, told):
    with pytest.raises(BadTable, match=told):
        read(text)


def test_ten_per_cent_in_a_workbook_is_ten_per_cent(tmp_path, palette):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["material", "parts", "dilution_percent"])
    sheet.append(["zest", 50, 0.1])
    sheet["C2"].number_format = "0%"
    sheet.append(["ember", 50, 10])
    book.save(tmp_path / "accord.xlsx")
    found = formulas.read(tmp_path / "accord.xlsx", palette.catalogue)
    assert [line.dilution for line in found.lines] == pytest.approx([0.1, 0.1])


def test_accords_deeper_than_any_formula_are_refused(read):
    files = {f"deep{n}": f"material,parts\ndeep{n + 1}.csv,1\n" for n in range(40)}
    with pytest.raises(BadTable, match="more than 20 deep"):
        read("material,parts\ndeep0.csv,1\n", **files, deep40=PLAIN)


def test_accords_that_open_into_more_lines_than_any_formula_are_refused(read):
    files = {f"deep{n}": f"material,parts\ndeep{n + 1}.csv,1\ndeep{n + 1}.csv,2\n" for n in range(15)}
    with pytest.raises(BadTable, match="lines with the accords inside are too many"):
        read("material,parts\ndeep0.csv,1\n", **files, deep15=PLAIN)


def test_a_mistyped_cas_number_is_named_with_its_place(read):
    with pytest.raises(BadTable, match=r"accord\.csv, line 2, column material: the CAS number 91-64-4"):
        read("material,parts\n91-64-4,1\n")


def test_a_strip_is_not_spoken_of_where_none_is_meant(tmp_path, shelf):
    (tmp_path / "a.csv").write_text("material,parts\naldehyde,1\nethanol,9\n")
    found = formulas.read(tmp_path / "a.csv", shelf)
    assert found.notes == ()
    assert len(formulas.remarks(found)) == 2


def test_a_solvent_may_stand_behind_a_dilution(tmp_path, shipped):
    file = tmp_path / "accord.csv"
    file.write_text(
        "material,parts,dilution\nvanillin,5,10 % TEC\ncoumarin,3,1:10 in DPG\n", encoding="utf-8"
    )
    lines = formulas.read(file, shipped).lines
    assert [(line.dilution, line.solvent.slug) for line in lines] == [
        (0.1, "triethyl-citrate"),
        (0.1, "dipropylene-glycol"),
    ]


def test_an_unknown_solvent_behind_a_dilution_is_named(tmp_path, shipped):
    file = tmp_path / "accord.csv"
    file.write_text("material,parts,dilution\nvanillin,5,10 % swamp\n", encoding="utf-8")
    with pytest.raises(BadTable, match='column solvent: no material is called "swamp"'):
        formulas.read(file, shipped)
