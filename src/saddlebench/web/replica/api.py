"""Rebuilding a back, for other programs: settings, files, readings as set, and the proof of a rebuild."""

import uuid as uuids
from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Literal

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from ninja import Router, Status
from pydantic import Field, JsonValue

from saddlebench.engine.back.readings import (
    NO_TOPLINE,
    BackReadings,
    Section,
    SectionPoints,
    StationReadings,
)
from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.exchange.instruments import instrument_text
from saddlebench.practice import queries, services
from saddlebench.practice.catalogue import read_all
from saddlebench.practice.documents import LARGEST_BYTES
from saddlebench.practice.enums import Action
from saddlebench.practice.keeping.made import made_path
from saddlebench.practice.queries.jobs import job_page
from saddlebench.practice.queries.rebuilds import CheckPage
from saddlebench.practice.services import NotFoundError
from saddlebench.practice.services.rebuilds import (
    LEAST_TOLERANCE_MM,
    MOST_TOLERANCE_MM,
    USUAL_TOLERANCE_MM,
)
from saddlebench.web.base.instruments import chosen_instrument
from saddlebench.web.base.interface import (
    ByToken,
    Given,
    LinkShape,
    Shape,
    actor_of,
    body_of,
    gives,
    is_there,
    made,
    takes,
)
from saddlebench.web.base.report_choices import chosen_by_program
from saddlebench.web.replica.choices import PARTS
from saddlebench.web.replica.files import archive_sent
from saddlebench.web.replica.loading import measured_source, proof_of, proved, settings_of
from saddlebench.web.replica.making import ask_files
from saddlebench.web.replica.proving import check_sheet_of, rebuilt_of
from saddlebench.web.replica.setting import settings_document

router = Router(tags=["rebuilding a back"])
InstrumentName = Annotated[str, Field(max_length=80)]
Tolerance = Annotated[float, Field(ge=LEAST_TOLERANCE_MM, le=MOST_TOLERANCE_MM)]
_Side = Annotated[list[float | None], Field(max_length=400)]
_Points = Annotated[list[tuple[float, float]], Field(max_length=400)]


class MoveShape(Shape):
    """One thing to move on the instrument; `to` is null for a traced point, whose `by` is mm outward."""

    side: str
    part: str
    by: float
    to: float | None


class StationSetShape(Shape):
    """One station as it was set: whether it is near enough, and what to move if not."""

    station: int
    distance_mm: float
    good: bool
    off_by_mm: float | None
    allowed_mm: float
    moves: list[MoveShape]
    not_set: list[str]


class SetStation(Given):
    """One station as the instrument shows it: joints or pins out from the midline, or points (out, up)."""

    station: Annotated[int, Field(ge=1, le=1000)]
    near: _Side = Field(default_factory=list)
    off: _Side = Field(default_factory=list)
    middle: float | None = None
    near_points: _Points = Field(default_factory=list)
    off_points: _Points = Field(default_factory=list)


class AsSet(Given):
    """Readings of an instrument once it was set. `instrument` is the uuid or the name of one."""

    instrument: InstrumentName
    tolerance_mm: Tolerance = USUAL_TOLERANCE_MM
    version: Annotated[int, Field(ge=1, le=2**31 - 1)] | None = None
    stations: Annotated[list[SetStation], Field(min_length=1, max_length=200)]


class NewFiles(Given):
    """Files to make: of templates, ribs, a solid, or of the whole kit with settings for instruments.

    `choices` are the fields of the page that makes them; what is left out is as usual.
    """

    uuid: uuids.UUID | None = None
    what: Literal["templates", "ribs", "solid", "kit"]
    version: Annotated[int, Field(ge=1, le=2**31 - 1)] | None = None
    choices: Annotated[dict[str, JsonValue], Field(max_length=40)] = Field(default_factory=dict)
    instruments: Annotated[list[InstrumentName], Field(max_length=12)] = Field(default_factory=list)


class FilesAskedShape(Shape):
    """Files being made: `jobs/{uuid}` tells how far they are, `rebuild-files/{uuid}` gives them."""

    uuid: uuids.UUID
    words: str
    state: str


class SideShape(Shape):
    """Where one side of a station is furthest off; positive stands proud."""

    side: str
    worst_mm: float
    worst_at_mm: float
    verdict: str


class StationProofShape(Shape):
    """One station of a rebuild: good, move (by how much), or cannot tell."""

    station: int
    distance_mm: float
    verdict: str
    raise_mm: float
    shift_near_mm: float
    could_miss_mm: float
    sides: list[SideShape]


class RebuildCheckShape(Shape):
    """A measured rebuild laid on its original. A screening aid, not a diagnosis."""

    uuid: uuids.UUID
    horse: LinkShape
    back: uuids.UUID
    version: int
    measured_on: date
    instrument: str
    sha256: str
    made_at: datetime
    made_by: str
    verdict: str
    rms_mm: float
    largest_mm: float
    tolerance_mm: float
    stations: list[StationProofShape]
    cautions: list[str]


@router.get(
    "backs/{uuid:uuid}/settings",
    auth=ByToken(Action.SEE_HORSES),
    openapi_extra=gives("application/json"),
)
def get_settings(
    request: HttpRequest,
    uuid: uuids.UUID,
    instrument: InstrumentName,
    tolerance_mm: Tolerance = USUAL_TOLERANCE_MM,
    version: int | None = None,
) -> HttpResponse:
    """Give what to set on an instrument so that it shows this back, as `saddlebench schema settings`."""
    actor = actor_of(request)
    source = queries.rebuild_source(actor, uuid, version)
    found = settings_of(source, instrument_text(chosen_instrument(actor, instrument)), tolerance_mm)
    return HttpResponse(settings_document(source, found), content_type="application/json")


@router.post("backs/{uuid:uuid}/as-set", auth=ByToken(Action.SEE_HORSES), response=list[StationSetShape])
def check_as_set(request: HttpRequest, uuid: uuids.UUID, body: AsSet) -> list[StationSetShape]:
    """Say of readings as set whether each station is near enough, and what to move. Keeps nothing."""
    from saddlebench.engine.replica.set_check import check_set  # noqa: PLC0415

    actor = actor_of(request)
    source = queries.rebuild_source(actor, uuid, body.version)
    text = instrument_text(chosen_instrument(actor, body.instrument))
    wanted = settings_of(source, text, body.tolerance_mm)
    places = {one.number: one.readings.distance_mm for one in wanted.stations}
    stations = tuple(_entered(one, places.get(one.station, 0.0)) for one in body.stations)
    found = check_set(
        measured_source(source).estimated, wanted, BackReadings(stations=stations, topline=NO_TOPLINE)
    )
    return [
        StationSetShape(
            station=one.number,
            distance_mm=one.distance_mm,
            good=one.good,
            off_by_mm=None if one.off_by_mm == float("inf") else one.off_by_mm,
            allowed_mm=one.allowed_mm,
            moves=[MoveShape(side=m.side, part=m.part, by=m.by, to=m.to) for m in one.moves],
            not_set=list(one.not_set),
        )
        for one in found
    ]


def _entered(one: SetStation, distance_mm: float) -> Section:
    if one.near_points or one.off_points:
        return SectionPoints(
            number=one.station,
            distance_mm=distance_mm,
            left=tuple(one.near_points),
            right=tuple(one.off_points),
        )
    return StationReadings(
        number=one.station,
        distance_mm=distance_mm,
        left=tuple(one.near),
        right=tuple(one.off),
        middle=one.middle,
    )


@router.post("backs/{uuid:uuid}/rebuild-files", auth=ByToken(Action.REBUILD), response={202: FilesAskedShape})
def ask_for_files(request: HttpRequest, uuid: uuids.UUID, body: NewFiles) -> Status[FilesAskedShape]:
    """Ask for the files of a rebuild. They are made beside, as a job; sent again with one uuid, once."""
    actor = actor_of(request)
    source = queries.rebuild_source(actor, uuid, body.version)
    part = PARTS[body.what]
    if body.instruments and body.what != "kit":
        cure = "Ask for the kit, or for backs/{uuid}/settings."
        where = Where(field="instruments")
        raise InputProblemsError([Problem(what="only a kit holds settings", cure=cure, where=where)])
    values = {**part.usual, **read_all(part.fields, body.choices, new=True)}
    run = ask_files(actor, source, body.what, values, instruments=body.instruments, uuid=body.uuid)
    page = job_page(actor, run)
    return Status(202, FilesAskedShape(uuid=run, words=page.words, state=page.state.value))


@router.get(
    "rebuild-files/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), openapi_extra=gives("application/zip")
)
def get_files(request: HttpRequest, uuid: uuids.UUID) -> HttpResponse:
    """Give what was made, as one archive."""
    actor = actor_of(request)
    job_page(actor, uuid)
    path = made_path(Path(settings.SADDLEBENCH_HOME), actor.practice_id, uuid)
    if not path.exists():
        raise NotFoundError("set of files made", uuid)
    return archive_sent(path)


@router.put(
    "backs/{uuid:uuid}/rebuild-checks/{uuid:key}",
    auth=ByToken(Action.REBUILD),
    response={200: RebuildCheckShape, 201: RebuildCheckShape},
    openapi_extra=takes(
        "application/json", {"type": "object"}, "A back record of the rebuild, as `saddlebench schema back`."
    ),
)
def put_check(
    request: HttpRequest,
    uuid: uuids.UUID,
    key: uuids.UUID,
    tolerance_mm: Tolerance = USUAL_TOLERANCE_MM,
    version: int | None = None,
) -> Status[RebuildCheckShape]:
    """Record a measured rebuild beside the back that it was made from, and say how near it is."""
    actor = actor_of(request)
    source = queries.rebuild_source(actor, uuid, version)
    was_there = is_there(lambda: queries.rebuild_check_page(actor, key))
    rebuilt = rebuilt_of(body_of(request, LARGEST_BYTES))
    proved(source, rebuilt.document, tolerance_mm)
    services.record_rebuild_check(
        actor,
        source.uuid,
        source.number,
        rebuilt,
        tolerance_mm=tolerance_mm,
        uuid=key,
    )
    return made(_proved(queries.rebuild_check_page(actor, key)), was_there=was_there)


@router.get("rebuild-checks/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=RebuildCheckShape)
def get_check(request: HttpRequest, uuid: uuids.UUID) -> RebuildCheckShape:
    """Give a measured rebuild, judged station by station."""
    return _proved(queries.rebuild_check_page(actor_of(request), uuid))


@router.get(
    "rebuild-checks/{uuid:uuid}/sheet",
    auth=ByToken(Action.SEE_HORSES),
    openapi_extra=gives("application/pdf"),
)
def get_sheet(request: HttpRequest, uuid: uuids.UUID) -> HttpResponse:
    """Give the rebuild check sheet; `language`, `lengths` and `paper` as its reader's."""
    page = queries.rebuild_check_page(actor_of(request), uuid)
    return check_sheet_of(page, chosen_by_program(request))


def _proved(page: CheckPage) -> RebuildCheckShape:
    from saddlebench.report.replica.words import CAUTIONS  # noqa: PLC0415

    proof = proof_of(page)
    return RebuildCheckShape(
        uuid=page.uuid,
        horse=LinkShape(uuid=page.source.horse.uuid, label=page.source.horse.label),
        back=page.source.uuid,
        version=page.source.number,
        measured_on=page.measured_on,
        instrument=page.instrument,
        sha256=page.sha256,
        made_at=page.made_at,
        made_by=page.made_by,
        verdict=proof.verdict.value,
        rms_mm=proof.rms_mm,
        largest_mm=proof.largest_mm,
        tolerance_mm=proof.tolerance_mm,
        stations=[
            StationProofShape(
                station=one.number,
                distance_mm=one.s_mm,
                verdict=one.verdict.value,
                raise_mm=one.raise_mm,
                shift_near_mm=one.shift_near_mm,
                could_miss_mm=one.could_miss_mm,
                sides=[
                    SideShape(
                        side=side.side,
                        worst_mm=side.worst_mm,
                        worst_at_mm=side.worst_at_mm,
                        verdict=side.verdict.value,
                    )
                    for side in one.sides
                ],
            )
            for one in proof.stations
        ],
        cautions=list(CAUTIONS),
    )
