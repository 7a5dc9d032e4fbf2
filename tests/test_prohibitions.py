import pytest

from recommender.errors import BadValue
from recommender.model import Limit
from recommender.regulation import prohibitions, warnings


def ban(**more):
    held = {"cas": (), "materials": (), "kind": "prohibition", "market": "eu", "basis": "published"} | more
    return Limit("a list", source="toy-2020", **held)


@pytest.fixture(scope="module")
def lemon(material):
    return material("lemon", {"lemon": 3}, cas="11-11-0", cas_more=("22-22-0",))


@pytest.mark.parametrize("cas", ["11-11-0", "22-22-0"])
def test_any_of_its_cas_numbers_prohibits_a_material(lemon, cas):
    limit = ban(cas=("99-99-0", cas))
    assert prohibitions(lemon, [limit]) == (limit,)


def test_its_slug_prohibits_a_material(lemon):
    assert prohibitions(lemon, [ban(materials=("lemon",))])


def test_another_cas_number_does_not_prohibit(lemon):
    assert prohibitions(lemon, [ban(cas=("33-33-0",), materials=("lime",))]) == ()


def test_an_exception_lifts_a_prohibition(lemon):
    assert prohibitions(lemon, [ban(cas=("11-11-0",), excepted=("lemon",))]) == ()


def test_an_exception_lifts_only_the_prohibition_it_stands_in(lemon):
    lifted, held = ban(cas=("11-11-0",), excepted=("lemon",)), ban(cas=("22-22-0",))
    assert prohibitions(lemon, [lifted, held]) == (held,)


def test_a_limit_of_another_kind_is_no_prohibition(lemon):
    assert prohibitions(lemon, [ban(cas=("11-11-0",), kind="restriction")]) == ()


@pytest.mark.parametrize(("market", "held"), [("any", True), ("eu", True), ("standards", False)])
def test_a_prohibition_counts_in_its_market_and_in_any(lemon, market, held):
    assert bool(prohibitions(lemon, [ban(cas=("11-11-0",))], market)) is held


def test_an_unknown_market_is_refused(lemon):
    with pytest.raises(BadValue, match="any, eu, gb, standards"):
        prohibitions(lemon, [], "moon")


def test_a_blank_cas_number_prohibits_nothing(material):
    assert prohibitions(material("nameless", {"lemon": 3}), [ban(cas=("",))]) == ()


def test_a_warning_names_each_prohibited_material_and_by_whom(lemon, material):
    limits = [ban(cas=("11-11-0",)), ban(materials=("lime",), market="standards")]
    assert warnings([lemon, material("rose"), material("lime")], iter(limits)) == [
        "PROHIBITED: lemon, by European law. See `recommender material`.",
        "PROHIBITED: lime, by the industry Standards. See `recommender material`.",
    ]


def test_a_warning_names_each_maker_of_rules_once(lemon):
    limits = [
        ban(cas=("11-11-0",)),
        ban(cas=("22-22-0",)),
        ban(cas=("22-22-0",), market="standards", basis="memory"),
    ]
    (told,) = warnings([lemon], limits)
    assert (
        told == "PROHIBITED: lemon, by European law and the industry Standards. See `recommender material`."
    )


def test_a_prohibition_that_is_only_remembered_says_so(lemon):
    (told,) = warnings([lemon], [ban(cas=("11-11-0",), basis="memory")])
    assert told == "PROHIBITED: lemon, by European law, from memory, unverified. See `recommender material`."


def test_there_is_no_warning_where_nothing_is_prohibited_in_the_market(lemon):
    held = ban(cas=("11-11-0",))
    assert warnings([lemon], [held], "standards") == []
    assert warnings([lemon], [ban(cas=("11-11-0",), kind="restriction")]) == []
    assert warnings([], [held]) == []


def test_every_prohibition_that_is_held_can_be_said(shipped):
    told = warnings(shipped.materials, shipped.limits)
    assert any("dihydrocoumarin, by European law" in line for line in told)
    assert all(line.startswith("PROHIBITED: ") for line in told)


# Regulation (EC) No 1223/2009, Annex II
@pytest.mark.parametrize(
    ("cas", "entry"),
    [
        ("119-84-6", "427"),  # dihydrocoumarin
        ("83-66-9", "414"),  # musk ambrette
        ("94-59-7", "360"),  # safrole
        ("68916-52-9", "436"),  # fig leaf absolute
        ("31906-04-4", "1380"),  # hydroxyisohexyl 3-cyclohexene carboxaldehyde
    ],
)
def test_what_european_law_prohibits_is_in_the_table(shipped, cas, entry):
    material = shipped.find(cas)
    assert any(entry in limit.reference for limit in prohibitions(material, shipped.limits, "eu"))


def test_the_allowed_grade_of_a_cas_number_is_excepted_by_name(shipped):
    # Regulation (EC) No 1223/2009, Annex II, entry 450: verbena oils and derivatives other than the absolute;
    # oil and absolute share 8024-12-2, and Annex III, entry 196, limits the absolute
    assert prohibitions(shipped.find("verbena oil"), shipped.limits, "eu")
    assert prohibitions(shipped.find("verbena absolute"), shipped.limits, "eu") == ()


def test_the_rectified_tar_is_not_held_for_the_crude(shipped):
    # Standards, 50th index: crude birch wood pyrolysate is prohibited, rectified oil is limited
    assert prohibitions(shipped.find("birch tar rectified"), shipped.limits) == ()
