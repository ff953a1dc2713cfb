"""What was read, over the photo: looked at, moved by hand where it is wrong, kept as readings."""

import json
import uuid as uuids
from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import reverse
from django.utils.translation import gettext as _

from saddlebench.engine.errors import InputProblemsError, Problem, input_problem
from saddlebench.exchange.phrases import SCREENING_NOTE
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.across_saddle import inner_edges
from saddlebench.exchange.tracings.sheet_read import ReadCurve
from saddlebench.practice import queries, services
from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.captures import CapturePage
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import Entered, NotFoundError
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.context import allowed_of
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.base.spoken import problem_told, spoken
from saddlebench.web.tracing.held import (
    HeldPhoto,
    distances_of,
    handles_of,
    held_photo,
    held_photos,
    moved,
    readings_of_photo,
    unread_photos,
)
from saddlebench.web.tracing.reading import file_of
from saddlebench.web.tracing.typed import shown_number

INKS = ("one", "two", "three", "four", "five", "six")


@dataclass(frozen=True, slots=True, kw_only=True)
class Handle:
    """A place of a curve that can be moved."""

    at: int
    x: float
    y: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveShown:
    """A curve as it lies over the photo."""

    number: int
    """From 0."""
    words: str
    ink: str
    strokes: tuple[str, ...]
    """Points of each stretch that the pen wrote: “x,y x,y …”."""
    bridged: str
    handles: tuple[Handle, ...]
    station: int
    sure: float
    """Standard deviation of a point [mm]."""
    edges: tuple[str, str] = ("", "")
    """Of a saddle's curve: how far left and right of its middle strokes say the panels begin [mm]."""


def captured(actor: Actor, uuid: uuids.UUID) -> CapturePage:
    """Return a measuring that was begun from tracings.

    Raises
    ------
    NotFoundError
        If there is none.
    """
    page = queries.capture_page(actor, uuid)
    if "trace/1/photo" not in page.values:
        raise NotFoundError("tracings", uuid)
    return page


@signed_in(Action.SEE_HORSES)
@spoken
def overview(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show every photo with its curves, and what is still to be looked at."""
    page = captured(request.actor, uuid)
    photos = [(one, curves_shown(one)) for one in held_photos(page)]
    left = sum(not one.is_kept for one, _ in photos)
    more: dict[str, Any] = {
        "photos": photos,
        "unread": unread_photos(page),
        "left": left,
        "may_mark": allowed_of(request)[Action.RECORD_BACK.value] and not page.finished_at,
        "caution": SCREENING_NOTE,
        "form": str(uuids.uuid4()),
    }
    title = _("Tracings: %(subject)s") % {"subject": page.label}
    return show(request, "tracing/overview.html", title, page, **more)


@signed_in(Action.RECORD_BACK, FORM)
@spoken
def photo(request: PageRequest, uuid: uuids.UUID, number: int) -> HttpResponse:
    """Show one photo with its curves to move, and keep them."""
    page = captured(request.actor, uuid)
    held = held_photo(page, number)
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        try:
            _keep_one(request, page, held)
        except InputProblemsError as error:
            problems = tuple(problem_told(one) for one in error.problems)
        else:
            say(request, _("%(what)s: kept.") % {"what": held.words})
            after = next((one for one in held_photos(page) if not one.is_kept and one.number != number), None)
            if after is None:
                return HttpResponseRedirect(reverse("tracing:overview", args=[uuid]))
            return HttpResponseRedirect(reverse("tracing:photo", args=[uuid, after.number]))
    more: dict[str, Any] = {
        "held": held,
        "curves": curves_shown(held),
        "stations": sorted(distances_of(page.values).items()),
        "is_topline": held.sheet.kind is SheetKind.TOPLINE,
        "problems": problems,
        "form": str(uuids.uuid4()),
        "reach": max(held.sheet.size_px) // 50,
        "dot": max(held.sheet.size_px) // 160,
        "back_url": reverse("tracing:overview", args=[uuid]),
        "file_url": reverse("tracing:file", args=[uuid, number]),
    }
    status = 422 if problems else 200
    return show(request, "tracing/photo.html", f"{held.words}: {page.label}", page, status=status, **more)


@signed_in(Action.RECORD_BACK, DEED)
@spoken
def keep_all(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Keep every curve as it was found."""
    page = captured(request.actor, uuid)
    values = values_of_all(page)
    enter(request.actor, page, values, key_of(request.POST.get("form", "")))
    say(request, _("The curves are kept as readings."))
    return HttpResponseRedirect(reverse("capture:overview", args=[uuid]))


@signed_in(Action.SEE_HORSES)
def file(request: PageRequest, uuid: uuids.UUID, number: int) -> HttpResponse:
    """Give the photo's bytes."""
    held = captured(request.actor, uuid).values.get(f"trace/{number}/photo")
    if held is None:
        raise NotFoundError("photo of a tracing", str(number))
    return file_of(request.actor, uuids.UUID(str(held)))


def values_of_all(page: CapturePage) -> dict[str, Value]:
    """Return what is entered when all curves are kept as they were found.

    Raises
    ------
    InputProblemsError
        If a station has no distance, or one is there twice.
    """
    values: dict[str, Value] = {}
    seen: dict[int, int] = {}
    for held in held_photos(page):
        for station in held.stations:
            if seen.setdefault(station, held.number) != held.number:
                what = f"photos {seen[station]} and {held.number} are both of station {station}"
                raise input_problem(what, "Open one of them, and say which station it is, or leave it out.")
        curves = dict(enumerate(held.sheet.curves))
        values |= readings_of_photo(held, curves, dict(enumerate(held.stations)), page.values)
    return values


def enter(actor: Actor, page: CapturePage, values: dict[str, Value], key: uuids.UUID) -> None:
    """Enter readings; sent again with the same key they are entered once."""
    services.enter_readings(
        actor,
        page.uuid,
        [
            Entered(field=name, value=value, key=uuids.uuid5(key, name), seen=page.revision)
            for name, value in values.items()
        ],
    )


def _keep_one(request: PageRequest, page: CapturePage, held: HeldPhoto) -> None:
    posted = request.POST
    curves: dict[int, ReadCurve] = {}
    stations: dict[int, int] = {}
    for k, curve in enumerate(held.sheet.curves):
        if posted.get(f"leave-{k}"):
            continue
        curves[k] = moved(curve, held.sheet.to_mm, moves_of(posted, k, max(held.sheet.size_px)))
        stations[k] = _station(posted.get(f"station-{k}", ""), held.stations[k])
    if not curves:
        raise input_problem("every curve of this photo is left out", "Keep one, or go on to the next photo.")
    values = readings_of_photo(held, curves, stations, page.values)
    enter(request.actor, page, values, key_of(posted.get("form", "")))


def _station(text: str, usual: int) -> int:
    return int(text) if text.isdecimal() and len(text) <= 3 else usual


def moves_of(posted: QueryDict, number: int, most: float) -> dict[int, tuple[float, float]]:
    """Return how far handles were moved, as the page's script notes it.

    Raises
    ------
    InputProblemsError
        If it is nothing of the kind.
    """
    text = posted.get(f"moved-{number}", "") or "{}"
    try:
        given = json.loads(text[:20_000])
        moves = {int(at): (float(x), float(y)) for at, (x, y) in given.items()}
    except (ValueError, TypeError, AttributeError):
        moves = {-1: (0.0, 0.0)}
    if any(at < 0 or not (abs(x) <= most and abs(y) <= most) for at, (x, y) in moves.items()):
        raise input_problem("the moved points could not be read", "Load the page again.")
    return moves


def curves_shown(held: HeldPhoto) -> list[CurveShown]:
    """Return a photo's curves as they lie over it."""

    def named(k: int) -> str:
        topline = held.sheet.kind is SheetKind.TOPLINE
        return _("Topline") if topline else _("Curve %(number)s") % {"number": k + 1}

    return [
        CurveShown(
            number=k,
            words=named(k),
            ink=INKS[k % len(INKS)],
            strokes=_strokes(curve),
            bridged=_line(curve.photo.tolist()),
            handles=tuple(
                Handle(
                    at=at,
                    x=round(float(curve.photo[at, 0]), 1),
                    y=round(float(curve.photo[at, 1]), 1),
                    words=_("%(curve)s, point %(number)s") % {"curve": named(k), "number": i},
                )
                for i, at in enumerate(handles_of(curve), start=1)
            ),
            station=held.stations[k],
            sure=curve.point_sd_mm,
            edges=edges_shown(curve),
        )
        for k, curve in enumerate(held.sheet.curves)
    ]


def edges_shown(curve: ReadCurve) -> tuple[str, str]:
    """Return where a saddle's panels begin on either side, as it is typed; empty where no stroke says it."""
    left, right = ("" if one is None else shown_number(one, 1) for one in inner_edges(curve))
    return left, right


def _line(places: list[list[float]]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in places)


def _strokes(curve: ReadCurve) -> tuple[str, ...]:
    runs: list[list[list[float]]] = [[]]
    for seen, place in zip(curve.seen, curve.photo.tolist(), strict=True):
        if seen:
            runs[-1].append(place)
        elif runs[-1]:
            runs.append([])
    return tuple(_line(run) for run in runs if len(run) > 1)
