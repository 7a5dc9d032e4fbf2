"""Usual use bounds a dose: what is present counts, a share of a concentrate scales, more says so."""

from dataclasses import replace

import asking
import pytest
from command_line import run

import recommender as r
from recommender.errors import BadValue
from recommender.formulas import dosing, simulation, usual
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Amount, Caution, Content, Figure, Formula, Line
from recommender.output import amount_sentences
from recommender.palette import Palette, shipped
from recommender.reasons import BeyondUsualUse, ReplacementDose
from recommender.suggest import Request
from recommender.suggest.revise import LEAST_RAISED, RAISED, raised_within_usual
from recommender.suggest.substitute import replacement_doses


def used(low, high):
    return Figure((low * high) ** 0.5, "% of a concentrate", "common practice", "", low, high)


@pytest.fixture(scope="module")
def palette(material, catalogue_of):
    pressed = material(
        "twin-oil",
        {"lemon": 1},
        kind="natural",
        contents=(Content("twin", 20.0, 60.0, "published"), Content("terpenes", 30.0, 40.0, "published")),
    )
    return Palette.of(
        catalogue_of(
            [
                material("zest", {"lemon": 3}, pressure_pa=100.0, hours=1.0, use=used(1.0, 50.0)),
                material("ember", {"smoke": 3}, pressure_pa=0.1, hours=500.0, use=used(1.0, 90.0)),
                material("twin", {"lemon": 3}, hours=100.0, use=used(0.1, 1.0)),
                material("free", {"lemon": 3}, hours=100.0),
                material("carrier", kind="solvent", curve=None, use=used(1.0, 2.0)),
                pressed,
            ]
        )
    )


def accord(palette, **parts):
    find = palette.catalogue.by_slug
    return Formula("accord", tuple(Line(find(name.replace("_", "-")), p) for name, p in parts.items()))


@pytest.fixture(scope="module")
def plain(palette):
    return accord(palette, zest=200.0, ember=800.0)


def offered(palette, formula, name, **request):
    found = asking.extend(formula, palette, facet="lemon", **request).suggestions
    return next(s for s in found if s.material.slug == name)


# the range


@pytest.mark.parametrize(
    ("share", "ends"), [(100.0, (1.0, 10.0)), (20.0, (5.0, 50.0)), (0.5, (200.0, 1000.0))]
)
def test_a_usual_range_scales_with_the_share_up_to_the_whole(palette, share, ends):
    assert usual.usual_range(palette.catalogue.by_slug("twin"), share) == pytest.approx(ends)


def test_solvents_and_what_has_no_level_have_no_usual_range(palette):
    assert usual.usual_range(palette.catalogue.by_slug("carrier")) is None
    assert usual.usual_range(palette.catalogue.by_slug("free")) is None


def test_what_naturals_bring_counts_at_the_middle_of_its_range(palette):
    find = palette.catalogue.by_slug
    found = usual.present_parts([Amount(find("twin-oil"), 0.02), Amount(find("twin"), 0.001)])
    assert found == pytest.approx({"twin-oil": 20.0, "twin": 9.0, "terpenes": 7.0})


@pytest.mark.parametrize("share", [0.0, -5.0, 120.0])
def test_a_share_is_above_nothing_and_at_most_the_whole(share, plain, palette):
    with pytest.raises(BadValue, match="above 0 and at most 100"):
        asking.extend(plain, palette, facet="lemon", share_percent=share)


# doses in a formula


def test_a_dose_stays_within_the_usual_range_and_says_what_it_would_need(palette, plain):
    free, bound = (offered(palette, plain, name) for name in ("free", "twin"))
    assert (free.dose.high, free.dose.usual) == (50.0, None)
    assert (bound.dose.low, bound.dose.first_try, bound.dose.high) == (3.3, 5.0, 10.0)
    assert bound.dose.usual == pytest.approx((1.0, 10.0))
    (needs,) = (one for one in bound.reasons if isinstance(one, BeyondUsualUse))
    assert (needs.parts, needs.times) == (pytest.approx(50.0), pytest.approx(5.0))
    assert not [one for one in free.reasons if isinstance(one, BeyondUsualUse)]
    assert "usual 1-10" in amount_sentences.dose(bound)
    (remark,) = amount_sentences.dose_remarks(bound, "zest")
    assert remark.endswith("twin would need about 50 parts per thousand, 5 times the usual high end, 10.")


def test_what_is_bounded_ranks_lower_by_what_it_wins_at_that_dose(palette, plain):
    free, bound = (offered(palette, plain, name) for name in ("free", "twin"))
    assert bound.terms["presence"] < free.terms["presence"]
    assert bound.score < free.score


def test_an_accord_that_is_a_fifth_of_a_concentrate_may_have_five_times_as_much(palette, plain):
    found = offered(palette, plain, "twin", share_percent=20.0)
    assert found.dose.usual == pytest.approx((5.0, 50.0))
    assert found.dose.high == offered(palette, plain, "free").dose.high
    assert not [one for one in found.reasons if isinstance(one, BeyondUsualUse)]


def test_what_a_natural_brings_leaves_less_room(palette):
    # 12.5 parts of the oil bring 5 of the twin
    formula = accord(palette, zest=200.0, ember=787.5, twin_oil=12.5)
    assert offered(palette, formula, "twin").dose.high == pytest.approx(5.0)
    full = accord(palette, zest=200.0, ember=770.0, twin_oil=30.0)
    names = [s.material.slug for s in asking.extend(full, palette, facet="lemon").suggestions]
    assert "free" in names
    assert "twin" not in names


def test_a_first_try_is_not_below_the_usual_range_where_the_dose_allows_it():
    range_of = usual.UsualUse(8.0, 40.0)
    assert dosing.dose_range(10.0, 150.0, usual=range_of).first_try == 8.0
    assert dosing.dose_range(3.0, 150.0, usual=range_of).first_try == 3.0
    narrow = usual.UsualUse(1.234, 5.556)
    found = dosing.dose_range(1.3, 150.0, usual=narrow)
    assert found.first_try == 1.3  # 1.2 would be below the low end
    assert dosing.dose_range(100.0, 150.0, usual=narrow).high == 5.5


def test_the_grid_reaches_down_to_what_is_used_by_the_trace():
    thiol = usual.UsualUse(0.0005, 0.03)
    grid = 1000.0 * simulation.grid_for([thiol, None])
    assert grid[0].tolist() == pytest.approx([0.0003, 0.01])
    assert grid[-1, 0] < grid[-1, 1]


# how it is weighed


@pytest.mark.parametrize(
    ("first", "high", "advised", "percent"),
    [
        (0.02, 0.04, 0.1, 0.1),  # as the caution says
        (0.02, 0.04, 1.0, 0.1),  # 20 mg of a 1 % dilution would be two digits of the balance
        (20.0, 40.0, 10.0, 10.0),  # neat would do for the balance
        (4.0, 8.0, 0.1, 10.0),  # the advised dilution would be eight times the accord
        (20.0, 40.0, None, None),
    ],
)
def test_the_dilution_follows_the_caution_as_far_as_balance_and_accord_allow(first, high, advised, percent):
    assert dosing.working_dilution(first, first / 1.5, high, advised) == percent


def test_the_weakest_dilution_that_cautions_advise_counts(material):
    notes = tuple(Caution("strong odour", "x", "memory", "", p) for p in (1.0, None, 0.1))
    assert material("pyrazine", cautions=notes).working_percent == 0.1
    assert material("mild").working_percent is None


def test_cautions_of_the_catalogue_name_their_dilution(shipped):
    # common practice
    assert shipped.find("2,3-diethyl-5-methylpyrazine").working_percent == 0.1
    assert shipped.find("1-p-menthene-8-thiol").working_percent == 0.01
    assert shipped.find("linalool").working_percent is None


# lines above usual use


def test_lines_above_usual_use_are_named_once(palette):
    formula = accord(palette, zest=200.0, ember=700.0, twin=50.0, carrier=50.0)
    (note,) = (x for x in FormulaDrydown(formula, palette).notes if "usual" in x)
    assert note == "Above usual use, taking this formula as the whole concentrate: twin 5 % (usual 0.1-1 %)."
    assert not [x for x in FormulaDrydown(formula, palette, share_percent=20.0).notes if "usual" in x]


def test_a_material_alone_is_no_concentrate(palette):
    formula = accord(palette, twin=50.0, carrier=50.0)
    assert not [x for x in FormulaDrydown(formula, palette).notes if "usual" in x]


@pytest.mark.parametrize(
    "words", [["drydown"], ["trim"], ["check", "--dosage", "15"], ["weigh"], ["extend", "--facet", "cherry"]]
)
def test_every_command_that_reads_a_formula_names_them(words):
    verb, *more = words
    note = "note: Above usual use, taking this formula as the whole concentrate: benzaldehyde 2.37 %"
    assert note in run(verb, "data/demo/morello.csv", *more).err
    assert "Above usual" not in run(verb, "data/demo/morello.csv", *more, "--share", "20").err


def test_a_share_is_asked_of_a_formula_only():
    done = run("extend", "benzaldehyde", "--share", "20")
    assert (done.status, done.err.count("\n")) == (2, 1)
    assert "ask about a formula" in done.err
    with pytest.raises(BadValue, match="ask about a formula"):
        r.extend("benzaldehyde", share_percent=20.0)


# stand-ins and changes after a trial


def test_a_stand_in_goes_one_to_one_only_where_the_bands_allow_equal_strength(material, palette, plain):
    rest = FormulaDrydown(plain, palette)
    asked = palette.catalogue.by_slug("free")

    def moved(decades):
        part = asked.parts[0]
        curve = replace(part.curve, log10_half=part.curve.log10_half + decades)
        return replace(asked, slug="other", parts=(replace(part, curve=curve),))

    # both bands are 0.35 decades: together 0.49, a factor of 3.1
    ((parts, reason),) = replacement_doses(asked, [moved(0.4)], 6.0, [1000.0], rest)
    assert (parts, reason.one_to_one) == (6.0, True)
    ((parts, reason),) = replacement_doses(asked, [moved(0.6)], 6.0, [1000.0], rest)
    assert not reason.one_to_one
    assert parts == pytest.approx(6.0 * 10**0.6, rel=0.05)
    assert reason.times == pytest.approx(10**0.6, rel=0.05)


def test_a_stand_in_stays_within_usual_use(palette, plain):
    rest = FormulaDrydown(plain, palette)
    find = palette.catalogue.by_slug
    ((parts, reason),) = replacement_doses(find("free"), [find("twin")], 30.0, [1000.0], rest)
    assert (parts, reason.bounded, reason.one_to_one) == (pytest.approx(10.0), True, True)
    found = asking.replace("zest", palette, formula=plain).suggestions
    (twin,) = (one for one in found if one.material.slug == "twin")
    (chosen,) = (x for x in twin.reasons if isinstance(x, ReplacementDose))
    assert chosen.bounded
    assert twin.dose.high == pytest.approx(10.0)
    assert "Usual use or a limit allows less" in amount_sentences.dose_remarks(twin, "zest")[0]


def test_what_is_raised_after_a_trial_stays_within_usual_use(palette):
    twin = palette.catalogue.by_slug("twin")

    def factor(parts):
        return raised_within_usual(
            FormulaDrydown(accord(palette, ember=1000.0 - parts, twin=parts), palette), twin
        )

    assert factor(2.0) == RAISED
    assert factor(8.0) == pytest.approx(1.25)
    assert factor(9.9) is None
    assert LEAST_RAISED < 1.25


def test_a_relay_has_a_dose_for_each_of_its_two():
    found = r.extend("data/demo/morello.csv", relay=True, share_percent=20.0, top=3)
    for row in found["suggestions"]:
        doses = [member["dose"] for member in row["members"]]
        known = [dose for dose in doses if dose["usual"]]
        assert known
        assert all(dose["high"] <= dose["usual"]["high"] for dose in known)
        assert row["dose"]["first_try"] == pytest.approx(sum(dose["first_try"] for dose in doses))
        if len(known) == 2:
            highs = [dose["usual"]["high"] for dose in known]
            assert row["dose"]["usual"]["high"] == pytest.approx(sum(highs), rel=0.01)
        else:
            assert row["dose"]["usual"] is None


# first amounts


def test_amounts_are_lowered_together_and_an_outlier_alone():
    assert dosing.within_usual([500.0, 500.0], [100.0, 200.0]) == [100.0, 100.0]
    assert dosing.within_usual([500.0, 490.0, 10.0], [100.0, 200.0, 0.01]) == pytest.approx(
        [100.0, 98.0, 0.01]
    )
    assert dosing.within_usual([600.0, None, 400.0], [900.0, 5.0, None]) == [600.0, None, 400.0]


def test_first_amounts_stay_within_usual_use_and_name_it():
    names = ["2-furfurylthiol", "coumarin", "vanillin", "benzaldehyde"]
    found = r.dose(names, "coffee 3")
    for row in found["rows"]:
        assert row["parts"] <= row["usual"]["high"] * 1.001
    assert found[0]["held_back"] == "cut to the high end of usual use"
    assert any("They add up to" in note for note in found["notes"])
    whole = r.dose(["coumarin", "vanillin"], share_percent=5.0)
    assert sum(row["parts"] for row in whole["rows"]) == pytest.approx(1000.0, rel=0.01)


def test_a_balance_follows_the_slope_of_each_curve(material, palette):
    part = palette.catalogue.by_slug("zest").parts[0]
    flat, steep = (
        material(name, parts=(replace(part, curve=replace(part.curve, width=width)),))
        for name, width in (("flat", 1.0), ("steep", 0.3))
    )

    def times(one):
        even = dosing.first_amounts([one, palette.catalogue.by_slug("ember")], [1.0, 1.0])
        loud = dosing.first_amounts([one, palette.catalogue.by_slug("ember")], [2.0, 1.0])
        return (loud[0] / loud[1]) / (even[0] / even[1])

    # 2^(2 ln 10 width)
    assert times(flat) == pytest.approx(24.3, rel=0.01)
    assert times(steep) == pytest.approx(2.6, rel=0.01)


def test_the_trade_case_of_a_thiol_in_a_coffee_accord():
    # common practice: furfuryl mercaptan is dosed in thousandths of a per cent
    palette = shipped()
    lines = {"coffee absolute": 90, "vanillin": 400, "patchouli oil": 510}
    found = r.extend(lines, "coffee", share_percent=10.0, until_hours=8.0)
    thiol = palette.catalogue.find("2-furfurylthiol")
    doses = [s.dose for s in found.value.suggestions if s.material.slug == thiol.slug]
    assert all(dose.high <= 0.2 for dose in doses)
    assert Request().share_percent is None
