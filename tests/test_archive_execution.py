"""A question asked of every formula of a store: the same answers however they are worked out, and no loss.

The questions are toys that die, fail or wait where a test wants them to; the workers are real.
"""

import os
import signal
import socket
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pytest

pyarrow = pytest.importorskip("pyarrow")
pytest.importorskip("distributed")

from recommender.archive import execution, open_store  # noqa: E402
from recommender.archive.execution import OtherEvidence, duration, run  # noqa: E402
from recommender.archive.runs import Failure  # noqa: E402
from recommender.archive.store import Batch, StoredFormula, StoredLine  # noqa: E402
from recommender.errors import BadValue  # noqa: E402

pytestmark = pytest.mark.filterwarnings("ignore::ResourceWarning")  # sockets of workers that are killed
HERE = Path(__file__).resolve().parent
SCHEMA = pyarrow.schema([("formula", pyarrow.int64()), ("parts", pyarrow.float64())])


@dataclass(frozen=True)
class TotalParts:
    """The parts of each formula; `dies`, `fails` and `refuses` name formulas, `once` a file.

    A formula that dies takes its worker along: always, or without the file only, which it then makes.
    """

    dies: str = ""
    once: str = ""
    fails: str = ""
    refuses: str = ""
    waits: float = 0.0
    chunk: int = 4
    schema = SCHEMA

    def key(self):
        return {"total": 1}

    def plan(self, store, palette):
        return {"times": 2.0}

    def numbers(self, store, palette, plan):
        return store.numbers()

    def answer(self, plan, palette, formula):
        time.sleep(self.waits)
        if formula.name == self.dies and not (self.once and Path(self.once).exists()):
            if self.once:
                Path(self.once).touch()
            os.kill(os.getpid(), signal.SIGKILL)
        if formula.name == self.fails:
            raise ZeroDivisionError("poison")
        if formula.name == self.refuses:
            raise BadValue("formula", formula.name, "it has no answer")
        total = plan["times"] * sum(line.parts for line in formula.lines)
        return [{"formula": formula.number, "parts": total}]


def make_store(folder, count=30):
    found = open_store(folder, new=True)
    rows = [
        StoredFormula(
            0, f"trial {n}", "", (), (StoredLine(1, "vanillin", 0.1 + n), StoredLine(2, "linalool", 1 / 3))
        )
        for n in range(count)
    ]
    found.add(Batch.of(rows))
    return found


@pytest.fixture
def store(tmp_path):
    return make_store(tmp_path / "store")


@pytest.fixture(scope="module")
def expected(tmp_path_factory):
    """Return the answers of thirty formulas, worked out in this process."""
    return run(TotalParts(), make_store(tmp_path_factory.mktemp("archive") / "store"), workers=1)


def test_every_formula_has_its_answer_in_order(expected):
    assert expected.rows["formula"].to_pylist() == list(range(1, 31))
    assert expected.rows["parts"].to_pylist()[:2] == [2.0 * (0.1 + 1 / 3), 2.0 * (1.1 + 1 / 3)]
    assert (expected.asked, expected.resumed, expected.failures, expected.finished) == (30, 0, (), True)


def test_two_workers_give_the_same(store, expected):
    found = run(TotalParts(), store, workers=2)
    assert found.digest == expected.digest
    assert found.failures == ()


def test_a_worker_that_is_killed_loses_nothing(store, expected, tmp_path):
    found = run(TotalParts(dies="trial 9", once=str(tmp_path / "died")), store, workers=2)
    assert (tmp_path / "died").exists()
    assert found.digest == expected.digest
    assert found.failures == ()


def test_a_formula_that_always_kills_its_worker_takes_no_other_with_it(store, expected):
    found = run(TotalParts(dies="trial 9"), store, workers=2)
    assert found.failures == (Failure(10, "trial 9", "its worker died"),)
    left = [row for row in expected.rows.to_pylist() if row["formula"] != 10]
    assert found.rows.to_pylist() == left


@pytest.mark.parametrize("workers", [1, 2])
def test_a_formula_that_fails_is_a_row_of_the_failures(store, workers):
    found = run(TotalParts(fails="trial 0", refuses="trial 29"), store, workers=workers)
    assert found.rows.num_rows == 28
    refused = 'formula cannot be "trial 29": it has no answer'
    assert found.failures == (
        Failure(1, "trial 0", "ZeroDivisionError: poison"),
        Failure(30, "trial 29", refused),
    )


def test_a_second_start_does_what_is_missing(store, expected):
    def until_half(_, share):
        return share < 0.5

    first = run(TotalParts(), store, workers=1, progress=until_half)
    assert (first.finished, first.rows.num_rows) == (False, 16)
    second = run(TotalParts(), store, workers=1)
    assert (second.resumed, second.digest) == (16, expected.digest)
    third = run(TotalParts(fails="trial 3"), store, workers=1)
    assert (third.resumed, third.failures) == (30, ())


def test_another_archive_is_another_run(store):
    run(TotalParts(), store, workers=1)
    store.add(Batch.of([StoredFormula(0, "more", "", (), (StoredLine(1, "vanillin", 1.0),))]))
    found = run(TotalParts(), store, workers=1)
    assert (found.resumed, found.rows.num_rows) == (0, 31)


STARTED = """
import sys
sys.path.insert(0, {here!r})
from test_archive_execution import TotalParts, open_store, run
if __name__ == "__main__":
    run(TotalParts(waits=0.02), open_store({store!r}), workers={workers})
"""


@pytest.mark.parametrize("workers", [1, 2])
def test_a_run_that_is_killed_and_started_again_is_complete(store, expected, tmp_path, workers):
    script = tmp_path / "start.py"
    script.write_text(
        STARTED.format(here=str(HERE), store=str(store.path), workers=workers), encoding="utf-8"
    )
    begun = subprocess.Popen([sys.executable, str(script)])
    try:
        until = time.monotonic() + 60
        while not list(store.path.glob("runs/*/part-*")) and begun.poll() is None:
            assert time.monotonic() < until
            time.sleep(0.01)
    finally:
        begun.kill()
        begun.wait()
    found = run(TotalParts(), store, workers=1)
    assert 0 < found.resumed < 30
    assert (found.digest, found.failures) == (expected.digest, ())


@pytest.fixture
def cluster():
    """Give the address of a scheduler with two workers, each a process of its own."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    paths = os.pathsep.join(filter(None, (str(HERE), os.environ.get("PYTHONPATH", ""))))
    script = str(HERE.parent / "scripts" / "archive_cluster.py")
    begun = subprocess.Popen(
        [sys.executable, script, "--workers", "2", "--port", str(port)],
        env=os.environ | {"PYTHONPATH": paths},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        yield f"tcp://127.0.0.1:{port}"
    finally:
        begun.terminate()
        begun.wait(60)


def test_a_scheduler_and_workers_of_their_own_give_the_same(store, expected, cluster, tmp_path, monkeypatch):
    monkeypatch.setattr(execution, "CONNECT_S", 60.0)
    question = TotalParts(dies="trial 9", once=str(tmp_path / "died"))
    found = run(question, store, scheduler=cluster)
    assert (tmp_path / "died").exists()
    assert (found.digest, found.failures) == (expected.digest, ())


def test_workers_with_other_evidence_give_no_answers(store, monkeypatch):
    monkeypatch.setattr(execution, "evidence_digest", lambda _: "another")
    with pytest.raises(OtherEvidence, match="other tables, another notebook or another version"):
        run(TotalParts(), store, workers=2)


def test_a_scheduler_that_does_not_answer_is_one_line(store, monkeypatch):
    monkeypatch.setattr(execution, "CONNECT_S", 0.3)
    with pytest.raises(BadValue, match=r"no Dask scheduler answers there"):
        run(TotalParts(), store, scheduler="tcp://127.0.0.1:9")
    with pytest.raises(BadValue, match=r"no Dask scheduler answers there"):
        run(TotalParts(), store, scheduler="nonsense")


def test_progress_says_what_is_left(store):
    said = []
    run(TotalParts(), store, workers=1, progress=lambda what, share: said.append((what, share)) or True)
    assert said[-1] == ("30 of 30 formulas, 0 s left", 1.0)
    assert [share for _, share in said] == sorted(share for _, share in said)


def test_a_time_in_words():
    assert [duration(s) for s in (0.4, 89, 600, 7200)] == ["0 s", "89 s", "10 min", "2 h"]
