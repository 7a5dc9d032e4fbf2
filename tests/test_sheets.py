import codecs
import contextlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.errors import BadTable
from recommender.evidence.sheets import Row, decimal, digest, read, read_sheet

COLUMNS = ("material", "parts")


@pytest.fixture
def write(tmp_path):
    def put(content, name="table.csv"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return put


def cells(rows):
    return [(row["material"], row["parts"]) for row in rows]


def test_rows_keep_file_and_line(write):
    rows = read(write("material,parts\nrose oil,3\nvanillin,4\n"), COLUMNS)
    assert [(row.file, row.line) for row in rows] == [("table.csv", 2), ("table.csv", 3)]
    assert cells(rows) == [("rose oil", "3"), ("vanillin", "4")]


def test_a_byte_order_mark_and_blanks_around_cells_are_dropped(write):
    assert cells(read(write(codecs.BOM_UTF8 + b"material,parts\n rose , 3 \n"), COLUMNS)) == [("rose", "3")]


def test_a_quoted_cell_may_hold_a_comma(write):
    assert cells(read(write('material,parts\n"2,3-butanedione",1\n'), COLUMNS)) == [("2,3-butanedione", "1")]


def test_a_line_after_a_quoted_line_end_keeps_its_number(write):
    rows = read(write('material,parts\n"two\nlines",1\nrose,2\n'), COLUMNS)
    assert [row.line for row in rows] == [3, 4]


@pytest.mark.parametrize(
    ("content", "problem", "line"),
    [
        (b"", "the table is empty", None),
        (b" \n\n", "the table is empty", None),
        (b"material,parts\nrose,3\nvani", "cut short", 3),
        (b"material,parts\nrose,3\nvanillin\n", "1 cells where the header has 2", 3),
        (b"material,parts\nrose,3,4\n", "3 cells where the header has 2", 2),
        (b"material,amount\nrose,3\n", 'column "parts" is missing', 1),
        (b"material,parts\nros\xe9,3\n", "not UTF-8", None),
        (b'material,parts\n"rose,3\n', "not a table", 2),
    ],
)
def test_a_damaged_table_is_named_with_its_line(write, content, problem, line):
    with pytest.raises(BadTable, match=problem) as caught:
        read(write(content), COLUMNS)
    assert (caught.value.file, caught.value.line) == ("table.csv", line)


def test_a_missing_table_is_named_with_a_way_out(tmp_path):
    with pytest.raises(BadTable, match="missing") as caught:
        read(tmp_path / "gone.csv", COLUMNS)
    assert caught.value.file == "gone.csv"
    assert caught.value.remedy


def row(text):
    return Row("t.csv", 7, {"n": text})


def test_a_number_is_read_and_a_blank_is_unknown():
    assert row("1.5e-3").number("n") == 0.0015
    assert row("").number("n") is None


@pytest.mark.parametrize("text", ["much", "nan", "inf", "-inf", "1,5"])
def test_what_is_no_finite_number_is_named_with_its_place(text):
    with pytest.raises(BadTable, match=r"t\.csv, line 7, column n"):
        row(text).number("n")


@pytest.mark.parametrize(
    ("text", "value"),
    [("2.5", 2.5), ("2,5", 2.5), ("10 %", 10.0), ("1\u00a0000", 1000.0), ("1 000,5", 1000.5), ("", None)],
)
def test_a_spreadsheet_number_may_have_a_comma_a_blank_or_a_percent_sign(text, value):
    assert decimal(row(text), "n") == value


@given(st.floats(-1e9, 1e9))
@settings(deadline=None, max_examples=50)
def test_decimal_comma_and_point_give_the_same_number(value):
    text = f"{value:.6f}"
    assert decimal(row(text.replace(".", ",")), "n") == decimal(row(text), "n")


def test_a_list_cell_is_parted_by_semicolons():
    assert row(" a; b;;c ").list("n") == ("a", "b", "c")
    assert row("").list("n") == ()


def test_line_ends_do_not_change_the_fingerprint(write):
    assert digest(write(b"a\nb\n", "x")) == digest(write(b"a\r\nb\r\n", "y"))
    assert digest(write(b"a\nb\n", "x")) != digest(write(b"a\nc\n", "y"))


TABLE = "material,parts\nrosé,2.5\n"


@pytest.mark.parametrize(
    "content",
    [
        TABLE.encode(),
        TABLE.encode("utf-8-sig"),
        TABLE.encode("utf-16"),
        TABLE.encode("utf-16-le"),
        TABLE.encode("utf-16-be"),
        codecs.BOM_UTF16_BE + TABLE.encode("utf-16-be"),
        TABLE.encode("cp1252"),
        TABLE.replace("\n", "\r\n").encode(),
        TABLE.replace(",", ";").encode(),
        TABLE.replace(",", "\t").encode(),
        ("\n" + TABLE + "\n,\n").encode(),
        TABLE.replace("material", " Material ").encode(),
        "note,parts,material\nx,2.5,rosé\n".encode(),
    ],
)
def test_a_sheet_is_read_in_any_dialect(write, content):
    assert cells(read_sheet(write(content), COLUMNS)) == [("rosé", "2.5")]


def test_an_optional_column_that_is_not_there_is_blank(write):
    (found,) = read_sheet(write(TABLE), COLUMNS, ["dilution_percent"])
    assert found["dilution_percent"] == ""


def test_a_column_name_with_a_blank_is_the_one_with_a_line(write):
    (found,) = read_sheet(
        write("Material,Parts,Dilution percent\nrose,1,10\n"), COLUMNS, ["dilution_percent"]
    )
    assert found["dilution_percent"] == "10"


def test_a_workbook_is_read_like_a_text(tmp_path):
    import openpyxl

    book = openpyxl.Workbook()
    for line in (["material", "parts"], ["rosé", 2.5], [None, None]):
        book.active.append(line)
    book.save(tmp_path / "formula.xlsx")
    (found,) = read_sheet(tmp_path / "formula.xlsx", COLUMNS)
    assert (found["material"], found["parts"], found.line) == ("rosé", "2.5", 2)


@pytest.mark.parametrize(
    ("content", "problem"),
    [
        (b"", "empty"),
        (b"name,parts\nrose,1\n", 'no column "material"'),
        (b"material,parts,parts\nrose,1,2\n", '"parts" appears twice'),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "not a table of text"),
        (b"material,parts\n\x81,1\n", "not a table of text"),
        (b"material,parts\n" + b"rose,1\n" * 20_001, "too many"),
    ],
)
def test_a_sheet_that_cannot_be_used_says_why(write, content, problem):
    with pytest.raises(BadTable, match=problem) as caught:
        read_sheet(write(content), COLUMNS)
    assert caught.value.file == "table.csv"


def test_a_text_that_calls_itself_a_workbook_is_refused(write):
    with pytest.raises(BadTable, match="not a workbook"):
        read_sheet(write(TABLE, "formula.xlsx"), COLUMNS)


def test_a_sheet_that_is_not_there_is_named(tmp_path):
    with pytest.raises(BadTable, match="no such file"):
        read_sheet(tmp_path / "gone.csv", COLUMNS)


@pytest.mark.parametrize("place", range(40, 900, 60))
def test_a_damaged_workbook_is_read_or_refused(tmp_path, place):
    import openpyxl

    book = openpyxl.Workbook()
    book.active.append(["material", "parts"])
    book.active.append(["rose", 2])
    path = tmp_path / "formula.xlsx"
    book.save(path)
    data = bytearray(path.read_bytes())
    data[place : place + 8] = b"damaged!"
    path.write_bytes(data)
    with contextlib.suppress(BadTable):  # any other error is a fault
        assert cells(read_sheet(path, COLUMNS)) == [("rose", "2")]
