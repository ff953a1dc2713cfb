"""The form that takes a scan."""

import json
import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.engine.units import Length
from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.scans import ScanRow, scans_of
from saddlebench.practice.services.scans import MOST_PIECES, ScanFacts, bring_scan
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.instruments import key_or_404
from saddlebench.web.base.render import show
from saddlebench.web.base.scan_files import store_files
from saddlebench.web.base.spoken import problem_told, spoken
from saddlebench.web.scan.axis_words import level_choices, level_named
from saddlebench.web.scan.held import take_out_old_looks
from saddlebench.web.scan.unit_words import UNIT_WORDS
from saddlebench.web.scan.working import AXES, ask_look

SCRIPT_WORDS = {
    "sending": _("Sending. Stay on this page until it is sent."),
    "sent": _("sent"),
    "checking": _("All is sent; it is being checked."),
    "refused": _("It was not taken."),
    "lost": _("The connection broke off. Nothing was kept: send it again."),
    "stopped": _("Stopped. Nothing was kept."),
}
"""What the page's script says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StartShown:
    """The form as it stands."""

    horse: uuids.UUID
    label: str
    day: str
    visit: str
    """Name of the visit it is taken at; empty: of none."""
    up: str
    head: str
    uuid: str
    unit: str
    scans: tuple[ScanRow, ...]
    """The horse's scans so far."""
    units: tuple[tuple[str, Promise], ...] = tuple((unit.value, words) for unit, words in UNIT_WORDS.items())
    most_pieces: int = MOST_PIECES
    level_by: str
    levels: tuple[tuple[str, str], ...]
    axes: tuple[str, ...] = AXES
    problems: tuple[Problem, ...] = ()


@signed_in(Action.RECORD_BACK, FORM)
@spoken
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
        visit=given.get("visit", ""),
        up=given.get("up", ""),
        head=given.get("head", ""),
        level_by=given.get("level", ""),
        levels=level_choices(),
        unit=given.get("unit", ""),
        scans=scans_of(request.actor, horse=horse.uuid),
        uuid=str(key_of(given.get("uuid", ""))),
        problems=tuple(problem_told(one) for one in problems),
    )
    return show(
        request,
        "scan/new.html",
        gettext("Scan of %(horse)s") % {"horse": horse.label},
        form,
        status=422 if problems else 200,
        words=json.dumps({name: str(words) for name, words in SCRIPT_WORDS.items()}, ensure_ascii=False),
    )


def _begun(request: PageRequest) -> HttpResponse:
    posted = request.POST
    horse = queries.horse_page(request.actor, key_or_404(posted.get("horse", "")))
    problems: list[Problem] = []
    files = request.FILES.getlist("scan")
    if not files:
        problems.append(
            Problem(what="no scan was chosen", cure="Choose its file.", where=Where(field="Scan"))
        )
    try:
        day = date.fromisoformat(posted.get("day", ""))
    except ValueError:
        day = timezone.localdate()
        where = Where(field="Day")
        problems.append(Problem(what="this is not a date", cure="Write year-month-day.", where=where))
    if problems:
        raise InputProblemsError(problems)
    uuid = key_of(posted.get("uuid", ""))
    take_out_old_looks()
    unit = Length(posted["unit"]) if posted.get("unit", "") in list(Length) else None
    facts = ScanFacts(
        measured_on=day,
        up=posted.get("up", ""),
        head=posted.get("head", ""),
        level_by=level_named(posted.get("level", "")),
        unit=unit,
    )
    visit = key_or_404(posted["visit"]) if posted.get("visit") else None
    stored = store_files([(one.name or "scan", one.chunks()) for one in files])
    bring_scan(request.actor, uuid, horse.uuid, stored, facts, visit_uuid=visit)
    ask_look(request.actor, uuid, uuid)
    return HttpResponseRedirect(reverse("job", args=[uuid]))
