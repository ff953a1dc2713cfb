"""What a slice's part of the program interface is made of: who may, bodies in bounds, conflicts told.

A slice adds addresses by a module `api.py` that gives a `router`; every operation on it says by
`auth=ByToken(Action…)` what its caller's role has to include.
"""

import hashlib
import uuid as uuids
from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Annotated, Any, TypeVar

from django.http import HttpRequest
from ninja import Schema, Status
from ninja.security import HttpBearer
from pydantic import ConfigDict, Field, JsonValue

from saddlebench.engine.errors import SaddlebenchError
from saddlebench.practice.catalogue import Field as CatalogueField
from saddlebench.practice.catalogue import Kind
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services import Entered, EntryResult, NotFoundError, enter
from saddlebench.practice.services.tokens import actor_of_token
from saddlebench.web.base.pairing import remote_address
from saddlebench.web.base.tries import Allowance

_Page = TypeVar("_Page")

TRUSTED = "saddlebench.actor"
"""Where a caller inside this process puts whom it acts for; nothing that comes over a network can."""
LARGEST_TABLE = 5_000_000
_MOST_WRONG = 60
_LONGEST_TOKEN = 200


class TooLargeError(SaddlebenchError):
    """What was sent is larger than is taken."""

    def __init__(self, most: int) -> None:
        super().__init__(f"At most {most / 1e6:.3g} MB are taken at this address. Nothing was saved.")


class TooManyTriesError(SaddlebenchError):
    """Somebody tries tokens."""

    def __init__(self) -> None:
        super().__init__("Too many wrong tokens came from there. Wait a quarter of an hour.")


class ConflictError(SaddlebenchError):
    """What was sent cannot stand beside what is there; nobody's is lost, and both are told."""

    def __init__(self, said: str, both: Mapping[str, Any]) -> None:
        self.both = dict(both)
        super().__init__(said)


class ByToken(HttpBearer):
    """Lets in who sends a token in the header, if its role includes an action. Cookies are not looked at."""

    def __init__(self, action: Action) -> None:
        self.action = action
        super().__init__()

    def __call__(self, request: HttpRequest) -> Actor | None:
        """Return whom the request acts for."""
        trusted = request.META.get(TRUSTED)
        if isinstance(trusted, Actor):
            return require(trusted, self.action)
        return super().__call__(request)

    def authenticate(self, request: HttpRequest, token: str) -> Actor | None:
        """Return whom a token acts for; None where it is none that stands."""
        actor = actor_of_token(token) if len(token) <= _LONGEST_TOKEN else None
        if actor is None:
            _count_wrong(request)
            return None
        request.token_mark = hashlib.sha256(token.encode()).hexdigest()[:32]  # type: ignore[attr-defined]
        return require(actor, self.action)


def _count_wrong(request: HttpRequest) -> None:
    # Right tokens are never held up by wrong ones from the same address: a yard shares one.
    tries = Allowance(key=f"token:from:{remote_address(request)}", most=_MOST_WRONG)
    if tries.is_spent():
        raise TooManyTriesError
    tries.count()


def actor_of(request: HttpRequest) -> Actor:
    """Return whom a request acts for."""
    return request.auth  # type: ignore[attr-defined]


def is_there(read: Callable[[], object]) -> bool:
    """Tell whether a record can be read already."""
    try:
        read()
    except NotFoundError:
        return False
    return True


def made(page: _Page, *, was_there: bool) -> Status[_Page]:
    """Return the answer to making a record: 201, or 200 where it was there already."""
    return Status(200 if was_there else 201, page)


def body_of(request: HttpRequest, most: int) -> bytes:
    """Return what was sent, byte for byte.

    Raises
    ------
    TooLargeError
        If it is more than `most` bytes.
    """
    content = request.read(most + 1)
    if len(content) > most:
        raise TooLargeError(most)
    return bytes(content)


def takes(media_type: str, schema: Mapping[str, Any], about: str) -> dict[str, Any]:
    """Return how the description states a body that is taken byte for byte."""
    content = {media_type: {"schema": dict(schema)}}
    return {"requestBody": {"required": True, "description": about, "content": content}}


def gives(*media_types: str) -> dict[str, Any]:
    """Return how the description states an answer that is a file."""
    content: dict[str, Any] = {one: {"schema": {}} for one in media_types}
    return {"responses": {200: {"description": "The file", "content": content}}}


class Shape(Schema):
    """What goes out."""


class LinkShape(Shape):
    """A record that another leads to."""

    uuid: uuids.UUID
    label: str
    day: date | None = None
    detail: str = ""


class ListShape(Shape):
    """Where a page of rows stands among the others: fifty rows a page, counted from 1."""

    total: int
    page: int
    pages: int


class Given(Schema):
    """What comes in: nothing that is not known here is taken."""

    model_config = ConfigDict(extra="forbid")


class New(Given):
    """A record to make. Sent again with the same uuid, what was made then is answered."""

    uuid: uuids.UUID | None = None


class Change(Given):
    """Values to enter. `seen` is the revision they were decided on; `key` makes sending again harmless."""

    seen: Annotated[int, Field(ge=0, le=2**31 - 1)]
    key: uuids.UUID | None = None


PageNumber = Annotated[int, Field(ge=1, le=1_000_000)]
Searched = Annotated[str, Field(max_length=200)]
ShortText = Annotated[str, Field(max_length=200)]
Revision = Annotated[int, Field(ge=0, le=2**31 - 1)]
_JSON_TYPES: Mapping[Kind, dict[str, Any]] = {
    Kind.YES_NO: {"type": "boolean"},
    Kind.NUMBER: {"type": ["number", "string"]},
    Kind.HEIGHT: {"type": ["number", "string"]},
    Kind.WHOLE: {"type": ["integer", "string"]},
    Kind.CHOICES: {"type": "array", "items": {"type": "string"}},
    Kind.LIST: {"type": "array", "items": {"type": "string"}},
    Kind.DATE: {"type": "string", "format": "date"},
    Kind.PERSON: {"type": "object"},
    Kind.MARKS: {"type": "array"},
}


def values_schema(fields: Mapping[str, CatalogueField], links: tuple[str, ...] = ()) -> dict[str, Any]:
    """Return the JSON Schema of the values of a kind of record, as its catalogue describes them."""
    described = {name: _field_schema(one) for name, one in fields.items()}
    for name in links:
        described[name] = {"type": ["string", "null"], "format": "uuid", "description": f"The {name}'s uuid"}
    return {"type": "object", "properties": described, "additionalProperties": False}


def _field_schema(one: CatalogueField) -> dict[str, Any]:
    told = dict(_JSON_TYPES.get(one.kind, {"type": "string"}))
    about = f"{one.words} [{one.unit}]" if one.unit else one.words
    if one.low is not None and one.high is not None:
        about += f", {one.low:g} to {one.high:g}"
    if one.choices and one.kind is Kind.CHOICES:
        told["items"] = {"enum": list(one.choices)}
    elif one.choices:
        told["enum"] = [*one.choices, None]
    types = told.get("type")
    told["type"] = [*types, "null"] if isinstance(types, list) else [types, "null"]
    return {**told, "description": about}


class OtherShape(Shape):
    """What somebody else entered meanwhile."""

    value: JsonValue
    entered_by: str
    entered_at: datetime
    revision: int


class ResultShape(Shape):
    """What became of one value."""

    field: str
    value: JsonValue
    outcome: str
    revision: int
    other: OtherShape | None


def keyed(values: Mapping[str, JsonValue], seen: int, key: uuids.UUID | None) -> list[Entered]:
    """Return values as entries; sent again with the same key they count once."""
    whole = key or uuids.uuid4()
    return [
        Entered(field=name, value=value, key=uuids.uuid5(whole, name), seen=seen)
        for name, value in values.items()
    ]


def told(results: tuple[EntryResult, ...]) -> tuple[EntryResult, ...]:
    """Return the results if every value stands.

    Raises
    ------
    ConflictError
        With both values of each that somebody else changed meanwhile.
    """
    held = [one for one in results if one.other is not None]
    if held:
        names = ", ".join(one.field for one in held)
        said = (
            f"Somebody else changed this meanwhile: {names}. Yours is kept beside theirs, and not applied; "
            "send it again with the newer revision to apply it. Everything else that was sent is saved."
        )
        shapes = [ResultShape.model_validate(one).model_dump(mode="json") for one in results]
        both = [
            {**one, "mine": one["value"], "theirs": one["other"]["value"]} for one in shapes if one["other"]
        ]
        raise ConflictError(said, {"held": both, "saved": [one for one in shapes if not one["other"]]})
    return results


def change(
    request: HttpRequest, subject: Subject, uuid: uuids.UUID, given: Change, values: Mapping[str, JsonValue]
) -> None:
    """Enter what a change gives into a record.

    Raises
    ------
    ConflictError
        If somebody else changed one of the values since the revision that was seen.
    """
    told(enter(actor_of(request), subject, uuid, keyed(values, given.seen, given.key)))
