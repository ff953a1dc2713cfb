"""What a visit led to besides its answers: backs, fit checks, re-checks; and what may be tried next."""

import uuid as uuids
from dataclasses import dataclass

from django.db.models import QuerySet

from saddlebench.practice.enums import Action
from saddlebench.practice.models import (
    Back,
    Capture,
    Recheck,
    Saddle,
    SaddleVersion,
    Study,
    Visit,
    VisitSaddle,
)
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.queries.scans import ScanRow, scans_of
from saddlebench.practice.rules import Actor, may, require
from saddlebench.practice.services.deeds import NotFoundError

_MOST = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitWork:
    """What hangs on one visit."""

    backs: tuple[Linked, ...]
    begun: tuple[Linked, ...]
    """Backs whose measuring was begun and is not finished, here or on a phone."""
    scans: tuple[ScanRow, ...]
    """Scans that were brought at it, where what is only begun is asked for."""
    studies: tuple[Linked, ...]
    rechecks: tuple[Linked, ...]
    """Set at this visit, by the last day they are due; `detail` is the reason."""
    answers: tuple[Linked, ...]
    """The horse's open re-checks from before, which this visit may answer."""
    own_saddles: tuple[Linked, ...]
    """The horse's saddles that were not tried yet."""
    owner: Linked | None
    """The horse's client, for those who may see people."""
    measured: frozenset[uuids.UUID]
    """The tried saddles that have a record of their measures."""


def visit_work(
    actor: Actor | None, uuid: uuids.UUID, *, saddles: bool = False, begun: bool = False
) -> VisitWork:
    """Return what hangs on one visit; its horse's saddles, and backs only begun, where they are asked for.

    Raises
    ------
    NotFoundError
        If the practice has no such visit.
    """
    allowed = require(actor, Action.SEE_HORSES)
    people = may(allowed, Action.SEE_PEOPLE, allowed.practice_id)
    standing = Visit.objects.of(allowed.practice_id).standing().filter(uuid=uuid)
    visit = standing.select_related("horse__client").first()
    if visit is None:
        raise NotFoundError("visit", uuid)
    backs = Back.objects.standing().filter(visit=visit).order_by("-id")[:_MOST]
    studies = Study.objects.standing().filter(visit=visit).select_related("saddle").order_by("-id")[:_MOST]
    rechecks = list(Recheck.objects.standing().filter(horse=visit.horse).order_by("due_by", "id"))
    return VisitWork(
        backs=tuple(Linked(uuid=b.uuid, label=b.label, day=b.measured_on) for b in backs),
        begun=_begun(visit) if begun else (),
        scans=scans_of(allowed, visit=uuid) if begun else (),
        studies=tuple(
            Linked(uuid=s.uuid, label=s.label, day=s.made_at.date(), detail=s.saddle.label) for s in studies
        ),
        rechecks=tuple(_due(r) for r in rechecks if r.visit_id == visit.pk),
        answers=tuple(
            _due(r)
            for r in rechecks
            if r.visit_id != visit.pk and r.done_visit_id is None and r.due_from <= visit.date
        ),
        own_saddles=_own_saddles(visit) if saddles else (),
        owner=_owner(visit) if people else None,
        measured=_measured(visit) if saddles else frozenset(),
    )


def _due(row: Recheck) -> Linked:
    return Linked(uuid=row.uuid, label=row.label, day=row.due_by, detail=row.reason)


def _begun(visit: Visit) -> tuple[Linked, ...]:
    rows = Capture.objects.standing().filter(visit=visit, finished_at=None).order_by("-id")[:_MOST]
    return tuple(Linked(uuid=row.uuid, label=row.label, day=row.measured_on) for row in rows)


def _own_saddles(visit: Visit) -> tuple[Linked, ...]:
    if visit.horse is None:
        return ()
    rows = Saddle.objects.standing().filter(horses=visit.horse).exclude(tried_at__in=_standing(visit))
    return tuple(
        Linked(uuid=row.uuid, label=row.label, detail=row.family) for row in rows.order_by("label")[:_MOST]
    )


def _standing(visit: Visit) -> "QuerySet[VisitSaddle]":
    return VisitSaddle.objects.filter(visit=visit, taken_off_at=None)


def _measured(visit: Visit) -> frozenset[uuids.UUID]:
    versions = SaddleVersion.objects.filter(saddle__tried_at__in=_standing(visit))
    return frozenset(versions.values_list("saddle__uuid", flat=True))


def _owner(visit: Visit) -> Linked | None:
    client = visit.horse.client if visit.horse else None
    return Linked(uuid=client.uuid, label=client.label) if client else None
