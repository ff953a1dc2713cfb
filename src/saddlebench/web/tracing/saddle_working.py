"""Photos of a saddle's tracings read beside the pages, and held until a person records them."""

import json
import uuid as uuids
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from django.conf import settings
from django.urls import reverse

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.gathering import stations_of
from saddlebench.exchange.tracings.plain import asked_of_plain, plain_of_asked
from saddlebench.exchange.tracings.sheet_read import Asked, Frame, ReadSheet
from saddlebench.practice.enums import Action
from saddlebench.practice.keeping.made import take_out_old_made
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.jobs import ask_job
from saddlebench.practice.services.long_work import Outcome, Run, long_work
from saddlebench.web.tracing.held import HeldPhoto, UnreadPhoto
from saddlebench.web.tracing.reading import photo_read, photos_read
from saddlebench.web.tracing.saddle_held import SaddleTracings, keep_tracings, kept_tracings


def ask_saddle_tracings(
    actor: Actor, held: SaddleTracings, label: str, photos: Sequence[uuids.UUID], key: uuids.UUID
) -> uuids.UUID:
    """Queue the reading of photos of a saddle; asked twice with one key, it is done once."""
    take_out_old_made(Path(settings.SADDLEBENCH_HOME), actor.practice_id)
    keep_tracings(actor, key, held)
    return ask_more_of_saddle(actor, held.saddle, key, label, photos, uuids.uuid5(key, "read"))


def ask_more_of_saddle(
    actor: Actor,
    saddle: uuids.UUID,
    key: uuids.UUID,
    label: str,
    photos: Sequence[uuids.UUID],
    job: uuids.UUID,
) -> uuids.UUID:
    """Queue the reading of photos of a saddle whose tracings are held already."""
    return ask_job(
        actor,
        read_saddle_tracings,
        {"saddle": str(saddle), "key": str(key), "photos": [str(one) for one in photos]},
        action=Action.RECORD_SADDLE,
        words=f"Tracings of {label}",
        uuid=job,
        leads_to=reverse("tracing:saddle_overview", args=[saddle, key]),
        back_to=reverse("tracing:saddle_new", args=[saddle]),
    )


def ask_saddle_corners(
    actor: Actor, saddle: uuids.UUID, key: uuids.UUID, label: str, number: int, frame: Frame, job: uuids.UUID
) -> uuids.UUID:
    """Queue the reading of a saddle's photo whose corners were marked by hand."""
    return ask_job(
        actor,
        read_saddle_by_corners,
        {
            "saddle": str(saddle),
            "key": str(key),
            "number": number,
            "asked": json.dumps(plain_of_asked(Asked(frame=frame))),
        },
        action=Action.RECORD_SADDLE,
        words=f"A tracing of {label}, by its corners",
        uuid=job,
        leads_to=reverse("tracing:saddle_photo", args=[saddle, key, number]),
        back_to=reverse("tracing:saddle_corners", args=[saddle, key, number]),
    )


@long_work
def read_saddle_tracings(run: Run, *, saddle: str, key: str, photos: list[str]) -> Outcome:
    """Read photos; those without marks wait for their corners."""
    owner, name = uuids.UUID(saddle), uuids.UUID(key)
    held = kept_tracings(run.actor, owner, name)
    there = {*(one.photo for one in held.photos), *(one.photo for one in held.unread)}
    across, down = held.ruler_mm
    wanted = [uuids.UUID(one) for one in photos if uuids.UUID(one) not in there]
    asked = Asked(ruler_across_mm=across, ruler_down_mm=down)
    read = photos_read(run, wanted, asked, _refuse_back)
    if not held.photos and not held.unread:
        read.refuse_if_nothing()
    for picture, sheet in read.found:
        held = _with_sheet(held, held.next_number, picture, sheet)
    for picture, reason in read.unread:
        waits = UnreadPhoto(number=held.next_number, photo=picture, reason=reason)
        held = replace(held, unread=(*held.unread, waits))
    keep_tracings(run.actor, name, held)
    return Outcome(said=read.said)


@long_work
def read_saddle_by_corners(run: Run, *, saddle: str, key: str, number: int, asked: str) -> Outcome:
    """Read one photo by the corners that a person marked."""
    owner, name = uuids.UUID(saddle), uuids.UUID(key)
    held = kept_tracings(run.actor, owner, name)
    picture = held.photo_uuid(number)
    words = "reading the photo by its corners"
    known = asked_of_plain(json.loads(asked))
    sheet = photo_read(run, picture, known, _refuse_back, at=(0, 1), words=words)
    # Read anew from what is held now: another photo may have been kept meanwhile.
    held = kept_tracings(run.actor, owner, name)
    keep_tracings(run.actor, name, _with_sheet(held, number, picture, sheet))
    return Outcome()


def _with_sheet(held: SaddleTracings, number: int, picture: uuids.UUID, sheet: ReadSheet) -> SaddleTracings:
    taken = {station for one in held.photos if one.number != number for station in one.stations}
    stations = tuple(one.station for one in stations_of([sheet], taken))
    return held.with_photo(
        HeldPhoto(number=number, photo=picture, sheet=sheet, stations=stations, is_kept=False)
    )


def _refuse_back(sheet: ReadSheet) -> None:
    if sheet.kind is not SheetKind.SADDLE:
        what = f"this is a sheet for a back ({sheet.kind.value})"
        raise input_problem(what, "Print the sheet for a saddle, or use plain paper.")
