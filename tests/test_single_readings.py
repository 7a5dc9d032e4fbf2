"""One reading of a trial or of a strip is corrected or taken out, and comes back."""

from pathlib import Path

import pytest

from recommender.errors import BadValue, UnknownFacet
from recommender.workspace import Workspace


@pytest.fixture
def here(tmp_path):
    workspace = Workspace(tmp_path / "notebook.sqlite")
    workspace.formulas.save(Path("data/demo/morello.csv"))
    return workspace


@pytest.fixture
def trial(here):
    return here.trials.add("morello", {0: "cherry strong", 8: "almond gone, whole clear"})


def readings(here, number=1):
    return [(one.place, one.hours, one.facet, one.rating) for one in here.trials.record(number).readings]


def test_a_reading_is_corrected_at_its_hour_or_at_another(here, trial):
    here.trials.correct(trial.number, 2, "almond trace")
    here.trials.correct(trial.number, 1, "cherry clear", 0.5)
    assert readings(here) == [(1, 0.5, "cherry", "clear"), (2, 8.0, "almond", "trace"), (3, 8.0, "", "clear")]


def test_what_it_was_before_comes_back_and_goes_again(here, trial):
    here.trials.correct(trial.number, 2, "almond trace")
    (older,) = here.removed.entries("trial reading")
    here.removed.bring_back(older.number)
    assert readings(here)[1] == (2, 8.0, "almond", "gone")
    (newer,) = here.removed.entries("trial reading")  # bringing back takes nothing away for good
    here.removed.bring_back(newer.number)
    assert readings(here)[1] == (2, 8.0, "almond", "trace")


def test_one_taken_out_leaves_its_number_free_until_it_is_back(here, trial):
    gone = here.trials.remove_reading(trial.number, 3)
    here.trials.read(trial.number, {24: "whole trace"})
    assert [place for place, *_ in readings(here)] == [1, 2, 4]
    here.removed.bring_back(gone)
    assert [place for place, *_ in readings(here)] == [1, 2, 3, 4]


def test_a_correction_that_cannot_be_read_changes_nothing(here, trial):
    before = readings(here)
    for text, error in [
        ("almond", BadValue),
        ("hay clear, almond gone", BadValue),
        ("grzl clear", UnknownFacet),
    ]:
        with pytest.raises(error):
            here.trials.correct(trial.number, 2, text)
    with pytest.raises(BadValue, match="trial 1 has no reading of this number; it has 1, 2, 3"):
        here.trials.correct(trial.number, 9, "almond clear")
    with pytest.raises(BadValue, match="no trial has this number"):
        here.trials.remove_reading(7, 1)
    assert readings(here) == before
    assert here.removed.entries() == []


def test_a_removed_trial_takes_its_removed_readings_with_it(here, trial):
    reading = here.trials.remove_reading(trial.number, 1)
    _, whole = here.trials.remove(trial.number)
    with pytest.raises(BadValue, match="what it belongs to is no longer in the notebook"):
        here.removed.bring_back(reading)
    here.removed.bring_back(whole)
    here.removed.bring_back(reading)
    assert len(readings(here)) == 3


def test_a_strip_is_corrected_too(here):
    strip = here.own_strips.add("linalool", {1: "clear", 8: "gone"})
    here.own_strips.correct(strip.number, 2, "trace")
    gone = here.own_strips.remove_reading(strip.number, 1)
    (found,) = here.own_strips.records()
    assert [(one.place, one.hours, one.rating) for one in found.readings] == [(2, 8.0, "trace")]
    here.removed.bring_back(gone)
    with pytest.raises(BadValue, match="without facets"):
        here.own_strips.correct(strip.number, 1, "almond clear")


def test_a_trial_knows_when_its_strip_was_dipped(here):
    record = here.trials.dip("morello")
    assert here.trials.record(record.number).dipped == record.dipped != ""
    assert here.trials.add("morello").dipped == ""
    _, removed = here.trials.remove(record.number)
    here.removed.bring_back(removed)
    assert here.trials.record(record.number).dipped == record.dipped
