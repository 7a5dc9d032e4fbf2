import csv
from dataclasses import replace as changed
from datetime import date

import openpyxl
import pytest
from asking import extend, replace
from command_line import run

from recommender.errors import BadTable, BadValue
from recommender.evidence.sheets import Row, percent_of
from recommender.model import Amount, Bottle, Caution
from recommender.notebook import importers
from recommender.notebook import importers as intake
from recommender.notebook.importers import guess
from recommender.suggest import scoring
from recommender.suggest.stock import Shelf, cost

TODAY = date(2025, 9, 1)


def row(**cells):
    blank = dict.fromkeys(("label", "material", "cas", "dilution", "solvent", "amount", "price"), "")
    return Row("mine.csv", 3, blank | dict.fromkeys(("opened", "lot", "note"), "") | cells)


@pytest.fixture
def studio(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    return tmp_path


def sheet(path, *rows):
    book = openpyxl.Workbook()
    for cells in rows:
        book.active.append(list(cells))
    book.save(path)
    return str(path)


@pytest.mark.parametrize(
    ("headers", "wanted"),
    [
        (["Raw material", "CAS", "Dilution %", "Grams"], {"label": 0, "cas": 1, "dilution": 2, "amount": 3}),
        (["CAS number", "Ingredient", "Price/kg"], {"label": 1, "cas": 0, "price": 2}),
        (
            ["Name", "Conc.", "Diluent", "Qty (g)", "Batch no"],
            {"label": 0, "dilution": 1, "solvent": 2, "lot": 4},
        ),
        (
            ["material", "dilution_percent", "opened", "note"],
            {"label": 0, "dilution": 1, "opened": 2, "note": 3},
        ),
    ],
)
def test_headers_are_understood(headers, wanted):
    found = guess(headers)
    assert found is not None
    assert wanted.items() <= found.places.items()


def test_a_price_for_a_kilogram_and_an_amount_in_kilograms_are_scaled():
    found = guess(["Name", "Price per kg", "Stock (kg)"])
    assert found is not None
    assert (found.price_for_g, found.amount_g) == (1000.0, 1000.0)


def test_a_row_of_figures_is_no_header():
    assert guess(["vanillin", "10", "3.5"]) is None


@pytest.mark.parametrize(
    ("text", "percent"),
    [("10", 10), ("10 %", 10), ("0,1", 0.1), ("neat", 100), ("1:10", 10), ("1 in 100", 1), ("", None)],
)
def test_dilutions_are_read_as_people_write_them(text, percent):
    assert percent_of(row(dilution=text), "dilution") == percent


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2024-03-01", "2024-03-01"),
        ("2024-03-01 00:00:00", "2024-03-01"),  # as a workbook gives a date
        ("01.03.2024", "2024-03-01"),
        ("13/3/2024", "2024-03-13"),
        ("3/13/2024", "2024-03-13"),
        ("March 2024", "2024-03-01"),
        ("2024", "2024-01-01"),
        ("", ""),
    ],
)
def test_dates_are_read_as_people_write_them(text, day):
    assert importers.day(row(opened=text), "opened") == day


@pytest.mark.parametrize("text", ["03/04/2024", "31.02.2024", "last spring", "2024-13-01"])
def test_a_date_that_is_none_or_could_be_two_is_refused(text):
    with pytest.raises(BadTable, match="line 3, column opened"):
        importers.day(row(opened=text), "opened")


@pytest.mark.parametrize(
    ("label", "material", "percent", "solvent"),
    [
        ("coumarin 10% DPG", "coumarin", 10, "dipropylene-glycol"),
        ("vanillin (5 % in TEC)", "vanillin", 5, "triethyl-citrate"),
        ("cis-3-hexenol, 0.1 %", "cis-3-hexenol", 0.1, ""),
        ("ambroxide", "ambroxide", 100, ""),
    ],
)
def test_a_label_may_tell_the_dilution(shipped, label, material, percent, solvent):
    bottle, found_by, _ = intake.bottle_of(row(label=label), shipped)
    assert (bottle.material, bottle.dilution_percent, bottle.solvent) == (material, percent, solvent)
    assert found_by == "name"


def test_nothing_in_a_label_moves_the_cursor(shipped):
    bottle, _, _ = intake.bottle_of(row(label="coumarin\x1b[2J \n", note="a\r\nb"), shipped)
    assert (bottle.label, bottle.note) == ("coumarin?[2J", "a b")


def test_the_cas_number_counts_more_than_the_label(shipped):
    bottle, found_by, remark = intake.bottle_of(row(label="limonene", cas="5989-27-5"), shipped)
    assert shipped.by_slug(bottle.material).cas == "5989-27-5"
    assert (found_by, "the number is taken" in remark) == ("CAS", True)


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        ({"label": "x", "cas": "100-52-8"}, "check digit"),
        ({"label": "x", "dilution": "150"}, "not a dilution"),
        ({"label": "x", "amount": "20 ml"}, "millilitres"),
        ({"label": "x", "price": "-3"}, "below 0"),
        ({"label": "x", "amount": "some"}, "not a number"),
        ({}, "missing"),
    ],
)
def test_a_cell_that_cannot_be_is_named(shipped, cells, told):
    with pytest.raises(BadTable, match=told):
        intake.bottle_of(row(**cells), shipped)


def test_a_row_that_cannot_be_read_does_not_keep_out_the_others(studio):
    file = sheet(
        studio / "s.xlsx", ["my shelf"], [], ["Bottle", "Grams"], ["coumarin", 5], ["vanillin", "much"]
    )
    done = run("shelf", "import", file, "--format", "json")
    assert done.status == 0
    assert [r["done"] for r in done.json["rows"]] == ["added", "left out"]
    assert done.json["rows"][1]["line"] == 5
    assert done.json["rows"][1]["mind"] == 'amount: "much" is not a number'
    assert any('"Grams" is taken as grams' in note for note in done.json["notes"])


def test_a_dry_run_keeps_nothing(studio):
    assert run("shelf", "import", "data/demo/shelf.xlsx", "--dry-run").status == 0
    assert not (studio / "notebook.sqlite").exists()
    assert run("shelf", "list").status == 1


def test_a_sheet_read_twice_brings_bottles_up_to_date(studio):
    first = sheet(studio / "a.xlsx", ["Bottle", "Grams", "Price"], ["coumarin", 5, 0.2])
    second = sheet(studio / "b.xlsx", ["Bottle", "Grams"], ["coumarin", 3])
    run("shelf", "import", first)
    done = run("shelf", "import", second, "--format", "json")
    assert done.json["rows"][0]["done"] == "brought up to date"
    (bottle,) = run("shelf", "list", "--format", "json").json
    assert (bottle["amount_g"], bottle["price_per_g"]) == (3, 0.2)


def test_an_unknown_label_is_resolved_once_and_remembered(studio):
    file = sheet(studio / "a.xlsx", ["Bottle"], ["Grandpa's fig"], ["coumarin"])
    done = run("shelf", "import", file)
    assert 'recommender shelf resolve "Grandpa\'s fig" MATERIAL' in done.err
    assert run("material", "grandpas fig").status == 2
    assert "bottles resolved: 1" in run("shelf", "resolve", "Grandpa's fig", "gamma-octalactone").out
    for name in ("Grandpa's fig", "grandpa's  FIG"):
        assert run("material", name, "--format", "json").json["slug"] == "gamma-octalactone"
    number = run("shelf", "list", "--format", "json").json[1]["number"]
    assert run("shelf", "remove", str(number)).status == 0
    again = run("shelf", "import", file, "--format", "json").json["rows"]
    assert again[0]["material"] == "gamma-octalactone"  # remembered, though the bottle was gone
    (studio / "f.csv").write_text("material,parts\nGrandpa's fig,3\n", encoding="utf-8")
    assert "gamma" not in run("drydown", str(studio / "f.csv")).err


def test_a_label_that_is_a_known_name_does_not_change_what_that_name_means(studio):
    run("shelf", "add", "limonene", "--material", "5989-27-5")
    assert run("material", "limonene", "--format", "json").json["slug"] == "limonene"


def test_the_shelf_comes_from_a_perfumers_own_map_of_columns(studio):
    (studio / "s.csv").write_text("What;How dear\ncoumarin;200\n", encoding="utf-8")
    file = str(studio / "s.csv")
    assert run("shelf", "import", file).status == 2
    assert run("shelf", "import", file, "--map", "label=What", "--map", "price=How dear").status == 0
    assert run("shelf", "list", "--format", "json").json[0]["price_per_g"] == 200
    assert "--map cannot be" in run("shelf", "import", file, "--map", "smell=What").err


SHELF = Shelf(
    (
        Bottle("zest old", "zest", 100.0, "", 1.5, 0.3, "2024-08-01", number=1),
        Bottle("zest 10", "zest", 10.0, "lemon-solvent", 40.0, 0.05, "2025-08-15", number=2),
        Bottle("twin", "twin", 100.0, "", 30.0, 2.0, number=3),
        Bottle("lime, empty", "lime-wax", 100.0, "", 0.0, 0.1, number=4),
        Bottle("what is it?", "", number=5),
        Bottle("diluent", "lemon-solvent", 100.0, "", 500.0, 0.01, number=6),
    ),
    TODAY,
)


def test_an_empty_bottle_is_not_there_but_its_price_is_known():
    assert set(SHELF.by_material) == {"zest", "twin", "lemon-solvent"}
    assert SHELF.prices["lime-wax"] == 0.1
    assert SHELF.prices["zest"] == pytest.approx(0.3)  # 0.05 a gram at 10 % is 0.5 neat


@pytest.mark.parametrize(("wanted", "number"), [(None, 1), (10.0, 2), (1.0, 2)])
def test_the_bottle_nearest_to_the_wanted_dilution_is_taken(wanted, number):
    bottle = SHELF.bottle_for("zest", wanted)
    assert bottle is not None
    assert bottle.number == number


def test_bottles_that_run_low_or_were_opened_long_ago_get_a_remark(material):
    stable = material("zest", {"lemon": 3})
    turns = material("zest", {"lemon": 3}, cautions=(Caution("oxidises", "Turns in air.", "memory"),))
    old, fresh = SHELF.bottles[0], SHELF.bottles[1]
    assert SHELF.remarks(old, stable) == ["zest old runs low: 1.5 g left."]
    assert "opened 13 months ago" in SHELF.remarks(old, turns)[1]
    long_ago = changed(old, opened=f"{SHELF.today.year - 5}-01-01")
    assert "years ago" in SHELF.remarks(long_ago, turns)[1]
    assert SHELF.remarks(fresh, turns) == []
    assert SHELF.months_open(fresh) == 0


def test_a_batch_is_priced_by_hand(material):
    # 10 g: 1 g zest neat, 2 g twin, 7 g solvent
    parts = [("zest", 0.1), ("twin", 0.2), ("lemon-solvent", 0.7)]
    kinds = {"lemon-solvent": "solvent"}
    amounts = [Amount(material(slug, kind=kinds.get(slug, "molecule")), share) for slug, share in parts]
    rows = {r.material.slug: r for r in cost(amounts, SHELF, 10.0)}
    assert rows["zest"].price == pytest.approx(0.3)
    assert rows["twin"].price == pytest.approx(4.0)
    assert rows["lemon-solvent"].price == pytest.approx(0.07)
    assert rows["zest"].short_g == 0.0
    thin = Shelf(tuple(b for b in SHELF.bottles if b.number != 1), TODAY)
    rows = {r.material.slug: r for r in cost(amounts, thin, 10.0)}
    assert rows["zest"].weigh_g == pytest.approx(10.0)  # of the 10 % bottle, 9 g of it solvent
    assert rows["lemon-solvent"].neat_g == 0.0


def test_only_what_is_on_the_shelf_is_offered(palette):
    fields = {"facet": "lemon", "until_hours": 50, "shelf": SHELF, "only_shelf": True}
    found = extend("zest", palette, **fields)
    assert [s.material.slug for s in found.suggestions] == ["twin"]
    assert found.suggestions[0].bottles[0].label == "twin"
    assert "lime wax is not on your shelf." in extend("zest", palette, why_not="lime wax", **fields).notes


def test_the_price_filter_says_what_it_filters(palette, monkeypatch):
    monkeypatch.setattr(scoring, "LEAST_SCORE", 0.0)  # lime is too far from lemon to be offered otherwise
    cheap = replace("zest", palette, shelf=SHELF, max_price=0.2)
    assert [s.material.slug for s in cheap.suggestions] == ["lime-wax"]
    assert any("a gram of the neat material" in note for note in cheap.notes)
    dear = replace("zest", palette, shelf=SHELF, max_price=5.0)
    assert {s.material.slug for s in dear.suggestions} == {"lime-wax", "twin"}


def test_an_empty_shelf_is_an_error_with_a_way_out(palette):
    with pytest.raises(BadValue, match="shelf add"):
        extend("zest", palette, facet="lemon", shelf=Shelf((), TODAY), only_shelf=True)
    with pytest.raises(BadValue, match="above 0"):
        extend("zest", palette, facet="lemon", shelf=SHELF, max_price=0.0)


def test_a_formula_is_extended_from_the_shelf_at_the_dilution_of_the_bottle(studio):
    run("shelf", "import", "data/demo/shelf.xlsx")
    formula = "data/demo/green_fig.csv"
    done = run("extend", formula, "--shelf", "--facet", "sweet", "--format", "json")
    assert done.status == 0
    held = {r["material"]: r for r in run("shelf", "list", "--format", "json").json}
    for found in done.json["suggestions"]:
        bottle = found["bottles"][0]
        assert found["name"] in held
        neat = bottle["dilution"] == 100
        assert found["dose"]["dilution"] == (None if neat else bottle["dilution"])
    listed = run("materials", "sweet", "--shelf", "--format", "json").json
    assert {r["name"] for r in listed} <= set(held)


def test_what_a_formula_costs_from_the_shelf(studio):
    run("shelf", "import", "data/demo/shelf.xlsx")
    done = run("shelf", "cost", "data/demo/morello.csv", "--batch", "100g", "--format", "json")
    prices = [r["price"] for r in done.json["rows"] if r["price"] is not None]
    assert done.json["total"] == pytest.approx(sum(prices), rel=0.01)
    again = run("shelf", "cost", "data/demo/morello.csv", "--batch", "1kg", "--format", "json").json
    assert again["total"] == pytest.approx(10 * done.json["total"], rel=0.01)
    thin = run("shelf", "cost", "data/demo/green_fig.csv", "--batch", "50g")
    assert "more solvent than the formula has room for, 2-isobutyl-3-methoxypyrazine the most" in thin.err
    text = run("shelf", "list", "--format", "csv").out
    assert len(list(csv.DictReader(text.splitlines()))) == 40


# what a person writes beside a dilution, a volume, a month


@pytest.mark.parametrize(
    ("cell", "percent", "solvent"),
    [
        ("10% DPG", 10.0, "dipropylene-glycol"),
        ("50 % (ethanol)", 50.0, "ethanol"),
        ("1:10 in PG", 10.0, "propylene-glycol"),
        ("10 %ig", 10.0, ""),
    ],
)
def test_a_solvent_may_stand_behind_the_dilution(shipped, cell, percent, solvent):
    bottle, _, _ = intake.bottle_of(row(label="coumarin", dilution=cell), shipped)
    assert (bottle.dilution_percent, bottle.solvent) == (percent, solvent)


def test_a_solvent_behind_the_dilution_beside_another_one_is_refused(shipped):
    with pytest.raises(BadTable, match="a solvent has a column of its own"):
        intake.bottle_of(row(label="coumarin", dilution="10% DPG", solvent="TEC"), shipped)


@pytest.mark.parametrize(("cell", "day"), [("03/2025", "2025-03-01"), ("2025/03", "2025-03-01")])
def test_a_bottle_was_opened_in_a_month(shipped, cell, day):
    bottle, _, _ = intake.bottle_of(row(label="coumarin", opened=cell), shipped)
    assert bottle.opened == day


def test_a_volume_leaves_the_grams_open_and_the_bottle_on_the_shelf(studio):
    file = sheet(studio / "s.xlsx", ["Bottle", "Amount", "Price per bottle"], ["coumarin", "30 ml", 9])
    (row,) = run("shelf", "import", file, "--format", "json").json["rows"]
    assert (row["done"], row["amount_g"], row["price_per_g"]) == ("added", None, None)
    assert "is a volume" in row["mind"]


def test_a_row_that_is_left_out_has_its_label(studio):
    file = sheet(studio / "s.xlsx", ["Bottle", "Grams"], ["coumarin", 5], ["vanillin", "much"])
    rows = run("shelf", "import", file, "--format", "json").json["rows"]
    assert [(r["label"], r["done"]) for r in rows] == [("coumarin", "added"), ("vanillin", "left out")]
