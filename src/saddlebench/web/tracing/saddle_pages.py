"""A saddle's tracings on the pages: sheets, photos, curves to look at, what they make, recording it."""

import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from django.conf import settings
from django.http import HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.engine.units import parse_number
from saddlebench.exchange.instruments import instrument_text
from saddlebench.exchange.phrases import SCREENING_NOTE
from saddlebench.exchange.records import SaddleDocument, as_json
from saddlebench.exchange.sheets.layout import PAPER_NAMES, SheetKind
from saddlebench.exchange.tracings.across_saddle import (
    INNER_MM,
    SectionsStated,
    stated_problems,
    with_inner_edges,
)
from saddlebench.exchange.tracings.traced_saddle import TracedSaddle
from saddlebench.exchange.tracings.traced_saddle_words import tracing_measures, tracing_sentences
from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.practice.keeping.files import stored_path
from saddlebench.practice.queries.photos import photo as photo_shown
from saddlebench.practice.queries.saddles import SaddlePage
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import NotFoundError
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.fields import key_of, whole_of
from saddlebench.web.base.measured_saddle import asked_or_begun, underside_recorded
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.tracing.adding import corners_shown, frame_of
from saddlebench.web.tracing.held import HeldPhoto, moved
from saddlebench.web.tracing.looking import curves_shown, edges_shown, moves_of
from saddlebench.web.tracing.saddle_held import (
    SaddleTracings,
    keep_tracings,
    kept_tracings,
    made_of,
)
from saddlebench.web.tracing.saddle_working import (
    as_numbers,
    ask_more_of_saddle,
    ask_saddle_corners,
    ask_saddle_tracings,
)
from saddlebench.web.tracing.starting import chosen_files, curve_choices, curve_named, kept_photos

USUAL_STATIONS = "20 60 120 180 240 300 360 400"
WHY = "Underside from tracings"
_LISTS = (("stations", False), ("leans", True), ("gaps", False), ("channel", True))


@dataclass(frozen=True, slots=True, kw_only=True)
class BesideShown:
    """What was measured beside the tracings, as it is typed."""

    stations: str
    leans: str
    gaps: str
    channel: str
    mirrored: bool


@signed_in(Action.RECORD_SADDLE, FORM)
def new(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Take photos of a saddle's tracings, and have them read."""
    return asked_or_begun(request, uuid, _form, _begun)


def _form(
    request: PageRequest, page: SaddlePage, problems: Sequence[Problem], hindered: Sequence[Problem]
) -> HttpResponse:
    given = request.POST
    choices = curve_choices(request.actor)
    more: dict[str, Any] = {
        "beside": _beside_given(given),
        "instruments": choices,
        "instrument": given.get("instrument", choices[0][0]),
        "ruler_across": given.get("ruler_across", ""),
        "ruler_down": given.get("ruler_down", ""),
        "uuid": str(key_of(given.get("uuid", ""))),
        "papers": [(name, name.upper() if name != "letter" else "Letter") for name in PAPER_NAMES],
        "kind": SheetKind.SADDLE.value,
        "problems": list(problems),
        "hindered": list(hindered),
    }
    status = 422 if problems else 200
    return show(request, "tracing/saddle_new.html", f"Tracings of {page.label}", page, status=status, **more)


def _begun(request: PageRequest, page: SaddlePage) -> HttpResponse:
    problems: list[Problem] = []
    stated = stated_of(request.POST, problems)
    ruler = [_length(request.POST, name, problems) for name in ("ruler_across", "ruler_down")]
    files = chosen_files(request, problems)
    if problems:
        raise InputProblemsError(problems)
    tool = curve_named(request.actor, request.POST.get("instrument", ""))
    key = key_of(request.POST.get("uuid", ""))
    photos = kept_photos(request.actor, files, key, saddle=page.uuid)
    held = SaddleTracings(
        saddle=page.uuid,
        instrument=instrument_text(tool),
        stated=stated,
        ruler_mm=(ruler[0], ruler[1]),
    )
    job = ask_saddle_tracings(request.actor, held, page.label, photos, key)
    return HttpResponseRedirect(reverse("job", args=[job]))


@signed_in(Action.RECORD_SADDLE, FORM)
def overview(request: PageRequest, uuid: uuids.UUID, key: uuids.UUID) -> HttpResponse:
    """Show every photo with its curves, and what they make; put right what was measured beside them."""
    page = queries.saddle_page(request.actor, uuid)
    held = kept_tracings(request.actor, uuid, key)
    problems: list[Problem] = []
    if request.method == "POST":
        stated = stated_of(request.POST, problems)
        if not problems:
            keep_tracings(request.actor, key, replace(held, stated=stated))
            say(request, "What was measured beside the tracings is put right.")
            return HttpResponseRedirect(reverse("tracing:saddle_overview", args=[uuid, key]))
    made, hinders = _made(request, held)
    photos = [
        (one, curves_shown(one), reverse("tracing:saddle_file", args=[uuid, key, one.number]))
        for one in held.photos
    ]
    more: dict[str, Any] = {
        "key": key,
        "photos": photos,
        "unread": held.unread,
        "left": sum(not one.is_kept for one in held.photos),
        "beside": _beside_given(request.POST) if problems else _beside_held(held.stated),
        "problems": problems,
        "hinders": hinders,
        "sentences": tracing_sentences(made) if made else [],
        "measures": tracing_measures(made) if made else None,
        "remarks": made.remarks if made else (),
        "caution": SCREENING_NOTE,
        "why": WHY,
        "form": str(uuids.uuid4()),
    }
    status = 422 if problems else 200
    title = f"{page.label}: tracings"
    return show(request, "tracing/saddle_overview.html", title, page, status=status, **more)


def _made(request: PageRequest, held: SaddleTracings) -> tuple[TracedSaddle | None, tuple[Problem, ...]]:
    try:
        return made_of(request.actor, held), ()
    except InputProblemsError as error:
        return None, tuple(error.problems)


@signed_in(Action.RECORD_SADDLE, FORM)
def photo(request: PageRequest, uuid: uuids.UUID, key: uuids.UUID, number: int) -> HttpResponse:
    """Show one photo with its curves to move, and keep them."""
    page = queries.saddle_page(request.actor, uuid)
    held = kept_tracings(request.actor, uuid, key)
    one = held.photo(number)
    back = reverse("tracing:saddle_overview", args=[uuid, key])
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        try:
            kept = _kept_photo(request.POST, one)
        except InputProblemsError as error:
            problems = error.problems
        else:
            keep_tracings(request.actor, key, held.with_photo(kept))
            say(request, f"{kept.words}: kept.")
            after = next((n for n in held.photos if not n.is_kept and n.number != number), None)
            if after is None:
                return HttpResponseRedirect(back)
            return HttpResponseRedirect(reverse("tracing:saddle_photo", args=[uuid, key, after.number]))
    more: dict[str, Any] = {
        "held": one,
        "curves": curves_shown(one),
        "stations": list(enumerate(held.stated.behind_mm, start=1)),
        "is_saddle": True,
        "problems": problems,
        "form": str(uuids.uuid4()),
        "reach": max(one.sheet.size_px) // 50,
        "dot": max(one.sheet.size_px) // 160,
        "back_url": back,
        "file_url": reverse("tracing:saddle_file", args=[uuid, key, number]),
    }
    status = 422 if problems else 200
    return show(request, "tracing/photo.html", f"{one.words}: {page.label}", page, status=status, **more)


def _kept_photo(posted: QueryDict, one: HeldPhoto) -> HeldPhoto:
    curves, stations = [], []
    problems: list[Problem] = []
    for k, curve in enumerate(one.sheet.curves):
        after = moved(curve, one.sheet.to_mm, moves_of(posted, k, max(one.sheet.size_px)))
        left, right = (_edge(posted, f"{side}-edge-{k}", edges_shown(curve)[at], problems)
                       for at, side in enumerate(("left", "right")))  # fmt: skip
        curves.append(with_inner_edges(after, left, right))
        text = posted.get(f"station-{k}", "")
        chosen = int(text) if text.isdecimal() and len(text) <= 3 else one.stations[k]
        stations.append(0 if posted.get(f"leave-{k}") else max(chosen, 1))
    if problems:
        raise InputProblemsError(problems)
    used = [station for station in stations if station]
    if not used:
        raise input_problem("every curve of this photo is left out", "Keep one, or go on to the next photo.")
    if len(set(used)) < len(used):
        raise input_problem("two curves are said to be one station", "Say which is which.")
    sheet = replace(one.sheet, curves=tuple(curves))
    return replace(one, sheet=sheet, stations=tuple(stations), is_kept=True)


def _edge(posted: QueryDict, name: str, shown: str, problems: list[Problem]) -> float | None:
    """Return where a panel begins as a person typed it; None where that is what the stroke says."""
    text = posted.get(name, "").strip()
    if not text or text == shown:
        return None
    where = Where(field="Inner edge")
    read = parse_number(text, where)
    if isinstance(read, Problem):
        problems.append(read)
        return None
    if not INNER_MM[0] <= read <= INNER_MM[1]:
        what = f"{read:g} mm from the middle is no panel’s inner edge"
        cure = f"Give {INNER_MM[0]:.0f} to {INNER_MM[1]:.0f} mm."
        problems.append(Problem(what=what, cure=cure, where=where))
        return None
    return read


@signed_in(Action.RECORD_SADDLE, FORM)
def corners(request: PageRequest, uuid: uuids.UUID, key: uuids.UUID, number: int) -> HttpResponse:
    """Take the four corners of a plain paper with a saddle's curves, and have it read by them."""
    page = queries.saddle_page(request.actor, uuid)
    held = kept_tracings(request.actor, uuid, key)
    shown = photo_shown(request.actor, held.photo_uuid(number))
    size = (shown.width_px or 1, shown.height_px or 1)
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        try:
            frame = frame_of(request.POST, size, SheetKind.SADDLE)
        except InputProblemsError as error:
            problems = error.problems
        else:
            job = key_of(request.POST.get("form", ""))
            ask_saddle_corners(request.actor, uuid, key, page.label, number, frame, job)
            return HttpResponseRedirect(reverse("job", args=[job]))
    more = corners_shown(
        request.POST if request.method == "POST" else QueryDict(),
        photo_url=reverse("tracing:saddle_file", args=[uuid, key, number]),
        back_url=reverse("tracing:saddle_overview", args=[uuid, key]),
        size=size,
    ) | {
        "number": number,
        "is_saddle": True,
        "reason": next((one.reason for one in held.unread if one.number == number), ""),
        "problems": problems,
    }
    status = 422 if problems else 200
    return show(request, "tracing/corners.html", f"Corners: {page.label}", page, status=status, **more)


@signed_in(Action.RECORD_SADDLE, DEED)
def more(request: PageRequest, uuid: uuids.UUID, key: uuids.UUID) -> HttpResponse:
    """Take more photos of a saddle's tracings."""
    page = queries.saddle_page(request.actor, uuid)
    kept_tracings(request.actor, uuid, key)
    problems: list[Problem] = []
    files = chosen_files(request, problems)
    if problems:
        raise InputProblemsError(problems)
    job = key_of(request.POST.get("form", ""))
    photos = kept_photos(request.actor, files, job, saddle=uuid)
    ask_more_of_saddle(request.actor, uuid, key, page.label, photos, job)
    return HttpResponseRedirect(reverse("job", args=[job]))


@signed_in(Action.RECORD_SADDLE, DEED)
def record(request: PageRequest, uuid: uuids.UUID, key: uuids.UUID) -> HttpResponse:
    """Record what the curves make as a new version of the saddle."""
    page = queries.saddle_page(request.actor, uuid)
    made = made_of(request.actor, kept_tracings(request.actor, uuid, key))
    recorded = underside_recorded(
        request.actor,
        uuid,
        as_json(SaddleDocument.of(made.record)),
        why=request.POST.get("why", "") or WHY,
        seen=whole_of(request.POST.get("seen", "")),
    )
    say(request, f"{page.label}: recorded as version {recorded.version}, underside from tracings.")
    return HttpResponseRedirect(reverse("capture:measured_saddle", args=[uuid]))


@signed_in(Action.RECORD_SADDLE)
def picture(request: PageRequest, uuid: uuids.UUID, key: uuids.UUID) -> HttpResponse:
    """Give the picture of what the curves make."""
    kept = {"Cache-Control": "private, no-cache"}
    return HttpResponse(drawn_of(request.actor, uuid, key), content_type="image/svg+xml", headers=kept)


def drawn_of(actor: Actor, uuid: uuids.UUID, key: uuids.UUID) -> str:
    """Return the picture of what a saddle's curves make, as SVG."""
    from saddlebench.exchange.drawings import as_svg  # noqa: PLC0415 - slow to load
    from saddlebench.exchange.drawings.traced_underside import traced_underside  # noqa: PLC0415

    made = made_of(actor, kept_tracings(actor, uuid, key))
    return as_svg(traced_underside(made.underside, made.record.label))


@signed_in(Action.RECORD_SADDLE)
def file(request: PageRequest, uuid: uuids.UUID, key: uuids.UUID, number: int) -> HttpResponse:
    """Give a photo's bytes."""
    shown = photo_shown(request.actor, kept_tracings(request.actor, uuid, key).photo_uuid(number))
    path = stored_path(Path(settings.SADDLEBENCH_HOME), shown.sha256, shown.media_type)
    if not path.is_file():
        raise NotFoundError("file of this photo", shown.uuid)
    return HttpResponse(path.read_bytes(), content_type=shown.media_type)


def stated_of(posted: QueryDict, problems: list[Problem]) -> SectionsStated:
    """Return what was measured beside the tracings as a form says it; what is wrong is noted."""
    lists = {
        name: _numbers(posted.get(name, ""), name, problems, has_gaps=has_gaps) for name, has_gaps in _LISTS
    }
    if not lists["stations"] and not problems:
        cure = "Write them with spaces between: 20 60 120 180."
        problems.append(Problem(what="no station has a distance", cure=cure, where=Where(field="stations")))
    stated = SectionsStated(
        behind_mm=tuple(one for one in lists["stations"] if one is not None),
        leans_deg=lists["leans"],
        gaps_mm=tuple(one for one in lists["gaps"] if one is not None),
        channel_mm=lists["channel"],
        mirrored=posted.get("mirrored") == "1",
    )
    if not problems:
        problems += stated_problems(stated)
    return stated


def _numbers(text: str, name: str, problems: list[Problem], *, has_gaps: bool) -> tuple[float | None, ...]:
    found: list[float | None] = []
    for part in text.replace(";", " ").replace(", ", " ").split():
        if has_gaps and part.strip(",") in {"-", "–", "—"}:
            found.append(None)
            continue
        read = parse_number(part.strip(","), Where(field=name))
        if isinstance(read, Problem):
            problems.append(read)
        else:
            found.append(read)
    return tuple(found)


def _length(posted: QueryDict, name: str, problems: list[Problem]) -> float | None:
    text = posted.get(name, "")
    if not text.strip():
        return None
    read = parse_number(text, Where(field="Ruler"))
    if isinstance(read, Problem):
        problems.append(read)
        return None
    return read


def _beside_given(given: QueryDict) -> BesideShown:
    return BesideShown(
        stations=given.get("stations", USUAL_STATIONS),
        leans=given.get("leans", ""),
        gaps=given.get("gaps", ""),
        channel=given.get("channel", ""),
        mirrored=given.get("mirrored") == "1",
    )


def _beside_held(stated: SectionsStated) -> BesideShown:
    return BesideShown(
        stations=as_numbers(stated.behind_mm),
        leans=as_numbers(stated.leans_deg),
        gaps=as_numbers(stated.gaps_mm),
        channel=as_numbers(stated.channel_mm),
        mirrored=stated.mirrored,
    )
