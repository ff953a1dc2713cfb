"""One visit, field by field."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice.catalogue import VISIT_FIELDS, VISIT_HEAD_FIELDS, VISIT_SADDLE_FIELDS, Field, Value
from saddlebench.practice.catalogue.visit import is_about_people
from saddlebench.practice.enums import Action, Outcome
from saddlebench.practice.estimates import WeightEstimate, carried_share, estimate_weight
from saddlebench.practice.models import Advice, Answer, Entry, Photo, Visit, VisitSaddle
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.rules import Actor, may, require
from saddlebench.practice.services.columns import column_value
from saddlebench.practice.services.deeds import NotFoundError
from saddlebench.practice.stops import Stops, all_stops


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldValue:
    """A value that somebody entered and that was not applied, because another came first."""

    value: Value
    by: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerShown:
    """A field and what it holds."""

    field: Field
    value: Value
    revision: int
    entered_by: str
    entered_at: datetime | None
    held: tuple[HeldValue, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TriedSaddle:
    """A saddle tried, with its fields."""

    uuid: uuids.UUID
    saddle: Linked
    revision: int
    answers: Mapping[str, AnswerShown]
    stops: Stops
    """What stops a fit check of this saddle: the visit's stops, and its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceShown:
    """Advice, with its time."""

    said: str
    is_declined: bool
    declined_by: str
    at: datetime
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitPage:
    """One visit."""

    uuid: uuids.UUID
    revision: int
    day: date
    zone: str
    head: dict[str, Value]
    horse: Linked | None
    answers: Mapping[str, AnswerShown]
    tried: tuple[TriedSaddle, ...]
    advice: tuple[AdviceShown, ...]
    n_photos: int
    stops: Stops
    """Said outright, or following from answers."""
    weight: WeightEstimate | None
    """Estimated from girth and length where both were measured and nobody weighed the horse."""
    carried: float | None
    """Rider and tack as a fraction of the horse's weight."""


def visit_page(actor: Actor | None, uuid: uuids.UUID) -> VisitPage:
    """Return one visit's page; without the right to see people, its people are left out.

    Raises
    ------
    NotFoundError
        If the practice has no such visit.
    """
    allowed = require(actor, Action.SEE_HORSES)
    people = may(allowed, Action.SEE_PEOPLE, allowed.practice_id)
    visits = Visit.objects.of(allowed.practice_id).standing().filter(uuid=uuid)
    visit = visits.select_related("horse").first()
    if visit is None:
        raise NotFoundError("visit", uuid)
    tried = list(visit.tried.filter(taken_off_at=None).select_related("saddle").order_by("order"))
    answers = list(Answer.objects.filter(visit=visit).select_related("entered_by"))
    subjects = [visit.uuid, *(one.uuid for one in tried)]
    held = Entry.objects.filter(subject_uuid__in=subjects, outcome=Outcome.HELD.value)
    waiting = list(held.select_related("made_by").order_by("id"))
    shown = {name: field for name, field in VISIT_FIELDS.items() if people or not is_about_people(field)}
    own_answers = _shown(visit.uuid, shown, answers, waiting)
    values = {name: one.value for name, one in own_answers.items()}
    weight = _weight(values)
    return VisitPage(
        uuid=visit.uuid,
        revision=visit.revision,
        day=visit.date,
        zone=visit.zone,
        head={name: column_value(visit, name) for name in VISIT_HEAD_FIELDS},
        horse=Linked(uuid=visit.horse.uuid, label=visit.horse.label) if visit.horse else None,
        answers=own_answers,
        tried=tuple(
            _tried(one, values, _shown(one.uuid, VISIT_SADDLE_FIELDS, answers, waiting)) for one in tried
        ),
        advice=_advice(visit) if people else (),
        n_photos=Photo.objects.standing().filter(visit=visit).count(),
        stops=all_stops(values),
        weight=weight,
        carried=_carried(values, weight),
    )


def _tried(one: VisitSaddle, visit: Mapping[str, Value], answers: Mapping[str, AnswerShown]) -> TriedSaddle:
    return TriedSaddle(
        uuid=one.uuid,
        saddle=Linked(uuid=one.saddle.uuid, label=one.saddle.label, detail=one.saddle.family),
        revision=one.revision,
        answers=answers,
        stops=all_stops(visit, {name: shown.value for name, shown in answers.items()}),
    )


def _shown(
    subject: uuids.UUID, fields: Mapping[str, Field], answers: list[Answer], held: list[Entry]
) -> dict[str, AnswerShown]:
    mine = {answer.field: answer for answer in answers if answer.subject_uuid == subject}
    shown = {}
    for name, field in fields.items():
        answer = mine.get(name)
        shown[name] = AnswerShown(
            field=field,
            value=answer.value if answer else None,
            revision=answer.revision if answer else 0,
            entered_by=answer.entered_by.label if answer else "",
            entered_at=answer.entered_at if answer else None,
            held=tuple(
                HeldValue(value=entry.value, by=entry.made_by.label, at=entry.made_at)
                for entry in held
                if entry.subject_uuid == subject
                and entry.field == name
                and answer is not None
                # Whoever saved the field after that had both before their eyes.
                and entry.revision >= answer.revision
                and entry.value != answer.value
            ),
        )
    return shown


def _advice(visit: Visit) -> tuple[AdviceShown, ...]:
    rows = Advice.objects.filter(visit=visit).select_related("made_by").order_by("made_at", "id")
    return tuple(
        AdviceShown(
            said=row.said,
            is_declined=row.is_declined,
            declined_by=row.declined_by,
            at=row.made_at,
            by=row.made_by.label,
        )
        for row in rows
    )


def _weight(values: Mapping[str, Value]) -> WeightEstimate | None:
    girth, length = values.get("heart_girth_cm"), values.get("body_length_cm")
    if values.get("weighed_kg") or not (isinstance(girth, float) and isinstance(length, float)):
        return None
    try:
        return estimate_weight(girth, length)
    except InputProblemsError:
        return None


def _carried(values: Mapping[str, Value], weight: WeightEstimate | None) -> float | None:
    weighed = values.get("weighed_kg")
    horse = weighed if isinstance(weighed, float) else weight.mass_kg if weight else None
    rider, tack = values.get("rider_mass_kg"), values.get("tack_mass_kg")
    if horse is None or not isinstance(rider, float):
        return None
    return carried_share(rider + (tack if isinstance(tack, float) else 0.0), horse)
