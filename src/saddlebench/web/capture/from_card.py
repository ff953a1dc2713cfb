"""Readings that were written on a yard card first: on which day, begun at what hour, typed in when."""

import uuid as uuids
from collections.abc import Mapping
from datetime import date

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice import services
from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action
from saddlebench.practice.services import Entered
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.errors import gone_on_without
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.said import say
from saddlebench.web.capture.loaded import loaded


def typed_from_card(typed_on: date, begun_at: str = "") -> dict[str, Value]:
    """Return the entries that say that readings were written on a yard card, and when they were typed in."""
    hour = {"source/begun_at": begun_at} if begun_at else {}
    return {"source/card": True, "source/typed_on": typed_on.isoformat(), **hour}


@signed_in(Action.RECORD_BACK, DEED)
def from_card(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Say, or take back, of a measuring already begun that it comes from a card, with its day and hour."""
    back, posted = loaded(request.actor, uuid), request.POST
    form = key_of(posted.get("form", ""))
    entries = [
        Entered(field=name, value=value, key=uuids.uuid5(form, name), seen=back.page.revision)
        for name, value in _changed(back.values, posted, back.page.measured_on).items()
    ]
    try:
        services.enter_readings(request.actor, uuid, entries)
    except InputProblemsError as error:
        first = error.problems[0]
        return gone_on_without(request, f"{first.where}: {first.what}.", first.cure, 422)
    is_card = "from_card" in posted
    say(
        request,
        "Typed in from a yard card." if is_card else "Measured at the horse, not typed in from a card.",
    )
    return HttpResponseRedirect(reverse("capture:overview", args=[uuid]))


def _changed(held: Mapping[str, Value], posted: Mapping[str, str], day: date) -> dict[str, Value]:
    """Return what differs from what stands."""
    if "from_card" not in posted:
        return {name: None for name in ("source/card", "source/typed_on", "source/begun_at") if name in held}
    typed_on = str(held.get("source/typed_on") or timezone.localdate().isoformat())
    wanted: dict[str, Value] = {
        "source/card": True,
        "source/typed_on": typed_on,
        "source/begun_at": posted.get("begun_at", "").strip() or None,
    }
    on = posted.get("day", "").strip()
    if on and on != day.isoformat():
        wanted["source/measured_on"] = on
    return {name: value for name, value in wanted.items() if held.get(name) != value}
