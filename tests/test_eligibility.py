"""Who may be offered, and why not: one list of rules answers both, in a toy world."""

from dataclasses import replace as with_
from datetime import date

import pytest
from asking import extend, replace, vary

from recommender.model import HARDLY, Allergen, Bottle, Component, Limit, OwnNote, PracticeFact
from recommender.palette import Palette
from recommender.suggest import Request
from recommender.suggest.eligibility import RULES, Eligibility
from recommender.suggest.stock import Shelf

pytestmark = pytest.mark.usefixtures("everything_shown")

BAN = Limit("ban", ("33-33-0",), (), "prohibition", "eu", "published", "toy-2020")
MOSTLY_ZEST = tuple(
    Component(n, share, 100.0, 150.0, None, 0.3, "memory") for n, share in (("zest", 0.95), ("x", 0.05))
)
SOFT = PracticeFact("candle", "poor", "memory", note="clogs the wick")
TINTED = PracticeFact("colour", "dark", "common practice")
NAMED = Allergen("Lemonal", (), ("listed",), "original", "67", "published", "toy-2020")


@pytest.fixture(scope="module")
def palette(material, catalogue_of):
    rows = [
        material("zest", {"lemon": 3}, hours=1.0, pressure_pa=100.0),
        material("ember", {"smoke": 3}, hours=500.0, pressure_pa=0.1),
        material("twin", {"lemon": 3}, hours=50.0, pressure_pa=2.0),
        material("banned", {"lemon": 3}, hours=50.0, cas="33-33-0"),
        material("listed", {"lemon": 3}, hours=50.0),
        material("solvent", {"lemon": 1}, hours=50.0, kind="solvent"),
        material("museum", {"lemon": 3}, hours=50.0, role="reference"),
        material("mute", hours=50.0),
        material("blind", {"lemon": 3}, hours=50.0, own=OwnNote("blind", blind=True)),
        material("denied", {"lemon": 3}, hours=50.0, own=OwnNote("denied", denied=("lemon",))),
        material("dear", {"lemon": 3}, hours=50.0),
        material("elsewhere", {"lemon": 3}, hours=50.0),
        material("smoky", {"lemon": 3, "smoke": 2}, hours=50.0),
        material("oil", {"lemon": 3}, hours=50.0, kind="natural"),
        material("soft", {"lemon": 3}, hours=50.0, practice=(SOFT,)),
        material("tinted", {"lemon": 3}, hours=50.0, practice=(TINTED,)),
        material("rare", {"lemon": 3}, hours=50.0, availability=HARDLY),
        material("faint", {"rose": 3}, hours=50.0),
        material("brief", {"lemon": 3}, hours=0.2),
        material("unknown", {"lemon": 3}),
        with_(material("nearly", {"lemon": 3}, hours=50.0), parts=MOSTLY_ZEST),
        material("strengthless", {"lemon": 3}, hours=50.0, curve=None),
        material("foe", {"lemon": 3}, hours=50.0),
    ]
    return Palette.of(with_(catalogue_of(rows, limits=[BAN]), allergens=(NAMED,)))


@pytest.fixture(scope="module")
def bounds(palette):
    """Return bounds under which every rule has something to say."""
    names = [m.slug for m in palette.catalogue.materials if m.slug not in ("elsewhere", "rare")]
    prices = {"dear": 9.0}
    bottles = tuple(Bottle(n, n, price_per_g=prices.get(n, 1.0), amount_g=9.0) for n in names)
    request = Request(
        no_label_allergens=True,
        kind="molecule",
        shelf=Shelf(bottles, date(2026, 1, 15)),
        only_shelf=True,
        max_price=2.0,
        product="candle",
        colourless=True,
        available=True,
    )
    asked = palette.catalogue.by_slug("zest")
    present = frozenset({"ember"})
    return Eligibility(
        request,
        palette,
        {"lemon": 1.0},
        {"smoke": 2},
        asked,
        present,
        1.0,
        simulated=True,
        objections={"foe": "foe clashes with zest."},
    )


def test_only_what_no_rule_objects_to_may_be_offered(palette, bounds):
    offered = [m.slug for m, may in zip(palette.catalogue.materials, bounds.mask, strict=True) if may]
    assert offered == ["twin"]


@pytest.mark.parametrize(
    ("slug", "reason"),
    [
        ("banned", "banned is prohibited: ban (A. Toy, 2020, Toy tables)."),
        (
            "listed",
            "listed is Lemonal, which has to be named on the label"
            " (A. Toy, 2020, Toy tables, Annex III entry 67).",
        ),
        ("solvent", "solvent is a solvent and is not offered for its smell."),
        ("zest", "zest is the material that was asked about."),
        ("ember", "ember is in the formula already."),
        ("museum", "museum is known for its smell only and is not offered."),
        ("mute", "No smell of mute is on record."),
        ("blind", "You cannot smell blind, as your notebook says."),
        ("denied", "To your nose denied does not smell of lemon."),
        ("elsewhere", "elsewhere is not on your shelf."),
        ("dear", "dear costs 9 a gram neat, more than 2."),
        ("soft", "soft does poorly in a candle: clogs the wick (memory)."),
        ("tinted", "tinted is dark as sold (common practice)."),
        ("smoky", "smoky smells of smoke, which you avoid."),
        ("oil", "oil is a natural; you asked for a molecule."),
        ("faint", "faint shows too little of lemon."),
        ("nearly", "nearly is 95 % zest and fades with it."),
        ("unknown", "How long unknown lasts is not known."),
        ("brief", "brief is gone from a strip before zest is."),
        ("strengthless", "How strong strengthless smells is not known."),
        ("foe", "foe clashes with zest."),
    ],
)
def test_what_is_not_offered_has_its_reason(palette, bounds, slug, reason):
    assert bounds.why_not(palette.catalogue.by_slug(slug)) == [reason]


def test_every_rule_is_met_above(palette, bounds):
    # what is hardly to be had is not on this shelf, which is the first to object
    assert bounds.why_not(palette.catalogue.by_slug("rare")) == ["rare is not on your shelf."]
    objecting = {rule for m in palette.catalogue.materials for rule in RULES if rule(bounds, m)}
    assert objecting == set(RULES)


def test_the_first_rule_that_objects_gives_the_reason(palette, bounds):
    banned = with_(palette.catalogue.by_slug("banned"), kind="natural", own=OwnNote("banned", blind=True))
    assert bounds.why_not(banned) == ["banned is prohibited: ban (A. Toy, 2020, Toy tables)."]


def test_without_bounds_everything_with_a_smell_that_is_not_prohibited_may_be_offered(palette):
    mask = Eligibility(Request(), palette).mask
    withheld = [m.slug for m, may in zip(palette.catalogue.materials, mask, strict=True) if not may]
    assert withheld == ["banned", "solvent", "museum", "mute", "blind"]


@pytest.mark.parametrize("verb", [extend, replace, vary])
def test_a_list_and_why_not_never_disagree(palette, verb):
    names = [m.slug for m in palette.catalogue.materials]
    found = verb("zest", palette, toward="lemon", facet="lemon", avoid="smoke", why_not=names, top=50)
    offered = [s.material.name for s in found.suggestions]
    listed = [note for note in found.notes if " is in the list, " in note]
    assert set(listed) == {f"{one} is in the list, at place {n}." for n, one in enumerate(offered, 1)}
    assert len(found.notes) >= len(names)


# in a formula


@pytest.fixture(scope="module")
def accord(tmp_path_factory):
    path = tmp_path_factory.mktemp("formulas") / "accord.csv"
    path.write_text("material,parts\nzest,200\nember,800\n")
    return str(path)


@pytest.mark.parametrize(
    ("slug", "reason"),
    [
        ("banned", "banned is prohibited: ban (A. Toy, 2020, Toy tables)."),
        ("ember", "ember is in the formula already."),
        ("smoky", "smoky smells of smoke, which you avoid."),
        ("unknown", "How long unknown lasts is not known."),
        ("brief", "brief is gone from a strip long before the facet fades in the formula."),
        ("strengthless", "How strong strengthless smells is not known."),
        ("twin", "Nothing keeps twin from being offered; where it ranks is answered without the formula."),
    ],
)
@pytest.mark.parametrize("relay", [False, True])
def test_why_not_in_a_formula_is_answered_by_the_same_rules(accord, palette, slug, reason, relay):
    found = extend(accord, palette, facet="lemon", avoid="smoke", why_not=slug, relay=relay)
    shown = [s.material.slug for s in found.suggestions]
    listed = f"{slug} is in the list, at place {shown.index(slug) + 1}." if slug in shown else reason
    assert found.notes[-1] == listed


def test_why_not_in_a_formula_of_what_is_shown_says_its_place(accord, palette):
    for place, one in enumerate(extend(accord, palette, facet="lemon").suggestions, 1):
        notes = extend(accord, palette, facet="lemon", why_not=one.material.name).notes
        assert notes[-1] == f"{one.material.name} is in the list, at place {place}."


def test_why_not_in_a_formula_says_where_limits_leave_no_room(accord, palette):
    limit = Limit("twins", (), ("twin",), "restriction", "eu", "published", "toy-2020", percent={"4": 1e-6})
    strict = Palette.of(with_(palette.catalogue, limits=(limit,)))
    found = extend(accord, strict, facet="lemon", dosage_percent=10.0, why_not="twin")
    assert "twin" not in {s.material.slug for s in found.suggestions}
    assert found.notes[-1] == "Limits leave no room for twin in accord at this dosage."
