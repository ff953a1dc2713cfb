"""Drawing on a photo, saying what it shows, and the practice's list of shots."""

import uuid as uuids

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem, input_problem
from saddlebench.practice.catalogue import read_number
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.photos import photo, shot_list
from saddlebench.practice.services.photos import describe_photo, draw_on_photo, rub_off_photo, set_shots
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.photos.measuring import drawn_shown

_POINTS = {"line": 2, "angle": 3, "distance": 2, "known": 2}


@signed_in(Action.ENTER_VISIT, DEED)
def draw(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Draw a mark: its points come as parts of a hundred of the picture's width and height."""
    photo(request.actor, uuid)
    posted = request.POST
    kind = posted.get("kind", "")
    try:
        points = [_point(posted.get(f"x{n}", ""), posted.get(f"y{n}", "")) for n in _wanted(kind)]
        draw_on_photo(
            request.actor,
            uuid,
            kind,
            points,
            key=key_of(posted.get("key", "")),
            known_mm=posted.get("known_mm") or None,
        )
    except InputProblemsError as error:
        if not request.htmx:
            raise
        return _drawing(request, uuid, error.problems)
    return _answer(request, uuid)


def _wanted(kind: str) -> range:
    if kind not in _POINTS:
        raise input_problem("this is no kind of mark", "Choose line, angle, distance or known length.")
    return range(1, _POINTS[kind] + 1)


def _point(x: str, y: str) -> tuple[float, float]:
    return read_number(x) / 100, read_number(y) / 100


@signed_in(Action.ENTER_VISIT, DEED)
def rub_off(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Take a mark off."""
    rub_off_photo(request.actor, uuid, key_of(request.POST.get("mark", "")))
    return _answer(request, uuid)


def _answer(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    if request.htmx:
        return _drawing(request, uuid, ())
    say(request, "The drawing is kept.")
    return HttpResponseRedirect(reverse("photos:photo", args=[uuid]))


def _drawing(request: PageRequest, uuid: uuids.UUID, problems: tuple[Problem, ...]) -> HttpResponse:
    page = photo(request.actor, uuid)
    more: dict[str, object] = {
        "drawn": drawn_shown(page.drawn, page.width_px, page.height_px),
        "stroke": max(page.width_px or 0, page.height_px or 0) / 300,
        "problems": problems,
        "fresh": str(uuids.uuid4()),
    }
    return show(request, "photos/drawing.html", "", page, status=422 if problems else 200, **more)


@signed_in(Action.ENTER_VISIT, DEED)
def describe(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Say which shot a photo is, and what is to be seen on it."""
    posted = request.POST
    names = {shot.name for shot in shot_list(request.actor)}
    shot = posted.get("shot", "")
    describe_photo(
        request.actor,
        uuid,
        shot=shot if shot in names else "",
        note=posted.get("note", ""),
        seen=posted.get("note.was", ""),
    )
    say(request, "What the photo shows is kept.")
    return HttpResponseRedirect(reverse("photos:photo", args=[uuid]))


@signed_in(Action.MANAGE_PRACTICE, FORM)
def shots(request: PageRequest) -> HttpResponse:
    """Show or set which photos the practice takes at a visit."""
    text = "\n".join(shot.words for shot in shot_list(request.actor))
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        text = request.POST.get("shots", "")
        try:
            set_shots(request.actor, text)
        except InputProblemsError as error:
            problems = error.problems
        else:
            say(request, "The shot list is kept.")
            return HttpResponseRedirect(reverse("photos:shots"))
    status = 422 if problems else 200
    return show(request, "photos/list.html", "Shot list", status=status, text=text, problems=problems)
