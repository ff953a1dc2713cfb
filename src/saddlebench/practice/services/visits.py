"""A visit: started anywhere, filled in any order, stopped where it must be, and followed by the next date."""

import uuid as uuids
from collections.abc import Iterable
from datetime import date, time

from saddlebench.engine.errors import SaddlebenchError, input_problem
from saddlebench.practice.catalogue import VISIT_HEAD_FIELDS, read_all
from saddlebench.practice.enums import Action, Purpose, RecheckReason, Subject, VisitState
from saddlebench.practice.estimates import RecheckWindow, recheck_window
from saddlebench.practice.models import (
    Advice,
    Answer,
    Horse,
    Practice,
    Recheck,
    Saddle,
    Visit,
    VisitSaddle,
    Yard,
)
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, deed, own
from saddlebench.practice.stops import Stops, all_stops

_LONGEST_ADVICE = 10_000


class StoppedError(SaddlebenchError):
    """The visit was stopped: no fit check, whatever the numbers."""

    def __init__(self, visit: Visit, stops: Stops) -> None:
        self.visit = visit
        self.stops = stops
        first = "the saddle is not to be ridden in" if "stops_do_not_ride" in stops else "not today"
        said = "the vet comes first" if "stops_vet_first" in stops else first
        super().__init__(
            f"This visit was stopped: {said}. Take the stop off the visit once its cause is settled, "
            "or make a new visit."
        )


def start_visit(
    actor: Actor | None,
    *,
    on: date,
    purpose: Purpose,
    zone: str | None = None,
    horse: uuids.UUID | None = None,
    yard: uuids.UUID | None = None,
    starts_at: str | None = None,
    state: VisitState = VisitState.OPEN,
    label: str = "",
    uuid: uuids.UUID | None = None,
) -> Visit:
    """Start or plan a visit; it may begin with a horse's name alone, and take its record up later.

    Raises
    ------
    InputProblemsError
        With every problem of what was given.
    """
    allowed = require(actor, Action.ENTER_VISIT)
    chosen = uuid or uuids.uuid4()
    there = Visit.objects.of(allowed.practice_id).filter(uuid=chosen).first()
    if there is not None:
        return there
    at = zone or Practice.objects.get(pk=allowed.practice_id).zone
    given = {
        "date": on.isoformat(),
        "zone": at,
        "purpose": purpose.value,
        "state": state.value,
        "starts_at": starts_at,
        "label": label,
    }
    head = read_all(VISIT_HEAD_FIELDS, given, new=True)
    with deed(actor, Action.ENTER_VISIT, "start_visit", Subject.VISIT, chosen) as done:
        ridden = own(Horse, allowed, horse) if horse else None
        return Visit.objects.create(
            uuid=chosen,
            practice_id=allowed.practice_id,
            label=str(head["label"] or ""),
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
            horse=ridden,
            yard=own(Yard, allowed, yard) if yard else (ridden.yard if ridden else None),
            date=on,
            zone=at,
            purpose=purpose.value,
            state=state.value,
            starts_at=time.fromisoformat(str(head["starts_at"])) if head["starts_at"] else None,
        )


def try_saddle(actor: Actor | None, visit_uuid: uuids.UUID, saddle_uuid: uuids.UUID) -> VisitSaddle:
    """Add a saddle to a visit; adding it again returns the same."""
    allowed = require(actor, Action.ENTER_VISIT)
    with deed(actor, Action.ENTER_VISIT, "try_saddle", Subject.VISIT, visit_uuid):
        visit = own(Visit, allowed, visit_uuid, locked=True)
        saddle = own(Saddle, allowed, saddle_uuid)
        order = visit.tried.count() + 1
        tried, _ = VisitSaddle.objects.get_or_create(visit=visit, saddle=saddle, defaults={"order": order})
        if tried.taken_off_at is not None:
            tried.taken_off_at = None
            tried.save(update_fields=["taken_off_at"])
        return tried


def take_saddle_off(actor: Actor | None, tried_uuid: uuids.UUID) -> VisitSaddle:
    """Take a saddle off a visit; what was entered about it stays, and trying it again brings it back.

    Raises
    ------
    NotFoundError
        If the practice has no such saddle at a visit, or it is off already.
    """
    allowed = require(actor, Action.ENTER_VISIT)
    with deed(actor, Action.ENTER_VISIT, "take_saddle_off", Subject.VISIT_SADDLE, tried_uuid) as done:
        tried = VisitSaddle.objects.filter(uuid=tried_uuid, taken_off_at=None).select_related("visit").first()
        if tried is None:
            raise NotFoundError("saddle at a visit", tried_uuid)
        own(Visit, allowed, tried.visit.uuid, locked=True)
        tried.taken_off_at = done.audit.made_at
        tried.save(update_fields=["taken_off_at"])
        return tried


def give_advice(
    actor: Actor | None,
    visit_uuid: uuids.UUID,
    said: str,
    *,
    declined: bool = False,
    declined_by: str = "",
    uuid: uuids.UUID | None = None,
) -> Advice:
    """Write down advice with its time, and whether it was declined and by whom. It is never edited.

    Raises
    ------
    InputProblemsError
        If nothing was said.
    """
    allowed = require(actor, Action.ENTER_VISIT)
    words = said.strip()
    if not words or len(words) > _LONGEST_ADVICE:
        msg = f"advice has 1 to {_LONGEST_ADVICE} characters; this has {len(words)}"
        raise input_problem(msg, "Write what was said.")
    chosen = uuid or uuids.uuid4()
    there = Advice.objects.filter(uuid=chosen, visit__practice_id=allowed.practice_id).first()
    if there is not None:
        return there
    with deed(actor, Action.ENTER_VISIT, "give_advice", Subject.VISIT, visit_uuid) as done:
        return Advice.objects.create(
            uuid=chosen,
            visit=own(Visit, allowed, visit_uuid),
            said=words,
            is_declined=declined,
            declined_by=declined_by.strip()[:200],
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
        )


def stops_of(visit: Visit, saddle: Saddle | None = None) -> Stops:
    """Return what stops a visit, said or following from its answers; of one saddle too, if it was tried."""
    there = VisitSaddle.objects.filter(visit=visit, saddle=saddle, taken_off_at=None)
    tried = there.first() if saddle else None
    answers = Answer.objects.filter(visit=visit)
    about_visit = {a.field: a.value for a in answers if a.subject_uuid == visit.uuid}
    about_saddle = {a.field: a.value for a in answers if tried and a.subject_uuid == tried.uuid}
    return all_stops(about_visit, about_saddle)


def refuse_if_stopped(visit: Visit | None, horse: Horse, saddle: Saddle | None) -> None:
    """Refuse a fit check at a stopped visit, or of a saddle that nobody should ride in.

    A check that is of no visit is of the horse's last one: leaving the visit out does not get round its stop.

    Raises
    ------
    StoppedError
        If a stop stands.
    """
    last = Visit.objects.standing().filter(horse=horse).exclude(state=VisitState.PLANNED.value)
    counts = visit or last.order_by("-date", "-id").first()
    stops = stops_of(counts, saddle) if counts is not None else {}
    if counts is not None and stops:
        raise StoppedError(counts, stops)


def set_recheck(
    actor: Actor | None,
    horse_uuid: uuids.UUID,
    *,
    visit_uuid: uuids.UUID | None = None,
    reasons: Iterable[RecheckReason] = (),
    on: date | None = None,
    visited_on: date | None = None,
    uuid: uuids.UUID | None = None,
) -> Recheck:
    """Set when a horse is to be seen again: by the reasons' weeks, or on a day as agreed.

    Raises
    ------
    InputProblemsError
        If neither a visit nor a day says from when to count.
    """
    allowed = require(actor, Action.ENTER_VISIT)
    chosen = uuid or uuids.uuid4()
    there = Recheck.objects.of(allowed.practice_id).filter(uuid=chosen).first()
    if there is not None:
        return there
    with deed(actor, Action.ENTER_VISIT, "set_recheck", Subject.RECHECK, chosen) as done:
        horse = own(Horse, allowed, horse_uuid)
        visit = own(Visit, allowed, visit_uuid) if visit_uuid else None
        start = visited_on or (visit.date if visit else None)
        if on is not None:
            window = RecheckWindow(due_from=on, due_by=on, reason=RecheckReason.AS_AGREED)
        elif start is not None:
            window = recheck_window(start, reasons)
        else:
            raise input_problem("a re-check is counted from a visit or a day", "Give one of them.")
        return Recheck.objects.create(
            uuid=chosen,
            practice_id=allowed.practice_id,
            label=horse.label,
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
            horse=horse,
            visit=visit,
            due_from=window.due_from,
            due_by=window.due_by,
            reason=window.reason.value,
        )


def answer_recheck(actor: Actor | None, recheck_uuid: uuids.UUID, visit_uuid: uuids.UUID) -> Recheck:
    """Say which visit answered a re-check: it leaves the diary."""
    allowed = require(actor, Action.ENTER_VISIT)
    with deed(actor, Action.ENTER_VISIT, "answer_recheck", Subject.RECHECK, recheck_uuid):
        recheck = own(Recheck, allowed, recheck_uuid, locked=True)
        recheck.done_visit = own(Visit, allowed, visit_uuid)
        recheck.save(update_fields=["done_visit"])
        return recheck
