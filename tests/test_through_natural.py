"""Replacing what comes into a formula only through a natural: another material, or less of the natural."""

import pytest
from asking import replace
from command_line import run

from recommender.errors import BadValue
from recommender.formulas import formula as formulas
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Component, Content, Limit
from recommender.palette import Palette, shipped
from recommender.suggest import scoring

FERN = {"lavender oil": 150, "tonka bean absolute": 50, "vanillin": 20, "methyl dihydrojasmonate": 300}


@pytest.fixture(autouse=True)
def all_shown(monkeypatch):
    monkeypatch.setattr(scoring, "LEAST_SCORE", 0.0)


@pytest.fixture
def bean(material, catalogue_of):
    """Return how a world is made: `bean` is half `hay-salt`, `mow` a tenth, `haystack` alike."""

    def made(limits=(), bean=(40.0, 60.0), haystack=(3, 1)):
        def natural(slug, labels, contents, **more):
            parts = (Component(slug, 1.0, 1.0, 150.0, curve=material("x").curve),)
            return material(slug, labels, kind="natural", contents=contents, parts=parts, hours=20.0, **more)

        salt = Content("hay-salt", *bean, "published", "toy-2020")
        rows = [
            material("hay-salt", {"vanilla": 3, "smoke": 1}, cas="11-11-0", hours=30.0),
            natural("bean", {"vanilla": 3, "smoke": 1, "rose": 1}, (salt,), cas="22-22-0"),
            material(
                "haystack", dict(zip(("vanilla", "smoke"), haystack, strict=True)), cas="33-33-0", hours=30.0
            ),
            natural("mow", {"vanilla": 3}, (Content("hay-salt", 10.0, 10.0, "published"),), cas="44-44-0"),
            natural("rick", {"vanilla": 3}, (Content("hay-salt", None, None, "published"),), cas="55-55-0"),
            material("zest", {"lemon": 3}, cas="66-66-0", hours=5.0),
            material("ember", {"smoke": 3}, cas="77-77-0", hours=100.0),
        ]
        return Palette.of(catalogue_of(rows, limits=limits))

    return made


def accord(palette, **parts):
    return formulas.of_pairs("accord", parts.items(), palette.catalogue)


def asked(palette, parts=None, **request):
    within = accord(palette, **(parts or {"bean": 100, "zest": 300, "ember": 600}))
    return replace("hay salt", palette, formula=within, **request)


def through(found):
    (reason,) = (r for r in found.reasons if r.kind == "through a natural")
    return reason


def test_each_natural_is_named_with_what_it_brings(bean):
    found = asked(bean(), {"bean": 100, "mow": 100, "zest": 800})
    # half of 10 %, a tenth of 10 %
    first, second = found.query["brought_by"]
    assert (first["name"], first["parts"], first["percent"]) == ("bean", pytest.approx(100), pytest.approx(5))
    assert (first["low"], first["high"]) == (pytest.approx(4), pytest.approx(6))
    assert first["share"] == pytest.approx(5 / 6)
    assert (second["name"], second["percent"]) == ("mow", pytest.approx(1))


def test_what_takes_its_place_brings_none_and_says_what_is_left(bean):
    found = asked(bean(), top=10)
    slugs = [one.material.slug for one in found.suggestions]
    assert slugs[0] == "haystack"
    assert not {"hay-salt", "bean", "rick"} & set(slugs)
    assert all(one.instead_of.slug == "bean" for one in found.suggestions)
    for one in found.suggestions:
        assert through(one).percent_before == pytest.approx(5.0)
        assert through(one).percent_after < 5.0
        assert 0 <= one.terms["away"] <= 1
    mow = next((one for one in found.suggestions if one.material.slug == "mow"), None)
    assert mow is None or through(mow).percent_after > 0


def test_less_of_it_and_what_makes_good_the_rest_are_members_at_their_doses(bean):
    found = asked(bean(haystack=(1, 3)), {"bean": 300, "zest": 300, "ember": 400}, top=10)
    pairs = [one for one in found.suggestions if one.members]
    assert pairs
    for one in pairs:
        kept, other = one.dose.members
        assert [m.slug for m, _ in one.members] == ["bean", one.material.slug]
        assert one.dose.first_try == pytest.approx(kept.first_try + other.first_try)
        assert sum(share for _, share in one.members) == pytest.approx(1.0)
        assert kept.first_try == pytest.approx(through(one).parts_after)
        assert kept.first_try < 300
    scores = [one.score for one in found.suggestions]
    assert scores == sorted(scores, reverse=True)


def test_a_lower_dose_is_proposed_where_nothing_else_smells_like_all_of_it():
    found = replace("coumarin", shipped(), formula=FERN, top=10)
    assert [one["name"] for one in found.query["brought_by"]] == ["tonka bean absolute"]
    assert found.query["brought_by"][0]["share"] == pytest.approx(1.0)
    swaps = [one for one in found.suggestions if not one.members]
    pairs = [one for one in found.suggestions if one.members]
    assert swaps
    assert pairs
    for one in pairs:
        # the natural goes down in the proportion in which what it brings does
        reason = through(one)
        assert reason.percent_after / reason.percent_before == pytest.approx(
            reason.parts_after / reason.parts_before, rel=0.05
        )


def test_what_is_proposed_leaves_what_it_says_in_the_formula(bean):
    palette = bean()
    found = asked(palette, top=10)
    table = FormulaDrydown(accord(palette, bean=100, zest=300, ember=600), palette)
    salt = palette.catalogue.by_slug("hay-salt")
    for one in found.suggestions:
        rest = table.minus(palette.catalogue.by_slug("bean"))
        doses = one.dose.members or (one.dose,)
        materials = [m for m, _ in one.members] or [one.material]
        pairs = [(m, dose.first_try / 1000.0) for m, dose in zip(materials, doses, strict=True)]
        left = sum(b.percent for b in rest.plus(pairs).brought_by(salt))
        assert left == pytest.approx(through(one).percent_after, rel=1e-3, abs=1e-9)


def test_a_limit_is_met_by_what_is_proposed(bean):
    limit = Limit(
        "hay salt", ("11-11-0",), (), "restriction", "eu", "published", "toy-2020", percent={"4": 0.3}
    )
    found = asked(bean([limit]), dosage_percent=10.0, market="eu", top=10)
    assert found.suggestions
    for one in found.suggestions:
        # 5 % of the concentrate is 0.5 % at 10 %; by the high end of the range 0.6 %
        assert through(one).percent_after <= 3.0 * 50 / 60 * (1 + 1e-6)
        assert one.law.decision != "stop"


def test_the_order_of_the_lines_does_not_matter(bean):
    lines = {"bean": 100, "mow": 60, "zest": 300, "ember": 540}
    one, other = (
        [(s.material.slug, s.instead_of.slug) for s in asked(bean(), dict(pairs), top=10).suggestions]
        for pairs in (lines.items(), reversed(lines.items()))
    )
    assert one == other


def test_what_is_in_no_line_and_no_natural_is_refused(bean):
    with pytest.raises(BadValue, match="hay salt is not in this formula"):
        asked(bean(), {"zest": 400, "ember": 600})


def test_nothing_else_that_smells_is_refused_with_a_way_out(bean):
    with pytest.raises(BadValue, match="ask for bean alone"):
        asked(bean(), {"bean": 1000})


def test_the_command_says_who_brings_it_and_what_to_do(tmp_path):
    source = tmp_path / "fern.csv"
    source.write_text("material,parts\n" + "".join(f"{name},{parts}\n" for name, parts in FERN.items()))
    done = run("replace", "coumarin", "--in", str(source), "--top", "6")
    assert done.status == 0, done.err
    assert "coumarin comes only through naturals: tonka bean absolute (96 parts per thousand)" in done.out
    assert "% of the concentrate" in done.out
    assert "make good the rest; coumarin falls from" in done.out
    data = run("replace", "coumarin", "--in", str(source), "--format", "json").json
    assert {one["instead_of"] for one in data["suggestions"]} == {"tonka bean absolute"}
    assert any("members" in one for one in data["suggestions"])
