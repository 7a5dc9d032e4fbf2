import pytest
from hypothesis import given
from hypothesis import strategies as st

from recommender.model import Label, Lasting, Material, Reason, Suggestion
from recommender.output import sentences, wording
from recommender.units import duration


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        (0.0, "under a minute"),
        (0.0158, "under a minute"),
        (0.016, "1 min"),
        (1.0, "60 min"),
        (1.49, "89 min"),
        (1.5, "1.5 h"),
        (2.0, "2 h"),
        (47.4, "47 h"),
        (48.0, "2 days"),
        (24.0 * 13.4, "13 days"),
        (24.0 * 14, "2 weeks"),
        (24.0 * 69, "9.9 weeks"),
        (24.0 * 70, "2 months"),
        (24.0 * 364, "12 months"),
        (24.0 * 365, "over a year"),
        (24.0 * 3650, "over a year"),
        (float("inf"), "over a year"),
    ],
)
def test_a_duration_is_said_as_a_perfumer_says_it(hours, said):
    assert duration(hours) == said


def minutes(said: str) -> float:
    if said in ("under a minute", "over a year"):
        return {"under a minute": 0.5, "over a year": 365.0 * 1440}[said]
    number, unit = said.split()
    return float(number) * {"min": 1, "h": 60, "days": 1440, "weeks": 10080, "months": 43776}[unit]


@given(st.floats(0.02, 24 * 364.9))
def test_a_duration_is_said_within_a_third(hours):
    assert minutes(duration(hours)) == pytest.approx(hours * 60, rel=0.34)


@given(st.floats(0, 1e5), st.floats(0, 1e5))
def test_a_longer_time_is_not_said_to_be_shorter(one, other):
    short, long = sorted((one, other))
    assert minutes(duration(short)) <= minutes(duration(long)) * 1.03


@pytest.mark.parametrize(
    ("listed", "said"),
    [
        ([], ""),
        (["hay"], "hay"),
        (["hay", "tonka"], "hay and tonka"),
        (["hay", "tonka", "vanilla"], "hay, tonka and vanilla"),
        (iter(["hay", "tonka"]), "hay and tonka"),
    ],
)
def test_words_are_joined_as_people_list_them(listed, said):
    assert wording.join(listed) == said


def test_words_can_be_joined_with_or():
    assert wording.join(["hay", "tonka", "vanilla"], "or") == "hay, tonka or vanilla"


@pytest.mark.parametrize(
    ("own", "asked", "said"),
    [
        (None, 10.0, "strength unknown"),
        (None, None, "strength unknown"),
        (12.4, None, "strength 12 of 100 at 1 %"),
        (12.4, 0.0, "strength 12 of 100 at 1 %"),
        (10.0, 10.0, "about as strong as rose"),
        (8.0, 10.0, "about as strong as rose"),
        (12.5, 10.0, "about as strong as rose"),
        (12.6, 10.0, "1.3 times as strong as rose"),
        (29.0, 10.0, "2.9 times as strong as rose"),
        (30.0, 10.0, "3 times as strong as rose"),
        (52.0, 10.0, "5 times as strong as rose"),
        (7.9, 10.0, "somewhat weaker than rose"),
        (6.7, 10.0, "somewhat weaker than rose"),
        (6.6, 10.0, "about half as strong as rose"),
        (4.1, 10.0, "about half as strong as rose"),
        (3.3, 10.0, "about a third as strong as rose"),
        (2.5, 10.0, "about a quarter as strong as rose"),
        (2.0, 10.0, "about a fifth as strong as rose"),
        (1.7, 10.0, "about a sixth as strong as rose"),
        (1.0, 10.0, "about 1/10 as strong as rose"),
        (0.53, 10.0, "about 1/19 as strong as rose"),
        (0.5, 10.0, "far weaker than rose"),
        (0.0, 10.0, "far weaker than rose"),
    ],
)
def test_strength_is_said_beside_the_asked_material(own, asked, said):
    assert wording.strength_against(own, asked, "rose") == said


@pytest.mark.parametrize(
    ("own", "asked", "said"),
    [
        (None, 10.0, "strength unknown"),
        (12.4, None, "strength 12 of 100 at 1 %"),
        (8.0, 10.0, "about as strong as rose"),
        (12.5, 10.0, "about as strong as rose"),
        (12.6, 10.0, "probably stronger than rose"),
        (39.9, 10.0, "probably stronger than rose"),
        (40.0, 10.0, "probably much stronger than rose"),
        (7.9, 10.0, "probably weaker than rose"),
        (2.6, 10.0, "probably weaker than rose"),
        (2.5, 10.0, "probably much weaker than rose"),
        (0.0, 10.0, "probably much weaker than rose"),
    ],
)
def test_strength_that_is_not_measured_is_compared_without_numbers(own, asked, said):
    assert wording.strength_against(own, asked, "rose", firm=False) == said


@pytest.mark.parametrize(
    ("stay", "said"),
    [
        (None, "lasting unknown"),
        (Lasting(0.43, 0.2, 0.9, "top", "published"), "top, 26 min (12 to 54 min)"),
        (Lasting(1.0, 0.4, 2.2, "top", "published"), "top, 60 min (24 min to 2.2 h)"),
        (Lasting(620, 290, 1360, "base", "published"), "base, 3.7 weeks (12 days to 8.1 weeks)"),
        (Lasting(9000, 4000, 90000, "base", "memory"), "base, over a year (5 months to over a year)"),
    ],
)
def test_lasting_is_position_hours_and_band(stay, said):
    assert wording.lasting(stay) == said


def test_facets_are_said_in_three_degrees():
    held = [Label("hay", 3, "memory"), Label("tonka", 2, "memory"), Label("tobacco", 1, "memory")]
    assert wording.facets(held) == "hay and tonka; a trace of tobacco"
    assert wording.facets(held[2:]) == "a trace of tobacco"
    assert wording.facets([]) == ""
    assert wording.labels(held) == "hay (leading), tonka (clear), tobacco (trace)"


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (Reason("shares", {"hay": {"here": 2, "asked": 3}}), "It shares hay (clear)."),
        (
            Reason("lasts", {"hours": 48.0, "asked_hours": 1.0, "position": "base"}),
            "On a strip it lasts 2 days, rose 60 min; it is a base note.",
        ),
        (
            Reason("lasts", {"hours": 48.0, "asked_hours": None, "position": "base"}),
            "On a strip it lasts 2 days; it is a base note.",
        ),
        (
            Reason("strength", {"strength": 10.0, "asked": 10.0, "firm": True}),
            "At the same dose it is about as strong as rose.",
        ),
        (
            Reason("strength", {"strength": 3.3, "asked": 10.0, "firm": True}),
            "At the same dose it is about a third as strong as rose.",
        ),
        (
            Reason("strength", {"strength": 3.3, "asked": 10.0, "firm": False}),
            "At the same dose it is probably weaker than rose.",
        ),
        (
            Reason("terms disagree", {"likeness": 0.1, "facet": 0.9}),
            "It shows the facet, but the rest of it smells different: trust your strip.",
        ),
        (
            Reason("terms disagree", {"likeness": 0.9, "facet": 0.2}),
            "As a whole it smells alike, but it shows less of the facet: trust your strip.",
        ),
        (
            Reason("labels from memory", {"labels": 7, "from_memory": 2}),
            "2 of its 7 labels come from memory: smell it first.",
        ),
        (
            Reason("warning", {"relation": "clashes", "note": "sour"}),
            "Mind: musk clashes with rose: sour.",
        ),
        (Reason("warning", {"relation": "clashes", "note": ""}), "Mind: musk clashes with rose."),
    ],
)
def test_a_reason_is_a_plain_sentence(found, said):
    assert sentences.reason(found, "rose", "musk") == said


def test_strength_without_a_measure_to_compare_with_is_still_a_sentence():
    told = Reason("strength", {"strength": 12.0, "asked": None, "firm": False})
    said = sentences.reason(told, "rose", "musk")
    assert "12 of 100" in said
    assert "it is strength" not in said


def test_where_no_facet_was_wanted_none_is_said_to_be_missing():
    told = Reason("terms disagree", {"likeness": 0.9, "labels": 0.3})
    assert "the facet" not in sentences.reason(told, "rose", "musk")


@pytest.mark.parametrize(
    ("near", "verb"), [({"vanilla": 0.3}, " lies near"), ({"a": 0.3, "b": 0.2}, " lie near")]
)
def test_one_facet_lies_near_and_two_lie_near(near, verb):
    assert verb in sentences.reason(Reason("near", near), "rose", "musk")


@pytest.mark.parametrize(("value", "kept"), [(1234.5, 1230.0), (0.0012345, 0.00123), (0.0, 0.0), (7.0, 7.0)])
def test_figures_are_shown_with_three_digits(value, kept):
    assert wording.tidy(value) == kept


@pytest.mark.parametrize(
    ("value", "cell"),
    [
        (None, ""),
        (0.0, "0"),
        (0.0049, "0"),
        (-0.0049, "0"),
        (0.005, "0.005"),
        (0.1234, "0.12"),
        (-0.1234, "-0.12"),
        (8.25, "8.2"),
        (99.4, "99"),
        (100.0, "100"),
        (1234.5, "1234"),
    ],
)
def test_a_cell_of_a_table_has_two_digits_and_nought_for_as_good_as_nothing(value, cell):
    assert wording.shown(value) == cell


@given(st.floats(-1e6, 1e6))
def test_a_cell_is_never_written_with_an_exponent_and_is_near_its_value(value):
    cell = wording.shown(value)
    assert "e" not in cell
    assert float(cell) == pytest.approx(value, rel=0.05, abs=0.005)


def suggestion(material: Material, *reasons: Reason) -> Suggestion:
    return Suggestion(
        material=material,
        facet="lemon",
        score=0.5,
        terms={},
        lasting=material.lasting,
        strength=material.strength,
        brings=(),
        reasons=reasons,
        cautions=(),
    )


def test_each_doubt_is_said_in_a_few_plain_words(material):
    kinds = [
        "lasts",
        "labels from memory",
        "curve doubtful",
        "strength disputed",
        "strength is a class",
        "terms disagree",
    ]
    found = suggestion(material("musk"), *(Reason(kind, {}) for kind in kinds))
    assert sentences.doubt(found).split(", ") == [
        "smell labels from memory",
        "strength doubtful",
        "strength disputed",
        "strength not measured",
        "likeness unsure",
    ]


def test_where_nothing_is_uncertain_no_doubt_is_said(material):
    assert sentences.doubt(suggestion(material("musk"), Reason("lasts", {}))) == ""


def test_strength_names_what_the_trade_holds_against_it(material):
    measured = Reason("strength", {"strength": 20.0, "asked": 10.0, "firm": False})
    disputed = Reason("strength disputed", {"stronger": "rose", "weaker": "musk", "note": ""})
    assert sentences.strength(suggestion(material("musk"), measured), "rose") == "probably stronger than rose"
    assert sentences.strength(suggestion(material("musk"), measured, disputed), "rose") == (
        "probably stronger than rose by the figures, though the trade calls rose the stronger"
    )
    assert sentences.strength(suggestion(material("musk")), "rose") == "strength unknown"


@pytest.mark.parametrize(
    ("verb", "until_hours", "end"),
    [
        ("extend", 24.0, "; it falls short of 24 h."),
        ("extend", 10.0, "."),
        ("extend", None, "."),
        ("replace", 24.0, "."),
    ],
)
def test_what_is_gone_before_the_hour_that_was_asked_for_says_so(material, verb, until_hours, end):
    found = suggestion(material("musk", {"lemon": 3}, hours=10.0))
    assert sentences.sentence(found, "rose", verb, ["lemon"], until_hours) == f"Leads with lemon{end}"


@pytest.mark.parametrize("kind", ["shares-facet", "classic-pair", "derivative-of", "constituent-of"])
def test_a_relation_that_explains_nothing_is_not_said_in_one_line(material, kind):
    step = {"from": "musk", "relation": kind, "to": "rose", "note": ""}
    found = suggestion(material("musk", {"lemon": 3}), Reason("relation", {"path": [step]}))
    assert sentences.sentence(found, "rose", "replace", ["lemon"]) == "Leads with lemon."


def test_a_relation_that_explains_is_said_in_one_line(material):
    step = {"from": "musk", "relation": "isomer-of", "to": "rose", "note": ""}
    found = suggestion(material("musk", {"lemon": 3}), Reason("relation", {"path": [step]}))
    said = sentences.sentence(found, "rose", "replace", ["lemon"])
    assert said == f"Leads with lemon; musk {wording.RELATION_WORDS['isomer-of']} rose."
