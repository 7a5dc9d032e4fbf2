from dataclasses import replace

import numpy as np
import pytest

from recommender.errors import BadValue, UnknownFacet
from recommender.formulas import comparison
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Formula, Line
from recommender.palette import Palette, shipped


@pytest.fixture(scope="module")
def toy(material, catalogue_of):
    return Palette.of(
        catalogue_of(
            [
                material("zest", {"lemon": 3}, pressure_pa=100.0),
                material("twin", {"lemon": 3}, pressure_pa=100.0),
                material("petal", {"rose": 3, "lemon": 1}, pressure_pa=5.0),
                material("whisper", {"smoke": 3}, pressure_pa=0.01),
                material("mute", {"smoke": 1}, curve=None),
            ]
        )
    )


def held(toy, *slugs):
    found = comparison.strips([toy.catalogue.by_slug(slug) for slug in slugs], toy)
    return {strip.material.slug: strip for strip in found}


# strips


def test_the_loudest_strip_overpowers_and_the_faintest_is_hidden(toy):
    found = held(toy, "zest", "whisper")
    assert found["zest"].verdict == "overpowers the rest, stands apart"
    assert found["whisper"].verdict == "gone, or too faint to tell"
    assert found["whisper"].beside < 0.5 * found["whisper"].alone


def test_two_strips_of_one_smell_do_the_same_work(toy):
    found = held(toy, "zest", "twin")
    assert found["zest"].likeness == pytest.approx(1.0)
    assert found["zest"].nearest == "twin"
    assert found["zest"].verdict == "does much the same work as its neighbour"


def test_a_strip_names_what_only_it_brings(toy):
    found = held(toy, "zest", "petal")
    assert (found["petal"].own_facets, found["zest"].own_facets) == (("rose",), ())


def test_beside_others_no_strip_gains(toy):
    assert all(s.beside <= s.alone for s in held(toy, "zest", "twin", "petal", "whisper").values())


def test_a_strip_of_unknown_strength_stays_unknown(toy):
    found = held(toy, "zest", "mute")["mute"]
    assert (found.alone, found.beside) == (None, None)


def test_one_strip_alone_is_not_held_together(toy):
    with pytest.raises(BadValue, match="name two or more to compare"):
        comparison.strips([toy.catalogue.by_slug("zest")], toy)


# first amounts


def test_first_amounts_rise_from_pyrazine_to_coumarin_and_are_weighed():
    # common practice
    names = ("2-ethyl-3,5-dimethylpyrazine", "benzaldehyde", "vanillin", "coumarin")
    palette = shipped()
    chosen = [palette.catalogue.find(name) for name in names]
    found = comparison.dose(chosen, {}, palette, share_percent=1.0)
    parts = [first.parts for first in found]
    assert parts == sorted(parts)
    assert sum(first.grams * (first.dilution_percent or 100) / 100 for first in found) == pytest.approx(10.0)


def test_a_balance_raises_what_smells_of_it(toy):
    pair = [toy.catalogue.by_slug(slug) for slug in ("zest", "petal")]
    even, louder = comparison.dose(pair, {}, toy), comparison.dose(pair, {"rose": 2.0}, toy)
    assert [first.balance for first in louder] == [1.0, 2.0]
    assert louder[1].parts > even[1].parts


def test_a_balance_may_name_a_material(toy):
    pair = [toy.catalogue.by_slug(slug) for slug in ("zest", "petal")]
    assert [first.balance for first in comparison.dose(pair, {"zest": 3.0}, toy)] == [3.0, 1.0]


def test_a_balance_that_nothing_answers_to_is_refused(toy):
    pair = [toy.catalogue.by_slug(slug) for slug in ("zest", "petal")]
    with pytest.raises(BadValue, match="none of the materials smells of it"):
        comparison.dose(pair, {"smoke": 2.0}, toy)
    with pytest.raises(UnknownFacet):
        comparison.dose(pair, {"thunder": 2.0}, toy)


def test_an_unknown_strength_gets_no_amount(toy):
    found = comparison.dose([toy.catalogue.by_slug(slug) for slug in ("zest", "mute")], {}, toy)
    assert (found[1].parts, found[1].grams, found[1].dilution_percent) == (None, None, None)


@pytest.mark.parametrize(
    ("text", "balance"),
    [
        ("almond 2, vanilla 1", {"almond": 2.0, "vanilla": 1.0}),
        ("bitter almond: 1.5; cut grass=3", {"bitter almond": 1.5, "cut grass": 3.0}),
        (" , ", {}),
    ],
)
def test_a_balance_is_read(text, balance):
    assert comparison.balance_of(text) == balance


@pytest.mark.parametrize("text", ["almond", "almond 0", "almond -2", "2", "almond two"])
def test_a_balance_without_a_positive_number_is_refused(text):
    with pytest.raises(BadValue, match="balance cannot be"):
        comparison.balance_of(text)


# compare


@pytest.fixture(scope="module")
def sides(toy):
    def table(name, **parts):
        lines = tuple(Line(toy.catalogue.by_slug(slug), value) for slug, value in parts.items())
        return FormulaDrydown(Formula(name, lines), toy)

    return table("one", zest=50, petal=50), table("other", zest=50, whisper=1, petal=50)


def test_a_formula_is_like_itself_at_every_hour(sides):
    found = comparison.compare(sides[0], sides[0])
    assert found.likeness[:5] == pytest.approx([1.0] * 5)
    assert all(one == other for one, other in found.facets.values())


def test_compare_gives_both_lines_of_every_facet_at_every_hour(sides):
    found = comparison.compare(*sides)
    assert found.names == ("one", "other")
    assert all(len(one) == len(other) == len(found.hours) for one, other in found.facets.values())


def test_the_facet_that_differs_most_comes_first(sides):
    found = comparison.compare(*sides)
    apart = [np.abs(np.subtract(one, other)).max() for one, other in found.facets.values()]
    assert apart == sorted(apart, reverse=True)


def test_the_order_of_the_formulas_does_not_change_what_is_found(sides):
    one, other = comparison.compare(*sides), comparison.compare(*reversed(sides))
    assert one.likeness == pytest.approx(other.likeness)
    assert {f: lines[::-1] for f, lines in one.facets.items()} == dict(other.facets)


def test_versions_differ_in_parts_and_in_facets(palette):
    find = palette.catalogue.by_slug
    first = Formula("first", (Line(find("zest"), 30), Line(find("ember"), 50), Line(find("vanilla-pod"), 20)))
    second = replace(first, name="second", lines=(*first.lines[:2], Line(find("twin"), 20)))
    found = comparison.diff(FormulaDrydown(first, palette), FormulaDrydown(second, palette))
    told = {row.material.slug: (row.before, row.after) for row in found.moved}
    assert told == {"vanilla-pod": (pytest.approx(200), None), "twin": (None, pytest.approx(200))}
    assert found.room == pytest.approx(1.0)
    assert found.side.names == ("first", "second")
    assert found.side.facets["vanilla"][1] == (0.0,) * len(comparison.SHOWN_HOURS)


def test_what_only_made_room_is_not_told_as_moved(palette):
    find = palette.catalogue.by_slug
    first = Formula(
        "first", tuple(Line(find(slug), 100) for slug in ("zest", "ember", "twin", "vanilla-pod"))
    )
    second = replace(first, name="second", lines=(replace(first.lines[0], parts=50), *first.lines[1:]))
    found = comparison.diff(FormulaDrydown(first, palette), FormulaDrydown(second, palette))
    assert [row.material.slug for row in found.moved] == ["zest"]
    assert found.room == pytest.approx(400 / 350)
    same = comparison.diff(FormulaDrydown(first, palette), FormulaDrydown(first, palette))
    assert same.moved == ()
