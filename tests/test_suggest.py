import itertools

import pytest
from asking import extend, replace, vary

from recommender.errors import BadValue, UnknownFacet, UnknownMaterial, WrongCas
from recommender.model import HARDLY
from recommender.palette import Palette, find

pytestmark = pytest.mark.usefixtures("everything_shown")

NEVER = {"banned-lemon", "museum-lemon", "lemon-solvent", "mute", "zest"}


def slugs(findings):
    return [suggestion.material.slug for suggestion in findings.suggestions]


@pytest.fixture(scope="module")
def extended(palette):
    return extend("zest", palette, facet="lemon")


def test_extend_puts_the_long_lasting_twin_first(extended):
    assert slugs(extended)[0] == "twin"


def test_extend_never_offers_what_is_gone_before_the_asked(extended):
    assert "flash" not in slugs(extended)
    assert all(s.lasting.hours >= 1.0 for s in extended.suggestions)


def test_extend_never_offers_what_lasts_nobody_knows_how_long(extended):
    assert "mystery-lemon" not in slugs(extended)


def test_extend_offers_only_what_carries_the_facet(extended):
    assert set(slugs(extended)) == {"twin", "lime-wax", "smoked-lemon", "faint-lemon", "lemon-oil"}


def test_a_near_facet_carries_and_is_said_to_answer(extended):
    (lime,) = (s for s in extended.suggestions if s.material.slug == "lime-wax")
    assert lime.facet == "lime"
    assert [r.figures for r in lime.reasons if r.kind == "near"] == [{"lime": 0.29}]


def test_a_suggestion_says_what_it_brings_along_and_what_to_take_care_of(extended):
    (smoked,) = (s for s in extended.suggestions if s.material.slug == "smoked-lemon")
    assert [(label.facet, label.strength) for label in smoked.brings] == [("smoke", 2)]
    assert smoked.cautions == ("Colours white soap.",)
    assert "warning" in [reason.kind for reason in smoked.reasons]


def test_the_query_says_how_the_request_was_read(extended):
    assert (extended.asked, extended.query["material"]) == ("zest", "zest")
    assert extended.query["facets"] == ["lemon"]
    assert (extended.query["from_hours"], extended.query["until_hours"]) == (1.0, 24.0)


@pytest.mark.parametrize("into", [None, "heart", "base"])
def test_extend_always_weighs_presence_in_the_window_and_at_its_end(palette, into):
    for facet in (None, "rose"):
        found = extend("zest", palette, facet=facet, into=into).suggestions
        assert found
        assert all({"presence", "reach"} <= set(suggestion.terms) for suggestion in found)


@pytest.mark.parametrize("hours", [0.5, 1.0])
def test_until_an_hour_at_which_the_asked_is_still_there_is_refused(palette, hours):
    with pytest.raises(BadValue, match="zest itself is still there") as caught:
        extend("zest", palette, until_hours=hours)
    assert caught.value.field == "until_hours"


def test_until_just_after_the_asked_has_gone_is_a_window(palette):
    query = extend("zest", palette, until_hours=1.1).query
    assert query["until_hours"] == 1.1
    assert query["from_hours"] < 1.1


def test_the_hour_is_free_where_how_long_the_asked_lasts_is_not_known(palette):
    assert extend("mystery-lemon", palette, until_hours=0.5).query["until_hours"] == 0.5


@pytest.mark.parametrize("verb", [extend, replace])
def test_a_facet_that_the_asked_does_not_show_is_noted(palette, verb):
    assert verb("zest", palette, facet="smoke").notes == ("zest itself is not known to smell of smoke.",)


def test_a_facet_that_the_asked_shows_in_part_or_that_is_new_to_a_variation_is_not_noted(palette):
    assert extend("zest", palette, facet="rose").notes == ()
    assert extend("zest", palette, facet="rose smoke").notes == ()
    assert vary("zest", palette, toward="smoke").notes == ()


@pytest.mark.parametrize("verb", [extend, replace, vary])
def test_a_prohibited_material_that_is_asked_about_is_said_to_be_so_before_all_else(palette, verb):
    notes = verb("banned-lemon", palette, facet="sour fruit", toward="sour fruit").notes
    assert notes == (
        "PROHIBITED: banned lemon, by European law. See `recommender material`.",
        '"sour fruit" is taken as lemon, lime.',
    )


def test_a_prohibition_of_another_market_is_not_said(palette):
    assert replace("banned-lemon", palette, market="standards").notes == ()


def test_without_a_facet_extend_keeps_what_leads_and_says_so(palette, extended):
    found = extend("zest", palette)
    assert slugs(found) == slugs(extended)
    assert found.notes == ("No facet was named; wanted is what zest leads with: lemon.",)


@pytest.mark.parametrize(("into", "hours"), [("heart", (1.0, 8.0)), ("base", (8.0, 72.0))])
def test_heart_and_base_are_windows_of_hours(palette, into, hours):
    query = extend("zest", palette, into=into).query
    assert (query["from_hours"], query["until_hours"]) == hours


def test_until_ends_the_window(palette):
    assert extend("zest", palette, until_hours=72.0).query["until_hours"] == 72.0


def test_a_longer_lasting_material_is_never_ranked_lower_all_else_equal(kin, material, catalogue_of):
    asked = material("asked", {"lemon": 3}, hours=0.5, pressure_pa=300.0)
    for decades in (0.1, 0.5, 1.0, 2.0):
        palette = Palette.of(catalogue_of([asked, *kin(decades)]))
        for into in (None, "heart", "base"):
            found = extend("asked", palette, facet="lemon", into=into)
            first, second = found.suggestions
            assert first.material.slug == "tenacious"
            assert first.terms["presence"] >= second.terms["presence"]


@pytest.mark.parametrize("verb", [extend, replace, vary])
@pytest.mark.parametrize("asked", ["zest", "twin", "ember"])
def test_the_order_of_the_rows_does_not_change_the_answer(palette, shuffled, verb, asked):
    assert slugs(verb(asked, palette, toward="lemon")) == slugs(verb(asked, shuffled, toward="lemon"))


@pytest.mark.parametrize("verb", [extend, replace, vary])
def test_prohibited_reference_solvent_mute_and_the_asked_are_never_offered(palette, verb):
    assert not NEVER & set(slugs(verb("zest", palette, toward="lemon", top=50)))


def test_what_is_prohibited_elsewhere_is_offered_for_another_market(palette):
    assert "banned-lemon" in slugs(replace("zest", palette, market="standards"))
    assert "banned-lemon" not in slugs(replace("zest", palette, market="eu"))


def test_a_prohibited_material_may_be_asked_about(palette):
    assert slugs(replace("banned-lemon", palette))[0] == "twin"


def test_replace_puts_the_twin_first_and_takes_what_is_gone_sooner(palette):
    found = slugs(replace("zest", palette))
    assert found[0] == "twin"
    assert "flash" in found


def test_replace_takes_any_name_of_the_material(palette):
    found = slugs(replace("zest", palette))
    for name in ("Yellow Top", "ZEST", "11-11-0", "12345-67-4"):
        assert slugs(replace(name, palette)) == found


def test_vary_goes_toward_the_words(palette):
    found = vary("zest", palette, toward="vanilla")
    assert set(slugs(found)) == {"vanilla-pod", "faint-lemon"}
    assert found.query["facets"] == ["vanilla"]


def test_avoid_leaves_out_what_smells_clearly_of_it_but_not_a_trace(palette):
    found = slugs(extend("zest", palette, facet="lemon", avoid="smoke"))
    assert "smoked-lemon" not in found
    assert "faint-lemon" in found


def test_kind_keeps_that_kind_only(palette):
    assert slugs(replace("zest", palette, kind="natural")) == ["lemon-oil"]


def test_top_is_how_many_are_shown(palette, extended):
    assert slugs(extend("zest", palette, facet="lemon", top=2)) == slugs(extended)[:2]


def test_nothing_found_is_an_answer_without_suggestions(palette):
    assert extend("ember", palette, facet="lemon", kind="natural").suggestions == ()
    assert vary("zest", palette, toward="smoke", kind="natural").suggestions == ()


def test_notes_name_umbrellas_and_words_that_were_left_out(palette):
    notes = extend("zest", palette, facet="qqq sour fruit", avoid="posy").notes
    assert notes == (
        '"sour fruit" is taken as lemon, lime.',
        "Not understood and left out: qqq.",
        '"posy" is taken as rose.',
    )


@pytest.mark.parametrize(
    ("other", "sentence"),
    [
        (
            "banned-lemon",
            "banned lemon is prohibited: lemon of the toy list"
            " (A. Toy, 2020, Toy tables, entry 7; at any dose).",
        ),
        ("zest", "zest is the material that was asked about."),
        ("museum-lemon", "museum lemon is known for its smell only and is not offered."),
        ("smoked-lemon", "smoked lemon smells of smoke, which you avoid."),
        ("vanilla-pod", "vanilla pod shows too little of lemon."),
        ("mystery-lemon", "How long mystery lemon lasts is not known."),
        ("flash", "flash is gone from a strip before zest is."),
    ],
)
def test_why_not_says_what_keeps_a_material_out(palette, other, sentence):
    assert extend("zest", palette, facet="lemon", avoid="smoke", why_not=other).notes == (sentence,)


def test_why_not_of_another_kind(palette):
    notes = replace("zest", palette, kind="natural", why_not="twin").notes
    assert notes == ("twin is a molecule; you asked for a natural.",)


@pytest.mark.parametrize(
    ("verb", "other", "weak"),
    [
        (extend, "lime-wax", "it shows too little of what is wanted"),
        (extend, "lemon-oil", "it is gone by the hour that you need"),
        (replace, "flash", "it lasts much longer or shorter"),
    ],
)
def test_why_not_of_a_ranked_material_says_its_place_and_weakest_point_in_plain_words(
    palette, verb, other, weak
):
    found = slugs(verb("zest", palette, facet="lemon"))
    notes = verb("zest", palette, facet="lemon", why_not=other, top=1).notes
    (note,) = [one for one in notes if "place" in one]
    name = other.replace("-", " ")
    assert note == f"{name} comes in place {found.index(other) + 1} of {len(found)}: {weak}."


def test_why_not_names_no_term_of_the_program(ground):
    for verb in (extend, replace, vary):
        request = {"facet": "bitter almond", "toward": "almond"}
        for found in verb("benzaldehyde", ground, top=40, **request).suggestions[1::10]:
            notes = verb("benzaldehyde", ground, why_not=found.material.name, top=1, **request).notes
            (note,) = [one for one in notes if " comes in place " in one]
            said = note.split(": ", 1)[1]
            assert not set(found.terms) & set(said.removesuffix(".").split())


@pytest.mark.parametrize("verb", [extend, replace, vary])
def test_why_not_of_what_is_shown_says_its_place_in_the_list_and_nothing_else(palette, verb):
    asked = {"facet": "lemon", "toward": "lemon", "top": 3}
    for place, other in enumerate(verb("zest", palette, **asked).suggestions, 1):
        name = other.material.name
        (note,) = verb("zest", palette, why_not=name, **asked).notes
        assert note == f"{name} is in the list, at place {place}."


def test_why_not_of_the_unlike(palette):
    assert replace("zest", palette, why_not="ember").notes == ("ember is too unlike zest to be looked at.",)


def test_why_not_of_a_solvent_does_not_speak_of_its_smell(palette):
    (note,) = replace("zest", palette, why_not="lemon-solvent").notes
    assert "solvent" in note.removeprefix("lemon solvent")


def test_why_not_of_an_unknown_material_is_an_error(palette):
    with pytest.raises(UnknownMaterial):
        extend("zest", palette, why_not="nobody")


@pytest.mark.parametrize(
    ("asked", "fields", "error"),
    [
        ("zesst", {}, UnknownMaterial),
        ("11-11-3", {}, WrongCas),
        ("zest", {"facet": "qqq"}, UnknownFacet),
        ("zest", {"avoid": "qqq"}, UnknownFacet),
        ("zest", {"top": 0}, BadValue),
        ("zest", {"into": "top"}, BadValue),
        ("zest", {"until_hours": 0.0}, BadValue),
        ("zest", {"until_hours": float("nan")}, BadValue),
        ("zest", {"market": "moon"}, BadValue),
        ("zest", {"kind": "mineral"}, BadValue),
        ("mute", {}, BadValue),
    ],
)
def test_a_request_that_cannot_be_read_is_an_error(palette, asked, fields, error):
    with pytest.raises(error):
        extend(asked, palette, **fields)


@pytest.mark.parametrize("toward", [None, ""])
def test_vary_needs_a_direction(palette, toward):
    with pytest.raises(BadValue, match="toward: name a direction"):
        vary("zest", palette, toward=toward)


def test_find_gives_the_strongest_first_and_then_by_name(palette):
    found, notes = find("rose", palette)
    assert [m.slug for m in found] == ["lemon-oil", "banned-lemon", "museum-lemon", "twin", "zest"]
    assert notes == []


def test_find_without_words_gives_all(palette, world):
    assert find(None, palette) == (list(world.materials), [])


@pytest.fixture(scope="module")
def ground(shipped):
    return Palette.of(shipped)


@pytest.fixture(scope="module")
def answers(ground, sample):
    """Return (asked, answer) of forty materials and three verbs on the shipped catalogue."""
    words = itertools.cycle(["hazelnut", "pear", "smoke", "rose", "lemon", "vanilla"])
    return [
        (material, verb(material.name, ground, toward=next(words), top=30))
        for material in sample
        for verb in (extend, replace, vary)
    ]


def suggestions(answers):
    return [(asked, found, suggestion) for asked, found in answers for suggestion in found.suggestions]


def test_the_sample_is_answered(answers):
    assert len(answers) == 120
    assert sum(bool(found.suggestions) for _, found in answers) > 100


def test_nothing_prohibited_reference_or_solvent_is_offered(answers, shipped):
    banned = {cas for limit in shipped.limits if limit.kind == "prohibition" for cas in limit.cas}
    excepted = {slug for limit in shipped.limits for slug in limit.excepted}
    for asked, _, suggestion in suggestions(answers):
        offered = suggestion.material
        assert offered.role == "palette"
        assert offered.kind != "solvent"
        assert offered.slug != asked.slug
        assert offered.slug in excepted or not banned & set(offered.cas_all)


def test_scores_fall_and_nothing_stands_twice(answers):
    for _, found in answers:
        scores = [suggestion.score for suggestion in found.suggestions if suggestion.availability != HARDLY]
        assert len(set(slugs(found))) == len(found.suggestions) <= 30
        if found.query["verb"] != "vary":
            assert scores == sorted(scores, reverse=True)


def test_scores_and_terms_lie_between_0_and_1(answers):
    for _, _, suggestion in suggestions(answers):
        assert 0.0 < suggestion.score <= 1.0
        assert all(-1e-12 <= value <= 1.0 + 1e-12 for value in suggestion.terms.values())


def test_no_extension_is_surely_gone_before_the_asked(answers):
    for asked, found, suggestion in suggestions(answers):
        if found.query["verb"] == "extend" and asked.lasting:
            assert suggestion.lasting.high >= asked.lasting.low


def test_every_suggestion_has_reasons_and_does_not_bring_what_was_asked_for(answers):
    for asked, found, suggestion in suggestions(answers):
        assert suggestion.reasons
        brought = {label.facet for label in suggestion.brings}
        assert not brought & {label.facet for label in asked.labels}
        assert not brought & set(found.query["facets"])


def test_a_variation_answers_with_a_facet(answers):
    assert all(s.facet for _, found, s in suggestions(answers) if found.query["verb"] == "vary")
