"""The end of measuring: the back is recorded, or taken up again; and readings that come in a table."""

import tempfile
import uuid as uuids
from dataclasses import replace
from pathlib import Path

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.back.readings import BackReadings
from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.engine.units import Length
from saddlebench.exchange.readings import read_readings
from saddlebench.exchange.records import BackDocument, as_json
from saddlebench.practice import services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action
from saddlebench.practice.services import Entered
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.errors import gone_on_without
from saddlebench.web.base.fields import key_of, whole_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.capture.judging import judge
from saddlebench.web.capture.loaded import Loaded, loaded
from saddlebench.web.capture.readings import values_of_readings
from saddlebench.web.capture.repeating import ask_waiting_check, forget
from saddlebench.web.links import REBUILD_CHECK

LARGEST_TABLE = 5_000_000


@signed_in(Action.RECORD_BACK, DEED)
def finish(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Record the back that the readings make: a version that never changes."""
    back = loaded(request.actor, uuid)
    record = back.record
    judged = judge(record)
    if not judged.can_be_recorded:
        what = "The readings do not make a back yet: " + "; ".join(
            [*judged.must_haves, *(problem.what for problem in judged.problems)][:4]
        )
        return gone_on_without(request, f"{what}.", "Go back to the list, and complete what is named.", 422)
    document = Document(text=as_json(BackDocument.of(record)))
    if back.page.rebuild_of is not None:
        check = services.finish_rebuild_capture(request.actor, uuid, document, record.instrument.name)
        say(request, f"{back.page.label}: compared with the record.")
        return HttpResponseRedirect(reverse(REBUILD_CHECK, args=[check.uuid]))
    why, seen = request.POST.get("why", ""), whole_of(request.POST.get("seen", ""))
    recorded = services.finish_capture(request.actor, uuid, document, why=why, seen=seen)
    beside = "" if recorded.is_current else " Somebody else recorded another meanwhile: choose between them."
    say(request, f"{back.page.label}: recorded as version {recorded.version.number}.{beside}")
    waiting = ask_waiting_check(request, back) if recorded.is_current else ""
    return HttpResponseRedirect(waiting or reverse("capture:back", args=[uuid]))


@signed_in(Action.RECORD_BACK, DEED)
def take_up(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Open a finished measuring again; what was recorded stays."""
    services.take_up_again(request.actor, uuid)
    forget(request, loaded(request.actor, uuid))
    say(request, "Taken up again. Correct what was misread, then record the corrected version.")
    return HttpResponseRedirect(reverse("capture:overview", args=[uuid]))


@signed_in(Action.RECORD_BACK, FORM)
def table(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Bring in readings from a table, all of them or, with every problem listed, none."""
    back = loaded(request.actor, uuid)
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        try:
            found = _read(request, back)
        except InputProblemsError as error:
            problems = error.problems
        else:
            _keep(request, back, found)
            n = len({one.number for one in found.stations})
            say(request, f"{n} sections came in from the table.")
            return HttpResponseRedirect(reverse("capture:overview", args=[uuid]))
    return show(
        request,
        "capture/table.html",
        "Readings from a table",
        back.page,
        problems=[(one.where, one) for one in problems],
        instrument=back.instrument.name,
        unit=request.POST.get("unit", ""),
        units=list(Length),
        form=str(uuids.uuid4()),
        status=422 if problems else 200,
    )


def _read(request: PageRequest, back: Loaded) -> BackReadings:
    upload = request.FILES.get("table")
    if not isinstance(upload, UploadedFile):
        raise input_problem("no table was chosen", "Choose a CSV file.", Where(field="table"))
    if (upload.size or 0) > LARGEST_TABLE:
        raise input_problem("the table is too large", "Choose a CSV file of readings.", Where(field="table"))
    unit = request.POST.get("unit", "")
    with tempfile.TemporaryDirectory(prefix="saddlebench-table-") as folder:
        path = Path(folder) / "readings.csv"
        path.write_bytes(upload.read())
        try:
            return read_readings(path, back.instrument, unit=Length(unit) if unit in list(Length) else None)
        except InputProblemsError as error:
            # The file has a name of ours while it is read; people know it by theirs.
            raise InputProblemsError(
                [replace(one, where=replace(one.where, file="")) for one in error.problems]
            ) from error


def _keep(request: PageRequest, back: Loaded, found: BackReadings) -> None:
    values = values_of_readings(back.instrument, found)
    replaced = {name: None for name in back.values if name[:1] == "s" and name[1:2].isdigit()}
    replaced |= {name: None for name in back.values if name.startswith("top/")} if "top/how" in values else {}
    form = key_of(request.POST.get("form", ""))
    entries = [
        Entered(field=name, value=value, key=uuids.uuid5(form, name), seen=back.page.revision)
        for name, value in {**replaced, **values}.items()
    ]
    services.enter_readings(request.actor, back.page.uuid, entries)
