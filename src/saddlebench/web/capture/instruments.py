"""Instruments: those that come with the program, and the practice's own in a form with a live drawing."""

import json
import tomllib
import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.safestring import SafeString

from saddlebench.engine.back.instruments import Scan
from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.exchange.instruments import (
    example_instrument,
    example_names,
    example_text,
)
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.capture.instrument_fields import (
    FAMILIES,
    FAMILY_HINTS,
    FORM_FIELDS,
    OPTIONAL_GROUPS,
    FormField,
)
from saddlebench.web.capture.instrument_form import described, texts_of
from saddlebench.web.capture.instrument_picture import instrument_drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class ShippedShown:
    """An instrument that comes with the program."""

    slug: str
    label: str
    family: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupShown:
    """Fields that belong together."""

    name: str
    lines: "tuple[LineShown, ...]"
    is_folded: bool
    is_open: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LineShown:
    """One field of the form."""

    field: FormField
    text: str
    problem: str


@signed_in(Action.SEE_HORSES)
def instruments(request: PageRequest) -> HttpResponse:
    """Show the instruments that a back can be measured with."""
    shipped = []
    for name in example_names():
        held = tomllib.loads(example_text(name))
        shipped.append(ShippedShown(slug=name, label=held["name"], family=held["family"]))
    own = queries.own_instruments(request.actor)
    return show(
        request,
        "capture/instruments.html",
        "Instruments",
        own,
        shipped=shipped,
        families=[(one, FAMILY_HINTS[one]) for one in FAMILIES],
    )


@signed_in(Action.SEE_HORSES)
def shipped(request: PageRequest, name: str) -> HttpResponse:
    """Show an instrument that comes with the program."""
    if name not in example_names():
        raise Http404
    tool = example_instrument(name)
    text = example_text(name)
    return show(
        request,
        "capture/shipped.html",
        tool.name,
        tool,
        text=text,
        slug=name,
        drawing=instrument_drawing(tool),
        can_be_started_from=not isinstance(tool, Scan),
    )


@signed_in(Action.RECORD_BACK, FORM)
def new_instrument(request: PageRequest) -> HttpResponse:
    """Describe an instrument of the practice's own, from nothing or from a shipped one."""
    source = request.POST.get("from", request.GET.get("from", ""))
    base: dict[str, Any] = {}
    if source in example_names():
        base = tomllib.loads(example_text(source))
    asked = request.POST.get("family", request.GET.get("family", ""))
    family = asked if asked in FAMILIES else base.get("family", FAMILIES[0])
    if family not in FAMILIES:
        raise Http404
    if base.get("family") == family:
        base["name"] = f"{base['name']}, ours"[:120] if request.method == "GET" else base["name"]
    uuid = key_of(request.POST.get("uuid", ""))
    return _form(request, family, base, uuid, title="A new instrument", source=source)


@signed_in(Action.RECORD_BACK, FORM)
def instrument(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Describe an instrument of the practice's own better; backs measured before keep their description."""
    row = queries.instrument_page(request.actor, uuid)
    base = json.loads(row.document)
    family = base.get("family")
    if family not in FAMILIES:
        raise Http404
    return _form(request, family, base, uuid, title=row.label, is_there=True)


def _form(
    request: PageRequest,
    family: str,
    base: Mapping[str, Any],
    uuid: uuids.UUID,
    *,
    title: str,
    source: str = "",
    is_there: bool = False,
) -> HttpResponse:
    texts = _typed(request, family) if request.method == "POST" else texts_of(family, base)
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        try:
            document, tool = described(family, texts, base)
        except InputProblemsError as error:
            problems = error.problems
        else:
            text = json.dumps(document, ensure_ascii=False, indent=2)
            services.describe_instrument(request.actor, tool.name, Document(text=text), uuid)
            say(request, f"{tool.name}: kept.")
            return HttpResponseRedirect(reverse("capture:instruments"))
    return show(
        request,
        "capture/instrument.html",
        title,
        uuid,
        family=family,
        groups=_groups(family, texts, problems),
        problems=[one for one in problems if one.where.field not in texts],
        drawing=_drawing(family, texts, base)[0],
        source=source,
        is_there=is_there,
        families=FAMILIES,
        status=422 if problems else 200,
    )


def _typed(request: PageRequest, family: str) -> dict[str, str]:
    return {one.path: request.POST.get(one.path, "") for one in FORM_FIELDS[family]}


def _groups(family: str, texts: Mapping[str, str], problems: tuple[Problem, ...]) -> list[GroupShown]:
    wrong = {one.where.field: f"{one.what[:1].upper()}{one.what[1:]}. {one.cure}" for one in problems}
    lines = [
        LineShown(field=one, text=texts.get(one.path, ""), problem=wrong.get(one.path, ""))
        for one in FORM_FIELDS[family]
    ]
    grouped = [(name, tuple(some)) for name, some in groupby(lines, key=lambda line: line.field.group)]
    return [
        GroupShown(
            name=name,
            lines=some,
            # What an ordinary instrument has not got is out of the way until something of it is said.
            is_folded=name in OPTIONAL_GROUPS,
            is_open=any(line.text or line.problem for line in some),
        )
        for name, some in grouped
    ]


def _drawing(family: str, texts: Mapping[str, str], base: Mapping[str, Any]) -> tuple[SafeString, str]:
    """Return the drawing, or why there is none yet."""
    try:
        _, tool = described(family, texts, base)
    except InputProblemsError as error:
        return SafeString(""), str(error.problems[0].what)
    return instrument_drawing(tool), ""


@signed_in(Action.RECORD_BACK, DEED)
def instrument_picture(request: PageRequest) -> HttpResponse:
    """Draw the instrument as the form stands now."""
    family = request.POST.get("family", "")
    if family not in FAMILIES:
        raise Http404
    base: dict[str, Any] = {}
    if request.POST.get("is_there"):
        row = queries.instrument_page(request.actor, key_of(request.POST.get("uuid", "")))
        base = json.loads(row.document)
    elif request.POST.get("from", "") in example_names():
        base = tomllib.loads(example_text(request.POST["from"]))
    drawing, why = _drawing(family, _typed(request, family), base)
    return show(request, "capture/instrument_part.html", "", drawing=drawing, why=why)
