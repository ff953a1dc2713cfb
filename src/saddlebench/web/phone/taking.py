"""What a phone kept, taken in: each entry once, in order, whether it comes over the air or in a file."""

import uuid as uuids
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, JsonValue, TypeAdapter, ValidationError

from saddlebench.engine.errors import InputProblemsError, Problem, SaddlebenchError
from saddlebench.exchange.instruments import instrument_from_text, instrument_text
from saddlebench.practice import services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Outcome, Purpose, Subject
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import Entered, EntryResult, SameMomentError
from saddlebench.web.phone.protocol import is_spoken

MOST_ENTRIES = 1000
REFUSED = "refused"
_MEETINGS = 3
"""How often a deed is done again that met another writer."""
_T = TypeVar("_T")
_Name = Annotated[str, Field(min_length=1, max_length=80)]
_Text = Annotated[str, Field(max_length=10_000)]


class _Kept(BaseModel):
    model_config = ConfigDict(extra="ignore")
    key: uuids.UUID
    uuid: uuids.UUID
    """Of the record that it makes or is about."""


class NewHorse(_Kept):
    """A horse met at the yard, by its name."""

    kind: Literal["horse"]
    label: Annotated[str, Field(min_length=1, max_length=200)]


class NewVisit(_Kept):
    """A visit begun at the horse; its horse's record may come later."""

    kind: Literal["visit"]
    on: date
    purpose: Purpose
    horse: uuids.UUID | None = None
    label: Annotated[str, Field(max_length=200)] = ""


class NewCapture(_Kept):
    """A back begun, with the instrument as it is described on the phone."""

    kind: Literal["capture"]
    horse: uuids.UUID
    visit: uuids.UUID | None = None
    measured_on: date
    instrument: Annotated[str, Field(max_length=1_000_000)]


class TriedSaddle(_Kept):
    """A saddle tried at the visit `uuid`."""

    kind: Literal["try"]
    saddle: uuids.UUID


class Advice(_Kept):
    """Advice given at a visit, and whether it was declined."""

    kind: Literal["advice"]
    visit: uuids.UUID
    said: Annotated[str, Field(min_length=1, max_length=10_000)]
    declined: bool = False
    declined_by: Annotated[str, Field(max_length=200)] = ""


class Value(_Kept):
    """One value: of a visit, of a saddle tried there (`saddle` is given), or a reading of a back."""

    kind: Literal["value", "reading"]
    saddle: uuids.UUID | None = None
    field: _Name
    value: JsonValue
    seen: Annotated[int, Field(ge=0, le=2**31 - 1)]


AnyEntry = Annotated[
    NewHorse | NewVisit | NewCapture | TriedSaddle | Advice | Value, Field(discriminator="kind")
]
_ENTRY: TypeAdapter[AnyEntry] = TypeAdapter(AnyEntry)


@dataclass(frozen=True, slots=True, kw_only=True)
class Other:
    """The value that stands instead of one that was held."""

    value: Any
    by: str
    at: datetime
    revision: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What became of one entry."""

    key: str
    outcome: str
    """saved, same, held (somebody else entered another value meanwhile: both are told), refused."""
    revision: int = 0
    other: Other | None = None
    problems: tuple[Problem, ...] = ()

    @property
    def told(self) -> dict[str, Any]:
        """The same as it is sent to the phone."""
        other = self.other
        return {
            "key": self.key,
            "outcome": self.outcome,
            "revision": self.revision,
            "other": other
            and {
                "value": other.value,
                "by": other.by,
                "at": other.at.isoformat(),
                "revision": other.revision,
            },
            "problems": [{"what": one.what, "cure": one.cure} for one in self.problems],
        }


def take(actor: Actor, raw: Sequence[Mapping[str, Any]]) -> list[Taken]:
    """Take in entries in the order in which they were made; one that is refused does not stop the others.

    An entry that was taken in before changes nothing: what became of it then is told again.
    """
    results: list[Taken] = []
    taking = _Taking(actor=actor, revisions={})
    waiting: list[Value] = []
    for one in raw:
        entry = _read(one)
        if isinstance(entry, Value) and _joins(waiting, entry):
            waiting.append(entry)
            continue
        results += taking.values(waiting)
        waiting = []
        if isinstance(entry, Taken):
            results.append(entry)
        elif isinstance(entry, Value):
            waiting = [entry]
        else:
            results.append(taking.record(entry))
    return [*results, *taking.values(waiting)]


def _read(raw: Mapping[str, Any]) -> AnyEntry | Taken:
    # Each says what its pages spoke: older ones wait on a phone while its pages are renewed.
    if isinstance(raw, Mapping) and not is_spoken(raw.get("protocol", 1)):
        what = "The entry was made with the pages of a newer program"
        return _unread(
            raw, Problem(what=what, cure="It stays on the phone, and is taken by a newer program.")
        )
    try:
        return _ENTRY.validate_python(raw)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(part) for part in first["loc"])
        problem = Problem(
            what=f"The entry cannot be read ({place}: {first['msg']})",
            cure="It stays on the phone. Save it as a file, and renew the phone's pages.",
        )
        return _unread(raw, problem)


def _unread(raw: Mapping[str, Any], problem: Problem) -> Taken:
    key = raw.get("key") if isinstance(raw, Mapping) else None
    return Taken(key=str(key)[:40], outcome=REFUSED, problems=(problem,))


def _joins(waiting: Sequence[Value], entry: Value) -> bool:
    """Tell whether a value can be entered in one deed with those before it: same record, another field."""
    if not waiting:
        return False
    first = waiting[0]
    return (first.kind, first.uuid, first.saddle) == (entry.kind, entry.uuid, entry.saddle) and all(
        one.field != entry.field for one in waiting
    )


@dataclass(slots=True, kw_only=True)
class _Taking:
    """Entries of one call."""

    actor: Actor
    revisions: dict[tuple[uuids.UUID, uuids.UUID | None, str], int]
    """By value: the revision at which this phone's own last entry was saved. It has seen that."""

    def record(self, entry: NewHorse | NewVisit | NewCapture | TriedSaddle | Advice) -> Taken:
        try:
            _whoever_else_writes(lambda: self._make(entry))
        except SaddlebenchError as error:
            return _refused(entry.key, error)
        return Taken(key=str(entry.key), outcome=Outcome.SAVED.value)

    def _make(self, entry: NewHorse | NewVisit | NewCapture | TriedSaddle | Advice) -> None:
        match entry:
            case NewHorse():
                services.take_on_horse(self.actor, {"label": entry.label}, entry.uuid)
            case NewVisit():
                services.start_visit(
                    self.actor,
                    on=entry.on,
                    purpose=entry.purpose,
                    horse=entry.horse,
                    label=entry.label,
                    uuid=entry.uuid,
                )
            case NewCapture():
                tool = instrument_from_text(entry.instrument, "instrument")
                services.start_capture(
                    self.actor,
                    entry.horse,
                    Document(text=instrument_text(tool)),
                    measured_on=entry.measured_on,
                    visit_uuid=entry.visit,
                    uuid=entry.uuid,
                )
            case TriedSaddle():
                services.try_saddle(self.actor, entry.uuid, entry.saddle)
            case Advice():
                services.give_advice(
                    self.actor,
                    entry.visit,
                    entry.said,
                    declined=entry.declined,
                    declined_by=entry.declined_by,
                    uuid=entry.uuid,
                )

    def values(self, entries: Sequence[Value]) -> Iterator[Taken]:
        """Enter values of one record; where one of them is refused, each by itself."""
        if not entries:
            return
        try:
            results = _whoever_else_writes(lambda: self._enter(entries))
        except SaddlebenchError as error:
            if len(entries) == 1:
                yield _refused(entries[0].key, error)
                return
            for one in entries:
                yield from self.values([one])
            return
        for one, result in zip(entries, results, strict=True):
            if result.outcome is not Outcome.HELD:
                self.revisions[one.uuid, one.saddle, one.field] = result.revision
            yield _told(one.key, result)

    def _enter(self, entries: Sequence[Value]) -> tuple[EntryResult, ...]:
        made = [
            Entered(field=one.field, value=one.value, key=one.key, seen=self._seen(one)) for one in entries
        ]
        first = entries[0]
        if first.kind == "reading":
            return services.enter_readings(self.actor, first.uuid, made)
        if first.saddle is None:
            return services.enter(self.actor, Subject.VISIT, first.uuid, made)
        tried = services.try_saddle(self.actor, first.uuid, first.saddle)
        return services.enter(self.actor, Subject.VISIT_SADDLE, tried.uuid, made)

    def _seen(self, one: Value) -> int:
        return max(one.seen, self.revisions.get((one.uuid, one.saddle, one.field), 0))


def _whoever_else_writes(deed: Callable[[], _T]) -> _T:
    """Do a deed, and again where another request wrote at that moment: a phone that starts sends twice."""
    for _ in range(_MEETINGS):
        try:
            return deed()
        except SameMomentError:
            continue
    return deed()


def _told(key: uuids.UUID, result: EntryResult) -> Taken:
    held = result.other
    other = None
    if held is not None:
        other = Other(value=held.value, by=held.entered_by, at=held.entered_at, revision=held.revision)
    return Taken(key=str(key), outcome=result.outcome.value, revision=result.revision, other=other)


def _refused(key: uuids.UUID, error: SaddlebenchError) -> Taken:
    if isinstance(error, InputProblemsError):
        problems = tuple(
            replace(one, what=str(one.where) + ": " + one.what) if str(one.where) else one
            for one in error.problems
        )
    else:
        problems = (
            Problem(what=str(error).rstrip("."), cure="It stays on the phone until it is put right."),
        )
    return Taken(key=str(key), outcome=REFUSED, problems=problems)
