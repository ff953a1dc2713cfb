"""Photos of trace sheets read beside the pages: a measuring begun, with every curve that was found."""

import json
import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from django.conf import settings
from django.urls import reverse

from saddlebench.engine.back.instruments import TracedCurve
from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.exchange.instruments import instrument_from_text, instrument_text
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.as_readings import instrument_of
from saddlebench.exchange.tracings.gathering import NamedSheet, stations_of
from saddlebench.exchange.tracings.photo_file import read_photo
from saddlebench.exchange.tracings.plain import plain_of_curve, plain_of_sheet
from saddlebench.exchange.tracings.sheet_read import Asked, Tell
from saddlebench.practice import services
from saddlebench.practice.catalogue import Value
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action
from saddlebench.practice.keeping.files import stored_path
from saddlebench.practice.queries.photos import photo
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import Entered
from saddlebench.practice.services.jobs import ask_job
from saddlebench.practice.services.long_work import Outcome, Run, long_work


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
    across, down = ruler
    asked = Asked(ruler_across_mm=across, ruler_down_mm=down)
    found: list[tuple[str, NamedSheet]] = []
    problems: list[Problem] = []
    for done, uuid in enumerate(photos):
        shown = photo(run.actor, uuids.UUID(uuid))
        words = f"reading photo {done + 1}"
        run.tell(done, len(photos), words)
        path = stored_path(Path(settings.SADDLEBENCH_HOME), shown.sha256, shown.media_type)
        try:
            sheet = read_photo(path, asked, _telling(run, done, len(photos), words))
            if sheet.kind is SheetKind.SADDLE:
                raise input_problem("this is a sheet for a saddle’s sections", "Leave it out of a back.")
        except InputProblemsError as error:
            where = Where(file=f"photo {done + 1}")
            problems += [Problem(what=one.what, cure=one.cure, where=where) for one in error.problems]
        else:
            found.append((uuid, NamedSheet(name=f"photo {done + 1}", sheet=sheet)))
    if not found:
        raise InputProblemsError(problems)
    tool = instrument_from_text(instrument, "instrument")
    if not isinstance(tool, TracedCurve):
        raise input_problem("the instrument is no traced curve", "Choose one.", Where(field="instrument"))
    used = instrument_of(tool, [named.sheet for _, named in found])
    capture = services.start_capture(
        run.actor,
        uuids.UUID(horse),
        Document(text=instrument_text(used)),
        measured_on=date.fromisoformat(day),
        uuid=run.uuid,
    )
    values = _entries(found, distances) | {"trace/starts": starts, "trace/level": level}
    services.enter_readings(
        run.actor,
        capture.uuid,
        [
            Entered(field=name, value=value, key=uuids.uuid5(run.uuid, name), seen=0)
            for name, value in values.items()
        ],
    )
    return Outcome(said=" ".join(str(one) for one in problems))


def _telling(run: Run, done: int, of: int, words: str) -> Tell:
    """Return what tells, while one photo is read, that it still is; this is where a person stops it."""

    def tell(_done: int, _of: int, _doing: str) -> None:
        run.tell(done, of, words)

    return tell


def _entries(found: Sequence[tuple[str, NamedSheet]], distances: Sequence[float]) -> dict[str, Value]:
    values: dict[str, Value] = {f"s{k}r0/distance": place for k, place in enumerate(distances, start=1)}
    values["top/how"] = "heights"
    for number, (uuid, named) in enumerate(found, start=1):
        plain: dict[str, Any] = plain_of_sheet(named.sheet) | {"curves": []}
        values[f"trace/{number}/photo"] = uuid
        values[f"trace/{number}/sheet"] = json.dumps(plain)
        for k, curve in enumerate(named.sheet.curves):
            values[f"trace/{number}/curve/{k}"] = json.dumps(plain_of_curve(curve))
    for one in stations_of([named.sheet for _, named in found]):
        values[f"trace/{one.photo + 1}/station/{one.curve}"] = one.station
    return values
