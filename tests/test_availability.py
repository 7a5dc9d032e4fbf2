"""What the person's bottles and nose let through, and which bottle a suggestion is taken from."""

from dataclasses import replace as with_
from datetime import date

import pytest
from asking import drydown, extend, replace, vary

from recommender.errors import BadValue
from recommender.model import HARDLY, Allergen, Bottle, Caution, OwnNote, Reading
from recommender.output import sentences
from recommender.output.suggestions import as_dict
from recommender.palette import Palette
from recommender.suggest import Request
from recommender.suggest.revise import revise
from recommender.suggest.stock import Shelf

pytestmark = pytest.mark.usefixtures("everything_shown")

TODAY = date(2026, 1, 15)


def shelf(*bottles):
    return Shelf(tuple(with_(b, number=i) for i, b in enumerate(bottles, 1)), TODAY)


def bottle(material, percent=100.0, price=None, amount=10.0, **more):
    return Bottle(f"my {material}", material, percent, price_per_g=price, amount_g=amount, **more)


@pytest.fixture(scope="module")
def bench_of(material, catalogue_of, relation):
    def put(**notes):
        rows = [
            material("zest", {"lemon": 3}, hours=1.0, pressure_pa=100.0),
            material("ember", {"smoke": 3}, hours=500.0, pressure_pa=0.1),
            material(
                "twin",
                {"lemon": 3},
                hours=50.0,
                pressure_pa=2.0,
                cautions=(Caution("x", "Keep cool.", "memory"),),
            ),
            material("leaf", {"lemon": 3, "rose": 1}, hours=10.0, pressure_pa=8.0),
            material("rosy", {"rose": 3}, hours=60.0, pressure_pa=1.5),
        ]
        rows = [with_(m, own=notes.get(m.slug)) for m in rows]
        return Palette.of(catalogue_of(rows))

    return put


@pytest.fixture(scope="module")
def palette(bench_of):
    return bench_of()


@pytest.fixture(scope="module")
def accord(tmp_path_factory):
    path = tmp_path_factory.mktemp("formulas") / "accord.csv"
    path.write_text("material,parts\nzest,200\nember,800\n")
    return str(path)


def slugs(found):
    return [s.material.slug for s in found.suggestions]


# the nose


@pytest.mark.parametrize(
    ("note", "left", "said"),
    [
        (OwnNote("twin", blind=True), ["leaf"], "You cannot smell twin, as your notebook says."),
        (OwnNote("twin", denied=("lemon",)), ["leaf"], "To your nose twin does not smell of lemon."),
        (OwnNote("twin", denied=("lemon", "rose")), ["leaf"], "To your nose twin does not smell of lemon."),
        (OwnNote("twin", denied=("rose",)), ["leaf", "twin"], None),
    ],
)
def test_what_the_nose_does_not_smell_is_not_offered(bench_of, note, left, said):
    palette = bench_of(twin=note)
    assert sorted(slugs(extend("zest", palette))) == left
    if said:
        assert extend("zest", palette, why_not="twin").notes[-1] == said


def test_of_two_wanted_facets_one_that_is_smelled_is_enough(bench_of):
    palette = bench_of(leaf=OwnNote("leaf", denied=("lemon",)))
    assert "leaf" in slugs(replace("zest", palette, facet="lemon, rose"))
    assert "leaf" not in slugs(replace("zest", palette, facet="lemon"))
    assert "leaf" in slugs(replace("zest", palette))


# the shelf


def test_only_what_is_on_the_shelf_and_not_empty_is_offered(palette):
    held = shelf(bottle("twin"), bottle("leaf", amount=0.0), bottle("zest"))
    found = extend("zest", palette, shelf=held, only_shelf=True, why_not="leaf")
    assert slugs(found) == ["twin"]
    assert found.notes[-1] == "leaf is not on your shelf."
    assert slugs(extend("zest", palette, shelf=held)) == ["twin", "leaf"]


@pytest.mark.parametrize(
    ("price", "percent", "offered", "said"),
    [
        (2.0, 100.0, True, None),
        (2.01, 100.0, False, "leaf costs 2.01 a gram neat, more than 2."),
        (0.2, 10.0, True, None),  # of the neat material, not of the dilution
        (0.21, 10.0, False, "leaf costs 2.1 a gram neat, more than 2."),
        (None, 100.0, False, "No price of leaf is on your shelf."),
    ],
)
def test_a_price_bounds_a_gram_of_the_neat_material(palette, price, percent, offered, said):
    held = shelf(bottle("twin", price=1.0), bottle("leaf", percent, price))
    found = extend("zest", palette, shelf=held, max_price=2.0)
    assert ("leaf" in slugs(found)) is offered
    count = 1 if price is None else 2
    assert found.notes[-1] == (
        "Only materials with a price on the shelf, at most 2 for a gram of the neat material "
        f"({count} have a price)."
    )
    if said:
        assert said in extend("zest", palette, shelf=held, max_price=2.0, why_not="leaf").notes


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"only_shelf": True}, "no bottle is on the shelf yet"),
        ({"max_price": 2.0}, "no bottle is on the shelf yet"),
        ({"only_shelf": True, "shelf": shelf()}, "no bottle is on the shelf yet"),
        ({"only_shelf": True, "shelf": shelf(Bottle("?", ""))}, "no bottle has a material yet"),
        ({"max_price": 2.0, "shelf": shelf(bottle("twin"))}, "no bottle on the shelf has a price yet"),
        ({"max_price": 0.0, "shelf": shelf(bottle("twin", price=1.0))}, "above 0"),
        ({"max_price": float("nan"), "shelf": shelf(bottle("twin", price=1.0))}, "above 0"),
    ],
)
def test_a_shelf_that_cannot_answer_is_an_error(palette, fields, said):
    with pytest.raises(BadValue, match=said):
        extend("zest", palette, **fields)


def test_a_bottle_is_named_with_what_to_take_care_of_before_the_cautions(palette):
    held = shelf(bottle("twin", 10.0, amount=19.0))
    found = {s.material.slug: s for s in extend("zest", palette, shelf=held).suggestions}
    assert [b.label for b in found["twin"].bottles] == ["my twin"]
    assert found["twin"].cautions == ("my twin runs low: 19 g left at 10 %.", "Keep cool.")
    assert found["leaf"].bottles == ()
    assert found["twin"].dose is None


# in a formula: the dose is weighed from a bottle


def from_bottles(accord, palette, *bottles, **request):
    found = extend(accord, palette, facet="lemon", shelf=shelf(*bottles), **request)
    return {s.material.slug: s for s in found.suggestions}


def test_the_dilution_is_that_of_the_bottle(accord, palette):
    for percent, told in ((100.0, None), (10.0, 10.0), (1.0, 1.0)):
        found = from_bottles(accord, palette, bottle("twin", percent))["twin"]
        assert found.dose.dilution_percent == told
        assert found.dose.first_try == 25.0  # of the neat material, whatever the bottle


@pytest.mark.parametrize(("percent", "thin"), [(2.6, False), (2.5, False), (2.4, True)])
def test_a_bottle_too_dilute_for_the_dose_is_reported(accord, palette, percent, thin):
    # 25 parts per thousand neat are the whole of the accord at 2.5 %
    found = from_bottles(accord, palette, bottle("twin", percent, amount=1000.0))["twin"]
    assert (f"my twin at {percent:g} % is too thin for this dose." in found.cautions) is thin


@pytest.mark.parametrize(("percent", "dilute"), [(100.0, True), (19.0, False), (10.0, False)])
def test_so_little_is_not_weighed_from_a_strong_bottle(
    accord, bench_of, material, catalogue_of, percent, dilute
):
    rows = list(bench_of().catalogue.materials)
    rows.append(material("smoke-lemon", {"lemon": 3, "vanilla": 1}, hours=40.0, pressure_pa=2.0))
    found = from_bottles(accord, Palette.of(catalogue_of(rows)), bottle("smoke-lemon", percent))[
        "smoke-lemon"
    ]
    assert found.dose.first_try < 10.0  # 10 mg of ten grams are a digit of the balance: a tenth at 10 %
    said = "So little of smoke lemon is weighed from 10 %: dilute my smoke-lemon first."
    assert (said in found.cautions) is dilute


def test_a_relay_names_the_bottles_of_both(accord, palette, material, catalogue_of):
    peel = material("peel", {"lemon": 3}, hours=10.0, pressure_pa=8.0)
    balsam = material("balsam", {"lemon": 3}, hours=200.0, pressure_pa=0.3)
    wider = Palette.of(catalogue_of([*palette.catalogue.materials, peel, balsam]))
    held = shelf(bottle("peel"), bottle("balsam", 10.0))
    (found,) = extend(accord, wider, facet="lemon", shelf=held, only_shelf=True, relay=True).suggestions
    assert [b.label for b in found.bottles] == ["my peel", "my balsam"]
    assert found.dose.dilution_percent is None


def test_a_blend_names_the_bottles_of_its_members(palette, material, catalogue_of):
    posy = material("posy", {"lemon": 3, "rose": 2}, hours=5.0)
    wider = Palette.of(catalogue_of([*palette.catalogue.materials, posy]))
    held = shelf(bottle("twin"), bottle("rosy", amount=1.0))
    (found,) = replace("posy", wider, shelf=held, only_shelf=True, blend=2).suggestions
    assert [b.label for b in found.bottles] == ["my twin", "my rosy"]
    assert found.cautions == ("my rosy runs low: 1 g left.", "Keep cool.")


# what is asked in a way that cannot be answered


@pytest.mark.parametrize(
    ("verb", "fields", "said"),
    [
        (extend, {"relay": True}, "it needs a formula"),
        (replace, {"blend": 2, "formula": {"ember": 1}}, "without within"),
        (replace, {"blend": 2, "why_not": "twin"}, "without within and blend"),
        (replace, {"formula": {"ember": 1}, "why_not": "twin"}, "without within and blend"),
        (replace, {"blend": 4}, "2 or 3"),
        (vary, {}, "name a direction in words"),
    ],
)
def test_options_that_do_not_go_together_are_refused(palette, verb, fields, said):
    with pytest.raises(BadValue, match=said):
        verb("zest", palette, **fields)


def test_without_label_allergens_what_has_to_be_named_is_not_offered_and_why_not_says_so(bench_of):
    rule = Allergen("Lemonal", (), ("twin",), "original", "67", "published", "toy-2020")
    palette = Palette.of(with_(bench_of().catalogue, allergens=(rule,)))
    found = extend("zest", palette, no_label_allergens=True, why_not="twin")
    assert slugs(found) == ["leaf"]
    assert found.notes[-1] == (
        "twin is Lemonal, which has to be named on the label (A. Toy, 2020, Toy tables, Annex III entry 67)."
    )
    assert slugs(extend("zest", palette)) == ["twin", "leaf"]


# what can be bought, and what it costs


@pytest.fixture(scope="module")
def known_of(bench_of):
    """Return how the bench is made with what is on record of availability."""

    def put(**known):
        rows = [with_(m, availability=known.get(m.slug, "")) for m in bench_of().catalogue.materials]
        return Palette.of(with_(bench_of().catalogue, materials=tuple(rows)))

    return put


@pytest.fixture(scope="module")
def rare(known_of):
    return known_of(twin=HARDLY, leaf="specialist")


@pytest.mark.parametrize(("ask", "best", "other"), [(extend, "twin", "leaf"), (replace, "leaf", "twin")])
def test_what_is_hard_to_get_comes_last_and_says_so(palette, known_of, ask, best, other):
    assert slugs(ask("zest", palette, facet="lemon"))[0] == best
    found = ask("zest", known_of(**{best: HARDLY, other: "specialist"}), facet="lemon")
    assert slugs(found)[-1] == best
    rows = as_dict(found)["suggestions"]
    assert [row["availability"] for row in rows] == ["specialist", HARDLY]
    assert as_dict(ask("zest", palette))["suggestions"][0]["availability"] is None
    assert rows[-1]["confidence"].keys() == {"tied_with", "first_in"}
    assert sentences.hard_to_get(found.suggestions[-1]) == "it is hard to get"
    assert sentences.hard_to_get(found.suggestions[0]) == ""


def test_in_a_formula_too_what_is_hard_to_get_comes_last(accord, palette, rare):
    assert slugs(extend(accord, palette, facet="lemon"))[-1] != "twin"
    assert slugs(extend(accord, rare, facet="lemon"))[-1] == "twin"
    assert slugs(replace("zest", rare, formula=accord))[-1] == "twin"


def test_a_bottle_on_the_shelf_need_not_be_bought(rare):
    found = extend("zest", rare, facet="lemon", only_shelf=True, shelf=shelf(bottle("twin"), bottle("leaf")))
    assert slugs(found) == ["twin", "leaf"]


def test_what_is_easier_to_get_comes_first_where_the_smell_is_equal(known_of):
    palette, even = known_of(twin="specialist", leaf="common"), known_of(twin="common", leaf="common")
    twins = [m for m in palette.catalogue.materials if m.slug in ("twin", "leaf")]
    assert {m.slug: m.availability for m in twins} == {"twin": "specialist", "leaf": "common"}
    found = {s.material.slug: s.terms["availability"] for s in replace("zest", palette).suggestions}
    assert found == {"twin": 0.6, "leaf": 1.0}
    plain = {s.material.slug: s.score for s in replace("zest", even).suggestions}
    rarer = {s.material.slug: s.score for s in replace("zest", palette).suggestions}
    assert rarer["leaf"] == plain["leaf"]
    assert 0.9 < rarer["twin"] / plain["twin"] < 1.0  # decides between what is nearly equal, and nothing else


def test_out_of_stock_asks_for_what_is_easy_to_get(rare, known_of):
    terms = {s.material.slug: s.terms for s in replace("zest", rare, because="stock").suggestions}
    assert [terms[slug]["availability"] for slug in ("twin", "leaf")] == [0.1, 0.6]
    assert replace("zest", known_of(), because="stock").suggestions[0].terms["availability"] == 0.8
    held = replace("zest", rare, because="stock", shelf=shelf(bottle("leaf"))).suggestions
    assert {s.material.slug: s.terms["availability"] for s in held}["leaf"] == 1.0


def test_too_dear_puts_the_cheaper_first(palette):
    bottles = shelf(
        bottle("zest", price=2.0), bottle("twin", price=6.0), bottle("leaf", percent=50.0, price=0.5)
    )
    found = replace("zest", palette, because="price", shelf=bottles)
    price = {s.material.slug: s.terms["price"] for s in found.suggestions}
    # 2 / (2 + 6); 2 / (2 + 1), as half of it is solvent
    assert price == pytest.approx({"twin": 0.25, "leaf": 2 / 3})
    dear = shelf(bottle("twin", price=0.01), bottle("leaf", price=50.0))
    assert slugs(replace("zest", palette, because="price", shelf=dear)) == ["twin", "leaf"]
    assert slugs(replace("zest", palette)) == ["leaf", "twin"]


def test_an_unknown_price_counts_as_that_of_the_asked(palette):
    bottles = shelf(bottle("zest", price=2.0), bottle("twin", price=6.0))
    found = replace("zest", palette, because="price", shelf=bottles)
    assert {s.material.slug: s.terms["price"] for s in found.suggestions}["leaf"] == 0.5


def test_without_prices_it_is_said_that_they_decide_nothing(palette):
    found = replace("zest", palette, because="price")
    assert any("No bottle on the shelf has a price" in note for note in found.notes)
    assert slugs(found) == slugs(replace("zest", palette))


@pytest.mark.parametrize("ask", [extend, vary])
def test_a_reason_to_replace_is_refused_where_nothing_is_replaced(palette, ask):
    with pytest.raises(BadValue, match="a reason to replace"):
        ask("zest", palette, because="price", **({"toward": "rose"} if ask is vary else {}))


def test_an_unknown_reason_names_those_there_are(palette):
    with pytest.raises(BadValue, match="stock, price, law, smell"):
        replace("zest", palette, because="whim")


def test_why_not_names_the_price_where_that_decides(palette):
    shop = shelf(bottle("zest", price=1.0), bottle("leaf", price=0.1), bottle("twin", price=400.0))
    note = replace("zest", palette, because="price", shelf=shop, why_not="twin", top=1).notes[0]
    assert note.endswith(": it is hardly cheaper, or its price is not known.")


def test_a_reason_to_replace_is_refused_where_a_version_is_revised(accord, palette):
    table = drydown(accord, palette)
    reading = Reading(1.0, "gone", "lemon")
    with pytest.raises(BadValue, match="reason to replace"):
        revise(table, [reading], Request(because="stock"))
