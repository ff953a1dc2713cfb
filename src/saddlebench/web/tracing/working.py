"""Photos of trace sheets read beside the pages: a measuring begun or added to, with what was found."""

import json
import uuid as uuids
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.urls import reverse

from saddlebench.engine.back.instruments import TracedCurve
from saddlebench.engine.errors import Where, input_problem
from saddlebench.exchange.instruments import instrument_from_text, instrument_text
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.as_readings import instrument_of
from saddlebench.exchange.tracings.gathering import stations_of
from saddlebench.exchange.tracings.plain import asked_of_plain, plain_of_asked, plain_of_curve, plain_of_sheet
from saddlebench.exchange.tracings.sheet_read import Asked, Frame, ReadSheet
from saddlebench.practice import queries, services
from saddlebench.practice.catalogue import Value
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.captures import CapturePage
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import Entered
from saddlebench.practice.services.jobs import ask_job
from saddlebench.practice.services.long_work import Outcome, Run, long_work
from saddlebench.web.tracing.held import held_photos, next_number
from saddlebench.web.tracing.reading import PhotosRead, photo_read, photos_read


@dataclass(frozen=True, slots=True, kw_only=True)
class TracingAsked:
    """What is known of the photos before they are read."""

    horse: uuids.UUID
    horse_label: str
    day: date
    instrument: TracedCurve
    photos: tuple[uuids.UUID, ...]
    distances_mm: tuple[float, ...]
    topline_starts_mm: float = 0.0
    topline_level_deg: float = 0.0
    ruler_across_mm: float | None = None
    ruler_down_mm: float | None = None


def ask_tracings(actor: Actor, asked: TracingAsked, uuid: uuids.UUID) -> uuids.UUID:
    """Queue the reading; asked twice with one uuid, it is done once."""
    return ask_job(
        actor,
        read_tracings,
        {
            "horse": str(asked.horse),
            "day": asked.day.isoformat(),
            "instrument": instrument_text(asked.instrument),
            "photos": [str(one) for one in asked.photos],
            "distances": list(asked.distances_mm),
            "starts": asked.topline_starts_mm,
            "level": asked.topline_level_deg,
            "ruler": [asked.ruler_across_mm, asked.ruler_down_mm],
        },
        action=Action.RECORD_BACK,
        words=f"Tracings of {asked.horse_label}",
        uuid=uuid,
        leads_to=reverse("tracing:overview", args=[uuid]),
        back_to=f"{reverse('tracing:new')}?horse={asked.horse}",
    )


def ask_more(actor: Actor, page: CapturePage, photos: Sequence[uuids.UUID], uuid: uuids.UUID) -> uuids.UUID:
    """Queue the reading of more photos for a measuring that was begun from tracings."""
    address = reverse("tracing:overview", args=[page.uuid])
    return ask_job(
        actor,
        add_tracings,
        {"capture": str(page.uuid), "photos": [str(one) for one in photos]},
        action=Action.RECORD_BACK,
        words=f"More tracings of {page.horse.label}",
        uuid=uuid,
        leads_to=address,
        back_to=address,
    )


def ask_by_corners(
    actor: Actor, page: CapturePage, number: int, frame: Frame, uuid: uuids.UUID
) -> uuids.UUID:
    """Queue the reading of a photo whose corners were marked by hand."""
    return ask_job(
        actor,
        read_by_corners,
        {"capture": str(page.uuid), "number": number, "asked": plain_of_asked(Asked(frame=frame))},
        action=Action.RECORD_BACK,
        words=f"A tracing of {page.horse.label}, by its corners",
        uuid=uuid,
        leads_to=reverse("tracing:photo", args=[page.uuid, number]),
        back_to=reverse("tracing:corners", args=[page.uuid, number]),
    )


@long_work
def read_tracings(
    run: Run,
    *,
    horse: str,
    day: str,
    instrument: str,
    photos: list[str],
    distances: list[float],
    starts: float,
    level: float,
    ruler: list[float | None],
) -> Outcome:
    """Read every photo, then begin a measuring that holds what was found, for a person to keep."""
    read = photos_read(run, [uuids.UUID(one) for one in photos], _asked(ruler), _refuse_saddle)
    read.refuse_if_nothing()
    capture = services.start_capture(
        run.actor,
        uuids.UUID(horse),
        Document(text=instrument_text(instrument_of(_curve(instrument), [one for _, one in read.found]))),
        measured_on=date.fromisoformat(day),
        uuid=run.uuid,
    )
    values: dict[str, Value] = {f"s{k}r0/distance": place for k, place in enumerate(distances, start=1)}
    values |= {
        "top/how": "heights",
        "trace/starts": starts,
        "trace/level": level,
        "trace/instrument": instrument,
        "trace/ruler": json.dumps(ruler),
    }
    _enter(run, capture.uuid, values | _entries(read, values, 1), seen=0)
    return Outcome(said=read.said)


@long_work
def add_tracings(run: Run, *, capture: str, photos: list[str]) -> Outcome:
    """Read more photos into a measuring; the coarsest photo's error is then stated of them all."""
    page = queries.capture_page(run.actor, uuids.UUID(capture))
    there = {str(value) for name, value in page.values.items() if name.endswith("/photo")}
    asked = _asked(json.loads(str(page.values.get("trace/ruler", "[null, null]"))))
    wanted = [uuids.UUID(one) for one in photos if one not in there]
    read = photos_read(run, wanted, asked, _refuse_saddle)
    read.refuse_if_nothing()
    _restate(run.actor, page, [one for _, one in read.found])
    _enter(run, page.uuid, _entries(read, page.values, next_number(page.values)), seen=page.revision)
    return Outcome(said=read.said)


@long_work
def read_by_corners(run: Run, *, capture: str, number: int, asked: dict[str, Any]) -> Outcome:
    """Read one photo of a measuring again, by the corners that a person marked."""
    page = queries.capture_page(run.actor, uuids.UUID(capture))
    held = uuids.UUID(str(page.values[f"trace/{number}/photo"]))
    words = "reading the photo by its corners"
    sheet = photo_read(run, held, asked_of_plain(asked), _refuse_saddle, at=(0, 1), words=words)
    _restate(run.actor, page, [sheet])
    others = {name: value for name, value in page.values.items() if not name.startswith(f"trace/{number}/")}
    gone = {
        name: None
        for name in page.values
        if name.startswith((f"trace/{number}/curve/", f"trace/{number}/station/", f"trace/{number}/kept"))
    }
    read = PhotosRead(found=[(held, sheet)])
    values = {**gone, **_entries(read, others, number), f"trace/{number}/unread": None}
    _enter(run, page.uuid, values, seen=page.revision)
    return Outcome()


def _asked(ruler: Sequence[float | None]) -> Asked:
    across, down = ruler
    return Asked(ruler_across_mm=across, ruler_down_mm=down)


def _refuse_saddle(sheet: ReadSheet) -> None:
    if sheet.kind is SheetKind.SADDLE:
        raise input_problem("this is a sheet for a saddle’s sections", "Leave it out of a back.")


def _curve(text: str) -> TracedCurve:
    tool = instrument_from_text(text, "instrument")
    if not isinstance(tool, TracedCurve):
        raise input_problem("the instrument is no traced curve", "Choose one.", Where(field="instrument"))
    return tool


def _restate(actor: Actor, page: CapturePage, more: Sequence[ReadSheet]) -> None:
    """State the measuring's instrument by every photo there is now."""
    sheets = [one.sheet for one in held_photos(page)]
    begun_with = page.values.get("trace/instrument")
    used = instrument_of(_curve(page.instrument if begun_with is None else str(begun_with)), [*sheets, *more])
    text = instrument_text(used)
    if text != page.instrument:
        services.restate_instrument(actor, page.uuid, Document(text=text))


def _entries(read: PhotosRead, before: Mapping[str, Value], first: int) -> dict[str, Value]:
    """Return the entries that stand for photos that were read, and for those that wait for their corners."""
    values: dict[str, Value] = {}
    taken = {int(value) for name, value in before.items() if "/station/" in name and isinstance(value, int)}
    sheets = [sheet for _, sheet in read.found]
    for number, (uuid, sheet) in enumerate(read.found, start=first):
        plain: dict[str, Any] = plain_of_sheet(sheet) | {"curves": []}
        values[f"trace/{number}/photo"] = str(uuid)
        values[f"trace/{number}/sheet"] = json.dumps(plain)
        for k, curve in enumerate(sheet.curves):
            values[f"trace/{number}/curve/{k}"] = json.dumps(plain_of_curve(curve))
    for one in stations_of(sheets, taken):
        values[f"trace/{first + one.photo}/station/{one.curve}"] = one.station
    for number, (uuid, reason) in enumerate(read.unread, start=first + len(read.found)):
        values |= {f"trace/{number}/photo": str(uuid), f"trace/{number}/unread": reason}
    return values


def _enter(run: Run, capture: uuids.UUID, values: Mapping[str, Value], *, seen: int) -> None:
    services.enter_readings(
        run.actor,
        capture,
        [
            Entered(field=name, value=value, key=uuids.uuid5(run.uuid, name), seen=seen)
            for name, value in values.items()
        ],
    )
