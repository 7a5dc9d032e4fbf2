"""What a workspace does with a notebook: saved versions, trials, own strips, the cost of a batch."""

from operator import attrgetter

import pytest
from command_line import run

from recommender.errors import BadNotebook, BadValue
from recommender.suggest import Request
from recommender.workspace import Workspace

MORELLO = "data/demo/morello.csv"


@pytest.fixture
def notebook(tmp_path, monkeypatch):
    path = tmp_path / "notebook.sqlite"
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(path))
    return path


@pytest.fixture
def smelled(notebook):
    """Return a workspace with one saved formula and its trials."""
    here = Workspace(notebook)
    here.formulas.save(here.formula(MORELLO), "morello")
    assert run("trials", "import", "data/demo/readings.csv").status == 0
    return here


def test_versions_are_saved_and_found_by_name_and_number(notebook):
    here = Workspace(notebook)
    morello = here.formula(MORELLO)
    (first,) = here.formulas.save(morello, "morello")
    (same,) = here.formulas.save(morello, "Morello")
    assert (first.title, first.new, same.title, same.new) == ("morello@1", True, "morello@1", False)
    (second,) = here.formulas.save(here.formula("data/demo/morello_mended.csv"), "morello", "mended")
    assert [one.title for one in here.formulas.versions("morello")] == ["morello@1", "morello@2"]
    assert [one.title for one in here.formulas.versions()] == ["morello@2"]
    assert here.formulas.version("morello") == here.formulas.version("morello@2")
    assert (second.note, here.formulas.open("morello@1")[1].lines) == ("mended", morello.lines)


def test_one_name_is_compared_with_the_version_before_it(notebook):
    here = Workspace(notebook)
    here.formulas.save(here.formula(MORELLO), "morello")
    with pytest.raises(BadValue, match="no version before"):
        here.diff("morello")
    here.formulas.save(here.formula("data/demo/morello_mended.csv"), "morello")
    before, after, _ = here.diff("morello")
    assert (before.formula.name, after.formula.name) == ("morello@1", "morello@2")
    assert run("formulas", "diff", "morello").out == run("formulas", "diff", "morello@1", "morello@2").out


@pytest.mark.parametrize(
    "ask",
    ["formulas.version", "formulas.versions", "formulas.open", "trials.records", "smelled", "next_version"],
)
def test_a_name_under_which_nothing_is_saved_is_refused_with_the_nearest(ask, smelled):
    with pytest.raises(BadValue, match="did you mean morello"):
        attrgetter(ask)(smelled)("morelo")


def test_trials_are_found_for_a_name_a_version_and_all(smelled):
    found = smelled.trials.records()
    assert found == smelled.trials.records("morello") == smelled.trials.records("morello@1")
    smelled.formulas.save(smelled.formula("data/demo/morello_mended.csv"), "morello")
    assert smelled.trials.records("morello@2") == []
    record, as_smelled = smelled.trial(found[0].number)
    assert record == found[0]
    assert len(as_smelled.predicted(record)) == len(found[0].readings)
    with pytest.raises(BadValue, match="no trial has this number"):
        smelled.trial(99)


def test_a_trial_is_looked_at_in_the_room_in_which_it_was_smelled(smelled):
    run("trials", "add", "morello", "--room", "35", "--at", "8h", "almond clear")
    _, warm = smelled.trial(smelled.trials.records()[-1].number)
    assert warm.drydown.palette.conditions.temperature_c == 35
    assert smelled.palette.conditions.temperature_c != 35


def test_the_next_version_says_from_which_trials_it_comes(smelled):
    found = smelled.next_version("morello", Request(until_hours=24.0))
    assert found.version.title == "morello@1"
    assert list(found.records) == smelled.trials.records("morello@1")
    assert found.revision.changes
    told = run("trials", "next", "morello", "--until", "24h", "--format", "json").json
    assert len(told["changes"]) == len(found.revision.changes)


def test_a_version_without_readings_names_one_that_has_some(smelled):
    smelled.formulas.save(smelled.formula("data/demo/morello_mended.csv"), "morello")
    with pytest.raises(BadValue, match="morello@1 has"):
        smelled.next_version("morello")


def test_a_fit_is_used_only_when_it_is_to_be_used(notebook):
    assert run("calibrate", "import", "data/demo/strips.csv").status == 0
    here = Workspace(notebook)
    before = here.palette.conditions
    assert here.own_strips.records()
    found = here.own_strips.fit()
    assert here.palette.conditions == before
    here.own_strips.fit(use=True)
    assert here.palette.conditions.film_m == pytest.approx(found.conditions.film_m)


def test_a_batch_costs_what_its_bottles_cost(notebook):
    run("shelf", "add", "my linalool", "--material", "linalool", "--dilution", "50", "--price", "2")
    drydown, rows = Workspace(notebook).cost({"linalool": 1.0, "coumarin": 1.0}, batch_g=20.0)
    assert drydown.formula.name == "table"
    (linalool,) = [row for row in rows if row.material.name == "linalool"]
    # 10 g neat are 20 g of a 50 % dilution, at 2 a gram
    assert (linalool.neat_g, linalool.weigh_g, linalool.price) == pytest.approx((10.0, 20.0, 40.0))


def test_facets_come_with_the_number_of_materials_that_show_them():
    here = Workspace()
    all_facets, notes = here.facets()
    assert (len(all_facets), notes) == (len(here.palette.catalogue.facets), [])
    found, _ = here.facets("bitter almond")
    ((facet, count),) = found
    shown = [m for m in here.palette.catalogue.materials if m.strength_of(facet.name) and m.role == "palette"]
    assert (facet.name, count) == ("bitter almond", len(shown))


def test_similarities_hold_every_pair_once():
    pairs = [(one.slug, other.slug) for one, others in Workspace().similarities() for other, _ in others]
    materials = [m for m in Workspace().palette.catalogue.materials if m.cas and m.labels]
    assert len(pairs) == len(set(pairs)) == len(materials) * (len(materials) - 1) // 2


def test_without_a_notebook_nothing_is_on_record_and_nothing_can_be_written():
    here = Workspace()
    assert (here.formulas.versions(), here.trials.records(), here.own_strips.records()) == ([], [], [])
    with pytest.raises(BadNotebook, match="none is open"):
        here.formulas.save(here.formula(MORELLO), "morello")
    with pytest.raises(BadValue, match="no formula is saved"):
        here.formulas.version("morello")
