"""Long work beside the page: the answer of a verb, its own error, a stop, and how an error is worded."""

import asyncio
import os
import pickle
import time

import pytest

pytest.importorskip("nicegui")

from recommender.errors import BadNotebook, BadValue, UnknownFacet, UnknownMaterial
from recommender.evaporation import DEFAULT_CONDITIONS
from recommender.evidence.overlay import Overlay
from recommender.formulas import drydown
from recommender.model import Formula, Label, Line, OwnNote
from recommender.palette import Recent, shipped
from recommender.suggest import Request
from recommender.web.server import jobs
from recommender.web.server.jobs import JobPool
from recommender.web.server.worker import Job, Worker
from recommender.web.widgets.error_words import sentence
from recommender.workspace import Workspace

CATALOGUE = shipped().catalogue
POSY = Formula(
    "posy",
    tuple(
        Line(CATALOGUE.find(name), parts)
        for name, parts in (("linalool", 90.0), ("benzaldehyde", 10.0), ("methyl dihydrojasmonate", 200.0))
    ),
)


def workers(pool):
    """Return the processes of the pool by their id."""
    return set(pool._pool._pool_manager.worker_manager.workers)


def alive(process):
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


def test_a_worker_answers_as_the_workspace_does():
    request, benzaldehyde = Request(facet="almond", top=3), CATALOGUE.find("benzaldehyde")
    workspace, worker = Workspace(), Worker()
    for job, findings in (
        (Job("extend", POSY, request), workspace.extend(POSY, request)),
        (Job("vary", POSY, Request(toward="hay", top=3)), workspace.vary(POSY, Request(toward="hay", top=3))),
        (Job("pair", POSY, Request(top=3)), workspace.pair(POSY, Request(top=3))),
        (
            Job("replace", benzaldehyde, Request(top=3), POSY),
            workspace.replace(benzaldehyde, Request(top=3), within=POSY),
        ),
    ):
        found = worker.answer(job)
        assert [s.material.slug for s in found.suggestions] == [
            s.material.slug for s in findings.suggestions
        ], job.verb
        assert found.notes == findings.notes
    assert worker.answer(Job("trim", POSY)) == workspace.trim(POSY)[1]


def test_a_worker_answers_under_the_overlay_of_the_job_and_has_its_palette_for_the_next():
    note = OwnNote("linalool", (Label("smoke", 3, "user"),))
    own = Overlay(notes=(note,)), DEFAULT_CONDITIONS
    worker = Worker()
    worker.answer(Job("trim", POSY, overlay=own))
    workspace = worker.workspace
    assert workspace.palette.catalogue.find("linalool").labels[0].facet == "smoke"
    worker.answer(Job("trim", POSY, overlay=own))
    assert worker.workspace is workspace
    worker.answer(Job("trim", POSY))
    assert worker.workspace.palette.catalogue.find("linalool").labels[0].facet != "smoke"


def test_a_worker_simulates_a_formula_once_and_answers_as_if_it_had_not(monkeypatch):
    simulated = []
    course = drydown.course
    monkeypatch.setattr(drydown, "course", lambda film: simulated.append(film) or course(film))
    more = Formula("posy", (*POSY.lines[:2], Line(POSY.lines[2].content, 201.0)))
    asked = [
        Job("extend", POSY, Request(facet="almond", top=3)),
        Job("extend", POSY, Request(facet="almond", top=3, dosage_percent=15.0)),
        Job("vary", POSY, Request(toward="hay", top=3)),
        Job("trim", POSY),
        Job("extend", more, Request(facet="almond", top=3)),
        Job("extend", POSY, Request(facet="almond", top=3, market="eu")),
        Job("extend", POSY, Request(facet="almond", top=3)),
    ]
    worker, found, counted = Worker(), [], []
    for job in asked:
        simulated.clear()
        found.append(worker.answer(pickle.loads(pickle.dumps(job))))  # as it comes to a process
        counted.append(len(simulated))
    once = [Worker().answer(job) for job in asked]
    assert found == once
    assert [count > 0 for count in counted] == [True, False, False, False, True, True, False]


def test_recent_values_are_few_and_the_last_asked_stay():
    recent = Recent(2)
    one, two, three = [1], [2], [3]
    for value, given in ((one, one), (two, two), ([1], one), (three, three), ([1], one)):
        assert recent.like(value, list.__eq__) is given
    again = [2]
    assert recent.like(again, list.__eq__) is again


def test_a_worker_is_ready_before_its_first_job():
    worker = Worker()
    worker.get_ready()
    workspace = worker.workspace
    worker.answer(Job("trim", POSY))
    assert worker.workspace is workspace


def test_workers_start_before_the_first_job_and_no_more_than_once():
    async def whole():
        pool = JobPool()
        try:
            pool.start()
            found = await pool.run(Job("trim", POSY))
            started = workers(pool)
            pool.start()
            assert workers(pool) == started
            assert len(started) == jobs.MOST_WORKERS
            return found
        finally:
            pool.end()

    assert asyncio.run(whole()) == Worker().answer(Job("trim", POSY))


def test_an_error_comes_back_as_itself_and_a_stop_ends_the_process_that_works(monkeypatch):
    async def whole():
        pool = JobPool()
        try:
            with pytest.raises(UnknownFacet) as raised:
                await pool.run(Job("extend", POSY, Request(facet="xyzzy")))
            assert raised.value.phrase == "xyzzy"
            before = workers(pool)
            with monkeypatch.context() as patched:
                patched.setattr(jobs, "answer", time.sleep)
                task = asyncio.create_task(pool.run(600))
                await asyncio.sleep(1.0)
            task.cancel()
            with pytest.raises(asyncio.CancelledError):
                await task
            for _ in range(400):
                ended = {process for process in before if not alive(process)}
                if ended:
                    break
                await asyncio.sleep(0.05)
            assert len(ended) == 1
            assert await pool.run(Job("trim", POSY))  # the next job is answered
        finally:
            pool.end()

    asyncio.run(whole())


@pytest.mark.parametrize(
    ("error", "worded"),
    [
        (BadValue("until_hours", "3 h", "ask for later"), 'Until cannot be "3 h": ask for later.'),
        (BadValue("toward", "", "write a smell"), "The direction: write a smell."),
        (
            BadValue("relay", "", "it needs a formula, as what is asked about or as {within}"),
            "A relay of two: it needs a formula, as what is asked about or as the formula.",
        ),
        (BadValue("facet", "rose", "{until_hours} and {into} exclude each other"),
         'The smell cannot be "rose": until and into exclude each other.'),
        (UnknownMaterial("vanilin", ["vanillin"]), 'No material is called "vanilin". Did you mean vanillin?'),
        (UnknownMaterial("xyzzy"), 'No material is called "xyzzy". The map has all that are known.'),
        (UnknownFacet("xyzzy"), 'No facet is known by "xyzzy". The list of the field has the words.'),
        (BadNotebook("mine.sqlite", "it is locked"), "Notebook mine.sqlite: it is locked."),
    ],
)  # fmt: skip
def test_an_error_is_a_sentence_in_the_words_of_the_page(error, worded):
    assert sentence(error) == worded
