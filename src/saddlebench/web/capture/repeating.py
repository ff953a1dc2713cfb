"""One section measured once more because a finding hangs on it; then the fit check is run again with it."""

import uuid as uuids
from collections.abc import Sequence
from math import inf

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.exchange.places import place_words
from saddlebench.practice import services
from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.rules import may
from saddlebench.practice.services import Entered, StoppedError
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.checks.running import ask_on_current
from saddlebench.web.base.errors import gone_on_without
from saddlebench.web.base.fields import whole_of
from saddlebench.web.base.instruments import key_or_404
from saddlebench.web.base.said import say
from saddlebench.web.capture.loaded import Loaded, loaded
from saddlebench.web.capture.planned import PlannedSection, Values, planned_sections
from saddlebench.web.links import page_address

CHECK, SECTIONS = "again/check", "again/sections"
"""Entries of a measuring that was taken up for a fit check: which one, and which sections for it, each by its
place: a section that is added changes how sections count, not where one lies."""
_UNIT = " mm"
SAME_PLACE_MM = 2.0
"""Nobody lays an instrument down more exactly."""


@signed_in(Action.RECORD_BACK, DEED)
def repeat(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Open the page of a section's repeat: taken up again and planned, if that was not done yet."""
    back = loaded(request.actor, uuid)
    planned = _asked_for(request, planned_sections(back.values))
    if not planned:
        return gone_on_without(request, "There is no such section.", "Go back to the list of sections.")
    if back.page.finished_at is not None:
        services.take_up_again(request.actor, uuid)
    last = max(planned, key=lambda one: one.repeat)
    key = last.key
    values: dict[str, Value] = {SECTIONS: _with(back.values, last.distance_mm)}
    if request.POST.get("check"):
        values[CHECK] = str(key_or_404(request.POST["check"]))
    if last.repeat == 0 or _is_read(back, last):
        key = f"{last.key.split('r')[0]}r{last.repeat + 1}"
        values[f"{key}/planned"] = True
    _enter(request, back, values)
    say(request, "To be measured again: nothing is filled in beforehand, so that the repeat is honest.")
    return HttpResponseRedirect(reverse("capture:part", args=[uuid, key]))


def _asked_for(request: PageRequest, sections: Sequence[PlannedSection]) -> list[PlannedSection]:
    """Return a section and its repeats: by its place, or as it is counted now where only that is given."""
    try:
        at = float(request.POST.get("at", ""))
    except ValueError:
        number = whole_of(request.POST.get("section", ""))
        return [one for one in sections if one.number == number]
    near = min((one.distance_mm for one in sections), key=lambda one: abs(one - at), default=inf)
    if not abs(near - at) <= SAME_PLACE_MM:
        return []
    return [one for one in sections if one.distance_mm == near]


def _with(values: Values, distance_mm: float) -> str:
    held = [one for one in str(values.get(SECTIONS) or "").split(", ") if one]
    return ", ".join(dict.fromkeys((*held, f"{distance_mm:g}{_UNIT}")))


def _is_read(back: Loaded, section: PlannedSection) -> bool:
    return any(name in back.values for name in back.part(section.key).names)


def _enter(request: PageRequest, back: Loaded, values: dict[str, Value]) -> None:
    key = uuids.uuid4()
    entries = [
        Entered(field=name, value=value, key=uuids.uuid5(key, name), seen=back.page.revision)
        for name, value in values.items()
        if back.values.get(name) != value
    ]
    if entries:
        services.enter_readings(request.actor, back.page.uuid, entries)


def forget(request: PageRequest, back: Loaded) -> None:
    """Let a measuring be taken up for its own sake: no fit check waits for it."""
    _enter(request, back, {name: None for name in (CHECK, SECTIONS) if name in back.values})


def why_of(values: Values) -> str:
    """Return what is measured once more for a fit check, in words; empty where none waits."""
    held = [_place(one) for one in str(values.get(SECTIONS) or "").split(", ") if one]
    return f"section{'s' if len(held) > 1 else ''} {' and '.join(held)} measured again" if held else ""


def _place(held: str) -> str:
    """Return one place in words; of a measuring that was under way before places were noted, its number."""
    return place_words(float(held.removesuffix(_UNIT))) if held.endswith(_UNIT) else held


def ask_waiting_check(request: PageRequest, back: Loaded) -> str:
    """Queue the fit check that waits for a back just recorded; return the job's address, or nothing."""
    named = str(back.values.get(CHECK) or "")
    if not named or not may(request.actor, Action.RECORD_STUDY, request.actor.practice_id):
        return ""
    study = uuids.UUID(named)
    try:
        leads_to = page_address(Subject.STUDY, study)
        job = ask_on_current(request.actor, study, leads_to, why=why_of(back.values))
    except (StoppedError, services.NotFoundError) as error:
        say(request, f"The fit check is not run again. {error}")
        return ""
    return reverse("job", args=[job])
