"""What goes out of people, horses, saddles, visits and their records."""

from datetime import date, datetime
from typing import Annotated
from uuid import UUID

from pydantic import JsonValue, WithJsonSchema

from saddlebench.practice.catalogue import (
    CLIENT_FIELDS,
    HORSE_FIELDS,
    SADDLE_FIELDS,
    VISIT_FIELDS,
    VISIT_HEAD_FIELDS,
    VISIT_SADDLE_FIELDS,
    YARD_FIELDS,
)
from saddlebench.practice.enums import DiaryKind, Holding, Outcome, Subject, VisitState
from saddlebench.web.base.interface import LinkShape, ListShape, Shape, values_schema

HorseValues = Annotated[dict[str, JsonValue], WithJsonSchema(values_schema(HORSE_FIELDS, ("client", "yard")))]
SaddleValues = Annotated[dict[str, JsonValue], WithJsonSchema(values_schema(SADDLE_FIELDS, ("client",)))]
ClientValues = Annotated[dict[str, JsonValue], WithJsonSchema(values_schema(CLIENT_FIELDS))]
YardValues = Annotated[dict[str, JsonValue], WithJsonSchema(values_schema(YARD_FIELDS))]
VisitValues = Annotated[
    dict[str, JsonValue],
    WithJsonSchema(values_schema({**VISIT_HEAD_FIELDS, **VISIT_FIELDS}, ("horse", "yard"))),
]
TriedValues = Annotated[dict[str, JsonValue], WithJsonSchema(values_schema(VISIT_SADDLE_FIELDS))]


class ClientRowShape(Shape):
    """A client in a list."""

    uuid: UUID
    label: str
    town: str
    phone: str
    n_horses: int


class ClientListShape(ListShape):
    """A page of clients."""

    rows: list[ClientRowShape]


class ClientShape(Shape):
    """A client."""

    uuid: UUID
    label: str
    revision: int
    values: ClientValues
    horses: list[LinkShape]
    saddles: list[LinkShape]


class YardRowShape(Shape):
    """A yard in a list."""

    uuid: UUID
    label: str
    town: str
    n_horses: int


class YardListShape(ListShape):
    """A page of yards."""

    rows: list[YardRowShape]


class YardShape(Shape):
    """A yard."""

    uuid: UUID
    label: str
    revision: int
    values: YardValues
    horses: list[LinkShape]


class HorseRowShape(Shape):
    """A horse in a list."""

    uuid: UUID
    label: str
    client: str
    yard: str
    born_in: int | None
    height_cm: float | None
    height_hands: str
    last_visit: date | None


class HorseListShape(ListShape):
    """A page of horses."""

    rows: list[HorseRowShape]


class HorseShape(Shape):
    """A horse with what leads from it. Client, yard, rider and note: for those who may see people."""

    uuid: UUID
    label: str
    revision: int
    values: HorseValues
    height_hands: str
    client: LinkShape | None
    yard: LinkShape | None
    saddles: list[LinkShape]
    visits: list[LinkShape]
    backs: list[LinkShape]
    studies: list[LinkShape]
    rechecks: list[LinkShape]
    n_photos: int


class SaddleRowShape(Shape):
    """A saddle in a list."""

    uuid: UUID
    label: str
    holding: Holding
    family: str
    seat_size_in: float | None
    serial: str
    client: str
    is_measured: bool


class SaddleListShape(ListShape):
    """A page of saddles."""

    rows: list[SaddleRowShape]


class SaddleShape(Shape):
    """A saddle. Its record as measured is a document of its own."""

    uuid: UUID
    label: str
    revision: int
    holding: Holding
    values: SaddleValues
    client: LinkShape | None
    horses: list[LinkShape]
    studies: list[LinkShape]
    n_versions: int
    current_number: int | None


class VisitRowShape(Shape):
    """A visit in a list."""

    uuid: UUID
    day: date
    horse: LinkShape | None
    label: str
    place: str
    purpose: str
    state: VisitState
    by: str
    revision: int


class VisitListShape(ListShape):
    """A page of visits."""

    rows: list[VisitRowShape]


class HeldShape(Shape):
    """A value that was not applied, because another came first."""

    value: JsonValue
    by: str
    at: datetime


class AnswerShape(Shape):
    """What a field holds."""

    value: JsonValue
    revision: int
    entered_by: str
    entered_at: datetime | None
    held: list[HeldShape]


class TriedShape(Shape):
    """A saddle tried at a visit."""

    uuid: UUID
    saddle: LinkShape
    revision: int
    answers: dict[str, AnswerShape]
    stops: dict[str, list[str]]


class AdviceShape(Shape):
    """Advice that was given; it is never edited."""

    said: str
    is_declined: bool
    declined_by: str
    at: datetime
    by: str


class WeightShape(Shape):
    """What the horse weighs, estimated from girth and length."""

    mass_kg: float


class VisitShape(Shape):
    """A visit, field by field. `stops` end the fitting, and say who comes first."""

    uuid: UUID
    revision: int
    day: date
    zone: str
    head: dict[str, JsonValue]
    horse: LinkShape | None
    answers: dict[str, AnswerShape]
    tried: list[TriedShape]
    advice: list[AdviceShape]
    n_photos: int
    stops: dict[str, list[str]]
    weight: WeightShape | None
    carried: float | None


class RecheckShape(Shape):
    """When a horse is to be seen again."""

    uuid: UUID
    label: str
    due_from: date
    due_by: date
    reason: str


class BackRowShape(Shape):
    """A back in a list."""

    uuid: UUID
    label: str
    horse: LinkShape
    visit: UUID | None
    measured_on: date
    number: int | None
    sha256: str


class BackListShape(ListShape):
    """A page of backs."""

    rows: list[BackRowShape]


class BackShape(Shape):
    """A back as recorded; its record is a document of its own."""

    uuid: UUID
    label: str
    horse: LinkShape
    visit: UUID | None
    measured_on: date
    number: int | None
    n_versions: int
    made_at: datetime | None
    made_by: str
    capture: bool


class VersionShape(Shape):
    """One version of a record."""

    uuid: UUID
    number: int
    is_current: bool
    made_at: datetime
    made_by: str
    why: str
    schema_id: str
    sha256: str
    engine_version: str


class DifferenceShape(Shape):
    """A place in a document where two versions differ; null where one has nothing there."""

    place: str
    before: JsonValue
    after: JsonValue


class EventShape(Shape):
    """One thing that happened to a horse."""

    day: date
    at: datetime
    subject: Subject
    uuid: UUID
    label: str
    by: str
    number: int | None
    detail: str


class TimelineShape(ListShape):
    """A page of a horse's events, the newest first."""

    horse: str
    rows: list[EventShape]


class EntryShape(Shape):
    """Who entered what when."""

    at: datetime
    by: str
    field: str
    before: JsonValue
    value: JsonValue
    outcome: Outcome
    revision: int


class DiaryEntryShape(Shape):
    """A visit planned or under way, a re-check or a work order that is due, the end of a trial."""

    uuid: UUID
    kind: DiaryKind
    is_recheck: bool
    day: date
    due_from: date | None
    starts_at: datetime | None
    label: str
    horse: str
    horse_uuid: UUID | None
    place: str
    client: str
    reason: str


class DiaryShape(Shape):
    """The days asked for, and who is overdue."""

    first: date
    last: date
    overdue: list[DiaryEntryShape]
    n_overdue: int
    entries: list[DiaryEntryShape]
