"""Long work beside the pages: kept, one at a time, watched, stopped, interrupted, asked for again."""

import threading
import uuid as uuids
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import close_old_connections, connection
from django.test import Client
from django.utils import timezone
from django_tasks_db.models import DBTaskResult
from web_cast import Cast, do_waiting

from saddlebench.engine.errors import input_problem
from saddlebench.practice import services
from saddlebench.practice.enums import Action, JobState, Role
from saddlebench.practice.keeping.backup import backups_in
from saddlebench.practice.models import Job
from saddlebench.practice.queries.jobs import job_page, jobs_page
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.jobs import TooMuchWaitingError, ask_job, ask_job_again, stop_job
from saddlebench.practice.services.long_work import (
    LongWork,
    Outcome,
    Run,
    SoFar,
    interrupt_jobs,
    long_work,
    take_up_queue,
)
from saddlebench.web.base.jobs import Worker
from saddlebench.web.serving import keep_day

WAIT_S = 30
ran: list[str] = []
held, free = threading.Event(), threading.Event()


@pytest.fixture(autouse=True)
def fresh() -> None:
    ran.clear()
    held.clear()
    free.clear()


@long_work
def note(run: Run, *, what: str) -> Outcome:
    run.tell(1, 3, "noting")
    ran.append(f"{what} for {run.actor.label}")
    return Outcome(leads_to="/horses/")


@long_work
def hold(run: Run) -> Outcome:
    run.tell(1, 3, "measuring the back")
    run.show([SoFar(words="Three of nine saddles", address="/saddles/")])
    held.set()
    assert free.wait(WAIT_S)
    run.tell(2, 3, "judging it")
    ran.append("held")
    return Outcome()


@long_work
def refuse(_run: Run) -> Outcome:
    raise input_problem("the back has no marks", "Set them first.")


@long_work
def break_down(_run: Run) -> Outcome:
    raise ZeroDivisionError


@long_work
def say(_run: Run) -> Outcome:
    return Outcome(said="The same result.")


def ask(
    actor: Actor, work: LongWork, arguments: dict[str, str] | None = None, uuid: uuids.UUID | None = None
) -> uuids.UUID:
    return ask_job(
        actor, work, dict(arguments or {}), action=Action.RECORD_STUDY, words="Fit check: brown", uuid=uuid
    )


def text_of(client: Client, uuid: uuids.UUID) -> str:
    return client.get(f"/jobs/{uuid}/").content.decode()


def test_work_is_done_for_who_asked_and_leads_to_what_it_made(cast: Cast) -> None:
    fitter = cast.actors["fitter"]
    uuid = ask(fitter, note, {"what": "brown"})
    client = cast.browser("fitter")
    assert "Waiting" in text_of(client, uuid)
    assert "Asked for by Fitter Invented" in text_of(client, uuid)
    do_waiting()
    assert ran == ["brown for Fitter Invented"]
    assert client.get(f"/jobs/{uuid}/")["Location"] == "/horses/"
    asked = {"HX-Request": "true", "HX-Trigger": "goes-on"}
    assert client.get(f"/jobs/{uuid}/", headers=asked)["HX-Redirect"] == "/horses/"
    assert "Fit check: brown" in client.get("/jobs/").content.decode()


def test_one_is_sent_on_once_however_slow_the_page_is_that_follows(cast: Cast) -> None:
    """A page that asks every 400 ms and is sent on each time begins the next page anew each time."""
    uuid = ask(cast.actors["fitter"], note, {"what": "brown"})
    client = cast.browser("fitter")
    polled = {"HX-Request": "true", "HX-Trigger": "job"}
    waiting = client.get(f"/jobs/{uuid}/", headers=polled)
    assert 'hx-trigger="every' in waiting.content.decode()
    assert "goes-on" not in waiting.content.decode()
    do_waiting()
    over = client.get(f"/jobs/{uuid}/", headers=polled)
    assert "HX-Redirect" not in over
    assert 'hx-trigger="every' not in over.content.decode()
    assert over.content.decode().count('id="goes-on"') == 1


def test_what_there_is_to_say_is_read_before_one_goes_on(cast: Cast) -> None:
    uuid = ask_job(
        cast.actors["fitter"], say, {}, action=Action.RECORD_STUDY, words="Run again", leads_to="/diary/"
    )
    do_waiting()
    text = text_of(cast.browser("fitter"), uuid)
    assert "The same result." in text
    assert 'href="/diary/"' in text


def test_asking_twice_is_one_job(cast: Cast) -> None:
    uuid = uuids.uuid4()
    for what in ("first", "second"):
        assert ask(cast.actors["fitter"], note, {"what": what}, uuid) == uuid
    do_waiting()
    ask(cast.actors["fitter"], note, {"what": "third"}, uuid)
    do_waiting()
    assert ran == ["first for Fitter Invented"]


def test_refusals_and_faults_are_told_and_the_next_job_runs(
    cast: Cast, caplog: pytest.LogCaptureFixture
) -> None:
    actor = cast.actors["fitter"]
    asked = [ask(actor, work) for work in (refuse, break_down, say)]
    do_waiting()
    assert [job_page(actor, one).state for one in asked] == [JobState.FAILED, JobState.FAILED, JobState.DONE]
    client = cast.browser("fitter")
    assert "the back has no marks" in text_of(client, asked[0])
    assert "its fault, not yours" in text_of(client, asked[1])
    assert "ZeroDivision" not in text_of(client, asked[1])
    assert "ZeroDivisionError" in caplog.text


def test_too_much_waiting_is_refused(cast: Cast) -> None:
    for _ in range(50):
        ask(cast.actors["fitter"], note, {"what": "many"})
    with pytest.raises(TooMuchWaitingError):
        ask(cast.actors["fitter"], note, {"what": "one too many"})


def test_what_waits_is_stopped_at_once_and_can_be_asked_for_again(cast: Cast) -> None:
    uuid = ask(cast.actors["fitter"], note, {"what": "brown"})
    for who, code in (("other", 404), ("reader", 403), ("workshop", 403)):
        for deed in ("stop", "again"):
            assert cast.browser(who).post(f"/jobs/{uuid}/{deed}/").status_code == code
    client = cast.browser("fitter")
    client.post(f"/jobs/{uuid}/stop/")
    do_waiting()
    assert ran == []
    assert "Nothing was recorded" in text_of(client, uuid)
    assert "Ask for it again" in text_of(client, uuid)
    assert "Ask for it again" not in text_of(cast.browser("reader"), uuid)
    assert client.post(f"/jobs/{uuid}/again/")["Location"] == f"/jobs/{uuid}/"
    client.post(f"/jobs/{uuid}/again/")
    do_waiting()
    assert ran == ["brown for Fitter Invented"]
    client.post(f"/jobs/{uuid}/again/")
    do_waiting()
    assert len(ran) == 1


def test_who_left_or_may_no_more_is_not_acted_for(cast: Cast) -> None:
    uuid = ask(cast.actors["fitter"], note, {"what": "brown"})
    owner = cast.actors["owner"]
    member = next(one for one in members_of(cast) if one[1] == "Fitter Invented")
    services.change_role(owner, member[0], Role.READER)
    do_waiting()
    assert ran == []
    assert "may not do it any more" in job_page(owner, uuid).said
    ask_job_again(owner, uuid)
    do_waiting()
    assert ran == ["brown for Orla Invented"]


def members_of(cast: Cast) -> list[tuple[uuids.UUID, str]]:
    from saddlebench.practice.models import Membership  # noqa: PLC0415

    found = Membership.objects.filter(practice_id=cast.actors["owner"].practice_id).select_related("user")
    return [(one.uuid, one.user.label) for one in found]


@pytest.mark.parametrize("name", ["saddlebench.no_such.work", "saddlebench.web.settings.WEB"])
def test_work_that_this_version_does_not_know_is_told(cast: Cast, name: str) -> None:
    uuid = ask(cast.actors["fitter"], LongWork(name, Outcome))
    do_waiting()
    assert "does not know this work any more" in job_page(cast.actors["fitter"], uuid).said


def test_a_killed_process_leaves_its_work_interrupted_and_what_waited_waiting(cast: Cast) -> None:
    actor = cast.actors["fitter"]
    under_way, waited = ask(actor, note, {"what": "one"}), ask(actor, note, {"what": "two"})
    # What a kill leaves: taken up, and nobody there any more.
    Job.objects.filter(uuid=under_way).update(state="running", started_at=timezone.now())
    assert interrupt_jobs() == 1
    text = text_of(cast.browser("fitter"), under_way)
    assert "Interrupted." in text
    assert "Ask for it again" in text
    assert job_page(actor, waited).state is JobState.WAITING
    home = cast.browser("fitter").get("/").content.decode()
    assert f'Interrupted: <a href="/jobs/{under_way}/">Fit check: brown</a>' in home
    assert "Interrupted:" not in cast.browser("reader").get("/").content.decode()
    do_waiting()
    assert ran == ["two for Fitter Invented"]
    ask_job_again(actor, under_way)
    do_waiting()
    assert ran == ["two for Fitter Invented", "one for Fitter Invented"]
    assert interrupt_jobs() == 0
    assert job_page(actor, under_way).state is JobState.DONE


def test_work_taken_out_of_the_queue_and_not_begun_is_not_lost(cast: Cast) -> None:
    actor = cast.actors["fitter"]
    uuid = ask(actor, note, {"what": "brown"})
    # What a kill between the two leaves: claimed by a worker that is gone, and still waiting.
    DBTaskResult.objects.update(status="RUNNING")
    do_waiting()
    assert ran == []
    for _ in range(2):
        take_up_queue()
    do_waiting()
    assert ran == ["brown for Fitter Invented"]
    take_up_queue()
    assert DBTaskResult.objects.count() == 0
    assert job_page(actor, uuid).state is JobState.DONE


def test_work_of_long_ago_is_forgotten_when_the_process_starts(cast: Cast) -> None:
    actor = cast.actors["fitter"]
    old, waits = ask(actor, note, {"what": "old"}), ask(actor, note, {"what": "waits"})
    long_ago = timezone.now() - timedelta(days=61)
    Job.objects.filter(uuid=old).update(state="done", ended_at=long_ago)
    Job.objects.filter(uuid=waits).update(asked_at=long_ago)
    take_up_queue()
    assert [one.uuid for one in jobs_page(actor)] == [waits]


def test_a_days_keeping_takes_out_what_is_over_and_nothing_else(own_records: Path, own_cast: Cast) -> None:
    actor = own_cast.actors["fitter"]
    before = {row.args_kwargs["args"][0] for row in DBTaskResult.objects.all()}
    old, lately, waits, runs = (
        ask(actor, note, {"what": what}) for what in ("old", "lately", "waits", "runs")
    )
    Job.objects.filter(uuid=old).update(state="done", ended_at=timezone.now() - timedelta(days=61))
    Job.objects.filter(uuid=lately).update(state="done", ended_at=timezone.now() - timedelta(days=59))
    Job.objects.filter(uuid=runs).update(state="running")
    in_queue = {row.args_kwargs["args"][0]: row for row in DBTaskResult.objects.all()}
    for uuid, status in ((old, "SUCCESSFUL"), (lately, "FAILED"), (runs, "RUNNING")):
        DBTaskResult.objects.filter(pk=in_queue[str(uuid)].pk).update(status=status)
    keep_day(own_records, timezone.now())
    assert {one.uuid for one in jobs_page(actor)} == {lately, waits, runs}
    after = {row.args_kwargs["args"][0] for row in DBTaskResult.objects.all()}
    assert after - before == {str(waits), str(runs)}
    assert before <= after
    if connection.vendor == "sqlite":
        assert len(backups_in(own_records)) == 1


def test_twice_the_work_is_listed_with_as_many_queries(
    cast: Cast, count_queries: Callable[[], object]
) -> None:
    counts = []
    for _ in range(2):
        for _ in range(4):
            ask(cast.actors["fitter"], note, {"what": "brown"})
        with count_queries() as counted:  # type: ignore[attr-defined]
            assert jobs_page(cast.actors["reader"])
        counts.append(len(counted))
    assert counts == [1, 1]


# The thread itself: it needs records that are really kept.


@pytest.fixture
def worker(own_cast: Cast) -> Iterator[Worker]:
    made = Worker()
    made.start()
    yield made
    free.set()
    made.stop()
    close_old_connections()


def until(cast: Cast, uuid: uuids.UUID, state: JobState) -> None:
    tick = threading.Event()
    for _ in range(WAIT_S * 100):
        if job_page(cast.actors["owner"], uuid).state is state:
            return
        tick.wait(0.01)
    pytest.fail("the job did not get there")


def test_the_worker_wakes_shows_what_there_is_and_stops_at_the_next_step(
    own_cast: Cast, worker: Worker
) -> None:
    uuid = ask(own_cast.actors["fitter"], hold)
    assert held.wait(WAIT_S)
    text = text_of(own_cast.browser("reader"), uuid)
    assert "Measuring the back" in text
    assert 'value="1" max="3"' in text
    assert '<a href="/saddles/">Three of nine saddles</a>' in text
    stop_job(own_cast.actors["fitter"], uuid)
    assert "Stopping at the next step" in text_of(own_cast.browser("reader"), uuid)
    free.set()
    until(own_cast, uuid, JobState.STOPPED)
    assert ran == []


def test_ending_the_worker_says_that_the_work_under_way_was_interrupted(
    own_cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("saddlebench.web.base.jobs._WAIT_AT_END_S", 0.05)
    first = Worker()
    first.start()
    uuid = ask(own_cast.actors["fitter"], hold)
    assert held.wait(WAIT_S)
    first.stop()
    assert job_page(own_cast.actors["fitter"], uuid).state is JobState.INTERRUPTED
    free.set()
    first.join()
    # The work that came to its next step all the same found that nobody waits for it any more.
    assert ran == []
    assert job_page(own_cast.actors["fitter"], uuid).state is JobState.INTERRUPTED
