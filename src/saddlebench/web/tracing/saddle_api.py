"""A saddle's tracings for other programs: photos to be read, what they make, and recording it."""

import uuid as uuids
from typing import Annotated, Any

from django.http import HttpRequest, HttpResponse
from ninja import Router, Status
from pydantic import Field

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.instruments import instrument_text
from saddlebench.exchange.phrases import SCREENING_NOTE
from saddlebench.exchange.records import SaddleDocument, as_json
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.across_saddle import SectionsStated, stated_problems
from saddlebench.exchange.tracings.traced_saddle_words import tracing_measures, tracing_sentences
from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.jobs import JobPage, job_page
from saddlebench.practice.queries.photos import photo
from saddlebench.web.base.interface import ByToken, Given, Shape, actor_of, gives
from saddlebench.web.base.job_shape import JobShape
from saddlebench.web.base.measured_saddle import (
    UndersideVersionShape,
    refuse_without_panels,
    underside_recorded,
)
from saddlebench.web.tracing.paper_shapes import PaperCorners, Ruler
from saddlebench.web.tracing.saddle_held import SaddleTracings, kept_tracings, made_of
from saddlebench.web.tracing.saddle_pages import WHY, drawn_of
from saddlebench.web.tracing.saddle_working import ask_saddle_corners, ask_saddle_tracings
from saddlebench.web.tracing.starting import MOST_PHOTOS, curve_named

router = Router()
Number = Annotated[float, Field(ge=-1000.0, le=1000.0)]


class NewSaddleTracings(Given):
    """Photos with the saddle that show curves across its panels, and what was measured beside them.

    Lists hold a value for each of the stations 1, 2, 3 …: `behind` the front edge of the panels in mm;
    `leans` of a rule across both panels in degrees, saddle upside down, near side higher plus; `gaps` to a
    rod along the near panel in mm; `channel` by tape in mm where no strokes mark the inner edges.
    """

    photos: Annotated[list[uuids.UUID], Field(min_length=1, max_length=MOST_PHOTOS)]
    instrument: Annotated[str, Field(max_length=80)] = "curve-mm"
    behind: Annotated[list[Number], Field(min_length=1, max_length=40)]
    leans: Annotated[tuple[Number | None, ...], Field(max_length=40)] = ()
    gaps: Annotated[tuple[Number, ...], Field(max_length=40)] = ()
    channel: Annotated[tuple[Number | None, ...], Field(max_length=40)] = ()
    mirrored: bool = False
    ruler_across: Ruler | None = None
    ruler_down: Ruler | None = None


class SaddlePhotoShape(Shape):
    """One photo: the stations of its curves, or why it waits for its corners."""

    number: int
    photo: uuids.UUID
    stations: list[int]
    waits: str


class SaddleTracingsShape(Shape):
    """What the tracings make as they stand; nothing of it is recorded yet."""

    photos: list[SaddlePhotoShape]
    measures: dict[str, Any] | None
    sentences: list[str]
    remarks: list[str]
    still_missing: list[str]
    caution: str


@router.post(
    "saddles/{uuid:uuid}/tracings/{uuid:key}",
    auth=ByToken(Action.RECORD_SADDLE),
    response={202: JobShape},
)
def read_saddle_photos(
    request: HttpRequest, uuid: uuids.UUID, key: uuids.UUID, body: NewSaddleTracings
) -> Status[JobPage]:
    """Have photos of a saddle's tracings read; `key` names them from then on."""
    actor = actor_of(request)
    page = queries.saddle_page(actor, uuid)
    refuse_without_panels(actor, uuid)
    for one in body.photos:
        photo(actor, one)
    stated = SectionsStated(
        behind_mm=tuple(body.behind),
        leans_deg=tuple(body.leans),
        gaps_mm=tuple(body.gaps),
        channel_mm=tuple(body.channel),
        mirrored=body.mirrored,
    )
    problems = stated_problems(stated)
    if problems:
        raise InputProblemsError(problems)
    held = SaddleTracings(
        saddle=uuid,
        instrument=instrument_text(curve_named(actor, body.instrument)),
        stated=stated,
        ruler_mm=(body.ruler_across, body.ruler_down),
    )
    job = ask_saddle_tracings(actor, held, page.label, body.photos, key)
    return Status(202, job_page(actor, job))


@router.get(
    "saddles/{uuid:uuid}/tracings/{uuid:key}",
    auth=ByToken(Action.RECORD_SADDLE),
    response=SaddleTracingsShape,
)
def get_saddle_tracings(request: HttpRequest, uuid: uuids.UUID, key: uuids.UUID) -> SaddleTracingsShape:
    """Give what a saddle's tracings make, or what is still missing."""
    actor = actor_of(request)
    held = kept_tracings(actor, uuid, key)
    photos = [
        SaddlePhotoShape(number=one.number, photo=one.photo, stations=list(one.stations), waits="")
        for one in held.photos
    ]
    photos += [
        SaddlePhotoShape(number=one.number, photo=one.photo, stations=[], waits=one.reason)
        for one in held.unread
    ]
    try:
        made = made_of(actor, held)
    except InputProblemsError as error:
        return SaddleTracingsShape(
            photos=photos,
            measures=None,
            sentences=[],
            remarks=[],
            still_missing=[str(one) for one in error.problems],
            caution=SCREENING_NOTE,
        )
    return SaddleTracingsShape(
        photos=photos,
        measures=tracing_measures(made),
        sentences=tracing_sentences(made),
        remarks=[str(one) for one in made.remarks],
        still_missing=[],
        caution=SCREENING_NOTE,
    )


@router.get(
    "saddles/{uuid:uuid}/tracings/{uuid:key}/picture",
    auth=ByToken(Action.RECORD_SADDLE),
    openapi_extra=gives("image/svg+xml"),
)
def get_saddle_tracings_picture(request: HttpRequest, uuid: uuids.UUID, key: uuids.UUID) -> HttpResponse:
    """Give the picture of what the tracings make."""
    return HttpResponse(drawn_of(actor_of(request), uuid, key), content_type="image/svg+xml")


@router.post(
    "saddles/{uuid:uuid}/tracings/{uuid:key}/photos/{number}/corners",
    auth=ByToken(Action.RECORD_SADDLE),
    response={202: JobShape},
)
def set_saddle_corners(
    request: HttpRequest, uuid: uuids.UUID, key: uuids.UUID, number: int, body: PaperCorners
) -> Status[JobPage]:
    """Have a photo of plain paper read by its corners, as marked by hand."""
    actor = actor_of(request)
    page = queries.saddle_page(actor, uuid)
    shown = photo(actor, kept_tracings(actor, uuid, key).photo_uuid(number))
    frame = body.frame_on(shown, SheetKind.SADDLE)
    ask_saddle_corners(actor, uuid, key, page.label, number, frame, body.uuid)
    return Status(202, job_page(actor, body.uuid))


@router.post(
    "saddles/{uuid:uuid}/tracings/{uuid:key}/record",
    auth=ByToken(Action.RECORD_SADDLE),
    response=UndersideVersionShape,
)
def record_saddle_tracings(
    request: HttpRequest, uuid: uuids.UUID, key: uuids.UUID, seen: int = 0
) -> UndersideVersionShape:
    """Record what the tracings make as a new version; `seen` is the version it was decided on."""
    actor = actor_of(request)
    made = made_of(actor, kept_tracings(actor, uuid, key))
    return underside_recorded(actor, uuid, as_json(SaddleDocument.of(made.record)), why=WHY, seen=seen)
