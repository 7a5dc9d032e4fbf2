"""What practice knows of materials, by product, colour, availability, price: what bars or is a drawback."""

from dataclasses import replace as with_
from datetime import date

import pytest
from asking import extend, pair, replace, vary
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.errors import BadValue
from recommender.evidence.sheets import Row
from recommender.evidence.tables import side_of_natural
from recommender.model import (
    ALDEHYDE,
    AMINE,
    HARDLY,
    PRACTICE,
    PRODUCTS,
    Bottle,
    Caution,
    Content,
    PracticeFact,
)
from recommender.output import sentences, text
from recommender.output.suggestions import as_dict
from recommender.palette import Palette
from recommender.suggest import Request
from recommender.suggest.eligibility import Eligibility
from recommender.suggest.stock import Shelf

pytestmark = pytest.mark.usefixtures("everything_shown")


def facts(**values):
    """Return facts from common practice; `in_time` is the colour in time."""
    named = {quality.replace("in_time", "colour in time"): value for quality, value in values.items()}
    return tuple(PracticeFact(q, v, "common practice", note="") for q, v in named.items())


def slugs(found):
    return [s.material.slug for s in found.suggestions]


def practical(found, slug):
    """Return what is said of a suggestion in one line, and its reasons from practice as data."""
    (one,) = [s for s in found.suggestions if s.material.slug == slug]
    row = next(r for r in as_dict(found)["suggestions"] if r["name"] == one.material.name)
    kinds = ("in practice", "price class")
    return sentences.in_practice(one), [r for r in row["reasons"] if r["kind"] in kinds]


@pytest.fixture(scope="module")
def bench_of(material, catalogue_of):
    """Return how a bench is made: zest, which fades, and three stand-ins with what is on record of them."""

    def put(zest=None, twin=None, leaf=None, rind=None, more=()):
        rows = [
            material("zest", {"lemon": 3, "rose": 1}, hours=1.0, pressure_pa=100.0, **(zest or {})),
            material("ember", {"smoke": 3}, hours=500.0, pressure_pa=0.1),
            material("twin", {"lemon": 3, "rose": 1}, hours=50.0, pressure_pa=2.0, **(twin or {})),
            material("leaf", {"lemon": 3, "rose": 2}, hours=40.0, pressure_pa=3.0, **(leaf or {})),
            material("rind", {"lemon": 2, "rose": 1}, hours=30.0, pressure_pa=4.0, **(rind or {})),
            *more,
        ]
        return Palette.of(catalogue_of(rows))

    return put


# products


@pytest.mark.parametrize("product", PRODUCTS)
@pytest.mark.parametrize("ask", [extend, replace, vary])
def test_what_does_poorly_in_a_product_is_not_offered_and_why_not_says_so(bench_of, product, ask):
    poor = PracticeFact(product, "poor", "memory", note="it reacts")
    palette = bench_of(twin={"practice": (poor,)}, leaf={"practice": facts(**{product: "good"})})
    found = ask("zest", palette, facet="lemon", toward="lemon", product=product, why_not="twin")
    assert "twin" not in slugs(found)
    assert "leaf" in slugs(found)
    assert f"twin does poorly in {PRODUCTS[product]}: it reacts (memory)." in found.notes
    assert "twin" in slugs(ask("zest", palette, facet="lemon", toward="lemon"))
    other = next(p for p in PRODUCTS if p != product)
    assert "twin" in slugs(ask("zest", palette, facet="lemon", toward="lemon", product=other))


def test_fair_is_a_drawback_and_so_is_what_is_not_on_record(bench_of):
    fair = PracticeFact("candle", "fair", "memory", note="little throw")
    palette = bench_of(twin={"practice": (fair,)}, leaf={"practice": facts(candle="good")})
    found = extend("zest", palette, product="candle")
    words, reasons = practical(found, "twin")
    assert words == "only fair in a candle: little throw"
    assert reasons == [
        {
            "kind": "in practice",
            "text": "In a candle twin is only fair: little throw.",
            "figures": {"material": "twin", "quality": "candle", "value": "fair", "note": "little throw"},
            "basis": "memory",
            "source": None,
        }
    ]
    words, reasons = practical(found, "rind")
    assert words == "not on record: how it does in a candle"
    assert reasons[0]["text"] == "Not on record of rind: how it does in a candle."
    assert (reasons[0]["figures"]["value"], reasons[0]["basis"]) == (None, None)
    assert practical(found, "leaf") == ("", [])
    assert practical(extend("zest", palette), "twin") == ("", [])


def test_an_unknown_product_names_those_there_are(bench_of):
    with pytest.raises(BadValue, match="soap, candle, shampoo, wash"):
        extend("zest", bench_of(), product="lipstick")


# colour


@pytest.mark.parametrize(
    ("known", "said"),
    [
        (facts(colour="coloured"), "twin is coloured as sold (common practice)."),
        (facts(colour="dark", in_time="stable"), "twin is dark as sold (common practice)."),
        (facts(colour="pale", in_time="yellows"), "twin yellows in time (common practice)."),
        (facts(in_time="browns"), "twin browns in time (common practice)."),
        (facts(colour="colourless", in_time="stable"), None),
        (facts(colour="pale", in_time="stable"), None),
        ((), None),
    ],
)
def test_what_is_coloured_or_colours_in_time_is_not_offered(bench_of, known, said):
    found = extend("zest", bench_of(twin={"practice": known}), colourless=True, why_not="twin")
    assert ("twin" in slugs(found)) is (said is None)
    assert said is None or said in found.notes


@pytest.mark.parametrize(
    ("known", "offered"), [((), False), (facts(in_time="stable"), True), (facts(colour="pale"), False)]
)
def test_a_caution_on_discolouring_counts_where_nothing_else_is_on_record(bench_of, known, offered):
    browns = (Caution("discolours", "Browns in light.", "common practice"),)
    palette = bench_of(twin={"practice": known, "cautions": browns})
    found = extend("zest", palette, colourless=True, why_not="twin")
    assert ("twin" in slugs(found)) is offered
    assert ("twin discolours: Browns in light." in found.notes) is not offered


@pytest.mark.parametrize(
    ("known", "said"),
    [
        ((), "not on record: its colour as sold and what light and air do to it"),
        (facts(colour="pale"), "not on record: what light and air do to it"),
        (facts(in_time="stable"), "not on record: its colour as sold"),
        (facts(colour="pale", in_time="stable"), ""),
    ],
)
def test_a_colour_that_is_not_on_record_is_a_drawback(bench_of, known, said):
    found = extend("zest", bench_of(twin={"practice": known}), colourless=True)
    assert practical(found, "twin")[0] == said


@pytest.mark.parametrize(("here", "there"), [(AMINE, ALDEHYDE), (ALDEHYDE, AMINE)])
def test_what_makes_a_schiff_base_with_the_formula_is_not_offered_there(bench_of, material, here, there):
    foil = material("foil", {"smoke": 2}, hours=90.0, schiff_base=here)
    palette = bench_of(twin={"schiff_base": there}, more=[foil])
    accord = {"zest": 20, "ember": 60, "foil": 20}
    found = extend(_formula(palette, accord), palette, facet="lemon", colourless=True, why_not="twin")
    assert "twin" not in slugs(found)
    assert "leaf" in slugs(found)
    assert found.notes[-1] == "twin makes a coloured Schiff base with foil."
    assert "twin" in slugs(extend(_formula(palette, accord), palette, facet="lemon"))
    assert "twin" in slugs(extend(_formula(palette, {"zest": 1, "ember": 3}), palette, facet="lemon"))


@pytest.mark.parametrize("side", [AMINE, ALDEHYDE])
def test_two_of_one_side_make_no_schiff_base(bench_of, side):
    palette = bench_of(zest={"schiff_base": side}, twin={"schiff_base": side})
    assert "twin" in slugs(extend("zest", palette, colourless=True))


def test_what_is_replaced_is_gone_and_makes_no_schiff_base(bench_of):
    palette = bench_of(zest={"schiff_base": AMINE}, twin={"schiff_base": ALDEHYDE})
    accord = _formula(palette, {"zest": 20, "ember": 80})
    assert "twin" in slugs(replace("zest", palette, formula=accord, colourless=True))
    assert "twin" in slugs(replace("zest", palette, colourless=True))
    assert "twin" in slugs(vary("zest", palette, toward="lemon", colourless=True))
    # what keeps it alive is used with it
    assert "twin" not in slugs(extend("zest", palette, colourless=True))
    assert "twin" not in slugs(extend("zest", palette, formula=accord, facet="lemon", colourless=True))


def test_a_companion_is_used_with_what_it_goes_with(material, catalogue_of, relation):
    rows = [
        material("aminate", {"lemon": 3}, hours=4.0, schiff_base=AMINE),
        material("aldose", {"rose": 3}, hours=8.0, schiff_base=ALDEHYDE),
        material("petal", {"smoke": 3}, hours=8.0),
    ]
    pairs = [relation("aminate", "classic-pair", other) for other in ("aldose", "petal")]
    palette = Palette.of(catalogue_of(rows, pairs))
    assert set(slugs(pair("aminate", palette))) == {"aldose", "petal"}
    found = pair("aminate", palette, colourless=True, why_not="aldose")
    assert slugs(found) == ["petal"]
    assert found.notes[-1] == "aldose makes a coloured Schiff base with aminate."


def test_members_of_a_relay_or_a_blend_make_no_schiff_base_with_each_other(bench_of, material):
    peel = material("peel", {"lemon": 3}, hours=10.0, pressure_pa=8.0, schiff_base=AMINE)
    balsam = material("balsam", {"lemon": 3}, hours=200.0, pressure_pa=0.3, schiff_base=ALDEHYDE)
    posy = material("posy", {"lemon": 3, "rose": 3}, hours=5.0)
    rosy = material("rosy", {"rose": 3}, hours=12.0, schiff_base=AMINE)
    palette = bench_of(more=[peel, balsam, posy, rosy], twin={"schiff_base": ALDEHYDE})
    accord = _formula(palette, {"zest": 20, "ember": 80})

    def teams(found):
        return [{m.slug for m, _ in s.members} for s in found.suggestions]

    asked = {"facet": "lemon", "relay": True, "top": 20}
    assert {"peel", "balsam"} in teams(extend(accord, palette, **asked))
    left = teams(extend(accord, palette, **asked, colourless=True))
    assert left
    assert {"peel", "balsam"} not in left
    assert {"twin", "rosy"} in teams(replace("posy", palette, blend=2, top=20))
    assert {"twin", "rosy"} not in teams(replace("posy", palette, blend=2, top=20, colourless=True))


def test_each_member_has_its_drawbacks_by_name(bench_of, material):
    posy = material("posy", {"lemon": 3, "rose": 3}, hours=5.0)
    rosy = material("rosy", {"rose": 3}, hours=12.0, practice=facts(soap="fair"))
    palette = bench_of(more=[posy, rosy], twin={"practice": facts(soap="good")})
    found = replace("posy", palette, blend=2, product="soap", top=20).suggestions
    (both,) = [s for s in found if {m.slug for m, _ in s.members} == {"twin", "rosy"}]
    assert sentences.in_practice(both) == "rosy, only fair in bar soap"


# which side a material takes


@pytest.mark.parametrize(
    ("percent", "warned", "side"),
    [
        ({"anthranil": 0.2}, True, AMINE),
        ({"anthranil": 0.2}, False, ""),
        ({"citralin": 4.0}, False, ""),
        ({"citralin": 6.0}, False, ALDEHYDE),
        ({"citralin": 60.0, "anthranil": 0.3}, True, AMINE),
        ({"citralin": 60.0, "anthranil": 0.3}, False, ALDEHYDE),
        ({}, True, ALDEHYDE),
        ({}, False, ""),
    ],
)
def test_a_natural_takes_the_side_of_what_it_has_much_of_or_is_warned_of(percent, warned, side):
    molecules = {
        name: Row("molecules.csv", 2, {"material": name, "schiff_base": of})
        for name, of in (("anthranil", AMINE), ("citralin", ALDEHYDE))
    }
    contents = [Content(name, value, value, "memory") for name, value in percent.items()]
    cautions = [Row("cautions.csv", 2, {"kind": "schiff base"})] if warned else []
    assert side_of_natural(cautions, contents, molecules) == side


def test_the_shipped_materials_take_their_sides(shipped):
    sides = {m.slug: m.schiff_base for m in shipped.materials}
    assert {sides[s] for s in ("methyl-anthranilate", "neroli-oil")} == {AMINE}
    assert {sides[s] for s in ("citral", "hydroxycitronellal", "lemongrass-oil")} == {ALDEHYDE}
    assert {
        sides[s] for s in ("linalool", "dimethyl-anthranilate", "hydroxycitronellal-methyl-anthranilate")
    } == {""}


# availability


def test_what_is_hardly_to_be_had_is_not_offered_unless_a_bottle_is_there(bench_of):
    palette = bench_of(
        zest={"availability": "common"}, twin={"availability": HARDLY}, leaf={"availability": "specialist"}
    )
    found = extend("zest", palette, available=True, why_not="twin")
    assert "twin" not in slugs(found)
    assert found.notes[-1] == "twin is hardly to be had."
    assert practical(found, "leaf")[0] == ""
    assert practical(found, "rind")[0] == "not on record: how easily it can be bought"
    held = Shelf((Bottle("my twin", "twin", amount_g=9.0), Bottle("my rind", "rind")), date(2026, 1, 15))
    found = extend("zest", palette, available=True, shelf=held)
    assert "twin" in slugs(found)
    assert practical(found, "rind")[0] == ""


@pytest.mark.parametrize("ask", [extend, replace, vary])
def test_where_it_has_to_be_available_what_is_not_on_record_comes_last(bench_of, material, ask):
    peel = material("peel", {"lemon": 2}, hours=30.0, pressure_pa=4.0, availability="specialist")
    palette = bench_of(rind={"availability": "common"}, more=[peel])
    asked = {"facet": "lemon", "toward": "lemon"}
    plain = slugs(ask("zest", palette, **asked))
    on_record = [slug for slug in plain if slug in ("rind", "peel")]
    assert plain[:2] != on_record
    found = ask("zest", palette, available=True, **asked)
    assert slugs(found) == [*on_record, *(slug for slug in plain if slug not in on_record)]
    assert slugs(ask("zest", palette, available=True, top=2, **asked)) == on_record


# what was asked about


@pytest.mark.parametrize("ask", [extend, replace, vary, pair])
@pytest.mark.parametrize(
    ("known", "filters", "said"),
    [
        ({"practice": (PracticeFact("wash", "poor", "memory", note="browns"),)}, {"product": "wash"},
         "zest itself: poor in washing powder: browns."),
        ({"practice": facts(wash="fair")}, {"product": "wash"}, "zest itself: only fair in washing powder."),
        ({"practice": facts(wash="good")}, {"product": "wash"}, ""),
        ({}, {"product": "wash"}, "zest itself: not on record: how it does in washing powder."),
        ({"practice": facts(wash="poor")}, {"available": True}, ""),
        ({"practice": facts(colour="coloured", in_time="browns")}, {"colourless": True},
         "zest itself: coloured as sold; browns in time."),
        ({"practice": facts(colour="pale", in_time="stable")}, {"colourless": True}, ""),
        ({"practice": facts(colour="pale"), "cautions": (Caution("discolours", "In light.", "memory"),)},
         {"colourless": True}, "zest itself: discolours in time: In light."),
        ({"practice": facts(wash="poor", colour="dark", in_time="stable")},
         {"product": "wash", "colourless": True}, "zest itself: poor in washing powder; dark as sold."),
    ],
)  # fmt: skip
def test_what_was_asked_about_is_judged_too(bench_of, ask, known, filters, said):
    found = ask("zest", bench_of(zest=known), facet="lemon", toward="lemon", **filters)
    assert sentences.itself(found) == said
    assert (said in text.remarks(found)) is bool(said)
    data = as_dict(found).get("itself", [])
    assert bool(data) is bool(said)
    assert all(row["kind"] == "in practice" and "zest" in row["text"] for row in data)


def test_the_lines_of_a_formula_are_judged_once_in_the_notes(bench_of, material):
    foil = material("foil", {"smoke": 2}, hours=90.0, schiff_base=AMINE, practice=facts(wash="poor"))
    browns = PracticeFact("wash", "poor", "memory", note="browns")
    later = PracticeFact("colour in time", "yellows", "memory", note="in light")
    zest = {"practice": (browns, later), "schiff_base": ALDEHYDE}
    palette = bench_of(zest=zest, more=[foil])
    accord = _formula(palette, {"zest": 20, "ember": 60, "foil": 20})
    strict = {"product": "wash", "colourless": True}
    about = [
        "In accord, poor in washing powder: zest (browns), foil.",
        "In accord, not colourless: zest yellows in time: in light (memory).",
        "foil makes a coloured Schiff base with zest.",
    ]
    for ask, more in ((extend, {"facet": "lemon"}), (vary, {"toward": "rose"}), (pair, {})):
        found = ask(accord, palette, **more, **strict)
        assert [found.notes.count(note) for note in about] == [1, 1, 1]
        assert found.itself == ()
        assert not set(about) & set(ask(accord, palette, **more).notes)
    # the asked has a line of its own, the others are named
    found = replace("zest", palette, formula=accord, **strict)
    assert sentences.itself(found) == (
        "zest itself: poor in washing powder: browns; yellows in time: in light; "
        "not on record: its colour as sold."
    )
    assert "In accord, poor in washing powder: foil." in found.notes
    assert not any("yellows" in note or "Schiff" in note for note in found.notes)


# price


@pytest.mark.parametrize(
    ("asked", "offered", "because", "said"),
    [
        ("low", "high", None, "dearer: high against low"),
        ("low", "very high", "smell", "dearer: very high against low"),
        ("low", "medium", None, ""),
        ("low", "medium", "price", "dearer: medium against low"),
        ("high", "low", None, ""),
        ("high", "medium", "price", "cheaper: medium against high"),
        ("high", "high", "price", "same price class, not cheaper"),
        ("high", "high", None, ""),
        (None, "high", "price", ""),
        ("low", None, "price", ""),
    ],
)
def test_a_price_class_is_shown_where_it_decides(bench_of, asked, offered, because, said):
    known = [{"practice": facts(price=value)} if value else {} for value in (asked, offered)]
    found = replace("zest", bench_of(zest=known[0], twin=known[1]), because=because)
    words, reasons = practical(found, "twin")
    assert words == said
    if asked == offered and said:
        said = f"not cheaper: both are {asked}"
    assert [r["text"] for r in reasons] == ([f"By price class twin is {said}."] if said else [])


@pytest.mark.parametrize("ask", [extend, vary])
def test_only_a_stand_in_is_compared_by_price(bench_of, ask):
    palette = bench_of(zest={"practice": facts(price="low")}, twin={"practice": facts(price="very high")})
    assert practical(ask("zest", palette, facet="lemon", toward="lemon"), "twin") == ("", [])


def test_a_price_from_memory_is_compared_as_memory(bench_of):
    dear = {"practice": (PracticeFact("price", "high", "memory"),)}
    found = replace("zest", bench_of(zest={"practice": facts(price="low")}, twin=dear))
    assert practical(found, "twin")[1][0]["basis"] == "memory"


def test_price_classes_decide_the_order_where_no_bottle_has_a_price(bench_of):
    palette = bench_of(
        zest={"practice": facts(price="high")},
        twin={"practice": facts(price="very high")},
        leaf={"practice": facts(price="low")},
    )
    found = replace("zest", palette, because="price")
    price = {s.material.slug: s.terms["price"] for s in found.suggestions}
    # 450 / (450 + 2000), 450 / (450 + 25), unknown as the asked
    assert price == pytest.approx({"twin": 0.18367, "leaf": 0.94737, "rind": 0.5}, abs=1e-4)
    assert any("so that price classes decide" in note for note in found.notes)
    same = bench_of(zest={"practice": facts(price="high")}, twin={"practice": facts(price="high")})
    assert practical(replace("zest", same, because="price"), "twin")[0] == "same price class, not cheaper"
    held = Shelf((Bottle("a", "twin", price_per_g=0.01, amount_g=9.0),), date(2026, 1, 15))
    found = replace("zest", palette, because="price", shelf=held)
    assert {s.material.slug: s.terms["price"] for s in found.suggestions}["leaf"] == 0.5
    assert not any("price classes" in note for note in found.notes)
    assert practical(replace("zest", same, because="price", shelf=held), "twin")[0] == ""


# laws

VALUE = st.sampled_from(["good", "fair", "poor", None])
COLOUR = st.sampled_from([*PRACTICE["colour"], None])
CHANGE = st.sampled_from([*PRACTICE["colour in time"], None])
AVAILABLE = st.sampled_from(["common", "specialist", HARDLY, ""])


@st.composite
def known_of_one(draw):
    values = {"candle": draw(VALUE), "colour": draw(COLOUR), "colour in time": draw(CHANGE)}
    practice = tuple(PracticeFact(q, v, "memory") for q, v in values.items() if v)
    return {
        "practice": practice,
        "availability": draw(AVAILABLE),
        "schiff_base": draw(st.sampled_from(["", ALDEHYDE, AMINE])),
    }


FILTERS = st.fixed_dictionaries(
    {
        "product": st.sampled_from([None, "candle"]),
        "colourless": st.booleans(),
        "available": st.booleans(),
    }
)


@given(st.lists(known_of_one(), min_size=4, max_size=4), FILTERS)
@settings(deadline=None, max_examples=30)
def test_a_filter_adds_no_offer_and_leaves_the_order_and_the_scores_of_the_others(bench_of, known, filters):
    palette = bench_of(*known)
    for ask in (extend, replace):
        everything = ask("zest", palette, facet="lemon", top=50)
        found = ask("zest", palette, facet="lemon", top=50, **filters)
        left = [slug for slug in slugs(everything) if slug in set(slugs(found))]
        if filters["available"]:  # what is not on record comes last
            left.sort(key=lambda slug: not palette.catalogue.by_slug(slug).availability)
        assert slugs(found) == left
        scores = {s.material.slug: s.score for s in everything.suggestions}
        assert [s.score for s in found.suggestions] == [scores[slug] for slug in slugs(found)]


@given(st.lists(known_of_one(), min_size=4, max_size=4), FILTERS)
@settings(deadline=None, max_examples=30)
def test_each_filter_bars_by_itself_what_it_bars_together_with_others(bench_of, known, filters):
    palette = bench_of(*known)
    asked = palette.catalogue.by_slug("zest")

    def may(**given):
        bounds = Eligibility(Request(**given), palette, asked=asked, beside=frozenset({"zest"}))
        return bounds.mask

    alone = [may(**{name: value}) for name, value in filters.items()]
    assert (may(**filters) == (alone[0] & alone[1] & alone[2])).all()


def _formula(palette, parts):
    from recommender.model import Formula, Line

    lines = tuple(Line(palette.catalogue.by_slug(slug), float(n)) for slug, n in parts.items())
    return Formula("accord", lines)


def test_a_fact_is_found_by_its_quality(material):
    one = with_(material("zest"), practice=facts(soap="good", price="low"))
    assert one.in_practice("price").value == "low"
    assert one.in_practice("candle") is None
