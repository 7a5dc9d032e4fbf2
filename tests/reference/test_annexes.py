"""What European cosmetics law prohibits and limits, against the entries of its annexes.

Source of every entry number and figure: Regulation (EC) No 1223/2009, Annexes II (prohibited) and III
(restricted), as of 28 August 2026.
"""

import csv
import re
from pathlib import Path

import pytest
from command_line import run

from recommender.model import Amount
from recommender.regulation import check, prohibitions

# a name or CAS number, the entry of Annex II, a material close to it in smell
PROHIBITED = [
    ("benzophenone", "1703", "diphenylmethane"),
    ("119-61-9", "1703", "diphenyl oxide"),
    ("diphenyl ketone", "1703", "geranium oil"),
    ("musk tibetene", "422", "musk ketone"),
    ("145-39-1", "422", "musk ketone"),
    ("musk thibetene", "422", "musk ketone"),
    ("moskene", "421", "musk ketone"),
    ("116-66-5", "421", "musk ketone"),
    ("nitrobenzene", "249", "benzaldehyde"),
    ("98-95-3", "249", "benzaldehyde"),
    ("oil of mirbane", "249", "benzaldehyde"),
    ("geranonitrile", "1638", "citronellyl nitrile"),
    ("5146-66-7", "1638", "citral"),
    ("5585-39-7", "1638", "citral"),  # the (E) isomer
    ("31983-27-4", "1638", "citral"),  # the (Z) isomer
    ("isophorone", "1101", "camphor"),
    ("78-59-1", "1101", "camphor"),
    ("verbena oil", "450", "lemongrass oil"),
]


@pytest.mark.parametrize(("asked", "entry", "kin"), PROHIBITED)
def test_what_annex_ii_names_is_known_as_prohibited(shipped, asked, entry, kin):
    material = run("material", asked, "--market", "eu", "--format", "json").json
    found = [rule for rule in material["prohibited"] if rule["market"] == "eu"]
    assert [rule["reference"] for rule in found] == [f"EU Annex II/{entry}"]
    assert [rule["basis"] for rule in found] == ["published"]
    assert prohibitions(shipped.find(asked), shipped.limits, "any")
    assert prohibitions(shipped.find(asked), shipped.limits, "eu")


@pytest.mark.parametrize("verb", [("extend",), ("replace",), ("vary", "--toward", "geranium")])
@pytest.mark.parametrize("kin", sorted({kin for _, _, kin in PROHIBITED}))
def test_what_annex_ii_names_is_not_offered(shipped, verb, kin):
    done = run(verb[0], kin, *verb[1:], "--top", "200", "--market", "eu", "--format", "json")
    names = {s["name"] for s in done.json["suggestions"]}
    assert names
    assert not names & {shipped.find(asked).name for asked, _, _ in PROHIBITED}


def test_verbena_absolute_is_limited_and_the_oil_is_prohibited(shipped):
    # Annex II/450 names the oils "and derivatives other than absolute"; Annex III/196: absolute 0.2 %
    absolute = shipped.find("verbena absolute")
    assert prohibitions(shipped.find("verbena oil"), shipped.limits, "eu")
    assert prohibitions(absolute, shipped.limits, "any") == ()
    assert not prohibitions(absolute, shipped.limits, "eu")
    limits = run("material", "verbena absolute", "--format", "json").json["limits"]
    (law,) = [rule for rule in limits if rule["market"] == "eu"]
    assert set(law["percent"].values()) == {0.2}
    assert {"4", "6", "9"} <= law["percent"].keys()


def test_the_absolute_says_that_its_cas_number_is_that_of_the_oil_too(shipped):
    assert any("same CAS number" in caution.text for caution in shipped.find("8024-12-2").cautions)


# Annex III: a material of ours, the entry, and its figures [% of the product] by category. Fine perfume is
# category 4; where a category covers several product types of the entry, the lowest figure stands.
BUT_ORAL = ("1", "2", "3", "4", "5A", "5B", "5C", "5D", "7A", "7B", "8", "9")
LIMITED = [
    # (a) lip 0.11, (b) deodorant 0.032, (c) eye and face make-up 0.65, (d) fragrance 0.6, (e) leave-on skin
    # 0.15, (f) oral 0.35, (g) hair leave-on 1.2, (h) rinse-off 1.2, (i) anogenital 0.063
    (
        "citral",
        "70",
        {"1": 0.11, "2": 0.032, "4": 0.6, "5A": 0.15, "6": 0.35, "7B": 1.2, "8": 0.063, "9": 1.2},
    ),
    # (a) fragrance 4, (b) rinse-off 0.5, (d) leave-on 0.5, (g) face make-up 0.2, (h) oral 0.004
    ("benzyl salicylate", "75", {"3": 0.2, "4": 4.0, "5B": 0.5, "6": 0.004, "7A": 0.5, "7B": 0.5}),
    # (a) hydroalcoholic fragrance 2, (b) rinse-off 0.5, (c) leave-on 0.3, (d) oral 0.001, (f) children 0.1
    ("hexyl salicylate", "380", {"4": 2.0, "5A": 0.3, "5D": 0.1, "6": 0.001, "7A": 0.5, "9": 0.5}),
    # (a) leave-on skin 0.06, (e) deodorant spray 0.003, (f) body lotion spray 0.04, (g) rinse-off 0.06,
    # (i) hydroalcoholic fragrance 0.6, (j) lip 0.03
    ("methyl salicylate", "324", {"1": 0.03, "2": 0.003, "4": 0.6, "5A": 0.04, "5B": 0.06, "7A": 0.06}),
    ("trans-2-hexenal", "166", dict.fromkeys(BUT_ORAL, 0.002)),
    ("methyl 2-nonynoate", "173", dict.fromkeys(BUT_ORAL, 0.002)),
    ("perillaldehyde", "169", dict.fromkeys(BUT_ORAL, 0.1)),
    # fine fragrance 2.5, leave-on 0.1, rinse-off 0.2
    ("AHTN", "182", {"4": 2.5, "5A": 0.1, "7B": 0.1, "9": 0.2}),
    ("3-(4-tert-butylphenyl)propanal", "155", dict.fromkeys((*BUT_ORAL, "6"), 0.6)),
    ("styrax resinoid", "180", dict.fromkeys((*BUT_ORAL, "6"), 0.6)),
    ("opoponax resinoid", "183", dict.fromkeys((*BUT_ORAL, "6"), 0.6)),
    ("cumin oil", "156", {"4": 0.4, "5A": 0.4, "7B": 0.4}),
    ("furfural", "312", dict.fromkeys((*BUT_ORAL, "6"), 0.001)),
    ("vetiveryl acetate", "382", {"2": 0.05, "4": 0.9, "5A": 0.1, "9": 0.2}),
    ("musk ketone", "97", {"4": 1.4, "5A": 0.042, "7B": 0.042, "9": 0.042}),
    ("musk xylene", "96", {"4": 1.0, "5A": 0.03, "7B": 0.03, "9": 0.03}),
    ("methyl eugenol", "102", {"4": 0.01, "5A": 0.0002, "6": 0.0002, "7A": 0.001, "9": 0.001}),
    ("tagetes oil", "308", {"2": 0.01, "4": 0.01, "7B": 0.01, "7A": 0.1, "9": 0.1}),
]


def law(material, catalogue):
    """Return the limits by European law on a material by name, whatever they cover beside it."""
    own = catalogue.find(material)
    keys = (own.slug, *own.cas_all)
    found = {id(x): x for key in keys for x in catalogue.limits_by_key.get(key, ())}
    return [x for x in found.values() if (x.market, x.kind) == ("eu", "restriction")]


@pytest.mark.parametrize(("name", "entry", "figures"), LIMITED)
def test_what_annex_iii_limits_has_its_figures(shipped, name, entry, figures):
    (limit,) = law(name, shipped)
    assert limit.reference.startswith("EU Annex III/")
    assert entry in limit.reference.removeprefix("EU Annex III/").split(", ")
    assert limit.basis == "published"
    assert {category: limit.percent.get(category) for category in figures} == figures


@pytest.mark.parametrize(("name", "entry", "figures"), LIMITED)
def test_an_amount_in_fine_perfume_is_held_against_annex_iii(shipped, name, entry, figures):
    own, ethanol = shipped.find(name), shipped.find("ethanol")
    used = {}
    for part in (1.02, 0.98):
        share = part * figures["4"] / 100.0
        found = check([Amount(own, share), Amount(ethanol, 1.0 - share)], shipped, 100.0, "4", "eu")
        row = next(row for row in found.rows if row.substance.key == own.slug)
        (applied,) = [a for a in row.applied if a.limit.market == "eu"]
        used[part] = (applied.percent, round(applied.ratio(100.0), 2))
        assert part < 1 or row.status == "above the limit held"
    assert used == {part: (figures["4"], part) for part in (1.02, 0.98)}


def test_methyl_n_methylanthranilate_has_its_figures(shipped):
    # Annex III/323: leave-on 0.1, rinse-off 0.2
    (limit,) = [x for x in shipped.limits_by_key["85-91-6"] if x.market == "eu"]
    assert set(limit.percent.items()) == {(c, 0.2 if c in ("7A", "9") else 0.1) for c in BUT_ORAL}


@pytest.mark.parametrize("name", ["citral", "benzyl salicylate", "vetiveryl acetate"])
def test_a_limit_that_is_still_to_apply_says_from_when(shipped, name, tmp_path):
    # Regulation (EU) 2026/909: not placed on the market from 1 January 2027
    path = tmp_path / "f.csv"
    path.write_text(f"material,parts\n{name},50\nethanol,950\n")
    done = run("check", str(path), "--dosage", "100", "--category", "4", "--market", "eu")
    assert (done.status, "applies from 2027-01-01" in " ".join(done.out.split())) == (1, True)
    data = run("check", str(path), "--dosage", "100", "--market", "eu", "--format", "json").json
    (row,) = [row for row in data["rows"] if row["name"] == name]
    assert row["status"] == "above the limit held"
    assert [x["applies_from"] for x in row["limits"] if x["market"] == "eu"] == ["2027-01-01"]
    assert "applies from 2027-01-01" in run("limits", name).out
    assert "applies from 2027-01-01" in run("material", name).out


def test_methyl_nonynoate_counts_together_with_methyl_octynoate(shipped):
    # Annex III/89 and 173: in total 0.01 %, of which methyl octine carbonate at most 0.002 %
    (octynoate,) = law("methyl 2-octynoate", shipped)
    assert "111-80-8" in octynoate.counted_with


def test_the_free_allyl_alcohol_of_an_ester_is_a_condition(shipped):
    # Annex III/140: below 0.1 %
    found = check([Amount(shipped.find("allyl hexanoate"), 1.0)], shipped, 1.0, "4", "eu")
    assert [row.status for row in found.rows] == ["condition to be shown"]
    assert found.findings


def test_products_for_small_children_have_no_figure_for_methyl_salicylate(shipped):
    # Annex III/324: not to be used in preparations for children under 6 years
    found = check([Amount(shipped.find("methyl salicylate"), 1.0)], shipped, 0.01, "5D", "eu")
    assert [row.status for row in found.rows] == ["restricted, figure to be looked up"]


def test_cosmetics_law_asks_for_no_figure_where_the_product_is_no_cosmetic(shipped):
    found = check([Amount(shipped.find("AHTN"), 1.0)], shipped, 1.0, "12", "eu")
    assert not any(x.market == "eu" for row in found.rows for x in row.open_limits)


@pytest.mark.parametrize("market", ["eu", "standards", "any"])
def test_a_prohibited_and_two_limited_materials_are_found(tmp_path, market):
    # Annex II/422; Annex III/324 and 166; the Standards prohibit musk tibetene and restrict trans-2-hexenal
    path = tmp_path / "f.csv"
    path.write_text("material,parts\nmethyl salicylate,90\nmusk tibetene,5\ntrans-2-hexenal,5\n")
    done = run("check", str(path), "--dosage", "20", "--market", market, "--format", "json")
    said = {row["name"]: row["status"] for row in done.json["rows"]}
    assert done.status == 1
    assert said["musk tibetene"] == "prohibited"
    if market == "standards":
        assert said["trans-2-hexenal"] == "restricted, figure to be looked up"
    else:
        assert {said["methyl salicylate"], said["trans-2-hexenal"]} == {"above the limit held"}


# every caution that speaks of a limit, a restriction or a prohibition has to be found by the check

DATA = Path(__file__).parents[2] / "data"
SPEAKS = re.compile(r"limit|restrict|prohibit|\bban|Standard|Annex")
with (DATA / "cautions.csv").open(encoding="utf-8", newline="") as file:
    CAUTIONS = [row for row in csv.DictReader(file) if SPEAKS.search(row["text"])]


def test_the_cautions_of_a_limit_are_many_and_few_are_of_something_else():
    elsewhere = {row["material"] for row in CAUTIONS if row["limited_by"] == "elsewhere"}
    # food law and trade in animal products: no limit in a cosmetic product
    assert elsewhere == {"pulegone", "ambergris"}
    assert len(CAUTIONS) > 80
    assert all(row["limited_by"] for row in CAUTIONS)


@pytest.mark.parametrize("slug", sorted({r["material"] for r in CAUTIONS if r["limited_by"] != "elsewhere"}))
def test_no_caution_of_a_limit_ends_in_a_check_without_a_finding(shipped, slug):
    own = shipped.by_slug(slug)
    for row in (row for row in CAUTIONS if row["material"] == slug):
        for by in {*row["limited_by"].split("; ")} - {"elsewhere"}:
            found = check([Amount(own, 1.0)], shipped, 20.0, "4", by)
            assert found.findings, (by, row["text"])


def test_a_limit_without_a_figure_is_never_called_no_limit(shipped):
    for slug in {row["material"] for row in CAUTIONS if row["limited_by"] != "elsewhere"}:
        own = shipped.by_slug(slug)
        rows = check([Amount(own, 1.0)], shipped, 20.0, "4").rows
        entries = [x for x in shipped.limits if {*own.cas_all} & {*x.cas}]
        if any(slug not in x.excepted for x in entries):
            assert next(row for row in rows if row.substance.key == slug).status != "no limit held"
