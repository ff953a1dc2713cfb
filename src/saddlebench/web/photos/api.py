"""Photos and films for other programs: added by their bytes, given back by them, drawn on."""

import hashlib
import uuid as uuids
from datetime import date, datetime
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from ninja import Router, Status
from pydantic import Field, JsonValue

from saddlebench.engine.errors import Where, input_problem
from saddlebench.exchange.films.limits import LARGEST_FILM_BYTES
from saddlebench.practice.catalogue.shots import Shot
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.photos import PhotoShown, photo, shot_list
from saddlebench.practice.queries.record_lists import Listed, list_photos
from saddlebench.practice.queries.standing import standing_in
from saddlebench.practice.services import attach_photo
from saddlebench.practice.services.photos import (
    describe_photo,
    draw_on_photo,
    keep_photo_anyway,
    rub_off_photo,
)
from saddlebench.web.base.interface import (
    ByToken,
    ConflictError,
    Given,
    LinkShape,
    ListShape,
    PageNumber,
    Shape,
    actor_of,
    body_of,
    gives,
    is_there,
    takes,
)
from saddlebench.web.photos.keeping import keep
from saddlebench.web.photos.measuring import angles_found
from saddlebench.web.photos.showing import file_of, small_of

router = Router(tags=["photos"])
_LONG = 10_000
_BODY = takes(
    "application/octet-stream", {}, "The picture or film, byte for byte; what it is, is seen from it."
)
Fraction = Annotated[float, Field(ge=0.0, le=1.0)]


class PhotoShape(Shape):
    """A photo or film. `flaws` is what the check found and nobody decided on yet."""

    uuid: uuids.UUID
    shot: str
    media_type: str
    sha256: str
    original_sha256: str
    width_px: int | None
    height_px: int | None
    size_bytes: int
    day: date
    taken_at: datetime | None
    made_at: datetime
    by: str
    flaws: list[str]
    kept_anyway: list[str]
    drawn: list[dict[str, JsonValue]]
    note: str
    visit: uuids.UUID | None
    horse: LinkShape | None
    saddle: LinkShape | None


class PhotoListShape(ListShape):
    """A page of photos."""

    rows: list[PhotoShape]


class ShotShape(Shape):
    """A photo that the practice takes at a visit."""

    name: str
    words: str


class Described(Given):
    """A photo's shot and note. `seen` is the note that was read before this one was written."""

    shot: Annotated[str, Field(max_length=48)]
    note: Annotated[str, Field(max_length=_LONG)]
    seen: Annotated[str, Field(max_length=_LONG)] = ""


class Mark(Given):
    """A mark on a photo: points as fractions of its width and height, from the upper left.

    `level` and `upright` are lines that are so on the spot, with their length if it is known; `topline`,
    `shoulder` and `points` are lines whose angle against the level is measured.
    """

    kind: Literal["line", "angle", "known", "distance", "level", "upright", "topline", "shoulder", "points"]
    points: Annotated[list[tuple[Fraction, Fraction]], Field(min_length=2, max_length=3)]
    known_mm: Annotated[float, Field(gt=0, le=10_000)] | None = None


class AngleShape(Shape):
    """The angle of a line marked as topline, shoulder or points, against the level; null: cannot be told.

    `sd_deg` is its standard deviation; `said` says what it is measured against, or why there is none. A
    screening aid, not a diagnosis.
    """

    kind: str
    deg: float | None
    sd_deg: float | None
    said: str


@router.get("photos", auth=ByToken(Action.SEE_HORSES), response=PhotoListShape)
def get_photos(
    request: HttpRequest,
    visit: uuids.UUID | None = None,
    horse: uuids.UUID | None = None,
    saddle: uuids.UUID | None = None,
    page: PageNumber = 1,
) -> Listed[PhotoShown]:
    """List photos and films, those added last first; all of them, or a visit's, a horse's, a saddle's."""
    return list_photos(actor_of(request), visit=visit, horse=horse, saddle=saddle, page=page)


@router.get("shots", auth=ByToken(Action.SEE_HORSES), response=list[ShotShape])
def get_shots(request: HttpRequest) -> list[Shot]:
    """List the photos that the practice takes at a visit."""
    return list(shot_list(actor_of(request)))


@router.get("photos/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=PhotoShape)
def get_photo(request: HttpRequest, uuid: uuids.UUID) -> PhotoShown:
    """Give what is known of a photo or film."""
    return photo(actor_of(request), uuid)


@router.put(
    "photos/{uuid:uuid}",
    auth=ByToken(Action.ENTER_VISIT),
    response={200: PhotoShape, 201: PhotoShape},
    openapi_extra=_BODY,
)
def put_photo(
    request: HttpRequest,
    uuid: uuids.UUID,
    visit: uuids.UUID | None = None,
    horse: uuids.UUID | None = None,
    saddle: uuids.UUID | None = None,
    shot: Annotated[str, Field(max_length=48)] = "",
) -> Status[PhotoShown]:
    """Add a photo or film to a visit, a horse or a saddle, under a uuid that the caller chooses."""
    actor = actor_of(request)
    content = body_of(request, LARGEST_FILM_BYTES)
    original = hashlib.sha256(content).hexdigest()
    if is_there(lambda: photo(actor, uuid)):
        there = photo(actor, uuid)
        if there.original_sha256 != original:
            said = "There is a photo with this uuid already, and it is another one. Nothing was kept."
            raise ConflictError(
                said, {"mine": {"sha256": original}, "theirs": {"sha256": there.original_sha256}}
            )
        return Status(200, there)
    if shot and shot not in {one.name for one in shot_list(actor)}:
        cure = "Take a name of the shot list, or leave it out."
        raise input_problem(f"“{shot}” is no shot of this practice", cure, Where(field="shot"))  # noqa: EM102
    stored, facts = keep(content, shot, ZoneInfo(standing_in(actor).zone))
    attach_photo(actor, stored, facts, visit=visit, horse=horse, saddle=saddle, uuid=uuid)
    return Status(201, photo(actor, uuid))


@router.get(
    "photos/{uuid:uuid}/file",
    auth=ByToken(Action.SEE_HORSES),
    openapi_extra=gives(
        "image/jpeg", "image/png", "image/webp", "video/mp4", "video/quicktime", "video/webm"
    ),
)
def get_file(request: HttpRequest, uuid: uuids.UUID) -> HttpResponse:
    """Give a photo's or film's bytes; of a film also a part, by Range."""
    shown = photo(actor_of(request), uuid)
    response = file_of(shown, request.headers.get("Range", ""))
    if response.status_code == 200:
        response["ETag"] = f'"{shown.sha256}"'
    return response


@router.get("photos/{uuid:uuid}/small", auth=ByToken(Action.SEE_HORSES), openapi_extra=gives("image/jpeg"))
def get_small(request: HttpRequest, uuid: uuids.UUID) -> HttpResponse:
    """Give a photo's small copy."""
    return small_of(photo(actor_of(request), uuid))


@router.patch("photos/{uuid:uuid}", auth=ByToken(Action.ENTER_VISIT), response=PhotoShape)
def describe(request: HttpRequest, uuid: uuids.UUID, body: Described) -> PhotoShown:
    """Set a photo's shot and note; if somebody else changed the note meanwhile, both stay in it."""
    actor = actor_of(request)
    describe_photo(actor, uuid, shot=body.shot, note=body.note, seen=body.seen)
    return photo(actor, uuid)


@router.post("photos/{uuid:uuid}/keep-anyway", auth=ByToken(Action.ENTER_VISIT), response=PhotoShape)
def keep_anyway(request: HttpRequest, uuid: uuids.UUID) -> PhotoShown:
    """Decide that a photo is kept with what the check found in it."""
    keep_photo_anyway(actor_of(request), uuid)
    return photo(actor_of(request), uuid)


@router.get("photos/{uuid:uuid}/angles", auth=ByToken(Action.SEE_HORSES), response=list[AngleShape])
def get_angles(request: HttpRequest, uuid: uuids.UUID) -> list[AngleShape]:
    """Give the angles that are measured on a photo, with how sure they are."""
    shown = photo(actor_of(request), uuid)
    return [
        AngleShape(kind=one.kind, deg=None, sd_deg=None, said=one.reason)
        if one.angle is None
        else AngleShape(
            kind=one.kind, deg=one.angle.deg, sd_deg=one.angle.sd_deg, said=f"against {one.angle.against}"
        )
        for one in angles_found(shown.drawn, shown.width_px, shown.height_px)
    ]


@router.put("photos/{uuid:uuid}/marks/{uuid:key}", auth=ByToken(Action.ENTER_VISIT), response=PhotoShape)
def draw(request: HttpRequest, uuid: uuids.UUID, key: uuids.UUID, body: Mark) -> PhotoShown:
    """Draw a mark on a photo; the same key again is the same mark."""
    actor = actor_of(request)
    draw_on_photo(actor, uuid, body.kind, body.points, key=key, known_mm=body.known_mm)
    return photo(actor, uuid)


@router.delete("photos/{uuid:uuid}/marks/{uuid:key}", auth=ByToken(Action.ENTER_VISIT), response=PhotoShape)
def rub_off(request: HttpRequest, uuid: uuids.UUID, key: uuids.UUID) -> PhotoShown:
    """Take a mark off a photo; one that is off already stays off."""
    actor = actor_of(request)
    rub_off_photo(actor, uuid, key)
    return photo(actor, uuid)
