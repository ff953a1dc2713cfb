"""Measuring a saddle: its numbers beside a drawing that explains them, and the record they make."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.engine.saddle.model import PadCut
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.engine.units import Length
from saddlebench.exchange.records import SaddleDocument, as_json, parse_document
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action, Family
from saddlebench.practice.queries import DraftShown
from saddlebench.practice.queries.saddles import SaddlePage
from saddlebench.practice.rules import Actor
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.fields import whole_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.capture.saddle_drawings import saddle_drawing
from saddlebench.web.capture.saddle_fields import (
    ARCHES,
    FAMILIES,
    FILLS,
    MAIN,
    MORE,
    N_PADS,
    PAD_MATERIALS,
    SaddleField,
)
from saddlebench.web.capture.saddle_form import Named, record_of_form, texts_of_record
from saddlebench.web.capture.saddle_pictures import drawn_from_numbers

_LARGEST_TABLE = 5_000_000
_OTHERS = ("lengths_in", "fill", "arch", "nothing_because", "notes", "forget_underside")


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberShown:
    """One number of the form."""

    field: SaddleField
    text: str
    problem: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PadShown:
    """One pad of the form."""

    number: int
    made_of: str
    thickness: str
    cut: str
    problem: str


def named_of(page: SaddlePage, asked: str = "") -> Named:
    """Return what the records know of a saddle; its family is the one asked for where they do not say."""
    family = str(page.values.get("family") or "")
    known = FAMILIES.get(Family(family)) if family else None
    chosen = known or (asked if asked in MAIN else "panelled")
    return Named(label=page.label, serial=str(page.values.get("serial") or ""), family=chosen)


def current_record(actor: Actor, uuid: uuids.UUID, label: str) -> SaddleRecord | None:
    """Return a saddle's current record; None where it was not measured, or this program cannot read it."""
    text = queries.saddle_document(actor, uuid)
    if not text:
        return None
    try:
        return parse_document(SaddleDocument, text, label).record()
    except InputProblemsError:
        # A record that an older or newer program wrote differently: the form starts from nothing.
        return None


def names_of(family: str) -> tuple[str, ...]:
    """Return the names of the fields that describe a saddle of a family."""
    names = [one.path for one in (*MAIN[family], *MORE[family])]
    names += [f"pad{i}.{part}" for i in range(1, N_PADS + 1) for part in ("made_of", "thickness", "cut")]
    return (*names, *_OTHERS)


def _typed(request: PageRequest, family: str) -> dict[str, str]:
    return {name: request.POST.get(name, "") for name in names_of(family)}


@signed_in(Action.RECORD_SADDLE, FORM)
def measure(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Take a saddle's numbers, and record them as a version that never changes."""
    page = queries.saddle_page(request.actor, uuid)
    named = named_of(page, request.POST.get("family", request.GET.get("family", "")))
    before = current_record(request.actor, uuid, page.label)
    if before is not None and before.family.value != named.family:
        before = None
    if request.method == "POST":
        texts = _typed(request, named.family)
        try:
            record = record_of_form(named, texts, table=_table(request), before=before)
        except InputProblemsError as error:
            return _form(request, page, named, texts, before, error.problems)
        return _recorded(request, uuid, record)
    recorded = texts_of_record(before) if before else {}
    drafts = queries.saddle_drafts(request.actor, uuid)
    taken = next((one for one in drafts if str(one.by_uuid) == request.GET.get("draft", "")), None)
    mine = next((one for one in drafts if one.is_mine), None)
    chosen = taken or mine
    if chosen is None or chosen.family != named.family:
        return _form(request, page, named, recorded, before, (), drafts=drafts)
    return _form(request, page, named, chosen.texts, before, (), drafts=drafts, draft=chosen)


@signed_in(Action.RECORD_SADDLE, DEED)
def leave_draft(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Let the numbers that were typed and not recorded go."""
    services.leave_saddle_draft(request.actor, uuid)
    say(request, "The numbers that were not recorded are gone.")
    return HttpResponseRedirect(reverse("capture:measure_saddle", args=[uuid]))


def _table(request: PageRequest) -> bytes | None:
    upload = request.FILES.get("table")
    if not isinstance(upload, UploadedFile):
        return None
    if (upload.size or 0) > _LARGEST_TABLE:
        raise input_problem("the table is too large", "Choose a CSV file of sections.", Where(field="table"))
    return upload.read()


def record_numbers(
    actor: Actor, uuid: uuids.UUID, record: SaddleRecord, *, why: str, seen: int
) -> services.Recorded[Any]:
    """Record a saddle's numbers as a version, and let the draft that they were typed in go."""
    document = Document(text=as_json(SaddleDocument.of(record)))
    recorded = services.record_saddle(actor, uuid, document, why=why, seen=seen)
    services.leave_saddle_draft(actor, uuid)
    return recorded


def _recorded(request: PageRequest, uuid: uuids.UUID, record: SaddleRecord) -> HttpResponse:
    why, seen = request.POST.get("why", ""), whole_of(request.POST.get("seen", ""))
    recorded = record_numbers(request.actor, uuid, record, why=why, seen=seen)
    beside = "" if recorded.is_current else " Somebody else recorded another meanwhile: choose between them."
    say(request, f"{record.label}: recorded as version {recorded.version.number}.{beside}")
    return HttpResponseRedirect(reverse("capture:measured_saddle", args=[uuid]))


def _form(
    request: PageRequest,
    page: SaddlePage,
    named: Named,
    texts: Mapping[str, str],
    before: SaddleRecord | None,
    problems: tuple[Problem, ...],
    *,
    drafts: tuple[DraftShown, ...] = (),
    draft: DraftShown | None = None,
) -> HttpResponse:
    wrong = {one.where.field: f"{one.what[:1].upper()}{one.what[1:]}. {one.cure}" for one in problems}
    main, more = (_numbers(fields[named.family], texts, wrong) for fields in (MAIN, MORE))
    pads = [
        PadShown(
            number=i,
            made_of=texts.get(f"pad{i}.made_of", ""),
            thickness=texts.get(f"pad{i}.thickness", ""),
            cut=texts.get(f"pad{i}.cut", ""),
            problem=wrong.get(f"pad{i}.thickness", ""),
        )
        for i in range(1, N_PADS + 1)
    ]
    placed = {one.field.path for one in (*main, *more)} | {f"pad{i}.thickness" for i in range(1, N_PADS + 1)}
    return show(
        request,
        "capture/saddle.html",
        f"Measure {page.label}",
        page,
        main=main,
        more=more,
        more_open=any(one.problem for one in more),
        pads=pads,
        problems=[one for one in problems if one.where.field not in placed],
        texts={name: texts.get(name, "") for name in _OTHERS},
        family=named.family,
        families=[] if page.values.get("family") else list(MAIN),
        drawing=saddle_drawing(named.family),
        has_underside=before is not None and before.underside is not None,
        units=list(Length),
        fills=FILLS if named.family in {"panelled", "cut-back"} else (),
        arches=ARCHES,
        materials=PAD_MATERIALS,
        cuts=[one.value for one in PadCut],
        draft=draft,
        other_drafts=[one for one in drafts if one is not draft and one.family == named.family],
        seen=draft.seen if draft else page.current_number or 0,
        status=422 if problems else 200,
    )


def _numbers(
    fields: tuple[SaddleField, ...], texts: Mapping[str, str], wrong: Mapping[str, str]
) -> list[NumberShown]:
    return [
        NumberShown(field=one, text=texts.get(one.path, ""), problem=wrong.get(one.path, ""))
        for one in fields
    ]


@signed_in(Action.RECORD_SADDLE, DEED)
def preview(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Draw the saddle as the form's numbers make it now."""
    page = queries.saddle_page(request.actor, uuid)
    named = named_of(page, request.POST.get("family", ""))
    texts = _typed(request, named.family)
    kept = _keep_draft(request, page, named, texts)
    try:
        record = record_of_form(named, texts)
    except InputProblemsError as error:
        words = {one.path: one.words for one in (*MAIN[named.family], *MORE[named.family])}
        first = error.problems[0]
        why = f"{words.get(first.where.field, first.where.field)}: {first.what}"
        return show(request, "capture/saddle_part.html", "", drawn="", why=why, kept=kept)
    return show(request, "capture/saddle_part.html", "", **_shown(record), kept=kept)


def _keep_draft(
    request: PageRequest, page: SaddlePage, named: Named, texts: Mapping[str, str]
) -> datetime | None:
    """Keep what is typed, once somebody typed; return when it was kept."""
    if request.POST.get("typed") != "1":
        return None
    seen = whole_of(request.POST.get("seen", ""))
    return services.keep_saddle_draft(request.actor, page.uuid, named.family, texts, seen=seen).saved_at


def _shown(record: SaddleRecord) -> dict[str, Any]:
    drawn = drawn_from_numbers(record)
    is_picture = drawn.startswith("<svg")
    return {"drawn": drawn if is_picture else "", "why": "" if is_picture else drawn}


@signed_in(Action.SEE_SADDLES)
def measured_saddle(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a saddle as measured: its numbers, what was assumed, and the saddle drawn from them."""
    page = queries.saddle_page(request.actor, uuid)
    record = current_record(request.actor, uuid, page.label)
    lines: list[NumberShown] = []
    if record is not None:
        texts = texts_of_record(record)
        fields = (*MAIN[record.family.value], *MORE[record.family.value])
        lines = [line for line in _numbers(fields, texts, {}) if line.text]
    return show(
        request,
        "capture/measured_saddle.html",
        f"{page.label}: measured",
        page,
        record=record,
        lines=lines,
        **(_shown(record) if record else {"drawn": "", "why": ""}),
    )
