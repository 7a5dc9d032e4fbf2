"""The next version from readings: in a toy world, and on an invented studio's cherry."""

from dataclasses import replace
from pathlib import Path

import pytest
from asking import drydown

from recommender.errors import BadValue
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Formula, Line
from recommender.notebook.readings import readings_of
from recommender.palette import shipped as shipped_bench
from recommender.suggest import Request
from recommender.suggest.revise import HALF, THIRD, applied, revise
from recommender.suggest.smelling_plan import plan
from recommender.suggest.trial_findings import level, lost_facets, shown_by, too_strong

MORELLO = Path(__file__).parent.parent / "data" / "demo" / "morello.csv"


def table_of(palette, parts):
    find = palette.catalogue.by_slug
    return FormulaDrydown(
        Formula("toy", tuple(Line(find(slug), amount) for slug, amount in parts.items())), palette
    )


def said(palette, *told):
    return [one for hours, text in told for one in readings_of(text, hours, palette.phrase)]


@pytest.fixture
def toy(palette):
    return table_of(palette, {"zest": 300, "ember": 500, "vanilla-pod": 200})


def parts(table):
    return {line.content.slug: line.parts for line in table.formula.lines}


def test_what_was_too_strong_once_is_cut_to_a_half(palette, toy):
    """A half, or a third where it insists: common practice."""
    found = revise(toy, said(palette, (1, "smoke too strong"), (1, "vanilla clear")), Request())
    (cut, *_) = found.changes
    assert cut.kind == "cut"
    assert [(m.slug, factor) for m, factor in cut.factors] == [("ember", HALF)]
    assert parts(applied(toy, [cut])) == {"zest": 300, "ember": 250, "vanilla-pod": 200}
    assert cut.reason.figures["after"] < cut.reason.figures["before"]


def test_what_was_too_strong_twice_is_cut_to_a_third(palette, toy):
    found = revise(toy, said(palette, (1, "smoke too strong"), (8, "smoke too strong")), Request())
    assert found.changes[0].factors[0][1] == pytest.approx(THIRD)
    assert found.changes[0].reason.figures["hours"] == [1, 8]


def test_a_whole_that_is_too_strong_cuts_the_loudest(palette, toy):
    found = revise(toy, said(palette, (8, "too strong")), Request())
    loudest = toy.amounts[shown_by(toy, "", 8.0)[0][0]].material
    assert loudest in [m for m, _ in found.changes[0].factors]


def test_what_died_early_gets_a_carrier_that_lasts_and_wins(palette, toy):
    told = said(palette, (0, "lemon strong"), (4, "lemon gone, whole clear"), (24, "whole clear"))
    found = revise(toy, told, Request())
    carrier = next(c for c in found.changes if c.kind in ("carrier", "relay"))
    for material, _ in carrier.additions:
        assert material.strength_of("lemon") or material.strength_of("lime")
        assert material.slug not in ("zest", "banned-lemon", "museum-lemon", "lemon-solvent")
    after = applied(toy, [carrier])
    assert level(after, "lemon", 8.0) > level(toy, "lemon", 8.0) + 1
    (share,) = [sum(s for _, s in carrier.additions)]
    total = sum(line.parts for line in after.formula.lines)
    assert total * share == pytest.approx(total - 1000)


def test_what_dies_with_the_whole_or_comes_back_has_not_died(palette, toy):
    told = said(palette, (0, "lemon strong"), (4, "lemon gone, whole gone"))
    assert lost_facets(told, toy, 24.0) == []
    told = said(palette, (0, "lemon strong"), (4, "lemon gone, whole clear"), (8, "lemon clear"))
    assert lost_facets(told, toy, 24.0) == []
    told = said(palette, (0, "lemon strong"), (48, "lemon gone, whole clear"))
    assert lost_facets(told, toy, 24.0) == []  # later than it has to live


def test_a_facet_that_was_never_more_than_a_trace_is_missed_too(palette, toy):
    (lost,) = lost_facets(said(palette, (0, "lemon trace, whole strong")), toy, 24.0)
    assert (lost.alive, lost.hours, lost.rating) == (None, 0, "trace")


def test_too_strong_lists_each_smell_once_with_its_hours(palette):
    told = said(
        palette, (8, "smoke too strong"), (1, "smoke too strong, lemon too strong"), (1, "smoke clear")
    )
    assert [(one.facet, one.hours) for one in too_strong(told)] == [("smoke", (1, 8)), ("lemon", (1,))]


def test_what_nobody_misses_may_go_but_nothing_that_was_read(palette):
    table = table_of(palette, {"twin": 400, "lime-wax": 1, "ember": 400, "vanilla-pod": 200})
    free = revise(table, said(palette, (1, "whole clear")), Request())
    gone = [m.slug for c in free.changes if c.kind == "leave out" for m, _ in c.factors]
    assert "lime-wax" in gone
    read = revise(table, said(palette, (1, "lime clear, whole clear")), Request())
    assert "lime-wax" not in [m.slug for c in read.changes if c.kind == "leave out" for m, _ in c.factors]


def test_the_shelf_and_smells_to_avoid_bind_the_carriers(palette, toy):
    told = said(palette, (0, "lemon strong"), (4, "lemon gone, whole clear"))
    for change in revise(toy, told, Request(avoid="smoke")).changes:
        assert all(m.strength_of("smoke") < 2 for m, _ in change.additions)


def test_without_readings_there_is_nothing_to_go_by(toy):
    with pytest.raises(BadValue, match="no readings"):
        revise(toy, [], Request())


def test_accepting_nothing_changes_nothing(toy):
    assert applied(toy, []).formula == toy.formula


def test_inner_accords_are_changed_where_the_material_stands(palette, toy):
    find = palette.catalogue.by_slug
    accord = Formula("posy", (Line(find("ember"), 6), Line(find("twin"), 4)))
    nested = replace(toy, formula=Formula("nest", (Line(accord, 500), Line(find("zest"), 500))))
    told = said(palette, (8, "smoke too strong"))
    cut = revise(nested, told, Request()).changes[0]
    after = applied(nested, [cut]).formula
    inner = after.lines[0].content
    assert isinstance(inner, Formula)
    assert [line.parts for line in inner.lines] == [3, 4]
    assert after.lines[0].parts == pytest.approx(350)  # the rest of the accord keeps its amount


def test_the_plan_looks_for_every_change_at_its_hour(palette, toy):
    told = said(
        palette,
        (0, "lemon strong"),
        (2, "smoke too strong"),
        (4, "lemon gone, whole clear"),
        (8, "whole clear"),
    )
    changes = revise(toy, told, Request()).changes
    looks = plan(applied(toy, changes), changes, told)
    at = {(look.hours, look.facet): look.why for look in looks}
    assert at[2, "smoke"] == "is it still too strong?"
    assert "does it last with" in at[4, "lemon"]
    assert (0, "") in at
    assert [look.hours for look in looks] == sorted(look.hours for look in looks)
    assert all(look.why for look in looks)


def test_a_cherry_whose_almond_is_gone_by_eight_hours():
    """The practitioner's case: benzaldehyde leaves within the hour, its acetals and heliotrope stay (common
    practice)."""
    palette = shipped_bench()
    table = drydown(MORELLO, palette)
    told = said(palette, (0, "cherry strong"), (1, "almond clear"), (8, "almond gone, whole clear"))
    found = revise(table, told, Request(share_percent=20.0))
    carrier = next(c for c in found.changes if c.kind in ("carrier", "relay"))
    assert carrier.reason.figures["by"] == "benzaldehyde"
    assert level(applied(table, [carrier]), "almond", 8.0) >= 6.0 > level(table, "almond", 8.0)
    assert carrier.suggestion is not None
    assert carrier.suggestion.reasons
