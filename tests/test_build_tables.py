import csv
import importlib
import math
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import recommender
from recommender.chemistry.fusion import Fused, Observation, Source, fuse
from recommender.errors import BadTable
from recommender.evidence.sheets import Row

ROOT = Path(__file__).resolve().parent.parent
DATA, TABLES = ROOT / "data", Path(recommender.__file__).parent / "tables"

pytest.importorskip("rdkit")
pytest.importorskip("sklearn")
pytest.importorskip("chemicals")


def build(*arguments: str) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [sys.executable, str(ROOT / "scripts" / "build_tables.py"), *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """Both runs side by side: each takes some seconds."""
    out = tmp_path_factory.mktemp("tables")
    check, write = build("--check"), build("--out", str(out))
    ended = [(*run.communicate(timeout=240), run.returncode) for run in (check, write)]
    return {"out": out, "check": ended[0], "write": ended[1]}


def test_the_shipped_tables_fit_the_evidence(built):
    output, _, status = built["check"]
    assert output == "the tables fit the evidence\n"
    assert status == 0


def test_a_rebuild_ends_well_and_says_what_it_did(built):
    output, _, status = built["write"]
    assert status == 0
    assert "compared with the chemicals library" in output


def test_a_rebuild_writes_the_tables_that_are_shipped(built):
    names = {path.name for path in TABLES.glob("*.csv")}
    assert {path.name for path in built["out"].glob("*.csv")} == names
    assert {"molecules.csv", "components.csv", "manifest.csv"} <= names


def agree(one: str, other: str) -> bool:
    if one == other:
        return True
    try:
        return math.isclose(float(one), float(other), rel_tol=1e-3, abs_tol=1e-4)
    except ValueError:
        return False


@pytest.mark.parametrize(
    "name", sorted(path.name for path in TABLES.glob("*.csv") if path.stem != "manifest")
)
def test_a_rebuilt_table_is_the_shipped_one(built, name):
    with (TABLES / name).open(encoding="utf-8") as one, (built["out"] / name).open(encoding="utf-8") as two:
        shipped, anew = list(csv.reader(one)), list(csv.reader(two))
    assert len(anew) == len(shipped)
    for line, (old, made) in enumerate(zip(shipped, anew, strict=True), 1):
        assert all(map(agree, old, made)), f"line {line}: {old} against {made}"


@pytest.fixture
def scripts(monkeypatch):
    monkeypatch.syspath_prepend(ROOT / "scripts")
    return importlib.import_module("evidence"), importlib.import_module("structure")


@pytest.fixture
def folder(tmp_path):
    return Path(shutil.copytree(DATA, tmp_path / "data"))


def lines_of(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def write(path: Path, rows: list[list[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(rows)


def damage(path: Path, column: str, text: str, **where: str) -> int:
    """Change one cell of the first row with given cells, and return its line."""
    rows = lines_of(path)
    place = {name: i for i, name in enumerate(rows[0])}
    for line, row in enumerate(rows[1:], 2):
        if all(row[place[name]] == cell for name, cell in where.items()):
            row[place[column]] = text
            write(path, rows)
            return line
    raise AssertionError(f"{path.name} has no row with {where}")


def test_the_evidence_as_it_is_can_be_loaded(scripts, folder):
    evidence, structure = scripts
    found = evidence.load(folder)
    assert len(found["materials"]) > 700
    assert len(structure.molecules(found["materials"])) > 500


DAMAGES = {
    "unknown facet": ("labels", "facet", "smell of nothing", {}, "smell of nothing"),
    "unknown material of a label": ("labels", "material", "no-such-key", {}, "no-such-key"),
    "unknown material of a relation": ("relations", "to", "no-such-key", {}, "no-such-key"),
    "unknown material of a pressure": ("volatility", "material", "no-such-key", {}, "no-such-key"),
    "unknown material of practice": ("practice", "material", "no-such-key", {}, "no-such-key"),
    "unknown quality of practice": ("practice", "quality", "charm", {}, "colour in time"),
    "a value of another quality": ("practice", "value", "pale", {"quality": "soap"}, "known value of soap"),
    "a fact of practice without a basis": ("practice", "basis", "", {}, "common practice"),
    "a panel's row of no facet": (
        "panel",
        "facet",
        "smell of nothing",
        {"facet": "rose"},
        "smell of nothing",
    ),
    "unknown material of a name": ("names", "material", "no-such-key", {}, "no-such-key"),
    "wrong check digit": ("materials", "cas", "100-52-8", {"slug": "benzaldehyde"}, "7 would fit"),
    "no CAS number": ("materials", "cas", "benzaldehyde", {"slug": "benzaldehyde"}, "shape of a CAS number"),
    "a CAS number twice": (
        "materials",
        "cas",
        "100-52-7",
        {"slug": "coumarin"},
        "already that of benzaldehyde",
    ),
    "wrong check digit of a limit": ("limits", "cas", "71-43-3", {"name": "benzene"}, "2 would fit"),
    "a limit of nothing": ("limits", "cat_4", "0", {"name": "coumarin"}, "above 0"),
    "a limit above all": ("limits", "cat_4", "101", {"name": "coumarin"}, "at most 100"),
    "a prohibition with a figure": ("limits", "cat_4", "1", {"kind": "prohibition"}, "only a restriction"),
    "unknown kind of limit": ("limits", "kind", "advice", {}, "prohibition"),
    "unknown group of limits": ("limits", "sum_group", "all oils", {}, "phototoxic"),
    "an undated limit": ("limits", "date", "last year", {}, "2023-06-30"),
    "a limit of nobody": ("limits", "materials", "no-such-key", {}, "no-such-key"),
    "an allergen without a CAS number": ("allergens", "cas", "", {"name": "Coumarin"}, "has no CAS number"),
    "wrong check digit of an allergen": ("allergens", "cas", "91-64-6", {"name": "Coumarin"}, "5 would fit"),
    "unknown list of allergens": ("allergens", "added", "2019", {}, "2023"),
    "wrong check digit of a Standard": ("standards", "cas", "91-64-6", {"name": "coumarin"}, "5 would fit"),
    "a CAS number of two Standards": ("standards", "cas", "91-64-5", {"name": "eugenol"}, "that of coumarin"),
    "unknown type of a Standard": ("standards", "types", "advice", {}, "specification"),
    "a Standard without a type": ("standards", "types", "", {}, "what kind"),
    "a Standard without an amendment": ("standards", "amendment", "the last", {}, "number of an amendment"),
    "a Standard of some day": ("standards", "published", "2020", {"name": "coumarin"}, "2023-06"),
    "a list from nowhere": ("standards", "source", "", {}, "not a known source"),
    "what a Standard prohibits and nothing says so": (
        "standards",
        "types",
        "prohibition",
        {"name": "benzaldehyde"},
        "benzaldehyde (100-52-7) has no prohibition",
    ),
    "what a Standard prohibits in part and nothing says which": (
        "standards",
        "types",
        "restriction; prohibition",
        {"name": "hexyl salicylate"},
        "no row (standards) for hexyl salicylate",
    ),
    "a limit of the Standards of no amendment": (
        "limits",
        "reference",
        "leave-on maximum",
        {"name": "coumarin", "market": "standards"},
        "49 (2020)",
    ),
    "a condition that is not named": (
        "limits",
        "condition",
        "",
        {"kind": "specification", "market": "standards"},
        "certificate",
    ),
    "a caution of a Standard that is not in the list": (
        "cautions",
        "limited_by",
        "standards",
        {"material": "vanillin"},
        "no row (standards) for vanillin",
    ),
    "a caution of a limit by nobody": (
        "cautions",
        "text",
        "Banned in soap.",
        {"material": "vanillin", "kind": "discolours"},
        "but not by whom",
    ),
    "a caution of a limit without a row": (
        "cautions",
        "limited_by",
        "eu",
        {"material": "vanillin"},
        "no row (eu) for vanillin",
    ),
    "a caution that advises a dilution without its figure": (
        "cautions",
        "text",
        "Start from a 1 % dilution.",
        {"material": "1-octen-3-ol", "kind": "strong odour"},
        "advises a dilution",
    ),
    "a dilution of everything": ("cautions", "dilution_percent", "100", {}, "below 100"),
    "unknown maker of a limit": ("cautions", "limited_by", "the moon", {}, "elsewhere"),
    "a category that is none": ("limits", "unlimited", "4Z", {"name": "coumarin"}, "4Z"),
    "limited and unlimited": ("limits", "unlimited", "4", {"name": "coumarin"}, "without a figure"),
    "a limit from some day": ("limits", "applies_from", "2027", {"name": "coumarin"}, "2027-01-01"),
    "a limit until some day": (
        "limits",
        "applies_until",
        "soon",
        {"reference": "Annex III/70"},
        "2027-01-01",
    ),
    "a limit that ends before it begins": (
        "limits",
        "applies_until",
        "2026-12-31",
        {"reference": "Annex III/70", "applies_from": "2027-01-01"},
        "applies from 2027-01-01",
    ),
    "a market that is none": ("limits", "market", "eu; moon", {"market": "eu; gb"}, '"moon" is not a known'),
    "no market": ("limits", "market", "", {"market": "eu; gb"}, "each market is named once"),
    "a market twice": ("limits", "market", "eu; eu", {"market": "eu; gb"}, "each market is named once"),
    "law and Standards in one row": ("limits", "market", "eu; standards", {"market": "eu"}, "no Standard"),
    "two entries in a row": (
        "limits",
        "reference",
        "Annex III/308, 309",
        {"reference": "Annex III/308"},
        "such as Annex III/102",
    ),
    "an entry that the annexes lack": (
        "limits",
        "reference",
        "Annex III/999",
        {"reference": "Annex III/308"},
        "annexes.csv has no Annex III/999",
    ),
    "a law without an entry": (
        "limits",
        "reference",
        "",
        {"market": "eu", "kind": "restriction"},
        "not an entry",
    ),
    "a specification of nothing": (
        "limits",
        "condition",
        "",
        {"reference": "Annex III/140"},
        "what a certificate has to show",
    ),
    "figures in categories without a reason": (
        "limits",
        "mapping",
        "",
        {"reference": "Annex III/312"},
        "the reason why",
    ),
    "an entry in words": ("annexes", "entry", "the last", {}, "such as Annex III/102"),
    "an entry of no annex": ("annexes", "annex", "XX", {}, "such as Annex III/102"),
    "wrong check digit of an entry": ("annexes", "cas", "98-01-2", {"entry": "312"}, "1 would fit"),
    "an entry renewed some day": ("annexes", "updated", "28/08/2026", {"entry": "312"}, "2027-01-01"),
    "a prohibition of another grade's number": (
        "limits",
        "excepted",
        "",
        {"reference": "Annex II/450"},
        "verbena-absolute may be used and shares 8024-12-2",
    ),
    "a prohibition of a number that stands on a label": (
        "limits",
        "excepted",
        "",
        {"reference": "Annex II/359"},
        "laurel-leaf-oil may be used and shares 84603-73-6",
    ),
    "unknown use": ("categories", "use", "by the spoon", {}, "rinse-off"),
    "a category of our own": ("categories", "category", "4Z", {"category": "4"}, "in the place of 4"),
    "missing source": ("volatility", "source", "", {"basis": "published"}, "a source is needed"),
    "missing source of a limit": ("limits", "source", "", {"basis": "published"}, "a source is needed"),
    "unknown source": ("volatility", "source", "nobody-1900", {"basis": "published"}, "nobody-1900"),
    "unknown basis": ("labels", "basis", "hearsay", {}, "hearsay"),
    "strength 4": ("labels", "strength", "4", {}, '"4"'),
    "strength in words": ("labels", "strength", "strong", {}, '"strong"'),
    "unknown kind": ("materials", "kind", "gas", {}, "molecule"),
    "unknown role": ("materials", "role", "hero", {}, "palette"),
    "no structure": ("materials", "smiles", "", {"slug": "benzaldehyde"}, "SMILES"),
    "no number": ("volatility", "value", "a lot", {"quantity": "vapour_pressure"}, "not a number"),
    "negative pressure": ("volatility", "value", "-1", {"quantity": "vapour_pressure"}, "positive"),
    "infinite pressure": ("volatility", "value", "inf", {"quantity": "vapour_pressure"}, "finite"),
    "wrong unit": ("volatility", "unit", "bar", {"quantity": "vapour_pressure"}, "Pa"),
    "unknown relation": ("relations", "relation", "cousin-of", {}, "cousin-of"),
    "unknown position": ("positions", "position", "middle", {}, "heart"),
    "more than a whole": ("constituents", "percent_high", "101", {}, "percentages"),
    "a constituent with a row and a class": (
        "constituents",
        "class",
        "sesquiterpene",
        {"natural": "ginger-oil", "constituent": "beta-phellandrene"},
        "has a row of its own",
    ),
    "a word of an unknown language": ("umbrellas", "language", "Latin", {"word": "almond"}, "French"),
    "a word of another language that is ours": (
        *("umbrellas", "language", "German"),
        {"word": "rice"},
        '"rice" already means popcorn',
    ),
    "unknown member": ("umbrellas", "members", "smell of nothing", {"word": "almond"}, "smell of nothing"),
}
PLACED = {
    "an entry of no annex": "entry",
    "more than a whole": "percent_low",
    "unknown member": "members",
    "a word of another language that is ours": "word",
    "what a Standard prohibits and nothing says so": "cas",
    "a caution of a limit by nobody": "limited_by",
    "a caution that advises a dilution without its figure": "dilution_percent",
}


@pytest.mark.parametrize("name", DAMAGES)
def test_a_wrong_cell_is_named_by_file_line_and_column(scripts, folder, name):
    evidence, _ = scripts
    table, column, text, where, message = DAMAGES[name]
    line = damage(folder / f"{table}.csv", column, text, **where)
    with pytest.raises(BadTable) as caught:
        evidence.load(folder)
    assert (caught.value.file, caught.value.line) == (f"{table}.csv", line)
    assert caught.value.column == PLACED.get(name, column)
    assert message in str(caught.value)
    assert str(caught.value).startswith(f"{table}.csv, line {line}, column ")


def drop(path: Path, column: str, text: str) -> None:
    """Take out the rows that have a text in a column."""
    rows = lines_of(path)
    at = rows[0].index(column)
    write(path, [row for row in rows if row[at] != text])


@pytest.mark.parametrize(
    ("table", "column", "text", "slug", "reference"),
    [
        ("limits", "reference", "Annex II/1101", "isophorone", "Annex II/1101"),
        ("limits", "reference", "Annex III/97", "musk-ketone", "Annex III/97"),
        ("limits", "reference", "Annex III/121", "3-carene", "Annex III/121"),
        ("limits", "reference", "Annex III/181", "styrax-resinoid", "Annex III/181"),  # 180 stays
        ("allergens", "entry", "332", "beta-caryophyllene", "Annex III/332"),
    ],
)
def test_an_entry_that_matches_a_number_of_ours_needs_its_row(
    scripts, folder, table, column, text, slug, reference
):
    evidence, _ = scripts
    drop(folder / f"{table}.csv", column, text)
    drop(folder / "cautions.csv", "material", slug)  # a caution of a limit without a row fails before
    with pytest.raises(BadTable, match=f"{slug} has a CAS number of {reference} ") as caught:
        evidence.load(folder)
    assert (caught.value.file, caught.value.column) == ("materials.csv", "cas")
    place = caught.value.line
    assert place is not None
    assert lines_of(folder / "materials.csv")[place - 1][0] == slug


def test_an_entry_is_answered_by_a_row_that_names_the_material_as_excepted(scripts, folder):
    evidence, _ = scripts
    path = folder / "annexes.csv"
    write(path, [*lines_of(path), ["II", "9999", "vanilla dust", "121-33-5", "(EU) 2026/1", "2026-01-01"]])
    with pytest.raises(BadTable, match="vanillin has a CAS number of Annex II/9999"):
        evidence.load(folder)
    path = folder / "limits.csv"
    rows = lines_of(path)
    row = dict.fromkeys(rows[0], "") | {"name": "vanilla dust", "cas": "121-33-5", "kind": "prohibition"}
    row |= {"market": "eu", "basis": "memory", "reference": "Annex II/9999"}
    write(path, [*rows, list(row.values())])
    with pytest.raises(BadTable, match="vanillin may be used and shares 121-33-5") as caught:
        evidence.load(folder)  # European law has it on the label, so it may be used
    assert (caught.value.line, caught.value.column) == (len(rows) + 1, "excepted")
    write(path, [*rows, list((row | {"excepted": "vanillin"}).values())])
    evidence.load(folder)


def test_a_prohibition_of_a_palette_material_that_nothing_allows_stands(scripts):
    evidence, _ = scripts
    found = evidence.load(DATA)
    (row,) = [x for x in found["limits"] if x["reference"] == "Annex II/1703"]
    (own,) = [x for x in found["materials"] if x["slug"] == "benzophenone"]
    assert (own["role"], row["excepted"]) == ("palette", "")


def test_a_caution_of_british_law_needs_a_british_row(scripts, folder):
    evidence, _ = scripts
    line = damage(folder / "cautions.csv", "limited_by", "gb", material="vanillin")
    with pytest.raises(BadTable, match=r"no row \(gb\) for vanillin") as caught:
        evidence.load(folder)
    assert caught.value.line == line


@pytest.fixture
def ruled(scripts):
    """Two limits of `old` and `new`, and the checks of cautions and replacements against them."""
    evidence, _ = scripts

    def limit(line: int, **cells: str) -> Row:
        columns = evidence.EVIDENCE["limits"]
        return Row("limits.csv", line, dict.fromkeys(columns, "") | {"market": "eu; gb"} | cells)

    def check(
        *limits: dict[str, str],
        caution: str = "",
        by: str = "eu",
        note: str | None = None,
        standard: str = "8000-25-7",
    ) -> None:
        slugs = {"old": "98-01-1", "new": "104-55-2", "natural": ""}
        tables = {
            "materials": [
                Row("materials.csv", 2, {"slug": slug, "cas": cas, "cas_more": ""})
                for slug, cas in slugs.items()
            ],
            "standards": [Row("standards.csv", 2, {"cas": standard, "types": "restriction"})],
            "limits": [limit(line, **cells) for line, cells in enumerate(limits, 2)],
            "cautions": [Row("cautions.csv", 2, {"material": "new", "text": caution, "limited_by": by})],
            "relations": [],
        }
        if note is not None:
            relation = {"from": "new", "relation": "replaces", "to": "old", "note": note}
            tables["relations"] = [Row("relations.csv", 2, relation)]
        found = evidence.Evidence(tables)
        rules = evidence.rules_of_materials(found)
        evidence.check_quoted_limits(found, rules)
        evidence.check_replacements(found, rules)

    return check


TIGHT = {"cas": "104-55-2", "kind": "restriction", "cat_4": "0.01", "cat_9": "0.5"}
WIDE = {"cas": "98-01-1", "kind": "restriction", "cat_4": "0.1"}
BARRED = {"cas": "104-55-2", "kind": "prohibition"}


def test_a_caution_that_quotes_a_looser_limit_than_the_lowest_is_named(ruled):
    with pytest.raises(BadTable, match=r"allows 0\.5 %, but new has a limit of 0\.01 %") as caught:
        ruled(TIGHT, caution="At most 0.5 % in European cosmetics.")
    assert (caught.value.file, caught.value.column) == ("cautions.csv", "text")
    with pytest.raises(BadTable, match=r"allows 0\.1 %"):
        ruled(WIDE | {"counted_with": "104-55-2", "cat_4": "0.05"}, caution="At most 0.1 per cent.")


@pytest.mark.parametrize(
    ("caution", "by"),
    [
        ("At most 0.01 % in a fine fragrance and at most 0.5 % in soap.", "any"),
        ("At most 0.5 % in the concentrate.", "standards"),
        ("Limited; look up the figure.", "eu"),
    ],
)
def test_a_caution_passes_that_quotes_the_lowest_limit_or_another_authority_or_none(ruled, caution, by):
    ruled(TIGHT, caution=caution, by=by)


@pytest.mark.parametrize(
    ("limits", "problem"),
    [
        ([TIGHT, WIDE], r"new is more tightly limited \(eu\) than old"),
        ([TIGHT], r"new is more tightly limited \(eu\) than old"),
        ([TIGHT | {"cat_4": "", "cat_9": "", "market": "standards"}], r"limited \(standards\)"),
        ([BARRED, WIDE], r"new is prohibited \(eu\)"),
    ],
)
def test_a_substitute_under_a_tighter_rule_needs_a_note_that_says_so(ruled, limits, problem):
    with pytest.raises(BadTable, match=problem) as caught:
        ruled(*limits, note="softer")
    assert (caught.value.file, caught.value.column) == ("relations.csv", "note")
    ruled(*limits, note="softer; a tighter limit or prohibited")


@pytest.mark.parametrize(
    "limits",
    [
        [],
        [WIDE],
        [TIGHT, WIDE | {"cat_4": "0.01"}],
        [TIGHT, WIDE | {"cat_4": ""}],
        [TIGHT, {"cas": "98-01-1", "kind": "prohibition"}],
        [BARRED | {"excepted": "new"}],
    ],
    ids=["no rule", "old limited", "same limit", "limit of old not known", "old prohibited", "another grade"],
)
def test_a_substitute_under_no_tighter_rule_needs_no_note(ruled, limits):
    ruled(*limits, note="softer")


def test_a_number_of_a_standard_limits_a_substitute_unless_it_is_another_grade(ruled):
    with pytest.raises(BadTable, match=r"new is more tightly limited \(standards\)"):
        ruled(note="softer", standard="104-55-2")
    ruled(BARRED | {"market": "standards", "excepted": "new"}, note="softer", standard="104-55-2")


def test_a_structure_that_does_not_parse_is_named(scripts, folder):
    evidence, structure = scripts
    line = damage(folder / "materials.csv", "smiles", "c1ccccc", slug="benzaldehyde")
    with pytest.raises(BadTable, match="is not a structure") as caught:
        structure.molecules(evidence.load(folder)["materials"])
    assert (caught.value.file, caught.value.line, caught.value.column) == ("materials.csv", line, "smiles")


@pytest.mark.parametrize(
    ("smiles", "side"),
    [
        ("COC(=O)c1ccccc1N", "amine"),  # methyl anthranilate
        ("COC(=O)c1ccccc1NC", ""),  # its N-methyl derivative is no primary amine
        ("O=Cc1ccccc1", "aldehyde"),
        ("CC(C)=CCCC(C)=CC=O", "aldehyde"),
        ("O=COCc1ccccc1", ""),  # a formate
        ("CC(=O)c1ccccc1", ""),
        ("COC(OC)c1ccccc1", ""),  # an acetal
        ("NCCc1ccccc1", ""),  # no aromatic amine
    ],
)
def test_the_side_in_a_schiff_base_follows_from_the_structure(scripts, smiles, side):
    _, structure = scripts
    assert structure.side_of_schiff_base(structure.Chem.MolFromSmiles(smiles)) == side


def test_a_structure_that_does_not_fit_its_cas_number_is_named(scripts, folder):
    evidence, structure = scripts
    line = damage(folder / "materials.csv", "smiles", "CC=O", slug="benzaldehyde")
    rows = [row for row in evidence.load(folder)["materials"] if row["slug"] == "benzaldehyde"]
    # molar mass of acetaldehyde 44.05, of benzaldehyde 106.12 g/mol (PubChem)
    with pytest.raises(BadTable, match=r"44\.05 but 106\.1") as caught:
        structure.check_against_library(rows, structure.molecules(rows))
    assert (caught.value.line, caught.value.column) == (line, "smiles")


@pytest.mark.parametrize(
    ("table", "column"),
    [
        ("materials", "slug"),
        ("facets", "facet"),
        ("labels", "facet"),
        ("practice", "quality"),
        ("sources", "key"),
    ],
)
def test_a_row_that_stands_twice_is_named_with_the_first_one(scripts, folder, table, column):
    evidence, _ = scripts
    path = folder / f"{table}.csv"
    rows = lines_of(path)
    write(path, [*rows, rows[1]])
    with pytest.raises(BadTable, match="is already in line 2") as caught:
        evidence.load(folder)
    assert caught.value.file == f"{table}.csv"
    assert caught.value.line == len(rows) + 1
    assert caught.value.column == column


@pytest.mark.parametrize(
    ("table", "column"), [("labels", "strength"), ("materials", "cas"), ("sources", "key")]
)
def test_a_missing_column_is_named(scripts, folder, table, column):
    evidence, _ = scripts
    path = folder / f"{table}.csv"
    rows = lines_of(path)
    at = rows[0].index(column)
    write(path, [row[:at] + row[at + 1 :] for row in rows])
    with pytest.raises(BadTable, match=f'column "{column}" is missing') as caught:
        evidence.load(folder)
    assert (caught.value.file, caught.value.line) == (f"{table}.csv", 1)


@pytest.mark.parametrize("content", ["", "\n", " \n\n", "\ufeff"])
def test_an_empty_file_is_named(scripts, folder, content):
    evidence, _ = scripts
    (folder / "labels.csv").write_text(content, encoding="utf-8")
    with pytest.raises(BadTable, match="is empty") as caught:
        evidence.load(folder)
    assert caught.value.file == "labels.csv"


def test_a_missing_file_is_named(scripts, folder):
    evidence, _ = scripts
    (folder / "labels.csv").unlink()
    with pytest.raises(BadTable, match="is missing") as caught:
        evidence.load(folder)
    assert caught.value.file == "labels.csv"


def test_a_file_that_is_cut_short_is_named_with_its_last_line(scripts, folder):
    evidence, _ = scripts
    path = folder / "labels.csv"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)[:101]
    path.write_text("".join(lines)[:-5], encoding="utf-8")
    with pytest.raises(BadTable, match="cut short") as caught:
        evidence.load(folder)
    assert (caught.value.file, caught.value.line) == ("labels.csv", 101)


def test_a_file_in_another_encoding_is_named(scripts, folder):
    evidence, _ = scripts
    (folder / "labels.csv").write_bytes("material,facet\nros\xe9,hay\n".encode("latin-1"))
    with pytest.raises(BadTable, match="UTF-8") as caught:
        evidence.load(folder)
    assert caught.value.file == "labels.csv"


def test_a_comma_too_many_is_named(scripts, folder):
    evidence, _ = scripts
    path = folder / "labels.csv"
    rows = lines_of(path)
    rows[4].append("one more")
    write(path, rows)
    with pytest.raises(BadTable, match="6 cells where the header has 5") as caught:
        evidence.load(folder)
    assert (caught.value.file, caught.value.line) == ("labels.csv", 5)


def test_a_prohibition_of_a_standard_needs_its_row_or_an_exception(scripts, folder):
    evidence, _ = scripts
    limits = folder / "limits.csv"
    damage(limits, "kind", "restriction", name="musk xylene", market="standards")
    with pytest.raises(BadTable, match=r"musk-xylene \(81-15-2\) has no prohibition") as caught:
        evidence.load(folder)
    assert (caught.value.file, caught.value.column) == ("standards.csv", "cas")
    damage(limits, "excepted", "musk-xylene", name="musk ambrette", market="standards")
    evidence.load(folder)


def test_materials_are_counted_by_the_types_of_their_standards(scripts):
    evidence, _ = scripts
    standards = [("1-2-3", "restriction"), ("4-5-6; 7-8-9", "restriction; prohibition")]
    materials = [("1-2-3", ""), ("9-9-9", "4-5-6; 7-8-9"), ("8-8-8", "")]
    tables = {
        "standards": [Row("", 1, dict(zip(("cas", "types"), x, strict=True))) for x in standards],
        "materials": [Row("", 1, dict(zip(("cas", "cas_more"), x, strict=True))) for x in materials],
    }
    counts = evidence.standards_matched(evidence.Evidence(tables))
    assert counts == {"restriction": 1, "restriction; prohibition": 1}


def test_a_palette_material_without_a_leading_label_is_named(scripts, folder):
    evidence, _ = scripts
    path = folder / "labels.csv"
    write(path, [row for row in lines_of(path) if row[:1] != ["benzaldehyde"]])
    with pytest.raises(BadTable, match="benzaldehyde has 0 labels") as caught:
        evidence.load(folder)
    assert (caught.value.file, caught.value.column) == ("materials.csv", "slug")


@pytest.fixture
def homologues(monkeypatch):
    """Butanol and pentanol with pressures that a test chooses, and the check of their series."""
    monkeypatch.syspath_prepend(ROOT / "scripts")
    fused, structure = importlib.import_module("fused"), importlib.import_module("structure")
    molecules = {name: structure.Chem.MolFromSmiles(smiles) for name, smiles in ALCOHOLS.items()}

    def check(longer: float, shorter: float, note: str = "") -> None:
        found = Fused(np.array([longer, shorter]), np.array([0.1, 0.1]), {}, np.array([]))
        pressures = fused.Pressures({"pentanol": 0, "butanol": 1}, found, [], {})
        row = Row("volatility.csv", 2, {"material": "pentanol", "note": note})
        fused.check_series(pressures, structure.chain_steps(molecules), [row])

    return check


ALCOHOLS = {"butanol": "CCCCO", "pentanol": "CCCCCO"}


def test_one_ch2_more_and_more_volatile_names_both(homologues):
    with pytest.raises(BadTable, match=r"pentanol is 2\.0 times as volatile as butanol"):
        homologues(0.3, 0.0)


@pytest.mark.parametrize(
    ("longer", "note"), [(-0.5, ""), (0.1, ""), (0.3, "above butanol because it is a mixture")]
)
def test_a_series_in_order_in_the_band_or_with_a_reason_passes(homologues, longer, note):
    homologues(longer, 0.0, note)


def test_homologues_are_one_ch2_of_a_chain_apart(monkeypatch):
    monkeypatch.syspath_prepend(ROOT / "scripts")
    structure = importlib.import_module("structure")
    smiles = {**ALCOHOLS, "toluene": "Cc1ccccc1", "benzene": "c1ccccc1", "isobutanol": "CC(C)CO"}
    molecules = {name: structure.Chem.MolFromSmiles(text) for name, text in smiles.items()}
    assert structure.chain_steps(molecules) == [("pentanol", "butanol")]


def test_a_pair_that_is_met_disagrees_with_nothing(monkeypatch):
    monkeypatch.syspath_prepend(ROOT / "scripts")
    fused = importlib.import_module("fused")
    seen = [
        Observation("class", 0, 2.0),
        Observation("class", 1, 0.0),
        Observation("pair", 0, 0.3, 1, at_least=True),
        Observation("class", 1, 1.5),
    ]
    sources = {"class": Source(fits=()), "pair": Source(fits=())}
    found = fuse(seen, sources, np.zeros(2), np.eye(2))
    assert found.deviations[2] == 0.0
    rows = [
        Row("strength.csv", line, {"material": name, "stronger": name, "weaker": "b"})
        for line, name in enumerate("abab", 2)
    ]
    (worst,) = fused.at_odds(found, list(zip(seen, rows, strict=True)), 1)
    assert worst.startswith("strength.csv 5: b, class: row +1.50, all else +0.")
