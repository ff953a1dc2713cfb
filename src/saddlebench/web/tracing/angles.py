"""Angles of the topline, the shoulder and the points on a photo of the horse, with their errors."""

import uuid as uuids
from typing import Any

from django.http import HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import reverse
from django.utils.translation import gettext

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.practice.catalogue.drawn import MEASURED_KINDS
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.photos import PhotoShown
from saddlebench.practice.queries.photos import photo as photo_shown
from saddlebench.practice.services.photos import draw_on_photo, rub_off_photo
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.base.spoken import problem_told, spoken
from saddlebench.web.tracing.marked import Marked, Mover, marked_places
from saddlebench.web.tracing.typed import shown_number

LINES = {
    "topline": ("Topline", (0.35, 0.35), (0.6, 0.36)),
    "shoulder": ("Shoulder", (0.24, 0.52), (0.33, 0.36)),
    "points": ("Tree points", (0.3, 0.5), (0.36, 0.38)),
    "level": ("Level line", (0.15, 0.92), (0.85, 0.92)),
    "upright": ("Plumb line", (0.93, 0.9), (0.93, 0.25)),
}
"""What is marked, in words, and where its two places lie at first, in shares of the photo."""
KNOWN = ("level", "upright")


@signed_in(Action.ENTER_VISIT, FORM)
@spoken
def angles(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a photo with lines to lay on the horse and on what is level and plumb; keep them."""
    page = photo_shown(request.actor, uuid)
    if page.is_film or not page.width_px or not page.height_px:
        raise input_problem("angles are measured on photos", "Choose a photo.")
    size = (page.width_px, page.height_px)
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        try:
            _keep(request, page, size)
        except InputProblemsError as error:
            problems = tuple(problem_told(one) for one in error.problems)
        else:
            say(request, gettext("The lines are kept with the photo, and what they measure is named there."))
            return HttpResponseRedirect(reverse("photos:photo", args=[uuid]))
    held = _held(page, size)
    given = request.POST if request.method == "POST" else held
    context: dict[str, Any] = {
        "marked": Marked(
            photo_url=reverse("photos:file", args=[uuid]),
            size_px=size,
            movers=tuple(Mover.of(*one, given, size) for one in _asked()),
            lines=tuple((f"{key}-a {key}-b", key) for key in LINES),
        ),
        "lines": [
            (key, gettext(words), given.get(f"use-{key}", "") == "1", given.get(f"mm-{key}", ""))
            for key, (words, *_) in LINES.items()
        ],
        "known": KNOWN,
        "problems": problems,
    }
    status = 422 if problems else 200
    return show(request, "tracing/angles.html", gettext("Angles on a photo"), page, status=status, **context)


def _asked() -> list[tuple[str, str, float, float]]:
    ends = (("a", gettext("%(line)s, first point")), ("b", gettext("%(line)s, second point")))
    return [
        (f"{key}-{end}", named % {"line": gettext(words)}, *place)
        for key, (words, *places) in LINES.items()
        for (end, named), place in zip(ends, places, strict=True)
    ]


def _held(page: PhotoShown, size: tuple[int, int]) -> QueryDict:
    """Return what is marked on the photo, as a form would give it; at first the topline and the level."""
    given = QueryDict(mutable=True)
    marks = {str(mark["kind"]): mark for mark in page.drawn if mark["kind"] in LINES}
    for kind, mark in marks.items():
        given[f"use-{kind}"] = "1"
        points = mark["points"]
        for end, place in zip("ab", points if isinstance(points, list) else [], strict=True):
            x, y = place if isinstance(place, list) else (0.0, 0.0)
            given[f"x-{kind}-{end}"], given[f"y-{kind}-{end}"] = (
                f"{float(str(x)) * size[0]:.0f}",
                f"{float(str(y)) * size[1]:.0f}",
            )
        if mark["known_mm"] is not None:
            given[f"mm-{kind}"] = shown_number(float(str(mark["known_mm"])))
    if not marks:
        given["use-topline"] = given["use-level"] = "1"
    return given


def _keep(request: PageRequest, page: PhotoShown, size: tuple[int, int]) -> None:
    posted = request.POST
    used = [key for key in LINES if posted.get(f"use-{key}") == "1"]
    if not set(used) & set(MEASURED_KINDS):
        cure = "Tick the topline, the shoulder or the points."
        raise input_problem("nothing is to be measured", cure, Where(field="Lines"))
    problems: list[Problem] = []
    asked = [one for one in _asked() if one[0].rpartition("-")[0] in used]
    places = marked_places(posted, asked, size, problems)
    if problems:
        raise InputProblemsError(problems)
    for kind in LINES:
        key = uuids.uuid5(page.uuid, kind)
        if kind not in used:
            for mark in page.drawn:
                if mark["kind"] == kind:
                    rub_off_photo(request.actor, page.uuid, uuids.UUID(str(mark["key"])))
            continue
        points = [(x / size[0], y / size[1]) for x, y in (places[f"{kind}-a"], places[f"{kind}-b"])]
        known = posted.get(f"mm-{kind}", "").strip() or None
        draw_on_photo(
            request.actor, page.uuid, kind, points, key=key, known_mm=known if kind in KNOWN else None
        )
