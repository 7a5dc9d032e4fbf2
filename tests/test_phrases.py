"""Phrases: what is wanted, what is refused, and how that is reported."""

from dataclasses import replace as with_

import pytest
from asking import drydown, extend, replace, vary
from command_line import run
from hypothesis import given, settings
from hypothesis import strategies as st

import recommender as r
from recommender.errors import BadValue, UnknownFacet
from recommender.model import Facet, Umbrella
from recommender.palette import labels_from_words, own_smells, shipped
from recommender.similarity.phrases import (
    COMPARATIVES,
    NO_FACETS,
    REFUSALS,
    TURNS,
    parse,
    vocabulary,
)

LAWS = settings(deadline=None, max_examples=50)
SAID = st.lists(
    st.sampled_from([*REFUSALS, *TURNS, *COMPARATIVES, ",", "/", "and", "than", "lemon", "rose", "sours"]),
    max_size=9,
).map(" ".join)
WOODS = ["woody", "cedar", "sandalwood", "vetiver", "patchouli", "amber wood"]
MORELLO = "data/demo/morello.csv"


@pytest.fixture(scope="module")
def words(shipped):
    def taken(text):
        return parse(text, shipped.facets, shipped.umbrellas)

    return taken


@pytest.mark.parametrize(
    ("text", "facets"),
    [
        ("bitter almond", ["bitter almond"]),
        ("Bitter Almond, rose", ["bitter almond", "rose"]),
        ("cocoa/malt", ["cocoa", "malt"]),
        ("a note of cherry stone", ["bitter almond"]),
        ("roses", ["rose"]),
        ("bitter almonds", ["bitter almond"]),
        ("peaches", ["peach"]),
        ("strawberries", ["strawberry"]),
        ("cherries", ["cherry"]),
        ("rosy", ["rose"]),
        ("smoky", ["smoke"]),
        ("cut-grass", ["cut grass"]),
        ("violet leaves", ["violet leaf"]),
    ],
)
def test_the_longest_known_words_are_taken_in_singular_or_plural(words, text, facets):
    assert list(words(text).facets) == facets


def test_a_word_that_is_a_facet_needs_no_note(words):
    assert words("bitter almond, rose").notes == ()


def test_an_umbrella_word_maps_to_its_members_and_says_so(words):
    found = words("almond")
    assert list(found.facets) == ["bitter almond", "marzipan", "roasted almond"]
    assert found.notes == ('"almond" is taken as bitter almond, marzipan, roasted almond.',)


def test_an_umbrella_over_a_family_stands_for_its_facets(line):
    assert list(parse("posy", line.facets, line.umbrellas).facets) == ["rose"]


def test_an_umbrella_member_that_is_a_facet_is_that_facet_alone(words):
    assert set(words("gardenia").facets) == {"tuberose", "jasmine", "coconut", "green"}


def test_a_note_names_each_facet_once(words):
    (note,) = words("green").notes
    assert note.count("cut grass") == 1


def test_a_family_is_a_word_too(line):
    assert list(parse("citrus fruit", line.facets, line.umbrellas).facets) == ["lemon", "lime"]


def test_unknown_words_are_left_out_and_named(words):
    found = words("crushed rose qqq")
    assert list(found.facets) == ["rose"]
    assert found.ignored == ("crushed", "qqq")
    assert found.notes == ("Not understood and left out: crushed, qqq.",)


def test_fillers_are_left_out_in_silence(words):
    assert words("a rose with the smell of smoke").notes == ()


def test_a_word_with_an_accent_is_read_as_one_without(words):
    assert words("fougère").facets == words("fougere").facets


def test_a_phrase_without_a_known_word_is_an_error_with_near_words(words):
    with pytest.raises(UnknownFacet) as caught:
        words("almund")
    assert caught.value.phrase == "almund"
    assert "almond" in caught.value.near


@pytest.mark.parametrize("text", ["", "  ", ",", "a note of the", "%%%"])
def test_a_phrase_that_says_nothing_is_an_error(words, text):
    with pytest.raises(UnknownFacet):
        words(text)


@given(st.one_of(st.text(max_size=30), SAID))
@LAWS
def test_any_text_is_read_or_refused(line, text):
    try:
        found = parse(text, line.facets, line.umbrellas)
    except (UnknownFacet, BadValue):
        return
    assert {*found.facets, *found.refused} <= {facet.name for facet in line.facets}
    assert not set(found.facets) & set(found.refused)


def test_every_facet_and_every_synonym_is_a_word(shipped):
    known = vocabulary(shipped.facets, shipped.umbrellas)
    names = {facet.name for facet in shipped.facets}
    assert all(set(members) <= names for members in known.values())
    assert names <= set(known)
    assert not set(known) & {*REFUSALS, *TURNS, *COMPARATIVES}


def test_every_facet_name_is_understood(words, shipped):
    assert all(facet.name in words(facet.name).facets for facet in shipped.facets)


@pytest.mark.parametrize(
    ("text", "wanted", "refused"),
    [
        ("less sweet", [], ["sweet"]),
        ("no sweet", [], ["sweet"]),
        ("isn't sweet", [], ["sweet"]),
        ("almond, not cherry", ["bitter almond", "marzipan", "roasted almond"], ["cherry"]),
        ("almond without hay", ["bitter almond", "marzipan", "roasted almond"], ["hay"]),
        ("less sweet and powdery", [], ["sweet", "powdery"]),
        ("less sweet/powdery", [], ["sweet", "powdery"]),
        ("no hay or tobacco", [], ["hay", "tobacco"]),
        ("neither sweet nor powdery", [], ["sweet", "powdery"]),
        ("less sweet, more woody", WOODS, ["sweet"]),
        ("less sweet more woody", WOODS, ["sweet"]),
        ("less sweet, woody", WOODS, ["sweet"]),
        ("not sweet but woody", WOODS, ["sweet"]),
        ("woody instead of sweet", WOODS, ["sweet"]),
        ("less sweet and smokier", ["smoke"], ["sweet"]),
        ("no more sweet", [], ["sweet"]),
        ("anything but rose", [], ["rose"]),
        ("hay-free tonka", ["tonka"], ["hay"]),
        ("hay free", [], ["hay"]),
        ("not without hay", ["hay"], []),
        ("no less sweet", ["sweet"], []),
        ("more sweet", ["sweet"], []),
        ("sweeter than vanilla", ["sweet"], []),
    ],
)
def test_a_refusal_reaches_to_a_comma_or_a_turn(words, text, wanted, refused):
    found = words(text)
    assert (list(found.facets), list(found.refused)) == (wanted, refused)


@pytest.mark.parametrize(
    ("text", "wanted", "refused"),
    [
        ("drier", [], ["sweet"]),  # common practice: dry is the opposite of sweet
        ("not drier", ["sweet"], []),
        ("sweeter", ["sweet"], []),
        ("not sweeter", [], ["sweet"]),
        ("smokier and drier", ["smoke"], ["sweet"]),
        ("rosier", ["rose"], []),
        # common practice: soft is powdery and creamy, not sharp; dark is smoke, leather and earth, not fresh
        ("softer", ["powdery", "cream"], ["pungent", "sour"]),
    ],
)
def test_a_comparative_is_more_of_a_facet_or_less_of_its_opposite(words, text, wanted, refused):
    found = words(text)
    assert (list(found.facets), list(found.refused)) == (wanted, refused)
    assert found.notes


def test_darker_is_smoke_and_leather_and_less_citrus(words):
    found = words("darker")
    assert {"smoke", "leather", "earth"} == set(found.facets)
    assert {"fresh", "lemon", "citrus"} <= set(found.refused)


@pytest.mark.parametrize(
    "word", ["amber", "ginger", "leather", "butter", "pepper", "juniper", "lavender", "cucumber"]
)
def test_a_smell_that_ends_like_a_comparative_is_itself(words, word):
    assert words(word).facets
    assert word in words(word).facets or word == "amber"


def test_the_narrower_word_counts_where_two_disagree(words):
    assert list(words("almond, not marzipan").facets) == ["bitter almond", "roasted almond"]
    found = words("marzipan, not almond")
    assert (list(found.facets), list(found.refused)) == (["marzipan"], ["bitter almond", "roasted almond"])


@pytest.mark.parametrize(
    "text",
    ["sweet, not sweet", "sweet, drier", "almond, no almond", "not rose, roses"],
)
def test_a_contradiction_is_an_error_that_names_it(words, text):
    with pytest.raises(BadValue, match="wanted and refused at once"):
        words(text)


def test_the_notes_say_how_a_refusal_was_read(words):
    assert words("less sweet").notes == ('"less sweet" is read as a refusal of sweet.',)
    assert words("not rose but smoke").notes == (
        '"not rose but smoke" is read as smoke, and as a refusal of rose.',
    )
    assert words("no qqq, rose").notes[-1] == "Not understood and left out: not qqq."


def test_a_refusal_of_nothing_known_is_an_error(words):
    with pytest.raises(UnknownFacet) as caught:
        words("without almund")
    assert "almond" in caught.value.near


# the verbs


def slugs(findings):
    return [found.material.slug for found in findings.suggestions]


@pytest.mark.parametrize("name", ["vanillin", "benzaldehyde", "ethyl maltol", "coumarin"])
@pytest.mark.parametrize("toward", ["less sweet", "drier", "without sweet", "not sweet but woody"])
def test_a_move_away_from_sweet_offers_what_is_less_sweet(name, toward):
    asked = r.material(name).value
    found = vary(name, shipped(), toward=toward)
    assert asked.strength_of("sweet")
    assert found.suggestions
    assert all(s.material.strength_of("sweet") < asked.strength_of("sweet") for s in found.suggestions)
    assert all(s.material.strength_of("sweet") < 2 for s in found.suggestions)
    assert any(f'"{toward}" is read as' in note for note in found.notes)
    assert found.query["refused"] == ["sweet"]


def test_a_refusal_alone_keeps_the_idea():
    found = vary("vanillin", shipped(), toward="less sweet")
    assert all(s.material.strength_of("vanilla") for s in found.suggestions[:3])
    (told,) = (reason for reason in found.suggestions[0].reasons if reason.kind == "less of")
    assert told.figures["sweet"]["here"] < told.figures["sweet"]["asked"]
    printed = run("vary", "vanillin", "--toward", "less sweet").out
    assert printed.startswith("What smells like vanillin, with less sweet?")


def test_a_formula_moves_away_by_what_stands_for_its_carrier(tmp_path):
    path = tmp_path / "sweet.csv"
    path.write_text("material,parts\nvanillin,60\nphenethyl alcohol,500\nlinalool,400\n", encoding="utf-8")
    before = drydown(str(path), shipped())
    column = before.film.facets.index("sweet")
    found = vary(str(path), shipped(), toward="less sweet")
    assert found.asked == "vanillin"
    assert any("vanillin carries most of the sweet" in note for note in found.notes)
    assert found.suggestions
    for suggestion in found.suggestions:
        added = [(suggestion.material, suggestion.dose.first_try / 1000)]
        after = before.minus(shipped().catalogue.find("vanillin")).plus(added)
        course = after.course.facets[:, after.film.facets.index("sweet")]
        assert course.sum() < before.course.facets[:, column].sum()
        assert "sweet" in suggestion.effect["after"]


def test_a_formula_without_the_refused_smell_cannot_have_less_of_it():
    with pytest.raises(BadValue, match="nothing in tide_pool smells of rum"):
        vary("data/demo/tide_pool.csv", shipped(), toward="less rum")


def test_a_refusal_in_a_facet_is_the_same_as_avoid(palette):
    for verb in (extend, replace):
        one = verb("zest", palette, facet="lemon, not smoke")
        other = verb("zest", palette, facet="lemon", avoid="smoke")
        assert slugs(one) == slugs(other)
        assert "smoked-lemon" not in slugs(one)
        assert "smoked-lemon" in slugs(verb("zest", palette, facet="lemon"))


def test_a_refusal_in_a_facet_counts_in_a_formula():
    one = extend(MORELLO, shipped(), facet="almond, not hay", top=40)
    assert one.suggestions
    assert all(found.material.strength_of("hay") < 2 for found in one.suggestions)
    other = extend(MORELLO, shipped(), facet="almond", avoid="hay", top=40)
    assert slugs(one) == slugs(other)


@pytest.mark.parametrize("asked", ["benzaldehyde", MORELLO])
def test_what_only_refuses_cannot_be_kept_alive(asked):
    done = run("extend", asked, "--facet", "not almond")
    assert (done.status, done.out, done.err.count("\n")) == (2, "", 1)
    assert "it names only what is not wanted" in done.err


def test_a_stand_in_may_be_asked_for_by_what_it_must_not_smell_of(palette):
    found = slugs(replace("zest", palette, facet="not smoke"))
    assert found == slugs(replace("zest", palette, avoid="smoke"))
    assert found


@pytest.mark.parametrize(
    "fields",
    [
        {"facet": "lemon", "avoid": "lemon"},
        {"facet": "sours", "avoid": ["lemon", "lime"]},
        {"facet": ["lemon", "not lemon"]},
    ],
    ids=["avoid", "nothing is left", "two phrases"],
)
def test_what_is_wanted_cannot_be_avoided(palette, fields):
    with pytest.raises(BadValue, match="wanted and refused at once"):
        extend("zest", palette, **fields)


def test_a_refusal_in_avoid_is_no_more_than_that(palette):
    expected = slugs(extend("zest", palette, facet="lemon", avoid="smoke"))
    assert slugs(extend("zest", palette, facet="lemon", avoid="no smoke")) == expected
    with pytest.raises(BadValue, match="read in two ways"):
        extend("zest", palette, facet="lemon", avoid="smoke, not rose")


def test_phrases_in_a_list_add_up(palette):
    one = extend("zest", palette, facet="lemon", avoid=["smoke", "rose"])
    other = extend("zest", palette, facet="lemon", avoid="smoke, rose")
    assert slugs(one) == slugs(other)
    assert not {"smoked-lemon", "lemon-oil"} & set(slugs(one))
    assert r.extend("benzaldehyde", facet=["marzipan", "cherry"]).to_dict()["query"]["facets"] == [
        "marzipan",
        "cherry",
    ]


def test_why_not_may_name_several(palette):
    notes = extend("zest", palette, facet="lemon", why_not=["flash", "vanilla pod"]).notes
    assert notes == (
        "flash is gone from a strip before zest is.",
        "vanilla pod shows too little of lemon.",
        "Nothing else answers with more than a trace; the best left out is faint lemon (0.27).",
    )


def test_a_listing_leaves_out_what_is_refused():
    found = r.materials("hay, not sweet").value
    assert found
    assert all(m.strength_of("hay") and m.strength_of("sweet") < 2 for m in found)
    everything = r.materials().value
    assert list(r.materials("not sweet").value) == [m for m in everything if m.strength_of("sweet") < 2]
    assert run("materials", "hay, not sweet").err.startswith('note: "hay, not sweet" is read as')


def test_the_listing_of_facets_takes_refusals():
    def listed(words):
        return [row["facet"] for row in run("facets", words, "--format", "json").json]

    assert listed("almond, not marzipan") == ["bitter almond", "roasted almond"]
    assert "marzipan" not in listed("not marzipan")
    assert "rose" in listed("not marzipan")


def test_a_nose_may_refuse_among_its_smells(palette):
    labels, absent = own_smells("lemon 3, not smoke and rose", "vanilla", palette)
    assert [label.facet for label in labels] == ["lemon"]
    assert absent == ("smoke", "rose", "vanilla")
    assert own_smells("", "no rose", palette) == ((), ("rose",))
    for smells, denied in (
        ("lemon 3, not lemon", ""),
        ("lemon 3", "lemon"),
        ("not lemon 3", ""),
        ("rose not lemon", ""),
    ):
        with pytest.raises(BadValue):
            own_smells(smells, denied, palette)


def test_a_material_of_ones_own_smells_only_of_what_is_named(palette):
    with pytest.raises(BadValue, match="leave out smoke"):
        labels_from_words("lemon 3, not smoke", palette)


@pytest.mark.parametrize(
    "arguments",
    [
        ["dose", "coumarin", "vanillin", "--balance", "less vanilla 2"],
        ["trials", "add", "x", "--at", "8h", "no almond clear"],
        ["calibrate", "add", "linalool", "--at", "8h", "no rose clear"],
    ],
)
def test_where_a_smell_has_a_strength_a_refusal_is_an_error(arguments):
    done = run(*arguments)
    assert done.status == 2
    assert "a refusal makes no sense here" in done.err
    assert done.err.count("\n") == 1


def test_a_comparative_of_a_word_for_several_facets_is_more_of_all_of_them(words):
    assert words("greener").facets == words("green").facets
    assert {"green", "galbanum"} <= words("greener").facets.keys()


# meanings, other languages

OVEN = Facet("roasted almond", "nuts", "almonds browned in the oven, dry and warm")
KERNEL = Facet("bitter almond", "nuts", "crushed almond kernel, sharp")
WALNUT = Facet("walnut", "nuts", "walnut kernel and skin, dry")
HAZEL = Facet("hazelnut", "nuts", "hazel kernel, buttery", ("cobnut",))


def meant(text, *facets, umbrellas=()):
    return parse(text, facets, umbrellas)


@pytest.mark.parametrize("text", ["oven", "Ovens", "the smell of an oven"])
def test_a_word_that_stands_in_a_meaning_leads_to_that_facet_and_says_so(text):
    found = meant(text, OVEN, KERNEL)
    assert list(found.facets) == ["roasted almond"]
    word = "ovens" if text == "Ovens" else "oven"
    assert found.notes == (f'"{word}" is taken as roasted almond, in whose meaning it stands.',)


@pytest.mark.parametrize("text", ["dry", "and", "the", "in", "crushed", "hymn book", "warm"])
def test_a_common_word_of_a_meaning_is_no_guess(text):
    with pytest.raises(UnknownFacet):
        meant(text, OVEN, KERNEL)


def test_a_word_in_the_meanings_of_two_facets_leads_to_both_and_of_three_to_none():
    assert list(meant("kernel", OVEN, KERNEL, WALNUT).facets) == ["bitter almond", "walnut"]
    with pytest.raises(UnknownFacet):
        meant("kernel", OVEN, KERNEL, WALNUT, HAZEL)


def test_a_facet_a_synonym_and_a_comparative_go_before_a_meaning():
    cobnut = Facet("shell", "nuts", "cobnut shell")
    assert list(meant("cobnut", HAZEL, cobnut).facets) == ["hazelnut"]
    assert list(meant("walnut", WALNUT, Facet("husk", "nuts", "walnut husk")).facets) == ["walnut"]


def test_a_meaning_can_be_refused_and_an_unknown_word_is_still_named():
    found = meant("walnut, not oven qqq", OVEN, WALNUT)
    assert (list(found.facets), found.refused) == (["walnut"], ("roasted almond",))
    assert found.ignored == ("not qqq",)


@pytest.mark.parametrize("stored", [labels_from_words, lambda text, palette: palette.smell(text)])
def test_what_is_stored_is_no_guess_from_a_meaning(stored, palette):
    wood = with_(palette, catalogue=with_(palette.catalogue, facets=(*palette.catalogue.facets, OVEN)))
    assert list(wood.phrase("oven").facets) == ["roasted almond"]
    with pytest.raises(UnknownFacet, match="Did you mean roasted almond"):
        stored("oven", wood)


NUSS = Umbrella("Nuss", ("hazelnut", "walnut"), ("nussig", "Nüsse"), "German")
OEILLET = Umbrella("oeillet", ("walnut",), (), "French")


@pytest.mark.parametrize(
    ("text", "facets"),
    [
        ("Nuss", ["hazelnut", "walnut"]),
        ("nussig", ["hazelnut", "walnut"]),
        ("NÜSSE", ["hazelnut", "walnut"]),
        ("Œillet", ["walnut"]),
        ("roasted almond mit Nuss", ["roasted almond", "hazelnut", "walnut"]),
    ],
)
def test_a_word_of_another_language_leads_to_its_facets(text, facets):
    found = meant(text, OVEN, WALNUT, HAZEL, umbrellas=(NUSS, OEILLET))
    assert list(found.facets) == facets
    assert any(f"is taken as {', '.join(facets[-2:])}" in note for note in found.notes)


@pytest.mark.parametrize("text", ["ohne Nuss", "nicht nussig", "sans oeillet", "pas d'oeillet, keine Nuss"])
def test_a_refusal_in_the_language_of_the_word_refuses_it(text):
    found = meant(f"roasted almond, {text}", OVEN, WALNUT, HAZEL, umbrellas=(NUSS, OEILLET))
    assert list(found.facets) == ["roasted almond"]
    assert set(found.refused) <= {"hazelnut", "walnut"}
    assert found.refused


def test_an_english_word_goes_before_the_same_word_of_another_language():
    french = Umbrella("cobnut", ("walnut",), (), "French")
    assert list(meant("cobnut", WALNUT, HAZEL, umbrellas=(french,)).facets) == ["hazelnut"]
    english = Umbrella("filbert", ("hazelnut",))
    other = Umbrella("filbert", ("walnut",), (), "German")
    for umbrellas in ((english, other), (other, english)):
        assert list(meant("filbert", WALNUT, HAZEL, umbrellas=umbrellas).facets) == ["hazelnut"]


def test_no_word_of_the_vocabulary_is_one_of_the_grammar(shipped):
    known = vocabulary(shipped.facets, shipped.umbrellas)
    assert not NO_FACETS & known.keys()
