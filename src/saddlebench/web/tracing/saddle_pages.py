"""A saddle's tracings on the pages: sheets, photos, what the curves make, recording it."""

import uuid as uuids
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.translation import gettext as _

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.exchange.instruments import instrument_text
from saddlebench.exchange.phrases import SCREENING_NOTE
from saddlebench.exchange.records import SaddleDocument, as_json
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.traced_saddle import TracedSaddle
from saddlebench.exchange.tracings.traced_saddle_words import tracing_measures, tracing_sentences
from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.saddles import SaddlePage
from saddlebench.practice.rules import Actor
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.fields import key_of, whole_of
from saddlebench.web.base.measured_saddle import asked_or_begun, underside_recorded
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.base.spoken import problem_told, spoken, wholly_spoken
from saddlebench.web.tracing.looking import curves_shown
from saddlebench.web.tracing.saddle_beside import beside_given, beside_held, stated_of
from saddlebench.web.tracing.saddle_held import SaddleTracings, keep_tracings, kept_tracings, made_of
from saddlebench.web.tracing.saddle_working import ask_more_of_saddle, ask_saddle_tracings
from saddlebench.web.tracing.starting import (
    chosen_files,
    curve_choices,
    curve_named,
    kept_photos,
    papers_to_print,
)
from saddlebench.web.tracing.typed import typed_number

WHY = "Underside from tracings"


@signed_in(Action.RECORD_SADDLE, FORM)
@spoken
def new(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Take photos of a saddle's tracings, and have them read."""
    return asked_or_begun(request, uuid, _form, _begun)


def _form(
    request: PageRequest, page: SaddlePage, problems: Sequence[Problem], hindered: Sequence[Problem]
) -> HttpResponse:
    given = request.POST
    choices = curve_choices(request.actor)
    more: dict[str, Any] = {
        "beside": beside_given(given),
        "instruments": choices,
        "instrument": given.get("instrument", choices[0][0]),
        "ruler_across": given.get("ruler_across", ""),
        "ruler_down": given.get("ruler_down", ""),
        "uuid": str(key_of(given.get("uuid", ""))),
        "papers": papers_to_print(),
        "kind": SheetKind.SADDLE.value,
        "problems": [problem_told(one) for one in problems],
        "hindered": [problem_told(one) for one in hindered],
    }
    status = 422 if problems else 200
    title = _("Tracings of %(subject)s") % {"subject": page.label}
    return show(request, "tracing/saddle_new.html", title, page, status=status, **more)


def _begun(request: PageRequest, page: SaddlePage) -> HttpResponse:
    problems: list[Problem] = []
    stated = stated_of(request.POST, problems)
    across, down = (
        typed_number(request.POST.get(name, ""), "Ruler", problems) for name in ("ruler_across", "ruler_down")
    )
    files = chosen_files(request, problems)
    if problems:
        raise InputProblemsError(problems)
    tool = curve_named(request.actor, request.POST.get("instrument", ""))
    key = key_of(request.POST.get("uuid", ""))
    photos = kept_photos(request.actor, files, key, saddle=page.uuid)
    held = SaddleTracings(
        saddle=page.uuid,
        instrument=instrument_text(tool),
        stated=stated,
        ruler_mm=(across, down),
    )
    job = ask_saddle_tracings(request.actor, held, page.label, photos, key)
    return HttpResponseRedirect(reverse("job", args=[job]))


@signed_in(Action.RECORD_SADDLE, FORM)
@spoken
def overview(request: PageRequest, uuid: uuids.UUID, key: uuids.UUID) -> HttpResponse:
    """Show every photo with its curves, and what they make; put right what was measured beside them."""
    page = queries.saddle_page(request.actor, uuid)
    held = kept_tracings(request.actor, uuid, key)
    problems: list[Problem] = []
    if request.method == "POST":
        stated = stated_of(request.POST, problems)
        if not problems:
            keep_tracings(request.actor, key, replace(held, stated=stated))
            say(request, _("What was measured beside the tracings is put right."))
            return HttpResponseRedirect(reverse("tracing:saddle_overview", args=[uuid, key]))
    made, hinders = _made(request, held)
    photos = [
        (one, curves_shown(one), reverse("tracing:saddle_file", args=[uuid, key, one.number]))
        for one in held.photos
    ]
    more: dict[str, Any] = {
        "key": key,
        "photos": photos,
        "unread": held.unread,
        "left": sum(not one.is_kept for one in held.photos),
        "beside": beside_given(request.POST) if problems else beside_held(held.stated),
        "problems": [problem_told(one) for one in problems],
        "hinders": [problem_told(one) for one in hinders],
        "sentences": tracing_sentences(made) if made else [],
        "measures": tracing_measures(made) if made else None,
        "remarks": [problem_told(one) for one in made.remarks] if made else [],
        "caution": SCREENING_NOTE,
        "why": WHY,
        "form": str(uuids.uuid4()),
    }
    status = 422 if problems else 200
    title = _("Tracings of %(subject)s") % {"subject": page.label}
    return show(request, "tracing/saddle_overview.html", title, page, status=status, **more)


def _made(request: PageRequest, held: SaddleTracings) -> tuple[TracedSaddle | None, tuple[Problem, ...]]:
    try:
        return made_of(request.actor, held), ()
    except InputProblemsError as error:
        return None, tuple(error.problems)


@signed_in(Action.RECORD_SADDLE, DEED)
@spoken
def more(request: PageRequest, uuid: uuids.UUID, key: uuids.UUID) -> HttpResponse:
    """Take more photos of a saddle's tracings."""
    page = queries.saddle_page(request.actor, uuid)
    kept_tracings(request.actor, uuid, key)
    problems: list[Problem] = []
    files = chosen_files(request, problems)
    if problems:
        raise InputProblemsError(problems)
    job = key_of(request.POST.get("form", ""))
    photos = kept_photos(request.actor, files, job, saddle=uuid)
    ask_more_of_saddle(request.actor, uuid, key, page.label, photos, job)
    return HttpResponseRedirect(reverse("job", args=[job]))


@signed_in(Action.RECORD_SADDLE, DEED)
@spoken
def record(request: PageRequest, uuid: uuids.UUID, key: uuids.UUID) -> HttpResponse:
    """Record what the curves make as a new version of the saddle."""
    page = queries.saddle_page(request.actor, uuid)
    made = made_of(request.actor, kept_tracings(request.actor, uuid, key))
    recorded = underside_recorded(
        request.actor,
        uuid,
        as_json(SaddleDocument.of(made.record)),
        why=request.POST.get("why", "") or WHY,
        seen=whole_of(request.POST.get("seen", "")),
    )
    said = _("%(saddle)s: recorded as version %(number)s, underside from tracings.")
    say(request, said % {"saddle": page.label, "number": recorded.version})
    return HttpResponseRedirect(reverse("capture:measured_saddle", args=[uuid]))


@signed_in(Action.RECORD_SADDLE)
@wholly_spoken
def picture(request: PageRequest, uuid: uuids.UUID, key: uuids.UUID) -> HttpResponse:
    """Give the picture of what the curves make."""
    kept = {"Cache-Control": "private, no-cache"}
    return HttpResponse(drawn_of(request.actor, uuid, key), content_type="image/svg+xml", headers=kept)


def drawn_of(actor: Actor, uuid: uuids.UUID, key: uuids.UUID) -> str:
    """Return the picture of what a saddle's curves make, as SVG."""
    from saddlebench.exchange.drawings import as_svg  # noqa: PLC0415 - slow to load
    from saddlebench.exchange.drawings.traced_underside import traced_underside  # noqa: PLC0415

    made = made_of(actor, kept_tracings(actor, uuid, key))
    return as_svg(traced_underside(made.underside, made.record.label))
