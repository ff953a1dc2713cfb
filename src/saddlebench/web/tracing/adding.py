"""What is added to tracings already begun: more photos, and the corners of a paper without marks."""

import uuid as uuids
from typing import Any

from django.http import HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import reverse
from django.utils.translation import gettext as _

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.templates.tiles import PAPERS
from saddlebench.exchange.tracings.by_hand import framed
from saddlebench.exchange.tracings.sheet_read import Frame, KnownLength
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.captures import CapturePage
from saddlebench.practice.queries.photos import photo as photo_shown
from saddlebench.practice.services import NotFoundError
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import problem_told, spoken
from saddlebench.web.tracing.held import unread_photos
from saddlebench.web.tracing.looking import captured
from saddlebench.web.tracing.marked import Marked, Mover, marked_places
from saddlebench.web.tracing.starting import chosen_files, kept_photos
from saddlebench.web.tracing.typed import shown_number, typed_number
from saddlebench.web.tracing.working import ask_by_corners, ask_more

OTHER = "other"
CORNERS = (
    ("c1", "Upper left", 0.12, 0.12),
    ("c2", "Upper right", 0.88, 0.12),
    ("c3", "Lower right", 0.88, 0.88),
    ("c4", "Lower left", 0.12, 0.88),
)
ENDS = (("l1", "Known length, one end", 0.3, 0.5), ("l2", "Known length, other end", 0.7, 0.5))


@signed_in(Action.RECORD_BACK, DEED)
@spoken
def more(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Take more photos, and have them read into a measuring already begun."""
    page = captured(request.actor, uuid)
    problems: list[Problem] = []
    files = chosen_files(request, problems)
    if problems:
        raise InputProblemsError(problems)
    job = key_of(request.POST.get("form", ""))
    ask_more(request.actor, page, kept_photos(request.actor, files, job, horse=page.horse.uuid), job)
    return HttpResponseRedirect(reverse("job", args=[job]))


@signed_in(Action.RECORD_BACK, FORM)
@spoken
def corners(request: PageRequest, uuid: uuids.UUID, number: int) -> HttpResponse:
    """Take the four corners of a paper without marks, and what is known of its size; have it read by them."""
    page = captured(request.actor, uuid)
    size = _size_of(request, page, number)
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        try:
            frame = frame_of(request.POST, size)
        except InputProblemsError as error:
            problems = error.problems
        else:
            job = key_of(request.POST.get("form", ""))
            ask_by_corners(request.actor, page, number, frame, job)
            return HttpResponseRedirect(reverse("job", args=[job]))
    return _form(request, page, number, size, problems)


def _size_of(request: PageRequest, page: CapturePage, number: int) -> tuple[int, int]:
    held = page.values.get(f"trace/{number}/photo")
    if held is None:
        raise NotFoundError("photo of a tracing", str(number))
    shown = photo_shown(request.actor, uuids.UUID(str(held)))
    return shown.width_px or 1, shown.height_px or 1


def _form(
    request: PageRequest,
    page: CapturePage,
    number: int,
    size: tuple[int, int],
    problems: tuple[Problem, ...],
) -> HttpResponse:
    context = corners_shown(
        request.POST if request.method == "POST" else QueryDict(),
        photo_url=reverse("tracing:file", args=[page.uuid, number]),
        back_url=reverse("tracing:overview", args=[page.uuid]),
        size=size,
    ) | {
        "number": number,
        "reason": next((one.reason for one in unread_photos(page) if one.number == number), ""),
        "problems": [problem_told(one) for one in problems],
    }
    status = 422 if problems else 200
    title = _("Corners: %(subject)s") % {"subject": page.label}
    return show(request, "tracing/corners.html", title, page, status=status, **context)


def corners_shown(
    given: QueryDict, *, photo_url: str, back_url: str, size: tuple[int, int]
) -> dict[str, Any]:
    """Return what the page of a paper's corners shows, as it was given or as it is at first."""
    papers = [
        (name, f"{paper.name}, {shown_number(paper.width_mm)} × {shown_number(paper.height_mm)} mm")
        for name, paper in PAPERS.items()
    ]
    return {
        "back_url": back_url,
        "marked": Marked(
            photo_url=photo_url,
            size_px=size,
            movers=tuple(Mover.of(*one, given, size) for one in (*CORNERS, *ENDS)),
            lines=(("c1 c2 c3 c4 c1", "frame"), ("l1 l2", "length")),
        ),
        "papers": [*papers, (OTHER, _("another size, or not known"))],
        "paper": given.get("paper", "a3"),
        "turned": given.get("turned", "wide"),
        "kind": given.get("kind", SheetKind.SECTIONS.value),
        "given": {name: given.get(name, "") for name in ("width", "height", "length_mm", "middle")},
        "form": str(uuids.uuid4()),
    }


def frame_of(posted: QueryDict, size_px: tuple[int, int], usual: SheetKind = SheetKind.SECTIONS) -> Frame:
    """Return the paper as a form says it; `usual` is what is on it where the form does not ask.

    Raises
    ------
    InputProblemsError
        With everything that is wrong, or if the corners are no paper seen by a camera.
    """
    problems: list[Problem] = []
    places = marked_places(posted, (*CORNERS, *ENDS), size_px, problems)
    numbers = {
        name: typed_number(posted.get(name, ""), words, problems)
        for name, words in (
            ("width", "Width"),
            ("height", "Height"),
            ("length_mm", "Known length"),
            ("middle", "Midline"),
        )
    }
    if problems:
        raise InputProblemsError(problems)
    width, height = numbers["width"], numbers["height"]
    paper = PAPERS.get(posted.get("paper", ""))
    if paper is not None:
        sides = sorted((paper.width_mm, paper.height_mm))
        width, height = sides[::-1] if posted.get("turned", "wide") == "wide" else sides
    mm = numbers["length_mm"]
    kind = posted.get("kind", "")
    frame = Frame(
        kind=SheetKind(kind) if kind in {SheetKind.SECTIONS, SheetKind.TOPLINE} else usual,
        corners=tuple(places[key] for key, *_ in CORNERS),
        width_mm=width if height is not None else None,
        height_mm=height if width is not None else None,
        length=None if mm is None else KnownLength(start=places["l1"], end=places["l2"], mm=mm),
        middle_mm=numbers["middle"],
    )
    framed(frame, size_px)
    return frame
