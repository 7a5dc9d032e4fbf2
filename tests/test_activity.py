"""What leaves a carrier sooner lowers the low ends of facets and nothing else."""

import math
from dataclasses import replace

import numpy as np
import pytest

from recommender.evaporation import Application
from recommender.evaporation.activity import LEAST_SHARE, carrier_effects, facets_in
from recommender.evaporation.course import course, film_of
from recommender.evaporation.surface import MINUTE
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Amount, Formula, Line
from recommender.output import formulas as output
from recommender.palette import Palette

LN_TEN = math.log(10.0)
HOURS = np.geomspace(MINUTE / 3600, 5000, 60)


@pytest.fixture(scope="module")
def accord(world):
    """Return zest and ember in the scentless mute on a strip; ln gamma is that of zest in mute."""

    def made(ln_gamma, mute=940.0, zest=20.0):
        known = {} if ln_gamma is None else {"mute": {"zest": ln_gamma}}
        palette = Palette.of(replace(world, ln_gamma=known))
        parts = {"zest": zest, "ember": 40.0, "mute": mute}
        lines = [Line(palette.catalogue.by_slug(slug), n) for slug, n in parts.items() if n]
        return FormulaDrydown(Formula("accord", tuple(lines)), palette)

    return made


def figures(found):
    return {
        (f, level): (e.hours, e.low, e.high)
        for f, levels in found.ends.items()
        for level, e in levels.items()
    }


def test_the_figure_stays_and_the_low_end_falls(accord):
    ideal, found = accord(None).ends["lemon"]["clear"], accord(LN_TEN).ends["lemon"]["clear"]
    assert (found.hours, found.high) == (ideal.hours, ideal.high)
    assert found.low < ideal.low
    assert (ideal.carrier, found.carrier) == (None, "mute")


def test_no_facet_may_end_sooner_than_the_coefficient_says(accord):
    found = accord(LN_TEN)
    share = found.carriers[0].share
    for level in found.ends["lemon"].values():
        assert level.low >= level.hours / 10.0 ** (share**2)


def test_what_is_not_in_the_table_keeps_its_band(accord):
    assert accord(LN_TEN).ends["smoke"] == accord(None).ends["smoke"]


@pytest.mark.parametrize("ln_gamma", [0.1, -3.0], ids=["within the band", "below one"])
def test_a_coefficient_that_the_band_covers_changes_nothing(accord, ln_gamma):
    assert figures(accord(ln_gamma)) == figures(accord(None))
    assert accord(ln_gamma).carrier_notes == ()


def test_without_a_carrier_there_is_no_effect_and_no_note(accord):
    found = accord(LN_TEN, mute=0.0)
    assert (found.carriers, found.carrier_notes) == ((), ())


def test_skin_has_no_effect_since_coefficients_did_not_help_there(accord):
    found = accord(LN_TEN)
    skin = replace(found.palette, conditions=Application("skin").on(found.palette.conditions))
    assert replace(found, palette=skin).carriers == ()


def test_a_little_of_a_carrier_has_no_effect(accord):
    assert accord(LN_TEN, mute=2.0).carriers == ()
    effect = accord(LN_TEN, mute=4.0).carriers[0]
    assert LEAST_SHARE <= effect.share < 2 * LEAST_SHARE


def test_the_note_names_the_carrier_what_may_end_and_by_how_much(accord):
    found = accord(LN_TEN)
    end = found.ends["lemon"]
    most = max(level.hours / level.low for level in end.values())
    (note,) = found.carrier_notes
    assert note.startswith("In 94 % mute these may end up to")
    assert f"{most:.2g} times sooner" in note
    assert "lemon" in note
    assert "UNIFAC" in note
    assert output.drydown(found)["notes"].count(note) == 1


def test_the_coefficient_grows_with_the_square_of_the_share(accord):
    effect = accord(LN_TEN, mute=60.0).carriers[0]
    assert effect.gammas.tolist() == pytest.approx([10.0 ** (effect.share**2), 1.0, 1.0])


def test_while_the_carrier_stays_it_is_the_pressure_that_is_higher(world, palette):
    zest, mute = (world.by_slug(slug) for slug in ("zest", "mute"))
    still = replace(mute, parts=(replace(mute.parts[0], pressure_pa=1e-9),))
    film = film_of([Amount(zest, 0.05), Amount(still, 0.95)], palette.space, world.index)
    (effect,) = carrier_effects(film, {"mute": {"zest": LN_TEN}})
    faster = replace(zest, parts=(replace(zest.parts[0], pressure_pa=100.0 * effect.gammas[0]),))
    expected = course(film_of([Amount(faster, 0.05), Amount(still, 0.95)], palette.space, world.index), HOURS)
    np.testing.assert_allclose(facets_in(film, effect, HOURS), expected.facets, rtol=1e-9)


def test_after_the_carrier_has_gone_nothing_leaves_sooner(world, palette):
    ember, mute = (world.by_slug(slug) for slug in ("ember", "mute"))
    brief = replace(mute, parts=(replace(mute.parts[0], pressure_pa=3000.0),))
    film = film_of([Amount(ember, 0.5), Amount(brief, 0.5)], palette.space, world.index)
    (effect,) = carrier_effects(film, {"mute": {"ember": 4 * LN_TEN}})
    assert effect.gammas[0] > 5.0
    ideal = course(film, HOURS).facets
    late = HOURS > 5.0
    np.testing.assert_allclose(facets_in(film, effect, HOURS)[late], ideal[late], rtol=0.05, atol=0.05)


def test_the_shipped_table_has_carriers_that_stay_and_is_zero_in_itself(shipped):
    found = shipped.ln_gamma
    assert {"dipropylene-glycol", "isopropyl-myristate", "triethyl-citrate", "benzyl-benzoate"} <= set(found)
    assert not {"ethanol", "isopropyl-alcohol", "water"} & set(found)
    assert all(values.get(carrier, 0.0) == 0.0 for carrier, values in found.items())
    assert found["propylene-glycol"]["limonene"] > found["dipropylene-glycol"]["limonene"] > 2.0
    assert abs(found["dipropylene-glycol"]["phenethyl-alcohol"]) < 0.5
    assert "2-3-5-trimethylpyrazine" not in found["dipropylene-glycol"]
