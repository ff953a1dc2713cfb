"""What the phone takes along: visits, horses, saddles, instruments, fields to fill in, rules to judge by."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from django.http import HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.gzip import gzip_page

from saddlebench.engine.back.exported import geometry_of, rule_table
from saddlebench.engine.back.instruments import Instrument, JointedChain, Scan
from saddlebench.exchange.instruments import (
    example_instrument,
    example_names,
    instrument_from_text,
    instrument_text,
)
from saddlebench.exchange.readers import reader
from saddlebench.exchange.retelling import retold_where_known
from saddlebench.exchange.vocabulary import said
from saddlebench.practice import queries
from saddlebench.practice.catalogue import Field
from saddlebench.practice.enums import Action, Purpose
from saddlebench.practice.phrases import words_of
from saddlebench.practice.queries.photos import shot_list
from saddlebench.practice.queries.visit_list import visit_list
from saddlebench.practice.queries.visits import AnswerShown, VisitPage
from saddlebench.practice.rules import Actor, may
from saddlebench.practice.stops import stop_rules
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.fields import HINTS, WIDGETS, words_of_choice
from saddlebench.web.base.outline import PLACES
from saddlebench.web.base.spoken import wholly_spoken
from saddlebench.web.capture.asked import parts_of
from saddlebench.web.capture.parts import Asked, Part
from saddlebench.web.phone.protocol import PROTOCOL
from saddlebench.web.phone.shell import shell_stamp
from saddlebench.web.visit.path import ALL_FIELDS, SADDLE_PARTS, STEPS, STOP, Group

_MOST_VISITS, _MOST_CAPTURES, _MOST_PAGES = 40, 30, 10


@gzip_page
@signed_in(Action.SEE_HORSES)
@wholly_spoken
def carried(request: PageRequest) -> HttpResponse:
    """Give everything that the phone takes along; or, asked for that, only what it needs for sending."""
    actor, standing = request.actor, request.standing
    told: dict[str, Any] = {
        "protocol": PROTOCOL,
        "stamp": shell_stamp(),
        "now": timezone.now().isoformat(),
        "form": get_token(request),
        "practice": {"uuid": str(standing.practice_uuid), "label": standing.practice, "zone": standing.zone},
    }
    if "greeting" in request.GET:
        return JsonResponse(told)
    told |= {
        "person": {"label": actor.label, "enters": may(actor, Action.ENTER_VISIT, actor.practice_id)},
        "purposes": [[one.value, said(str(words_of(one)))] for one in Purpose],
        "steps": [_step(one.name, one.words, one.groups) for one in (*STEPS, STOP) if one.groups],
        "saddle_parts": [_step(one.name, one.words, one.groups) for one in SADDLE_PARTS],
        "fields": _fields(actor),
        "places": [{**asdict(one), "words": said(one.words)} for one in PLACES],
        "shots": [[one.name, _known(one.words)] for one in shot_list(actor)],
        "stop_rules": stop_rules(),
        "rules": _rules(),
        "instruments": _instruments(actor),
        **_records(actor),
    }
    return JsonResponse(told)


def _known(words: str) -> str:
    """Return words that may be a person's own, in the reader's language where they are the program's."""
    return retold_where_known(words, reader())


def _rules() -> dict[str, Any]:
    table = rule_table()
    return {**table, "marks": {name: said(words) for name, words in table["marks"].items()}}


def _step(name: str, words: str, groups: tuple[Group, ...]) -> dict[str, Any]:
    return {
        "name": name,
        "words": said(words),
        "groups": [{"words": said(one.words), "fields": one.fields} for one in groups],
    }


def _fields(actor: Actor) -> dict[str, Any]:
    people = may(actor, Action.SEE_PEOPLE, actor.practice_id)
    named = {name: one for step in (*STEPS, STOP) for name, one in step.fields.items()}
    tried = {name: one for part in SADDLE_PARTS for name, one in part.fields.items()}
    return {
        "visit": {
            name: _field(one)
            for name, one in named.items()
            if people or one.section not in {"people", "reason"}
        },
        "saddle": {name: _field(one) for name, one in tried.items()},
    }


def _field(one: Field) -> dict[str, Any]:
    return {
        "words": said(one.words),
        "kind": one.kind.value,
        "widget": WIDGETS.get(one.kind, "text"),
        "unit": one.unit,
        "low": one.low,
        "high": one.high,
        "hint": said(HINTS.get(one.kind, "")),
        "choices": [[choice, words_of_choice(one.name, choice)] for choice in one.choices],
        "required": one.required,
        "max_length": one.max_length,
    }


def _instruments(actor: Actor) -> list[dict[str, Any]]:
    own = [
        (str(row.uuid), instrument_from_text(row.document, row.label))
        for row in queries.own_instruments(actor)
    ]
    shipped = [(name, example_instrument(name)) for name in example_names()]
    return [
        {
            "name": name,
            "label": _known(tool.name),
            "document": instrument_text(tool),
            **carried_instrument(tool),
        }
        for name, tool in (*own, *shipped)
        if not isinstance(tool, Scan)
    ]


def carried_instrument(tool: Instrument) -> dict[str, Any]:
    """Return an instrument as the phone reads and draws it: its geometry, and what is asked of a section."""
    by_heights = parts_of(tool, {"s1r0/distance": 0.0})
    topline = None
    if isinstance(tool, JointedChain) and tool.topline is not None:
        topline = _part(_named(parts_of(tool, {"top/how": "chain"}), "topline"))
    return {
        "geometry": geometry_of(tool),
        "parts": [_part(_named(by_heights, key)) for key in ("marks", "stance", "topline", "s1r0", "after")],
        "topline_chain": topline,
    }


def _named(parts: tuple[Part, ...], key: str) -> Part:
    return next(one for one in parts if one.key == key)


def _part(part: Part) -> dict[str, Any]:
    return {
        "key": part.key,
        "words": said(part.words),
        "detail": said(part.detail),
        "asked": [_asked(one) for one in part.asked],
    }


def _asked(one: Asked) -> dict[str, Any]:
    return {
        **asdict(one),
        "words": said(one.words),
        "hint": said(one.hint),
        "choices": [[choice, said(words)] for choice, words in one.choices],
    }


def _records(actor: Actor) -> dict[str, Any]:
    listed = visit_list(actor)
    rows = (*listed.under_way, *listed.planned)[:_MOST_VISITS]
    visits = [_visit(queries.visit_page(actor, row.uuid), row.state.value, row.place) for row in rows]
    captures = [_capture(actor, row.uuid) for row in queries.unfinished_captures(actor)[:_MOST_CAPTURES]]
    return {
        "visits": visits,
        "captures": captures,
        "horses": _horses(actor),
        "saddles": _saddles(actor) if may(actor, Action.SEE_SADDLES, actor.practice_id) else [],
    }


def _visit(page: VisitPage, state: str, place: str) -> dict[str, Any]:
    head = {name: {"value": value, "revision": 0} for name, value in page.head.items() if name in ALL_FIELDS}
    return {
        "uuid": str(page.uuid),
        "label": page.horse.label if page.horse else str(page.head.get("label") or gettext("Visit")),
        "horse": {"uuid": str(page.horse.uuid), "label": page.horse.label} if page.horse else None,
        "day": page.day.isoformat(),
        "state": state,
        "place": place,
        "revision": page.revision,
        "values": {**head, **_values(page.answers)},
        "tried": [
            {
                "uuid": str(one.uuid),
                "saddle": {"uuid": str(one.saddle.uuid), "label": one.saddle.label},
                "revision": one.revision,
                "values": _values(one.answers),
            }
            for one in page.tried
        ],
    }


def _values(answers: Mapping[str, AnswerShown]) -> dict[str, Any]:
    return {
        name: {"value": one.value, "revision": one.revision}
        for name, one in answers.items()
        if one.value is not None or one.revision
    }


def _capture(actor: Actor, uuid: Any) -> dict[str, Any]:
    page = queries.capture_page(actor, uuid)
    tool = instrument_from_text(page.instrument, page.label)
    return {
        "uuid": str(page.uuid),
        "label": page.label,
        "horse": {"uuid": str(page.horse.uuid), "label": page.horse.label},
        "visit": str(page.visit) if page.visit else None,
        "measured_on": page.measured_on.isoformat(),
        "revision": page.revision,
        "values": dict(page.values),
        "instrument": {"label": _known(tool.name), **carried_instrument(tool)},
    }


def _horses(actor: Actor) -> list[dict[str, str]]:
    found, page = [], 1
    while page <= _MOST_PAGES:
        shown = queries.find_horses(actor, page=page)
        found += [{"uuid": str(row.uuid), "label": row.label} for row in shown.rows]
        if page >= shown.pages:
            break
        page += 1
    return found


def _saddles(actor: Actor) -> list[dict[str, str]]:
    found, page = [], 1
    while page <= _MOST_PAGES:
        shown = queries.find_saddles(actor, page=page)
        found += [{"uuid": str(row.uuid), "label": row.label} for row in shown.rows]
        if page >= shown.pages:
            break
        page += 1
    return found
