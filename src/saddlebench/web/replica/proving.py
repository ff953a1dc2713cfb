"""The pages that prove a rebuild: measured like the horse, laid on the record, judged station by station."""

import uuid as uuids
from datetime import date
from typing import TYPE_CHECKING, Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone

from saddlebench.engine.back.readings import ToplineHeights, ToplineJoints
from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.exchange.instruments import instrument_text
from saddlebench.exchange.readers import read_by
from saddlebench.practice import queries, services
from saddlebench.practice.catalogue import Value, read_value
from saddlebench.practice.documents import LARGEST_BYTES, Document
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.rebuilds import CheckPage, RebuildSource
from saddlebench.practice.services import Entered, Rebuilt
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.fields import key_of, whole_of
from saddlebench.web.base.instruments import chosen_instrument, instrument_choices
from saddlebench.web.base.render import show
from saddlebench.web.base.report_choices import ReportChoices, choices_of, chosen
from saddlebench.web.replica.loading import measured_source, proof_of, proved
from saddlebench.web.replica.pictures import proof_picture
from saddlebench.web.replica.setting import TOLERANCE, USUAL_TOLERANCE

if TYPE_CHECKING:
    from saddlebench.engine.replica.proof import RebuildProof
    from saddlebench.exchange.back_job import MeasuredBack
    from saddlebench.report.replica.proof import ProofNames

STYLES = {
    "good": ("good", "fine"),
    "move": ("move", "not-right"),
    "cannot tell": ("cannot tell", "cannot-tell"),
}


@signed_in(Action.REBUILD, FORM)
def prove(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Begin to measure a rebuild, or take a back record of it that was made elsewhere."""
    given = request.POST if request.method == "POST" else request.GET
    source = queries.rebuild_source(request.actor, uuid, whole_of(given.get("version", "")) or None)
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        try:
            return _taken(request, source) if "file" in request.POST else _measuring(request, source)
        except InputProblemsError as error:
            problems = error.problems
    return show(
        request,
        "replica/prove.html",
        f"Prove a rebuild of {source.horse.label}’s back",
        source,
        status=422 if problems else 200,
        problems=problems,
        instruments=instrument_choices(request.actor),
        chosen=given.get("instrument", ""),
        day=given.get("day", timezone.localdate().isoformat()),
        tolerance=given.get("tolerance", USUAL_TOLERANCE),
        form=str(key_of(given.get("form", ""))),
    )


def _measuring(request: PageRequest, source: RebuildSource) -> HttpResponse:
    """Start a measuring of the rebuild, with its sections planned where the original has them."""
    try:
        day = date.fromisoformat(request.POST.get("day", ""))
    except ValueError:
        where = Where(field="Day")
        raise input_problem("this is not a date", "Write year-month-day.", where) from None
    tool = chosen_instrument(request.actor, request.POST.get("instrument", ""))
    uuid = key_of(request.POST.get("form", ""))
    capture = services.start_capture(
        request.actor,
        source.horse.uuid,
        Document(text=instrument_text(tool)),
        measured_on=day,
        label=f"Rebuild of {source.horse.label}, {day.isoformat()}",
        rebuild_of=(source.uuid, source.number),
        uuid=uuid,
    )
    entries = [
        Entered(field=name, value=value, key=uuids.uuid5(uuid, name), seen=0)
        for name, value in _plan(measured_source(source)).items()
    ]
    services.enter_readings(request.actor, capture.uuid, entries)
    return HttpResponseRedirect(reverse("capture:overview", args=[capture.uuid]))


def _plan(back: "MeasuredBack") -> dict[str, Value]:
    """Return where to measure: the sections of the original, and heights where it has a topline."""
    from saddlebench.engine.replica.curves import stations_of  # noqa: PLC0415

    places = stations_of(back.estimated)
    values: dict[str, Value] = {f"s{k}r0/distance": s for k, s in enumerate(places, start=1)}
    topline = back.record.readings.topline
    along = set(places) | {0.0}
    if isinstance(topline, ToplineHeights):
        along |= set(topline.distance_mm)
    elif isinstance(topline, ToplineJoints):
        along.add(topline.start_mm)
    values["top/how"] = "heights"
    values |= {f"top/{row}/distance": s for row, s in enumerate(sorted(along), start=1)}
    return values


def _taken(request: PageRequest, source: RebuildSource) -> HttpResponse:
    upload = request.FILES.get("record")
    where = Where(field="Back record")
    if not isinstance(upload, UploadedFile):
        raise input_problem("no file was chosen", "Choose a back record of the rebuild (JSON).", where)
    if (upload.size or 0) > LARGEST_BYTES:
        raise input_problem("the file is too large", "Choose a back record of the rebuild.", where)
    read = read_value(TOLERANCE, request.POST.get("tolerance", "") or USUAL_TOLERANCE)
    tolerance = float(read) if isinstance(read, float) else float(USUAL_TOLERANCE)
    uuid = key_of(request.POST.get("form", ""))
    rebuilt = rebuilt_of(upload.read())
    # What cannot be compared is said here, before it stands among what was recorded.
    proved(source, rebuilt.document, tolerance)
    check = services.record_rebuild_check(
        request.actor, source.uuid, source.number, rebuilt, tolerance_mm=tolerance, uuid=uuid
    )
    return HttpResponseRedirect(reverse("replica:check", args=[check.uuid]))


def rebuilt_of(content: bytes) -> Rebuilt:
    """Return a measured rebuild from its back record's bytes.

    Raises
    ------
    InputProblemsError
        If they are no back record.
    """
    from saddlebench.exchange.records import BackDocument, parse_document  # noqa: PLC0415

    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError:
        what = "the file is no UTF-8 text"
        raise input_problem(what, "Choose a back record of the rebuild (JSON).") from None
    record = parse_document(BackDocument, text, "back record").record()
    return Rebuilt(
        document=Document(text=text), measured_on=record.measured_on, instrument=record.instrument.name
    )


@signed_in(Action.SEE_HORSES)
def check(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a measured rebuild: good, or which station to move by how much."""
    page = queries.rebuild_check_page(request.actor, uuid)
    title = f"Rebuild check: {page.source.horse.label}"
    try:
        proof = proof_of(page)
    except InputProblemsError as error:
        return show(request, "replica/check.html", title, page, problems=error.problems, status=422)
    contents = _contents(page, proof)
    said, style = STYLES[proof.verdict.value]
    rows = [{**row, "style": STYLES[str(row["verdict"])][1]} for row in contents["rows"]]
    return show(
        request,
        "replica/check.html",
        title,
        page,
        said=said,
        style=style,
        contents=contents,
        rows=rows,
        picture=proof_picture(contents["plan"]),
        cautions=contents["cautions"],
        paper_choices=[one for one in choices_of(request) if one.name != "for"],
    )


@signed_in(Action.SEE_HORSES)
def check_sheet(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Send the rebuild check sheet."""
    return check_sheet_of(queries.rebuild_check_page(request.actor, uuid), chosen(request.GET))


def check_sheet_of(page: CheckPage, choices: ReportChoices) -> HttpResponse:
    """Return the rebuild check sheet as a file.

    Raises
    ------
    InputProblemsError
        If the two cannot be compared.
    """
    from saddlebench.report.replica.kit import slug_of  # noqa: PLC0415
    from saddlebench.report.replica.proof import proof_pdf  # noqa: PLC0415

    original = measured_source(page.source).estimated
    with read_by(choices.reader()):
        content = proof_pdf(proof_of(page), original, _names(page), choices.sheet_paper)
    name = f"{slug_of(page.source.horse.label)}-rebuild-check-{page.measured_on.isoformat()}.pdf"
    held = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "private, no-cache"}
    return HttpResponse(content, content_type="application/pdf", headers=held)


def _contents(page: CheckPage, proof: "RebuildProof") -> dict[str, Any]:
    from saddlebench.report.replica.proof import proof_contents  # noqa: PLC0415

    return proof_contents(proof, measured_source(page.source).estimated, _names(page))


def _names(page: CheckPage) -> "ProofNames":
    from saddlebench.report.replica.proof import ProofNames  # noqa: PLC0415

    return ProofNames(
        original=page.source.horse.label,
        original_day=page.source.measured_on,
        replica=f"Rebuild of {page.source.horse.label}",
        replica_day=page.measured_on,
        instrument=page.instrument,
    )
