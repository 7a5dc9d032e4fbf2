"""What a formula is put on: the same formula on strip, skin and cloth, and what the answer says of it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import recommender as r
from recommender.errors import BadValue
from recommender.evaporation import DEFAULT_CONDITIONS, SURFACES, Application, Conditions
from recommender.evaporation.surfaces import alternatives, times_within
from recommender.model import SURFACE_NAMES
from recommender.suggest import Request
from recommender.workspace import Workspace

FIG = "data/demo/green_fig.csv"
ACCORD = {"limonene": 300, "linalool": 300, "coumarin": 100, "dipropylene glycol": 300}


@pytest.fixture(scope="module")
def bench():
    return Workspace()


def clear_hours(found):
    return {facet: end["clear"]["hours"] for facet, end in found["ends"].items() if end["clear"]}


def test_every_name_has_its_constants():
    assert tuple(SURFACES) == SURFACE_NAMES


def test_the_strip_of_the_tables_is_the_default(bench):
    assert Application().on(DEFAULT_CONDITIONS) == DEFAULT_CONDITIONS
    assert alternatives(DEFAULT_CONDITIONS) == []
    assert r.drydown(ACCORD).to_dict() == r.drydown(ACCORD, surface="strip", load_mg=20, area_cm2=5).to_dict()


def test_an_own_strip_gives_what_the_surface_does_not_set():
    own = Conditions(film_m=3e-3, nose_l_per_s=0.03, temperature_c=21.0)
    skin, cotton = Application("skin").on(own), Application("cotton", load_mg=5.0, room_c=18.0).on(own)
    assert (skin.nose_l_per_s, skin.temperature_c, skin.film_m) == (0.03, 30.0, pytest.approx(5e-3))
    assert (cotton.temperature_c, cotton.load_mg, cotton.uptake) == (18.0, 5.0, 0.0)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"surface": "glass"}, "surface"),
        ({"load_mg": 0.0}, "load_mg"),
        ({"area_cm2": -1.0}, "area_cm2"),
        ({"area_cm2": float("nan")}, "area_cm2"),
        ({"room_c": 80.0}, "room_c"),
        ({"surface": "skin", "room_c": 20.0}, "room_c"),
    ],
)
def test_what_cannot_be_is_refused(given, field):
    with pytest.raises(BadValue) as caught:
        Application(**given).on(DEFAULT_CONDITIONS)
    assert caught.value.field == field


def test_the_hours_of_a_hundred_milligrams_are_five_times_those_of_twenty():
    usual, heavy = (clear_hours(r.drydown(ACCORD, load_mg=mg)) for mg in (20, 100))
    assert all(heavy[facet] == pytest.approx(5 * hours, rel=0.05) for facet, hours in usual.items())
    assert any("five times" in note for note in r.drydown(ACCORD, load_mg=100)["notes"])


@settings(deadline=None, max_examples=15)
@given(st.sampled_from(sorted(SURFACES)), st.floats(1.0, 50.0), st.floats(1.2, 2.0))
def test_less_concentrate_in_what_is_put_on_never_lasts_longer(surface, dosage, factor):
    less, more = (
        clear_hours(r.drydown(ACCORD, surface=surface, dosage_percent=share))
        for share in (dosage, factor * dosage)
    )
    assert all(more[facet] >= hours * (1 - 1e-6) for facet, hours in less.items())


def test_a_facet_that_is_clear_in_a_concentrate_can_vanish_at_two_per_cent():
    neat, thin = (r.drydown(ACCORD, dosage_percent=dosage) for dosage in (None, 2.0))
    assert {"citrus", "orange"} <= set(clear_hours(neat)) - set(clear_hours(thin))
    assert any("once the ethanol has gone" in note for note in thin["notes"])


def test_ethanol_inside_a_concentrate_leaves_too(bench):
    half = {"coumarin": 50, "ethanol": 50}
    put_on = Application(dosage_percent=20.0)
    assert bench.drydown(half, application=put_on).conditions.dry_mg == pytest.approx(2.0)
    assert bench.drydown({"coumarin": 1}, application=put_on).conditions.dry_mg == pytest.approx(4.0)


def test_another_room_is_that_of_each_material():
    warm, cold = (clear_hours(r.drydown({"limonene": 1}, room_c=c)) for c in (30.0, 20.0))
    assert warm["citrus"] < cold["citrus"]


@pytest.mark.parametrize("surface", sorted(set(SURFACES) - {"strip"}))
def test_another_surface_widens_the_bands_and_says_what_is_not_modelled(surface):
    strip, found = r.drydown(FIG), r.drydown(FIG, surface=surface)
    notes = " ".join(found["notes"])
    assert "factor of 2 to 3" in notes
    assert "Not modelled" in notes
    assert ("low confidence" in notes) == (surface == "polyester")
    assert set(found.to_dict()) == set(strip.to_dict())
    clear = [end["clear"] for end in found["ends"].values() if end["clear"] and end["clear"]["hours"] > 0.1]
    assert all(end["low"] * 2.15 < end["hours"] < end["high"] / 2.15 for end in clear)
    assert np.median([end["high"] / end["low"] for end in clear]) > 2.3**2
    assert times_within(found.value.conditions, 2.2) > 2.4


def test_a_verb_answers_on_the_surface_that_is_asked_for(bench):
    strip, skin = (bench.extend(FIG, Request(surface=surface, top=2)) for surface in ("strip", "skin"))
    assert (strip.query["surface"], skin.query["surface"]) == ("strip", "skin")
    assert strip.query["before"] != skin.query["before"]
    assert skin.notes[-1] == "The hours of single materials are those of a strip."
    replaced = bench.replace("gamma-octalactone", Request(surface="cotton", top=1), within=FIG)
    assert replaced.query["surface"] == "cotton"
    with pytest.raises(BadValue, match="ask about a formula"):
        bench.replace("coumarin", Request(surface="skin"))


def test_what_is_not_known_of_a_material_is_that_of_a_typical_one(shipped):
    from recommender.evaporation import neat_or_diluted

    (known,) = shipped.find("linalool").parts
    bare = replace(known, log_p=None, vaporisation_j_per_mol=None)
    skin = Application("skin").on(DEFAULT_CONDITIONS)
    own, typical = (neat_or_diluted([[part]], conditions=skin) for part in (known, bare))
    assert typical.sinks == pytest.approx(own.sinks, rel=0.3)
    assert typical.rates == pytest.approx(own.rates, rel=0.01)
