"""The script that renews data/annexes.csv, on a small export of the same shape as the Commission's."""

import csv
import importlib
import sys
from collections import Counter
from pathlib import Path

import pytest

from recommender.errors import BadTable

ROOT = Path(__file__).resolve().parent.parent
SECOND = """"File creation date: 09/09/2026"
"ANNEX II","Last update: 28/08/2026"
"Reference Number","Chemical name / INN","CAS Number","Regulation","Update Date"
10,"Hay oil, when used as a fragrance ingredient","100-52-7 -- 91-64-5","(EC) 2009/1223",15/10/2010
9b,"Straw oil (CAS No 121-33-5) except for its normal content","121-33- 5 / 100-52-8",(EU) 2026/78,
9,"Reaction mass of
straw and hay (*)",-,"(EU) 2026/78 ",01/02/2026
"""
THIRD = """"Reference Number","Chemical name / INN","CAS Number","Regulation","Update Date"
2a,"Moss; its salts","","(EC) 2009/1223",02/03/2011
"""


@pytest.fixture
def script(monkeypatch):
    monkeypatch.syspath_prepend(ROOT / "scripts")
    return importlib.import_module("annexes")


@pytest.fixture
def export(tmp_path):
    (tmp_path / "annex_II.csv").write_text(SECOND, encoding="utf-8-sig")
    (tmp_path / "annex_III.csv").write_text(THIRD, encoding="utf-8")
    return tmp_path


def test_the_entries_are_sorted_and_have_neither_conditions_nor_wrong_numbers(script, export):
    found, left_out = script.rows(export)
    assert found == [
        ("II", "9", "Reaction mass of straw and hay", "", "(EU) 2026/78", "2026-02-01"),
        ("II", "9b", "Straw oil", "121-33-5", "(EU) 2026/78", ""),
        ("II", "10", "Hay oil", "100-52-7; 91-64-5", "(EC) 2009/1223", "2010-10-15"),
        ("III", "2a", "Moss; its salts", "", "(EC) 2009/1223", "2011-03-02"),
    ]
    assert left_out == ["Annex II/9b: 100-52-8 has a wrong check digit"]


def test_a_long_name_is_cut_between_words(script):
    name = script.name_of("dye of " + "a long name " * 20)
    assert 100 < len(name) <= script.LONGEST_NAME
    assert name.endswith(("a", "long", "name"))


def test_the_same_export_gives_the_same_table(script, export, monkeypatch, capsys):
    one, two = export / "one.csv", export / "two.csv"
    for out in (one, two):
        monkeypatch.setattr(sys, "argv", ["annexes.py", "--export", str(export), "--out", str(out)])
        assert script.main() == 0
    assert one.read_bytes() == two.read_bytes()
    assert "Annex II: 3 rows, Annex III: 1 rows" in capsys.readouterr().out


def test_an_export_that_is_missing_or_another_is_named(script, export, tmp_path):
    with pytest.raises(BadTable, match="--export"):
        script.rows(tmp_path / "elsewhere")
    (export / "annex_III.csv").write_text("entry,name\n1,moss\n", encoding="utf-8")
    with pytest.raises(BadTable, match="Reference Number") as caught:
        script.rows(export)
    assert caught.value.file == "annex_III.csv"


def test_the_table_has_all_entries_of_both_annexes(script):
    # export of 9 September 2026: 1,758 rows of Annex II and 381 of Annex III
    with (ROOT / "data" / "annexes.csv").open(encoding="utf-8", newline="") as file:
        lines = list(csv.reader(file))
    assert tuple(lines[0]) == script.COLUMNS
    assert Counter(line[0] for line in lines[1:]) == {"II": 1758, "III": 381}
    assert [tuple(line) for line in lines[1:]] == sorted(map(tuple, lines[1:]), key=script.order)
    assert max(len(line[2]) for line in lines) <= script.LONGEST_NAME
