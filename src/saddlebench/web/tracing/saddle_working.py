"""Photos of a saddle's tracings read beside the pages, and held until a person records them."""

import json
import uuid as uuids
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from django.conf import settings
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.gathering import stations_of
from saddlebench.exchange.tracings.photo_file import read_photo
from saddlebench.exchange.tracings.plain import asked_of_plain, plain_of_asked
from saddlebench.exchange.tracings.sheet_read import MARKS, Asked, Frame, ReadSheet
from saddlebench.practice.enums import Action
from saddlebench.practice.keeping.files import stored_path
from saddlebench.practice.keeping.made import take_out_old_made
from saddlebench.practice.queries.photos import photo
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.jobs import ask_job
from saddlebench.practice.services.long_work import Outcome, Run, long_work
from saddlebench.web.tracing.held import HeldPhoto, UnreadPhoto
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
    asked = Asked(ruler_across_mm=across, ruler_down_mm=down)
    problems: list[Problem] = []
    wanted = [uuids.UUID(one) for one in photos if uuids.UUID(one) not in there]
    for done, picture in enumerate(wanted):
        words = f"photo {done + 1}"
        run.tell(done, len(wanted), f"reading {words}")
        try:
            sheet = _sheet(run, picture, asked, (done, len(wanted)))
        except InputProblemsError as error:
            if any(one.where.field == MARKS for one in error.problems):
                waits = UnreadPhoto(number=held.next_number, photo=picture, reason=error.problems[0].what)
                held = replace(held, unread=(*held.unread, waits))
            else:
                problems += [replace(one, where=Where(file=words)) for one in error.problems]
        else:
            held = _with_sheet(held, held.next_number, picture, sheet)
    if not held.photos and not held.unread:
        raise InputProblemsError(problems)
    keep_tracings(run.actor, name, held)
    return Outcome(said=" ".join(str(one) for one in problems))


@long_work
def read_saddle_by_corners(run: Run, *, saddle: str, key: str, number: int, asked: str) -> Outcome:
    """Read one photo by the corners that a person marked."""
    owner, name = uuids.UUID(saddle), uuids.UUID(key)
    held = kept_tracings(run.actor, owner, name)
    picture = held.photo_uuid(number)
    sheet = _sheet(run, picture, asked_of_plain(json.loads(asked)), (0, 1))
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


def _sheet(run: Run, picture: uuids.UUID, asked: Asked, at: tuple[int, int]) -> ReadSheet:
    shown = photo(run.actor, picture)
    path = stored_path(Path(settings.SADDLEBENCH_HOME), shown.sha256, shown.media_type)

    def tell(_done: int, _of: int, _doing: str) -> None:
        run.tell(*at, "reading the photo")

    sheet = read_photo(path, asked, tell)
    if sheet.kind is not SheetKind.SADDLE:
        what = f"this is a sheet for a back ({sheet.kind.value})"
        raise input_problem(what, "Print the sheet for a saddle, or use plain paper.")
    return sheet


def as_numbers(values: Sequence[Any]) -> str:
    """Return a list of numbers as it is typed; a dash where there is none."""
    return " ".join("-" if one is None else f"{one:g}" for one in values)
