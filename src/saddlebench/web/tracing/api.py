"""Tracings for other programs: sheets to print, photos to be read, what was read, and keeping it."""

import uuid as uuids
from datetime import date
from typing import Annotated, Literal

from django.http import HttpRequest, HttpResponse
from ninja import Router, Status
from pydantic import Field

from saddlebench.engine.errors import Where, input_problem
from saddlebench.exchange.readers import read_by
from saddlebench.exchange.sheets.layout import PAPER_NAMES, SheetKind, layout_of
from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.jobs import JobPage, job_page
from saddlebench.practice.queries.photos import photo
from saddlebench.practice.services import NotFoundError
from saddlebench.web.base.interface import ByToken, Given, Shape, actor_of, gives
from saddlebench.web.base.job_shape import JobShape
from saddlebench.web.base.report_choices import chosen_by_program
from saddlebench.web.tracing.held import UnreadPhoto, held_photos, unread_photos
from saddlebench.web.tracing.looking import captured, enter, values_of_all
from saddlebench.web.tracing.paper_shapes import PaperCorners, Ruler
from saddlebench.web.tracing.saddle_api import router as saddle_router
from saddlebench.web.tracing.starting import MOST_PHOTOS, curve_named
from saddlebench.web.tracing.working import TracingAsked, ask_by_corners, ask_more, ask_tracings

router = Router(tags=["tracings"])
router.add_router("", saddle_router)
Millimetres = Annotated[float, Field(ge=-400.0, le=1200.0)]


class NewTracings(Given):
    """Photos of trace sheets that are with the horse already, and what is known of them.

    `instrument` is a traced curve's uuid or the name it comes with the program under; `distances` of stations
    1, 2, 3 … behind the shoulder mark in mm.
    """

    uuid: uuids.UUID
    horse: uuids.UUID
    measured_on: date
    instrument: Annotated[str, Field(max_length=80)]
    photos: Annotated[list[uuids.UUID], Field(min_length=1, max_length=MOST_PHOTOS)]
    distances: Annotated[list[Millimetres], Field(min_length=1, max_length=40)]
    topline_starts: Millimetres = 0.0
    topline_level: Annotated[float, Field(ge=-45.0, le=45.0)] = 0.0
    ruler_across: Ruler | None = None
    ruler_down: Ruler | None = None


class MorePhotos(Given):
    """Photos with the horse that are read into a measuring already begun; `uuid` names the job."""

    uuid: uuids.UUID
    photos: Annotated[list[uuids.UUID], Field(min_length=1, max_length=MOST_PHOTOS)]


class Corners(PaperCorners):
    """The four corners of a paper without marks, in dots of the photo, from the upper left one round.

    Its size, a length that is known on it, or both: then they are held against each other. `uuid` names the
    job.
    """

    kind: Literal["sections", "topline"] = "sections"


class UnreadShape(Shape):
    """A photo whose sheet has too few marks to be measured by: it waits for its corners."""

    number: int
    photo: uuids.UUID
    reason: str


class CurveShape(Shape):
    """A curve: its points in mm from its own midline (a topline's: from the sheet's cross), right and up."""

    station: int
    points: list[tuple[float, float]]
    seen: list[bool]
    point_sd_mm: float
    midline_by_mark: bool


class TracedPhotoShape(Shape):
    """What was read from one photo."""

    number: int
    photo: uuids.UUID
    kind: str
    kept: bool
    printed_across: float
    printed_down: float
    printed_sd: float
    printed_by: str
    remarks: list[str]
    curves: list[CurveShape]


@router.get(
    "trace-sheets/{kind}/{paper}",
    auth=ByToken(Action.SEE_HORSES),
    openapi_extra=gives("application/pdf"),
)
def get_trace_sheet(request: HttpRequest, kind: str, paper: str) -> HttpResponse:
    """Give a trace sheet: sections, topline or saddle, on a4, a3 or letter; `language` as its reader's."""
    actor_of(request)
    if kind not in list(SheetKind) or paper not in PAPER_NAMES:
        cure = "Ask for sections, topline or saddle, on a4, a3 or letter."
        raise input_problem("there is no such sheet", cure, Where(field="kind"))
    from saddlebench.report.trace_sheet import trace_sheet_pdf  # noqa: PLC0415 - slow to load

    with read_by(chosen_by_program(request).reader()):
        content = trace_sheet_pdf(layout_of(SheetKind(kind), paper))
    return HttpResponse(content, content_type="application/pdf")


@router.post("tracings", auth=ByToken(Action.RECORD_BACK), response={202: JobShape})
def ask_for_tracings(request: HttpRequest, body: NewTracings) -> Status[JobPage]:
    """Have photos read; the job's end is a measuring of the same uuid, whose curves wait to be kept."""
    actor = actor_of(request)
    horse = queries.horse_page(actor, body.horse)
    for one in body.photos:
        photo(actor, one)
    asked = TracingAsked(
        horse=body.horse,
        horse_label=horse.label,
        day=body.measured_on,
        instrument=curve_named(actor, body.instrument),
        photos=tuple(body.photos),
        distances_mm=tuple(body.distances),
        topline_starts_mm=body.topline_starts,
        topline_level_deg=body.topline_level,
        ruler_across_mm=body.ruler_across,
        ruler_down_mm=body.ruler_down,
    )
    ask_tracings(actor, asked, body.uuid)
    return Status(202, job_page(actor, body.uuid))


@router.get("tracings/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=list[TracedPhotoShape])
def get_tracings(request: HttpRequest, uuid: uuids.UUID) -> list[TracedPhotoShape]:
    """Give what was read from each photo of a measuring."""
    return _shown(request, uuid)


@router.post("tracings/{uuid:uuid}/photos", auth=ByToken(Action.RECORD_BACK), response={202: JobShape})
def add_photos(request: HttpRequest, uuid: uuids.UUID, body: MorePhotos) -> Status[JobPage]:
    """Have more photos read into a measuring; the coarsest photo's error is then stated of them all."""
    actor = actor_of(request)
    page = captured(actor, uuid)
    for one in body.photos:
        photo(actor, one)
    ask_more(actor, page, body.photos, body.uuid)
    return Status(202, job_page(actor, body.uuid))


@router.get("tracings/{uuid:uuid}/unread", auth=ByToken(Action.SEE_HORSES), response=list[UnreadShape])
def get_unread(request: HttpRequest, uuid: uuids.UUID) -> list[UnreadPhoto]:
    """Give the photos of a measuring that wait for their corners."""
    return list(unread_photos(captured(actor_of(request), uuid)))


@router.post(
    "tracings/{uuid:uuid}/photos/{number}/corners",
    auth=ByToken(Action.RECORD_BACK),
    response={202: JobShape},
)
def set_corners(request: HttpRequest, uuid: uuids.UUID, number: int, body: Corners) -> Status[JobPage]:
    """Have a photo read by its paper's corners, as marked by hand."""
    actor = actor_of(request)
    page = captured(actor, uuid)
    held = page.values.get(f"trace/{number}/photo")
    if held is None:
        raise NotFoundError("photo of a tracing", str(number))
    frame = body.frame_on(photo(actor, uuids.UUID(str(held))), SheetKind(body.kind))
    ask_by_corners(actor, page, number, frame, body.uuid)
    return Status(202, job_page(actor, body.uuid))


@router.post("tracings/{uuid:uuid}/keep", auth=ByToken(Action.RECORD_BACK), response=list[TracedPhotoShape])
def keep_tracings(request: HttpRequest, uuid: uuids.UUID) -> list[TracedPhotoShape]:
    """Keep every curve as it was found: they become the measuring's readings."""
    page = captured(actor_of(request), uuid)
    enter(actor_of(request), page, values_of_all(page), uuids.uuid5(uuid, f"kept at {page.revision}"))
    return _shown(request, uuid)


def _shown(request: HttpRequest, uuid: uuids.UUID) -> list[TracedPhotoShape]:
    return [
        TracedPhotoShape(
            number=one.number,
            photo=one.photo,
            kind=one.sheet.kind.value,
            kept=one.is_kept,
            printed_across=one.sheet.scale.across,
            printed_down=one.sheet.scale.down,
            printed_sd=one.sheet.scale.sd,
            printed_by=one.sheet.scale.source,
            remarks=[str(said) for said in one.sheet.remarks],
            curves=[
                CurveShape(
                    station=station,
                    points=[(float(x), float(y)) for x, y in curve.points.tolist()],
                    seen=[bool(flag) for flag in curve.seen],
                    point_sd_mm=curve.point_sd_mm,
                    midline_by_mark=curve.by_tick,
                )
                for curve, station in zip(one.sheet.curves, one.stations, strict=True)
            ],
        )
        for one in held_photos(captured(actor_of(request), uuid))
    ]
