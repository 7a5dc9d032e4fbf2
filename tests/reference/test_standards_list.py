"""The industry Standards by name, CAS number, type and amendment, and what limits.csv makes of them.

Source of every fact: the association's list of the Standards in force, May 2024, which has no figures.
"""

import csv
import re
from collections import Counter
from pathlib import Path

import pytest
from command_line import run

from recommender.model import Amount
from recommender.regulation import check, prohibitions

DATA = Path(__file__).parents[2] / "data"


def rows_of(table):
    with (DATA / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def listed(row, column):
    return {x for x in row[column].split("; ") if x}


STANDARDS = rows_of("standards")
BY_CAS = {cas: row for row in STANDARDS for cas in listed(row, "cas")}
RULES = [row for row in rows_of("limits") if row["market"] == "standards"]


def test_the_list_is_whole():
    assert len(STANDARDS) == 263
    assert Counter(row["types"] for row in STANDARDS) == {
        "restriction": 156,
        "prohibition": 68,
        "restriction; specification": 11,
        "specification": 10,
        "restriction; prohibition": 8,
        "prohibition; specification": 8,
        "restriction; prohibition; specification": 2,
    }
    amendments = Counter(row["amendment"] for row in STANDARDS)
    assert (amendments["49"], amendments["51"], amendments["50"]) == (116, 59, 1)
    assert {row["name"] for row in STANDARDS if not row["cas"]} == {
        "allyl esters",
        "Pinaceae derivatives",
        "citrus oils and other essential oils with furocoumarins",
    }


@pytest.mark.parametrize(
    ("cas", "types", "amendment"),
    [
        ("93-15-2", "restriction", "51"),  # methyl eugenol
        ("140-67-0", "restriction", "51"),  # estragole
        ("97-53-0", "restriction", "51"),  # eugenol
        ("106-24-1", "restriction", "51"),  # geraniol
        ("107-75-5", "restriction", "51"),  # hydroxycitronellal
        ("119-84-6", "restriction", "51"),  # dihydrocoumarin
        ("98-01-1", "restriction", "49"),  # furfural
        ("3658-77-3", "restriction", "49"),  # 4-hydroxy-2,5-dimethyl-3(2H)-furanone
        ("27538-10-9", "restriction", "51"),  # 2-ethyl-4-hydroxy-5-methyl-3(2H)-furanone
        ("91-64-5", "restriction", "49"),  # coumarin
        ("90028-67-4", "restriction; specification", "49"),  # treemoss
        ("8007-75-8", "restriction", "49"),  # bergamot oil expressed
        ("13341-72-5", "prohibition", "50"),  # mintlactone
        ("10599-70-9", "prohibition", "51"),  # 3-acetyl-2,5-dimethylfuran
        ("98-00-0", "prohibition", "48"),  # furfuryl alcohol
        ("90131-43-4", "restriction; prohibition; specification", "49"),  # Tagetes erecta
    ],
)
def test_a_standard_has_its_type_and_amendment(cas, types, amendment):
    assert (BY_CAS[cas]["types"], BY_CAS[cas]["amendment"]) == (types, amendment)


@pytest.mark.parametrize(
    "cas",
    [
        "120-57-0",  # heliotropin
        "121-33-5",  # vanillin
        "121-32-4",  # ethyl vanillin
        "118-71-8",  # maltol
        "4940-11-8",  # ethyl maltol
        "7786-61-0",  # 2-methoxy-4-vinylphenol
        "14667-55-1",  # trimethylpyrazine
        "123-32-0",  # 2,5-dimethylpyrazine
        "24683-00-9",  # 2-isobutyl-3-methoxypyrazine
        "24168-70-5",  # 2-sec-butyl-3-methoxypyrazine
    ],
)
def test_what_has_no_standard_is_not_in_the_list(cas):
    assert cas not in BY_CAS
    assert not [row for row in RULES if cas in listed(row, "cas")]


# a row of limits, and the CAS numbers that its Standard names
COVERED = {
    "isoeugenol": "97-54-1; 5932-68-3",
    "cinnamic aldehyde": "104-55-2",
    "citronellol": "106-22-9; 1117-61-9; 26489-01-0; 6812-78-8; 141-25-3; 7540-51-4",
    "jasmine absolute (grandiflorum)": "8022-96-6; 8024-43-9; 90045-94-6; 84776-64-7",
    "methyl ionones, mixed isomers": (
        "1335-46-2; 127-42-4; 127-43-5; 127-51-5; 7779-30-8; 79-89-0; 1335-94-0"
    ),
    "tagetes oil and absolute (minuta and patula)": "8016-84-0; 91722-29-1; 91770-75-1",
    "tagetes oil and absolute (erecta)": "90131-43-4",
    "lime oil, expressed": "8008-26-2; 90063-52-8",
}


@pytest.mark.parametrize("name", COVERED)
def test_a_row_covers_what_its_standard_names(name):
    (row,) = [row for row in RULES if row["name"] == name]
    assert listed(row, "cas") == {*COVERED[name].split("; ")}


def test_rose_ketones_are_sixteen_numbers():
    (row,) = [row for row in RULES if row["name"].startswith("rose ketones")]
    assert len(listed(row, "cas")) == 16
    assert all(BY_CAS[cas]["name"] == "rose ketones" for cas in listed(row, "cas"))


def test_no_row_covers_a_number_that_no_standard_names():
    # the Schiff base of hydroxycitronellal is counted towards the Standard of the aldehyde
    assert {cas for row in RULES for cas in listed(row, "cas")} - {*BY_CAS} == {"89-43-0"}


def test_no_figure_is_of_a_later_amendment_than_the_list_has():
    for row in RULES:
        amendment = int(re.match(r"\d+", row["reference"])[0])
        for cas in listed(row, "cas") & {*BY_CAS}:
            assert amendment <= int(BY_CAS[cas]["amendment"]), (row["name"], cas)


def test_a_prohibition_is_what_a_standard_prohibits():
    for row in RULES:
        if row["kind"] == "prohibition":
            kinds = {kind for cas in listed(row, "cas") for kind in listed(BY_CAS[cas], "types")}
            assert "prohibition" in kinds, row["name"]


def test_what_a_standard_prohibits_is_never_one_of_the_palette(shipped):
    found = [m for m in shipped.materials if prohibitions(m, shipped.limits, "standards")]
    assert {"2-4-decadienal", "massoia-lactone", "musk-xylene", "6-methylcoumarin"} <= {m.slug for m in found}
    assert not [m.slug for m in found if m.role == "palette"]
    only = {cas for cas, row in BY_CAS.items() if row["types"] == "prohibition"}
    barred = {m.slug for m in shipped.materials if only.intersection(m.cas_all)}
    assert len(barred) >= 14
    assert barred <= {m.slug for m in found}


# materials whose number a Standard of several types names: another grade is prohibited
@pytest.mark.parametrize(
    "name", ["styrax resinoid", "cade oil", "birch tar rectified", "verbena absolute", "tagetes oil"]
)
def test_an_allowed_grade_of_a_partly_prohibited_natural_is_not_prohibited(shipped, name):
    own = shipped.find(name)
    assert any("prohibition" in BY_CAS[cas]["types"] for cas in own.cas_all if cas in BY_CAS)
    assert prohibitions(own, shipped.limits, "standards") == ()


EXPRESSED = [
    *("bergamot oil", "bitter orange oil", "grapefruit oil", "lemon oil", "lime oil expressed"),
    *("angelica root oil", "cumin oil", "tagetes oil"),
]


def phototoxic(material, shipped):
    found = check([Amount(material, 0.1), Amount(shipped.find("ethanol"), 0.9)], shipped, 100.0, "4", "any")
    return [use for row in found.rows for use in row.applied if use.limit.sum_group == "phototoxic"]


@pytest.mark.parametrize("name", EXPRESSED)
def test_an_expressed_oil_has_the_phototoxic_limit(shipped, name):
    rules = [x for cas in shipped.find(name).cas_all for x in shipped.limits_by_key.get(cas, ())]
    assert any(x.sum_group == "phototoxic" and x.percent for x in rules)


@pytest.mark.parametrize(
    "name",
    [
        *("bergamot oil furocoumarin-free", "bergapten-free bergamot oil"),
        *("lime oil distilled", "90063-52-8", "petitgrain oil", "neroli oil", "sweet orange oil"),
    ],
)
def test_an_oil_without_furocoumarins_has_not(shipped, name):
    assert phototoxic(shipped.find(name), shipped) == []


def test_bergamot_oil_without_furocoumarins_is_labelled_as_bergamot_oil(shipped):
    own = shipped.find("bergamot oil furocoumarin-free")
    found = check([Amount(own, 0.1), Amount(shipped.find("ethanol"), 0.9)], shipped, 100.0, "4", "eu")
    names = {label.allergen.name for label in found.labels}
    assert "Citrus Aurantium Bergamia Peel Oil" in names


def test_bergamot_oil_without_furocoumarins_replaces_the_pressed_one():
    done = run("replace", "bergamot oil", "--because", "law", "--format", "json")
    assert "bergamot oil furocoumarin-free" in [s["name"] for s in done.json["suggestions"][:3]]
