"""How much of long work is done: shares that rise, from each kind of it."""

import pytest

from recommender.progress import part, parts
from recommender.suggest import Request
from recommender.workspace import Workspace


def test_a_part_goes_from_its_start_to_its_end():
    found = []
    for one in parts(part(found.append, 0.5, 1.0), 2):
        assert one is not None
        one(0.0)
        one(0.5)
    assert found == [0.5, 0.625, 0.75, 0.875]


def test_there_is_no_progress_where_nobody_waits():
    assert part(None, 0.0, 1.0) is None
    assert parts(None, 2) == [None, None]


@pytest.mark.parametrize(
    "work",
    {
        "extend": lambda here, watch: here.extend("demo/morello.csv", Request(), progress=watch),
        "relay": lambda here, watch: here.extend("demo/morello.csv", Request(relay=True), progress=watch),
        "vary": lambda here, watch: here.vary("demo/morello.csv", Request(toward="nut"), progress=watch),
    }.values(),
    ids=("extend", "relay", "vary"),
)
def test_the_share_that_is_done_rises_while_candidates_are_simulated(work):
    shares = []
    work(Workspace(), shares.append)
    rising(shares, 8)


@pytest.fixture
def here(tmp_path):
    """Return a notebook with a trial of a cherry, and two strips."""
    found = Workspace(tmp_path / "notebook.sqlite")
    (version,) = found.formulas.save("demo/morello.csv")
    found.trials.add(version.title, {1.0: "almond clear", 8.0: "almond gone"})
    for material in ("linalool", "vanillin"):
        found.own_strips.add(material, {1.0: "clear", 8.0: "gone"})
    return found


def test_the_share_that_is_done_rises_up_to_the_next_version(here):
    shares = []
    here.next_version("morello", progress=shares.append)
    rising(shares, 10)


def test_the_share_that_is_done_rises_while_strips_are_fitted(here):
    shares = []
    here.own_strips.fit(progress=shares.append)
    rising(shares, 4)


def rising(shares, least):
    """Check that some shares rise from nothing to less than all."""
    assert len(shares) >= least
    assert shares == sorted(shares)
    assert shares[0] == 0
    assert shares[-1] < 1
