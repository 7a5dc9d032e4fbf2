import pytest
from hypothesis import given
from hypothesis import strategies as st

from recommender.model import Label, Lasting, Material, Suggestion
from recommender.output import sentences, wording
from recommender.reasons import (
    DoubtfulCurve,
    FacetStrengths,
    LabelsFromMemory,
    LastingReason,
    NearFacets,
    Reason,
    RelationPath,
    RelationStep,
    RelationWarning,
    SharedFacets,
    StrengthClass,
    StrengthDispute,
    StrengthReason,
    TermDisagreement,
)
from recommender.units import duration


@pytest.mark.parametrize(
    ("hours", "expected"),
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
def test_a_duration_reads_as_a_perfumer_would_write_it(hours, expected):
    assert duration(hours) == expected


def minutes(text: str) -> float:
    if text in ("under a minute", "over a year"):
        return {"under a minute": 0.5, "over a year": 365.0 * 1440}[text]
    number, unit = text.split()
    return float(number) * {"min": 1, "h": 60, "days": 1440, "weeks": 10080, "months": 43776}[unit]


@given(st.floats(0.02, 24 * 364.9))
def test_a_duration_is_accurate_within_a_third(hours):
    assert minutes(duration(hours)) == pytest.approx(hours * 60, rel=0.34)


@given(st.floats(0, 1e5), st.floats(0, 1e5))
def test_a_longer_time_never_reads_shorter(one, other):
    short, long = sorted((one, other))
    assert minutes(duration(short)) <= minutes(duration(long)) * 1.03


@pytest.mark.parametrize(
    ("listed", "expected"),
    [
        ([], ""),
        (["hay"], "hay"),
        (["hay", "tonka"], "hay and tonka"),
        (["hay", "tonka", "vanilla"], "hay, tonka and vanilla"),
        (iter(["hay", "tonka"]), "hay and tonka"),
    ],
)
def test_words_are_joined_as_a_list_in_a_sentence(listed, expected):
    assert wording.join(listed) == expected


def test_words_can_be_joined_with_or():
    assert wording.join(["hay", "tonka", "vanilla"], "or") == "hay, tonka or vanilla"


@pytest.mark.parametrize(
    ("own", "asked", "expected"),
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
def test_strength_is_compared_with_the_asked_material(own, asked, expected):
    assert wording.strength_against(own, asked, "rose") == expected


@pytest.mark.parametrize(
    ("own", "asked", "expected"),
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
def test_strength_that_is_not_measured_is_compared_without_numbers(own, asked, expected):
    assert wording.strength_against(own, asked, "rose", firm=False) == expected


@pytest.mark.parametrize(
    ("stay", "expected"),
    [
        (None, "lasting unknown"),
        (Lasting(0.43, 0.2, 0.9, "top", "published"), "top, 26 min (12 to 54 min)"),
        (Lasting(1.0, 0.4, 2.2, "top", "published"), "top, 60 min (24 min to 2.2 h)"),
        (Lasting(620, 290, 1360, "base", "published"), "base, 3.7 weeks (12 days to 8.1 weeks)"),
        (Lasting(9000, 4000, 90000, "base", "memory"), "base, over a year (5 months to over a year)"),
    ],
)
def test_lasting_is_position_hours_and_band(stay, expected):
    assert wording.lasting(stay) == expected


def test_facets_in_words_of_degree():
    labels = [Label("hay", 3, "memory"), Label("tonka", 2, "memory"), Label("tobacco", 1, "memory")]
    assert wording.facets(labels) == "hay and tonka; a trace of tobacco"
    assert wording.facets(labels[2:]) == "a trace of tobacco"
    assert wording.facets([]) == ""
    assert wording.labels(labels) == "hay (leading), tonka (clear), tobacco (trace)"


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        (SharedFacets({"hay": FacetStrengths(2, 3)}), "It shares hay (clear)."),
        (
            LastingReason(48.0, 24.0, 96.0, "base", 1.0, None),
            "On a strip it lasts 2 days, rose 60 min; it is a base note.",
        ),
        (
            LastingReason(48.0, 24.0, 96.0, "base", None, None),
            "On a strip it lasts 2 days; it is a base note.",
        ),
        (
            StrengthReason(10.0, 10.0, "curve", firm=True),
            "At the same dose it is about as strong as rose.",
        ),
        (
            StrengthReason(3.3, 10.0, "curve", firm=True),
            "At the same dose it is about a third as strong as rose.",
        ),
        (
            StrengthReason(3.3, 10.0, "class", firm=False),
            "At the same dose it is probably weaker than rose.",
        ),
        (
            TermDisagreement({"likeness": 0.1, "facet": 0.9}),
            "It shows the facet, but the rest of it smells different: compare on strips.",
        ),
        (
            TermDisagreement({"likeness": 0.9, "facet": 0.2}),
            "As a whole it smells alike, but it shows less of the facet: compare on strips.",
        ),
        (
            LabelsFromMemory(7, 2),
            "2 of its 7 labels come from memory: smell it first.",
        ),
        (
            RelationWarning("clashes", "sour"),
            "Caution: musk clashes with rose: sour.",
        ),
        (RelationWarning("clashes", ""), "Caution: musk clashes with rose."),
    ],
)
def test_a_reason_is_a_plain_sentence(found, expected):
    assert sentences.reason(found, "rose", "musk") == expected


def test_strength_without_a_measure_to_compare_with_is_still_a_sentence():
    told = StrengthReason(12.0, None, "class", firm=False)
    said = sentences.reason(told, "rose", "musk")
    assert "12 of 100" in said
    assert "it is strength" not in said


def test_without_a_wanted_facet_none_is_called_missing():
    told = TermDisagreement({"likeness": 0.9, "labels": 0.3})
    assert "the facet" not in sentences.reason(told, "rose", "musk")


@pytest.mark.parametrize(
    ("near", "verb"), [({"vanilla": 0.3}, " is close to it"), ({"a": 0.3, "b": 0.2}, " are close to it")]
)
def test_one_facet_is_close_and_two_are_close(near, verb):
    assert verb in sentences.reason(NearFacets(near), "rose", "musk")


@pytest.mark.parametrize(
    ("value", "stored"), [(1234.5, 1230.0), (0.0012345, 0.00123), (0.0, 0.0), (7.0, 7.0)]
)
def test_figures_are_shown_with_three_digits(value, stored):
    assert wording.tidy(value) == stored


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


LASTING = LastingReason(48.0, 24.0, 96.0, "base", None, None)


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


def test_each_doubt_has_a_few_plain_words(material):
    found = suggestion(
        material("musk"),
        LASTING,
        LabelsFromMemory(7, 2),
        DoubtfulCurve(0.1),
        StrengthDispute("rose", "musk", ""),
        StrengthClass(0.8),
        TermDisagreement({"likeness": 0.9, "facet": 0.2}),
    )
    assert sentences.doubt(found).split(", ") == [
        "smell labels from memory",
        "strength doubtful",
        "strength disputed",
        "strength not measured",
        "likeness unsure",
    ]


def test_without_uncertainty_there_is_no_doubt(material):
    assert sentences.doubt(suggestion(material("musk"), LASTING)) == ""


def test_strength_says_where_common_practice_disagrees(material):
    measured = StrengthReason(20.0, 10.0, "class", firm=False)
    disputed = StrengthDispute("rose", "musk", "")
    assert sentences.strength(suggestion(material("musk"), measured), "rose") == "probably stronger than rose"
    assert sentences.strength(suggestion(material("musk"), measured, disputed), "rose") == (
        "probably stronger than rose by the figures, though in common practice rose counts as the stronger"
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
def test_a_relation_that_explains_nothing_is_left_out_of_the_sentence(material, kind):
    step = RelationStep("musk", kind, "rose")
    found = suggestion(material("musk", {"lemon": 3}), RelationPath((step,)))
    assert sentences.sentence(found, "rose", "replace", ["lemon"]) == "Leads with lemon."


def test_a_relation_that_explains_is_part_of_the_sentence(material):
    step = RelationStep("musk", "isomer-of", "rose")
    found = suggestion(material("musk", {"lemon": 3}), RelationPath((step,)))
    said = sentences.sentence(found, "rose", "replace", ["lemon"])
    assert said == f"Leads with lemon; musk {wording.RELATION_WORDS['isomer-of']} rose."
