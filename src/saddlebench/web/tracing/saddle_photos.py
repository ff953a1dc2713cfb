"""One photo of a saddle's tracings: its curves to look at and put right, or the corners of a plain paper."""

import uuid as uuids
from dataclasses import replace
from typing import Any

from django.http import HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import reverse
from django.utils.translation import gettext as _

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.across_saddle import INNER_MM, with_inner_edges
from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.photos import photo as photo_shown
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.base.spoken import problem_told, spoken
from saddlebench.web.tracing.adding import corners_shown, frame_of
from saddlebench.web.tracing.held import HeldPhoto, moved
from saddlebench.web.tracing.looking import curves_shown, edges_shown, moves_of
from saddlebench.web.tracing.reading import file_of
from saddlebench.web.tracing.saddle_held import keep_tracings, kept_tracings
from saddlebench.web.tracing.saddle_working import ask_saddle_corners
from saddlebench.web.tracing.typed import typed_number


@signed_in(Action.RECORD_SADDLE, FORM)
@spoken
def photo(request: PageRequest, uuid: uuids.UUID, key: uuids.UUID, number: int) -> HttpResponse:
    """Show one photo with its curves to move, and keep them."""
    page = queries.saddle_page(request.actor, uuid)
    held = kept_tracings(request.actor, uuid, key)
    one = held.photo(number)
    back = reverse("tracing:saddle_overview", args=[uuid, key])
    problems: list[Problem] = []
    if request.method == "POST":
        try:
            kept = _kept_photo(request.POST, one)
        except InputProblemsError as error:
            problems = [problem_told(wrong) for wrong in error.problems]
        else:
            keep_tracings(request.actor, key, held.with_photo(kept))
            say(request, _("%(what)s: kept.") % {"what": kept.words})
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
    if text == shown:
        return None
    read = typed_number(text, "Inner edge", problems)
    if read is None or INNER_MM[0] <= read <= INNER_MM[1]:
        return read
    what = f"{read:g} mm from the middle is no panel’s inner edge"
    cure = f"Give {INNER_MM[0]:.0f} to {INNER_MM[1]:.0f} mm."
    problems.append(Problem(what=what, cure=cure, where=Where(field="Inner edge")))
    return None


@signed_in(Action.RECORD_SADDLE, FORM)
@spoken
def corners(request: PageRequest, uuid: uuids.UUID, key: uuids.UUID, number: int) -> HttpResponse:
    """Take the four corners of a plain paper with a saddle's curves, and have it read by them."""
    page = queries.saddle_page(request.actor, uuid)
    held = kept_tracings(request.actor, uuid, key)
    shown = photo_shown(request.actor, held.photo_uuid(number))
    size = (shown.width_px or 1, shown.height_px or 1)
    problems: list[Problem] = []
    if request.method == "POST":
        try:
            frame = frame_of(request.POST, size, SheetKind.SADDLE)
        except InputProblemsError as error:
            problems = [problem_told(wrong) for wrong in error.problems]
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
    title = _("Corners: %(subject)s") % {"subject": page.label}
    return show(request, "tracing/corners.html", title, page, status=status, **more)


@signed_in(Action.RECORD_SADDLE)
def file(request: PageRequest, uuid: uuids.UUID, key: uuids.UUID, number: int) -> HttpResponse:
    """Give a photo's bytes."""
    return file_of(request.actor, kept_tracings(request.actor, uuid, key).photo_uuid(number))
