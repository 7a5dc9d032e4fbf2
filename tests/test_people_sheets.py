"""Sheets as people save them, each with what was understood of it, or the line that refuses it.

The texts in `sheets/` were typed by hand, the workbooks written with openpyxl, xlwt (XLS) and odfpy (ODS),
as a spreadsheet saves them: units in number formats, hidden and struck rows, formulas without a value. The
studio is invented, and so are its numbers.
"""

from pathlib import Path

import pytest
from command_line import run

import recommender
from recommender.errors import BadTable
from recommender.evidence.catalogue import load
from recommender.formulas import formula as formulas
from recommender.notebook import importers

SHEETS = Path(__file__).parent / "sheets"
CATALOGUE = load()

# file -> lines (material, parts, dilution [%], solvent of a dilution), notes
FORMULAS = {
    "apostrophes.csv": (
        [
            ("linalool", 1000.5, 100.0),
            ("phenethyl alcohol", 1200.25, 100.0),
            ("coumarin", 75.0, 100.0),
        ],
        ['"Menge" is read as parts.'],
    ),
    "cas_only.csv": (
        [
            ("linalool", 2.5, 100.0),
            ("coumarin", 1.0, 100.0),
        ],
        ['"Gramm" is read as parts, "CAS no." as cas.'],
    ),
    "comma_settled.csv": (
        [
            ("linalool", 1.5, 100.0),
            ("coumarin", 0.25, 100.0),
            ("phenethyl alcohol", 12.5, 100.0),
        ],
        [
            '"Rohstoff" is read as material, "Gramm" as parts.',
            '"1,500" is read with a decimal comma, as other lines have one.',
        ],
    ),
    "comments.csv": (
        [
            ("linalool", 40.0, 100.0),
            ("alpha-ionone", 8.0, 100.0),
        ],
        ["lines 1, 4 and 5: comments, left out."],
    ),
    "dilution_german.csv": (
        [
            ("cis-3-hexenol", 4.0, 10.0, "dipropylene glycol"),
            ("eugenol", 2.0, 10.0, "triethyl citrate"),
            ("linalool", 30.0, 100.0),
            ("beta-damascone", 5.0, 1.0, "dipropylene glycol"),
        ],
        [
            (
                '"Rohstoff" is read as material, "Teile" as parts, "Verdünnung" as dilution_percent, '
                '"Lösungsmittel" as solvent.'
            ),
            'line 5: "beta-damascone 1%ig" is read as beta-damascone, 1 %.',
            "A dilution such as 1:10 is taken as one part in ten of the whole, 10 %.",
            "Dilutions without a solvent are taken as in dipropylene glycol.",
        ],
    ),
    "dilution_in_name.csv": (
        [
            ("cis-3-hexenol", 1.2, 10.0, "dipropylene glycol"),
            ("eugenol", 0.5, 1.0, "triethyl citrate"),
            ("alpha-ionone", 2.0, 10.0, "dipropylene glycol"),
            ("linalool", 8.0, 100.0),
        ],
        [
            '"Grams" is read as parts.',
            'line 2: "cis-3-hexenol 10%" is read as cis-3-hexenol, 10 %.',
            'line 3: "eugenol (1 % in TEC)" is read as eugenol, 1 % in triethyl citrate.',
            'line 4: "alpha-ionone 1:10" is read as alpha-ionone, 10 %.',
            "Dilutions without a solvent are taken as in dipropylene glycol.",
        ],
    ),
    "english_thousands.csv": (
        [
            ("linalool", 1000.5, 100.0),
            ("coumarin", 75.0, 100.0),
        ],
        ['"mg" is read as parts.'],
    ),
    "french_cas.csv": (
        [
            ("phenethyl alcohol", 12.5, 100.0),
            ("linalool", 4.0, 100.0),
            ("benzyl acetate", 3.0, 100.0),
        ],
        [
            (
                '"Matière première" is read as material, "Quantité (g)" as parts, "Remarque" as '
                'note, "N° CAS" as cas.'
            )
        ],
    ),
    "german.xls": (
        [
            ("eugenol", 4.0, 10.0, "dipropylene glycol"),
            ("linalool", 9.5, 100.0),
            ("alpha-ionone", 2.0, 100.0),
        ],
        [
            'the sheet "Fluss" is read, beside it are "Blatt 1".',
            "line 4: struck through, left out.",
            "line 5: hidden in the workbook, and read like the others.",
            '"Rohstoff" is read as material, "Gramm" as parts, "Verdünnung" as dilution_percent.',
            "Dilutions without a solvent are taken as in dipropylene glycol.",
        ],
    ),
    "german_grams.csv": (
        [
            ("linalool", 2.5, 100.0),
            ("phenethyl alcohol", 12.25, 100.0),
            ("coumarin", 1.0, 100.0),
        ],
        ['"Rohstoff" is read as material, "Menge (g)" as parts.'],
    ),
    "grams_and_percent.csv": (
        [
            ("linalool", 4.0, 100.0),
            ("phenethyl alcohol", 2.0, 100.0),
            ("coumarin", 1.0, 100.0),
        ],
        [
            '"Ingredient" is read as material, "Grams" as parts.',
            '"%" agrees with "Grams".',
            'line 5: "Total", left out as a total.',
        ],
    ),
    "grams_in_cells.csv": (
        [
            ("linalool", 2.5, 100.0),
            ("coumarin", 1.0, 100.0),
        ],
        [
            '"Ingredient" is read as material, "Amount" as parts.',
            "the amounts are in g.",
        ],
    ),
    "headings.csv": (
        [
            ("bergamot oil", 30.0, 100.0),
            ("phenethyl alcohol", 40.0, 100.0),
            ("coumarin", 10.0, 100.0),
        ],
        [
            (
                'lines 2, 4, 6 and 8: "TOP NOTES", "HEART", "BASE", "mature two weeks before use", '
                "without an amount, left out as headings."
            )
        ],
    ),
    "hidden_row.xlsx": (
        [
            ("linalool", 40.0, 100.0),
            ("coumarin", 10.0, 100.0),
            ("alpha-ionone", 5.0, 100.0),
        ],
        ["line 3: hidden in the workbook, and read like the others."],
    ),
    "house_names.csv": (
        [
            ("linalool", 60.0, 100.0),
            ("coumarin", 15.0, 100.0),
            ("alpha-ionone", 25.0, 100.0),
        ],
        ['"Name" is read as material, "Percent" as parts, "CAS number" as cas.'],
    ),
    "meadow.ods": (
        [
            ("eugenol", 4.0, 10.0, "dipropylene glycol"),
            ("linalool", 9.5, 100.0),
            ("alpha-ionone", 2.0, 100.0),
        ],
        [
            'above the header is not read: "Wiese am Wehr, 2. Versuch".',
            "line 5: struck through, left out.",
            "line 6: hidden in the workbook, and read like the others.",
            '"Rohstoff" is read as material, "Menge" as parts, "Verdünnung" as dilution_percent.',
            "the amounts are in g.",
            "Dilutions without a solvent are taken as in dipropylene glycol.",
        ],
    ),
    "name_grams.csv": (
        [
            ("linalool", 4.0, 100.0),
            ("coumarin", 1.5, 100.0),
        ],
        ['"Name" is read as material, "Grams" as parts.'],
    ),
    "numbers_as_text.xlsx": (
        [
            ("eugenol", 2.5, 100.0),
            ("coumarin", 1.234, 100.0),
            ("linalool", 9.0, 100.0),
        ],
        ['"Materials" is read as material, "Gramm" as parts.'],
    ),
    "ounces.csv": (
        [
            ("linalool", 56.69904625, 100.0),
            ("eugenol", 3.0, 100.0),
        ],
        [
            '"Ingredient" is read as material, "Weight" as parts.',
            "units of mass are mixed; all amounts are brought to g.",
            "an ounce (oz) is 28.35 g.",
        ],
    ),
    "ounces.ods": (
        [
            ("eugenol", 14.17476156, 100.0),
            ("linalool", 9.0, 100.0),
        ],
        [
            '"Amount" is read as parts.',
            'line 4: "Total", left out as a total.',
            "units of mass are mixed; all amounts are brought to g.",
            "an ounce (oz) is 28.35 g.",
        ],
    ),
    "percent_cells.csv": (
        [
            ("linalool", 62.5, 100.0),
            ("coumarin", 12.5, 100.0),
            ("alpha-ionone", 25.0, 100.0),
        ],
        [
            '"Ingredient" is read as material, "%" as parts.',
            "the amounts are in %.",
        ],
    ),
    "percent_format.xlsx": (
        [
            ("eugenol", 4.0, 10.0, "dipropylene glycol"),
            ("coumarin", 1.0, 0.5, "dipropylene glycol"),
            ("linalool", 9.0, 100.0),
        ],
        [
            '"Grams" is read as parts, "Dilution" as dilution_percent.',
            "Dilutions without a solvent are taken as in dipropylene glycol.",
        ],
    ),
    "plain.csv": (
        [
            ("linalool", 40.0, 100.0),
            ("alpha-ionone", 10.0, 100.0),
        ],
        [],
    ),
    "purity_settled.csv": (
        [
            ("geraniol", 4.0, 100.0),
            ("linalool", 30.0, 100.0),
        ],
        ['"dilution %" is read as dilution_percent.'],
    ),
    "repeated_header.csv": (
        [
            ("linalool", 40.0, 100.0),
            ("coumarin", 10.0, 100.0),
        ],
        [],
    ),
    "sep_line.csv": (
        [
            ("linalool", 2.5, 100.0),
            ("coumarin", 1.0, 100.0),
        ],
        ['"Teile" is read as parts.'],
    ),
    "struck_row.xlsx": (
        [
            ("linalool", 40.0, 100.0),
            ("alpha-ionone", 5.0, 100.0),
        ],
        ["line 3: struck through, left out."],
    ),
    "three_sheets.xlsx": (
        [
            ("linalool", 40.0, 100.0),
            ("coumarin", 10.0, 100.0),
            ("alpha-ionone", 5.0, 100.0),
        ],
        ['the sheet "Trial 2" is read, beside it are "Trial 1", "Prices".'],
    ),
    "title_rows.csv": (
        [
            ("linalool", 40.0, 100.0),
            ("coumarin", 10.0, 100.0),
        ],
        ['above the header is not read: "Rain on slate third study / Studio at the weir".'],
    ),
    "total_blank.csv": (
        [
            ("linalool", 40.0, 100.0),
            ("coumarin", 10.0, 100.0),
        ],
        [
            '"Grams" is read as parts.',
            "line 4: a sum, left out as a total.",
        ],
    ),
    "total_differs.csv": (
        [
            ("linalool", 40.0, 100.0),
            ("coumarin", 10.0, 100.0),
        ],
        ['line 4: "Total", left out as a total (it says 100, the lines add up to 50).'],
    ),
    "total_german.csv": (
        [
            ("linalool", 40.0, 100.0),
            ("bergamot oil", 20.0, 100.0),
            ("coumarin", 10.0, 100.0),
            ("alpha-ionone", 5.0, 100.0),
        ],
        [
            '"Rohstoff" is read as material, "Teile" as parts.',
            'line 4: "Zwischensumme", left out as a total.',
            'line 7: "Zwischensumme", left out as a total.',
            'line 8: "Gesamt:", left out as a total.',
        ],
    ),
    "total_no_value.xlsx": (
        [
            ("linalool", 4.0, 100.0),
            ("coumarin", 1.0, 100.0),
        ],
        [
            '"Grams" is read as parts.',
            'line 4: "Total", left out as a total.',
        ],
    ),
    "total_word.csv": (
        [
            ("linalool", 40.0, 100.0),
            ("coumarin", 10.0, 100.0),
        ],
        [
            '"Grams" is read as parts.',
            'line 4: "Total", left out as a total.',
        ],
    ),
    "two_names.csv": (
        [
            ("phenethyl alcohol", 30.0, 100.0),
            ("linalool", 10.0, 100.0),
            ("coumarin", 3.0, 100.0),
        ],
        [
            '"INCI" is read as material, "Name" as label.',
            "columns that are not used: Supplier.",
        ],
    ),
    "unicode_text.txt": (
        [
            ("linalool", 2.5, 100.0),
            ("coumarin", 1.0, 100.0),
        ],
        ['"Grams" is read as parts, "Comment" as note.'],
    ),
    "unit_column.csv": (
        [
            ("linalool", 2.5, 100.0),
            ("eugenol", 0.3, 100.0),
        ],
        [
            '"Matière" is read as material, "Quantité" as parts, "Unité" as unit.',
            "units of mass are mixed; all amounts are brought to g.",
        ],
    ),
    "unit_format.xlsx": (
        [
            ("eugenol", 0.04, 100.0),
            ("coumarin", 0.001234, 100.0),
            ("linalool", 9.0, 100.0),
        ],
        [
            '"Amount" is read as parts.',
            "units of mass are mixed; all amounts are brought to g.",
        ],
    ),
    "units_in_cells.csv": (
        [
            ("linalool", 2.5, 100.0),
            ("cis-3-hexenol", 0.05, 100.0),
            ("phenethyl alcohol", 10.0, 100.0),
        ],
        [
            '"Ingredient" is read as material, "Amount" as parts.',
            "units of mass are mixed; all amounts are brought to g.",
        ],
    ),
    "unused.csv": (
        [
            ("linalool", 30.0, 100.0),
            ("bergamot oil", 20.0, 100.0),
        ],
        [
            '"Ingredient" is read as material.',
            "columns that are not used: Supplier, Price/kg, Colour.",
        ],
    ),
}

# file -> place and sentence
REFUSED = {
    "cas_disagrees.csv": (
        "line 2, column Name: the name says linalool, the CAS number 91-64-5 is that of "
        "coumarin. Write the one that is meant: linalool or coumarin"
    ),
    "cas_mistyped.csv": (
        "line 2, column Name: the CAS number 78-70-7 is mistyped: its check digit would be "
        "6. Look at each digit"
    ),
    "cas_unknown.csv": (
        'line 3, column Name: no material is called "9999-99-9". `recommender materials` lists all'
    ),
    "comma_unquoted.csv": (
        "line 2: 3 cells where the header has 2. Quote a number with a decimal comma, or "
        "part the columns by semicolons"
    ),
    "concentration.csv": (
        "line 1, column Concentration: this may be a dilution or an amount, and is not read. "
        "Name it dilution_percent or parts if it is that, else take the column out"
    ),
    "dilution_conflict.csv": (
        "line 2, column dilution: the name says 10 %, the dilution is 1 %. Correct the one that is wrong"
    ),
    "drops.csv": (
        'line 2, column Quantity: "drops" is no unit of mass. Parts are by mass: write g, mg '
        "or kg, or no unit at all"
    ),
    "error_value.xlsx": 'line 2, column Grams: "#REF!" is not a number',
    "grams_or_percent.csv": (
        "line 1, column %: this may be a dilution or an amount, and is not read. Name it "
        "dilution_percent or parts if it is that, else take the column out"
    ),
    "half_struck.xlsx": (
        'line 3, column Parts: "10" is struck through, the rest of the line is not. Strike '
        "the whole line through to leave it out, or none of it"
    ),
    "millilitre_cell.csv": (
        'line 3, column Amount: "ml" is no unit of mass. Parts are by mass: write g, mg or '
        "kg, or no unit at all"
    ),
    "millilitres.csv": 'line 1: no column "parts", only ingredient, ml. Parts are by mass: write g, mg or kg',
    "misspelt_no_amount.csv": 'line 3, column Parts: "" is not a positive number of parts',
    "no_header.csv": 'line 1: no column "material", only linalool, 40. Name the columns in the first line',
    "no_values.ods": (
        "line 2, column Amount: the formula in this cell has no stored value. Open the "
        "workbook in a spreadsheet and save it again, or save it as CSV"
    ),
    "no_values.xlsx": (
        "line 3, column Grams: the formula in this cell has no stored value. Open the "
        "workbook in a spreadsheet and save it again, or save it as CSV"
    ),
    "point_in_commas.csv": (
        'line 2, column Gramm: "1.500" may be thousands or decimals. Other lines have a '
        "decimal comma: write it without the point, or with a comma"
    ),
    "purity.csv": (
        "line 2, column material: 98 % in the name may be a dilution or how pure it is. "
        "Write 98 or 100 into a column dilution_percent"
    ),
    "shelf_fractions.csv": (
        'line 2, column Concentration: "0.1" may be per cent or a fraction of 1. Write "0.1 '
        '%" or the dilution as 1:10, or name the column dilution_percent'
    ),
    "shelf_price_bottle_left.csv": (
        "line 1, column Price per bottle: a price for a bottle, and no column says how much "
        "a full bottle has. Add a column size, or give the price of a gram or a kilogram"
    ),
    "shelf_size_price.csv": (
        "line 1, column Price: this may be the price of a bottle or of a gram. Name it "
        '"price per bottle" or "price per g" (or kg)'
    ),
    "solvent_unknown.csv": (
        'line 2, column material: no solvent is called "natural". Write the dilution and the '
        "solvent into columns of their own"
    ),
    "thousand.csv": (
        'line 2, column parts: "1,500" may be thousands or decimals. Write it without separators'
    ),
    "two_dilutions.csv": (
        'line 1, column Verdünnung: "dilution_percent" and "Verdünnung" may both be '
        "dilution_percent. Leave one of them"
    ),
    "unit_missing.csv": (
        "line 3, column Amount: the unit is missing here. Parts are by mass: write g, mg or "
        "kg, or no unit at all"
    ),
}

# file -> bottles (label, material, dilution [%], solvent, g left, price of a gram, opened) or why not, notes
SHELVES = {
    "shelf.ods": (
        [
            ("linalool", "linalool", 100.0, "", 250.0, 0.03, ""),
            ("coumarin", "coumarin", 100.0, "", 100.0, 0.045, ""),
        ],
        [
            '"Preis pro kg" is taken as the price of 1000 g',
            "prices are in EUR; the shelf stores them without a currency.",
        ],
    ),
    "shelf_currencies.csv": (
        [
            ("linalool", "linalool", 100.0, "", 40.0, 0.2, ""),
            "price: USD beside EUR in line 2: prices have no currency. Bring them to one",
        ],
        [
            '"Price" is taken as the price of a gram',
            (
                '"Price" does not say for how much, so a bare number is for a gram; head the price '
                'of a bottle "price per bottle", with its size.'
            ),
            "prices are in EUR; the shelf stores them without a currency.",
        ],
    ),
    "shelf_currency.csv": (
        [
            ("linalool", "linalool", 100.0, "", 40.0, 0.0125, ""),
            ("coumarin", "coumarin", 100.0, "", 1200.0, 0.035, ""),
            ("eugenol", "eugenol", 100.0, "", 15.0, 0.08, ""),
        ],
        [
            '"Preis" is taken as the price of a gram',
            (
                '"Preis" does not say for how much, so a bare number is for a gram; head the price '
                'of a bottle "price per bottle", with its size.'
            ),
            "prices are in EUR; the shelf stores them without a currency.",
        ],
    ),
    "shelf_english.csv": (
        [
            ("linalool", "linalool", 100.0, "", 25.0, 0.03, "2025-03-01"),
            ("Violet drops 10%", "alpha-ionone", 10.0, "dipropylene-glycol", 12.5, None, "2024-11-02"),
        ],
        ['"Price per kg" is taken as the price of 1000 g'],
    ),
    "shelf_fluid_ounces.csv": (
        [("linalool", "linalool", 100.0, "", 25.43323542, None, "")],
        ['"Density" is taken as the density in g/ml'],
    ),
    "shelf_french.csv": (
        [
            ("linalol", "linalool", 100.0, "", 50.0, 0.03, "2025-05-12"),
            ("foin", "", 10.0, "triethyl-citrate", 20.0, None, "2025-02-01"),
        ],
        [
            '"Prix par 100 g" is taken as the price of 100 g',
            "the label says hay absolute, the CAS number 91-64-5 is that of coumarin",
        ],
    ),
    "shelf_german.csv": (
        [
            ("Veilchen", "alpha-ionone", 10.0, "dipropylene-glycol", 12.5, 0.24, "2024-11-03"),
            ("Heu", "coumarin", 100.0, "", 30.0, 0.045, "2025-05-01"),
        ],
        ['"Preis/kg" is taken as the price of 1000 g'],
    ),
    "shelf_label_dilution.csv": (
        [
            ("eugenol 10%", "eugenol", 10.0, "", 20.0, None, ""),
            "dilution: the label says 10 %, the dilution is 1 %. Correct the one that is wrong",
        ],
        [],
    ),
    "shelf_ml.csv": (
        [
            ("linalool", "linalool", 100.0, "", 43.0, 0.2, ""),
            ("eugenol", "eugenol", 100.0, "", 21.32, 0.3, ""),
        ],
        [
            '"Volume left (ml)" is taken as ml, brought to grams by the density',
            '"Price" is taken as the price of a gram',
            '"Density" is taken as the density in g/ml',
            (
                '"Price" does not say for how much, so a bare number is for a gram; head the price '
                'of a bottle "price per bottle", with its size.'
            ),
        ],
    ),
    "shelf_ml_no_density.csv": (
        [
            ("linalool", "linalool", 100.0, "", None, None, ""),
            ("coumarin", "coumarin", 100.0, "", 15.0, None, ""),
        ],
        ['"50 ml" is a volume, so the grams are left open: weigh it, or add a density'],
    ),
    "shelf_money.xlsx": (
        [
            ("linalool", "linalool", 100.0, "", 250.0, 0.03, ""),
            ("coumarin", "coumarin", 100.0, "", 40.0, 0.045, ""),
        ],
        [
            '"Price per 100 g" is taken as the price of 100 g',
            "prices are in EUR; the shelf stores them without a currency.",
        ],
    ),
    "shelf_ounces.csv": (
        [
            ("linalool", "linalool", 100.0, "", 56.69904625, None, ""),
            ("coumarin", "coumarin", 100.0, "", 15.0, None, ""),
            ("eugenol", "eugenol", 100.0, "", 100.0, None, ""),
        ],
        ["an ounce (oz) is 28.35 g."],
    ),
    "shelf_price_bottle.csv": (
        [
            ("linalool", "linalool", 100.0, "", 40.0, 0.12, ""),
            ("coumarin", "coumarin", 100.0, "", 5.0, None, ""),
            ("eugenol", "eugenol", 100.0, "", 5.0, None, ""),
        ],
        [
            ('"Price per bottle" is taken as the price of a bottle, for what "Bottle size (g)" says'),
            "the price is left out: the size of the bottle is not given",
        ],
    ),
    "shelf_price_per_ounce.csv": (
        [("linalool", "linalool", 100.0, "", 56.69904625, 0.2116437717, "")],
        [
            '"Price/oz" is taken as the price of 28.3495 g',
            "an ounce (oz) is 28.35 g.",
        ],
    ),
    "shelf_total.csv": (
        [
            ("linalool", "linalool", 100.0, "", 40.0, 0.03, ""),
            ("coumarin", "coumarin", 100.0, "", 5.0, 0.05, ""),
        ],
        [
            '"Price per g" is taken as the price of a gram',
            'line 4: "Total", left out as a total.',
        ],
    ),
    "shelf_twice.csv": (
        [
            ("linalool", "linalool", 100.0, "", 40.0, None, "2024-02-01"),
            ("linalool", "linalool", 100.0, "", 100.0, None, "2025-06-01"),
            ("coumarin", "coumarin", 100.0, "", 5.0, None, ""),
        ],
        ["the same label is in line 2: another bottle"],
    ),
    "shelf_unit_column.csv": (
        [
            ("linalool", "linalool", 100.0, "", 141.7476156, None, ""),
            ("coumarin", "coumarin", 100.0, "", 30.0, None, ""),
            'unit: "drops" is no unit of mass. Write g, mg, kg or oz',
        ],
        ["an ounce (oz) is 28.35 g."],
    ),
}

# file -> what of the command, a line of its answer, notes
RECORDS = {
    "readings_german.csv": (
        ["trials"],
        "trial of river@1, 2025-05-03: 3 readings",
        ['"Stunden" is read as hours, "Stärke" as strength, "Formel" as formula, "Datum" as day, '
         '"Geruch" as facet.'],
    ),
    "readings_english.csv": (
        ["trials", "--formula", "river"],
        "trial of river@1, ",
        ["line 1: comments, left out.",
         '"Time" is read as hours, "Intensity" as strength, "Smell" as facet.'],
    ),
    "strips_french.csv": (
        ["calibrate"],
        "strip: linalool, 2 readings",
        ['"Heures" is read as hours, "Force" as strength, "Matière" as material, "Date" as day, '
         '"Dilution" as dilution_percent.'],
    ),
    "strips_name.csv": (
        ["calibrate"],
        "strip: linalool, 1 reading",
        ['"Rating" is read as strength, "Name" as material, "Room" as room_c.'],
    ),
    "strips_dilution.csv": (
        ["calibrate"],
        "strip: linalool, 2 readings",
        ['line 2: "linalool 10% in TEC" is read as linalool, 10 % in triethyl citrate.'],
    ),
    "limits_german.csv": (
        ["limits"],
        "coumarin",
        ['above the header is not read: "Eigene Grenzwerte, abgeschrieben".',
         '"Bezeichnung" is read as name, "CAS-Nr." as cas.'],
    ),
    "limits_english.csv": (
        ["limits"],
        "eugenol",
        ['"Substance" is read as name, "CAS number" as cas, "Comment" as note.'],
    ),
    "own_german.csv": (
        ["materials"],
        "Bachkiesel: green (clear), hay (trace)",
        ['"Bezeichnung" is read as name, "Riecht nach" as smells, "Art" as kind, "Notiz" as note.'],
    ),
    "own_french.csv": (
        ["materials"],
        "galet: green (clear), hay (trace)",
        ['"Nom" is read as name, "Odeur" as smells, "Genre" as kind.', "columns that are not used: Colour."],
    ),
}  # fmt: skip


def without_file(notes, name):
    return [note.replace(f"{name}: ", "") for note in notes]


@pytest.mark.parametrize("name", FORMULAS)
def test_a_formula_is_understood_as_it_is_saved(name):
    lines, notes = FORMULAS[name]
    found = formulas.read(SHEETS / name, CATALOGUE)
    read = [
        (line.content.name, line.parts, round(100 * line.dilution, 6), line.solvent and line.solvent.name)
        for line in found.lines
    ]
    wanted = [(*line, None)[:4] for line in lines]
    assert [(one, pytest.approx(parts), *more) for one, parts, *more in wanted] == read
    assert without_file(found.notes, name) == notes


@pytest.mark.parametrize("name", REFUSED)
def test_what_may_be_two_things_is_refused_with_its_place(name):
    read = importers.read if name.startswith("shelf") else formulas.read
    with pytest.raises(BadTable) as caught:
        read(SHEETS / name, CATALOGUE)
    place = f"{name}, " if caught.value.line else f"{name}: "
    assert str(caught.value) == place + REFUSED[name]


@pytest.mark.parametrize("name", SHELVES)
def test_a_shelf_is_understood_as_it_is_saved(name):
    bottles, notes = SHELVES[name]
    columns, rows = importers.read(SHEETS / name, CATALOGUE)
    found = [
        row.error or (b.label, b.material, b.dilution_percent, b.solvent, b.amount_g, b.price_per_g, b.opened)
        for row in rows
        if (b := row.bottle) or row.error
    ]
    assert found == bottles
    remarks = [row.remark for row in rows]
    said = [*columns.summary(), *without_file(columns.notes, name), *remarks]
    assert [note for note in notes if note not in said] == []
    assert set(without_file(columns.notes, name)) <= set(notes)


@pytest.fixture
def studio(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    (tmp_path / "river.csv").write_text("material,parts\nlinalool,1\nalpha-ionone,1\n", encoding="utf-8")
    assert run("formulas", "save", str(tmp_path / "river.csv")).status == 0
    return tmp_path


@pytest.mark.parametrize("name", RECORDS)
def test_records_are_read_by_the_same_rules(name, studio):
    (verb, *more), line, notes = RECORDS[name]
    done = run(verb, "import", str(SHEETS / name), "--dry-run", *more)
    assert done.status == 0
    assert line in done.out
    assert [note for note in notes if f"note: {name}: {note}" not in done.err] == []


def test_a_reading_that_cannot_be_read_names_the_header_of_the_sheet(studio):
    done = run("trials", "import", str(SHEETS / "readings_bad.csv"), "--formula", "river")
    assert done.status == 2
    assert done.err.startswith("recommender: readings_bad.csv, line 2, column Strength: ")


def test_every_sheet_has_what_it_must_give():
    given = {*FORMULAS, *REFUSED, *SHELVES, *RECORDS, "readings_bad.csv"}
    assert given == {path.name for path in SHEETS.iterdir()}
    assert len(given) >= 60


def test_another_sheet_of_a_workbook_is_read_where_it_is_asked_for():
    book = str(SHEETS / "three_sheets.xlsx")
    found = run("weigh", book, "--sheet", "Trial 1", "--format", "json").json
    assert {row["name"] for row in found["rows"]} >= {"linalool", "eugenol"}
    note = 'three_sheets.xlsx: the sheet "Trial 1" is read, beside it are "Trial 2", "Prices".'
    assert note in found["notes"]
    gone = run("drydown", book, "--sheet", "Trial 9")
    assert (gone.status, gone.out) == (2, "")
    assert 'no sheet is called "Trial 9". The sheets are "Trial 1", "Trial 2", "Prices"' in gone.err
    text = run("drydown", str(SHEETS / "plain.csv"), "--sheet", "Trial 1")
    assert text.status == 2
    assert "the file is a text" in text.err


def test_a_dry_run_shows_what_each_bottle_would_be(studio):
    done = run("shelf", "import", str(SHEETS / "shelf_german.csv"), "--dry-run", "--format", "json").json
    first = done["rows"][0]
    assert (first["dilution_percent"], first["amount_g"], first["price_per_g"]) == (10, 12.5, 0.24)
    assert first["opened"] == "2024-11-03"
    table = run("shelf", "import", str(SHEETS / "shelf_german.csv"), "--dry-run").out
    assert "price per g" in table
    assert "0.24" in table


def test_the_notes_of_a_sheet_are_printed_once_on_stderr():
    done = run("weigh", str(SHEETS / "french_cas.csv"))
    assert done.err.count('"Quantité (g)" as parts') == 1


def test_python_asks_for_the_same_sheet(tmp_path):
    mine = recommender.open(tmp_path / "notebook.sqlite", sheet="Trial 1")
    found = mine.drydown(SHEETS / "three_sheets.xlsx").value.formula
    assert [line.content.name for line in found.lines] == ["linalool", "eugenol"]


def test_a_substance_with_a_number_is_no_total(tmp_path, studio):
    path = tmp_path / "mine.csv"
    path.write_text("name,cas,cat_4\nTotal psoralens,298-81-7,0.01\n", encoding="utf-8")
    done = run("limits", "import", str(path), "--dry-run")
    assert "Total psoralens" in done.out


def test_many_lines_without_an_amount_are_no_headings(tmp_path):
    path = tmp_path / "mine.csv"
    text = "".join(f"part {number} of the river,\n" for number in range(formulas.MOST_HEADINGS + 1))
    path.write_text(f"material,parts\nlinalool,1\n{text}", encoding="utf-8")
    with pytest.raises(BadTable, match="not a positive number of parts"):
        formulas.read(path, CATALOGUE)
