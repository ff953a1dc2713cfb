"""Bring a scan of an upturned saddle, look at what was found, record it."""

import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.translation import gettext as _

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.engine.units import Length
from saddlebench.exchange.phrases import SCREENING_NOTE
from saddlebench.exchange.saddles.scanned import Heading
from saddlebench.exchange.scans.limits import MAX_BYTES
from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.saddle_scans import saddle_scan, saddle_scans_of
from saddlebench.practice.queries.saddles import SaddlePage
from saddlebench.practice.services.saddle_scans import bring_saddle_scan
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.fields import key_of, whole_of
from saddlebench.web.base.measured_saddle import asked_or_begun, underside_recorded
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.base.scan_files import store_files
from saddlebench.web.base.spoken import problem_told, spoken
from saddlebench.web.underside.working import ask_scan, found_kept, picture_kept


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedShown:
    """The form as it stands."""

    unit: str
    heading: str
    uuid: str


@signed_in(Action.RECORD_SADDLE, FORM)
@spoken
def new(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Take a scan, and have the underside looked for in it."""
    return asked_or_begun(request, uuid, _form, _begun)


def _form(
    request: PageRequest, page: SaddlePage, problems: Sequence[Problem], hindered: Sequence[Problem]
) -> HttpResponse:
    asked = AskedShown(
        unit=request.POST.get("unit", ""),
        heading=request.POST.get("heading", Heading.FROM_SHAPE.value),
        uuid=str(key_of(request.POST.get("uuid", ""))),
    )
    return show(
        request,
        "underside/new.html",
        _("Scan of %(saddle)s") % {"saddle": page.label},
        page,
        state=asked,
        units=[one.value for one in Length],
        headings=[one.value for one in Heading],
        problems=[problem_told(one) for one in problems],
        hindered=[problem_told(one) for one in hindered],
        most_mb=MAX_BYTES // 1_000_000,
        scans=[(one, str(uuids.uuid4())) for one in saddle_scans_of(request.actor, page.uuid)],
        status=422 if problems else 200,
    )


def _begun(request: PageRequest, page: SaddlePage) -> HttpResponse:
    problems = []
    unit, heading = request.POST.get("unit", ""), request.POST.get("heading", "")
    if unit not in list(Length):
        where = Where(field="Unit")
        cure = "Choose it: the scanning program says it. It is never guessed."
        problems.append(Problem(what="the unit of the scan is not stated", cure=cure, where=where))
    if heading not in list(Heading):
        where = Where(field="Pommel")
        problems.append(Problem(what="this says nothing of the pommel", cure="Choose one.", where=where))
    key = key_of(request.POST.get("uuid", ""))
    if request.POST.get("kept"):
        if problems:
            raise InputProblemsError(problems)
        kept = saddle_scan(request.actor, page.uuid, key_of(request.POST["kept"]))
        return _asked_for(request, page, kept.uuid, key)
    upload = request.FILES.get("scan")
    if not isinstance(upload, UploadedFile):
        where = Where(field="Scan")
        problems.append(Problem(what="no file was chosen", cure="Choose the scan.", where=where))
    elif (upload.size or 0) > MAX_BYTES:
        what = f"the file is larger than {MAX_BYTES // 1_000_000} MB"
        cure = "Cut away everything but the saddle, or export it more coarsely."
        problems.append(Problem(what=what, cure=cure, where=Where(field="Scan")))
    if problems or not isinstance(upload, UploadedFile):
        raise InputProblemsError(problems)
    (stored,) = store_files([(upload.name or "scan", upload.chunks())])
    scan = bring_saddle_scan(request.actor, uuids.uuid5(key, "scan"), page.uuid, stored, Length(unit))
    return _asked_for(request, page, scan.uuid, key)


def _asked_for(request: PageRequest, page: SaddlePage, scan: uuids.UUID, key: uuids.UUID) -> HttpResponse:
    unit, heading = Length(request.POST["unit"]), Heading(request.POST["heading"])
    ask_scan(request.actor, page.uuid, page.label, scan, unit, heading, key)
    return HttpResponseRedirect(reverse("job", args=[key]))


@signed_in(Action.RECORD_SADDLE, FORM)
@spoken
def found(request: PageRequest, uuid: uuids.UUID, key: uuids.UUID) -> HttpResponse:
    """Show what was found; record it, or look again the other way round."""
    page = queries.saddle_page(request.actor, uuid)
    kept = found_kept(request.actor, uuid, key)
    if request.method == "POST" and request.POST.get("do") == "turn":
        other = Heading.FROM_SHAPE if kept.heading is Heading.TURNED else Heading.TURNED
        again = uuids.uuid5(key, other.value)
        ask_scan(request.actor, uuid, page.label, kept.scan, kept.unit, other, again)
        return HttpResponseRedirect(reverse("job", args=[again]))
    if request.method == "POST":
        recorded = underside_recorded(
            request.actor,
            uuid,
            kept.record,
            why=request.POST.get("why", "") or kept.why,
            seen=whole_of(request.POST.get("seen", "")),
        )
        said = _("%(saddle)s: recorded as version %(number)s, underside from a scan.")
        say(request, said % {"saddle": page.label, "number": recorded.version})
        return HttpResponseRedirect(reverse("capture:measured_saddle", args=[uuid]))
    return show(
        request,
        "underside/found.html",
        _("Found in the scan of %(saddle)s") % {"saddle": page.label},
        page,
        kept=kept,
        key=key,
        asks_heading=kept.heading is Heading.FROM_SHAPE and not kept.heading_is_sure,
        caution=SCREENING_NOTE,
    )


@signed_in(Action.RECORD_SADDLE)
def picture(request: PageRequest, uuid: uuids.UUID, key: uuids.UUID) -> HttpResponse:
    """Give the picture of what was found."""
    held = {"Cache-Control": "private, no-cache"}
    return HttpResponse(picture_kept(request.actor, uuid, key), content_type="image/svg+xml", headers=held)
