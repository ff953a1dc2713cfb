"""Who one is here, finding anything, the diary, and what fields a kind of record has."""

import uuid as uuids
from collections.abc import Mapping
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.http import HttpRequest
from django.utils import timezone
from ninja import Router
from pydantic import JsonValue

from saddlebench import __version__
from saddlebench.engine.errors import Where, input_problem
from saddlebench.practice import queries
from saddlebench.practice.catalogue import (
    CLIENT_FIELDS,
    HORSE_FIELDS,
    SADDLE_FIELDS,
    VISIT_FIELDS,
    VISIT_HEAD_FIELDS,
    VISIT_SADDLE_FIELDS,
    YARD_FIELDS,
    Field,
)
from saddlebench.practice.enums import Action, Role, Subject, Vocabulary
from saddlebench.practice.phrases import words_of
from saddlebench.practice.queries.diary import Diary
from saddlebench.practice.queries.recent import RecentWork, recent_work
from saddlebench.practice.queries.standing import standing_in
from saddlebench.practice.queries.yards import find_yards
from saddlebench.practice.rules import Actor, may
from saddlebench.practice.services import NotFoundError
from saddlebench.practice.services.accounts import choose_vocabulary
from saddlebench.web.api.shapes import (
    ClientRowShape,
    DiaryShape,
    HorseRowShape,
    SaddleRowShape,
    YardRowShape,
)
from saddlebench.web.base.interface import ByToken, Given, Searched, Shape, actor_of

router = Router(tags=["finding"])
_AHEAD = timedelta(days=60)
_LONGEST_DIARY = timedelta(days=800)
FIELDS: Mapping[Subject, Mapping[str, Field]] = {
    Subject.CLIENT: CLIENT_FIELDS,
    Subject.YARD: YARD_FIELDS,
    Subject.HORSE: HORSE_FIELDS,
    Subject.SADDLE: SADDLE_FIELDS,
    Subject.VISIT: {**VISIT_HEAD_FIELDS, **VISIT_FIELDS},
    Subject.VISIT_SADDLE: VISIT_SADDLE_FIELDS,
}


class MeShape(Shape):
    """Whom the token acts for, where, and what answers."""

    saddlebench: str
    label: str
    role: Role
    may: list[Action]
    practice: str
    practice_uuid: uuids.UUID
    zone: str
    vocabulary: Vocabulary


class OwnWords(Given):
    """Which English is spoken to the member; none: the practice's."""

    vocabulary: Vocabulary | None


class FoundShape(Shape):
    """What was found, at most fifty of each; people and yards for those who may see people."""

    asked: str
    horses: list[HorseRowShape]
    n_horses: int
    saddles: list[SaddleRowShape]
    n_saddles: int
    clients: list[ClientRowShape]
    n_clients: int
    yards: list[YardRowShape]
    n_yards: int


class FieldShape(Shape):
    """A field of a kind of record: its words for people, how it is read, its limits."""

    name: str
    words: str
    kind: str
    section: str
    unit: str
    low: float | None
    high: float | None
    choices: list[str]
    required: bool
    max_length: int


class RecentShape(Shape):
    """One record that was made lately."""

    subject: Subject
    uuid: uuids.UUID
    horse: str
    horse_uuid: uuids.UUID | None
    label: str
    at: datetime
    by: str


@router.get("me", auth=ByToken(Action.SEE_SADDLES), response=MeShape)
def me(request: HttpRequest) -> MeShape:
    """Say whom the token acts for, in which practice, and what it may do."""
    return _me(actor_of(request))


@router.put("me/words", auth=ByToken(Action.SEE_SADDLES), response=MeShape)
def put_own_words(request: HttpRequest, body: OwnWords) -> MeShape:
    """Choose which English is spoken to the member whom the token acts for."""
    actor = actor_of(request)
    choose_vocabulary(actor, body.vocabulary or "")
    return _me(actor)


def _me(actor: Actor) -> MeShape:
    standing = standing_in(actor)
    return MeShape(
        saddlebench=__version__,
        label=actor.label,
        role=actor.role,
        may=[one for one in Action if may(actor, one, actor.practice_id)],
        practice=standing.practice,
        practice_uuid=standing.practice_uuid,
        zone=standing.zone,
        vocabulary=standing.vocabulary,
    )


@router.get("search", auth=ByToken(Action.SEE_HORSES), response=FoundShape)
def search(request: HttpRequest, q: Searched) -> dict[str, JsonValue | object]:
    """Find horses, saddles, clients and yards by any part of anything."""
    actor = actor_of(request)
    people = may(actor, Action.SEE_PEOPLE, actor.practice_id)
    horses, saddles = queries.find_horses(actor, q), queries.find_saddles(actor, q)
    clients = queries.find_clients(actor, q) if people else None
    yards = find_yards(actor, q) if people else None
    return {
        "asked": q,
        "horses": horses.rows,
        "n_horses": horses.total,
        "saddles": saddles.rows,
        "n_saddles": saddles.total,
        "clients": clients.rows if clients else (),
        "n_clients": clients.total if clients else 0,
        "yards": yards.rows if yards else (),
        "n_yards": yards.total if yards else 0,
    }


@router.get("diary", auth=ByToken(Action.SEE_HORSES), response=DiaryShape)
def get_diary(request: HttpRequest, first: date | None = None, last: date | None = None) -> Diary:
    """Give visits planned or under way and re-checks due; without days, from today on for sixty days."""
    actor = actor_of(request)
    start = first or timezone.localdate(timezone=ZoneInfo(standing_in(actor).zone))
    end = last or min(start, date.max - _AHEAD) + _AHEAD
    if not timedelta(0) <= end - start <= _LONGEST_DIARY:
        what = f"the diary is given for at most {_LONGEST_DIARY.days} days, forwards"
        raise input_problem(what, "Ask for fewer days at a time.", Where(field="last"))
    return queries.diary(actor, start, end)


@router.get("recent", auth=ByToken(Action.SEE_HORSES), response=list[RecentShape])
def get_recent(request: HttpRequest) -> list[RecentWork]:
    """List the visits, backs and fit checks that were made last."""
    return list(recent_work(actor_of(request)))


@router.get("fields/{subject}", auth=ByToken(Action.SEE_SADDLES), response=list[FieldShape])
def get_fields(request: HttpRequest, subject: Subject) -> list[FieldShape]:
    """Describe the fields of a kind of record."""
    del request
    if subject not in FIELDS:
        raise NotFoundError("catalogue of fields of", words_of(subject))
    return [FieldShape.model_validate(one) for one in FIELDS[subject].values()]
