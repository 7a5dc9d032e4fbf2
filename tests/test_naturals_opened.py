"""Naturals in the finished product: what is known of them by name, what is not, and how it is counted."""

from dataclasses import replace as with_
from datetime import date

import pytest

from recommender.model import Allergen, Amount, Category, Content, Limit
from recommender.output import product_page
from recommender.regulation import ProductUse, check, reduced
from recommender.regulation import headroom as room


@pytest.fixture
def world(material, catalogue_of, relation):
    """Return a catalogue with one natural `oil` of some contents, two substances, and a filler."""

    def put(contents=(), limits=(), allergens=(), relations=(), more=()):
        rows = [
            material("oil", kind="natural", contents=tuple(contents)),
            material("s", cas="11-11-0"),
            material("t", cas="22-22-0"),
            material("filler", cas="10-10-0"),
            *more,
        ]
        found = catalogue_of(rows, [relation(*one) for one in relations], limits)
        kinds = (Category("4", "on skin", "leave-on"), Category("9", "rinsed", "rinse-off"))
        return with_(found, categories=kinds, allergens=tuple(allergens))

    return put


def rule(name="s", cas=("11-11-0",), percent=1.0, kind="restriction", market="standards", **more):
    percents = {} if percent is None else {"4": percent}
    basis = more.pop("basis", "published")
    return Limit(name, cas, (), kind, market, basis, "toy-2020", percent=percents, **more)


def listed(name="S", cas=("11-11-0",), **more):
    return Allergen(name, cas, (), "original", "1", "published", "toy-2020", **more)


def reported(catalogue, dosage=10.0, category="4", market="any", certified=None, **shares):
    filler = 1.0 - sum(shares.values())
    amounts = [
        Amount(catalogue.by_slug(slug), x) for slug, x in {**shares, "filler": filler}.items() if x > 0
    ]
    return check(amounts, catalogue, dosage, category, market, certified)


def share(name, low, high=None):
    return Content(name, low, high, "published")


# what is not known by name


@pytest.mark.parametrize(
    ("contents", "unknown"),
    [
        ([share("s", 40.0, 86.0)], 37.0),  # the middle, 63 %, is known; not 86 % and not 40 %
        ([share("s", 20.0, 60.0), share("resin", 10.0, 20.0)], 45.0),
        ([share("s", 50.0)], 50.0),  # a least share
        ([share("s", None, 50.0)], 75.0),  # from nothing to a half
        ([share("s", None), share("t", 40.0, 40.0)], 60.0),
        ([], 100.0),
        ([share("s", 80.0, 100.0)], 10.0),
    ],
)
def test_the_middle_of_each_range_is_known_and_the_rest_is_reported_as_unknown(world, contents, unknown):
    assert reported(world(contents), oil=0.1).unnamed == pytest.approx({"oil": unknown})


@pytest.mark.parametrize("contents", [[share("s", 80.0, 100.1)], [share("s", 70.0, 95.0), share("t", 40.0)]])
def test_less_than_a_tenth_unknown_is_not_reported(world, contents):
    assert reported(world(contents), oil=0.1).unnamed == {}


def test_the_page_reports_the_unknown_share(world):
    found = reported(world([share("s", 40.0, 86.0)]), oil=0.1)
    page = " ".join(" ".join(product_page.lines(found, "accord", date(2026, 1, 1))).split())
    assert "Share of unknown composition: oil 37 %." in page


def test_a_certificate_leaves_less_unknown(world):
    catalogue = world([share("s", 40.0, 86.0)])
    assert reported(catalogue, certified={"oil": {"s": 70.0}}, oil=0.1).unnamed == {"oil": 30.0}
    assert reported(catalogue, certified={"oil": {"t": 17.0}}, oil=0.1).unnamed == {"oil": 20.0}


# what is counted: the high end


@pytest.mark.parametrize(
    ("content", "percent"),
    [
        (share("s", 40.0, 86.0), 0.86),
        (share("s", None, 86.0), 0.86),
        (share("s", 40.0), 0.40),
    ],
)
def test_limits_count_the_high_end_of_a_range_or_the_least_share_if_that_is_all(world, content, percent):
    catalogue = world([content], [rule(percent=0.5)])
    row = next(r for r in reported(catalogue, oil=0.1).rows if r.substance.key == "s")
    assert row.percent == pytest.approx(percent)
    assert row.ratio == pytest.approx(percent / 0.5)
    assert row.substance.least is (content.high is None)
    assert row.substance.through == pytest.approx({"oil": percent / 10.0})


def test_what_is_added_as_such_and_what_a_natural_brings_are_added_up(world):
    catalogue = world([share("s", 10.0, 20.0)], [rule(percent=1.0)])
    row = next(r for r in reported(catalogue, oil=0.5, s=0.05).rows if r.substance.key == "s")
    assert (row.concentrate, row.percent, row.ratio) == pytest.approx((15.0, 1.5, 1.5))
    assert row.substance.added == pytest.approx(0.05)
    assert row.highest == pytest.approx(100 * 1.0 / 15.0)


def test_two_naturals_that_bring_it_are_both_named_with_what_their_shares_rest_on(world, material):
    other = material("balm", kind="natural", contents=(Content("s", 4.0, None, "memory"),))
    found = reported(world([share("s", 10.0, 20.0)], [rule()], more=[other]), oil=0.25, balm=0.5)
    (row,) = [r for r in found.rows if r.substance.key == "s"]
    assert row.substance.through == pytest.approx({"oil": 0.05, "balm": 0.02})
    assert (row.substance.bases, row.substance.least) == ({"published", "memory"}, True)
    assert row.percent == pytest.approx(0.7)


def test_a_constituent_without_a_row_of_its_own_is_named_in_words(world):
    found = reported(
        world([share("green-leaf-lactone", 10.0, 20.0), share("p-1-lactone", 1.0, 2.0)]), oil=0.5
    )
    names = {row.substance.name for row in found.rows}
    assert {"green leaf lactone", "p-1-lactone"} <= names


def test_a_natural_has_a_row_where_a_rule_names_it_or_nothing_of_it_is_known(world):
    named = with_(rule("oils", ("99-99-0",), 1.0), materials=("oil",))
    contents = [share("s", 10.0, 20.0)]
    assert "oil" not in {r.substance.key for r in reported(world(contents), oil=0.5).rows}
    assert "oil" in {r.substance.key for r in reported(world(contents, [named]), oil=0.5).rows}
    assert "oil" in {r.substance.key for r in reported(world(), oil=0.5).rows}


# known to be there, how much not


@pytest.mark.parametrize(
    ("limits", "allergens", "why"),
    [
        ([rule()], [], "limited"),
        ([rule(kind="prohibition", percent=None)], [], "prohibited"),
        ([rule(), rule(kind="prohibition", percent=None, market="eu")], [], "prohibited"),
        ([], [listed()], "listed"),
        ([rule(kind="specification", percent=None)], [listed()], "listed"),
        ([rule()], [listed()], "limited"),
        ([], [], None),
        ([rule(kind="specification", percent=None)], [], None),
    ],
)
@pytest.mark.parametrize("how", ["contents", "relation"])
def test_what_is_known_to_be_there_without_a_share_is_reported_and_why(world, limits, allergens, why, how):
    contents = [share("s", None)] if how == "contents" else [share("t", 1.0, 2.0)]
    relations = [] if how == "contents" else [("s", "constituent-of", "oil"), ("t", "constituent-of", "oil")]
    found = reported(world(contents, limits, allergens, relations), oil=0.5)
    reported_ = [(u.natural, u.substance.slug, u.why) for u in found.unknown]
    assert reported_ == ([] if why is None else [("oil", "s", why)])


def test_another_relation_or_another_natural_is_no_evidence_of_the_contents(world, material):
    other = material("other-oil", kind="natural", contents=(share("t", 1.0, 2.0),))
    relations = [("s", "constituent-of", "other-oil"), ("s", "isomer-of", "oil")]
    found = reported(world([share("t", 1.0, 2.0)], [rule()], relations=relations, more=[other]), oil=0.5)
    assert found.unknown == ()


def test_a_constituent_without_a_row_in_the_catalogue_does_not_hide_the_next(world):
    contents = [share("a-lactone-without-a-row", None), share("s", None), share("t", None)]
    found = reported(world(contents, [rule(), rule("t", ("22-22-0",), kind="prohibition")]), oil=0.5)
    assert [(u.substance.slug, u.why) for u in found.unknown] == [("s", "limited"), ("t", "prohibited")]


def test_a_certificate_makes_a_share_known(world):
    catalogue = world([share("s", None)], [rule()])
    assert reported(catalogue, oil=0.5).unknown
    assert reported(catalogue, certified={"oil": {"s": 3.0}}, oil=0.5).unknown == ()


# the order of the rows, and what sets the highest dosage


def test_the_most_serious_comes_first_then_the_nearest_to_its_limit(world, material):
    more = [material(x, cas=f"{n}-00-0") for n, x in ((33, "u"), (44, "v"), (55, "w"), (66, "x"))]
    limits = [
        rule("s", percent=0.5),
        rule("t", ("22-22-0",), 2.0),
        rule("u", ("33-00-0",), 1.1),
        rule("v", ("44-00-0",), 0.9, basis="memory"),
        rule("w", ("55-00-0",), None, kind="specification"),
    ]
    found = reported(world((), limits, more=more), s=0.1, t=0.1, u=0.1, v=0.1, w=0.05, x=0.06)
    assert [r.substance.key for r in found.rows] == ["s", "v", "w", "u", "t", "filler", "x"]
    assert (found.highest, found.set_by) == (pytest.approx(5.0), "s")
    assert (found.highest_verified, found.verified_set_by) == (pytest.approx(5.0), "s")
    assert found.findings


def test_an_unverified_limit_sets_the_highest_dosage_but_not_that_of_verified_limits(world):
    limits = [rule("s", percent=0.5, basis="memory"), rule("t", ("22-22-0",), 2.0)]
    found = reported(world((), limits), s=0.1, t=0.1)
    assert (found.highest, found.set_by) == (pytest.approx(5.0), "s")
    assert (found.highest_verified, found.verified_set_by) == (pytest.approx(20.0), "t")


@pytest.mark.parametrize(("percent", "basis", "findings"), [(2.0, "published", False), (2.0, "memory", True)])
def test_an_unverified_limit_is_a_finding_even_from_below(world, percent, basis, findings):
    assert reported(world((), [rule(percent=percent, basis=basis)]), s=0.1).findings is findings


def test_without_a_limit_there_is_no_highest_dosage(world):
    found = reported(world(), s=0.1)
    assert (found.highest, found.set_by, found.highest_verified, found.findings) == (None, None, None, False)
    assert found.numberless == ()


@pytest.mark.parametrize(
    ("limit", "market", "open_"),
    [
        (rule(percent=None), "any", True),
        (rule(percent=None, kind="specification"), "any", False),
        (rule(percent=None, kind="prohibition", market="eu"), "any", False),
        (rule(percent=1.0), "any", False),
        (rule(percent=None), "standards", True),
        (rule(percent=None, market="eu"), "standards", False),
        (rule(percent=None, market="eu"), "eu", True),
    ],
)
def test_a_rule_without_a_figure_for_the_category_is_to_be_looked_up(world, limit, market, open_):
    row = next(r for r in reported(world((), [limit]), market=market, s=0.1).rows if r.substance.key == "s")
    assert bool(row.open_limits) is open_


def test_a_figure_of_the_same_maker_of_rules_closes_the_question_and_another_does_not(world):
    same = reported(world((), [rule(), rule("more", percent=None)]), s=0.1)
    assert same.rows[0].open_limits == ()
    other = reported(world((), [rule(market="eu"), rule("more", percent=None)]), s=0.1)
    assert len(other.rows[0].open_limits) == 1


# the label


@pytest.mark.parametrize(
    ("category", "parts", "named"),
    [("4", 0.0001, False), ("4", 0.000101, True), ("9", 0.001, False), ("9", 0.00101, True)],
)
def test_the_label_names_what_is_above_its_amount_on_skin_or_rinsed_off(world, category, parts, named):
    # Regulation (EC) No 1223/2009, Annex III: 0.001 % where it stays on, 0.01 % where it is rinsed off
    (found,) = reported(world(allergens=[listed()]), category=category, s=parts).labels
    assert found.named is named
    assert found.percent == pytest.approx(1000 * parts / 100)


def test_the_label_adds_up_what_is_brought_and_what_is_added_and_names_the_most_first(world):
    names = [listed(), listed("T", ("22-22-0",)), listed("A", ("22-22-0",))]
    found = reported(world([share("s", 10.0, 20.0)], allergens=names), oil=0.5, s=0.1, t=0.3).labels
    assert [(x.allergen.name, round(x.percent, 6), x.through) for x in found] == [
        ("A", 3.0, ()),
        ("T", 3.0, ()),
        ("S", 2.0, ("oil",)),
    ]


def test_an_exception_is_neither_limited_nor_listed(world):
    limits, names = [rule(excepted=("s",))], [listed(excepted=("s",))]
    found = reported(world((), limits, names), s=0.1)
    assert (found.rows[0].applied, found.labels) == ((), ())


# room for one more


def test_room_is_what_the_tightest_limit_leaves_beside_what_is_there(world):
    catalogue = world([share("s", 10.0, 20.0)], [rule(percent=1.0), rule("t", ("22-22-0",), 1.0)])
    oil, s, t = (catalogue.by_slug(slug) for slug in ("oil", "s", "t"))
    # 1 % of the product at 10 % concentrate: a tenth of the concentrate, half of it oil with a fifth of s
    found = room(oil, catalogue, ProductUse(10.0))
    assert (found.parts, found.set_by) == (pytest.approx(500.0), "s")
    (raised,) = found.raised
    assert (raised.name, raised.through, raised.percent, raised.share, raised.before) == (
        "s",
        True,
        1.0,
        0.2,
        0.0,
    )
    assert raised.ratios(250.0, 10.0) == pytest.approx((0.0, 0.5))
    # s is in the rest with 5 %: (1 - x) 0.05 + 0.2 x = 0.1
    beside = room(
        oil, catalogue, ProductUse(10.0), [Amount(s, 0.05), Amount(catalogue.by_slug("filler"), 0.95)]
    )
    assert beside.parts == pytest.approx(1000 / 3)
    assert beside.raised[0].ratios(1000 / 3, 10.0) == pytest.approx((0.5, 1.0))
    # above already: no room, and none is left of less than nothing
    full = room(
        oil, catalogue, ProductUse(10.0), [Amount(s, 0.15), Amount(catalogue.by_slug("filler"), 0.85)]
    )
    assert full.parts == 0.0
    # as much as is in the oil is there already: more of the oil raises nothing
    more = room(oil, catalogue, ProductUse(10.0), [Amount(s, 0.2), Amount(catalogue.by_slug("filler"), 0.8)])
    assert (more.parts, more.raised) == (None, ())
    assert room(t, catalogue, ProductUse(5.0)).parts == pytest.approx(200.0)


def test_without_a_dosage_or_near_a_limit_nothing_bounds(world):
    catalogue = world((), [rule(percent=10.0)])
    s = catalogue.by_slug("s")
    free = room(s, catalogue, ProductUse())
    assert (free.parts, free.set_by, len(free.raised)) == (None, None, 1)
    assert room(s, catalogue, ProductUse(10.0)).parts is None  # neat it just meets the limit
    assert room(s, catalogue, ProductUse(10.1)).parts == pytest.approx(1000 / 1.01)
    assert room(s, catalogue, ProductUse(50.0, "9")).raised == ()
    assert room(s, catalogue, ProductUse(50.0, market="standards")).parts == pytest.approx(200.0)
    assert (
        room(s, catalogue, ProductUse(50.0, market="eu")).parts is None
    )  # the Standards decide nothing there


def test_only_the_standards_own_limits_count_where_they_are_asked_for(world):
    catalogue = world((), [rule(percent=1.0, market="eu"), rule(percent=2.0)])
    s = catalogue.by_slug("s")
    assert room(s, catalogue, ProductUse(10.0)).parts == pytest.approx(100.0)
    assert room(s, catalogue, ProductUse(10.0, market="standards")).parts == pytest.approx(200.0)


def test_room_gives_the_tightest_limit_first_and_the_new_names_on_the_label(world):
    catalogue = world(
        [share("s", 10.0, 20.0), share("t", 40.0, 40.0)],
        [rule(percent=1.0), rule("t", ("22-22-0",), 0.5)],
        [listed(), listed("T", ("22-22-0",))],
    )
    oil = catalogue.by_slug("oil")
    found = room(oil, catalogue, ProductUse(10.0))
    assert [raised.name for raised in found.raised] == ["t", "s"]
    assert dict(found.labels) == pytest.approx({"S": 0.2, "T": 0.4})
    beside = room(oil, catalogue, ProductUse(10.0), [Amount(catalogue.by_slug("t"), 1.0)])
    assert dict(beside.labels) == pytest.approx({"S": 0.2})


def test_phototoxic_oils_share_one_limit(world):
    photo = {"sum_group": "phototoxic"}
    catalogue = world((), [rule(percent=1.0, **photo), rule("t", ("22-22-0",), 2.0, **photo)])
    s, t, filler = (catalogue.by_slug(slug) for slug in ("s", "t", "filler"))
    # at 10 %: s alone 100, and beside a tenth of t, which uses half of its own limit, (1 - x) / 2 + 10 x = 1
    assert room(s, catalogue, ProductUse(10.0)).parts == pytest.approx(100.0)
    beside = room(s, catalogue, ProductUse(10.0), [Amount(t, 0.1), Amount(filler, 0.9)])
    assert (beside.parts, beside.set_by) == (pytest.approx(1000 * 0.5 / 9.5), "phototoxic oils together")
    full = room(s, catalogue, ProductUse(10.0), [Amount(t, 0.3), Amount(filler, 0.7)])
    assert full.parts == 0.0


# first amounts cut down


def test_amounts_are_cut_until_every_limit_is_met_and_never_rounded_up(world):
    catalogue = world([share("s", 10.0, 20.0)], [rule(percent=0.7), rule("t", ("22-22-0",), 5.0)])
    bottles = [catalogue.by_slug(slug) for slug in ("oil", "s", "t", "filler")]
    found = reduced(bottles, [300.0, 100.0, 400.0, None], catalogue, ProductUse(10.0))
    # 0.16 of the concentrate is s, 1.6 % of the product: 0.7 / 1.6 of both that bring it
    assert found == [
        (pytest.approx(131.0), "s"),
        (pytest.approx(43.7), "s"),
        (400.0, ""),
        (None, ""),
    ]


def test_phototoxic_oils_are_cut_together(world):
    photo = {"sum_group": "phototoxic"}
    catalogue = world((), [rule(percent=1.0, **photo), rule("t", ("22-22-0",), 2.0, **photo)])
    bottles = [catalogue.by_slug(slug) for slug in ("s", "t", "filler")]
    # 0.8 of the one and 0.7 of the other limit: 1.5 together
    found = reduced(bottles, [80.0, 140.0, 780.0], catalogue, ProductUse(10.0))
    assert found == [(pytest.approx(53.3), "s"), (pytest.approx(93.3), "t"), (780.0, "")]
