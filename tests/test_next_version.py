"""The next version of a toy formula: what is cut, carried, left out and looked at, figure by figure."""

import pytest

from recommender.formulas.drydown import FormulaDrydown
from recommender.formulas.redundancy import trim
from recommender.model import Formula, Line
from recommender.notebook.readings import readings_of
from recommender.palette import Palette
from recommender.reasons import MaskedFacet
from recommender.suggest import Request
from recommender.suggest.revise import applied, revise
from recommender.suggest.smelling_plan import plan
from recommender.suggest.trial_findings import lost_facets

WORLD = {
    "zest": ({"lemon": 3}, 1.0, 100.0),
    "ember": ({"smoke": 3}, 500.0, 0.1),
    "ash": ({"smoke": 2}, 500.0, 0.1),
    "twin": ({"lemon": 3}, 50.0, 2.0),
    "leaf": ({"lemon": 3}, 10.0, 8.0),
    "petal": ({"rose": 3}, 60.0, 1.5),
    "rosy": ({"rose": 2}, 60.0, 1.5),
    "pod": ({"vanilla": 3}, 300.0, 0.1),
}
"""Labels, hours on a strip, vapour pressure [Pa]."""


@pytest.fixture(scope="module")
def palette(palette_of):
    return palette_of(WORLD)


@pytest.fixture(scope="module")
def table(palette):
    def put(**parts):
        lines = tuple(Line(palette.catalogue.by_slug(slug), value) for slug, value in parts.items())
        return FormulaDrydown(Formula("toy", lines), palette)

    return put


@pytest.fixture(scope="module")
def toy(table):
    return table(zest=200, ember=700, petal=60, rosy=40)


@pytest.fixture(scope="module")
def spare(table):
    """Return a formula with a little of a rose beside far more of another."""
    return table(zest=200, ember=700, petal=94, rosy=6)


@pytest.fixture(scope="module")
def said(palette):
    def read(*told):
        return [one for hours, text in told for one in readings_of(text, hours, palette.phrase)]

    return read


@pytest.fixture(scope="module")
def revised(toy, said):
    def ask(*told, **request):
        return revise(toy, said(*told), Request(**request))

    return ask


def moves(found, kind):
    return [
        {m.slug: (round(before, 2), round(after, 2)) for m, before, after in change.moves}
        for change in found.changes
        if change.kind == kind
    ]


# what is too strong


def test_once_too_strong_is_halved_and_twice_is_a_third(revised):
    # common practice
    assert moves(revised((1, "rose too strong")), "cut") == [{"petal": (60, 30)}]
    assert moves(revised((1, "rose too strong"), (2, "rose too strong")), "cut") == [{"petal": (60, 20)}]


def test_the_strength_before_and_after_a_cut_is_told_for_the_first_hour(revised):
    (cut,) = [c for c in revised((2, "rose too strong"), (1, "rose too strong")).changes if c.kind == "cut"]
    assert cut.reason.figures["hours"] == [1, 2]
    # rose in two materials, which support each other
    assert cut.reason.figures["before"] == pytest.approx(23.6, abs=0.2)
    assert cut.reason.figures["after"] == pytest.approx(17.6, abs=0.2)


def test_what_shows_a_smell_four_fifths_as_strongly_is_cut_with_it(table, said):
    def cut(**parts):
        found = revise(table(zest=100, **parts), said((8, "smoke too strong")), Request())
        return {m.slug for c in found.changes if c.kind == "cut" for m, _ in c.factors}

    assert cut(ember=100, ash=160) == {"ember", "ash"}  # 7.9 beside 9.8
    assert cut(ember=100, ash=120) == {"ember"}  # 7.3 beside 10.9
    assert cut(ember=100, ash=400) == {"ash"}  # 6.5 beside 9.3


def test_what_nothing_smells_of_is_found_by_smelling(revised):
    found = revised((1, "vanilla too strong"))
    assert found.notes == ("Nothing in the formula is known to smell of vanilla: find it by smelling.",)
    assert moves(found, "cut") == []


# what died


@pytest.mark.parametrize(
    ("told", "dead"),
    [
        (((0, "lemon strong"), (23.9, "lemon gone, whole clear")), [(23.9, "gone", 0)]),
        (((0, "lemon strong"), (24, "lemon gone, whole clear")), []),  # as long as it had to live
        (((0, "lemon clear"), (4, "lemon trace, whole clear")), [(4, "trace", 0)]),
        (((0, "lemon clear"), (4, "lemon clear, whole clear")), []),  # clear is not dead
        (((0, "lemon strong"), (2, "lemon trace"), (4, "whole clear")), [(2, "trace", 0)]),
        (((0, "lemon strong"), (2, "lemon trace"), (2, "whole gone")), []),
        (((0, "lemon strong"), (2, "lemon trace"), (2, "whole trace")), [(2, "trace", 0)]),
        (((0, "lemon strong"), (2, "lemon gone"), (3, "smoke clear")), [(2, "gone", 0)]),
        (((0, "lemon strong"), (1, "lemon clear"), (2, "lemon gone"), (4, "lemon gone")), [(2, "gone", 1)]),
        (((0, "lemon gone"), (1, "lemon clear"), (2, "lemon trace")), [(2, "trace", 1)]),
        (((2, "lemon clear"), (2, "lemon trace"), (2, "whole clear")), []),  # of two strips, one has it
    ],
)
def test_what_counts_as_dead_before_a_day_is_over(toy, said, told, dead):
    assert [(one.hours, one.rating, one.alive) for one in lost_facets(said(*told), toy, 24.0)] == dead


def test_the_facet_that_died_first_comes_first(toy, said):
    told = said((0, "lemon strong, rose strong"), (2, "rose gone"), (4, "lemon gone"), (4, "whole clear"))
    assert [one.facet for one in lost_facets(told, toy, 24.0)] == ["rose", "lemon"]


def test_without_a_word_on_the_rest_the_table_says_whether_it_still_smelled(table, said):
    told = said((0, "lemon strong"), (4, "lemon gone"))
    assert lost_facets(told, table(zest=200, ember=800), 24.0) != []  # smoke is clear for weeks
    assert lost_facets(told, table(zest=1000), 3.0) == []
    late = said((0, "lemon strong"), (20, "lemon gone"))
    assert lost_facets(late, table(zest=1000), 24.0) == []  # then nothing is left of it


def test_a_carrier_has_to_be_there_at_the_end_else_the_first_is_taken(revised):
    found = revised((0, "lemon strong"), (10, "lemon gone, whole clear"), until_hours=48.0)
    assert moves(found, "carrier") == [{"twin": (0, 25)}]
    (change,) = [c for c in found.changes if c.kind == "carrier"]
    told = change.reason.figures
    assert (told["facet"], told["hours"], told["said"], told["alive"]) == ("lemon", 10, "gone", 0)
    assert (told["until_hours"], told["by"]) == (48.0, "zest")
    assert told["after"] == pytest.approx(11.0, abs=0.2)
    assert told["predicted"] == pytest.approx(0.0, abs=0.01)


def test_what_was_never_in_the_formula_gets_a_carrier_too_and_nobody_is_said_to_have_carried_it(revised):
    found = revised((0, "vanilla strong"), (4, "vanilla gone, whole clear"))
    assert moves(found, "carrier") == [{"pod": (0, 50)}]
    (change,) = [c for c in found.changes if c.kind == "carrier"]
    assert change.reason.figures["by"] is None


def test_where_no_carrier_is_found_who_carries_the_facet_is_doubled(table, said):
    # smoke: ember itself is all that there is
    told = said((0, "smoke clear"), (4, "smoke trace, whole clear"))
    found = revise(table(zest=500, ember=500, ash=1), told, Request())
    assert moves(found, "raise") == [
        {"ember": (pytest.approx(499.5, abs=0.01), pytest.approx(999, abs=0.01))}
    ]


def test_what_was_cut_is_not_raised(table, said):
    told = said((0, "smoke too strong"), (4, "smoke trace, whole clear"))
    found = revise(table(zest=500, ember=500, ash=1), told, Request())
    assert moves(found, "raise") == []
    assert any("Nothing was found that keeps smoke to 24 h" in note for note in found.notes)


@pytest.fixture(scope="module")
def pair(material, catalogue_of):
    """Return a table of zest and ember on a bench with one heart and one base carrier of lemon."""
    world = {name: WORLD[name] for name in ("zest", "ember", "leaf")} | {"balsam": ({"lemon": 3}, 200.0, 0.3)}
    rows = [material(name, labels, hours=h, pressure_pa=pa) for name, (labels, h, pa) in world.items()]
    palette = Palette.of(catalogue_of(rows))
    lines = (Line(palette.catalogue.by_slug("zest"), 200), Line(palette.catalogue.by_slug("ember"), 800))
    return FormulaDrydown(Formula("toy", lines), palette)


@pytest.mark.parametrize(
    ("gone", "until", "kind", "added"),
    [
        (2.0, 24.0, "carrier", {"leaf": (0, 25)}),
        (2.0, 72.0, "relay", {"leaf": (0, 25), "balsam": (0, 50)}),
        (7.9, 168.0, "carrier", {"balsam": (0, 50)}),  # leaf is hardly heard for most of it: 0.087 more
        (8.0, 24.0, "carrier", {"leaf": (0, 25)}),
        (10.0, 72.0, "carrier", {"balsam": (0, 50)}),
    ],
)
def test_a_relay_is_proposed_where_it_holds_a_tenth_more_than_one_carrier(
    pair, said, gone, until, kind, added
):
    told = said((0, "lemon strong"), (gone, "lemon gone, whole clear"))
    change, *hidden = revise(pair, told, Request(until_hours=until)).changes
    assert change.kind == kind
    assert all(isinstance(one.reason, MaskedFacet) for one in hidden)
    assert {m.slug: (before, round(after)) for m, before, after in change.moves} == added


def test_the_plan_of_a_relay_looks_at_the_hour_of_handing_over(pair, said):
    told = said((0, "lemon strong"), (4, "lemon gone, whole clear"))
    changes = revise(pair, told, Request(until_hours=72.0)).changes
    looks = plan(applied(pair, changes), changes, told)
    assert [(look.hours, look.facet) for look in looks] == [
        (0, ""),
        (0, "lemon"),
        (4, ""),
        (4, "lemon"),
        (pytest.approx(22.0, abs=0.5), "lemon"),
        (72, "lemon"),
    ]
    assert [round(look.expected) for look in looks[3:]] == pytest.approx([30, 9, 5], abs=1)


def test_the_last_hour_at_which_it_was_clear_is_told(pair, said):
    told = said((0, "lemon strong"), (1, "lemon clear"), (4, "lemon gone, whole clear"))
    (change,) = revise(pair, told, Request(until_hours=23.0)).changes
    figures = change.reason.figures
    assert (figures["alive"], figures["hours"], figures["until_hours"]) == (1, 4, 23.0)
    assert figures["predicted"] == pytest.approx(8.0, abs=0.1)
    assert figures["after"] == pytest.approx(26.7, abs=0.3)  # zest and leaf support each other


# what nobody would miss


def test_what_stands_beside_far_more_of_its_note_may_go_with_what_is_missed_of_it(spare, said):
    found = revise(spare, said((1, "whole clear")), Request())
    assert moves(found, "leave out") == [{"rosy": (6, 0)}]
    told = found.changes[0].reason.figures
    assert (told["facet"], told["phase"], told["covered_by"]) == ("rose", "base", ["petal"])
    assert told["missed"] == pytest.approx(0.006, abs=1e-4)


def test_at_most_two_may_go_and_two_always_stay(table, said):
    many = table(ember=700, ash=2, petal=150, rosy=2, zest=100, leaf=1)
    found = revise(many, said((1, "whole clear")), Request())
    assert len(moves(found, "leave out")) == 2
    three = revise(table(ember=700, ash=2, petal=150), said((1, "whole clear")), Request())
    assert [set(one) for one in moves(three, "leave out")] == [{"ash"}]
    pair = table(ember=700, ash=2)
    assert revise(pair, said((1, "whole clear")), Request()).changes == ()


@pytest.mark.parametrize(
    ("parts", "covered"),
    [
        # rosy shows rose 0.508 and 0.474 times as strongly as petal
        ({"petal": 60, "rosy": 45}, {"petal": ("rosy",), "rosy": ("petal",)}),
        ({"petal": 60, "rosy": 40}, {"petal": (), "rosy": ("petal",)}),
    ],
)
def test_another_covers_a_facet_with_half_of_it_or_more(table, parts, covered):
    found = {s.material.slug: s.covered_by for s in trim(table(ember=800, **parts))}
    assert {slug: found[slug] for slug in covered} == covered


def test_missed_is_told_with_its_facet_and_phase(table):
    found = {s.material.slug: s for s in trim(table(ember=850, ash=50, petal=100, zest=100))}
    assert {slug: (s.facet, s.redundant, s.covered_by) for slug, s in found.items()} == {
        "ember": ("smoke", False, ()),
        "ash": ("smoke", True, ("ember",)),
        "petal": ("rose", False, ()),
        "zest": ("lemon", False, ()),
    }
    assert found["zest"].phase == "top"
    assert found["ember"].parts == pytest.approx(1000 * 850 / 1100)


# what to smell when


def test_the_plan_of_a_carrier_looks_when_it_was_missed_and_at_the_end(spare, said):
    told = said((0, "lemon strong"), (10, "lemon gone, whole clear"))
    changes = revise(spare, told, Request(until_hours=48.0)).changes
    looks = plan(applied(spare, changes), changes, told)
    assert [(look.hours, look.facet, look.rating, look.why) for look in looks] == [
        (0, "", "strong", "does it still start as it should?"),
        (0, "lemon", "strong", "is it as before?"),
        (10, "", "clear", "is it as before?"),
        (10, "lemon", "clear", "does it last with twin?"),
        (24, "rose", "clear", "is rosy missed?"),
        (48, "lemon", "trace", "is it there to the end?"),
    ]


def test_hours_within_a_fifth_of_each_other_are_one_visit(toy, revised, said):
    told = ((1, "rose too strong"), (1.1, "smoke too strong"), (1.3, "whole clear"))
    changes = revised(*told).changes
    looks = plan(applied(toy, changes), changes, said(*told))
    assert [(look.hours, look.facet) for look in looks] == [(0, ""), (1, "rose"), (1, "smoke"), (1.3, "")]
