"""Carriers, variations and stand-ins in a formula of a toy world: who, at which dose, and what it does."""

import pytest
from asking import drydown, extend, replace, vary

from recommender.errors import BadValue
from recommender.evaporation.gaps import gaps
from recommender.output import amount_sentences
from recommender.palette import Palette
from recommender.suggest import Request, target
from recommender.suggest.target import target_of

pytestmark = pytest.mark.usefixtures("everything_shown")

GAP_H = 4.73
"""By this hour the lemon of the accord is gone, below a fifth of the smoke; from then on it is missing."""
WORLD = {
    "zest": ({"lemon": 3}, 1.0, 100.0),
    "ember": ({"smoke": 3}, 500.0, 0.1),
    "twin": ({"lemon": 3}, 50.0, 2.0),
    "half-way": ({"lemon": 3, "rose": 1}, 1.08, 2.0),
    "too-soon": ({"lemon": 3, "rose": 1}, 1.06, 2.0),
    "smoked-lemon": ({"lemon": 2, "smoke": 3}, 80.0, 1.0),
    "rosy": ({"rose": 3, "lemon": 2}, 80.0, 1.0),
    "lime-wax": ({"lime": 3}, 60.0, 1.5),
    "trace": ({"lemon": 1, "smoke": 3}, 60.0, 1.5),
    "petal": ({"rose": 3}, 60.0, 1.5),
}
"""Labels, hours on a strip, vapour pressure [Pa]."""


@pytest.fixture(scope="module")
def palette(palette_of):
    return palette_of(WORLD)


@pytest.fixture(scope="module")
def accord(zest_over_ember):
    return zest_over_ember


@pytest.fixture(scope="module")
def extended(accord, palette):
    return extend(accord, palette, facet="lemon", top=20)


@pytest.fixture(scope="module")
def stood_in(accord, palette):
    return replace("zest", palette, top=20, formula=accord)


@pytest.fixture(scope="module")
def varied(accord, palette):
    return vary(accord, palette, toward="rose", top=20)


def by_slug(found):
    return {s.material.slug: s for s in found.suggestions}


def each(found, name, digits=3):
    return {slug: round(s.terms[name], digits) for slug, s in by_slug(found).items()}


def doses(found):
    return {slug: (s.dose.low, s.dose.first_try, s.dose.high) for slug, s in by_slug(found).items()}


# carriers


def test_a_carrier_lasts_by_itself_at_least_half_of_the_time_to_the_gap(accord, palette, extended):
    (gap,) = drydown(accord, palette).gaps
    assert gap.hours == pytest.approx(GAP_H, abs=0.05)
    assert "half-way" in by_slug(extended)  # 1.08 h, with its band up to 2.38, of 4.73
    assert "too-soon" not in by_slug(extended)  # up to 2.33, all else equal


def test_carriers_and_their_doses(extended):
    assert doses(extended) == {
        "twin": (17.0, 25.0, 50.0),
        "half-way": (4.0, 6.0, 12.0),
        "smoked-lemon": (17.0, 25.0, 50.0),
        "rosy": (4.0, 6.0, 12.0),
        "trace": (33.0, 50.0, 100.0),
    }
    assert next(iter(by_slug(extended))) == "twin"


def test_what_a_carrier_wins_and_how_steady_it_leaves_the_rest(extended):
    presence = {"twin": 0.712, "half-way": 0.496, "smoked-lemon": 0.521, "rosy": 0.292, "trace": 0.491}
    assert each(extended, "presence") == pytest.approx(presence, abs=3e-3)
    # what brings rose into an accord without any changes the rest most
    steady = {"twin": 0.987, "half-way": 0.602, "smoked-lemon": 0.967, "rosy": 0.459, "trace": 0.870}
    assert each(extended, "steady") == pytest.approx(steady, abs=3e-3)
    likeness = {"twin": 0.913, "half-way": 0.881, "smoked-lemon": 0.869, "rosy": 0.551, "trace": 0.737}
    assert each(extended, "likeness") == pytest.approx(likeness, abs=3e-3)
    facet = {"twin": 1.0, "half-way": 1.0, "smoked-lemon": 0.6, "rosy": 0.6, "trace": 0.3}
    assert each(extended, "facet") == facet


def test_the_reason_gives_the_window_the_dose_and_both_presences(extended):
    (told,) = [r for r in by_slug(extended)["twin"].reasons if r.kind == "in the formula"]
    assert told.figures == {
        "facets": ["lemon"],
        "before": pytest.approx(0.047, abs=1e-3),
        "after": pytest.approx(0.725, abs=3e-3),
        "change": pytest.approx(0.006, abs=1e-3),
        "parts": 50.0,
        "from_hours": pytest.approx(GAP_H, abs=0.05),
        "until_hours": 24.0,
    }


def test_the_ends_after_are_those_of_the_first_try(extended):
    def ends(name, side):
        return [by_slug(extended)[name].effect[side]["lemon"][x]["hours"] for x in ("clear", "just_there")]

    assert ends("twin", "before") == pytest.approx([4.26, 4.73], rel=0.01)
    assert ends("twin", "after") == pytest.approx([36.5, 58.3], rel=0.01)
    # a trace beside what shows lemon clearly does not prolong it, and its smoke leaves less room
    assert ends("trace", "after") == pytest.approx([4.15, 4.59], rel=0.01)


def test_what_the_formula_itself_shows_is_brought_along_only_where_it_leads(extended):
    brought = {
        slug: [(x.facet, x.strength) for x in found.brings] for slug, found in by_slug(extended).items()
    }
    assert brought == {
        "twin": [],
        "half-way": [("rose", 1)],
        "smoked-lemon": [("smoke", 3)],
        "rosy": [("rose", 3)],
        "trace": [("smoke", 3)],
    }


def test_what_hardly_wins_anything_is_not_offered(accord, palette, monkeypatch):
    # rosy wins 0.279 of presence, trace 0.468
    monkeypatch.setattr(target, "LEAST_GAIN", 0.28)
    found = by_slug(extend(accord, palette, facet="lemon", top=20))
    assert set(found) == {"twin", "half-way", "smoked-lemon", "trace"}


def test_a_facet_that_lasts_by_itself_is_said_to(accord, palette):
    found = extend(accord, palette, facet="smoke")
    assert found.notes == ("smoke lasts in accord by itself: it is clear until 4.2 weeks.",)
    assert "by itself" not in " ".join(extend(accord, palette, facet="lemon").notes)


def test_a_gap_begins_where_the_facet_is_gone(accord, palette):
    table = drydown(accord, palette)
    (gap,) = table.gaps
    assert gap.hours == table.ends["lemon"]["just_there"].hours
    # the course falls to a quarter of its peak later
    (later,) = gaps(table.course, table.theme.facets)
    assert later.hours == pytest.approx(5.4, abs=0.05)


def test_a_later_window_changes_the_doses(accord, palette):
    found = extend(accord, palette, facet="lemon", into="base", top=20)
    assert (found.query["from_hours"], found.query["until_hours"]) == (8.0, 72.0)
    assert doses(found)["smoked-lemon"] == (33.0, 50.0, 100.0)
    assert doses(found)["half-way"] == (8.3, 12.0, 25.0)
    assert next(iter(by_slug(found))) == "twin"


def test_a_facet_that_was_never_there_is_wanted_from_the_first_hour_on(accord, palette):
    found = extend(accord, palette, facet="rose", top=20)
    assert (found.query["from_hours"], found.query["until_hours"]) == (1.0, 24.0)
    assert found.query["material"] == "zest"  # nothing carries rose: the loudest of all
    assert {"petal", "rosy"} < set(by_slug(found))
    assert "too-soon" in by_slug(found)  # without a gap nobody is too soon


@pytest.mark.parametrize(
    ("fields", "window"),
    [
        ({"until_hours": 6.0}, (4.0, 6.0)),  # two thirds of the end at the latest
        ({"until_hours": 48.0}, (GAP_H, 48.0)),
        ({"until_hours": 504.0}, (GAP_H, 504.0)),
        ({"into": "heart"}, (1.0, 8.0)),
    ],
)
def test_the_window_of_a_formula_runs_from_its_gap(accord, palette, fields, window):
    found = target_of(Request(facet="lemon", **fields), drydown(accord, palette), None)
    assert found.window == pytest.approx(window, abs=0.05)


def test_a_late_gap_asks_for_half_as_long_again(palette, tmp_path):
    path = tmp_path / "slow.csv"
    path.write_text("material,parts\ntwin,200\nember,800\n")
    table = drydown(str(path), palette)
    (gap,) = table.gaps
    assert gap.hours == pytest.approx(119, abs=1)
    assert target_of(Request(), table, None).window == pytest.approx((gap.hours, 1.5 * gap.hours))


@pytest.mark.parametrize(
    ("hours", "said"), [(4.6, "the facet already lasts until 4.73 h"), (504.1, "three weeks at most")]
)
def test_an_hour_before_the_gap_or_after_three_weeks_is_refused(accord, palette, hours, said):
    with pytest.raises(BadValue, match=said):
        extend(accord, palette, facet="lemon", until_hours=hours)


def test_what_smells_clearly_of_the_avoided_is_left_out_and_a_trace_is_not(accord, palette):
    found = by_slug(extend(accord, palette, facet="lemon", avoid="rose", top=20))
    assert "half-way" in found  # a trace
    assert "rosy" not in found
    found = by_slug(extend(accord, palette, facet="lemon", avoid="smoke", top=20))
    assert set(found) == {"twin", "half-way", "rosy"}


def test_of_several_fading_facets_the_one_missed_most_is_kept_and_the_others_are_named(palette, tmp_path):
    path = tmp_path / "two.csv"
    path.write_text("material,parts\nzest,150\npetal,200\nember,650\n")
    found = extend(str(path), palette)
    assert found.query["facets"] == ["lemon"]
    assert found.notes[:2] == (
        "No facet was named; the one of the theme that is missed most is taken, lemon.",
        "Also fading: rose.",
    )


# variations


def test_a_variation_tells_how_far_it_moves_and_how_much_of_the_theme_stays(varied):
    effects = {slug: s.effect for slug, s in by_slug(varied).items()}
    assert (varied.query["from_hours"], varied.query["until_hours"]) == (0.25, 24.0)
    assert effects["petal"]["before"]["presence"] == pytest.approx(0.0, abs=1e-4)
    assert {slug: round(e["after"]["presence"], 2) for slug, e in effects.items()} == {
        "rosy": 0.67,
        "petal": 0.72,
        "half-way": 0.56,
        "too-soon": 0.56,
    }
    kept = {slug: e["after"]["theme_kept"] for slug, e in effects.items()}
    assert kept == pytest.approx(
        {"rosy": 1.0, "petal": 0.962, "half-way": 1.0, "too-soon": 1.0}, abs=3e-3
    )  # what shows lemon besides takes nothing from it
    assert effects["petal"]["before"]["theme_kept"] == 1.0


def test_a_variation_is_dosed_like_a_carrier(varied):
    assert doses(varied)["petal"] == (17.0, 25.0, 50.0)
    assert doses(varied)["half-way"] == (33.0, 50.0, 100.0)


# stand-ins


def test_how_much_of_the_formula_a_stand_in_preserves(stood_in):
    # 1 / (1 + 2 x what is moved), times how far the lemon is still there
    assert each(stood_in, "in formula") == pytest.approx(
        {
            "twin": 0.669,
            "too-soon": 0.397,
            "half-way": 0.397,
            "smoked-lemon": 0.691,
            "trace": 0.767,
            "rosy": 0.378,
            "lime-wax": 0.0,
        },
        abs=3e-3,
    )


def test_a_stand_in_that_is_the_same_preserves_all(accord, material, catalogue_of):
    rows = [material(name, labels, hours=h, pressure_pa=pa) for name, (labels, h, pa) in WORLD.items()]
    rows.append(material("copy", {"lemon": 3}, hours=1.0, pressure_pa=100.0))
    found = by_slug(replace("zest", Palette.of(catalogue_of(rows)), formula=accord))
    assert found["copy"].terms["in formula"] == pytest.approx(1.0, abs=1e-6)
    dose = found["copy"].dose
    assert (dose.first_try, dose.low, dose.high) == pytest.approx((200.0, 100.0, 200.0))
    assert dose.of_query == pytest.approx(1.0)
    assert amount_sentences.dose(found["copy"]).endswith("; as much as it replaces")


def test_a_stand_in_is_never_dosed_above_half_of_the_accord(stood_in):
    # fifty times less volatile: equal strength would need more than there is room for
    assert doses(stood_in)["twin"] == (250.0, 500.0, 500.0)
    assert by_slug(stood_in)["twin"].dose.of_query == pytest.approx(2.5)


def test_the_ends_with_a_stand_in_are_those_without_what_it_replaces(stood_in):
    effect = by_slug(stood_in)["twin"].effect
    assert effect["before"]["lemon"]["clear"]["hours"] == pytest.approx(4.26, rel=0.01)
    assert effect["after"]["lemon"]["clear"]["hours"] == pytest.approx(98.6, rel=0.02)
    assert by_slug(stood_in)["lime-wax"].effect["after"]["lemon"]["clear"] is None


def test_the_asked_facet_is_what_has_to_be_preserved(accord, palette):
    found = by_slug(replace("zest", palette, facet="lime", top=20, formula=accord))
    assert found["lime-wax"].terms["in formula"] == pytest.approx(0.303, abs=3e-3)
    assert found["twin"].terms["in formula"] == pytest.approx(0.0, abs=1e-6)
    assert set(found["lime-wax"].effect["after"]) == {"lime"}
