"""Keeping what is read: one reading at once from the pad, or a part's whole form."""

import json
import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse, HttpResponseRedirect, JsonResponse
from django.urls import reverse
from django.utils import timezone

from saddlebench.engine.errors import Problem, Where
from saddlebench.engine.units import parse_number
from saddlebench.practice import services
from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action, Outcome
from saddlebench.practice.services import Entered, EntryResult
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.errors import gone_on_without
from saddlebench.web.base.fields import key_of, whole_of
from saddlebench.web.base.said import say
from saddlebench.web.base.templatetags.parts import clock
from saddlebench.web.capture.loaded import Loaded, loaded
from saddlebench.web.capture.partial import remarks_of, text_of_value
from saddlebench.web.capture.parts import Asked, Part
from saddlebench.web.capture.pictures import growing_picture, section_picture
from saddlebench.web.capture.planned import planned_sections

_MOST_AT_ONCE = 500
_LARGEST = 100_000.0
_LONGEST_NOTE = 10_000


def value_of_text(asked: Asked, text: str) -> "Value | Problem":
    """Return what a person typed; None takes a reading back, a Problem says why it is none."""
    tidy, where = text.strip(), Where(field=asked.name)
    if not tidy:
        return None
    match asked.kind:
        case "yes_no":
            return _one_of(tidy, {"yes": True, "no": False}, where)
        case "choice":
            return _one_of(tidy, {name: name for name, _ in asked.choices}, where)
        case "text":
            return _note(tidy, where)
        case _:
            return _number(tidy, where)


def _one_of(text: str, choices: Mapping[str, Value], where: Where) -> "Value | Problem":
    if text in choices:
        return choices[text]
    return Problem(what="this is not one of the choices", cure="Choose one of them.", where=where)


def _note(text: str, where: Where) -> str | Problem:
    if len(text) > _LONGEST_NOTE or not all(one.isprintable() or one in "\r\n\t" for one in text):
        return Problem(what="this text cannot be kept", cure="Shorten it, or type it again.", where=where)
    return text.replace("\r\n", "\n")


def _number(text: str, where: Where) -> float | Problem:
    read = parse_number(text, where)
    if isinstance(read, float) and not abs(read) <= _LARGEST:
        what = f"“{text[:20]}” is larger than anything measured on a horse"
        return Problem(what=what, cure="Check the number and its unit.", where=where)
    return read


def save_form(request: PageRequest, back: Loaded, part: Part) -> tuple[Problem, ...]:
    """Keep a part's whole form as far as it can be read; return what could not."""
    seen = whole_of(request.POST.get("seen", ""))
    sent = key_of(request.POST.get("form", ""))
    entries, problems = [], []
    for one in part.asked:
        text = request.POST.get(one.name)
        if text is None or text.strip() == text_of_value(back.values.get(one.name)):
            continue
        value = value_of_text(one, text)
        if isinstance(value, Problem):
            problems.append(value)
        else:
            entries.append(Entered(field=one.name, value=value, key=uuids.uuid5(sent, one.name), seen=seen))
    if part.is_section and not problems:
        done = f"{part.key}/done"
        entries.append(Entered(field=done, value=True, key=uuids.uuid5(sent, done), seen=back.page.revision))
    results = services.enter_readings(request.actor, back.page.uuid, entries) if entries else ()
    problems += [_held(one) for one in results if one.outcome is Outcome.HELD]
    return tuple(problems)


def _held(result: EntryResult) -> Problem:
    other = result.other
    by, at = (other.entered_by, clock(other.entered_at)) if other else ("Somebody", "")
    text = text_of_value(other.value) if other else ""
    return Problem(
        what=f"{by} entered “{text}” here at {at}, after this page was opened; yours is kept beside it",
        cure="Save again to use yours.",
        where=Where(field=result.field),
    )


@dataclass(frozen=True, slots=True)
class _Sent:
    """One reading as the pad sends it."""

    field: str
    text: str
    key: uuids.UUID


@signed_in(Action.RECORD_BACK, DEED)
def readings(request: PageRequest, uuid: uuids.UUID, key: str) -> HttpResponse:
    """Keep readings sent by the pad; answer with what was kept, what to look at, and the picture."""
    sent = _sent(request.body)
    if sent is None:
        return JsonResponse({"said": "This cannot be read. Load the page again."}, status=400)
    seen, readings = sent
    back = loaded(request.actor, uuid)
    part = back.part(key)
    asked = {one.name: one for one in part.asked}
    entries: list[Entered] = []
    problems: list[Problem] = []
    for one in readings:
        value = _value(asked, part, one)
        if isinstance(value, Problem):
            problems.append(value)
        else:
            entries.append(Entered(field=one.field, value=value, key=one.key, seen=seen))
    results = services.enter_readings(request.actor, uuid, entries) if entries else ()
    return JsonResponse(_answer(request, uuid, key, results, problems))


def _value(asked: dict[str, Asked], part: Part, sent: _Sent) -> "Value | Problem":
    if sent.field in asked:
        return value_of_text(asked[sent.field], sent.text)
    if sent.field == f"{part.key}/done":
        return sent.text == "yes" or None
    if sent.field == f"{part.key}/moved":
        return float(whole_of(sent.text)) or None
    where = Where(field=sent.field[:80])
    return Problem(what="this is not a reading of this part", cure="Load the page again.", where=where)


def _sent(body: bytes) -> tuple[int, list[_Sent]] | None:
    try:
        held: Any = json.loads(body)
        seen, entries = held["seen"], held["entries"]
        readings = [_Sent(str(one["field"]), str(one["text"]), uuids.UUID(one["key"])) for one in entries]
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None
    if type(seen) is not int or not 0 <= seen < 10**9 or len(readings) > _MOST_AT_ONCE:
        return None
    return seen, readings


def _answer(
    request: PageRequest,
    uuid: uuids.UUID,
    key: str,
    results: tuple[EntryResult, ...],
    problems: list[Problem],
) -> dict[str, Any]:
    back = loaded(request.actor, uuid)
    part = back.part(key)
    drawn = back.drawn
    held = [_held(one) for one in results if one.outcome is Outcome.HELD]
    return {
        "saved_at": timezone.localtime().strftime("%H:%M"),
        "revision": back.page.revision,
        "values": {one.name: text_of_value(back.values.get(one.name)) for one in part.asked},
        "problems": [{"field": p.where.field, "words": f"{p.what}. {p.cure}"} for p in (*problems, *held)],
        "remarks": remarks_of(back, part),
        "state": back.state_of(part),
        "picture": section_picture(drawn, part.number, part.repeat) if part.is_section else "",
        "growing": growing_picture(drawn, back.curve, (part.number, part.repeat)),
    }


@signed_in(Action.RECORD_BACK, DEED)
def moved(request: PageRequest, uuid: uuids.UUID, key: str) -> HttpResponse:
    """Mark a section: the horse moved. Its readings are taken back; the entries keep them."""
    back = loaded(request.actor, uuid)
    part = back.part(key)
    if not part.is_section:
        return gone_on_without(request, "Only a section is read again.", "Change the value itself.")
    times = back.values.get(f"{key}/moved")
    count = (times if isinstance(times, float | int) else 0.0) + 1.0
    values: dict[str, Value] = dict.fromkeys([one for one in part.names if one in back.values])
    values |= {f"{key}/moved": count, f"{key}/done": None}
    _enter(request, back, values)
    say(request, f"{part.words}: the horse moved. Its readings were taken back; read it again.")
    return HttpResponseRedirect(reverse("capture:part", args=[uuid, key]))


def _enter(request: PageRequest, back: Loaded, values: dict[str, Value]) -> None:
    form = key_of(request.POST.get("form", ""))
    entries = [
        Entered(field=name, value=value, key=uuids.uuid5(form, name), seen=back.page.revision)
        for name, value in values.items()
    ]
    services.enter_readings(request.actor, back.page.uuid, entries)


@signed_in(Action.RECORD_BACK, DEED)
def again(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Plan a section, or all of them, to be measured once more; nothing of it is filled in beforehand."""
    back = loaded(request.actor, uuid)
    planned = planned_sections(back.values)
    wanted = request.POST.get("section", "")
    stations = {one.key.split("r")[0] for one in planned if wanted in {"all", one.key}}
    if not stations:
        return gone_on_without(request, "There is no such section.", "Go back to the list of sections.")
    times = {
        station: 1 + max(one.repeat for one in planned if one.key.startswith(f"{station}r"))
        for station in stations
    }
    _enter(request, back, {f"{station}r{repeat}/planned": True for station, repeat in times.items()})
    say(request, "To be measured again: nothing is filled in beforehand, so that the repeat is honest.")
    first = min(times, key=lambda one: int(one[1:]))
    target = reverse("capture:part", args=[uuid, f"{first}r{times[first]}"])
    return HttpResponseRedirect(target if wanted != "all" else reverse("capture:overview", args=[uuid]))


@signed_in(Action.RECORD_BACK, DEED)
def add_section(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Plan one more section, at a distance of its own."""
    back = loaded(request.actor, uuid)
    read = parse_number(request.POST.get("distance", ""), Where(field="Distance"))
    if isinstance(read, Problem):
        return gone_on_without(request, f"{read.what}.", read.cure, 422)
    if not -400.0 <= read <= 1200.0:
        return gone_on_without(
            request, f"A section {read:g} mm behind the shoulder mark lies on no back.", "Check it.", 422
        )
    stations = [int(one.key[1:].split("r")[0]) for one in planned_sections(back.values)]
    key = f"s{max(stations, default=0) + 1}r0"
    values: dict[str, Value] = {f"{key}/distance": read}
    if back.values.get("top/how") == "heights":
        rows = [
            int(name.split("/")[1])
            for name in back.values
            if name.startswith("top/") and name.count("/") == 2
        ]
        values[f"top/{max(rows, default=0) + 1}/distance"] = read
    _enter(request, back, values)
    say(request, "One more section, and its place on the topline.")
    return HttpResponseRedirect(reverse("capture:overview", args=[uuid]))
