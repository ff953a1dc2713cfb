"""The pages of setting a back on an instrument: what to set, big for the bench; ticks; what to move."""

import uuid as uuids
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.engine.units import Length
from saddlebench.exchange.instruments import instrument_text
from saddlebench.exchange.readers import read_by, reader
from saddlebench.practice import queries, services
from saddlebench.practice.catalogue import Field, Kind, read_value
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.rebuilds import RebuildPage, RebuildSource
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
    Setting,
    as_entered,
    found_so_far,
    parts_of,
    read_posted,
    state_of,
)
from saddlebench.web.replica.lengths import in_chosen_lengths
from saddlebench.web.replica.loading import measured_source, settings_of
from saddlebench.web.replica.pictures import station_picture

if TYPE_CHECKING:
    from saddlebench.engine.replica.set_check import StationSet
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


@dataclass(frozen=True, slots=True, kw_only=True)
class SetRow:
    """One thing to set, as the bench shows it."""

    name: str
    part: str
    asked: str
    """The reading to set."""
    is_ticked: bool
    typed: str
    up_name: str = ""
    typed_up: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundShown:
    """What is said of a part."""

    sign: str
    words: str
    is_good: bool
    moves: tuple[str, ...] = ()


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """A rebuild with its settings."""

    page: RebuildPage
    settings: "InstrumentSettings"
    parts: tuple[BenchPart, ...]
    found: "dict[str, StationSet]"

    def part(self, key: str) -> BenchPart:
        """Return a part by its key."""
        found = next((one for one in self.parts if one.key == key), None)
        if found is None:
            raise Http404
        return found


def _bench(request: PageRequest, uuid: uuids.UUID) -> Bench:
    page = queries.rebuild_page(request.actor, uuid)
    settings = settings_of(page.source, page.instrument, page.tolerance_mm)
    back = measured_source(page.source)
    return Bench(
        page=page,
        settings=settings,
        parts=parts_of(settings),
        found=found_so_far(back.estimated, settings, page.as_set),
    )


@signed_in(Action.SEE_HORSES)
@in_chosen_lengths
def rebuild(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show how far a rebuild is, part by part in the order in which one sets it."""
    bench = _bench(request, uuid)
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
                "off": _mm(off[part.key].off_by_mm if part.key in off else bench.settings.topline_off_by_mm),
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
        off=_mm(bench.settings.off_by_mm),
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
    bench = _bench(request, uuid)
    part = bench.part(key)
    problems: list[Problem] = []
    if request.method == "POST":
        values, problems = read_posted(part, request.POST.dict())
        if not problems or request.htmx:
            services.keep_as_set(request.actor, uuid, values)
        if not request.htmx and not problems:
            return _onward(request, bench, part)
        bench = _bench(request, uuid)
    if request.htmx:
        return show(
            request,
            "replica/found.html",
            "",
            found=_found(bench, part),
            problems=problems,
            picture=_picture(bench, part),
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
        sides.setdefault(one.side, []).append(_row(bench, one, typed))
    return show(
        request,
        "replica/station.html",
        f"{part.words}: {bench.settings.instrument.name}",
        bench.page,
        status=422 if problems else 200,
        part=part,
        sides=[(side, SIDE_WORDS[side] if part.can_be_typed else "", rows) for side, rows in sides.items()],
        found=_found(bench, part),
        picture=_picture(bench, part),
        problems=problems,
        before=bench.parts[at - 1] if at else None,
        after=bench.parts[at + 1] if at + 1 < len(bench.parts) else None,
        at=at + 1,
        of=len(bench.parts),
    )


def _row(bench: Bench, one: Setting, typed: Any) -> SetRow:
    from saddlebench.report.replica.words import length_words, number_words  # noqa: PLC0415

    as_set = bench.page.as_set
    asked = length_words(one.reading, 0) if one.is_length else number_words(one.reading)
    if one.up is not None:
        asked = f"{asked} out, {number_words(one.up)} up"

    def text(name: str) -> str:
        if typed is not None:
            return str(typed.get(f"as.{name}", ""))
        held = as_set.get(name)
        return "" if held is None or held is True else f"{held:g}"

    ticked = f"tick.{one.name}" in typed if typed is not None else as_set.get(one.name) is True
    return SetRow(
        name=one.name,
        part=one.part,
        asked=asked,
        is_ticked=ticked,
        typed=text(one.name),
        up_name=one.up_name,
        typed_up=text(one.up_name) if one.up_name else "",
    )


def _found(bench: Bench, part: BenchPart) -> FoundShown:
    from saddlebench.report.replica.words import setting_move_words  # noqa: PLC0415

    said = bench.found.get(part.key)
    n_set = sum(name in bench.page.as_set for one in part.settings for name in one.names)
    if not n_set:
        return FoundShown(sign="○", words="Nothing is set yet.", is_good=False)
    if said is None:
        of = len(part.settings)
        sign = "✓" if n_set == of else "≈"
        return FoundShown(sign=sign, words=f"{n_set} of {of} set.", is_good=n_set == of)
    known = said.off_by_mm != float("inf")
    off = f"Off by up to {_mm(said.off_by_mm)}, {_mm(said.allowed_mm)} allowed." if known else ""
    moves = tuple(
        reader().quantities(f"{words[:1].upper()}{words[1:]}.")
        for words in map(setting_move_words, said.moves)
    )
    if said.good:
        return FoundShown(sign="✓", words=f"Near enough. {off}", is_good=True, moves=moves)
    if said.not_set and not moves:
        return FoundShown(sign="≈", words=f"{len(said.not_set)} still to set. {off}", is_good=False)
    return FoundShown(sign="✕", words=f"Not yet. {off}", is_good=False, moves=moves)


def _mm(length: float) -> str:
    """Return a small length as the bench's reader has it."""
    return reader().quantities(f"{length:.1f} mm")


def _picture(bench: Bench, part: BenchPart) -> object:
    if not part.can_be_typed:
        return ""
    back = measured_source(bench.page.source)
    entered = as_entered(bench.settings, bench.page.as_set)
    return station_picture(back.estimated, bench.settings, int(part.key[1:]), entered)


@signed_in(Action.SEE_HORSES)
def sheet(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Send the settings as a sheet to print."""
    from saddlebench.report.replica.settings import settings_pdf  # noqa: PLC0415

    bench = _bench(request, uuid)
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
    bench = _bench(request, uuid)
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
