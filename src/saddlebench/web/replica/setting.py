"""The pages of setting a back on an instrument: what to set, big for the bench; ticks; what to move."""

import uuid as uuids
from typing import TYPE_CHECKING

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.engine.units import Length
from saddlebench.exchange.instruments import instrument_text
from saddlebench.exchange.readers import read_by, reader
from saddlebench.practice import queries, services
from saddlebench.practice.catalogue import Field, Kind, read_value
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.rebuilds import RebuildSource
from saddlebench.practice.services.rebuilds import LEAST_TOLERANCE_MM, MOST_TOLERANCE_MM
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.fields import key_of, show_field, whole_of
from saddlebench.web.base.instruments import chosen_instrument, settable_choices
from saddlebench.web.base.render import show
from saddlebench.web.base.report_choices import choices_of, chosen
from saddlebench.web.base.said import say
from saddlebench.web.replica.bench import (
    SIDE_WORDS,
    BenchPart,
    read_posted,
    state_of,
)
from saddlebench.web.replica.lengths import in_chosen_lengths
from saddlebench.web.replica.loading import measured_source, settings_of
from saddlebench.web.replica.set_shown import (
    Bench,
    SetRow,
    bench_of,
    found_shown,
    millimetres,
    picture_of,
    row_shown,
)

if TYPE_CHECKING:
    from saddlebench.engine.replica.settings import InstrumentSettings

USUAL_TOLERANCE = "2"
TOLERANCE = Field(
    name="tolerance",
    words="Near enough: within",
    kind=Kind.NUMBER,
    unit="mm",
    low=LEAST_TOLERANCE_MM,
    high=MOST_TOLERANCE_MM,
)
SIGNS = {"good": "✓", "not yet": "✕", "partly": "≈", "to do": "○"}


@signed_in(Action.REBUILD, FORM)
def begin(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Choose the instrument that the back is to be set on."""
    version = whole_of(request.POST.get("version", request.GET.get("version", ""))) or None
    source = queries.rebuild_source(request.actor, uuid, version)
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        try:
            return _begun(request, source)
        except InputProblemsError as error:
            problems = error.problems
    typed = request.POST.get("tolerance", USUAL_TOLERANCE)
    return show(
        request,
        "replica/begin.html",
        f"Set {source.horse.label}’s back on an instrument",
        source,
        status=422 if problems else 200,
        instruments=settable_choices(request.actor),
        chosen=request.POST.get("instrument", ""),
        tolerance=show_field(TOLERANCE, None, typed=typed, problems=problems),
        problems=[one for one in problems if one.where.field not in (TOLERANCE.words, TOLERANCE.name)],
        form=str(key_of(request.POST.get("form", ""))),
    )


def _begun(request: PageRequest, source: RebuildSource) -> HttpResponse:
    tolerance = read_value(TOLERANCE, request.POST.get("tolerance", "") or USUAL_TOLERANCE)
    text = instrument_text(chosen_instrument(request.actor, request.POST.get("instrument", "")))
    number = float(tolerance) if isinstance(tolerance, float) else float(USUAL_TOLERANCE)
    # What cannot take the shape at all is said here, before there is anything to set.
    settings_of(source, text, number)
    made = services.start_rebuild(
        request.actor,
        source.uuid,
        source.number,
        Document(text=text),
        tolerance_mm=number,
        uuid=key_of(request.POST.get("form", "")),
    )
    return HttpResponseRedirect(reverse("replica:rebuild", args=[made.uuid]))


@signed_in(Action.SEE_HORSES)
@in_chosen_lengths
def rebuild(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show how far a rebuild is, part by part in the order in which one sets it."""
    bench = bench_of(request, uuid)
    off = {f"s{one.number}": one for one in bench.settings.stations}
    lines = []
    for part in bench.parts:
        state = state_of(part, bench.page.as_set, bench.found)
        n_set = sum(one.name in bench.page.as_set for one in part.settings)
        lines.append(
            {
                "part": part,
                "sign": SIGNS[state],
                "state": state,
                "n_set": n_set,
                "of": len(part.settings),
                "off": millimetres(
                    off[part.key].off_by_mm if part.key in off else bench.settings.topline_off_by_mm
                ),
            }
        )
    following = next((one["part"] for one in lines if one["state"] != "good"), None)
    return show(
        request,
        "replica/rebuild.html",
        f"{bench.page.source.horse.label}’s back on {bench.settings.instrument.name}",
        bench.page,
        lines=lines,
        following=following,
        instrument=bench.settings.instrument.name,
        off=millimetres(bench.settings.off_by_mm),
        tolerance=reader().quantities(f"{bench.page.tolerance_mm:g} mm"),
        in_inches=reader().length is Length.INCH,
        warnings=[reader().quantities(str(one)) for one in bench.settings.problems],
        paper_choices=[one for one in choices_of(request) if one.name != "for"],
        cautions=_cautions(),
    )


@signed_in(Action.REBUILD, FORM)
@in_chosen_lengths
def station(request: PageRequest, uuid: uuids.UUID, key: str) -> HttpResponse:
    """Show one part to set; kept with each change where scripts run, with the form where they do not."""
    bench = bench_of(request, uuid)
    part = bench.part(key)
    problems: list[Problem] = []
    if request.method == "POST":
        values, problems = read_posted(part, request.POST.dict())
        if not problems or request.htmx:
            services.keep_as_set(request.actor, uuid, values)
        if not request.htmx and not problems:
            return _onward(request, bench, part)
        bench = bench_of(request, uuid)
    if request.htmx:
        return show(
            request,
            "replica/found.html",
            "",
            found=found_shown(bench, part),
            problems=problems,
            picture=picture_of(bench, part),
        )
    return _part_page(request, bench, part, problems)


def _onward(request: PageRequest, bench: Bench, part: BenchPart) -> HttpResponse:
    uuid, at = bench.page.uuid, bench.parts.index(part)
    say(request, f"{part.words}: kept.")
    if "on" not in request.POST:
        return HttpResponseRedirect(reverse("replica:station", args=[uuid, part.key]))
    if at + 1 < len(bench.parts):
        return HttpResponseRedirect(reverse("replica:station", args=[uuid, bench.parts[at + 1].key]))
    return HttpResponseRedirect(reverse("replica:rebuild", args=[uuid]))


def _part_page(request: PageRequest, bench: Bench, part: BenchPart, problems: list[Problem]) -> HttpResponse:
    at = bench.parts.index(part)
    typed = request.POST if problems else None
    sides: dict[str, list[SetRow]] = {}
    for one in part.settings:
        sides.setdefault(one.side, []).append(row_shown(bench, one, typed))
    return show(
        request,
        "replica/station.html",
        f"{part.words}: {bench.settings.instrument.name}",
        bench.page,
        status=422 if problems else 200,
        part=part,
        sides=[(side, SIDE_WORDS[side] if part.can_be_typed else "", rows) for side, rows in sides.items()],
        found=found_shown(bench, part),
        picture=picture_of(bench, part),
        problems=problems,
        before=bench.parts[at - 1] if at else None,
        after=bench.parts[at + 1] if at + 1 < len(bench.parts) else None,
        at=at + 1,
        of=len(bench.parts),
    )


@signed_in(Action.SEE_HORSES)
def sheet(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Send the settings as a sheet to print."""
    from saddlebench.report.replica.settings import settings_pdf  # noqa: PLC0415

    bench = bench_of(request, uuid)
    record = measured_source(bench.page.source).record
    estimated = measured_source(bench.page.source).estimated
    choices = chosen(request.GET)
    with read_by(choices.reader()):
        content = settings_pdf(
            bench.settings, estimated, record.label, record.measured_on, choices.sheet_paper
        )
    return _file(bench, content, "application/pdf", "pdf")


@signed_in(Action.SEE_HORSES)
def document(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Send the settings as a document for machines."""
    bench = bench_of(request, uuid)
    content = settings_document(bench.page.source, bench.settings).encode()
    return _file(bench, content, "application/json", "json")


def settings_document(source: RebuildSource, settings: "InstrumentSettings") -> str:
    """Return settings as their document."""
    from saddlebench.exchange.records import SettingsDocument, as_json  # noqa: PLC0415

    return as_json(SettingsDocument.of(settings, source.horse.label, source.measured_on, source.sha256))


def _file(bench: Bench, content: bytes, content_type: str, suffix: str) -> HttpResponse:
    from saddlebench.report.replica.kit import slug_of  # noqa: PLC0415

    source = bench.page.source
    name = f"{slug_of(source.horse.label)}-settings-{slug_of(bench.settings.instrument.name)}.{suffix}"
    held = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "private, no-cache"}
    return HttpResponse(content, content_type=content_type, headers=held)


@signed_in(Action.REBUILD, DEED)
def put_away(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Take a rebuild off the list."""
    page = queries.rebuild_page(request.actor, uuid)
    services.put_rebuild_away(request.actor, uuid)
    say(request, "Put away.")
    return HttpResponseRedirect(reverse("replica:overview", args=[page.source.uuid]))


def _cautions() -> tuple[str, ...]:
    from saddlebench.report.replica.words import CAUTIONS  # noqa: PLC0415

    return CAUTIONS
