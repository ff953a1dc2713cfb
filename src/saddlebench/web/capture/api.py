"""Measuring a back, for other programs: instruments, readings as they are read, and the back they make."""

import json
import uuid as uuids
from datetime import date, datetime
from typing import Annotated

from django.http import HttpRequest
from ninja import Router, Status
from pydantic import Field, JsonValue

from saddlebench.engine.back.instruments import Scan
from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.exchange.instruments import (
    example_instrument,
    example_names,
    instrument_from_text,
    instrument_text,
)
from saddlebench.exchange.records import BackDocument, as_json
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.captures import CaptureRow
from saddlebench.practice.services import EntryResult, NotFoundError
from saddlebench.web.base.interface import (
    ByToken,
    Change,
    ConflictError,
    Given,
    LinkShape,
    New,
    ResultShape,
    Shape,
    ShortText,
    actor_of,
    body_of,
    is_there,
    keyed,
    made,
    takes,
    told,
)
from saddlebench.web.capture import api_drafts
from saddlebench.web.capture.judging import judge
from saddlebench.web.capture.loaded import Loaded, loaded

router = Router(tags=["measuring"])
router.add_router("", api_drafts.router)
_LARGEST_INSTRUMENT = 1_000_000
_INSTRUMENT = takes(
    "application/json", {"type": "object"}, "Its description, as `saddlebench schema instrument`."
)
Name = Annotated[str, Field(max_length=80)]


class InstrumentShape(Shape):
    """An instrument: the practice's own has a uuid, those that come with the program have a name."""

    uuid: uuids.UUID | None
    name: str
    label: str
    description: dict[str, JsonValue]


class AskedShape(Shape):
    """One thing that is asked: its name among the readings, its words, its limits."""

    name: str
    words: str
    kind: str
    side: str
    unit: str
    low: float | None
    high: float | None


class PartShape(Shape):
    """A part of the measuring: the marks, the topline, one section."""

    key: str
    words: str
    state: str
    asked: list[AskedShape]


class CaptureRowShape(Shape):
    """A back that is being measured."""

    uuid: uuids.UUID
    label: str
    horse: LinkShape
    measured_on: date
    by: str


class SaidShape(Shape):
    """One thing that is questioned."""

    what: str
    cure: str
    weight: str


class QualityShape(Shape):
    """What is said of the readings so far."""

    words: str
    must_haves: list[str]
    problems: list[SaidShape]
    can_be_recorded: bool
    is_good: bool


class CaptureShape(Shape):
    """A back that is being measured, every reading as it stands, and what is said of them."""

    uuid: uuids.UUID
    label: str
    horse: LinkShape
    visit: uuids.UUID | None
    measured_on: date
    revision: int
    values: dict[str, JsonValue]
    saved_at: datetime | None
    finished_at: datetime | None
    recorded: int | None
    quality: QualityShape


class NewCapture(New):
    """Whose back, with what. `instrument` is the uuid or the name of one."""

    horse: uuids.UUID
    instrument: Name
    measured_on: date
    label: ShortText = ""
    visit: uuids.UUID | None = None


class Readings(Change):
    """Readings by their names: `s1r0/near/3`, `top/how`; what is asked next names them."""

    values: Annotated[dict[Name, JsonValue], Field(max_length=5000)]


class Finish(Given):
    """Why, for a correction; and the version that was current when it was begun."""

    why: ShortText = ""
    seen: Annotated[int, Field(ge=0, le=2**31 - 1)] = 0


class FinishedShape(Shape):
    """The version of the back that the readings became."""

    uuid: uuids.UUID
    number: int
    sha256: str


@router.get("instruments", auth=ByToken(Action.SEE_HORSES), response=list[InstrumentShape])
def get_instruments(request: HttpRequest) -> list[InstrumentShape]:
    """List the practice's own instruments, and those that come with the program."""
    own = [
        InstrumentShape(uuid=row.uuid, name="", label=row.label, description=_plain(row.document))
        for row in queries.own_instruments(actor_of(request))
    ]
    shipped = [(name, example_instrument(name)) for name in example_names()]
    return own + [
        InstrumentShape(uuid=None, name=name, label=tool.name, description=_plain(instrument_text(tool)))
        for name, tool in shipped
    ]


@router.put(
    "instruments/{uuid:uuid}",
    auth=ByToken(Action.RECORD_BACK),
    response=InstrumentShape,
    openapi_extra=_INSTRUMENT,
)
def put_instrument(request: HttpRequest, uuid: uuids.UUID) -> InstrumentShape:
    """Describe an instrument of the practice's own, or better. Backs already measured keep what was used."""
    tool = instrument_from_text(_text(body_of(request, _LARGEST_INSTRUMENT)), "instrument")
    document = Document(text=instrument_text(tool))
    row = services.describe_instrument(actor_of(request), tool.name, document, uuid)
    return InstrumentShape(uuid=row.uuid, name="", label=row.label, description=_plain(row.document))


@router.get("captures", auth=ByToken(Action.SEE_HORSES), response=list[CaptureRowShape])
def get_captures(request: HttpRequest, horse: uuids.UUID | None = None) -> list[CaptureRow]:
    """List the fifty newest backs whose measuring is not finished."""
    return list(queries.unfinished_captures(actor_of(request), horse))


@router.post("captures", auth=ByToken(Action.RECORD_BACK), response={200: CaptureShape, 201: CaptureShape})
def start_capture(request: HttpRequest, body: NewCapture) -> Status[CaptureShape]:
    """Start measuring a horse's back."""
    actor, chosen = actor_of(request), body.uuid or uuids.uuid4()
    was_there = is_there(lambda: queries.capture_page(actor, chosen))
    services.start_capture(
        actor,
        body.horse,
        _instrument(request, body.instrument),
        measured_on=body.measured_on,
        label=body.label,
        visit_uuid=body.visit,
        uuid=chosen,
    )
    return made(_shown(loaded(actor, chosen)), was_there=was_there)


@router.get("captures/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=CaptureShape)
def get_capture(request: HttpRequest, uuid: uuids.UUID) -> CaptureShape:
    """Give a back that is being measured."""
    return _shown(loaded(actor_of(request), uuid))


@router.get("captures/{uuid:uuid}/asked", auth=ByToken(Action.SEE_HORSES), response=list[PartShape])
def get_asked(request: HttpRequest, uuid: uuids.UUID) -> list[PartShape]:
    """List what is asked while this back is measured, part by part, in the order in which it is read."""
    back = loaded(actor_of(request), uuid)
    return [
        PartShape(
            key=part.key,
            words=part.words,
            state=back.state_of(part),
            asked=[AskedShape.model_validate(one) for one in part.asked],
        )
        for part in back.parts
    ]


@router.patch("captures/{uuid:uuid}/readings", auth=ByToken(Action.RECORD_BACK), response=list[ResultShape])
def enter_readings(request: HttpRequest, uuid: uuids.UUID, body: Readings) -> list[EntryResult]:
    """Keep readings as they were read; null takes one back."""
    entries = keyed(body.values, body.seen, body.key)
    return list(told(services.enter_readings(actor_of(request), uuid, entries)))


@router.post("captures/{uuid:uuid}/finish", auth=ByToken(Action.RECORD_BACK), response=FinishedShape)
def finish_capture(request: HttpRequest, uuid: uuids.UUID, body: Finish) -> FinishedShape:
    """Record the back that the readings make: a version that never changes."""
    actor = actor_of(request)
    record = loaded(actor, uuid).record
    judged = judge(record)
    if not judged.can_be_recorded:
        missing = [Problem(what=one, cure="Measure it.") for one in judged.must_haves]
        raise InputProblemsError([*missing, *judged.problems])
    document = Document(text=as_json(BackDocument.of(record)))
    done = services.finish_capture(actor, uuid, document, why=body.why, seen=body.seen)
    mine = FinishedShape(uuid=uuid, number=done.version.number, sha256=done.version.sha256)
    if not done.is_current:
        theirs = FinishedShape(uuid=uuid, number=done.current.number, sha256=done.current.sha256)
        said = "Somebody else recorded another version meanwhile; yours is kept beside it, not current."
        raise ConflictError(
            said, {"mine": mine.model_dump(mode="json"), "theirs": theirs.model_dump(mode="json")}
        )
    return mine


@router.post("captures/{uuid:uuid}/take-up", auth=ByToken(Action.RECORD_BACK), response=CaptureShape)
def take_up(request: HttpRequest, uuid: uuids.UUID) -> CaptureShape:
    """Open a finished measuring again; what was recorded stays."""
    services.take_up_again(actor_of(request), uuid)
    return _shown(loaded(actor_of(request), uuid))


def _shown(back: Loaded) -> CaptureShape:
    page, judged = back.page, judge(back.record)
    said = [SaidShape(what=one.what, cure=one.cure, weight=one.weight.value) for one in judged.problems]
    return CaptureShape(
        uuid=page.uuid,
        label=page.label,
        horse=LinkShape(uuid=page.horse.uuid, label=page.horse.label),
        visit=page.visit,
        measured_on=page.measured_on,
        revision=page.revision,
        values=dict(page.values),
        saved_at=page.saved_at,
        finished_at=page.finished_at,
        recorded=page.recorded,
        quality=QualityShape(
            words=judged.words,
            must_haves=list(judged.must_haves),
            problems=said,
            can_be_recorded=judged.can_be_recorded,
            is_good=judged.is_good,
        ),
    )


def _instrument(request: HttpRequest, name: str) -> Document:
    if name in example_names():
        tool = example_instrument(name)
    else:
        try:
            row = queries.instrument_page(actor_of(request), uuids.UUID(name))
        except (ValueError, NotFoundError):
            cure = "Give an instrument's uuid, or the name of one that comes with the program."
            raise input_problem("there is no such instrument", cure, Where(field="instrument")) from None
        tool = instrument_from_text(row.document, row.label)
    if isinstance(tool, Scan):
        cure = "Record a scan as a back record, or choose another instrument."
        raise input_problem("a scan is not keyed in", cure, Where(field="instrument"))
    return Document(text=instrument_text(tool))


def _text(content: bytes) -> str:
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        raise input_problem("the description is no UTF-8 text", "Write it again.") from None


def _plain(document: str) -> dict[str, JsonValue]:
    held: dict[str, JsonValue] = json.loads(document)
    return held
