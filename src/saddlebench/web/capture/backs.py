"""A recorded back's page: its numbers with their uncertainty, its sections, its quality, its versions."""

import uuid as uuids
from dataclasses import dataclass
from functools import lru_cache

from django.http import HttpResponse

from saddlebench.engine.back.readings import ToplineHeights, ToplineJoints
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.back.topline import ToplineCurve, topline_curve
from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.practice import queries
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.queries.versions import VersionRow
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.render import show
from saddlebench.web.capture.judging import Judged, judge, outlines
from saddlebench.web.capture.pictures import growing_picture, section_picture
from saddlebench.web.links import deeds_on


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberLine:
    """One quantity of a back."""

    what: str
    value: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberGroup:
    """The quantities of one place."""

    where: str
    lines: tuple[NumberLine, ...]
    is_open: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BackShown:
    """What is shown of a back's current version."""

    instrument: str
    judged: Judged
    groups: tuple[NumberGroup, ...]
    growing: str
    sections: tuple[tuple[str, str], ...]
    notes: str


@signed_in(Action.SEE_HORSES)
def back(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a recorded back."""
    page = queries.back_page(request.actor, uuid)
    rows: tuple[VersionRow, ...] = queries.versions_of(request.actor, Subject.BACK, uuid)
    problems: tuple[Problem, ...] = ()
    shown = None
    if page.document:
        try:
            shown = _shown(page.document, page.label)
        except InputProblemsError as error:
            problems = error.problems
    deeds = deeds_on(Subject.BACK, uuid, request.actor) if page.document and not problems else []
    return show(
        request,
        "capture/back.html",
        page.label,
        page,
        shown=shown,
        problems=problems,
        versions=rows,
        deeds=deeds,
    )


@lru_cache(maxsize=64)
def _shown(document: str, label: str) -> BackShown:
    """Return what is shown of a document; kept, since it never changes and its numbers take a second."""
    # The engine's surface and its record files load numba: seconds that only this page should cost.
    from saddlebench.exchange.back_job import measured  # noqa: PLC0415
    from saddlebench.exchange.records import BackDocument, parse_document  # noqa: PLC0415
    from saddlebench.report.backs import described  # noqa: PLC0415

    record = parse_document(BackDocument, document, label).record()
    lines = described(measured(record))
    places = list(dict.fromkeys(line.where for line in lines))
    known = [line.where for line in lines if not line.reason]
    drawn = outlines(record.instrument, record.readings.stations)
    return BackShown(
        instrument=record.instrument.name,
        judged=judge(record),
        groups=tuple(
            NumberGroup(
                where=place[:1].upper() + place[1:],
                lines=tuple(
                    NumberLine(what=line.what, value=line.value, reason=line.reason)
                    for line in lines
                    if line.where == place
                ),
                is_open=place == known[0] if known else False,
            )
            for place in places
        ),
        growing=growing_picture(drawn, _curve(record)),
        sections=tuple(
            (f"Section {one.number}, {one.distance_mm:g} mm", section_picture(drawn, one.number, 0))
            for one in sorted(drawn, key=lambda o: o.distance_mm)
            if one.repeat == 0
        ),
        notes=record.notes,
    )


def _curve(record: BackRecord) -> ToplineCurve | None:
    topline = record.readings.topline
    if not isinstance(topline, ToplineHeights | ToplineJoints):
        return None
    return topline_curve(record.instrument, topline)
