import csv
import io
import os
import re
from pathlib import Path

import openpyxl
import pytest
from command_line import run
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from recommender import api
from recommender.evidence.catalogue import load
from recommender.formulas import formula

DEMO = Path(__file__).parent.parent / "data" / "demo"
FIG = str(DEMO / "green_fig.csv")
HEAD = "material,parts,dilution_percent,solvent,note\n"
ACCORD = HEAD + (
    "linalool,70,,,air\ncoumarin,0.1,,,=1+1\nvanillin,4,10,,\nbase.csv,30,,,+ the base\n"
    "dipropylene glycol,200,,,\n"
)
BASE = "material,parts\nbenzyl acetate,3\nindole,0.01\n"


@pytest.fixture
def accord(tmp_path):
    (tmp_path / "base.csv").write_text(BASE)
    (tmp_path / "accord.csv").write_text(ACCORD)
    return tmp_path / "accord.csv"


def fractions(path):
    found = formula.read(path, load())
    return {a.material.slug: a.mass_fraction for a in formula.amounts(found)}


def pages(path):
    """Return how many pages a PDF says it has."""
    return max(int(n) for n in re.findall(rb"/Count (\d+)", Path(path).read_bytes()))


# the command


def test_weigh_shows_parts_and_grams_side_by_side():
    ran = run("weigh", FIG, "--resolution", "0.001g")
    assert ran.status == 0
    head = next(line for line in ran.out.splitlines() if line.startswith("material"))
    assert re.split(r"\s{2,}", head) == ["material", "as", "parts of 1000", "weigh", "rounding", "caution"]
    assert re.search(r"gamma-octalactone +neat +33 +0\.328 g +-0\.1 %", ran.out)
    assert "Dilutions to make first" in ran.out
    assert "a qualified person signs off" in ran.err


def test_json_holds_the_whole_plan(accord):
    data = run("weigh", str(accord), "--dosage", "15", "--share", "5", "--format", "json").json
    assert {row["section"] for row in data["rows"]} == {"accord", "base"}
    assert data["shares"] == {"percent_of_concentrate": 5, "dosage_percent": 15, "percent_of_finished": 0.75}
    assert data["product"]["concentrate_g"] == 200
    assert data["product"]["finished_g"] == pytest.approx(1333.33)
    outer = [row for row in data["rows"] if row["section"] == "accord"]
    assert sum(row["parts_per_thousand"] for row in outer) == pytest.approx(1000)
    assert data["sections"][-1]["name"] == "accord"
    assert {step["name"] for step in data["dilutions"]} == {"coumarin", "vanillin", "indole"}


def test_the_command_and_python_give_the_same():
    options = {"batch_g": 20.0, "dosage_percent": 15, "resolution_g": 0.001}
    asked = ["weigh", FIG, "--batch", "20 g", "--dosage", "15%", "--balance", "1mg", "--format", "json"]
    assert api.weigh(FIG, **options).to_dict() == run(*asked).json


def test_the_finished_product_gives_the_batch():
    # 100 g at 15 %: 15 g of concentrate and 85 g of ethanol (common practice: dosage is by mass)
    data = run(
        "weigh", FIG, "--finished", "100g", "--dosage", "15", "--resolution", "1mg", "--format", "json"
    ).json
    assert data["batch_g"] == 15
    came = sum(s["exact_g"] for s in data["sections"]) - 15
    assert data["product"]["top_up_g"] + came == pytest.approx(85, abs=1e-3)


def test_flat_puts_all_into_one_vessel(accord):
    data = run("weigh", str(accord), "--flat", "--format", "json").json
    assert [s["name"] for s in data["sections"]] == ["accord"]
    assert "benzyl acetate" in {row["name"] for row in data["rows"]}


def test_csv_has_one_table_so_accords_are_opened(accord):
    ran = run("weigh", str(accord), "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(ran.out)))
    assert "benzyl acetate" in {row["material"] for row in rows}
    assert "accords inside are opened" in ran.err


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--batch", "10ml"], "all is weighed"),
        (["--batch", "abc"], "write 10g, 250mg or 1.5kg"),
        (["--batch", "0"], "not a mass for a bench"),
        (["--batch", "-3g"], "not a mass"),
        (["--batch", "nan"], "not a mass"),
        (["--batch", "1,000g"], "thousands or decimals"),
        (["--batch", "9999999kg"], "not a mass for a bench"),
        (["--dosage", "0"], "above 0 and at most 100"),
        (["--dosage", "150"], "above 0 and at most 100"),
        (["--dosage", "abc"], "write 15 or 15%"),
        (["--finished", "10g"], "needs --dosage"),
        (["--finished", "10g", "--batch", "1g", "--dosage", "15"], "not both"),
        (["--finished-share", "3"], "give --dosage too"),
        (["--finished-share", "30", "--dosage", "15"], "is less than that"),
        (["--carrier", "linalool"], "no solvent"),
        (["--carrier", "linalol"], "no material is called|no solvent"),
        (["--resolution", "1g"], "not a batch of 10 g"),
        (["--out", "sheet.doc"], "ends in .pdf, .xlsx, .csv"),
        (["--out", "/no/such/folder/sheet.pdf"], "no such folder"),
    ],
)
def test_a_wrong_option_is_one_clear_line(options, message):
    ran = run("weigh", FIG, *options)
    assert (ran.status, ran.out) == (2, "")
    assert re.search(message, ran.err)
    assert len(ran.err.splitlines()) == 1


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("10g", 10),
        ("10", 10),
        ("250mg", 0.25),
        ("1.5kg", 1500),
        ("0,5 g", 0.5),
        ("250 µg", 0.00025),
        (".5g", 0.5),
    ],
)
def test_a_mass_is_read_as_people_write_it(text, grams):
    asked = ["weigh", FIG, "--batch", text, "--resolution", "1ug", "--format", "json"]
    assert run(*asked).json["batch_g"] == pytest.approx(grams)


# files


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_sheet_reads_back_as_the_same_formula(accord, kind):
    out = accord.with_name(f"sheet.{kind}")
    assert run("weigh", str(accord), "--flat", "--out", str(out)).status == 0
    assert fractions(out) == pytest.approx(fractions(accord), rel=1e-6)


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
@settings(deadline=None, max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["linalool", "vanillin", "coumarin"]),
            st.floats(0.01, 1e4),
            st.sampled_from(["", "10", "0.5"]),
        ),
        min_size=1,
        max_size=5,
        unique_by=lambda line: line[0],
    ),
    st.floats(2e3, 1e5),
)
def test_any_sheet_with_room_for_its_solvent_reads_back(tmp_path, kind, drawn, solvent):
    made = HEAD + "".join(f"{name},{parts},{percent},,\n" for name, parts, percent in drawn)
    path, out = tmp_path / "drawn.csv", tmp_path / f"sheet.{kind}"
    path.write_text(made + f"dipropylene glycol,{solvent},,,\n")
    ran = run("weigh", str(path), "--resolution", "1mg", "--batch", "100g", "--out", str(out), "--force")
    assert ran.status == 0
    if "The dilutions add" not in ran.err:
        assert fractions(out) == pytest.approx(fractions(path), rel=1e-5, abs=1e-12)


def test_cells_are_never_run_by_a_spreadsheet(accord):
    for kind in ("csv", "xlsx"):
        run("weigh", str(accord), "--out", str(accord.with_name(f"sheet.{kind}")))
    text = accord.with_name("sheet.csv").read_text(encoding="utf-8-sig")
    assert "'=1+1" in text
    assert not re.search(r'(^|,)"?[=+@]', text, re.MULTILINE)
    book = openpyxl.load_workbook(accord.with_name("sheet.xlsx"))
    cells = [cell for page in book for row in page.iter_rows() for cell in row]
    assert {cell.data_type for cell in cells} <= {"s", "n"}
    assert "=1+1" in {cell.value for cell in cells}


def test_a_workbook_has_a_sheet_for_each_vessel_and_one_for_the_notes(accord):
    out = accord.with_name("sheet.xlsx")
    run("weigh", str(accord), "--out", str(out))
    book = openpyxl.load_workbook(out)
    assert book.sheetnames == ["accord", "base", "notes"]
    heads = [cell.value for cell in book["accord"][1]]
    assert heads[:4] == ["material", "parts", "dilution_percent", "solvent"]
    assert heads[heads.index("grams") + 1] == "weighed"
    assert any("qualified person" in str(row[0].value) for row in book["notes"].iter_rows())


def test_a_sheet_is_not_written_over_without_force(accord):
    out = accord.with_name("sheet.csv")
    out.write_text("mine")
    ran = run("weigh", str(accord), "--out", str(out))
    assert (ran.status, out.read_text()) == (2, "mine")
    assert "--force" in ran.err
    assert run("weigh", str(accord), "--out", str(out), "--force").status == 0
    assert out.read_text(encoding="utf-8-sig").startswith("material,")


@pytest.mark.parametrize("kind", ["pdf", "xlsx", "csv"])
def test_nothing_half_written_is_left(accord, monkeypatch, kind):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    monkeypatch.setattr(Path, "replace", full)
    out = accord.with_name(f"sheet.{kind}")
    ran = run("weigh", str(accord), "--out", str(out))
    assert (ran.status, ran.out) == (2, "")
    assert "No space left on device" in ran.err
    assert sorted(p.name for p in accord.parent.iterdir()) == ["accord.csv", "base.csv"]


def test_a_sheet_over_the_formula_itself_is_refused(accord):
    ran = run("weigh", str(accord), "--out", str(accord))
    assert (ran.status, accord.read_text()) == (2, ACCORD)


# the printed sheet


def test_the_printed_sheet_is_the_same_each_time(accord):
    made = []
    for name in ("one.pdf", "two.pdf"):
        out = accord.with_name(name)
        assert run("weigh", str(accord), "--out", str(out)).status == 0
        made.append(out.read_bytes())
    assert made[0].startswith(b"%PDF")
    assert made[0] == made[1]


def test_many_lines_long_names_and_foreign_letters_fill_several_pages(tmp_path, shipped):
    known = sorted((m for m in shipped.materials if m.kind != "solvent"), key=lambda m: -len(m.name))
    notes = ["роза", "ροδόσταμο", "バラ", "<b>&amp;", "x" * 400, "a note " * 99, "\x1b[31m", ""]
    rows = [[m.name, str(n + 1), "", "", notes[n % 8]] for n, m in enumerate(known[:60])]
    path = tmp_path / "long.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([HEAD.strip().split(","), *rows])
    ran = run("weigh", str(path), "--batch", "50g", "--out", str(tmp_path / "long.pdf"))
    assert ran.status == 0
    assert "lacks" in ran.err
    assert 3 <= pages(tmp_path / "long.pdf") <= 12


def test_a_formula_of_one_line_fits_one_page(tmp_path):
    (tmp_path / "one.csv").write_text("material,parts\nlinalool,1\n")
    assert run("weigh", str(tmp_path / "one.csv"), "--out", str(tmp_path / "one.pdf")).status == 0
    assert pages(tmp_path / "one.pdf") == 1


def test_hundreds_of_lines_are_planned_and_printed(tmp_path, shipped):
    known = [m for m in shipped.materials if m.kind != "solvent"][:400]
    text = HEAD + "".join(f'"{m.name}",{n % 37 + 1},,,\n' for n, m in enumerate(known))
    (tmp_path / "many.csv").write_text(text, encoding="utf-8")
    ran = run("weigh", str(tmp_path / "many.csv"), "--batch", "1kg", "--balance", "1mg", "--format", "json")
    assert len(ran.json["rows"]) == 400
    assert ran.json["sections"][0]["weighed_g"] == pytest.approx(1000, abs=400 * 0.0005)


# words


@pytest.mark.parametrize("options", [[], ["--dosage", "20"], ["--share", "5", "--dosage", "20"]])
def test_nothing_is_promised(accord, options):
    ran = run("weigh", str(accord), *options)
    assert not re.search(r"\b(safe|compliant|pass(es|ed)?)\b", ran.out + ran.err, re.IGNORECASE)


def test_the_shares_are_shown_both_ways(accord):
    shown = run("weigh", str(accord), "--dosage", "15", "--share", "5").out
    assert "it is 0.75 % of the finished product" in shown
    assert "0.75 % of the product is 5 % of the concentrate" in shown
    back = run("weigh", str(accord), "--dosage", "15", "--finished-share", "0.75", "--format", "json").json
    assert back["shares"]["percent_of_concentrate"] == 5


def test_a_prohibited_line_is_named():
    ran = run("weigh", str(DEMO / "bell_flower.csv"))
    assert "PROHIBITED" in ran.err


def test_what_is_subtracted_from_the_solvent_is_shown(accord):
    assert re.search(
        r"dipropylene glycol +neat, \d\.\d\d g of it is already in the dilutions",
        run("weigh", str(accord)).out,
    )


def test_what_burns_is_named(accord):
    assert "Highly flammable: ethanol." in run("weigh", str(accord), "--dosage", "15").err
    assert "flammable" not in run("weigh", str(accord)).err


def test_a_note_of_a_file_cannot_move_the_cursor(tmp_path):
    (tmp_path / "bad.csv").write_text("material,parts\n\x1b[31mred,1\n")
    ran = run("weigh", str(tmp_path / "bad.csv"))
    assert ran.status == 2
    assert "\x1b" not in ran.err
