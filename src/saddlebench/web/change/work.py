"""Long work about changes: many records compared, records put into numbers, saddles judged then and now."""

import uuid as uuids
from collections.abc import Sequence

from django.urls import reverse

from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.horses import horse_page
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.comparing import compare_backs, judge_then_and_now
from saddlebench.practice.services.comparing_fitters import compare_fitters
from saddlebench.practice.services.jobs import ask_job
from saddlebench.practice.services.long_work import Outcome, Run, long_work
from saddlebench.practice.services.numbers import work_out_numbers
from saddlebench.web.base.checks.loading import load_engine

TRIES = 64
"""Of each saddle on each day: enough for the verdict, which is all that is shown."""


@long_work
def change(run: Run, *, horse: str, versions: list[str], other_device: bool) -> Outcome:
    """Compare records of a horse."""
    run.tell(0, 1, "reading the records")
    load_engine()
    made = compare_backs(
        run.actor,
        uuids.UUID(horse),
        [uuids.UUID(one) for one in versions],
        other_device=other_device,
        told=run.tell,
        uuid=run.uuid,
    )
    return Outcome(leads_to=reverse("change:change", args=[made.uuid]))


@long_work
def numbers(run: Run, *, horse: str, again: bool) -> Outcome:
    """Put a horse's records into numbers."""
    run.tell(0, 1, "reading the records")
    load_engine()
    work_out_numbers(run.actor, uuids.UUID(horse), again=again, told=run.tell)
    return Outcome()


@long_work
def then_and_now(run: Run, *, horse: str, backs: list[str], saddles: list[str], rider_kg: float) -> Outcome:
    """Judge saddles on the backs of several days."""
    run.tell(0, 1, "reading the records")
    load_engine()
    from saddlebench.engine.fit.loads import Rider  # noqa: PLC0415
    from saddlebench.exchange.job import StudyRequest  # noqa: PLC0415

    made = judge_then_and_now(
        run.actor,
        uuids.UUID(horse),
        backs=[uuids.UUID(one) for one in backs],
        saddles=[uuids.UUID(one) for one in saddles],
        request=StudyRequest(rider=Rider(mass_kg=rider_kg), draws=TRIES),
        told=run.tell,
        uuid=run.uuid,
    )
    return Outcome(leads_to=reverse("change:then_and_now", args=[made.uuid]))


@long_work
def fitters(run: Run, *, versions: list[str]) -> Outcome:
    """Compare fitters and instruments."""
    run.tell(0, 1, "reading the records")
    load_engine()
    named = [uuids.UUID(one) for one in versions]
    made = compare_fitters(run.actor, named, told=run.tell, uuid=run.uuid)
    return Outcome(leads_to=reverse("change:fitters", args=[made.uuid]))


def ask_fitters(actor: Actor, versions: Sequence[uuids.UUID], *, key: uuids.UUID) -> uuids.UUID:
    """Queue a comparison of fitters and instruments, and return the job's name."""
    named: list[Value] = [str(one) for one in versions]
    return ask_job(
        actor,
        fitters,
        {"versions": named},
        action=Action.RECORD_STUDY,
        words=f"Fitters and instruments compared: {len(versions)} records",
        uuid=key,
        back_to=reverse("change:choose_fitters"),
    )


def ask_change(
    actor: Actor, horse: uuids.UUID, versions: Sequence[uuids.UUID], *, other_device: bool, key: uuids.UUID
) -> uuids.UUID:
    """Queue a comparison of records, and return the job's name."""
    label = horse_page(actor, horse).label
    named: list[Value] = [str(one) for one in versions]
    return ask_job(
        actor,
        change,
        {"horse": str(horse), "versions": named, "other_device": other_device},
        action=Action.RECORD_STUDY,
        words=f"What changed: {label}, {len(versions)} records",
        uuid=key,
        back_to=reverse("change:changed", args=[horse]),
    )


def ask_numbers(actor: Actor, horse: uuids.UUID, *, again: bool, key: uuids.UUID) -> uuids.UUID:
    """Queue putting a horse's records into numbers, and return the job's name."""
    label = horse_page(actor, horse).label
    address = reverse("change:trend", args=[horse])
    return ask_job(
        actor,
        numbers,
        {"horse": str(horse), "again": again},
        action=Action.RECORD_STUDY,
        words=f"Records in numbers: {label}",
        uuid=key,
        leads_to=address,
        back_to=address,
    )


def ask_then_and_now(
    actor: Actor,
    horse: uuids.UUID,
    *,
    backs: Sequence[uuids.UUID],
    saddles: Sequence[uuids.UUID],
    rider_kg: float,
    key: uuids.UUID,
) -> uuids.UUID:
    """Queue judging saddles on the backs of several days, and return the job's name."""
    label = horse_page(actor, horse).label
    named_backs: list[Value] = [str(one) for one in backs]
    named_saddles: list[Value] = [str(one) for one in saddles]
    return ask_job(
        actor,
        then_and_now,
        {"horse": str(horse), "backs": named_backs, "saddles": named_saddles, "rider_kg": rider_kg},
        action=Action.RECORD_STUDY,
        words=f"Saddles then and now: {label}",
        uuid=key,
        back_to=reverse("change:choose_saddles", args=[horse]),
    )
