"""Photos and films arriving: sniffed, decoded in bounds, checked, stored under names of ours."""

import uuid as uuids
from typing import Any
from zoneinfo import ZoneInfo

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.photos import photos_of, shot_list
from saddlebench.practice.services import attach_photo
from saddlebench.practice.services.photos import keep_photo_anyway
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.photos.film_limits import LARGEST_FILM_BYTES
from saddlebench.web.photos.keeping import keep
from saddlebench.web.photos.showing import ShotPhotos

MOST_AT_ONCE = 20


@signed_in(Action.ENTER_VISIT, DEED)
def add(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Take photos and films to a visit; one that cannot be taken does not stop the others."""
    queries.visit_page(request.actor, uuid)
    files = request.FILES.getlist("file")
    shot = request.POST.get("shot", "")
    known = {one.name for one in shot_list(request.actor)}
    first = key_of(request.POST.get("form", ""))
    problems: list[Problem] = []
    kept = 0
    if not files:
        problems.append(Problem(what="No file came", cure="Choose a picture or a film."))
    if len(files) > MOST_AT_ONCE:
        what = f"{len(files)} files at once are more than {MOST_AT_ONCE}; the first {MOST_AT_ONCE} were taken"
        problems.append(Problem(what=what, cure="Send the rest after them."))
    for number, file in enumerate(files[:MOST_AT_ONCE]):
        key = uuids.uuid5(first, str(number))
        try:
            _take(request, file, shot if shot in known else "", uuid, key)
        except InputProblemsError as error:
            problems += error.problems
        else:
            kept += 1
    if request.htmx:
        return _shot(request, uuid, shot, problems)
    if kept:
        say(request, "The photo is kept." if kept == 1 else f"{kept} photos are kept.")
    if problems:
        raise InputProblemsError(problems)
    return HttpResponseRedirect(reverse("visit:step", args=[uuid, "photos"]))


def _take(
    request: PageRequest, file: "UploadedFile[Any]", shot: str, visit: uuids.UUID, key: uuids.UUID
) -> None:
    stored, facts = keep(_content(file), shot, ZoneInfo(request.standing.zone))
    attach_photo(request.actor, stored, facts, visit=visit, uuid=key)


def _content(file: "UploadedFile[Any]") -> bytes:
    """Read a file, one byte beyond what any kind of it may hold: the kind's own limit names itself."""
    return bytes(file.read(LARGEST_FILM_BYTES + 1))


def _shot(request: PageRequest, uuid: uuids.UUID, name: str, problems: list[Problem]) -> HttpResponse:
    """Answer with one shot of the list as it now stands."""
    shots = {one.name: one.words for one in shot_list(request.actor)}
    name = name if name in shots else ""
    found = [
        one for one in photos_of(request.actor, visit=uuid) if (one.shot if one.shot in shots else "") == name
    ]
    shot = ShotPhotos(name=name, words=shots.get(name, "Anything else, and films"), photos=tuple(found))
    more: dict[str, object] = {"shot": shot, "visit_uuid": uuid, "problems": problems}
    return show(request, "photos/shot.html", "", status=422 if problems else 200, **more)


@signed_in(Action.ENTER_VISIT, DEED)
def keep_anyway(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Keep a photo with what the check found in it."""
    photo = keep_photo_anyway(request.actor, uuid)
    say(request, "The photo is kept as it is.")
    return HttpResponseRedirect(_back(photo.visit.uuid if photo.visit else None, uuid))


def _back(visit: uuids.UUID | None, photo: uuids.UUID) -> str:
    if visit is None:
        return reverse("photos:photo", args=[photo])
    return reverse("visit:step", args=[visit, "photos"])
