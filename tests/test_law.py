"""What the law says of a formula: markets, days, published lists, statuses, decisions, suggestions."""

import json
import math
from dataclasses import replace
from datetime import date

import pytest
from command_line import run
from hypothesis import given, settings
from hypothesis import strategies as st

import recommender as r
from recommender.errors import BadValue, UnknownMaterial
from recommender.evidence.catalogue import load
from recommender.evidence.markets import market_of, names_of, short_names_of
from recommender.evidence.overlay import Overlay, OwnMaterial, untouched, with_limits, with_own_materials
from recommender.evidence.registers import Registers, amendment_of
from recommender.model import (
    Allergen,
    Amount,
    AnnexEntry,
    Category,
    Content,
    Dose,
    Findings,
    Label,
    Limit,
    PublishedStandard,
    Suggestion,
)
from recommender.output import limit_sentences, product, product_page
from recommender.palette import Palette, material_of, with_overlay
from recommender.regulation import (
    DECISIONS,
    FINDINGS,
    STATUSES,
    FormulaLoad,
    ProductUse,
    check,
    covering,
    headroom,
    prohibitions,
    substances,
)
from recommender.regulation.limits import checked_day, counted
from recommender.suggest import Request
from recommender.suggest.eligibility import Eligibility
from recommender.suggest.product_limits import with_law
from recommender.workspace import Workspace

SHIPPED = load()
CATEGORIES = (
    Category("4", "perfume", "leave-on"),
    Category("9", "soap", "rinse-off"),
    Category("12", "candle", "not a cosmetic"),
)

OF_THE_OIL = Content("s", 5.0, 10.0, "memory")


def rule(percent=None, kind="restriction", market="eu", cas="11-11-0", **more):
    figures = {} if percent is None else {"4": percent}
    basis = more.pop("basis", "published")
    return Limit(more.pop("name", "s"), (cas,), (), kind, market, basis, "", percent=figures, **more)


@pytest.fixture
def world(material, catalogue_of):
    """Return a catalogue of `s` (11-11-0), an `oil` of `s`, `bare` without a number, and a filler."""

    def made(*limits, annexes=(), standards=(), allergens=(), oil=OF_THE_OIL, own=()):
        rows = [
            material("s", {"lemon": 3}, cas="11-11-0", hours=4.0),
            material("oil", {"lemon": 3}, kind="natural", contents=(oil,)),
            material("bare", {"lemon": 3}),
            material("filler", cas="99-99-0"),
        ]
        found = replace(
            catalogue_of(rows, limits=limits),
            categories=CATEGORIES,
            allergens=tuple(allergens),
            registers=Registers(lambda: tuple(annexes), lambda: tuple(standards)),
        )
        if own:
            added = [material_of(one, found.parameters) for one in own]
            found = with_own_materials(found, Overlay(tuple(own)), added)
        return found

    return made


def reported(catalogue, market="any", on="", category="4", **shares):
    shares = shares or {"s": 0.1}
    present = [Amount(catalogue.by_slug(slug.replace("_", "-")), x) for slug, x in shares.items()]
    present.append(Amount(catalogue.by_slug("filler"), 1.0 - sum(shares.values())))
    return check(present, catalogue, 10.0, category, market, on=on)


def row(catalogue, key="s", **more):
    return next(x for x in reported(catalogue, **more).rows if x.substance.key == key)


# statuses and decisions: a tenth of s at 10 % is 1 % of the product


@pytest.mark.parametrize(
    ("limits", "shares", "status", "decision"),
    [
        ([rule(kind="prohibition")], {"s": 0.1}, "prohibited", "stop"),
        ([rule(0.5)], {"s": 0.1}, "above the limit held", "stop"),
        ([rule(0.5, basis="memory")], {"s": 0.1}, "above an unverified limit", "look up"),
        ([rule()], {"s": 0.1}, "restricted, figure to be looked up", "look up"),
        ([rule(kind="specification")], {"s": 0.1}, "condition to be shown", "look up"),
        ([rule(2.0, condition="free acid below 1 %")], {"s": 0.1}, "condition to be shown", "look up"),
        ([], {"bare": 0.1}, "not looked up", "look up"),
        ([rule(2.0, basis="memory")], {"s": 0.1}, "below an unverified limit", "look up"),
        ([rule(2.0)], {"s": 0.1}, "below the limit held", "nothing found in this market"),
        ([rule(unlimited=("4",))], {"s": 0.1}, "entry without a limit here", "nothing found in this market"),
        ([], {"s": 0.1}, "no entry found", "nothing found in this market"),
        ([], {"oil": 0.1}, "no entry found", "nothing found in this market"),
    ],
)
def test_each_status_and_the_decision_that_follows(world, limits, shares, status, decision):
    found = reported(world(*limits), **shares)
    (key,) = shares
    key = "s" if key == "oil" else key
    assert next(x.status for x in found.rows if x.substance.key == key) == status
    assert found.decision == decision
    assert found.findings is (decision != DECISIONS[-1])
    data = product.data(found, SHIPPED)
    assert data["decision"] == decision
    first = product_page.lines(found, "x", _day())[0]
    assert first.startswith(decision.upper())


def _day():
    return date(2026, 11, 29)


def test_every_status_is_reached_above():
    marks = test_each_status_and_the_decision_that_follows.pytestmark
    (cases,) = [mark.args[1] for mark in marks if mark.name == "parametrize"]
    assert {status for _, _, status, _ in cases} == set(STATUSES)
    assert {decision for *_, decision in cases} == set(DECISIONS)


def test_a_limit_that_is_met_and_a_condition_are_both_shown_and_the_worse_one_is_the_status(world):
    catalogue = world(rule(2.0), rule(kind="specification", condition="peroxide value below 10 mmol/L"))
    found = reported(catalogue)
    text = " ".join(" ".join(product_page.lines(found, "x", _day())).split())
    assert found.rows[0].status == "condition to be shown"
    assert "2 %" in text
    assert "peroxide value below 10 mmol/L" in text
    data = product.data(found, catalogue)["rows"][0]
    assert (data["limits"][0]["percent"], len(data["conditions"])) == (2.0, 1)
    above = row(world(rule(0.5), rule(kind="specification", condition="peroxide value")))
    assert (above.status, len(above.conditions)) == ("above the limit held", 1)


def test_a_condition_is_asked_of_what_is_put_in_not_of_what_a_natural_brings(world):
    catalogue = world(rule(kind="specification"))
    assert row(catalogue, oil=0.5).status == "entry without a limit here"
    assert row(catalogue, oil=0.5, s=0.1).status == "condition to be shown"


def test_what_a_natural_brings_of_something_prohibited_has_to_be_looked_up_unless_a_figure_says(world):
    barred = rule(kind="prohibition")
    assert row(world(barred), oil=0.5).status == "restricted, figure to be looked up"
    assert row(world(barred, rule(2.0)), oil=0.5).status == "below the limit held"
    assert row(world(barred), market="standards", oil=0.5).status == "no entry found"


def test_a_label_is_an_entry_without_a_limit_where_its_law_decides(world):
    def label(added):
        return Allergen("S", ("11-11-0",), (), added, "1", "published", "")

    new, old = world(allergens=[label("2023")]), world(allergens=[label("original")])
    known = "entry without a limit here"
    assert [row(new, market=m).status for m in ("eu", "gb", "standards")] == [known, *["no entry found"] * 2]
    assert [row(old, market=m).status for m in ("eu", "gb")] == [known, known]


def test_cosmetics_law_asks_nothing_of_a_candle(world):
    assert row(world(rule()), category="12").status == "entry without a limit here"
    assert row(world(rule(market="standards")), category="12").status == FINDINGS[3]


# markets

OF_EACH = {"eu": 4.0, "gb": 3.0, "standards": 0.5}


@pytest.mark.parametrize(
    ("market", "decides", "beside", "decision"),
    [
        ("eu", [4.0], [0.5], "nothing found in this market"),
        ("gb", [3.0], [0.5], "nothing found in this market"),
        ("standards", [0.5], [], "stop"),
        ("any", [0.5, 3.0, 4.0], [], "stop"),
    ],
)
def test_what_stands_beside_is_shown_and_decides_nothing(world, market, decides, beside, decision):
    catalogue = world(*(rule(percent, market=name) for name, percent in OF_EACH.items()))
    found = reported(catalogue, market)
    one = next(x for x in found.rows if x.substance.key == "s")
    assert ([a.percent for a in one.applied], [a.percent for a in one.beside]) == (decides, beside)
    assert found.decision == decision
    assert (found.highest, found.set_by) == (pytest.approx(100 * min(decides) / 10.0), "s")
    shown = product.data(found, catalogue)["rows"][0]["limits"]
    assert [(x["percent"], x["decides"]) for x in shown] == [
        *((percent, True) for percent in decides),
        *((percent, False) for percent in beside),
    ]
    parts = headroom(catalogue.by_slug("s"), catalogue, ProductUse(10.0, market=market)).parts
    assert parts == pytest.approx(100.0 * min(decides))


@pytest.mark.parametrize("kind", ["prohibition", "restriction", "specification"])
def test_no_kind_of_standard_decides_under_a_law(world, kind):
    catalogue = world(rule(kind=kind, market="standards"))
    for market in ("eu", "gb"):
        found = reported(catalogue, market)
        assert (found.decision, found.rows[0].status) == (DECISIONS[-1], "no entry found")
        text = " ".join(" ".join(product_page.lines(found, "x", _day())).split())
        assert "outside the chosen market" in text if kind == "prohibition" else "shown beside" in text
    assert reported(catalogue, "any").decision != DECISIONS[-1]


def test_an_entry_of_two_laws_decides_in_both_and_is_shown_once(world):
    catalogue = world(rule(0.5, market="eu; gb", reference="Annex III/1"))
    for market in ("eu", "gb", "any"):
        found = reported(catalogue, market)
        assert (found.decision, len(found.rows[0].applied)) == ("stop", 1)
    assert row(catalogue, market="standards").status == "no entry found"
    assert names_of("eu; gb", "gb") == "British law"
    assert short_names_of("eu; gb") == "EU/GB law"
    assert prohibitions(catalogue.by_slug("s"), [rule(kind="prohibition", market="eu; gb")], "gb")


def test_phototoxic_oils_are_added_up_beside_a_law_and_bound_no_dose_there(world):
    photo = {"market": "standards", "sum_group": "phototoxic"}
    catalogue = world(rule(2.0, **photo), rule(2.0, cas="99-99-0", **photo))
    whole = [x for x in reported(catalogue, "eu").rows if x.substance.name.startswith("phototoxic")]
    assert [(x.status, len(x.applied), len(x.beside)) for x in whole] == [
        ("entry without a limit here", 0, 1)
    ]
    rest = [Amount(catalogue.by_slug("filler"), 1.0)]
    assert headroom(catalogue.by_slug("s"), catalogue, ProductUse(30.0, market="eu"), rest).parts is None


def test_a_market_that_is_none_is_refused(world):
    with pytest.raises(BadValue, match="any, eu, gb, standards"):
        reported(world(), "moon")
    assert market_of("eu").beside == ("standards",)


# days


@pytest.mark.parametrize(
    ("on", "status"),
    [
        ("2026-12-31", "below the limit held"),
        ("2027-01-01", "above the limit held"),
        ("", "above the limit held"),
    ],
)
def test_a_row_counts_from_its_first_day_until_another_takes_its_place(world, on, status):
    catalogue = world(rule(2.0, applies_until="2027-01-01"), rule(0.5, applies_from="2027-01-01"))
    found = row(catalogue, on=on)
    assert found.status == status
    assert len(found.applied) == (2 if on == "" else 1)


def test_a_later_change_is_said_with_whether_the_formula_is_above_it(world):
    catalogue = world(rule(2.0, applies_until="2027-01-01"), rule(0.5, applies_from="2027-01-01"))
    found = reported(catalogue, "eu", "2026-12-01")
    (change,) = found.later
    assert (change.names, change.percent, change.above) == (("s",), 0.5, True)
    (note,) = limit_sentences.remarks(found)
    assert note == ("From 2027-01-01: s at most 0.5 % in category 4 (European law); 1 % here, already above.")
    assert reported(catalogue, "eu", "2027-01-01").later == ()
    assert reported(catalogue, "gb", "2026-12-01").later == ()
    assert reported(catalogue, "eu", "2026-12-01", s=0.01).later[0].above is False


def test_a_later_row_that_changes_nothing_here_is_not_mentioned(world):
    catalogue = world(rule(0.5, applies_until="2027-01-01"), rule(0.5, applies_from="2027-01-01"))
    assert reported(catalogue, "eu", "2026-12-01").later == ()


def test_a_later_prohibition_and_a_later_figure_to_be_looked_up_are_said(world):
    barred = reported(world(rule(kind="prohibition", applies_from="2027-01-01")), "eu", "2026-12-01")
    assert barred.decision == DECISIONS[-1]
    assert limit_sentences.remarks(barred) == ["From 2027-01-01: s prohibited (European law)."]
    open_ = reported(world(rule(applies_from="2027-01-01")), "eu", "2026-12-01")
    assert "to be looked up" in limit_sentences.remarks(open_)[0]
    assert open_.rows[0].status == "entry without a limit here"


def test_what_is_adopted_bounds_a_dose_already_and_what_is_over_does_not(world):
    catalogue = world(rule(2.0, applies_until="2027-01-01"), rule(1.0, applies_from="2027-01-01"))
    looser = world(rule(1.0, applies_until="2027-01-01"), rule(2.0, applies_from="2027-01-01"))
    s = catalogue.by_slug("s")

    def parts(world_, on):
        return headroom(s, world_, ProductUse(10.0, on=on)).parts

    assert [parts(catalogue, on) for on in ("2026-12-01", "2027-01-01")] == [100.0, 100.0]
    assert [parts(looser, on) for on in ("2026-12-01", "2027-01-01")] == [100.0, 200.0]
    later = rule(kind="prohibition", applies_from="2027-01-01")
    assert prohibitions(s, [later], "eu", "2026-12-01") == (later,)
    over = rule(kind="prohibition", applies_until="2027-01-01")
    assert prohibitions(s, [over], "eu", "2027-01-01") == ()


@pytest.mark.parametrize("day", ["soon", "2027-2-1", "2027-02-30", "20270201"])
def test_a_day_that_is_none_is_refused(day):
    with pytest.raises(BadValue, match="2027-02-01"):
        checked_day(day)


# the published lists


def standard(*types, amendment="51", cas=("11-11-0",)):
    return PublishedStandard("S of the list", cas, types, amendment, "2023-06")


@pytest.mark.parametrize(
    ("types", "status"),
    [
        (("restriction",), "restricted, figure to be looked up"),
        (("specification",), "condition to be shown"),
        (("prohibition",), "prohibited"),
        (("restriction", "prohibition"), "restricted, figure to be looked up"),
    ],
)
def test_a_standard_without_figures_is_an_entry_that_names_its_amendment(world, types, status):
    found = row(world(standards=[standard(*types)]), market="standards")
    assert found.status == status
    (entry,) = [*found.open_limits, *found.conditions, *(x for x in found.barred if not found.open_limits)]
    assert entry.reference == "51 (2023-06)"


def test_a_standard_that_prohibits_and_restricts_bars_an_own_material_alone(world):
    catalogue = world(
        standards=[standard("prohibition", "specification", cas=("88-88-0", "11-11-0"))], own=[MINE]
    )
    assert row(catalogue, "own-mine", market="standards", own_mine=0.1).status == "prohibited"
    assert row(catalogue, market="standards").status == "condition to be shown"
    assert [x.kind for x in world(standards=[standard("prohibition", "specification")]).entries] == [
        "specification"
    ]


def test_a_row_with_a_figure_stands_before_the_list_and_covers_only_its_own_numbers(world):
    figured = rule(2.0, market="standards", reference="51 (2023)")
    both = standard("restriction", cas=("11-11-0", "99-99-0"))
    catalogue = world(figured, standards=[both])
    assert row(catalogue, market="standards").status == "below the limit held"
    assert row(catalogue, "filler", market="standards").status == "restricted, figure to be looked up"
    assert world(figured, standards=[standard("restriction", cas=("77-77-0",))]).entries == (figured,)


@pytest.mark.parametrize(
    ("percent", "basis", "status"),
    [
        (2.0, "published", "restricted, figure to be looked up"),
        (0.5, "published", "above an unverified limit"),
        (2.0, "user", "below the limit held"),
        (0.5, "user", "above the limit held"),
    ],
)
def test_a_superseded_figure_settles_nothing_and_one_that_was_typed_does(world, percent, basis, status):
    old = rule(percent, market="standards", reference="49 (2020)", basis=basis)
    catalogue = world(old, standards=[standard("restriction")])
    found = row(catalogue, market="standards")
    assert found.status == status
    assert bool(found.applied[0].limit.superseded_by) is (basis == "published")
    text = "\n".join(product_page.lines(reported(catalogue, "standards"), "x", _day()))
    assert ("superseded by amendment 51 (2023-06)" in text) is (basis == "published")


def test_an_amendment_is_the_number_that_a_reference_begins_with():
    found = [amendment_of(x) for x in ("49 (2020)", "amendment 51", "2004", "", "leave-on maximum")]
    assert found == [49, 51, None, None, None]


MINE = OwnMaterial("own-mine", "mine", "88-88-0", labels=(Label("lemon", 3, "user"),))
BLANK = OwnMaterial("own-blank", "blank", labels=(Label("lemon", 3, "user"),))


def entry(annex, regulation="(EC) 2009/1223", cas=("88-88-0",)):
    return AnnexEntry(annex, "7", "Mine of the annex", cas, regulation, "2020-01-01")


@pytest.mark.parametrize(
    ("annex", "regulation", "eu", "gb"),
    [
        ("II", "(EC) 2009/1223", "prohibited", "prohibited"),
        ("II", "(EU) 2021/1902", "prohibited", "restricted, figure to be looked up"),
        ("III", "(EU) 2020/1683", *["restricted, figure to be looked up"] * 2),
    ],
)
def test_an_own_material_is_looked_up_by_its_number(world, annex, regulation, eu, gb):
    catalogue = world(annexes=[entry(annex, regulation)], own=[MINE, BLANK])
    found = [row(catalogue, "own-mine", market=m, own_mine=0.1).status for m in ("eu", "gb", "standards")]
    assert found == [eu, gb, "no entry found"]
    assert row(catalogue, "own-blank", own_blank=0.1).status == "not looked up"


def test_an_own_material_of_annex_ii_is_never_offered_and_one_without_a_number_says_so(world):
    palette = Palette.of(world(annexes=[entry("II")], own=[MINE, BLANK]))
    bounds = Eligibility(Request(market="eu"), palette)
    (why,) = bounds.why_not(palette.catalogue.by_slug("own-mine"))
    assert "is prohibited: Mine of the annex" in why
    assert bounds.why_not(palette.catalogue.by_slug("own-blank")) == []
    later = Palette.of(world(annexes=[entry("II", "(EU) 2021/1902")], own=[MINE]))
    british = with_law(_findings(later, "own-mine"), Request(market="gb"), later)
    assert british.suggestions[0].cautions == (
        "Restricted, figure for category 4 to be looked up: mine (British law).",
    )
    found = with_law(_findings(palette, "own-blank"), Request(), palette)
    assert found.suggestions[0].cautions == (
        "blank is not looked up: your material has no CAS number on record.",
    )


def test_rows_of_the_tables_stand_before_the_annexes(world):
    figured = rule(2.0, cas="88-88-0", market="eu; gb")
    catalogue = world(figured, annexes=[entry("III")], own=[MINE])
    assert row(catalogue, "own-mine", own_mine=0.1).status == "below the limit held"
    only_eu = world(replace(figured, market="eu"), annexes=[entry("III")], own=[MINE])
    assert row(only_eu, "own-mine", market="gb", own_mine=0.1).status == FINDINGS[3]


def test_the_annexes_are_not_read_until_something_is_looked_up_in_them():
    registers = replace(SHIPPED.registers)  # nothing is read in it yet
    palette = Palette.of(replace(SHIPPED, registers=registers))
    blank = with_overlay(palette, Overlay((replace(BLANK, slug="own-nothing"),)))
    for one in (palette, blank):
        found = Workspace(palette=one).extend("benzaldehyde", Request(dosage_percent=10.0, top=2))
        assert found.suggestions
    assert "annexes" not in vars(registers)
    mine = with_overlay(palette, Overlay((replace(MINE, cas="56-25-7"),)))
    assert prohibitions(mine.catalogue.by_slug("own-mine"), mine.catalogue.entries, "gb")
    assert "annexes" in vars(registers)


@pytest.mark.parametrize("text", ["56-25-7", "cantharidine"])
def test_what_the_annexes_name_and_the_catalogue_does_not_have_is_said(text):
    with pytest.raises(UnknownMaterial) as caught:
        SHIPPED.find(text)
    assert "prohibited as entry 70 of Annex II" in str(caught.value)
    assert "not in the catalogue" in str(caught.value)
    assert "Annex II" in caught.value.entry
    done = run("extend", text)
    assert (done.status, done.err.count("\n")) == (2, 1)


def test_typed_figures_replace_those_of_their_authority_alone():
    old = rule(1.0, market="eu; gb", condition="purity")
    typed = rule(0.5, market="gb", basis="user")
    eu, gb = untouched(old, [typed])
    assert (eu.market, dict(eu.percent)) == ("eu", {"4": 1.0})
    assert (gb.market, dict(gb.percent), gb.condition) == ("gb", {}, "purity")
    assert untouched(old, [rule(0.5, market="standards")]) == (old,)
    assert untouched(replace(old, condition=""), [rule(0.5, market="gb; eu")]) == ()


def test_figures_that_a_person_typed_count_over_superseded_ones(world):
    old = rule(0.5, market="standards", reference="49 (2020)")
    catalogue = world(old, standards=[standard("restriction")])
    assert row(catalogue, market="standards").status == "above an unverified limit"
    mine = with_limits(catalogue, Overlay(limits=(rule(2.0, market="standards", basis="user"),)))
    assert row(mine, market="standards").status == "below the limit held"
    assert row(mine, market="standards", category="9").status == "restricted, figure to be looked up"


# amounts in naturals that nobody measured


@pytest.mark.parametrize(("market", "decides"), [("eu", True), ("gb", False), ("standards", False)])
@pytest.mark.parametrize("kind", ["prohibition", "restriction"])
def test_an_unknown_amount_of_something_limited_is_looked_up_where_it_is_limited(
    world, market, decides, kind
):
    catalogue = world(rule(kind=kind), oil=Content("s", None, None, "memory"))
    found = reported(catalogue, market, oil=0.5)
    assert [u.decides for u in found.unknown] == [decides]
    assert found.decision == ("look up" if decides else DECISIONS[-1])
    assert any("s in oil" in note for note in limit_sentences.unknown(found))
    none_here = world(rule(unlimited=("4",)), oil=Content("s", None, None, "memory"))
    assert reported(none_here, market, oil=0.5).unknown == ()


def test_the_share_of_a_natural_that_nobody_knows_is_said(world):
    found = reported(world(), oil=0.5)
    data = product.data(found, SHIPPED)
    assert data["partly_known"] == [{"name": "oil", "unknown_percent": 92}]
    assert any("oil 92 %" in note for note in data["notes"])


# conditions that a certificate shows


def test_a_condition_that_is_shown_no_longer_decides_and_is_listed(tmp_path):
    path = tmp_path / "f.csv"
    path.write_text("material,parts\nallyl hexanoate,5\ndiethyl phthalate,995\n")
    words = ("check", str(path), "--dosage", "10", "--market", "eu")
    assert run(*words).status == 1
    done = run(*words, "--shown", "allyl hexanoate: free allyl alcohol")
    assert (done.status, done.out.startswith("NOTHING FOUND")) == (0, True)
    assert "shown by a certificate" in done.out
    data = r.check(str(path), 10.0, market="eu", shown="allyl hexanoate: free allyl alcohol").to_dict()
    shown = [x["shown"] for row in data["rows"] for x in row["conditions"]]
    assert (data["decision"], set(shown)) == ("nothing found in this market", {True})


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("allyl hexanoate", "write a material"),
        ("allyl hexanoate: peroxides", "it has: "),
        ("diethyl phthalate: peroxides", "no condition of it"),
        ("moon oil: peroxides", "no material"),
    ],
)
def test_a_condition_that_nobody_asks_for_is_refused(tmp_path, text, expected):
    path = tmp_path / "f.csv"
    path.write_text("material,parts\nallyl hexanoate,5\ndiethyl phthalate,995\n")
    done = run("check", str(path), "--dosage", "10", "--shown", text)
    assert (done.status, done.out, done.err.count("\n")) == (2, "", 1)
    assert expected in done.err


# suggestions


def _findings(palette, slug, dose=None):
    material = palette.catalogue.by_slug(slug)
    one = Suggestion(material, None, 1.0, {}, None, None, (), (), dose=dose)
    return Findings({"verb": "extend"}, "x", (one,))


@pytest.mark.parametrize(
    ("limits", "status", "decision"),
    [
        ([rule(2.0)], "below the limit held", DECISIONS[-1]),
        ([rule(0.5, applies_from="2027-01-01")], "above the limit held", "stop"),
        ([rule(market="standards")], "no entry found", DECISIONS[-1]),
        ([rule()], "restricted, figure to be looked up", "look up"),
        ([rule(kind="specification", condition="purity")], "condition to be shown", "look up"),
    ],
)
def test_a_suggestion_has_its_status_at_the_first_dose(world, limits, status, decision):
    palette = Palette.of(world(*limits))
    request = Request(dosage_percent=10.0, market="eu", on="2026-12-01")
    rest = [Amount(palette.catalogue.by_slug("filler"), 1.0)]
    found = with_law(_findings(palette, "s", Dose(100.0, 10.0, 200.0)), request, palette, rest)
    law = found.suggestions[0].law
    assert (law.status, law.decision) == (status, decision)
    cautions = " ".join(found.suggestions[0].cautions)
    assert ("looked up" in cautions) is (status == FINDINGS[3])
    assert ("purity" in cautions) is (status == "condition to be shown")
    without = with_law(_findings(palette, "s"), replace(request, dosage_percent=None), palette, rest)
    assert without.suggestions[0].law is None


def test_the_command_gives_the_status_of_suggestions_with_a_dosage():
    words = ("extend", "data/demo/morello.csv", "--top", "3", "--format", "json")
    with_ = run(*words, "--dosage", "12", "--market", "eu").json["suggestions"]
    assert all(x["law"]["status"] in STATUSES and x["law"]["decision"] in DECISIONS for x in with_)
    assert all(x["law"] is None for x in run(*words).json["suggestions"])


# faces


def test_the_weighing_sheet_says_what_is_decided(tmp_path):
    path = tmp_path / "f.csv"
    path.write_text("material,parts\ndihydrocoumarin,50\nethanol,950\n")
    words = ("weigh", str(path), "--dosage", "20", "--market", "eu", "--on", "2026-12-01")
    done = run(*words, "--format", "json").json
    assert done["decision"] == "stop"
    assert done["statuses"] == [{"name": "dihydrocoumarin", "status": "prohibited"}]
    assert any("stop. dihydrocoumarin: prohibited" in note for note in done["notes"])
    assert run("weigh", str(path), "--format", "json").json["decision"] is None
    same = r.weigh(str(path), dosage_percent=20.0, market="eu", on="2026-12-01").to_dict()
    assert json.loads(json.dumps(same)) == done


@pytest.mark.parametrize(
    ("text", "decision", "status"),
    [
        ("dihydrocoumarin,50", "stop", 1),
        ("allyl hexanoate,50", "look up", 1),
        ("phenethyl alcohol,50", "nothing found in this market", 0),
    ],
)
def test_the_first_line_the_data_and_the_exit_status_agree(tmp_path, text, decision, status):
    path = tmp_path / "f.csv"
    path.write_text(f"material,parts\n{text}\ndiethyl phthalate,950\n")
    words = ("check", str(path), "--dosage", "10", "--market", "eu")
    done = run(*words)
    assert done.out.startswith(f"{decision.upper()}:")
    assert done.status == status
    assert run(*words, "--format", "json").json["decision"] == decision
    here = r.check(str(path), 10.0, market="eu", on="2028-08-01")
    assert (here.to_dict()["decision"], here.to_dict()["on"]) == (decision, "2028-08-01")


def test_limits_to_look_up_come_in_order_of_use_in_the_persons_formulas(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    plain = run("limits", "--stale", "--format", "json").json["rows"]
    assert {x["used_in"] for x in plain} == {0}
    for number in (1, 2):
        path = tmp_path / f"f{number}.csv"
        more = "tonka bean absolute,10\n" if number == 2 else "geraniol,10\n"
        path.write_text(f"material,parts\n{more}citronellol,20\nphenethyl alcohol,900\n")
        assert run("formulas", "save", str(path)).status == 0
    rows = run("limits", "--stale", "--format", "json").json["rows"]
    used = [x["used_in"] for x in rows]
    assert used == sorted(used, reverse=True)
    assert used[0] == 2
    by_name = {x["name"]: x["used_in"] for x in rows if "standards" in x["market"]}
    assert (by_name["citronellol"], by_name["coumarin"], by_name["geraniol"]) == (2, 1, 1)
    assert "in formulas" in run("limits", "--stale").out


# what limits leave, computed once for a formula, against the way it is done for one material


def _one_by_one(material, catalogue, use, rest):
    """Return the parts that limits leave and the ratios that they raise, material by material."""
    own = substances([Amount(material, 1.0)], catalogue)
    there = substances(rest, catalogue) if rest else []
    found = {}
    for substance in own:
        for limit in covering(substance, catalogue.limits_by_key):
            percent = limit.percent.get(use.category)
            if percent is None or not set(limit.market.split("; ")) & set(market_of(use.market).decides):
                continue
            share = sum(s.fraction for s in counted(limit, own))
            before = sum(s.fraction for s in counted(limit, there))
            if share > before:
                found[id(limit)] = (percent, share, before, limit)
    rooms = [
        max(0.0, 1000.0 * (percent / use.dosage_percent - before) / (share - before))
        for percent, share, before, _ in found.values()
    ]

    def phototoxic(present):
        total = 0.0
        for substance in present:
            percents = [
                x.percent[use.category]
                for x in covering(substance, catalogue.limits_by_key)
                if x.sum_group and use.category in x.percent
                and set(x.market.split("; ")) & set(market_of(use.market).decides)
            ]  # fmt: skip
            total += use.dosage_percent * substance.fraction / min(percents) if percents else 0.0
        return total

    one, others = phototoxic(own), phototoxic(there)
    if others > 0 and one > others:
        rooms.append(max(0.0, 1000.0 * (1.0 - others) / (one - others)))
    return min([*rooms, 1000.0]), {key: (a, b, c) for key, (a, b, c, _) in found.items()}


PRESENT = [SHIPPED.by_slug(s) for s in ("bergamot-oil", "isoeugenol", "clove-bud-oil", "coumarin")]


@settings(max_examples=25)
@given(
    st.lists(st.floats(0.0, 1.0), min_size=4, max_size=4),
    st.floats(0.5, 100.0),
    st.sampled_from(["any", "eu", "gb", "standards"]),
    st.sampled_from(["4", "5A", "9"]),
    st.integers(0, 40),
)
def test_what_limits_leave_is_the_same_as_worked_out_one_by_one(parts, dosage, market, category, start):
    total = sum(parts) + 1.0
    rest = [Amount(m, p / total) for m, p in zip(PRESENT, parts, strict=True) if p > 0]
    use = ProductUse(dosage, category, market)
    load = FormulaLoad(rest, SHIPPED, use)
    for material in SHIPPED.materials[start::41]:
        room = load.headroom(material)
        most, raised = _one_by_one(material, SHIPPED, use, rest)
        assert math.isclose(load.parts(material), most, rel_tol=1e-12)
        assert room.parts == (load.parts(material) if load.parts(material) < 1000.0 else None)
        assert {id(x.limit): (x.percent, x.share, x.before) for x in room.raised} == raised
