"""Palpation and muscle map: marks on an outline of our own, and the same as a list for the keyboard."""

import json
import uuid as uuids
from dataclasses import dataclass
from datetime import datetime

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, input_problem
from saddlebench.exchange.vocabulary import said
from saddlebench.practice import queries
from saddlebench.practice.catalogue import VISIT_FIELDS, Kind, Value
from saddlebench.practice.enums import Action, Outcome, Subject
from saddlebench.practice.queries.visits import VisitPage
from saddlebench.practice.services import Entered, EntryResult, enter
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.fields import key_of, words_of_choice
from saddlebench.web.base.outline import DEGREES, HEIGHT, PLACES, WIDTH, mark_words, place_near
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say

_MARKED = tuple(name for name, field in VISIT_FIELDS.items() if field.kind is Kind.MARKS)
_TRIES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkShown:
    """One mark."""

    number: int
    x: float
    y: float
    kind: str
    words: str
    text: str
    """The mark as it is kept: by it, it is taken off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarksShown:
    """One field of marks."""

    name: str
    words: str
    marks: tuple[MarkShown, ...]
    kinds: tuple[tuple[str, str], ...]
    places: tuple[tuple[str, str], ...]
    degrees: tuple[tuple[int, str], ...]
    key: str
    at: datetime | None
    by: str
    problem: str = ""


def marks_shown(page: VisitPage, name: str, *, problem: str = "") -> MarksShown:
    """Return a field of marks as it is shown."""
    held = page.answers[name]
    listed = held.value if isinstance(held.value, list) else []
    return MarksShown(
        name=name,
        words=held.field.words,
        marks=tuple(_mark(at, one) for at, one in enumerate(listed, start=1) if isinstance(one, dict)),
        kinds=tuple((kind, words_of_choice(name, kind)) for kind in held.field.choices),
        places=tuple((place.name, place.words) for place in PLACES),
        degrees=tuple(enumerate(DEGREES)),
        key=str(uuids.uuid4()),
        at=held.entered_at,
        by=held.entered_by,
        problem=problem,
    )


def _mark(number: int, held: dict[str, Value]) -> MarkShown:
    x, y = held.get("x"), held.get("y")
    at = (x if isinstance(x, float) else 0.0, y if isinstance(y, float) else 0.0)
    return MarkShown(
        number=number,
        x=round(at[0] * WIDTH, 1),
        y=round(at[1] * HEIGHT, 1),
        kind=str(held.get("kind")),
        words=said(mark_words(held)),
        text=json.dumps(held, sort_keys=True),
    )


@signed_in(Action.ENTER_VISIT, DEED)
def add_mark(request: PageRequest, uuid: uuids.UUID, name: str) -> HttpResponse:
    """Set a mark where the outline was touched, or at a named place."""
    posted = request.POST
    page = _page(request, uuid, name)
    place = next((one for one in PLACES if one.name == posted.get("place")), None)
    x, y = (str(place.x), str(place.y)) if place else (posted.get("x", ""), posted.get("y", ""))
    # Where was touched is told by the script in full digits; the catalogue's reader takes those of a person.
    try:
        at = [round(float(x), 4), round(float(y), 4)]
    except ValueError:
        return _answer(request, page, name, problem="Choose a place, or touch the outline.")
    degree = posted.get("degree", "")
    mark: Value = {
        "x": at[0],
        "y": at[1],
        "kind": posted.get("kind", ""),
        "degree": int(degree) if degree in {"0", "1", "2", "3"} else 0,
        "side": place_near(*at).side,
    }
    return _change(request, uuid, name, added=mark)


@signed_in(Action.ENTER_VISIT, DEED)
def take_mark_off(request: PageRequest, uuid: uuids.UUID, name: str) -> HttpResponse:
    """Take a mark off."""
    _page(request, uuid, name)
    return _change(request, uuid, name, taken=request.POST.get("mark", ""))


def _page(request: PageRequest, uuid: uuids.UUID, name: str) -> VisitPage:
    page = queries.visit_page(request.actor, uuid)
    if name not in _MARKED:
        raise Http404
    return page


def _change(
    request: PageRequest, uuid: uuids.UUID, name: str, *, added: Value = None, taken: str = ""
) -> HttpResponse:
    """Add or take off beside what others do: the list is read again until nobody else was first."""
    key = key_of(request.POST.get("key", ""))
    try:
        for attempt in range(_TRIES):
            page = queries.visit_page(request.actor, uuid)
            held = page.answers[name]
            before = list(held.value) if isinstance(held.value, list) else []
            after = [*before, added] if added else _without(before, taken)
            result = _entered(request, uuid, name, after, uuids.uuid5(key, str(attempt)), held.revision)
            if result.outcome is not Outcome.HELD:
                break
        else:
            raise input_problem("others are marking at this moment", "Touch again.")
    except InputProblemsError as error:
        said = " ".join(f"{problem.what.capitalize()}. {problem.cure}" for problem in error.problems)
        return _answer(request, queries.visit_page(request.actor, uuid), name, problem=said)
    if not request.htmx:
        say(request, "The marks are kept.")
        return HttpResponseRedirect(f"{reverse('visit:step', args=[uuid, 'stance'])}#marks-{name}")
    return _answer(request, queries.visit_page(request.actor, uuid), name)


def _without(before: list[Value], taken: str) -> list[Value]:
    texts = [json.dumps(one, sort_keys=True) for one in before]
    if taken not in texts:
        return before
    at = texts.index(taken)
    return before[:at] + before[at + 1 :]


def _entered(
    request: PageRequest, uuid: uuids.UUID, name: str, value: list[Value], key: uuids.UUID, seen: int
) -> EntryResult:
    entry = Entered(field=name, value=value, key=key, seen=seen)
    return enter(request.actor, Subject.VISIT, uuid, [entry])[0]


def _answer(request: PageRequest, page: VisitPage, name: str, *, problem: str = "") -> HttpResponse:
    shown = marks_shown(page, name, problem=problem)
    status = 422 if problem else 200
    template = "visit/marks.html" if request.htmx else "visit/marks_page.html"
    return show(request, template, shown.words, page, status=status, one=shown)
