"""Measuring a back: where it starts, how far it is, and one part of it at a time."""

import json
import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone

from saddlebench.engine.back.instruments import Scan
from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.engine.units import parse_number
from saddlebench.exchange.instruments import instrument_text
from saddlebench.practice import queries, services
from saddlebench.practice.catalogue import Value
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.services import Entered
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.instruments import chosen_instrument, instrument_choices, key_or_404
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.capture.asked import has_topline_chain
from saddlebench.web.capture.from_card import typed_from_card
from saddlebench.web.capture.judging import judge
from saddlebench.web.capture.loaded import STATES, Loaded, loaded
from saddlebench.web.capture.partial import lines_of, remarks_of
from saddlebench.web.capture.parts import Part
from saddlebench.web.capture.pictures import growing_picture, section_picture
from saddlebench.web.capture.planned import plan_values, planned_sections
from saddlebench.web.capture.readings import from_card_words
from saddlebench.web.capture.repeating import why_of
from saddlebench.web.capture.saving import save_form
from saddlebench.web.links import deeds_on

_MOST_SECTIONS = 40


@signed_in(Action.SEE_HORSES)
def home(request: PageRequest) -> HttpResponse:
    """Show the backs whose measuring is not finished, and where to begin."""
    return show(request, "capture/home.html", "Measure", queries.unfinished_captures(request.actor))


@dataclass(frozen=True, slots=True, kw_only=True)
class StartShown:
    """The form that starts measuring."""

    horse: str
    horse_label: str
    new_horse: str
    visit: str
    asked: str
    found: tuple[queries.HorseRow, ...]
    day: str
    instruments: tuple[tuple[str, str], ...]
    instrument: str
    first: str
    spacing: str
    count: str
    how: str
    uuid: str
    from_card: bool = False
    """Whether it was written on a yard card before."""
    begun_at: str = ""
    """The hour on that card."""
    problems: tuple[Problem, ...] = ()


@signed_in(Action.RECORD_BACK, FORM)
def start(request: PageRequest) -> HttpResponse:
    """Start measuring: whose back, with what, where the sections lie."""
    if request.method == "POST" and "look_up" not in request.POST:
        try:
            return _started(request)
        except InputProblemsError as error:
            return _start_form(request, error.problems, 422)
    return _start_form(request, (), 200)


def _start_form(request: PageRequest, problems: tuple[Problem, ...], status: int) -> HttpResponse:
    given = request.POST if request.method == "POST" else request.GET
    asked, chosen = given.get("asked", "").strip(), given.get("horse", "")
    label = ""
    if chosen:
        label = queries.horse_page(request.actor, key_or_404(chosen)).label
    found = queries.find_horses(request.actor, asked).rows[:8] if asked else ()
    form = StartShown(
        horse=chosen,
        horse_label=label,
        new_horse=given.get("new_horse", ""),
        visit=given.get("visit", ""),
        asked=asked,
        found=found,
        day=given.get("day", timezone.localdate().isoformat()),
        instruments=instrument_choices(request.actor),
        instrument=given.get("instrument", "chain-12x30"),
        first=given.get("first", "-80"),
        spacing=given.get("spacing", "80"),
        count=given.get("count", "7"),
        how=given.get("how", "heights"),
        uuid=str(key_of(given.get("uuid", ""))),
        from_card="from_card" in given,
        begun_at=given.get("begun_at", ""),
        problems=problems,
    )
    return show(request, "capture/start.html", "Measure a back", form, status=status)


def _started(request: PageRequest) -> HttpResponse:
    posted = request.POST
    problems: list[Problem] = []
    numbers: dict[str, float] = {}
    for name, words in (("first", "First section"), ("spacing", "Apart"), ("count", "Sections")):
        read = parse_number(posted.get(name, ""), Where(field=words))
        if isinstance(read, Problem):
            problems.append(read)
        else:
            numbers[name] = read
    problems += _impossible(numbers)
    try:
        day = date.fromisoformat(posted.get("day", ""))
    except ValueError:
        problems.append(
            Problem(what="this is not a date", cure="Write year-month-day.", where=Where(field="Day"))
        )
        day = timezone.localdate()
    new_horse = posted.get("new_horse", "").strip()
    if not posted.get("horse") and not new_horse:
        where = Where(field="Horse")
        problems.append(Problem(what="no horse is named", cure="Choose it, or write its name.", where=where))
    if problems:
        raise InputProblemsError(problems)
    tool = chosen_instrument(request.actor, posted.get("instrument", ""))
    if isinstance(tool, Scan):
        raise input_problem("a scan is not keyed in", "Choose another instrument.", Where(field="Instrument"))
    uuid = key_of(posted.get("uuid", ""))
    horse = (
        key_or_404(posted["horse"])
        if posted.get("horse")
        else services.take_on_horse(request.actor, {"label": new_horse}, uuids.uuid5(uuid, "horse")).uuid
    )
    visit = key_or_404(posted["visit"]) if posted.get("visit") else None
    capture = services.start_capture(
        request.actor,
        horse,
        Document(text=instrument_text(tool)),
        measured_on=day,
        visit_uuid=visit,
        uuid=uuid,
    )
    how = "chain" if posted.get("how") == "chain" and has_topline_chain(tool) else "heights"
    values = plan_values(numbers["first"], numbers["spacing"], int(numbers["count"]), how)
    if "from_card" in posted:
        values |= typed_from_card(timezone.localdate(), posted.get("begun_at", "").strip())
    services.enter_readings(request.actor, capture.uuid, _entered(uuid, values))
    say(request, f"{capture.label}: begun.")
    return HttpResponseRedirect(reverse("capture:overview", args=[capture.uuid]))


def _impossible(numbers: dict[str, float]) -> list[Problem]:
    rules = {
        "first": ("First section", -400.0, 600.0),
        "spacing": ("Apart", 15.0, 300.0),
        "count": ("Sections", 1.0, _MOST_SECTIONS),
    }
    return [
        Problem(
            what=f"{numbers[name]:g} is outside {low:g} to {high:g}",
            cure="Check the number and its unit.",
            where=Where(field=words),
        )
        for name, (words, low, high) in rules.items()
        if name in numbers and (not low <= numbers[name] <= high or (name == "count" and numbers[name] % 1))
    ]


def _entered(uuid: uuids.UUID, values: Mapping[str, Value]) -> list[Entered]:
    return [
        Entered(field=name, value=value, key=uuids.uuid5(uuid, name), seen=0)
        for name, value in values.items()
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLine:
    """A part as the overview lists it."""

    part: Part
    sign: str
    state: str
    filled: int
    of: int


@signed_in(Action.SEE_HORSES)
def overview(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show how far the measuring is, what is still needed, and what it is good for."""
    back = loaded(request.actor, uuid)
    lines = [_line(back, part) for part in back.parts]
    following = next((one.part for one in lines if one.state != "done"), None)
    return show(
        request,
        "capture/overview.html",
        back.page.label,
        back.page,
        lines=lines,
        following=following,
        begun=any(one.filled for one in lines),
        judged=judge(back.record),
        instrument=back.instrument.name,
        card=from_card_words(back.values),
        begun_at=back.values.get("source/begun_at") or "",
        why=why_of(back.values),
        growing=growing_picture(back.drawn, back.curve),
        has_sections=bool(back.drawn),
        rebuild_deeds=deeds_on(Subject.BACK, back.page.rebuild_of, request.actor)
        if back.page.rebuild_of
        else [],
    )


def _line(back: Loaded, part: Part) -> PartLine:
    read = [one for one in part.asked if one.on_pad]
    sign, state = STATES[back.state_of(part)]
    filled = sum(one.name in back.values for one in read)
    return PartLine(part=part, sign=sign, state=state, filled=filled, of=len(read))


@signed_in(Action.RECORD_BACK, FORM)
def part(request: PageRequest, uuid: uuids.UUID, key: str) -> HttpResponse:
    """Show one part: by number pad where scripts run, as a plain form where they do not."""
    back = loaded(request.actor, uuid)
    problems: tuple[Problem, ...] = ()
    this = back.part(key)
    if request.method == "POST":
        problems = save_form(request, back, this)
        if not problems:
            following = back.after(this)
            target = (
                reverse("capture:part", args=[uuid, following.key])
                if following and "on" in request.POST
                else reverse("capture:part", args=[uuid, key])
            )
            say(request, f"{this.words}: kept.")
            return HttpResponseRedirect(target)
        back = loaded(request.actor, uuid)
        this = back.part(key)
    return _part_page(request, back, this, problems)


def _part_page(request: PageRequest, back: Loaded, this: Part, problems: tuple[Problem, ...]) -> HttpResponse:
    typed = request.POST if problems else {}
    drawn = back.drawn
    following = back.after(this)
    return show(
        request,
        "capture/part.html",
        this.words,
        back.page,
        part=this,
        fields=lines_of(back, this, typed, problems),
        problems=problems,
        remarks=remarks_of(back, this),
        state=back.state_of(this),
        following=following,
        at=back.parts.index(this) + 1,
        of=len(back.parts),
        has_sections=bool(drawn),
        n_sections=len([one for one in planned_sections(back.values) if one.repeat == 0]),
        picture=section_picture(drawn, this.number, this.repeat) if this.is_section else "",
        growing=growing_picture(drawn, back.curve, (this.number, this.repeat)),
        moved=json.dumps(back.values.get(f"{this.key}/moved") or 0),
        status=422 if problems else 200,
    )
