"""Suggestions under limits: what is not offered, what bounds a dose, what the line says."""

from dataclasses import replace
from pathlib import Path

import pytest
from command_line import run
from hypothesis import given
from hypothesis import strategies as st

from recommender import api, regulation
from recommender.evidence.catalogue import load
from recommender.formulas import comparison
from recommender.formulas.formula import amounts, read
from recommender.model import Amount
from recommender.palette import shipped as shipped_palette
from recommender.regulation import ProductUse, check
from recommender.regulation import headroom as room

ROOT = Path(__file__).resolve().parent.parent
MORELLO = str(ROOT / "data" / "demo" / "morello.csv")
SHIPPED = load()


def reasons_by_name(answer, kind):
    return {s["name"]: [r for r in s["reasons"] if r["kind"] == kind] for s in answer["suggestions"]}


# offers


@pytest.mark.parametrize("verb", ["extend", "replace"])
@pytest.mark.parametrize(
    ("name", "source"),
    [
        # Regulation (EC) No 1223/2009, Annex II, entries 427 and 446; the Standards, 40th amendment
        ("dihydrocoumarin", "Annex II/427"),
        ("7-methylcoumarin", "Annex II/446"),
        ("6-methylcoumarin", "40 (2006)"),
    ],
)
def test_the_coumarins_that_smell_close_are_barred_with_the_source(verb, name, source):
    done = run(verb, "coumarin", "--top", "60", "--why-not", name)
    assert done.status == 0
    assert not any(line.strip().split("  ")[0].endswith(f". {name}") for line in done.out.splitlines())
    notes = done.err.splitlines()
    found = [line for line in notes if f"{name} is prohibited" in line and source in line]
    assert found
    assert all(note.startswith("note: ") for note in found)


@pytest.mark.parametrize(("market", "expected"), [("eu", True), ("any", True), ("standards", False)])
def test_the_market_decides_who_prohibits(market, expected):
    # the 47th Amendment of the Standards moved dihydrocoumarin from prohibited to restricted
    done = run("replace", "coumarin", "--market", market, "--why-not", "dihydrocoumarin")
    assert ("dihydrocoumarin is prohibited" in done.err) is expected


def test_why_not_is_answered_in_a_formula_too():
    done = run("extend", MORELLO, "--top", "1", "--why-not", "dihydrocoumarin")
    assert "dihydrocoumarin is prohibited" in done.err


# labels


@pytest.mark.parametrize(
    "arguments",
    [
        ("extend", "benzaldehyde", "--facet", "almond"),
        ("replace", "coumarin"),
        ("replace", "coumarin", "--blend", "2"),
        ("vary", "vanillin", "--toward", "chocolate"),
        ("extend", MORELLO),
        ("replace", "eugenol", "--in", MORELLO),
    ],
)
def test_without_label_allergens_none_comes_neat_or_hidden(arguments):
    answer = run(*arguments, "--no-label-allergens", "--top", "40", "--format", "json").json
    assert answer["suggestions"]
    for suggestion in answer["suggestions"]:
        members = [m["name"] for m in suggestion.get("members", [])] or [suggestion["name"]]
        for name in members:
            assert regulation.listed(SHIPPED.find(name), SHIPPED) == {}
        assert not any(r["kind"] == "adds to the label" for r in suggestion["reasons"])


def test_why_not_names_the_allergen_that_a_filter_left_out_with_its_source():
    done = run("replace", "coumarin", "--no-label-allergens", "--why-not", "tonka bean absolute")
    assert "tonka bean absolute brings Coumarin (up to 90 % of it)" in done.err
    assert "Annex III entry 77" in done.err


def test_a_natural_says_what_it_brings_onto_the_label():
    # EMA/HMPC/534946/2010: eugenol up to 88 %, eugenyl acetate up to 15 % of clove bud oil
    answer = run("replace", "isoeugenol", "--facet", "clove", "--top", "40", "--format", "json").json
    (found,) = reasons_by_name(answer, "adds to the label")["clove bud oil"]
    assert found["figures"]["names"]["Eugenol"] == 88.0
    assert "Eugenyl Acetate (up to 15 %)" in found["text"]
    assert found["source"] == "eu-2023-1545"


def test_names_already_on_the_label_are_not_repeated():
    answer = run("replace", "eugenol", "--in", MORELLO, "--top", "40", "--format", "json").json
    (found,) = reasons_by_name(answer, "adds to the label")["clove bud oil"]
    assert "Eugenol" not in found["figures"]["names"]
    assert "Eugenia Caryophyllus Oil" in found["figures"]["names"]


# limits


def test_without_a_dosage_the_line_names_the_limit_and_bounds_nothing():
    answer = run("extend", "benzaldehyde", "--facet", "almond", "--top", "20", "--format", "json").json
    limits = reasons_by_name(answer, "counts against a limit")
    (found,) = limits["coumarin"]
    assert found["text"].endswith("give --dosage to bound the dose.")
    assert found["figures"]["most_parts"] is None
    assert limits["benzaldehyde glyceryl acetal"] == []


def test_at_a_dosage_the_line_says_how_much_is_left():
    # 1.5 % (memory) at 15 % leaves 100 parts per thousand
    answer = run(
        "extend", "benzaldehyde", "--facet", "almond", "--top", "20", "--dosage", "15", "--format", "json"
    ).json
    (found,) = reasons_by_name(answer, "counts against a limit")["coumarin"]
    assert found["figures"]["most_parts"] == 100.0
    assert "at most 100 parts per thousand at 15 %" in found["text"]
    assert found["text"].startswith("Unverified limit")


@pytest.mark.parametrize(
    "arguments",
    [
        ("extend", MORELLO, "--facet", "clove"),
        ("extend", MORELLO, "--facet", "cinnamon"),
        ("vary", MORELLO, "--toward", "cinnamon"),
        ("replace", "eugenol", "--in", MORELLO),
    ],
)
@pytest.mark.parametrize("dosage", [20.0, 80.0])
def test_a_dose_keeps_every_limit_at_the_dosage(arguments, dosage):
    answer = run(*arguments, "--top", "30", "--dosage", str(dosage), "--format", "json").json
    there = amounts(read(MORELLO, SHIPPED))
    if arguments[0] == "replace":
        there = [a for a in there if a.material.slug != "eugenol"]
        total = sum(a.mass_fraction for a in there)
        there = [replace(a, mass_fraction=a.mass_fraction / total) for a in there]
    before = {
        applied.limit.name: applied.ratio(dosage)
        for row in check(there, SHIPPED, dosage, "4").rows
        for applied in row.applied
    }
    assert answer["suggestions"]
    for suggestion in answer["suggestions"]:
        x = suggestion["dose"]["high"] / 1000.0
        with_it = [*(replace(a, mass_fraction=a.mass_fraction * (1 - x)) for a in there)]
        with_it.append(Amount(SHIPPED.find(suggestion["name"]), x))
        for row in check(with_it, SHIPPED, dosage, "4").rows:
            if row.ratio is not None and row.ratio > 1.0 + 1e-6:
                # above already without it, and not raised by it
                old = before.get(row.applied[0].limit.name, 0.0)
                assert row.ratio <= old + 1e-9, (suggestion["name"], row.substance.name)


def test_a_relay_names_the_label_of_both():
    answer = run("extend", MORELLO, "--relay", "--facet", "clove", "--dosage", "20", "--format", "json")
    if answer.status == 0:
        found = [
            r for s in answer.json["suggestions"] for r in s["reasons"] if r["kind"] == "adds to the label"
        ]
        assert found


@given(st.floats(0.5, 100), st.floats(0, 0.01))
def test_room_is_where_the_limit_is_met(dosage, present):
    isoeugenol, filler = SHIPPED.by_slug("isoeugenol"), SHIPPED.by_slug("diethyl-phthalate")
    rest = [Amount(filler, 1.0 - present), Amount(isoeugenol, present)]
    found = room(isoeugenol, SHIPPED, ProductUse(dosage), rest)
    after = present * (1 - found.parts / 1000) + found.parts / 1000
    if found.parts > 0:
        assert dosage * after == pytest.approx(0.02)  # Regulation (EC) No 1223/2009, Annex III, entry 73
    else:
        assert dosage * present >= 0.02 - 1e-9


def test_phototoxic_oils_leave_less_room_for_each_other():
    # Tisserand and Young 2014: bergamot 0.4 %, lemon 2 %; the fractions add up to at most 1 (memory)
    bergamot, lemon = SHIPPED.by_slug("bergamot-oil"), SHIPPED.by_slug("lemon-oil")
    filler = Amount(SHIPPED.by_slug("diethyl-phthalate"), 0.95)
    alone = room(bergamot, SHIPPED, ProductUse(10.0), [])
    assert alone.parts == pytest.approx(40.0)
    beside = room(bergamot, SHIPPED, ProductUse(10.0), [Amount(lemon, 0.05), filler])
    # 0.25 of lemon's limit is used: (1 - x) 0.25 + 25 x = 1
    assert beside.parts == pytest.approx(1000 * 0.75 / 24.75)
    assert beside.set_by == regulation.PHOTOTOXIC


@pytest.mark.parametrize(
    "arguments", [("--dosage", "0"), ("--dosage", "abc"), ("--category", "5"), ("--dosage", "101")]
)
@pytest.mark.parametrize(
    "verb", [("replace", "coumarin"), ("dose", "coumarin", "vanillin"), ("extend", MORELLO)]
)
def test_a_wrong_dosage_or_category_is_refused_by_every_verb(verb, arguments):
    done = run(*verb, *arguments)
    assert (done.status, done.out, done.err.count("\n")) == (2, "", 1)


# first amounts


def test_no_first_amount_goes_above_a_limit():
    names = ["coumarin", "tonka bean absolute", "isoeugenol", "clove bud oil", "bergamot oil", "lemon oil"]
    found = api.dose(names, dosage_percent=20).value
    rest = 1.0 - sum(first.parts for first in found) / 1000
    there = [Amount(first.material, first.parts / 1000) for first in found]
    report = check([*there, Amount(SHIPPED.by_slug("diethyl-phthalate"), rest)], SHIPPED, 20, "4")
    assert [r.substance.name for r in report.rows if r.ratio and r.ratio > 1.0 + 1e-9] == []
    assert any(first.held_back for first in found)


def test_without_a_dosage_first_amounts_are_as_they_were():
    assert [first.held_back for first in api.dose(["coumarin", "isoeugenol"]).value] == ["", ""]


def test_there_is_no_first_amount_of_what_is_prohibited():
    barred, other = api.dose(["dihydrocoumarin", "vanillin"]).value
    assert (barred.parts, barred.held_back) == (None, "prohibited")
    assert other.parts == pytest.approx(50.0)  # alone it would be all: the most that is usual
    allowed, _ = api.dose(["dihydrocoumarin", "vanillin"], market="standards").value
    assert allowed.parts > 0


def test_all_prohibited_is_no_error(shipped):
    found = comparison.dose([shipped.find("6-methylcoumarin")], {}, shipped_palette())
    assert [first.parts for first in found] == [None]
