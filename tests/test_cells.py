"""Texts out into files and back: what a spreadsheet would run comes back to the letter, guard included."""

import contextlib
import csv
import io
import json
import re
import sqlite3
from pathlib import Path

import openpyxl
import pytest
from command_line import run
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from test_notebook import FIG, ROWS

from recommender.evidence.catalogue import load
from recommender.evidence.cells import content, from_workbook, harmless, in_workbook
from recommender.evidence.sheets import read_sheet
from recommender.formulas import formula as formulas
from recommender.model import Bottle, Formula, Line
from recommender.notebook import csv_folder, drafts, shelf, store
from recommender.notebook.drafts import Draft
from recommender.one_line import printable
from recommender.output import formats, worksheet
from recommender.web.server import csv_export
from recommender.weighing.plan import plan

# OWASP, CSV injection: = + - @, tab and carriage return start a formula, full-width forms in some programs
STARTS = [
    "",
    "=",
    "+",
    "-",
    "@",
    "\t",
    "\r",
    "'",
    "''",
    "'=",
    "''-",
    "\n",
    "＝",
    "＋",
    "－",
    "＠",
    "'＝",
    "; =",
    "\t'=",
    "_x000D_",
]
NO_NUL = st.characters(exclude_characters="\x00", exclude_categories=["Cs"])
TEXTS = st.builds(
    lambda start, rest: start + rest,
    st.sampled_from(STARTS),
    st.one_of(st.text(NO_NUL, max_size=12), st.text("=+-@'\t\r\n;,|\" a1＝_x", max_size=12)),
)
CATALOGUE = load()
FEW = settings(deadline=None, max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])


def back(text):
    """Return what should come back: blanks around an ordinary cell are not its text."""
    return text if harmless(text) != text else text.strip()


@given(TEXTS)
def test_a_cell_of_csv_and_of_a_workbook_comes_back(text):
    assert content(harmless(text)) == back(text)
    assert content(from_workbook(in_workbook(text))) == back(text)


@given(st.text(), st.text())
def test_rows_of_csv_are_those_that_were_written(first, second):
    text = formats.as_csv([{"a": first, "b": second}], ("a", "b"))
    assert [[content(x) for x in row] for row in csv.reader(io.StringIO(text, newline=""))] == [
        ["a", "b"],
        [back(first), back(second)],
    ]
    assert not re.search(r'(^|[,\n])"?[=+\-@\t\r]', text)


def annotated(text):
    slugs = ("linalool", "coumarin", "benzaldehyde")
    notes = (text, f"-{text}", f"'{text}")
    return Formula(
        "drawn", tuple(Line(CATALOGUE.find(s), 10.0, note=n) for s, n in zip(slugs, notes, strict=True))
    )


def notes_of(path):
    formula = formulas.read(path, CATALOGUE)
    return {line.content.slug: line.note for line in formula.lines}


def wanted(formula):
    return {line.content.slug: back(line.note) for line in formula.lines}


@FEW
@given(TEXTS)
@example("5 drops")
def test_a_formula_file_comes_back(tmp_path, text):
    formula, path = annotated(text), tmp_path / "drawn.csv"
    path.write_text(
        formats.as_csv(formulas.rows(formula), formulas.COLUMNS) + "\n", encoding="utf-8", newline=""
    )
    assert notes_of(path) == wanted(formula)


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
@FEW
@given(TEXTS)
@example("5 drops")
def test_a_weighing_sheet_comes_back_as_a_formula(tmp_path, kind, text):
    formula, path = annotated(text), tmp_path / f"sheet.{kind}"
    sheet = plan(formula, 10.0, 0.01, CATALOGUE.by_slug(formulas.DEFAULT_SOLVENT))
    worksheet.save(sheet, [], str(path))
    assert notes_of(path) == wanted(formula)


@FEW
@given(TEXTS)
def test_a_formula_of_the_page_comes_back(tmp_path, text):
    blank = dict.fromkeys(drafts.COLUMNS, "")
    typed = [
        {"id": str(n), **blank, "material": "linalool", "note": note}
        for n, note in enumerate((text, f"-{text}"))
    ]
    path = tmp_path / "page.csv"
    path.write_bytes(csv_export.as_csv(Draft(1, "page", 1, tuple(typed))))
    rows = read_sheet(path, formulas.REQUIRED, formulas.OPTIONAL)
    assert [row["note"] for row in rows] == [line["note"].strip() for line in typed]


def saved_by_a_spreadsheet(text, path):
    """Save CSV as a workbook whose cells hold the texts of the CSV, as a spreadsheet does."""
    book = openpyxl.Workbook()
    for row in csv.reader(io.StringIO(text, newline="")):
        book.active.append([re.sub(r"_(?=x[0-9A-Fa-f]{4}_)", "_x005F_", text) for text in row])  # ECMA-376
        for cell in book.active[book.active.max_row]:
            cell.data_type = "s"
    book.save(path)


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
@settings(FEW, max_examples=5)
@given(st.lists(TEXTS.map(printable).filter(bool), min_size=1, max_size=4, unique_by=str.casefold))
@example(["-5 drops", "'-5 drops", "=1+1"])
def test_a_shelf_comes_back(tmp_path_factory, kind, texts):
    folder = tmp_path_factory.mktemp("shelf")
    one, two, sheet = folder / "one.sqlite", folder / "two.sqlite", folder / f"shelf.{kind}"
    with store.writing(one) as db:
        for place, text in enumerate(texts):
            shelf.add(db, Bottle(f"{text} no. {place}", "coumarin", lot=text, note=text))
    out = run("shelf", "list", "--format", "csv", "--notebook", str(one)).out
    if kind == "csv":
        sheet.write_text(out, encoding="utf-8", newline="")
    else:
        saved_by_a_spreadsheet(out, sheet)
    assert run("shelf", "import", str(sheet), "--notebook", str(two)).status == 0

    def bottles(path):
        with store.reading(path) as db:
            return {(b.label, b.material, b.lot, b.note) for b in shelf.bottles(db)}

    assert bottles(two) == bottles(one)


@settings(FEW, max_examples=5)
@given(TEXTS.map(str.strip))
@example("-5 drops")
def test_readings_of_a_trial_come_back(tmp_path_factory, text):
    folder = tmp_path_factory.mktemp("trials")
    place = ("--notebook", str(folder / "notebook.sqlite"))
    run("formulas", "save", "data/demo/morello.csv", *place)
    run("trials", "add", "morello", "--at", "1h", "almond clear", *place)
    with store.writing(folder / "notebook.sqlite") as db:
        db.execute("UPDATE trial_readings SET words = ?", (text,))
    sheet = folder / "readings.csv"
    sheet.write_text(run("trials", "show", "1", "--format", "csv", *place).out, encoding="utf-8", newline="")
    assert run("trials", "import", str(sheet), *place).status == 0
    with store.reading(folder / "notebook.sqlite") as db:
        assert [row[0] for row in db.execute("SELECT words FROM trial_readings ORDER BY trial")] == [
            text,
            text,
        ]


JSON = {
    ("drafts", "fields"): lambda text: {"theme": text},
    ("draft_steps", "lines"): lambda text: [{"id": "1", "note": text}],
    ("removed", "content"): lambda text: {"bottles": [{"note": text}]},
    ("shelf_change_bottles", "before"): lambda text: json.loads(FIG) | {"note": text},
    ("shelf_change_bottles", "after"): lambda text: json.loads(FIG) | {"label": text},
}
"""Cells that are JSON of a shape of their own."""


def filled(path, text):
    """Write the same text into every cell of every table that takes it."""
    with store.writing(path) as db:
        for table, cells in (row for rows in ROWS.values() for row in rows.items()):
            db.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(cells))})", cells)
        db.execute("INSERT INTO drafts VALUES (1, 'page', 'page', 1, 0, '2025-01-01T00:00:00.000000', '{}')")
        db.execute("INSERT INTO draft_steps VALUES (1, 0, '', '', '[]')")
        for table, columns in csv_folder.tables(db).items():
            for column in (name for name, kind in columns.items() if kind == "TEXT"):
                with contextlib.suppress(
                    sqlite3.IntegrityError
                ):  # words of a fixed list, keys of another table
                    shape = JSON.get((table, column))
                    cell = json.dumps(shape(text)) if shape else text
                    db.execute(f"UPDATE {table} SET {column} = ?", (cell,))


@FEW
@given(st.one_of(TEXTS, st.text()))
@example("'-5 drops\x00")
def test_every_table_of_a_notebook_comes_back(tmp_path_factory, text):
    folder = tmp_path_factory.mktemp("tables")
    one, two = folder / "one.sqlite", folder / "two.sqlite"
    filled(one, text)
    assert 0 not in csv_folder.export(one, folder / "out").values()
    csv_folder.import_folder(two, folder / "out", replace=False)
    marks = []
    for path in (one, two):
        with store.reading(path) as db:
            marks.append(csv_folder.digest(db))
    assert marks[0] == marks[1]


def test_a_note_that_looks_like_a_formula_goes_through_the_commands(tmp_path):
    place = ("--notebook", str(tmp_path / "notebook.sqlite"))
    notes = ["-5 drops", "'-5 drops", "=1+1", "hay; =1"]
    names = ["linalool", "coumarin", "vanillin", "benzaldehyde"]
    with (tmp_path / "fig.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(
            [("material", "parts", "note"), *zip(names, "1234", map(harmless, notes), strict=True)]
        )
    run("formulas", "save", str(tmp_path / "fig.csv"), *place)
    for kind in ("csv", "xlsx"):
        out = str(tmp_path / f"out.{kind}")
        assert run("weigh", "fig", "--batch", "1kg", "--as-written", "--out", out, *place).status == 0
        assert list(notes_of(Path(out)).values()) == notes
    out = str(tmp_path / "exported.csv")
    run("formulas", "export", "fig", out, *place)
    again = run("formulas", "save", out, "--as", "fig", "--format", "json", *place).json
    assert [one["new"] for one in again["saved"]] == [False]
