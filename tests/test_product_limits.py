"""What a suggestion says of limits and labels, and how limits bound its dose: figures of a toy world."""

from dataclasses import replace as with_

import pytest
from asking import extend, pair, replace, vary

from recommender.model import (
    PRODUCT_CATEGORIES,
    PRODUCTS,
    Allergen,
    Category,
    Caution,
    Content,
    Limit,
)
from recommender.output import sentences
from recommender.palette import Palette

pytestmark = pytest.mark.usefixtures("everything_shown")

DOSAGE = 10.0
"""The concentrate in the product [%]."""


def rule(name, cas, percent, market="standards", basis="published", **more):
    percents = percent if isinstance(percent, dict) else {"4": percent}
    return Limit(name, (cas,), (), "restriction", market, basis, "toy-2020", percent=percents, **more)


@pytest.fixture(scope="module")
def bench_of(material, catalogue_of, relation):
    def put(*limits, allergens=(), paired=False):
        oil = tuple(
            Content(slug, 10.0, high, "published")
            for slug, high in (("one", 20.0), ("two", 40.0), ("three", 5.0))
        )
        rows = [
            material("zest", {"lemon": 3}, cas="11-11-0", hours=1.0, pressure_pa=100.0),
            material("ember", {"smoke": 3}, cas="22-22-0", hours=500.0, pressure_pa=0.1),
            material("twin", {"lemon": 3}, cas="33-33-0", hours=50.0, pressure_pa=2.0),
            material(
                "oil", {"lemon": 3}, cas="44-44-0", hours=50.0, pressure_pa=2.0, kind="natural", contents=oil
            ),
            material("one", cas="55-55-0"),
            material("two", cas="66-66-0"),
            material("three", cas="77-77-0"),
        ]
        pairs = [relation("ember", "classic-pair", "oil")] if paired else []
        candles = Category("12", "candles", "not a cosmetic")
        there = catalogue_of(rows, pairs, limits=limits)
        return Palette.of(with_(there, allergens=tuple(allergens), categories=(candles,)))

    return put


@pytest.fixture(scope="module")
def accord(tmp_path_factory):
    path = tmp_path_factory.mktemp("formulas") / "accord.csv"
    path.write_text("material,parts\nzest,200\nember,800\n")
    return str(path)


def by_slug(found):
    return {s.material.slug: s for s in found.suggestions}


def on_label(found):
    return sentences.in_product(by_slug(found)["oil"])


def told(suggestion, kind="counts against a limit"):
    return [r.figures for r in suggestion.reasons if r.kind == kind]


def test_without_a_dosage_the_limit_is_named_and_nothing_is_bounded(bench_of):
    (limit,) = told(by_slug(extend("zest", bench_of(rule("twins", "33-33-0", 0.5))))["twin"])
    assert limit == {
        "substance": "twin",
        "through": None,
        "limit_percent": 0.5,
        "category": "4",
        "market": "standards",
        "verified": True,
        "dosage": None,
        "most_parts": None,
        "before": None,
        "after": None,
    }


def test_at_a_dosage_it_is_told_how_many_parts_meet_the_limit(bench_of):
    palette = bench_of(rule("twins", "33-33-0", 0.5, basis="memory"))
    (limit,) = told(by_slug(extend("zest", palette, dosage_percent=DOSAGE))["twin"])
    assert (limit["most_parts"], limit["dosage"], limit["verified"]) == (pytest.approx(50.0), 10.0, False)
    assert (limit["before"], limit["after"]) == (None, None)
    (limit,) = told(by_slug(extend("zest", palette, dosage_percent=0.1))["twin"])
    assert limit["most_parts"] == 1000.0


def test_the_two_tightest_limits_of_a_natural_are_told_the_tightest_first(bench_of):
    palette = bench_of(
        rule("ones", "55-55-0", 1.0),  # 20 % of the oil: 5 % of the oil in the product
        rule("twos", "66-66-0", 1.0),  # 40 %: 2.5 %
        rule("threes", "77-77-0", 0.2),  # 5 %: 4 %
        rule("twos again", "66-66-0", 3.0),  # of one substance the tightest only
    )
    limits = told(by_slug(extend("zest", palette, dosage_percent=50.0))["oil"])
    assert [(x["substance"], x["through"], x["limit_percent"]) for x in limits] == [
        ("two", "oil", 1.0),
        ("three", "oil", 0.2),
    ]
    assert [x["most_parts"] for x in limits] == pytest.approx([50.0, 80.0])


def test_in_a_formula_the_ratio_before_and_after_the_first_try_is_told(accord, bench_of):
    palette = bench_of(rule("lemons", "33-33-0", 0.5, counted_with=("11-11-0",)))
    found = by_slug(extend(accord, palette, facet="lemon", dosage_percent=1.0))["twin"]
    (limit,) = told(found)
    # zest and twin count together: a fifth of the concentrate at 1 % is 0.2 of 0.5 %
    assert limit["before"] == pytest.approx(0.4)
    share = found.dose.first_try / 1000.0
    assert limit["after"] == pytest.approx(0.4 * (1 - share) + 2.0 * share)
    assert limit["most_parts"] == pytest.approx(1000 * (0.5 - 0.2) / (1.0 - 0.2))


@pytest.mark.parametrize(
    ("percent", "high"),
    # 50 without a limit; below one, the smallest rung that wins four fifths of what may be won
    [(5.0, 50.0), (0.5, 25.0), (0.2, 12.0), (0.05, 5.0), (0.0123, 1.0)],
)
def test_a_limit_caps_the_dose_in_a_formula(accord, bench_of, percent, high):
    palette = bench_of(rule("x", "33-33-0", percent))
    dose = by_slug(extend(accord, palette, facet="lemon", dosage_percent=DOSAGE))["twin"].dose
    assert dose.high == pytest.approx(high)
    assert dose.high <= 100 * percent
    assert dose.first_try == pytest.approx(dose.high / 2, rel=0.06)


@pytest.mark.parametrize(("percent", "offered"), [(1.1e-4, True), (0.9e-4, False)])
@pytest.mark.parametrize("verb", ["extend", "replace"])
def test_what_limits_leave_less_than_a_hundredth_part_of_is_not_offered(
    accord, bench_of, percent, offered, verb
):
    palette = bench_of(rule("x", "33-33-0", percent))
    if verb == "extend":
        # so little wins nothing: an oil beside it shows that others are still offered
        found = extend(accord, palette, facet="lemon", dosage_percent=DOSAGE)
        assert "oil" in by_slug(found)
        assert "twin" not in by_slug(found)
    else:
        found = replace("zest", palette, dosage_percent=DOSAGE, formula=accord)
        assert ("twin" in by_slug(found)) is offered


def test_a_stand_in_is_capped_beside_the_rest_without_what_it_replaces(accord, bench_of):
    palette = bench_of(rule("lemons", "33-33-0", 0.5, counted_with=("11-11-0",)))
    dose = by_slug(replace("zest", palette, dosage_percent=DOSAGE, formula=accord))["twin"].dose
    assert dose.high == pytest.approx(50.0)
    assert dose.of_query == pytest.approx(0.25)
    assert (dose.first_try, dose.low) == (pytest.approx(50.0), 25.0)


def test_the_label_of_a_stand_in_is_what_is_new_on_it(accord, bench_of):
    names = [
        Allergen(n, (c,), (), "original", "1", "published", "toy-2020")
        for n, c in (("One", "55-55-0"), ("Zest", "11-11-0"))
    ]
    palette = bench_of(allergens=names)
    (label,) = told(by_slug(replace("zest", palette, formula=accord))["oil"], "adds to the label")
    assert label == {"material": "oil", "names": {"One": pytest.approx(20.0)}, "in_addition": True}
    (label,) = told(by_slug(extend("zest", palette))["oil"], "adds to the label")
    assert label["names"] == {"One": pytest.approx(20.0)}
    assert told(by_slug(extend("zest", palette))["twin"], "adds to the label") == []


@pytest.mark.parametrize("ask", [extend, vary, pair])
def test_all_names_of_the_label_are_given_where_nothing_is_replaced(bench_of, accord, ask):
    one = Allergen("One", ("55-55-0", "11-11-0", "22-22-0"), (), "original", "1", "published", "toy-2020")
    two = Allergen("Two", ("66-66-0",), (), "original", "2", "published", "toy-2020")
    palette = bench_of(allergens=[one, two], paired=ask is pair)
    asked, name = {"toward": "lemon"} if ask is vary else {}, "ember" if ask is pair else "zest"
    (label,) = told(by_slug(ask(name, palette, **asked))["oil"], "adds to the label")
    assert label["names"] == {"Two": pytest.approx(40.0), "One": pytest.approx(20.0)}
    whole = "With oil, the label has to name Two (up to 40 %) and One (up to 20 %)."
    assert whole in on_label(ask(name, palette, **asked))
    for formula in (None, accord):
        new = "With oil, the label has to name in addition Two (up to 40 %)."
        assert new in on_label(replace("zest", palette, formula=formula))


@pytest.mark.parametrize(
    ("asked", "named"), [({}, True), ({"product": "soap"}, True), ({"product": "candle"}, False)]
)
def test_what_is_no_cosmetic_has_no_cosmetic_label(bench_of, asked, named):
    one = Allergen("One", ("55-55-0",), (), "original", "1", "published", "toy-2020")
    palette = bench_of(allergens=[one])
    assert bool(told(by_slug(extend("zest", palette, **asked))["oil"], "adds to the label")) is named
    by_category = extend("zest", palette, **{**asked, "category": "12"})
    assert told(by_slug(by_category)["oil"], "adds to the label") == []


@pytest.mark.parametrize(
    ("asked", "category"),
    [
        ({}, "4"),
        ({"product": "soap"}, "9"),
        ({"product": "shampoo"}, "9"),
        ({"product": "candle"}, "12"),
        ({"product": "wash"}, "10A"),
        ({"product": "candle", "category": "4"}, "4"),
        ({"category": "5a"}, "5A"),
    ],
)
def test_the_product_gives_the_category_and_a_given_one_wins(bench_of, asked, category):
    percent = {"4": 1.0, "9": 2.0, "12": 3.0, "10A": 4.0, "5A": 5.0}
    palette = bench_of(rule("lemons", "33-33-0", percent))
    found = extend("zest", palette, **asked)
    (limit,) = told(by_slug(found)["twin"])
    assert (limit["category"], limit["limit_percent"]) == (category, percent[category])
    assert found.query["category"] == category
    note = [n for n in found.notes if n.startswith("Limits for ")]
    assert bool(note) is ("product" in asked and "category" not in asked)
    if category == "12":
        assert note == ["Limits for a candle are those of category 12: candles."]


def test_every_product_has_a_category_of_the_shipped_table(shipped):
    assert set(PRODUCT_CATEGORIES) == set(PRODUCTS)
    use = {category.name: category.use for category in shipped.categories}
    assert {product: use[name] for product, name in PRODUCT_CATEGORIES.items()} == {
        "soap": "rinse-off",
        "shampoo": "rinse-off",
        "candle": "not a cosmetic",
        "wash": "not a cosmetic",
    }


def test_a_trouble_that_a_stand_in_shares_is_told_with_what_it_rests_on(material, catalogue_of, relation):
    def bottle(name, *cautions):
        held = tuple(Caution(kind, f"{kind}.", basis) for kind, basis in cautions)
        return material(name, {"lemon": 3}, hours=4.0, cautions=held)

    rows = [
        bottle("asked", ("toxic vapour", "published"), ("discolours", "published")),
        bottle("firm", ("discolours", "published")),
        bottle("both", ("discolours", "memory"), ("toxic vapour", "published")),
        bottle("other", ("phototoxic", "published")),
        bottle("acetal"),
    ]
    palette = Palette.of(catalogue_of(rows, [relation("acetal", "acetal-of", "asked")]))
    found = by_slug(replace("asked", palette))
    reasons = {
        name: [
            (r.kind, r.figures.get("kinds"), r.basis)
            for r in s.reasons
            if r.kind in ("same trouble", "milder")
        ]
        for name, s in found.items()
    }
    assert reasons == {
        "firm": [("same trouble", ["discolours"], "common practice")],
        "both": [("same trouble", ["toxic vapour", "discolours"], "memory")],
        "other": [],
        "acetal": [("milder", None, "common practice")],
    }
    worth = {name: s.terms["untroubled"] for name, s in found.items()}
    assert worth == pytest.approx({"firm": 0.7, "both": 0.35, "other": 1.0, "acetal": 0.5})
    varied = by_slug(vary("asked", palette, toward="lemon"))
    assert not [r for s in varied.values() for r in s.reasons if r.kind in ("same trouble", "milder")]
