"""The form that takes a scan."""

import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.instruments import key_or_404
from saddlebench.web.base.render import show
from saddlebench.web.scan.held import keep_file
from saddlebench.web.scan.working import AXES, ask_look


@dataclass(frozen=True, slots=True, kw_only=True)
class StartShown:
    """The form as it stands."""

    horse: uuids.UUID
    label: str
    day: str
    up: str
    head: str
    uuid: str
    axes: tuple[str, ...] = AXES
    problems: tuple[Problem, ...] = ()


@signed_in(Action.RECORD_BACK, FORM)
def new(request: PageRequest) -> HttpResponse:
    """Take a scan, and have it looked at."""
    if request.method == "POST":
        try:
            return _begun(request)
        except InputProblemsError as error:
            return _form(request, error.problems)
    return _form(request, ())


def _form(request: PageRequest, problems: Sequence[Problem]) -> HttpResponse:
    given = request.POST if request.method == "POST" else request.GET
    horse = queries.horse_page(request.actor, key_or_404(given.get("horse", "")))
    form = StartShown(
        horse=horse.uuid,
        label=horse.label,
        day=given.get("day", timezone.localdate().isoformat()),
        up=given.get("up", ""),
        head=given.get("head", ""),
        uuid=str(key_of(given.get("uuid", ""))),
        problems=tuple(problems),
    )
    return show(request, "scan/new.html", f"Scan of {horse.label}", form, status=422 if problems else 200)


def _begun(request: PageRequest) -> HttpResponse:
    posted = request.POST
    horse = queries.horse_page(request.actor, key_or_404(posted.get("horse", "")))
    problems: list[Problem] = []
    file = request.FILES.get("scan")
    if file is None:
        problems.append(
            Problem(what="no scan was chosen", cure="Choose its file.", where=Where(field="Scan"))
        )
    try:
        day = date.fromisoformat(posted.get("day", ""))
    except ValueError:
        day = timezone.localdate()
        where = Where(field="Day")
        problems.append(Problem(what="this is not a date", cure="Write year-month-day.", where=where))
    if problems or file is None:
        raise InputProblemsError(problems)
    uuid = key_of(posted.get("uuid", ""))
    keep_file(request.actor, uuid, file.name or "scan", file.chunks())
    ask_look(request.actor, uuid, horse.uuid, horse.label, day, posted.get("up", ""), posted.get("head", ""))
    return HttpResponseRedirect(reverse("job", args=[uuid]))
