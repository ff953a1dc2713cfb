"""A saddle's numbers for other programs: kept field by field while they are taken, then recorded."""

import uuid as uuids
from datetime import datetime
from typing import Annotated, Literal

from django.http import HttpRequest
from ninja import Router
from pydantic import Field

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.practice import queries, services
from saddlebench.practice.enums import Action
from saddlebench.practice.queries import DraftShown
from saddlebench.practice.rules import Actor
from saddlebench.web.base.interface import ByToken, ConflictError, Given, Shape, ShortText, actor_of
from saddlebench.web.capture.saddle_fields import MAIN, MORE
from saddlebench.web.capture.saddle_form import Named, record_of_form
from saddlebench.web.capture.saddles import current_record, named_of, names_of, record_numbers

router = Router(tags=["measuring"])
FamilyName = Literal["panelled", "cut-back", "bars", "side-saddle", "treeless", "flexible tree"]
FieldName = Annotated[str, Field(max_length=80)]
FieldText = Annotated[str, Field(max_length=10_000)]


class SaddleAskedShape(Shape):
    """One number that describes a saddle: its name in a draft, its words, its unit."""

    name: str
    words: str
    unit: str
    hint: str
    required: bool


class SaddleDraftShape(Shape):
    """Somebody's numbers of a saddle, not recorded yet; `seen` is the version they began from."""

    by: str
    by_uuid: uuids.UUID
    is_mine: bool
    at: datetime
    family: str
    seen: int
    texts: dict[str, str]


class DraftProblemShape(Shape):
    """Why the numbers do not make a saddle yet."""

    field: str
    what: str
    cure: str


class SaddleDraftKeptShape(Shape):
    """The draft as it stands, and what is still missing before it can be recorded."""

    draft: SaddleDraftShape
    problems: list[DraftProblemShape]
    can_be_recorded: bool


class SaddleDraftFields(Given):
    """Fields as typed, comma or point; empty takes one back. `family` where the record does not say it."""

    fields: Annotated[dict[FieldName, FieldText], Field(max_length=200)]
    family: FamilyName | None = None
    seen: Annotated[int, Field(ge=0, le=2**31 - 1)] = 0


class RecordDraft(Given):
    """Why, for a correction."""

    why: ShortText = ""


class SaddleRecordedShape(Shape):
    """The version of the saddle that the draft became."""

    uuid: uuids.UUID
    number: int
    sha256: str


@router.get(
    "saddles/{uuid:uuid}/draft/asked", auth=ByToken(Action.RECORD_SADDLE), response=list[SaddleAskedShape]
)
def get_saddle_asked(
    request: HttpRequest, uuid: uuids.UUID, family: FamilyName | None = None
) -> list[SaddleAskedShape]:
    """List the numbers that describe a saddle, in the order in which they are taken off it."""
    chosen = named_of(queries.saddle_page(actor_of(request), uuid), family or "").family
    return [
        SaddleAskedShape(name=one.path, words=one.words, unit=one.unit, hint=one.hint, required=one.required)
        for one in (*MAIN[chosen], *MORE[chosen])
    ]


@router.get("saddles/{uuid:uuid}/drafts", auth=ByToken(Action.RECORD_SADDLE), response=list[SaddleDraftShape])
def get_saddle_drafts(request: HttpRequest, uuid: uuids.UUID) -> list[DraftShown]:
    """List everybody's numbers of a saddle that are not recorded yet, one's own first."""
    return list(queries.saddle_drafts(actor_of(request), uuid))


@router.patch("saddles/{uuid:uuid}/draft", auth=ByToken(Action.RECORD_SADDLE), response=SaddleDraftKeptShape)
def enter_in_draft(request: HttpRequest, uuid: uuids.UUID, body: SaddleDraftFields) -> SaddleDraftKeptShape:
    """Keep fields of one's own draft as they are typed; the others stay as they stand."""
    actor = actor_of(request)
    named = named_of(queries.saddle_page(actor, uuid), body.family or "")
    known = set(names_of(named.family))
    unknown = sorted(set(body.fields) - known)
    if unknown:
        cure = "The names stand at draft/asked."
        what = "a saddle of this family has no such field"
        raise InputProblemsError(
            [Problem(what=what, cure=cure, where=Where(field=one)) for one in unknown[:20]]
        )
    services.enter_in_saddle_draft(actor, uuid, named.family, body.fields, seen=body.seen)
    return _kept(actor, uuid, named)


@router.delete(
    "saddles/{uuid:uuid}/draft", auth=ByToken(Action.RECORD_SADDLE), response=list[SaddleDraftShape]
)
def leave_draft(request: HttpRequest, uuid: uuids.UUID) -> list[DraftShown]:
    """Let one's own draft go, and list what others have."""
    services.leave_saddle_draft(actor_of(request), uuid)
    return list(queries.saddle_drafts(actor_of(request), uuid))


@router.post(
    "saddles/{uuid:uuid}/draft/record", auth=ByToken(Action.RECORD_SADDLE), response=SaddleRecordedShape
)
def record_draft(request: HttpRequest, uuid: uuids.UUID, body: RecordDraft) -> SaddleRecordedShape:
    """Record one's own draft as a version that never changes."""
    actor = actor_of(request)
    page = queries.saddle_page(actor, uuid)
    draft = _mine(actor, uuid)
    if draft is None:
        raise input_problem("you have no draft of this saddle", "Enter its numbers first.")
    named = named_of(page, draft.family)
    before = current_record(actor, uuid, page.label)
    if before is not None and before.family.value != named.family:
        before = None
    record = record_of_form(named, draft.texts, before=before)
    done = record_numbers(actor, uuid, record, why=body.why, seen=draft.seen)
    mine, theirs = (
        SaddleRecordedShape(uuid=uuid, number=one.number, sha256=one.sha256)
        for one in (done.version, done.current)
    )
    if not done.is_current:
        said = "Somebody else recorded another version meanwhile; yours is kept beside it, not current."
        both = {"mine": mine.model_dump(mode="json"), "theirs": theirs.model_dump(mode="json")}
        raise ConflictError(said, both)
    return mine


def _mine(actor: Actor, uuid: uuids.UUID) -> DraftShown | None:
    return next((one for one in queries.saddle_drafts(actor, uuid) if one.is_mine), None)


def _kept(actor: Actor, uuid: uuids.UUID, named: Named) -> SaddleDraftKeptShape:
    draft = _mine(actor, uuid)
    if draft is None:
        raise input_problem("your draft was let go meanwhile", "Enter its numbers again.")
    problems: tuple[Problem, ...] = ()
    try:
        record_of_form(named, draft.texts)
    except InputProblemsError as error:
        problems = error.problems
    return SaddleDraftKeptShape(
        draft=SaddleDraftShape.model_validate(draft),
        problems=[DraftProblemShape(field=one.where.field, what=one.what, cure=one.cure) for one in problems],
        can_be_recorded=not problems,
    )
