"""Long work beside the pages: one at a time, watched, and told in words when it fails."""

import threading
import uuid as uuids

import pytest
from web_cast import Cast

from saddlebench.engine.errors import input_problem
from saddlebench.practice.rules import Actor
from saddlebench.web.base import views
from saddlebench.web.base.jobs import JobState, Progress, TooMuchWaitingError, Work, Worker

WAIT_S = 30


@pytest.fixture
def worker(monkeypatch: pytest.MonkeyPatch) -> Worker:
    made = Worker()
    monkeypatch.setattr(views, "worker", made)
    return made


def until(worker: Worker, cast: Cast, uuid: uuids.UUID, *states: JobState) -> None:
    tick = threading.Event()
    for _ in range(WAIT_S * 100):
        job = worker.look(cast.actors["owner"], uuid)
        if job is not None and job.state in states:
            return
        tick.wait(0.01)
    pytest.fail("the job did not get there")


def test_a_job_is_watched_and_leads_to_what_it_made(cast: Cast, worker: Worker) -> None:
    go, told = threading.Event(), threading.Event()

    def work(tell: Progress) -> str:
        tell(1, 3, "measuring the back")
        told.set()
        assert go.wait(WAIT_S)
        return "/horses/"

    job = worker.ask(cast.actors["fitter"], "Fit check of Juniper", work)
    assert told.wait(WAIT_S)
    path = f"/jobs/{job.uuid}/"
    answer = cast.browser("fitter").get(path)
    assert "measuring the back" in answer.content.decode()
    assert 'value="1" max="3"' in answer.content.decode()
    assert answer["Refresh"] == "2"
    assert cast.browser("other").get(path).content.decode().count("Interrupted") >= 1
    go.set()
    until(worker, cast, job.uuid, JobState.DONE)
    assert cast.browser("fitter").get(path)["Refresh"] == "0; url=/horses/"
    partial = cast.browser("fitter").get(path, headers={"HX-Request": "true"})
    assert partial["HX-Redirect"] == "/horses/"


def test_asking_twice_is_one_job(cast: Cast, worker: Worker) -> None:
    uuid, ran = uuids.uuid4(), []
    for _ in range(2):
        worker.ask(cast.actors["fitter"], "once", lambda _tell: str(ran.append(1)), uuid)
    until(worker, cast, uuid, JobState.DONE)
    assert ran == [1]


def test_refusals_and_faults_are_told_and_the_next_job_runs(
    cast: Cast, worker: Worker, caplog: pytest.LogCaptureFixture
) -> None:
    def refused(_tell: Progress) -> str:
        raise input_problem("the back has no marks", "Set them first.")

    def broken(_tell: Progress) -> str:
        raise ZeroDivisionError

    actor = cast.actors["fitter"]
    jobs = [worker.ask(actor, "job", work) for work in (refused, broken, lambda _tell: "/")]
    for job, state in zip(jobs, (JobState.FAILED, JobState.FAILED, JobState.DONE), strict=True):
        until(worker, cast, job.uuid, state)
    client = cast.browser("fitter")
    assert "the back has no marks" in client.get(f"/jobs/{jobs[0].uuid}/").content.decode()
    said = client.get(f"/jobs/{jobs[1].uuid}/").content.decode()
    assert "its fault, not yours" in said
    assert "ZeroDivision" not in said
    assert "ZeroDivisionError" in caplog.text


def test_a_job_of_a_stopped_process_is_said_to_be_interrupted(cast: Cast, worker: Worker) -> None:
    assert "Interrupted" in cast.browser("fitter").get(f"/jobs/{uuids.uuid4()}/").content.decode()


def test_too_much_waiting_is_refused(cast: Cast, worker: Worker) -> None:
    go = threading.Event()

    def work(_tell: Progress) -> str:
        go.wait(WAIT_S)
        return ""

    actor = cast.actors["fitter"]
    for _ in range(50):
        worker.ask(actor, "many", work)
    with pytest.raises(TooMuchWaitingError):
        _ask_twice(worker, actor, work)
    go.set()


def _ask_twice(worker: Worker, actor: Actor, work: Work) -> None:
    """One of the fifty may be running already, and leave its place."""
    for _ in range(2):
        worker.ask(actor, "one too many", work)
