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
    found = [rule for rule in material["prohibited"] if "eu" in rule["market"]]
    assert [rule["reference"] for rule in found] == [f"Annex II/{entry}"]
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
    assert {figure for figure in law["percent"].values() if figure} == {0.2}
    assert {"4", "6", "9"} <= law["percent"].keys()


def test_the_absolute_says_that_its_cas_number_is_that_of_the_oil_too(shipped):
    assert any("same CAS number" in caution.text for caution in shipped.find("8024-12-2").cautions)


# The rows of data/limits.csv, read directly: every entry of Annex III with figures that matches a material of
# ours, and its figures [% of the product] in all categories of cosmetics; a category that is not named has
# none. Where a category covers several product types of the entry, the lower figure stands, see the column
# mapping.
DATA = Path(__file__).parents[2] / "data"
with (DATA / "limits.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))
COSMETICS = ("1", "2", "3", "4", "5A", "5B", "5C", "5D", "6", "7A", "7B", "8", "9")
NO_COSMETICS = {"10A", "10B", "11A", "11B", "12"}
RINSED_OFF = ("6", "7A", "9")
BUT_ORAL = tuple(category for category in COSMETICS if category != "6")


def by_use(leave_on, rinse_off, **others):
    """Return figures for leave-on and rinse-off products, and those of categories with another (`c4=2.5`)."""
    found = {c: rinse_off if c in RINSED_OFF else leave_on for c in COSMETICS}
    found |= {name.removeprefix("c"): figure for name, figure in others.items()}
    return {category: figure for category, figure in found.items() if figure is not None}


# a material, entry, figures, categories of cosmetics for which the entry sets no limit
LIMITED = [
    # oral products 0.003; no other use is listed
    ("6-methylcoumarin", "46", {"6": 0.003}, ()),
    # (a) lip 0.11, (b) deodorant 0.032, (c) eye, face make-up 0.65 (masks and wipes: leave-on), (d) fragrance
    # 0.6, (e) leave-on skin 0.15, (f) oral 0.35, (g) hair leave-on 1.2, (h) rinse-off 1.2, (i) anogenital
    # 0.063
    ("citral", "70", by_use(0.15, 1.2, c1=0.11, c2=0.032, c4=0.6, c6=0.35, c7B=1.2, c8=0.063), ()),
    ("hydroxycitronellal", "72", dict.fromkeys(BUT_ORAL, 1.0), ("6",)),
    ("isoeugenol", "73", dict.fromkeys(BUT_ORAL, 0.02), ("6",)),
    # (a) fragrance 4, (b) rinse-off 0.5, (c) shower gel 1.3, (d) leave-on 0.5, (e) hair spray 0.5, (f) body
    # lotion 0.7, (g) face make-up and remover 0.2, (h) oral 0.004, (i) deodorant spray 0.91; lip products are
    # not named
    ("benzyl salicylate", "75", by_use(0.5, 0.5, c1=None, c3=0.2, c4=4.0, c6=0.004), ()),
    ("methyl 2-octynoate", "89", dict.fromkeys(BUT_ORAL, 0.01), ("6",)),
    # fine fragrance 1.0, eau de toilette 0.4, other 0.03; not oral
    ("musk xylene", "96", by_use(0.03, 0.03, c4=1.0, c6=None), ()),
    # fine fragrance 1.4, eau de toilette 0.56, other 0.042; not oral
    ("musk ketone", "97", by_use(0.042, 0.042, c4=1.4, c6=None), ()),
    # fine fragrance 0.01, eau de toilette 0.004, fragrance cream 0.002, other leave-on and oral 0.0002,
    # rinse-off 0.001
    ("methyl eugenol", "102", by_use(0.0002, 0.001, c4=0.01, c6=0.0002), ()),
    ("peru balsam oil", "154", dict.fromkeys(COSMETICS, 0.4), ()),
    ("3-(4-tert-butylphenyl)propanal", "155", dict.fromkeys(COSMETICS, 0.6), ()),
    # leave-on 0.4; rinse-off without a figure
    ("cumin oil", "156", by_use(0.4, None), RINSED_OFF),
    *(
        (ketone, "157", dict.fromkeys(BUT_ORAL, 0.02), ("6",))
        for ketone in ("alpha-damascone", "beta-damascone", "delta-damascone", "beta-damascenone")
    ),
    ("trans-2-hexenal", "166", dict.fromkeys(BUT_ORAL, 0.002), ("6",)),
    ("perillaldehyde", "169", dict.fromkeys(BUT_ORAL, 0.1), ("6",)),
    ("methyl 2-nonynoate", "173", dict.fromkeys(BUT_ORAL, 0.002), ("6",)),
    ("3-propylidenephthalide", "175", dict.fromkeys(BUT_ORAL, 0.01), ("6",)),
    ("styrax resinoid", "180", dict.fromkeys(COSMETICS, 0.6), ()),
    ("styrax resinoid", "181", dict.fromkeys(COSMETICS, 0.6), ()),
    # fine fragrance 2.5, other hydroalcoholic 1, fragrance cream 0.5, other leave-on 0.1, rinse-off 0.2; not
    # oral
    ("AHTN", "182", by_use(0.1, 0.2, c4=2.5, c6=None), ()),
    ("opoponax resinoid", "183", dict.fromkeys(COSMETICS, 0.6), ()),
    ("verbena absolute", "196", dict.fromkeys(COSMETICS, 0.2), ()),
    # leave-on 0.01, rinse-off 0.1
    ("tagetes oil", "308", by_use(0.01, 0.1), ()),
    ("tagetes oil", "309", by_use(0.01, 0.1), ()),
    ("furfural", "312", dict.fromkeys(COSMETICS, 0.001), ()),
    # (a) leave-on 0.06, (b) face make-up 0.05, (c) eye make-up 0.002, (d) hair spray 0.009, (e) deodorant
    # spray 0.003, (f) body lotion spray 0.04, (g) rinse-off 0.06, (h) hand wash 0.6, (i) hydroalcoholic
    # fragrance 0.6, (j) lip 0.03, (k) toothpaste 2.52, (l) mouthwash 6-10 years 0.1, (m) older 0.6, (n) mouth
    # spray 0.65; not for children under 6
    (
        "methyl salicylate",
        "324",
        by_use(0.06, 0.06, c1=0.03, c2=0.003, c3=0.002, c4=0.6, c5A=0.04, c5D=None, c6=0.1, c7B=0.009),
        (),
    ),
    # (a) hydroalcoholic fragrance 2, (b) rinse-off 0.5, (c) leave-on 0.3, (d) and (e) oral 0.001, (f)
    # children 0.1
    ("hexyl salicylate", "380", by_use(0.3, 0.5, c4=2.0, c5D=0.1, c6=0.001), ()),
    # (a) fragrance 0.9, (b) deodorant 0.05, (c) make-up 0.05, (d) leave-on 0.1, (e) rinse-off 0.2
    ("vetiveryl acetate", "382", by_use(0.1, 0.2, c1=0.05, c2=0.05, c3=0.05, c4=0.9), ()),
]
LATER = {
    "citral": "2027-01-01",
    "benzyl salicylate": "2027-01-01",
    "vetiveryl acetate": "2027-01-01",
    "hexyl salicylate": "2026-05-01",
}
"""From when what Regulations (EU) 2026/909 and 2026/78 limit is not placed on the market."""


def cell(row, column):
    return [part for part in row[column].split("; ") if part]


def figures_of(row):
    return {c: float(row[f"cat_{c}"]) for c in (*COSMETICS, *NO_COSMETICS) if row[f"cat_{c}"]}


def rows_of(material, catalogue, kind="restriction", market="eu", reference=None):
    """Return the rows of the table that cover a material by name."""
    own = catalogue.find(material)
    return [
        row
        for row in ROWS
        if row["kind"] == kind
        and market in cell(row, "market")
        and reference in (None, row["reference"])
        and (own.slug in cell(row, "materials") or {*own.cas_all} & {*cell(row, "cas")})
        and own.slug not in cell(row, "excepted")
    ]


@pytest.mark.parametrize(("name", "entry", "figures", "unlimited"), LIMITED)
def test_what_annex_iii_limits_has_its_figures(shipped, name, entry, figures, unlimited):
    rows = rows_of(name, shipped, reference=f"Annex III/{entry}")
    (row,) = [row for row in rows if not row["applies_until"]]
    assert (row["basis"], row["source"]) == ("published", "eu-cosmetic-annexes-2026-08-28")
    assert figures_of(row) == figures
    assert {*cell(row, "unlimited")} == NO_COSMETICS | {*unlimited}
    assert row["mapping"]
    assert row["applies_from"] == LATER.get(name, "")


@pytest.mark.parametrize("name", ["citral", "benzyl salicylate"])
def test_what_is_limited_from_2027_is_on_the_label_alone_until_then(shipped, name):
    (row,) = [row for row in rows_of(name, shipped) if row["applies_until"]]
    assert (row["applies_until"], figures_of(row)) == ("2027-01-01", {})
    assert {*cell(row, "unlimited")} == {*COSMETICS} | NO_COSMETICS


@pytest.mark.parametrize("name", dict.fromkeys(name for name, _, _, _ in LIMITED))
def test_no_other_entry_of_annex_iii_limits_it(shipped, name):
    known = {f"Annex III/{entry}" for material, entry, _, _ in LIMITED if material == name}
    assert {row["reference"] for row in rows_of(name, shipped)} == known


def test_methyl_n_methylanthranilate_has_its_figures():
    # Annex III/323: leave-on 0.1, rinse-off 0.2
    (row,) = [x for x in ROWS if x["reference"] == "Annex III/323"]
    assert (cell(row, "cas"), figures_of(row)) == (["85-91-6"], by_use(0.1, 0.2))


def test_the_antioxidant_of_many_materials_has_its_figures():
    # Annex III/325: mouthwash 0.001, toothpaste 0.1, other leave-on and rinse-off products 0.8
    (row,) = [x for x in ROWS if x["reference"] == "Annex III/325"]
    assert (cell(row, "cas"), figures_of(row)) == (["128-37-0"], by_use(0.8, 0.8, c6=0.001))


# Great Britain: S.I. 2025/413 (methyl salicylate: as the European entry, but for children of 6 to 12 months
# 0.02, toothpaste 2.5, mouthwash from 10 years 0.4) and S.I. 2023/764, replaced by 2023/836 (leave-on 0.1,
# rinse-off 0.2)
@pytest.mark.parametrize(
    ("cas", "entry", "figures", "day"),
    [
        (
            "119-36-8",
            "324",
            by_use(0.06, 0.06, c1=0.03, c2=0.003, c3=0.002, c4=0.6, c5A=0.04, c5D=0.02, c6=0.1, c7B=0.009),
            "2025-10-01",
        ),
        ("85-91-6", "321", by_use(0.1, 0.2), "2024-07-06"),
    ],
)
def test_what_a_british_instrument_limits_has_its_figures(cas, entry, figures, day):
    (row,) = [x for x in ROWS if cas in cell(x, "cas") and cell(x, "market") == ["gb"]]
    assert (row["reference"], row["basis"], row["applies_from"]) == (f"Annex III/{entry}", "published", day)
    assert figures_of(row) == figures


def test_an_act_of_2021_or_later_is_not_british_law_unread():
    with (DATA / "annexes.csv").open(encoding="utf-8", newline="") as table:
        acts = {f"Annex {x['annex']}/{x['entry']}": x["regulation"] for x in csv.DictReader(table)}
    for row in ROWS:
        if cell(row, "market") == ["eu", "gb"]:
            assert int(acts[row["reference"]][5:9]) <= 2020, row["name"]
        if cell(row, "market") == ["gb"]:
            assert row["basis"] == "memory" or row["source"].startswith("uk-"), row["name"]


# Annex II: a material of ours and its entry; all of them but the last two are British law too
BANNED = {
    "nitrobenzene": "249",
    "safrole": "360",
    "musk ambrette": "414",
    "moskene": "421",
    "musk tibetene": "422",
    "elecampane oil": "423",
    "dihydrocoumarin": "427",
    "fig leaf absolute": "436",
    "7-methylcoumarin": "446",
    "verbena oil": "450",
    "isophorone": "1101",
    "costus root oil": "1133",
    "peru balsam": "1136",
    "hydroxyisohexyl 3-cyclohexene carboxaldehyde": "1380",
    "atranol": "1381",
    "chloroatranol": "1382",
    "geranonitrile": "1638",
    "butylphenyl methylpropional": "1666",
    "benzophenone": "1703",
}


@pytest.mark.parametrize(("name", "entry"), BANNED.items())
def test_what_annex_ii_prohibits_has_its_row(shipped, name, entry):
    (row,) = rows_of(name, shipped, "prohibition")
    assert (row["reference"], row["basis"]) == (f"Annex II/{entry}", "published")
    (british,) = rows_of(name, shipped, "prohibition", "gb")
    assert (row is british) == (entry not in ("1666", "1703"))


@pytest.mark.parametrize("name", ["peru balsam oil", "verbena absolute", "laurel leaf oil"])
def test_a_grade_that_shares_its_number_with_a_prohibited_one_is_not_prohibited(shipped, name):
    assert rows_of(name, shipped, "prohibition") == []


# peroxide value of limonene below 20 mmol/L, of the others below 10; free allyl alcohol below 0.1 %
SHOWN = {
    "limonene": ("88", "20 mmol/L"),
    "r-limonene": ("88", "20 mmol/L"),
    "siberian-fir-needle-oil": ("106", "10 mmol/L"),
    "fir-balsam-absolute": ("107", "10 mmol/L"),
    "pinus-mugo-oil": ("109", "10 mmol/L"),
    "pine-needle-oil": ("110", "10 mmol/L"),
    "pinus-pumila-oil": ("114", "10 mmol/L"),
    "3-carene": ("121", "10 mmol/L"),
    "cedarwood-oil-atlas": ("122", "10 mmol/L"),
    "cypress-oil": ("123", "10 mmol/L"),
    "turpentine": ("124", "10 mmol/L"),
    "alpha-terpinene": ("131", "10 mmol/L"),
    "gamma-terpinene": ("132", "10 mmol/L"),
    "terpinolene": ("133", "10 mmol/L"),
    "allyl-cyclohexylpropionate": ("138", "0.1 %"),
    "allyl-heptanoate": ("139", "0.1 %"),
    "allyl-hexanoate": ("140", "0.1 %"),
    "allyl-phenoxyacetate": ("143", "0.1 %"),
    "alpha-pinene": ("371", "10 mmol/L"),
    "beta-pinene": ("371", "10 mmol/L"),
}


@pytest.mark.parametrize(("slug", "entry", "figure"), [(n, *shown) for n, shown in SHOWN.items()])
def test_a_condition_is_written_down(shipped, slug, entry, figure):
    (row,) = rows_of(slug, shipped, "specification")
    assert row["reference"] == f"Annex III/{entry}"
    assert figure in row["condition"]


def test_both_entries_of_an_ester_of_two_pentyl_alcohols_have_their_condition(shipped):
    rows = rows_of("allyl amyl glycolate", shipped, "specification")
    assert [row["reference"] for row in rows] == ["Annex III/147", "Annex III/148"]


IN_PERFUME = dict.fromkeys((name, figures["4"]) for name, _, figures, _ in LIMITED if "4" in figures)


@pytest.mark.parametrize(("name", "percent"), IN_PERFUME)
def test_an_amount_in_fine_perfume_is_held_against_annex_iii(shipped, name, percent):
    own, ethanol = shipped.find(name), shipped.find("ethanol")
    used = {}
    for part in (1.02, 0.98):
        share = part * percent / 100.0
        present = [Amount(own, share), Amount(ethanol, 1.0 - share)]
        found = check(present, shipped, 100.0, "4", "eu", on="2028-08-01")
        row = next(row for row in found.rows if row.substance.key == own.slug)
        law = {(a.percent, round(a.ratio(100.0), 2)) for a in row.applied if "eu" in a.limit.market}
        assert part < 1 or row.status == "above the limit held"
        (used[part],) = law
    assert used == {part: (percent, part) for part in (1.02, 0.98)}


@pytest.mark.parametrize("name", ["citral", "benzyl salicylate", "vetiveryl acetate"])
def test_a_limit_that_is_still_to_apply_says_from_when(shipped, name, tmp_path):
    # Regulation (EU) 2026/909: not placed on the market from 1 January 2027
    path = tmp_path / "f.csv"
    path.write_text(f"material,parts\n{name},50\nethanol,950\n")
    words = ("check", str(path), "--dosage", "100", "--category", "4", "--market", "eu", "--on")
    done = run(*words, "2027-02-01")
    assert (done.status, "applies from 2027-01-01" in " ".join(done.out.split())) == (1, True)
    before, after = (run(*words, on, "--format", "json").json for on in ("2026-12-31", "2027-01-01"))
    (row,) = [row for row in after["rows"] if row["name"] == name]
    assert row["status"] == "above the limit held"
    limits = [x["applies_from"] for x in row["limits"] if x["decides"] and "eu" in x["market"]]
    assert limits == ["2027-01-01"]
    assert [row["status"] for row in before["rows"] if row["name"] == name] != ["above the limit held"]
    (change,) = [x for x in before["later"] if name in x["names"]]
    assert (change["from"], change["above"], after["later"]) == ("2027-01-01", True, [])
    assert any("From 2027-01-01" in note and "already above" in note for note in before["notes"])
    assert "applies from 2027-01-01" in run("limits", name).out
    assert "applies from 2027-01-01" in run("material", name).out


def test_methyl_nonynoate_counts_together_with_methyl_octynoate(shipped):
    # Annex III/89 and 173: in total 0.01 %, of which methyl octine carbonate at most 0.002 %
    (octynoate,) = rows_of("methyl 2-octynoate", shipped)
    assert octynoate["counted_with"] == "111-80-8"


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
            assert next(row for row in rows if row.substance.key == slug).status != "no entry found"
