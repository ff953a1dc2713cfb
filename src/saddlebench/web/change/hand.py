"""“Check me”: one back measured again and again, how steady the hand is, and whose errors are in use."""

import uuid as uuids
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from saddlebench.engine.errors import InputProblemsError, Problem, input_problem
from saddlebench.exchange.readers import reader
from saddlebench.practice import queries
from saddlebench.practice.enums import Action, ComparisonKind
from saddlebench.practice.queries.comparisons import (
    Comparable,
    ComparablePage,
    ComparisonPage,
    comparable_page,
    comparison_page,
)
from saddlebench.practice.services.comparing import REPEATS, check_hand
from saddlebench.practice.services.figures import own_figures
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.checks.loading import Shelf, compressed, drawings, load_engine, warm_up
from saddlebench.web.base.checks.pictures import PHONE, SVG, WIDTHS, sent
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import problem_told, wholly_spoken
from saddlebench.web.change.again import hand_again
from saddlebench.web.change.choosing import uuids_of

if TYPE_CHECKING:
    from saddlebench.engine.change.repeat.exercise import CheckMe

USUAL_REPEATS = 3
MANY_REPEATS = 5
_hands: "Shelf[CheckMe]" = Shelf(12)


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def figures(request: PageRequest) -> HttpResponse:
    """Show whose errors are in use, for each fitter and instrument, and why."""
    warm_up()
    shown = own_figures(request.actor)
    words = []
    if shown:
        from saddlebench.engine.change.repeat.own import InUse  # noqa: PLC0415

        words = [(one, one.own.in_use is not InUse.STATED) for one in shown]
    return show(request, "change/figures.html", gettext("How good am I?"), None, figures=words)


@dataclass(frozen=True, slots=True, kw_only=True)
class Exercise:
    """The exercise on one horse on one day, as far as it has come."""

    day: date
    repeats: tuple[Comparable, ...]
    next_number: int
    start: str
    """Address that starts the next repeat: same horse, day, instrument and sections; no reading filled in."""


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def exercise(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Lead through the exercise: measure the same back again, as if for the first time."""
    warm_up()
    return _page(request, comparable_page(request.actor, uuid))


def _page(request: PageRequest, page: ComparablePage, problems: tuple[Problem, ...] = ()) -> HttpResponse:
    mine = [one for one in page.backs if one.by_id == request.actor.user_id]
    day = _day(request, mine)
    repeats = tuple(reversed([one for one in mine if one.day == day]))
    days = sorted({one.day for one in mine if one.is_repeat} - {day}, reverse=True)
    return show(
        request,
        "change/exercise.html",
        f"{gettext('Check me')}: {page.label}",
        page,
        status=422 if problems else 200,
        problems=tuple(problem_told(one) for one in problems),
        exercise=Exercise(
            day=day, repeats=repeats, next_number=len(repeats) + 1, start=_start(request, page, day, repeats)
        ),
        days=days,
        is_enough=len(repeats) >= REPEATS[0],
        least=REPEATS[0],
        many=MANY_REPEATS,
    )


def _day(request: PageRequest, mine: list[Comparable]) -> date:
    asked = request.POST.get("day", "") or request.GET.get("day", "")
    try:
        return date.fromisoformat(asked)
    except ValueError:
        pass
    # An exercise under way goes on; else one begins today.
    today = timezone.localdate()
    latest = max((one.day for one in mine if one.is_repeat), default=today)
    return today if any(one.day == today for one in mine) else latest


def _start(request: PageRequest, page: ComparablePage, day: date, repeats: tuple[Comparable, ...]) -> str:
    asked = {"horse": str(page.uuid), "day": day.isoformat()}
    if repeats:
        document = queries.back_page(request.actor, repeats[0].back).document
        asked |= _as_before(request, document)
    return f"{reverse('capture:start')}?{urlencode(asked)}"


def _as_before(request: PageRequest, document: str) -> dict[str, str]:
    """Return instrument and sections as the first repeat had them; nothing of what was read."""
    load_engine()
    from saddlebench.exchange.instruments import (  # noqa: PLC0415
        example_instrument,
        example_names,
        instrument_text,
    )
    from saddlebench.exchange.records import BackDocument, parse_document  # noqa: PLC0415

    try:
        record = parse_document(BackDocument, document, "back").record()
    except InputProblemsError:
        return {}
    text = instrument_text(record.instrument)
    named = {row.document: str(row.uuid) for row in queries.own_instruments(request.actor)}
    named |= {instrument_text(example_instrument(name)): name for name in example_names()}
    places = sorted({station.distance_mm for station in record.readings.stations})
    asked = {"instrument": named[text]} if text in named else {}
    if len(places) > 1:
        spacing = (places[-1] - places[0]) / (len(places) - 1)
        asked |= {"first": f"{places[0]:g}", "spacing": f"{spacing:g}", "count": str(len(places))}
    return asked


@signed_in(Action.RECORD_STUDY, DEED)
@wholly_spoken
def work_out(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Say how good the hand is that measured the repeats chosen."""
    load_engine()
    try:
        made = check_hand(
            request.actor,
            uuid,
            uuids_of(request.POST.getlist("version")),
            marks_again=request.POST.get("marks_again") == "yes",
        )
    except InputProblemsError as error:
        return _page(request, comparable_page(request.actor, uuid), error.problems)
    return HttpResponseRedirect(reverse("change:hand", args=[made.uuid]))


def hand_of(page: ComparisonPage) -> "CheckMe":
    """Return the result of an exercise as it was recorded.

    Raises
    ------
    InputProblemsError
        If this program cannot read it.
    """
    load_engine()

    def read() -> "CheckMe":
        from saddlebench.exchange.records import parse_document  # noqa: PLC0415
        from saddlebench.exchange.records.repeat import CheckMeDocument  # noqa: PLC0415

        return parse_document(CheckMeDocument, page.document, page.label).found()

    return _hands.get(page.sha256, read)


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def hand(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show how good a hand is, what to practise, and what follows for later checks."""
    page = comparison_page(request.actor, uuid, ComparisonKind.HAND)
    found = hand_of(page)
    from saddlebench.exchange import repeat_words as words  # noqa: PLC0415
    from saddlebench.exchange.phrases import SCREENING_NOTE  # noqa: PLC0415
    from saddlebench.exchange.trend_words import name_of  # noqa: PLC0415

    numbers = [(name_of(one.quantity), words.hand_words(one), one.hand.value) for one in found.numbers]
    used = [one for one in own_figures(request.actor) if uuid in {e.uuid for e in one.exercises}]
    return show(
        request,
        "change/hand.html",
        page.label,
        page,
        said=words.plain_sentences(found),
        numbers=numbers,
        patterns=found.patterns,
        used=used,
        again=hand_again(page),
        has_surface=found.surface is not None,
        cautions=(words.REPEAT_NOTE, SCREENING_NOTE),
    )


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def hand_picture(request: PageRequest, uuid: uuids.UUID, name: str) -> HttpResponse:
    """Send a picture of an exercise: number by number, or over the surface."""
    page = comparison_page(request.actor, uuid, ComparisonKind.HAND)
    return picture_of(request, page, name)


def picture_of(request: Any, page: ComparisonPage, name: str) -> HttpResponse:
    """Answer with one picture of an exercise.

    Raises
    ------
    InputProblemsError
        If there is no such picture.
    """
    names = ("numbers", "surface")
    if name not in names:
        msg = f"there is no picture “{name[:40]}”"
        raise input_problem(msg, f"Choose one of: {', '.join(names)}.")
    found = hand_of(page)
    width = request.GET.get("width", PHONE)
    width = width if width in WIDTHS else PHONE

    def make() -> Any:
        from saddlebench.exchange import drawings as drawn  # noqa: PLC0415
        from saddlebench.exchange.drawings.repeat_hand import hand_chart  # noqa: PLC0415
        from saddlebench.exchange.drawings.repeat_surface import surface_chart  # noqa: PLC0415

        width_mm = drawn.PHONE_WIDTH_MM if width == PHONE else drawn.PAGE_WIDTH_MM
        maker = hand_chart if name == "numbers" else surface_chart
        return compressed(drawn.as_svg(maker(found, label=page.label, width_mm=width_mm)).encode(), SVG)

    reads = reader().language
    made = drawings.get((page.sha256, name, width, reads), make)
    return sent(request, made, f"{page.sha256[:20]}-{name}-{width}-{reads}")
