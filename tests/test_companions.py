"""What goes well with a material or an accord: why, at which dose, and what is never offered."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from asking import pair
from command_line import run

from recommender.model import HARDLY, Bottle, Figure, Formula, Line, Relation
from recommender.palette import Palette
from recommender.palette import shipped as shipped_palette
from recommender.reasons import Bridge, ClassicPair, FacetAffinity, PairedLike, StrengthReason, StripCheck
from recommender.similarity.pairings import Pairings, basis_weight, lift
from recommender.suggest.scoring import WEIGHTS
from recommender.suggest.stock import Shelf


def slugs(found):
    return [s.material.slug for s in found.suggestions]


def of_kind(kind, suggestion):
    return [r for r in suggestion.reasons if isinstance(r, kind)]


@pytest.fixture(scope="module")
def rows(material):
    usual = Figure(1.0, "%", "common practice", "", 0.5, 2.0)
    return [
        material("rose-oil", {"rose": 3, "lime": 1}, hours=20.0, kind="natural"),
        material("rose-absolute", {"rose": 3, "lemon": 1}, hours=40.0, kind="natural"),
        material("rosenol", {"rose": 3}, hours=5.0),
        material("rose-leaf", {"lime": 3, "rose": 1, "smoke": 2}, hours=5.0),
        material("rose-salt", {"rose": 2, "smoke": 3}, hours=5.0),
        material("pod", {"vanilla": 3, "lime": 1}, hours=300.0, kind="natural", use=usual),
        material("pod-absolute", {"vanilla": 3, "lime": 1}, hours=300.0, kind="natural"),
        material("ember", {"smoke": 3}, hours=500.0),
        material("zest", {"lemon": 3}, hours=1.0),
        material("mute", hours=300.0, curve=None, strength=None),
    ]


@pytest.fixture(scope="module")
def relations(relation):
    return [
        relation("rose-oil", "classic-pair", "pod", note="rose and vanilla"),
        Relation("zest", "classic-pair", "rose-oil", 1.0, "memory", "", "cologne"),
        relation("rose-leaf", "constituent-of", "rose-oil"),
        relation("rose-salt", "stronger-form-of", "rosenol"),
        relation("rose-oil", "clashes", "ember", note="ash over petals"),
    ]


@pytest.fixture(scope="module")
def garden(rows, relations, catalogue_of):
    return Palette.of(catalogue_of(rows, relations))


# what is offered, and why


def test_a_classic_companion_comes_first_with_its_basis_and_the_bridge(garden):
    first = pair("rose oil", garden).suggestions[0]
    assert first.material.slug == "pod"
    assert of_kind(ClassicPair, first) == [
        ClassicPair("rose oil", "rose and vanilla", basis="common practice")
    ]
    assert list(of_kind(Bridge, first)[0].facets) == ["lime"]


def test_a_pair_counts_from_either_end_and_the_firmer_one_more(garden):
    assert slugs(pair("rose oil", garden)) == ["pod", "zest"]
    assert "rose-oil" in slugs(pair("pod", garden))
    assert "rose-oil" in slugs(pair("zest", garden))
    firm, loose = (s.terms["pair"] for s in pair("rose oil", garden).suggestions)
    assert firm > loose > 0


def test_a_pair_speaks_for_another_form_of_the_same_note(garden):
    found = {s.material.slug: s for s in pair("rose absolute", garden).suggestions}
    (why,) = of_kind(PairedLike, found["pod"])
    assert (why.like, why.beside, why.partner) == ("rose absolute", "rose oil", "pod")
    assert not of_kind(ClassicPair, found["pod"])


def test_one_form_of_each_note_is_offered_the_one_on_record(garden):
    assert [s for s in slugs(pair("rose oil", garden)) if s.startswith("pod")] == ["pod"]


def test_facets_that_are_paired_elsewhere_speak_for_what_is_in_no_pair(rows, relation, catalogue_of):
    palette = Palette.of(catalogue_of(rows, [relation("ember", "classic-pair", "zest")]))
    found = {s.material.slug: s for s in pair("rose salt", palette).suggestions}  # it leads with smoke
    (why,) = of_kind(FacetAffinity, found["zest"])
    assert (why.facet, why.beside) == ("lemon", "smoke")
    assert why.lift > 0


def test_a_facet_narrows_to_companions_that_show_it(garden):
    assert slugs(pair("rose oil", garden, facet="lemon")) == ["zest"]
    assert slugs(pair("rose oil", garden, avoid="lemon")) == ["pod"]


def test_the_order_of_the_rows_does_not_matter(garden, rows, relations, catalogue_of):
    turned = Palette.of(catalogue_of(rows[::-1], relations[::-1]))
    one, other = (pair("rose oil", palette).suggestions for palette in (garden, turned))
    assert [s.material.slug for s in one] == [s.material.slug for s in other]
    assert [s.score for s in one] == pytest.approx([s.score for s in other])


def test_what_is_hard_to_get_comes_last_unless_it_is_on_the_shelf(rows, relations, catalogue_of):
    rare = [replace(m, availability=HARDLY) if m.slug == "pod" else m for m in rows]
    garden = Palette.of(catalogue_of(rare, relations))
    found = pair("rose oil", garden, top=3)
    assert slugs(found) == ["zest", "pod"]
    assert found.suggestions[0].score < found.suggestions[1].score
    shelf = Shelf((Bottle("pod", "pod"),), date(2026, 1, 1))
    assert slugs(pair("rose oil", garden, shelf=shelf)) == ["pod", "zest"]


def test_an_accord_is_answered_with_its_theme_and_its_share(garden):
    lines = tuple(Line(garden.catalogue.by_slug(slug), 50.0) for slug in ("rose-oil", "zest"))
    plain = pair(Formula("accord", lines), garden)
    assert plain.query["theme"]["stated"] is False
    stated = pair(Formula("accord", lines), garden, theme="lemon", share_percent=50)
    assert stated.query["theme"] == {"facets": ["lemon"], "stated": True}
    assert stated.query["share"] == 50
    assert "theme" not in pair("rose oil", garden).query


# what is not offered


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("rose oil", "rose oil is the material that was asked about."),
        ("rosenol", "rosenol smells much like rose oil: it would replace it."),
        ("rose absolute", "rose absolute smells much like rose oil: it would replace it."),
        ("rose leaf", "rose leaf is found in rose oil, or rose oil in it."),
        ("ember", "ember clashes with rose oil: ash over petals."),
    ],
)
def test_neither_what_smells_the_same_nor_what_clashes_is_offered(garden, name, reason):
    found = pair("rose oil", garden, why_not=name)
    assert name.replace(" ", "-") not in slugs(found)
    assert reason in found.notes


def test_what_leads_with_the_same_smell_is_offered_only_as_a_classic_pair(material, relation, catalogue_of):
    rows = [
        material("smoke-a", {"smoke": 3, "lemon": 2, "rose": 2}, hours=5.0),
        material("smoke-b", {"smoke": 3, "vanilla": 2, "lime": 1}, hours=5.0),
        material("zest", {"lemon": 3}, hours=1.0),
    ]
    apart = [relation("smoke-a", "classic-pair", "zest")]
    found = pair("smoke a", Palette.of(catalogue_of(rows, apart)), why_not="smoke b")
    assert slugs(found) == ["zest"]
    assert found.notes[-1] == "smoke b leads with the same smell as smoke a: it would replace it."
    joined = [*apart, relation("smoke-a", "classic-pair", "smoke-b")]
    assert "smoke-b" in slugs(pair("smoke a", Palette.of(catalogue_of(rows, joined))))


def test_nothing_is_offered_beside_what_has_no_smell_and_no_pair(garden):
    found = pair("mute", garden)
    assert not found.suggestions
    assert "No smell of mute is on record." in found.notes


def test_why_not_says_where_a_material_ranks(garden):
    shown = slugs(pair("rose oil", garden))
    note = pair("rose oil", garden, why_not="zest").notes[-1]
    assert note == f"zest is in the list, at place {shown.index('zest') + 1}."
    note = pair("rose oil", garden, why_not="zest", top=1).notes[-1]
    assert note.startswith("zest comes in place 3 of 3: ")  # behind both forms of the pod


# beside a material: strips and a ratio; in an accord: parts per thousand


def test_two_strips_are_proposed_at_equal_strength(garden):
    (check,) = of_kind(StripCheck, pair("rose oil", garden).suggestions[0])
    assert (check.beside_percent, check.percent) == (10.0, 10.0)  # equally strong in this world
    assert check.hours == (5 / 60, 1.0)


def test_beside_a_material_as_strong_as_it_one_part_goes_to_one(garden):
    zest = next(s for s in pair("rose oil", garden).suggestions if s.material.slug == "zest")
    assert zest.dose.of_query == pytest.approx(1.0, rel=0.05)
    assert zest.dose.first_try == pytest.approx(500.0, rel=0.05)


def test_in_an_accord_the_dose_stays_within_the_usual_range(garden):
    found = {s.material.slug: s for s in pair({"rose oil": 50, "zest": 50}, garden).suggestions}
    assert "zest" not in found
    assert "rose-oil" not in found
    dose = found["pod"].dose
    assert dose.of_query is None
    assert dose.low <= dose.first_try <= dose.high <= 20.0  # usual: up to 2 %


def test_in_an_accord_a_companion_of_the_loudest_line_counts_most(garden):
    much, little = (
        next(s for s in pair(accord, garden).suggestions if s.material.slug == "pod").terms["pair"]
        for accord in ({"rose oil": 90, "ember": 10}, {"rose oil": 0.01, "ember": 100})
    )
    assert much > little


def test_beside_an_accord_the_strength_is_the_companions_own(garden):
    found = pair({"rose oil": 90, "ember": 10}, garden).suggestions[0]
    (strength,) = (r for r in found.reasons if isinstance(r, StrengthReason))
    assert (strength.strength, strength.asked) == (found.material.strength, None)


def test_what_would_be_drowned_is_worth_less(material, relation, catalogue_of):
    faint = material("faint", {"vanilla": 3}, hours=300.0, strength=0.5)
    equal = material("equal", {"vanilla": 3}, hours=300.0, strength=30.0)
    asked = material("asked", {"rose": 3}, hours=20.0, strength=30.0)
    pairs = [relation("asked", "classic-pair", slug) for slug in ("faint", "equal")]
    terms = {}
    for one in (faint, equal):
        (found,) = pair(
            "asked", Palette.of(catalogue_of([asked, one], pairs[one is equal :][:1]))
        ).suggestions
        terms[one.slug] = found.terms["strength"]
    assert terms["equal"] == pytest.approx(1.0)
    assert terms["faint"] < 0.5


def test_every_term_has_a_weight(garden):
    for found in pair("rose oil", garden, facet="lemon").suggestions:
        assert set(found.terms) == set(WEIGHTS["pair"])
        assert all(0.0 <= value <= 1.0 for value in found.terms.values())


# the pairs


def test_lift_is_what_is_above_chance():
    even = np.ones((2, 2))
    assert lift(even, even.sum(axis=1), even.sum(axis=0)).tolist() == [[0.0, 0.0], [0.0, 0.0]]
    apart = np.array([[3.0, 1.0], [1.0, 3.0]])
    found = lift(apart, apart.sum(axis=1), apart.sum(axis=0))
    assert found[0, 0] == pytest.approx(np.log(1.5))
    assert found[0, 1] == 0.0


def test_pairs_are_symmetric_and_weighted_by_basis(garden):
    pairings = Pairings.of(garden.catalogue, garden.graph, garden.space)
    index = garden.catalogue.index
    assert (pairings.classic == pairings.classic.T).all()
    assert pairings.classic[index["pod"], index["rose-oil"]] == 0.85
    assert pairings.classic[index["zest"], index["rose-oil"]] == 0.6
    published = Relation("a", "classic-pair", "b", 1.0, "published", "toy-2020", "")
    assert basis_weight(published) == 1.0


# the shipped evidence


@pytest.mark.parametrize(
    ("asked", "companion"),  # common practice
    [
        ("lavender oil", "coumarin"),
        ("lavender oil", "oakmoss absolute"),
        ("benzaldehyde", "piperonal"),
        ("patchouli oil", "oakmoss absolute"),
    ],
)
def test_what_every_perfumer_pairs_is_among_the_first(asked, companion):
    found = pair(asked, shipped_palette(), top=25)
    assert companion in [s.material.name for s in found.suggestions]


def test_the_command_line_says_why_how_much_and_which_strips():
    shown = run("pair", "lavender oil", "--top", "3")
    assert shown.status == 0
    assert shown.out.startswith("What goes well with lavender oil?\nSmells that are often paired with it: ")
    assert "Classic beside lavender oil (common practice" in shown.out
    assert "Hold strips of lavender oil 10 % and " in shown.out
    assert " parts to one part of lavender oil" in shown.out


def test_the_answer_is_a_suggestion_list_and_names_the_facets_that_go_with_it():
    found = run("pair", "data/demo/green_fig.csv", "--top", "2", "--format", "json").json
    assert list(found) == ["query", "suggestions", "notes"]
    assert found["query"]["formula"] == "green_fig"
    assert found["query"]["companion_facets"]
    for one in found["suggestions"]:
        assert one["dose"]["unit"] == "parts per thousand"
        assert one["reasons"][0]["kind"] in ("classic pair", "paired alike", "bridge", "facets go together")
        assert {reason["kind"] for reason in one["reasons"]} >= {"strips"}
