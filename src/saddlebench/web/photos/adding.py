"""Photos and films arriving: sniffed, decoded in bounds, checked, stored under names of ours."""

import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.exchange.films.limits import LARGEST_FILM_BYTES
from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.photos import photos_of, shot_list
from saddlebench.practice.services import attach_photo
from saddlebench.practice.services.photos import keep_photo_anyway
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.photos.keeping import keep
from saddlebench.web.photos.showing import MORE_WORDS, ShotPhotos

MOST_AT_ONCE = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What came of the files of one form."""

    kept: tuple[uuids.UUID, ...]
    problems: tuple[Problem, ...]


@signed_in(Action.ENTER_VISIT, DEED)
def add(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Take photos and films to a visit; one that cannot be taken does not stop the others."""
    queries.visit_page(request.actor, uuid)
    shot = request.POST.get("shot", "")
    known = {one.name for one in shot_list(request.actor)}
    taken = _take_all(request, shot if shot in known else "", visit=uuid)
    if request.htmx:
        return _shot(request, uuid, shot, taken.problems)
    return _answered(request, taken, reverse("visit:step", args=[uuid, "photos"]))


@signed_in(Action.EDIT_SADDLES, DEED)
def add_to_saddle(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Take photos and films of a saddle, outside any visit."""
    queries.saddle_page(request.actor, uuid)
    return _added_to(request, "saddle", uuid)


@signed_in(Action.ENTER_VISIT, DEED)
def add_to_horse(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Take photos and films of a horse, outside any visit."""
    queries.horse_page(request.actor, uuid)
    return _added_to(request, "horse", uuid)


def _added_to(request: PageRequest, kind: str, uuid: uuids.UUID) -> HttpResponse:
    taken = _take_all(request, "", **{kind: uuid})
    if not request.htmx:
        return _answered(request, taken, reverse(f"photos:of_{kind}", args=[uuid]))
    new = tuple(one for one in photos_of(request.actor, **{kind: uuid}) if one.uuid in taken.kept)
    more: dict[str, object] = {
        "shot": ShotPhotos(name="", words=MORE_WORDS, photos=new),
        "add_url": reverse(f"photos:add_to_{kind}", args=[uuid]),
        "problems": taken.problems,
    }
    return show(request, "photos/shot.html", "", status=422 if taken.problems else 200, **more)


def _answered(request: PageRequest, taken: Taken, address: str) -> HttpResponse:
    if taken.kept:
        n = len(taken.kept)
        say(request, "The photo is kept." if n == 1 else f"{n} photos are kept.")
    if taken.problems:
        raise InputProblemsError(taken.problems)
    return HttpResponseRedirect(address)


def _take_all(
    request: PageRequest,
    shot: str,
    *,
    visit: uuids.UUID | None = None,
    horse: uuids.UUID | None = None,
    saddle: uuids.UUID | None = None,
) -> Taken:
    files = request.FILES.getlist("file")
    first = key_of(request.POST.get("form", ""))
    problems: list[Problem] = []
    kept: list[uuids.UUID] = []
    if not files:
        problems.append(Problem(what="No file came", cure="Choose a picture or a film."))
    if len(files) > MOST_AT_ONCE:
        what = f"{len(files)} files at once are more than {MOST_AT_ONCE}; the first {MOST_AT_ONCE} were taken"
        problems.append(Problem(what=what, cure="Send the rest after them."))
    for number, file in enumerate(files[:MOST_AT_ONCE]):
        key = uuids.uuid5(first, str(number))
        try:
            stored, facts = keep(_content(file), shot, ZoneInfo(request.standing.zone))
            attach_photo(request.actor, stored, facts, visit=visit, horse=horse, saddle=saddle, uuid=key)
        except InputProblemsError as error:
            problems += error.problems
        else:
            kept.append(key)
    return Taken(kept=tuple(kept), problems=tuple(problems))


def _content(file: "UploadedFile[Any]") -> bytes:
    """Read a file, one byte beyond what any kind of it may hold: the kind's own limit names itself."""
    return bytes(file.read(LARGEST_FILM_BYTES + 1))


def _shot(request: PageRequest, uuid: uuids.UUID, name: str, problems: Sequence[Problem]) -> HttpResponse:
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
    if photo.visit is None:
        return HttpResponseRedirect(reverse("photos:photo", args=[uuid]))
    return HttpResponseRedirect(reverse("visit:step", args=[photo.visit.uuid, "photos"]))
