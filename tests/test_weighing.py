import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.errors import BadTable, BadValue
from recommender.formulas import formula as formulas
from recommender.model import Formula, Line
from recommender.weighing.dilutions import LADDER, chain, steps, weighable
from recommender.weighing.plan import plan
from recommender.weighing.shares import shares

LAWS = settings(deadline=None, max_examples=60)


@pytest.fixture(scope="module")
def world(material):
    solvent = {"kind": "solvent", "curve": None}
    held = [
        material("leaf", {"lime": 3}),
        material("petal", {"rose": 3}),
        material("pod", {"vanilla": 3}, form="solid"),
        material("gum", {"smoke": 3}, form="resin"),
        material("dipropylene-glycol", **solvent),
        material("ethanol", **solvent),
        material("myristate", **solvent),
    ]
    return {m.slug: m for m in held}


@pytest.fixture(scope="module")
def planned(world):
    def of(lines, batch_g=10.0, resolution_g=0.001, **more):
        formula = lines if isinstance(lines, Formula) else Formula("accord", tuple(lines))
        return plan(formula, batch_g, resolution_g, world["dipropylene-glycol"], **more)

    return of


def masses(sheet, section=-1):
    return {
        p.line.content.slug if hasattr(p.line.content, "slug") else p.line.content.name: p
        for p in sheet.sections[section].pours
    }


def neat_of(sheet):
    """Return the neat mass of each material in the vessel of the batch, dilutions opened."""
    found = {}
    for pour in sheet.sections[-1].pours:
        for amount in formulas.amounts(Formula("one", (Line(pour.line.content, 1.0),))):
            mass = pour.exact_g * pour.dilution * amount.mass_fraction
            found[amount.material.slug] = found.get(amount.material.slug, 0.0) + mass
        if pour.solvent is not None:
            rest = pour.exact_g * (1 - pour.dilution)
            found[pour.solvent.slug] = found.get(pour.solvent.slug, 0.0) + rest
    return found


# by hand


def test_a_batch_worked_out_by_hand(planned, world):
    # 1000 parts, 10 g, a balance to 0.001 g: nothing below 0.020 g. The leaf is 0.4 parts: 0.004 g. As 10 %
    # it is 0.040 g, whose 0.036 g of glycol come off the 4.596 g of the formula: 4.560 g.
    sheet = planned(
        [
            Line(world["leaf"], 0.4),
            Line(world["petal"], 500),
            Line(world["dipropylene-glycol"], 459.6),
            Line(world["pod"], 40),
        ]
    )
    shown = [(p.line.content.slug, p.grams, p.dilution) for p in sheet.sections[0].pours]
    assert shown == [
        ("pod", 0.4, 1.0),
        ("leaf", 0.04, 0.1),
        ("petal", 5.0, 1.0),
        ("dipropylene-glycol", 4.56, 1.0),
    ]
    (step,) = sheet.dilutions
    assert (step.take_g, step.add_g, step.dilution) == pytest.approx((0.1, 0.9, 0.1))
    assert (sheet.on_top_g, sheet.sections[0].weighed_g) == (0.0, pytest.approx(10.0))


def test_a_dilution_that_is_too_little_is_diluted_further(planned, world):
    # 1 part of 1000 in 10 g is 0.010 g of a 10 % dilution, 0.001 g neat: 0.100 g of 1 %
    own = world["myristate"]
    sheet = planned([Line(world["leaf"], 1, 0.1, own), Line(world["petal"], 799), Line(own, 200)])
    pour = masses(sheet)["leaf"]
    assert (pour.dilution, pour.solvent, pour.grams) == (0.01, own, 0.1)
    assert masses(sheet)["myristate"].grams == pytest.approx(2.0 - 0.09)
    assert [(s.stronger, s.dilution) for s in sheet.dilutions] == [(0.1, 0.01)]


def test_a_very_small_line_gets_a_chain_of_dilutions(planned, world):
    # 0.002 parts of 1000 in 10 g are 0.00002 g: 0.020 g of 0.1 %, by way of 10 % and 1 %
    sheet = planned([Line(world["leaf"], 0.002), Line(world["petal"], 999.998)])
    assert masses(sheet)["leaf"].grams == 0.02
    assert [(s.stronger, s.dilution) for s in sheet.dilutions] == [(1.0, 0.1), (0.1, 0.01), (0.01, 0.001)]


def test_without_a_solvent_line_the_solvent_comes_on_top(planned, world):
    sheet = planned([Line(world["leaf"], 1), Line(world["petal"], 999)])
    assert sheet.on_top_g == pytest.approx(0.1 - 0.01)
    assert masses(sheet)["leaf"].solvent == world["dipropylene-glycol"]


def test_with_a_dosage_the_solvent_comes_off_the_top_up(planned, world):
    # 10 g at 20 % are 50 g: 40 g of ethanol, less the 0.09 g of the dilution
    sheet = planned(
        [Line(world["leaf"], 1), Line(world["petal"], 999)],
        shares=shares(dosage_percent=20),
        carrier=world["ethanol"],
    )
    assert masses(sheet)["leaf"].solvent == world["ethanol"]
    assert (sheet.finished_g, sheet.on_top_g) == (50.0, 0.0)
    assert sheet.top_up_g == pytest.approx(39.91)
    assert sheet.off_top_up_g == pytest.approx(0.09)


def test_the_solvent_of_the_line_is_preferred_then_the_largest_line(planned, world):
    dpg, own = world["dipropylene-glycol"], world["myristate"]
    lines = [Line(world["leaf"], 1), Line(world["petal"], 1, 0.5, own), Line(dpg, 600), Line(own, 398)]
    found = masses(planned(lines))
    assert found["leaf"].solvent == dpg
    assert found["petal"].solvent == own


def test_a_solvent_line_without_room_is_left_alone(planned, world):
    lines = [Line(world["leaf"], 1), Line(world["petal"], 998), Line(world["ethanol"], 1)]
    sheet = planned(lines)
    assert masses(sheet)["ethanol"].exact_g == pytest.approx(0.01)
    assert sheet.on_top_g == pytest.approx(0.09)


def test_what_no_dilution_helps_is_reported(planned, world):
    sheet = planned([Line(world["leaf"], 1e-9), Line(world["petal"], 1000)])
    assert masses(sheet)["leaf"].too_little
    assert not masses(sheet)["petal"].too_little


# accords inside


def test_an_accord_inside_is_made_first_a_little_larger(planned, world):
    inner = Formula("base", (Line(world["petal"], 1), Line(world["pod"], 1)))
    sheet = planned([Line(inner, 400), Line(world["leaf"], 600)])
    assert [s.formula.name for s in sheet.sections] == ["base", "accord"]
    base = sheet.sections[0]
    assert (base.needed_g, base.wanted_g) == (pytest.approx(4.0), pytest.approx(4.08))
    assert masses(sheet, 0)["petal"].grams == pytest.approx(2.04)


def test_an_accord_used_twice_is_made_once_before_both(planned, world):
    base = Formula("base", (Line(world["petal"], 1), Line(world["pod"], 1)))
    heart = Formula("heart", (Line(base, 1), Line(world["leaf"], 1)))
    sheet = planned([Line(base, 300), Line(heart, 400), Line(world["gum"], 300)])
    assert [s.formula.name for s in sheet.sections] == ["base", "heart", "accord"]
    assert sheet.sections[0].needed_g == pytest.approx(3.0 + 0.5 * 4.08)


def test_a_dilution_of_an_accord_is_made_from_the_accord(planned, world):
    base = Formula("base", (Line(world["petal"], 1), Line(world["pod"], 1)))
    dpg = world["dipropylene-glycol"]
    sheet = planned([Line(base, 300, 0.1, dpg), Line(world["gum"], 700)])
    (step,) = sheet.dilutions
    assert (step.content, step.stronger, step.dilution) == (base, 1.0, 0.1)
    assert step.made_g == pytest.approx(5.0)  # 3 g and a tenth, up to the next of 1, 2, 5
    assert sheet.sections[0].needed_g == pytest.approx(0.5)


def test_an_accord_made_weaker_by_dilutions_goes_in_with_more(planned, world):
    # 0.1 % of 4.08 g are 0.00408 g: 0.0408 g of 10 %, 0.03672 g of solvent on top of 4.08 g
    inner = Formula("base", (Line(world["petal"], 1), Line(world["pod"], 999)))
    sheet = planned([Line(inner, 400), Line(world["leaf"], 600)])
    factor = (4.08 + 0.03672) / 4.08
    assert masses(sheet)["base"].exact_g == pytest.approx(4.0 * factor)
    assert sheet.sections[0].needed_g == pytest.approx(4.0 * factor)


def test_opened_accords_are_the_same_amounts(world):
    dpg = world["dipropylene-glycol"]
    inner = Formula("base", (Line(world["petal"], 1), Line(world["pod"], 3, 0.1, dpg)))
    outer = Formula("accord", (Line(inner, 30, 0.2, dpg), Line(world["petal"], 70), Line(inner, 5)))
    opened = formulas.opened(outer)
    assert not any(isinstance(line.content, Formula) for line in opened.lines)
    assert sum(line.parts for line in opened.lines) == pytest.approx(105)
    found = {a.material.slug: a.mass_fraction for a in formulas.amounts(opened)}
    wanted = {a.material.slug: a.mass_fraction for a in formulas.amounts(outer)}
    assert found == pytest.approx(wanted)


# order and refusals


def test_solids_come_first_then_the_smallest_and_solvents_last(planned, world):
    lines = [
        Line(world["ethanol"], 5),
        Line(world["leaf"], 30),
        Line(world["petal"], 20),
        Line(world["gum"], 30),
        Line(world["pod"], 15),
    ]
    assert list(masses(planned(lines))) == ["pod", "gum", "petal", "leaf", "ethanol"]
    assert list(masses(planned(lines, as_written=True))) == ["ethanol", "leaf", "petal", "gum", "pod"]


def test_a_solid_weighed_as_a_dilution_is_no_solid(planned, world):
    lines = [Line(world["pod"], 100, 0.1, world["ethanol"]), Line(world["leaf"], 50)]
    assert list(masses(planned(lines))) == ["leaf", "pod"]


def test_a_balance_too_coarse_for_the_batch_is_refused(planned, world):
    with pytest.raises(BadValue, match="weighs 20 g and more to 5 %"):
        planned([Line(world["leaf"], 1)], 10.0, 1.0)


@pytest.mark.parametrize("batch", [0.0, -1.0, math.nan, math.inf, 1e9])
def test_a_batch_that_is_no_mass_is_refused(planned, world, batch):
    with pytest.raises(BadValue, match="batch_g"):
        planned([Line(world["leaf"], 1)], batch)


@pytest.mark.parametrize("lines", [(), (0.0,), (math.nan,)])
def test_parts_that_add_up_to_nothing_are_refused(planned, world, lines):
    with pytest.raises(BadTable, match="add up to nothing"):
        planned(Formula("accord", tuple(Line(world["leaf"], parts) for parts in lines)))


# laws

PARTS = st.floats(1e-4, 1e4)


@st.composite
def lines_of(draw, world, solvents=True):
    smelling = [world[slug] for slug in ("leaf", "petal", "pod", "gum")]
    kinds = [world["dipropylene-glycol"], world["ethanol"]]
    found = []
    for material in draw(st.lists(st.sampled_from(smelling), min_size=1, max_size=6)):
        dilution = draw(st.sampled_from([1.0, 0.5, 0.1, 0.03, 0.01]))
        found.append(
            Line(material, draw(PARTS), dilution, draw(st.sampled_from(kinds)) if dilution < 1 else None)
        )
    if solvents and draw(st.booleans()):
        found.append(Line(draw(st.sampled_from(kinds)), draw(PARTS)))
    return found


BATCHES = st.sampled_from([0.5, 3.0, 10.0, 33.3, 250.0, 5000.0])
BALANCES = st.sampled_from([0.0001, 0.001, 0.002, 0.005, 0.01])


@LAWS
@given(st.data(), BATCHES, BALANCES)
def test_grams_add_up_to_the_batch_within_rounding(planned, world, data, batch, resolution):
    sheet = planned(data.draw(lines_of(world)), batch, resolution)
    section = sheet.sections[0]
    assert section.exact_g == pytest.approx(batch + sheet.on_top_g, rel=1e-9)
    assert abs(section.weighed_g - section.exact_g) <= len(section.pours) * resolution / 2 * (1 + 1e-6)


@LAWS
@given(st.data(), BATCHES, BALANCES)
def test_dilutions_bring_the_neat_mass_and_no_line_is_too_little(planned, world, data, batch, resolution):
    sheet = planned(data.draw(lines_of(world)), batch, resolution)
    for pour in sheet.sections[0].pours:
        if pour.line.content.kind == "solvent":
            continue
        wanted = pour.written_g * pour.line.dilution
        assert pour.exact_g * pour.dilution == pytest.approx(wanted, rel=1e-9)
        assert pour.too_little or pour.exact_g >= sheet.least_g * (1 - 1e-6)


@LAWS
@given(st.data(), BATCHES, BALANCES)
def test_only_solvent_changes_and_only_on_top(planned, world, data, batch, resolution):
    lines = data.draw(lines_of(world))
    sheet = planned(lines, batch, resolution)
    found = neat_of(sheet)
    wanted = {
        a.material.slug: batch * a.mass_fraction for a in formulas.amounts(Formula("accord", tuple(lines)))
    }
    for slug in ("leaf", "petal", "pod", "gum"):
        assert found.get(slug, 0.0) == pytest.approx(wanted.get(slug, 0.0), rel=1e-9)
    if not sheet.on_top_g:
        total = {s: sum(m.get(k, 0.0) for k in ("dipropylene-glycol", "ethanol")) for s, m in
                 (("found", found), ("wanted", wanted))}  # fmt: skip
        assert total["found"] == pytest.approx(total["wanted"], rel=1e-6, abs=1e-9)


@LAWS
@given(st.data(), st.sampled_from([2.0, 7.0, 50.0]))
def test_a_larger_batch_on_a_coarser_balance_is_the_same_sheet(planned, world, data, factor):
    lines = data.draw(lines_of(world))
    one, other = planned(lines, 10.0, 0.001), planned(lines, 10.0 * factor, 0.001 * factor)
    for a, b in zip(one.sections[0].pours, other.sections[0].pours, strict=True):
        assert (a.line, a.dilution) == (b.line, b.dilution)
        assert b.exact_g == pytest.approx(a.exact_g * factor, rel=1e-9)
        assert b.per_thousand == a.per_thousand


@LAWS
@given(st.data(), BATCHES, BALANCES)
def test_every_dilution_is_made_in_weighable_amounts_and_is_enough(planned, world, data, batch, resolution):
    sheet = planned(data.draw(lines_of(world)), batch, resolution)
    for step in sheet.dilutions:
        assert min(step.take_g, step.add_g) >= sheet.least_g * (1 - 1e-6)
        assert step.made_g >= step.needed_g * 1.1 * (1 - 1e-6)
        assert step.take_g * step.stronger == pytest.approx(step.made_g * step.dilution)


@LAWS
@given(st.floats(1e-12, 1.0), st.floats(1e-6, 1.0), st.floats(1e-4, 1.0))
def test_the_strongest_dilution_that_can_be_weighed_is_taken(neat, dilution, least):
    found = weighable(neat, dilution, least)
    stronger = [dilution, *(d for d in LADDER if d < dilution)]
    if found is None:
        assert neat / min(stronger) < least
    else:
        assert neat / found >= least * (1 - 1e-6)
        assert all(neat / d < least for d in stronger if d > found)


def test_steps_share_a_chain(world):
    made = steps(world["leaf"], 1.0, {0.1: 0.5, 0.001: 0.5}, world["ethanol"], 0.02)
    assert [s.dilution for s in made] == [0.1, 0.01, 0.001]
    assert made[0].needed_g == pytest.approx(0.5 + made[1].take_g)
    assert chain(1.0, 0.1) == [0.1]


# shares


@given(st.floats(1e-4, 100.0), st.floats(1e-2, 100.0))
@LAWS
def test_shares_there_and_back_is_the_identity(share, dosage):
    there = shares(of_concentrate_percent=share, dosage_percent=dosage)
    back = shares(of_finished_percent=there.of_finished_percent, dosage_percent=dosage)
    again = shares(of_finished_percent=there.of_finished_percent, of_concentrate_percent=share)
    assert back.of_concentrate_percent == pytest.approx(share)
    assert again.dosage_percent == pytest.approx(dosage)


def test_shares_by_hand():
    # 5 % of a concentrate that is dosed at 15 %: 0.75 % of the finished product
    assert shares(5, 15).of_finished_percent == pytest.approx(0.75)
    assert shares(dosage_percent=15, of_finished_percent=0.75).of_concentrate_percent == pytest.approx(5)
    assert replace(shares()) == shares(100.0)


@pytest.mark.parametrize(
    "given_shares",
    [
        {"of_concentrate_percent": 0.0},
        {"dosage_percent": 150.0},
        {"of_finished_percent": -1.0},
        {"of_finished_percent": 10.0},
        {"of_finished_percent": 20.0, "dosage_percent": 10.0},
        {"of_finished_percent": 20.0, "of_concentrate_percent": 10.0},
        {"of_finished_percent": 10.0, "dosage_percent": 20.0, "of_concentrate_percent": 50.0},
    ],
)
def test_shares_that_cannot_be_are_refused(given_shares):
    with pytest.raises(BadValue):
        shares(**given_shares)
